"""What was flown, in sentences: the words of page one.

Owns      the sentence about the log and each attempt, the order of the things to work on and to practise.
Not here  the findings' own words (grading), how it is set (``front``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial

from debrief.grading.words import pattern_name, side_name
from debrief.language import mark, sentence, tr, trn, within
from debrief.reports.scene import ABOUT_THE_LOG
from debrief.reports.words import bearing, clock, day, duration, number, phase_name, quantity, why_not_seen
from debrief.result import Attempt, Cause, Finding, Practice, Result
from debrief.tracks.altitude import ALTIMETER_CHECK_FT

_ENDINGS = mark(
    {
        "landing": "ending with the landing",
        "missed approach": "ending in a missed approach",
        "end of log": "still going on where the log ends",
        "broken off": "broken off",
        "gap": "lost in a gap of the log",
    }
)
_ENTRIES = mark(
    {
        "parallel": "with a course reversal ({pattern}) by a parallel entry",
        "offset": "with a course reversal ({pattern}) by an offset entry",
    }
)
NOTHING_TO_WORK_ON = mark("Every rule that could be judged was met.")
_NOT_JUDGED = mark("What could be judged met its rules; for the rest this says nothing.")
_COUNTS = mark(("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten"))
_TO_WORK_ON = 3
_ALIKE_LEGS = 3
_AS_MUCH_FT = 100.0  # worst altitudes of legs held to 50 ft. Mark: common practice.
_LISTED = 6  # attempts, each with its ending


def title(result: Result) -> str:
    """The head of page one: the procedure that was flown, or that none was."""
    return result.procedure.name if result.attempts else tr("No approach found")


def fit_sentence(result: Result) -> str:
    """How the procedure was chosen; "" where it was given, or where no approach was found."""
    procedure = result.procedure
    if procedure.chosen != "best fit" or not result.attempts:
        return ""
    if procedure.fit is None:
        return tr("No procedure was given: of those at hand this one fits the flight best.")
    return tr(
        "No procedure was given: of those at hand this one fits the flight best (fit {fit:.0f} %).",
        fit=procedure.fit * 100,
    )


def log_sentence(result: Result) -> str:
    """What the log holds."""
    track = result.track
    span = tr(
        "{day}, {start} to {end} UTC",
        day=day(track.start),
        start=clock(track.start),
        end=clock(track.end),
    )
    if track.start.date() != track.end.date():
        span = tr(
            "{first_day}, {start} to {last_day}, {end} UTC",
            first_day=day(track.start),
            start=clock(track.start),
            last_day=day(track.end),
            end=clock(track.end),
        )
    long = duration((track.end - track.start).total_seconds())
    return tr(
        "{span} ({long}, {samples} samples, {interval:.3g} s apart)",
        span=span,
        long=long,
        samples=number(track.samples),
        interval=track.median_interval_s,
    )


def flown_sentence(result: Result) -> str:
    """What was flown, in a sentence or two."""
    count = len(result.attempts)
    if count == 0:
        return no_approach_sentence(result)
    if count == 1:
        return tr("One approach was flown, {how}", how=attempt_sentence(result.attempts[0]))
    if count > _LISTED:
        first, last = _begun(result.attempts[0]), result.attempts[-1].phases[-1].end
        return tr(
            "{count} approaches were flown between {first} and {last} UTC.",
            count=_counted(count),
            first=clock(first),
            last=clock(last),
        )
    endings = [tr(_ENDINGS.get(attempt.ending, attempt.ending)) for attempt in result.attempts]
    listed = "; ".join(
        tr(
            "attempt {number} from {start}, {ending}",
            number=attempt.number,
            start=clock(_begun(attempt)),
            ending=ending,
        )
        for attempt, ending in zip(result.attempts, endings, strict=True)
    )
    return tr("{count} approaches were flown: {listed}.", count=_counted(count), listed=listed)


def no_approach_sentence(result: Result) -> str:
    """Why there is nothing to debrief."""
    return next(iter(result.warnings), tr("No approach was found in this log."))


def no_approach_advice(result: Result) -> str:
    """What to do where no approach was found."""
    if result.procedure.chosen == "best fit":
        return tr(
            "If an approach was flown, it was another one: name its procedure with --procedure, or give a folder of "
            "procedures with --procedures. The track is shown as it was logged, with the nearest procedure, "
            "{procedure}, in grey.",
            procedure=result.procedure.name,
        )
    return tr(
        "Was it another approach? Name its procedure with --procedure, or leave that out: then the one that fits best is "
        "taken. Was it this one? Then the log has to hold it from the station outbound to the final. The track is shown "
        "as it was logged, with {procedure} in grey.",
        procedure=result.procedure.name,
    )


def altitude_sentence(result: Result) -> str:
    """What the landing showed of the log's altitude, and what to do about it; "" where it agrees with the runway."""
    left_ft, measured_ft = result.track.altitude_left_ft, result.track.altitude_offset_ft
    if left_ft is None or measured_ft is None or abs(left_ft) <= ALTIMETER_CHECK_FT:
        return ""
    return tr(
        "On the runway the altitude of this log reads {off} too high, and every verdict on altitude allows for it: to "
        "take it out, run again with --altitude-offset-ft {offset:.0f}."
        if left_ft > 0
        else "On the runway the altitude of this log reads {off} too low, and every verdict on altitude allows for it: to "
        "take it out, run again with --altitude-offset-ft {offset:.0f}.",
        off=quantity(abs(left_ft), "ft"),
        offset=0.0 - measured_ft,
    )


