"""What goes into a comparison, and what comes out: frozen dataclasses, data only.

Owns      ``Flown`` (one flight's numbers), ``Comparison`` and its parts; ``comparison.json`` is made of them.
Not here  any statistic, any picture.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

Differs = Literal["level", "spread", "both"]
Interval = tuple[float, float]

#: Fewer flights of a pilot are shown, not judged.
LEAST_FLIGHTS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Flown:
    """One flight of the procedure: its first approach, so that no two rows share a day's wind and mood."""

    flight: int  # its number in the logbook
    pilot: str
    time: datetime
    measures: Mapping[str, float]  # by the path in the result file; absent where not measured
    wind_speed_kt: float | None
    items: tuple[tuple[str, str | None, str], ...]  # rule, phase, result


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A measure that pilots are compared by."""

    name: str  # its path in the result file
    words: str
    unit: str
    decimals: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """How one pilot's measure moves with time."""

    per_month: float  # change of the level in 30 days
    interval: Interval  # 95 %
    beyond_chance: bool  # held over every pilot and measure of the report


@dataclass(frozen=True, slots=True, kw_only=True)
class PilotMeasure:
    """One pilot on one measure. ``None`` where there are too few flights to say."""

    pilot: str
    flights: int  # that have this measure
    mean: float | None  # of these flights alone, as flown
    sd: float | None
    level: float | None  # at the club's mean wind and speed, drawn towards the club
    level_interval: Interval | None
    spread: float | None  # standard deviation of this pilot's flights, drawn towards the club
    spread_interval: Interval | None
    differs: Differs | None  # from the other pilots, beyond chance; held over the whole report
    smallest_change: float | None  # between the earlier and the later half that would have shown
    trend: Trend | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Club:
    """All pilots together on one measure."""

    level: float | None
    spread: float | None  # of a typical pilot's flights
    between: float | None  # standard deviation of the pilots' levels


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureComparison:
    """One measure: the club, and each pilot."""

    measure: Compared
    club: Club
    pilots: tuple[PilotMeasure, ...]
    adjusted_for: tuple[str, ...]  # "wind", "speed": what the levels are freed of
    values: Mapping[int, float]  # by the number of the flight, as flown


@dataclass(frozen=True, slots=True, kw_only=True)
class Hard:
    """How often something the standard asks for was not met."""

    rule: str
    phase: str | None
    flights: int  # in which it could be judged
    missed: int
    share: float
    interval: Interval  # 95 %
    pilots: int  # who missed it at least once


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Pilots over many flights of one procedure."""

    procedure: str
    pilots: tuple[str, ...]  # who is shown, in order of name
    club_pilots: int  # who is in the numbers of the club
    flights: tuple[Flown, ...]  # of everybody, in order of time
    measures: tuple[MeasureComparison, ...]
    hard: tuple[Hard, ...]  # the hardest first
    program: str
