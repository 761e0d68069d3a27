"""Tracking: cross-track and deviation against the course of a leg.

Owns      which course each phase is held against, and from which side of the station it is flown; how far off
          it the aircraft was, in miles and in degrees.
Not here  the formulas (navigation.radials), how much is too much (grading).
Source    Signs, and that the cone is not scored: DEVELOPERS.md, Definitions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from debrief.language import tr
from debrief.measures import uncertainty
from debrief.measures.statistics import share, spread
from debrief.navigation.radials import along_track_nm, cross_track_nm, deviation_deg
from debrief.phases.model import Flight, Floats, StationView
from debrief.procedures.model import Phase, Procedure
from debrief.result import Spread

#: Half of full scale. Source: "established", ICAO Doc 8168 in FAA-H-8261-1 ch. 4. Mark: seen (2nd hand).
HALF_SCALE_DEG = 5.0


def scored_course_deg(procedure: Procedure, phase: Phase) -> float | None:
    """The course a phase is held against, magnetic; ``None`` where none is (inbound, reversal, racetrack)."""
    if phase is Phase.OUTBOUND:
        return procedure.outbound.radial_deg if procedure.outbound is not None else None
    if phase is Phase.INTERMEDIATE:
        return procedure.inbound_course_deg
    if phase is Phase.FINAL and procedure.final is not None:
        return procedure.final.course_deg
    return None


def off_course(
    procedure: Procedure, phase: Phase, course_deg: float, view: StationView
) -> tuple[Floats, Floats]:
    """Cross-track [NM] and deviation [deg] from a course through the station, right of the flight positive.

    Outbound is flown from the station and the intermediate to it; a final is flown to it as long as it lies
    ahead along the course, and from it afterwards.
    """
    course_true_deg = procedure.true_deg(course_deg)
    across_nm = cross_track_nm(view.east_nm, view.north_nm, course_true_deg)
    if phase is Phase.OUTBOUND:
        inbound = np.zeros(len(view), dtype=np.bool_)
    elif phase is Phase.FINAL:
        inbound = along_track_nm(view.east_nm, view.north_nm, course_true_deg) < 0
    else:
        inbound = np.ones(len(view), dtype=np.bool_)
    return across_nm, deviation_deg(view.radial_deg, course_deg, inbound=inbound)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracking:
    """The tracking part of a leg's measures."""

    cross_track_nm: Spread | None = None
    deviation_deg: Spread | None = None
    within_half_scale: float | None = None
    why: str = ""  # a reason, where something that has a course could not be measured


def tracking(
    flight: Flight, phase: Phase, view: StationView, weight_s: Floats, time: Callable[[float], datetime]
) -> Tracking:
    """Hold a leg against its course; ``weight_s`` says how long each moment of ``view`` counts."""
    course_deg = scored_course_deg(flight.procedure, phase)
    if course_deg is None:
        return Tracking()
    across_nm, deviation = off_course(flight.procedure, phase, course_deg, view)
    outside = ~view.in_cone & np.isfinite(deviation)
    scored = np.where(outside, deviation, np.nan)
    return Tracking(
        cross_track_nm=spread(
            view.t_s,
            across_nm,
            weight_s,
            uncertainty_at=lambda _: uncertainty.position_nm(flight),
            time=time,
        ),
        deviation_deg=spread(
            view.t_s,
            scored,
            weight_s,
            uncertainty_at=lambda i: uncertainty.angle_at_station_deg(flight, float(view.distance_nm[i])),
            time=time,
        ),
        within_half_scale=share(np.abs(scored) <= HALF_SCALE_DEG, outside, weight_s),
        why=""
        if outside.any()
        else tr("Deviation not scored: the whole of it lies in the cone of ambiguity."),
    )
