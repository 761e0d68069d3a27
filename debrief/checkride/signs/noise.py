"""Noise that changes its character: a part that is too quiet, or too rough, for the recorder that wrote the rest.

Owns      ``smoothed``, ``noise_changes``, and altitudes held to the foot (``altitude_disagrees``).
Not here  bridges over dropouts, which are quiet and honest (``trace``), digits (``digits``).

Each sample is held against a cubic through its four neighbours, across the track only: a late stamp moves a good
position along it. What is left is the recorder's noise; it is looked at in blocks, and each block against the others.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.cubics import along_across, cubic, off_cubic
from debrief.checkride.signs.trace import Bools, Trace, runs
from debrief.tracks.middles import median_of, spread
from debrief.tracks.model import Floats

_BLOCK = 12  # samples
_FEWEST_BLOCKS = 10
_LONGEST_INTERVAL_S = 3.1  # at longer ones a turn looks like noise, and so does a change in the rate of climb
_LASTING_S = 25.0
_QUIET, _ROUGH = 0.55, 2.0  # of the log's median block
_ROUGH_LEAST_M, _ROUGH_ROUNDING = 2.0, 0.6  # of the step: so much rounding alone makes, on some courses
# less noise than this has no character; at longer intervals than 1 s in altitude more
_LEAST_M, _LEAST_FT = 1.3, 0.5
# where the noise is a recorder's own: how loud the loudest blocks may be, and how much more over twice the time
_LEAST_WHITE_M, _LOUD, _ALIKE, _WHITE = 0.15, 0.8, 1.5, 1.4
_CORNER = 0.24  # of acceleration, interval and time from corner to corner: what such corners scatter by
# corners stand so many intervals apart; without any noise, further
_SPAN, _SPAN_S, _NOISELESS_M = 3.0, 15.0, 0.4
_LATE = 0.4  # of the scatter along the track, which late stamps put across it in a turn
_INDEPENDENT = 0.4  # of neighbouring residuals, each of which has four others in it
_LOG_CHANCE = -16.0  # of a stretch as quiet or as rough, by chance
_ROUNDING = 12.0**-0.5  # standard deviation of rounding, in steps
_NOISY = 1.6  # the log's noise against its rounding, for quiet to mean anything
_FEWEST_LEVEL = 6  # blocks
_LEVEL_FT_MIN, _LEVEL_FT = 200.0, 30.0
# acceleration times interval squared: of a steep turn at 2 s, of any at 3 s; from bank to bank it is less for a sample
_HARD_M, _HARD_FT, _HARD_BESIDE, _HARD_OVER_S = 25.0, 20.0, 4, 3.0
_HELD_S = 20.0
_STANDING = 0.2  # of the samples: a coordinate moves by less than its step from one to the next
_LINE_M = 5.0
_HELD = 15  # samples
_BESIDE = 5  # blocks
_TURNING_DEG_S, _FEWEST_TURNING = 1.0, 3  # banked so far satellites are lost; blocks


def noise_signs(trace: Trace) -> Iterator[Flag]:
    """Parts too quiet or too rough, in position and in altitude."""
    if trace.interval_s > _LONGEST_INTERVAL_S:
        return
    weights, size = trace.cubic
    along, across = (part / size for part in along_across(trace.x_m, trace.y_m, weights))
    usable = _usable(trace)
    hard = _hard(trace, (trace.x_m, trace.y_m), _HARD_M)
    late_m = _LATE * _blocks(np.where(usable & ~hard, along, np.nan))
    yield from _positions(trace, np.where(usable & ~hard, across, np.nan), late_m, hard)
    altitude = np.where(np.isfinite(trace.altitude_ft), trace.altitude_ft, np.nan)
    usable &= ~_hard(trace, (altitude,), _HARD_FT)
    yield from _altitudes(trace, np.where(usable, off_cubic(altitude, weights) / size, np.nan))


def _usable(trace: Trace) -> Bools:
    """In flight, with all four neighbours near in time and none of them on a bridge."""
    hindered = np.concatenate([trace.gap, [False]]) | trace.bridged
    hindered[:-1] |= trace.bridged[1:]
    count = np.concatenate([[0], np.cumsum(hindered)])
    return np.asarray(trace.flying[2:-2] & (count[4:-1] == count[:-5]) & ~trace.bridged[4:])


def _hard(trace: Trace, columns: tuple[Floats, ...], limit: float) -> Bools:
    """Where samples lie so far off the line of those next but one that a cubic misses what is flown there.

    On the mean of three seconds: what is flown lies to one side, what noise puts on to any.
    """
    from scipy.ndimage import uniform_filter1d

    t_s = trace.t_s
    share = (t_s[2:-2] - t_s[:-4]) / (t_s[4:] - t_s[:-4])
    off = np.stack([(v[:-4] + share * (v[4:] - v[:-4]) - v[2:-2]) / 2.0 for v in columns])
    half = int(_HARD_OVER_S / 2.0 / trace.interval_s)
    mean = uniform_filter1d(off, 2 * half + 1, axis=1, mode="nearest") if half else off
    bend = np.sqrt((mean**2).sum(axis=0))
    with np.errstate(invalid="ignore"):
        count = np.concatenate([[0], np.cumsum(bend > limit)])
    here = np.arange(len(bend))
    first, last = np.maximum(here - _HARD_BESIDE, 0), np.minimum(here + _HARD_BESIDE + 1, len(bend))
    return np.asarray(count[last] > count[first])


def _blocks(off: Floats) -> Floats:
    """Root mean square of each block; nan where most of it is unknown."""
    count = len(off) // _BLOCK
    blocks = off[: count * _BLOCK].reshape(count, _BLOCK)
    known = np.isfinite(blocks)
    total, number = np.where(known, blocks, 0.0) ** 2, known.sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(number > _BLOCK / 2, np.sqrt(total.sum(axis=1) / number), np.nan)


def _spans(trace: Trace, mask: Bools) -> Iterator[tuple[int, int, int, int]]:
    """Runs of blocks that last: first and last block, first and last sample."""
    for first, last in runs(mask, 2, bridge=1):
        start, end = first * _BLOCK + 2, min((last + 1) * _BLOCK + 1, len(trace) - 1)
        if trace.t_s[end] - trace.t_s[start] >= _LASTING_S:
            yield first, last, start, end


def _positions(trace: Trace, across: Floats, late_m: Floats, hard: Bools) -> Iterator[Flag]:
    blocks = _blocks(across)
    known = np.isfinite(blocks)
    if known.sum() < _FEWEST_BLOCKS:
        return
    usual_m, rounding_m = median_of(blocks[known]), trace.rounding_m
    least_m = _LEAST_WHITE_M if _of_a_recorder(trace, across, blocks) else _LEAST_M
    if usual_m > max(_NOISY * rounding_m * _ROUNDING, least_m):
        for start, end, level_m in _quiet(trace, blocks, usual_m):
            if _rounded_away(trace, start, end):
                continue
            bridged = trace.mostly_bridged(start, end) or _line(trace, start, end)
            yield Flag(
                sign="smoothed",
                strength=0.4 if bridged else _strength(_QUIET * usual_m / max(level_m, 1e-3)),
                evidence=(
                    f"from {trace.when(start, end)} positions scatter by {level_m:.1f} m, elsewhere by {usual_m:.1f} m"
                    + (", on a straight line, as a program fills a dropout" if bridged else "")
                ),
            )
    limit_m = max(_ROUGH * usual_m, _ROUGH_LEAST_M, _ROUGH_ROUNDING * rounding_m, float(np.nanmedian(late_m)))
    with np.errstate(invalid="ignore"):
        rough = np.asarray(known & (blocks > np.maximum(limit_m, late_m)))
    if rough.sum() > 0.5 * known.sum():
        return
    turned = _turned_deg_s(trace, len(blocks))
    for first, last, start, end in _spans(trace, rough):
        if hard[max(start - 2 - _BLOCK, 0) : end - 1 + _BLOCK].any():
            continue  # flown harder than samples so far apart can tell
        beyond_m = limit_m
        if usual_m < _LEAST_M:  # corners where a log of another interval was drawn out look like noise
            # corners far apart leave most samples in line
            few = spread(across[start - 2 : end - 1]) <= limit_m
            span_s = max(_SPAN * trace.interval_s, _SPAN_S if usual_m < _NOISELESS_M and few else 0.0)
            beyond_m = max(limit_m, _CORNER * _turning_m_s2(trace, start, end) * trace.interval_s * span_s)
        beyond_m = max(
            beyond_m, _ROUGH * max(_beside(blocks, first, last)[1], _turned_m(turned, blocks, first, last))
        )
        level_m = _level(blocks, first, last)
        if (
            _log_chance(blocks, first, last, usual_m) < _LOG_CHANCE
            and float(np.median(blocks[first : last + 1][known[first : last + 1]])) > beyond_m
        ):
            yield Flag(
                sign="noise_changes",
                strength=_strength(level_m / beyond_m),
                evidence=(
                    f"from {trace.when(start, end)} positions scatter by {level_m:.1f} m, elsewhere by {usual_m:.1f} m"
                ),
            )


def _rounded_away(trace: Trace, first: int, last: int) -> bool:
    """Whether one coordinate stands from sample to sample, now and again, while the other goes on.

    Who flies along a parallel or a meridian shows no scatter across it that is less than a step of the log's.
    """
    index = trace.index[first : last + 1]
    stands = [
        float(np.mean(np.diff(degrees[index]) == 0.0))
        for degrees in (trace.track.latitude_deg, trace.track.longitude_deg)
    ]
    return max(stands) > _STANDING and min(stands) < _STANDING / 2.0


def _of_a_recorder(trace: Trace, across: Floats, blocks: Floats) -> bool:
    """Whether a log's scatter is its recorder's: as great over twice the time, as no motion is, and alike all through."""
    levels = blocks[np.isfinite(blocks)]
    if float(np.quantile(levels, _LOUD)) > _ALIKE * median_of(levels):
        return False
    t_s, places = trace.t_s[::2], (trace.x_m[::2], trace.y_m[::2])
    weights, size = cubic(t_s)
    east, north = (off_cubic(values, weights) / size for values in places)
    vx, vy = (values[4:] - values[:-4] for values in places)
    twice = (east * vy - north * vx) / np.maximum(np.hypot(vx, vy), 1.0)
    return spread(np.where(trace.hindered[::2][2:-2], np.nan, twice)) < _WHITE * spread(across)


def _turned_deg_s(trace: Trace, count: int) -> Floats:
    """How fast the track turns in each block."""
    first = 2 + _BLOCK * np.arange(count)
    last = np.minimum(first + _BLOCK, len(trace) - 2)
    ways = [
        np.arctan2(trace.x_m[at + 2] - trace.x_m[at - 2], trace.y_m[at + 2] - trace.y_m[at - 2])
        for at in (first, np.minimum(last, len(trace) - 3))
    ]
    turned = np.degrees(np.abs((ways[1] - ways[0] + np.pi) % (2.0 * np.pi) - np.pi))
    return np.asarray(turned / np.maximum(trace.t_s[last] - trace.t_s[first], 1e-3))


def _turned_m(turned_deg_s: Floats, blocks: Floats, first: int, last: int) -> float:
    """What the log's other turns scatter by where a stretch is one, for the most part; inf where there is none other."""
    turning = turned_deg_s > _TURNING_DEG_S
    if turning[first : last + 1].mean() <= 0.4:
        return 0.0
    others = turning & np.isfinite(blocks)
    others[max(first - 1, 0) : last + 2] = False
    return float(np.median(blocks[others])) if others.sum() >= _FEWEST_TURNING else np.inf


