"""A whole flight: the plan flown through, and what happened at each tenth of a second.

Owns      ``fly`` and ``SimulatedFlight``.
Not here  what a recorder makes of it (``sensor``), the truth about its phases (the tests').
"""

from __future__ import annotations

import math
import random
from collections.abc import Generator
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from debrief.procedures.model import Pattern, Phase, Procedure
from debrief.simulation import arcs, elsewhere, ending, holding, reversal
from debrief.simulation.aircraft import Air, Aircraft
from debrief.simulation.guidance import Banks
from debrief.simulation.pilot import Pilot
from debrief.simulation.plan import Attempt, FlightPlan

Floats = NDArray[np.float64]

STEP_S = 0.1
LONGEST_S = 24 * 3600.0
_NORTH_PROBE_NM = 0.01


class FlightDoesNotEndError(RuntimeError):
    """The plan cannot be flown to its end within the time allowed: the wind is too strong for its speeds, say."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something the pilot began: "inbound", "turn at the station", "reversal", "climb away" ..."""

    t_s: float
    what: str
    attempt: int  # 0 upwards; -1 outside any attempt


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedFlight:
    """What was really flown, every 0.1 s (or step asked for). Directions are from true north, longitudes in [-180, 180)."""

    plan: FlightPlan
    procedure: Procedure
    epoch: datetime
    events: tuple[Event, ...]
    t_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    altitude_ft: Floats
    heading_true_deg: Floats
    airspeed_kias: Floats
    airspeed_ktas: Floats
    groundspeed_kt: Floats
    ground_track_true_deg: Floats
    bank_deg: Floats
    vertical_speed_ft_min: Floats
    wind_from_true_deg: Floats
    wind_speed_kt: Floats
    on_ground: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.t_s)

    def cropped(self, start_s: float, end_s: float) -> SimulatedFlight:
        """The same flight, known only from ``start_s`` to ``end_s``; times and events stay as they were."""
        keep = (self.t_s >= start_s - STEP_S / 2) & (self.t_s <= end_s + STEP_S / 2)
        columns = {
            name: getattr(self, name)[keep]
            for name in self.__dataclass_fields__
            if isinstance(getattr(self, name), np.ndarray)
        }
        return replace(self, **columns)


def _whole_flight(pilot: Pilot, attempt_number: list[int]) -> Banks:
    plan, aircraft = pilot.plan, pilot.aircraft
    if plan.instead is not None:
        attempt_number[0] = -1
        instead = {"transit": elsewhere.transit, "airwork": elsewhere.airwork, "circuits": elsewhere.circuits}
        yield from instead[plan.instead](pilot)
        return
    for number, attempt in enumerate(plan.attempts):
        arrival_deg = plan.arrival_course_true_deg if number == 0 else None
        if attempt.hold_before:
            attempt_number[0] = -1
            arrival_deg = yield from _hold_before(pilot, attempt.hold_before)
        attempt_number[0] = number
        yield from _approach(pilot, attempt, arrival_deg)
        yield from ending.final(pilot, attempt)
        if attempt.ending == "log ends":
            return
        if number + 1 < len(plan.attempts):
            attempt_number[0] = -1
            pilot.note("between")
            yield from elsewhere.away_and_back(pilot, plan.start_bearing_true_deg)
    attempt_number[0] = -1
    until_s = aircraft.t_s + plan.after_s
    ahead_deg = aircraft.ground_track_deg
    holding = pilot.helm.holding(ahead_deg)
    while aircraft.t_s < until_s:
        yield 0.0 if aircraft.on_ground else next(holding)


def _hold_before(pilot: Pilot, circuits: int) -> Generator[float, None, float]:
    """The published hold; gives back the course on which its last circuit leads to the station."""
    pattern = pilot.procedure.hold
    if pattern is None:
        raise ValueError(f"{pilot.procedure.name} has no hold to fly")
    yield from holding.hold(pilot, pattern, circuits)
    return pilot.true_deg(pattern.course_deg)


