"""What the reference flight flies: from where, how fast, in which wind.

Owns      the plan of an errorless flight, from an attempt and its measures: the pilot's own way in, his indicated
          speeds in each part, the measured wind, his ending.
Not here  flying it and its figures (``reference``), the pilot of it (``simulation``).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from debrief.measures.statistics import known
from debrief.measures.turning import TURNING_DEG_S
from debrief.navigation.angles import difference_deg
from debrief.navigation.atmosphere import calibrated_airspeed_kt, isa_temperature_c, true_airspeed_kt
from debrief.navigation.turns import bank_deg
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.model import Flight, FoundAttempt, Passage
from debrief.planning.air import Air
from debrief.planning.lead import lead_from
from debrief.planning.timing import outbound_timing
from debrief.procedures.entries import entry
from debrief.procedures.model import Pattern, Phase, Procedure
from debrief.result import ArcMeasures, CirclingMeasures, LegMeasures, Measures, Wind
from debrief.simulation import Attempt, Faults, FlightPlan
from debrief.simulation import Wind as SteadyWind
from debrief.simulation.aircraft import ROLL_RATE_DEG_S
from debrief.simulation.plan import Ending

#: The errorless flight joins the pilot's way in so far before the station. [NM]
ARRIVAL_NM = 4.0
STRAIGHT_IN_NM = 10.0
NEAREST_NM = 0.5  # closer in, the direction of the station is no arrival
_AT_THE_STATION_DEG = 10.0
LEAST_ARRIVAL_NM = 2.5  # room for any lead

STEP_S = 0.2  # of the simulation; finer ones change no figure by more than 0.01 NM or 0.3 deg
SLOWEST_KIAS = 35.0
MOST_CIRCUITS = 2  # the second of a racetrack is as all that follow

_WAY_IN = (Phase.INBOUND, Phase.STATION_PASSAGE)
_ENDINGS: dict[str, Ending] = {"landing": "landing", "missed approach": "missed approach"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """Indicated airspeeds to fly. [kt]"""

    inbound: float
    approach: float
    final: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where the errorless flight begins, seen from the station."""

    bearing_true_deg: float
    distance_nm: float
    heading_true_deg: float | None
    altitude_ft: float | None
    observed: bool


def arrival_passage(found: FoundAttempt) -> Passage | None:
    """The passage that ends the way in; ``None`` where it was not observed."""
    begun_s = min((span.start_s for span in found.spans if span.phase not in _WAY_IN), default=found.end_s)
    return next((entry for entry in found.passages if entry.t_s <= begun_s + 1.0), None)


def speeds_of(
    procedure: Procedure, found: FoundAttempt, measures: Measures, wind: Wind | None
) -> Speeds | None:
    """The pilot's indicated speeds in each part, the next best part's where one was not observed."""
    at_station = None
    if measures.outbound is not None and arrival_passage(found) is not None:
        at_station = _kias(procedure, wind, (Phase.STATION_PASSAGE, measures.station_passage))
    inbound = _kias(procedure, wind, (Phase.INBOUND, measures.inbound))
    approach = _kias(
        procedure,
        wind,
        (Phase.OUTBOUND, measures.outbound),
        (Phase.COURSE_REVERSAL, measures.course_reversal),
    )
    final = _kias(procedure, wind, (Phase.FINAL, measures.final))
    approach = approach or inbound or final
    if approach is None or approach < SLOWEST_KIAS:
        return None
    return Speeds(
        inbound=max(at_station or inbound or approach, SLOWEST_KIAS),
        approach=approach,
        final=max(final or approach, SLOWEST_KIAS),
    )