def _turning_m_s2(trace: Trace, first: int, last: int) -> float:
    """How hard a stretch turns where it turns most, looked at over ten seconds."""
    at = np.arange(first, last + 1, trace.samples(10.0))
    if len(at) < 3:
        return 0.0
    lapse_s = np.diff(trace.t_s[at])
    velocity = np.stack([np.diff(trace.x_m[at]), np.diff(trace.y_m[at])]) / lapse_s
    return float((np.hypot(*np.diff(velocity, axis=1)) / lapse_s[1:]).max())


def _quiet(trace: Trace, blocks: Floats, usual: float) -> Iterator[tuple[int, int, float]]:
    """Stretches so quiet that chance does not explain it: first and last sample, and how much they scatter."""
    known = np.isfinite(blocks)
    with np.errstate(invalid="ignore"):
        quiet = np.asarray(known & (blocks < _QUIET * usual))
    if quiet.sum() > 0.5 * known.sum():
        return
    for first, last, start, end in _spans(trace, quiet):
        level = _level(blocks, first, last)
        if (
            level < _QUIET * min(usual, _beside(blocks, first, last)[0])
            and _log_chance(blocks, first, last, usual) < _LOG_CHANCE
        ):
            yield start, end, level


def _level(blocks: Floats, first: int, last: int) -> float:
    inside = blocks[first : last + 1]
    return float(np.sqrt(np.nanmean(inside**2)))


