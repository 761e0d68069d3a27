"""Visits to the station: its crossings, but for what only looks like one.

Owns      ``visits``, ``looked_for_anew``.
Not here  the closest points themselves (``events``), which of them begin an approach (``attempts``).
Source    DEVELOPERS.md, "Definitions": the time of a station passage.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.circuit import TURN_ROUND_S
from debrief.phases.events import At, Crossing, crossings
from debrief.phases.finals import Reading
from debrief.phases.led_past import flies_past
from debrief.phases.model import StationView, Turn
from debrief.phases.on_course import OUTBOUND_TRACK_WIDE_DEG, is_racetrack
from debrief.procedures.model import Procedure

AS_NEAR_NM = 0.3  # two closest points of one missed station
TURNING_OUTBOUND_DEG = 60.0
#: All the way round, and a quarter more to either side: the turn at a station leads no farther, the long way round.
CIRCLE_DEG, INTO_IT_DEG = 360.0, 90.0


def looked_for_anew(reading: Reading, done_s: float) -> list[Crossing]:
    """The crossings, those soon after the end of an attempt looked for without what comes before it.

    A closest point on the way round from a climb away is not the same visit to the station.
    """
    before = [crossing for crossing in reading.crossings if crossing.entry_s < done_s]
    from_s = max([done_s, *(crossing.exit_s for crossing in before)])
    rest = reading.view.between(from_s, done_s + 2 * TURN_ROUND_S)
    found = visits(rest, reading.at, reading.procedure, reading.turns) if len(rest) > 1 else []
    soon = [crossing for crossing in found if crossing.entry_s < done_s + TURN_ROUND_S]
    until_s = soon[-1].exit_s if soon else done_s
    return before + soon + [c for c in reading.crossings[len(before) :] if c.entry_s >= until_s]


def visits(view: StationView, at: At, procedure: Procedure, turned: Sequence[Turn]) -> list[Crossing]:
    """The crossings of the station but for what only looks like one, abeam of it or in a circle beside it."""
    found = _without_abeam(crossings(view, at, _courses_deg(procedure)), at, procedure)
    return [crossing for crossing in found if not _in_a_circle(crossing, turned)]


def _in_a_circle(crossing: Crossing, turned: Sequence[Turn]) -> bool:
    """Whether a closest point beside the station lies in the midst of a circle, as it is flown for spacing."""
    return not (crossing.in_cone or crossing.hidden) and any(
        turn.start_s < crossing.t_s < turn.end_s
        and abs(turn.change_deg) >= CIRCLE_DEG
        and min(crossing.t_s - turn.start_s, turn.end_s - crossing.t_s)
        >= INTO_IT_DEG / abs(turn.change_deg) * (turn.end_s - turn.start_s)
        for turn in turned
    )


def _courses_deg(procedure: Procedure) -> tuple[float, float] | None:
    """Outbound and inbound course, where there is a reversal between them."""
    out_deg = procedure.outbound_course_deg
    return None if out_deg is None else (out_deg, procedure.inbound_course_deg)


def _without_abeam(found: list[Crossing], at: At, procedure: Procedure) -> list[Crossing]:
    """The crossings but for closest points of an aircraft that has been at the station and comes abeam of it outbound.

    At 200 kt in a wind a racetrack's outbound leg may lie farther off than the 3 NM that ``crossings`` takes for a
    turn at the station; a pilot who missed it may turn the long way round, and comes by again.
    """
    course_deg = procedure.outbound_course_deg
    if course_deg is None:
        return found
    kept: list[Crossing] = []
    for crossing in found:
        if kept and crossing.missed and crossing.t_s - kept[-1].exit_s < TURN_ROUND_S:
            track_deg = float(at(np.array([crossing.t_s])).ground_track_deg[0])
            off_deg = abs(float(difference_deg(track_deg, course_deg)))
            racetrack = is_racetrack(procedure) and not kept[-1].missed and off_deg <= OUTBOUND_TRACK_WIDE_DEG
            again = kept[-1].missed and crossing.distance_nm > kept[-1].distance_nm - AS_NEAR_NM
            if racetrack or (again and off_deg <= TURNING_OUTBOUND_DEG):
                continue
        if crossing.missed and flies_past(crossing, at, course_deg):
            continue
        kept.append(crossing)
    return kept
