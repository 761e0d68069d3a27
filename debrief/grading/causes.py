"""Causes before effects: the chains that findings form, and what stands at their beginning.

Owns      when one finding may explain another, the chains, which cause comes first.
Not here  which rule leads to which (``links``), what to practise (``practice``), the findings (``findings``).

A link holds where the table has it, the cause begins before the effect is over, both lie in the same circuit,
the cause is at least as certain as the effect, and the flight bears it out. A finding that nothing explains is a
cause; the first is the earliest whose chain holds a grave finding, or the earliest of all where none is grave.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from debrief.grading.evidence import Situation, seconds_between
from debrief.grading.links import LINKS
from debrief.grading.practice import practice
from debrief.language import tr
from debrief.measures.scene import scene_of
from debrief.phases.model import Flight, FoundAttempt
from debrief.procedures.model import Phase
from debrief.result import Cause, Finding, Measures, Practice, Wind

_ABOUT_THE_LOG = "log_quality"
#: Two moments so close are one: a turn and its passage, a descent and the limit it breaks. [s]
_SAME_MOMENT_S = 10.0
#: Told over the stretch that was judged, and not from the moment it went wrong: what lies in it may explain it.
_TOLD_OVER_A_STRETCH = frozenset({"stabilised", "not_established", "reversal_distance"})
#: Told at the closest point, and on its way there long before.
_TOLD_AT_ITS_END = frozenset({"station_missed"})
#: Heights, which no turn or track explains, and parts of the procedure left out: told before what was flown badly.
_GRAVE = frozenset(
    {
        "altitude",
        "altitude_before_station",
        "minimum_descent_altitude",
        "step_down",
        "station_missed",
        "reversal_missing",
        "reversal_side",
    }
)
_REPEATED = frozenset({Phase.OUTBOUND.value, Phase.COURSE_REVERSAL.value, Phase.INTERMEDIATE.value})


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """What explains the findings of one attempt, and what to do about it."""

    causes: tuple[Cause, ...] = ()  # the first cause first
    practice: tuple[Practice, ...] = ()  # three at most, in the same order


@dataclass(frozen=True, slots=True)
class Step:
    """One finding leading to another, by their indexes."""

    cause: int
    effect: int
    sentence: str


def explain(
    flight: Flight,
    attempt: FoundAttempt,
    measures: Measures,
    wind: Wind | None,
    findings: Sequence[Finding],
    *,
    advisory: Collection[tuple[str, str | None]] = (),
) -> Why:
    """Put the findings of one attempt in the order in which they came about.

    Parameters
    ----------
    flight, attempt, measures, wind : the attempt, and what was measured on it.
    findings : as ``judge`` gives them, the gravest first. What the log did not show explains nothing, and is
        explained by nothing.
    advisory : the rules, with their units, on which the result does not depend.
    """
    if not findings:
        return Why()
    at = Situation(scene=scene_of(flight, attempt, wind), measures=measures)
    steps = steps_between(at, findings)
    chains = chains_of(findings, steps, advisory)
    return Why(
        causes=tuple(_cause(findings, root, effects, steps) for root, effects in chains),
        practice=practice(at, [findings[root] for root, _ in chains]),
    )


def steps_between(at: Situation, findings: Sequence[Finding]) -> list[Step]:
    """Every link that holds, in the table's order; none that would close a ring."""
    steps: list[Step] = []
    for link in LINKS:
        for c, cause in enumerate(findings):
            for e, effect in enumerate(findings):
                if c == e or not link.fits(cause, effect) or not _may_explain(at, cause, effect):
                    continue
                facts = link.evidence(at, cause, effect)
                if facts is None or c in _reached(e, steps):
                    continue
                number = str(effect.number)
                if effect.verdict == "marginal":
                    number = tr("{number}, marginal", number=number)
                said = tr(link.sentence, **facts, finding=number)
                steps.append(Step(c, e, said))
    return steps


def chains_of(
    findings: Sequence[Finding], steps: Sequence[Step], advisory: Collection[tuple[str, str | None]] = ()
) -> list[tuple[int, tuple[int, ...]]]:
    """Each finding that nothing explains, with all that follows from it; the first cause first.

    Certain ones before doubtful ones, chains with a grave finding before others, what decides the result before what is
    advisory only, and of these the earlier first.
    """
    explained = {step.effect for step in steps}
    chains = [
        (root, tuple(sorted(_reached(root, steps))))
        for root, finding in enumerate(findings)
        if root not in explained and finding.rule != _ABOUT_THE_LOG
    ]

    def order(chain: tuple[int, tuple[int, ...]]) -> tuple[bool, bool, bool, bool, float, int]:
        root, effects = chain
        told = [findings[number] for number in (root, *effects)]
        certain = [finding for finding in told if finding.verdict != "marginal"]
        start = findings[root].start
        return (
            not certain,
            not any(finding.rule in _GRAVE for finding in certain or told),
            all((finding.rule, finding.unit) in advisory for finding in certain or told),
            start is None,
            start.timestamp() if start is not None else 0.0,
            root,
        )

    return sorted(chains, key=order)


def _may_explain(at: Situation, cause: Finding, effect: Finding) -> bool:
    """Earlier, in the same circuit, and not less certain."""
    if cause.verdict == "marginal" and effect.verdict != "marginal":
        return False
    told = effect.end if effect.rule in _TOLD_OVER_A_STRETCH else effect.start
    earlier = seconds_between(cause.start, told) >= -_SAME_MOMENT_S
    # a pilot who means to fly straight in does so before the reversal is due
    meant = cause.rule == "reversal_missing" and effect.phase == Phase.INBOUND
    same_circuit = _circuit(at, cause) == _circuit(at, effect)
    return (earlier or meant or cause.rule in _TOLD_AT_ITS_END) and same_circuit


def _circuit(at: Situation, finding: Finding) -> int:
    """Which circuit of a racetrack a finding belongs to: the first before it, the last from the final on."""
    if finding.phase == Phase.INBOUND:
        return 0
    if finding.phase not in _REPEATED or finding.start is None:
        return at.scene.last_circuit
    t_s = at.t_s(finding.start) + 1e-3
    begun = [span.circuit for span in at.scene.attempt.spans if span.start_s <= t_s]
    return begun[-1] if begun else 0


def _reached(root: int, steps: Sequence[Step]) -> set[int]:
    """All that follows from a finding, itself not counted."""
    reached: set[int] = set()
    new = {root}
    while new:
        new = {step.effect for step in steps if step.cause in new} - reached
        reached |= new
    return reached


def _cause(findings: Sequence[Finding], root: int, effects: Sequence[int], steps: Sequence[Step]) -> Cause:
    """A cause with its evidence: what was found, then each step that followed from it, one an effect."""
    first = findings[root]
    told: dict[int, str] = {}
    here = [root]
    for index in here:  # grows as it goes: nearest effects first
        for step in steps:
            if step.cause == index and step.effect not in told:
                told[step.effect] = step.sentence
                here.append(step.effect)
    return Cause(
        rule=first.rule,
        phase=first.phase,
        start=first.start,
        message=" ".join([first.message, *told.values()]),
        leads_to=tuple(effects),
    )
