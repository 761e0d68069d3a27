"""What was judged: findings, the grade, their causes, and what to practise."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

Verdict = Literal["exceeded", "marginal", "not flown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One rule held against the flight, where it was not met."""

    number: int  # stands in the pictures too
    rule: str
    phase: str | None
    start: datetime | None
    end: datetime | None
    value: float | None
    limit: float | None
    unit: str | None
    verdict: Verdict
    message: str  # one sentence a pilot understands
    advice: str  # one sentence: what to do next time
    why: str = ""  # one sentence: why it matters
    uncertainty: float | None = None  # of ``value``, half-width at 95 %
    source: str = ""  # of the limit
    latitude_deg: float | None = None  # where, for the pictures
    longitude_deg: float | None = None
    kind: str = ""  # in words, where the rule asks for several: which step, the side of circling


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeItem:
    """One thing the standard asks for."""

    item: str
    result: Literal["satisfactory", "marginal", "unsatisfactory", "not assessable"]
    value: float | None
    limit: float | None
    unit: str | None
    margin: float | None  # limit less value, in the unit; negative where passed
    source: str
    reason: str = ""
    rule: str = ""  # of those that findings name
    phase: str | None = None  # where the rule is held against one
    required: bool = True  # whether the result depends on it
    may_be_unseen: bool = False  # whether the others still decide where the log cannot show it
    weight: float = 1.0
    worth: float | None = None  # share of the weight that it earns, 0..1; None where it could not be seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """The standard's items, and what they add up to."""

    result: Literal["satisfactory", "unsatisfactory", "not assessable"]
    items: tuple[GradeItem, ...]
    reason: str = ""
    share: float | None = None  # of the weights that was earned, where the standard weighs
    pass_share: float | None = None  # that it asks for


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """A finding that no other explains, and what followed from it."""

    rule: str
    phase: str | None
    start: datetime | None
    message: str  # what was found, then each step that followed, in whole sentences
    leads_to: tuple[int, ...] = ()  # indexes (from 0) into the attempt's findings


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """One thing to practise."""

    what: str
    exercise: str  # one sentence or two, with numbers
    aim: str  # the number to aim at
    finding: int | None = None  # the number of the finding that it is for
