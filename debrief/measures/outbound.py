"""The outbound leg: how long and how far from the station to the turn off it.

Owns      timing from the closest point, slant range and distance at the turn off, the heading held.
Not here  tracking along it (``tracking``), the turn onto it (``turns``), the published length (grading).
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.final_track import by_eye_from_s
from debrief.measures.legs import LegFields, with_reasons
from debrief.measures.moments import Moment, closest_point, read_at, slant_sure_nm, turn_edge
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, mean_direction_deg, weights_s
from debrief.measures.tracking import off_course, scored_course_deg
from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.model import Span
from debrief.procedures.guidance import guidance_in
from debrief.procedures.model import Phase
from debrief.result import OutboundMeasures

_ROLLING_DEG_S = 1.0  # the heading held is that outside turns ...
_ALONG_DEG = 20.0  # ... and with the ground track so near the course, as where it is established


def outbound_measures(scene: Scene, span: Span, leg: LegFields) -> OutboundMeasures:
    """Measure one outbound leg; its length only where the turn off it was observed."""
    why: list[str] = []
    seconds = dme_nm = distance_nm = across_nm = None
    sure: dict[str, float | None] = {}
    passage = scene.passage_before(span.start_s)
    if not scene.turns_off(span):
        why.append(tr("Length not measured: the turn off the outbound course was not flown or not observed."))
    else:
        at = scene.at(span.end_s)
        distance_nm, dme_nm = known(at.distance_nm[0]), known(at.dme_nm[0])
        turned = turn_edge(scene.flight, span.end_s)
        sure["turn_off_distance_nm"], sure["turn_off_dme_nm"] = turn_off_sure_nm(scene, span.end_s, turned)
        across_nm, sure["turn_off_cross_track_nm"] = _turn_off_across_nm(scene, span.end_s, turned)
        if distance_nm is not None and dme_nm is None:
            why.append(
                tr(
                    "DME at the turn off not known: slant range needs an altitude, and the log has none "
                    "there."
                )
            )
        if passage is None:
            why.append(tr("Time from the station not measured: passing it was not observed."))
        else:
            seconds = span.end_s - passage.t_s
            passed = closest_point(scene.flight, passage.distance_nm, float(at.groundspeed_kt[0]))
            sure["time_from_passage_s"] = read_at(turned, 1.0, passed.sd_s)
    heading = heading_mag_deg(scene, span)
    if heading is not None:
        sure["heading_mag_deg"] = _heading_sure_deg(scene, span)
    elif np.isfinite(scene.air.heading_true_deg[scene.part(span.start_s, span.end_s)]).any():
        why.append(tr("Outbound heading not measured: the leg was never flown steadily along its course."))
    return OutboundMeasures(
        **with_reasons(leg, why, sure),
        time_from_passage_s=seconds,
        turn_off_dme_nm=dme_nm,
        turn_off_distance_nm=distance_nm,
        turn_off_cross_track_nm=across_nm,
        heading_mag_deg=heading,
    )


def _heading_sure_deg(scene: Scene, span: Span) -> float:
    heading_deg = scene.air.heading_sure_deg(scene.view, scene.part(span.start_s, span.end_s))
    return float(np.hypot(heading_deg, scene.air.variation_uncertainty_deg))


def turn_off_sure_nm(scene: Scene, turn_s: float, turned: Moment) -> tuple[float, float | None]:
    """Half-widths at 95 % of the distance and the slant range where a turn begins, a moment so unsure. [NM]"""
    at = scene.at(turn_s)
    rate_nm_s = float(at.closing_kt[0]) / SECONDS_PER_HOUR
    position_nm = log_errors.one(log_errors.position_nm(scene.flight, turning=True))
    distance_nm = read_at(turned, rate_nm_s, position_nm)
    return distance_nm, slant_sure_nm(scene.flight, at, turned)


def _turn_off_across_nm(scene: Scene, turn_s: float, turned: Moment) -> tuple[float | None, float | None]:
    """Where the turn off began, right of the leg's course [NM], and its half-width at 95 %; none without a course."""
    course_deg = scored_course_deg(scene.procedure, Phase.OUTBOUND)
    if course_deg is None:
        return None, None
    at = scene.at(turn_s)
    across_nm, _ = off_course(scene.procedure, Phase.OUTBOUND, course_deg, at)
    off_deg = float(difference_deg(at.ground_track_true_deg, scene.procedure.true_deg(course_deg))[0])
    drift_nm_s = float(at.groundspeed_kt[0]) * np.sin(np.radians(off_deg)) / SECONDS_PER_HOUR
    position_nm = log_errors.one(log_errors.position_nm(scene.flight, turning=True))
    turned_nm = np.radians(scene.procedure.station.alignment_within_deg) * float(at.distance_nm[0])
    return known(across_nm[0]), read_at(turned, drift_nm_s, position_nm, turned_nm)


def heading_mag_deg(scene: Scene, span: Span) -> float | None:
    """Mean heading held along the course, magnetic by today's variation, in [0, 360); ``None`` where not known.

    Outside turns, and not on the way onto the course: that heading says nothing about the one that keeps it. Of a
    final up to where it is flown by eye.
    """
    until_s = span.end_s
    if span.phase is Phase.FINAL:
        eye_s = by_eye_from_s(scene)
        until_s = span.end_s if eye_s is None else min(span.end_s, eye_s)
    part = scene.part(span.start_s, until_s)
    view, heading = scene.view.where(part), scene.air.heading_true_deg[part]
    straight = np.abs(view.turn_rate_deg_s) < _ROLLING_DEG_S
    course_true_deg = _course_true_deg(scene, span)
    if course_true_deg is not None:
        off_deg = difference_deg(view.ground_track_true_deg, course_true_deg)
        straight &= np.abs(off_deg) <= _ALONG_DEG
    mean_true_deg = mean_direction_deg(np.where(straight, heading, np.nan), weights_s(view.t_s, view.segment))
    if mean_true_deg is None:
        return None
    return known(wrap_360(mean_true_deg - scene.air.variation_deg))


def _course_true_deg(scene: Scene, span: Span) -> float | None:
    guidance = guidance_in(scene.procedure, span.phase)
    if guidance is not None:
        return guidance.course_true_deg
    course_deg = scored_course_deg(scene.procedure, span.phase)
    if course_deg is None and span.phase is Phase.OUTBOUND:
        course_deg = scene.procedure.outbound_course_deg  # of a racetrack
    return None if course_deg is None else scene.procedure.true_deg(course_deg)


def outbound_true_deg(scene: Scene) -> float:
    """The outbound course (the inbound course's reciprocal where none is published) from true north."""
    course_deg = scene.procedure.outbound_course_deg
    if course_deg is None:
        course_deg = scene.procedure.inbound_course_deg + 180.0
    return scene.procedure.true_deg(course_deg)
