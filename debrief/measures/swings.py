"""Turning points of an angle that swings to and fro.

Owns      where it turns back, and the longest run of what holds one after another.
Not here  what a swing means (``steering``, ``weaving``).
"""

from __future__ import annotations

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
    points: list[int] = []
    low = high = way = 0  # indexes of the extremes since the last turning point; way: 1 rising, -1 falling
    for index, value in enumerate(angle_deg.tolist()):
        low = index if value < angle_deg[low] else low
        high = index if value > angle_deg[high] else high
        if way <= 0 and value - angle_deg[low] >= least_deg:
            points.append(low)
            way, high = 1, index
        elif way >= 0 and angle_deg[high] - value >= least_deg:
            points.append(high)
            way, low = -1, index
    return [*points, high if way > 0 else low] if points else points
