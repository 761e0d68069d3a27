"""Turns at the station that lead far round or far beside the outbound course, short legs after them, and offset entries."""

from __future__ import annotations

import pytest

from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Procedure
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import (
    arriving,
    home_to,
    inbound_and_down,
    out_deg,
    true_deg,
)

NO_WIND = (0.0, 0.0)
BEGINNING = ["inbound", "station_passage", "outbound", "course_reversal"]


def phases(plane: Aeroplane, procedure: Procedure) -> list[list[str]]:
    flight = look(plane.log(procedure), procedure)
    return [[str(span.phase) for span in attempt.spans] for attempt in flight.attempts]


@pytest.mark.parametrize("name", ["lantern-vor-22", "quillow-ndb-18", "marrow-vor-31"])
def test_a_log_that_ends_in_a_turn_the_long_way_round_has_begun_the_leg(name):
    """By 230 degrees, no nearer to the outbound course than it came."""
    procedure = load_procedure(name)
    plane = arriving(procedure, from_deg=out_deg(procedure) + 115.0, tas_kt=110.0, wind=NO_WIND)
    plane.turn(-230.0)

    assert phases(plane, procedure) == [["inbound", "station_passage", "outbound"]]


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize("name", ["quillow-ndb-18", "brandel-ndb-27"])
def test_a_short_leg_after_a_wide_turn_at_the_station_is_outbound(name, way):
    """A quarter of a minute out, more than a mile beside the radial all the way: seen from the station, far off it."""
    procedure = load_procedure(name)
    assert procedure.reversal is not None
    side = 1.0 if procedure.reversal.side == "right" else -1.0
    plane = arriving(procedure, from_deg=out_deg(procedure), tas_kt=120.0, wind=NO_WIND)
    plane.hold(5.0)
    plane.turn(way * 180.0)
    plane.hold(14.0)
    plane.turn(side * 80.0)
    plane.turn(-side * 260.0)
    home_to(plane, 0.3)
    inbound_and_down(plane, procedure)

    (found,) = phases(plane, procedure)
    assert found[:4] == BEGINNING


def test_an_offset_entry_blown_farther_off_is_an_outbound_leg():
    """A racetrack entered 30 degrees off its outbound course, by heading alone, in a crosswind of 30 kt."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    wind = (out_deg(procedure) + 60.0, 30.0)
    plane = arriving(procedure, from_deg=out_deg(procedure) - 180.0 + 30.0, tas_kt=110.0, wind=wind)
    plane.turn_to(out_deg(procedure) - 30.0)
    plane.to_ft = 2040.0
    plane.hold(120.0)
    plane.turn_to(plane.heading_for(course_deg - 30.0), "right")
    inbound_and_down(plane, procedure)

    (found,) = phases(plane, procedure)
    assert found[:4] == BEGINNING
