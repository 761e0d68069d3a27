"""Swings of an angle to and fro: its turning points, and the greatest size that so many in a row all had.

Owns      ``turning_points``, ``greatest_row`` and ``swing_sure_deg``, for chasing a needle and for weaving alike.
Not here  what a swing is, and what a row of them means (``steering``, ``weaving``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from debrief.measures import uncertainty
from debrief.measures.statistics import known
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.model import Flight, Floats, StationView

#: Swings of a weave differ by some degrees: one so much smaller than the others' size is still one of them, to be
#: counted. Mark: common practice.
_ALIKE = 0.9


@dataclass(frozen=True, slots=True)
class Row:
    """Swings in a row: from which moment to which (indexes), when, how many, and how great each was at least.

    One may be a tenth smaller than ``swing_deg``: left out, it would join its neighbours into one slow swing, and the
    row would seem to have half as many of them, twice as long.
    """

    first: int
    last: int
    start_s: float
    end_s: float
    swings: int
    swing_deg: float

    @property
    def period_s(self) -> float:
        """The mean time there and back. [s]"""
        return 2.0 * (self.end_s - self.start_s) / self.swings


def greatest_row(
    t_s: Floats,
    angle_deg: Floats,
    *,
    count: int,
    least_deg: float,
    size_deg: Callable[[int, int], float],
    together: Callable[[float, float, float], bool],
    counts: Callable[[int, int], bool] = lambda _first, _last: True,
) -> Row | None:
    """The longest row of at least ``count`` swings, of the greatest size that so many in a row all have.

    Parameters
    ----------
    t_s, angle_deg : arrays (n,), in order of time.
    least_deg : no smaller swing is looked for.
    size_deg : of a swing between two moments, by their indexes.
    together : whether two swings in a row belong together, by when the first begins, both meet, the second ends. [s]
    counts : whether a swing of that size is one at all.
    """
    sizes = [size_deg(*swing) for swing in pairwise(turning_points(angle_deg, least_deg))]
    for bound_deg in sorted((size for size in sizes if size >= least_deg), reverse=True):
        points = turning_points(angle_deg, bound_deg)
        good = [size_deg(*swing) >= bound_deg and counts(*swing) for swing in pairwise(points)]
        times_s = t_s[points].tolist()
        joined = [
            good[at] and good[at + 1] and together(*times_s[at : at + 3]) for at in range(len(good) - 1)
        ]
        first, length = _longest_run(joined)
        if length + 1 >= count:
            last = first + length + 1
            alike = turning_points(angle_deg[points[first] : points[last] + 1], _ALIKE * bound_deg)
            return Row(
                first=points[first],
                last=points[last],
                start_s=times_s[first],
                end_s=times_s[last],
                swings=max(last - first, len(alike) - 1),
                swing_deg=float(bound_deg),
            )
    return None


def swing_sure_deg(flight: Flight, views: Sequence[StationView], period_s: float) -> float | None:
    """Of one swing, half-width at 95 %: two tracks, or swings of that period which the positions' noise makes or hides."""
    speeds_kt = np.concatenate([view.groundspeed_kt for view in views]) if views else np.empty(0)
    if not np.isfinite(speeds_kt).any():
        return None
    speed_kt = float(np.nanmean(speeds_kt))
    two_tracks_deg = np.sqrt(2.0) * uncertainty.ground_track_deg(flight, speed_kt)
    # a weave of this period and of the noise's size: its slope is 2 pi amplitude / wavelength
    wave_nm = speed_kt * period_s / SECONDS_PER_HOUR
    noise_nm = uncertainty.COVERAGE * flight.noise.position_nm
    hidden_deg = 2.0 * np.degrees(np.arctan(2.0 * np.pi * noise_nm / wave_nm)) if wave_nm > 0 else np.nan
    return known(max(two_tracks_deg, hidden_deg))


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


def _longest_run(counts: list[bool]) -> tuple[int, int]:
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
