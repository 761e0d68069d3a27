"""Step-downs on final: where each ends, by a DME distance or by the radial of another station that crosses the course.

Owns      the place of a step's end on the final course, on which side of a crossing radial a place lies.
Not here  whether a step was kept (measures, grading), its words (``words``).

Distances are along the final course, past the procedure's station positive.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import StationPlane
from debrief.navigation.radials import dme_nm, ground_distance_nm

if TYPE_CHECKING:
    from debrief.procedures.model import CrossingRadial, OtherStation, Procedure, StepDown

Floats = NDArray[np.float64]

SEARCHED_NM = np.linspace(-30.0, 30.0, 6001)  # along the final course: a hundredth of a mile apart


def other_station(procedure: Procedure, crossing: CrossingRadial) -> OtherStation:
    """The station whose radial it is; a checked procedure has it."""
    return next(other for other in procedure.other_station if other.ident == crossing.station)


def off_radial_deg(
    procedure: Procedure, crossing: CrossingRadial, east_nm: Floats, north_nm: Floats
) -> Floats:
    """How far places lie clockwise of the radial, seen from its station; arrays in the procedure's plane. [deg]"""
    station, other = procedure.station, other_station(procedure, crossing)
    plane = StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)
    there = StationPlane(latitude_deg=other.latitude, longitude_deg=other.longitude)
    east, north = there.to_plane(*plane.to_geographic(east_nm, north_nm))
    radial = np.degrees(np.arctan2(east, north)) - other.declination_deg
    off: Floats = difference_deg(radial, crossing.radial_deg)
    return off


def crossing_along_nm(procedure: Procedure, crossing: CrossingRadial) -> float | None:
    """Where the radial crosses the final course; ``None`` where it does not within 30 NM. [NM]"""
    final = procedure.final
    if final is None or final.course_deg is None:
        return None
    course = np.radians(procedure.true_deg(final.course_deg))
    off = off_radial_deg(procedure, crossing, SEARCHED_NM * np.sin(course), SEARCHED_NM * np.cos(course))
    near = np.abs(off) < 90.0
    crossed = np.flatnonzero((off[:-1] * off[1:] <= 0.0) & near[:-1] & near[1:])
    if not len(crossed):
        return None
    i = int(crossed[0])
    share = float(off[i] / (off[i] - off[i + 1])) if off[i] != off[i + 1] else 0.0
    return float(SEARCHED_NM[i] + share * (SEARCHED_NM[i + 1] - SEARCHED_NM[i]))


def past_radial_deg(
    procedure: Procedure, crossing: CrossingRadial, east_nm: Floats, north_nm: Floats
) -> Floats:
    """The same as ``off_radial_deg``, but positive once the radial is passed on final, negative before it. [deg]"""
    final = procedure.final
    along_nm = crossing_along_nm(procedure, crossing)
    off = off_radial_deg(procedure, crossing, east_nm, north_nm)
    if along_nm is None or final is None or final.course_deg is None:
        return np.full(np.shape(off), np.nan)
    course, before_nm = np.radians(procedure.true_deg(final.course_deg)), along_nm - 0.1
    before = off_radial_deg(
        procedure, crossing, np.array([before_nm * np.sin(course)]), np.array([before_nm * np.cos(course)])
    )
    past: Floats = -np.sign(before[0]) * off
    return past


def step_ground_nm(procedure: Procedure, step: StepDown) -> float:
    """Distance over the ground from the station at which a step ends, flown on the course and at its limit. [NM]"""
    if step.until_radial is not None:
        return abs(crossing_along_nm(procedure, step.until_radial) or 0.0)
    height_ft = step.at_or_above_ft - procedure.station.elevation_ft
    return float(np.nan_to_num(ground_distance_nm(step.until_dme_nm or 0.0, height_ft)))


def step_dme_nm(procedure: Procedure, step: StepDown) -> float:
    """What a DME at the station reads there: as published, or the slant range of the crossing. [NM]"""
    if step.until_dme_nm is not None:
        return step.until_dme_nm
    return float(
        dme_nm(step_ground_nm(procedure, step), step.at_or_above_ft - procedure.station.elevation_ft)
    )
