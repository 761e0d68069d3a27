"""Descent: angle, gradient and rate.

Owns      the geometry of a straight descent over the ground.
Not here  which descent was flown or required (measures.descent).
Imports   numpy and navigation.units only.
Source    geometry; a descent is positive downwards here. [ft/min down]
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.units import FEET_PER_NM, MINUTES_PER_HOUR, F, plain

#: Height over the threshold at which a descent path crosses it.
#: Source: ICAO Doc 8168 Vol II, I-4-5, 5.5.1. Mark: seen.
THRESHOLD_CROSSING_FT = 50.0


def gradient_ft_nm(angle_deg: F) -> F:
    """Height lost in each mile at a descent angle [ft/NM].

    >>> print(f"{gradient_ft_nm(3.0):.1f}")
    318.4
    """
    gradient: F = np.tan(np.radians(angle_deg)) * FEET_PER_NM
    return gradient


def descent_rate_ft_min(groundspeed_kt: F, angle_deg: F | float) -> F:
    """Rate of descent that holds an angle at a ground speed [ft/min down].

    >>> print(f"{descent_rate_ft_min(120.0, 3.0):.0f}")
    637
    """
    rate: F = plain(groundspeed_kt * gradient_ft_nm(plain(angle_deg)) / MINUTES_PER_HOUR)
    return rate


def angle_deg(height_ft: F, distance_nm: F | float) -> F:
    """Angle of a straight descent through a height over a distance. [deg] ``nan`` over no distance.

    >>> print(f"{angle_deg(1592.0, 5.0):.2f}")
    3.00
    """
    distance = np.where(np.greater(distance_nm, 0), distance_nm, np.nan)
    angle: F = plain(np.degrees(np.arctan(np.divide(height_ft, distance * FEET_PER_NM))))
    return angle
