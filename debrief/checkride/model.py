"""A graded folder as data: one row a file, its items, its flags, and what an examiner decided otherwise.

Owns      frozen dataclasses, and the adding up of items after a review.
Not here  how rows come about (``task``), how they are written and read back (``results``).
Source    DEVELOPERS.md, "Graded folder".
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

UNREADABLE = "unreadable"
NOT_ASSESSABLE = "not assessable"
SATISFACTORY, MARGINAL, UNSATISFACTORY = "satisfactory", "marginal", "unsatisfactory"
VERDICTS = (SATISFACTORY, MARGINAL, UNSATISFACTORY, NOT_ASSESSABLE)
#: A flag of this strength goes to the examiner; a weaker one is only told.
TO_EXAMINER = 0.5
#: The name under which the result of a whole flight is overruled, as an item is.
WHOLE_RESULT = "result"

Sign = Literal[
    "impossible_motion",
    "edited_times",
    "spliced",
    "smoothed",
    "speed_disagrees",
    "altitude_disagrees",
    "noise_changes",
    "copy",
    "before_procedure",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Overrule:
    """What an examiner decided instead of the machine's verdict, which stays beside it."""

    result: str
    by: str
    time: str  # ISO 8601, UTC
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing the standard asks for, held against one flight."""

    item: str
    value: float | None
    limit: float | None
    unit: str | None
    margin: float | None  # limit less value, in the unit; negative where passed
    verdict: str  # the machine's
    overruled: Overrule | None = None
    attempt: int = 1
    rule: str = ""
    phase: str | None = None
    required: bool = True  # whether the result depends on it
    may_be_unseen: bool = False  # whether the others still decide where the log cannot show it
    weight: float = 1.0
    worth: float | None = None  # share of the weight that it earns; None where it could not be seen
    reason: str = ""
    source: str = ""

    @property
    def decided(self) -> str:
        """The verdict that stands: the examiner's where there is one."""
        return self.overruled.result if self.overruled is not None else self.verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """A sign that a log may not be what it says. Evidence for an examiner, never a verdict of cheating."""

    sign: Sign
    strength: float  # 0..1; TO_EXAMINER and more goes to the examiner
    evidence: str  # plain words, with numbers
    other: str | None = None  # the other file of a copy


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One file of the folder."""

    file: str  # relative to the folder, with forward slashes; a log in a zip archive: ARCHIVE/LOG
    sha256: str = ""
    pilot: str = ""
    procedure: str = ""
    standard: str = ""
    attempt: int | None = None  # the one that counts; the weakest where all count
    result: str  # the machine's: of the grade, or "unreadable"
    first_cause: str | None = None
    margin: float | None = None  # the least of any required item, in steps of the standard's ``serious``
    log_quality: str = ""
    flags: tuple[Flag, ...] = ()
    reason: str = ""
    items: tuple[Item, ...] = ()
    overruled: Overrule | None = None  # the result as a whole
    attempts: int = 0  # found in the log
    recorded: str | None = None  # when the log begins, UTC
    procedure_file: str = ""
    procedure_sha256: str = ""
    standard_sha256: str = ""
    way: str = ""  # how the standard adds up: "all must pass" or "by weights"
    pass_share: float | None = None  # of the weights, where the standard weighs
    remark: str = ""  # about what lies beside the log: a sidecar that cannot be read
    report: str | None = None  # the PDF's path, relative to the folder of the results

    @property
    def decided(self) -> str:
        """The result after the review: that of the examiner, or that of the items as they now stand."""
        if self.overruled is not None:
            return self.overruled.result
        if not any(item.overruled for item in self.items):
            return self.result
        return added_up(self.items, self.pass_share)

    @property
    def to_examiner(self) -> tuple[str, ...]:
        """Why an examiner should look at it, in plain words; empty where the table can stand as it is.

        Whoever has decided on the result as a whole has looked at all of it.
        """
        if self.overruled is not None:
            return ()
        marginal = [i.item for i in self.items if i.verdict == "marginal" and i.required and not i.overruled]
        said = [f"marginal: {', '.join(dict.fromkeys(marginal))}"] if marginal else []
        strong = [flag.sign for flag in self.flags if flag.strength >= TO_EXAMINER]
        signs = dict.fromkeys(sign.replace("_", " ") for sign in strong)
        said += [f"signs: {', '.join(signs)}"] if signs else []
        if self.result == NOT_ASSESSABLE:
            said.append("not assessable")
        return tuple(said)

    @property
    def noted(self) -> str:
        """What a line about it says to the examiner: what to look at, and why a log could not be assessed; else empty."""
        why = self.reason if self.result in (UNREADABLE, NOT_ASSESSABLE) and self.overruled is None else ""
        said = [reason for reason in self.to_examiner if reason != self.decided]
        return "; ".join(part for part in (*said, why) if part)


def added_up(items: Iterable[Item], pass_share: float | None) -> str:
    """The result of required items as they stand after a review, as ``grading.grade`` adds them up.

    ``pass_share`` is that of a standard that weighs, ``None`` where all must pass.
    """
    required = [item for item in items if item.required]
    unseen = [i for i in required if i.decided == NOT_ASSESSABLE and not i.may_be_unseen]
    seen = [i for i in required if i.decided != NOT_ASSESSABLE]
    if pass_share is None:
        if any(item.decided == UNSATISFACTORY for item in seen):
            return UNSATISFACTORY
        return NOT_ASSESSABLE if unseen or not required else SATISFACTORY
    earned, weighed = sum(i.weight * _worth(i) for i in seen), sum(i.weight for i in seen)
    hidden = sum(i.weight for i in unseen)
    asked = pass_share * (weighed + hidden)
    if weighed and earned >= asked:
        return SATISFACTORY
    return UNSATISFACTORY if weighed and earned + hidden < asked else NOT_ASSESSABLE


def _worth(item: Item) -> float:
    if item.overruled is None:
        return item.worth if item.worth is not None else 0.0
    return 0.0 if item.decided == UNSATISFACTORY else 1.0
