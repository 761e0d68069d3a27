"""Timing: how long a distance takes, and an outbound leg in a wind.

Owns      minutes and miles of a straight leg.
Not here  what was flown (measures.reversal, measures.descent).
Imports   numpy and navigation.units only.
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.units import SECONDS_PER_HOUR, F, plain


def leg_seconds(distance_nm: F, groundspeed_kt: F | float) -> F:
    """Time that a distance takes at a ground speed. [s] ``nan`` where the speed is not positive.

    >>> print(f"{leg_seconds(4.6, 120.0):.0f}")
    138
    """
    speed = np.where(np.greater(groundspeed_kt, 0), groundspeed_kt, np.nan)
    seconds: F = plain(np.divide(distance_nm, speed) * SECONDS_PER_HOUR)
    return seconds


def outbound_seconds(still_air_s: F, true_airspeed_kt: F | float, headwind_kt: F | float) -> F:
    """Time outbound that covers, in a wind, the distance of ``still_air_s`` in still air [s].

    ``headwind_kt`` outbound is positive. ``nan`` where it is as much as the airspeed.

    >>> print(f"{outbound_seconds(60.0, 120.0, 20.0):.0f} {outbound_seconds(60.0, 120.0, -20.0):.1f}")
    72 51.4
    """
    groundspeed_kt = np.subtract(true_airspeed_kt, headwind_kt)
    groundspeed_kt = np.where(groundspeed_kt > 0, groundspeed_kt, np.nan)
    seconds: F = plain(np.multiply(still_air_s, true_airspeed_kt) / groundspeed_kt)
    return seconds
