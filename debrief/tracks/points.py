"""The samples still used, in order of time, and the little geometry that judging them needs.

Owns      ``Points`` (offsets and chords between near samples), the local speed, the rounding of coordinates;
          ``Found``, what every step of the conditioning hands on.
Not here  distances to a station (``navigation.geodesy``); what is odd about a sample (the steps).
Source    WGS84: a = 6,378,137 m, 1/f = 298.257223563, exact by definition; radii of curvature: any text on
          geodesy. Mark: memory.

Offsets are taken in degrees and scaled at the sample: within 10 NM that is right to a metre up to 70 degrees of
latitude, and far cheaper than geodesics. It serves to tell good samples from bad ones; nothing is measured so.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.units import METRES_PER_FT
from debrief.tracks.middles import median_of
from debrief.tracks.model import Floats, Track

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Reasons = NDArray[np.object_]  # str: few different ones, of which an array of text would copy each
Index = Ints | slice  # a slice is several times faster

FEET_PER_METRE = 1.0 / METRES_PER_FT

_EQUATOR_M = 6_378_137.0
_FLATTENING = 1.0 / 298.257223563
_ECCENTRICITY_2 = _FLATTENING * (2.0 - _FLATTENING)

_SPEED_OVER_S = 10.0  # long enough for jitter of a second to average out, short against a turn
_BLOCK = 8  # the local speed is found once for so many samples
_AROUND = 12  # and is the median of this many on each side: half of them may be wrong

_HOLE_S, _HOLE, _FEWEST_ALIKE = 30.0, 5.0, 3  # seconds, intervals; samples on this side of it

_MOVING_M_S = 15.0
_FASTEST_SHARE, _FASTEST_MORE_M_S = 2.5, 60.0  # against the flight's median: cruise against approach

_LOOK_AT = 500
_FEWEST_DIFFERENT = 5
_MOST = 0.6  # of the samples; others may come from interpolation, with more decimals than the recorder writes
_ALMOST_WHOLE = 1e-3


@dataclass(frozen=True, kw_only=True, eq=False)
class Points:
    """Samples in order of strictly increasing time; arrays have one entry for each of ``index``."""

    track: Track
    index: Ints  # into the raw track
    longitude_deg: Floats  # without the jump at the antimeridian

    @classmethod
    def of(cls, track: Track, index: Ints) -> Points:
        """Take the raw samples ``index``, which must be in order of strictly increasing time."""
        longitude = track.longitude_deg[index]
        if len(index) and np.ptp(longitude) > 180.0:
            longitude = np.unwrap(longitude, period=360.0)
        return cls(track=track, index=index, longitude_deg=longitude)

    def without(self, bad: Bools) -> Points:
        """The points that are not ``bad``."""
        return self if not bad.any() else Points.of(self.track, self.index[~bad])

    def __len__(self) -> int:
        return len(self.index)

    @cached_property
    def t_s(self) -> Floats:
        """Seconds since the track's epoch."""
        return self.track.t_s[self.index]

    @cached_property
    def latitude_deg(self) -> Floats:
        """WGS84. [deg]"""
        return self.track.latitude_deg[self.index]

    @cached_property
    def interval_s(self) -> float:
        """Median step in time; 1 s where there is no step. [s]"""
        return median_of(np.diff(self.t_s)) if len(self) > 1 else 1.0

    @cached_property
    def metres_per_deg(self) -> tuple[Floats, Floats]:
        """Metres in a degree to the east and to the north, at each point."""
        latitude_rad = np.radians(self.latitude_deg)
        w2 = 1.0 - _ECCENTRICITY_2 * np.sin(latitude_rad) ** 2
        east = np.radians(1.0) * _EQUATOR_M * np.cos(latitude_rad) / np.sqrt(w2)
        north = np.radians(1.0) * _EQUATOR_M * (1.0 - _ECCENTRICITY_2) / w2**1.5
        return east, north

    def offset_m(self, start: Index, end: Index) -> tuple[Floats, Floats]:
        """East and north from points ``start`` to points ``end``. [m]"""
        east_m_deg, north_m_deg = self.metres_per_deg
        east = (
            (self.longitude_deg[end] - self.longitude_deg[start]) * (east_m_deg[start] + east_m_deg[end]) / 2
        )
        north = (
            (self.latitude_deg[end] - self.latitude_deg[start]) * (north_m_deg[start] + north_m_deg[end]) / 2
        )
        return east, north

    def distance_m(self, start: Index, end: Index) -> Floats:
        """Distance over the ground from points ``start`` to points ``end``. [m]"""
        return np.hypot(*self.offset_m(start, end))

    def off_chord_m(self, before: Index, at: Index, after: Index) -> tuple[Floats, Floats]:
        """East and north of points ``at`` from where even motion from ``before`` to ``after`` had them. [m]"""
        east_m_deg, north_m_deg = self.metres_per_deg
        t_s, latitude, longitude = self.t_s, self.latitude_deg, self.longitude_deg
        share = (t_s[at] - t_s[before]) / (t_s[after] - t_s[before])
        east = longitude[at] - longitude[before] - share * (longitude[after] - longitude[before])
        north = latitude[at] - latitude[before] - share * (latitude[after] - latitude[before])
        return east * east_m_deg[at], north * north_m_deg[at]

    def reach(self, seconds: float) -> int:
        """How many samples make about ``seconds``, one at least."""
        return max(1, min(round(seconds / self.interval_s), len(self)))

    def around(self, seconds: float) -> tuple[Ints, Ints]:
        """The first and the last point of about so many seconds around each."""
        here, half = np.arange(len(self)), self.reach(seconds / 2)
        return np.maximum(here - half, 0), np.minimum(here + half, len(self) - 1)

    @cached_property
    def net_speed_m_s(self) -> Floats:
        """Ground speed over about ten seconds around each point, from its ends alone. [m/s]"""
        if len(self) < 2:
            return np.zeros(len(self))
        start, end = self.around(_SPEED_OVER_S)
        return self.distance_m(start, end) / (self.t_s[end] - self.t_s[start])

    @cached_property
    def local_speed_m_s(self) -> Floats:
        """What the speed is around each point, whatever single samples say; rather too high. [m/s]"""
        count = len(self)
        centres = np.arange(0, count, _BLOCK)
        wide = min(2 * _AROUND + 1, count)
        start = np.clip(centres - _AROUND, 0, count - wide)
        around = start[:, None] + np.arange(wide)
        median = np.median(self.net_speed_m_s[around], axis=1)
        holes = np.diff(self.t_s) > max(_HOLE_S, _HOLE * self.interval_s)
        if holes.any():  # what stood for long behind a hole says nothing of how it was flown before it
            stretch = np.concatenate([[0], np.cumsum(holes)])
            alike = stretch[around] == stretch[centres][:, None]
            some = ~alike.all(axis=1) & (alike.sum(axis=1) >= _FEWEST_ALIKE)
            median[some] = np.nanmedian(np.where(alike, self.net_speed_m_s[around], np.nan)[some], axis=1)
        moving = self.net_speed_m_s[self.net_speed_m_s > _MOVING_M_S]
        if len(moving):  # a stretch dragged across the map is longer than any window
            median = np.minimum(median, _FASTEST_SHARE * np.median(moving) + _FASTEST_MORE_M_S)
        padded = np.pad(median, 1, mode="edge")
        return np.repeat(np.maximum(median, np.maximum(padded[:-2], padded[2:])), _BLOCK)[:count]

    @cached_property
    def rounding_deg(self) -> float:
        """Step in which the coordinates are written, 0 where it is too fine to be seen. [deg]

        A decimal of a degree, a thousandth of a minute, or the grain of a single-precision number.
        """
        pick = np.unique(np.linspace(0, len(self) - 1, min(_LOOK_AT, len(self))).astype(int))
        latitude, longitude = self.latitude_deg[pick], self.track.longitude_deg[self.index[pick]]
        if max(len(np.unique(latitude)), len(np.unique(longitude))) < _FEWEST_DIFFERENT:
            return 0.0
        degrees = np.concatenate([latitude, longitude])
        for per_degree in (1e1, 1e2, 1e3, 1e4, 6e4, 1e5, 1e6, 1e7):
            steps = degrees * per_degree
            if np.mean(np.abs(steps - np.round(steps)) < _ALMOST_WHOLE) >= _MOST:
                return 1.0 / per_degree
        single = degrees.astype(np.float32)
        if np.mean(single.astype(np.float64) == degrees) >= _MOST:
            return float(np.spacing(np.abs(single).max()))
        return 0.0

    @cached_property
    def rounding_m(self) -> float:
        """The same, to the north. [m]"""
        return float(self.rounding_deg * np.radians(1.0) * _EQUATOR_M)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What one step found among some points. Nothing is changed by it."""

    reasons: Reasons  # for each point: why it is set aside, "" where it is not
    breaks: dict[int, str]  # raw index of the first sample of a new segment -> why it begins
    warnings: tuple[str, ...]

    @classmethod
    def nothing(cls, points: Points) -> Found:
        """No oddity."""
        return cls(reasons=no_reasons(len(points)), breaks={}, warnings=())


def no_reasons(count: int) -> Reasons:
    """So many empty reasons."""
    return np.full(count, "", dtype=np.object_)


def runs_of(mask: Bools) -> tuple[Ints, Ints]:
    """First and last index of each run of ``True``."""
    edges = np.diff(np.concatenate([[0], mask.astype(np.int8), [0]]))
    return np.nonzero(edges == 1)[0], np.nonzero(edges == -1)[0] - 1
