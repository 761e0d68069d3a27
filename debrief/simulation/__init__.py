"""A kinematic aircraft and a pilot who flies a procedure, with or without errors, and recorders of it."""

from debrief.simulation.flight import Event, FlightDoesNotEndError, SimulatedFlight, fly
from debrief.simulation.plan import Attempt, Faults, FlightPlan, Wind

__all__ = [
    "Attempt",
    "Event",
    "Faults",
    "FlightDoesNotEndError",
    "FlightPlan",
    "SimulatedFlight",
    "Wind",
    "fly",
]
