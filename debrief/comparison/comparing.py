"""The one expression: ``compare(flights, procedure)``.

Owns      joining adjustment, pooling, intervals and tests to a ``Comparison``.
Not here  any formula; where flights come from (``debrief.logbook``); files and pictures (``debrief.reports``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief import __version__
from debrief.comparison.catalogue import CATALOGUE
from debrief.comparison.conditions import Adjusted, adjusted, unexplained
from debrief.comparison.differences import ALPHA, DEALS, difference_probabilities, trend_probabilities
from debrief.comparison.hard import what_is_hard
from debrief.comparison.intervals import drawn_level, drawn_spread, level_interval, spread_interval
from debrief.comparison.model import (
    LEAST_FLIGHTS,
    Club,
    Compared,
    Comparison,
    Differs,
    Flown,
    MeasureComparison,
    PilotMeasure,
    Trend,
)
from debrief.comparison.over_time import LEAST_TREND_FLIGHTS, slope_per_month, smallest_change
from debrief.comparison.pooling import (
    Variances,
    effective_df,
    excess_kurtosis,
    pooled_levels,
    pooled_variances,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CONDITIONS = ("wind", "speed")
_SPEED_FROM = tuple(
    f"{phase}.airspeed_kias.mean" for phase in ("outbound", "intermediate", "inbound", "final")
)
_LEAST_MEASURED = 0.2  # of the flights have it, or a measure is not compared


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Table:
    """Flights as arrays."""

    pilots: tuple[str, ...]
    pilot: Ints  # (n,)
    days: Floats  # (n,)
    conditions: Floats  # (n, 2): wind and speed; nan where unknown
    flights: tuple[Flown, ...]


def compare(
    flights: Sequence[Flown],
    procedure: str,
    *,
    shown: Sequence[str] | None = None,
    measures: Sequence[Compared] = CATALOGUE,
    seed: int = 1,
    deals: int = DEALS,
) -> Comparison:
    """Compare pilots over their flights of one procedure.

    Parameters
    ----------
    flights : of everybody; at least one.
    procedure : its name.
    shown : the pilots that are asked for; all of them where ``None``. The others still make up the club.
    seed, deals : of the permutations, and how many: the same flights give the same comparison.

    Returns
    -------
    Comparison
        A measure that hardly any flight has is left out.
    """
    ordered = tuple(sorted(flights, key=lambda flown: (flown.time, flown.flight)))
    pilots = tuple(sorted({flown.pilot for flown in ordered}, key=str.casefold))
    table = _table(ordered, pilots)
    asked = tuple(name for name in pilots if shown is None or name in shown)
    values = np.array([[f.measures.get(m.name, np.nan) for m in measures] for f in ordered]).reshape(
        len(ordered), len(measures)
    )
    enough = np.isfinite(values).sum(axis=0) >= max(1.0, _LEAST_MEASURED * len(ordered))
    taken = [measure for measure, kept in zip(measures, enough, strict=True) if kept]
    values = values[:, enough]
    freed = [_freed(values[:, column], table, measure) for column, measure in enumerate(taken)]
    cleaned, left = np.full(values.shape, np.nan), np.full(values.shape, np.nan)
    for column, free in enumerate(freed):
        known = np.isfinite(values[:, column])
        cleaned[known, column] = free.values
        left[known, column] = unexplained(values[known, column], table.conditions[known][:, list(free.used)])
    chance = difference_probabilities(left, table.pilot, len(pilots), seed=seed, deals=deals)
    drift = trend_probabilities(
        cleaned,
        table.pilot,
        len(pilots),
        table.days,
        least=LEAST_TREND_FLIGHTS,
        seed=seed + 1,
        deals=deals,
    )
    return Comparison(
        procedure=procedure,
        pilots=asked,
        club_pilots=len(pilots),
        flights=ordered,
        measures=tuple(
            _one_measure(
                measure, values[:, column], free, table, asked, chance[:, :, column], drift[:, column]
            )
            for column, (measure, free) in enumerate(zip(taken, freed, strict=True))
        ),
        hard=what_is_hard(ordered),
        program=f"debrief {__version__}",
    )


def _table(flights: tuple[Flown, ...], pilots: tuple[str, ...]) -> _Table:
    number = {name: index for index, name in enumerate(pilots)}
    first = flights[0].time
    return _Table(
        pilots=pilots,
        pilot=np.array([number[flown.pilot] for flown in flights], dtype=np.int64),
        days=np.array([(flown.time - first).total_seconds() / 86400.0 for flown in flights]),
        conditions=np.array(
            [[np.nan if f.wind_speed_kt is None else f.wind_speed_kt, _speed(f)] for f in flights]
        ),
        flights=flights,
    )


def _speed(flown: Flown) -> float:
    """The aircraft's usual speed on that flight [kt]; ``nan`` where unknown."""
    return next((flown.measures[name] for name in _SPEED_FROM if name in flown.measures), np.nan)


