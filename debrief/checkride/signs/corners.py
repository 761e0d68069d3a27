"""Corners in the way flown: a velocity that is another from one sample to the next, where the position goes on.

Owns      ``impossible_motion`` where a part was turned, mirrored, squeezed or moved aside bit by bit and joined again.
Not here  steps in position (``motion``), logs of some seconds' interval (``sparse``).

An aircraft turns by banking: its velocity changes by at most some 17 m/s in each second (60 degrees of bank), and a
parabola through some seconds follows it, but not a bank of one or two seconds. Its speed changes far more slowly still.
Where the parabolas before and after a sample agree in place and disagree in velocity by more than that, and by far
more than the log's noise makes them anywhere else, two parts were joined.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.lines import means
from debrief.checkride.signs.patterns import filled
from debrief.checkride.signs.scale import SPARSE_S, of_a_clock, peaks, places, strength_of, usual_excess
from debrief.checkride.signs.trace import MOST_WIND_M_S, Bools, Trace
from debrief.tracks.model import Floats

_SIDE_S, _FEWEST = 6.0, 5  # samples: one more than a parabola and its scatter need
_LONGEST_SIDE_S = 12.0
# of a bank that begins or ends within a side, and of 60 degrees for so short a time that they look like a corner
_LEAST_M_S, _TURN_M_S2, _TURN_S, _TURN_STEPS = 3.0, 17.0, 2.0, 1.25
# of a change that is there from one sample to the next, with nothing of it in the steps beside: a bank takes longer
_EXACT_S, _BESIDE_S, _BEGUN = 0.9, 0.5, 0.15
_FASTER_M_S, _FASTER_M_S2 = 8.0, 6.9  # no engine and no brake makes it so at once
_NOISES = 7.0
_MISFIT, _MISFIT_M = 2.0, 0.5  # of the log's usual misfit: beyond it neither side is a parabola
# an edit makes two to four places; who has more flies, or is drawn, from corner to corner
_MOST_PLACES, _APART_S = 6, 8.0
_CORNER = 0.4  # of the sharpest
_ALIKE, _MOST_ALIKE = 0.6, 2  # corners nearly as sharp: an edit has one at each end
_APART, _APART_M = 4.0, 5.0  # of the misfit: else the position steps, as one that is heard again does
_SLOWEST_M_S = 25.0
# a parabola's slope misses its end by a tenth of the third derivative times its length squared; a third more
_THIRD = 0.13
_ROLL = 0.15  # of side times acceleration: a bank that begins within the side
_ALONG = 0.6  # of both: what a turn puts along the track
_LASTING_S, _LASTS = 6.0, 0.72
_ONE_WAY, _PACE_OFF = 0.97, 0.1
_STEEP_M_S2, _ELSEWHERE_S = 9.8, 20.0  # 45 degrees of bank: in a flight with more of it a corner may be flown
_HABIT, _MOST = 0.4, 0.9
_KT = 3.6 / 1.852


@dataclass(frozen=True, slots=True)
class _Parabola:
    place: Floats  # at the time that was asked for
    slope: Floats  # then
    bend: Floats  # second derivative
    misfit: Floats  # standard deviation


def corner_signs(trace: Trace) -> Iterator[Flag]:
    """The sharpest corner."""
    count = max(_FEWEST, trace.samples(_SIDE_S))
    if trace.interval_s > SPARSE_S or count * trace.interval_s > _LONGEST_SIDE_S or len(trace) < 6 * count:
        return
    at = np.arange(count - 1, len(trace) - count)  # the step from ``at`` to ``at + 1``
    middle_s = (trace.t_s[at] + trace.t_s[at + 1]) / 2.0
    sides = list(zip(*_parabolas(trace.t_s, (trace.x_m, trace.y_m), count, middle_s), strict=True))
    before, after = (np.stack([fit.slope for fit in side]) for side in sides)
    pull_m_s2 = [np.hypot(*(fit.bend for fit in side)) for side in sides]
    misfit_m = np.maximum(*(np.hypot(*(fit.misfit for fit in side)) for side in sides))
    speed = np.minimum(np.hypot(*before), np.hypot(*after))
    change = np.hypot(*(after - before))
    faster = np.abs(np.hypot(*after) - np.hypot(*before))
    turned = np.sqrt(np.maximum(change**2 - faster**2, 0.0))
    valid = _whole(trace, count, at) & (speed > _SLOWEST_M_S)
    side_s, step_s = count * trace.interval_s, trace.interval_s
    turn = _THIRD * side_s**2 * (pull_m_s2[0] ** 2 + pull_m_s2[1] ** 2) / np.maximum(speed, _SLOWEST_M_S)
    turn += _ROLL * side_s * (pull_m_s2[0] + pull_m_s2[1])
    least_m_s = _LEAST_M_S + _TURN_M_S2 * max(_EXACT_S, _TURN_STEPS * step_s)
    faster_m_s = max(_FASTER_M_S, _FASTER_M_S2 * step_s)
    # in most logs there is none: the rest is worked out where there may be one
    if not (valid & ((turned - turn > least_m_s) | (faster - _ALONG * turn > faster_m_s))).any():
        return
    fits = misfit_m < _MISFIT * float(np.median(misfit_m[valid])) + _MISFIT_M
    apart_m = np.hypot(
        *(fit_after.place - fit_before.place for fit_before, fit_after in zip(*sides, strict=True))
    )
    fits &= apart_m < change * step_s + _APART * misfit_m + _APART_M
    exact = _at_one_sample(trace, at, sides)
    lasts_s = np.maximum(np.where(exact, _EXACT_S, _TURN_S), _TURN_STEPS * step_s)
    banked_m_s = _LEAST_M_S + _TURN_M_S2 * lasts_s
    noise_m_s, noise_along_m_s = (_NOISES * usual_excess(part, valid, 2 * count) for part in (change, faster))
    whole = valid
    fits &= valid
    sharp = np.where(valid, (turned - turn) / np.maximum(banked_m_s, noise_m_s), -np.inf)
    velocities = (before, after, *_beside(trace, at))
    speeds = [np.hypot(*velocity)[None] for velocity in velocities]
    times_turned = np.where(fits & _lasts(*velocities), sharp, -np.inf)
    times_faster = (faster - _ALONG * turn) / max(faster_m_s, noise_along_m_s)
    times_faster = np.where(fits & _lasts(*speeds), times_faster, -np.inf)
    times = np.where(_another_pace(before, after), -np.inf, np.maximum(times_turned, times_faster))
    k = int(np.argmax(times))
    if times[k] <= 1.0:
        return
    by_speed = bool(times_faster[k] >= times[k])
    elsewhere = np.abs(middle_s - middle_s[k]) > _ELSEWHERE_S
    # a side that reaches over another corner of the edit is bent as much
    corner = np.convolve(sharp > _CORNER * times[k], np.ones(2 * count + 1), mode="same") > 0.5
    steep = whole & elsewhere & ~corner & (np.maximum(*pull_m_s2) > _STEEP_M_S2)
    corners = places(middle_s[times > 1.0], _APART_S)
    flown = not by_speed and (
        bool(steep.any()) or places(middle_s[sharp > _ALIKE * times[k]], _APART_S) > _MOST_ALIKE
    )
    flown |= (
        by_speed
        and change[k] < MOST_WIND_M_S
        and trace.another_wind([int(at[j]) for j in peaks(times, 1.0, 2 * count, 2 * count)])
    )
    yield Flag(
        sign="impossible_motion",
        strength=_HABIT if corners > _MOST_PLACES or flown else min(strength_of(float(times[k])), _MOST),
        evidence=(
            f"at {trace.when(int(at[k]) + 1)} the velocity over the ground changes by {change[k] * _KT:.0f} kt from one "
            f"sample to the next, {'as no engine or brake makes it' if by_speed else 'a corner that no bank flies'}, and "
            "the positions go on"
        ),
    )


def _at_one_sample(trace: Trace, at: np.ndarray, sides: list[tuple[_Parabola, ...]]) -> Bools:
    """Whether nothing of the change has begun just before a step, and nothing of it is left just after the next sample."""
    wide = trace.samples(_BESIDE_S)
    middle_s = (trace.t_s[at] + trace.t_s[at + 1]) / 2.0
    change = [after.slope - before.slope for before, after in zip(*sides, strict=True)]
    size2 = np.maximum(np.hypot(*change) ** 2, 1e-9)
    begun: list[Floats] = []
    for first, last, fits in ((at - wide, at, sides[0]), (at + 1, at + 1 + wide, sides[1])):
        lapse_s = trace.t_s[last] - trace.t_s[first]
        off_s = (trace.t_s[first] + trace.t_s[last]) / 2.0 - middle_s
        off = [
            (values[last] - values[first]) / lapse_s - (fit.slope + fit.bend * off_s)
            for values, fit in zip((trace.x_m, trace.y_m), fits, strict=True)
        ]
        begun.append((off[0] * change[0] + off[1] * change[1]) / size2)
    return np.asarray(np.maximum(begun[0], -begun[1]) < _BEGUN)


def _beside(trace: Trace, at: np.ndarray) -> tuple[Floats, Floats]:
    """Mean velocities over some seconds before each step and after it."""
    wide = trace.samples(_LASTING_S, 2)
    start, end = np.maximum(at - wide, 0), np.minimum(at + 1 + wide, len(trace) - 1)
    place = np.stack([trace.x_m, trace.y_m])
    ago = (place[:, at] - place[:, start]) / np.maximum(trace.t_s[at] - trace.t_s[start], 1e-3)
    then = (place[:, end] - place[:, at + 1]) / np.maximum(trace.t_s[end] - trace.t_s[at + 1], 1e-3)
    return ago, then


def _lasts(before: Floats, after: Floats, ago: Floats, then: Floats) -> Bools:
    """Whether what is new goes on for some seconds, and what was old came from as long: no blip of a receiver's."""
    change = after - before
    size2 = np.maximum((change**2).sum(axis=0), 1e-9)
    shares = ((then - before) * change).sum(axis=0) / size2, ((after - ago) * change).sum(axis=0) / size2
    return np.asarray(np.minimum(*shares) > _LASTS)


