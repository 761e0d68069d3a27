"""Rules on steering by the needle: turned away from it (reverse sensing), chasing it, and weaving along its course.

Owns      the verdicts on them, and when a log cannot tell.
Not here  finding them (measures.steering, measures.weaving), the limits (the standard's file).

One verdict for the whole approach, on the greatest of each: a habit shows anywhere, and is told once.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import numpy as np

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import (
    course_name,
    degrees,
    in_phase,
    nautical_miles,
    seconds,
    side_name,
    told_apart,
)
from debrief.language import tr
from debrief.measures.tracking import scored_course_deg
from debrief.procedures.model import Phase
from debrief.result import Weave

_OTHER = {"left": "right", "right": "left"}


def reverse_sensing(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """A turn away from the course, with the needle to one side and going out."""
    steering = case.measures.steering
    if steering is None:
        return
    turn = steering.turn_away
    if steering.why or turn is None:
        yield _none_found(case, tolerance)
        return
    start_s, end_s = case.t_s(turn.start), case.t_s(turn.end)
    yield _judged(
        case,
        tolerance,
        turn.phase,
        turn.turned_deg,
        (turn.start, turn.end),
        end_s,
        {
            "In": in_phase(turn.phase),
            "side": side_name(turn.side),
            "needle": side_name(_OTHER[turn.side]),
            "before": degrees(turn.deviation_before_deg),
            "after": degrees(turn.deviation_after_deg),
        }
        | case.place(start_s),
        variant="pointer" if case.procedure.station.kind.startswith("NDB") else "",
    )


def needle_chasing(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Swings from side to side with a short period, or in the cone."""
    steering = case.measures.steering
    if steering is None:
        return
    chase = steering.chase
    if steering.why or chase is None:
        yield _none_found(case, tolerance)
        return
    yield _judged(
        case,
        tolerance,
        chase.phase,
        chase.swing_deg,
        (chase.start, chase.end),
        (case.t_s(chase.start) + case.t_s(chase.end)) / 2.0,
        {
            "In": in_phase(chase.phase),
            "swings": str(chase.swings),
            "period": seconds(chase.period_s),
        }
        | case.place(case.t_s(chase.start)),
        variant="cone" if chase.in_cone else "",
    )


def weaving(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Swings of the ground track through the course, by the positions alone; not told again where it is chasing."""
    steering = case.measures.steering
    if steering is None:
        return
    weave, limit_deg = steering.weave, tolerance.limit("at_most")
    sure_deg = np.nan if steering.weave_uncertainty_deg is None else steering.weave_uncertainty_deg
    reason = steering.weave_why
    if not reason and weave is None and not sure_deg < limit_deg:
        reason = tr("the log's positions are too uneven to show turns of {limit}", limit=degrees(limit_deg))
    if reason or weave is None or weave.swing_deg <= limit_deg:
        yield Assessment(
            tolerance=tolerance,
            outcome="not assessable" if reason else "within",
            limit=limit_deg,
            unit="deg",
            reason=reason,
        )
        return
    if _is_the_chase(case, weave):
        return
    start_s, end_s = case.t_s(weave.start), case.t_s(weave.end)
    course_deg = scored_course_deg(case.procedure, Phase(weave.phase))
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(weave.swing_deg - limit_deg, sure_deg),
        phase=weave.phase,
        value=weave.swing_deg,
        limit=limit_deg,
        unit="deg",
        excess=weave.swing_deg - limit_deg,
        uncertainty=sure_deg,
        start_s=start_s,
        end_s=end_s,
        at_s=(start_s + end_s) / 2.0,
        facts={
            "In": in_phase(weave.phase),
            "course": course_name(
                case.procedure.inbound_course_deg if course_deg is None else course_deg, weave.phase
            ),
            "swings": str(weave.swings),
            "period": seconds(weave.period_s),
            "aside": nautical_miles(weave.aside_nm),
            "value": told_apart(weave.swing_deg, limit_deg, _whole, _tenth),
            "limit": _whole(limit_deg),
            "sure": _tenth(max(sure_deg, 0.1)),
        }
        | case.place(start_s),
    )


def _is_the_chase(case: Case, weave: Weave) -> bool:
    """Whether the heading shows the same swings to be quicker than a needle can answer."""
    steering = case.measures.steering
    chase = None if steering is None else steering.chase
    return chase is not None and chase.start < weave.end and weave.start < chase.end


def _none_found(case: Case, tolerance: Tolerance) -> Assessment:
    """Nothing of it was seen: within, where the log would have shown what the limit allows."""
    steering = case.measures.steering
    limit_deg = tolerance.limit("at_most")
    reason = steering.why if steering is not None else ""
    if not reason and steering is not None and not _shows(steering.turn_uncertainty_deg, limit_deg):
        reason = tr("the log's positions are too uneven to show turns of {limit}", limit=degrees(limit_deg))
    return Assessment(
        tolerance=tolerance,
        outcome="not assessable" if reason else "within",
        limit=limit_deg,
        unit="deg",
        reason=reason,
    )


def _shows(uncertainty_deg: float | None, limit_deg: float) -> bool:
    return uncertainty_deg is not None and uncertainty_deg < limit_deg


def _judged(
    case: Case,
    tolerance: Tolerance,
    phase: str,
    size_deg: float,
    when: tuple[datetime, datetime],
    at_s: float,
    facts: dict[str, str],
    variant: str = "",
) -> Assessment:
    steering = case.measures.steering
    limit_deg = tolerance.limit("at_most")
    sure_deg = steering.turn_uncertainty_deg if steering is not None else None
    sure_deg = np.nan if sure_deg is None else sure_deg
    if size_deg <= limit_deg:
        return _none_found(case, tolerance)
    return Assessment(
        tolerance=tolerance,
        outcome=guarded(size_deg - limit_deg, sure_deg),
        phase=phase,
        variant=variant,
        value=size_deg,
        limit=limit_deg,
        unit="deg",
        excess=size_deg - limit_deg,
        uncertainty=sure_deg,
        start_s=case.t_s(when[0]),
        end_s=case.t_s(when[1]),
        at_s=at_s,
        facts=facts
        | {
            "value": told_apart(size_deg, limit_deg, _whole, _tenth),
            "limit": _whole(limit_deg),
            "sure": _tenth(max(sure_deg, 0.1)),
        },
    )


def _whole(angle_deg: float) -> str:
    return degrees(angle_deg, nearest=1.0)


def _tenth(angle_deg: float) -> str:
    return degrees(angle_deg, nearest=0.1)
