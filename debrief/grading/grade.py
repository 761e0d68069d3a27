"""The grade: every item of the standard, and what they add up to.

Owns      ``grade``: from assessments to items and one result.
Not here  verdicts (``rules``); whether a pilot passes is for an examiner, who saw more than a log shows.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from debrief.grading.assessment import Assessment
from debrief.grading.sentences import item_name
from debrief.language import mark, tr, within
from debrief.result import Grade, GradeItem

_ItemResult = Literal["satisfactory", "marginal", "unsatisfactory", "not assessable"]
_RESULTS: dict[str, _ItemResult] = {
    "within": "satisfactory",
    "marginal": "marginal",
    "exceeded": "unsatisfactory",
    "not flown": "unsatisfactory",
    "not assessable": "not assessable",
}
_ADVISORY = mark("advisory: the result does not depend on it")


def grade(assessments: Iterable[Assessment]) -> Grade:
    """Add up a standard's items.

    Unsatisfactory where one that the standard requires was exceeded or not flown; not assessable where none
    was, but a required one could not be observed; satisfactory otherwise, marginal items named.
    """
    items = [a for a in assessments if a.rule != "log_quality"]
    failed = [a for a in items if a.tolerance.required and a.outcome in ("exceeded", "not flown")]
    unseen = [
        a
        for a in items
        if a.tolerance.required and not a.tolerance.may_be_unseen and a.outcome == "not assessable"
    ]
    marginal = [a for a in items if a.outcome == "marginal"]
    graded = tuple(_item(assessment) for assessment in items)
    if failed:
        return Grade(
            result="unsatisfactory",
            items=graded,
            reason=tr("Outside the standard: {items}.", items=_names(failed)),
        )
    if unseen or not items:
        reason = (
            tr("{items} could not be judged: {reason}.", items=_names(unseen), reason=unseen[0].reason)
            if unseen
            else tr("Nothing was judged.")
        )
        return Grade(result="not assessable", items=graded, reason=reason[:1].upper() + reason[1:])
    if marginal:
        reason = tr(
            "Within the standard as far as the log can tell; marginal: {items}.", items=_names(marginal)
        )
        return Grade(result="satisfactory", items=graded, reason=reason)
    advised = [a for a in items if a.outcome in ("exceeded", "not flown")]
    if advised:
        reason = tr("Within the standard; to improve: {items}.", items=_names(advised))
        return Grade(result="satisfactory", items=graded, reason=reason)
    return Grade(
        result="satisfactory", items=graded, reason=tr("Every item that was judged is within the standard.")
    )


def _names(assessments: Iterable[Assessment]) -> str:
    names = dict.fromkeys(item_name(assessment) for assessment in assessments)
    return ", ".join(within(name) for name in names)


def _item(assessment: Assessment) -> GradeItem:
    reasons = [assessment.reason] if assessment.reason else []
    if not assessment.tolerance.required:
        reasons.append(tr(_ADVISORY))
    reason = "; ".join(reasons)
    return GradeItem(
        item=item_name(assessment),
        result=_RESULTS[assessment.outcome],
        value=assessment.value,
        limit=assessment.limit,
        unit=assessment.unit,
        margin=None if assessment.excess is None else 0.0 - assessment.excess,
        source=str(assessment.tolerance.source),
        reason=reason,
        rule=assessment.rule,
        phase=assessment.phase,
    )
