"""The published missed approach: its course, its turn and its altitude against what was flown.

Owns      the verdicts on those three.
Not here  where the climb begins and its rate (``rules_final``), measuring (measures.missed).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import degrees, feet, feet_sure, heading, side_name, side_of
from debrief.language import tr
from debrief.measures.missed import TOO_LOW_FT
from debrief.phases.model import Span
from debrief.procedures.model import MissedApproach, Phase
from debrief.result import MissedMeasures


def missed_course(
    case: Case, tolerance: Tolerance, span: Span, flown: MissedMeasures
) -> Iterator[Assessment]:
    """The track of the climb against the published course; the way of the turn that follows."""
    missed, course_deg = case.procedure.missed_approach, case.procedure.missed_approach_course_deg
    if missed is None or course_deg is None:
        return
    off_deg, sure_deg = flown.course_off_deg, flown.course_uncertainty_deg
    too_low = _turned_too_low(missed, flown)
    if too_low and (off_deg is None or sure_deg is None):  # turning all the way: there is no track to measure
        yield Assessment(
            tolerance=tolerance,
            outcome=guarded(_turned_below_ft(missed, flown) - TOO_LOW_FT, case.altitude_uncertainty_ft()),
            phase=Phase.MISSED_APPROACH,
            variant="only low turn",
            start_s=span.start_s,
            end_s=span.end_s,
            at_s=span.start_s,
            facts={
                "course": heading(course_deg),
                "sure": feet_sure(case.altitude_uncertainty_ft()),
            }
            | too_low,
        )
    elif off_deg is None or sure_deg is None:
        yield _not_assessable(tolerance, tr("too little was flown on its course before the turn"))
    else:
        limit_deg = tolerance.limit("within")
        excess_deg = abs(off_deg) - limit_deg
        too_low = too_low if excess_deg > 0.0 else {}
        yield Assessment(
            tolerance=tolerance,
            outcome=guarded(excess_deg, sure_deg),
            phase=Phase.MISSED_APPROACH,
            variant="low turn" if too_low else "course",
            value=abs(off_deg),
            limit=limit_deg,
            unit="deg",
            excess=excess_deg,
            uncertainty=sure_deg,
            start_s=span.start_s,
            end_s=span.end_s,
            at_s=span.start_s,
            facts={
                "value": degrees(abs(off_deg)),
                "side": side_of(off_deg),
                "limit": degrees(limit_deg, exact=True),
                "course": heading(course_deg),
                "sure": degrees(sure_deg),
            }
            | too_low,
        )
    if missed.turn is not None and flown.turn is not None and flown.turn != missed.turn:
        yield Assessment(
            tolerance=tolerance,
            outcome="exceeded",
            phase=Phase.MISSED_APPROACH,
            variant="turn",
            start_s=span.start_s,
            end_s=span.end_s,
            at_s=span.end_s,
            facts={
                "flown": side_name(flown.turn),
                "published": side_name(missed.turn),
                "course": heading(course_deg),
            },
        )


def _turned_too_low(missed: MissedApproach, flown: MissedMeasures) -> dict[str, str]:
    """Where the turn that left the course began, and where it was due; nothing where it was not begun too low."""
    due_ft, begun_ft = missed.turn_at_ft, flown.turn_altitude_ft
    below_ft = _turned_below_ft(missed, flown)
    if due_ft is None or begun_ft is None or not below_ft > TOO_LOW_FT:
        return {}
    return {"begun": feet(begun_ft), "due": feet(due_ft), "below": feet(below_ft)}


def _turned_below_ft(missed: MissedApproach, flown: MissedMeasures) -> float:
    """How far below its altitude the turn began; 0 where one of the two is not known."""
    due_ft, begun_ft = missed.turn_at_ft, flown.turn_altitude_ft
    return 0.0 if due_ft is None or begun_ft is None else due_ft - begun_ft


def missed_altitude(
    case: Case, tolerance: Tolerance, span: Span, flown: MissedMeasures
) -> Iterator[Assessment]:
    """The altitude levelled at after the climb against the published one."""
    missed = case.procedure.missed_approach
    if missed is None:
        return
    level_ft, sure_ft = flown.level_altitude_ft, case.altitude_uncertainty_ft()
    if level_ft is None:
        yield _not_assessable(tolerance, tr("no level flight was seen after the climb"))
        return
    low_ft, high_ft = missed.altitude.low_ft, missed.altitude.high_ft
    limits = []
    if low_ft is not None and tolerance.below is not None:
        limits.append((low_ft - tolerance.below - level_ft, "low", low_ft, tolerance.below))
    if high_ft is not None and tolerance.above is not None:
        limits.append((level_ft - high_ft - tolerance.above, "high", high_ft, tolerance.above))
    if not limits:
        return
    excess_ft, variant, published_ft, allowed_ft = max(limits)
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(excess_ft, sure_ft),
        phase=Phase.MISSED_APPROACH,
        variant=variant,
        value=level_ft,
        limit=published_ft - allowed_ft if variant == "low" else published_ft + allowed_ft,
        unit="ft",
        excess=excess_ft,
        uncertainty=sure_ft,
        start_s=span.start_s,
        end_s=span.end_s,
        at_s=None if flown.level_from is None else case.t_s(flown.level_from),
        facts={
            "value": feet(level_ft),
            "published": feet(published_ft, exact=True),
            "allowed": feet(allowed_ft, exact=True),
            "off": feet(abs(level_ft - published_ft)),
            "sure": feet_sure(sure_ft),
        },
    )


def _not_assessable(tolerance: Tolerance, reason: str) -> Assessment:
    return Assessment(
        tolerance=tolerance,
        outcome="not assessable",
        phase=Phase.MISSED_APPROACH,
        unit=tolerance.unit,
        reason=reason,
    )
