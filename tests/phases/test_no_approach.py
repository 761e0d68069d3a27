"""What looks like a part of an approach and is none; and what looks like none and is a bad one.

Flown by the second generator over Kestrey, whose beacon stands on the aerodrome (elevation 52 ft, outbound and
reversal not below 2,000 ft), and over Lantern, whose station stands off it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from debrief.phases.finals import final_course_deg
from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Pattern, Procedure
from debrief.simulation import FlightPlan, Wind, fly
from debrief.simulation.sensor import Sensor, record
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import arriving, base_turn, inbound_and_down, outbound, true_deg

KESTREY = load_procedure("kestrey-ndb-09")
LANTERN = load_procedure("lantern-vor-22")
RUNWAY_DEG = true_deg(KESTREY, KESTREY.inbound_course_deg)


def phases(plane: Aeroplane, procedure: Procedure = KESTREY) -> list[list[str]]:
    flight = look(plane.log(procedure), procedure)
    return [[str(span.phase) for span in attempt.spans] for attempt in flight.attempts]


def down_to_the_runway(plane: Aeroplane, from_nm: float) -> None:
    """Along the runway's course and down to the beacon, and a landing run beyond it."""
    plane.join(RUNWAY_DEG)
    plane.follow(RUNWAY_DEG, lambda: plane.along_nm(RUNWAY_DEG) >= -from_nm)
    plane.to_ft = 50.0
    plane.follow(RUNWAY_DEG, lambda: plane.along_nm(RUNWAY_DEG) >= 0.1)
    plane.tas_kt = 20.0
    plane.hold(40.0)


def test_a_circuit_of_the_aerodrome_with_a_long_downwind_is_no_approach():
    """Away from over the beacon at 1,050 ft, 3 NM downwind, base, and down: the shape of a base turn, but too low."""
    plane = Aeroplane(east_nm=0.0, north_nm=0.0, heading_deg=RUNWAY_DEG, altitude_ft=55.0, tas_kt=90.0)
    plane.to_ft = 1050.0
    plane.hold(50.0)
    plane.turn(-90.0)
    plane.turn(-90.0)
    plane.hold_until(lambda: plane.along_nm(RUNWAY_DEG) < -3.2)
    plane.turn(-90.0)
    down_to_the_runway(plane, 2.6)

    assert phases(plane) == []


def test_a_visual_arrival_past_the_beacon_into_the_downwind_is_no_approach():
    """Past it at a mile, 1,040 ft up: a passage by its distance, and then the shape of an outbound leg."""
    plane = Aeroplane(east_nm=8.81, north_nm=2.09, heading_deg=RUNWAY_DEG + 180.0, altitude_ft=1040.0)
    plane.hold_until(lambda: plane.along_nm(RUNWAY_DEG) < -3.2)
    plane.turn(-90.0)
    down_to_the_runway(plane, 2.8)

    assert phases(plane) == []


def test_a_long_final_from_a_circuit_is_no_straight_in():
    plane = Aeroplane(east_nm=-5.0, north_nm=3.0, heading_deg=180.0, altitude_ft=1050.0, tas_kt=90.0)
    down_to_the_runway(plane, 3.2)

    assert phases(plane) == []


def test_airwork_along_the_outbound_course_is_no_outbound_leg():
    """Out along the course from 8 NM, a turn back, in along it, and away again; the station is never passed."""
    out_deg = true_deg(LANTERN, LANTERN.outbound_course_deg or 0.0)
    plane = Aeroplane(east_nm=12.0, north_nm=-6.0, heading_deg=350.0, altitude_ft=3400.0)
    plane.hold_until(lambda: plane.across_nm(out_deg) <= 0.6)
    plane.turn_to(out_deg)
    plane.hold(120.0)
    plane.turn(180.0)
    plane.hold(100.0)
    for _ in range(3):
        plane.turn(-360.0)
        plane.hold(20.0)
    plane.turn(120.0)
    plane.hold(300.0)

    assert phases(plane, LANTERN) == []


def test_an_approach_flown_far_too_low_is_still_one():
    """450 ft below every limit, as with a wrong altimeter setting."""
    flown = base_turn("kestrey-ndb-09", from_deg=110.0)
    flown.plane.flown = [(t, x, y, altitude - 450.0) for t, x, y, altitude in flown.plane.flown]

    assert phases(flown.plane) == [[phase for phase, _, _ in flown.phases]]


