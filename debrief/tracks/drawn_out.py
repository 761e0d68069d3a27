"""Logs drawn out to a shorter interval by straight lines between their own samples, as recorders and converters do.

Owns      telling such a log, from how far apart its corners stand, the remark about it, and which samples a program put
          on the lines (``on_lines``).
Not here  single straight lines over dropouts (``bridges``); a log that is only sparse.

In such a log most samples lie exactly between their neighbours, and all turning is in corners that stand alone: one or
two samples away from a corner, on either side, the way is straight. An aircraft that turns does so in every sample; noise and late
stamps leave no sample straight.
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.tracks.gaps import is_gap
from debrief.tracks.model import Floats
from debrief.tracks.points import Bools, Points, runs_of

MOVING_M_S = 15.0
ROUNDINGS = 1.5  # each of three positions is off by half a step on each axis
STAMP_S = 0.001
GRAIN_M = 0.02
_STRAIGHT_SHARE = 0.55
_CORNER = 4.0  # tolerances
_BESIDE = 0.25  # of a corner: what may be bent beside it
_ALONE_SHARE = 0.8
_FEWEST = 10
_TURN_S = 6.0  # to either side: over so long a turn shows what the samples next to each other should
_TURN_SURE = 3.0  # tolerances by which a turning aircraft must leave the line between two samples beside it
_ON_LINES_SHARE = 0.15  # of the samples in turns: of an aircraft's own samples none lie there on a line
_FEWEST_TURNING = 20
_LONGEST_RUN_S = 15.0  # a longer line stays: leaving all of it out would be a gap
_LEAST_S = 0.9  # at shorter intervals rounding hides a corner: every so many samples are looked at


def drawn_out_s(points: Points) -> float | None:
    """The usual time between the corners of a log that was drawn out, ``None`` for any other. [s]"""
    stride = max(1, round(_LEAST_S / points.interval_s))
    found = _corners_s(points, stride)
    return found if found is not None or stride > 1 else _corners_s(points, 2)


def _corners_s(points: Points, stride: int) -> float | None:
    if len(points) < 6 * _FEWEST * stride:
        return None
    kept = np.ones(len(points), dtype=np.bool_)
    if stride > 1:
        kept[:] = False
        kept[::stride] = True
        points = points.without(~kept)
    at = np.arange(1, len(points) - 1)
    bent_m = np.hypot(*points.off_chord_m(at - 1, at, at + 1))
    tolerance_m = ROUNDINGS * points.rounding_m + STAMP_S * points.net_speed_m_s[at] + GRAIN_M
    gap = is_gap(points)
    usable = ~(gap[at - 1] | gap[at]) & (points.net_speed_m_s[at] > MOVING_M_S)
    if usable.sum() < 6 * _FEWEST:
        return None
    straight = bent_m <= tolerance_m
    if straight[usable].mean() < _STRAIGHT_SHARE:
        return None
    corner = np.flatnonzero(_neighbours(usable) & (bent_m > _CORNER * tolerance_m))
    corner = corner[(corner >= 2) & (corner < len(bent_m) - 2)]
    if len(corner) < _FEWEST:
        return None
    alone = _alone(bent_m, tolerance_m, corner)
    if alone.mean() < _ALONE_SHARE:
        return None
    apart_s = np.diff(points.t_s[corner + 1])
    apart_s = apart_s[apart_s > 1.5 * points.interval_s]  # a corner between two samples bends both
    return float(np.quantile(apart_s, 0.25)) if len(apart_s) else None


def _neighbours(usable: Bools) -> Bools:
    """Usable with both neighbours and theirs."""
    around = np.convolve(usable, np.ones(5), mode="same")
    return np.asarray(around > 4.5)


def _alone(bent_m: Floats, tolerance_m: Floats, corner: np.ndarray) -> Bools:
    least_m = np.maximum(tolerance_m[corner], _BESIDE * bent_m[corner])
    before_m, after_m = (np.minimum(bent_m[corner + k], bent_m[corner + 2 * k]) for k in (-1, 1))
    beside_m = np.maximum(before_m, after_m)
    return np.asarray(beside_m <= least_m)


def on_lines(points: Points) -> Bools:
    """The samples that a program put on a line between two others; none of any other log's.

    They are told in the turns: a turning aircraft leaves the line between its neighbours in every sample, by what the
    same turn shows over some seconds. Reports that come in unevenly make corners too close together to stand alone.
    Of each corner the first sample stays; it is the nearest to what was measured.
    """
    none = np.zeros(len(points), dtype=np.bool_)
    stride, base = max(1, round(_LEAST_S / points.interval_s)), max(2, points.reach(_TURN_S))
    if len(points) < 2 * base + _FEWEST_TURNING:
        return none
    at = np.arange(base, len(points) - base)
    tolerance_m = ROUNDINGS * points.rounding_m + STAMP_S * points.net_speed_m_s[at] + GRAIN_M
    bent_m = np.hypot(*points.off_chord_m(at - stride, at, at + stride))
    due_m = np.hypot(*points.off_chord_m(at - base, at, at + base)) * (stride / base) ** 2
    moving = points.net_speed_m_s[at] > MOVING_M_S
    turning = moving & (due_m > _TURN_SURE * tolerance_m)
    straight = bent_m <= tolerance_m
    if turning.sum() < _FEWEST_TURNING or straight[turning].mean() < _ON_LINES_SHARE:
        return none
    drawn, corner = none.copy(), none.copy()
    drawn[at], corner[at] = straight & moving, ~straight & moving
    for first, last in zip(*runs_of(drawn), strict=True):
        if points.t_s[last] - points.t_s[first] > _LONGEST_RUN_S:
            drawn[first : last + 1] = False
    for first, last in zip(*runs_of(corner), strict=True):
        drawn[first : last + 1] = np.arange(last + 1 - first) % (2 * stride) > 0
    return drawn


def drawn_out_warnings(every_s: float | None, interval_s: float) -> tuple[str, ...]:
    """Say that the samples are not all of them positions somebody measured."""
    if every_s is None:
        return ()
    return (
        tr(
            "The samples, {interval:.1f} s apart, lie on straight lines between corners some {every:.0f} s apart: a "
            "recorder or a program drew the log out. Turns and speeds are only as fine as those corners.",
            interval=interval_s,
            every=every_s,
        ),
    )
