"""Seams in logs of some seconds' interval, where a turn begun between two samples looks like a step.

Owns      ``spliced`` and ``altitude_disagrees`` at a seam, from samples 2.5 s to 20 s apart.
Not here  denser logs, whose seams stand out against lines through many samples (``motion``).

Two samples before and two after tell how the flight went on. Where they all point one way, a step beside that way, or
one far longer than the speeds on both sides, is no turn. An altitude that is changed for a while steps once, between
rates that are as they were; an aircraft takes some samples for its way down.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.scale import MISSING, greatest, strength_of, usual_excess
from debrief.checkride.signs.stepped import ABSURD_FT, stepped
from debrief.checkride.signs.trace import FLYING_M_S, Bools, Ints, Trace
from debrief.tracks.model import Floats

LONGEST_INTERVAL_S = 20.0
_MOST_MISSING = 4.0  # intervals that one step may take
_ONE_WAY = 0.978  # cosine of 12 deg
_STEP_M, _STEP_ALONG_M = 60.0, 100.0
_STEP_TURNING_M, _TURNING_SHARE, _BENDS, _STEADY = 120.0, 0.35, 0.75, 0.3
_ACROSS_SHARE, _ALONG_SHARE = 0.35, 0.15  # of the way from sample to sample
_LATE_S = 1.5  # whole seconds cut at both ends
_NOISES, _NOISES_ALONG = 7.0, 11.0
_FASTER, _FAST_SHARE, _WEAVING = 1.15, 0.97, 0.8  # than the log mostly goes, and of how it mostly turns
_STEP_FT, _STEEP_FT_S = 75.0, 25.0
_STEEPER, _STEEP_SHARE = 1.5, 0.96  # than the log's own climbs
_BESIDE = 3  # steps on each side
_ALIKE, _ALIKE_FT = 0.3, 0.15  # of a seam: what the steps beside it may be off
_LONGEST_STALE_S = 60.0


def sparse_signs(trace: Trace) -> Iterator[Flag]:
    """The greatest seam in position and the greatest in altitude."""
    if not len(trace) > 4 * _BESIDE:
        return
    yield from _positions(trace)
    yield from _altitudes(trace)


def _positions(trace: Trace) -> Iterator[Flag]:
    x_m, y_m, t_s = trace.x_m, trace.y_m, trace.t_s
    way = np.stack([np.diff(x_m), np.diff(y_m)])
    length_m = np.hypot(*way)
    unit = way / np.maximum(length_m, 1e-6)
    n = len(length_m)
    at = np.arange(2, n - 2)
    beside = np.stack([unit[:, at + k] for k in (-2, -1, 1, 2)])
    ahead = beside.sum(axis=0)
    ahead /= np.maximum(np.hypot(*ahead), 1e-6)
    one_way = ((beside * ahead).sum(axis=1) > _ONE_WAY).all(axis=0)
    speed = np.stack([length_m[at + k] / trace.step_s[at + k] for k in (-2, -1, 1, 2)])
    valid = one_way & (speed.min(axis=0) > FLYING_M_S) & _whole(trace, 2)[at]
    before = (way[:, at - 2] + way[:, at - 1]) / (t_s[at] - t_s[at - 2])
    after = (way[:, at + 1] + way[:, at + 2]) / (t_s[at + 3] - t_s[at + 1])
    lapse_s = trace.step_s[at]
    off = way[:, at] - (before + after) / 2.0 * lapse_s
    rates = np.stack([way[:, at + k] / trace.step_s[at + k] for k in (-2, -1, 1, 2)])
    beside_m = np.hypot(*np.moveaxis(rates - (before + after) / 2.0, 1, 0)).max(axis=0) * lapse_s
    alone = beside_m < _ALIKE * np.hypot(*off)  # a late sample makes one step too long and the next too short
    across_m = np.abs(off[0] * ahead[1] - off[1] * ahead[0])
    usual_m_s = np.hypot(*(before + after)) / 2.0
    faster_m = np.hypot(*(after - before)) * lapse_s
    along_m = np.maximum(np.abs((off * ahead).sum(axis=0)) - faster_m - _LATE_S * usual_m_s, 0.0)
    # after steps shortened by steep turns one that is flown straight looks long
    usual_most_m_s = np.quantile(length_m / trace.step_s, _FAST_SHARE)
    along_m[length_m[at] / lapse_s < _FASTER * usual_most_m_s] = 0.0
    turned = np.abs(before[0] * after[1] - before[1] * after[0]) / np.maximum(usual_m_s, 1.0) ** 2
    way_m = usual_m_s * lapse_s
    limit_m = np.maximum(
        max(_STEP_M, _NOISES * usual_excess(across_m, valid, _BESIDE)), _ACROSS_SHARE * way_m
    )
    # from bank to bank between two samples, as hard as the log turns elsewhere
    bend_m_s = np.hypot(*np.diff(way / trace.step_s, axis=1))
    limit_m = np.maximum(limit_m, _WEAVING * float(np.quantile(bend_m_s, _FAST_SHARE)) * lapse_s)
    limit_m += turned * way_m / 2.0  # a turn early or late in the step
    along_noise_m = _NOISES_ALONG * usual_excess(along_m, valid, _BESIDE)
    along_limit_m = np.maximum(max(_STEP_ALONG_M, along_noise_m), _ALONG_SHARE * way_m)
    times = np.where(valid & alone, np.maximum(across_m / limit_m, along_m / along_limit_m), -np.inf)
    times = np.maximum(times, _in_a_turn(trace, way, at))
    k = greatest(times, 1.0)
    if k is not None:
        yield Flag(
            sign="spliced",
            strength=strength_of(float(times[k])),
            evidence=(
                f"at {trace.when(int(at[k]) + 1)} the position steps by some {np.hypot(*off[:, k]):.0f} m beside its way, "
                "and the flight goes on from there"
            ),
        )


def _in_a_turn(trace: Trace, way: Floats, at: Ints) -> Floats:
    """How many times its limit a step is off the mean of those beside it, which go on steadily; -inf where they do not.

    Whatever is flown within one step, it is a bend between the one before and the one after.
    """
    velocity = way / trace.step_s
    speed = np.hypot(*velocity)
    beside = np.stack([speed[at + k] for k in (-2, -1, 1, 2)])
    usual_m_s = np.median(beside, axis=0)
    steady = (np.abs(beside / np.maximum(usual_m_s, 1.0) - 1.0) < _STEADY).all(axis=0)
    valid = steady & (usual_m_s > FLYING_M_S) & _whole(trace, 2)[at]
    lapse_s = trace.step_s[at]
    off_m = np.hypot(*(way[:, at] - (velocity[:, at - 1] + velocity[:, at + 1]) / 2.0 * lapse_s))
    bend_m = np.hypot(*(velocity[:, at + 1] - velocity[:, at - 1])) * lapse_s
    way_m = usual_m_s * lapse_s
    limit_m = np.maximum(_STEP_TURNING_M, _NOISES * usual_excess(off_m, valid, _BESIDE))
    limit_m = np.maximum(limit_m, _TURNING_SHARE * way_m) + _BENDS * bend_m + _LATE_S * usual_m_s
    return np.where(valid, off_m / limit_m, -np.inf)


def _altitudes(trace: Trace) -> Iterator[Flag]:
    altitude_ft, step_s = trace.altitude_ft, trace.step_s
    if np.isfinite(altitude_ft).mean() < 0.9:
        return
    rate_ft_s = np.diff(altitude_ft) / step_s
    n = len(rate_ft_s)
    at = np.arange(_BESIDE, n - _BESIDE)
    beside = np.stack([rate_ft_s[at + k] for k in range(-_BESIDE, _BESIDE + 1) if k])
    usual = np.median(beside, axis=0)
    off_ft = (rate_ft_s[at] - usual) * step_s[at]
    beside_ft = (np.abs(beside - usual) * step_s[at])[1:-1].max(axis=0)
    with np.errstate(invalid="ignore"):
        known = np.isfinite(off_ft) & np.isfinite(beside_ft) & _whole(trace, _BESIDE)[at]
        known &= trace.flying[at] & trace.flying[at + 1]
        noise_ft = usual_excess(off_ft, known, _BESIDE)
        alone = beside_ft < np.maximum(_ALIKE_FT * np.abs(off_ft), 2.0 * noise_ft)
    steep_ft_s = _STEEP_FT_S
    if known.any():  # a climb begun and ended between two samples
        usual_ft_s = np.abs(rate_ft_s[at][known])
        steep_ft_s = max(steep_ft_s, _STEEPER * float(np.quantile(usual_ft_s, _STEEP_SHARE)))
    limit_ft = np.maximum(
        max(_STEP_FT, 2.5 * trace.altitude_step_ft, _NOISES * noise_ft), steep_ft_s * step_s[at]
    )
    valid = known & alone & ~_caught_up(trace, rate_ft_s, at, off_ft)
    times = np.where(valid, np.abs(off_ft) / limit_ft, -np.inf)
    absurd = valid & (np.abs(off_ft) > ABSURD_FT)
    yield from stepped(trace, off_ft, times, absurd, int(at[0]) + 1)


def _whole(trace: Trace, beside: int) -> Bools:
    """For each step whether no sample is missing or bridged in so many steps on each side.

    Of the step itself some may be missing: the conditioning sets aside what it takes for wild beside a seam.
    """
    bridged = trace.bridged[:-1] | trace.bridged[1:]
    broken = bridged | (trace.step_s > MISSING * trace.interval_s)
    counts = np.concatenate([[0], np.cumsum(broken)])
    at = np.arange(len(broken))
    first, last = np.maximum(at - beside, 0), np.minimum(at + beside + 1, len(broken))
    sides = counts[last] - counts[first] - broken
    inside = (at >= beside) & (at + beside < len(broken))
    longest_s = max(MISSING * trace.interval_s, min(_MOST_MISSING * trace.interval_s, LONGEST_INTERVAL_S))
    return np.asarray(inside & (sides == 0) & ~bridged & (trace.step_s <= longest_s))


def _caught_up(trace: Trace, rate_ft_s: Floats, at: np.ndarray, off_ft: Floats) -> Bools:
    """Where the altitude stood on one side, and by the rate on the other one was moving meanwhile, unreported."""
    with np.errstate(invalid="ignore"):
        still = rate_ft_s == 0.0
    lasting = np.where(still, trace.step_s, 0.0)
    ahead, behind = _sums_of_runs(lasting), _sums_of_runs(lasting[::-1])[::-1]
    stood_before_s = np.minimum(ahead[at - 1], _LONGEST_STALE_S)
    stood_after_s = np.minimum(behind[at + 1], _LONGEST_STALE_S)
    moved_after = np.abs(np.median([rate_ft_s[at + k] for k in (1, 2, 3)], axis=0)) * stood_before_s
    moved_before = np.abs(np.median([rate_ft_s[at - k] for k in (1, 2, 3)], axis=0)) * stood_after_s
    with np.errstate(invalid="ignore"):
        return np.asarray(np.maximum(moved_after, moved_before) > np.abs(off_ft) / 3.0)


def _sums_of_runs(values: Floats) -> Floats:
    """The sum of the run of values above zero that ends at each."""
    total = np.cumsum(values)
    zero_at = np.maximum.accumulate(np.where(values == 0.0, total, 0.0))
    return np.asarray(total - zero_at)
