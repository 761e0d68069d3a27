"""A part of a flight that stands in its log twice: the very same positions at two times.

Owns      ``spliced``, where a part was pasted within one log.
Not here  parts of another log (``copies``), seams (``motion``).

Over a racetrack twice the same ground is covered, never by the same numbers in the same order.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.trace import Trace, runs

_FEWEST = 12  # samples in a row
_FEWEST_ALONE = 25  # without the altitudes
_FEWEST_COARSE = 30  # where positions are rounded to ten metres
_LEAST_M = 300.0  # flown in them
_STRENGTH = 0.95


def repeat_signs(trace: Trace) -> Iterator[Flag]:
    """The longest stretch of positions that come again later, in the same order."""
    track = trace.track
    latitude, longitude = track.latitude_deg[trace.index], track.longitude_deg[trace.index]
    place = np.round(latitude * 1e7).astype(np.int64) * 4_000_000_007 + np.round(longitude * 1e7).astype(
        np.int64
    )
    order = np.argsort(place, kind="stable")
    same = place[order][1:] == place[order][:-1]
    first, second = order[:-1][same], order[1:][same]
    apart = second - first
    moving = trace.flying[first] & trace.flying[second] & (apart > _FEWEST)
    first, apart = first[moving], apart[moving]
    if len(first) < _FEWEST:
        return
    best: tuple[float, int, int, int] | None = None
    for lag in np.unique(apart)[:200]:
        here = np.zeros(len(trace), dtype=np.bool_)
        here[first[apart == lag]] = True
        for start, end in runs(here, _FEWEST, bridge=1):
            way_m = float(
                np.hypot(np.diff(trace.x_m[start : end + 1]), np.diff(trace.y_m[start : end + 1])).sum()
            )
            if way_m > _LEAST_M and _surely(trace, start, end, lag) and (best is None or way_m > best[0]):
                best = way_m, start, end, int(lag)
    if best is not None:
        _, start, end, lag = best
        yield Flag(
            sign="spliced",
            strength=_STRENGTH,
            evidence=(
                f"the {end - start + 1} positions from {trace.when(start, end)} come again, digit by digit, from "
                f"{trace.when(start + lag, end + lag)}"
            ),
        )


def _surely(trace: Trace, start: int, end: int, lag: int) -> bool:
    """Whether the altitudes come again too, or the positions are so fine and so many that it is no chance."""
    altitude = trace.altitude_ft
    here, there = altitude[start : end + 1], altitude[start + lag : end + lag + 1]
    latitude = trace.track.latitude_deg[trace.index[start : end + 1]]
    coarse = np.mean(np.abs(latitude * 1e4 - np.round(latitude * 1e4)) < 1e-3) > 0.5
    if coarse and end - start + 1 < _FEWEST_COARSE:
        return False
    return bool(np.mean(here == there) > 0.8) or (not coarse and end - start + 1 >= _FEWEST_ALONE)
