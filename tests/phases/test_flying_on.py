"""Flights that leave over the station, or come back to it, along the procedure's courses, and are no approach.

Each rule's limit is flown from both sides: beside what is none stands what a log that ends too soon shows of one.
"""

from __future__ import annotations

import math

import pytest

from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Procedure
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import arriving, out_deg

NO_WIND = (0.0, 0.0)


def endings(plane: Aeroplane, procedure: Procedure) -> list[str]:
    return [attempt.ending for attempt in look(plane.log(procedure), procedure).attempts]


def outbound_from(procedure: Procedure, turn_deg: float) -> Aeroplane:
    """Over the station at the height to arrive at, and turned by so much onto the outbound course."""
    plane = arriving(procedure, from_deg=out_deg(procedure) - turn_deg + 180.0, tas_kt=110.0, wind=NO_WIND)
    plane.turn_to(out_deg(procedure))
    return plane


@pytest.mark.parametrize(
    ("name", "ends_nm", "found"),
    [
        ("lantern-vor-22", 9.5, []),
        ("lantern-vor-22", 6.0, ["end of log"]),
        ("quillow-ndb-18", 7.0, []),
        ("quillow-ndb-18", 4.0, ["end of log"]),
    ],
)
def test_an_outbound_leg_with_which_the_log_ends_goes_about_as_far_as_published(name, ends_nm, found):
    """Five miles are published, or a minute and a half: far beyond that it is a departure over the station."""
    procedure = load_procedure(name)
    plane = outbound_from(procedure, 60.0)
    plane.follow(out_deg(procedure), lambda: plane.distance_nm() >= ends_nm)

    assert endings(plane, procedure) == found


@pytest.mark.parametrize(("out_nm", "found"), [(18.0, []), (11.0, ["end of log"])])
def test_a_flight_far_out_along_the_radial_and_level_back_along_it_is_none(out_nm, found):
    procedure = load_procedure("lantern-vor-22")
    plane = outbound_from(procedure, 60.0)
    plane.follow(out_deg(procedure), lambda: plane.distance_nm() >= out_nm)
    plane.turn(45.0)
    plane.hold(40.0)
    plane.turn(-180.0)
    plane.join(out_deg(procedure) + 180.0)
    plane.follow(out_deg(procedure) + 180.0, lambda: plane.distance_nm() <= 3.0)

    assert endings(plane, procedure) == found


@pytest.mark.parametrize(("down_ft", "found"), [(0.0, []), (400.0, ["end of log"])])
def test_out_and_back_over_the_station_at_one_height_and_on_is_none(down_ft, found):
    """Never along the inbound course, and a minute on beyond the station: practising turns, unless it comes down."""
    procedure = load_procedure("marrow-vor-31")
    plane = outbound_from(procedure, 90.0)
    plane.turn(-40.0)
    plane.hold(80.0)
    plane.to_ft = plane.altitude_ft - down_ft
    plane.turn(180.0)
    plane.turn_to(plane.heading_for(bearing_to_station_deg(plane)))
    plane.hold_until(lambda: plane.distance_nm() < 0.1)
    plane.hold(85.0)

    assert endings(plane, procedure) == found


def bearing_to_station_deg(plane: Aeroplane) -> float:
    return math.degrees(math.atan2(-plane.east_nm, -plane.north_nm))


@pytest.mark.parametrize(("away", "found"), [(True, []), (False, ["end of log"])])
def test_a_turn_back_that_leads_away_again_is_none(away, found):
    """Round towards the station, and then off somewhere else without coming near it."""
    procedure = load_procedure("marrow-vor-31")
    plane = outbound_from(procedure, 90.0)
    plane.hold(200.0)
    plane.to_ft = plane.altitude_ft - 500.0
    plane.turn(140.0)
    plane.hold(25.0)
    if away:
        plane.turn(-110.0)
        plane.hold(60.0)

    assert endings(plane, procedure) == found


@pytest.mark.parametrize("name", ["sallow-vor-13", "quillow-ndb-18"])
def test_a_wide_turn_at_the_station_and_a_slow_intercept_lead_outbound(name):
    """A log that ends while the radial is intercepted at 45 degrees, after nearly a half turn: the leg is begun."""
    procedure = load_procedure(name)
    plane = arriving(procedure, from_deg=out_deg(procedure) - 120.0 + 180.0, tas_kt=150.0, wind=NO_WIND)
    plane.turn_to(out_deg(procedure) + 45.0)
    plane.hold(30.0)

    assert endings(plane, procedure) == ["end of log"]


@pytest.mark.parametrize("name", ["brandel-ndb-27", "quillow-ndb-18"])
def test_a_level_turn_round_in_pieces_and_away_over_the_station_is_no_pattern_of_two_turns(name):
    """A hold's turn, eased half way: neither piece is a half turn, and neither runs the other way."""
    procedure = load_procedure(name)
    plane = outbound_from(procedure, 90.0)
    plane.turn(25.0)
    plane.hold(60.0)
    plane.turn(100.0)
    plane.hold(14.0)
    plane.turn_to(bearing_to_station_deg(plane))
    plane.turn_to(bearing_to_station_deg(plane))
    plane.hold_until(lambda: plane.distance_nm() < 0.4)
    plane.turn(70.0)
    plane.hold(300.0)

    assert endings(plane, procedure) == []
