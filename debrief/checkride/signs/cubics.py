"""Each sample held against a cubic through its four neighbours: what is left is a recorder's noise, or hard flying.

Owns      ``cubic``, ``off_cubic``, ``along_across``, ``wild``.
Not here  any sign.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.tracks.middles import MAD_TO_SIGMA, median_of
from debrief.tracks.model import Floats

_WILD = np.array([1.0, -4.0, 6.0, -4.0, 1.0]) / 6.0  # what a single sample that is off by one leaves about it
# a step leaves such a pattern by 0.88, a corner at a sample by 0.95
_FAR, _FAR_M, _EXPLAINED = 8.0, 15.0, 0.97
_LONGEST_INTERVAL_S = 2.5  # in more an aircraft leaves such a cubic
_NEAR, _AS_ELSEWHERE = 10, 2.0  # samples; times as much


def cubic(t_s: Floats) -> tuple[Floats, Floats]:
    """Weights by which a cubic gives each sample from its four neighbours (Lagrange), and the size of white noise left.

    For all but the first two and last two samples.
    """
    times = np.stack([t_s[:-4], t_s[1:-3], t_s[3:-1], t_s[4:]])
    at = t_s[2:-2]
    weights = np.ones_like(times)
    for k in range(4):
        for j in range(4):
            if j != k:
                weights[k] *= (at - times[j]) / (times[k] - times[j])
    return weights, np.sqrt(1.0 + (weights**2).sum(axis=0))


def off_cubic(values: Floats, weights: Floats) -> Floats:
    """Each sample less what the cubic says, for all but the first two and last two."""
    around = np.stack([values[:-4], values[1:-3], values[3:-1], values[4:]])
    return np.asarray(values[2:-2] - (weights * around).sum(axis=0))


def along_across(x_m: Floats, y_m: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """How far positions are off such cubics along the track and across it, to the right."""
    east, north = off_cubic(x_m, weights), off_cubic(y_m, weights)
    vx, vy = x_m[4:] - x_m[:-4], y_m[4:] - y_m[:-4]
    way = np.maximum(np.hypot(vx, vy), 1.0)
    return (east * vx + north * vy) / way, (east * vy - north * vx) / way


def wild(t_s: Floats, x_m: Floats, y_m: Floats) -> NDArray[np.bool_]:
    """Single samples far off the cubic through their neighbours, which go on as if they were not there.

    Among others that scatter as they do elsewhere: in a rough part many a sample looks wild.
    """
    found = np.zeros(len(t_s), dtype=np.bool_)
    if len(t_s) < 2 * len(_WILD) or median_of(np.diff(t_s)) > _LONGEST_INTERVAL_S:
        return found
    weights, _ = cubic(t_s)
    off_m = np.stack([off_cubic(values, weights) for values in (x_m, y_m)])
    largest_m = np.abs(off_m).max(axis=0)
    usual_m = median_of(largest_m)
    least_m = max(_FAR_M, _FAR * MAD_TO_SIGMA * usual_m)
    if largest_m.max() < least_m:  # as in most logs
        return found
    about = np.lib.stride_tricks.sliding_window_view(off_m, len(_WILD), axis=1)
    size2 = ((about @ _WILD / (_WILD @ _WILD)) ** 2).sum(axis=0)
    squares = np.einsum("aki,aki->k", about, about)
    alone = np.flatnonzero((size2 > least_m**2) & (size2 * (_WILD @ _WILD) > _EXPLAINED * squares))
    beside = np.zeros(len(largest_m), dtype=np.bool_)
    for k in alone:
        beside[k : k + len(_WILD)] = True
    for k in alone:
        near = slice(max(k - _NEAR, 0), k + len(_WILD) + _NEAR)
        others_m = largest_m[near][~beside[near]]
        # residuals begin with the third sample, and the pattern's middle is its third
        found[k + 4] = len(others_m) > 0 and median_of(others_m) < _AS_ELSEWHERE * usual_m
    return found
