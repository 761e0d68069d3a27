"""Positions that are right but late: put back along the way to where a steady flight would have had them.

Owns      ``lateness_m``: whether a log jitters along its way far more than beside it; ``retimed``: a stretch without.
Not here  the smoother (``smoothing``), stamps that are whole seconds (``clock``).

A recorder that stamps a position when it comes in, not when it was taken, leaves it on the way that was flown, some
seconds early or late: the ground speed between two samples is off by tens of knots while its mean is right. Noise is
the same in all directions, this is not. How far along its way the aircraft has come is smoothed by itself, with what
an aircraft can do along its way, which is far less than it does across it by turning.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from debrief.tracks.smoothing import Spline, fit, trimmed_mean_square

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: Jitter along the way is told from noise where it is so many times that across, and so long in time.
TIMES_ACROSS = 2.5
LEAST_S = 0.1
FEWEST = 30  # samples
MOVING_M_S = 20.0
#: Of the speed along the way, as a spectral density: power and drag change it slowly.
JERK_DENSITY_M2_S5 = 0.1


def lateness_m(stretches: Sequence[tuple[Floats, Floats, Spline]]) -> float:
    """How far the positions of a log lie along their way from where they were due, one standard deviation; 0 if it is noise.

    ``stretches`` : times [s], shape (n,), positions [m], shape (n, 2), and what the smoother made of them.
    """
    alongs, acrosses, speeds = [], [], []
    for t_s, metres, spline in stretches:
        place, velocity = spline.motion(t_s, 2)
        speed = np.hypot(*velocity)
        off, moving = metres.T - place, speed > MOVING_M_S
        ahead = velocity[:, moving] / speed[moving]
        alongs.append((off[:, moving] * ahead).sum(axis=0))
        acrosses.append(off[0, moving] * ahead[1] - off[1, moving] * ahead[0])
        speeds.append(speed[moving])
    if sum(map(len, speeds)) < FEWEST:
        return 0.0
    along, across = (np.sqrt(trimmed_mean_square(np.abs(np.concatenate(off)))) for off in (alongs, acrosses))
    late = along > TIMES_ACROSS * across and along > LEAST_S * float(np.median(np.concatenate(speeds)))
    return float(along) if late else 0.0


def retimed(t_s: Floats, metres: Floats, smooth: Spline, late_m: float) -> tuple[Floats, Spline]:
    """The positions that a steady flight along the same way would have had, shape (n, 2), and the spline of the way.

    ``smooth`` is what the smoother made of them: how far a sample has come counts along its direction. Where stamps are
    off by as much as they lie apart some samples lie behind the one before, which is no way flown twice.
    """
    velocity = smooth.motion(t_s, 2)[1]
    ahead = velocity / np.maximum(np.hypot(*velocity), 1e-9)
    steps_m = (np.diff(metres, axis=0).T * (ahead[:, 1:] + ahead[:, :-1]) / 2.0).sum(axis=0)
    way_m = np.concatenate([[0.0], np.cumsum(steps_m)])
    spline = fit(t_s, way_m[:, None], jerk_density=JERK_DENSITY_M2_S5, floor=late_m)
    along = np.argsort(way_m, kind="stable")
    steady_m = np.clip(spline(t_s)[:, 0], way_m[along[0]], way_m[along[-1]])
    return np.column_stack([np.interp(steady_m, way_m[along], axis[along]) for axis in metres.T]), spline
