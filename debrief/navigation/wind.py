"""The wind triangle, both ways. Ground velocity = air velocity + the wind.

Owns      heading and true airspeed, track and ground speed, wind: two of them give the third.
Not here  estimating the wind from a track (measures.wind).
Imports   numpy, navigation.angles and navigation.units only.

Directions are degrees true. A wind is named by where it comes FROM; drift and wind correction are positive to
the right. A calm wind has no direction: 0 is given, and means nothing.
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.units import F, plain


def east_north(speed_kt: F, towards_true_deg: F | float) -> tuple[F, F]:
    """East and north part of a velocity towards a direction [kt]."""
    towards_rad = np.radians(towards_true_deg)
    east_kt: F = speed_kt * np.sin(towards_rad)
    north_kt: F = speed_kt * np.cos(towards_rad)
    return east_kt, north_kt


def speed_and_direction(east_kt: F, north_kt: F) -> tuple[F, F]:
    """Speed, and the direction towards which a velocity points, in [0, 360). [kt, deg true]."""
    speed_kt: F = np.hypot(east_kt, north_kt)
    towards_true_deg: F = wrap_360(np.degrees(np.arctan2(east_kt, north_kt)))
    return speed_kt, towards_true_deg


def track_and_groundspeed(
    heading_true_deg: F, true_airspeed_kt: F, wind_from_true_deg: F | float, wind_speed_kt: F | float
) -> tuple[F, F]:
    """Track in [0, 360) and ground speed of a heading flown in a wind. [deg true, kt].

    >>> track_true_deg, groundspeed_kt = track_and_groundspeed(90.0, 120.0, 360.0, 30.0)
    >>> print(f"{track_true_deg:.1f} {groundspeed_kt:.1f}")
    104.0 123.7
    """
    east_kt, north_kt = east_north(true_airspeed_kt, heading_true_deg)
    wind_east_kt, wind_north_kt = east_north(plain(wind_speed_kt), plain(wind_from_true_deg))
    groundspeed_kt: F
    track_true_deg: F
    groundspeed_kt, track_true_deg = speed_and_direction(east_kt - wind_east_kt, north_kt - wind_north_kt)
    return track_true_deg, groundspeed_kt


def heading_and_airspeed(
    track_true_deg: F, groundspeed_kt: F, wind_from_true_deg: F | float, wind_speed_kt: F | float
) -> tuple[F, F]:
    """Heading in [0, 360) and true airspeed of a track flown in a wind. [deg true, kt]."""
    east_kt, north_kt = east_north(groundspeed_kt, track_true_deg)
    wind_east_kt, wind_north_kt = east_north(plain(wind_speed_kt), plain(wind_from_true_deg))
    true_airspeed_kt: F
    heading_true_deg: F
    true_airspeed_kt, heading_true_deg = speed_and_direction(east_kt + wind_east_kt, north_kt + wind_north_kt)
    return heading_true_deg, true_airspeed_kt


def drift_deg(track_true_deg: F, heading_true_deg: F | float) -> F:
    """Track less heading, right positive, in [-180, 180). [deg]."""
    drift: F = difference_deg(track_true_deg, heading_true_deg)
    return drift


def wind_correction_deg(
    course_true_deg: F, true_airspeed_kt: F, wind_from_true_deg: F | float, wind_speed_kt: F | float
) -> F:
    """Heading less course that holds a course in a wind, right positive [deg].

    ``nan`` where the course cannot be held: the crosswind is as much as the airspeed, or there is none.

    >>> print(f"{wind_correction_deg(228.0, 120.0, 270.0, 25.0):.2f}")
    8.01
    """
    across_kt = wind_speed_kt * np.sin(np.radians(np.subtract(wind_from_true_deg, course_true_deg)))
    possible = np.greater(true_airspeed_kt, np.abs(across_kt))
    sine = np.where(possible, across_kt, np.nan) / np.where(possible, true_airspeed_kt, 1.0)
    correction: F = plain(np.degrees(np.arcsin(sine)))
    return correction


def groundspeed_on_course_kt(
    course_true_deg: F, true_airspeed_kt: F, wind_from_true_deg: F | float, wind_speed_kt: F | float
) -> F:
    """Ground speed along a course held in a wind. [kt] Negative where the wind carries the aircraft backwards.

    ``nan`` where the course cannot be held.

    >>> print(f"{groundspeed_on_course_kt(228.0, 120.0, 270.0, 25.0):.2f}")
    100.25
    """
    correction_rad = np.radians(
        wind_correction_deg(course_true_deg, true_airspeed_kt, wind_from_true_deg, wind_speed_kt)
    )
    headwind_kt, _ = headwind_and_crosswind_kt(course_true_deg, wind_from_true_deg, wind_speed_kt)
    groundspeed: F = true_airspeed_kt * np.cos(correction_rad) - headwind_kt
    return groundspeed


def headwind_and_crosswind_kt(
    course_true_deg: F, wind_from_true_deg: F | float, wind_speed_kt: F | float
) -> tuple[F, F]:
    """Wind along a course (headwind positive) and across it (from the right positive) [kt]."""
    angle_rad = np.radians(np.subtract(wind_from_true_deg, course_true_deg))
    headwind_kt: F = wind_speed_kt * np.cos(angle_rad)
    crosswind_kt: F = wind_speed_kt * np.sin(angle_rad)
    return headwind_kt, crosswind_kt
