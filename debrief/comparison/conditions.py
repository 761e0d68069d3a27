"""Wind and aircraft speed taken out of a measure.

Owns      the regression of a measure on the wind's and the aircraft's speed, within pilots.
Not here  which wind and speed a flight had (the logbook), comparing pilots.

The slopes come from how each pilot's own flights differ from one another: a pilot who always flies a faster aircraft
says nothing about what speed does. Where nobody's conditions vary, nothing is taken out.
Source    The "within" or fixed-effects estimator, any text on panel data, for example W. H. Greene, Econometric
          Analysis, chapter 11. Mark: memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_SPARE_FLIGHTS = 12  # beyond one a pilot and one a slope, before a slope is worth its noise
_LEAST_WITHIN = 0.05  # of a condition's variance lies within pilots, or nothing can be told apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjusted:
    """A measure as it would have been in the club's mean conditions."""

    values: Floats  # one a flight
    used: tuple[int, ...]  # which conditions were taken out, by their column
    share_kept: float  # of the degrees of freedom within pilots


def adjusted(values: Floats, pilot: Ints, conditions: Floats) -> Adjusted:
    """Take conditions out of a measure.

    Parameters
    ----------
    values : (n,), finite.
    pilot : (n,), 0 upwards.
    conditions : (n, k); ``nan`` where unknown, and then taken as the mean.
    """
    columns = np.array(conditions, dtype=np.float64).reshape(len(values), -1)
    used = []
    filled = np.zeros_like(columns)
    for number in range(columns.shape[1]):
        known = np.isfinite(columns[:, number])
        if known.sum() < _SPARE_FLIGHTS:
            continue
        column = np.where(known, columns[:, number] - columns[known, number].mean(), 0.0)
        within = column - _means(column, pilot)[pilot]
        if column.var() > 0.0 and within.var() >= _LEAST_WITHIN * column.var():
            filled[:, number] = column
            used.append(number)
    free = len(values) - len(np.unique(pilot))
    if not used or free - len(used) < _SPARE_FLIGHTS:
        return Adjusted(values=values, used=(), share_kept=1.0)
    x = filled[:, used]
    x_within = x - np.column_stack([_means(column, pilot)[pilot] for column in x.T])
    y_within = values - _means(values, pilot)[pilot]
    slopes, *_ = np.linalg.lstsq(x_within, y_within, rcond=None)
    return Adjusted(values=values - x @ slopes, used=tuple(used), share_kept=1.0 - len(used) / free)


def unexplained(values: Floats, conditions: Floats) -> Floats:
    """What is left of a measure when everything that its conditions could explain is taken away, pilots or not.

    For telling whether pilots differ at all: if they do not, what is left can be dealt out anew, and what always went
    together with a pilot's faster aircraft is not counted as the pilot's.

    Parameters
    ----------
    values : (n,), finite.
    conditions : (n, k), those of ``Adjusted.used``; ``nan`` is taken as the mean.
    """
    known = np.isfinite(conditions)
    mean = np.where(known, conditions, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    x = np.column_stack([np.ones(len(values)), np.where(known, conditions - mean, 0.0)])
    slopes, *_ = np.linalg.lstsq(x, values, rcond=None)
    left: Floats = values - x @ slopes
    return left


def _means(values: Floats, pilot: Ints) -> Floats:
    """The mean of each pilot; 0 where one has no flight."""
    count = np.bincount(pilot)
    return np.bincount(pilot, weights=values) / np.maximum(count, 1)
