"""The descent on final: where it began, its angle and rate, levelling off at the minimum.

Owns      those numbers, and the angle that the distances and altitudes require.
Not here  limits (``minimum``), the stabilised gates (``gates``), the formulas (navigation.descent).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.measures import log_errors, uncertainty
from debrief.measures.final_track import (
    along_nm,
    final_fix,
    missed_approach_point_along_nm,
    to_threshold,
)
from debrief.measures.landing_runway import runway_of
from debrief.measures.minimum import minimum_ft
from debrief.measures.moments import altitude_passing_ft, over_limit, passing, read_at
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, weights_s
from debrief.measures.stretches import Stretch, stretches
from debrief.navigation.descent import THRESHOLD_CROSSING_FT, angle_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import along_track_nm
from debrief.navigation.units import FEET_PER_NM, SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.model import Flight, Floats, StationView
from debrief.procedures.geometry import final_course_true_deg, place_nm
from debrief.procedures.model import Phase

#: A descent: sinking faster than this, and going on for so long and so far. Mark: common practice.
DESCENDING_FT_MIN = 200.0
_GOES_ON_S = 10.0
_GOES_ON_FT = 100.0
_PAUSE_S = 5.0
#: Level at the minimum: slower than ``DESCENDING_FT_MIN`` within this of it for so long. Mark: common practice.
AT_MINIMUM_FT = 100.0
_LEVEL_S = 5.0
#: The greatest rate is that over this time. Source: DEVELOPERS.md, Definitions.
RATE_OVER_S = 10.0

#: Steeper than this nobody flies an aeroplane down a final: at 90 kt it is 1,600 ft/min. Mark: common practice.
STEEPEST_FLYABLE_DEG = 10.0

_JOINS_S = 1.0
_BESIDE_S = 2.0  # to each side, for how fast a descent steepens
_SAME_FT_MIN = 20.0
_LEAST_SINKING_FT_MIN = 50.0  # a limit below this would take level flight in
_NEAR_THE_MEDIAN = 0.25  # share of all slopes that tell how their median moves
_MOST_POINTS = 80  # of the fitted descent: its slopes are taken between all pairs


@dataclass(frozen=True, slots=True, kw_only=True)
class Descent:
    """The descent part of a final's measures; ``None`` with a reason in ``why`` where not measured."""

    start_s: float | None = None
    start_along_nm: float | None = None
    angle_deg: float | None = None
    required_angle_deg: float | None = None
    max_rate_ft_min: float | None = None
    max_rate_s: float | None = None
    max_rate_uncertainty_ft_min: float | None = None
    level_off_s: float | None = None
    level_off_altitude_ft: float | None = None
    sure: Mapping[str, float | None] = field(default_factory=dict)  # half-widths at 95 %, by name
    why: tuple[str, ...] = ()


def descent(scene: Scene, *, statistics: bool = True) -> Descent:
    """Measure the descent of the final that led to the end of the attempt; its half-widths with ``statistics`` only."""
    span = scene.span(Phase.FINAL)
    assert span is not None
    view = scene.over(span.start_s, span.end_s)
    view = view.where(np.isfinite(view.altitude_ft))
    if len(view) < 2:
        return Descent(why=(tr("Descent not measured: the log has no altitude there."),))
    why: list[str] = []
    fix = final_fix(scene)
    fix_s = span.start_s if fix is None else fix.t_s
    begun = _descent_from(scene, fix_s, span.end_s)
    start_s = start_along_nm = angle = None
    if begun is None:
        why.append(tr("No descent of 100 ft and more was flown on the final."))
    else:
        start_s = begun.start_s
        start_along_nm = known(along_nm(scene, scene.at(start_s))[0])
        angle = angle_flown_deg(scene.over(start_s, span.end_s))
    required, required_sure_deg, why_none_required = _required_angle_deg(scene, fix_s)
    if why_none_required:
        why.append(why_none_required)
    rate, rate_s, rate_sure = max_descent_rate(scene.flight, view)
    level = _level_off(scene, view)
    sure = _sure(scene, start_s, span.end_s, level) if statistics else {}
    if statistics:
        sure["required_angle_deg"] = required_sure_deg
        if start_s is not None and "descent_start" not in sure:
            why.append(
                tr(
                    "How sure the descent's beginning is cannot be told: the aircraft was already descending where the "
                    "view of it begins."
                )
            )
    return Descent(
        start_s=start_s,
        start_along_nm=start_along_nm,
        angle_deg=angle,
        required_angle_deg=required,
        max_rate_ft_min=rate,
        max_rate_s=rate_s,
        max_rate_uncertainty_ft_min=rate_sure,
        level_off_s=None if level is None else level.start_s,
        level_off_altitude_ft=None if level is None else float(np.mean(view.altitude_ft[level.part])),
        sure=sure,
        why=tuple(why),
    )


