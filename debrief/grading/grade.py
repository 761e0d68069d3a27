"""The grade: every item of the standard, and what they add up to.

Owns      ``grade``: from assessments to items and one result, all must pass or by weights; brief excursions.
Not here  verdicts (``rules``); whether a pilot passes is for an examiner, who saw more than a log shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from debrief.grading.assessment import Assessment
from debrief.grading.sentences import item_name
from debrief.grading.standard import Excursion, Standard
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
_WORTH = {"satisfactory": 1.0, "marginal": 1.0, "unsatisfactory": 0.0}  # within the uncertainty is within
_NAMED = 6  # items that could not be judged, for one reason: more are only counted
_ADVISORY = mark("advisory: the result does not depend on it")


def grade(assessments: Iterable[Assessment], standard: Standard | None = None) -> Grade:
    """Add up a standard's items.

    Where all must pass: unsatisfactory where one that the standard requires was exceeded or not flown; not assessable
    where none was, but a required one could not be observed; satisfactory otherwise, marginal items named. By weights:
    satisfactory or not where the share earned says so whatever the unseen items would have shown, else not assessable.
    A brief excursion, where the standard knows one, is marginal. Without a standard all must pass.
    """
    judged = [a for a in assessments if a.rule != "log_quality"]
    excursion = standard.excursion if standard is not None else None
    items = tuple(_item(assessment, excursion) for assessment in judged)
    pass_share = standard.pass_share if standard is not None else None
    if pass_share is not None:
        return _by_weights(items, pass_share)
    return _all_must_pass(items)


def _all_must_pass(items: tuple[GradeItem, ...]) -> Grade:
    failed = [i for i in items if i.required and i.result == "unsatisfactory"]
    unseen = [i for i in items if i.required and not i.may_be_unseen and i.result == "not assessable"]
    marginal = [i for i in items if i.result == "marginal"]
    advised = [i for i in items if i.result == "unsatisfactory"]
    if failed:
        reason = tr("Outside the standard: {items}.", items=_names(failed))
        return Grade(result="unsatisfactory", items=items, reason=reason)
    if unseen or not items:
        return Grade(result="not assessable", items=items, reason=_why_unseen(unseen))
    if marginal:
        reason = tr(
            "Within the standard as far as the log can tell; marginal: {items}.", items=_names(marginal)
        )
    elif advised:
        reason = tr("Within the standard; to improve: {items}.", items=_names(advised))
    else:
        reason = tr("Every item that was judged is within the standard.")
    return Grade(result="satisfactory", items=items, reason=reason)


def _by_weights(items: tuple[GradeItem, ...], pass_share: float) -> Grade:
    required = [i for i in items if i.required]
    seen = [i for i in required if i.worth is not None]
    unseen = [i for i in required if i.worth is None and not i.may_be_unseen]
    earned = sum(i.weight * (i.worth or 0.0) for i in seen)
    weighed = sum(i.weight for i in seen)
    open_weight = sum(i.weight for i in unseen)
    share = earned / weighed if weighed else None
    lost = [i for i in seen if i.worth != 1.0]
    result: Literal["satisfactory", "unsatisfactory", "not assessable"]
    if share is not None and earned >= pass_share * (weighed + open_weight):
        result = "satisfactory"
    elif share is not None and earned + open_weight < pass_share * (weighed + open_weight):
        result = "unsatisfactory"
    else:
        return Grade(
            result="not assessable",
            items=items,
            reason=_why_unseen(unseen),
            share=share,
            pass_share=pass_share,
        )
    shares = {"share": f"{100 * share:.0f}", "asked": f"{100 * pass_share:.0f}"}
    reason = (
        tr("{share} % of the weights earned, {asked} % asked; lost on {items}.", items=_names(lost), **shares)
        if lost
        else tr("{share} % of the weights earned, {asked} % asked.", **shares)
    )
    return Grade(result=result, items=items, reason=reason, share=share, pass_share=pass_share)


def _why_unseen(unseen: Sequence[GradeItem]) -> str:
    if not unseen:
        return tr("Nothing was judged.")
    reasons = {item.reason for item in unseen}
    if len(unseen) > _NAMED and len(reasons) == 1:  # that of the log
        return tr("{count} items could not be judged: {reason}.", count=len(unseen), reason=unseen[0].reason)
    reason = tr("{items} could not be judged: {reason}.", items=_names(unseen), reason=unseen[0].reason)
    return reason[:1].upper() + reason[1:]


def _names(items: Iterable[GradeItem]) -> str:
    names = dict.fromkeys(item.item for item in items)
    return "; ".join(within(name) for name in names)  # a name may hold a comma


def _item(assessment: Assessment, excursion: Excursion | None) -> GradeItem:
    tolerance = assessment.tolerance
    result = _RESULTS[assessment.outcome]
    worth = _WORTH.get(result)
    reasons = [assessment.reason] if assessment.reason else []
    if excursion is not None and is_brief(assessment, excursion):
        result, worth = "marginal", excursion.worth
        seconds = f"{_lasted_s(assessment):.0f}"
        reasons.append(tr("a brief excursion of {seconds} s, promptly corrected", seconds=seconds))
    if not tolerance.required:
        reasons.append(tr(_ADVISORY))
    return GradeItem(
        item=item_name(assessment),
        result=result,
        value=assessment.value,
        limit=assessment.limit,
        unit=assessment.unit,
        margin=None if assessment.excess is None else 0.0 - assessment.excess,
        source=str(tolerance.source),
        reason="; ".join(reasons),
        rule=assessment.rule,
        phase=assessment.phase,
        required=tolerance.required,
        may_be_unseen=tolerance.may_be_unseen,
        weight=tolerance.weight,
        worth=worth,
    )


def is_brief(assessment: Assessment, excursion: Excursion) -> bool:
    """Whether a limit was passed so briefly, so little and so seldom that the standard lets it count as marginal."""
    if assessment.outcome != "exceeded" or assessment.rule not in excursion.rules:
        return False
    if assessment.excess is None or assessment.start_s is None or assessment.end_s is None:
        return False
    return (
        assessment.times <= excursion.times
        and _lasted_s(assessment) <= excursion.seconds
        and assessment.excess <= excursion.depth * assessment.tolerance.serious
    )


def _lasted_s(assessment: Assessment) -> float:
    return (assessment.end_s or 0.0) - (assessment.start_s or 0.0)
