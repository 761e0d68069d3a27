"""Turning points of an angle that swings to and fro.

Owns      where it turns back, and the longest run of what holds one after another.
Not here  what a swing means (``steering``, ``weaving``).
"""

from __future__ import annotations

import numpy as np

from debrief.phases.model import Floats


def longest_run(counts: list[bool]) -> tuple[int, int]:
    """Where the longest run of True begins, and how long it is; of equal ones the first."""
    best = (0, 0)
    first = 0
    for number, holds in enumerate([*counts, False]):
        if holds:
            continue
        if number - first > best[1]:
            best = (first, number - first)
        first = number + 1
    return best


def turning_points(angle_deg: Floats, least_deg: float) -> list[int]:
    """Where an angle turns back by at least ``least_deg``: its extremes, the last one as far as it got."""
    if len(angle_deg) < 2:
        return []
    step_deg = np.diff(angle_deg)
    turns = np.flatnonzero(step_deg[:-1] * step_deg[1:] <= 0.0) + 1
    extremes = [0, *turns.tolist(), len(angle_deg) - 1]  # what lies between them never matters
    values = angle_deg[extremes].tolist()
    points: list[int] = []
    low = high = way = 0  # the extremes since the last turning point, by number; way: 1 rising, -1 falling
    for number, value in enumerate(values):
        low = number if value < values[low] else low
        high = number if value > values[high] else high
        if way <= 0 and value - values[low] >= least_deg:
            points.append(extremes[low])
            way, high = 1, number
        elif way >= 0 and values[high] - value >= least_deg:
            points.append(extremes[high])
            way, low = -1, number
    return [*points, extremes[high if way > 0 else low]] if points else points
