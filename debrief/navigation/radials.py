"""Radials, the needle, the flag, the distance read, and the cone: geometry about a station.

Owns      the formulas, for points of the station's plane (x east, y north, NM).
Not here  projecting positions (``geodesy``), what was selected when (phases), judging a needle (grading).
Imports   numpy, navigation.angles and navigation.units only.

A radial is a true bearing from the station less the station's own declination (its alignment, east positive),
which is not today's magnetic variation. Signs: right of the course in the direction of flight is positive.
"""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.units import FEET_PER_NM, F, Floats, plain

#: A course needle stands at its stop 10 degrees off the course.
#: Source: FAA-H-8083-15, navigation chapter. Mark: seen (2nd hand).
FULL_SCALE_DEG = 10.0

#: A receiver shows neither TO nor FROM in a band about abeam. Mark: memory.
NO_FLAG_WITHIN_DEG = 5.0

_ABEAM_DEG = 90.0


def radial_deg(east_nm: F, north_nm: F, declination_deg: float) -> F:
    """Radial a point lies on: its true bearing from the station less the declination, in [0, 360).

    ``nan`` at the station itself, which lies on no radial, and where a coordinate is ``nan``.

    >>> float(radial_deg(0.0, 5.0, -11.0))
    11.0
    """
    bearing_true_deg = np.degrees(np.arctan2(east_nm, north_nm))
    at_station = (np.asarray(east_nm) == 0) & (np.asarray(north_nm) == 0)
    radial: F = plain(wrap_360(np.where(at_station, np.nan, bearing_true_deg - declination_deg)))
    return radial


def deviation_deg(radial_deg: F, course_deg: F | float, *, inbound: bool | NDArray[np.bool_]) -> F:
    """Angle at the station between the aircraft's radial and the course, in [-180, 180).

    Parameters
    ----------
    radial_deg : float or array, the aircraft's radial, magnetic. [deg]
    course_deg : float or array, the course flown, magnetic. [deg]
    inbound : True where the aircraft flies towards the station.

    Returns
    -------
    Positive where the aircraft is right of the course in the direction of flight: radial less course flying
    from the station, course + 180 less radial flying to it. [deg] ``nan`` where an angle is ``nan``.

    Notes
    -----
    Source: DEVELOPERS.md, Definitions; agrees with asin(cross-track / distance).

    >>> float(deviation_deg(50.0, 48.0, inbound=False)), float(deviation_deg(50.0, 228.0, inbound=True))
    (2.0, -2.0)
    """
    outbound_deg = difference_deg(np.asarray(radial_deg), np.asarray(course_deg))
    inbound_deg = difference_deg(np.asarray(course_deg) + 180.0, np.asarray(radial_deg))
    deviation: F = plain(np.where(inbound, inbound_deg, outbound_deg))
    return deviation


def deflection(deviation_deg: F) -> F:
    """Needle, -1 to 1 of full scale: the aircraft's side (a drawn bar stands on the other side).

    >>> float(deflection(-2.5)), float(deflection(12.0))
    (-0.25, 1.0)
    """
    share: F = np.clip(np.divide(deviation_deg, FULL_SCALE_DEG), -1.0, 1.0)
    return share


@overload
def to_from(radial_deg: float, course_deg: float) -> str: ...
@overload
def to_from(radial_deg: Floats, course_deg: Floats | float) -> NDArray[np.str_]: ...
def to_from(radial_deg: float | Floats, course_deg: float | Floats) -> str | NDArray[np.str_]:
    """Flag: "FROM" where the radial is within 90 degrees of the selected course, "TO" beyond.

    "" within 5 degrees of abeam, where a receiver shows neither, and where an angle is ``nan``. The heading
    plays no part. In the cone of ambiguity the flag is blank too: that is for the caller, who knows the height.

    >>> to_from(50.0, 228.0), to_from(50.0, 48.0), to_from(138.0, 48.0)
    ('TO', 'FROM', '')
    """
    from_course_deg = np.abs(difference_deg(np.asarray(radial_deg, dtype=np.float64), np.asarray(course_deg)))
    flags = np.select(
        [
            from_course_deg < _ABEAM_DEG - NO_FLAG_WITHIN_DEG,
            from_course_deg > _ABEAM_DEG + NO_FLAG_WITHIN_DEG,
        ],
        ["FROM", "TO"],
        default="",
    )
    return str(flags) if flags.ndim == 0 else flags


def cross_track_nm(east_nm: F, north_nm: F, course_true_deg: F | float) -> F:
    """Distance right of the line through the station in the direction of flight [NM, left negative].

    The plane's value differs from the geodesic's by less than 0.03 m within 25 NM and 10 degrees of the line.

    >>> float(cross_track_nm(1.0, 5.0, 0.0)), round(float(cross_track_nm(1.0, 5.0, 180.0)), 9)
    (1.0, -1.0)
    """
    course_rad = np.radians(course_true_deg)
    right_nm: F = east_nm * np.cos(course_rad) - north_nm * np.sin(course_rad)
    return right_nm


def along_track_nm(east_nm: F, north_nm: F, course_true_deg: F | float) -> F:
    """Distance past abeam the station in the direction of flight [NM, before the station negative].

    >>> float(along_track_nm(1.0, 5.0, 0.0))
    5.0
    """
    course_rad = np.radians(course_true_deg)
    past_nm: F = east_nm * np.sin(course_rad) + north_nm * np.cos(course_rad)
    return past_nm


def cone_radius_nm(height_ft: F, half_angle_deg: float) -> F:
    """Radius of the cone of ambiguity at a height above the station; 0 at or below the station [NM].

    Source: half-angles 50 deg (VOR) and 40 deg (NDB) from the vertical, ICAO Doc 8168 Vol I, I-2-2, 2.4.4.
    Mark: seen.

    >>> print(f"{cone_radius_nm(3000.0, 50.0):.3f}")
    0.588
    """
    radius_nm: F = np.maximum(height_ft, 0.0) / FEET_PER_NM * np.tan(np.radians(half_angle_deg))
    return radius_nm


def dme_nm(distance_nm: F, height_ft: F | float) -> F:
    """Slant range: what a DME reads at a ground distance and a height above its antenna [NM].

    A flat triangle: the Earth's curve adds less than 0.01 NM within 30 NM and 10,000 ft.
    Source: AIM 1-1-7 b (overhead it reads the height). Mark: seen.

    >>> print(f"{dme_nm(0.0, 6076.0):.2f}")
    1.00
    """
    slant_nm: F = np.hypot(distance_nm, np.divide(height_ft, FEET_PER_NM))
    return slant_nm


def ground_distance_nm(dme_nm: F, height_ft: F | float) -> F:
    """Ground distance at which a DME reads ``dme_nm`` at a height above its antenna [NM].

    ``nan`` where the reading is less than the height: it is read nowhere.

    >>> print(f"{ground_distance_nm(5.0, 3000.0):.3f}")
    4.976
    """
    square_nm2 = np.square(dme_nm) - np.square(np.divide(height_ft, FEET_PER_NM))
    distance_nm: F = plain(np.sqrt(np.where(square_nm2 >= 0, square_nm2, np.nan)))
    return distance_nm
