"""Gaps and segments. Whole texts."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.tracks.conditioning import condition
from tests.tracks.flights import APPROACH, flown, recorded

TRUE = flown(APPROACH)


@pytest.mark.parametrize(
    ("interval_s", "missing", "is_gap"),
    [
        (1.0, 9, False),
        (1.0, 10, True),
        (0.2, 49, False),
        (0.2, 51, True),
        (5.0, 2, False),
        (5.0, 3, True),
        (15.0, 2, False),
        (15.0, 3, True),
    ],
)
def test_ten_seconds_or_three_and_a_half_steps(interval_s, missing, is_gap):
    log = recorded(TRUE, interval_s)
    count = len(log.t_s)

    conditioned = condition(log.pick(np.r_[0:20, 20 + missing : count]).track())

    assert [gap.reason for gap in conditioned.gaps] == (["no samples"] if is_gap else [])


@pytest.mark.parametrize(("missing", "is_gap"), [(0, False), (1, False), (2, True), (30, True)])
def test_a_new_part_of_the_file_is_a_gap_when_time_is_lost(missing, is_gap):
    log = recorded(TRUE, 1.0)
    log = log.set(part=(np.arange(695) >= 300).astype(float)).pick(np.r_[0:300, 300 + missing : 695])

    conditioned = condition(log.track())

    assert [gap.reason for gap in conditioned.gaps] == (["new segment"] if is_gap else [])


def test_the_words_for_gaps():
    log = recorded(TRUE, 1.0)

    assert condition(log.pick(np.r_[0:300, 360:695]).track()).warnings == (
        "Nothing usable for 1 min 1 s from 10:04:59 to 10:06:00 UTC; nothing is measured there.",
    )
    assert condition(log.pick(np.r_[0:100, 120:300, 360:695]).track()).warnings == (
        "2 gaps without anything usable, the longest 1 min 1 s from 10:04:59 to 10:06:00 UTC; nothing is measured there.",
    )


def test_a_gap_over_a_turn_is_no_jump_and_no_bridge():
    conditioned = condition(recorded(TRUE, 1.0).pick(np.r_[0:335, 440:695]).track())

    assert set(conditioned.set_aside) == {""}
    assert [(gap.start_s, gap.end_s) for gap in conditioned.gaps] == [(334.0, 440.0)]


@pytest.mark.parametrize(("interval_s", "missing", "is_gap"), [(40.0, 2, False), (40.0, 3, True)])
def test_two_minutes_are_a_gap_in_any_log(interval_s, missing, is_gap):
    log = recorded(flown(((1500.0, 0.0, 100.0, 0.0),)), interval_s)

    conditioned = condition(log.pick(np.r_[0:15, 15 + missing : len(log.t_s)]).track())

    assert bool(conditioned.gaps) == is_gap
