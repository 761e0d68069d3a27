"""A break of an altitude limit as an assessment: what every rule on altitude has in common.

Owns      whether an altitude can be judged, and the verdict on a break that the measures found.
Not here  which break falls under which rule (``rules_altitude``, ``rules_minimum``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import NO_ALTITUDE, Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import feet, feet_sure
from debrief.language import tr
from debrief.measures import altitude as limits
from debrief.measures.scene import Scene
from debrief.measures.statistics import weights_s
from debrief.navigation.angles import difference_deg
from debrief.phases.model import StationView
from debrief.procedures.model import Phase
from debrief.result import LimitBreak

#: Flown above a minimum by who takes it for a floor. [ft] Mark: common practice.
CUSHION_FT = 50.0
_ROUNDING_FT = 1.0
#: A break that ends this close to the end of its leg was not mended there. [s]
TO_THE_END_S = 2.0
_LEVELLED_S = 15.0
#: Slower than this is level flight: tells a leg flown too low from a descent begun too early. [ft/min]
LEVEL_FT_MIN = 200.0
_INBOUND_DEG = 90.0
_ON_DOWN_FT = 100.0  # lost from where the leg was held too low: a descent of its own


def unseen_altitude(case: Case, tolerance: Tolerance, phase: Phase) -> Assessment | None:
    """Not assessable, with the reason; ``None`` where the phase was seen (or was not to be flown)."""
    standing = case.standing(phase)
    reason = standing.reason if standing.state == "not seen" else ""
    if standing.state == "seen" and not case.has_altitude():
        reason = tr(NO_ALTITUDE)
    if not reason:
        return None
    return Assessment(
        tolerance=tolerance, outcome="not assessable", phase=phase, unit=tolerance.unit, reason=reason
    )


def as_sure_as_the_log(case: Case, assessments: Iterator[Assessment]) -> Iterator[Assessment]:
    """Where the altitude is in great doubt, only what lies beyond that doubt is a verdict."""
    doubt = case.altitude_doubt()
    for assessment in assessments:
        if not doubt or assessment.outcome in ("exceeded", "not assessable"):
            yield assessment
        else:
            yield replace(assessment, outcome="not assessable", reason=doubt)


def left_before_joined(scene: Scene, begun_s: float, ended_s: float) -> bool:
    """Whether the reversal's minimum was left on the way back in, and not kept again until the course was joined.

    That is the descent of the next leg, begun too early. Who flew on level between the two minima levelled off too low.
    """
    span = scene.span(Phase.COURSE_REVERSAL)
    if span is None or not span.start_s < begun_s <= ended_s or ended_s < span.end_s - TO_THE_END_S:
        return False
    course_true_deg = scene.procedure.true_deg(scene.procedure.inbound_course_deg)
    view = scene.over(begun_s, ended_s)
    off_deg = np.abs(difference_deg(view.ground_track_true_deg, course_true_deg))
    if not len(view) or not np.all(off_deg < _INBOUND_DEG):
        return False
    held = _held_low(scene, Phase.COURSE_REVERSAL, view)
    return held is not None and not _long_enough(view, held)


def left_from_below(scene: Scene, begun_s: float, ended_s: float) -> tuple[float, float] | None:
    """When the descent of the next leg began out of a reversal that was flown too low, and from where. [s, ft]

    ``None`` where it was begun from the reversal's minimum, did not go on to the inbound course, or began only there.
    """
    span = scene.span(Phase.COURSE_REVERSAL)
    if span is None or ended_s < span.end_s - TO_THE_END_S:
        return None
    view = scene.over(max(begun_s, span.start_s), min(ended_s, span.end_s))
    held = _held_low(scene, Phase.COURSE_REVERSAL, view) if len(view) else None
    if held is None or not _long_enough(view, held):
        return None
    last = int(np.flatnonzero(held)[-1])
    left_ft = float(view.altitude_ft[last])
    course_true_deg = scene.procedure.true_deg(scene.procedure.inbound_course_deg)
    off_deg = abs(float(difference_deg(view.ground_track_true_deg[-1], course_true_deg)))
    if off_deg > _INBOUND_DEG or left_ft - float(np.nanmin(view.altitude_ft)) < _ON_DOWN_FT:
        return None
    return float(view.t_s[last]), left_ft


def left_for_next(scene: Scene, phase: Phase, begun_s: float, ended_s: float) -> bool:
    """Whether a leg's minimum was kept at first, and left before the leg's end for that of the next one.

    Who flew on level between the two minima levelled off too low.
    """
    span = next((s for s in scene.attempt.spans if s.phase is phase and s.start_s < begun_s <= s.end_s), None)
    if span is None or phase is Phase.COURSE_REVERSAL or ended_s < span.end_s - TO_THE_END_S:
        return False
    view = scene.over(begun_s, min(ended_s, span.end_s))
    held = _held_low(scene, phase, view) if len(view) else None
    return held is not None and not _long_enough(view, held)


def _held_low(scene: Scene, phase: Phase, view: StationView) -> NDArray[np.bool_] | None:
    """Which moments were flown level between a leg's minimum and the next one's; ``None`` where one is not published."""
    low_ft, next_ft = scene.procedure.low_ft(phase), next_low_ft(scene, phase)
    if low_ft is None or next_ft is None:
        return None
    between = view.altitude_ft > next_ft + (low_ft - next_ft) / 3.0
    return between & (np.abs(view.vertical_speed_ft_min) < LEVEL_FT_MIN)


def _long_enough(view: StationView, level: NDArray[np.bool_]) -> bool:
    return float(np.sum(weights_s(view.t_s, view.segment)[level])) >= _LEVELLED_S


def next_low_ft(scene: Scene, phase: Phase) -> float | None:
    """The lowest altitude of the leg that follows, on final that of the first step."""
    procedure = scene.procedure
    if phase is Phase.INBOUND and procedure.outbound is not None and not scene.attempt.straight_in:
        return procedure.low_ft(Phase.OUTBOUND)
    if phase is Phase.OUTBOUND:
        return procedure.low_ft(Phase.COURSE_REVERSAL)
    if phase is Phase.COURSE_REVERSAL and procedure.has_intermediate:
        return procedure.low_ft(Phase.INTERMEDIATE)
    final = procedure.final
    if final is not None and final.step_down:
        return final.step_down[0].at_or_above_ft
    return procedure.low_ft(Phase.FINAL)


def counts(a_break: LimitBreak, tolerance: Tolerance) -> bool:
    """Whether it lasted as long as the standard asks for, and is more than the rounding of a log."""
    allowed_ft = (tolerance.below if a_break.side == "below" else tolerance.above) or 0.0
    lasted_s = (a_break.end - a_break.start).total_seconds()
    return lasted_s >= tolerance.held_s and a_break.depth_ft - allowed_ft >= _ROUNDING_FT


def allowed(tolerance: Tolerance) -> limits.Tolerance:
    """The standard's tolerance as the measures take it."""
    # A side without a tolerance in the standard is not judged at all: no break is that deep.
    below_ft = tolerance.below if tolerance.below is not None else np.inf
    above_ft = tolerance.above if tolerance.above is not None else np.inf
    return limits.Tolerance(below_ft=below_ft, above_ft=above_ft)


