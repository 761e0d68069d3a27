"""Parts joined to a flight with a step aside of some metres, or a corner between two samples, that nothing else shows.

Owns      ``spliced`` and ``impossible_motion`` of the sharpest such joint of a log that is smooth elsewhere.
Not here  steps and corners beyond what any log shows (``motion``, ``corners``); steps along the track, which late stamps make.

What is great for one log is nothing for another: a joint counts where it is far beyond the log's noise, and nothing but
the other end of the same part comes near it.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.patterns import SIDE, Joints, filled, joints_of
from debrief.checkride.signs.scale import SPARSE_S, of_a_clock, peaks, strength_of
from debrief.checkride.signs.trace import MOST_WIND_M_S, Bools, Ints, Trace
from debrief.tracks.middles import MAD_TO_SIGMA, median_of
from debrief.tracks.model import Floats

_FEWEST = 60  # steps
_EXPLAINED = 0.97  # a single wild sample looks like both together by 0.96
_NOISES, _ELSEWHERE = 10.0, 2.0
_ENDS = 2  # of one part
# a receiver's solution moves by some metres now and then; a simulator's aircraft does not
_QUIET_M, _LEAST_QUIET_M, _LEAST_M = 0.5, 8.0, 20.0
_CORNER, _CORNER_NOISES = 0.75, 3.0  # half an interval's way, and as much again for a bank that takes a while
_COASTED, _COASTED_S = 3, 20.0  # samples
_STRAIGHT_M = 0.1
_LEAST_M_S, _BANK_M_S2 = 3.0, 8.0  # a bank of 40 degrees that begins and ends within an interval
_STEP_NOISES = 6.0
_LASTS = 0.3
_FILLED_S, _LINE_M = 30.0, 0.5
_PACE_OFF, _ONE_WAY = 0.02, 0.97
_MOST, _HABIT = 0.8, 0.4
_KT = 3.6 / 1.852


def joint_signs(trace: Trace) -> Iterator[Flag]:
    """The greatest step aside, and the sharpest corner."""
    joints = joints_of(trace) if trace.interval_s <= SPARSE_S else None
    if joints is None or joints.valid.sum() < _FEWEST:
        return
    # how many samples up to each a program drew on a straight line
    lines = np.concatenate([[0], np.cumsum(trace.bridged | filled(trace))])
    yield from _step_aside(trace, joints, lines)
    yield from _corner(trace, joints, lines)


def _sharpest(joints: Joints, size: Floats, may_be: Bools, least: float) -> tuple[float, list[int]] | None:
    """How far beyond its limit the greatest of these sizes is, and the ends of its part, the greater first."""
    size = np.where(joints.valid, size, -np.inf)
    ends = list(islice(peaks(np.where(may_be, size, -np.inf), 0.0, SIDE, SIDE + 1), _ENDS))
    if not ends or size[ends[0]] <= least:
        return None
    elsewhere = size.copy()
    for k in ends:
        elsewhere[max(k - SIDE, 0) : k + SIDE + 1] = -np.inf
    times = float(size[ends[0]] / max(least, _ELSEWHERE * float(elsewhere.max())))
    return (times, ends) if times > 1.0 else None


def _step_aside(trace: Trace, joints: Joints, lines: Ints) -> Iterator[Flag]:
    across_m = np.abs(joints.step_m[0] * joints.way[1] - joints.step_m[1] * joints.way[0])
    along_m = np.abs((joints.step_m * joints.way).sum(axis=0))
    corner_m = np.hypot(*joints.corner_m)
    noise_m = MAD_TO_SIGMA * median_of(across_m[joints.valid])
    flown_m = _CORNER * np.maximum(corner_m - _CORNER_NOISES * median_of(corner_m[joints.valid]), 0.0)
    found = _sharpest(
        joints,
        across_m - flown_m,
        (joints.explained > _EXPLAINED) & (along_m < across_m) & ~_coasted(trace, joints, lines),
        max(_LEAST_QUIET_M if noise_m < _QUIET_M else _LEAST_M, _NOISES * noise_m),
    )
    if found is None:
        return
    times, (k, *_) = found
    yield Flag(
        sign="spliced",
        strength=min(strength_of(times), _MOST),
        evidence=(
            f"at {trace.when(int(joints.at[k]) + 1)} the position steps by {across_m[k]:.0f} m aside from one sample to the "
            f"next, and the flight goes on from there; from sample to sample the log scatters by {noise_m:.1f} m"
        ),
    )


def _coasted(trace: Trace, joints: Joints, lines: Ints) -> Bools:
    """Where a receiver went straight on, heard nothing of a turn, and steps to where it has led when it hears again.

    In a log that does not scatter it must have turned by so much as to step so far.
    """
    places = np.stack([trace.x_m, trace.y_m])
    bend_m = np.hypot(*(places[:, joints.at] - 2.0 * places[:, joints.at - 1] + places[:, joints.at - 2]))
    size_m = np.maximum(np.hypot(*joints.step_m), 1e-6)
    turned_m_s = (joints.change_m * joints.step_m).sum(axis=0) / size_m / trace.interval_s
    straight = bend_m < _STRAIGHT_M + 2.0 * trace.rounding_m
    straight &= turned_m_s > 2.0 * size_m / _COASTED_S
    return np.asarray(straight | (lines[joints.at + 1] > lines[joints.at - _COASTED]))


def _corner(trace: Trace, joints: Joints, lines: Ints) -> Iterator[Flag]:
    corner_m, step_m = np.hypot(*joints.corner_m), np.hypot(*joints.step_m)
    noise_m = median_of(corner_m[joints.valid])
    step_noise_m = median_of(step_m[joints.valid])
    goes_on = step_m < _CORNER * corner_m + _STEP_NOISES * step_noise_m
    goes_on &= _lasts(joints)
    may_be = (joints.explained > _EXPLAINED) & goes_on
    may_be &= lines[joints.at + SIDE + 1] == lines[joints.at - SIDE + 1]
    bank_m = (_LEAST_M_S + _BANK_M_S2 * trace.interval_s) * trace.interval_s
    found = _sharpest(joints, corner_m, may_be, max(bank_m, _NOISES * noise_m))
    if found is None:
        return
    times, ends = found
    k = ends[0]
    if any(_another_pace(trace, int(joints.at[end])) for end in ends) or _between(trace, joints, ends):
        return
    change_m_s = float(corner_m[k]) / trace.interval_s
    alike = [int(joints.at[end]) for end in ends if corner_m[end] > corner_m[k] / _ELSEWHERE]
    wind = change_m_s < MOST_WIND_M_S and trace.another_wind(alike)
    yield Flag(
        sign="impossible_motion",
        strength=_HABIT if wind or trace.flown_steeply else min(strength_of(times), _MOST),
        evidence=(
            f"at {trace.when(int(joints.at[k]) + 1)} the velocity over the ground changes by {change_m_s * _KT:.0f} kt from "
            "one sample to the next, with nothing of it before or after; nowhere else does it change half as sharply"
        ),
    )


def _lasts(joints: Joints) -> Bools:
    """Where the way of the samples beyond the pattern changes by what the corner says: beside a single wild sample none does."""
    off_m = np.hypot(*(joints.change_m - joints.corner_m))
    return np.asarray(off_m < _LASTS * np.hypot(*joints.corner_m))


def _between(trace: Trace, joints: Joints, ends: list[int]) -> bool:
    """Whether the two are the ends of a short straight line at one speed, with which a program fills a dropout."""
    if len(ends) < _ENDS:
        return False
    first, last = sorted(int(joints.at[end]) for end in ends)
    first += 1  # a corner may be at either sample of its step
    if trace.t_s[last] - trace.t_s[first] > _FILLED_S or last - first < 2:
        return False
    share = (trace.t_s[first : last + 1] - trace.t_s[first]) / (trace.t_s[last] - trace.t_s[first])
    off_m = [v[first : last + 1] - v[first] - share * (v[last] - v[first]) for v in (trace.x_m, trace.y_m)]
    return bool(np.hypot(*off_m).max() < _LINE_M + trace.rounding_m)


def _another_pace(trace: Trace, at: int) -> bool:
    """Whether the flight goes on the same way at half, twice or four times the speed, exactly: a simulator's clock."""
    way = np.stack([np.diff(values[at - 3 : at + 6]) for values in (trace.x_m, trace.y_m)])
    speed = np.maximum(np.hypot(*way) / trace.step_s[at - 3 : at + 5], 1e-3)
    # carried on to the step between, a sample on each side of which may have a part of the corner
    before, after = speed[2] + (speed[2] - speed[0]) / 2.0, 2.0 * speed[5] - speed[7]
    one_way = float(way[:, 2] @ way[:, 5]) > _ONE_WAY * float(np.hypot(*way[:, 2]) * np.hypot(*way[:, 5]))
    return one_way and bool(of_a_clock(after / max(before, 1e-3), _PACE_OFF))
