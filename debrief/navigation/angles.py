"""Angles: where two bearings are compared or wrapped, it is done here.

Owns      the difference and the wrap of bearings. [deg]
Not here  what a bearing is measured from (``radials``, ``magnetism``).
Imports   numpy and navigation.units only.
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.units import F, Floats, plain

FULL_CIRCLE_DEG = 360.0
HALF_CIRCLE_DEG = 180.0


def wrap_360(angle_deg: F) -> F:
    """Bearing in [0, 360). ``nan`` where the angle is ``nan`` or infinite.

    >>> float(wrap_360(-10.0)), float(wrap_360(360.0))
    (350.0, 0.0)
    """
    with np.errstate(invalid="ignore"):
        turned = np.mod(angle_deg, FULL_CIRCLE_DEG)
    # a tiny negative angle rounds up to 360.0 itself, which is 0
    wrapped_deg: F = plain(np.where(turned >= FULL_CIRCLE_DEG, 0.0, turned))
    return wrapped_deg


def difference_deg(a_deg: F, b_deg: F | float) -> F:
    """Turn from ``b`` to ``a``, clockwise positive, in [-180, 180). ``nan`` where either is ``nan``.

    >>> float(difference_deg(10.0, 350.0)), float(difference_deg(180.0, 0.0))
    (20.0, -180.0)
    """
    turn_deg: F = wrap_360(np.subtract(a_deg, b_deg) + HALF_CIRCLE_DEG) - HALF_CIRCLE_DEG
    return turn_deg


def unwrap_deg(angles_deg: Floats) -> Floats:
    """Bearings without the jump at north, so that they can be subtracted and smoothed.

    Each step is taken the short way. A ``nan`` stays ``nan`` and the count goes on behind it.

    >>> unwrap_deg(np.array([350.0, 10.0, 20.0])).tolist()
    [350.0, 370.0, 380.0]
    """
    angles = np.array(angles_deg, dtype=np.float64)
    good = np.isfinite(angles)
    angles[good] = np.unwrap(angles[good], period=FULL_CIRCLE_DEG)
    angles[~good] = np.nan
    return angles
