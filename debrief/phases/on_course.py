"""Moments along the courses of a procedure: flying outbound, flying back, established inbound.

Owns      ``outbound_mask``, ``offset_mask``, ``intercept_mask``, ``inbound_mask``, ``established_mask`` and ``find_established``.
Not here  which of them make a circuit (``circuit``), where outbound turns to reversal (``turn_off``).
Source    DEVELOPERS.md, "Definitions": established.
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.navigation.radials import deviation_deg
from debrief.phases.events import At, Mask, first_moment, runs
from debrief.phases.model import Floats, StationView
from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import Pattern, Procedure

ESTABLISHED_DEG = 5.0  # half of full scale (VOR), 5 degrees of bearing (NDB)
ESTABLISHED_TRACK_DEG = 20.0
ESTABLISHED_S = 10.0
STEADY_DEG_S = 1.0
OUTBOUND_TRACK_DEG = 25.0  # flying along the outbound course, wind and corrections included
OUTBOUND_TRACK_WIDE_DEG = 40.0  # a poor outbound leg
OFFSET_DEG = 30.0  # of the entry into a racetrack. Source: ICAO Doc 8168
OUTBOUND_SIDE_DEG = 50.0  # of the outbound radial, seen from the station
BESIDE_STATION_NM = 1.5  # the half circle at 120 kt, and some wind
INBOUND_TRACK_DEG = 60.0
INBOUND_SIDE_DEG = 45.0
INTERCEPT_DEG = 60.0  # 45 of heading, and what a crosswind adds
TURNS_OFF_AND_BACK = (Pattern.PROCEDURE_TURN_45_180, Pattern.PROCEDURE_TURN_80_260)


def inbound_deviation_deg(view: StationView, procedure: Procedure) -> Floats:
    """Deviation from the inbound course, flying to the station."""
    deviation: Floats = deviation_deg(view.radial_deg, procedure.inbound_course_deg, inbound=True)
    return deviation


def established_mask(view: StationView, procedure: Procedure) -> Mask:
    """Moments that meet the definition of established, but for how long."""
    guidance = None if procedure.has_intermediate else guidance_of(procedure)
    if guidance is None:
        off_deg, track_off_deg = (
            inbound_deviation_deg(view, procedure),
            difference_deg(view.ground_track_deg, procedure.inbound_course_deg),
        )
    else:  # half of the full scale that the final is flown by
        off_deg, track_off_deg = (
            guidance.as_station_deg(view.east_nm, view.north_nm),
            difference_deg(view.ground_track_true_deg, guidance.course_true_deg),
        )
    with np.errstate(invalid="ignore"):
        near = np.abs(off_deg) <= ESTABLISHED_DEG
        along = np.abs(track_off_deg) <= ESTABLISHED_TRACK_DEG
    mask: Mask = near & along & ~view.in_cone
    return mask


def find_established(
    view: StationView, at: At, procedure: Procedure, start_s: float, end_s: float
) -> tuple[float, float] | None:
    """When the aircraft is established between two moments.

    Returns
    -------
    The last moment before and the first moment at which it is seen established: the same moment where the change
    was observed, the two edges of the gap where it was not; ``None`` where it never was.
    """
    part = view.where((view.t_s >= start_s) & (view.t_s <= end_s))
    if not len(part):
        return None
    mask = established_mask(part, procedure)
    for a, b in runs(mask, part.segment):
        last_s = float(part.t_s[b - 1])
        first_s = float(part.t_s[a])
        if a and part.segment[a - 1] == part.segment[a]:
            first_s = first_moment(at, part.t_s[a - 1], part.t_s[a], lambda v: established_mask(v, procedure))
        elif not a:
            first_s = max(start_s, first_s - 1.0)
            first_s = first_moment(at, first_s, part.t_s[a], lambda v: established_mask(v, procedure))
        if last_s - first_s < ESTABLISHED_S - 1.0:
            continue
        if last_s - first_s < ESTABLISHED_S and b < len(part) and part.segment[b] == part.segment[b - 1]:
            last_s = first_moment(at, part.t_s[b - 1], part.t_s[b], lambda v: ~established_mask(v, procedure))
        if last_s - first_s < ESTABLISHED_S and b < len(part):
            continue
        if a and part.segment[a - 1] != part.segment[a]:
            return float(part.t_s[a - 1]), first_s
        return first_s, first_s
    return None


def outbound_mask(view: StationView, procedure: Procedure, within_deg: float, *, steady: bool = True) -> Mask:
    """Moments of steady flight away from the station along the outbound course, on its side of the station."""
    course = procedure.outbound_course_deg
    if course is None:
        return np.zeros(len(view), dtype=bool)
    with np.errstate(invalid="ignore"):
        mask = (np.abs(difference_deg(view.ground_track_deg, course)) <= within_deg) & (view.closing_kt < 0)
        if steady:
            mask &= np.abs(view.turn_rate_deg_s) < STEADY_DEG_S
        if not is_racetrack(procedure):
            mask &= _on_side(view, difference_deg(view.radial_deg, course), OUTBOUND_SIDE_DEG)
    return np.asarray(mask, dtype=bool)


def _on_side(view: StationView, beside_deg: Floats, within_deg: float) -> Mask:
    """Moments on that side of the station: in a sector, or so near it that a turn leaves the aircraft beside it."""
    off_deg = np.abs(beside_deg)
    mask: Mask = (off_deg <= within_deg) | ((off_deg <= 90.0) & (view.distance_nm <= BESIDE_STATION_NM))
    return mask


def offset_mask(view: StationView, procedure: Procedure) -> Mask:
    """Moments of steady flight away from the station on the track of an offset entry, 30 degrees into the holding side."""
    course, reversal = procedure.outbound_course_deg, procedure.reversal
    if course is None or reversal is None or reversal.side is None or not is_racetrack(procedure):
        return np.zeros(len(view), dtype=bool)
    side_deg = -OFFSET_DEG if reversal.side == "right" else OFFSET_DEG
    with np.errstate(invalid="ignore"):
        along = np.abs(difference_deg(view.ground_track_deg, course + side_deg)) <= OUTBOUND_TRACK_DEG
        steady = np.abs(view.turn_rate_deg_s) < STEADY_DEG_S
        mask = along & steady & (view.closing_kt < 0)
    return np.asarray(mask, dtype=bool)


def intercept_mask(view: StationView, procedure: Procedure) -> Mask:
    """Moments at which the aircraft flies back to the outbound radial that it is beside of."""
    course = procedure.outbound_course_deg
    if course is None:
        return np.zeros(len(view), dtype=bool)
    off_deg = difference_deg(view.ground_track_deg, course)
    beside_deg = difference_deg(view.radial_deg, course)
    return np.asarray((off_deg * beside_deg < 0) & (np.abs(off_deg) <= INTERCEPT_DEG), dtype=bool)


def is_racetrack(procedure: Procedure) -> bool:
    """Whether the published reversal is a racetrack, whose outbound leg lies on no radial."""
    return procedure.reversal is not None and procedure.reversal.pattern is Pattern.RACETRACK


def has_two_turns(procedure: Procedure) -> bool:
    """Whether the pattern has a turn off the outbound course and a turn back the other way."""
    return procedure.reversal is not None and procedure.reversal.pattern in TURNS_OFF_AND_BACK


def inbound_mask(view: StationView, procedure: Procedure) -> Mask:
    """Moments of flight back towards the station, roughly along the inbound course and on its side."""
    with np.errstate(invalid="ignore"):
        mask = (
            (np.abs(difference_deg(view.ground_track_deg, procedure.inbound_course_deg)) <= INBOUND_TRACK_DEG)
            & _on_side(view, inbound_deviation_deg(view, procedure), INBOUND_SIDE_DEG)
            & (view.closing_kt > 0)
        )
    return np.asarray(mask, dtype=bool)
