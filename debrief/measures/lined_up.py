"""Lined up with a runway: from when on, and how sure that is.

Owns      ``lined_up_s`` and ``lined_up_sure``, for a visual segment and for circling alike.
Not here  which runway it is (``landing_runway``), what came before (``visual``, ``circling``).
Source    Within 0.05 NM of the centre line and with the track within 10 degrees of it. Mark: common practice.
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors, uncertainty
from debrief.measures.moments import Moment, read_at
from debrief.measures.scene import Scene
from debrief.navigation.angles import difference_deg
from debrief.navigation.radials import cross_track_nm
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.procedures.geometry import place_nm
from debrief.procedures.model import Runway
from debrief.tracks.altitude import LANDED_FT

LINED_UP_NM = 0.05
LINED_UP_DEG = 10.0
_TURNING_ONTO_IT_DEG = 9.0  # so far off, it was the turn that decided
_SLOWEST_CLOSING_KT, _SLOWEST_TURN_DEG_S = 2.0, 0.3  # slower ones say nothing of the moment


def lined_up_s(scene: Scene, runway: Runway, start_s: float, end_s: float) -> tuple[float | None, str]:
    """The first moment from which on the aircraft stayed lined up to the end of the final; else why there is none."""
    east_nm, north_nm = place_nm(scene.procedure, runway)
    view = scene.dense(start_s, end_s)
    if len(view) == 0:
        return None, tr("Lining up not measured: nothing was observed after the final course was left.")
    if scene.attempt.ending not in ("landing", "end of log", "gap"):
        return None, tr("Lining up not measured: the approach did not end on the runway.")
    across_nm = cross_track_nm(view.east_nm - east_nm, view.north_nm - north_nm, runway.course_true_deg)
    off_deg = difference_deg(view.ground_track_true_deg, runway.course_true_deg)
    off_line = np.flatnonzero((np.abs(across_nm) > LINED_UP_NM) | (np.abs(off_deg) > LINED_UP_DEG))
    if len(off_line) and off_line[-1] == len(view) - 1:
        return None, tr("The aircraft was not lined up with the runway where the final ended.")
    first = int(off_line[-1]) + 1 if len(off_line) else 0
    return float(view.t_s[first]), ""


def lined_up_sure(scene: Scene, runway: Runway, lined_s: float) -> dict[str, float | None]:
    """Half-widths at 95 % of where and how high it was lined up, by what decided it: the way across, or the turn."""
    at = scene.at(lined_s)
    position_nm = log_errors.one(log_errors.position_nm(scene.flight))
    speed_kt = float(at.groundspeed_kt[0])
    off_deg = float(difference_deg(at.ground_track_true_deg[0], runway.course_true_deg))
    if abs(off_deg) > _TURNING_ONTO_IT_DEG:
        rate_deg_s = max(abs(float(at.turn_rate_deg_s[0])), _SLOWEST_TURN_DEG_S)
        moment = Moment(uncertainty.ground_track_deg(scene.flight, speed_kt) / 2.0 / rate_deg_s)
    else:
        closing_kt = max(abs(speed_kt * float(np.sin(np.radians(off_deg)))), _SLOWEST_CLOSING_KT)
        moment = Moment(position_nm / closing_kt * SECONDS_PER_HOUR)
    height_ft = uncertainty.altitude_at_ft(scene.flight, moment.sd_s, float(at.vertical_speed_ft_min[0]))
    return {
        "lined_up": moment.half_width_s,
        "lined_up_before_threshold_nm": read_at(moment, speed_kt / SECONDS_PER_HOUR, position_nm),
        "lined_up_height_ft": float(
            np.hypot(height_ft, LANDED_FT)
        ),  # above a runway whose own is not known better
    }
