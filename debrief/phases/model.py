"""What the phase finder hands on: the flight seen from the station, and the phases found in it.

Owns      ``StationView`` (arrays, one entry a moment), ``Span``, ``Passage``, ``Turn``, ``FoundAttempt``, ``Flight``.
Not here  finding any of them (``station_view``, ``attempts``), measuring (measures), judging (grading).

Times are seconds since the track's epoch. Angles without ``_true`` are magnetic by the station's alignment.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.procedures.model import Phase, Procedure
from debrief.tracks.model import Conditioned

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StationView:
    """The smoothed flight as the station sees it; all arrays have one entry for each of ``t_s``.

    ``nan`` where nothing was observed (inside a gap, outside the log), in the altitude columns also where
    the altitude is missing.
    """

    t_s: Floats
    segment: NDArray[np.int64]  # counts up at each gap; -1 where nothing was observed
    east_nm: Floats  # from the station, in its azimuthal equidistant plane
    north_nm: Floats
    distance_nm: Floats  # over the ground
    radial_deg: Floats  # magnetic, by the station's alignment, 0..360
    groundspeed_kt: Floats
    ground_track_true_deg: Floats  # 0..360
    ground_track_deg: Floats  # the same, magnetic by the station's alignment
    turn_rate_deg_s: Floats  # of the ground track, right positive
    acceleration_kt_s: Floats  # of the ground speed
    closing_kt: Floats  # towards the station positive
    altitude_ft: Floats  # smoothed
    vertical_speed_ft_min: Floats  # climb positive
    dme_nm: Floats  # slant range to the station's elevation
    cone_radius_nm: Floats
    in_cone: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.t_s)

    def where(self, mask: NDArray[np.bool_] | NDArray[np.int64] | slice) -> StationView:
        """The entries that ``mask`` (or a slice, or indices) picks."""
        picked = _indices(mask) if isinstance(mask, np.ndarray) and mask.dtype == np.bool_ else mask
        return StationView(**{name: getattr(self, name)[picked] for name in _COLUMNS})

    def between(self, start_s: float, end_s: float) -> StationView:
        """The observed entries with ``start_s <= t_s <= end_s``, of a view in order of time."""
        first = int(np.searchsorted(self.t_s, start_s, side="left"))
        part = self.where(slice(first, int(np.searchsorted(self.t_s, end_s, side="right"))))
        seen = part.segment >= 0
        return part if seen.all() else part.where(seen)


_COLUMNS = tuple(field.name for field in fields(StationView))


def _indices(mask: NDArray[np.bool_] | NDArray[np.int64]) -> slice | NDArray[np.int64]:
    """What the mask picks, as a slice where it is one stretch: that copies nothing, in any of the columns."""
    picked = np.flatnonzero(mask)
    if len(picked) and picked[-1] - picked[0] + 1 == len(picked):
        return slice(int(picked[0]), int(picked[-1]) + 1)
    return picked


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """What the smoother learned about the log's own noise. Standard deviations (one sigma)."""

    position_nm: float  # of one raw position, each axis
    altitude_ft: float  # of one raw altitude
    smoothed_position_nm: float  # of the smoothed position, each axis
    smoothed_altitude_ft: float
    smoothed_groundspeed_kt: float  # each axis of the ground velocity
    smoothed_vertical_speed_ft_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """One phase: from its beginning to its end. ``circuit`` counts a racetrack's circuits from 0."""

    phase: Phase
    start_s: float
    end_s: float
    circuit: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """A station passage, or the closest point of a station that was missed."""

    t_s: float  # closest point of approach
    distance_nm: float
    entry_s: float  # into the cone; ``t_s`` where it was never entered
    exit_s: float
    missed: bool  # farther than 1.5 NM and outside the cone: no passage, the station was missed


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A turn: from the moment its rate passes 1 deg/s until it falls below."""

    start_s: float
    end_s: float
    change_deg: float  # of the ground track, right positive


@dataclass(frozen=True, slots=True, kw_only=True)
class NotSeen:
    """A phase, or a part of one, that cannot be shown: it fell into a gap, or was not flown."""

    phase: Phase
    why: Literal["not observed", "not flown"]
    start_s: float | None = None  # the gap
    end_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundAttempt:
    """One approach: its phases in order of time, and the events that bound them."""

    spans: tuple[Span, ...]
    passages: tuple[Passage, ...]  # in order; the first ends ``inbound``
    turns: tuple[Turn, ...]  # of at least 30 degrees
    not_seen: tuple[NotSeen, ...]
    turn_off_s: float | None  # where the last circuit's course reversal began
    established_s: float | None  # on the inbound course, before the second passage (or the minimum)
    ending: Literal["landing", "missed approach", "end of log", "broken off", "gap"]
    straight_in: bool = False

    @property
    def start_s(self) -> float:
        """Beginning of its first phase."""
        return self.spans[0].start_s

    @property
    def end_s(self) -> float:
        """End of its last phase."""
        return self.spans[-1].end_s

    def spans_of(self, phase: Phase) -> tuple[Span, ...]:
        """Every span of that phase, in order of time."""
        return tuple(span for span in self.spans if span.phase == phase)

    def last(self, phase: Phase) -> Span | None:
        """The last span of that phase (of a racetrack: of the last circuit), ``None`` where not flown."""
        return next((span for span in reversed(self.spans) if span.phase == phase), None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flight:
    """Everything known before measuring: the log, the procedure, the view and the attempts.

    ``view`` holds one entry a second (and none inside gaps) while the aircraft was near enough to the station
    to matter; ``at`` gives the view at any other moments (``nan`` inside gaps).
    """

    log: Conditioned
    procedure: Procedure
    view: StationView
    at: Callable[[Floats], StationView]
    noise: Noise
    attempts: tuple[FoundAttempt, ...]
    no_attempt_reason: str = ""  # in plain words, where ``attempts`` is empty
