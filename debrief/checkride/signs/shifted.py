"""A rate of climb that knows what the altitude will do: altitudes that were shifted in time against all else.

Owns      ``altitude_disagrees`` of a whole log whose altitudes were put later, or earlier by far.
Not here  a part that was shifted (``drifted``).

An instrument is late, by some seconds, and tells nothing before it happens. Where the rate of climb, summed up, is the
altitude of ten seconds later, and fits that of no moment near, the altitudes were moved.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.received import LONGEST_INTERVAL_S, NEVER_AGAIN_S, stale, untold
from debrief.checkride.signs.trace import Trace

_EARLIEST_S, _LATEST_S = -6.0, 15.0  # of an instrument; altitudes of a receiver that filters them
_TRIED_S = np.arange(-60.0, 61.0, 1.5)
_OVER_S, _OVERLAP = 24.0, 4
_FEWEST, _LEAST_FT, _EXPLAINED = 30, 12.0, 0.5
_JUMP_FT_MIN = 150.0
_STRENGTH = 0.7


def shifted_signs(trace: Trace) -> Iterator[Flag]:
    """The shift by which altitudes and rate of climb fit."""
    rate_ft_min = trace.column("vertical_speed_ft_min")
    altitude_ft = trace.filled_altitude_ft
    if rate_ft_min is None or altitude_ft is None or trace.interval_s > LONGEST_INTERVAL_S:
        return
    over = trace.samples(_OVER_S, 2)
    first = np.arange(0, len(trace) - over, max(1, over // _OVERLAP))
    beyond_s = trace.t_s[[0, -1]] - _TRIED_S[[0, -1]]
    hindered = untold(trace) | ~np.isfinite(trace.altitude_ft + rate_ft_min)
    hindered |= stale(trace, rate_ft_min, _JUMP_FT_MIN, to_the_end_s=NEVER_AGAIN_S)
    inside = (trace.t_s[first] > beyond_s[0]) & (trace.t_s[first + over] < beyond_s[1])
    first = first[trace.whole(first, first + over, hindered) & inside]
    if len(first) < _FEWEST:
        return
    t_s, told_ft = trace.t_s, trace.summed(rate_ft_min / 60.0)
    climbs_ft = altitude_ft[first + over] - altitude_ft[first]

    def misfit_ft(late_s: float) -> float:
        told = np.interp(t_s[first + over] + late_s, t_s, told_ft) - np.interp(
            t_s[first] + late_s, t_s, told_ft
        )
        off = climbs_ft - told
        return float(np.abs(off - np.median(off)).mean())

    usual_ft = misfit_ft(0.0)
    if usual_ft < _LEAST_FT:  # as in most logs
        return
    left_ft = np.array([misfit_ft(late_s) for late_s in _TRIED_S])
    late_s = float(_TRIED_S[int(np.argmin(left_ft))])
    near_ft = float(left_ft[(_TRIED_S >= _EARLIEST_S) & (_TRIED_S <= _LATEST_S)].min())
    if _EARLIEST_S <= late_s <= _LATEST_S or left_ft.min() > _EXPLAINED * near_ft:
        return
    yield Flag(
        sign="altitude_disagrees",
        strength=_STRENGTH,
        evidence=(
            f"the altitude is all through the log what the rate of climb, summed up, was {abs(late_s):.0f} s before: no "
            "instrument knows what comes"
            if late_s < 0.0
            else f"the rate of climb, summed up, is all through the log what the altitude was {late_s:.0f} s before: no "
            "instrument is so late"
        ),
    )
