"""Motion that no aircraft makes at one moment: steps in position, altitude or speed.

Owns      ``spliced`` and ``impossible_motion``; ``altitude_disagrees`` at a seam (its flag is ``stepped``).
Not here  logs of some seconds' interval (``sparse``); what lasts and cannot be (``beyond``); wild samples and
          bridged dropouts, which honest logs have (``trace``, ``tracks.conditioning``).

At each step of the log two short straight lines are fitted, one to the samples before and one to those after. Where
both are carried to the middle they meet, as far as the turn between them and the log's own noise allow. Both are
known: the turn shows in the difference of the two velocities, the noise in how the lines meet elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.beyond import beyond_signs
from debrief.checkride.signs.lines import Lines, medians
from debrief.checkride.signs.scale import greatest, noise_of, of_a_clock, peaks, strength_of
from debrief.checkride.signs.sparse import LONGEST_INTERVAL_S, sparse_signs
from debrief.checkride.signs.stepped import ABSURD_FT, stepped
from debrief.checkride.signs.trace import FLYING_M_S, MOST_WIND_M_S, Bools, Trace
from debrief.navigation.units import GRAVITY_M_S2, METRES_PER_FT
from debrief.tracks.model import Floats

_SIDE_S = 6.0
_FEWEST = 4  # samples on each side
_LONGEST_SIDE_S = 10.0  # over longer ones a turn bends too much for a line
_THINNED = 1.5  # a recorder that writes seldom for a while: its sides are longer than lines can be
_TURN_SHARE = 0.5  # of the change of velocity times the time between: twice what a steady turn needs
_NOISES = 7.0  # robust standard deviations of how the lines meet elsewhere
_STEP_M, _STEP_FT, _STEP_M_S = 60.0, 75.0, 8.0
_STEP_ALONG_M, _NOISES_ALONG = 100.0, 11.0  # late stamps shift positions along the track, and by much
_LATE_SHARE = 0.5
_COASTED, _COASTING, _SCATTER_M = 0.4, 0.3, 0.5
_AIRBORNE_M_S = 30.0  # slower may be a landing roll
_PACE_OFF = 0.1  # a knot a second, gained or lost between the two sides
_BANKED_M_S2 = 17.0  # at 60 degrees
_USUAL_BEND, _MORE_BEND = 0.96, 1.5  # of the flight's own
_STEEP_FT_S = 40.0
_CLIMB_FT_S, _LATE_STAMP_S = 33.0, 1.0  # 2,000 ft/min: faster ones are no approach's
_BENT, _BEND_OVER_S = 1.3, 1.0  # a third more than two bends make
_ENDS_S = 20.0  # at the ends of a log that was smoothed as a whole the samples crowd
# no engine and no brake changes the speed over the ground so fast; a gust may, but not for good
_FASTER_G = 0.7


@dataclass(frozen=True, slots=True)
class _Meeting:
    """How the lines before and after each step of the log meet."""

    apart: Floats
    slope_before: Floats
    slope_after: Floats
    between_s: Floats  # from the middle of one side to the middle of the other


def motion_signs(trace: Trace) -> Iterator[Flag]:
    """Seams in position, altitude and speed, and whatever is beyond any aircraft all the time."""
    count = max(_FEWEST, trace.samples(_SIDE_S))
    if len(trace) < 4 * count:
        return
    if count * trace.interval_s <= _LONGEST_SIDE_S:
        valid = _valid(trace, count)
        sides = Lines(trace.t_s, count)
        yield from _position_seams(trace, sides, valid)
        yield from _altitude_seams(trace, sides, valid)
    elif trace.interval_s <= LONGEST_INTERVAL_S:
        yield from sparse_signs(trace)
    yield from beyond_signs(trace)


def _valid(trace: Trace, count: int) -> Bools:
    """For each step with whole sides: no gap, no bridge near it, and moving."""
    at = np.arange(count - 1, len(trace) - count)  # the step from ``at`` to ``at + 1``
    first, last = at - count + 1, at + count
    whole = trace.whole(first, last, trace.bridged | trace.standing)
    aside_s = np.concatenate([[0.0], np.cumsum(trace.aside_s)])
    lapse_s = trace.t_s[last] - trace.t_s[first] - (aside_s[last] - aside_s[first])
    dense = lapse_s <= _THINNED * (2 * count - 1) * trace.interval_s
    # across a step back a flight seems slow
    ago, then = np.maximum(first - 1, 0), np.minimum(last + 1, len(trace) - 1)
    return np.asarray(whole & dense & trace.flying[ago] & trace.flying[then])


def _meet(sides: Lines, values: Floats) -> _Meeting:
    """Lines by least squares through the samples on either side of each step, carried to its middle."""
    count, mean_s, t_s = sides.count, sides.mean_s, sides.t_s
    mean, slope = sides.through(values)
    before, after = slice(0, len(slope) - count), slice(count, len(slope))
    middle_s = (t_s[count - 1 : -count] + t_s[count : len(t_s) - count + 1]) / 2
    left = mean[before] + slope[before] * (middle_s - mean_s[before])
    right = mean[after] + slope[after] * (middle_s - mean_s[after])
    return _Meeting(right - left, slope[before], slope[after], mean_s[after] - mean_s[before])


def _position_seams(trace: Trace, sides: Lines, valid: Bools) -> Iterator[Flag]:
    count = sides.count
    east, north = _meet(sides, trace.x_m), _meet(sides, trace.y_m)
    speed_before, speed_after = (
        np.hypot(getattr(east, s), getattr(north, s)) for s in ("slope_before", "slope_after")
    )
    valid = valid & (np.minimum(speed_before, speed_after) > FLYING_M_S)
    apart_m = np.hypot(east.apart, north.apart)
    change_m_s = np.hypot(east.slope_after - east.slope_before, north.slope_after - north.slope_before)
    turn_m = _TURN_SHARE * change_m_s * east.between_s / 2
    way_e, way_n = east.slope_before + east.slope_after, north.slope_before + north.slope_after
    way = np.maximum(np.sqrt(way_e**2 + way_n**2), 1e-6)
    along_m = np.abs(east.apart * way_e + north.apart * way_n) / way
    across_m = np.abs(east.apart * way_n - north.apart * way_e) / way
    parts = ((across_m, _STEP_M, _NOISES), (along_m, _STEP_ALONG_M, _NOISES_ALONG))
    # what makes a step less is worked out only where there may be one: in few logs
    if any((valid & (part_m - turn_m > least_m)).any() for part_m, least_m, _ in parts):
        yield from _position_step(trace, sides, valid, apart_m, turn_m, parts)
    along = east.slope_before * east.slope_after + north.slope_before * north.slope_after
    straight = along > 0.94 * speed_before * speed_after  # within 20 deg
    yield from _speed_seams(trace, count, valid & straight)


def _position_step(
    trace: Trace,
    sides: Lines,
    valid: Bools,
    apart_m: Floats,
    turn_m: Floats,
    parts: tuple[tuple[Floats, float, float], ...],
) -> Iterator[Flag]:
    """The greatest step in position; ``parts`` are those across the track and along it, with their limits."""
    count = sides.count
    flown_m = turn_m + _bent_m(trace, sides)
    times = np.max(
        [
            (part_m - flown_m) / max(least_m, noises * noise_of(part_m, valid))
            for part_m, least_m, noises in parts
        ],
        axis=0,
    )
    at = greatest(np.where(valid & ~_one_is_late(trace, count), times, -np.inf), 1.0)
    if at is None:
        return
    coasted = _coasted(trace, sides, valid, at)
    yield Flag(
        sign="spliced",
        strength=_COASTED if coasted else strength_of(float(times[at])),
        evidence=(
            f"at {trace.when(at + count)} the position steps by {apart_m[at]:.0f} m from one sample to the next, and "
            "the flight goes on from there"
            + (", after a straight line, as a receiver coasts along when it hears nothing" if coasted else "")
        ),
    )


def _bent_m(trace: Trace, sides: Lines) -> Floats:
    """How far the lines before and after each step miss each other where the two are bent, as in a turn to either side."""
    count = sides.count
    bend = np.stack([_bend(sides, values, trace.interval_s) for values in (trace.x_m, trace.y_m)])
    usual_m_s2 = float(np.quantile(np.hypot(*bend), _USUAL_BEND)) * _MORE_BEND
    change_m_s2 = np.hypot(*(bend[:, count:] - bend[:, :-count]))
    return _bent_by(sides, np.minimum(change_m_s2, 2.0 * min(usual_m_s2, _BANKED_M_S2)), trace.interval_s)


def _one_is_late(trace: Trace, count: int) -> Bools:
    """Where a step from sample to sample is far too long, and the one before or after it as much too short.

    A position that was not renewed, beside a sample that is missing: the flight itself does not step.
    """
    way = np.stack([np.diff(trace.x_m), np.diff(trace.y_m)])
    velocity = way / trace.step_s
    usual = np.stack([medians(part, 5) for part in velocity])
    off = np.pad(way[:, 2:-2] - usual * trace.step_s[2:-2], ((0, 0), (2, 2)))
    size2 = np.maximum((off**2).sum(axis=0), 1e-9)
    beside = np.maximum(*(-(off * np.roll(off, by, axis=1)).sum(axis=0) for by in (-1, 1)))
    return np.asarray(beside > _LATE_SHARE * size2)[count - 1 : len(size2) - count + 1]


def _coasted(trace: Trace, sides: Lines, valid: Bools, at: int) -> bool:
    """Whether the samples before a step lie on a straight line at one speed, far better than the log's others do."""
    count = sides.count
    off_m = np.hypot(*(sides.off(values) for values in (trace.x_m, trace.y_m)))
    before = off_m[: len(off_m) - count]
    return bool(before[at] < _COASTING * np.median(before[valid]) and np.median(before[valid]) > _SCATTER_M)


