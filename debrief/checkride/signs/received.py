"""Where a log's columns tell nothing of its positions: not received, not renewed, or at a simulator's other pace.

Owns      ``untold``, ``stale``; the intervals at which positions are renewed.
Not here  any sign.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from debrief.checkride.signs.scale import MISSING, of_a_clock
from debrief.checkride.signs.trace import Bools, Trace, runs
from debrief.tracks.model import Floats

LONGEST_INTERVAL_S = 6.0  # at longer ones a column is older than its position
RENEWED_S = 1.5  # at longer intervals one position is a way of its own
NOT_RENEWED = 1.3  # intervals
NEVER_AGAIN_S = 60.0  # to the log's end: nobody flies at one speed or rate to the last digit for so long
_STALE_S, _TURNS_ON = 8.0, 1.5
_MADE_OVER_S, _MOSTLY, _FEWEST_SO = 8.0, 0.75, 3
_PACE_OFF, _PACE_LASTING_S = 0.06, 6.0
_M_S = 1852.0 / 3600.0


def untold(trace: Trace) -> Bools:
    """Samples at which no column is held against the positions."""
    hindered = trace.hindered | _at_another_pace(trace)
    # beside a missing sample a position that was not renewed shows by itself
    if trace.interval_s > RENEWED_S:
        missing = trace.step_s > MISSING * trace.interval_s
        hindered = hindered | np.append(missing, False) | np.append(False, missing)
    return hindered


def _at_another_pace(trace: Trace) -> Bools:
    """Samples around which positions go half, twice or four times as fast as the column says: a simulator's clock."""
    speed_kt = trace.column("groundspeed_kt")
    if speed_kt is None:
        return np.zeros(len(trace), dtype=np.bool_)
    with np.errstate(invalid="ignore", divide="ignore"):
        pace = trace.speed_m_s / (speed_kt * _M_S)
    at_one = of_a_clock(pace, _PACE_OFF)
    found: Bools = np.zeros(len(trace), dtype=np.bool_)
    beside = trace.samples(_PACE_LASTING_S)
    for first, last in runs(at_one, trace.samples(_PACE_LASTING_S, 2)):
        found[max(first - beside, 0) : last + 1 + beside] = True
    return found


def stale(
    trace: Trace,
    column: Floats,
    jump: float,
    *,
    made: Callable[[Trace], Floats] | None = None,
    within: float = 0.0,
    full: float = np.inf,
    to_the_end_s: float = np.inf,
) -> Bools:
    """Where a column was not received for a while: it stands, and then is another by more than ``jump``.

    One that stands because the flight is steady goes on where it stood, or is ``within`` so much what positions or
    altitudes ``made`` of it meanwhile. ``full`` is a whole circle, of a direction; ``to_the_end_s`` is how long it may
    stand at the log's end, but for 0.
    """
    step = np.abs(np.diff(column))
    step = np.minimum(step, full - step)
    found: Bools = np.zeros(len(trace), dtype=np.bool_)
    for first, last in runs(step == 0.0, trace.samples(_STALE_S, 2)):
        again, then = (step[k] if k < len(step) else 0.0 for k in (last + 1, last + 2))
        never_again = last + 1 == len(step) and column[-1] != 0.0
        lasts_s = trace.t_s[last + 1] - trace.t_s[first]
        # a turn that begins goes on by as much
        if again > max(jump, _TURNS_ON * then) or (never_again and lasts_s > to_the_end_s):
            inside = slice(first, last + 2)
            if made is None or not _is_so(made(trace)[inside] - column[inside], within, full):
                found[inside] = True
    return found


def made_kt(trace: Trace) -> Floats:
    """Ground speed over some seconds around each sample, from its positions."""
    first, last = trace.around(_MADE_OVER_S)
    way_m = np.hypot(trace.x_m[last] - trace.x_m[first], trace.y_m[last] - trace.y_m[first])
    return np.asarray(way_m / (trace.t_s[last] - trace.t_s[first]) / _M_S)


def made_deg(trace: Trace) -> Floats:
    """Track over some seconds around each sample, from its positions."""
    first, last = trace.around(_MADE_OVER_S)
    east, north = trace.x_m[last] - trace.x_m[first], trace.y_m[last] - trace.y_m[first]
    return np.degrees(np.arctan2(east, north)) % 360.0


def made_ft_min(trace: Trace) -> Floats:
    """Rate of climb over some seconds around each sample, from its altitudes."""
    first, last = trace.around(_MADE_OVER_S)
    lapse_min = (trace.t_s[last] - trace.t_s[first]) / 60.0
    return np.asarray((trace.altitude_ft[last] - trace.altitude_ft[first]) / lapse_min)


def _is_so(off: Floats, within: float, full: float) -> bool:
    """Whether a difference is small at first, at last and mostly."""
    off = np.abs(off)
    off = np.minimum(off, full - off)
    off = off[np.isfinite(off)]
    third = max(len(off) // 3, 1)
    if len(off) < _FEWEST_SO:
        return False
    parts = np.median(off[:third]), np.median(off[-third:]), np.quantile(off, _MOSTLY)
    return bool(max(parts) <= within)
