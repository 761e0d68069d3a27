"""Headings, ground speeds and turns in a wind, against worked examples and an obvious twin."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.planning.air import Pen
from tests.planning.practice import air
from tests.strategies import bearings
from tests.vectors import read_vectors

THOUSANDTH_NM = 0.001
PRINTED_DEG, PRINTED_KT = 0.0005, 0.005


@pytest.mark.parametrize(
    ("course_deg", "tas_kt", "wind", "correction_deg", "groundspeed_kt"),
    [(228.0, 120.0, (270.0, 25.0), 8.013, 100.25), (48.0, 170.0, (340.0, 30.0), -9.417, 156.47)],
)
def test_correction_and_ground_speed_of_a_course(
    course_deg: float, tas_kt: float, wind: tuple[float, float], correction_deg: float, groundspeed_kt: float
) -> None:
    """WCA = asin(W/TAS sin(from - course)), GS = TAS cos(WCA) - W cos(from - course). Computed apart from this program."""
    there = air(tas_kt, *wind)

    assert there.correction_deg(course_deg) == pytest.approx(correction_deg, abs=PRINTED_DEG)
    assert there.groundspeed_kt(course_deg) == pytest.approx(groundspeed_kt, abs=PRINTED_KT)
    assert there.made_good(there.heading_true_deg(course_deg)) == pytest.approx(
        (course_deg, there.groundspeed_kt(course_deg)), abs=PRINTED_DEG
    )


@pytest.mark.parametrize("row", read_vectors("wind_triangle.csv"), ids=str)
def test_what_a_heading_makes_good(row) -> None:
    """Computed apart from this program."""
    track_deg, groundspeed_kt = air(row.tas_kt, row.wind_from_deg, row.wind_speed_kt).made_good(
        row.heading_deg
    )

    assert (track_deg - row.track_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=PRINTED_DEG)
    assert groundspeed_kt == pytest.approx(row.groundspeed_kt, abs=PRINTED_KT)


@pytest.mark.parametrize("row", read_vectors("turns.csv"), ids=str)
def test_bank_rate_and_radius(row) -> None:
    """The lesser of 25 deg and 3 deg/s, ICAO Doc 8168 Vol II, I-4-3, 3.6; computed apart from this program."""
    there = air(row.tas_kt)

    assert there.bank_deg == pytest.approx(row.bank_used_deg, abs=PRINTED_DEG)
    assert there.turn_rate_deg_s == pytest.approx(row.rate_of_turn_deg_per_s, abs=PRINTED_DEG)
    assert there.radius_nm == pytest.approx(row.radius_nm, abs=0.000005)


@given(
    start_deg=bearings(),
    end_deg=bearings(),
    direction=st.sampled_from([-1, 1]),
    from_deg=bearings(),
    wind_kt=st.floats(0.0, 40.0),
)
def test_a_turn_in_a_wind_is_the_sum_of_its_small_steps(
    start_deg: float, end_deg: float, direction: int, from_deg: float, wind_kt: float
) -> None:
    """The twin: fly it a twentieth of a second at a time."""
    there = air(130.0, from_deg, wind_kt)
    turn = there.turn(start_deg, end_deg, direction)
    change_deg = (direction * (end_deg - start_deg)) % 360.0
    steps = 20 * math.ceil(max(turn.seconds, 0.05))
    headings = np.radians(start_deg + direction * change_deg * (np.arange(steps) + 0.5) / steps)
    step_h = turn.seconds / steps / 3600.0
    wind = math.radians(from_deg)
    east_nm = float((130.0 * np.sin(headings) - wind_kt * math.sin(wind)).sum() * step_h)
    north_nm = float((130.0 * np.cos(headings) - wind_kt * math.cos(wind)).sum() * step_h)

    assert turn.seconds == pytest.approx(change_deg / 3.0, abs=0.001)  # 130 kt: standard rate
    assert (turn.east_nm, turn.north_nm) == pytest.approx((east_nm, north_nm), abs=THOUSANDTH_NM)


def test_the_pen_ends_where_the_turn_does() -> None:
    there = air(130.0, 250.0, 30.0)
    pen = Pen(heading_true_deg=40.0)
    pen.turn(there, 310.0, -1)
    turn = there.turn(40.0, 310.0, -1)

    assert (pen.east_nm, pen.north_nm, pen.seconds) == pytest.approx(
        (turn.east_nm, turn.north_nm, turn.seconds)
    )
    east_nm, north_nm = pen.lift()
    assert (east_nm[0], north_nm[0]) == (0.0, 0.0)
    assert float(np.hypot(np.diff(east_nm), np.diff(north_nm)).max()) < 0.02


def test_a_course_that_is_kept_is_a_straight_line_along_it() -> None:
    pen = Pen()
    pen.follow(air(110.0, 330.0, 25.0), 60.0, 4.0)

    assert (pen.east_nm, pen.north_nm) == pytest.approx((4.0 * math.sin(math.radians(60)), 2.0))
    assert pen.seconds == pytest.approx(4.0 / air(110.0, 330.0, 25.0).groundspeed_kt(60.0) * 3600.0)
