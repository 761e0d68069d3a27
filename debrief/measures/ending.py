"""How an approach ends: the missed approach and the landing.

Owns      where the climb begins and how fast it is; where the aircraft touched down, and what the log's altitude
          reads there.
Not here  whether the runway was to be seen (nobody knows), the descent before (``descent``).
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors, uncertainty
from debrief.measures.final_track import along_nm, missed_approach_point_along_nm
from debrief.measures.legs import LegFields, with_reasons
from debrief.measures.missed import missed_path
from debrief.measures.moments import Moment, read_at
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, known, mean, weights_s
from debrief.navigation.radials import along_track_nm
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.model import Span
from debrief.procedures.geometry import threshold_nm
from debrief.result import LandingMeasures, MissedMeasures

#: A touchdown farther than this from the published runway was made elsewhere. [NM]
ELSEWHERE_NM = 3.0
_SHORTEST_CLIMB_S = 3.0
_LOWEST_BEFORE_S = 120.0  # the lowest altitude lies within so long before the climb
_CLIMB_OVER_S = 5.0
_SLOWEST_CLIMB_FT_MIN = 100.0


def missed_measures(scene: Scene, span: Span, leg: LegFields) -> MissedMeasures:
    """Where the climb began, past the missed approach point, and its mean rate."""
    why: list[str] = []
    point_nm, at = missed_approach_point_along_nm(scene), scene.at(span.start_s)
    past_nm = None if point_nm is None else known(along_nm(scene, at)[0] - point_nm)
    if past_nm is None:
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
    return MissedMeasures(
        **with_reasons(leg, why),
        start_past_point_nm=past_nm,
        climb_rate_ft_min=rate,
        course_off_deg=path.course_off_deg,
        course_uncertainty_deg=path.course_uncertainty_deg,
        turn=path.turn,
        turn_altitude_ft=path.turn_altitude_ft,
        level_altitude_ft=path.level_altitude_ft,
        level_from=None if path.level_s is None else scene.time(path.level_s),
        uncertainties=all_known(
            {
                "start_past_point_nm": None if past_nm is None else _climb_sure_nm(scene, span),
                "climb_rate_ft_min": None
                if rate is None
                else uncertainty.rate_over_ft_min(scene.flight, float(view.t_s[-1] - view.t_s[0])),
            }
        ),
    )


def _climb_sure_nm(scene: Scene, span: Span) -> float:
    """Half-width at 95 % of where the climb began: an altitude against the lowest, over the rate of the climb.

    The lowest of many altitudes is picked out by its error.
    """
    flight = scene.flight
    before = scene.over(span.start_s - _LOWEST_BEFORE_S, span.start_s)
    parts = log_errors.altitude_ft(flight)
    lowest_ft = float(np.nanmin(before.altitude_ft)) if np.isfinite(before.altitude_ft).any() else np.nan
    near = before.altitude_ft <= lowest_ft + log_errors.NEAR * log_errors.changing(parts)
    near_s = float(weights_s(before.t_s, before.segment)[near].sum()) if len(before) else 0.0
    picked_ft, lowest_sd_ft = log_errors.greatest(
        tuple(part for part in parts if np.isfinite(part.lasts_s)), near_s
    )
    at = scene.at(span.start_s)
    after = scene.over(span.start_s, span.start_s + _CLIMB_OVER_S)
    rate_ft_min = mean(after.vertical_speed_ft_min, weights_s(after.t_s, after.segment))
    climb_ft_s = max(rate_ft_min or 0.0, _SLOWEST_CLIMB_FT_MIN) / SECONDS_PER_MINUTE
    moment = Moment(float(np.hypot(lowest_sd_ft, parts[0].sd)) / climb_ft_s, picked_ft / climb_ft_s)
    position_nm = log_errors.one(log_errors.position_nm(flight))
    return read_at(moment, float(at.groundspeed_kt[0]) / SECONDS_PER_HOUR, position_nm)


def landing_measures(scene: Scene, span: Span, leg: LegFields) -> LandingMeasures:
    """Where the aircraft touched down, and the logged altitude on the ground less the runway's elevation."""
    why: list[str] = []
    runway, threshold = scene.procedure.runway, threshold_nm(scene.procedure)
    past_nm = offset_ft = None
    at = scene.at(span.start_s)
    if runway is None or threshold is None:
        why.append(tr("Touchdown point not measured: the procedure has no runway."))
    else:
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
