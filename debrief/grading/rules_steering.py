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
from debrief.result import NeedleChase, Steering, Weave

_OTHER = {"left": "right", "right": "left"}
#: Of the airspeed: in more nobody flies an approach to train it. Mark: common practice.
_STRONGEST_WIND = 0.5


def reverse_sensing(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """A turn away from the course, with the needle to one side and going out."""
    steering = case.measures.steering
    if steering is None:
        return
    turn = steering.turn_away
    if steering.why or turn is None:
        yield _none_found(tolerance, steering.why, steering.turn_uncertainty_deg)
        return
    start_s, end_s = case.t_s(turn.start), case.t_s(turn.end)
    yield _judged(
        case,
        tolerance,
        turn.phase,
        turn.turned_deg,
        _of_heading_deg(steering, turn.turned_deg),
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
        yield _none_found(tolerance, steering.why, steering.turn_uncertainty_deg)
        return
    yield _judged(
        case,
        tolerance,
        chase.phase,
        chase.swing_deg,
        _of_heading_deg(steering, chase.swing_deg),
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
    weave = steering.weave
    if steering.weave_why or weave is None:
        yield _none_found(tolerance, steering.weave_why, steering.weave_uncertainty_deg)
        return
    if weave.swing_deg <= tolerance.limit("at_most"):
        yield _within(tolerance)
        return
    by_heading = None if steering.by_track else steering.chase
    if by_heading is not None and _are_the_same(by_heading, weave):
        return
    start_s, end_s = case.t_s(weave.start), case.t_s(weave.end)
    course_deg = scored_course_deg(case.procedure, Phase(weave.phase))
    yield _judged(
        case,
        tolerance,
        weave.phase,
        weave.swing_deg,
        steering.weave_uncertainty_deg,
        (weave.start, weave.end),
        (start_s + end_s) / 2.0,
        {
            "In": in_phase(weave.phase),
            "course": course_name(
                case.procedure.inbound_course_deg if course_deg is None else course_deg,
                weave.phase,
                ndb=case.procedure.station.is_ndb,
            ),
            "swings": str(weave.swings),
            "period": seconds(weave.period_s),
            "aside": nautical_miles(weave.aside_nm),
        }
        | case.place(start_s),
    )


def _of_heading_deg(steering: Steering, size_deg: float) -> float | None:
    """How sure a turn or swing of that size is, as one of the heading. [deg]

    In a wind of a share w of the airspeed a track that turns by an angle belongs to a heading that turns by 1 - w to 1 + w
    times that.
    """
    sure_deg = steering.turn_uncertainty_deg
    if sure_deg is None or not steering.by_track:
        return sure_deg
    return float(np.hypot(sure_deg, _STRONGEST_WIND * size_deg))


def _are_the_same(chase: NeedleChase, weave: Weave) -> bool:
    """Whether the heading shows the same swings to be quicker than a needle can answer."""
    return chase.start < weave.end and weave.start < chase.end


def _none_found(tolerance: Tolerance, why: str, uncertainty_deg: float | None) -> Assessment:
    """Nothing of it was seen: within, where the log would have shown what the limit allows."""
    limit_deg = tolerance.limit("at_most")
    if not why and not (uncertainty_deg is not None and uncertainty_deg < limit_deg):
        why = tr(
            "the log's positions are too uneven to show turns of {limit}",
            limit=degrees(limit_deg, exact=True),
        )
    return _within(tolerance, why)


def _within(tolerance: Tolerance, why_not: str = "") -> Assessment:
    return Assessment(
        tolerance=tolerance,
        outcome="not assessable" if why_not else "within",
        limit=tolerance.limit("at_most"),
        unit="deg",
        reason=why_not,
    )


def _judged(
    case: Case,
    tolerance: Tolerance,
    phase: str,
    size_deg: float,
    uncertainty_deg: float | None,
    when: tuple[datetime, datetime],
    at_s: float,
    facts: dict[str, str],
    variant: str = "",
) -> Assessment:
    limit_deg = tolerance.limit("at_most")
    sure_deg = np.nan if uncertainty_deg is None else uncertainty_deg
    if size_deg <= limit_deg:
        return _none_found(tolerance, "", uncertainty_deg)
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
            "limit": degrees(limit_deg, exact=True),
            "sure": _tenth(max(sure_deg, 0.1)),
        },
    )


def _whole(angle_deg: float) -> str:
    return degrees(angle_deg, nearest=1.0)


def _tenth(angle_deg: float) -> str:
    return degrees(angle_deg, nearest=0.1)
