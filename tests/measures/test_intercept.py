"""The intercept: when the needle came alive, the angle, the overshoot, established."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.measures import measure
from tests.measures.builders import EPOCH, RADIUS_NM, Path, attempt, flight, passage, whole_approach
from tests.measures.plan import INBOUND_TRUE_DEG, procedure

TENTH_SECOND = 0.1
TENTH_DEG = 0.1
FIVE_METRES_NM = 5 / 1852


def seconds(moment) -> float:
    return (moment - EPOCH).total_seconds()


def toward_course(angle_deg: float, *, along_nm: float, side: float = 1.0, beside_nm: float = 1.6) -> Path:
    """Beside the inbound course (right of it for ``side`` 1), flying at it at an angle."""
    course = math.radians(INBOUND_TRUE_DEG)
    right = side * beside_nm
    return Path(
        along_nm * math.sin(course) + right * math.cos(course),
        along_nm * math.cos(course) - right * math.sin(course),
        INBOUND_TRUE_DEG - side * angle_deg,
        120.0,
        2800.0,
    )


def onto_course(path: Path, angle_deg: float, side: float = 1.0, short_nm: float = 0.0) -> Path:
    """Fly on and turn onto the line ``short_nm`` before the course (beyond it where negative)."""
    course = math.radians(INBOUND_TRUE_DEG)
    across_nm = side * (path.east_nm * math.cos(course) - path.north_nm * math.sin(course))
    turn_nm = RADIUS_NM * (1 - math.cos(math.radians(angle_deg)))
    path.straight((across_nm - turn_nm - short_nm) / math.sin(math.radians(angle_deg))).mark("turn")
    return path.turn(side * angle_deg).mark("on course")


def intercept_of(path: Path, start_s: float = 0.0, established_s: float | None = None, plan=None, gaps=()):
    established_s = path.marks.get("established", path.marks.get("on course", established_s))
    found = attempt(
        [
            ("course_reversal", start_s, path.now_s if established_s is None else established_s),
            *([("intermediate", established_s, path.now_s)] if established_s is not None else []),
        ],
        passages=[passage(path.now_s + 10.0)],
        turn_off_s=start_s,
        established_s=established_s,
    )
    intercept = measure(flight(path, plan or procedure(), found, gaps=gaps), found, None).intercept
    assert intercept is not None
    return intercept


def crossing_s(path: Path, start_s: float, end_s: float, deviation_deg: float = 10.0) -> float:
    """By bisection: when the aircraft is that far off the inbound course at the station."""

    def off_deg(t_s: float) -> float:
        at = path.at(np.array([t_s]))
        bearing = math.degrees(math.atan2(float(at["east"][0]), float(at["north"][0])))
        return abs((bearing - (INBOUND_TRUE_DEG - 180.0) + 180.0) % 360.0 - 180.0)

    for _ in range(60):
        middle = (start_s + end_s) / 2
        start_s, end_s = (middle, end_s) if off_deg(middle) > deviation_deg else (start_s, middle)
    return start_s


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("angle_deg", [15.0, 30.0, 45.0, 70.0])
def test_angle_and_moment_as_the_needle_comes_alive(angle_deg, side):
    path = onto_course(toward_course(angle_deg, along_nm=-8.0, side=side), angle_deg, side).straight(0.5)
    found = intercept_of(path)

    assert found.time is not None
    assert seconds(found.time) == pytest.approx(crossing_s(path, 0.0, path.marks["turn"]), abs=TENTH_SECOND)
    assert found.angle_deg == pytest.approx(angle_deg, abs=TENTH_DEG)
    assert found.overshoot_nm == pytest.approx(0.0, abs=FIVE_METRES_NM)
    assert found.seconds_to_established == pytest.approx(
        path.marks["on course"] - seconds(found.time), abs=TENTH_SECOND
    )
    # 0.2 kt across 120 kt are 0.095 degrees, and the declination is published in whole degrees: 95.45 % of the sum of
    # the two lie within 0.536 degrees, by two million draws
    assert found.angle_uncertainty_deg == pytest.approx(0.536, abs=0.01)


def test_a_needle_that_was_never_at_full_scale_has_no_moment_but_an_angle():
    """Nine miles out 45 degrees of intercept begin within 10 degrees of the course."""
    path = toward_course(135.0, along_nm=-9.0, beside_nm=1.2).turn(90.0).mark("out of turn").straight(0.2)
    found = intercept_of(onto_course(path, 45.0).straight(3.0))

    assert found.time is None
    assert found.seconds_to_established is None
    assert found.angle_deg == pytest.approx(45.0, abs=2.0)
    assert "The needle was never at full scale on the way in." in found.warnings


def test_still_turning_as_the_needle_comes_alive_the_angle_is_read_after_the_turn():
    """A turn that flies inbound from 1.25 NM beside the course and ends 0.7 NM from it, at 4.5 NM."""
    path = toward_course(150.0, along_nm=-4.5, beside_nm=1.8).turn(120.0).mark("out of turn").straight(0.1)
    found = intercept_of(onto_course(path, 30.0).straight(2.0))

    assert found.time is not None
    assert seconds(found.time) < path.marks["out of turn"]
    assert found.angle_deg == pytest.approx(30.0, abs=2.0)
    # more than of a heading held: the track still moved as it was read
    assert found.angle_uncertainty_deg > 0.6


@pytest.mark.parametrize(("rate_deg_s", "jumps"), [(0.9, True), (1.1, True), (0.4, False)])
def test_where_a_turn_goes_on_at_about_the_limit_the_angle_is_unsure_by_what_it_still_turns(
    rate_deg_s, jumps
):
    """Out of a turn of 3 deg/s into 12 s of about 1 deg/s, over which 1 deg/s is at most two standard deviations away.

    Noise leaves the rate unsure by 0.165 deg/s (``test_uncertainty``): whether the angle is to be read before those
    seconds or after them the log does not tell. At 0.4 deg/s it tells.
    """
    path = toward_course(150.0, along_nm=-5.5, beside_nm=1.9).turn(105.0).mark("slowly")
    path.turn(12.0 * rate_deg_s, rate_deg_s).mark("out of turn").straight(0.05)
    found = intercept_of(onto_course(path, 45.0 - 12.0 * rate_deg_s).straight(2.0))

    read_deg = 45.0 if rate_deg_s < 1.0 else 45.0 - 12.0 * rate_deg_s
    assert found.angle_deg == pytest.approx(read_deg, abs=2.0)
    assert (found.angle_uncertainty_deg > 0.9 * 12.0 * rate_deg_s) == jumps


def test_a_turn_straight_onto_the_course_has_no_angle():
    path = toward_course(180.0, along_nm=-2.0, beside_nm=2.0 * RADIUS_NM).straight(0.5).turn(180.0)
    path.mark("established", -20.0 / 3.0).straight(3.0)
    found = intercept_of(path)

    assert found.time is not None
    assert found.angle_deg is None
    assert "Intercept angle not measured: the turn ran straight onto the course." in found.warnings


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("beyond_nm", [0.15, 0.5, 0.9])
def test_the_overshoot_is_the_farthest_on_the_far_side(beyond_nm, side):
    path = onto_course(toward_course(45.0, along_nm=-8.0, side=side), 45.0, side, short_nm=-beyond_nm)
    path.turn(side * 30.0)  # and back at 30 degrees
    course = math.radians(INBOUND_TRUE_DEG)
    left_nm = abs(path.east_nm * math.cos(course) - path.north_nm * math.sin(course))
    turn_nm = RADIUS_NM * (1 - math.cos(math.radians(30.0)))
    path.straight(max((left_nm - turn_nm) / math.sin(math.radians(30.0)), 0.0)).turn(-side * 30.0)
    path.mark("established").straight(1.0)
    found = intercept_of(path)

    assert found.overshoot_nm == pytest.approx(beyond_nm, abs=FIVE_METRES_NM)
    assert found.angle_deg == pytest.approx(45.0, abs=TENTH_DEG)


def test_a_parallel_entry_comes_to_the_course_through_the_racetracks_side():
    """Out beside the course, back against the racetrack's turns: the way through its side was told as an overshoot."""
    plan = procedure(
        outbound={"radial_deg": None, "course_deg": 48},
        course_reversal={"pattern": "racetrack", "side": "right"},
    )
    path = toward_course(180.0, along_nm=-5.0, side=-1.0, beside_nm=0.7).straight(1.0).mark("turn off")
    path.turn(-215.0)  # left, through the right side, to 35 degrees off the course
    course = math.radians(INBOUND_TRUE_DEG)
    right_nm = path.east_nm * math.cos(course) - path.north_nm * math.sin(course)
    turn_nm = RADIUS_NM * (1 - math.cos(math.radians(35.0)))
    path.straight((right_nm - turn_nm) / math.sin(math.radians(35.0))).turn(35.0).mark("established")
    path.straight(2.0)
    found = intercept_of(path, path.marks["turn off"], plan=plan)

    assert right_nm > 0.4  # it was beyond the course, seen from the outbound leg
    assert found.overshoot_nm == pytest.approx(0.0, abs=FIVE_METRES_NM)


