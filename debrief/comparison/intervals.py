"""Intervals that hold for each pilot, and are shorter where the club tells what to expect.

Owns      95 % intervals for a pilot's level and spread, and the estimates within them.
Not here  what the club tells (``pooling``).

A plain interval for one pilot leaves 2.5 % on either side. Any other division of the 5 % is as true, as long as it does
not look at this pilot's flights; so it is chosen, for each value that the level might have, by what the *other* pilots
make likely. The interval keeps its 95 % for every pilot, however odd, and is shorter on average. An interval of a
posterior distribution would be shorter still, and wrong for just the pilots who differ.
Source    J. W. Pratt, J. Royal Statistical Society A 126 (1963) 78-93; C. Yu, P. D. Hoff, Biometrika 105 (2018)
          319-335 ("Adaptive multigroup confidence intervals with constant coverage"). The estimate stays within the
          interval: limited translation, B. Efron, C. Morris, J. American Statistical Association 67 (1972) 130-139.
          Mark of all three: memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.comparison.model import Interval
from debrief.comparison.pooling import Levels, Variances

Floats = NDArray[np.float64]

ALPHA = 0.05
# of the 5 % on one side
_SHARES = np.concatenate([[0.002, 0.01], np.linspace(0.05, 0.95, 19), [0.99, 0.998]])
_EVEN = len(_SHARES) // 2
_GRID = 101


def level_interval(mean: float, se: float, df: float, others: Levels | None) -> Interval:
    """The interval for a pilot's level.

    Parameters
    ----------
    mean, se : of this pilot's flights; se > 0.
    df : degrees of freedom of ``se``.
    others : the other pilots' levels; without them the plain t interval.
    """
    from scipy.special import ndtr, stdtrit

    if others is None:
        half = float(stdtrit(df, 1.0 - ALPHA / 2)) * se
        return mean - half, mean + half
    predictive = float(np.sqrt(others.sd**2 + others.mean_se**2 + se**2))
    low_t = stdtrit(df, ALPHA * (1.0 - _SHARES))  # accepted means lie within level + t * se
    high_t = stdtrit(df, 1.0 - ALPHA * _SHARES)
    reach = float(np.max(np.abs(np.concatenate([low_t, high_t])))) * se
    level = np.linspace(mean - reach, mean + reach, _GRID)
    low, high = level[:, None] + low_t * se, level[:, None] + high_t * se
    likely = ndtr((high - others.mean) / predictive) - ndtr((low - others.mean) / predictive)
    return _inverted(level, low, high, likely, mean)


def spread_interval(variance: float, df: float, others: Variances | None) -> Interval:
    """The interval for a pilot's spread (a standard deviation).

    Parameters
    ----------
    variance : of this pilot's flights, > 0.
    df : its degrees of freedom.
    others : the other pilots' variances; without them the plain chi-square interval.
    """
    from scipy.special import chdtri, fdtr

    if others is None:
        low, high = (float(np.sqrt(df * variance / chdtri(df, tail))) for tail in (ALPHA / 2, 1 - ALPHA / 2))
        return low, high
    low_q = chdtri(df, 1.0 - ALPHA * (1.0 - _SHARES)) / df  # accepted variances: spread squared times these
    high_q = chdtri(df, ALPHA * _SHARES) / df
    log_sd = np.linspace(
        0.5 * np.log(variance / np.max(high_q)), 0.5 * np.log(variance / np.min(low_q)), _GRID
    )
    square = np.exp(2.0 * log_sd)[:, None]
    low_v, high_v = square * low_q, square * high_q
    likely = fdtr(df, others.df, high_v / others.scale) - fdtr(df, others.df, low_v / others.scale)
    low, high = _inverted(log_sd, np.log(low_v), np.log(high_v), likely, float(np.log(variance)))
    return float(np.exp(low)), float(np.exp(high))


def _inverted(values: Floats, low: Floats, high: Floats, likely: Floats, seen: float) -> Interval:
    """The values that what was seen does not speak against.

    Parameters
    ----------
    values : (g,), rising: what the parameter might be.
    low, high : (g, w), where the statistic is accepted, for each value and each division of the 5 %.
    likely : (g, w), how likely the statistic falls there, by the other pilots: the least likely division excludes most.
    seen : the statistic.
    """
    chosen = np.argmin(likely, axis=1)
    # at the far ends of the grid all divisions are as likely, to the last digit: then the even one is as good
    flat = likely.max(axis=1) - likely.min(axis=1) < 1e-12
    chosen = np.where(flat, _EVEN, chosen)
    rows = np.arange(len(values))
    above, below = seen - low[rows, chosen], high[rows, chosen] - seen  # both positive: accepted
    inside = np.flatnonzero((above >= 0.0) & (below >= 0.0))
    if not inside.size:  # finer than the grid
        nearest = int(np.argmax(np.minimum(above, below)))
        return float(values[nearest]), float(values[nearest])
    first, last = int(inside[0]), int(inside[-1])
    return _edge(values, below, first, first - 1), _edge(values, above, last, last + 1)


def _edge(values: Floats, room: Floats, inside: int, outside: int) -> float:
    """Where the room runs out between an accepted value and its neighbour that is not."""
    if not 0 <= outside < len(values) or room[outside] >= 0.0:
        return float(values[inside])
    share = room[inside] / (room[inside] - room[outside])
    return float(values[inside] + share * (values[outside] - values[inside]))


def drawn_level(mean: float, se: float, others: Levels | None, within: Interval) -> float:
    """A pilot's level drawn towards the other pilots', but never out of its interval."""
    if others is None:
        return mean
    expected = others.sd**2 + others.mean_se**2
    return float(np.clip((mean * expected + others.mean * se**2) / (expected + se**2), *within))


def drawn_spread(variance: float, df: float, others: Variances | None, within: Interval) -> float:
    """A pilot's spread drawn towards the other pilots', but never out of its interval."""
    if others is None:
        return float(np.sqrt(variance))
    pooled = (df * variance + others.df * others.scale) / (df + others.df)
    return float(np.clip(np.sqrt(pooled), *within))
