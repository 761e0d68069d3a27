"""A part of a flight that stands in its log twice: the very same numbers at two times.

Owns      ``spliced``, where a part was pasted within one log, as it was or moved to where it had to fit.
Not here  parts of another log (``copies``), seams (``motion``).

Over a racetrack twice the same ground is covered, never by the same numbers in the same order. A part that was moved
keeps its steps from sample to sample, to the last digit: a recorder that rounds to a metre writes other steps even
for the same motion, as each position falls elsewhere between two metres.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.scale import SPARSE_S, fewest_at
from debrief.checkride.signs.trace import Bools, Ints, Trace, runs

_FEWEST, _FEWEST_SPARSE = 12, 6  # samples in a row
_FEWEST_ALONE = 25  # without the altitudes
_FEWEST_COARSE = 30  # where positions are rounded to ten metres
_LEAST_M = 300.0  # flown in them
_STRENGTH, _MOVED = 0.95, 0.85
_PER_DEG = 1e7  # a centimetre
_MOST_LAGS = 200
_TOGETHER = 3  # steps that are looked for as one, in logs whose steps are few and alike
_FEWEST_STEPS, _FEWEST_STEPS_SPARSE = 12, 4
_ALIKE = 0.12  # chance of two steps to be the same, beyond which the same steps in a row are no wonder
_LOG_CHANCE = -25.0  # of so many the same in a row, somewhere in the log
_SMOOTH = 3  # degree
_FIRST, _SECOND = np.int64(4_000_000_007), np.int64(6_700_417_000_003)


def repeat_signs(trace: Trace) -> Iterator[Flag]:
    """The longest stretch of positions, or else of steps, that come again later in the same order."""
    north, east = (
        np.round(column[trace.index] * _PER_DEG).astype(np.int64)
        for column in (trace.track.latitude_deg, trace.track.longitude_deg)
    )
    found = _positions(trace, north * _FIRST + east)
    if found is not None:
        start, end, lag = found
        yield Flag(
            sign="spliced",
            strength=_STRENGTH,
            evidence=(
                f"the {end - start + 1} positions from {trace.when(start, end)} come again, digit by digit, from "
                f"{trace.when(start + lag, end + lag)}"
            ),
        )
        return
    found = _steps(trace, np.diff(north) * _FIRST + np.diff(east))
    if found is not None:
        start, end, lag = found
        yield Flag(
            sign="spliced",
            strength=_MOVED,
            evidence=(
                f"the {end - start} steps from sample to sample from {trace.when(start, end)} come again, digit by "
                f"digit, from {trace.when(start + lag, end + lag)}, at another place"
            ),
        )


def _positions(trace: Trace, place: Ints) -> tuple[int, int, int] | None:
    """First and last sample, and how many later they come again."""
    best: tuple[float, int, int, int] | None = None
    fewest = fewest_at(trace.interval_s, _FEWEST, _FEWEST_SPARSE)
    for start, end, lag in _again(place, trace.flying, fewest, fewest):
        way_m = float(
            np.hypot(np.diff(trace.x_m[start : end + 1]), np.diff(trace.y_m[start : end + 1])).sum()
        )
        if way_m > _LEAST_M and _surely(trace, start, end, lag) and (best is None or way_m > best[0]):
            best = way_m, start, end, lag
    return None if best is None else best[1:]


def _steps(trace: Trace, step: Ints) -> tuple[int, int, int] | None:
    """The same for steps: those so unlike one another that chance does not make as many the same in a row."""
    sparse = trace.interval_s > SPARSE_S
    together, fewest = (1, _FEWEST_STEPS_SPARSE) if sparse else (_TOGETHER, _FEWEST_STEPS)
    count = len(step) - together + 1
    key = step[:count].copy()
    for number in range(1, together):
        key = key * _SECOND + step[number : count + number]
    usual = _collisions(step)
    clear = trace.flying[:-1] & ~trace.gap & ~trace.bridged[:-1] & ~trace.bridged[1:]
    best: tuple[float, int, int, int] | None = None
    for first, last, lag in _again(key, clear[:count], max(1, fewest - together + 1), fewest):
        end = last + together  # sample after the last step
        alike = max(usual, _collisions(step[first:end]))
        log_chance = (end - first) * np.log(max(alike, 1e-6)) + 2.0 * np.log(len(step))
        if alike >= _ALIKE or log_chance >= _LOG_CHANCE or _by_itself(trace, first, end):
            continue
        if best is None or log_chance < best[0]:
            best = float(log_chance), first, end, lag
    return None if best is None else best[1:]


def _by_itself(trace: Trace, first: int, last: int) -> bool:
    """Whether a stretch is so smooth that its steps may come again by themselves: a cubic but for its rounding.

    A simulator without noise flies the same leg, and rolls into it, twice alike.
    """
    share = np.linspace(-1.0, 1.0, last + 1 - first)
    for values in (trace.track.latitude_deg[trace.index], trace.track.longitude_deg[trace.index]):
        steps = np.diff(np.unique(values))
        rounding = float(np.quantile(steps, 0.05)) if len(steps) else 0.0
        inside = values[first : last + 1]
        fit = np.polynomial.polynomial.polyfit(share, inside - inside[0], _SMOOTH)
        off = np.polynomial.polynomial.polyval(share, fit) - (inside - inside[0])
        if np.abs(off).max() > rounding:
            return False
    return True


def _again(key: Ints, usable: Bools, fewest: int, nearest: int) -> Iterator[tuple[int, int, int]]:
    """Runs of keys that come again so many places later."""
    order = np.argsort(key, kind="stable")
    same = key[order][1:] == key[order][:-1]
    first, second = order[:-1][same], order[1:][same]
    apart = second - first
    moving = usable[first] & usable[second] & (apart > nearest)
    first, apart = first[moving], apart[moving]
    if len(first) < fewest:
        return
    lags, counts = np.unique(apart, return_counts=True)
    for lag in lags[counts >= fewest // 2][:_MOST_LAGS]:
        here = np.zeros(len(key), dtype=np.bool_)
        here[first[apart == lag]] = True
        for start, end in runs(here, fewest, bridge=1):
            yield start, end, int(lag)


def _collisions(step: Ints) -> float:
    """The chance that two of these are the same."""
    n = len(step)
    counts = np.unique(step, return_counts=True)[1]
    return float((counts * (counts - 1.0)).sum() / max(n * (n - 1.0), 1.0))


def _surely(trace: Trace, start: int, end: int, lag: int) -> bool:
    """Whether the altitudes come again too, or the positions are so fine and so many that it is no chance."""
    altitude = trace.altitude_ft
    here, there = altitude[start : end + 1], altitude[start + lag : end + lag + 1]
    latitude = trace.track.latitude_deg[trace.index[start : end + 1]]
    coarse = np.mean(np.abs(latitude * 1e4 - np.round(latitude * 1e4)) < 1e-3) > 0.5
    if coarse and end - start + 1 < _FEWEST_COARSE:
        return False
    return bool(np.mean(here == there) > 0.8) or (not coarse and end - start + 1 >= _FEWEST_ALONE)
