"""How sure a climb away is: where it begins and ends, and how fast it climbs.

Owns      the errors of both moments, of the place of the first, and of the mean rate between them.
Not here  finding the climb (phases), its measures (``ending``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.measures import log_errors
from debrief.measures.moments import Moment, read_at
from debrief.measures.scene import Scene
from debrief.measures.statistics import mean, weights_s
from debrief.navigation.intervals import half_width
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.ending import LOWEST_WITHIN_FT, MISSED_ENDS_FT
from debrief.phases.model import Span

_LOWEST_BEFORE_S = 120.0  # the lowest altitude lies within so long before the climb
_CLIMB_OVER_S = 5.0
_SLOWEST_CLIMB_FT_MIN = 100.0
_SAME_FT = 1.0
_BESIDE_S = 20.0  # to each side, to see how fast a climb passes an altitude


@dataclass(frozen=True, slots=True)
class _Lowest:
    """The lowest altitude before a climb, which errors pick out of many: when, and for how long it is as low."""

    t_s: float
    near_s: float


def _lowest(scene: Scene, climb_s: float) -> _Lowest:
    before = scene.over(climb_s - _LOWEST_BEFORE_S, climb_s)
    before = before.where(np.isfinite(before.altitude_ft))
    if len(before) == 0:
        return _Lowest(climb_s, 0.0)
    within_ft = log_errors.NEAR * log_errors.changing(log_errors.altitude_ft(scene.flight))
    least = int(np.argmin(before.altitude_ft))
    near = before.altitude_ft <= before.altitude_ft[least] + within_ft
    return _Lowest(float(before.t_s[least]), float(weights_s(before.t_s, before.segment)[near].sum()))


def climb_begins(scene: Scene, climb_s: float) -> Moment:
    """The error of the beginning of a climb away: an altitude against the lowest, over the rate of the climb."""
    after = scene.over(climb_s, climb_s + _CLIMB_OVER_S)
    rate_ft_min = mean(after.vertical_speed_ft_min, weights_s(after.t_s, after.segment))
    return _above_lowest(scene, climb_s, max(rate_ft_min or 0.0, _SLOWEST_CLIMB_FT_MIN) / SECONDS_PER_MINUTE)


def climb_ends(scene: Scene, span: Span) -> Moment | None:
    """That of its end so far above the lowest altitude; ``None`` where the log ended before."""
    end_ft, begun_ft = (float(scene.at(t_s).altitude_ft[0]) for t_s in (span.end_s, span.start_s))
    if not end_ft >= begun_ft + MISSED_ENDS_FT - LOWEST_WITHIN_FT - _SAME_FT:
        return None
    within_ft = float(np.sqrt(2.0)) * log_errors.changing(log_errors.altitude_ft(scene.flight))
    return _above_lowest(scene, span.start_s, _climb_ft_s(scene, span.end_s, within_ft))


def _above_lowest(scene: Scene, climb_s: float, climb_ft_s: float) -> Moment:
    parts = log_errors.altitude_ft(scene.flight)
    picked_ft, lowest_sd_ft = log_errors.greatest(
        tuple(part for part in parts if np.isfinite(part.lasts_s)), _lowest(scene, climb_s).near_s
    )
    return Moment(float(np.hypot(lowest_sd_ft, parts[0].sd)) / climb_ft_s, picked_ft / climb_ft_s)


def climb_sure_nm(scene: Scene, span: Span) -> float:
    """Half-width at 95 % of where the climb began. [NM]"""
    position_nm = log_errors.one(log_errors.position_nm(scene.flight))
    speed_kt = float(scene.at(span.start_s).groundspeed_kt[0])
    return read_at(climb_begins(scene, span.start_s), speed_kt / SECONDS_PER_HOUR, position_nm)


def climb_rate_sure_ft_min(scene: Scene, span: Span, first_s: float) -> float:
    """Half-width at 95 % of the mean climb from ``first_s`` to the end of the missed approach. [ft/min]

    Such a climb is timed: it runs from one height above the approach's lowest altitude to another, and only where
    the log ends on the way is its second height read. An error of an altitude moves the moment at which it is reached,
    the more the slower the climb is there: a round-out counts for more than its share. So with low, first and last the
    errors of the three altitudes, and a = mean rate / rate there, the rate is wrong by
    (a_first (low - first) + a_last (last - low)) / time.
    """
    flight = scene.flight
    ends = scene.over(first_s, span.end_s)
    ends = ends.where(np.isfinite(ends.altitude_ft))
    seconds = float(ends.t_s[-1] - ends.t_s[0])
    climbed_ft = float(ends.altitude_ft[-1] - ends.altitude_ft[0])
    lowest = _lowest(scene, span.start_s)
    begun_ft = float(scene.at(span.start_s).altitude_ft[0])
    timed = float(ends.altitude_ft[-1]) >= begun_ft + MISSED_ENDS_FT - LOWEST_WITHIN_FT - _SAME_FT
    parts = log_errors.altitude_ft(flight)
    within_ft = float(np.sqrt(2.0)) * log_errors.changing(parts)  # of the difference of two altitudes
    rate_ft_s = climbed_ft / seconds
    first = rate_ft_s / _climb_ft_s(scene, float(ends.t_s[0]), within_ft)
    last = rate_ft_s / _climb_ft_s(scene, float(ends.t_s[-1]), within_ft) if timed else 1.0
    normal_ft = log_errors.weighted(
        parts,
        np.array([lowest.t_s, ends.t_s[0], ends.t_s[-1]]),
        np.array([first - last, -first, last]),
    )
    return half_width(normal_ft / seconds * SECONDS_PER_MINUTE)


def _climb_ft_s(scene: Scene, t_s: float, within_ft: float) -> float:
    """How fast the altitude passes what it is at a moment: by so much to each side, over the time that it takes."""
    view = scene.flight.at(np.arange(t_s - _BESIDE_S, t_s + _BESIDE_S + 1.0))
    view = view.where(np.isfinite(view.altitude_ft))
    slowest_ft_s = _SLOWEST_CLIMB_FT_MIN / SECONDS_PER_MINUTE
    if len(view) < 2:
        return slowest_ft_s
    above_ft = view.altitude_ft - float(np.interp(t_s, view.t_s, view.altitude_ft))
    under = np.flatnonzero((view.t_s < t_s) & (above_ft <= -within_ft))
    over = np.flatnonzero((view.t_s > t_s) & (above_ft >= within_ft))
    first = int(under[-1]) if len(under) else 0
    last = int(over[0]) if len(over) else len(view) - 1
    climbed_ft = float(above_ft[last] - above_ft[first])
    return max(climbed_ft / float(view.t_s[last] - view.t_s[first]), slowest_ft_s)
