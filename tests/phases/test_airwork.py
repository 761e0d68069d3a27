"""Airwork, holds and flights past the station that have much in common with an approach, and are none.

Each is flown by the second generator; beside each stands what a poor pilot might do, which is one.
"""

from __future__ import annotations

import math

import pytest

from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Procedure
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import arriving, true_deg


def endings(plane: Aeroplane, procedure: Procedure) -> list[str]:
    return [attempt.ending for attempt in look(plane.log(procedure), procedure).attempts]


def out_true_deg(procedure: Procedure) -> float:
    return true_deg(procedure, procedure.outbound_course_deg or 0.0)


def in_true_deg(procedure: Procedure) -> float:
    return true_deg(procedure, procedure.inbound_course_deg)


def beside(procedure: Procedure, along_nm: float, right_nm: float, altitude_ft: float) -> Aeroplane:
    """On the outbound course's heading, so far along it and beside it."""
    out = math.radians(out_true_deg(procedure))
    return Aeroplane(
        east_nm=along_nm * math.sin(out) + right_nm * math.cos(out),
        north_nm=along_nm * math.cos(out) - right_nm * math.sin(out),
        heading_deg=out_true_deg(procedure),
        altitude_ft=altitude_ft,
    )


def test_a_circle_that_crosses_the_inbound_course_does_not_establish_on_it():
    """Over Frosthelm's station at 5,600 ft, out along its radial, a full circle on the course, and a climb at home."""
    procedure = load_procedure("frosthelm-vor-04")
    out_deg = out_true_deg(procedure)
    plane = arriving(procedure, from_deg=out_deg + 170.0, tas_kt=110.0, wind=(0.0, 0.0))
    plane.altitude_ft, plane.to_ft = 5600.0, None
    plane.turn_to(out_deg)
    plane.hold_until(lambda: plane.distance_nm() >= 6.0)
    plane.turn(-360.0)
    plane.hold(60.0)
    plane.turn(80.0)
    plane.to_ft = 6600.0
    plane.hold(240.0)

    assert endings(plane, procedure) == []


@pytest.mark.parametrize("from_nm", [11.0, 12.5])
def test_a_log_that_begins_out_where_no_outbound_leg_goes_has_none(from_nm):
    """Five miles are published. It turns round, comes along the inbound course, circles there and climbs away."""
    procedure = load_procedure("kestrey-ndb-09")
    plane = beside(procedure, from_nm, 0.0, 4900.0)
    plane.hold(60.0)
    plane.turn(80.0)
    plane.turn_to(in_true_deg(procedure) - 20.0, "right")
    plane.join(in_true_deg(procedure))
    plane.hold(40.0)
    plane.turn(-360.0)
    plane.hold(60.0)
    plane.turn(110.0)
    plane.to_ft = 5800.0
    plane.hold(400.0)

    assert endings(plane, procedure) == []


def once_round(procedure: Procedure, altitude_ft: float, to_ft: float) -> Aeroplane:
    """Over the station, out 12 degrees off the course for a while, and one turn back."""
    out_deg = out_true_deg(procedure)
    plane = arriving(procedure, from_deg=out_deg + 200.0, tas_kt=110.0, wind=(0.0, 0.0))
    plane.altitude_ft, plane.to_ft = altitude_ft, altitude_ft
    plane.turn_to(out_deg + 12.0)
    plane.to_ft = to_ft
    plane.hold(110.0)
    plane.turn(-180.0)
    plane.hold(50.0)
    return plane


@pytest.mark.parametrize("name", ["lantern-vor-22", "quillow-ndb-18"])
def test_one_level_turn_round_with_which_the_log_ends_is_no_course_reversal(name):
    procedure = load_procedure(name)

    assert endings(once_round(procedure, 5350.0, 5350.0), procedure) == []


@pytest.mark.parametrize("name", ["lantern-vor-22", "quillow-ndb-18"])
def test_one_turn_round_on_the_way_down_is_an_approach_without_its_reversal(name):
    procedure = load_procedure(name)

    assert endings(once_round(procedure, 3600.0, 2600.0), procedure) == ["end of log"]


@pytest.mark.parametrize("name", ["brandel-ndb-27", "pellarin-vor-17"])
def test_a_circuit_over_the_station_before_a_descent_elsewhere_is_a_hold(name):
    """Round by one turn, over the station again, and down across the final course: what was left was no final."""
    procedure = load_procedure(name)
    plane = once_round(procedure, 4300.0, 4300.0)
    plane.turn_to(math.degrees(math.atan2(-plane.east_nm, -plane.north_nm)))
    plane.hold_until(lambda: plane.distance_nm() < 0.3)
    plane.turn_to(in_true_deg(procedure) + 75.0)
    plane.to_ft = 3300.0
    plane.hold(240.0)

    assert endings(plane, procedure) == []


def past_the_station(to_ft: float) -> tuple[Aeroplane, Procedure]:
    """Over Marrow's station, out along its racetrack's heading or nearly, round, and by the station and away."""
    procedure = load_procedure("marrow-vor-31")
    out_deg = out_true_deg(procedure)
    plane = arriving(procedure, from_deg=out_deg + 165.0, tas_kt=110.0, wind=(0.0, 0.0))
    plane.altitude_ft, plane.to_ft = 4550.0, 4550.0
    plane.turn_to(out_deg + 10.0)
    plane.to_ft = to_ft
    plane.hold(90.0)
    plane.turn(180.0)
    plane.hold(110.0)
    plane.turn(60.0)
    plane.hold(400.0)
    return plane, procedure


def test_a_level_flight_by_the_station_that_turns_round_once_is_no_racetrack():
    plane, procedure = past_the_station(4550.0)

    assert endings(plane, procedure) == []


def test_a_racetrack_that_came_down_and_was_broken_off_is_one():
    plane, procedure = past_the_station(3000.0)

    assert endings(plane, procedure) == ["broken off"]


@pytest.mark.parametrize(("first_deg", "circles_deg"), [(50.0, -640.0), (-45.0, -600.0)])
def test_circles_in_which_the_log_ends_are_no_reversal(first_deg, circles_deg):
    """Over Marrow's station and out; a first turn off the course, then round and round."""
    procedure = load_procedure("marrow-vor-31")
    out_deg = out_true_deg(procedure)
    plane = arriving(procedure, from_deg=out_deg + 165.0, tas_kt=110.0, wind=(0.0, 0.0))
    plane.turn_to(out_deg)
    plane.hold(60.0)
    plane.turn(first_deg)
    plane.hold(60.0)
    plane.turn(circles_deg)
    plane.hold(5.0)

    assert endings(plane, procedure) == []
