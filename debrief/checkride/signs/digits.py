"""Numbers written more finely in one part of a log than in the rest.

Owns      ``spliced`` and ``altitude_disagrees`` by their digits.
Not here  how finely a log writes on the whole (``tracks.points``).

A recorder writes every number to the same step. A program that moves a part by some metres writes what comes out.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.scale import fewest_at
from debrief.checkride.signs.trace import Bools, Trace, runs
from debrief.tracks.model import Floats

_ON_GRID = 1e-4  # of a step
_MOST_SHARE = 0.55  # of the samples on the grid, so that it is the log's own
_FEWEST, _FEWEST_SPARSE = 15, 8  # samples of a stretch
_OFF_SHARE = 0.8  # of a stretch off the grid
_STRENGTH, _BRIDGED = 0.85, 0.35
_DECIMALS = (5, 6, 7, 8)
# each change falls onto a grid ten times as coarse by one chance in ten: sixteen in a row do by none
_COARSE, _COARSE_CHANGES, _COARSE_S, _FEWEST_CHANGES = 0.7, 16, 20.0, 5
_FT_PER_M = (1.0 / 0.3048, 3.28084, 3.2808)  # recorders cut the factor short
_ALTITUDE_STEPS_FT: tuple[tuple[float, ...], ...] = (
    *((step,) for step in (100.0, 25.0, 10.0, 1.0)),
    *(tuple(step_m * factor for factor in _FT_PER_M) for step_m in (100.0, 10.0, 1.0)),
    (0.1,),
    tuple(0.1 * factor for factor in _FT_PER_M),
    (0.01,),
)


def digit_signs(trace: Trace) -> Iterator[Flag]:
    """Stretches off the grid on which the rest of the log stands."""
    track = trace.track
    latitude, longitude = track.latitude_deg[trace.index], track.longitude_deg[trace.index]
    for per_degree in (1e4, 6e4, 1e5, 1e6, 1e7):
        off = _off(latitude * per_degree) | _off(longitude * per_degree)
        if off.mean() > 1.0 - _MOST_SHARE:
            continue
        for first, last in _stretches(off, fewest_at(trace.interval_s, _FEWEST, _FEWEST_SPARSE)):
            bridged = trace.mostly_bridged(first, last) or _straight(trace, first, last)
            yield Flag(
                sign="spliced",
                strength=_BRIDGED if bridged else _STRENGTH,
                evidence=(
                    f"from {trace.when(first, last)} positions are written more finely than everywhere else in the log"
                    + (", on a straight line, as a program fills a dropout" if bridged else "")
                ),
            )
        break
    yield from _coarser(trace, (latitude, longitude))
    yield from _altitudes(trace)


def _coarser(trace: Trace, columns: tuple[Floats, Floats]) -> Iterator[Flag]:
    """The longest stretch that was written ten or a hundred times more coarsely than everything else.

    One change in so many falls onto a coarser grid by itself: how many follow each other by chance is known.
    """
    written = next(
        (k for k in _DECIMALS if np.mean(_off(columns[0] * 10.0**k) | _off(columns[1] * 10.0**k)) < 0.02),
        None,
    )
    for fewer in (1, 2):
        if written is None or written - fewer < _DECIMALS[0] - 1:
            return
        per_degree = 10.0 ** (written - fewer)
        on = ~(_off(columns[0] * per_degree) | _off(columns[1] * per_degree)) & trace.flying
        changes = np.concatenate([[0], sum((np.diff(column) != 0.0).astype(np.int64) for column in columns)])
        total = np.cumsum(changes)
        best = max(runs(on, 4), key=lambda span: total[span[1]] - total[span[0]], default=None)
        if best is None or trace.t_s[best[1]] - trace.t_s[best[0]] < _COARSE_S:
            continue
        first, last = best
        if (total[last] - total[first]) * fewer < _COARSE_CHANGES or on.mean() > 1.0 - _MOST_SHARE:
            continue
        if not all(_varied(column[first : last + 1]) for column in columns):
            continue
        yield Flag(
            sign="spliced",
            strength=_COARSE,
            evidence=(
                f"from {trace.when(first, last)} positions are written to {written - fewer} decimals of a degree, elsewhere "
                f"to {written}"
            ),
        )
        return


def _varied(column: Floats) -> bool:
    """Whether it changes often and not always by the same, as a leg computed in round numbers does."""
    steps = np.diff(column)
    steps = np.round(steps[steps != 0.0], 9)
    return len(steps) >= _FEWEST_CHANGES and len(np.unique(steps)) > 1


def _altitudes(trace: Trace) -> Iterator[Flag]:
    altitude = trace.altitude_ft
    known = np.isfinite(altitude)
    filled = np.nan_to_num(altitude)
    # of a log drawn out between its own samples the level parts alone stand on a grid
    changing = known & (np.diff(altitude, prepend=np.nan) != 0.0)
    for step_ft, *as_well in _ALTITUDE_STEPS_FT:
        off = known.copy()
        for same_ft in (step_ft, *as_well):
            off &= _off(filled / same_ft)
        if min((~off[kind]).sum() / max(kind.sum(), 1) for kind in (known, changing)) < _MOST_SHARE:
            continue
        if step_ft == 100.0 and not _off(filled[off] / 25.0).any():
            continue  # long level at a whole hundred, or heard in both of a transponder's steps
        for first, last in _stretches(off, fewest_at(trace.interval_s, _FEWEST, _FEWEST_SPARSE)):
            if not trace.flying[first : last + 1].all():
                continue
            bridged = trace.mostly_bridged(first, last) or _even(trace, first, last)
            yield Flag(
                sign="altitude_disagrees",
                strength=_BRIDGED if bridged else 0.75,
                evidence=(
                    f"from {trace.when(first, last)} altitudes are written more finely than everywhere else in the log, "
                    f"where they stand in steps of {_step_words(step_ft)}"
                ),
            )
        return


def _step_words(step_ft: float) -> str:
    metres = step_ft * 0.3048
    return f"{metres:g} m" if abs(metres * 10 - round(metres * 10)) < 1e-6 else f"{step_ft:g} ft"


def _off(steps: Floats) -> Bools:
    return np.abs(steps - np.round(steps)) > np.maximum(_ON_GRID, np.abs(steps) * 1e-12)


def _stretches(off: Bools, fewest: int) -> list[tuple[int, int]]:
    """Stretches mostly off the grid, in a log that otherwise stands on it: a few by chance are on it."""
    found = [span for span in runs(off, 1, bridge=3) if span[1] - span[0] + 1 >= fewest]
    found = [(a, b) for a, b in found if off[a : b + 1].mean() >= _OFF_SHARE]
    inside = sum(int(off[a : b + 1].sum()) for a, b in found)
    return found if inside >= 0.8 * off.sum() else []


def _straight(trace: Trace, first: int, last: int) -> bool:
    """Whether a stretch lies on one straight line at one speed."""
    t_s = trace.t_s[first : last + 1]
    share = (t_s - t_s[0]) / (t_s[-1] - t_s[0])
    x_m, y_m = trace.x_m[first : last + 1], trace.y_m[first : last + 1]
    off_m = np.hypot(x_m - x_m[0] - share * (x_m[-1] - x_m[0]), y_m - y_m[0] - share * (y_m[-1] - y_m[0]))
    return bool(off_m.max() < 20.0)


def _even(trace: Trace, first: int, last: int) -> bool:
    altitude, t_s = trace.altitude_ft[first : last + 1], trace.t_s[first : last + 1]
    known = np.isfinite(altitude)
    if known.sum() < 3:
        return True
    line = np.polynomial.polynomial.polyfit(t_s[known] - t_s[0], altitude[known], 1)
    return bool(
        np.abs(np.polynomial.polynomial.polyval(t_s[known] - t_s[0], line) - altitude[known]).max() < 1.0
    )
