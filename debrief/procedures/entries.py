"""Entries into a racetrack or a holding pattern: which one an arrival leads to.

Owns      the sectors, and the 30 degrees of an offset entry.
Not here  how a pattern was entered (measures), the lead of the turn (planning).
Source    Entry sectors of 70 and 110 deg, either entry within 5 deg of an edge: ICAO Doc 8168 Vol I, holding. Mark:
          memory. 30 deg for the offset: Vol II, I-4-3, 3.4.4.1. Mark: seen.
"""

from __future__ import annotations

from typing import Literal

from debrief.navigation.angles import difference_deg
from debrief.procedures.model import Pattern, Procedure

OFFSET_DEG = 30.0
OFFSET_SECTOR_DEG, PARALLEL_SECTOR_DEG = 70.0, 110.0
SECTOR_EITHER_SIDE_DEG = 5.0  # of a sector's edge, within which either entry is right

Entry = Literal["direct", "offset", "parallel"]


def entry(procedure: Procedure, arrival_course_deg: float) -> Entry | None:
    """How the racetrack of a procedure is entered from an arrival course [deg magnetic]; ``None`` without one."""
    course_deg, side = procedure.outbound_course_deg, turn_side(procedure)
    if course_deg is None or side is None:
        return None
    return entry_into(course_deg, side, arrival_course_deg)


def entry_into(outbound_course_deg: float, side: int, arrival_course_deg: float) -> Entry:
    """The entry into a pattern with turns to ``side`` (+1 right, -1 left); both courses from the same north [deg].

    >>> [entry_into(180.0, 1, arrival) for arrival in (150.0, 210.0, 0.0)]
    ['offset', 'parallel', 'direct']
    """
    ahead_deg = side * float(difference_deg(outbound_course_deg, arrival_course_deg))
    if 0.0 <= ahead_deg <= OFFSET_SECTOR_DEG:
        return "offset"
    return "parallel" if -PARALLEL_SECTOR_DEG <= ahead_deg < 0.0 else "direct"


def turn_side(procedure: Procedure) -> int | None:
    """+1 where the turns of a racetrack go right, -1 left; ``None`` for another pattern."""
    reversal = procedure.reversal
    if reversal is None or reversal.pattern is not Pattern.RACETRACK:
        return None
    return 1 if reversal.side == "right" else -1
