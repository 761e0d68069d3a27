"""A tolerance standard: what is held against which limit, where the limit comes from, and what it weighs.

Owns      the model of a standard's file (``format = 1``) and which shape of limit each rule takes.
Not here  reading the file and wording its errors (``standard_reader``), judging anything (``rules``).

Code knows the shape of a limit, never its number:

``below``, ``above``        how far under or over the published figure is still within the standard
``within``                  the same on both sides
``full_scale_fraction``     the same for a needle, as a share of its full scale
``at_most``, ``at_least``   a limit of its own, where nothing is published
``held_s``                  how long it must be passed before it counts
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from debrief.grading.sources import source_words
from debrief.measures.gates import GateLimits
from debrief.navigation.radials import FULL_SCALE_DEG
from debrief.result import StandardInfo

RuleName = Literal[
    "altitude",
    "altitude_before_station",
    "minimum_descent_altitude",
    "step_down",
    "tracking",
    "not_established",
    "reverse_sensing",
    "needle_chasing",
    "weaving",
    "station_missed",
    "turn_lead",
    "outbound_length",
    "reversal_missing",
    "reversal_side",
    "reversal_distance",
    "reversal_speed",
    "intercept_angle",
    "intercept_overshoot",
    "arc",
    "descent_rate",
    "stabilised",
    "missed_approach",
    "log_quality",
]
PhaseName = Literal["inbound", "outbound", "course_reversal", "intermediate", "final", "missed_approach"]
UnitName = Literal["ft", "deg", "NM", "s", "kt", "ft/min"]
Mark = Literal["seen", "seen (2nd hand)", "memory", "common practice"]

Size = float | None


class Shape(NamedTuple):
    """What a rule's table may hold besides what every rule has: one of ``limits``, any of ``also``."""

    limits: tuple[str, ...]
    also: tuple[str, ...] = ()
    phases: tuple[str, ...] = ()  # the phases it can be held against; none: it is not bound to one


_LEGS = ("inbound", "outbound", "course_reversal", "intermediate")

#: By rule and unit; a rule without a number has the unit ``None``.
SHAPES: dict[tuple[str, str | None], Shape] = {
    ("altitude", "ft"): Shape(("below", "above"), ("held_s",), _LEGS),
    ("altitude_before_station", "ft"): Shape(
        ("below",), ("held_s", "within_nm"), ("inbound", "intermediate")
    ),
    ("minimum_descent_altitude", "ft"): Shape(("below", "above"), ("held_s",), ("final",)),
    ("step_down", "ft"): Shape(("below",), ("held_s",), ("final",)),
    ("tracking", "deg"): Shape(
        ("within", "full_scale_fraction"), ("held_s",), ("outbound", "intermediate", "final")
    ),
    ("not_established", "deg"): Shape(("within",), ("held_s",)),
    ("reverse_sensing", "deg"): Shape(("at_most",)),
    ("needle_chasing", "deg"): Shape(("at_most",)),
    ("weaving", "deg"): Shape(("at_most",)),
    ("station_missed", "NM"): Shape(("at_most",)),
    ("turn_lead", "NM"): Shape(("within",), ("overhead_from_deg",)),
    ("outbound_length", "NM"): Shape(("within",), (), ("outbound",)),
    ("outbound_length", "s"): Shape(("within",), ("wind_within",), ("outbound",)),
    ("reversal_missing", None): Shape((), (), ("course_reversal",)),
    ("reversal_side", None): Shape((), (), ("course_reversal",)),
    ("reversal_distance", "NM"): Shape(("above",), (), ("course_reversal",)),
    ("reversal_speed", "kt"): Shape(("above",), (), ("course_reversal",)),
    ("intercept_angle", "deg"): Shape(("at_most",)),
    ("intercept_overshoot", "NM"): Shape(("at_most",)),
    ("arc", "NM"): Shape(("within",)),
    ("arc", "ft"): Shape(("below", "above"), ("held_s",)),
    ("descent_rate", "ft/min"): Shape(("at_most",), (), ("final",)),
    ("stabilised", None): Shape((), (), ("final",)),
    ("missed_approach", "NM"): Shape(("above",), (), ("missed_approach",)),
    ("missed_approach", "deg"): Shape(("within",), (), ("missed_approach",)),
    ("missed_approach", "ft"): Shape(("below", "above"), (), ("missed_approach",)),
    ("missed_approach", "ft/min"): Shape(("at_least",), (), ("missed_approach",)),
    ("log_quality", "s"): Shape(("at_most",)),
}

