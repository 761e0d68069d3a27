"""Steps twice as far as those beside, in stamps that are even: samples left out, the others numbered anew.

Owns      ``edited_times`` of such a log.
Not here  stamps that are odd themselves (``stamps``), late positions, which make up for a long step by a short one.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.lines import medians
from debrief.checkride.signs.trace import FLYING_M_S, Trace

_BESIDE = 4  # steps on each side
_LONGER, _SHORTER = 1.5, 0.6
_WHOLE, _MOST_WHOLE, _WHOLE_SHARE = 0.15, 3, 0.85
_FEWEST, _MOST_SHARE, _SHORT_SHARE = 8, 0.3, 0.05
_EVEN = 0.1
_STRENGTH = 0.65


def renumbered_signs(trace: Trace) -> Iterator[Flag]:
    """All such steps of a log together."""
    way_m = np.hypot(np.diff(trace.x_m), np.diff(trace.y_m))
    if len(way_m) < 4 * _BESIDE:
        return
    speed = way_m / trace.step_s
    usual = np.pad(medians(speed, 2 * _BESIDE + 1), _BESIDE, mode="edge")
    even = np.abs(trace.step_s - trace.interval_s) < _EVEN * trace.interval_s
    moving = (usual > FLYING_M_S) & ~trace.bridged[1:] & ~trace.bridged[:-1]
    times = speed / np.maximum(usual, 1.0)
    long, short = moving & even & (times > _LONGER), moving & (times < _SHORTER)
    number = int(long.sum())
    if not _FEWEST <= number <= _MOST_SHARE * moving.sum() or short.sum() > _SHORT_SHARE * number:
        return
    whole = np.abs(times[long] - np.round(times[long])) < _WHOLE * np.round(times[long])
    if (whole & (np.round(times[long]) <= _MOST_WHOLE)).mean() < _WHOLE_SHARE:
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