def approach_sentence(attempt: Attempt) -> str:
    """One attempt of several, on its own page."""
    return tr("An approach {how}", how=attempt_sentence(attempt))


def _begun(attempt: Attempt) -> datetime:
    """When an attempt began: on the arc, where one was flown on the way in."""
    arc, first = attempt.measures.arc, attempt.phases[0].start
    return first if arc is None else min(arc.start, first)


def attempt_sentence(attempt: Attempt) -> str:
    """How one attempt went, from the measures that are known, and what of it was not seen."""
    parts = []
    start, end = _begun(attempt), attempt.phases[-1].end
    arc, arrived = attempt.measures.arc, attempt.measures.arrival
    if arc is not None:
        parts.append(
            tr(
                "by the DME arc, from {first} to {last} as seen from the station",
                first=bearing(arc.from_radial_deg),
                last=bearing(arc.to_radial_deg),
            )
        )
    elif arrived is not None and arrived.by_arc is False:
        parts.append(tr("without the published DME arc"))
    elif _went_straight_in(attempt):
        parts.append(tr("straight in"))
    held = attempt.measures.hold_before
    if held is not None:
        parts.append(trn("after a circuit of the hold", "after {count} circuits of the hold", held.circuits))
    reversal = attempt.measures.course_reversal
    if reversal is not None and reversal.pattern is not None:
        parts.append(_reversal(reversal.pattern, reversal.side, None if arrived is None else arrived.entry))
    elif reversal is not None and reversal.pattern_may_be:
        parts.append(tr("with a course reversal whose shape this log does not tell"))
    elif reversal is not None:
        parts.append(tr("with a course reversal of no known shape"))
    if attempt.measures.circuits > 1:
        parts.append(tr("in {count} circuits", count=attempt.measures.circuits))
    if reversal is not None and reversal.max_distance_nm is not None:
        parts.append(
            tr(
                "never farther than {distance} NM from the station",
                distance=number(reversal.max_distance_nm, 1),
            )
        )
    if attempt.wind is not None:
        wind = attempt.wind
        parts.append(
            tr(
                "in a wind from {direction} true at {speed} kt",
                direction=bearing(wind.from_true_deg),
                speed=number(wind.speed_kt),
            )
        )
    circled = attempt.measures.circling
    if circled is not None:
        parts.append(tr("circling to runway {ident}", ident=circled.runway))
    parts.append(tr(_ENDINGS.get(attempt.ending, attempt.ending)))
    parts.append(
        tr(
            "{start} to {end} UTC ({duration})",
            start=clock(start),
            end=clock(end),
            duration=duration((end - start).total_seconds()),
        )
    )
    return f"{', '.join(parts)}.{_not_seen(attempt)}"


def _went_straight_in(attempt: Attempt) -> bool:
    """Whether a final was flown without the way out and back, as far as all of it was observed."""
    measures = attempt.measures
    hidden = any(missing.why == "not observed" for missing in attempt.not_seen)
    return (
        measures.final is not None
        and measures.outbound is None
        and measures.course_reversal is None
        and not hidden
    )


