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
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.measures import log_errors, uncertainty
from debrief.measures.moments import QUADRATURE, cone_edge
from debrief.measures.over_phase import spread_sure
from debrief.measures.statistics import share, spread
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import FULL_SCALE_DEG, along_track_nm, cross_track_nm, deviation_deg
from debrief.phases.model import Flight, Floats, StationView
from debrief.procedures.guidance import Guidance, guidance_in
from debrief.procedures.model import Phase, Procedure
from debrief.result import Spread

#: Half of full scale. Source: "established", ICAO Doc 8168 in FAA-H-8261-1 ch. 4. Mark: seen (2nd hand).
HALF_SCALE_DEG = 5.0
_AT_CONE = 1.05  # so near its radius a phase ends at the cone
_LEAST_NM = 1e-3  # nearer the station an angle is anything


def scored_course_deg(procedure: Procedure, phase: Phase) -> float | None:
    """The course a phase is held against, magnetic; ``None`` where none is (inbound, reversal, racetrack)."""
    if phase is Phase.OUTBOUND:
        return procedure.outbound.radial_deg if procedure.outbound is not None else None
    if phase is Phase.INTERMEDIATE:
        return procedure.inbound_course_deg
    if phase is Phase.FINAL and procedure.final is not None:
        return procedure.final.course_deg
    return None


def needle_deg(
    procedure: Procedure, phase: Phase, course_deg: float, view: StationView
) -> tuple[Floats, NDArray[np.bool_]]:
    """Where the needle of a leg stood, and whether it can be read: outside the cone, but for other guidance.

    In degrees of a station's needle, 10 to each stop, so that every needle is held to the same shares of full scale.
    """
    guidance = guidance_in(procedure, phase)
    if guidance is None:
        _, deviation = off_course(procedure, phase, course_deg, view)
        return deviation, ~view.in_cone & np.isfinite(deviation)
    like_deg = guidance.as_station_deg(view.east_nm, view.north_nm)
    return like_deg, np.isfinite(like_deg)


def needle_sure_deg(flight: Flight, guidance: Guidance | None, view: StationView) -> Floats:
    """How sure a needle is, half-width at 95 %, in degrees of a station's: ``guidance`` where it is another one."""
    if guidance is None:
        return np.array([uncertainty.angle_at_station_deg(flight, float(d)) for d in view.distance_nm])
    sure_nm = uncertainty.position_nm(flight)
    if guidance.unit == "NM":
        off = np.full(len(view), sure_nm)
    else:
        before_nm = np.maximum(guidance.before_nm(view.east_nm, view.north_nm), _LEAST_NM)
        off = np.degrees(np.arctan(sure_nm / before_nm))
    sure_deg: Floats = off / guidance.full_scale * FULL_SCALE_DEG
    return sure_deg


def off_course(
    procedure: Procedure, phase: Phase, course_deg: float, view: StationView
) -> tuple[Floats, Floats]:
    """Cross-track [NM] and deviation [deg] from a course through the station, right of the flight positive.

    Of a final by a localiser or a satellite the cross-track is that from its own line.

    Outbound is flown from the station and the intermediate to it; a final is flown to it as long as it lies
    ahead along the course, and from it afterwards.
    """
    course_true_deg = procedure.true_deg(course_deg)
    across_nm = cross_track_nm(view.east_nm, view.north_nm, course_true_deg)
    guidance = guidance_in(procedure, phase)
    if guidance is not None:
        across_nm = guidance.across_nm(view.east_nm, view.north_nm)
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
    within_half_scale_sure: float | None = None  # half-width at 95 %
    why: str = ""  # a reason, where something that has a course could not be measured