def _approach(pilot: Pilot, attempt: Attempt, arrival_course_deg: float | None) -> Banks:
    """One attempt up to the final fix (or established, where the station is on the aerodrome)."""
    leg = pilot.procedure.reversal
    if attempt.via_arc:
        if pilot.procedure.arc is None:
            raise ValueError(f"{pilot.procedure.name} has no arc to fly")
        yield from arcs.fly_arc(pilot, pilot.procedure.arc, attempt)
        arrival_course_deg = None
    direct = pilot.procedure.outbound is None or leg is None or attempt.straight_in or attempt.via_arc
    yield from pilot.inbound(attempt, arrival_course_deg, direct=direct)
    if direct or leg is None:
        return
    if leg.pattern is Pattern.RACETRACK:
        for circuit in range(max(1, attempt.circuits)):
            yield from reversal.racetrack(pilot, attempt, circuit)
            last, parallel = (
                circuit + 1 == max(1, attempt.circuits),
                circuit == 0 and attempt.entry == "parallel",
            )
            yield from pilot.join_inbound(attempt, last=last, parallel=parallel)
        return
    yield from pilot.outbound(attempt)
    yield from reversal.reverse(pilot, attempt)
    yield from pilot.join_inbound(attempt, last=True)


def fly(
    procedure: Procedure, plan: FlightPlan, *, step_s: float = STEP_S, longest_s: float = LONGEST_S
) -> SimulatedFlight:
    """Fly the plan on the procedure, a row every ``step_s`` (0.1 s; up to 0.2 s for a quicker, rougher flight).

    The same plan gives the same flight, gusts and unsteadiness included. Raises ``ValueError`` where the
    plan asks for what the procedure does not have (circuits without a runway), ``FlightDoesNotEndError`` where
    it is not over within ``longest_s``.
    """
    bearing = math.radians(plan.start_bearing_true_deg)
    towards_deg = plan.start_bearing_true_deg + 180.0
    heading_deg = plan.start_heading_true_deg if plan.start_heading_true_deg is not None else towards_deg
    aircraft = Aircraft(
        air=Air(plan.wind, plan.seed),
        east_nm=plan.start_distance_nm * math.sin(bearing),
        north_nm=plan.start_distance_nm * math.cos(bearing),
        altitude_ft=_start_altitude_ft(procedure, plan),
        heading_deg=heading_deg,
        airspeed_kias=plan.cruise_kias,
    )
    events: list[Event] = []
    attempt_number = [0]
    pilot = Pilot(
        aircraft,
        procedure,
        plan,
        lambda what: events.append(Event(round(aircraft.t_s, 3), what, attempt_number[0])),
    )
    # Start trimmed for the wind: on the track, not on the heading, that was asked for.
    aircraft.point(pilot.helm.heading_for(heading_deg))
    hand = _Hand(plan, step_s)
    rows: list[tuple[float, ...]] = []
    for number, bank_deg in enumerate(_whole_flight(pilot, attempt_number)):
        rows.append(_row(aircraft))
        if number * step_s > longest_s:
            raise FlightDoesNotEndError(f"the simulated flight is not over after {longest_s / 60.0:.0f} min")
        hand.move(pilot)
        aircraft.step(step_s, bank_deg, pilot.rate_wanted(), pilot.airspeed_kias)
    rows.append(_row(aircraft))
    return _flight_of(procedure, plan, tuple(events), np.array(rows, dtype=np.float64))


def _start_altitude_ft(procedure: Procedure, plan: FlightPlan) -> float:
    if plan.start_altitude_ft is not None:
        return plan.start_altitude_ft
    leg = procedure.leg_of(Phase.INBOUND)
    limit = leg.altitude if leg is not None else None
    if limit is not None and limit.low_ft is not None:
        wanted_ft = limit.low_ft + plan.altitude_margin_ft
        return min(wanted_ft, limit.high_ft) if limit.high_ft is not None else wanted_ft
    return procedure.station.elevation_ft + 3000.0