def of_break(
    case: Case, tolerance: Tolerance, phase: Phase, a_break: LimitBreak, variant: str, facts: dict[str, str]
) -> Assessment:
    """The altitude reached against the limit with its tolerance."""
    below = a_break.side == "below"
    allowed_ft = (tolerance.below if below else tolerance.above) or 0.0
    sign = -1.0 if below else 1.0
    excess_ft = a_break.depth_ft - allowed_ft
    sure_ft = float("nan") if a_break.depth_uncertainty_ft is None else a_break.depth_uncertainty_ft
    at_s = case.t_s(a_break.deepest)
    value_ft = a_break.limit_ft + sign * a_break.depth_ft
    return Assessment(
        tolerance=tolerance,
        outcome=guarded(excess_ft, sure_ft),
        phase=phase,
        variant=variant,
        value=value_ft,
        limit=a_break.limit_ft + sign * allowed_ft,
        unit="ft",
        excess=excess_ft,
        uncertainty=sure_ft,
        start_s=case.t_s(a_break.start),
        end_s=case.t_s(a_break.end),
        at_s=at_s,
        facts={
            "value": feet(value_ft),
            "depth": feet(a_break.depth_ft),
            "published": feet(a_break.limit_ft, exact=True),
            "allowed": feet(allowed_ft, exact=True),
            "sure": feet_sure(sure_ft),
        }
        | case.place(at_s)
        | facts,
    )
