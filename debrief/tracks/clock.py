"""Time running fast or slow: positions held against the ground speed that the log itself gives.

Owns      the remark, for the whole log or for stretches of it, and the units that would explain it.
Not here  pauses (``repeats``, ``gaps``). Nothing is corrected: which of the two is right cannot be told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.language import tr
from debrief.navigation.units import KT_PER_M_S
from debrief.tracks.middles import spread
from debrief.tracks.model import Floats
from debrief.tracks.points import Points, runs_of
from debrief.tracks.words import clock, time_of_day

_MOVING_KT = 30.0
_OFF = 0.08
_STRETCH_OFF = 1.5
_SHORTEST_S = 60.0
_FEWEST_OFF = 5  # samples
_BLOCK_S = 10.0
_FEWEST = 20
_EVEN = 0.05
_STEADY = 0.15  # of its ratio: a simulation rate is one number, a column that stands still is not
_SLOWEST_RATE = 0.2  # a simulation is slowed to a quarter at the most
_HOLE = 2.5  # intervals
_UNITS = {KT_PER_M_S: "m/s", 1.0 / 1.852: "km/h", 1.609344 / 1.852: "statute miles an hour"}
_UNIT_NEAR = 0.012

_OTHER_PACE = 0.25  # off 1: less may be another speed under the name of ground speed

_Stretch = tuple[int, int, float]  # first and last point, and the ratio


@dataclass(frozen=True, slots=True)
class Clock:
    """What the ground speed says of the log's time."""

    words: tuple[str, ...] = ()
    #: Where it runs so much too fast or slow, from when to when, and how many times as fast the positions move. [s]
    other_pace: tuple[tuple[float, float, float], ...] = ()


def look_at_clock(points: Points) -> Clock:
    """Hold the speed made good against the column ``groundspeed_kt``; words only where that is doubtful."""
    column = points.track.columns.get("groundspeed_kt")
    if column is None or len(points) < _FEWEST:
        return Clock()
    chord_kt, way_kt, logged_kt = _speeds_kt(points, column[points.index])
    with np.errstate(invalid="ignore", divide="ignore"):
        straight, along = chord_kt / logged_kt, way_kt / logged_kt
        moving = (
            (chord_kt > _MOVING_KT / 2) & (np.fmax(chord_kt, logged_kt) > _MOVING_KT) & np.isfinite(straight)
        )
    if moving.sum() < _FEWEST:
        return Clock()
    usual, scatter = float(np.median(straight[moving])), spread(straight[moving])
    turning = usual < 1.0 < float(np.median(along[moving])) + _OFF
    if abs(usual - 1.0) > max(_OFF, scatter) and scatter < _EVEN * usual + _EVEN and not turning:
        told = _unit_of(usual) is None and usual >= _SLOWEST_RATE and abs(usual - 1.0) > _OTHER_PACE
        whole = float(points.t_s[0]), float(points.t_s[-1]), usual
        return Clock((_whole_words(usual),), (whole,) if told else ())
    # a turn makes the straight line too short, noise the way too long: what lies between the two is no error
    ratio = np.where(straight > 1.0, straight, np.fmin(along, 1.0))
    return _stretches(points, np.where(moving, ratio, np.nan))


def _speeds_kt(points: Points, logged_kt: Floats) -> tuple[Floats, Floats, Floats]:
    """Straight from end to end, along the way and by the column, each over the time of the net speed; ``nan`` at holes."""
    start, end = points.around(_BLOCK_S)
    here = np.arange(len(points))
    seconds = np.diff(points.t_s)
    steps = np.column_stack(
        [points.distance_m(here[:-1], here[1:]), seconds * (logged_kt[1:] + logged_kt[:-1]) / 2]
    )
    steps[seconds > max(_BLOCK_S, _HOLE * points.interval_s)] = np.nan
    total = np.pad(np.cumsum(np.nan_to_num(steps), axis=0), ((1, 0), (0, 0)))
    missing = np.pad(np.cumsum(np.isnan(steps).any(axis=1)), (1, 0))
    mean = (total[end] - total[start]) / (points.t_s[end] - points.t_s[start])[:, None]
    mean[missing[end] > missing[start]] = np.nan
    return points.net_speed_m_s * KT_PER_M_S, mean[:, 0] * KT_PER_M_S, mean[:, 1]


