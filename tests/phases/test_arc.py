"""The way in by a DME arc: ``inbound`` begins with the turn off it, however its distance was kept."""

from __future__ import annotations

import math

import pytest

from debrief.pipeline import debrief, look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from debrief.simulation import Attempt, Faults, FlightPlan, Wind, fly
from debrief.simulation.sensor import Sensor, record
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import level_of, true_deg

SECONDS = 3.0  # where a turn begins, in a log of a sample a second


@pytest.mark.parametrize("off_nm", [0.0, 1.3, -0.8])
def test_inbound_begins_with_the_turn_off_the_arc(off_nm: float) -> None:
    """A wind let the aircraft come nearer on the arc, and the phase and its times began in the middle of it."""
    procedure = load_procedure("gannetstone-vor-12")
    attempt = Attempt(straight_in=True, via_arc=True, ending="landing", faults=Faults(arc_off_nm=off_nm))
    plan = FlightPlan(
        start_bearing_true_deg=220.0, start_distance_nm=14.0,
        wind=Wind(from_true_deg=40.0, speed_kt=15.0, gust_kt=1.0), wander_deg=0.8, attempts=(attempt,),
    )  # fmt: skip
    flight = fly(procedure, plan)
    track = record(flight, Sensor(), 5)
    turned_s = next(event.t_s for event in flight.events if event.what == "turn off the arc")

    found = debrief(track, procedure).attempts[0]

    inbound = found.phases[0]
    assert inbound.phase == "inbound"
    assert (inbound.start - track.epoch).total_seconds() == pytest.approx(turned_s, abs=SECONDS)
    assert found.measures.arc is not None
    assert found.measures.arc.end <= inbound.start


@pytest.mark.parametrize("beside_nm", [7.8, 9.5])
def test_a_straight_leg_at_the_distance_of_the_arc_is_not_on_it(beside_nm: float) -> None:
    """Led past the station by heading, the aircraft closes on it from abeam on, and turns 60 degrees to the course."""
    procedure = load_procedure("gannetstone-vor-12")
    assert procedure.arc is not None
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    # clockwise or not, along the tangent of the arc where it meets the inbound course
    way = 1.0 if procedure.arc.direction == "clockwise" else -1.0
    leg_deg = course_deg - way * 90.0
    beyond = math.radians(course_deg + 180.0)
    back = math.radians(leg_deg + 180.0)
    plane = Aeroplane(
        east_nm=beside_nm * math.sin(beyond) + 9.0 * math.sin(back),
        north_nm=beside_nm * math.cos(beyond) + 9.0 * math.cos(back),
        heading_deg=leg_deg,
        altitude_ft=2840.0,
    )
    plane.hold_until(lambda: way * plane.across_nm(course_deg) <= 1.4)
    plane.turn_to(course_deg - way * 30.0)
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.5)
    plane.to_ft = level_of(procedure, "final")
    plane.follow(course_deg, lambda: plane.altitude_ft == plane.to_ft)
    plane.hold(30.0)

    (found,) = look(plane.log(procedure), procedure).attempts

    assert found.spans[0].phase is Phase.INBOUND
    assert found.start_s == pytest.approx(0.0, abs=SECONDS)
