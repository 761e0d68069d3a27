"""The turn off the outbound course, with which a course reversal begins.

Owns      ``find_turn_off``: which of several turns it is, and the gap that may hide it.
Not here  the stretch that it parts in two (``circuit``), the turns themselves (``turns``).
Source    DEVELOPERS.md, "Definitions": course reversal; a wander off a course that comes back is no turn off it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.events import Mask, runs
from debrief.phases.model import StationView, Turn
from debrief.phases.on_course import (
    INBOUND_TRACK_DEG,
    OUTBOUND_TRACK_WIDE_DEG,
    has_two_turns,
    is_racetrack,
    outbound_mask,
)
from debrief.phases.turns import TURN_AT_LEAST_DEG
from debrief.procedures.model import Procedure

RETURNED_DEG = 12.0  # a wander off the outbound course that comes back to within this ...
RETURNED_S = 8.0  # ... and stays is no turn off
WEAVES_OFF_DEG = 5.0  # back on the outbound course, but for this ...
WEAVES_WITHIN_DEG = 10.0  # ... and no farther from its radial
TURNED_BACK_DEG = 90.0
FIRST_TURN_DEG = 120.0  # an 80/260's first turn, carried half as far again
CORRECTS_FROM_DEG = 3.0  # beside the radial: less is on it
CARRIES_ON_S = 10.0
STILL_TURNING_DEG_S, STILL_TURNING_S = 0.7, 1.0
AT_THE_STATION_DEG = 60.0  # a turn that begins farther off the outbound course is the one from the way in


def find_turn_off(
    part: StationView,
    procedure: Procedure,
    turns: Sequence[Turn],
    from_s: float,
    last_out: int,
    back: int,
    *,
    from_station: bool,
) -> tuple[float, float, float | None]:
    """End of outbound, start of reversal, and the turn off itself (``None`` where a gap hides it).

    ``from_station``: the stretch begins at the station, so that its first turn may be the one at the station.
    """
    course = procedure.outbound_course_deg or 0.0
    off: Turn | None = None
    # a racetrack may be entered on a track 30 degrees off its outbound course, and has no leg off it to confuse
    settled = outbound_mask(
        part, procedure, OUTBOUND_TRACK_WIDE_DEG if is_racetrack(procedure) else RETURNED_DEG
    )
    two_turns = has_two_turns(procedure)
    at_the_station = from_station
    for number, turn in enumerate(turns):
        if turn.start_s > part.t_s[back]:
            break
        if turn.end_s < from_s:
            continue
        first_of_two = two_turns and _turned_back_next(part, turns, number, course)
        if at_the_station and not _settles(part, settled, from_s, turn.start_s):
            at_once = first_of_two and turns[number + 1].start_s - turn.end_s <= CARRIES_ON_S
            beyond_deg = OUTBOUND_TRACK_WIDE_DEG if at_once else TURNED_BACK_DEG
            parted_s = _points_outbound_s(part, course, turn, from_s, beyond_deg)
            if parted_s is not None:
                return parted_s, parted_s, parted_s
        at_the_station = False
        if turn.start_s < from_s:
            continue
        if off is not None and _weaves(part, course, off, turns, number, first_of_two=first_of_two):
            off = None
        if off is not None and not is_racetrack(procedure) and _still_corrects(part, course, off, turn):
            off = None
        shallow = abs(turn.change_deg) < TURN_AT_LEAST_DEG
        if shallow and not (first_of_two and not _corrects_into_a_gap(part, course, turn, turns[number + 1])):
            continue
        before, after = off_course(part, course, turn)
        begins_a_pattern = first_of_two and after > RETURNED_DEG and before <= AT_THE_STATION_DEG
        if off is None and (after > before or begins_a_pattern):
            off = turn
        if off is not None and _settles(part, settled, turn.end_s, float(part.t_s[back])):
            off = None
    gap = _gap_between(part, last_out, back)
    if off is not None and (gap is None or off.start_s < gap[0]):
        return off.start_s, off.start_s, off.start_s
    if gap is not None:
        return gap[0], gap[1], None
    if off is not None:
        return off.start_s, off.start_s, off.start_s
    # no turn of its own: it was begun while still turning from the station, or ever so slowly
    here = float(part.t_s[last_out])
    return here, here, here


def _points_outbound_s(
    part: StationView, course_deg: float, turn: Turn, from_s: float, beyond_deg: float
) -> float | None:
    """Where the turn at the station points outbound if it goes on beyond that by more than an angle, else ``None``.

    A short leg in a wind may leave a racetrack no straight part at all, and a late turn at the station may run into the
    first one of an 80/260. Nothing but the track parts the two turns.
    """
    crossed = _crosses_outbound(part, course_deg, turn, from_s)
    if crossed is None:
        return None
    here_s, turned_deg = crossed
    at_the_station = abs(turn.change_deg) - turned_deg >= AT_THE_STATION_DEG
    return here_s if turned_deg > beyond_deg and at_the_station else None


def _crosses_outbound(
    part: StationView, course_deg: float, turn: Turn, from_s: float
) -> tuple[float, float] | None:
    """When a turn last points along the outbound course, and by how much it turns from there on. [s, deg]"""
    start, end = _at(part, max(turn.start_s, from_s)), _at(part, turn.end_s)
    off_deg = difference_deg(part.ground_track_deg[start : end + 1], course_deg)
    side = np.sign(turn.change_deg)
    crosses = (side * off_deg[:-1] < 0) & (side * off_deg[1:] >= 0) & (np.abs(off_deg[1:]) < 90.0)
    if not crosses.any():
        return None
    here = int(np.flatnonzero(crosses)[-1])
    after = off_deg[here + 1 :]
    turned_deg = float(side * np.sum(difference_deg(after[1:], after[:-1])))
    share = off_deg[here] / (off_deg[here] - off_deg[here + 1])
    from_t_s, to_t_s = part.t_s[start + here], part.t_s[start + here + 1]
    return float(from_t_s + share * (to_t_s - from_t_s)), turned_deg


def _still_corrects(part: StationView, course_deg: float, off: Turn, following: Turn) -> bool:
    """Whether the aircraft flew towards its radial from the end of a turn to the next one the same way.

    Then the first was a correction, and it is the next that leaves the outbound course. Pieces of one turn are none.
    """
    same_way = off.change_deg * following.change_deg > 0 and following.start_s - off.end_s > CARRIES_ON_S
    if not same_way or off_course(part, course_deg, off)[1] > INBOUND_TRACK_DEG:
        return False
    beside_deg = difference_deg(
        part.radial_deg[[_at(part, off.end_s), _at(part, following.start_s)]], course_deg
    )
    towards = np.sign(off.change_deg) * beside_deg
    return bool(towards[0] < -CORRECTS_FROM_DEG and towards[1] < CORRECTS_FROM_DEG)


def _corrects_into_a_gap(part: StationView, course_deg: float, turn: Turn, following: Turn) -> bool:
    """Whether a turn leads back to the radial, and a gap begins before the aircraft is there: it may hide the turn off."""
    start, end = _at(part, turn.end_s), _at(part, following.start_s)
    gap = _gap_between(part, start, end)
    if gap is None:
        return False
    beside_deg = difference_deg(part.radial_deg[[start, _at(part, gap[0])]], course_deg)
    towards = np.sign(turn.change_deg) * beside_deg
    return bool(towards[0] < -CORRECTS_FROM_DEG and towards[1] < CORRECTS_FROM_DEG)


def _turned_back_next(part: StationView, turns: Sequence[Turn], number: int, course_deg: float) -> bool:
    """Whether the next turn runs the other way and leaves the aircraft inbound: the turn back of a pattern.

    It shows that this one was the turn off, though it changed the track by less than 30 degrees (a crosswind may
    leave that little of the 45 by which the nose was turned), or came out of an intercept of the course.
    """
    if number + 1 == len(turns):
        return False
    turn, following = turns[number : number + 2]
    if turn.change_deg * following.change_deg > 0:
        return False
    return off_course(part, course_deg, following)[1] > TURNED_BACK_DEG


def off_course(part: StationView, course_deg: float, turn: Turn) -> tuple[float, float]:
    """How far the ground track stands off the course before and after a turn. [deg]"""
    start = _at(part, turn.start_s)
    before = float(abs(difference_deg(part.ground_track_deg[start], course_deg)))
    after = float(abs(difference_deg(part.ground_track_deg[start] + turn.change_deg, course_deg)))
    goes_round = abs(turn.change_deg) > 180.0 and before < OUTBOUND_TRACK_WIDE_DEG
    return before, 180.0 if goes_round else after


def _carried_on(turns: Sequence[Turn], number: int) -> Turn:
    """A turn with those of its direction that follow it at once: uneven reports, or a hand, take one turn to pieces."""
    whole = turns[number]
    for turn in turns[number + 1 :]:
        if turn.change_deg * whole.change_deg < 0 or turn.start_s - whole.end_s > CARRIES_ON_S:
            break
        whole = replace(whole, end_s=turn.end_s, change_deg=whole.change_deg + turn.change_deg)
    return whole


def _weaves(
    part: StationView, course_deg: float, off: Turn, turns: Sequence[Turn], number: int, *, first_of_two: bool
) -> bool:
    """Whether a turn takes the aircraft back to the outbound course, or beyond it but still outbound.

    Then the turn before it was no turn off, however wide it was: the aircraft weaves along the course. Where a turn that
    a gap cuts off would have ended is not known; it may be the turn back of a pattern.
    """
    turn = _carried_on(turns, number)
    if turn.change_deg * off.change_deg > 0:
        return False
    end = _at(part, turn.end_s)
    if _cut_off(part, end):
        return False
    beyond_deg = float(
        np.sign(turn.change_deg)
        * (difference_deg(part.ground_track_deg[_at(part, turn.start_s)], course_deg) + turn.change_deg)
    )
    beside_deg = float(difference_deg(part.radial_deg[end], course_deg))
    towards_it = np.sign(turn.change_deg) * beside_deg < 0
    if beyond_deg < -WEAVES_OFF_DEG:
        return False
    if first_of_two and beyond_deg > RETURNED_DEG:
        return beyond_deg <= FIRST_TURN_DEG
    near = abs(beside_deg) <= WEAVES_WITHIN_DEG or towards_it
    return bool(near) and beyond_deg <= INBOUND_TRACK_DEG


def _cut_off(part: StationView, end: int) -> bool:
    """Whether a turn that ends there is still under way where a gap begins."""
    edge = end + int(np.searchsorted(part.t_s[end:], part.t_s[end] + STILL_TURNING_S, side="right"))
    near = part.segment[end : edge + 1] != part.segment[end]
    return bool(near.any()) and abs(float(part.turn_rate_deg_s[end])) > STILL_TURNING_DEG_S


def _at(part: StationView, t_s: float) -> int:
    return int(np.clip(np.searchsorted(part.t_s, t_s), 0, len(part) - 1))


def _settles(part: StationView, settled: Mask, after_s: float, until_s: float) -> bool:
    """Whether the aircraft flies along the outbound course again for some seconds."""
    later = (part.t_s >= after_s) & (part.t_s < until_s)
    return any(part.t_s[b - 1] - part.t_s[a] >= RETURNED_S for a, b in runs(settled & later, part.segment))


def _gap_between(part: StationView, a: int, b: int) -> tuple[float, float] | None:
    """The first gap between two moments of a stretch: its edges."""
    breaks = np.flatnonzero(np.diff(part.segment[a : b + 1]) != 0)
    if not len(breaks):
        return None
    i = a + int(breaks[0])
    return float(part.t_s[i]), float(part.t_s[i + 1])
