"""Long logs for the timings: airwork for hours, then an approach, flown by the simulation and written as GPX.

Run as a process of its own (``python -m tests.benchmarks.flights FILE HOURS HERTZ APPROACHES``), so that the
process which measures stays small: a child's peak memory counts what its parent held when it was started.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

from debrief.navigation.geodesy import StationPlane
from debrief.procedures import Procedure, load_procedure
from debrief.simulation import Attempt, FlightPlan, SimulatedFlight, Wind, fly
from debrief.simulation.sensor import Sensor, record
from debrief.simulation.writers import write_gpx
from debrief.tracks.model import Track

PROCEDURE = "lantern-vor-22"
START = FlightPlan(
    start_bearing_true_deg=80.0,
    start_distance_nm=32.0,
    start_altitude_ft=5500.0,
    wander_deg=1.0,
    wander_ft=8.0,
)
LONGEST_BLOCK_MIN = 60.0
JOIN_S = 0.1  # between the last sample of a part and the first of the next: the step of the simulation


def long_track(hours: float, hertz: float, approaches: int = 1) -> Track:
    """A log of the last hours of a flight that ends with the approaches asked for, one after the other."""
    flight = _flown(load_procedure(PROCEDURE), hours, approaches)
    last_s = float(flight.t_s[-1])
    logged = flight.cropped(last_s - hours * 3600.0, last_s)
    return record(logged, Sensor(interval_s=1.0 / hertz), seed=1)


def _flown(procedure: Procedure, hours: float, approaches: int) -> SimulatedFlight:
    ending = replace(
        START, wind=_wind(0), attempts=(Attempt(),) * (approaches - 1) + (Attempt(ending="landing"),)
    )
    approach_s = len(fly(procedure, ending)) * JOIN_S
    parts: list[SimulatedFlight] = []
    left_min = max(0.0, hours * 60.0 - approach_s / 60.0)
    while left_min > 0.0:
        minutes = min(left_min, LONGEST_BLOCK_MIN)
        plan = replace(
            _from_the_end_of(parts, START, procedure),
            wind=_wind(len(parts)),
            seed=len(parts),
            instead="airwork",
            instead_minutes=minutes,
        )
        parts.append(fly(procedure, plan))
        left_min -= len(parts[-1]) * JOIN_S / 60.0
    parts.append(fly(procedure, _from_the_end_of(parts, ending, procedure)))
    return _joined(parts)


def _wind(number: int) -> Wind:
    """From the west and the east in turn, so that hours of turning do not drift away."""
    return Wind(from_true_deg=250.0 if number % 2 == 0 else 70.0, speed_kt=11.0, gust_kt=1.0)


def _from_the_end_of(parts: list[SimulatedFlight], plan: FlightPlan, procedure: Procedure) -> FlightPlan:
    if not parts:
        return plan
    station = procedure.station
    plane = StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)
    last = parts[-1]
    east_nm, north_nm = plane.to_plane(last.latitude_deg[-1:], last.longitude_deg[-1:])
    return replace(
        plan,
        start_bearing_true_deg=math.degrees(math.atan2(float(east_nm[0]), float(north_nm[0]))) % 360.0,
        start_distance_nm=math.hypot(float(east_nm[0]), float(north_nm[0])),
        start_altitude_ft=float(last.altitude_ft[-1]),
        start_heading_true_deg=float(last.ground_track_true_deg[-1]),
    )


def _joined(parts: Iterable[SimulatedFlight]) -> SimulatedFlight:
    flights = list(parts)
    starts_s = np.cumsum([0.0, *(float(flight.t_s[-1]) + JOIN_S for flight in flights[:-1])])
    columns = {
        name: np.concatenate([getattr(flight, name) for flight in flights])
        for name in SimulatedFlight.__dataclass_fields__
        if isinstance(getattr(flights[0], name), np.ndarray)
    }
    columns["t_s"] = np.concatenate([f.t_s + start_s for f, start_s in zip(flights, starts_s, strict=True)])
    return replace(flights[0], **columns)


def main(arguments: list[str]) -> int:
    """Write one log."""
    path, hours, hertz, approaches = arguments
    track = long_track(float(hours), float(hertz), int(approaches))
    write_gpx(
        track, Path(path), name="Long flight", description="Invented: made by the simulation for timings."
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
