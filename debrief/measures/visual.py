"""The visual segment: where the pilot left the needle, and where the aircraft was lined up with the runway.

Owns      ``visual_measures``.
Not here  where the segment begins (``final_track``), the descent from the minimum (``minimum``).
Source    "Lined up" is taken to be within 0.05 NM of the centre line with the track within 10 degrees of it. Mark:
          common practice.
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors, uncertainty
from debrief.measures.final_track import by_eye_from_s, to_threshold
from debrief.measures.moments import Moment, read_at
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, known
from debrief.navigation.angles import difference_deg
from debrief.navigation.radials import along_track_nm, cross_track_nm
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.procedures.geometry import threshold_nm
from debrief.procedures.model import Phase
from debrief.result import VisualMeasures

LINED_UP_NM = 0.05
LINED_UP_DEG = 10.0
_TURNING_ONTO_IT_DEG = 9.0  # so far off, it was the turn that decided
_SLOWEST_CLOSING_KT, _SLOWEST_TURN_DEG_S = 2.0, 0.3  # slower ones say nothing of the moment


def visual_measures(scene: Scene) -> VisualMeasures | None:
    """Measure the visual segment; ``None`` where there is none, or it was not reached."""
    start_s, span, runway = by_eye_from_s(scene), scene.span(Phase.FINAL), scene.procedure.runway
    threshold = threshold_nm(scene.procedure)
    if start_s is None or span is None or runway is None or threshold is None or start_s > span.end_s:
        return None
    at = scene.at(start_s)
    ahead = to_threshold(scene, at)
    lined_s, why = _lined_up_s(scene, start_s, span.end_s)
    before_nm = height_ft = sure_nm = None
    if lined_s is not None:
        there = scene.at(lined_s)
        east_nm, north_nm = there.east_nm[0] - threshold[0], there.north_nm[0] - threshold[1]
        before_nm = known(-along_track_nm(east_nm, north_nm, runway.course_true_deg))
        height_ft = known(there.altitude_ft[0] - runway.elevation_ft)
        sure_nm = _sure_nm(scene, lined_s, runway.course_true_deg)
    return VisualMeasures(
        start=scene.time(start_s),
        altitude_ft=known(at.altitude_ft[0]),
        to_threshold_nm=None if ahead is None else known(ahead[0][0]),
        lined_up=None if lined_s is None else scene.time(lined_s),
        lined_up_before_threshold_nm=before_nm,
        lined_up_height_ft=height_ft,
        uncertainties=all_known({"lined_up_before_threshold_nm": sure_nm}),
        warnings=(why,) if why else (),
    )


def _lined_up_s(scene: Scene, start_s: float, end_s: float) -> tuple[float | None, str]:
    """The first moment from which on the aircraft stayed lined up to the end of the final; else why there is none."""
    runway, threshold = scene.procedure.runway, threshold_nm(scene.procedure)
    view = scene.dense(start_s, end_s)
    if runway is None or threshold is None or len(view) == 0:
        return None, tr("Lining up not measured: nothing was observed in the visual segment.")
    if scene.attempt.ending not in ("landing", "end of log", "gap"):
        return None, tr("Lining up not measured: the approach did not end on the runway.")
    across_nm = cross_track_nm(
        view.east_nm - threshold[0], view.north_nm - threshold[1], runway.course_true_deg
    )
    off_deg = difference_deg(view.ground_track_true_deg, runway.course_true_deg)
    off_line = np.flatnonzero((np.abs(across_nm) > LINED_UP_NM) | (np.abs(off_deg) > LINED_UP_DEG))
    if len(off_line) and off_line[-1] == len(view) - 1:
        return None, tr("The aircraft was not lined up with the runway where the final ended.")
    first = int(off_line[-1]) + 1 if len(off_line) else 0
    return float(view.t_s[first]), ""


def _sure_nm(scene: Scene, lined_s: float, course_true_deg: float) -> float:
    """Half-width at 95 % of where it was lined up, by what decided it: the way across, or the turn."""
    at = scene.at(lined_s)
    position_nm = log_errors.one(log_errors.position_nm(scene.flight))
    speed_kt = float(at.groundspeed_kt[0])
    off_deg = float(difference_deg(at.ground_track_true_deg[0], course_true_deg))
    if abs(off_deg) > _TURNING_ONTO_IT_DEG:
        rate_deg_s = max(abs(float(at.turn_rate_deg_s[0])), _SLOWEST_TURN_DEG_S)
        moment = Moment(uncertainty.ground_track_deg(scene.flight, speed_kt) / 2.0 / rate_deg_s)
    else:
        closing_kt = max(abs(speed_kt * float(np.sin(np.radians(off_deg)))), _SLOWEST_CLOSING_KT)
        moment = Moment(position_nm / closing_kt * SECONDS_PER_HOUR)
    return read_at(moment, speed_kt / SECONDS_PER_HOUR, position_nm)
