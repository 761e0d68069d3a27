"""Legs that look outbound and lead to a vectored final, or away from a take-off; and outbound legs that look like neither.

Flown by the second generator. The patterns' own ones are found by the tests beside this one.
"""

from __future__ import annotations

import math

import pytest

from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase, Procedure
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import (
    arriving,
    base_turn,
    down_to_the_minimum,
    home_to,
    inbound_and_down,
    inbound_at,
    procedure_turn,
    racetrack,
    true_deg,
    with_a_racetrack,
)

KESTREY = load_procedure("kestrey-ndb-09")


def phases(plane: Aeroplane, procedure: Procedure) -> list[list[str]]:
    flight = look(plane.log(procedure), procedure)
    return [[str(span.phase) for span in attempt.spans] for attempt in flight.attempts]


def vectored(plane: Aeroplane, procedure: Procedure, side: float, *, beside_nm: float, out_nm: float) -> None:
    """Led from the climb away along a downwind and a base leg to a final, and away again."""
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.turn_to(course_deg + side * 90.0)
    plane.hold_until(lambda: side * plane.across_nm(course_deg) >= beside_nm - 0.6)
    plane.turn_to(course_deg + 180.0)
    plane.to_ft = 2300.0
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -out_nm)
    plane.turn_to(course_deg - side * 90.0)
    plane.hold_until(lambda: side * plane.across_nm(course_deg) <= 1.2)
    plane.turn_to(course_deg - side * 30.0)
    inbound_and_down(plane, procedure)


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("beside_nm", [2.4, 3.2, 4.5])
def test_a_vectored_final_after_a_missed_approach_is_straight_in(side, beside_nm):
    """Round from the climb away, and past the beacon of the aerodrome: the way to the course is no outbound leg."""
    flown = base_turn("kestrey-ndb-09", from_deg=110.0)
    vectored(flown.plane, KESTREY, side, beside_nm=beside_nm, out_nm=7.0)

    whole, led = phases(flown.plane, KESTREY)
    assert whole == [phase for phase, _, _ in flown.phases]
    assert led == ["inbound", "final", "missed_approach"]


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("beside_nm", [2.2, 2.8])
def test_a_downwind_beside_the_station_of_a_racetrack_is_no_outbound_leg(side, beside_nm):
    """On either side of the station before the aerodrome, within the three miles in which a turn at it may lead abeam."""
    flown = racetrack("marrow-vor-31", from_deg=120.0)
    vectored(flown.plane, flown.procedure, side, beside_nm=beside_nm, out_nm=6.0)

    assert phases(flown.plane, flown.procedure)[1:] == [
        ["inbound", "station_passage", "final", "missed_approach"]
    ]


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_downwind_from_over_the_station_is_no_pattern_of_two_turns(side):
    """Sent over the station after the missed approach, and away beside the outbound course: no turn the other way follows."""
    flown = procedure_turn("lantern-vor-22", from_deg=250.0)
    plane, course_deg = flown.plane, true_deg(flown.procedure, flown.procedure.inbound_course_deg)
    home_to(plane, 0.1)
    plane.turn_to(course_deg + 180.0 - side * 22.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -7.0)
    plane.turn_to(course_deg - side * 90.0)
    plane.hold_until(lambda: side * plane.across_nm(course_deg) <= 1.2)
    plane.turn_to(course_deg - side * 30.0)
    inbound_and_down(plane, flown.procedure)

    assert phases(plane, flown.procedure)[1:] == [["inbound", "station_passage", "final", "missed_approach"]]


def test_a_climb_out_along_the_radial_and_a_base_leg_are_no_pattern_of_two_turns():
    """Turned round the one way where the downwind ends, too far for an 80/260, and round once more onto the base leg."""
    flown = procedure_turn("sallow-vor-13", from_deg=330.0)
    plane, procedure = flown.plane, flown.procedure
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.turn(180.0)
    home_to(plane, 2.0)
    plane.to_ft = 3400.0
    plane.turn_to(course_deg + 180.0 - 25.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -9.0)
    plane.turn(170.0)
    plane.hold(60.0)
    plane.turn_to(course_deg + 90.0, "left")
    plane.hold(20.0)
    side = math.copysign(1.0, plane.across_nm(course_deg))
    plane.turn_to(course_deg - side * 90.0)
    plane.hold_until(lambda: side * plane.across_nm(course_deg) <= 1.2)
    plane.turn_to(course_deg - side * 30.0)
    inbound_and_down(plane, procedure)

    assert phases(plane, procedure)[1:] == [["inbound", "final", "missed_approach"]]


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_base_leg_flown_by_heading_drifts_and_is_one(side):
    """Against 45 kt on the final: the track across the course leads 22 degrees back from it."""
    course_deg = true_deg(load_procedure("marrow-vor-31"), 308.0)
    flown = racetrack("marrow-vor-31", from_deg=120.0, wind=(course_deg, 45.0))
    vectored(flown.plane, flown.procedure, side, beside_nm=2.6, out_nm=5.0)

    assert phases(flown.plane, flown.procedure)[1:] == [
        ["inbound", "station_passage", "final", "missed_approach"]
    ]


@pytest.mark.parametrize("turns_away", [True, False])
def test_a_log_that_begins_along_the_course_and_is_led_round_to_it_is_straight_in(turns_away):
    """By chance its first seconds lie on the inbound course; then it is led away, and round to the final."""
    procedure = load_procedure("lantern-vor-22")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(6.0, course_deg, beside_deg=0.0, cut_deg=0.0, altitude_ft=3000.0)
    plane.hold(25.0)
    if turns_away:
        plane.turn(100.0)
        plane.hold(70.0)
        plane.turn(80.0)
        plane.hold(60.0)
        plane.turn_to(course_deg - 90.0)
        plane.hold_until(lambda: plane.across_nm(course_deg) <= 1.4)
        plane.turn_to(course_deg - 30.0)
    inbound_and_down(plane, procedure)

    (found,) = phases(plane, procedure)
    assert found == [
        "inbound" if turns_away else "intermediate",
        "station_passage",
        "final",
        "missed_approach",
    ]


