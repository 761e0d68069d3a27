"""Columns of a log that tell of another motion than its positions do.

Owns      ``speed_disagrees`` of a part whose speed or track is another throughout.
Not here  parts that were moved or lifted (``integrated``); columns in a wrong unit, and clocks that run fast: honest,
          and told by ``tracks.conditioning``.

A column that is off by one factor all the time is in another unit. One that agrees for most of the flight, and not in
a part of it, belongs to what was flown there.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.scale import noise_of, of_a_clock
from debrief.checkride.signs.trace import Bools, Trace, runs
from debrief.tracks.middles import spread
from debrief.tracks.model import Floats

_AVERAGE_S = 12.0
_LASTING_S = 25.0
_SPEED_SHARE, _SPEED_KT = 0.08, 6.0
_TRACK_DEG = 20.0
_NOISES = 5.0
_AGREES, _NEAR = 0.45, 0.5  # share of the flight in which the column agrees, and of the limit
_LONGEST_INTERVAL_S = 6.0  # at longer ones a column is older than its position
_STALE = 0.6  # share of a part in which a column that was not received stands at its last value
_STANDS_S, _CHANGES = 8.0, 0.2
# of one that was typed: samples before it, how it steps to it, in knots and of how the steps in those differ
_BEFORE, _TYPED_KT, _TYPED = 5, 4.0, 3.0
_AT_ONCE_S, _AT_ONCE = 4.0, 0.6  # off by so much of what it is off by in the middle
_KT = 3.6 / 1.852
_ONE_WAY = 0.97  # cosine of 14 deg
_COMES = 0.8
_CHORD_S, _WEAVING = 2.0, 1.03  # shorter chords are longer by noise
_PACE_OFF = 0.06
# of a column that was held down: samples, how far below it the others are, what it changes by, beyond it
_FEWEST_HELD, _BELOW_KT, _SMOOTH_KT, _FASTER_KT = 20, 2.0, 2.5, 4.0
_FASTER_SHARE, _SLOWER_SHARE = 0.75, 0.05


def column_signs(trace: Trace) -> Iterator[Flag]:
    """Each column that a log has, against its positions and altitudes."""
    if trace.interval_s > _LONGEST_INTERVAL_S:
        return
    start, end = trace.around(_AVERAGE_S)
    gaps = np.concatenate([[0], np.cumsum(trace.gap)])
    whole = (gaps[end] == gaps[start]) & trace.flying & ~trace.bridged
    yield from _speed(trace, start, end, whole)
    yield from _track(trace, start, end, whole)


def _averaged(trace: Trace, values: Floats, start: np.ndarray, end: np.ndarray) -> Floats:
    """Mean over the same time that a speed from positions covers."""
    total = trace.summed(values)
    missing = np.concatenate([[0], np.cumsum(np.isnan(values[1:] + values[:-1]))])
    mean = (total[end] - total[start]) / (trace.t_s[end] - trace.t_s[start])
    return np.where(missing[end] == missing[start], mean, np.nan)


def _parts(trace: Trace, column: Floats, off: Floats, limit: float, whole: Bools) -> list[tuple[int, int]]:
    """Where a difference lies beyond the limit for long and on one side, in a log where it mostly does not."""
    known = whole & np.isfinite(off)
    if known.sum() < 40:
        return []
    middle = float(np.median(off[known]))
    near = np.abs(off[known]) < _NEAR * limit
    if near.mean() > _AGREES:  # with nothing in between, where it may be another for half of the log
        middle = float(np.median(off[known][near]))
        limit = max(limit, _NOISES * spread(off[known][near]))
    else:
        limit = max(limit, _NOISES * spread(off[known]))
    with np.errstate(invalid="ignore"):
        beyond = known & (np.abs(off - middle) > limit)
    if beyond.sum() > (1.0 - _AGREES) * known.sum():
        return []
    spans = runs(beyond, 3, bridge=2)
    return [
        (a, b)
        for a, b in spans
        if trace.t_s[b] - trace.t_s[a] >= _LASTING_S
        and abs(float(np.nanmedian(off[a : b + 1])) - middle) > limit
        and not (_stale(column[a : b + 1]) and not _typed(trace, column, a, b))
    ]


def _stale(part: Floats) -> bool:
    values, counts = np.unique(part[np.isfinite(part)], return_counts=True)
    return not len(values) or bool(counts.max() > _STALE * len(part))


def _typed(trace: Trace, column: Floats, first: int, last: int) -> bool:
    """Whether a column that stands came to it by a step, and was off at once: one that is not received stands at what it was."""
    beside = trace.samples(_AVERAGE_S)
    ahead = trace.samples(_AT_ONCE_S, 2)
    begin, end = max(first - beside, _BEFORE), min(first + beside, len(column) - ahead - 2)
    if end <= begin or last <= end:
        return False
    at = begin + int(np.argmax(np.nan_to_num(np.abs(np.diff(column[begin : end + 1])))))
    before = column[at - _BEFORE : at + 1]
    step = abs(column[at + 1] - column[at])
    way_m = np.hypot(np.diff(trace.x_m[at + 1 : last + 1]), np.diff(trace.y_m[at + 1 : last + 1]))
    off_kt = way_m / trace.step_s[at + 1 : last] * _KT - column[at + 1 : last]
    if not np.isfinite(off_kt[:ahead]).any():
        return False
    by_kt = float(np.nanmedian(off_kt))
    at_once_kt = float(np.nanmean(off_kt[:ahead])) * np.sign(by_kt)
    return bool(
        step > max(_TYPED_KT, _TYPED * np.ptp(np.diff(before))) and at_once_kt > _AT_ONCE * abs(by_kt)
    )


def _not_received(trace: Trace, column: Floats, made_kt: Floats) -> Bools:
    """Where a speed stands for some seconds to the last digit while the flight becomes faster or slower, and beside it."""
    stands: Bools = np.zeros(len(trace), dtype=np.bool_)
    beside = trace.samples(_AVERAGE_S / 2)
    for first, last in runs(np.diff(column) == 0.0, trace.samples(_STANDS_S, 2)):
        made = made_kt[first : last + 2]
        if np.ptp(made) > _CHANGES * np.median(made) and not _typed(trace, column, first, last + 1):
            stands[max(first - beside, 0) : last + 2 + beside] = True
    return stands


def _strength(times: float) -> float:
    """0.55 at the limit, 0.9 at three times it."""
    return round(float(np.clip(0.55 + 0.35 * np.log(max(times, 1.0)) / np.log(3.0), 0.55, 0.9)), 2)


def _speed(trace: Trace, start: np.ndarray, end: np.ndarray, whole: Bools) -> Iterator[Flag]:
    column = trace.column("groundspeed_kt")
    if column is None:
        return
    made_kt = np.hypot(trace.x_m[end] - trace.x_m[start], trace.y_m[end] - trace.y_m[start])
    made_kt = made_kt / (trace.t_s[end] - trace.t_s[start]) * _KT
    logged_kt = _averaged(trace, column, start, end)
    turning = _turning(trace, start, end)
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.where(logged_kt > 30.0, np.log(made_kt / logged_kt), np.nan)
    off = np.where(turning | _not_received(trace, column, made_kt), np.nan, off)
    usual_kt = float(np.nanmedian(logged_kt)) if np.isfinite(logged_kt).any() else 100.0
    limit = max(_SPEED_SHARE, _SPEED_KT / max(usual_kt, 30.0))
    yield from _held_down(trace, column, made_kt, whole & ~turning)
    for first, last in _parts(trace, column, off, limit, whole):
        made, logged = (float(np.nanmedian(v[first : last + 1])) for v in (made_kt, logged_kt))
        simulator = bool(of_a_clock(made / logged, _PACE_OFF))
        drawn = trace.drawn[first : last + 1].any()
        honest = simulator or drawn or not _begins_or_ends_on_a_leg(trace, off, first, last, limit)
        yield Flag(
            sign="speed_disagrees",
            strength=0.4 if honest else _strength(abs(float(np.nanmedian(off[first : last + 1]))) / limit),
            evidence=(
                f"from {trace.when(first, last)} the positions move at {made:.0f} kt, the log's ground speed says "
                f"{logged:.0f} kt; elsewhere the two agree"
            ),
        )


def _held_down(trace: Trace, column: Floats, made_kt: Floats, whole: Bools) -> Iterator[Flag]:
    """A highest speed that the column comes to and leaves smoothly, to stand at while the positions go faster.

    A column that was not received stands at any speed, and is another by much when it is received again.
    """
    most_kt = float(np.nanmax(column))
    elsewhere = whole & (column < most_kt - _BELOW_KT) & (column > _BELOW_KT)
    off_kt = made_kt - column
    if elsewhere.sum() < _FEWEST_HELD:
        return
    if abs(float(np.median(made_kt[elsewhere] / column[elsewhere])) - 1.0) > _SPEED_SHARE / 2.0:
        return  # another unit, or an airspeed
    usual_kt = float(np.median(off_kt[elsewhere]))
    noise_kt = noise_of(off_kt - usual_kt, elsewhere)
    held, edges_kt = [], []
    for first, last in runs(column == most_kt, 3):
        edges = [k for k in (first - 1, last + 1) if 0 <= k < len(column)]
        if all(most_kt - column[k] < _SMOOTH_KT for k in edges):
            held += [k for k in range(first, last + 1) if whole[k]]
            edges_kt += [abs(off_kt[k] - usual_kt) for k in edges if whole[k]]
    if len(held) < _FEWEST_HELD:
        return
    beyond_kt = float(np.quantile(off_kt[held], _FASTER_SHARE)) - usual_kt
    least_kt = float(np.quantile(off_kt[held], _SLOWER_SHARE)) - usual_kt
    limit_kt = max(_FASTER_KT, _NOISES * noise_kt)
    # an airspeed that is held is off by the wind at once, on either side
    if edges_kt and float(np.median(edges_kt)) > limit_kt:
        return
    if beyond_kt > limit_kt and least_kt > -2.0 * noise_kt - 1.0:
        yield Flag(
            sign="speed_disagrees",
            strength=_strength(beyond_kt / limit_kt),
            evidence=(
                f"from {trace.when(held[0], held[-1])} the log's ground speed stands at {most_kt:.1f} kt, its highest, in "
                f"{len(held)} samples; the positions go up to {beyond_kt:.0f} kt faster, and elsewhere the two agree"
            ),
        )


def _begins_or_ends_on_a_leg(trace: Trace, off: Floats, first: int, last: int, limit: float) -> bool:
    """Whether the difference comes or goes with no turn: an airspeed in place of a ground speed changes with one."""
    beside = trace.samples(_AVERAGE_S * 1.5)
    for edge in (first, last):
        a, b = edge - beside, edge + beside
        if a < beside or b + beside >= len(trace):
            continue
        ways = [
            (trace.x_m[k + beside] - trace.x_m[k], trace.y_m[k + beside] - trace.y_m[k])
            for k in (a - beside, a, edge, b)
        ]
        one_way = all(
            e * e2 + n * n2 > _ONE_WAY * np.hypot(e, n) * np.hypot(e2, n2)
            for (e, n), (e2, n2) in pairwise(ways)
        )
        sides = off[a - beside : a + 1], off[b : b + beside]
        if one_way and all(np.isfinite(side).any() for side in sides):
            here, there = (float(np.nanmedian(side)) for side in sides)
            if abs(here - there) > _COMES * limit:
                return True
    return False


def _turning(trace: Trace, start: np.ndarray, end: np.ndarray) -> Bools:
    """Where the way flown is clearly longer than the straight one: a speed from its ends would be too low."""
    straight_m = np.hypot(trace.x_m[end] - trace.x_m[start], trace.y_m[end] - trace.y_m[start])
    middle = (start + end) // 2
    by_middle_m = np.hypot(trace.x_m[middle] - trace.x_m[start], trace.y_m[middle] - trace.y_m[start])
    by_middle_m += np.hypot(trace.x_m[end] - trace.x_m[middle], trace.y_m[end] - trace.y_m[middle])
    return np.asarray(by_middle_m > 1.015 * straight_m)


def _weaving(trace: Trace, start: np.ndarray, end: np.ndarray) -> Bools:
    """Where the way flown is longer than the straight one although its middle lies on that, as from bank to bank."""
    wide = trace.samples(_CHORD_S)
    ahead = np.minimum(np.arange(len(trace)) + wide, len(trace) - 1)
    chords_m = np.hypot(trace.x_m[ahead] - trace.x_m, trace.y_m[ahead] - trace.y_m) / wide
    length_m = np.concatenate([[0.0], np.cumsum(chords_m)])
    straight_m = np.hypot(trace.x_m[end] - trace.x_m[start], trace.y_m[end] - trace.y_m[start])
    last = np.maximum(end - wide + 1, start)
    share = (end - start) / np.maximum(last - start, 1)
    return np.asarray((length_m[last] - length_m[start]) * share > _WEAVING * straight_m)


def _track(trace: Trace, start: np.ndarray, end: np.ndarray, whole: Bools) -> Iterator[Flag]:
    column = trace.column("ground_track_true_deg")
    if column is None:
        return
    made = np.degrees(np.arctan2(trace.x_m[end] - trace.x_m[start], trace.y_m[end] - trace.y_m[start]))
    off = (made - column + 180.0) % 360.0 - 180.0
    off = np.where(_turning(trace, start, end) | _weaving(trace, start, end), np.nan, off)
    if not np.isfinite(off).any() or abs(float(np.nanmedian(off))) > _TRACK_DEG / 2:
        return  # a column that mostly tells of something else
    for first, last in _parts(trace, column, off, _TRACK_DEG, whole):
        told = float(np.nanmedian(np.abs(off[first : last + 1])))
        on_a_leg = _begins_or_ends_on_a_leg(trace, off, first, last, _TRACK_DEG)
        yield Flag(
            sign="speed_disagrees",
            strength=_strength(told / _TRACK_DEG) if on_a_leg and not trace.flown_steeply else 0.4,
            evidence=(
                f"from {trace.when(first, last)} the positions move {told:.0f} degrees off the track that the log gives; "
                "elsewhere the two agree"
            ),
        )
