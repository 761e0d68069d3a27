"""An outbound leg that is only begun where the log ends.

Owns      ``turns_outbound``, ``at_its_altitude``.
Not here  a leg long enough to be seen as one (``circuit``).
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.events import ABEAM_WITHIN_NM, MISSED_BEYOND_NM
from debrief.phases.model import StationView
from debrief.phases.turns import TURN_AT_LEAST_DEG
from debrief.procedures.model import Procedure

BELOW_FT = 200.0
ABOVE_FT = 700.0
LATEST_S = 180.0  # from the station: a turn of 180 degrees and an intercept included
LONG_WAY_DEG = 120.0  # who turns so far at the station turns there, whatever the track before
TOWARDS_DEG = 90.0  # off the outbound course, at the end


def turns_outbound(arriving: StationView, part: StationView, procedure: Procedure) -> bool:
    """Whether the log ends in a turn over the station towards the outbound course, or just after it.

    That turn, at the altitude published for arriving there, is what tells it from a flight over the station.

    Parameters
    ----------
    arriving : the way to the station.
    part : what follows the passage, to the end of the log.
    """
    course_deg = procedure.outbound_course_deg
    if course_deg is None or not len(arriving) or not len(part):
        return False
    near = part.distance_nm[0] <= MISSED_BEYOND_NM and np.max(part.distance_nm) <= ABEAM_WITHIN_NM
    if not near or part.t_s[-1] - part.t_s[0] > LATEST_S:
        return False
    off_deg = np.abs(
        difference_deg(np.array([arriving.ground_track_deg[0], part.ground_track_deg[-1]]), course_deg)
    )
    track_deg = np.concatenate([arriving.ground_track_deg, part.ground_track_deg])
    round_deg = abs(float(np.sum(difference_deg(track_deg[1:], track_deg[:-1]))))  # perhaps the long way
    turned = off_deg[0] - off_deg[1] >= TURN_AT_LEAST_DEG or round_deg >= LONG_WAY_DEG
    return (
        bool(turned)
        and bool(off_deg[1] <= TOWARDS_DEG)
        and at_its_altitude(float(arriving.altitude_ft[-1]), procedure)
    )


def at_its_altitude(altitude_ft: float, procedure: Procedure) -> bool:
    """Whether this is near the altitude published for the way to the station and outbound."""
    limits = [leg.altitude.low_ft for leg in procedure.leg if leg.altitude is not None]
    low_ft = [low for low in limits[:2] if low is not None]
    if not low_ft or np.isnan(altitude_ft):
        return False
    return bool(min(low_ft) - BELOW_FT <= altitude_ft <= max(low_ft) + ABOVE_FT)
