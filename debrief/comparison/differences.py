"""Who differs from the others beyond chance, held over a whole report.

Owns      the permutation test of every pilot's level and spread on every measure, and of every trend.
Not here  intervals (``intervals``), what is said of it (``reports``).

If all pilots flew alike, it would not matter on whose flight which deviation stands: so the flights' deviations from
their pilots' means are dealt out anew, a thousand times, and each time the greatest difference anywhere in the report is
noted. A pilot differs where hers or his is greater than what that brings in 95 of 100 such reports. Flights stay whole
when they are dealt, so measures that hang together do not count as so many chances; nothing needs to be normal. For
levels each deviation is dealt as a multiple of its pilot's own spread, so that an unsteady pilot is not taken for one
who is elsewhere. The others are the median of the other pilots: one who is far off does not make all the rest differ.

A median still moves when one of few stands far off, and then the others seem to differ from it. So where somebody
differs on a measure, the pilot without whom the others are most alike is left out of it, and the others are tested again
with what remains, until nobody differs. Named is who differs each time: from all together, and from what remains. Once those who truly
differ are out, the rest are equal pilots, and the test calls any of them different in 5 of 100 reports at most: this is
what holds the share of false names beside a true one (tests/benchmarks/coverage.py counts both).
Source    P. H. Westfall, S. S. Young, Resampling-Based Multiple Testing (1993), free step-down, algorithm 2.8;
          dealing of residuals: D. Freedman, D. Lane, J. Business & Economic Statistics 1 (1983) 292-298; testing again
          without those found: J. Goeman, A. Solari, Annals of Statistics 38 (2010) 3782-3810. Mark of all: memory.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from debrief.comparison.model import LEAST_FLIGHTS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Kind = Callable[[Floats, Floats, Floats], Floats]  # from sums by pilot to a statistic

ALPHA = 0.05  # of reports on equal pilots may call anybody different
DEALS = 999
_BORROWED_DF = (
    4.0  # of all flights' variance go into each pilot's, or three flights close together seem certain
)
_MEDIAN_COST = np.pi / 2  # a median is worth so many times fewer values than a mean
_LEAST_SHARE = 1e-12  # of the greatest variance: a smaller one is taken for so much
_CELLS_TOGETHER = 100_000  # of deals worked out at once: many small ones in one go, a large one by itself
_FAR = 37.0  # standard deviations: beyond it a probability is 0 in double precision


def difference_probabilities(
    values: Floats, pilot: Ints, pilots: int, *, alpha: float = ALPHA, seed: int = 1, deals: int = DEALS
) -> Floats:
    """How likely a difference as great as each pilot's would be anywhere in a report on equal pilots.

    Parameters
    ----------
    values : (n, m), flights by measures, freed of their conditions; ``nan`` where not measured.
    pilot : (n,), 0 to ``pilots`` - 1.
    alpha : a pilot differs where the probability is no greater, and is left out of what the others are held against.

    Returns
    -------
    (2, pilots, m): of the level and of the spread; ``nan`` with fewer than three flights, or without others.
    """
    order = np.argsort(pilot, kind="stable")
    own, rows, measures = pilot[order], values[order], values.shape[1]
    kinds = (*[_levels] * measures, *[_spreads] * measures)  # of each column of the tables below
    seen = np.full((pilots, len(kinds)), np.nan)
    found, dealt = seen.copy(), np.full((deals, *seen.shape), np.nan)
    stays = np.ones(seen.shape, dtype=bool)  # who makes up the club, by measure
    changed = list(range(len(kinds)))
    while changed:
        for kind, who, columns in _alike(changed, kinds, stays):
            seen[:, columns], dealt[:, :, columns] = _dealt(
                kind, rows[:, [column % measures for column in columns]], own, who, seed=seed, deals=deals
            )
        judged = np.isfinite(seen)
        if not judged.any():
            break
        # who is like everybody together stays so: in a club of many kinds nobody would be left in the end
        found[judged] = np.fmax(found[judged], stepped_down(seen[judged], dealt[:, judged]))
        changed = np.flatnonzero((judged & (found <= alpha)).any(axis=0)).tolist()
        for column in changed:
            kept = np.where(stays[own, column], rows[:, column % measures], np.nan)
            stays[_apart(kinds[column], kept, own, pilots), column] = False
    return np.stack([found[:, :measures], found[:, measures:]])


def _alike(
    columns: list[int], kinds: tuple[Kind, ...], stays: NDArray[np.bool_]
) -> Iterator[tuple[Kind, NDArray[np.bool_], list[int]]]:
    """Columns of one kind with the same pilots, together: their flights are dealt together."""
    together: dict[tuple[Kind, bytes], list[int]] = {}
    for column in columns:
        together.setdefault((kinds[column], stays[:, column].tobytes()), []).append(column)
    for (kind, _), same in together.items():
        yield kind, stays[:, same[0]], same


def _dealt(
    kind: Kind, rows: Floats, own: Ints, who: NDArray[np.bool_], *, seed: int, deals: int
) -> tuple[Floats, Floats]:
    """The statistic of that kind of each pilot on each measure, and the same of each deal: (pilots, m), (deals, pilots, m).

    Rows stand in the order of their pilots, ``own``; only flights of ``who`` count and are dealt. The same seed deals the
    same flights in the same order whoever and whatever is asked for, so that measures that hang together stay together.
    """
    if who.sum() < 2:  # nobody is left to be held against
        return np.full((len(who), rows.shape[1]), np.nan), np.full((deals, len(who), rows.shape[1]), np.nan)
    kept = who[own]
    place = np.cumsum(kept) - 1  # of a row among those kept
    pilots, everybody, rows, own = len(who), len(own), rows[kept], own[kept]
    known = np.isfinite(rows)
    filled = np.where(known, rows - _mean(rows, known), 0.0)
    flight = known.astype(np.float64)
    sums = _sums_by(own, pilots)
    count, total, square = sums(flight), sums(filled), sums(filled**2)
    seen = kind(count, total, square)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.nan_to_num(total / count)
        # a mean of few lies too near to them
        larger = np.nan_to_num(np.sqrt(count / (count - 1.0)), posinf=0.0)
        width = np.sqrt(_steadied(count, total, square))
    # what is dealt: how each flight strays from its pilot's mean, and for levels by that pilot's own measure of straying
    strays = np.where(known, (filled - mean[own]) * larger[own], 0.0)
    width = np.where(np.isfinite(width) & (width > 0.0) & (kind is _levels), width, 1.0)[own]
    strays /= width
    draw = np.random.default_rng(seed)
    dealt = np.empty((deals, *seen.shape))
    together = max(1, _CELLS_TOGETHER // max(rows.size, 1))
    for first in range(0, deals, together):
        orders = [draw.permutation(everybody) for _ in range(min(together, deals - first))]
        deal = np.stack([place[order[kept[order]]] for order in orders])
        dealt_rows = strays[deal] * width
        dealt[first : first + len(deal)] = kind(sums(flight[deal]), sums(dealt_rows), sums(dealt_rows**2))
    return seen, dealt


def _sums_by(own: Ints, pilots: int) -> Callable[[Floats], Floats]:
    """Adds up the rows of each pilot, (..., n, m) to (..., pilots, m); they stand one pilot after the other."""
    starts = np.searchsorted(own, np.arange(pilots))
    present = np.bincount(own, minlength=pilots) > 0

    def sums(table: Floats) -> Floats:
        each = np.zeros((*table.shape[:-2], pilots, table.shape[-1]))
        each[..., present, :] = np.add.reduceat(table, starts[present], axis=-2)
        return each

    return sums


def _apart(kind: Kind, column: Floats, own: Ints, pilots: int) -> Ints:
    """Who is to be left out of a measure where somebody differs: the one without whom the others are most alike.

    Not simply the one who is farthest from the rest: of three, one with few flights may push the other two from their
    places. Of two who are left both: each differs from the other.
    """
    known = np.isfinite(column)
    filled = np.where(known, column - column[known].mean(), 0.0)[:, None]
    sums = _sums_by(own, pilots)
    count, total, square = sums(known.astype(np.float64)[:, None]), sums(filled), sums(filled**2)
    judged = np.flatnonzero(count[:, 0] >= LEAST_FLIGHTS)
    if len(judged) <= 2:
        return judged
    count, total, square = count[judged], total[judged], square[judged]
    steadied = _steadied(count, total, square)[:, 0]
    count, total, square = count[:, 0], total[:, 0], square[:, 0]
    if kind is _levels:
        place, weight = total / count, count / np.maximum(steadied, np.finfo(np.float64).tiny)
    else:
        variance = np.maximum(square - total**2 / count, 0.0) / (count - 1.0)
        place, weight = np.log(np.maximum(variance, _LEAST_SHARE * variance.max())), (count - 1.0) / 2.0
    without = weight.sum() - weight
    mean = ((weight * place).sum() - weight * place) / without
    unlike = ((place[:, None] - mean) ** 2 * weight[:, None] * (1.0 - np.eye(len(judged)))).sum(axis=0)
    return judged[[np.argmin(unlike)]]


def _mean(rows: Floats, known: NDArray[np.bool_]) -> Floats:
    mean: Floats = np.where(known, rows, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    return mean


def _steadied(count: Floats, total: Floats, square: Floats) -> Floats:
    """Each pilot's variance, a small one made greater by the usual one: three flights close together seem certain."""
    df = count - 1.0
    within = np.maximum(square - total**2 / count, 0.0)
    enough = count >= LEAST_FLIGHTS
    usual = np.where(enough, within, 0.0).sum(axis=-2, keepdims=True) / np.maximum(
        np.where(enough, df, 0.0).sum(axis=-2, keepdims=True), 1.0
    )
    steadied: Floats = (_BORROWED_DF * usual + within) / (_BORROWED_DF + df)
    return steadied