def test_rolling_out_short_of_the_course_is_no_overshoot():
    path = onto_course(toward_course(45.0, along_nm=-8.0), 45.0, short_nm=0.05).straight(3.0)

    assert intercept_of(path).overshoot_nm == 0.0


def test_drifting_across_long_after_settling_is_no_overshoot():
    path = onto_course(toward_course(45.0, along_nm=-9.0), 45.0, short_nm=0.03).straight(2.0)
    path.turn(-2.0, rate_deg_s=0.5).straight(3.0)  # two degrees to the left, through the course

    assert intercept_of(path).overshoot_nm == 0.0


def test_turning_away_again_once_established_is_no_overshoot():
    """A flight crossed its course at ten degrees, nearly on it, and then took up a heading twenty degrees off.

    Ninety seconds later it was 0.6 NM aside, which is tracking; it was told as an overshoot of the turn in.
    """
    path = toward_course(45.0, along_nm=-8.0)
    turn_nm = RADIUS_NM * (math.cos(math.radians(10.0)) - math.cos(math.radians(45.0)))
    path.straight((1.6 - turn_nm - 0.05) / math.sin(math.radians(45.0))).turn(35.0).mark("established")
    path.straight(0.4).turn(-10.0).straight(1.8).turn(45.0).straight(2.0)
    found = intercept_of(path)

    assert found.overshoot_nm == pytest.approx(0.4 * math.sin(math.radians(10.0)) - 0.05, abs=FIVE_METRES_NM)