def _beside(blocks: Floats, first: int, last: int) -> tuple[float, float]:
    """The least and the greatest that the log scatters by just before and just after a stretch; 0 and inf at its ends.

    A receiver that hears corrections from some moment on, or no longer, changes its scatter for good.
    """
    sides = [
        side[np.isfinite(side)]
        for side in (blocks[max(first - _BESIDE, 0) : first], blocks[last + 1 : last + 1 + _BESIDE])
    ]
    if not all(len(side) for side in sides):
        return 0.0, np.inf
    levels = [median_of(side) for side in sides]
    return min(levels), max(levels)


def _log_chance(blocks: Floats, first: int, last: int, usual: float) -> float:
    """Logarithm of a bound on the chance of so small or so great a sum of squares (Chernoff, chi-squared)."""
    number = np.isfinite(blocks[first : last + 1]).sum() * _BLOCK * _INDEPENDENT
    share = max((_level(blocks, first, last) / usual) ** 2, 1e-9)
    return float(-number / 2.0 * (share - 1.0 - np.log(share)))


def _strength(times: float) -> float:
    """0.55 at the limit, 0.9 at three times it."""
    return round(float(np.clip(0.55 + 0.35 * np.log(max(times, 1.0)) / np.log(3.0), 0.55, 0.9)), 2)


