"""The outbound leg: how long and how far from the station to the turn off it.

Owns      timing from the closest point, slant range and distance at the turn off, the heading held.
Not here  tracking along it (``tracking``), the turn onto it (``turns``), the published length (grading).
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.measures.legs import LegFields, with_reasons
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, mean_direction_deg, weights_s
from debrief.navigation.angles import wrap_360
from debrief.phases.model import Span
from debrief.procedures.model import Phase
from debrief.result import OutboundMeasures

_ROLLING_DEG_S = 1.0  # the heading held is that outside turns


def outbound_measures(scene: Scene, span: Span, leg: LegFields) -> OutboundMeasures:
    """Measure one outbound leg; its length only where the turn off it was observed."""
    why: list[str] = []
    turned_off = any(
        s.phase is Phase.COURSE_REVERSAL and s.circuit == span.circuit and abs(s.start_s - span.end_s) < 1.0
        for s in scene.attempt.spans
    )
    seconds = dme_nm = distance_nm = None
    passage = scene.passage_before(span.start_s)
    if not turned_off:
        why.append(tr("Length not measured: the turn off the outbound course was not flown or not observed."))
    else:
        at = scene.at(span.end_s)
        distance_nm, dme_nm = known(at.distance_nm[0]), known(at.dme_nm[0])
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
    return OutboundMeasures(
        **with_reasons(leg, why),
        time_from_passage_s=seconds,
        turn_off_dme_nm=dme_nm,
        turn_off_distance_nm=distance_nm,
        heading_mag_deg=heading_mag_deg(scene, span),
    )


def heading_mag_deg(scene: Scene, span: Span) -> float | None:
    """Mean heading outside turns, magnetic by today's variation, in [0, 360); ``None`` where not known."""
    part = scene.part(span.start_s, span.end_s)
    view, heading = scene.view.where(part), scene.air.heading_true_deg[part]
    straight = np.abs(view.turn_rate_deg_s) < _ROLLING_DEG_S
    mean_true_deg = mean_direction_deg(np.where(straight, heading, np.nan), weights_s(view.t_s, view.segment))
    if mean_true_deg is None:
        return None
    return known(wrap_360(mean_true_deg - scene.air.variation_deg))
