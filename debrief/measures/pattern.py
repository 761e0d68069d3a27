"""The pattern of a course reversal, told by the signs and sizes of its turns.

Owns      taking the turns apart, how sure their sizes are, and naming what they make.
Not here  the numbers of one reversal (``reversal``), which pattern is due (grading).
Source    Shapes of the patterns: ICAO Doc 8168 Vol II, I-4-3, 3.5.4 (mark: seen, 2nd hand, 3.5.4.1's first element
          seen); the ranges below leave room for wind, which changes a turn of the track: common practice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from debrief.measures import log_errors
from debrief.measures.scene import Scene
from debrief.measures.statistics import mean, weights_s
from debrief.measures.turning import Episode, episodes
from debrief.measures.uncertainty import COVERAGE
from debrief.navigation.angles import unwrap_deg
from debrief.phases.model import Floats, StationView
from debrief.phases.turns import SHALLOW_TURN_DEG
from debrief.procedures.model import Pattern

TEARDROP = "teardrop"
STRAIGHT_TURN = "straight turn"

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
OFFSET_DEG = (12.0, 50.0)  # of a teardrop's outbound track


@dataclass(frozen=True, slots=True)
class Shape:
    """The turns of a reversal: ``first`` off the course (``None`` where there is only one) and ``back``."""

    first: Episode | None
    back: Episode | None


def shape_of(view: StationView) -> Shape:
    """Take the turns apart: the turn back is the largest, the first is one the other way before it.

    A circle for spacing, before or behind, is larger, and none of the pattern's turns.
    """
    turns = episodes(view, SHALLOW_TURN_DEG, pause_s=_ONE_TURN_PAUSE_S)
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
    if offset_deg is not None and OFFSET_DEG[0] <= abs(offset_deg) <= OFFSET_DEG[1]:
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


def between_legs(scene: Scene, part: slice, shape: Shape) -> tuple[Shape, bool]:
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


def turn_size_sure_deg(scene: Scene, view: StationView) -> float:
    """Half-width at 95 % of the size of a turn: that of the two tracks it lies between. [deg]"""
    across_kt = log_errors.changing(log_errors.velocity_kt(scene.flight))
    speed_kt = mean(view.groundspeed_kt, weights_s(view.t_s, view.segment))
    if not speed_kt:
        return 0.0
    return COVERAGE * float(np.degrees(np.sqrt(2.0) * across_kt / speed_kt))
