"""Touchdown by the braking that follows it. Flown by the second generator over Kestrey."""

from __future__ import annotations

import pytest

from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from tests.phases.aeroplane import STEP_S, Aeroplane
from tests.phases.pilots import true_deg

KESTREY = load_procedure("kestrey-ndb-09")
COURSE_DEG = true_deg(KESTREY, KESTREY.inbound_course_deg)
TWO_SECONDS = 2.0


def on_the_runway() -> Aeroplane:
    """Down the final course, with the wheels just on the runway at 80 kt."""
    plane = Aeroplane(east_nm=-13.0, north_nm=0.0, heading_deg=110.0, altitude_ft=2040.0)
    plane.join(COURSE_DEG)
    plane.follow(COURSE_DEG, lambda: plane.along_nm(COURSE_DEG) >= -3.6)
    plane.tas_kt, plane.to_ft = 80.0, 50.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)
    return plane


def touchdown_found_s(plane: Aeroplane) -> float:
    (attempt,) = look(plane.log(KESTREY), KESTREY).attempts
    landing = attempt.last(Phase.LANDING)
    assert landing is not None
    return landing.start_s


def brake(plane: Aeroplane, to_kt: float, kt_s: float) -> None:
    while plane.tas_kt > to_kt:
        plane.tas_kt -= kt_s * STEP_S
        plane.step()


def test_a_run_in_which_the_braking_eases_begins_at_the_wheels():
    """5 kt/s of braking, let go for two seconds at 40 kt, and 4.5 kt/s again."""
    plane = on_the_runway()
    touchdown_s = plane.t_s
    brake(plane, 40.0, 5.0)
    plane.hold(2.0)
    brake(plane, 3.0, 4.5)
    plane.hold(30.0)

    assert touchdown_found_s(plane) == pytest.approx(touchdown_s, abs=TWO_SECONDS)


def test_a_run_in_which_the_braking_only_weakens_begins_at_the_wheels():
    """As noise has it seem to: 5 kt/s, 3.3 for three seconds, and 5.6."""
    plane = on_the_runway()
    touchdown_s = plane.t_s
    brake(plane, 68.0, 5.0)
    brake(plane, 57.0, 3.3)
    brake(plane, 3.0, 5.6)
    plane.hold(30.0)

    assert touchdown_found_s(plane) == pytest.approx(touchdown_s, abs=TWO_SECONDS)


def test_a_landing_in_a_gap_is_told_by_the_aircraft_on_the_ground():
    """Only the taxiing is seen after it; for most of what is left of the log the aircraft moves that slowly."""
    plane = on_the_runway()
    touchdown_s = plane.t_s
    brake(plane, 12.0, 5.0)
    plane.hold(900.0)

    (attempt,) = look(plane.log(KESTREY, gap_s=(touchdown_s - 380.0, touchdown_s + 60.0)), KESTREY).attempts

    assert attempt.ending == "landing"
    assert attempt.spans[-1].start_s == pytest.approx(touchdown_s + 60.0, abs=TWO_SECONDS)


def test_a_ground_speed_that_noise_drags_down_for_a_moment_is_no_landing():
    """Level at the minimum against the wind, 500 ft above the runway; 2 s later it moves as before."""
    plane = Aeroplane(east_nm=-13.0, north_nm=0.0, heading_deg=110.0, altitude_ft=2040.0)
    plane.join(COURSE_DEG)
    plane.follow(COURSE_DEG, lambda: plane.along_nm(COURSE_DEG) >= -3.6)
    plane.tas_kt, plane.to_ft = 80.0, 560.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)
    plane.tas_kt = 25.0
    plane.hold(9.0)
    plane.tas_kt = 80.0
    plane.hold(15.0)
    plane.to_ft = 50.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)
    touchdown_s = plane.t_s
    brake(plane, 3.0, 4.0)
    plane.hold(30.0)

    assert touchdown_found_s(plane) == pytest.approx(touchdown_s, abs=TWO_SECONDS)


def test_an_altitude_in_steps_of_a_hundred_feet_levels_long_before_the_wheels_touch():
    """The aircraft sinks on through the last step at 250 ft/min, and keeps its speed until it brakes."""
    plane = Aeroplane(east_nm=-13.0, north_nm=0.0, heading_deg=110.0, altitude_ft=2040.0)
    plane.join(COURSE_DEG)
    plane.follow(COURSE_DEG, lambda: plane.along_nm(COURSE_DEG) >= -3.6)
    plane.tas_kt, plane.to_ft = 80.0, 52.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft <= 150.0)
    levels_s, plane.climb_ft_min = plane.t_s, 250.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)
    touchdown_s = plane.t_s
    brake(plane, 3.0, 4.0)
    plane.hold(30.0)
    plane.flown = [(*state[:3], 100.0 * round(state[3] / 100.0)) for state in plane.flown]

    assert touchdown_s - levels_s > 20.0
    assert touchdown_found_s(plane) == pytest.approx(touchdown_s, abs=2 * TWO_SECONDS)


def test_a_missed_approach_whose_lowest_part_a_gap_hides_ends_where_it_levels_off():
    """Seen again, it is level 900 ft above what was seen last, and flies on there for minutes."""
    plane = Aeroplane(east_nm=-13.0, north_nm=0.0, heading_deg=110.0, altitude_ft=2040.0)
    plane.join(COURSE_DEG)
    plane.follow(COURSE_DEG, lambda: plane.along_nm(COURSE_DEG) >= -3.6)
    plane.to_ft = 560.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft <= 1300.0)
    gap_s = plane.t_s
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)
    plane.to_ft = 2200.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)
    level_s = plane.t_s
    plane.hold(300.0)

    (attempt,) = look(plane.log(KESTREY, gap_s=(gap_s, level_s - 20.0)), KESTREY).attempts

    assert attempt.ending == "missed approach"
    assert attempt.end_s <= level_s


@pytest.mark.parametrize("slows", [True, False])
def test_a_low_approach_over_the_runway_is_a_landing_only_if_it_slowed(slows):
    """Level for ten seconds at the height of the runway, and up again: a touch and go, or an altimeter's error above it."""
    plane = on_the_runway()
    lowest_s = plane.t_s
    if slows:
        brake(plane, 60.0, 2.5)
    else:
        plane.hold(8.0)
    plane.to_ft = 1600.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)

    (attempt,) = look(plane.log(KESTREY, noise_m=2.0), KESTREY).attempts

    assert attempt.ending == ("landing" if slows else "missed approach")
    assert attempt.spans[-1].start_s == pytest.approx(lowest_s if slows else lowest_s + 13.0, abs=4.0)


@pytest.mark.parametrize(
    ("too_high_ft", "to_kt", "kt_s"),
    [pytest.param(100.0, 48.0, 2.5, id="logged too high"), pytest.param(0.0, 55.0, 8.0, id="over at once")],
)
def test_a_touch_and_go_is_told_by_its_braking(too_high_ft, to_kt, kt_s):
    """An altitude that errs by 100 ft, or never levels: at three quarters of its speed over the runway nobody still flies."""
    plane = on_the_runway()
    touchdown_s = plane.t_s
    brake(plane, to_kt, kt_s)
    plane.to_ft, plane.climb_ft_min = 1600.0, 900.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)
    plane.flown = [(*state[:3], state[3] + too_high_ft) for state in plane.flown]

    (attempt,) = look(plane.log(KESTREY), KESTREY).attempts

    assert attempt.ending == "landing"
    assert attempt.spans[-1].start_s == pytest.approx(touchdown_s, abs=2 * TWO_SECONDS)
