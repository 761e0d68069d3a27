"""The shape of a flight, small enough to keep: where it was each two seconds, without its noise.

Owns      ``Shape``, how it is made of a log, and how it is written in a line of text.
Not here  comparing shapes (``copies``).
"""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.tracks.middles import MAD_TO_SIGMA, median_of
from debrief.tracks.model import Floats, Track

STEP_S = 2.0
_SMOOTH_S = 5.0  # standard deviation of the weights
_FAR_S = 8.0  # from the nearest sample nothing is known
_INTERVALS = 1.6
_FEWEST = 30  # points
_METRES_PER_DEG = 111_195.0
_DECIMETRES = 10.0
_FT_PER_UNIT = 0.5
_UNKNOWN = -(2**31)
_LONGEST_S = 36 * 3600.0
_WILD_M = 250.0
_COMPRESSION = 1  # a fifth longer than by the usual 6, in a quarter of the time


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """Smoothed positions at even times.

    Arrays have one entry each ``STEP_S``; ``nan`` where nothing was recorded.
    """

    start_s: float  # of the first entry, seconds since 1970
    latitude_deg: float  # of the place from which ``x_m`` and ``y_m`` count
    longitude_deg: float
    middle_deg: float  # latitude by which ``x_m`` is scaled
    x_m: Floats  # east
    y_m: Floats  # north
    altitude_ft: Floats
    interval_s: float  # of the log's samples, median
    noise_m: float  # of one sample, each axis

    def __len__(self) -> int:
        return len(self.x_m)

    def text(self) -> str:
        """In one line of ASCII."""
        columns = np.stack(
            [
                _whole(self.x_m * _DECIMETRES),
                _whole(self.y_m * _DECIMETRES),
                _whole(self.altitude_ft / _FT_PER_UNIT),
            ]
        )
        steps = np.diff(columns, n=2, axis=1, prepend=np.zeros((3, 2), dtype=np.int64))
        packed = zlib.compress(steps.astype("<i8").T.tobytes(), _COMPRESSION)
        head = (
            f"{self.start_s:.3f} {self.latitude_deg:.7f} {self.longitude_deg:.7f} {self.middle_deg:.7f} {self.interval_s:.3f} "
            f"{self.noise_m:.2f}"
        )
        return f"{head} {base64.b64encode(packed).decode()}"

    @classmethod
    def read(cls, text: str) -> Shape:
        """The same back, to the decimetre. Raises ``ValueError`` on anything else."""
        start, latitude, longitude, middle, interval, noise, packed = text.split(" ")
        try:
            raw = zlib.decompress(base64.b64decode(packed, validate=True))
        except zlib.error as error:
            raise ValueError("no shape") from error
        steps = np.frombuffer(raw, dtype="<i8").reshape(-1, 3).T
        columns = np.cumsum(np.cumsum(steps, axis=1), axis=1)
        known = columns != _UNKNOWN
        x, y, altitude = (np.where(k, c, np.nan) for k, c in zip(known, columns, strict=True))
        return cls(
            start_s=float(start),
            latitude_deg=float(latitude),
            longitude_deg=float(longitude),
            middle_deg=float(middle),
            x_m=x / _DECIMETRES,
            y_m=y / _DECIMETRES,
            altitude_ft=altitude * _FT_PER_UNIT,
            interval_s=float(interval),
            noise_m=float(noise),
        )


def _whole(values: Floats) -> NDArray[np.int64]:
    return np.where(np.isfinite(values), np.round(np.nan_to_num(values)), _UNKNOWN).astype(np.int64)