def _reversal(pattern: str, side: str | None, entry: str | None) -> str:
    """Which reversal was flown; of a racetrack its entry, since a parallel one turns against it."""
    name = pattern_name(pattern)
    if pattern == "straight turn":
        if side is None:
            return tr("with a turn straight back in place of a course reversal")
        return tr(
            "with a turn straight back to the {side} in place of a course reversal", side=side_name(side)
        )
    if entry in _ENTRIES:
        return tr(_ENTRIES[entry], pattern=name)
    if side is None:
        return tr("with a course reversal ({pattern})", pattern=name)
    return tr("with a course reversal ({pattern}) to the {side}", pattern=name, side=side_name(side))


def _not_seen(attempt: Attempt) -> str:
    """The phases that cannot be shown, each with why."""
    names: dict[str, dict[str, None]] = {}
    for missing in sorted(
        attempt.not_seen, key=lambda one: one.why, reverse=True
    ):  # what was not observed first
        names.setdefault(why_not_seen(attempt, missing), {})[within(phase_name(missing.phase))] = None
    return "".join(
        " " + tr("{why}: {phases}.", why=sentence(why), phases=", ".join(phases))
        for why, phases in names.items()
    )


def _counted(count: int) -> str:
    return tr(_COUNTS[count]) if count < len(_COUNTS) else str(count)


def to_work_on(result: Result) -> list[tuple[Attempt, Finding]]:
    """The things to work on, three at most and one of a kind: what no other finding explains, first causes first.

    What followed from them is told with them. Those of attempts outside the standard stand before those of others.
    What a log does not show is nothing to work on in the air.
    """
    in_turn = sorted(
        (
            (attempt.grade.result != "unsatisfactory", order, attempt.number, attempt, finding)
            for attempt in result.attempts
            for order, finding in enumerate(_unexplained(attempt))
        ),
        key=lambda entry: entry[:3],
    )
    chosen: dict[str, tuple[Attempt, Finding]] = {}
    for *_, attempt, finding in in_turn:
        chosen.setdefault(finding.rule, (attempt, finding))
    rest = [(attempt, finding) for *_, attempt, finding in in_turn]
    first = list(chosen.values())
    first += [entry for entry in rest if entry not in first]
    return first[:_TO_WORK_ON]


def _unexplained(attempt: Attempt) -> list[Finding]:
    """The findings that are causes, in their order; of an older result, which tells none, all by their weight."""
    found = [finding for finding in attempt.findings if finding.rule != ABOUT_THE_LOG]
    causes = [_finding_of(attempt, cause) for cause in attempt.causes]
    return [finding for finding in causes if finding is not None] or found


def nothing_to_work_on(result: Result) -> str:
    """What is said where there is nothing to work on: that all was well only where it was seen."""
    if any(attempt.grade.result == "not assessable" for attempt in result.attempts):
        return tr(_NOT_JUDGED)
    return tr(NOTHING_TO_WORK_ON)


def work_heading(count: int) -> str:
    """What stands over the things to work on."""
    names = {
        0: tr("Nothing to work on was found"),
        1: tr("One thing to work on"),
        2: tr("Two things to work on"),
    }
    return names.get(count, tr("Three things to work on"))


def work_sentences(result: Result, attempt: Attempt, finding: Finding) -> tuple[str, str]:
    """One thing to work on: what it is, and what followed from it with what to do next time."""
    lead = tr("Attempt {number}.", number=attempt.number) + " " if len(result.attempts) > 1 else ""
    followed = what_followed(attempt, finding)
    marginal = finding.verdict == "marginal"
    if followed and finding is first_cause(attempt):
        lead += (tr("First cause, marginal:") if marginal else tr("First cause:")) + " "
    elif marginal:
        lead += tr("Marginal:") + " "
    more = [
        followed,
        *_effects_in_full(result, attempt, finding),
        *_again(result, attempt, finding),
        finding.advice,
        also_in(result, attempt, finding),
    ]
    return lead + finding.message, " ".join(text for text in more if text)


def went_well(result: Result) -> list[str]:
    """What went well; where there are several attempts each sentence with its own, and of each one in turn."""
    several = len(result.attempts) > 1
    told = [
        (rank, attempt.number, text)
        for attempt in result.attempts
        for rank, text in enumerate(attempt.went_well)
    ]
    return [
        tr("Attempt {number}: {text}", number=number, text=text) if several else text
        for _, number, text in sorted(told)
    ]


