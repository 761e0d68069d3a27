"""The log as it was read: raw samples in the order of the file, never altered.

Owns      ``Track`` (raw columns) and ``Conditioned`` (which samples are used, and what was found, their errors too).
Not here  reading files (``readers``), deciding what is odd (``conditioning``), smoothing (``smoothing``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.errors import TrackError
from debrief.navigation.intervals import half_width

Floats = NDArray[np.float64]
#: What an altitude counts from is told by its source: "ellipsoid" is a satellite receiver's height above the WGS84
#: ellipsoid; "gps" is above the sea; "pressure" is that of the standard atmosphere.
AltitudeSource = Literal["gps", "ellipsoid", "indicated", "pressure", "unknown"]

#: Optional columns a reader may fill, each with its unit in its name; ``nan`` where a sample has no value.
OPTIONAL_COLUMNS = (
    "groundspeed_kt",
    "ground_track_true_deg",
    "heading_true_deg",
    "heading_mag_deg",
    "airspeed_kias",
    "airspeed_ktas",
    "pressure_altitude_ft",
    "vertical_speed_ft_min",
    "on_ground",  # 1.0 on the ground, 0.0 airborne
)


_LONGEST_S = 1e10  # from the first year that a log may be of to the last, 300 years, and no more


def _read_only(values: Floats, name: str) -> Floats:
    try:
        array = np.array(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise TrackError(f"Track.{name} does not hold numbers", remedy="Give one number a sample.") from error
    array.setflags(write=False)
    return array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """A log, sample by sample, in the order of the file.

    All arrays have one entry a sample and are read-only. Positions are WGS84 degrees, longitude in
    [-180, 180). ``t_s`` counts seconds from ``epoch`` (UTC, the first sample in the file) and may run
    backwards where the file does. ``altitude_ft`` is ``nan`` where the log has none; it is as logged, in
    feet, with no correction but the unit.
    """

    file: str  # the file's name, for people
    sha256: str
    format: str  # "gpx", "csv", "igc", "kml", "geojson"
    epoch: datetime
    t_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    altitude_ft: Floats
    altitude_source: AltitudeSource = "unknown"
    part: Floats  # number of the track segment in the file (a new one is a gap), 0 upwards
    line: Floats  # place in the file, counted from 1
    line_counts: Literal["line", "point"] = "line"  # what ``line`` counts
    columns: Mapping[str, Floats] = field(default_factory=dict)  # of OPTIONAL_COLUMNS
    notes: tuple[str, ...] = ()  # what the reader assumed or left out, in plain words
    pilot: str | None = None
    assumed: tuple[str, ...] = ()  # the notes among ``notes`` that are assumptions a person should confirm
    altitude_unit_notes: tuple[str, ...] = ()  # among ``notes``: of a unit that the file does not name
    heading_north_open: bool = False  # its heading does not say from which north, and stands as a true one

    def __post_init__(self) -> None:
        if self.epoch.tzinfo is None:
            raise TrackError("Track.epoch has no time zone", remedy="Give it in UTC.")
        samples = np.size(self.t_s)
        for name in ("t_s", "latitude_deg", "longitude_deg", "altitude_ft", "part", "line"):
            array = _read_only(getattr(self, name), name)
            if array.shape != (samples,):
                raise TrackError(
                    f"Track.{name} has the shape {array.shape}, not ({samples},)",
                    remedy="Give one number a sample.",
                )
            object.__setattr__(self, name, array)
        if not (np.abs(self.t_s) <= _LONGEST_S).all():
            raise TrackError(
                "Track.t_s holds a time that is none", remedy="Give seconds from Track.epoch, and no nan."
            )
        unknown = set(self.columns) - set(OPTIONAL_COLUMNS)
        if unknown:
            raise TrackError(
                f"Track.columns has no {', '.join(map(repr, unknown))}",
                remedy=f"Its names are {', '.join(OPTIONAL_COLUMNS)}.",
            )
        columns = {name: _read_only(values, f"columns[{name!r}]") for name, values in self.columns.items()}
        for name, values in columns.items():
            if values.shape != (samples,):
                raise TrackError(
                    f"Track.columns[{name!r}] has the shape {values.shape}, not ({samples},)",
                    remedy="Give one number a sample.",
                )
        object.__setattr__(self, "columns", MappingProxyType(columns))

    def __len__(self) -> int:
        return len(self.t_s)

    def time_at(self, t_s: float) -> datetime:
        """The moment ``t_s`` seconds after ``epoch``, in UTC, to the millisecond."""
        return (self.epoch + timedelta(milliseconds=round(t_s * 1000))).astimezone(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch in which nothing was observed: between two used samples, or bridged by interpolation."""

    start_s: float
    end_s: float
    reason: Literal["no samples", "new segment", "bridged", "stuck"]

    @property
    def seconds(self) -> float:
        """How long it lasts. [s]"""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionErrors:
    """What is wrong with the positions of a log besides their noise, across any axis; standard deviations. [NM]"""

    constant_nm: float  # the same all along
    wander_nm: float = 0.0  # changing over minutes (a satellite receiver's)

    @property
    def half_width_nm(self) -> float:
        """Of one position, at 95 %."""
        return half_width(float(np.hypot(self.constant_nm, self.wander_nm)))