def _line(trace: Trace, first: int, last: int) -> bool:
    """Whether a stretch is one straight line at one speed, its ends left out."""
    first, last = (first + _BLOCK, last - _BLOCK) if last - first > 3 * _BLOCK else (first, last)
    t_s = trace.t_s[first : last + 1]
    share = (t_s - t_s[0]) / (t_s[-1] - t_s[0])
    x_m, y_m = trace.x_m[first : last + 1], trace.y_m[first : last + 1]
    off_m = np.hypot(x_m - x_m[0] - share * (x_m[-1] - x_m[0]), y_m - y_m[0] - share * (y_m[-1] - y_m[0]))
    return bool(off_m.max() < _LINE_M)


def _altitudes(trace: Trace, off_ft: Floats) -> Iterator[Flag]:
    blocks = _blocks(off_ft)
    known = np.isfinite(blocks)
    if known.sum() < _FEWEST_BLOCKS:
        return
    altitude = trace.altitude_ft
    step_ft = trace.altitude_step_ft
    level = known & _level_blocks(trace)
    if level.sum() < _FEWEST_LEVEL:
        return  # climbing, the rounding of altitudes looks like noise
    usual_ft = float(np.median(blocks[level]))
    least_ft = _LEAST_FT * max(1.0, trace.interval_s)  # a pilot's own ups and downs
    if usual_ft <= max(_NOISY * step_ft * _ROUNDING, least_ft):
        return
    for start, end, level_ft in _quiet(trace, blocks, usual_ft):
        held = _held(altitude, start, end)
        bridged = trace.mostly_bridged(start, end) or (
            _line(trace, start, end) and not held and level_ft < _LEAST_FT
        )
        yield Flag(
            sign="altitude_disagrees" if held else "smoothed",
            strength=0.4 if bridged else _strength(_QUIET * usual_ft / max(level_ft, 1e-3)),
            evidence=(
                f"from {trace.when(start, end)} altitudes scatter by {level_ft:.1f} ft, elsewhere by {usual_ft:.1f} ft"
            ),
        )
    yield from _held_runs(trace, usual_ft, step_ft)


def _level_blocks(trace: Trace) -> Bools:
    """For each block whether the altitude at its end is that at its beginning, or nearly."""
    count = (len(trace) - 4) // _BLOCK
    first = 2 + _BLOCK * np.arange(count)
    last = first + _BLOCK - 1
    lapse_s = trace.t_s[last] - trace.t_s[first]
    with np.errstate(invalid="ignore"):
        climbed = np.abs(trace.altitude_ft[last] - trace.altitude_ft[first])
        return np.asarray(climbed < np.maximum(_LEVEL_FT_MIN / 60.0 * lapse_s, _LEVEL_FT))


def _held(altitude: Floats, start: int, end: int) -> bool:
    inside = altitude[start : end + 1]
    values, counts = np.unique(inside[np.isfinite(inside)], return_counts=True)
    return bool(len(values) and counts.max() > 0.6 * len(inside))


def _held_runs(trace: Trace, usual_ft: float, step_ft: float) -> Iterator[Flag]:
    """One altitude to the last digit, sample after sample, in a log whose altitudes always scatter."""
    altitude = trace.altitude_ft
    same = np.concatenate([np.diff(altitude) == 0.0, [False]])
    longest: tuple[int, int] | None = None
    for first, last in runs(same, _HELD - 1):
        end = last + 1
        if not trace.flying[first : end + 1].all() or trace.mostly_bridged(first, end):
            continue
        if trace.t_s[end] - trace.t_s[first] >= _HELD_S and (
            longest is None or end - first > longest[1] - longest[0]
        ):
            longest = first, end
    if longest is None:
        return
    # a sample of such noise falls into the same step as the one before about so often
    chance = min(1.0, max(step_ft, 0.1) / (usual_ft * (2 * np.pi) ** 0.5))
    if (longest[1] - longest[0]) * np.log(max(chance, 1e-9)) > -12.0:
        return
    first, end = longest
    yield Flag(
        sign="altitude_disagrees",
        strength=0.8,
        evidence=(
            f"from {trace.when(first, end)} the altitude stands at {altitude[first]:.0f} ft to the last digit, "
            f"{end - first + 1} samples in a row, in a log whose altitudes scatter by {usual_ft:.1f} ft"
        ),
    )
