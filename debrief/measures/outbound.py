"""The outbound leg: how long and how far from the station to the turn off it.

Owns      timing from the closest point, slant range and distance at the turn off, the heading held.
Not here  tracking along it (``tracking``), the turn onto it (``turns``), the published length (grading).
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.legs import LegFields, with_reasons
from debrief.measures.moments import Moment, closest_point, read_at, slant_sure_nm, turn_edge
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, mean_direction_deg, weights_s
from debrief.measures.tracking import off_course, scored_course_deg
from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.model import Span
from debrief.procedures.model import Phase
from debrief.result import OutboundMeasures

_ROLLING_DEG_S = 1.0  # the heading held is that outside turns


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
    """Mean heading outside turns, magnetic by today's variation, in [0, 360); ``None`` where not known."""
    part = scene.part(span.start_s, span.end_s)
    view, heading = scene.view.where(part), scene.air.heading_true_deg[part]
    straight = np.abs(view.turn_rate_deg_s) < _ROLLING_DEG_S
    mean_true_deg = mean_direction_deg(np.where(straight, heading, np.nan), weights_s(view.t_s, view.segment))
    if mean_true_deg is None:
        return None
    return known(wrap_360(mean_true_deg - scene.air.variation_deg))