def _kias(procedure: Procedure, wind: Wind | None, *legs: tuple[Phase, LegMeasures | None]) -> float | None:
    """Mean indicated airspeed over legs, each by the time it was observed; ``None`` where none was."""
    speeds_kt, seconds = [], []
    for phase, leg in legs:
        if leg is None or leg.groundspeed_kt is None or leg.observed_s <= 0.0:
            continue
        if wind is not None and leg.airspeed_kias is not None:
            speeds_kt.append(leg.airspeed_kias.mean)
        else:
            true_kt = leg.groundspeed_kt.mean if wind is None or wind.tas_kt is None else wind.tas_kt
            altitude_ft = (
                leg.altitude_ft.mean if leg.altitude_ft is not None else _published_ft(procedure, phase)
            )
            speeds_kt.append(
                float(calibrated_airspeed_kt(true_kt, altitude_ft, isa_temperature_c(altitude_ft)))
            )
        seconds.append(leg.observed_s)
    return known(np.average(speeds_kt, weights=seconds)) if speeds_kt else None


def _published_ft(procedure: Procedure, phase: Phase) -> float:
    leg = procedure.leg_of(phase)
    limit = leg.altitude if leg is not None else None
    given = (limit.low_ft, limit.high_ft) if limit is not None else ()
    return next((ft for ft in given if ft is not None), procedure.station.elevation_ft)


def start_of(
    flight: Flight, found: FoundAttempt, *, straight_in: bool, arc: ArcMeasures | None = None
) -> Start:
    """The pilot's own way in: some miles before the station, or farther out where there is no turn at it.

    After an arc it begins once the turn off it points at the station.
    """
    passage = arrival_passage(found)
    ways = found.spans_of(Phase.INBOUND)
    before_s = passage.t_s if passage is not None else ways[-1].end_s if ways else found.start_s
    view = flight.view.between(found.start_s, before_s)
    if arc is not None:
        view = view.between((arc.end - flight.log.track.epoch).total_seconds(), before_s)
        off_deg = np.abs(difference_deg(view.radial_deg + 180.0, view.ground_track_deg))
        view = view.where(slice(int(np.argmax(off_deg < _AT_THE_STATION_DEG)), None)) if len(view) else view
    farthest_nm = STRAIGHT_IN_NM if straight_in else ARRIVAL_NM
    beyond = np.flatnonzero(view.distance_nm >= farthest_nm)
    view = view.where(slice(int(beyond[-1]) if len(beyond) else 0, None))
    if not len(view) or float(view.distance_nm.max()) < NEAREST_NM:
        return _unobserved_start(flight.procedure, straight_in=straight_in)
    first = 0 if len(beyond) else int(np.argmax(view.distance_nm))
    bearing = float(np.degrees(np.arctan2(view.east_nm[first], view.north_nm[first]))) % 360.0
    inbound = flight.procedure.leg_of(Phase.INBOUND)
    published = inbound is not None and inbound.altitude is not None and inbound.altitude.low_ft is not None
    return Start(
        bearing_true_deg=bearing,
        distance_nm=max(float(view.distance_nm[first]), LEAST_ARRIVAL_NM),
        heading_true_deg=float(view.ground_track_true_deg[first]) if straight_in else None,
        altitude_ft=None if published else known(view.altitude_ft[first]),
        observed=True,
    )


def _unobserved_start(procedure: Procedure, *, straight_in: bool) -> Start:
    """In line with the course that comes next: no turn at the station."""
    course_deg = None if straight_in else procedure.outbound_course_deg
    next_true_deg = procedure.true_deg(procedure.inbound_course_deg if course_deg is None else course_deg)
    return Start(
        bearing_true_deg=(next_true_deg + 180.0) % 360.0,
        distance_nm=STRAIGHT_IN_NM if straight_in else ARRIVAL_NM,
        heading_true_deg=None,
        altitude_ft=None,
        observed=False,
    )


def _side(procedure: Procedure, circled: CirclingMeasures) -> Literal["left", "right"]:
    """The side to circle on: the published one, else the pilot's own."""
    published = procedure.circling.side if procedure.circling is not None else None
    return published or circled.side