def _sure(
    scene: Scene, start_s: float | None, end_s: float, level: Stretch | None
) -> dict[str, float | None]:
    """Half-widths at 95 % of where the descent began, of its angle, and of the altitude once level."""
    flight, sure = scene.flight, dict[str, float | None]()
    if start_s is not None:
        view = flight.at(np.array([start_s - _BESIDE_S, start_s, start_s + _BESIDE_S]))
        wrong_ft_min = log_errors.one(log_errors.vertical_speed_ft_min(flight))
        rates_ft_min = view.vertical_speed_ft_min
        if abs(float(rates_ft_min[1]) + DESCENDING_FT_MIN) <= log_errors.NEAR * wrong_ft_min + _SAME_FT_MIN:
            begins = passing(float(rates_ft_min[2] - rates_ft_min[0]) / (2.0 * _BESIDE_S), wrong_ft_min)
            position_nm = log_errors.one(log_errors.position_nm(flight))
            along_nm_s = float(view.groundspeed_kt[1]) / SECONDS_PER_HOUR
            sure["descent_start"] = begins.half_width_s
            sure["descent_start_distance_nm"] = read_at(begins, along_nm_s, position_nm)
        sure["descent_angle_deg"] = angle_sure_deg(flight, scene.over(start_s, end_s))
    if level is not None:
        sure["level_off_altitude_ft"] = uncertainty.mean_altitude_ft(flight, level.seconds)
    return sure


def _descents(view: StationView) -> list[Stretch]:
    """Stretches of sinking faster than 200 ft/min that go on."""
    sinking = stretches(
        view.t_s, -view.vertical_speed_ft_min - DESCENDING_FT_MIN, view.segment, pause_s=_PAUSE_S
    )
    return [
        s
        for s in sinking
        if s.seconds >= _GOES_ON_S and view.altitude_ft[s.first] - view.altitude_ft[s.last] >= _GOES_ON_FT
    ]


def _descent_from(scene: Scene, fix_s: float, end_s: float) -> Stretch | None:
    """The descent going on at the final fix, or the first after it; it may have begun before."""
    before = scene.span(Phase.INTERMEDIATE) or scene.span(Phase.COURSE_REVERSAL) or scene.span(Phase.INBOUND)
    view = scene.over(fix_s if before is None else min(before.start_s, fix_s), end_s)
    view = view.where(np.isfinite(view.altitude_ft))
    return next((s for s in _descents(view) if s.end_s > fix_s), None)


@dataclass(frozen=True, slots=True, eq=False)
class _Slopes:
    """Points of the descending parts, put one after the other, and the slopes between all pairs of them."""

    t_s: Floats
    slope_ft_nm: Floats
    apart_nm: Floats
    first: NDArray[np.int64]  # of each pair, as an index of a point
    second: NDArray[np.int64]


def angle_flown_deg(view: StationView, sinking_ft_min: float = DESCENDING_FT_MIN) -> float | None:
    """Angle over the ground of the descending parts: the median of all slopes between their points. [deg]

    ``None`` where nothing of 100 ft and more was flown down. The level parts of a stepped descent do not count.
    The median of slopes (Theil and Sen) does not mind a few wrong altitudes.
    """
    slopes = _slopes(view, sinking_ft_min)
    return None if slopes is None else angle_deg(float(np.median(slopes.slope_ft_nm)), 1.0)


def angle_sure_deg(flight: Flight, view: StationView) -> float:
    """Half-width at 95 % of ``angle_flown_deg``. [deg]

    A median moves as those move that lie next to it: the error of each altitude, and of the way flown, counts by the
    slopes there to which it belongs. Besides, which parts count as descending hangs on a vertical speed that is itself unsure.
    """
    slopes = _slopes(view, DESCENDING_FT_MIN)
    if slopes is None:
        return np.nan
    median_ft_nm = float(np.median(slopes.slope_ft_nm))
    off = np.abs(slopes.slope_ft_nm - median_ft_nm)
    nearest = max(1, int(len(off) * _NEAR_THE_MEDIAN))
    near = np.argpartition(off, nearest - 1)[:nearest]
    share = 1.0 / slopes.apart_nm[near] / len(near)
    count = len(slopes.t_s)
    weights: Floats = np.bincount(slopes.first[near], share, count).astype(np.float64)
    weights -= np.bincount(slopes.second[near], share, count)
    by_altitude = log_errors.weighted(log_errors.altitude_ft(flight), slopes.t_s, weights)
    by_way = log_errors.weighted(log_errors.position_nm(flight), slopes.t_s, weights)
    ft_per_nm = float(np.hypot(by_altitude, median_ft_nm * by_way))
    here_deg = angle_deg(median_ft_nm, 1.0)

    def angle_at(limit_ft_min: float) -> float | None:
        return here_deg if limit_ft_min == DESCENDING_FT_MIN else angle_flown_deg(view, limit_ft_min)

    chosen_deg = over_limit(
        angle_at,
        DESCENDING_FT_MIN,
        log_errors.one(log_errors.vertical_speed_ft_min(flight)),
        least=_LEAST_SINKING_FT_MIN,
    )
    steep = float(np.cos(np.radians(here_deg))) ** 2
    return half_width(float(np.hypot(np.degrees(ft_per_nm / FEET_PER_NM) * steep, chosen_deg)))


