"""What was flown, in sentences: the words of page one.

Owns      the sentence about the log and each attempt, the order of the things to work on and to practise.
Not here  the findings' own words (grading), how it is set (``front``).
"""

from __future__ import annotations

from debrief.grading.words import pattern_name, side_name
from debrief.language import mark, sentence, tr, trn, within
from debrief.reports.scene import ABOUT_THE_LOG
from debrief.reports.words import bearing, clock, day, duration, number, phase_name, why_not_seen
from debrief.result import Attempt, Finding, Practice, Result

_ENDINGS = mark(
    {
        "landing": "ending with the landing",
        "missed approach": "ending in a missed approach",
        "end of log": "still going on where the log ends",
        "broken off": "broken off",
        "gap": "lost in a gap of the log",
    }
)
NOTHING_TO_WORK_ON = mark("Every rule that could be judged was met.")
_COUNTS = mark(("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten"))
_TO_WORK_ON = 3
_TO_PRACTISE = 3
_LISTED = 6  # attempts, each with its ending


def title(result: Result) -> str:
    """The head of page one."""
    return result.procedure.name


def fit_sentence(result: Result) -> str:
    """How the procedure was chosen; "" where it was given."""
    procedure = result.procedure
    if procedure.chosen != "best fit":
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
        "{span} ({long}, {samples} samples, one each {interval:g} s)",
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
        first, last = result.attempts[0].phases[0].start, result.attempts[-1].phases[-1].end
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
            start=clock(attempt.phases[0].start),
            ending=ending,
        )
        for attempt, ending in zip(result.attempts, endings, strict=True)
    )
    return tr("{count} approaches were flown: {listed}.", count=_counted(count), listed=listed)


def no_approach_sentence(result: Result) -> str:
    """Why there is nothing to debrief."""
    told = next(iter(result.warnings), tr("No approach was found in this log."))
    return f"{told} {tr('The track is shown as it was logged.')}"


def approach_sentence(attempt: Attempt) -> str:
    """One attempt of several, on its own page."""
    return tr("An approach {how}", how=attempt_sentence(attempt))


def attempt_sentence(attempt: Attempt) -> str:
    """How one attempt went, from the measures that are known, and what of it was not seen."""
    parts = []
    start, end = attempt.phases[0].start, attempt.phases[-1].end
    reversal = attempt.measures.course_reversal
    if reversal is not None and reversal.pattern is not None:
        pattern = pattern_name(reversal.pattern)
        parts.append(
            tr("with a course reversal ({pattern})", pattern=pattern)
            if reversal.side is None
            else tr(
                "with a course reversal ({pattern}) to the {side}",
                pattern=pattern,
                side=side_name(reversal.side),
            )
        )
    elif reversal is not None:
        parts.append(tr("with a course reversal of no known shape"))
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


def _not_seen(attempt: Attempt) -> str:
    """The phases that cannot be shown, each with why."""
    said = ""
    for why in ("not observed", "not flown"):
        names = dict.fromkeys(
            within(phase_name(missing.phase)) for missing in attempt.not_seen if missing.why == why
        )
        if names:
            said += " " + tr("{why}: {phases}.", why=sentence(why_not_seen(why)), phases=", ".join(names))
    return said


def _counted(count: int) -> str:
    return tr(_COUNTS[count]) if count < len(_COUNTS) else str(count)


def to_work_on(result: Result) -> list[tuple[Attempt, Finding]]:
    """The things to work on first, three at most: the first causes, then the weightiest findings, one of a kind.

    Those of attempts outside the standard before those of others. Within an attempt the findings stand in the order
    of their weight. What a log does not show is nothing to work on in the air.
    """
    in_turn = sorted(
        (
            (0 if finding is first_cause(attempt) else finding.number, *_in_turn(attempt), attempt, finding)
            for attempt in result.attempts
            for finding in attempt.findings
            if finding.rule != ABOUT_THE_LOG
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


def _in_turn(attempt: Attempt) -> tuple[bool, int]:
    return attempt.grade.result != "unsatisfactory", attempt.number


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
    if finding is first_cause(attempt):
        lead += tr("First cause:") + " "
    more = [
        what_followed(attempt, finding),
        finding.advice,
        also_in(result, attempt, finding),
    ]
    return lead + finding.message, " ".join(text for text in more if text)


def went_well(result: Result) -> list[str]:
    """What went well, each sentence with its attempt where there are several."""
    several = len(result.attempts) > 1
    return [
        tr("Attempt {number}: {text}", number=attempt.number, text=text) if several else text
        for attempt in result.attempts
        for text in attempt.went_well
    ]


def first_cause(attempt: Attempt) -> Finding | None:
    """The finding that the first cause is; ``None`` where there is none (or the result is an older one)."""
    if not attempt.causes:
        return None
    cause = attempt.causes[0]
    alike = (finding for finding in attempt.findings if finding.rule == cause.rule)
    return next((finding for finding in alike if cause.message.startswith(finding.message)), None)


def what_followed(attempt: Attempt, finding: Finding) -> str:
    """How other findings followed from the first cause, in sentences; "" of any other finding."""
    if finding is not first_cause(attempt):
        return ""
    return attempt.causes[0].message.removeprefix(finding.message).strip()


def to_practise(result: Result) -> list[Practice]:
    """Three exercises at most, none twice: that of each attempt's first cause before that of any second one.

    In the order of the things to work on.
    """
    in_turn = sorted(
        (
            (order, *_in_turn(attempt), practice)
            for attempt in result.attempts
            for order, practice in enumerate(attempt.practice)
        ),
        key=lambda entry: entry[:3],
    )
    chosen: dict[str, Practice] = {}
    for *_, practice in in_turn:
        chosen.setdefault(practice.what, practice)
    return list(chosen.values())[:_TO_PRACTISE]


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
