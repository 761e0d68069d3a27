"""The way in by a DME arc: ``inbound`` begins with the turn off it, however its distance was kept."""

from __future__ import annotations

import pytest

from debrief.pipeline import debrief
from debrief.procedures import load_procedure
from debrief.simulation import Attempt, Faults, FlightPlan, Wind, fly
from debrief.simulation.sensor import Sensor, record

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
