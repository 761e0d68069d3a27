"""Positions that stand still while the aircraft does not.

Owns      a receiver that repeats its last position; a simulator or recorder that stood still in flight.
Not here  doubled stamps (``order``), parking and taxiing, which are no fault.

A receiver holds a position until the next arrives: the first of the equal ones is the nearest to the truth, and
the others are set aside. A program that fills a hole backwards gives the next position too early: then it is the
last. After a pause the flight goes on where it stopped, at its old speed: the stretch is no
part of the flight's time, and a new segment begins behind it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.language import tr
from debrief.tracks.model import Floats
from debrief.tracks.points import Bools, Found, Ints, Points, no_reasons, runs_of
from debrief.tracks.words import amount, clock, lasting, moment

_MOVING_M_S = 15.0  # 30 kt: slower may be taxiing
_MOVING_ONE_SIDE_M_S = 25.0  # where the log begins or ends with it
_HELD_SHARE = 0.6  # of the speed, made good from the held position to the next: no time was lost
_PAUSE_S = 3.0
_FEWEST_AT_AN_END = 3
_SPEED_BEFORE_S = 5.0
_SPEED_BEFORE = 4  # samples at least: one step may hold the way of two
_SPARSE_S = 4.0  # at longer intervals a full stop fits between two samples
_STEADY = 0.7
_NEAR_ROUNDINGS = 5.5
_CHANCE_SHARE = 0.25  # one in ten along a line, one in 120 in a cloud
_LONGEST_CHANCE = 3
_ROUNDINGS = 2.1  # a move of one and a half diagonals of the rounding always shows


@dataclass(frozen=True, slots=True, kw_only=True)
class _Runs:
    """Runs of equal positions: first and last point, and the speeds around them (``nan`` outside the log)."""

    first: Ints
    last: Ints
    before_m_s: Floats
    after_m_s: Floats
    entry_m_s: Floats
    exit_m_s: Floats  # from the held position to the next one, the time it was held included
    leaving_m_s: Floats  # the same without the time it was held
    until_m_s: Floats  # from the position before to the held one, the time it was held included


def find_repeats(points: Points) -> Found:
    """Set aside positions repeated in motion, and the samples of a pause."""
    if len(points) < 3:
        return Found.nothing(points)
    here = np.arange(len(points) - 1)
    equal = (np.diff(points.latitude_deg) == 0) & (np.diff(points.longitude_deg) == 0)
    if not equal.any():
        return Found.nothing(points)
    start, end = runs_of(equal[here])
    runs = _around(points, start, end + 1)
    held, early, paused = _sort_out(points, runs)
    if _may_be_chance(points, equal):
        lasting_on = runs.last - runs.first > _LONGEST_CHANCE
        held, early = held & lasting_on, early & lasting_on

    reasons, warnings = no_reasons(len(points)), list[str]()
    stale = _members(len(points), runs.first[held] + 1, runs.last[held])
    too_early = _members(len(points), runs.first[early], runs.last[early] - 1)
    still = _members(len(points), runs.first[paused] + 1, runs.last[paused])
    reasons[stale | too_early], reasons[still] = "repeated position", "paused"
    if stale.any():
        warnings.append(_stale_words(points, stale, runs, held))
    if too_early.any():
        warnings.append(_early_words(points, too_early))
    if paused.any():
        warnings.append(_paused_words(points, runs.first[paused], runs.last[paused]))
    behind = runs.last[paused] + 1
    breaks = {int(points.index[after]): "stuck" for after in behind[behind < len(points)]}
    return Found(reasons=reasons, breaks=breaks, warnings=tuple(warnings))


def _around(points: Points, first: Ints, last: Ints) -> _Runs:
    final, back = len(points) - 1, max(points.reach(_SPEED_BEFORE_S), _SPEED_BEFORE)

    def speed(start: Ints, end: Ints) -> Floats:
        inside = (start >= 0) & (end <= final) & (start < end)
        start, end = np.clip(start, 0, final), np.clip(end, 0, final)
        with np.errstate(invalid="ignore", divide="ignore"):
            made_good = points.distance_m(start, end) / (points.t_s[end] - points.t_s[start])
        return np.where(inside, made_good, np.nan)

    # the lower of two spans: one wild sample makes no speed
    before = np.fmin(
        speed(np.maximum(first - back, 0), first - (first > 1)), speed(np.maximum(first - 2 * back, 0), first)
    )
    after = np.fmin(
        speed(last + 1, np.minimum(last + 1 + back, final)),
        speed(last + 1, np.minimum(last + 1 + 2 * back, final)),
    )
    leaving = speed(last, last + 1)
    return _Runs(
        first=first,
        last=last,
        before_m_s=before,
        after_m_s=after,
        entry_m_s=speed(first - 1, first),
        exit_m_s=speed(first, last + 1),
        leaving_m_s=leaving,
        until_m_s=speed(first - 1, last),
    )


def _sort_out(points: Points, runs: _Runs) -> tuple[Bools, Bools, Bools]:
    """Tell positions held too long and given too early from pauses in flight; all others are parking or rounding."""
    before, after = runs.before_m_s, runs.after_m_s
    fastest = np.fmax(before, after)
    held_s = points.t_s[runs.last] - points.t_s[runs.first]
    shows = fastest * held_s > _ROUNDINGS * points.rounding_m
    with np.errstate(invalid="ignore", divide="ignore"):
        no_time_lost = shows & (fastest > _MOVING_M_S) & (runs.exit_m_s >= _HELD_SHARE * fastest)
        # all the way that was flown while it stood, and no more, lies before it
        made_before = np.abs(runs.until_m_s / fastest - 1.0) <= 1.0 - _HELD_SHARE
        between = (np.fmin(before, after) > _MOVING_M_S) & np.isfinite(before) & np.isfinite(after)
        steady = (points.interval_s < _SPARSE_S) | (
            np.fmax(runs.entry_m_s / before, runs.leaving_m_s / after) > _STEADY
        )
        at_start = np.isnan(before) & (after > _MOVING_ONE_SIDE_M_S) & (runs.leaving_m_s > _STEADY * after)
        at_end = np.isnan(after) & (before > _MOVING_ONE_SIDE_M_S) & (runs.entry_m_s > _STEADY * before)
        stopped = shows & ~no_time_lost & ((between & steady) | at_start | at_end)
    stood = stopped & (held_s >= _PAUSE_S) & ((runs.last - runs.first >= _FEWEST_AT_AN_END) | between)
    return no_time_lost | (stopped & ~stood), stood & made_before, stood & ~made_before


def _may_be_chance(points: Points, equal: Bools) -> bool:
    """Whether noise and rounding make so many neighbours equal: then far more are nearly so."""
    near_deg = _NEAR_ROUNDINGS * points.rounding_deg
    close = (np.abs(np.diff(points.latitude_deg)) < near_deg) & (
        np.abs(np.diff(points.longitude_deg)) < near_deg
    )
    moving = points.local_speed_m_s[1:] > _MOVING_M_S
    nearly = int((close & ~equal & moving).sum())
    return bool((equal & moving).sum() <= max(_CHANCE_SHARE * nearly, min(nearly, 1)))


def _members(count: int, first: Ints, last: Ints) -> Bools:
    """Mark the points ``first`` to ``last`` of each run."""
    edges = np.zeros(count + 1, dtype=np.int64)
    np.add.at(edges, first, 1)
    np.add.at(edges, last + 1, -1)
    return np.cumsum(edges)[:count] > 0


def _stale_words(points: Points, stale: Bools, runs: _Runs, held: Bools) -> str:
    track, longest = (
        points.track,
        np.argmax(np.where(held, points.t_s[runs.last] - points.t_s[runs.first], -1)),
    )
    seconds = float(points.t_s[runs.last[longest]] - points.t_s[runs.first[longest]])
    return tr(
        "{samples} ({share:.0f} %) in motion repeat the position before them, the first at {when}, "
        "the longest for {seconds} at {then}: the receiver had no new one. They are set aside.",
        samples=amount(stale.sum(), "sample"),
        share=100 * stale.mean(),
        when=moment(track, int(points.index[np.argmax(stale)])),
        seconds=lasting(seconds),
        then=clock(track, float(points.t_s[runs.first[longest]])),
    )


def _early_words(points: Points, early: Bools) -> str:
    return tr(
        "Set aside: {samples} ({share:.0f} %) in motion at the position of the next one, the first at {when}, as where "
        "a hole is filled backwards.",
        samples=amount(early.sum(), "sample"),
        share=100 * early.mean(),
        when=moment(points.track, int(points.index[np.argmax(early)])),
    )


def _paused_words(points: Points, first: Ints, last: Ints) -> str:
    seconds = points.t_s[last] - points.t_s[first]
    longest = int(np.argmax(seconds))
    if len(first) == 1:
        return tr(
            "The position stands still for {seconds} in flight from {when}, as in a pause: that "
            "time is left out.",
            seconds=lasting(float(seconds[0])),
            when=moment(points.track, int(points.index[first[0]])),
        )
    return tr(
        "The position stands still {count} times in flight, as in a pause, the longest for {seconds} from {when}: "
        "that time is left out.",
        count=len(first),
        seconds=lasting(float(seconds[longest])),
        when=moment(points.track, int(points.index[first[longest]])),
    )
