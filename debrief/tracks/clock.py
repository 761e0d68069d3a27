"""Time running fast or slow: positions held against the ground speed that the log itself gives.

Owns      the remark, for the whole log or for stretches of it, and the units that would explain it.
Not here  pauses (``repeats``, ``gaps``). Nothing is corrected: which of the two is right cannot be told.
"""

from __future__ import annotations

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
_SHORTEST_S = 20.0
_BLOCK_S = 10.0
_FEWEST = 20
_EVEN = 0.05
_UNITS = {KT_PER_M_S: "m/s", 1.0 / 1.852: "km/h", 1.609344 / 1.852: "statute miles an hour"}
_UNIT_NEAR = 0.012


def clock_warnings(points: Points) -> dict[str, tuple[str, ...]]:
    """Hold the speed made good against the column ``groundspeed_kt``; return the doubtful column and the words."""
    words = _clock_words(points)
    return {"groundspeed_kt": words} if words else {}


def _clock_words(points: Points) -> tuple[str, ...]:
    column = points.track.columns.get("groundspeed_kt")
    if column is None or len(points) < _FEWEST:
        return ()
    logged = _averaged(points, column[points.index])
    made_kt = points.net_speed_m_s * KT_PER_M_S
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = made_kt / logged
        moving = (made_kt > _MOVING_KT / 2) & (np.maximum(made_kt, logged) > _MOVING_KT) & np.isfinite(ratio)
    if moving.sum() < _FEWEST:
        return ()
    usual, scatter = float(np.median(ratio[moving])), spread(ratio[moving])
    if abs(usual - 1.0) > max(_OFF, scatter) and scatter < _EVEN * usual + _EVEN:
        return (_whole_words(usual),)
    return _stretches(points, np.where(moving, ratio, np.nan))


def _averaged(points: Points, values: Floats) -> Floats:
    """Mean of a column over the time that the net speed covers; ``nan`` where it has gaps."""
    half = points.reach(_BLOCK_S / 2)
    here = np.arange(len(points))
    start, end = np.maximum(here - half, 0), np.minimum(here + half, len(points) - 1)
    steps = np.diff(points.t_s) * (values[1:] + values[:-1]) / 2
    total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(steps))])
    missing = np.concatenate([[0], np.cumsum(np.isnan(steps))])
    mean: Floats = (total[end] - total[start]) / (points.t_s[end] - points.t_s[start])
    return np.where(missing[end] == missing[start], mean, np.nan)


def _whole_words(ratio: float) -> str:
    unit = next((name for value, name in _UNITS.items() if abs(ratio / value - 1) < _UNIT_NEAR), None)
    if unit is not None:
        return tr(
            "The positions move {ratio:.2f} times as fast as the log's ground speed says: that "
            "column is probably in {unit}, not in knots.",
            ratio=ratio,
            unit=unit,
        )
    return tr(
        "The positions move {ratio:.2f} times as fast as the log's ground speed says: the clock runs slow, as at a "
        "simulation rate other than 1. Speeds and times here are by the clock."
        if ratio > 1
        else "The positions move {ratio:.2f} times as fast as the log's ground speed says: the clock runs fast, as "
        "at a simulation rate other than 1. Speeds and times here are by the clock.",
        ratio=ratio,
    )


def _stretches(points: Points, ratio: Floats) -> tuple[str, ...]:
    """Name the stretches in which the ratio leaves 1, as where a simulation rate was used for a while."""
    block = max(1, points.reach(_BLOCK_S))
    count = len(points) // block
    if not count:
        return ()
    blocks = ratio[: count * block].reshape(count, block)
    known = np.isfinite(blocks).sum(axis=1) > block / 2
    middle = np.full(count, np.nan)
    middle[known] = np.nanmedian(blocks[known], axis=1)
    with np.errstate(invalid="ignore"):
        off = (middle > _STRETCH_OFF) | (middle < 1.0 / _STRETCH_OFF)
    found = []
    for first, last in zip(*runs_of(off), strict=True):
        start, end = int(first) * block, min((int(last) + 1) * block, len(points) - 1)
        if points.t_s[end] - points.t_s[start] >= _SHORTEST_S:
            found.append((start, end, float(np.median(middle[first : last + 1]))))
    if not found:
        return ()
    start, end, factor = max(found, key=lambda stretch: points.t_s[stretch[1]] - points.t_s[stretch[0]])
    begun = time_of_day(points.track, float(points.t_s[start]))
    over = clock(points.track, float(points.t_s[end]))
    head = (
        tr("From {start} to {end}", start=begun, end=over)
        if len(found) == 1
        else tr(
            "In {count} stretches, the longest from {start} to {end},",
            count=len(found),
            start=begun,
            end=over,
        )
    )
    said = tr(
        "{head} the positions move {factor:.1f} times as fast as the log's ground speed says: time runs slow there, as "
        "at a simulation rate other than 1, and its speeds are not real."
        if factor > 1
        else "{head} the positions move {factor:.1f} times as fast as the log's ground speed says: time runs fast there, "
        "as at a simulation rate other than 1, and its speeds are not real.",
        head=head,
        factor=factor,
    )
    return (said,)