def _speed_seams(trace: Trace, count: int, valid: Bools) -> Iterator[Flag]:
    """A step in ground speed within one interval, with steady speeds on both sides."""
    way_m = np.hypot(np.diff(trace.x_m), np.diff(trace.y_m))
    speed = way_m / trace.step_s
    centre_s = (trace.t_s[1:] + trace.t_s[:-1]) / 2
    if len(speed) < 4 * count:
        return
    sides = Lines(centre_s, count)
    meet = _meet(sides, speed)
    valid = valid[: len(meet.apart)]
    n = min(len(valid), len(meet.apart))
    at_s = trace.t_s[count : count + n]
    valid = valid[:n] & (at_s > trace.t_s[0] + _ENDS_S) & (at_s < trace.t_s[-1] - _ENDS_S)
    step = np.where(valid, np.abs(meet.apart[:n]), -np.inf)
    if greatest(step, _STEP_M_S) is None:
        return
    step = np.where(valid, np.minimum(step, np.abs(_meet(sides, _with_height(trace, speed)).apart[:n])), step)
    limit = max(_STEP_M_S, _NOISES * noise_of(meet.apart[:n], valid))
    limit = max(limit, _FASTER_G * GRAVITY_M_S2 * trace.interval_s)
    at = greatest(step, limit)
    if at is None:
        return
    before, after = (float(np.median(speed[k : k + count])) for k in (at, at + count))
    if min(before, after) < _AIRBORNE_M_S or abs(after - before) < max(0.6 * step[at], 0.9 * limit):
        return
    pace = after / before
    simulator = bool(of_a_clock(pace, _PACE_OFF))
    wind = step[at] < MOST_WIND_M_S and trace.another_wind(
        [k + count for k in peaks(step, limit, 2 * count, 2 * count)]
    )
    yield Flag(
        sign="impossible_motion",
        strength=0.4 if simulator or wind else strength_of(float(step[at]) / limit),
        evidence=(
            f"at {trace.when(at + count)} the ground speed goes from {before * 3.6 / 1.852:.0f} to "
            f"{after * 3.6 / 1.852:.0f} kt from one sample to the next"
            + (", as where a simulator's clock is set to another rate" if simulator else "")
        ),
    )


