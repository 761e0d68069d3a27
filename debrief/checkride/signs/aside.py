"""A part of a flight moved sideways, with an eased beginning and end, in a log that tells nothing but positions.

Owns      ``impossible_motion`` of such a part.
Not here  steps (``motion``, ``sparse``), corners (``corners``), what columns know of it (``integrated``).

Who turns off a course and back onto its parallel flies a longer way, and comes along the course by so much less. A
cross wind takes from that, or adds to it, by how far aside the flight goes: on the way back as much with the other
sign. Whoever moves a part aside leaves the progress along the course as it was, both times.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.lines import Lines
from debrief.checkride.signs.scale import noise_of, peaks, places, strength_of
from debrief.checkride.signs.trace import FLYING_M_S, Bools, Ints, Trace
from debrief.tracks.model import Floats

_LONGEST_INTERVAL_S = 5.5
_OVER_S = (6.0, 11.0, 16.0, 22.0, 32.0)
_SIDE_S, _FEWEST = 9.0, 3
_CHORD_S = 2.0  # shorter ones are longer by noise
_ONE_WAY, _ONE_SPEED = 0.98, 0.1  # cosine of 11 deg; share
_STRAIGHT_M = 3.0  # of a way so little longer than its course nothing was flown aside
_FEWEST_STRAIGHT = 60  # windows
_ASIDE_M, _LONGER_M = 60.0, 6.0
_KEPT = 0.5  # of what the longer way takes
_NOISES, _NOISES_TOGETHER, _LEAST_NOISE_M = 3.0, 6.0, 2.0
_BACK = 0.5  # of the way aside: courses may lie at an angle to the leg
_CROSS_WIND = 0.25  # of the airspeed
_SHORTEST_S, _LONGEST_S, _MOST_RAMPS = 10.0, 420.0, 6
_SAME_LEG = 0.9  # cosine of 26 deg
# an edit has two such places; a track that was drawn by a formula has them all the time
_MOST_PLACES, _APART_S = 2, 25.0
_HABIT, _MOST = 0.4, 0.85


@dataclass(frozen=True, slots=True)
class _Ramp:
    first: int  # sample
    last: int
    east_m: float  # how far aside
    north_m: float
    course: tuple[float, float]
    longer_m: float  # the way than its course
    kept_m: float  # of that along the course, as if nothing was flown aside
    noise_m: float

    @property
    def aside_m(self) -> float:
        return float(np.hypot(self.east_m, self.north_m))


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """The straight line through each run of ``count`` samples, shape (2, runs) for east and north; and the way flown."""

    count: int
    begins_m: Floats  # where it is at the run's first sample
    ends_m: Floats  # and at its last
    slopes: Floats
    speeds: Floats  # shape (runs,)
    chord: int  # samples
    chords_m: Floats  # length, east and north of all chords that begin before each sample, shape (3, samples)


def aside_signs(trace: Trace) -> Iterator[Flag]:
    """The pair of a way aside and one back for which the flight does not pay."""
    if trace.interval_s > _LONGEST_INTERVAL_S:
        return
    sides = _sides_of(trace)
    ramps = [ramp for over_s in _OVER_S for ramp in _ramps(trace, over_s, sides)]
    pairs = [
        (times, there, back)
        for there in ramps
        for back in ramps
        if (times := _times(trace, there, back)) > 1.0
    ]
    if not pairs:
        return
    times = max(pair[0] for pair in pairs)
    # the one that holds most of the way aside
    _, there, back = max(pairs, key=lambda pair: pair[1].aside_m + pair[2].aside_m)
    middle_s = np.sort([(trace.t_s[ramp.first] + trace.t_s[ramp.last]) / 2.0 for ramp in ramps])
    drawn = places(middle_s, _APART_S) > _MOST_PLACES
    yield Flag(
        sign="impossible_motion",
        strength=_HABIT if drawn or trace.flown_steeply else min(strength_of(times), _MOST),
        evidence=(
            f"from {trace.when(there.first, there.last)} the positions move {there.aside_m:.0f} m "
            f"aside, from {trace.when(back.first, back.last)} {back.aside_m:.0f} m back: ways longer "
            f"by {there.longer_m + back.longer_m:.0f} m than their course, at no loss along it, as no wind makes it"
        ),
    )


def _times(trace: Trace, there: _Ramp, back: _Ramp) -> float:
    """How far beyond its limit a pair is; 0 where the two do not belong together."""
    if not _SHORTEST_S < trace.t_s[back.first] - trace.t_s[there.last] < _LONGEST_S:
        return 0.0
    if there.course[0] * back.course[0] + there.course[1] * back.course[1] < _SAME_LEG:
        return 0.0
    left_m = np.hypot(there.east_m + back.east_m, there.north_m + back.north_m)
    if left_m > _BACK * min(there.aside_m, back.aside_m):
        return 0.0
    noise_m = np.hypot(there.noise_m, back.noise_m)
    return float((there.kept_m + back.kept_m - _CROSS_WIND * left_m) / (_NOISES_TOGETHER * noise_m))


def _sides_of(trace: Trace) -> _Sides:
    lines = Lines(trace.t_s, trace.samples(_SIDE_S, _FEWEST))
    means, slopes = (
        np.stack(parts)
        for parts in zip(*(lines.through(values) for values in (trace.x_m, trace.y_m)), strict=True)
    )
    runs = len(lines.mean_s)
    chord = trace.samples(_CHORD_S)
    ways = np.stack([values[chord:] - values[:-chord] for values in (trace.x_m, trace.y_m)])
    chords_m = np.zeros((3, ways.shape[1] + 1))
    np.cumsum(np.vstack([np.sqrt((ways**2).sum(axis=0)), ways]), axis=1, out=chords_m[:, 1:])
    return _Sides(
        count=lines.count,
        begins_m=means + slopes * (trace.t_s[:runs] - lines.mean_s),
        ends_m=means + slopes * (trace.t_s[lines.count - 1 :] - lines.mean_s),
        slopes=slopes,
        speeds=np.sqrt((slopes**2).sum(axis=0)),
        chord=chord,
        chords_m=chords_m,
    )


def _ramps(trace: Trace, over_s: float, sides: _Sides) -> Iterator[_Ramp]:
    """Ways aside within so many seconds, between stretches of one course at one speed, that cost nothing."""
    side, over = sides.count, trace.samples(over_s, 2)
    windows = len(trace) - over - 2 * side + 2
    if windows < _FEWEST_STRAIGHT:
        return
    # runs before and after each window, and the samples between
    before, after = slice(0, windows), slice(side - 1 + over, side - 1 + over + windows)
    first = np.arange(side - 1, side - 1 + windows)
    last = first + over
    slope_before, slope_after = sides.slopes[:, before], sides.slopes[:, after]
    velocity = (slope_before + slope_after) / 2.0
    course = velocity / np.maximum(np.sqrt((velocity**2).sum(axis=0)), 1e-6)
    off = sides.begins_m[:, after] - sides.ends_m[:, before] - velocity * (trace.t_s[last] - trace.t_s[first])
    aside_m = off[0] * course[1] - off[1] * course[0]
    speeds = sides.speeds[before], sides.speeds[after]
    slower = np.minimum(*speeds)
    one_way = (slope_before * slope_after).sum(axis=0) > _ONE_WAY * speeds[0] * speeds[1]
    one_speed = np.abs(speeds[0] - speeds[1]) < _ONE_SPEED * slower
    valid: Bools = one_way & one_speed & (slower > FLYING_M_S)
    turned_aside = valid & (np.abs(aside_m) > _ASIDE_M)
    if not _may_be_kept(np.flatnonzero(turned_aside), first, last, off, course, sides):
        return
    valid &= trace.whole(first - side + 1, last + side - 1, trace.hindered)
    along_m = (off * course).sum(axis=0)
    longer_m = _longer(first, last, course, sides)
    straight = valid & (longer_m < _STRAIGHT_M)
    if straight.sum() < _FEWEST_STRAIGHT:
        return
    noise_m = max(_LEAST_NOISE_M, noise_of(along_m, straight))
    kept_m = along_m + longer_m
    flown = (
        valid
        & (np.abs(aside_m) > _ASIDE_M)
        & (longer_m > _LONGER_M)
        & (kept_m > _NOISES * noise_m)
        & (np.abs(along_m) < _KEPT * longer_m + noise_m)
    )
    greatest_first = peaks(np.where(flown, kept_m, -np.inf), -np.inf, over, over)
    for k in islice(greatest_first, _MOST_RAMPS):
        yield _Ramp(
            first=int(first[k]),
            last=int(last[k]),
            east_m=float(aside_m[k] * course[1, k]),
            north_m=float(-aside_m[k] * course[0, k]),
            course=(float(course[0, k]), float(course[1, k])),
            longer_m=float(longer_m[k]),
            kept_m=float(min(kept_m[k], longer_m[k])),
            noise_m=noise_m,
        )


def _may_be_kept(at: Ints, first: Ints, last: Ints, off: Floats, course: Floats, sides: _Sides) -> bool:
    """Whether any of these windows could keep its progress, however little noise there is. Few logs have one."""
    off, course = off[:, at], course[:, at]
    longer_m = _longer(first[at], last[at], course, sides)
    kept_m = (off * course).sum(axis=0) + longer_m
    return bool(((longer_m > _LONGER_M) & (kept_m > _NOISES * _LEAST_NOISE_M)).any())


def _longer(first: Ints, last: Ints, course: Floats, sides: _Sides) -> Floats:
    """By how much the way within each window is longer than its part along the course."""
    past = last - sides.chord + 1
    length_m, east_m, north_m = sides.chords_m[:, past] - sides.chords_m[:, first]
    share = (last - first) / (past - first) / sides.chord
    return np.asarray((length_m - east_m * course[0] - north_m * course[1]) * share)