def _slopes(view: StationView, sinking_ft_min: float) -> _Slopes | None:
    view = view.where(np.isfinite(view.altitude_ft))
    if not _descents(view):
        return None
    sinking = view.vertical_speed_ft_min < -sinking_ft_min
    pair = sinking[1:] & sinking[:-1] & (np.diff(view.segment) == 0)
    if pair.sum() < 2:
        return None
    step_s = np.diff(view.t_s)
    speed_kt = (view.groundspeed_kt[1:] + view.groundspeed_kt[:-1]) / 2.0
    flown_nm = np.cumsum(np.where(pair, speed_kt * step_s / SECONDS_PER_HOUR, 0.0))[pair]
    lost_ft = np.cumsum(np.where(pair, -np.diff(view.altitude_ft), 0.0))[pair]
    # at even distances, so that no step of the view decides
    at_nm = np.linspace(flown_nm[0], flown_nm[-1], min(len(flown_nm), _MOST_POINTS))
    at_ft, at_s = np.interp(at_nm, flown_nm, lost_ft), np.interp(at_nm, flown_nm, view.t_s[1:][pair])
    first, second = _pairs(len(at_nm))
    apart_nm = at_nm[second] - at_nm[first]
    if not (apart_nm > 0).all():
        return None
    return _Slopes(at_s, (at_ft[second] - at_ft[first]) / apart_nm, apart_nm, first, second)