def _another_pace(before: Floats, after: Floats) -> Bools:
    """Where the flight goes the same way at half, twice or four times the speed: a simulator's clock."""
    speeds = [np.maximum(np.hypot(*velocity), 1e-3) for velocity in (before, after)]
    same_way = (before * after).sum(axis=0) > _ONE_WAY * speeds[0] * speeds[1]
    return np.asarray(same_way & of_a_clock(speeds[1] / speeds[0], _PACE_OFF))


def _parabolas(
    t_s: Floats, columns: tuple[Floats, ...], count: int, middle_s: Floats
) -> Iterator[list[_Parabola]]:
    """Of each column parabolas by least squares through ``count`` samples before and after each step, in its middle."""
    times = np.lib.stride_tricks.sliding_window_view(t_s, count)
    mean_s = means(t_s, count)
    line = times - mean_s[:, None]
    line2 = np.einsum("ij,ij->i", line, line)
    skew = np.einsum("ij,ij->i", line * line, line) / line2
    # orthogonal to the line and to a constant
    square = line * (line - skew[:, None]) - (line2 / count)[:, None]
    square2 = np.maximum(np.einsum("ij,ij->i", square, square), 1e-12)
    steps = len(middle_s)
    for values in columns:
        samples = np.lib.stride_tricks.sliding_window_view(values, count)
        mean = means(values, count)
        off = samples - mean[:, None]
        slope = np.einsum("ij,ij->i", line, off) / line2
        bend = np.einsum("ij,ij->i", square, off) / square2
        left = np.einsum("ij,ij->i", off, off) - slope**2 * line2 - bend**2 * square2
        misfit = np.sqrt(np.maximum(left, 0.0) / max(count - 3, 1))
        found = list[_Parabola]()
        for side in (slice(0, steps), slice(count, count + steps)):
            apart_s = middle_s - mean_s[side]
            place = mean[side] + slope[side] * apart_s
            place += bend[side] * (apart_s**2 - skew[side] * apart_s - line2[side] / count)
            tangent = slope[side] + bend[side] * (2.0 * apart_s - skew[side])
            found.append(_Parabola(place, tangent, 2.0 * bend[side], misfit[side]))
        yield found


def _whole(trace: Trace, count: int, at: np.ndarray) -> Bools:
    """Sides without gap, bridge, filled dropout or stand, in flight, and not longer than so many samples mostly are."""
    first, last = at - count + 1, at + count
    lapse_s = trace.t_s[last] - trace.t_s[first]
    dense = lapse_s <= 1.5 * (2 * count - 1) * trace.interval_s
    return np.asarray(trace.whole(first, last, trace.hindered | filled(trace)) & dense)
