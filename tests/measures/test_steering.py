"""Steering by the needle: weaves and turns of known size, rate and place."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from debrief.measures.scene import scene_of
from debrief.measures.steering import steering
from debrief.result import Steering
from tests.measures.builders import Path, attempt, flight, passage
from tests.measures.plan import INBOUND_TRUE_DEG, OUTBOUND_TRUE_DEG, procedure

Floats = NDArray[np.float64]

#: A turn of 2 deg/s moves on by so much from one second to the next, so an extreme is known to half of it.
# both ends of a swing half a second off at 2 deg/s, and the rounding of an arctangent
SAMPLED_DEG = 2.0 + 1e-9


def beside(distance_nm: float, right_deg: float = 0.0, along_true_deg: float = INBOUND_TRUE_DEG) -> Path:
    """From the station along a course (that of the final), right of it by an angle at the station."""
    bearing = math.radians(along_true_deg + right_deg)
    return Path(
        distance_nm * math.sin(bearing), distance_nm * math.cos(bearing), along_true_deg, 120.0, 1500.0
    )


def weave(path: Path, half_deg: float, rate_deg_s: float, times: int) -> Path:
    """Swings of twice ``half_deg`` from side to side; each lasts as long as its turn."""
    path.turn(half_deg, rate_deg_s)
    for number in range(times):
        path.turn((-2.0 if number % 2 == 0 else 2.0) * half_deg, rate_deg_s)
    return path.turn((half_deg if times % 2 else -half_deg), rate_deg_s)


def look(
    path: Path,
    *,
    heading: Callable[[Floats, Floats], Floats] | None = lambda t_s, track: track,
    interval_s: float = 1.0,
    phase: str = "final",
) -> Steering:
    found = attempt([(phase, 0.0, path.now_s)])
    columns = {}
    if heading is not None:
        t_s = np.arange(0.0, path.now_s)
        columns["heading_true_deg"] = heading(t_s, path.at(t_s)["track"])
    flown = flight(path, procedure(), found, columns=columns)
    flown = replace(flown, log=replace(flown.log, median_interval_s=interval_s))
    result = steering(scene_of(flown, found, None))
    assert result is not None
    return result


def test_quick_swings_are_chasing_with_their_size_and_period() -> None:
    chase = look(weave(beside(1.5).straight(seconds=20.0), 7.0, 2.0, 6).straight(seconds=20.0)).chase

    assert chase is not None
    assert chase.swing_deg == pytest.approx(14.0, abs=SAMPLED_DEG)
    assert chase.period_s == pytest.approx(14.0, abs=1.0)  # 14 degrees there and 14 back at 2 deg/s
    assert 4 <= chase.swings <= 8
    assert not chase.in_cone


def test_the_same_swings_with_a_period_over_20_s_are_not() -> None:
    assert look(weave(beside(1.5), 7.0, 1.3, 6)).chase is None  # 21.5 s


def test_there_and_back_once_is_a_correction() -> None:
    assert look(weave(beside(1.5).straight(seconds=20.0), 7.0, 2.0, 1).straight(seconds=20.0)).chase is None


def test_a_yaw_that_the_track_does_not_follow_is_no_swing() -> None:
    straight = beside(1.5).straight(seconds=80.0)

    assert look(straight, heading=lambda t_s, track: track + 8.0 * np.sin(t_s)).chase is None


def test_being_blown_about_is_no_swing() -> None:
    woven = weave(beside(1.5).straight(seconds=10.0), 7.0, 2.0, 6)

    assert look(woven, heading=lambda t_s, track: np.full(len(t_s), INBOUND_TRUE_DEG)).chase is None


def over_the_station(swings: int) -> Steering:
    """Inbound from 3 NM, straight or woven between 0.35 NM before the station and after it."""
    bearing = math.radians(INBOUND_TRUE_DEG + 180.0)
    path = Path(3.0 * math.sin(bearing), 3.0 * math.cos(bearing), INBOUND_TRUE_DEG, 120.0, 2800.0)
    path.straight(2.65).mark("into cone")
    if swings:
        weave(path, 6.0, 3.0, swings)
    path.mark("out of cone", 20.0).straight(3.0)
    m = path.marks
    found = attempt(
        [
            ("intermediate", 0.0, m["into cone"]),
            ("station_passage", m["into cone"], m["out of cone"]),
            ("final", m["out of cone"], path.now_s),
        ],
        passages=[passage(m["into cone"] + 10.0, 0.0, m["into cone"], m["out of cone"])],
    )
    t_s = np.arange(0.0, path.now_s)
    flown = flight(path, procedure(), found, columns={"heading_true_deg": path.at(t_s)["track"]})
    result = steering(scene_of(flown, found, None))
    assert result is not None
    return result


def test_in_the_cone_once_there_and_back_is_enough() -> None:
    chase = over_the_station(2).chase

    assert chase is not None
    assert chase.in_cone
    assert chase.phase == "station_passage"
    assert chase.swing_deg == pytest.approx(12.0, abs=3.0)  # at 3 deg/s
    assert over_the_station(0).chase is None


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_turn_away_with_the_needle_going_out(side: float) -> None:
    path = beside(1.5, 3.0 * side).straight(seconds=10.0).turn(15.0 * side).straight(seconds=40.0)
    turn = look(path).turn_away

    assert turn is not None
    assert turn.turned_deg == pytest.approx(15.0, abs=0.1)
    assert turn.side == ("right" if side > 0 else "left")
    assert 2.0 <= turn.deviation_before_deg <= 3.0
    assert turn.deviation_after_deg > turn.deviation_before_deg + 2.0


@pytest.mark.parametrize(("begins_before_s", "found"), [(50.0, True), (15.0, False)])
def test_a_turn_away_that_goes_on_into_the_turn_off(begins_before_s: float, found: bool) -> None:
    """Half a degree a second away, up to the end of the outbound leg: what its last 20 s add does not count."""
    path = beside(1.5, 3.0, OUTBOUND_TRUE_DEG).straight(seconds=70.0 - begins_before_s)
    turn = look(path.turn(0.5 * begins_before_s, 0.5), phase="outbound").turn_away

    assert (turn is not None) == found
    if turn is not None:
        assert turn.turned_deg == pytest.approx(0.5 * (begins_before_s - 20.0), abs=1.0)


def test_a_turn_towards_the_needle_is_right() -> None:
    assert look(beside(1.5, 5.0).straight(seconds=10.0).turn(-15.0).straight(seconds=20.0)).turn_away is None


def test_back_to_along_the_course_from_a_cut_is_no_turn_away() -> None:
    """Flown at the course by 20 degrees, then along it, still a little beside: the heading turned 20 degrees."""
    path = beside(1.5, 8.0).turn(-20.0).straight(seconds=10.0).turn(20.0).straight(seconds=40.0)

    assert look(path).turn_away is None


def test_a_turn_that_goes_on_is_no_correction() -> None:
    assert look(beside(1.5, 3.0).straight(seconds=5.0).turn(120.0).straight(seconds=20.0)).turn_away is None


def test_a_line_beside_the_course_that_is_flown_to_and_held_is_no_needle_misread() -> None:
    """Turned away to a line half a mile beside, as who corrects for another aircraft or a wrong radial does."""
    path = beside(1.5, 3.0).straight(seconds=5.0).turn(25.0).straight(seconds=35.0).turn(-25.0)

    assert look(path.straight(seconds=20.0)).turn_away is not None
    assert look(path.straight(seconds=40.0)).turn_away is None


def test_another_radial_that_is_flown_out_along_is_no_needle_misread() -> None:
    """Turned away to the radial 14 degrees beside and along it, as who set another course than the published."""

    def flown(along_s: float) -> Path:
        path = beside(1.5, 3.0).straight(seconds=5.0).turn(30.0).straight(seconds=25.0)
        return path.turn(14.0 - 30.0).straight(seconds=along_s)

    assert look(flown(20.0)).turn_away is not None
    assert look(flown(45.0)).turn_away is None


def joining(radial_deg: float, cut_deg: float, seconds: float) -> Path:
    """Out along the course 2.5 degrees beside it, then onto a radial so far beside it: the less is missing, the shallower."""
    path = beside(1.2, 2.5, OUTBOUND_TRUE_DEG).straight(seconds=15.0)
    for _ in range(int(seconds)):
        at = path.at(np.array([path.now_s]))
        bearing = math.degrees(math.atan2(float(at["east"][0]), float(at["north"][0])))
        missing = radial_deg - (bearing - OUTBOUND_TRUE_DEG)
        wanted = OUTBOUND_TRUE_DEG + radial_deg + min(cut_deg, missing)
        path.turn(min(3.0, max(-3.0, wanted - path.track_deg)) or 1e-6, 3.0)
        path.straight(seconds=max(0.0, 1.0 - abs(wanted - path.track_deg) / 3.0))
    return path


@pytest.mark.parametrize("radial_deg", [9.0, 13.0, 18.0])
@pytest.mark.parametrize("cut_deg", [15.0, 30.0])
def test_another_radial_that_is_joined_slowly_is_no_needle_misread(radial_deg: float, cut_deg: float) -> None:
    """Rolled out on it little by little, and never along it for half a minute."""
    assert look(joining(radial_deg, cut_deg, 100.0), phase="outbound").turn_away is None


def test_who_goes_on_away_or_brings_the_needle_in_again_has_misread_it() -> None:
    def away() -> Path:
        return beside(1.2, 3.0, OUTBOUND_TRUE_DEG).straight(seconds=10.0).turn(20.0).straight(seconds=40.0)

    assert look(away().straight(seconds=30.0), phase="outbound").turn_away is not None
    assert look(away().turn(10.0).straight(seconds=30.0), phase="outbound").turn_away is not None
    seen = away().turn(-50.0).straight(seconds=60.0)
    assert look(seen, phase="outbound").turn_away is not None


def test_blown_away_on_a_steady_heading_is_no_turn() -> None:
    path = beside(1.5, 3.0).straight(seconds=10.0).turn(15.0).straight(seconds=40.0)

    assert look(path, heading=lambda t_s, track: np.full(len(t_s), INBOUND_TRUE_DEG)).turn_away is None


def test_what_cannot_be_told_is_said() -> None:
    woven = weave(beside(1.5), 7.0, 2.0, 6)

    assert "one" not in look(woven).why
    assert "every 6 s" in look(woven, interval_s=6.0).why
    assert look(woven, interval_s=5.0).why == ""


def test_without_heading_and_wind_the_track_tells_what_was_not_turned() -> None:
    """Heading and track both made a swing: no heading makes one of what the track does not show."""
    seen, unseen = (
        look(weave(beside(1.5), 7.0, 2.0, 6), heading=None),
        look(beside(1.5).straight(seconds=60.0), heading=None),
    )

    assert seen.by_track
    assert seen.why == unseen.why == ""
    assert seen.chase is not None
    assert unseen.chase is None
    assert unseen.turn_away is None
    assert not look(weave(beside(1.5), 7.0, 2.0, 6)).by_track


def test_noise_of_the_positions_is_in_the_uncertainty() -> None:
    """8 m either way (2 sigma) in a weave of 20 s at 120 kt, 1.2 km long: 2 x atan(2 pi 16 / 1235) = 9.3 degrees."""
    path = beside(1.5).straight(seconds=60.0)
    found = attempt([("final", 0.0, path.now_s)])
    columns = {"heading_true_deg": path.at(np.arange(0.0, path.now_s))["track"]}
    flown = flight(path, procedure(), found, columns=columns)
    noisy = replace(flown, noise=replace(flown.noise, position_nm=8.0 / 1852.0))
    result = steering(scene_of(noisy, found, None))

    assert result is not None
    assert result.turn_uncertainty_deg == pytest.approx(9.3, abs=0.1)


def test_without_a_leg_with_a_course_there_is_nothing_to_follow() -> None:
    path = beside(1.5).straight(seconds=60.0)
    found = attempt([("inbound", 0.0, path.now_s)])

    assert steering(scene_of(flight(path, procedure(), found), found, None)) is None
