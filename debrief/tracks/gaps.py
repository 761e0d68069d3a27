"""Gaps: where nothing was observed, and a new segment begins.

Owns      the longest step that is no gap, the ``Gap`` list, a clock that ran on while the simulator stood.
Not here  finding what was set aside inside a gap (``repeats``, ``jumps``, ``bridges``).

A step longer than 10 s and three and a half times the log's median step is a gap (common practice), and so is any
beyond two minutes: a turn fits into it. Where the file itself begins a new part, one and a half times the median
and 2 s are enough.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

import numpy as np

from debrief.language import tr
from debrief.tracks.model import Gap
from debrief.tracks.points import Bools, Ints, Points, Reasons
from debrief.tracks.words import amount, clock, lasting, time_of_day

LONGEST_STEP_S = 10.0
MEDIAN_STEPS = 3.5
ALWAYS_A_GAP_S = 120.0
NEW_PART_STEP_S = 2.0
NEW_PART_MEDIAN_STEPS = 1.5

_STOOD_SHARE = 0.2  # of the way that the speed before would have made
_MOVING_M_S = 15.0

Why = Literal["no samples", "new segment", "bridged", "stuck"]
#: What set samples aside inside a gap, and the gap's reason for it.
_INSIDE: dict[str, Why] = {"bridged": "bridged", "paused": "stuck", "repeated position": "stuck"}


def is_gap(points: Points) -> Bools:
    """For each step between two points, whether it is too long to be flown over."""
    step_s, median_s = np.diff(points.t_s), points.interval_s
    new_part = np.diff(points.track.part[points.index]) != 0
    longest_s = min(max(LONGEST_STEP_S, MEDIAN_STEPS * median_s), ALWAYS_A_GAP_S)
    gap: Bools = (step_s > longest_s) | (
        new_part & (step_s > max(NEW_PART_STEP_S, NEW_PART_MEDIAN_STEPS * median_s))
    )
    return gap


def find_gaps(
    points: Points, breaks: Mapping[int, str], reasons: Reasons
) -> tuple[Ints, tuple[Gap, ...], tuple[str, ...]]:
    """Return the segment of each point, the gaps, and what to say.

    Parameters
    ----------
    points : those that are used.
    breaks : raw index of the first sample behind a break -> the gap's reason; a raw sample no longer used counts for
        the next one that is.
    reasons : why each raw sample was set aside.
    """
    if len(points) < 2:
        return np.zeros(len(points), dtype=np.int64), (), ()
    long = is_gap(points)
    forced = np.zeros(len(points) - 1, dtype=bool)
    why: dict[int, str] = {}
    for raw, reason in breaks.items():
        step = int(np.searchsorted(points.t_s, points.track.t_s[raw])) - 1
        if 0 <= step < len(forced):
            forced[step] = True
            why[step] = reason
    aside = np.nonzero(np.isin(reasons, list(_INSIDE)))[0]
    aside = aside[np.argsort(points.track.t_s[aside], kind="stable")]
    aside_s = points.track.t_s[aside]
    gaps = []
    for step in np.nonzero(long | forced)[0].tolist():
        start_s, end_s = float(points.t_s[step]), float(points.t_s[step + 1])
        inside = reasons[
            aside[np.searchsorted(aside_s, start_s) : np.searchsorted(aside_s, end_s, side="right")]
        ]
        gaps.append(Gap(start_s=start_s, end_s=end_s, reason=_why(why.get(step), inside, points, step)))
    segment = np.concatenate([[0], np.cumsum(long | forced)])
    return segment, tuple(gaps), _words(points, long & ~forced)


def _why(forced: str | None, inside: Reasons, points: Points, step: int) -> Why:
    if forced in get_args(Why):
        return next(reason for reason in get_args(Why) if reason == forced)
    if len(inside):
        names, numbers = np.unique(inside, return_counts=True)
        return _INSIDE[str(names[np.argmax(numbers)])]
    part = points.track.part[points.index]
    return "new segment" if part[step] != part[step + 1] else "no samples"


def _words(points: Points, long: Bools) -> tuple[str, ...]:
    track, t_s, warnings = points.track, points.t_s, list[str]()
    steps = np.nonzero(long)[0]
    if len(steps):
        longest = steps[np.argmax(t_s[steps + 1] - t_s[steps])]
        start_s, end_s = float(t_s[longest]), float(t_s[longest + 1])
        shown = tr(
            "{time} from {when} to {then}",
            time=lasting(end_s - start_s),
            when=time_of_day(track, start_s),
            then=clock(track, end_s),
        )
        warnings.append(
            tr("Nothing usable for {shown}; nothing is measured there.", shown=shown)
            if len(steps) == 1
            else tr(
                "{gaps} without anything usable, the longest {shown}; nothing is measured there.",
                gaps=amount(len(steps), "gap"),
                shown=shown,
            )
        )
    for step in steps.tolist():
        before_m_s = float(points.net_speed_m_s[max(step - points.reach(5.0), 0)])
        seconds = float(points.t_s[step + 1] - points.t_s[step])
        made_m_s = float(points.distance_m(np.array([step]), np.array([step + 1]))[0]) / seconds
        after_m_s = float(points.net_speed_m_s[min(step + 1 + points.reach(5.0), len(points) - 1)])
        if min(before_m_s, after_m_s) > _MOVING_M_S and made_m_s < _STOOD_SHARE * min(before_m_s, after_m_s):
            warnings.append(
                tr(
                    "At {when} the clock runs on by {time} while the position goes on almost where it "
                    "was: the simulator was paused, or the aircraft circled unseen.",
                    when=clock(track, float(points.t_s[step])),
                    time=lasting(seconds),
                )
            )
    return tuple(warnings)