def shape_of(track: Track) -> Shape | None:
    """The shape of a log; ``None`` where it is too short to have one."""
    known = np.isfinite(track.t_s) & np.isfinite(track.latitude_deg) & np.isfinite(track.longitude_deg)
    index = np.flatnonzero(known)
    index = index[np.argsort(track.t_s[index], kind="stable")]
    t_s, latitude, longitude = track.t_s[index], track.latitude_deg[index], track.longitude_deg[index]
    fresh = np.ones(len(index), dtype=np.bool_)  # of equal stamps, and of a held position, the first counts
    fresh[1:] = (np.diff(t_s) > 0) & ((np.diff(latitude) != 0) | (np.diff(longitude) != 0))
    index, t_s, latitude, longitude = index[fresh], t_s[fresh], latitude[fresh], longitude[fresh]
    if len(index) < _FEWEST or t_s[-1] - t_s[0] > _LONGEST_S:
        return None
    if np.ptp(longitude) > 180.0:
        longitude = np.unwrap(longitude, period=360.0)
    middle = len(index) // 2
    across = _METRES_PER_DEG * np.cos(np.radians(latitude[middle]))
    x_m = (longitude - longitude[middle]) * across
    y_m = (latitude - latitude[middle]) * _METRES_PER_DEG
    tame = ~_wild(x_m, y_m)
    t_s, x_m, y_m, index = t_s[tame], x_m[tame], y_m[tame], index[tame]
    interval_s = float(np.median(np.diff(t_s)))
    grid_s = np.arange(np.ceil(t_s[0] / STEP_S), np.floor(t_s[-1] / STEP_S) + 1) * STEP_S
    if len(grid_s) < _FEWEST:
        return None
    far = _far(t_s, grid_s, max(_FAR_S, _INTERVALS * interval_s))
    altitude = track.altitude_ft[index]
    high = np.isfinite(altitude)
    return Shape(
        start_s=track.epoch.timestamp() + float(grid_s[0]),
        latitude_deg=float(track.latitude_deg[index[0]] - y_m[0] / _METRES_PER_DEG),
        longitude_deg=float((track.longitude_deg[index[0]] - x_m[0] / across + 180.0) % 360.0 - 180.0),
        middle_deg=float(latitude[middle]),
        x_m=np.where(far, np.nan, _smooth(_between(t_s, x_m, grid_s))),
        y_m=np.where(far, np.nan, _smooth(_between(t_s, y_m, grid_s))),
        altitude_ft=(
            np.where(far, np.nan, _smooth(np.interp(grid_s, t_s[high], altitude[high])))
            if high.mean() > 0.5
            else np.full(len(grid_s), np.nan)
        ),
        interval_s=interval_s,
        noise_m=_noise_m(t_s, x_m, y_m, interval_s),
    )


def _wild(x_m: Floats, y_m: Floats) -> NDArray[np.bool_]:
    wild = np.zeros(len(x_m), dtype=np.bool_)
    to_next = np.hypot(np.diff(x_m), np.diff(y_m))
    across = np.hypot(x_m[2:] - x_m[:-2], y_m[2:] - y_m[:-2])
    wild[1:-1] = np.minimum(to_next[:-1], to_next[1:]) > _WILD_M + 2.0 * across
    return wild


def _far(t_s: Floats, grid_s: Floats, most_s: float) -> NDArray[np.bool_]:
    after = np.clip(np.searchsorted(t_s, grid_s), 1, len(t_s) - 1)
    step_s = t_s[after] - t_s[after - 1]
    return np.asarray(step_s > most_s)


def _between(t_s: Floats, values: Floats, at_s: Floats) -> Floats:
    """Between samples by a cubic through them, its slopes those from neighbour to neighbour."""
    slope = np.gradient(values, t_s)
    after = np.clip(np.searchsorted(t_s, at_s), 1, len(t_s) - 1)
    before = after - 1
    step_s = t_s[after] - t_s[before]
    u = (at_s - t_s[before]) / step_s
    return np.asarray(
        values[before] * (1 + 2 * u) * (1 - u) ** 2
        + values[after] * u**2 * (3 - 2 * u)
        + step_s * (slope[before] * u * (1 - u) ** 2 - slope[after] * u**2 * (1 - u))
    )


_REACH = round(3 * _SMOOTH_S / STEP_S)
_WEIGHTS = np.exp(-0.5 * (np.arange(-_REACH, _REACH + 1) * STEP_S / _SMOOTH_S) ** 2)
_WEIGHTS /= _WEIGHTS.sum()


def _smooth(values: Floats) -> Floats:
    """A weighted mean around each entry; past its ends the flight goes on straight, so that none is drawn inwards."""
    before = 2 * values[0] - values[_REACH:0:-1]
    after = 2 * values[-1] - values[-2 : -_REACH - 2 : -1]
    return np.convolve(np.concatenate([before, values, after]), _WEIGHTS, mode="valid")


def _noise_m(t_s: Floats, x_m: Floats, y_m: Floats, interval_s: float) -> float:
    """Scatter of a sample about the line between its neighbours, of those at even times; robust."""
    even = np.abs(t_s[2:] - 2 * t_s[1:-1] + t_s[:-2]) < 0.05 * interval_s
    off = np.concatenate([(v[2:] - 2 * v[1:-1] + v[:-2])[even] for v in (x_m, y_m)])
    if len(off) < _FEWEST:
        return 0.0
    return float(MAD_TO_SIGMA * median_of(np.abs(off)) / 6.0**0.5)