@pytest.mark.parametrize("name", ["lantern-vor-22", "quillow-ndb-18", "dateline-ndb-35"])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_log_that_begins_on_a_base_leg_is_straight_in(name, side):
    """Straight at the course from the side, and in below the altitude to arrive at: no turn back of a reversal."""
    procedure = load_procedure(name)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    course = math.radians(course_deg)
    plane = Aeroplane(
        east_nm=-6.0 * math.sin(course) + side * 3.0 * math.cos(course),
        north_nm=-6.0 * math.cos(course) - side * 3.0 * math.sin(course),
        heading_deg=course_deg - side * 120.0,
        altitude_ft=(procedure.low_ft(Phase.INBOUND) or 3000.0) - 400.0,
    )
    plane.turn(side * 30.0)
    plane.hold_until(lambda: side * plane.across_nm(course_deg) <= 1.2)
    plane.turn_to(course_deg - side * 30.0)
    inbound_and_down(plane, procedure)

    assert phases(plane, procedure) == [["inbound", "station_passage", "final", "missed_approach"]]


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_downwind_that_begins_miles_from_the_station_is_no_outbound_leg_of_a_racetrack(side):
    """Over the beacon after the climb away, and straight on for three miles before it: outbound begins at the station."""
    procedure = with_a_racetrack(KESTREY)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + side * 90.0, tas_kt=100.0, wind=(0.0, 0.0))
    plane.hold_until(lambda: side * plane.across_nm(course_deg) <= -3.6)
    plane.turn_to(course_deg + 180.0)
    plane.to_ft = 2300.0
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -7.0)
    plane.turn_to(course_deg + side * 90.0)
    plane.hold_until(lambda: side * plane.across_nm(course_deg) >= -1.2)
    plane.turn_to(course_deg + side * 30.0)
    inbound_and_down(plane, procedure)

    assert phases(plane, procedure) == [["inbound", "final", "missed_approach"]]


@pytest.mark.parametrize("climbs", [True, False])
def test_a_departure_beside_the_station_is_no_circuit_of_the_racetrack(climbs):
    """Still climbing from the runway four miles off, it comes by within a mile, and turns back to begin the approach."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    course = math.radians(course_deg)
    plane = Aeroplane(
        east_nm=6.0 * math.sin(course) - 0.9 * math.cos(course),
        north_nm=6.0 * math.cos(course) + 0.9 * math.sin(course),
        heading_deg=course_deg + 180.0,
        altitude_ft=700.0 if climbs else 3300.0,
        to_ft=3300.0,
    )
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -2.6)
    plane.to_ft = 2540.0
    plane.turn_to(course_deg + 35.0, "right")
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
    plane.turn_to(course_deg + 180.0, "right")
    plane.hold(120.0)
    plane.turn_to(course_deg - 25.0, "right")
    inbound_and_down(plane, procedure)

    (found,) = phases(plane, procedure)
    assert found.count("outbound") == (1 if climbs else 2)


@pytest.mark.parametrize("climbs", [True, False])
def test_a_departure_over_the_beacon_is_no_circuit_of_the_racetrack(climbs):
    """Up from the runway over the beacon and out, and back along the inbound course, where the approach begins.

    At one height all the way, it is the racetrack's first circuit.
    """
    procedure = with_a_racetrack(KESTREY)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = Aeroplane(0.0, -1.5, course_deg + 180.0, 500.0 if climbs else 3040.0, to_ft=3040.0)
    plane.turn_to(course_deg + 270.0)
    plane.hold_until(lambda: plane.across_nm(course_deg) <= 0.3)
    plane.turn_to(course_deg + 180.0)
    plane.follow(course_deg + 180.0, lambda: plane.distance_nm() >= 6.0)
    plane.turn_to(course_deg - 35.0, "left")
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
    plane.turn_to(course_deg + 180.0, "right")
    plane.to_ft = 2040.0
    plane.hold(120.0)
    plane.turn_to(course_deg - 25.0, "right")
    plane.join(course_deg)
    down_to_the_minimum(plane, procedure)

    (found,) = phases(plane, procedure)
    circuits = 1 if climbs else 2
    assert found.count("outbound") == circuits
    assert found[-3:] == ["course_reversal", "final", "missed_approach"]


@pytest.mark.parametrize("comes_down", [True, False])
def test_a_final_joined_beyond_a_station_that_was_passed_too_far_off_is_straight_in(comes_down):
    """Turned onto the course two miles past the station, 45 degrees to it, and down; level it is a flight past."""
    procedure = load_procedure("lantern-vor-22")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    course = math.radians(course_deg)
    along_nm, right_nm = 2.4 - 10.0 * math.cos(math.radians(45.0)), 10.0 * math.sin(math.radians(45.0))
    plane = Aeroplane(
        east_nm=along_nm * math.sin(course) + right_nm * math.cos(course),
        north_nm=along_nm * math.cos(course) - right_nm * math.sin(course),
        heading_deg=course_deg - 45.0,
        altitude_ft=4040.0,
        climb_ft_min=1600.0,
    )
    plane.join(course_deg)
    nearest_nm = min(math.hypot(*state[1:3]) for state in plane.flown)
    if comes_down:
        down_to_the_minimum(plane, procedure)
    else:
        plane.hold(400.0)

    assert 1.5 < nearest_nm < 2.0
    assert phases(plane, procedure) == [["inbound", "final", "missed_approach"]] * comes_down