def _with_height(trace: Trace, speed: Floats) -> Floats:
    """Speeds as they would be at the log's median altitude, by energy: a pull or a push pays for height with speed."""
    if trace.filled_altitude_ft is None:
        return speed
    height_m = trace.filled_altitude_ft * METRES_PER_FT
    height_m = (height_m[1:] + height_m[:-1]) / 2.0 - np.median(height_m)
    return np.asarray(np.sqrt(np.maximum(speed**2 + 2.0 * GRAVITY_M_S2 * height_m, 0.0)))


def _altitude_seams(trace: Trace, sides: Lines, valid: Bools) -> Iterator[Flag]:
    count = sides.count
    altitude, filled = trace.altitude_ft, trace.filled_altitude_ft
    if filled is None:
        return
    known = np.isfinite(altitude)
    meet = _meet(sides, filled)
    whole: Bools = np.asarray(np.lib.stride_tricks.sliding_window_view(known, 2 * count).all(axis=1))
    valid = valid & whole[: len(valid)]
    if not valid.any():
        return
    excess_ft = (
        np.abs(meet.apart) - _TURN_SHARE * np.abs(meet.slope_after - meet.slope_before) * meet.between_s / 2
    )
    if not (valid & (excess_ft > _STEP_FT)).any():
        return
    # a stamp that is late by a second shows as so much
    climb_ft_s = np.minimum(np.abs(meet.slope_before), np.abs(meet.slope_after))
    excess_ft -= np.maximum(climb_ft_s - _CLIMB_FT_S, 0.0) * _LATE_STAMP_S
    bend = _bend(sides, filled, trace.interval_s)
    excess_ft -= _bent_by(sides, np.abs(bend[count:] - bend[:-count]), trace.interval_s)
    limit_ft = max(
        _STEP_FT,
        2.5 * trace.altitude_step_ft,
        _NOISES * noise_of(meet.apart, valid),
        _STEEP_FT_S * trace.interval_s,  # climbed between two samples
    )
    stale = _stale(altitude, count, meet)
    excess_ft = np.where(valid & ~stale[: len(valid)], excess_ft, -np.inf)
    absurd = np.convolve(np.abs(meet.apart) > ABSURD_FT, np.ones(2 * count + 1), mode="same") > 0.5
    yield from stepped(trace, meet.apart, excess_ft / limit_ft, absurd, count)


