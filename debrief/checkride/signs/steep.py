"""Climbs that last, steeper than any aircraft flies at a speed that does not change.

Owns      ``impossible_motion`` of them.
Not here  steps in altitude (``motion``, ``sparse``), falls, which aircraft do for some seconds (``motion``).

Who climbs at four tenths of the ground speed and more pays for it with speed within seconds, or has an engine that lifts the
aircraft by itself. A rate that is added to altitudes costs nothing. A descent as steep is paid for by drag: those who drop
parachutists fly it every day.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.trace import FLYING_M_S, Trace, runs
from debrief.navigation.units import GRAVITY_M_S2, METRES_PER_FT

_OVER_S = 8.0
_LASTING_S, _FEWEST = 16.0, 3
_STEEP, _LEAST_FT_S = 0.4, 75.0  # of the ground speed; 4,500 ft/min
_STEADY = 0.35  # of the rate
_PAID = 0.3  # of the energy of the height, at most, from the highest speed to the lowest
_STRENGTH = 0.65


def steep_signs(trace: Trace) -> Iterator[Flag]:
    """The first such climb."""
    half = trace.samples(_OVER_S / 2.0)
    here = np.arange(half, len(trace) - half)
    if len(here) < _FEWEST:
        return
    first, last = here - half, here + half
    seconds = trace.t_s[last] - trace.t_s[first]
    rate_ft_s = (trace.altitude_ft[last] - trace.altitude_ft[first]) / seconds
    speed_m_s = np.hypot(trace.x_m[last] - trace.x_m[first], trace.y_m[last] - trace.y_m[first]) / seconds
    with np.errstate(invalid="ignore"):
        steep = (rate_ft_s > _LEAST_FT_S) & (rate_ft_s * METRES_PER_FT > _STEEP * speed_m_s)
        steep &= trace.whole(first, last, trace.bridged | ~np.isfinite(trace.altitude_ft))
        steep &= speed_m_s > FLYING_M_S
    for begin, end in runs(np.asarray(steep), _FEWEST):
        rates, speeds = rate_ft_s[begin : end + 1], speed_m_s[begin : end + 1]
        if trace.t_s[here[end]] - trace.t_s[here[begin]] < _LASTING_S:
            continue
        middle = float(np.median(rates))
        steady = np.mean(np.abs(rates / middle - 1.0) < _STEADY) > 0.8
        height_m = middle * METRES_PER_FT * float(trace.t_s[here[end]] - trace.t_s[here[begin]])
        paid = float(speeds.max() ** 2 - speeds.min() ** 2) / 2.0
        if steady and paid < _PAID * GRAVITY_M_S2 * height_m:
            yield Flag(
                sign="impossible_motion",
                strength=_STRENGTH,
                evidence=(
                    f"from {trace.when(int(here[begin]), int(here[end]))} the altitude climbs at {60.0 * middle:.0f} ft/min, at "
                    f"a ground speed of {float(np.median(speeds)) * 3.6 / 1.852:.0f} kt that does not pay for it"
                ),
            )
            return
