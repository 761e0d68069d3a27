"""Statistics over time: every moment counts for as long as it lasts.

Owns      the weights of moments on a grid with gaps; mean, rms, greatest and range of a quantity.
Not here  what is measured (the other modules), how sure it is (``over_phase``).

``nan`` is "not known" and does not count. Where nothing is known the answer is ``None``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from debrief.measures.over_phase import RangeSure, SpreadSure
from debrief.result import Range, Spread

Floats = NDArray[np.float64]


def known(value: float | np.floating | None) -> float | None:
    """The plain number, ``None`` where it is not finite."""
    return None if value is None or not np.isfinite(value) else float(value)


def all_known(values: Mapping[str, float | np.floating | None]) -> dict[str, float]:
    """Those of the numbers that are finite."""
    return {name: number for name, value in values.items() if (number := known(value)) is not None}


def weights_s(t_s: Floats, segment: NDArray[np.int64]) -> Floats:
    """How long each moment counts: half of each step beside it, nothing across a gap. [s]

    Sums to the time observed. Where no two moments belong together (one sample a segment) all count alike.

    >>> weights_s(np.array([0.0, 1.0, 2.0, 9.0]), np.array([0, 0, 0, 1])).tolist()
    [0.5, 1.0, 0.5, 0.0]
    """
    step_s = np.where(np.diff(segment) == 0, np.diff(t_s), 0.0)
    weight_s = np.zeros(len(t_s))
    weight_s[:-1] += step_s / 2.0
    weight_s[1:] += step_s / 2.0
    return weight_s if weight_s.any() else np.ones(len(t_s))


def mean(values: Floats, weight_s: Floats) -> float | None:
    """Weighted mean of what is known, in the unit of ``values``."""
    counts = np.isfinite(values)
    if not counts.any():
        return None
    weight = weight_s[counts]
    return float(np.average(values[counts], weights=weight if weight.any() else None))


def share(holds: NDArray[np.bool_], among: NDArray[np.bool_], weight_s: Floats) -> float | None:
    """Share of the time ``among`` in which ``holds``, 0 to 1."""
    if not among.any():
        return None
    weight = np.where(among, weight_s, 0.0)
    if not weight.any():
        weight = among.astype(np.float64)
    return float(weight[holds].sum() / weight.sum())


def spread(
    t_s: Floats,
    values: Floats,
    weight_s: Floats,
    *,
    sure: SpreadSure,
    time: Callable[[float], datetime],
) -> Spread | None:
    """Mean with sign, root mean square, and the greatest size with its moment.

    ``sure`` holds the half-widths (95 %), ``time`` gives the date of a moment.
    """
    counts = np.isfinite(values)
    if not counts.any():
        return None
    average = mean(values, weight_s)
    square = mean(np.square(values), weight_s)
    most = int(np.nanargmax(np.abs(values)))
    assert average is not None
    assert square is not None
    return Spread(
        mean=average,
        rms=float(np.sqrt(square)),
        max_abs=float(abs(values[most])),
        max_abs_time=time(float(t_s[most])),
        uncertainty=sure.one,
        mean_uncertainty=known(sure.mean),
        rms_uncertainty=known(sure.rms),
        max_abs_uncertainty=known(sure.max_abs),
    )


def range_of(values: Floats, weight_s: Floats, sure: RangeSure) -> Range | None:
    """Least, mean and greatest; ``sure`` holds the half-widths (95 %)."""
    average = mean(values, weight_s)
    if average is None:
        return None
    return Range(
        min=float(np.nanmin(values)),
        mean=average,
        max=float(np.nanmax(values)),
        uncertainty=known(sure.one),
        min_uncertainty=known(sure.least),
        mean_uncertainty=known(sure.mean),
        max_uncertainty=known(sure.greatest),
    )


def mean_direction_deg(angles_deg: Floats, weight_s: Floats) -> float | None:
    """Weighted mean direction of bearings or of small signed angles, in (-180, 180].

    >>> mean_direction_deg(np.array([350.0, 10.0]), np.ones(2)) == 0.0
    True
    """
    counts = np.isfinite(angles_deg)
    if not counts.any():
        return None
    angles = np.radians(angles_deg[counts])
    weight = weight_s[counts] if weight_s[counts].any() else np.ones(int(counts.sum()))
    east, north = float(weight @ np.sin(angles)), float(weight @ np.cos(angles))
    if np.hypot(east, north) < 1e-9 * float(weight.sum()):
        return None
    return float(np.round(np.degrees(np.arctan2(east, north)), 12)) + 0.0
