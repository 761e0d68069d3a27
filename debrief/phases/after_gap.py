"""What is seen after a gap that hides the way on from an outbound leg or the way in: a final, a landing, a climb away.

Owns      ``gaps_after``, ``seen_again``.
Not here  the circuits themselves (``following``), approaches without one (``partial``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.ending import Ending
from debrief.phases.events import LONGEST_HIDING_S, ROUND_S
from debrief.phases.finals import (
    AT_ONCE_S,
    FINAL_DESCENT_FT,
    FINAL_LOOK_S,
    FINAL_TRACK_DEG,
    Reading,
    ending_from,
    final_course_deg,
    lands_there,
)
from debrief.procedures.checks import station_to_threshold
from debrief.procedures.model import Phase

NEAR_NM = 3.0  # beyond where the runway lies
CLIMBING_FT_MIN = 200.0
CLIMBING_BELOW_FT = 1000.0  # above the minimum: there a missed approach ends
BEYOND_STATION_DEG = 90.0


def gaps_after(reading: Reading, after_s: float, until_s: float) -> list[tuple[float, float]]:
    """Edges of the gaps between two moments that may hide a turn back and the way to the station, and no more."""
    t_s = reading.view.t_s
    first, last = int(np.searchsorted(t_s, after_s)), int(np.searchsorted(t_s, until_s, side="right"))
    return [
        (float(t_s[i]), float(t_s[i + 1]))
        for i in range(first, min(last, len(t_s) - 1))
        if ROUND_S <= t_s[i + 1] - t_s[i] <= LONGEST_HIDING_S
    ]


def seen_again(reading: Reading, gap_s: float, resumes_s: float) -> Ending | None:
    """How an approach ends of which a gap hides the way to its final, or more; ``None`` where that is not seen.

    On the ground, or climbing away near the aerodrome and no higher than a missed approach goes, or on the final
    course, past a station before the aerodrome, and lower in the end than before the gap.
    """
    procedure, here = reading.procedure, reading.at(np.array([gap_s, resumes_s]))
    ending = ending_from(reading, resumes_s)
    if ending.how == "landing" and ending.final_end_s - resumes_s < AT_ONCE_S:
        return ending if lands_there(reading, ending) else None
    minimum_ft, threshold = procedure.low_ft(Phase.FINAL), station_to_threshold(procedure)
    near_nm = NEAR_NM + (0.0 if threshold is None else threshold[0])
    climbs = ending.how == "missed approach" and here.vertical_speed_ft_min[1] > CLIMBING_FT_MIN
    if climbs and minimum_ft is not None and here.distance_nm[1] <= near_nm:
        climbing = replace(ending, final_end_s=resumes_s)
        return climbing if here.altitude_ft[1] < minimum_ft + CLIMBING_BELOW_FT else None
    after = reading.view.between(resumes_s, min(resumes_s + FINAL_LOOK_S, ending.final_end_s))
    course_deg = final_course_deg(procedure)
    along = len(after) > 0 and np.median(np.abs(difference_deg(after.ground_track_deg, course_deg)))
    beyond_deg = abs(float(difference_deg(here.radial_deg[1], course_deg)))
    if not procedure.station_on_aerodrome and beyond_deg > BEYOND_STATION_DEG:
        return None
    on_final = len(after) > 0 and bool(along <= FINAL_TRACK_DEG) and ending.how != "broken off"
    return ending if on_final and here.altitude_ft[0] - ending.lowest_ft >= FINAL_DESCENT_FT else None
