"""From a debrief to the row of a table: which attempt counts, its items, the least margin, the log's quality.

Owns      the choice that the standard asks for, and what is told of a log in one word.
Not here  verdicts and results (``grading``), flags (``signs``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from debrief.checkride.model import MARGINAL, NOT_ASSESSABLE, SATISFACTORY, UNSATISFACTORY, Item, Row
from debrief.grading import Standard
from debrief.result import Attempt, GradeItem, Result, TrackInfo

_RANK = {UNSATISFACTORY: 0, NOT_ASSESSABLE: 1, SATISFACTORY: 2}
_FAIR_INTERVAL_S = 5.0
_FAIR_GAP_S = 10.0
_FAIR_SHARE = 0.9  # of the samples that could be used
_DIGITS = 6  # of a number in the results


def counted(result: Result, standard: Standard, blank: Row) -> Row:
    """The row of a flight that could be debriefed."""
    row = replace(
        blank,
        procedure=result.procedure.name,
        procedure_file=result.procedure.file,
        procedure_sha256=result.procedure.sha256,
        recorded=result.track.start.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        attempts=len(result.attempts),
        way=standard.adding.way if standard.adding is not None else "all must pass",
        pass_share=standard.pass_share,
    )
    if not result.attempts:
        reason = " ".join(result.warnings) or "No approach was found."
        return replace(
            row, result=NOT_ASSESSABLE, reason=reason, log_quality=quality(result.track, (), standard)
        )
    chosen = choose(result.attempts, standard)
    told = chosen[0]
    items = tuple(item for attempt in chosen for item in _items(attempt))
    word = quality(result.track, chosen, standard)
    row = replace(
        row,
        attempt=told.number,
        result=told.grade.result,
        reason=told.grade.reason,
        first_cause=_first_cause(told),
        margin=_least_margin(items, standard),
        log_quality=word,
        items=items,
    )
    if word == "poor" and row.result != SATISFACTORY:
        reason = "The log is too poor to fail anybody by: " + _why_poor(result.track, chosen, standard)
        return replace(row, result=NOT_ASSESSABLE, reason=reason)
    return row


def choose(attempts: Sequence[Attempt], standard: Standard) -> tuple[Attempt, ...]:
    """The attempts that count, the one that decides the result first."""
    which = standard.counting_attempt
    if which == "first":
        return (attempts[0],)
    if which == "last":
        return (attempts[-1],)
    ordered = sorted(attempts, key=lambda attempt: _standing(attempt, standard))
    return (ordered[-1],) if which == "best" else tuple(ordered)


def _standing(attempt: Attempt, standard: Standard) -> tuple[int, float, float, int]:
    """How good an attempt is: its result, then what it earned, then its least margin, then the earlier one."""
    grade = attempt.grade
    margin = _least_margin(_items(attempt), standard)
    return (
        _RANK[grade.result],
        grade.share if grade.share is not None else 0.0,
        margin if margin is not None else 0.0,
        -attempt.number,
    )


def _items(attempt: Attempt) -> tuple[Item, ...]:
    return tuple(
        Item(
            item=item.item,
            value=rounded(item.value),
            limit=rounded(item.limit),
            unit=item.unit,
            margin=rounded(item.margin),
            verdict=item.result,
            attempt=attempt.number,
            rule=item.rule,
            phase=item.phase,
            required=item.required,
            may_be_unseen=item.may_be_unseen,
            weight=item.weight,
            worth=item.worth,
            reason=item.reason or _told(attempt, item),
            source=item.source,
        )
        for item in attempt.grade.items
    )


def _told(attempt: Attempt, item: GradeItem) -> str:
    """What the findings say of an item that was not met and has no number to show for it."""
    if item.value is not None or item.result not in (UNSATISFACTORY, MARGINAL):
        return ""
    own = [f.message for f in attempt.findings if (f.rule, f.phase) == (item.rule, item.phase)]
    return " ".join(dict.fromkeys(own))


def rounded(value: float | None) -> float | None:
    """To six digits: more a log never knows, and the last bits depend on the machine.

    >>> rounded(3523.101652784859), rounded(None)
    (3523.1, None)
    """
    return None if value is None else float(f"{value:.{_DIGITS}g}")


def _least_margin(items: Sequence[Item], standard: Standard) -> float | None:
    """The least margin of the required items, each in the steps in which its rule counts how serious it is."""
    steps: dict[tuple[str, str | None, str | None], float] = {
        (t.rule, phase, t.unit): t.serious for t in standard.rule for phase in (*t.phases, None)
    }
    margins = [
        item.margin
        / steps.get((item.rule, item.phase, item.unit), steps.get((item.rule, None, item.unit), 1.0))
        for item in items
        if item.required and item.margin is not None
    ]
    return rounded(min(margins)) if margins else None


def _first_cause(attempt: Attempt) -> str | None:
    return attempt.causes[0].message if attempt.causes else None


def quality(track: TrackInfo, attempts: Sequence[Attempt], standard: Standard) -> str:
    """``good``, ``fair`` or ``poor``: of a poor log nobody fails."""
    if _why_poor(track, attempts, standard):
        return "poor"
    lost_s = max((_lost_s(track, attempt) for attempt in attempts), default=0.0)
    fair = (
        track.median_interval_s > _FAIR_INTERVAL_S
        or lost_s > _FAIR_GAP_S
        or track.samples_used < _FAIR_SHARE * track.samples
        or track.altitude_uncertainty_ft > standard.assessable.altitude_uncertainty_ft
    )
    return "fair" if fair else "good"


def _why_poor(track: TrackInfo, attempts: Sequence[Attempt], standard: Standard) -> str:
    asked = standard.assessable
    if track.median_interval_s > asked.longest_interval_s:
        return f"its samples are {track.median_interval_s:.3g} s apart, {asked.longest_interval_s:g} s are allowed."
    for attempt in attempts:
        long_s = (attempt.phases[-1].end - attempt.phases[0].start).total_seconds()
        seen = 1.0 - _lost_s(track, attempt) / max(long_s, 1.0)
        if seen < asked.observed_share:
            return f"only {100 * seen:.0f} % of attempt {attempt.number} was recorded, {100 * asked.observed_share:.0f} % are asked."
    return ""


def _lost_s(track: TrackInfo, attempt: Attempt) -> float:
    start, end = attempt.phases[0].start, attempt.phases[-1].end
    spans = [(max(gap.start, start), min(gap.end, end)) for gap in track.gaps]
    return sum(max(0.0, (last - first).total_seconds()) for first, last in spans)
