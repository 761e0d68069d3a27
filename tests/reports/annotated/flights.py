"""Debriefs of sample flights that try a map: two attempts, a gap, the antimeridian, no approach, bad altitudes."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

import debrief
from debrief.phases.model import Flight
from debrief.result import Result

SAMPLES = Path(__file__).parents[3] / "sample_tracks"
FLIGHTS = {
    "two attempts": ("sallow-two-attempts.gpx", "sallow-vor-13"),
    "gap": ("lantern-gap-over-station.gpx", "lantern-vor-22"),
    "antimeridian": ("dateline-simulator.csv", "dateline-ndb-35"),
    "no approach": ("lantern-no-approach.gpx", "lantern-vor-22"),
    "noisy recorder": ("kestrey-noisy-recorder.gpx", "kestrey-ndb-09"),
}


@cache
def result_of(name: str) -> Result:
    file, procedure = FLIGHTS[name]
    return debrief.debrief(debrief.read_track(SAMPLES / file), debrief.load_procedure(procedure))


def flight_of(result: Result) -> Flight:
    assert isinstance(result.flight, Flight)
    return result.flight


def altitudes_of(flight: Flight) -> np.ndarray:
    """What a map may show: ``nan`` where an altitude was set aside."""
    return np.where(flight.log.altitude_used, flight.log.altitude_ft, np.nan)
