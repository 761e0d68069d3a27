"""A whole log that was averaged over so many seconds: what its noise still tells of the window.

Owns      ``smoothed`` of a whole log that was put through a moving average, or a moving polynomial.
Not here  parts that scatter less than the rest (``noise``).

Where a window moves on by a sample, one sample comes into it and one goes out. What came in goes out again just one
window later, with the other sign: the changes of such a log repeat themselves, reversed, at the very lag of the window
and at none beside it, in east, north and altitude alike. A receiver's own filter forgets bit by bit, and has no such
lag; what is flown does not keep to a sample.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.renumbered import slips
from debrief.checkride.signs.scale import SPARSE_S, greatest
from debrief.checkride.signs.trace import Bools, Trace
from debrief.tracks.middles import median_of, spread
from debrief.tracks.model import Floats

_SHORTEST_S, _LONGEST_S, _FEWEST_SAMPLES, _MOST_LAGS = 8.6, 45.0, 7, 64
_FEWEST_LAGS, _FEWEST = 12, 300  # lags to tell one from; samples
_EVEN, _EVEN_SHARE = 0.15, 0.9  # of the interval: a window of samples is one of seconds
# of differences: the second has most of what was averaged, the third least of what was flown; both must tell the same
_ORDERS = (3, 2)
_NOISY = 0.06  # of nine in ten changes at most: of white noise it is 0.6
_WILDEST, _MOST_EACH = 4.0, 6.0  # robust standard deviations
_TOGETHER, _SECOND = 9.8, 3.0  # of all three columns; of the second of them at least
_STRENGTH, _SURE, _SURE_TIMES = 0.6, 0.75, 1.4


def averaged_signs(trace: Trace) -> Iterator[Flag]:
    """The lag at which a log's changes are their own reverse, in all its columns, if it has one."""
    shortest, longest = (round(lag_s / trace.interval_s) for lag_s in (_SHORTEST_S, _LONGEST_S))
    lags = np.arange(max(shortest, _FEWEST_SAMPLES), min(longest, shortest + _MOST_LAGS) + 1)
    even = np.abs(trace.step_s - trace.interval_s) < _EVEN * trace.interval_s
    if trace.interval_s > SPARSE_S or len(lags) < _FEWEST_LAGS or even.mean() < _EVEN_SHARE:
        return
    together = np.full(len(lags), np.inf)
    for order in _ORDERS:
        together = np.minimum(together, _together(trace, order, lags, even) / _TOGETHER)
        k = greatest(together, 1.0)
        if k is None:
            return
    if slips(trace):  # every so many steps one is off
        return
    yield Flag(
        sign="smoothed",
        strength=_SURE if together[k] > _SURE_TIMES else _STRENGTH,
        evidence=(
            f"what comes into the positions and altitudes of the whole log goes out again {lags[k] * trace.interval_s:.0f} s "
            "later, and at no other lag, as where all was averaged over so long"
        ),
    )


def _together(trace: Trace, order: int, lags: np.ndarray, even: Bools) -> Floats:
    """By how much each lag stands out in all columns together, from differences of that order; -inf where in one alone."""
    first = np.arange(len(trace) - order)
    whole = trace.whole(first, first + order, trace.hindered | np.append(~even, False))
    columns = (trace.x_m, trace.y_m, trace.altitude_ft)
    out = [_stands_out(np.diff(values, order), whole, lags) for values in columns]
    each = np.array([one for one in out if one is not None])
    if len(each) < 2:
        return np.full(len(lags), -np.inf)
    second = np.sort(each, axis=0)[-2]
    return np.where(second > _SECOND, np.clip(each, -_MOST_EACH, _MOST_EACH).sum(axis=0), -np.inf)


def _stands_out(change: Floats, whole: Bools, lags: np.ndarray) -> Floats | None:
    """By how many robust standard deviations each lag is more of a reverse than those beside it; ``None`` of too little."""
    known = whole & np.isfinite(change)
    if known.sum() < _FEWEST:
        return None
    middle, scatter = median_of(change[known]), spread(change[known])
    # where there is no noise, rolls of one length come again as well
    if scatter <= _NOISY * float(np.quantile(np.abs(change[known] - middle), 0.9)):
        return None
    off = np.clip(np.where(known, change - middle, 0.0) / scatter, -_WILDEST, _WILDEST)
    beside = np.arange(lags[0] - 1, lags[-1] + 2)
    alike = np.array([float(off[:-lag] @ off[lag:]) for lag in beside]) / float(off @ off)
    reverse = (alike[:-2] + alike[2:]) / 2.0 - alike[1:-1]
    usual = spread(reverse)
    return (reverse - median_of(reverse)) / usual if usual > 0.0 else None