@lru_cache(maxsize=_MOST_POINTS)
def _pairs(count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The indices of each pair of so many points, the first and the second."""
    first, second = np.triu_indices(count, k=1)
    return first, second


def _required_angle_deg(scene: Scene, fix_s: float) -> tuple[float | None, float | None, str]:
    """The published angle, else from the altitude at the fix to 50 ft over the threshold, or to the minimum [deg].

    And its half-width at 95 %, by that of the altitude; none where it is published. And why there is none.
    """
    final = scene.procedure.final
    if final is not None and final.descent_angle_deg is not None:
        return final.descent_angle_deg, None, ""
    at = scene.at(fix_s)
    ahead = to_threshold(scene, at)
    runway = scene.procedure.runway
    if ahead is not None and runway is not None:
        height_ft = float(at.altitude_ft[0]) - runway.elevation_ft - THRESHOLD_CROSSING_FT
        return _required(scene, at, height_ft, float(ahead[0][0]))
    point_nm = missed_approach_point_along_nm(scene)
    if point_nm is None or final is None or final.altitude is None or final.altitude.low_ft is None:
        none = tr(
            "Required angle not known: the procedure publishes none, and has no runway or missed "
            "approach point."
        )
        return None, None, none
    height_ft = float(at.altitude_ft[0]) - final.altitude.low_ft
    return _required(scene, at, height_ft, point_nm - float(along_nm(scene, at)[0]))


def angle_from_deg(scene: Scene, altitude_ft: float) -> float | None:
    """What a final takes down from an altitude at its fix to 50 ft over the threshold, or to the minimum. [deg]

    The fix is the station; with that on the aerodrome it is where the final was begun, out of a reversal. ``None`` where
    the final's beginning is not known, nothing tells where it ends, or no descent is left that can be flown.
    """
    span, reversal = scene.span(Phase.FINAL), scene.span(Phase.COURSE_REVERSAL)
    procedure, runway = scene.procedure, runway_of(scene)
    at_nm = (0.0, 0.0)
    if procedure.station_on_aerodrome:
        if span is None or reversal is None or abs(span.start_s - reversal.end_s) > _JOINS_S:
            return None
        at = scene.at(span.start_s)
        at_nm = (float(at.east_nm[0]), float(at.north_nm[0]))
    if runway is not None:
        threshold_nm = place_nm(procedure, runway)
        foot_ft = runway.elevation_ft + THRESHOLD_CROSSING_FT
        to_go_nm = float(np.hypot(threshold_nm[0] - at_nm[0], threshold_nm[1] - at_nm[1]))
    else:
        low_ft, point_nm = procedure.low_ft("final"), missed_approach_point_along_nm(scene)
        if low_ft is None or point_nm is None:
            return None
        foot_ft = low_ft
        to_go_nm = point_nm - float(along_track_nm(*at_nm, final_course_true_deg(procedure)))
    required_deg = known(angle_deg(altitude_ft - foot_ft, to_go_nm))
    return required_deg if required_deg is not None and 0.0 < required_deg <= STEEPEST_FLYABLE_DEG else None


def _required(
    scene: Scene, at: StationView, height_ft: float, to_go_nm: float
) -> tuple[float | None, float | None, str]:
    if not np.isfinite(height_ft):
        return None, None, tr("Required angle not known: the log has no altitude where the final begins.")
    required_deg = known(angle_deg(height_ft, to_go_nm))
    if required_deg is None or required_deg <= 0.0:
        return None, None, tr("Required angle not known: the final began where no descent was left to fly.")
    if required_deg > STEEPEST_FLYABLE_DEG:
        steep_why = tr(
            "Required angle: none that can be flown. Where the final began, {height:,.0f} ft were to be lost in "
            "{to_go:.1f} NM, at {required:.0f}°: too high to come down from, so nothing is compared with it.",
            height=round(height_ft, -1),
            to_go=to_go_nm,
            required=required_deg,
        )
        return None, None, steep_why
    steep = float(np.cos(np.radians(required_deg))) ** 2
    sure_deg = float(np.degrees(altitude_passing_ft(scene.flight, at) / FEET_PER_NM / to_go_nm)) * steep
    return required_deg, sure_deg, ""


def max_descent_rate(flight: Flight, view: StationView) -> tuple[float | None, float | None, float | None]:
    """Greatest rate of descent over 10 s, down positive [ft/min], the middle of those seconds [s], its half-width.

    Over the whole where it is shorter; ``None`` where no two altitudes belong together.
    """
    rate, middle_s = rates_over(view, RATE_OVER_S)
    if not np.isfinite(rate).any():
        return None, None, None
    most = int(np.nanargmax(rate))
    sure = greatest_rate_ft_min(flight, view, RATE_OVER_S)
    return float(rate[most]), float(middle_s[most]), known(sure)


def greatest_rate_ft_min(flight: Flight, view: StationView, seconds: float) -> float:
    """Half-width at 95 % of the greatest rate of descent over so many seconds in a view. [ft/min]

    ``nan`` where no rate is known.
    """
    rate, _ = rates_over(view, seconds)
    if not np.isfinite(rate).any():
        return float("nan")
    near = rate >= np.nanmax(rate) - uncertainty.near_rate_ft_min(flight, seconds)
    return uncertainty.greatest_rate_ft_min(
        flight, seconds, float(weights_s(view.t_s, view.segment)[near].sum())
    )


def rates_over(view: StationView, seconds: float) -> tuple[Floats, Floats]:
    """Rate of descent [ft/min, down positive] over the ``seconds`` from each moment, and their middles [s].

    ``nan`` where they reach across a gap or beyond the end (but for a view shorter than ``seconds``).
    """
    t_s = view.t_s
    if len(t_s) < 2:
        return np.full(len(t_s), np.nan), t_s
    width_s = min(seconds, float(t_s[-1] - t_s[0]))
    later = np.clip(np.searchsorted(t_s, t_s + width_s - 1e-9), 0, len(t_s) - 1)
    over_s = np.interp(t_s + width_s, t_s, view.altitude_ft)
    whole = (view.segment[later] == view.segment) & (t_s + width_s <= t_s[-1] + 1e-9) & (width_s > 0)
    rate = np.where(whole, (view.altitude_ft - over_s) / max(width_s, 1e-9) * SECONDS_PER_MINUTE, np.nan)
    return rate, t_s + width_s / 2.0


def _level_off(scene: Scene, view: StationView) -> Stretch | None:
    """First level flight at the minimum, which is another one where the aircraft circles."""
    low_ft = minimum_ft(scene)
    if low_ft is None:
        return None
    level = np.minimum(
        DESCENDING_FT_MIN - np.abs(view.vertical_speed_ft_min),
        AT_MINIMUM_FT - np.abs(view.altitude_ft - low_ft),
    )
    for stretch in stretches(view.t_s, level, view.segment, pause_s=2.0):
        if stretch.seconds >= _LEVEL_S:
            return stretch
    return None
