"""Each sample held against a cubic through its four neighbours: what is left is a recorder's noise, or hard flying.

Owns      ``cubic``, ``off_cubic``, ``along_across``.
Not here  any sign.
"""

from __future__ import annotations

import numpy as np

from debrief.tracks.model import Floats


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
