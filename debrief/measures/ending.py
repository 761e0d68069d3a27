"""How an approach ends: the missed approach and the landing.

Owns      where the climb begins and how fast it is; where the aircraft touched down, and what the log's altitude
          reads there.
Not here  whether the runway was to be seen (nobody knows), the descent before (``descent``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.final_track import along_nm, missed_approach_point_along_nm
from debrief.measures.landing_runway import circling_from_s, runway_of
from debrief.measures.legs import LegFields, with_reasons
from debrief.measures.missed import missed_path
from debrief.measures.moments import Moment, read_at
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, mean, weights_s
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import along_track_nm
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.ending import LOWEST_WITHIN_FT, MISSED_ENDS_FT
from debrief.phases.model import Span
from debrief.procedures.geometry import place_nm
from debrief.result import LandingMeasures, MissedMeasures

#: A touchdown farther than this from the published runway was made elsewhere. [NM]
ELSEWHERE_NM = 3.0
_SHORTEST_CLIMB_S = 3.0
_LOWEST_BEFORE_S = 120.0  # the lowest altitude lies within so long before the climb
_CLIMB_OVER_S = 5.0
_SLOWEST_CLIMB_FT_MIN = 100.0
_SAME_FT = 1.0
_BESIDE_S = 20.0  # to each side, to see how fast a climb passes an altitude


def missed_measures(scene: Scene, span: Span, leg: LegFields) -> MissedMeasures:
    """Where the climb began, past the missed approach point, and its mean rate."""
    why: list[str] = []
    point_nm, at = missed_approach_point_along_nm(scene), scene.at(span.start_s)
    past_nm = None if point_nm is None else known(along_nm(scene, at)[0] - point_nm)
    if circling_from_s(scene) is not None:
        past_nm = None
        why.append(tr("Start of the climb not measured: it began while circling, off the final course."))
    elif past_nm is None:
        why.append(
            tr("Start of the climb not measured: the missed approach point is not published or not known.")
        )
    view = scene.over(span.start_s, span.end_s)
    view = view.where(np.isfinite(view.altitude_ft))
    rate = None
    if len(view) > 1 and view.t_s[-1] - view.t_s[0] >= _SHORTEST_CLIMB_S:
        minutes = float(view.t_s[-1] - view.t_s[0]) / SECONDS_PER_MINUTE
        rate = float(view.altitude_ft[-1] - view.altitude_ft[0]) / minutes
    else:
        why.append(tr("Climb rate not measured: too little of the climb was observed."))
    path = missed_path(scene, span)
    why += path.why
    sure = {
        **path.sure,
        "start_past_point_nm": None if past_nm is None else _climb_sure_nm(scene, span),
        "climb_rate_ft_min": None if rate is None else climb_rate_sure_ft_min(scene, span, span.start_s),
    }
    return MissedMeasures(
        **with_reasons(leg, why, sure),
        start_past_point_nm=past_nm,
        climb_rate_ft_min=rate,
        course_off_deg=path.course_off_deg,
        course_uncertainty_deg=path.course_uncertainty_deg,
        turn=path.turn,
        turn_altitude_ft=path.turn_altitude_ft,
        level_altitude_ft=path.level_altitude_ft,
        level_from=None if path.level_s is None else scene.time(path.level_s),
    )


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


def _climb_sure_nm(scene: Scene, span: Span) -> float:
    """Half-width at 95 % of where the climb began: an altitude against the lowest, over the rate of the climb."""
    flight = scene.flight
    parts = log_errors.altitude_ft(flight)
    picked_ft, lowest_sd_ft = log_errors.greatest(
        tuple(part for part in parts if np.isfinite(part.lasts_s)), _lowest(scene, span.start_s).near_s
    )
    at = scene.at(span.start_s)
    after = scene.over(span.start_s, span.start_s + _CLIMB_OVER_S)
    rate_ft_min = mean(after.vertical_speed_ft_min, weights_s(after.t_s, after.segment))
    climb_ft_s = max(rate_ft_min or 0.0, _SLOWEST_CLIMB_FT_MIN) / SECONDS_PER_MINUTE
    moment = Moment(float(np.hypot(lowest_sd_ft, parts[0].sd)) / climb_ft_s, picked_ft / climb_ft_s)
    position_nm = log_errors.one(log_errors.position_nm(flight))
    return read_at(moment, float(at.groundspeed_kt[0]) / SECONDS_PER_HOUR, position_nm)


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


def landing_measures(scene: Scene, span: Span, leg: LegFields) -> LandingMeasures:
    """Where the aircraft touched down, and the logged altitude on the ground less the runway's elevation."""
    why: list[str] = []
    runway = runway_of(scene)
    past_nm = offset_ft = None
    at = scene.at(span.start_s)
    if runway is None:
        why.append(tr("Touchdown point not measured: the procedure has no runway."))
    else:
        threshold = place_nm(scene.procedure, runway)
        east_nm, north_nm = at.east_nm[0] - threshold[0], at.north_nm[0] - threshold[1]
        if np.hypot(east_nm, north_nm) > ELSEWHERE_NM:
            why.append(
                tr(
                    "Touchdown more than {distance:g} NM from the runway: it was made elsewhere.",
                    distance=ELSEWHERE_NM,
                )
            )
        else:
            past_nm = known(along_track_nm(east_nm, north_nm, runway.course_true_deg))
            view = scene.over(span.start_s, span.end_s)
            rolling_ft = view.altitude_ft[np.isfinite(view.altitude_ft)]
            if len(rolling_ft):
                offset_ft = float(np.median(rolling_ft)) - runway.elevation_ft
            else:
                why.append(tr("The log has no altitude on the ground."))
    return LandingMeasures(
        **with_reasons(leg, why),
        touchdown=scene.time(span.start_s),
        touchdown_past_threshold_nm=past_nm,
        logged_altitude_offset_ft=offset_ft,
    )
