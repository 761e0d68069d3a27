"""The turn at the station: how far before it a turn begins, exactly and by the rule of thumb.

Owns      ``Lead`` for an arrival course, and for a table of changes.
Not here  the formulas (``navigation.turns``), entry sectors (``procedures.entries``), what was flown (measures).
Source    r tan(change / 2): ICAO Doc 8168 Vol II, III-3-8, 8.1.5.1.1. Mark: seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.radials import dme_nm
from debrief.navigation.turns import (
    STEEPEST_FLY_BY_DEG,
    RuleOfThumbLead,
    lead_distance_nm,
    rule_of_thumb_lead,
)
from debrief.planning.air import Air
from debrief.procedures.entries import OFFSET_DEG, entry, turn_side
from debrief.procedures.model import Pattern, Procedure

#: Changes of course in the table, where the arrival is not known. [deg]
CHANGES_DEG = (30.0, 45.0, 60.0, 90.0, 120.0)

LEAST_CHANGE_DEG = 1.0

Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """One turn at the station, from an arrival course onto the next. Distances before the station."""

    arrival_course_deg: float  # magnetic, by the station's alignment
    change_deg: float  # never negative
    side: Side  # the way of the turn
    groundspeed_kt: float
    exact_nm: float | None  # over the ground, r tan(change / 2); None where it is turned over the station
    exact_dme_nm: float | None  # the slant range there
    drifted_nm: float | None  # over the ground, with the wind's drift during the turn in it
    rule: RuleOfThumbLead  # at the ground speed
    rule_at_indicated: RuleOfThumbLead  # at the indicated speed, for want of a ground speed


def first_course_deg(procedure: Procedure, arrival_course_deg: float | None) -> float | None:
    """The course after the station, magnetic; ``None`` where no turn is made at it.

    It is the outbound course, a straight-in approach's final course, or a racetrack's course for the entry.
    """
    course_deg = procedure.outbound_course_deg
    if course_deg is None:
        on_aerodrome = procedure.station_on_aerodrome
        return None if on_aerodrome else procedure.inbound_course_deg
    if arrival_course_deg is not None and entry(procedure, arrival_course_deg) == "offset":
        return float(wrap_360(course_deg - (turn_side(procedure) or 0) * OFFSET_DEG))
    return course_deg


def lead_from(
    procedure: Procedure, air: Air, arrival_course_deg: float, *, speed_kias: float, height_ft: float
) -> Lead | None:
    """The turn from one arrival course; ``None`` where the procedure has no turn at the station."""
    course_deg = first_course_deg(procedure, arrival_course_deg)
    if course_deg is None:
        return None
    turn_deg = float(difference_deg(course_deg, arrival_course_deg))
    if entry(procedure, arrival_course_deg) == "direct":  # around with the racetrack, not the shorter way
        side = turn_side(procedure) or 0
        turn_deg = side * float((side * turn_deg) % 360.0)
    arrival_true_deg = procedure.true_deg(arrival_course_deg)
    groundspeed_kt, change_deg = air.groundspeed_kt(arrival_true_deg), abs(turn_deg)
    exact_nm = drifted_nm = exact_dme_nm = None
    if change_deg <= STEEPEST_FLY_BY_DEG:
        exact_nm = float(lead_distance_nm(groundspeed_kt, change_deg))
        exact_dme_nm = float(dme_nm(exact_nm, max(height_ft, 0.0)))
        drifted_nm = drifted_lead_nm(air, arrival_true_deg, arrival_true_deg + turn_deg)
    return Lead(
        arrival_course_deg=float(wrap_360(arrival_course_deg)),
        change_deg=change_deg,
        side="right" if turn_deg >= 0.0 else "left",
        groundspeed_kt=groundspeed_kt,
        exact_nm=exact_nm,
        exact_dme_nm=exact_dme_nm,
        drifted_nm=drifted_nm,
        rule=rule_of_thumb_lead(groundspeed_kt, change_deg, height_ft),
        rule_at_indicated=rule_of_thumb_lead(speed_kias, change_deg, height_ft),
    )


def leads(procedure: Procedure, air: Air, *, speed_kias: float, height_ft: float) -> tuple[Lead, ...]:
    """Turns of 30 to 120 deg to the right and to the left; none where no turn is made at the station.

    A racetrack is left out of it: how it is turned into depends on where one comes from.
    """
    course_deg = first_course_deg(procedure, None)
    reversal = procedure.reversal
    if course_deg is None or (reversal is not None and reversal.pattern is Pattern.RACETRACK):
        return ()
    arrivals = [course_deg - side * change for change in CHANGES_DEG for side in (1.0, -1.0)]
    found = [
        lead_from(procedure, air, arrival % 360.0, speed_kias=speed_kias, height_ft=height_ft)
        for arrival in arrivals
    ]
    return tuple(lead for lead in found if lead is not None)


def drifted_lead_nm(air: Air, arrival_true_deg: float, next_true_deg: float) -> float | None:
    """Lead with the wind in it: the arc through the air, carried along, ends on the next course. [NM]

    ``None`` where the two courses are nearly the same or nearly opposite, and cross nowhere near. In still air
    it is r tan(change / 2). It can be negative: the wind carries the turn so far that it begins past the station.
    """
    turn_deg = float(difference_deg(next_true_deg, arrival_true_deg))
    if not LEAST_CHANGE_DEG <= abs(turn_deg) <= STEEPEST_FLY_BY_DEG:
        return None
    turn = air.turn(
        air.heading_true_deg(arrival_true_deg),
        air.heading_true_deg(next_true_deg),
        1 if turn_deg > 0.0 else -1,
    )
    onto, off = np.radians(next_true_deg), np.radians(turn_deg)
    beside_nm = turn.east_nm * np.cos(onto) - turn.north_nm * np.sin(onto)
    return float(-beside_nm / np.sin(off))
