"""What the phase finder hands on: the flight seen from the station, and the phases found in it.

Owns      ``StationView`` (arrays, one entry a moment), ``Span``, ``Passage``, ``Turn``, ``FoundAttempt``, ``Flight``.
Not here  finding any of them (``station_view``, ``attempts``), measuring (measures), judging (grading).

Times are seconds since the track's epoch. Angles without ``_true`` are magnetic by the station's alignment.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.angles import wrap_360
from debrief.navigation.radials import cone_radius_nm, dme_nm, radial_deg
from debrief.navigation.units import KT_PER_M_S, METRES_PER_FT, METRES_PER_NM, SECONDS_PER_MINUTE
from debrief.procedures.model import Leg, Phase, Procedure, Station
from debrief.tracks.model import Conditioned

Floats = NDArray[np.float64]

SLOW_KT = 20.0  # taxiing: the direction of motion says nothing


@dataclass(frozen=True, kw_only=True, eq=False)
class StationView:
    """The smoothed flight as the station sees it; all arrays have one entry for each of ``t_s``.

    ``nan`` where nothing was observed (inside a gap, outside the log), in the altitude columns also where
    the altitude is missing. A column is computed when it is first asked for: most looks want one or two of them.
    """

    t_s: Floats
    segment: NDArray[np.int64]  # counts up at each gap; -1 where nothing was observed
    motion_m: Floats  # east and north of the station in its azimuthal equidistant plane, their first and second rates
    height_m: Floats  # above the sea, smoothed, and its rate
    station: Station

    def __len__(self) -> int:
        return len(self.t_s)

    @cached_property
    def east_nm(self) -> Floats:
        """From the station, in its azimuthal equidistant plane."""
        east_nm: Floats = self.motion_m[0] / METRES_PER_NM
        return east_nm

    @cached_property
    def north_nm(self) -> Floats:
        """From the station, in its azimuthal equidistant plane."""
        north_nm: Floats = self.motion_m[1] / METRES_PER_NM
        return north_nm

    @cached_property
    def distance_nm(self) -> Floats:
        """From the station, over the ground."""
        return self._distance_m / METRES_PER_NM

    @cached_property
    def radial_deg(self) -> Floats:
        """Magnetic, by the station's alignment, 0..360."""
        return radial_deg(self.east_nm, self.north_nm, self.station.declination_deg)

    @cached_property
    def groundspeed_kt(self) -> Floats:
        """Of the smoothed flight."""
        return self._speed_m_s * KT_PER_M_S

    @cached_property
    def ground_track_true_deg(self) -> Floats:
        """From true north, 0..360."""
        return wrap_360(np.degrees(np.arctan2(self.motion_m[2], self.motion_m[3])))

    @cached_property
    def ground_track_deg(self) -> Floats:
        """Magnetic by the station's alignment, 0..360."""
        return wrap_360(self.ground_track_true_deg - self.station.declination_deg)

    @cached_property
    def turn_rate_deg_s(self) -> Floats:
        """Of the ground track, right positive; 0 while taxiing."""
        _, _, v_east, v_north, a_east, a_north = self.motion_m
        speed = self._speed_m_s
        with np.errstate(invalid="ignore", divide="ignore"):
            turning = np.degrees((a_east * v_north - a_north * v_east) / speed**2)
        return np.where(speed > SLOW_KT / KT_PER_M_S, turning, np.where(np.isnan(speed), np.nan, 0.0))

    @cached_property
    def acceleration_kt_s(self) -> Floats:
        """Of the ground speed."""
        _, _, v_east, v_north, a_east, a_north = self.motion_m
        speed = self._speed_m_s
        along: Floats = (a_east * v_east + a_north * v_north) / np.where(speed > 0, speed, np.nan)
        return along * KT_PER_M_S

    @cached_property
    def closing_kt(self) -> Floats:
        """Towards the station positive."""
        east, north, v_east, v_north, _, _ = self.motion_m
        distance = self._distance_m
        closing: Floats = -(east * v_east + north * v_north) / np.where(distance > 0, distance, np.nan)
        return closing * KT_PER_M_S

    @cached_property
    def altitude_ft(self) -> Floats:
        """Smoothed."""
        altitude_ft: Floats = self.height_m[0] / METRES_PER_FT
        return altitude_ft

    @cached_property
    def vertical_speed_ft_min(self) -> Floats:
        """Climb positive."""
        climb_ft_min: Floats = self.height_m[1] / METRES_PER_FT * SECONDS_PER_MINUTE
        return climb_ft_min

    @cached_property
    def dme_nm(self) -> Floats:
        """Slant range to the station's elevation."""
        return dme_nm(self.distance_nm, self.altitude_ft - self.station.elevation_ft)

    @cached_property
    def cone_radius_nm(self) -> Floats:
        """Of the cone of ambiguity at this height."""
        above_station_ft = np.maximum(self.altitude_ft - self.station.elevation_ft, 0.0)
        return cone_radius_nm(above_station_ft, self.station.cone_half_angle_deg)

    @cached_property
    def in_cone(self) -> NDArray[np.bool_]:
        """Whether the needle means nothing; not where altitude or position is missing."""
        with np.errstate(invalid="ignore"):
            return self.distance_nm < self.cone_radius_nm

    @cached_property
    def _distance_m(self) -> Floats:
        distance_m: Floats = np.hypot(self.motion_m[0], self.motion_m[1])
        return distance_m

    @cached_property
    def _speed_m_s(self) -> Floats:
        speed_m_s: Floats = np.hypot(self.motion_m[2], self.motion_m[3])
        return speed_m_s

    def where(self, mask: NDArray[np.bool_] | NDArray[np.int64] | slice) -> StationView:
        """The entries that ``mask`` (or a slice, or indices) picks."""
        picked = _indices(mask) if isinstance(mask, np.ndarray) and mask.dtype == np.bool_ else mask
        part = StationView(
            t_s=self.t_s[picked],
            segment=self.segment[picked],
            motion_m=self.motion_m[:, picked],
            height_m=self.height_m[:, picked],
            station=self.station,
        )
        vars(part).update({name: known[picked] for name, known in vars(self).items() if name in _DERIVED})
        return part

    def between(self, start_s: float, end_s: float) -> StationView:
        """The observed entries with ``start_s <= t_s <= end_s``, of a view in order of time."""
        first = int(np.searchsorted(self.t_s, start_s, side="left"))
        part = self.where(slice(first, int(np.searchsorted(self.t_s, end_s, side="right"))))
        seen = part.segment >= 0
        return part if seen.all() else part.where(seen)


#: The columns that are computed when asked for; what of them is known goes with a part.
_DERIVED = frozenset(name for name, value in vars(StationView).items() if isinstance(value, cached_property))


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
    worse_in_turns: (
        float  # times that, across a turn: more than 1 where a log cuts corners or reports unevenly
    )
    altitude_ft: float  # of one raw altitude
    smoothed_position_nm: float  # of the smoothed position, each axis
    smoothed_altitude_ft: float
    smoothed_groundspeed_kt: float  # each axis of the ground velocity
    smoothed_vertical_speed_ft_min: float

    @property
    def cuts_corners(self) -> bool:
        """Whether the log lies farther off in turns than on straight legs: drawn by lines between uneven positions."""
        return self.worse_in_turns > 1.0


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

    def leg_in_force(self, attempt: FoundAttempt, phase: Phase) -> Leg | None:
        """The leg whose altitude holds in a phase of one of the attempts."""
        return self.procedure.leg_in_force(phase, straight_in=attempt.straight_in)
