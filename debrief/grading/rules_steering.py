"""Rules on steering by the needle: turned away from it (reverse sensing), and chasing it.

Owns      the verdicts on both, and when a log cannot tell.
Not here  finding them (measures.steering), the limits (the standard's file).

One verdict for the whole approach, on the greatest of each: a habit shows anywhere, and is told once.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import numpy as np

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import degrees, in_phase, seconds, side_name, told_apart
from debrief.language import tr

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