LIMIT_KEYS = ("below", "above", "within", "full_scale_fraction", "at_most", "at_least")
ALSO_KEYS = ("held_s", "within_nm", "overhead_from_deg", "wind_within")
_GREATEST = 100_000.0  # of any limit, in its unit: what is asked of nobody
_LEAST_STEP = 0.001  # of an excess, in its unit: an excess counted in such steps is still a number


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Source(_Model):
    """Where a figure comes from, and how sure that is."""

    title: str = Field(min_length=1, max_length=200)
    part: str = Field(default="", max_length=100)
    mark: Mark

    def __str__(self) -> str:
        place = (
            f"{source_words(self.title)}, {source_words(self.part)}"
            if self.part
            else source_words(self.title)
        )
        return f"{place} [{source_words(self.mark)}]"


class Tolerance(_Model):
    """One ``[[rule]]``: a limit, the phases it covers, and what passing it means."""

    rule: RuleName
    phases: tuple[PhaseName, ...] = Field(default=(), strict=False)
    unit: UnitName | None = None
    below: Size = Field(default=None, ge=0, le=_GREATEST)
    above: Size = Field(default=None, ge=0, le=_GREATEST)
    within: Size = Field(default=None, ge=0, le=_GREATEST)
    full_scale_fraction: Size = Field(default=None, gt=0, le=1)
    at_most: Size = Field(default=None, ge=0, le=_GREATEST)
    at_least: Size = Field(default=None, ge=0, le=_GREATEST)
    held_s: float = Field(default=0.0, ge=0, le=60)
    within_nm: float = Field(default=30.0, ge=0, le=30)  # of the station
    overhead_from_deg: float = Field(default=180.0, ge=0, le=180)
    # of the figure corrected for the wind, in the unit
    wind_within: float = Field(default=0.0, ge=0, le=_GREATEST)
    required: bool  # whether the result depends on it
    may_be_unseen: bool = False  # whether the others still decide where the log cannot show it
    weight: float = Field(gt=0, le=100)  # what comes first among the findings
    # this far beyond the limit, in the unit, weighs twice as much
    serious: float = Field(default=1.0, ge=_LEAST_STEP, le=_GREATEST)
    source: Source

    @model_validator(mode="after")
    def _shape_fits(self) -> Tolerance:
        shape = SHAPES.get((self.rule, self.unit))
        if shape is None:
            units = [unit for rule, unit in SHAPES if rule == self.rule]
            allowed = ", ".join(f'"{unit}"' for unit in units if unit is not None)
            raise _mistake("unit", f"{self.rule} takes {f'unit = {allowed}' if allowed else 'no unit'}")
        given = [key for key in LIMIT_KEYS if getattr(self, key) is not None]
        for key in given + [key for key in ALSO_KEYS if key in self.model_fields_set]:
            if key not in shape.limits + shape.also:
                allowed = ", ".join(shape.limits + shape.also) or "no limit"
                raise _mistake(key, f"{self.rule} does not take it; it takes {allowed}")
        if shape.limits and not given:
            raise _mistake(shape.limits[0], f"{self.rule} needs a limit: {' or '.join(shape.limits)}")
        if len({"within", "full_scale_fraction"} & set(given)) > 1:
            raise _mistake("within", "full_scale_fraction stands beside it; leave one")
        for phase in self.phases:
            if phase not in shape.phases:
                allowed = ", ".join(shape.phases) or "none"
                raise _mistake("phases", f"{self.rule} is not held against {phase}; allowed: {allowed}")
        if shape.phases and not self.phases:
            raise _mistake("phases", f"{self.rule} needs the phases it covers: {', '.join(shape.phases)}")
        return self

    def limit(self, key: str) -> float:
        """The limit under ``key``, which the rule's shape promises."""
        value: float | None = getattr(self, key)
        if value is None:
            raise ValueError(f"{self.rule} has no {key}")
        return value

    @property
    def limit_deg(self) -> float:
        """The tolerance of a needle. [deg] Of full scale where the file gives a share of it."""
        if self.full_scale_fraction is not None:
            return self.full_scale_fraction * FULL_SCALE_DEG
        return self.within if self.within is not None else FULL_SCALE_DEG


class Joining(_Model):
    """When the needle is scored: from the moment the course is joined, or the room for it used up."""

    track_within_deg: float = Field(gt=0, le=90)  # joined: within the tolerance, and flying along the course
    closing_by_deg: float = Field(ge=0, le=90)  # still joining: flying at the course by this much, or turning
    settle_s: float = Field(ge=0, le=600)  # whatever happens in these is no fault
    room_s: float = Field(ge=0, le=600)
    room_nm: float = Field(ge=0, le=30)
    not_within_nm: float = Field(ge=0, le=5)  # of the station: where it swings with every few metres
    source: Source


