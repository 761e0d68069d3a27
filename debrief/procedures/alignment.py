"""How the runway lies to the final course: its angle, and where the course crosses its centre line.

Owns      those two, from the station's geodesic to the threshold.
Not here  drawing them (``geometry``), saying them (``words``), where a visual segment begins (``geometry``).
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.procedures.checks import station_to_threshold
from debrief.procedures.model import Procedure

_ALONGSIDE_DEG = 0.5  # below it two lines run alongside, and where they cross says nothing


def runway_off_deg(procedure: Procedure) -> float | None:
    """The direction of the runway less the final course, right positive; ``None`` without a runway. [deg]"""
    runway, final = procedure.runway, procedure.final
    if runway is None or final is None or final.course_deg is None:
        return None
    return float(difference_deg(runway.course_true_deg, procedure.final_course_true_deg))


def threshold_in_course_nm(procedure: Procedure) -> tuple[float, float] | None:
    """The threshold past the station along the final course, and right of it; ``None`` without a runway. [NM]"""
    threshold, final = station_to_threshold(procedure), procedure.final
    if threshold is None or final is None or final.course_deg is None:
        return None
    distance_nm, bearing_true_deg = threshold
    off = np.radians(bearing_true_deg - procedure.final_course_true_deg)
    return distance_nm * float(np.cos(off)), distance_nm * float(np.sin(off))


def centre_line_crossing_nm(procedure: Procedure) -> tuple[float, float] | None:
    """Where the final course crosses the runway's centre line.

    Past the station along the course, and before the threshold along the centre line (past it negative). [NM]
    ``None`` without a runway, or where the two run alongside.
    """
    threshold, off_deg = threshold_in_course_nm(procedure), runway_off_deg(procedure)
    if threshold is None or off_deg is None or abs(off_deg) < _ALONGSIDE_DEG:
        return None
    along_nm, right_nm = threshold
    before_nm = right_nm / float(np.sin(np.radians(off_deg)))
    return along_nm - before_nm * float(np.cos(np.radians(off_deg))), before_nm