def test_an_approach_to_the_wrong_side_is_still_one():
    """A base turn to the left, published to the right, which leads far through the course before it is joined."""
    plane = arriving(KESTREY, from_deg=110.0, tas_kt=100.0, wind=(0.0, 0.0))
    outbound(plane, KESTREY, 6.0)
    plane.turn_to(RUNWAY_DEG - 30.0, "left")
    inbound_and_down(plane, KESTREY)

    assert [attempt[:4] for attempt in phases(plane)] == [
        ["inbound", "station_passage", "outbound", "course_reversal"]
    ]


def test_an_approach_straight_in_that_is_soon_down_is_still_one():
    """From the reversal's altitude, and most of the way to the beacon level at the minimum."""
    plane = Aeroplane(east_nm=-13.0, north_nm=0.0, heading_deg=110.0, altitude_ft=2040.0)
    plane.climb_ft_min = 1000.0
    inbound_and_down(plane, KESTREY)

    assert phases(plane) == [["inbound", "final", "missed_approach"]]


def test_a_circuit_before_a_departure_along_the_outbound_course_is_no_approach():
    """A touch and go within three miles of the beacon, and away to the west high up: that was no part of the circuit."""
    plane = Aeroplane(east_nm=-0.5955, north_nm=-0.0731, heading_deg=RUNWAY_DEG, altitude_ft=55.0, tas_kt=5.0)
    plane.hold(30.0)
    plane.tas_kt = 90.0
    plane.hold(25.0)
    plane.to_ft = 1050.0
    plane.hold(25.0)
    plane.turn(-90.0)
    plane.turn(-90.0)
    plane.hold_until(lambda: plane.along_nm(RUNWAY_DEG) < -1.8)
    plane.turn(-90.0)
    plane.join(RUNWAY_DEG)
    plane.to_ft, plane.climb_ft_min = 50.0, 900.0
    plane.follow(RUNWAY_DEG, lambda: plane.along_nm(RUNWAY_DEG) >= 0.3)
    plane.to_ft = 3200.0
    plane.hold(120.0)
    plane.turn(-90.0)
    plane.hold(150.0)
    plane.turn(-90.0)
    plane.hold(700.0)

    assert phases(plane) == []


def test_airwork_long_after_crossing_the_beacon_is_no_approach():
    """Over the beacon, away to the north, and minutes later out and back along the course, ten miles off."""
    out_deg = true_deg(KESTREY, KESTREY.outbound_course_deg or 0.0)
    plane = arriving(KESTREY, from_deg=180.0, tas_kt=110.0, wind=(0.0, 0.0))
    plane.hold_until(lambda: plane.north_nm > 4.0)
    plane.turn_to(270.0)
    plane.hold_until(lambda: plane.east_nm < -7.0)
    plane.turn_to(200.0)
    plane.hold_until(lambda: plane.across_nm(out_deg) <= 0.6)
    plane.turn_to(out_deg)
    plane.hold(60.0)
    plane.turn(180.0)
    plane.hold(90.0)
    plane.turn(-90.0)
    plane.hold(400.0)

    assert phases(plane) == []


def test_a_flight_to_somewhere_else_is_no_outbound_leg():
    """Over the beacon along its outbound radial, 45 miles out and beyond what is looked at, and back again."""
    outbound_deg = true_deg(KESTREY, KESTREY.outbound_course_deg or 0.0)
    plane = Aeroplane(
        east_nm=-6.0 * math.sin(math.radians(outbound_deg)),
        north_nm=-6.0 * math.cos(math.radians(outbound_deg)),
        heading_deg=outbound_deg,
        altitude_ft=2600.0,
        tas_kt=160.0,
    )
    plane.follow(outbound_deg, lambda: plane.distance_nm() > 45.0)
    plane.turn_to(math.degrees(math.atan2(-plane.east_nm, -plane.north_nm)))
    plane.hold_until(lambda: plane.distance_nm() < 6.0)
    plane.turn(90.0)
    plane.hold(300.0)

    assert phases(plane) == []


def test_a_log_that_begins_turning_in_has_no_reversal_where_none_is_published():
    """Straight in from the side: the turn onto the course is part of the way in."""
    procedure = load_procedure("gannetstone-vor-12")
    plan = FlightPlan(start_bearing_true_deg=260.0, wind=Wind(from_true_deg=230.0, speed_kt=15.0))

    (attempt,) = look(record(fly(procedure, plan), Sensor(), 1), procedure).attempts

    assert [str(span.phase) for span in attempt.spans] == [
        "inbound",
        "station_passage",
        "final",
        "missed_approach",
    ]
    assert attempt.start_s == 0.0


