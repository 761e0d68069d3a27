"""Turns that positions begin before the log's own track does, and end after it: what averaging makes of them.

Owns      ``smoothed`` of a whole log with a column for its track, whose positions were averaged.
Not here  what the noise tells of it (``averaged``), parts (``noise``), a column that is another for a while (``columns``).

A receiver knows no future: what it filters comes late, at the beginning of a turn as at its end. A mean over the seconds
before and after cuts the corner: it turns early at the beginning, late at the end, by as much as its window is wide.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.lines import means_about
from debrief.checkride.signs.trace import Bools, Trace
from debrief.tracks.model import Floats

_LONGEST_INTERVAL_S = 5.5
_OVER_S = (5.0, 7.0, 9.0, 11.0, 13.0, 16.0, 20.0, 25.0, 31.0)
_LATE_S = (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0)
_SHORTEST_S, _LATEST_S = 8.5, 1.0  # less a receiver makes by itself
_CHORD_S = 2.0
_BESIDE_S, _TURNING_DEG = 20.0, 25.0
_LEAST_S, _FEWEST, _MOST_TURNING, _OFF_DEG = 60.0, 20, 0.8, 1.0
_EXPLAINED = 0.5  # of the squares that the best delay alone leaves
_TRIED_S, _TRIED = (9.0, 16.0), 0.75  # tried first, as most logs are done with then
_STRENGTH, _SURE, _SURE_EXPLAINED = 0.6, 0.75, 0.25


def rounded_signs(trace: Trace) -> Iterator[Flag]:
    """The window over which the track column averaged turns as the positions do."""
    track_deg = trace.column("ground_track_true_deg")
    if track_deg is None or trace.interval_s > _LONGEST_INTERVAL_S:
        return
    told, made = _directions(trace, track_deg)
    turning = _turning(trace, told, made)
    if turning.sum() < trace.samples(_LEAST_S, _FEWEST) or turning.mean() > _MOST_TURNING:
        return
    at_once = min(_left(trace, told, made, turning, 0.0, late_s) for late_s in _LATE_S)
    if at_once < _OFF_DEG**2 or all(
        _left(trace, told, made, turning, over_s, 0.0) > _TRIED * at_once for over_s in _TRIED_S
    ):
        return
    left = np.array([[_left(trace, told, made, turning, w, late_s) for late_s in _LATE_S] for w in _OVER_S])
    over, late = np.unravel_index(int(np.argmin(left)), left.shape)
    explained = float(left[over, late]) / at_once
    if _OVER_S[over] < _SHORTEST_S or abs(_LATE_S[late]) > _LATEST_S or explained > _EXPLAINED:
        return
    yield Flag(
        sign="smoothed",
        strength=_SURE if explained < _SURE_EXPLAINED else _STRENGTH,
        evidence=(
            "the positions begin to turn before the log's track does, and go on after it, as that track averaged over "
            f"{_OVER_S[over]:.0f} s: what a receiver filters is late at both"
        ),
    )


def _directions(trace: Trace, track_deg: Floats) -> tuple[Floats, Floats]:
    """The track as it is told and as the positions have it, both over one chord and without jumps at north."""
    first, last = trace.around(_CHORD_S)
    here = np.arange(len(trace))
    made = np.arctan2(trace.x_m[last] - trace.x_m[first], trace.y_m[last] - trace.y_m[first])
    known = np.isfinite(track_deg)
    told = np.interp(here, here[known], np.unwrap(np.radians(track_deg[known])))
    total = np.concatenate([[0.0], np.cumsum((told[1:] + told[:-1]) / 2.0 * trace.step_s)])
    told = (total[last] - total[first]) / (trace.t_s[last] - trace.t_s[first])
    off = (made - told + np.pi) % (2.0 * np.pi) - np.pi
    return np.degrees(told), np.degrees(told + off)


def _turning(trace: Trace, told: Floats, made: Floats) -> Bools:
    """Where a turn is near, in flight, and the two mostly agree."""
    first, last = trace.around(2.0 * _BESIDE_S)
    turned = np.abs(told[last] - told[first]) > _TURNING_DEG
    return trace.whole(first, last, trace.hindered) & turned & (np.abs(made - told) < 60.0)


def _left(trace: Trace, told: Floats, made: Floats, turning: Bools, over_s: float, late_s: float) -> float:
    """Mean square of what the positions turn otherwise than the track averaged so and so late; without a lasting error."""
    wide = over_s / trace.interval_s / 2.0
    low, share = int(wide), wide - int(wide)
    mean = (1.0 - share) * means_about(told, low) + share * means_about(told, low + 1)
    then = np.interp(trace.t_s - late_s, trace.t_s, mean)
    off = (made - then)[turning]
    return float(np.mean(np.clip(off - np.median(off), -30.0, 30.0) ** 2))
