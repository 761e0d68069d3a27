"""Weaving along a course, told by the positions alone: weaves of known size and period, and what is none."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest

from debrief.measures.scene import scene_of
from debrief.measures.steering import steering
from debrief.phases.model import Noise
from debrief.result import Steering
from tests.measures.builders import NOISE, Path, attempt, flight
from tests.measures.plan import INBOUND_TRUE_DEG, procedure

#: A turn of 3 deg/s moves on by so much from one second to the next, so an extreme is known to half of it.
SAMPLED_DEG = 3.0 + 1e-9


def on_course(aside_nm: float = 0.0) -> Path:
    """1.5 NM past the station on final, right of the course by so much, at 120 kt."""
    course = math.radians(INBOUND_TRUE_DEG)
    east_nm, north_nm = 1.5 * math.sin(course), 1.5 * math.cos(course)
    return Path(
        east_nm + aside_nm * math.cos(course),
        north_nm - aside_nm * math.sin(course),
        INBOUND_TRUE_DEG,
        120.0,
        1500.0,
    )


def swung(path: Path, turns_deg: Sequence[float], leg_s: float = 10.0) -> Path:
    """Turn after turn at 3 deg/s, each followed by a straight leg; begun half a leg before the course."""
    for turn_deg in turns_deg:
        path.turn(turn_deg).straight(seconds=leg_s)
    return path


def weave(swing_deg: float, times: int, side: float = 1.0) -> list[float]:
    """Half a swing to one side, then whole ones from side to side."""
    return [side * swing_deg / 2.0, *((-side if n % 2 == 0 else side) * swing_deg for n in range(times))]


def look(
    path: Path, *, interval_s: float = 1.0, noise: Noise = NOISE, gaps: Sequence[tuple[float, float]] = ()
) -> Steering:
    """Without a heading, and without a wind to find one from."""
    found = attempt([("final", 0.0, path.now_s)])
    flown = flight(path, procedure(), found, noise=noise, gaps=gaps)
    log = replace(flown.log, median_interval_s=interval_s)
    result = steering(scene_of(replace(flown, log=log), found, None))
    assert result is not None
    assert result.by_track or result.why  # chasing and turning away are those of the track
    return result


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_weave_through_the_course_is_found_without_a_heading(side: float) -> None:
    """30 degrees from side to side: 10 s of turning and 10 s straight a swing, so 40 s there and back."""
    path = swung(on_course(-side * 0.04), weave(30.0, 5, side))
    found = look(path).weave

    assert found is not None
    assert found.phase == "final"
    assert found.swing_deg == pytest.approx(30.0, abs=SAMPLED_DEG)
    assert found.period_s == pytest.approx(40.0, abs=5.0)  # an end on a straight leg may be anywhere on it
    assert 4 <= found.swings <= 6
    assert 0.03 < found.aside_nm < 0.2


def test_growing_swings_count_by_the_least_of_four() -> None:
    found = look(swung(on_course(-0.02), [8.0, -18.0, 22.0, -28.0, 34.0, -40.0])).weave

    assert found is not None
    assert found.swing_deg == pytest.approx(22.0, abs=SAMPLED_DEG)


def test_corrections_that_die_out_are_none_of_that_size() -> None:
    """Bracketing: 20 degrees into the needle, then half of it, and half again."""
    found = look(swung(on_course(-0.15), [20.0, -30.0, 15.0, -7.0, 3.0, -1.0])).weave

    assert found is None or found.swing_deg <= 7.0 + SAMPLED_DEG


def test_three_swings_are_none() -> None:
    assert look(swung(on_course(-0.04), weave(30.0, 2)).turn(15.0).straight(seconds=30.0)).weave is None


def test_slower_than_a_minute_and_a_half_it_is_a_drift() -> None:
    assert look(swung(on_course(-0.3), weave(12.0, 5), leg_s=50.0)).weave is None


def test_swings_all_on_one_side_do_not_go_through_the_course() -> None:
    assert look(swung(on_course(0.6), weave(30.0, 5))).weave is None


def test_a_gap_breaks_it() -> None:
    path = swung(on_course(-0.04), weave(30.0, 5))
    whole, broken = look(path), look(path, gaps=[(path.now_s / 2.0 - 3.0, path.now_s / 2.0 + 3.0)])

    assert whole.weave is not None
    assert broken.weave is None


def test_a_straight_flight_has_none_and_the_log_would_show_it() -> None:
    seen = look(on_course().straight(seconds=120.0))

    assert (seen.weave, seen.weave_why) == (None, "")
    assert seen.weave_uncertainty_deg is not None
    assert seen.weave_uncertainty_deg < 5.0


def test_positions_far_apart_do_not_show_it() -> None:
    seen = look(swung(on_course(-0.04), weave(30.0, 5)), interval_s=15.0)

    assert seen.weave is None
    assert seen.weave_why == "with a position every 15 s the log cannot show a weave along the course"


def test_the_noise_of_the_positions_is_a_weave_that_one_cannot_tell() -> None:
    """16 m (2 sigma) in a wave of 40 s at 120 kt, 2.47 km long: 2 x atan(2 pi 16 / 2469) = 4.7 degrees."""
    noisy = replace(NOISE, position_nm=8.0 / 1852.0, smoothed_groundspeed_kt=0.0)
    seen = look(on_course().straight(seconds=120.0), noise=noisy)

    assert seen.weave_uncertainty_deg == pytest.approx(4.7, abs=0.1)