def _unit_of(ratio: float) -> str | None:
    return next((name for value, name in _UNITS.items() if abs(ratio / value - 1) < _UNIT_NEAR), None)


def _whole_words(ratio: float) -> str:
    unit = _unit_of(ratio)
    if unit is not None:
        return tr(
            "The positions move {ratio:.2f} times as fast as the log's ground speed says: that "
            "column is probably in {unit}, not in knots.",
            ratio=ratio,
            unit=unit,
        )
    if ratio < _SLOWEST_RATE:
        return tr(
            "The positions move {ratio:.2f} times as fast as the log's ground speed says: one of the two is wrong.",
            ratio=ratio,
        )
    return tr(
        "The positions move {ratio:.2f} times as fast as the log's ground speed says: the clock runs slow, as at a "
        "simulation rate other than 1. Speeds and times here are by the clock."
        if ratio > 1
        else "The positions move {ratio:.2f} times as fast as the log's ground speed says: the clock runs fast, as "
        "at a simulation rate other than 1. Speeds and times here are by the clock.",
        ratio=ratio,
    )


def _stretches(points: Points, ratio: Floats) -> Clock:
    """Name the stretches in which the ratio leaves 1: steadily, as where a simulation rate was used for a while, or not."""
    block = max(1, points.reach(_BLOCK_S))
    count = len(points) // block
    if not count:
        return Clock()
    blocks = ratio[: count * block].reshape(count, block)
    known = np.isfinite(blocks).sum(axis=1) > block / 2
    middle = np.full(count, np.nan)
    middle[known] = np.nanmedian(blocks[known], axis=1)
    with np.errstate(invalid="ignore"):
        sides = (middle > _STRETCH_OFF, middle < 1.0 / _STRETCH_OFF)
    steady, unsteady = list[_Stretch](), list[_Stretch]()
    for first, last in (run for off in sides for run in zip(*runs_of(off), strict=True)):
        start, end = int(first) * block, min((int(last) + 1) * block, len(points) - 1)
        if points.t_s[end] - points.t_s[start] >= _SHORTEST_S and end - start >= _FEWEST_OFF:
            of = middle[first : last + 1]
            factor = float(np.median(of))
            even = factor >= _SLOWEST_RATE and spread(of) < _STEADY * factor
            (steady if even else unsteady).append((start, end, factor))
    words = []
    if steady:
        head, factor = _longest(points, steady)
        words.append(
            tr(
                "{head} the positions move {factor:.1f} times as fast as the log's ground speed says: time runs slow there, as "
                "at a simulation rate other than 1, and its speeds are not real."
                if factor > 1
                else "{head} the positions move {factor:.1f} times as fast as the log's ground speed says: time runs fast there, "
                "as at a simulation rate other than 1, and its speeds are not real.",
                head=head,
                factor=factor,
            )
        )
    if unsteady:
        head, factor = _longest(points, unsteady)
        words.append(
            tr(
                "{head} the positions move {factor:.1f} times as fast as the log's ground speed says, now more, now less: "
                "one of the two is wrong there.",
                head=head,
                factor=factor,
            )
        )
    return Clock(
        tuple(words), tuple((float(points.t_s[a]), float(points.t_s[b]), pace) for a, b, pace in steady)
    )


def _longest(points: Points, found: list[_Stretch]) -> tuple[str, float]:
    """Where the longest of the stretches lies, in words, and its ratio."""
    start, end, factor = max(found, key=lambda stretch: points.t_s[stretch[1]] - points.t_s[stretch[0]])
    begun = time_of_day(points.track, float(points.t_s[start]))
    over = clock(points.track, float(points.t_s[end]))
    if len(found) == 1:
        return tr("From {start} to {end}", start=begun, end=over), factor
    return tr(
        "In {count} stretches, the longest from {start} to {end},", count=len(found), start=begun, end=over
    ), factor
