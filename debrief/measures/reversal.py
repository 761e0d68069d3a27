"""The course reversal: pattern and side, how far it went, its timing, speeds and the turn back.

Owns      recognising the pattern from the signs and sizes of the turns; the numbers of one reversal.
Not here  the intercept it ends with (``intercept``), limits and verdicts (grading).
Source    Shapes of the patterns: ICAO Doc 8168 Vol II, I-4-3, 3.5.4 (mark: seen, 2nd hand, 3.5.4.1's first element
          seen); the ranges below leave room for wind, which changes a turn of the track: common practice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.legs import LegFields, with_reasons
from debrief.measures.log_errors import Parts
from debrief.measures.moments import (
    Moment,
    between,
    closest_point,
    passing,
    read_at,
    turn_edge,
    turn_edges,
    turn_end,
    turn_rate_sure,
)
from debrief.measures.outbound import turn_off_sure_nm
from debrief.measures.over_phase import range_sure
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, mean, weights_s
from debrief.measures.turning import Episode, episodes
from debrief.measures.uncertainty import COVERAGE
from debrief.navigation.angles import difference_deg, unwrap_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import along_track_nm, cross_track_nm
from debrief.navigation.turns import bank_deg
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.events import SHALLOW_TURN_DEG
from debrief.phases.model import Floats, Span, StationView
from debrief.procedures.model import Pattern, Phase
from debrief.result import ReversalMeasures

TEARDROP = "teardrop"
STRAIGHT_TURN = "straight turn"

_LEAST_TURN_DEG = SHALLOW_TURN_DEG
_ONE_TURN_PAUSE_S = 4.0  # two parts of one turn; the leg of a 45/180 and its intercept are longer
_FIRST_TURN_DEG = (SHALLOW_TURN_DEG, 110.0)
_BACK_DEG = (120.0, 320.0)
_LONG_BACK_DEG = 150.0  # of an 80/260: not 260 where an intercept is flown before the rest
_STEEP_FIRST_DEG = (
    80.0  # a first turn with a leg after it is of 45 degrees, whatever the wind makes of it ...
)
_STEEP_AT_ONCE_DEG = 55.0  # ... and one that is reversed at once is of 80
#: Nearly the whole way round behind so steep a turn: an 80/260 with a leg in it, flown against the wind.
_STEEP_AND_ROUND_DEG = (70.0, 240.0)
_STEEP_IN_AIR_DEG = 62.5  # midway between 45 and 80, where the heading is known: no wind is in it
_ROUND_AT_ONCE_DEG = (
    240.0  # back, with no leg before: what is left of 260 where the first turn fell short of 80
)
_TURN_OFF_DEG = 45.0
_TEARDROP_FIRST_DEG = 36.0  # 30 degrees off, less than the 45 of a procedure turn
_TEARDROP_BACK_DEG = 195.0
_AT_ONCE_S = 15.0  # an 80/260 has no leg between its turns
_SHORT_LEG_S = 30.0  # the leg of a 45/180 is longer
_ROLLING_S = 3.0  # a turn goes on for so long before and after its rate passes that of turning
_OFFSET_DEG = (12.0, 50.0)  # of a teardrop's outbound track
_JUST_BEFORE_S = 2.0  # not observed: the reversal began before the log did, or in a gap
_ENTRY_S = 3.0  # the entry speed is the mean of so long before and after
_TURN_S = 60.0  # a turn right round at the standard rate takes no longer
_ROLL_OUT_S = 20.0  # established already, the aircraft may still be turning
_ENOUGH_SHARE = 0.5  # of the reversal must have been observed to tell its side and pattern

_SIDE_BY_FIRST_TURN = (
    Pattern.PROCEDURE_TURN_45_180.value,
    Pattern.PROCEDURE_TURN_80_260.value,
    TEARDROP,
)

Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Shape:
    """The turns of a reversal: ``first`` off the course (``None`` where there is only one) and ``back``."""

    first: Episode | None
    back: Episode | None


def shape_of(view: StationView) -> Shape:
    """Take the turns apart: the turn back is the largest, the first is one the other way before it.

    A circle for spacing, before or behind, is larger, and none of the pattern's turns.
    """
    turns = episodes(view, _LEAST_TURN_DEG, pause_s=_ONE_TURN_PAUSE_S)
    back = max(
        (turn for turn in turns if _BACK_DEG[0] <= abs(turn.change_deg) <= _BACK_DEG[1]),
        key=lambda turn: abs(turn.change_deg),
        default=None,
    )
    if back is None:
        return Shape(None, None)
    first = next(
        (
            turn
            for turn in turns
            if turn.end_s <= back.start_s
            and turn.change_deg * back.change_deg < 0
            and _FIRST_TURN_DEG[0] <= abs(turn.change_deg) <= _FIRST_TURN_DEG[1]
        ),
        None,
    )
    return Shape(first, back)


def _from_leg_to_leg(view: StationView, direction_deg: Floats, shape: Shape) -> Shape:
    """The same turns, as large as what they change from the leg before to the one behind.

    A turn is rolled into and out of, and its last degrees are flown at no turning rate. ``direction_deg``: of the
    view's moments, the heading or the track, from true north; the leg between the turns is where it stood in the
    middle, or as far as it came where there was hardly one.
    """
    if shape.first is None or shape.back is None:
        return shape
    first, back = shape.first, shape.back
    turned_deg = unwrap_deg(direction_deg)
    before, after = np.interp([first.start_s - _ROLLING_S, back.end_s + _ROLLING_S], view.t_s, turned_deg)
    between = view.between(first.end_s + _ROLLING_S, back.start_s - _ROLLING_S)
    way = float(np.copysign(1.0, first.change_deg))
    if len(between) and back.start_s - first.end_s > 3.0 * _ROLLING_S:
        leg = float(np.median(np.interp(between.t_s, view.t_s, turned_deg)))
    else:
        reached = turned_deg[(view.t_s >= first.start_s) & (view.t_s <= back.start_s)]
        leg = way * float(np.max(way * reached)) if len(reached) else before + first.change_deg
    return Shape(replace(first, change_deg=float(leg - before)), replace(back, change_deg=float(after - leg)))


def pattern_of(
    shape: Shape, published: Pattern | None, offset_deg: float | None, *, in_air: bool = False
) -> str | None:
    """Name the pattern; ``None`` where the turns make none that is known.

    ``offset_deg``: the ground track just before the first of the turns, off the outbound course, any sign.
    ``in_air``: the turns are those of the heading, and not of the track.
    """
    if shape.back is None:
        return None
    back_deg = abs(shape.back.change_deg)
    if shape.first is not None:
        first_deg = abs(shape.first.change_deg)
        if first_deg <= _TEARDROP_FIRST_DEG and back_deg >= _TEARDROP_BACK_DEG:
            return TEARDROP
        pause_s = shape.back.start_s - shape.first.end_s
        at_once = pause_s < _AT_ONCE_S
        short = in_air and pause_s < _SHORT_LEG_S
        steep_deg = _STEEP_AT_ONCE_DEG if at_once else _STEEP_IN_AIR_DEG if short else _STEEP_FIRST_DEG
        round_again = first_deg > _STEEP_AND_ROUND_DEG[0] and back_deg > _STEEP_AND_ROUND_DEG[1]
        if round_again or first_deg > steep_deg or (at_once and back_deg > _ROUND_AT_ONCE_DEG):
            return Pattern.PROCEDURE_TURN_80_260.value if back_deg >= _LONG_BACK_DEG else None
        return Pattern.PROCEDURE_TURN_45_180.value
    if back_deg > _BACK_DEG[1] - 60.0:
        return None
    if published in (Pattern.RACETRACK, Pattern.BASE_TURN):
        return published.value
    if offset_deg is not None and _OFFSET_DEG[0] <= abs(offset_deg) <= _OFFSET_DEG[1]:
        return TEARDROP
    return STRAIGHT_TURN


def patterns_of(
    shape: Shape,
    published: Pattern | None,
    offset_deg: float | None,
    *,
    turn_sure_deg: float,
    pause_sure_s: float,
    in_air: bool = False,
) -> tuple[str | None, ...]:
    """Every pattern that the turns may make, the likeliest first: one, where the log tells it.

    Of a log with few samples the turns are known to ``turn_sure_deg`` only (half-width at 95 %), and the pause between
    them to ``pause_sure_s``.
    """
    likeliest = pattern_of(shape, published, offset_deg, in_air=in_air)
    if shape.first is None or shape.back is None:
        return (likeliest,)
    found = {likeliest: None}
    for first, back, pause in product((-1.0, 0.0, 1.0), repeat=3):
        bent = Shape(
            _bent(shape.first, first * turn_sure_deg, pause * pause_sure_s),
            _bent(shape.back, back * turn_sure_deg),
        )
        found.setdefault(pattern_of(bent, published, offset_deg, in_air=in_air))
    return tuple(found)


def _bent(turn: Episode, by_deg: float, ends_later_s: float = 0.0) -> Episode:
    """The turn made larger, and ending later."""
    change_deg = float(np.copysign(max(abs(turn.change_deg) + by_deg, 0.0), turn.change_deg))
    return replace(turn, change_deg=change_deg, end_s=turn.end_s + ends_later_s)


def _between_legs(scene: Scene, part: slice, shape: Shape) -> tuple[Shape, bool]:
    """The turns from leg to leg, and whether they are those of the heading.

    Where the heading is known, it is what was turned; but who corrects for the wind on the leg turns by the track, and
    then the larger first turn is what was meant. Samples too far apart to see a turn's ends leave it as it is.
    """
    if scene.flight.log.median_interval_s > 2.0 * _ROLLING_S:
        return shape, False
    view, heading_deg = scene.view.where(part), scene.air.heading_true_deg[part]
    by_track = _from_leg_to_leg(view, view.ground_track_true_deg, shape)
    if shape.first is None or not np.isfinite(heading_deg).all():
        return by_track, False
    by_heading = _from_leg_to_leg(view, heading_deg, shape)
    if by_track.first is None or by_heading.first is None:
        return by_track, False
    turned_deg = abs(by_heading.first.change_deg)
    if turned_deg < min(_TURN_OFF_DEG, abs(by_track.first.change_deg)):
        return by_track, False
    return by_heading, True


def _turn_sure_deg(scene: Scene, view: StationView) -> float:
    """Half-width at 95 % of the size of a turn: that of the two tracks it lies between. [deg]"""
    across_kt = log_errors.changing(log_errors.velocity_kt(scene.flight))
    speed_kt = mean(view.groundspeed_kt, weights_s(view.t_s, view.segment))
    if not speed_kt:
        return 0.0
    return COVERAGE * float(np.degrees(np.sqrt(2.0) * across_kt / speed_kt))


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
    legs, in_air = _between_legs(scene, around, shape)
    begun = scene.at(span.start_s)
    complete = bool(scene.at(span.start_s - _JUST_BEFORE_S).segment[0] >= 0)
    turn_sure_deg = _turn_sure_deg(scene, view)
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
    racetrack_from = _racetrack_leg_from(scene, span) if likeliest == Pattern.RACETRACK.value else None
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


def _outbound_true_deg(scene: Scene) -> float:
    """The outbound course (the inbound course's reciprocal where none is published) from true north."""
    course_deg = scene.procedure.outbound_course_deg
    if course_deg is None:
        course_deg = scene.procedure.inbound_course_deg + 180.0
    return scene.procedure.true_deg(course_deg)


def _offset_deg(scene: Scene, span: Span) -> float | None:
    """The ground track off the outbound course in the seconds before the reversal."""
    before = scene.over(span.start_s - 4.0 * _ENTRY_S, span.start_s - _ENTRY_S)
    if len(before) == 0:
        return None
    off_deg = difference_deg(before.ground_track_true_deg, _outbound_true_deg(scene))
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
    outbound_true_deg = _outbound_true_deg(scene)
    across_nm = cross_track_nm(view.east_nm, view.north_nm, outbound_true_deg)
    begun = scene.at(span.start_s)
    start_nm = float(cross_track_nm(begun.east_nm, begun.north_nm, outbound_true_deg)[0])
    across_nm = across_nm - (start_nm if np.isfinite(start_nm) else 0.0)
    right_nm, left_nm = float(np.max(across_nm)), -float(np.min(across_nm))
    if max(right_nm, left_nm) <= 0:
        return None
    return "right" if right_nm > left_nm else "left"


def _width_nm(scene: Scene, view: StationView) -> float | None:
    """Farthest to the side of the outbound course; of a racetrack, of the inbound course. [NM]"""
    across_nm = cross_track_nm(view.east_nm, view.north_nm, _width_course_true_deg(scene))
    return known(np.max(np.abs(across_nm)))


def _width_course_true_deg(scene: Scene) -> float:
    if _is_racetrack(scene):
        return scene.procedure.true_deg(scene.procedure.inbound_course_deg)
    return _outbound_true_deg(scene)


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


def _turns_onto_outbound(scene: Scene, passage_s: float, until_s: float) -> list[Episode]:
    """The turns that end after the passage and begin on a track that is no outbound one yet, in order."""
    view = scene.over(passage_s - _TURN_S, until_s)
    return [
        turn
        for turn in episodes(view, _LEAST_TURN_DEG)
        if passage_s < turn.end_s < until_s - 1.0
        and abs(
            difference_deg(
                np.interp(turn.start_s, view.t_s, unwrap_deg(view.ground_track_true_deg)),
                _outbound_true_deg(scene),
            )
        )
        > _OFFSET_DEG[1]
    ]


@dataclass(frozen=True, slots=True)
class _From:
    """What a racetrack's outbound leg is timed from, and how sure that moment is."""

    t_s: float
    moment: Callable[[], Moment]


def _leg_seconds(span: Span, shape: Shape, pattern: str | None, racetrack_from: _From | None) -> float | None:
    """Start of the first turn to the start of the turn back; of a racetrack, the outbound leg's own timing."""
    if shape.back is None:
        return None
    if pattern == Pattern.RACETRACK.value:
        return None if racetrack_from is None else span.start_s - racetrack_from.t_s
    return None if shape.first is None else shape.back.start_s - shape.first.start_s


def _racetrack_leg_from(scene: Scene, span: Span) -> _From | None:
    """From when a racetrack's outbound leg is timed.

    The 30 degrees of an offset entry are a part of it, and so is the turn from there to the outbound course.

    A racetrack's outbound leg is timed from abeam the station, or from the outbound heading where that comes
    later. Source: ICAO Doc 8168 Vol I, I-4-3. Mark: memory.
    """
    outbound = scene.span(Phase.OUTBOUND, span.circuit)
    passage = scene.passage_before(span.start_s)
    if outbound is None or passage is None:
        return None
    flight = scene.flight
    inbound_true_deg = scene.procedure.true_deg(scene.procedure.inbound_course_deg)
    view = scene.over(passage.t_s, outbound.end_s)
    speed_kt = float(scene.at(passage.t_s).groundspeed_kt[0])
    found = [_From(passage.t_s, lambda: closest_point(flight, passage.distance_nm, speed_kt))]
    onto = _turns_onto_outbound(scene, passage.t_s, outbound.end_s)
    if onto:
        found.append(_From(onto[0].end_s, lambda: turn_end(flight, onto[0].end_s)))
    along_nm = along_track_nm(view.east_nm, view.north_nm, inbound_true_deg)
    before = np.flatnonzero((along_nm[:-1] > 0) & (along_nm[1:] <= 0))  # of passing abeam on the way out
    if len(before):
        last = before[-1]
        abeam_s = float(np.interp(0.0, -along_nm[last : last + 2], view.t_s[last : last + 2]))
        found.append(_From(abeam_s, lambda: _abeam(scene, abeam_s, inbound_true_deg)))
    return max(found, key=lambda one: one.t_s)


def _abeam(scene: Scene, t_s: float, course_true_deg: float) -> Moment:
    """The error of passing abeam the station: the position's, and that of the course that it is abeam of."""
    at = scene.at(t_s)
    across_nm = float(cross_track_nm(at.east_nm, at.north_nm, course_true_deg)[0])
    turned_nm = across_nm * float(np.radians(scene.procedure.station.alignment_within_deg))
    position_nm = log_errors.one(log_errors.position_nm(scene.flight))
    return passing(-float(at.groundspeed_kt[0]) / SECONDS_PER_HOUR, position_nm, turned_nm)
