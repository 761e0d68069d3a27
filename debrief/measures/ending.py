"""How an approach ends: the missed approach and the landing.

Owns      where the climb begins and how fast it is; where the aircraft touched down, and what the log's altitude
          reads there.
Not here  whether the runway was to be seen (nobody knows), the descent before (``descent``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.climb import climb_rate_sure_ft_min, climb_sure_nm
from debrief.measures.final_track import along_nm, missed_approach_point_along_nm
from debrief.measures.landing_runway import circling_from_s, runway_of
from debrief.measures.legs import LegFields, with_reasons
from debrief.measures.missed import missed_path
from debrief.measures.moments import read_at
from debrief.measures.scene import Scene
from debrief.measures.statistics import known
from debrief.measures.touchdown import touchdown
from debrief.measures.uncertainty import COVERAGE
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import along_track_nm
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.ending import LOWEST_WITHIN_FT
from debrief.phases.model import Span
from debrief.procedures.geometry import place_nm
from debrief.result import LandingMeasures, MissedMeasures
from debrief.tracks.altitude import LANDED_FT

#: A touchdown farther than this from the published runway was made elsewhere. [NM]
ELSEWHERE_NM = 3.0
_SHORTEST_CLIMB_S = 3.0
_LEVEL_S = 20.0  # within 50 ft of the top, where a climb at 500 ft/min takes 6 s


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
    climbs = replace(span, end_s=_climbs_until_s(scene, span))
    view = scene.over(climbs.start_s, climbs.end_s)
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
        "start_past_point_nm": None if past_nm is None else climb_sure_nm(scene, span),
        "climb_rate_ft_min": None if rate is None else climb_rate_sure_ft_min(scene, climbs, climbs.start_s),
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


def _climbs_until_s(scene: Scene, span: Span) -> float:
    """Until when the aircraft climbs: to the end, or to where it levels off below the altitude that ends the phase. [s]"""
    view = scene.over(span.start_s, span.end_s)
    view = view.where(np.isfinite(view.altitude_ft))
    if len(view) == 0:
        return span.end_s
    near_top = view.altitude_ft >= float(np.max(view.altitude_ft)) - LOWEST_WITHIN_FT
    level_s = float(view.t_s[np.argmax(near_top)])
    return level_s if span.end_s - level_s >= _LEVEL_S else span.end_s


def landing_measures(scene: Scene, span: Span, leg: LegFields) -> LandingMeasures:
    """Where the aircraft touched down, and the logged altitude on the ground less the runway's elevation."""
    why: list[str] = []
    runway = runway_of(scene)
    past_nm = offset_ft = None
    landed = touchdown(scene, span.start_s)
    sure: dict[str, float | None] = {} if landed is None else {"touchdown": landed.half_width_s}
    if landed is None:
        why.append(
            tr(
                "How sure the touchdown is cannot be told: the speeds show no braking there, and nothing else tells it."
            )
        )
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
            position_nm = log_errors.one(log_errors.position_nm(scene.flight))
            if landed is not None:
                rate_nm_s = float(at.groundspeed_kt[0]) / SECONDS_PER_HOUR
                sure["touchdown_past_threshold_nm"] = read_at(landed, rate_nm_s, position_nm)
            view = scene.over(span.start_s, span.end_s)
            rolling_ft = view.altitude_ft[np.isfinite(view.altitude_ft)]
            if len(rolling_ft):
                offset_ft = float(np.median(rolling_ft)) - runway.elevation_ft
                sure["logged_altitude_offset_ft"] = _offset_sure_ft(scene, float(np.ptp(view.t_s)))
            else:
                why.append(tr("The log has no altitude on the ground."))
    return LandingMeasures(
        **with_reasons(leg, why, sure),
        touchdown=scene.time(span.start_s),
        touchdown_past_threshold_nm=past_nm,
        logged_altitude_offset_ft=offset_ft,
    )


def _offset_sure_ft(scene: Scene, seconds: float) -> float:
    """Half-width at 95 % of what the log reads on the runway: its noise and wander there, the runway's own slope. [ft]

    What stays wrong with its source is what is measured.
    """
    errors = scene.flight.log.altitude_errors
    parts = tuple(part for part in log_errors.altitude_ft(scene.flight) if np.isfinite(part.lasts_s))
    normal_ft = float(np.hypot(log_errors.mean(parts, seconds), LANDED_FT / COVERAGE))
    return half_width(normal_ft, rectangular=errors.step_ft / 2.0)
