"""Units that the headings leave out, measured against the positions and the altitude.

Owns      the comparison of a speed with the distance flown, and of a vertical speed with the climb.
Not here  units that are written down (``csv_columns``).
Method    Both sides are summed over windows of half a minute, so that noise and whole-second stamps drop out.
          Units lie far enough apart (knots and miles an hour: 15 %) for the middle ratio to tell them.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from debrief.tracks.model import Floats
from debrief.tracks.readers.csv_words import FACTOR

Unit = TypeVar("Unit", str, tuple[str, str])

_WINDOW_S = 30.0
_LONGEST_WINDOW_S = 60.0
_FEWEST_WINDOWS = 6
_EARTH_RADIUS_NM = 3440.07  # mean radius 6,371.0 km; good to 0.5 %
_SPEED_TOLERANCE = 0.06
_RATE_TOLERANCE = 0.25
_SPEED_UNITS = ("kt", "km/h", "m/s", "mph")


def speed_unit(t_s: Floats, latitude_deg: Floats, longitude_deg: Floats, speed: Floats) -> str | None:
    """The unit in which ``speed`` agrees with the positions; "" where none does, None where too little was flown.

    Arrays of one length; ``nan`` anywhere means that the sample is not used.
    """
    good = np.isfinite(t_s) & np.isfinite(latitude_deg) & np.isfinite(longitude_deg) & np.isfinite(speed)
    windows = _windows(t_s, good)
    if windows is None:
        return None
    rows, begin, end = windows
    start, stop = rows[begin], rows[end]
    flown_nm = _distance_nm(
        latitude_deg[start], longitude_deg[start], latitude_deg[stop], longitude_deg[stop]
    )
    said = _summed(t_s[rows], speed[rows], begin, end) / 3600
    moving = said > 0.5 * np.median(said)
    if moving.sum() < _FEWEST_WINDOWS or not (said[moving] > 0).all():
        return None
    # The chord of a turn is short: the straighter half tells the speed.
    ratio = float(np.median(np.sort(flown_nm[moving] / said[moving])[moving.sum() // 3 :]))
    return _nearest(ratio, {unit: FACTOR[("speed", unit)] for unit in _SPEED_UNITS}, _SPEED_TOLERANCE) or ""


def climb_units(
    t_s: Floats, altitude: Floats, rate: Floats, altitude_units: tuple[str, ...], rate_units: tuple[str, ...]
) -> tuple[str, str] | None:
    """The units in which ``rate`` agrees with the change of ``altitude``; None where nothing certain comes out.

    The units that are possible are given for both. Arrays of one length; ``nan`` means not used.
    """
    good = np.isfinite(t_s) & np.isfinite(altitude) & np.isfinite(rate)
    windows = _windows(t_s, good)
    if windows is None:
        return None
    rows, begin, end = windows
    climbed = altitude[rows[end]] - altitude[rows[begin]]
    said = _summed(t_s[rows], rate[rows], begin, end) / 60
    if not (said**2).sum() > 0 or not (climbed**2).sum() > 0:
        return None
    if (said * climbed).sum() < 0.8 * np.sqrt((said**2).sum() * (climbed**2).sum()):
        return None
    slope = float((said * climbed).sum() / (said**2).sum())
    possible = {
        (length, speed): FACTOR[("rate", speed)] / FACTOR[("length", length)]
        for length in altitude_units
        for speed in rate_units
    }
    return _nearest(slope, possible, _RATE_TOLERANCE)


def _windows(
    t_s: Floats, good: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]] | None:
    """Rows in order of time, and the places among them where windows of about half a minute begin and end."""
    rows = np.flatnonzero(good)
    if len(rows) < 2:
        return None
    rows = rows[np.argsort(t_s[rows], kind="stable")]
    times = t_s[rows]
    if times[-1] - times[0] > 30 * 86_400:
        return None  # a clock that was not set: windows would fill the memory
    ends = np.unique(np.searchsorted(times, np.arange(times[0], times[-1], _WINDOW_S)))
    lengths = np.diff(times[ends])
    whole = (lengths > _WINDOW_S / 3) & (lengths < _LONGEST_WINDOW_S)
    if whole.sum() < _FEWEST_WINDOWS or whole.mean() < 0.5:
        return None
    return rows, ends[:-1][whole], ends[1:][whole]


def _summed(t_s: Floats, values: Floats, begin: NDArray[np.intp], end: NDArray[np.intp]) -> Floats:
    """The integral of the values over each window, by the trapezoidal rule."""
    steps = np.diff(t_s) * (values[1:] + values[:-1]) / 2
    total = np.concatenate([[0.0], np.cumsum(steps)])
    summed: Floats = total[end] - total[begin]
    return summed


def _distance_nm(lat1_deg: Floats, lon1_deg: Floats, lat2_deg: Floats, lon2_deg: Floats) -> Floats:
    lat1, lon1, lat2, lon2 = map(np.radians, (lat1_deg, lon1_deg, lat2_deg, lon2_deg))
    half = np.sin((lat2 - lat1) / 2) ** 2 + np.cos(lat1) * np.cos(lat2) * np.sin((lon2 - lon1) / 2) ** 2
    distance_nm: Floats = 2 * _EARTH_RADIUS_NM * np.arcsin(np.sqrt(np.clip(half, 0, 1)))
    return distance_nm


def _nearest(ratio: float, units: dict[Unit, float], tolerance: float) -> Unit | None:
    if not ratio > 0:
        return None
    unit = min(units, key=lambda name: abs(np.log(ratio / units[name])))
    return unit if abs(np.log(ratio / units[unit])) <= tolerance else None