class _Hand:
    """Slow wandering of heading (over 20 s) and altitude (over 40 s), as of a person flying by hand."""

    def __init__(self, plan: FlightPlan, step_s: float) -> None:
        self._step_s = step_s
        self._random = random.Random(plan.seed + 1)
        self._sizes = (plan.wander_deg, plan.wander_ft)
        self._rough = [0.0, 0.0]
        self._smooth = [0.0, 0.0]

    def move(self, pilot: Pilot) -> None:
        """One step of wandering; a second lag of 5 s takes the corners off it."""
        for axis, (size, lasting_s) in enumerate(zip(self._sizes, (20.0, 40.0), strict=True)):
            if size:
                kick = size * math.sqrt(2 * self._step_s / lasting_s * (lasting_s + 5.0) / lasting_s)
                self._rough[axis] += (
                    kick * self._random.gauss(0, 1) - self._rough[axis] * self._step_s / lasting_s
                )
                self._smooth[axis] += (self._rough[axis] - self._smooth[axis]) * self._step_s / 5.0
        pilot.helm.unsteady_deg, pilot.unsteady_ft = self._smooth


def _row(aircraft: Aircraft) -> tuple[float, ...]:
    return (
        aircraft.t_s,
        aircraft.east_nm,
        aircraft.north_nm,
        aircraft.altitude_ft,
        aircraft.heading_deg,
        aircraft.airspeed_kias,
        aircraft.airspeed_ktas,
        aircraft.ground_east_kt,
        aircraft.ground_north_kt,
        aircraft.bank_deg,
        aircraft.rate_ft_min,
        aircraft.wind_east_kt,
        aircraft.wind_north_kt,
        float(aircraft.on_ground),
    )


def _flight_of(
    procedure: Procedure, plan: FlightPlan, events: tuple[Event, ...], rows: Floats
) -> SimulatedFlight:
    from debrief.navigation.geodesy import StationPlane

    (t_s, east, north, altitude, heading, kias, ktas, ground_east, ground_north, bank, rate, wind_east,
     wind_north, on_ground) = rows.T  # fmt: skip
    plane = StationPlane(latitude_deg=procedure.station.latitude, longitude_deg=procedure.station.longitude)
    latitude, longitude = plane.to_geographic(east, north)
    # The plane's north is true north at the station only: away from it, meridians run at an angle.
    latitude_up, longitude_up = plane.to_geographic(east, north + _NORTH_PROBE_NM)
    east_of_north = (longitude_up - longitude + 180.0) % 360.0 - 180.0
    turned = np.degrees(np.arctan2(east_of_north * np.cos(np.radians(latitude)), latitude_up - latitude))
    wind_speed = np.hypot(wind_east, wind_north)
    return SimulatedFlight(
        plan=plan,
        procedure=procedure,
        epoch=plan.epoch,
        events=events,
        t_s=np.round(t_s, 3),
        latitude_deg=latitude,
        longitude_deg=longitude,
        altitude_ft=altitude,
        heading_true_deg=(heading + turned) % 360.0,
        airspeed_kias=np.where(on_ground > 0, 0.0, kias),
        airspeed_ktas=np.where(on_ground > 0, 0.0, ktas),
        groundspeed_kt=np.hypot(ground_east, ground_north),
        ground_track_true_deg=(np.degrees(np.arctan2(ground_east, ground_north)) + turned) % 360.0,
        bank_deg=bank,
        vertical_speed_ft_min=rate,
        wind_from_true_deg=(np.degrees(np.arctan2(-wind_east, -wind_north)) + turned) % 360.0,
        wind_speed_kt=wind_speed,
        on_ground=on_ground > 0,
    )
