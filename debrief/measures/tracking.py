"""Tracking: cross-track and deviation against the course of a leg.

Owns      which course each phase is held against, and from which side of the station it is flown; the two
          distances from it, over a leg and where they were passed for longer.
Not here  the formulas (navigation.radials), how much is too much (grading).
Source    Signs, and that the cone is not scored: DEVELOPERS.md, Definitions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from debrief.measures import uncertainty
from debrief.measures.scene import Scene
from debrief.measures.statistics import share, spread
from debrief.measures.stretches import stretches
from debrief.navigation.radials import along_track_nm, cross_track_nm, deviation_deg
from debrief.phases.model import Flight, Floats, Span, StationView
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
        why="" if outside.any() else "Deviation not scored: the whole of it lies in the cone of ambiguity.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Excursion:
    """A stretch in which the deviation stayed beyond a limit."""

    phase: Phase
    circuit: int
    start: datetime
    end: datetime
    seconds: float
    greatest_deg: float  # with its sign, at ``greatest``
    greatest: datetime
    uncertainty_deg: float  # of ``greatest_deg``, half-width at 95 %


def excursions(
    scene: Scene, span: Span, limit_deg: float, *, least_s: float, until_s: float | None = None
) -> tuple[Excursion, ...]:
    """Where the deviation on a leg was beyond ``limit_deg`` either side for ``least_s`` and more.

    Not inside the cone, not across a gap, and not after ``until_s``. Empty on a leg without a course.
    """
    course_deg = scored_course_deg(scene.procedure, span.phase)
    if course_deg is None:
        return ()
    end_s = span.end_s if until_s is None else min(span.end_s, until_s)
    view = scene.over(span.start_s, end_s)
    _, deviation = off_course(scene.procedure, span.phase, course_deg, view)
    scored = np.where(view.in_cone, np.nan, deviation)
    found = []
    for stretch in stretches(view.t_s, np.abs(scored) - limit_deg, view.segment):
        if stretch.seconds < least_s:
            continue
        most = stretch.first + int(np.argmax(np.abs(scored[stretch.part])))
        found.append(
            Excursion(
                phase=span.phase,
                circuit=span.circuit,
                start=scene.time(stretch.start_s),
                end=scene.time(stretch.end_s),
                seconds=stretch.seconds,
                greatest_deg=float(scored[most]),
                greatest=scene.time(float(view.t_s[most])),
                uncertainty_deg=uncertainty.angle_at_station_deg(scene.flight, float(view.distance_nm[most])),
            )
        )
    return tuple(found)