def test_never_established_before_the_station():
    path = toward_course(30.0, along_nm=-4.0, beside_nm=3.5).straight(3.0)
    found = intercept_of(path)

    assert found.established is None
    assert found.established_distance_nm is None
    assert found.angle_deg is None or found.angle_deg == pytest.approx(30.0, abs=TENTH_DEG)


def test_a_reversal_that_never_turns_inbound_has_nothing_to_measure():
    path = toward_course(170.0, along_nm=-4.0).straight(3.0)
    found = intercept_of(path)

    assert (found.time, found.angle_deg, found.overshoot_nm) == (None, None, None)
    assert "not flown or not observed" in found.warnings[0]


def test_the_45_180_flown_without_error():
    built = whole_approach()
    found = measure(built.flight, built.attempt, None).intercept

    assert found is not None
    assert found.angle_deg == pytest.approx(45.0, abs=TENTH_DEG)
    assert found.established_distance_nm == pytest.approx(
        built.path.distance_nm(built.marks["established"]), abs=1e-4
    )
    assert seconds(found.established) == pytest.approx(built.marks["established"], abs=0.001)


def test_straight_in_to_a_station_on_the_aerodrome_the_way_in_is_the_intercept():
    plan = procedure(
        outbound=None,
        course_reversal=None,
        intermediate=None,
        runway={"latitude": 47.0, "longitude": -31.0},
        final={"missed_approach_point": {"dme_nm": 0.5}, "step_down": None},
    )
    path = onto_course(toward_course(40.0, along_nm=-8.0, beside_nm=2.0), 40.0).straight(4.0)
    m = path.marks
    found = attempt(
        [("inbound", 0.0, m["on course"]), ("final", m["on course"], path.now_s)],
        established_s=m["on course"],
    )
    intercept = measure(flight(path, plan, found), found, None).intercept

    assert intercept is not None
    assert intercept.angle_deg == pytest.approx(40.0, abs=TENTH_DEG)