def test_going_away_on_the_other_side_after_a_missed_approach_is_no_outbound_leg():
    """Climbed away over the beacon, turned about and gone by, four miles off, about along the outbound course.

    The outbound leg of a racetrack lies on no radial, and the climb over the beacon was taken for its beginning.
    """
    legs = {
        "outbound": {"radial_deg": None, "course_deg": 273.0},
        "course_reversal": {"pattern": Pattern.RACETRACK},
    }
    procedure = KESTREY.model_copy(
        update={"leg": tuple(leg.model_copy(update=legs.get(leg.phase, {})) for leg in KESTREY.leg)}
    )
    plane = arriving(procedure, from_deg=RUNWAY_DEG + 180.0, tas_kt=110.0, wind=(0.0, 0.0), up_to_nm=6.0)
    inbound_and_down(plane, procedure)
    plane.turn(90.0)
    plane.hold(60.0)
    plane.turn(60.0)
    plane.hold(270.0)

    assert phases(plane, procedure) == [["final", "missed_approach"]]


def test_a_turn_round_far_from_the_station_and_the_course_is_no_approach():
    """By Kestrey at 2.7 NM, about along its outbound course for some seconds, and round: looking at something.

    The log ends there. It never met the station, the radial or the inbound course, and got five findings.
    """
    out_deg = true_deg(KESTREY, KESTREY.outbound_course_deg or 0.0)
    out = math.radians(out_deg)
    plane = Aeroplane(
        east_nm=-1.4 * math.sin(out) + 5.1 * math.cos(out),
        north_nm=-1.4 * math.cos(out) - 5.1 * math.sin(out),
        heading_deg=out_deg - 50.0,
        altitude_ft=2600.0,
        tas_kt=95.0,
    )
    plane.hold_until(lambda: plane.along_nm(out_deg) > 1.6)
    plane.turn(45.0)
    plane.hold(16.0)
    plane.turn(250.0)

    assert phases(plane) == []


def _straight_to(plane: Aeroplane) -> None:
    """To the station, whatever lies between, and on for two minutes."""
    for _ in range(2):  # the turn itself moves the aeroplane
        plane.turn_to(plane.heading_for(float(np.degrees(np.arctan2(-plane.east_nm, -plane.north_nm)))))
    plane.hold_until(lambda: plane.distance_nm() < 0.3)
    plane.hold(120.0)


@pytest.mark.parametrize("name", ["lantern-vor-22", "brandel-ndb-27"])
def test_circles_flown_beyond_the_station_are_no_reversal(name):
    """Over the station, out along its radial, and round and round there until the log ends."""
    procedure = load_procedure(name)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + 120.0, tas_kt=100.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 5.0)
    plane.turn(-720.0)
    plane.hold(60.0)
    plane.turn(360.0)
    plane.turn_to(course_deg + 80.0)
    plane.hold(60.0)

    assert look(plane.log(procedure), procedure).attempts == ()