def _freed(values: Floats, table: _Table, measure: Compared) -> Adjusted:
    known = np.isfinite(values)
    conditions = table.conditions[known].copy()
    if "airspeed" in measure.name:
        conditions[:, 1] = np.nan  # a speed is not freed of speed
    return adjusted(values[known], table.pilot[known], conditions)


def _one_measure(
    measure: Compared,
    values: Floats,
    free: Adjusted,
    table: _Table,
    asked: tuple[str, ...],
    chance: Floats,
    drift: Floats,
) -> MeasureComparison:
    known = np.flatnonzero(np.isfinite(values))
    pilot, days = table.pilot[known], table.days[known]
    groups = [np.flatnonzero(pilot == number) for number in range(len(table.pilots))]
    own = [free.values[group] for group in groups]
    judged = [n for n, group in enumerate(own) if len(group) >= LEAST_FLIGHTS and group.var() > 0.0]
    kurtosis = excess_kurtosis([own[number] for number in judged])
    flights = np.array([len(own[number]) for number in judged], dtype=np.float64)
    means = np.array([own[number].mean() for number in judged])
    variances = np.array([own[number].var(ddof=1) for number in judged])
    df = effective_df(flights, kurtosis, free.share_kept)
    spreads = pooled_variances(variances, df)
    rows = []
    for number, name in enumerate(table.pilots):
        if name not in asked:
            continue
        group = groups[number]
        raw = values[known[group]]
        spread = level = level_within = spread_within = change = None
        if number in judged:
            at = judged.index(number)
            others = np.arange(len(judged)) != at
            prior = pooled_variances(variances[others], df[others])
            spread_within = spread_interval(variances[at], df[at], prior)
            spread = drawn_spread(variances[at], df[at], spreads, spread_within)
            # levels: each pilot's own variance, steadied by the others'
            borrowed, scale = (prior.df, prior.scale) if prior is not None else (0.0, 0.0)
            steadied = (df * variances + borrowed * scale) / (df + borrowed)
            se = np.sqrt(steadied / flights)
            elsewhere = pooled_levels(means[others], se[others] ** 2)
            level_within = level_interval(means[at], se[at], df[at] + borrowed, elsewhere)
            level = drawn_level(means[at], se[at], pooled_levels(means, se**2), level_within)
            change = smallest_change(len(group), float(np.sqrt(steadied[at])), df[at] + borrowed)
        elif len(group):
            level = float(raw.mean())
        rows.append(
            PilotMeasure(
                pilot=name,
                flights=len(group),
                mean=float(raw.mean()) if len(group) else None,
                sd=float(raw.std(ddof=1)) if len(group) >= LEAST_FLIGHTS else None,
                level=level,
                level_interval=level_within,
                spread=spread,
                spread_interval=spread_within,
                differs=_differs(chance[:, number]),
                smallest_change=change,
                trend=_trend(days[group], own[number], drift[number]),
            )
        )
    return MeasureComparison(
        measure=measure,
        club=_club(free.values, means, variances / flights, spreads, variances),
        pilots=tuple(rows),
        adjusted_for=tuple(CONDITIONS[column] for column in free.used),
        values={table.flights[row].flight: float(values[row]) for row in known.tolist()},
    )


def _club(
    values: Floats, means: Floats, mean_variances: Floats, spreads: Variances | None, variances: Floats
) -> Club:
    """All pilots with enough flights together; of the flights themselves where there is one such pilot, or none."""
    everybody = pooled_levels(means, mean_variances)
    if everybody is not None and spreads is not None:
        return Club(level=everybody.mean, spread=spreads.scale**0.5, between=everybody.sd)
    if len(means):
        return Club(level=float(means[0]), spread=float(variances[0]) ** 0.5, between=None)
    return Club(level=float(values.mean()) if len(values) else None, spread=None, between=None)


def _differs(chance: Floats) -> Differs | None:
    level, spread = (bool(probability <= ALPHA) for probability in chance)
    return "both" if level and spread else "level" if level else "spread" if spread else None


def _trend(days: Floats, values: Floats, chance: float) -> Trend | None:
    found = slope_per_month(days, values)
    if found is None:
        return None
    return Trend(per_month=found[0], interval=found[1], beyond_chance=bool(chance <= ALPHA))