@given(angle_deg=st.floats(12, 75), along_nm=st.floats(-9, -5), beyond_nm=st.floats(-0.6, 0.0))
def test_a_mirrored_intercept_is_the_same(angle_deg, along_nm, beyond_nm):
    here, there = (
        intercept_of(
            onto_course(
                toward_course(angle_deg, along_nm=along_nm, side=side), angle_deg, side, beyond_nm
            ).straight(0.5)
        )
        for side in (1.0, -1.0)
    )

    assert (here.time is None) == (there.time is None)
    assert here.angle_deg == pytest.approx(there.angle_deg, abs=1e-6)
    assert here.overshoot_nm == pytest.approx(there.overshoot_nm, abs=1e-6)


def test_a_leg_across_the_course_between_two_turns_is_no_way_in():
    """Between the turns of an 80/260 a wind pushed it to 85 degrees off the inbound course, for 6 s."""
    path = toward_course(85.0, along_nm=-6.0, side=-1.0, beside_nm=0.5).straight(seconds=6.0)
    path.turn(-20.0).straight(seconds=20.0).turn(105.0).mark("on course")
    path.mark("established", -5.0).straight(2.0)

    found = intercept_of(path)

    assert found.angle_deg is None
    assert any("straight onto the course" in reason for reason in found.warnings)


def test_an_intercept_in_a_gap_is_not_measured():
    """The leg towards the course, a gap, and along the course: its angle was read behind the gap, as half a degree."""
    path = (
        onto_course(toward_course(45.0, along_nm=-8.0), 45.0).straight(0.3).mark("established").straight(1.7)
    )
    found = intercept_of(path, gaps=[(5.0, path.marks["on course"] + 4.0)])

    assert (found.time, found.angle_deg) == (None, None)
    assert found.warnings == ("Intercept not measured: the turn inbound was not flown or not observed.",)


def test_the_moments_of_the_angle_and_of_the_crossing_are_told():
    """An overshoot was told where the needle came back from the far side, and an angle where the reversal ended."""
    path = onto_course(toward_course(45.0, along_nm=-8.0), 45.0, 1.0, short_nm=-0.5)
    path.turn(30.0).straight(0.5).turn(-30.0).mark("established").straight(1.0)
    found = intercept_of(path)
    flown_s = np.arange(0.0, path.marks["on course"], 0.5)
    at = path.at(flown_s)
    course = math.radians(INBOUND_TRUE_DEG)
    across_nm = at["east"] * math.cos(course) - at["north"] * math.sin(course)

    assert found.crossed is not None
    assert seconds(found.crossed) == pytest.approx(flown_s[np.flatnonzero(across_nm < 0)[0]], abs=0.6)
    assert found.angle_time is not None
    assert seconds(found.angle_time) < path.marks["turn"]


def test_no_overshoot_has_no_crossing():
    path = onto_course(toward_course(45.0, along_nm=-8.0), 45.0, short_nm=0.05).straight(3.0)

    assert intercept_of(path).crossed is None