def _bend(sides: Lines, values: Floats, step_s: float) -> Floats:
    """The second derivative of each side, as the median of it: a part that is lifted is bent at two corners only."""
    count = sides.count
    over = min(max(1, round(_BEND_OVER_S / step_s)), (count - 1) // 2)
    second = (values[2 * over :] - 2.0 * values[over:-over] + values[: -2 * over]) / (over * step_s) ** 2
    return medians(second, count - 2 * over)


def _bent_by(sides: Lines, change: Floats, step_s: float) -> Floats:
    """How far lines miss each other where they touch curves of two bends, as in a turn to either side.

    A line through a parabola misses its end by a twelfth of its bend times its length squared.
    """
    return np.asarray(change * _BENT * (sides.count * step_s) ** 2 / 12.0)


def _stale(altitude: Floats, count: int, meet: _Meeting) -> Bools:
    """Where one side stands still and the other moves so fast that it was moving all the while, unreported."""
    unchanged = np.diff(altitude) == 0.0
    still: Bools = np.asarray(np.lib.stride_tricks.sliding_window_view(unchanged, count - 1).all(axis=1))
    before, after = still[: len(still) - count], still[count:]
    lapse_s = meet.between_s
    return np.asarray(
        (before & (np.abs(meet.slope_after) * lapse_s > np.abs(meet.apart) / 3))
        | (after & (np.abs(meet.slope_before) * lapse_s > np.abs(meet.apart) / 3))
    )