def _levels(count: Floats, total: Floats, square: Floats) -> Floats:
    """(..., pilots, m): how far each pilot's mean is from the median of the others' means, in standard deviations."""
    from scipy.special import ndtri, stdtr

    enough = count >= LEAST_FLIGHTS
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.where(enough, total / count, np.nan)
        variance = _steadied(count, total, square)
        others = np.where(enough, count, 0.0).sum(axis=-2, keepdims=True) - count
        usual = _median_of_others(np.where(enough, variance, np.nan))
        t = (mean - _median_of_others(mean)) / np.sqrt(variance / count + _MEDIAN_COST * usual / others)
        far = -ndtri(stdtr(_BORROWED_DF + count - 1.0, -np.abs(t)))
    return np.where(enough & ~np.isnan(far), np.minimum(far, _FAR), np.nan)


def _spreads(count: Floats, total: Floats, square: Floats) -> Floats:
    """(..., pilots, m): how far each pilot's variance is from the median of the others', in standard deviations."""
    from scipy.special import fdtr, fdtrc, ndtri

    enough = count >= LEAST_FLIGHTS
    with np.errstate(divide="ignore", invalid="ignore"):
        df = count - 1.0
        variance = np.where(enough, np.maximum(square - total**2 / count, 0.0) / df, np.nan)
        ratio = variance / _median_of_others(variance)
        others = np.where(enough, count, 0.0).sum(axis=-2, keepdims=True) - count
        others_df = np.maximum(others / _MEDIAN_COST, 1.0)
        far = -ndtri(np.minimum(fdtr(df, others_df, ratio), fdtrc(df, others_df, ratio)))
    return np.where(enough & ~np.isnan(far), np.minimum(far, _FAR), np.nan)


