"""One rule held against one flight: what was measured, what was allowed, and the verdict.

Owns      ``Assessment``, the guarded verdict, and what comes first among several.
Not here  measuring (measures), which rule asks what (``rules``), the sentences (``words``).
Source    Guarded rejection: JCGM 106:2012, 8.3.3 (the clause number: memory). Mark: seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from debrief.grading.standard import Tolerance

Outcome = Literal["within", "marginal", "exceeded", "not flown", "not assessable"]

#: From the least to the worst; what failed outranks what could not be seen.
_RANK = {"within": 0, "not assessable": 1, "marginal": 2, "not flown": 3, "exceeded": 3}
#: Beyond this many times ``serious`` a finding weighs no more.
_MOST_SERIOUS = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """A verdict and everything that is said about it.

    ``excess`` is how far the value lies beyond the limit, in the unit; negative within it. ``facts`` are
    texts ready to stand in a sentence, ``variant`` chooses the sentence among those of the rule.
    """

    tolerance: Tolerance
    outcome: Outcome
    phase: str | None = None
    variant: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    excess: float | None = None
    uncertainty: float | None = None
    start_s: float | None = None
    end_s: float | None = None
    at_s: float | None = None  # the worst moment: its place is shown
    facts: Mapping[str, str] = field(default_factory=dict)
    reason: str = ""  # in plain words, where it is not assessable
    kind: str = ""  # of which kind among those of its rule, in words: kinds are never counted together
    times: int = 1  # how many stretches broke the rule; the worst of them is told

    def __post_init__(self) -> None:
        object.__setattr__(self, "facts", MappingProxyType(dict(self.facts)))

    @property
    def rule(self) -> str:
        """The rule's name."""
        return self.tolerance.rule

    @property
    def is_finding(self) -> bool:
        """Whether the rule was not met, or may not have been."""
        return self.outcome in ("marginal", "exceeded", "not flown")

    @property
    def importance(self) -> float:
        """What to work on first: the rule's weight, more the farther beyond the limit."""
        steps = (self.excess or 0.0) / self.tolerance.serious
        return self.tolerance.weight * (1.0 + min(max(steps, 0.0), _MOST_SERIOUS))


def guarded(excess: float, uncertainty: float) -> Outcome:
    """Verdict on a value ``excess`` beyond its limit, known to ``uncertainty`` (half-width at 95 %).

    ``exceeded`` only beyond the uncertainty, ``marginal`` by less, ``within`` up to the limit itself.
    "not assessable" where either is not finite.

    >>> guarded(0.0, 5.0), guarded(4.0, 5.0), guarded(6.0, 5.0)
    ('within', 'marginal', 'exceeded')
    """
    if not (np.isfinite(excess) and np.isfinite(uncertainty)):
        return "not assessable"
    if excess <= 0.0:
        return "within"
    return "exceeded" if excess > uncertainty else "marginal"


def worst_of(assessments: Iterable[Assessment]) -> tuple[Assessment, ...]:
    """One for each rule, phase, unit and kind: the worst, with the number of those that broke the rule."""
    groups: dict[tuple[str, str | None, str | None, str], list[Assessment]] = {}
    for assessment in assessments:
        key = (assessment.rule, assessment.phase, assessment.tolerance.unit, assessment.kind)
        groups.setdefault(key, []).append(assessment)
    merged = []
    for group in groups.values():
        worst = max(group, key=lambda a: (_RANK[a.outcome], a.excess if a.excess is not None else -np.inf))
        merged.append(replace(worst, times=max(1, sum(a.is_finding for a in group))))
    return tuple(merged)