class Assessable(_Model):
    """What a log must show before anything is said about it."""

    observed_share: float = Field(ge=0, le=1)
    longest_interval_s: float = Field(gt=0, le=300)
    altitude_uncertainty_ft: float = Field(gt=0)
    climb_s: float = Field(ge=0, le=300)
    hides_turn_s: float = Field(ge=0, le=300)  # a gap of so long may hold a turn, or the end of a leg
    hides_reversal_s: float = Field(ge=0, le=3600)  # the same for a whole reversal
    source: Source


class Gates(_Model):
    """What must hold on final from each height above the runway down; an absent key asks for nothing."""

    heights_ft: tuple[Annotated[float, Field(gt=0, le=5000)], ...] = Field(min_length=1, strict=False)
    descent_rate_ft_min: Size = Field(default=None, gt=0)
    over_s: float = Field(default=10.0, gt=0, le=60)  # the rate is that over so long
    track_off_deg: Size = Field(default=None, gt=0, le=90)  # ground track, from the final course
    full_scale_fraction: Size = Field(default=None, gt=0, le=1)
    speed_change_kt: Size = Field(default=None, gt=0)  # greatest less least
    source: Source

    def limits(self) -> GateLimits:
        """As the measures take them."""
        share = self.full_scale_fraction
        return GateLimits(
            heights_ft=self.heights_ft,
            max_sink_ft_min=self.descent_rate_ft_min,
            sink_over_s=self.over_s,
            max_deviation_deg=None if share is None else share * FULL_SCALE_DEG,
            max_track_off_deg=self.track_off_deg,
            max_speed_change_kt=self.speed_change_kt,
        )


class Adding(_Model):
    """What the items add up to, and which of several attempts in a log counts."""

    way: Literal["all must pass", "by weights"] = "all must pass"
    pass_share: Size = Field(default=None, gt=0, le=1)  # of the required items' weights; only by weights
    attempt: Literal["first", "best", "last", "all"] = "first"
    source: Source

    @model_validator(mode="after")
    def _share_where_weighed(self) -> Adding:
        if self.way == "by weights" and self.pass_share is None:
            raise _mistake("pass_share", 'way = "by weights" needs it: the share of the weights to be earned')
        if self.way != "by weights" and self.pass_share is not None:
            raise _mistake("pass_share", 'it stands only beside way = "by weights"')
        return self


class Excursion(_Model):
    """What a brief excursion that is promptly corrected is worth: it counts as marginal."""

    rules: tuple[RuleName, ...] = Field(min_length=1, strict=False)
    seconds: float = Field(gt=0, le=120)  # from leaving the tolerance to being back within it
    depth: float = Field(gt=0, le=4)  # beyond the tolerance, in steps of the rule's ``serious``
    times: int = Field(default=1, ge=1, le=10)  # more of them are no longer brief
    worth: float = Field(default=0.5, ge=0, le=1)  # share of the item's weight, where the standard weighs
    source: Source


class Standard(_Model):
    """A tolerance standard, as its file says it."""

    format: Literal[1]
    name: str = Field(min_length=1, max_length=120)
    source: Source
    joining: Joining
    assessable: Assessable
    gates: Gates
    adding: Adding | None = None  # absent: all must pass, and the first attempt counts
    excursion: Excursion | None = None  # absent: however brief, an excursion counts in full
    rule: tuple[Tolerance, ...] = Field(min_length=1, strict=False)

    # filled by the reader, not by the file
    file: str = Field(default="", exclude=True)
    sha256: str = Field(default="", exclude=True)

    @model_validator(mode="after")
    def _no_rule_twice(self) -> Standard:
        seen: set[tuple[str, str | None, str]] = set()
        for tolerance in self.rule:
            for phase in tolerance.phases or ("",):
                key = (tolerance.rule, tolerance.unit, phase)
                if key in seen:
                    of = f" for {phase}" if phase else ""
                    raise _mistake("rule", f"{tolerance.rule}{of} stands twice")
                seen.add(key)
        return self

    @property
    def pass_share(self) -> float | None:
        """Share of the weights that must be earned; ``None`` where every required item must pass."""
        return self.adding.pass_share if self.adding is not None else None

    @property
    def counting_attempt(self) -> Literal["first", "best", "last", "all"]:
        """Which of several attempts in a log counts."""
        return self.adding.attempt if self.adding is not None else "first"

    @property
    def gate_limits(self) -> GateLimits:
        """The gates of a stabilised approach, as the measures take them."""
        return replace(self.gates.limits(), not_within_nm=self.joining.not_within_nm)

    def info(self) -> StandardInfo:
        """What a report says about it."""
        return StandardInfo(name=self.name, source=str(self.source), file=self.file, sha256=self.sha256)


def _mistake(key: str, what: str) -> PydanticCustomError:
    return PydanticCustomError("standard", "{what}", {"what": what, "key": key})
