"""What happened when: phases, passages, turns, the wind, and what the instruments showed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from debrief.result.measures import Uncertainties


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseSpan:
    """A phase, from its beginning to its end."""

    phase: str
    start: datetime
    end: datetime
    circuit: int = 0

    @property
    def duration_s(self) -> float:
        """How long it lasted. [s]"""
        return (self.end - self.start).total_seconds()


@dataclass(frozen=True, slots=True, kw_only=True)
class NotSeenInfo:
    """A phase that fell into a gap ("not observed") or was left out ("not flown")."""

    phase: str
    why: Literal["not observed", "not flown"]
    start: datetime | None = None
    end: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationPassage:
    """The closest point of approach to the station."""

    time: datetime
    distance_nm: float
    altitude_ft: float | None
    groundspeed_kt: float
    ground_track_true_deg: float
    missed: bool = False
    time_uncertainty_s: float | None = None
    uncertainties: Uncertainties = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnInfo:
    """A turn of at least 30 degrees within the attempt."""

    start: datetime
    end: datetime
    direction: Literal["left", "right"]
    degrees: float  # size of the change of ground track
    mean_rate_deg_s: float
    mean_groundspeed_kt: float
    uncertainties: Uncertainties = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wind:
    """The wind that the flight's own ground velocities show (or heading and airspeed, where logged)."""

    from_true_deg: float
    speed_kt: float
    speed_uncertainty_kt: float
    tas_kt: float | None  # true airspeed in the turns it was found from
    method: str
    from_uncertainty_deg: float | None = None  # 180 where the wind is too light to come from anywhere
    tas_uncertainty_kt: float | None = None


MomentName = Literal[
    "turn at the station",
    "station passage",
    "turn off",
    "needle alive",
    "established",
    "second passage",
    "minimum",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What the instruments showed at one moment that matters, as an ideal receiver would have it.

    The course is that which should have been selected: at the turn at the station already that of the leg to
    come, at the turn off still the outbound one.
    """

    moment: MomentName
    time: datetime | None  # None where it was not flown or not observed: ``why``
    phase: str | None
    altitude_ft: float | None = None
    distance_nm: float | None = None  # over the ground
    dme_nm: float | None = None  # None too where the station has no DME
    course_deg: float | None = None  # magnetic
    deviation_deg: float | None = None  # the aircraft's side; None in the cone
    deflection: float | None = None  # -1..1, the aircraft's side: a needle stands on the other
    full_scale: float | None = None  # of the needle, in ``full_scale_unit``
    full_scale_unit: Literal["deg", "NM"] | None = None
    to_from: Literal["TO", "FROM"] | None = None  # None: blank
    cone: bool | None = None
    bearing_deg: float | None = None  # to the station, magnetic by its alignment
    relative_bearing_deg: float | None = None  # of the station from the nose, clockwise; needs a heading
    heading_mag_deg: float | None = None  # logged, or from the wind
    why: str = ""  # why it is missing, or what stands for it
    heading_why: str = ""  # why the heading is not known
