"""Samples that a program put between those of a recorder, one or more between each two, to make the interval shorter.

Owns      telling such a log by its even rhythm, and setting those samples aside (``find_drawn_between``).
Not here  logs drawn out between corners unevenly apart, told by their turns, and the remark on a log whose corners stand
          so far apart that its turns are cut (``drawn_out``).

Such samples lie on the line between the two around them, in place and in altitude; those two stand off the lines beside
them by their noise. They tell nothing, and would pass for samples without noise: a log would seem to be known better by
being filled in. No chance makes every second sample exact and the others not.
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.tracks.drawn_out import GRAIN_M, MOVING_M_S, ROUNDINGS, STAMP_S, drawn_out_s
from debrief.tracks.model import Floats
from debrief.tracks.points import Bools, Found, Ints, Points, no_reasons
from debrief.tracks.words import amount, lasting

_MOST_BETWEEN = 10  # a second drawn out to ten
_EVEN = 0.1  # of the interval: a longer step is some intervals or a hole
_FEWEST = 60  # in motion, of either kind
_EXACT_SHARE = 0.98  # of the samples between; a program rounds now and then another way
_BENT_SHARE = 0.5  # of the recorder's own samples: by their noise or by the turns
_ALTITUDE_FT = 1.0  # written in whole feet, or tenths of metres


def find_drawn_between(points: Points) -> Found:
    """Set aside the samples that were put between the recorder's own; none of any other log's."""
    between = _drawn_between(points)
    if not between.any():
        return Found.nothing(points)
    reasons = no_reasons(len(points))
    reasons[between] = "drawn between"
    words = tr(
        "{samples} ({share:.0f} %) lie exactly on the lines between the others, {interval} apart, as a program "
        "puts them there to fill a log in: they tell nothing, and are set aside.",
        samples=amount(between.sum(), "sample"),
        share=100 * between.mean(),
        interval=lasting(points.without(between).interval_s),
    )
    said_already = drawn_out_s(points) is not None
    return Found(reasons=reasons, breaks={}, warnings=() if said_already else (words,))


def _drawn_between(points: Points) -> Bools:
    none = np.zeros(len(points), dtype=np.bool_)
    if len(points) < 2 * _FEWEST:
        return none
    number = _numbers(points)
    at = np.arange(1, len(points) - 1)
    at = at[number[at + 1] - number[at - 1] == 2]
    moving = at[points.net_speed_m_s[at] > MOVING_M_S]
    if len(moving) < 2 * _FEWEST:
        return none
    bent_m = np.hypot(*points.off_chord_m(moving - 1, moving, moving + 1))
    finest_m = STAMP_S * points.net_speed_m_s[moving] + GRAIN_M
    for tolerance_m in (
        finest_m,
        finest_m + ROUNDINGS * points.rounding_m,
    ):  # rounded before they were drawn, or after
        own = _rhythm(number[moving], bent_m > tolerance_m)
        if own is not None:
            every, phase = own
            between = np.asarray(number % every != phase)
            beside = none.copy()
            beside[1:-1] = np.diff(number)[:-1] + np.diff(number)[1:] == 2
            between &= beside
            return between if _altitude_on_lines(points, at[between[at]]) else none
    return none


def _numbers(points: Points) -> Ints:
    """Of each sample on an even grid of the usual interval, counted from step to step: rounded stamps do not add up."""
    return np.concatenate([[0], np.cumsum(_whole_steps(np.diff(points.t_s) / points.interval_s))])


def _whole_steps(steps: Floats) -> Ints:
    whole = np.maximum(np.round(steps), 1.0)
    uneven = np.abs(steps - whole) > _EVEN
    whole[uneven] = 2.0 * np.ceil(steps[uneven])  # never one: nothing is told of the samples beside it
    return np.asarray(whole, dtype=np.int64)


def _rhythm(number: Ints, bent: Bools) -> tuple[int, int] | None:
    """Every how many samples one stands off its line, and the remainder of those; ``None`` where there is no rhythm."""
    for every in range(2, _MOST_BETWEEN + 1):
        among = np.bincount(number % every, minlength=every)
        off = np.bincount(number[bent] % every, minlength=every)
        own = int(np.argmax(off / np.maximum(among, 1)))
        others, off_others = among.sum() - among[own], off.sum() - off[own]
        if (
            min(among[own], others) >= _FEWEST
            and off[own] >= _BENT_SHARE * among[own]
            and off_others <= (1.0 - _EXACT_SHARE) * others
        ):
            return every, own
    return None


def _altitude_on_lines(points: Points, at: Ints) -> bool:
    """Whether the altitudes of those samples, where there are any, lie on the lines as well."""
    altitude_ft = points.track.altitude_ft[points.index]
    share = (points.t_s[at] - points.t_s[at - 1]) / (points.t_s[at + 1] - points.t_s[at - 1])
    off_ft = altitude_ft[at] - altitude_ft[at - 1] - share * (altitude_ft[at + 1] - altitude_ft[at - 1])
    off_ft = np.abs(off_ft[np.isfinite(off_ft)])
    return not len(off_ft) or bool(np.mean(off_ft <= _ALTITUDE_FT) >= _EXACT_SHARE)
