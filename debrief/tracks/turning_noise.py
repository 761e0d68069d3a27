"""How far positions lie off the path in turns, where a log may be far worse than its noise on straight legs.

Owns      ``turning_noise_m``.
Not here  the smoother and the noise it estimates of all samples (``smoothing``).
Source    Arithmetic: the third difference of a path flown under white jerk of density q has the variance
          11/20 q dt^5, where 11/20 is the integral of the squared quadratic B-spline (its test integrates scipy's).

A log drawn by straight lines between uneven reports onto an even grid looks even, and on straight legs it is exact. In
a turn its corners are cut, now by five seconds, now by fifteen, and a smoother follows the cut ones. It shows: four
samples in a row of a steady turn lie on a parabola but for what the jerk and the noise move them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from debrief.tracks.middles import MAD_TO_SIGMA, median_of
from debrief.tracks.smoothing import Spline

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TURNING_DEG_S = 1.5  # on the mean of four samples, all of them one way
STANDS_STILL_DEG_S = 1.5  # so far the other way a smoothed rate goes where a line cuts a corner
SLOWEST_M_S = 15.0  # slower turns are taxied
FEWEST = 10  # in turns, to tell their scatter
_JERK_SHARE = 11.0 / 20.0
_SQUARES = 20.0  # 1 + 9 + 9 + 1, of the third difference's weights


def turning_noise_m(stretches: Sequence[tuple[Floats, Floats, Spline]], jerk_density: float) -> float:
    """Scatter of one position across a turn, one standard deviation, beyond what the jerk explains; 0 where unknown. [m]

    ``stretches`` : times [s], shape (n,), positions [m], shape (n, 2), and what the smoother made of them.
    """
    scatters, intervals = [], []
    for t_s, metres, spline in stretches:
        if len(t_s) < 4:
            continue
        _, velocity, acceleration = spline.motion(t_s, 3)
        speed = np.hypot(*velocity)
        with np.errstate(divide="ignore", invalid="ignore"):
            rate_deg_s = np.degrees(velocity[1] * acceleration[0] - velocity[0] * acceleration[1]) / speed**2
            across = np.stack([velocity[1], -velocity[0]]) / speed
        four = [rate_deg_s[first : len(rate_deg_s) - 3 + first] for first in range(4)]
        # on the mean: on a cut corner's straight line a turn stands still for a sample
        turning = np.flatnonzero(np.abs(sum(four)) > 4.0 * TURNING_DEG_S)
        rates = np.stack([rate[turning] for rate in four])
        one_way = (rates > -STANDS_STILL_DEG_S).all(axis=0) | (rates < STANDS_STILL_DEG_S).all(axis=0)
        flown = (speed[turning + np.arange(4)[:, None]] > SLOWEST_M_S).all(axis=0)
        turning = turning[one_way & flown]
        times = sliding_window_view(t_s, 4)[turning]
        apart_s = times[:, :, None] - times[:, None, :] + np.eye(4)
        weights = 1.0 / apart_s.prod(axis=2)  # of the third divided difference
        weights *= np.sqrt(_SQUARES / (weights**2).sum(axis=1))[:, None]
        off_m = (sliding_window_view(metres, 4, axis=0)[turning] * weights[:, None, :]).sum(axis=2)
        scatters.append(np.abs((off_m * across[:, turning + 1].T).sum(axis=1)))
        intervals.append((times[:, -1] - times[:, 0]) / 3.0)
    if sum(map(len, scatters)) < FEWEST:
        return 0.0
    square = (MAD_TO_SIGMA * median_of(np.concatenate(scatters))) ** 2
    by_jerk = _JERK_SHARE * jerk_density * median_of(np.concatenate(intervals)) ** 5
    return float(np.sqrt(max(0.0, square - by_jerk) / _SQUARES))
