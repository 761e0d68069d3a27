"""How sure a measure over a whole phase is: its mean, its root mean square, its greatest and least.

Owns      the half-widths at 95 % of the statistics of a quantity whose errors last for some time.
Not here  the statistics (``statistics``), the errors (``log_errors``), measures of one moment (``uncertainty``).

In a mean, errors that last as long as the phase stay and those that do not average out. The greatest of many values
lies too high by what the errors add to some of them, the more so the longer the true value is near its greatest. A
phase that truly began or ended a little earlier or later has another mean, and may have another extreme.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np

from debrief.measures import log_errors
from debrief.measures.log_errors import Part, Parts
from debrief.measures.moments import QUADRATURE
from debrief.navigation.intervals import half_width, half_width_of
from debrief.phases.model import Flight, Floats

#: A mean square below so many times that of the errors may be theirs alone.
_DROWNED = 2.0
#: Angles that stand for all within a half-width of 1: the middles of as many equal parts.
_EVENLY = (np.arange(21) - 10.0) / 10.5
_SAME_S = 1e-4  # a phase's end and the moment of a view that lies on it may differ by less


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeSure:
    """Half-widths of one value and of the least, mean and greatest."""

    one: float
    least: float
    mean: float
    greatest: float


@dataclass(frozen=True, slots=True)
class EndsMove:
    """Standard deviations of the least, the mean and the greatest, by how unsure the two ends of a phase are."""

    least: float = 0.0
    mean: float = 0.0
    greatest: float = 0.0


#: Of a phase whose ends are known.
STILL = EndsMove()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadSure:
    """Half-widths of one value (at the greatest), the mean, the root mean square and the greatest size."""

    one: float
    mean: float
    rms: float
    max_abs: float


def range_sure(
    parts: Parts,
    values: Floats,
    weight_s: Floats,
    *,
    bias: float = 0.0,
    rectangular: float = 0.0,
    ends: EndsMove = STILL,
    worse: Floats | None = None,
    mean_sd: float | None = None,
) -> RangeSure:
    """Of the range of ``values``; ``bias`` and ``rectangular`` are the same for all of them, see ``half_width``.

    ``ends`` is what comes from the moments between which they are looked for, ``worse`` by how much greater each error
    is than usual, ``mean_sd`` the standard deviation of the mean where it is not that of ``parts``.
    """
    known = np.isfinite(values)
    if not known.any():
        return RangeSure(one=np.nan, least=np.nan, mean=np.nan, greatest=np.nan)
    values, weight_s = values[known], weight_s[known]
    worse = np.ones(len(values)) if worse is None else worse[known]
    single = log_errors.one(parts)
    lasting_s = float(weight_s.sum())

    changing = log_errors.changing(parts)
    within = log_errors.NEAR * changing

    def extreme(sign: float, besides: float) -> float:
        most = int(np.argmax(sign * values))
        near = sign * (values - values[most]) >= -within
        besides = hypot(besides, changing * float(np.sqrt(worse[most] ** 2 - 1.0)))
        picked, normal = log_errors.greatest(parts, float(weight_s[near].sum()))
        return half_width(hypot(normal, besides), bias=abs(bias) + picked, rectangular=rectangular)

    return RangeSure(
        one=half_width(single, bias=bias, rectangular=rectangular),
        least=extreme(-1.0, ends.least),
        mean=half_width(
            hypot(log_errors.mean(parts, lasting_s) if mean_sd is None else mean_sd, ends.mean),
            bias=bias,
            rectangular=rectangular,
        ),
        greatest=extreme(1.0, ends.greatest),
    )


def ends_move(
    t_s: Floats, values: Sequence[Floats], span_s: tuple[float, float], ends_sd_s: tuple[float, float]
) -> list[EndsMove]:
    """What a span that begins and ends within standard deviations of its moments does to the ranges of ``values``.

    The extremes are looked for again between moments to either side; ``values`` reach beyond the span.
    """
    all_of = np.array(values)

    def between(low_s: float, high_s: float) -> slice:
        return slice(*np.searchsorted(t_s, [low_s - _SAME_S, high_s + _SAME_S]).tolist())

    span = between(*span_s)
    inside = all_of[:, span]
    if inside.shape[1] < 2:
        return [STILL] * len(all_of)
    known = np.isfinite(inside)
    lasts_s = np.where(known, np.gradient(t_s[span]), 0.0)
    average = (np.where(known, inside, 0.0) * lasts_s).sum(axis=1) / np.maximum(lasts_s.sum(axis=1), _SAME_S)
    least = np.fmin.reduce(inside, axis=1, initial=np.inf)
    greatest = np.fmax.reduce(inside, axis=1, initial=-np.inf)
    squares = np.zeros((3, len(all_of)))
    for end_s, other_s, sd_s in zip(span_s, reversed(span_s), ends_sd_s, strict=True):
        moved_s = QUADRATURE * sd_s
        if not moved_s > 0.0:
            continue
        moments_s = np.array([end_s - moved_s, end_s, end_s + moved_s])
        after = np.clip(np.searchsorted(t_s, moments_s), 1, len(t_s) - 1)
        share = np.clip((moments_s - t_s[after - 1]) / (t_s[after] - t_s[after - 1]), 0.0, 1.0)
        there = all_of[:, after - 1] * (1.0 - share) + all_of[:, after] * share
        squares[1] += ((there[:, 1] - average) * sd_s / max(abs(other_s - end_s), sd_s)) ** 2
        for to_s, at in ((moments_s[0], there[:, 0]), (moments_s[2], there[:, 2])):
            left = all_of[:, between(min(to_s, other_s), max(to_s, other_s))]
            with np.errstate(invalid="ignore"):  # of what is not known at all
                squares[0] += (np.fmin(at, np.fmin.reduce(left, axis=1, initial=np.inf)) - least) ** 2 / 6.0
                squares[2] += (
                    np.fmax(at, np.fmax.reduce(left, axis=1, initial=-np.inf)) - greatest
                ) ** 2 / 6.0
    roots = np.where(np.isfinite(squares) & known.any(axis=1), np.sqrt(squares), 0.0)
    return [EndsMove(*of) for of in roots.T.tolist()]


def altitude_sure(flight: Flight, altitude_ft: Floats, weight_s: Floats, ends: EndsMove = STILL) -> RangeSure:
    """Of the range of smoothed altitudes."""
    errors = flight.log.altitude_errors
    return range_sure(
        log_errors.altitude_ft(flight),
        altitude_ft,
        weight_s,
        bias=errors.bias_ft,
        rectangular=errors.step_ft / 2.0,
        ends=ends,
    )


def spread_sure(
    parts: Parts,
    t_s: Floats,
    values: Floats,
    weight_s: Floats,
    *,
    reach: Floats,
    turned: Floats,
    alignment_deg: float,
    edge_s: tuple[float, float] = (0.0, 0.0),
) -> SpreadSure:
    """Of the spread of ``values``, that errors of the position move by ``reach`` times themselves.

    Parameters
    ----------
    parts : of the position across the course. [NM]
    t_s, values, weight_s : moments (increasing), values (``nan`` does not count) and how long each lasts.
    reach : by how much a position one mile farther to the right changes each value. [unit/NM]
    turned : by how much a station turned by one degree changes each value. [unit/deg]
    alignment_deg : how far the station may be turned, half-width of a rectangular distribution.
    edge_s : standard deviations of the moments at which the values begin and end.
    """
    counts = np.isfinite(values)
    if not counts.any():
        return SpreadSure(one=np.nan, mean=np.nan, rms=np.nan, max_abs=np.nan)
    t_s, values, reach, turned = t_s[counts], values[counts], reach[counts], turned[counts]
    weight_s = weight_s[counts]
    weight = weight_s / weight_s.sum() if weight_s.any() else np.full(len(values), 1.0 / len(values))
    rms = float(np.sqrt(weight @ np.square(values)))
    one = log_errors.one(parts)

    lasting_s = max(float(weight_s.sum()), 1.0)
    average = float(weight @ values)

    def by_position(share: Floats, at_ends: Floats) -> float:
        """Standard deviation; ``at_ends``: by how much more than the rest the first and the last value count."""
        by_ends = float(np.hypot(*at_ends * edge_s)) / lasting_s
        return float(np.hypot(log_errors.weighted(parts, t_s, share * reach), by_ends))

    first_and_last = values[[0, -1]]
    # A turned station moves all values at once, and a size cannot go below nothing: its error is not its slope times the
    # angle, so it is looked for at each of evenly spaced angles.
    angles_deg = alignment_deg * _EVENLY if turned.any() else np.zeros(1)
    others = values - angles_deg[:, None] * turned

    # Squares of errors only add: of a course kept exactly the root mean square is that of the errors, and where it is no
    # more than that, as much of it may be true.
    added = one**2 * float(weight @ np.square(reach))
    size = max(rms, float(np.sqrt(added)))
    at_ends = (np.square(first_and_last) - rms**2) / (2.0 * size) if added > 0 else np.zeros(2)
    true_rms = np.sqrt(np.maximum(0.0, np.square(others) @ weight - added))
    sure_rms = (
        half_width_of((rms - true_rms).tolist(), by_position(weight * values / size, at_ends))
        if added > 0
        else 0.0
    )
    if rms**2 < _DROWNED * added:
        turned_rms = float(np.sqrt(weight @ np.square(turned)))
        sure_rms = max(sure_rms, half_width(float(np.sqrt(added)), rectangular=alignment_deg * turned_rms))

    most = int(np.argmax(np.abs(values)))
    there = tuple(Part(part.sd * float(reach[most]), part.lasts_s) for part in parts)
    near = np.abs(values) >= abs(values[most]) - log_errors.NEAR * log_errors.changing(there)
    picked, normal = log_errors.greatest(there, float(weight_s[near].sum()))
    true_max = np.abs(others).max(axis=1) - picked
    return SpreadSure(
        # of moments that may all be the greatest, the one that a turned station moves most
        one=half_width(log_errors.one(there), rectangular=alignment_deg * float(np.abs(turned[near]).max())),
        mean=half_width(
            by_position(weight, first_and_last - average),
            rectangular=alignment_deg * abs(float(weight @ turned)),
        ),
        rms=sure_rms,
        max_abs=half_width_of(
            (abs(float(values[most])) - true_max).tolist(),
            float(np.hypot(normal, _at_edge(t_s, np.abs(values), edge_s))),
        ),
    )


def _at_edge(t_s: Floats, size: Floats, edge_s: tuple[float, float]) -> float:
    """What an edge that lies a little earlier or later does to a greatest size that lies there."""
    most = int(np.argmax(size))
    if len(size) < 2 or most not in (0, len(size) - 1):
        return 0.0
    inner = 1 if most == 0 else most - 1
    slope = abs(float(size[most] - size[inner])) / max(abs(float(t_s[most] - t_s[inner])), 1e-3)
    return slope * edge_s[0 if most == 0 else 1]