def _median_of_others(values: Floats) -> Floats:
    """(..., pilots, m): of each column the median without the own value; ``nan`` where there are no others."""
    order = np.argsort(values, axis=-2)  # unknown ones last
    rank = np.argsort(order, axis=-2)
    ranked = np.take_along_axis(values, order, axis=-2)
    others = np.isfinite(values).sum(axis=-2, keepdims=True) - 1
    middle = []
    for place in ((others - 1) // 2, others // 2):
        at = place + (place >= rank)
        middle.append(np.take_along_axis(ranked, np.clip(at, 0, values.shape[-2] - 1), axis=-2))
    return np.where(others > 0, (middle[0] + middle[1]) / 2.0, np.nan)


def stepped_down(seen: Floats, dealt: Floats) -> Floats:
    """Probabilities held over all statistics: the greatest is judged against the greatest of each deal, and so on down.

    Parameters
    ----------
    seen : (k,), great where far from chance.
    dealt : (deals, k), the same of each deal; ``nan`` counts as nothing.

    Returns
    -------
    (k,), never below 1 / (deals + 1).
    """
    # each statistic on its own scale: those with heavy tails must not hide the others
    every = np.vstack([seen, dealt])  # what was seen counts as one deal more
    known = np.isfinite(every)
    count = np.maximum(known.sum(axis=0), 1)
    middle = np.where(known, every, 0.0).sum(axis=0) / count
    width = np.sqrt(np.where(known, (every - middle) ** 2, 0.0).sum(axis=0) / count)
    every = np.where(known, (every - middle) / np.where(width > 0.0, width, 1.0), -np.inf)
    seen, ready = every[0], every[1:]
    order = np.argsort(seen)  # from the least
    greatest = np.maximum.accumulate(ready[:, order], axis=1)
    reached = (1.0 + (greatest >= seen[order] - 1e-12).sum(axis=0)) / (len(dealt) + 1.0)
    probability = np.empty(len(seen))
    probability[order] = np.maximum.accumulate(reached[::-1])[::-1]
    return probability


def trend_probabilities(
    values: Floats, pilot: Ints, pilots: int, days: Floats, *, least: int, seed: int = 2, deals: int = DEALS
) -> Floats:
    """How likely a trend as clear as each pilot's would be anywhere in a report on pilots who do not change.

    Parameters
    ----------
    values, pilot, pilots : as for ``difference_probabilities``.
    days : (n,), when each flight was flown.
    least : flights of a pilot, below which no trend is looked for.

    Returns
    -------
    (pilots, m); ``nan`` where there are too few.
    """
    draw = np.random.default_rng(seed)
    known = np.isfinite(values)
    seen = np.full((pilots, values.shape[1]), np.nan)
    dealt = np.full((deals, pilots, values.shape[1]), np.nan)
    for number in range(pilots):
        own = np.flatnonzero(pilot == number)
        if len(own) < least or np.ptp(days[own]) == 0.0:
            continue
        shuffles = np.stack([days[own], *(days[draw.permutation(own)] for _ in range(deals))])
        sizes = _correlation_sizes(shuffles, values[own], known[own], least)
        seen[number], dealt[:, number] = sizes[0], sizes[1:]
    judged = np.isfinite(seen)
    if judged.any():
        seen[judged] = stepped_down(seen[judged], dealt[:, judged])
    return seen


def _correlation_sizes(days: Floats, values: Floats, known: NDArray[np.bool_], least: int) -> Floats:
    """(deals, m): Fisher's z of the correlation of each measure with the days, without its sign, by its error."""
    weight = known.astype(np.float64)
    count = weight.sum(axis=0)
    filled = np.where(known, values, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.where(known, filled - filled.sum(axis=0) / count, 0.0)
        mean_day = days @ weight / count
        covariance = days @ off
        spread_day = (days**2) @ weight - count * mean_day**2
        r = covariance / np.sqrt(spread_day * (off**2).sum(axis=0))
        size = np.abs(np.arctanh(np.clip(r, -1 + 1e-12, 1 - 1e-12))) * np.sqrt(count - 3.0)
    enough = (count >= least) & ((off**2).sum(axis=0) > 0.0)
    return np.where(enough, size, np.nan)