def plan_of(
    flight: Flight,
    found: FoundAttempt,
    speeds: Speeds,
    wind: Wind | None,
    start: Start,
    *,
    straight_in: bool,
    circled: CirclingMeasures | None,
) -> FlightPlan:
    """The whole errorless flight: the pilot's circuits (two at most) and ending, timed legs as the wind asks."""
    procedure = flight.procedure
    arrival_deg = (start.bearing_true_deg + 180.0 - procedure.station.declination_deg) % 360.0
    circuits = 1 + max((span.circuit for span in found.spans), default=0)
    attempt = Attempt(
        ending=_ENDINGS.get(found.ending, "log ends"),
        straight_in=straight_in,
        circuits=min(circuits, MOST_CIRCUITS),
        circle=None if circled is None or found.ending != "landing" else _side(procedure, circled),
        entry="offset" if not straight_in and entry(procedure, arrival_deg) == "offset" else "direct",
        faults=Faults(outbound_longer_s=_allowed_for_wind_s(procedure, speeds, wind)),
    )
    return FlightPlan(
        epoch=flight.log.track.time_at(found.start_s),
        start_bearing_true_deg=start.bearing_true_deg,
        start_distance_nm=start.distance_nm,
        start_heading_true_deg=start.heading_true_deg,
        start_altitude_ft=start.altitude_ft,
        cruise_kias=speeds.inbound,
        slow_down_nm=0.0,
        lead_nm=None if straight_in else _lead_nm(procedure, speeds, wind, start, arrival_deg),
        approach_kias=speeds.approach,
        final_kias=speeds.final,
        down_the_path=True,
        wind=SteadyWind()
        if wind is None
        else SteadyWind(from_true_deg=wind.from_true_deg, speed_kt=wind.speed_kt),
        attempts=(attempt,),
        after_s=0.0,
    )


def _lead_nm(
    procedure: Procedure, speeds: Speeds, wind: Wind | None, start: Start, arrival_deg: float
) -> float | None:
    """Where to roll into the turn at the station, so that it begins (turns at 1 deg/s) at the exact lead. [NM]

    ``None`` where no tangent turn exists: the simulated pilot then turns over the station.
    """
    altitude_ft = start.altitude_ft
    if altitude_ft is None:
        altitude_ft = _published_ft(procedure, Phase.INBOUND)
    air = _air(speeds.inbound, altitude_ft, wind)
    height_ft = altitude_ft - procedure.station.elevation_ft
    lead = lead_from(procedure, air, arrival_deg, speed_kias=speeds.inbound, height_ft=height_ft)
    if lead is None or lead.drifted_nm is None:
        return None
    # The rate is that of the ground track: of the heading's, the share that the airspeed has in the ground speed.
    crab = np.radians(air.correction_deg(procedure.true_deg(arrival_deg)))
    heading_deg_s = TURNING_DEG_S * lead.groundspeed_kt / (air.true_airspeed_kt * float(np.cos(crab)))
    rolling_s = float(bank_deg(air.true_airspeed_kt, heading_deg_s)) / ROLL_RATE_DEG_S
    return lead.drifted_nm + lead.groundspeed_kt * (rolling_s + STEP_S / 2.0) / SECONDS_PER_HOUR


def _air(speed_kias: float, altitude_ft: float, wind: Wind | None) -> Air:
    return Air(
        true_airspeed_kt=float(true_airspeed_kt(speed_kias, altitude_ft, isa_temperature_c(altitude_ft))),
        wind_from_true_deg=0.0 if wind is None else wind.from_true_deg,
        wind_speed_kt=0.0 if wind is None else wind.speed_kt,
    )


def _allowed_for_wind_s(procedure: Procedure, speeds: Speeds, wind: Wind | None) -> float:
    """What a timed outbound leg is longer (negative: shorter) in this wind than its published time. [s]

    So that it covers the distance of the published time in still air, as grading holds it.
    """
    outbound, reversal, course_deg = procedure.outbound, procedure.reversal, procedure.outbound_course_deg
    if wind is None or outbound is None or course_deg is None:
        return 0.0
    published_s: float | None = None
    if outbound.length is not None:
        published_s = (
            None if outbound.length.minutes is None else outbound.length.minutes * SECONDS_PER_MINUTE
        )
    elif reversal is not None and reversal.pattern is Pattern.RACETRACK:
        published_s = reversal.leg_seconds
    if not published_s:
        return 0.0
    air = _air(speeds.approach, _published_ft(procedure, Phase.OUTBOUND), wind)
    return outbound_timing(published_s, air, procedure.true_deg(course_deg)).allowed_s - published_s