def tracking(
    flight: Flight,
    phase: Phase,
    view: StationView,
    weight_s: Floats,
    time: Callable[[float], datetime],
    ends_s: tuple[float, float] = (0.0, 0.0),
) -> Tracking:
    """Hold a leg against its course; ``weight_s`` says how long each moment of ``view`` counts.

    ``ends_s``: how sure the moments are at which it begins and ends, standard deviations.
    """
    course_deg = scored_course_deg(flight.procedure, phase)
    if course_deg is None:
        return Tracking()
    across_nm, deviation = off_course(flight.procedure, phase, course_deg, view)
    outside = ~view.in_cone & np.isfinite(deviation)
    needle, read = needle_deg(flight.procedure, phase, course_deg, view)
    scored = np.where(outside, deviation, np.nan)
    parts = log_errors.position_nm(flight, turning=True)
    alignment_deg = flight.procedure.station.alignment_within_deg
    ahead_nm = along_track_nm(view.east_nm, view.north_nm, flight.procedure.true_deg(course_deg))
    across_sure = spread_sure(
        parts,
        view.t_s,
        across_nm,
        weight_s,
        reach=np.ones(len(view)),
        turned=np.radians(ahead_nm),
        alignment_deg=alignment_deg,
        edge_s=ends_s,
    )
    edges_s = _edges_s(flight, view, outside, ends_s)
    angle_sure = spread_sure(
        parts,
        view.t_s,
        scored,
        weight_s,
        reach=np.degrees(1.0 / np.maximum(view.distance_nm, _LEAST_NM)),
        turned=np.sign(ahead_nm),
        alignment_deg=alignment_deg,
        edge_s=edges_s,
    )
    within = np.abs(np.where(read, needle, np.nan)) <= HALF_SCALE_DEG
    return Tracking(
        cross_track_nm=spread(view.t_s, across_nm, weight_s, sure=across_sure, time=time),
        deviation_deg=spread(view.t_s, scored, weight_s, sure=angle_sure, time=time),
        within_half_scale=share(within, read, weight_s),
        within_half_scale_sure=_share_sure(
            needle,
            read,
            weight_s,
            wrong_deg=_needle_wrong_deg(flight, phase, view, needle),
            edges_s=edges_s,
        ),
        why=""
        if outside.any()
        else tr("Deviation not scored: the whole of it lies in the cone of ambiguity."),
    )


def _needle_wrong_deg(flight: Flight, phase: Phase, view: StationView, needle_deg: Floats) -> Floats:
    """Standard deviation of where a needle stood, in degrees of a station's: the position's, and its alignment's."""
    position_nm = log_errors.one(log_errors.position_nm(flight, turning=True))
    guidance = guidance_in(flight.procedure, phase)
    if guidance is None:
        alignment_deg = flight.procedure.station.alignment_within_deg / np.sqrt(3.0)
        by_position_deg = np.degrees(position_nm / np.maximum(view.distance_nm, _LEAST_NM))
        return np.asarray(np.hypot(by_position_deg, alignment_deg), dtype=np.float64)
    right_rad = np.radians(guidance.course_true_deg + 90.0)
    moved_deg = guidance.as_station_deg(
        view.east_nm + position_nm * np.sin(right_rad), view.north_nm + position_nm * np.cos(right_rad)
    )
    return np.asarray(np.abs(moved_deg - needle_deg), dtype=np.float64)


def _share_sure(
    needle_deg: Floats,
    read: NDArray[np.bool_],
    weight_s: Floats,
    *,
    wrong_deg: Floats,
    edges_s: tuple[float, float],
) -> float | None:
    """Half-width at 95 % of the share of time within half scale.

    Most of what is wrong with a needle lasts: it stands as much too far to one side all along. So the share is looked
    for again with the needle to either side. Besides, a leg that begins or ends early adds time within or outside, and
    where the needle passes the limit is known to a step of the view.
    """
    picked = np.flatnonzero(read)
    total_s = float(weight_s[read].sum())
    if not len(picked) or not total_s > 0.0:
        return None

    def within(by: float) -> float:
        inside = np.abs(needle_deg[picked] + by * wrong_deg[picked]) <= HALF_SCALE_DEG
        return float(weight_s[picked][inside].sum()) / total_s

    here = within(0.0)
    apart = [within(QUADRATURE) - here, within(-QUADRATURE) - here]
    inside = np.abs(needle_deg[picked]) <= HALF_SCALE_DEG
    passes = np.flatnonzero(inside[1:] != inside[:-1])
    step_s = float(np.sqrt(np.sum(np.square(weight_s[picked][passes])) / 12.0))
    at_edges_s = [edge_s * (float(one) - here) for edge_s, one in zip(edges_s, inside[[0, -1]], strict=True)]
    by_needle = hypot(*apart) / (QUADRATURE * sqrt(2.0))
    return half_width(hypot(by_needle, hypot(step_s, *at_edges_s) / total_s))


def _edges_s(
    flight: Flight, view: StationView, scored: NDArray[np.bool_], ends_s: tuple[float, float]
) -> tuple[float, float]:
    """How sure the moments are at which scoring begins and ends, standard deviations: at a cone, or with the phase."""
    if not scored.any():
        return 0.0, 0.0
    picked = np.flatnonzero(scored)

    def edge_s(at: int, beyond: int, end_s: float) -> float:
        near_cone = 0 <= beyond < len(view) and bool(view.in_cone[beyond])
        near_cone |= float(view.distance_nm[at]) < _AT_CONE * float(view.cone_radius_nm[at])
        if near_cone:
            return cone_edge(flight, float(view.groundspeed_kt[at])).sd_s
        return end_s

    first, last = int(picked[0]), int(picked[-1])
    return edge_s(first, first - 1, ends_s[0]), edge_s(last, last + 1, ends_s[1])
