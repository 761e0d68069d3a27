"""Finals: what a reading of the flight needs, and whether the aircraft flies a final.

Owns      ``Reading``, and what follows a passage (or being established) along the final course.
Not here  where a final ends (``ending``), putting an attempt together (``draft``).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.ending import Circle, Ending, Ground, find_ending
from debrief.phases.events import At, Crossing
from debrief.phases.model import Floats, FoundAttempt, StationView, Turn
from debrief.procedures.model import Phase, Procedure

FINAL_TRACK_DEG = 45.0
FINAL_LOOK_S = 60.0
FINAL_DESCENT_FT = 250.0
AT_THE_MINIMUM_FT, LOW_DESCENT_FT = 150.0, 100.0
AT_ONCE_S = 30.0
AERODROME_FT = 300.0  # the runway landed on may be another one, and an altimeter wrongly set


@dataclass(slots=True)
class Reading:
    """What every step of the reading needs."""

    view: StationView
    at: At
    procedure: Procedure
    crossings: list[Crossing]
    turns: list[Turn]
    ground: Ground | None
    on_ground: Floats | None
    circle: Circle | None
    attempts: list[FoundAttempt] = field(default_factory=list)
    endings: dict[float, Ending] = field(default_factory=dict)  # by the start of their final


def final_course_deg(procedure: Procedure) -> float:
    """Course of the final, magnetic. [deg]"""
    leg = procedure.final
    return leg.course_deg if leg is not None and leg.course_deg is not None else procedure.inbound_course_deg


def ending_from(reading: Reading, start_s: float) -> Ending:
    """Where a final ends that begins at ``start_s``; looked for once."""
    if start_s not in reading.endings:
        reading.endings[start_s] = find_ending(
            reading.view,
            reading.at,
            start_s,
            final_course_deg(reading.procedure),
            reading.ground,
            reading.on_ground,
            reading.circle,
        )
    return reading.endings[start_s]


def is_final(reading: Reading, crossing: Crossing) -> bool:
    """Whether the aircraft goes on along the final course after this passage, and comes down.

    Seen on the ground after the gap that hides the passage, it did.
    """
    if crossing.hidden:
        hidden = ending_from(reading, crossing.exit_s)
        if hidden.final_end_s - crossing.exit_s < AT_ONCE_S and lands_there(reading, hidden):
            return True
    after = reading.view.between(crossing.exit_s, crossing.exit_s + FINAL_LOOK_S)
    if not _off_final_deg(reading, after) <= FINAL_TRACK_DEG:
        return False
    ending = ending_from(reading, crossing.exit_s)
    # what a gap hides of the way down was flown all the same
    here = (
        reading.at(np.array([crossing.entry_s])).altitude_ft[0] if crossing.hidden else after.altitude_ft[0]
    )
    if np.isnan(ending.lowest_ft):
        return goes_straight_on(reading, crossing.exit_s, ending)
    if np.isnan(here):
        return True
    if here - ending.lowest_ft >= FINAL_DESCENT_FT or ending.how == "end of log":
        return True
    # a final that begins low has no more than that to come down by
    minimum_ft = reading.procedure.low_ft(Phase.FINAL)
    at_it = minimum_ft is not None and ending.lowest_ft <= minimum_ft + AT_THE_MINIMUM_FT
    return bool(at_it and ending.how != "broken off" and here - ending.lowest_ft >= LOW_DESCENT_FT)


def lands_there(reading: Reading, ending: Ending) -> bool:
    """Whether an ending is a landing at the procedure's aerodrome, as far as its height tells."""
    ground = reading.ground
    if ending.how != "landing" or ground is None:
        return ending.how == "landing"
    return not abs(ending.lowest_ft - ground.elevation_ft) - ground.within_ft > AERODROME_FT


def follows_final(reading: Reading, crossing: Crossing) -> bool:
    """Whether the aircraft goes on along the final course after this passage, descending or not."""
    after = reading.view.between(crossing.exit_s, crossing.exit_s + FINAL_LOOK_S)
    return _off_final_deg(reading, after) <= FINAL_TRACK_DEG / 2


def _off_final_deg(reading: Reading, part: StationView) -> float:
    """How far the ground track stands off the final course, as the median; ``nan`` of nothing."""
    if not len(part):
        return float("nan")
    return float(
        np.median(np.abs(difference_deg(part.ground_track_deg, final_course_deg(reading.procedure))))
    )


def came_down_ft(reading: Reading, start_s: float, end_s: float) -> float:
    """By how much the aircraft came down from its height at the beginning; ``inf`` where no altitude is known."""
    height_ft = reading.view.between(start_s, end_s).altitude_ft
    known = height_ft[np.isfinite(height_ft)]
    return float(known[0] - known.min()) if len(known) else float("inf")


def goes_straight_on(reading: Reading, start_s: float, ending: Ending) -> bool:
    """Whether a final of which no altitude is known was one: it led on past the station for a minute, or to a landing.

    A hold turns at the station.
    """
    if ending.how == "landing":
        return True
    way = reading.view.between(start_s, ending.final_end_s + FINAL_LOOK_S)
    if not len(way):
        return False
    past_s = float(way.t_s[np.argmin(way.distance_nm)])
    past = way.between(past_s, past_s + FINAL_LOOK_S)
    if past.t_s[-1] - past_s < FINAL_LOOK_S / 2 or not _off_final_deg(reading, past) <= FINAL_TRACK_DEG / 2:
        return False
    return reading.procedure.station_on_aerodrome or ending.final_end_s - start_s >= FINAL_LOOK_S - 1.0


def descends(reading: Reading, start_s: float, ending: Ending) -> bool:
    """Whether it came down by as much as a final does; where no altitude is known, whether it may have."""
    if np.isnan(ending.lowest_ft):
        return goes_straight_on(reading, start_s, ending)
    after = reading.view.between(start_s, ending.end_s).altitude_ft
    return bool(len(after) and np.nanmax(after, initial=-np.inf) - ending.lowest_ft >= FINAL_DESCENT_FT)
