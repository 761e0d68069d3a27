"""Straight lines put in place of positions, while the same receiver went on measuring everything else.

Owns      ``spliced`` of a line on which altitude, speed or track scatter as they do elsewhere.
Not here  lines that bridge a dropout in all columns, which converters draw: honest (``tracks.bridges``).

A receiver that loses its position loses its altitude, speed and track with it, and who fills the gap fills them all by
straight lines. A pressure altitude is of another sensor and goes on: it tells nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.cubics import off_cubic
from debrief.checkride.signs.scale import MISSING, SPARSE_S
from debrief.checkride.signs.trace import Bools, Trace, runs
from debrief.tracks.middles import spread
from debrief.tracks.model import Floats

_LASTING_S, _FEWEST = 20.0, 15
_EDGE = 3  # samples at each end, which have others than the line's among their neighbours
_ALIVE = 0.6  # of the usual scatter
_LEAST_M = 0.6  # a log that scatters less tells nothing by a line that does not scatter
_ROUNDING, _NOISY = 12.0**-0.5, 1.6
_RECEIVERS = ("gps", "ellipsoid")
# lines from corner to corner are one; a log with more breaks off by itself
_ONE_PLACE_S, _MOST_PLACES = 10.0, 2
_MISSED = 0.05  # of the steps
_STRENGTH = 0.65
_WORDS = {"groundspeed_kt": "ground speed", "ground_track_true_deg": "track", "altitude_ft": "altitude"}


def typed_signs(trace: Trace) -> Iterator[Flag]:
    """The first line beside which something that a receiver measures is alive."""
    if trace.interval_s > SPARSE_S:
        return
    weights, size = trace.cubic
    free = ~trace.bridged & trace.flying
    free = free & ~np.concatenate([trace.gap, [False]]) & ~np.concatenate([[False], trace.gap])
    scatter_m = min(_usual(off_cubic(values, weights) / size, free) for values in (trace.x_m, trace.y_m))
    if scatter_m < max(_LEAST_M, _NOISY * _ROUNDING * trace.rounding_m):
        return
    lines = runs(trace.bridged & trace.flying, _FEWEST, bridge=trace.samples(_ONE_PLACE_S))
    if len(lines) > _MOST_PLACES:
        return
    for first, last in lines:
        if trace.t_s[last] - trace.t_s[first] < _LASTING_S:
            continue
        if np.mean(trace.step_s[first:last] > MISSING * trace.interval_s) > _MISSED:
            continue  # positions that were not renewed: whoever draws a line fills it
        alive = [
            words
            for name, words in _WORDS.items()
            if (values := _measured(trace, name)) is not None
            and _alive(values, off_cubic(values, weights) / size, free, first, last)
        ]
        if alive:
            yield Flag(
                sign="spliced",
                strength=_STRENGTH,
                evidence=(
                    f"from {trace.when(first, last)} the positions lie on straight lines at one speed, and do not scatter; "
                    f"{' and '.join(alive)} scatter as elsewhere, so nothing had dropped out"
                ),
            )
            return


def _measured(trace: Trace, name: str) -> Floats | None:
    """What the receiver of the positions measures besides; directions without their jumps at north."""
    if name == "altitude_ft":
        return trace.altitude_ft if trace.track.altitude_source in _RECEIVERS else None
    column = trace.track.columns.get(name)
    if column is None:
        return None
    values = column[trace.index]
    return np.unwrap(values, period=360.0) if name == "ground_track_true_deg" else values


def _usual(off: Floats, free: Bools) -> float:
    return spread(np.where(free[2:-2], off, np.nan))


def _alive(values: Floats, off: Floats, free: Bools, first: int, last: int) -> bool:
    """Whether values scatter on the line as they do in free flight, and by more than their digits make them."""
    usual = _usual(off, free)
    steps = np.abs(np.diff(values[np.isfinite(values)]))
    steps = steps[steps > 1e-6]
    step = float(steps.min()) if len(steps) else 0.0
    inside = off[max(first + _EDGE - 2, 0) : max(last - _EDGE - 1, 0)]
    inside = inside[np.isfinite(inside)]
    if len(inside) < _FEWEST - 2 * _EDGE or usual <= _NOISY * _ROUNDING * step:
        return False
    return bool(spread(inside) > _ALIVE * usual)
