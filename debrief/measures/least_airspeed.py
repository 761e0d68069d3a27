"""The least that the greatest airspeed can have been, whatever the wind.

Owns      a bound that needs no wind, where none could be found: for a speed that is surely too high.
Not here  airspeed from a known wind (``air``), the wind itself (``wind``).
Source    Two air velocities in the same wind differ as the two ground velocities do, and a difference of two
          vectors is no longer than both together: half of it is a bound on the longer one. Any text on vectors.
"""

from __future__ import annotations

import numpy as np

from debrief.measures import uncertainty
from debrief.measures.scene import Scene
from debrief.navigation.atmosphere import calibrated_airspeed_kt, isa_temperature_c
from debrief.navigation.wind import east_north

#: How much the wind may differ between two moments of one pattern: shear between its altitudes, gusts. [kt]
#: Mark: common practice.
WIND_DIFFERS_KT = 6.0
_MOST_MOMENTS = 120  # all pairs of these are looked at


def least_airspeed_kias(scene: Scene, start_s: float, end_s: float) -> tuple[float, float] | None:
    """A bound from below on the greatest indicated airspeed in a span, and its uncertainty (95 %). [kt]

    Tight where the span holds flight in opposite directions, as a course reversal does; useless on a straight
    leg. In standard air at the mean altitude. ``None`` where positions or altitude are not known.
    """
    view = scene.over(start_s, end_s)
    view = view.where(np.isfinite(view.groundspeed_kt) & np.isfinite(view.altitude_ft))
    if len(view) == 0:
        return None
    picked = view.where(np.unique(np.linspace(0, len(view) - 1, _MOST_MOMENTS).astype(np.int64)))
    east_kt, north_kt = east_north(picked.groundspeed_kt, picked.ground_track_true_deg)
    apart_kt = np.hypot(np.subtract.outer(east_kt, east_kt), np.subtract.outer(north_kt, north_kt))
    true_kt = float(apart_kt.max()) / 2.0
    altitude_ft = float(view.altitude_ft.mean())
    kias = float(calibrated_airspeed_kt(true_kt, altitude_ft, isa_temperature_c(altitude_ft)))
    sure_kt = uncertainty.airspeed_from_wind_kt(scene.flight, WIND_DIFFERS_KT / 2.0, kias)
    return (kias, sure_kt) if np.isfinite(kias) else None