def first_cause(attempt: Attempt) -> Finding | None:
    """The finding that the first cause is; ``None`` where there is none (or the result is an older one)."""
    return _finding_of(attempt, attempt.causes[0]) if attempt.causes else None


def _cause_of(attempt: Attempt, finding: Finding) -> Cause | None:
    return next((cause for cause in attempt.causes if _finding_of(attempt, cause) is finding), None)


def _finding_of(attempt: Attempt, cause: Cause) -> Finding | None:
    alike = (finding for finding in attempt.findings if finding.rule == cause.rule)
    return next((finding for finding in alike if cause.message.startswith(finding.message)), None)


def what_followed(attempt: Attempt, finding: Finding) -> str:
    """How other findings followed from a cause, in sentences; "" where none did."""
    cause = _cause_of(attempt, finding)
    if cause is None or not cause.leads_to:
        return ""
    return cause.message.removeprefix(finding.message).strip()


def _effects_in_full(result: Result, attempt: Attempt, finding: Finding) -> list[str]:
    """What followed from a cause with its numbers, where page one has room for it."""
    cause = _cause_of(attempt, finding)
    effects = () if cause is None else cause.leads_to
    if len(effects) + len(to_work_on(result)) > _TO_WORK_ON:
        return []
    told = (attempt.findings[index] for index in effects)
    return [
        tr("Finding {number}: {message}", number=effect.number, message=effect.message) for effect in told
    ]


def _again(result: Result, attempt: Attempt, finding: Finding) -> list[str]:
    """Where else in the attempt the same was not met, which page one tells only here; in full what weighs more."""
    shown = [other for of, other in to_work_on(result) if of is attempt]
    causes = [cause for cause in map(partial(_cause_of, attempt), shown) if cause is not None]
    followed = [attempt.findings[index] for cause in causes for index in cause.leads_to]
    told = {other.number for other in (*shown, *followed)}
    alike = [f for f in attempt.findings if f.rule == finding.rule and _below(f) == _below(finding)]
    again = [other for other in alike if other.number not in told]
    said = []
    if again:
        numbers = ", ".join(str(other.number) for other in again)
        said.append(
            trn(
                "The same in finding {numbers}.",
                "The same in findings {numbers}.",
                len(again),
                numbers=numbers,
            )
        )
    if (
        again and again[0].number < finding.number and len(followed) <= _TO_WORK_ON
    ):  # else there is no room for it
        gravest = again[0]
        said.append(tr("Finding {number}: {message}", number=gravest.number, message=gravest.message))
    if finding.rule == "altitude" and _by_as_much(alike):
        said.append(
            tr(
                "The altitude was off by about as much on three legs or more: check the altimeter setting first, and whether "
                "the log holds heights above mean sea level."
            )
        )
    return said


def _by_as_much(findings: Sequence[Finding]) -> bool:
    """Whether altitudes on three legs, or more, were off by the same, as an altimeter set wrongly makes them."""
    off_ft = sorted(
        entry.limit - entry.value for entry in findings if entry.limit is not None and entry.value is not None
    )
    legs_alike = zip(off_ft, off_ft[_ALIKE_LEGS - 1 :], strict=False)
    return any(most - least <= _AS_MUCH_FT for least, most in legs_alike)


def _below(finding: Finding) -> bool:
    return finding.value is not None and finding.limit is not None and finding.value < finding.limit


def to_practise(result: Result) -> list[Practice]:
    """An exercise for each of the things to work on, in their order; none twice.

    Where there are several attempts each says of which it is: their findings have the same numbers.
    """
    chosen: dict[str, Practice] = {}
    several = len(result.attempts) > 1
    for attempt, finding in to_work_on(result):
        for practice in attempt.practice:
            if practice.finding == finding.number:
                what = practice.what
                if several:
                    what = tr("Attempt {number}: {text}", number=attempt.number, text=what)
                chosen.setdefault(practice.what, replace(practice, what=what))
    return list(chosen.values())


def also_in(result: Result, attempt: Attempt, finding: Finding) -> str:
    """Where else the same rule was not met, in words; "" where nowhere."""
    others = [
        str(other.number)
        for other in result.attempts
        if other.number != attempt.number and any(entry.rule == finding.rule for entry in other.findings)
    ]
    if not others:
        return ""
    return trn(
        "Also in attempt {attempts}.", "Also in attempts {attempts}.", len(others), attempts=", ".join(others)
    )
