"""How sure the moments are at which the inbound course is joined, and what hangs on them: worked out by hand.

The ground track comes within 20 degrees of the course in a turn at a steady rate: so much of the track's error is a
second. A station turned by a degree turns its course with it; the needle goes one way, the track off the course the other.
"""

from __future__ import annotations

import math

import pytest

from debrief.measures.moments import Moment, between, passing, read_at
from debrief.navigation.intervals import half_width


def test_a_quantity_passes_a_limit_as_unsurely_as_it_is_wrong_over_how_fast_it_changes() -> None:
    """0.3 degrees at 3 degrees a second are a tenth of one; half a degree more is passed a sixth of a second earlier."""
    moment = passing(3.0, 0.3, 0.5)

    assert moment.sd_s == pytest.approx(0.1)
    assert moment.turned_s == pytest.approx(-0.5 / 3.0)
    assert passing(-3.0, 0.3, 0.5).turned_s == pytest.approx(0.5 / 3.0)
    assert math.isnan(passing(0.0, 0.3).sd_s)


def test_a_turned_station_moves_both_moments_and_counts_once_in_the_time_between() -> None:
    """Where the needle moves as fast at both ends, the time between them does not hang on the alignment."""
    first, last = passing(-0.5, 0.05, 0.5), passing(-0.5, 0.05, 0.5)

    assert between(first, last) == pytest.approx(2.0 * math.hypot(0.1, 0.1))
    assert between(first, passing(-1.0, 0.05, 0.5)) == pytest.approx(
        half_width(math.hypot(0.1, 0.05), rectangular=0.5)
    )


def test_what_is_read_at_a_moment_takes_its_error_over() -> None:
    """A tenth of a mile in three seconds: 0.1 s are 0.0033 NM; the rectangle of the alignment goes with them."""
    assert read_at(Moment(0.1, 0.0, 0.0), 0.1 / 3.0, 0.0) == pytest.approx(2.0 * 0.1 * 0.1 / 3.0)
    assert read_at(Moment(0.1, 0.0, 1.0), 0.1 / 3.0, 0.0) == pytest.approx(
        half_width(0.1 * 0.1 / 3.0, rectangular=0.1 / 3.0)
    )
