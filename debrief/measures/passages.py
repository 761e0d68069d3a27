"""Station passages: where, how high and how fast, at the closest point.

Owns      the result's view of each passage, its time's uncertainty included.
Not here  finding the closest point (phases).
"""

from __future__ import annotations

import numpy as np

from debrief.measures import uncertainty
from debrief.measures.statistics import known
from debrief.phases.model import Flight, FoundAttempt
from debrief.result import StationPassage


def passages(flight: Flight, attempt: FoundAttempt) -> tuple[StationPassage, ...]:
    """Every passage of the attempt, a missed station too (``missed``), in order of time."""
    if not attempt.passages:
        return ()
    view = flight.at(np.array([passage.t_s for passage in attempt.passages]))
    return tuple(
        StationPassage(
            time=flight.log.track.time_at(passage.t_s),
            distance_nm=passage.distance_nm,
            altitude_ft=known(view.altitude_ft[i]),
            groundspeed_kt=float(view.groundspeed_kt[i]),
            ground_track_true_deg=float(view.ground_track_true_deg[i]),
            missed=passage.missed,
            time_uncertainty_s=known(
                uncertainty.closest_point_s(flight, passage.distance_nm, float(view.groundspeed_kt[i]))
            ),
        )
        for i, passage in enumerate(attempt.passages)
    )