@pytest.mark.parametrize("off_deg", [-58.0, -50.0, 50.0, 58.0])
def test_a_hold_on_another_course_is_no_racetrack(off_deg):
    """Once round over the station, on a course far from the inbound one, and away."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg) + off_deg
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=100.0, wind=(0.0, 0.0))
    plane.turn_to(course_deg + 180.0, "right")
    plane.hold(60.0)
    plane.turn_to(course_deg, "right")
    _straight_to(plane)

    assert look(plane.log(procedure), procedure).attempts == ()


@pytest.mark.parametrize("name", ["marrow-vor-31", "dateline-ndb-35"])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_log_that_begins_far_beside_the_radial_and_flies_to_the_station_has_no_outbound_leg(name, side):
    """Ten miles out, six beside it, for twenty seconds in the direction of the outbound course."""
    procedure = load_procedure(name)
    outbound_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    start = np.radians(outbound_deg + side * 40.0)
    plane = Aeroplane(
        east_nm=10.0 * float(np.sin(start)),
        north_nm=10.0 * float(np.cos(start)),
        heading_deg=outbound_deg,
        altitude_ft=4500.0,
    )
    plane.hold(20.0)
    _straight_to(plane)

    assert look(plane.log(procedure), procedure).attempts == ()


@pytest.mark.parametrize("off_deg", [-50.0, 50.0])
def test_a_radial_beside_the_outbound_course_flown_out_and_back_is_no_racetrack(off_deg):
    """For 7 minutes steadily 50 degrees off the outbound course, and round: it was taken for a poor outbound leg."""
    procedure = load_procedure("marrow-vor-31")
    radial_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0) + off_deg
    plane = arriving(procedure, from_deg=radial_deg + 100.0, tas_kt=120.0, wind=(0.0, 0.0))
    plane.turn_to(radial_deg)
    plane.follow(radial_deg, lambda: plane.along_nm(radial_deg) >= 12.0)
    plane.turn(180.0)
    plane.hold(150.0)

    assert phases(plane, procedure) == []


def test_an_overflight_along_the_outbound_course_that_turns_round_far_beyond_it_is_no_approach():
    """Twenty-two miles out where the turn has to stay within ten, and back beside the course till the log ends."""
    outbound_deg = true_deg(LANTERN, LANTERN.outbound_course_deg or 0.0)
    plane = arriving(LANTERN, from_deg=outbound_deg + 170.0, tas_kt=120.0, wind=(0.0, 0.0))
    plane.turn_to(outbound_deg + 10.0)
    plane.hold_until(lambda: plane.distance_nm() >= 22.0)
    plane.turn(150.0)
    plane.hold(200.0)

    assert phases(plane, LANTERN) == []


def test_a_circle_on_the_way_out_is_no_reversal():
    """Beyond the station a full circle at airwork, and away: its half was taken for the turn back."""
    procedure = load_procedure("frosthelm-vor-04")
    outbound_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=outbound_deg + 180.0, tas_kt=110.0, wind=(0.0, 0.0))
    plane.turn_to(outbound_deg - 25.0)
    plane.hold_until(lambda: plane.distance_nm() >= 5.0)
    plane.turn(-358.0)
    plane.turn_to(outbound_deg - 70.0)
    plane.hold(300.0)

    assert phases(plane, procedure) == []


def test_a_take_off_with_which_the_log_begins_is_no_final():
    """Just airborne on the runway's course, below the minimum, and climbing: it was a final and a missed approach."""
    plane = Aeroplane(
        east_nm=-0.3 * math.sin(math.radians(RUNWAY_DEG)),
        north_nm=-0.3 * math.cos(math.radians(RUNWAY_DEG)),
        heading_deg=RUNWAY_DEG,
        altitude_ft=70.0,
        to_ft=1050.0,
        tas_kt=90.0,
    )
    plane.hold(60.0)
    plane.turn(-180.0)
    plane.hold(120.0)

    assert phases(plane) == []


def on_the_final_course(
    procedure: Procedure, from_nm: float, altitude_ft: float, tas_kt: float
) -> tuple[Aeroplane, float]:
    """On it before the station, flying at that; and the course, from true north."""
    course_deg = true_deg(procedure, final_course_deg(procedure))
    course = math.radians(course_deg)
    plane = Aeroplane(
        east_nm=-from_nm * math.sin(course),
        north_nm=-from_nm * math.cos(course),
        heading_deg=course_deg,
        altitude_ft=altitude_ft,
        tas_kt=tas_kt,
    )
    return plane, course_deg


@pytest.mark.parametrize(
    ("name", "over_ft"), [("brandel-ndb-27", 9000.0), ("quillow-ndb-18", 5000.0), ("lantern-vor-22", 12000.0)]
)
def test_an_airliner_on_its_way_down_along_the_final_course_is_no_approach(name: str, over_ft: float) -> None:
    """It comes down by thousands of feet past the station, to another aerodrome miles beyond."""
    procedure = load_procedure(name)
    plane, course_deg = on_the_final_course(procedure, 18.0, over_ft + 2000.0, 220.0)
    plane.to_ft, plane.climb_ft_min = 0.0, 900.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
    plane.altitude_ft = over_ft
    plane.climb_ft_min = 700.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 17.0)

    assert look(plane.log(procedure, 1.0, 2.0), procedure).attempts == ()


def test_who_turns_away_thousands_of_feet_above_the_minimum_has_flown_no_final() -> None:
    procedure = load_procedure("brandel-ndb-27")
    plane, course_deg = on_the_final_course(procedure, 12.0, 6000.0, 120.0)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
    plane.to_ft = 5500.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 4.0)
    plane.turn(-120.0)
    plane.hold(300.0)

    assert look(plane.log(procedure, 1.0, 2.0), procedure).attempts == ()
