"""Steps twice as far as those beside, in stamps that are even: samples left out, the others numbered anew.

Owns      ``edited_times`` of such a log; ``slips``, of recorders that leave them out by themselves.
Not here  stamps that are odd themselves (``stamps``), late positions, which make up for a long step by a short one.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.lines import medians
from debrief.checkride.signs.trace import FLYING_M_S, Bools, Trace
from debrief.tracks.model import Floats

_BESIDE = 4  # steps on each side
_LONGER, _SHORTER = 1.5, 0.6
_WHOLE, _MOST_WHOLE, _WHOLE_SHARE = 0.15, 3, 0.85
_FEWEST, _MOST_SHARE, _SHORT_SHARE = 8, 0.3, 0.05
_EVEN = 0.1
_BEATS, _LONGEST_LEG = 0.7, 360  # of the steps between long ones; steps
_STRENGTH = 0.65


def renumbered_signs(trace: Trace) -> Iterator[Flag]:
    """All such steps of a log together."""
    if len(trace) < 4 * _BESIDE + 1:
        return
    times, moving = _times_as_far(trace)
    long, short = _long(trace, times, moving), moving & (times < _SHORTER)
    number = int(long.sum())
    if not _FEWEST <= number <= _MOST_SHARE * moving.sum() or short.sum() > _SHORT_SHARE * number:
        return
    whole = np.abs(times[long] - np.round(times[long])) < _WHOLE * np.round(times[long])
    if (whole & (np.round(times[long]) <= _MOST_WHOLE)).mean() < _WHOLE_SHARE:
        return
    if _at_a_beat(long):
        return
    first, last = np.flatnonzero(long)[[0, -1]]
    yield Flag(
        sign="edited_times",
        strength=_STRENGTH,
        evidence=(
            f"from {trace.when(int(first), int(last) + 1)} {number} steps go twice as far as those beside them, or three "
            "times, and none so much less far, in stamps that are even: as if samples were left out and the others numbered "
            "anew"
        ),
    )


def slips(trace: Trace) -> bool:
    """Whether steps go twice as far at an even beat, as of a recorder a little faster than the seconds that it stamps.

    Of two samples within one second it writes one.
    """
    return len(trace) > 4 * _BESIDE and _at_a_beat(_long(trace, *_times_as_far(trace)))


def _times_as_far(trace: Trace) -> tuple[Floats, Bools]:
    """How many times as far each step goes as those beside it, and where the aircraft moves."""
    speed = np.hypot(np.diff(trace.x_m), np.diff(trace.y_m)) / trace.step_s
    usual = np.pad(medians(speed, 2 * _BESIDE + 1), _BESIDE, mode="edge")
    moving = (usual > FLYING_M_S) & ~trace.bridged[1:] & ~trace.bridged[:-1]
    return speed / np.maximum(usual, 1.0), moving


def _long(trace: Trace, times: Floats, moving: Bools) -> Bools:
    even = np.abs(trace.step_s - trace.interval_s) < _EVEN * trace.interval_s
    return moving & even & (times > _LONGER)


def _at_a_beat(long: Bools) -> bool:
    at = np.flatnonzero(long)
    beat = np.diff(at)
    if not len(beat) or at[-1] - at[0] < _LONGEST_LEG:  # a part whose time was pressed together
        return False
    return len(beat) >= _FEWEST - 1 and bool(np.mean(np.abs(beat - np.median(beat)) <= 1.0) > _BEATS)
