"""The course reversal: pattern and side, how far it went, its timing, speeds and the turn back.

Owns      the numbers of one reversal.
Not here  naming its pattern (``pattern``), a racetrack's timing (``racetrack_leg``), the intercept it ends with
          (``intercept``), limits and verdicts (grading).
Source    What each measure means: DEVELOPERS.md, Definitions.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.legs import LegFields, with_reasons
from debrief.measures.log_errors import Parts
from debrief.measures.moments import (
    Moment,
    between,
    read_at,
    turn_edge,
    turn_edges,
    turn_rate_sure,
)
from debrief.measures.outbound import outbound_true_deg, turn_off_sure_nm
from debrief.measures.over_phase import range_sure
from debrief.measures.pattern import TEARDROP, Shape, between_legs, patterns_of, shape_of, turn_size_sure_deg
from debrief.measures.racetrack_leg import From, leg_from
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, mean, weights_s
from debrief.measures.turning import Episode
from debrief.measures.uncertainty import COVERAGE
from debrief.navigation.angles import difference_deg, unwrap_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import along_track_nm, cross_track_nm
from debrief.navigation.turns import bank_deg
from debrief.phases.model import Floats, Span, StationView
from debrief.procedures.model import Pattern
from debrief.result import ReversalMeasures

_JUST_BEFORE_S = 2.0  # not observed: the reversal began before the log did, or in a gap
_ENTRY_S = 3.0  # the entry speed is the mean of so long before and after
_ROLL_OUT_S = 20.0  # established already, the aircraft may still be turning
_ENOUGH_SHARE = 0.5  # of the reversal must have been observed to tell its side and pattern

_SIDE_BY_FIRST_TURN = (
    Pattern.PROCEDURE_TURN_45_180.value,
    Pattern.PROCEDURE_TURN_80_260.value,
    TEARDROP,
)

Side = Literal["left", "right"]


def reversal_measures(
    scene: Scene, span: Span, leg: LegFields, *, statistics: bool = True
) -> ReversalMeasures:
    """Measure one course reversal; without ``statistics`` only the half-widths that a rule asks for."""
    part = scene.part(span.start_s, span.end_s)
    view = scene.view.where(part)
    why: list[str] = []
    published = scene.procedure.reversal.pattern if scene.procedure.reversal is not None else None
    enough = span.end_s > span.start_s and leg["observed_s"] >= _ENOUGH_SHARE * leg["duration_s"]
    if len(view) == 0 or not enough:
        why.append(tr("Side and pattern not told: too little of the reversal was observed."))
        return ReversalMeasures(**with_reasons(leg, why))

    around = scene.part(span.start_s - 2.0 * _ENTRY_S, span.end_s + _ROLL_OUT_S)
    view_around = scene.view.where(around)
    shape = shape_of(view_around)
    legs, in_air = between_legs(scene, around, shape)
    begun = scene.at(span.start_s)
    complete = bool(scene.at(span.start_s - _JUST_BEFORE_S).segment[0] >= 0)
    turn_sure_deg = turn_size_sure_deg(scene, view)
    likeliest, *others = patterns_of(
        legs,
        published,
        _offset_deg(scene, span),
        turn_sure_deg=turn_sure_deg,
        pause_sure_s=scene.flight.log.median_interval_s / 2.0,
        in_air=in_air,
    )
    pattern = likeliest if complete and not others else None
    may_be = tuple(name for name in (likeliest, *others) if name is not None) if complete and others else ()
    if not complete:
        why.append(tr("Side and pattern not told: the beginning of the reversal was not observed."))
    elif others:
        why.append(
            tr(
                "Pattern not told: with samples {interval:.3g} s apart a turn is known to {sure:.0f}° only, and it may have "
                "been {patterns}.",
                interval=scene.flight.log.median_interval_s,
                sure=turn_sure_deg,
                patterns=tr(" or ").join(tr(name) for name in may_be),
            )
        )
    elif pattern is None:
        why.append(tr("Pattern not recognised from the turns."))
    entry = scene.part(span.start_s - _ENTRY_S, span.start_s + _ENTRY_S)
    entry_view = scene.view.where(entry)
    entry_s = weights_s(entry_view.t_s, entry_view.segment)
    kias = scene.air.kias[part]
    fastest_kt = float(np.nanmax(kias)) if np.isfinite(kias).any() else None
    begins = turn_edge(scene.flight, span.start_s)
    sure = _sure(scene, span, view, begins)
    if statistics and complete:
        sure |= _entry_sure(scene, entry, entry_s, begins)
    turn_rate, bank = _turn_back(scene, shape.back)
    racetrack_from = leg_from(scene, span) if likeliest == Pattern.RACETRACK.value else None
    if racetrack_from is None and likeliest == Pattern.RACETRACK.value:
        why.append(
            tr("Time of the racetrack's outbound leg not measured: passing the station was not observed.")
        )
    if statistics and racetrack_from is not None:
        sure["leg_seconds"] = between(racetrack_from.moment(), begins)
    if bank is None:
        why.append(tr("Bank not measured: no turn back was recognised."))
    elif not np.isfinite(scene.air.ktas[part]).any():
        why.append(tr("Bank found from ground speed: the wind and the true airspeed are not known."))
    return ReversalMeasures(
        **with_reasons(leg, why, sure | _turns_sure(scene, shape, likeliest, turn_rate, bank)),
        side=_side(scene, span, view, shape, likeliest) if complete else None,
        other_side_share=_other_side_share(scene, span, view, shape, likeliest) if complete else None,
        pattern=pattern,
        pattern_may_be=may_be,
        max_distance_nm=float(np.max(view.distance_nm)),
        turn_start_dme_nm=known(begun.dme_nm[0]) if complete else None,
        turn_start_distance_nm=known(begun.distance_nm[0]) if complete else None,
        width_nm=_width_nm(scene, view),
        entry_groundspeed_kt=mean(entry_view.groundspeed_kt, entry_s) if complete else None,
        entry_airspeed_kias=mean(scene.air.kias[entry], entry_s) if complete else None,
        max_airspeed_kias=fastest_kt,
        max_airspeed_uncertainty_kt=None if fastest_kt is None else known(_fastest_sure_kt(scene, part)),
        leg_seconds=_leg_seconds(span, shape, likeliest, racetrack_from),
        turn_rate_deg_s=turn_rate,
        bank_deg=bank,
    )


def _fastest_sure_kt(scene: Scene, part: slice) -> float:
    view, kias = scene.view.where(part), scene.air.kias[part]
    errors = scene.air.kias_errors_kt(scene.flight, float(np.nanmax(kias)), view.altitude_ft)
    return range_sure(errors, kias, weights_s(view.t_s, view.segment)).greatest


def _entry_sure(scene: Scene, entry: slice, entry_s: Floats, begins: Moment) -> dict[str, float | None]:
    """Half-widths at 95 % of the speeds at the entry: means over some seconds about a moment that is itself unsure."""
    flight, view, kias = scene.flight, scene.view.where(entry), scene.air.kias[entry]
    seconds = float(entry_s.sum())

    def speed_sure_kt(speed_kt: Floats, errors: Parts) -> float | None:
        there = np.isfinite(speed_kt)
        if there.sum() < 2:
            return None
        change_kt = float(np.diff(speed_kt[there][[0, -1]])[0])
        rate_kt_s = change_kt / float(np.diff(view.t_s[there][[0, -1]])[0])
        return read_at(begins, rate_kt_s, log_errors.mean(errors, seconds))

    errors = scene.air.kias_errors_kt(flight, mean(kias, entry_s) or 0.0, view.altitude_ft)
    return {
        "entry_groundspeed_kt": speed_sure_kt(view.groundspeed_kt, log_errors.velocity_kt(flight)),
        "entry_airspeed_kias": speed_sure_kt(kias, errors),
    }


def _sure(scene: Scene, span: Span, view: StationView, begins: Moment) -> dict[str, float | None]:
    """Half-widths at 95 % of the distances."""
    parts = log_errors.position_nm(scene.flight, turning=True)
    weight_s = weights_s(view.t_s, view.segment)
    distance_nm, dme_nm = turn_off_sure_nm(scene, span.start_s, begins)
    course_true_deg = _width_course_true_deg(scene)
    across_nm = np.abs(cross_track_nm(view.east_nm, view.north_nm, course_true_deg))
    most = int(np.argmax(across_nm))
    along = float(along_track_nm(view.east_nm[most], view.north_nm[most], course_true_deg))
    turned = float(np.radians(scene.procedure.station.alignment_within_deg)) * abs(along)
    return {
        "max_distance_nm": range_sure(parts, view.distance_nm, weight_s).greatest,
        "turn_start_distance_nm": distance_nm,
        "turn_start_dme_nm": dme_nm,
        "width_nm": range_sure(parts, across_nm, weight_s, rectangular=turned).greatest,
    }


def _turns_sure(
    scene: Scene, shape: Shape, pattern: str | None, rate_deg_s: float | None, bank: float | None
) -> dict[str, float | None]:
    """Half-widths at 95 % of the time from turn to turn, and of rate and bank of the turn back."""
    if shape.back is None:
        return {}
    first_s = shape.back.start_s if shape.first is None else shape.first.start_s
    first, begins, ends = turn_edges(scene.flight, [first_s, shape.back.start_s, shape.back.end_s])
    sure: dict[str, float | None] = {}
    if shape.first is not None and pattern != Pattern.RACETRACK.value:
        sure["leg_seconds"] = between(first, begins)
    if rate_deg_s is None or not shape.back.seconds > 0:
        return sure
    normal_deg_s, bias_deg_s = turn_rate_sure(rate_deg_s, shape.back.seconds, begins, ends)
    sure["turn_rate_deg_s"] = half_width(normal_deg_s, bias=bias_deg_s)
    wind = scene.wind
    if bank is not None and wind is not None and wind.tas_kt and wind.tas_uncertainty_kt is not None:
        # tan(bank) = speed x rate / g: both move it by their own share
        steep = float(np.degrees(np.sin(np.radians(bank)) * np.cos(np.radians(bank))))
        speed = wind.tas_uncertainty_kt / COVERAGE / wind.tas_kt
        normal = steep * float(np.hypot(normal_deg_s / rate_deg_s, speed))
        sure["bank_deg"] = half_width(normal, bias=steep * bias_deg_s / rate_deg_s)
    return sure


def _offset_deg(scene: Scene, span: Span) -> float | None:
    """The ground track off the outbound course in the seconds before the reversal."""
    before = scene.over(span.start_s - 4.0 * _ENTRY_S, span.start_s - _ENTRY_S)
    if len(before) == 0:
        return None
    off_deg = difference_deg(before.ground_track_true_deg, outbound_true_deg(scene))
    return mean(off_deg, weights_s(before.t_s, before.segment))


def _is_racetrack(scene: Scene) -> bool:
    outbound = scene.procedure.outbound
    return outbound is not None and outbound.radial_deg is None


def _side(scene: Scene, span: Span, view: StationView, shape: Shape, pattern: str | None) -> Side | None:
    """The side of the outbound course on which it was flown; of a racetrack, the side of its turns.

    By the first turn of a pattern that has one: an overshoot on the way back may lead farther to the other side.
    Else by the larger excursion from the line parallel to the outbound course on which the turn began.
    """
    if pattern == Pattern.RACETRACK.value and shape.back is not None:
        return "right" if shape.back.change_deg > 0 else "left"
    if pattern in _SIDE_BY_FIRST_TURN and shape.first is not None:
        return "right" if shape.first.change_deg > 0 else "left"
    right_nm, left_nm = _excursions_nm(scene, span, view)
    if max(right_nm, left_nm) <= 0:
        return None
    return "right" if right_nm > left_nm else "left"


def _other_side_share(
    scene: Scene, span: Span, view: StationView, shape: Shape, pattern: str | None
) -> float | None:
    """How far it went to the other side, as a share of that by which alone the side is told.

    Of a pattern that is not known, or that would begin with a turn to its side where none was found.
    """
    if pattern is not None and not (pattern in _SIDE_BY_FIRST_TURN and shape.first is None):
        return None
    nearer_nm, farther_nm = sorted(_excursions_nm(scene, span, view))
    return max(nearer_nm, 0.0) / farther_nm if farther_nm > 0.0 else None


def _excursions_nm(scene: Scene, span: Span, view: StationView) -> tuple[float, float]:
    """Farthest to the right and to the left of the line parallel to the outbound course on which the turn began. [NM]"""
    out_deg = outbound_true_deg(scene)
    across_nm = cross_track_nm(view.east_nm, view.north_nm, out_deg)
    begun = scene.at(span.start_s)
    start_nm = float(cross_track_nm(begun.east_nm, begun.north_nm, out_deg)[0])
    across_nm = across_nm - (start_nm if np.isfinite(start_nm) else 0.0)
    return float(np.max(across_nm)), -float(np.min(across_nm))


def _width_nm(scene: Scene, view: StationView) -> float | None:
    """Farthest to the side of the outbound course; of a racetrack, of the inbound course. [NM]"""
    across_nm = cross_track_nm(view.east_nm, view.north_nm, _width_course_true_deg(scene))
    return known(np.max(np.abs(across_nm)))


def _width_course_true_deg(scene: Scene) -> float:
    if _is_racetrack(scene):
        return scene.procedure.true_deg(scene.procedure.inbound_course_deg)
    return outbound_true_deg(scene)


def _turn_back(scene: Scene, back: Episode | None) -> tuple[float | None, float | None]:
    """Mean rate of the turn back over the ground [deg/s], and the bank that it implies [deg].

    The bank comes from the turn of the heading and the true airspeed where both are known; else from the
    ground track and the ground speed, which the wind makes wrong.
    """
    if back is None or back.seconds <= 0:
        return None, None
    rate = abs(back.change_deg) / back.seconds
    part = scene.part(back.start_s, back.end_s)
    view = scene.view.where(part)
    weight_s = weights_s(view.t_s, view.segment)
    tas_kt, heading = mean(scene.air.ktas[part], weight_s), scene.air.heading_true_deg[part]
    there = np.isfinite(heading)
    if tas_kt is not None and there.sum() > 1:
        turned_deg = np.diff(unwrap_deg(heading[there])[[0, -1]])[0]
        over_s = float(np.diff(view.t_s[there][[0, -1]])[0])
        return rate, known(abs(bank_deg(tas_kt, float(turned_deg) / over_s)))
    speed_kt = mean(view.groundspeed_kt, weight_s)
    return rate, None if speed_kt is None else known(abs(bank_deg(speed_kt, rate)))


def _leg_seconds(span: Span, shape: Shape, pattern: str | None, racetrack_from: From | None) -> float | None:
    """Start of the first turn to the start of the turn back; of a racetrack, the outbound leg's own timing."""
    if shape.back is None:
        return None
    if pattern == Pattern.RACETRACK.value:
        return None if racetrack_from is None else span.start_s - racetrack_from.t_s
    return None if shape.first is None else shape.back.start_s - shape.first.start_s
