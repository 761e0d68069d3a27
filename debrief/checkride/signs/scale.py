"""How much is much: the noise that a log has of its own, the greatest excess over a limit, and its strength.

Owns      ``noise_of``, ``usual_excess``, ``greatest``, ``places``, ``strength_of``, ``SPARSE_S``, ``MISSING``,
          ``fewest_at``; the paces of a simulator's clock.
Not here  any sign.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.signs.trace import Bools
from debrief.tracks.middles import MAD_TO_SIGMA
from debrief.tracks.model import Floats

SPARSE_S = 2.5  # at longer intervals few samples make a stretch, and late positions show
MISSING = 1.7  # of the usual interval: a sample is missing
PACES = (0.25, 0.5, 2.0, 4.0, 8.0)  # of a simulator's clock
_PLACES, _OUTSIDE = 2, 0.5
_STRETCH_S, _FEWEST_OF_ANY = 40.0, 4
_TAIL, _TAIL_DEVIATIONS = 0.98, 2.33


def noise_of(apart: Floats, valid: Bools) -> float:
    """How far things usually stand apart: a robust standard deviation, not less than most of them."""
    known = np.abs(apart[valid & np.isfinite(apart)])
    return _spread(known) if len(known) else np.inf


def _spread(sizes: Floats, *also: tuple[float, float]) -> float:
    """The greatest of the standard deviations by which these shares of a normal law's sizes would be that great."""
    shares, deviations = zip((0.5, 1.0 / MAD_TO_SIGMA), (0.9, 1.645), *also, strict=True)
    return float(np.max(np.quantile(sizes, shares) / deviations))


def usual_excess(values: Floats, valid: Bools, beside: int, *, between: bool = False) -> float:
    """The same with the tail of what happens elsewhere: without the two greatest places, which an edit makes.

    Received logs have positions that are late by seconds, now and then: then a step tells nothing. ``between``: without
    what lies between the two, too, which is the edited part, unless that is most of the log.
    """
    rest = valid & np.isfinite(values)
    size = np.abs(values)
    found = list[int]()
    for _ in range(_PLACES):
        if not rest.any():
            return np.inf
        found.append(int(np.argmax(np.where(rest, size, -np.inf))))
        rest = rest.copy()
        rest[max(found[-1] - beside, 0) : found[-1] + beside + 1] = False
    if between:
        outside = rest.copy()
        outside[min(found) : max(found)] = False
        rest = outside if outside.sum() > _OUTSIDE * rest.sum() else rest
    if not rest.any():
        return np.inf
    return _spread(size[rest], (_TAIL, _TAIL_DEVIATIONS))


def greatest(values: Floats, limit: float) -> int | None:
    """Where the greatest value is, if it is beyond the limit."""
    if not len(values):
        return None
    at = int(np.argmax(values))
    return at if values[at] > limit else None


def peaks(values: Floats, limit: float, before: int, after: int) -> Iterator[int]:
    """Where the values are greatest beyond the limit, the greatest first; none so near to one before it."""
    left = values.copy()
    while (at := greatest(left, limit)) is not None:
        yield at
        left[max(at - before, 0) : at + after] = -np.inf


def places(at_s: Floats, apart_s: float) -> int:
    """How many places these moments (increasing) make: nearer to each other they are one."""
    return int(np.count_nonzero(np.diff(at_s, prepend=-np.inf) > apart_s))


def of_a_clock(pace: Floats | float, within: float) -> Bools:
    """Whether so many times the speed is, within that share, what another rate of a simulator's clock makes."""
    return np.asarray(np.any([np.abs(np.divide(pace, known) - 1.0) < within for known in PACES], axis=0))


def strength_of(times_the_limit: float) -> float:
    """0.55 at the limit, 0.95 at four times it."""
    return round(float(np.clip(0.55 + 0.4 * np.log(times_the_limit) / np.log(4.0), 0.55, 0.95)), 2)


def fewest_at(interval_s: float, dense: int, sparse: int) -> int:
    """How many samples make a stretch: fewer where they stand far apart, as many as forty seconds hold, never under four.

    >>> [fewest_at(interval_s, 15, 8) for interval_s in (1.0, 5.0, 10.0, 15.0)]
    [15, 8, 4, 4]
    """
    if interval_s <= SPARSE_S:
        return dense
    return max(_FEWEST_OF_ANY, min(sparse, round(_STRETCH_S / interval_s)))