@dataclass(frozen=True, slots=True, kw_only=True)
class AltitudeErrors:
    """What is wrong with the altitudes of a log besides their noise, and no smoothing removes. [ft]"""

    constant_ft: float  # the same all along, standard deviation
    wander_ft: float = 0.0  # changing over minutes (a satellite receiver's), standard deviation
    bias_ft: float = 0.0  # measured at a landing and not corrected: log less truth
    step_ft: float = 0.0  # in which they are rounded, 0 where none is seen

    @property
    def half_width_ft(self) -> float:
        """Of one altitude, at 95 %."""
        return half_width(
            float(np.hypot(self.constant_ft, self.wander_ft)),
            bias=self.bias_ft,
            rectangular=self.step_ft / 2.0,
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class Conditioned:
    """A track with what was found out about its samples. The raw track inside is untouched.

    ``order`` lists the indices of the used samples in order of strictly increasing time. ``segment`` (one
    entry for each of ``order``) counts up at each gap. ``set_aside`` has one entry a raw sample: "" where
    it is used, else the reason ("doubled", "repeated position", "jump", "spike", "bridged", ...). The
    altitude has its own mask, because a sample with a bad altitude still has a good position.
    """

    track: Track
    order: NDArray[np.int64]
    segment: NDArray[np.int64]
    altitude_used: NDArray[np.bool_]  # for each of ``order``
    altitude_ft: Floats  # for each of ``order``: as logged, plus ``altitude_correction_ft`` (only when asked)
    altitude_source: AltitudeSource
    altitude_errors: AltitudeErrors
    position_errors: PositionErrors
    set_aside: tuple[str, ...]
    gaps: tuple[Gap, ...]
    median_interval_s: float
    warnings: tuple[str, ...]  # in plain words, for people; what was found, where, how much
    altitude_offset_ft: float | None = None  # measured at the landing: log less runway; not applied
    altitude_left_ft: float | None = None  # the same, less the offset asked for; ``None``: units are mixed up
    doubtful_columns: frozenset[str] = frozenset()  # optional columns that contradict the positions
    #: Where time does not run as the log's own ground speed says, from when to when, and how many times as fast the
    #: positions move. [s]
    other_pace: tuple[tuple[float, float, float], ...] = ()
    on_lines: NDArray[np.bool_] | None = None  # for each of ``order``: a program put it between two others
    altitude_unit_warnings: tuple[str, ...] = ()  # among ``warnings``: feet and metres perhaps mixed up
    drawn_out_s: float | None = None  # between the corners of straight lines that a program put samples on

    @property
    def altitude_uncertainty_ft(self) -> float:
        """Half-width at 95 % of what no smoothing removes from one altitude. [ft]"""
        return self.altitude_errors.half_width_ft

    @property
    def position_uncertainty_nm(self) -> float:
        """Half-width at 95 %, across one axis, of what no smoothing removes from a position. [NM]"""
        return self.position_errors.half_width_nm

    @cached_property
    def measured_interval_s(self) -> float:
        """Time between samples that were measured: longer than their own where a program drew some between. [s]

        The mean where it did, for such samples come unevenly, and what they tell goes by their number.
        """
        if self.on_lines is None or not self.on_lines.any():
            return self.median_interval_s
        together = np.diff(self.segment[~self.on_lines]) == 0
        apart_s = np.diff(self.t_s[~self.on_lines])[together]
        return float(apart_s.mean()) if len(apart_s) else self.median_interval_s

    def pace_in(self, start_s: float, end_s: float) -> float | None:
        """How many times as fast the positions move in some of a span as the log's own ground speed says; else ``None``."""
        return next(
            (pace for first_s, last_s, pace in self.other_pace if first_s < end_s and start_s < last_s), None
        )

    def unseen_s(self, t_s: float, within_s: float) -> float:
        """Longest time between two measured samples around a moment or so far from it; no less than usual. [s]

        Where nothing is smoothed across, in a gap, there is none.
        """
        measured = slice(None) if self.on_lines is None else ~self.on_lines
        at_s, segment = self.t_s[measured], self.segment[measured]
        first = max(int(np.searchsorted(at_s, t_s - within_s, side="right")) - 1, 0)
        last = int(np.searchsorted(at_s, t_s + within_s, side="left")) + 1
        apart_s = np.diff(at_s[first:last])[np.diff(segment[first:last]) == 0]
        return max(self.measured_interval_s, float(apart_s.max(initial=0.0)))

    @cached_property
    def t_s(self) -> Floats:
        """Times of the used samples, in order. [s since the track's epoch]"""
        return self.track.t_s[self.order]
