"""Lifts of which pressure altitude knows nothing.

Owns      ``altitude_disagrees`` of a part whose altitude goes where pressure altitude does not, however slowly.
Not here  what the rate of climb, or ground speed and track, know of a part (``drifted``).

Whoever lifts a part lifts it there and back, while the pressure altitude still tells of the flight as it was.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.received import LONGEST_INTERVAL_S, stale, untold
from debrief.checkride.signs.scale import greatest, strength_of, usual_excess
from debrief.checkride.signs.trace import Bools, Trace, ranges, step_of
from debrief.tracks.model import Floats

_OVER_S = (8.0, 16.0, 32.0, 64.0)  # a part is lifted within one of these
_BESIDE_S = 16.0  # on each side, too, it is looked at
_NOISES = 8.0
# the second where all a log says lies on straight lines, as over a dropout
_AGAINST_FT, _DRAWN_FT = 60.0, 110.0
_ROUNDED = 1.4  # of the steps of both, two ends together
# of a height flown: pressure altitude in air far from the standard atmosphere's temperature
_OFF_ALTITUDE = 0.15
_SUDDEN_FT, _SUDDEN_SHARE = 40.0, 0.5  # a pressure altitude that steps by itself
_JUMP_FT = 60.0  # of one that is received again
_INDICATED = 0.45


def integrated_signs(trace: Trace) -> Iterator[Flag]:
    """An altitude that changes where pressure altitude does not, or the other way round."""
    pressure_ft = trace.column("pressure_altitude_ft")
    if pressure_ft is None or trace.interval_s > LONGEST_INTERVAL_S:
        return
    apart = trace.altitude_ft - pressure_ft
    rounded_ft = _ROUNDED * (trace.altitude_step_ft + step_of(pressure_ft))
    hindered = untold(trace) | ~np.isfinite(apart) | stale(trace, pressure_ft, _JUMP_FT)
    steps = np.append(_steps_itself(trace, pressure_ft), False)
    beside = trace.samples(_BESIDE_S, 2)
    drawn, stepped = (np.concatenate([[0], np.cumsum(part)]) for part in (trace.drawn, steps))
    best: tuple[float, int, int] | None = None
    for over_s in _OVER_S:
        over = trace.samples(over_s, 2)
        first = np.arange(beside, len(trace) - over - beside)
        if not len(first):
            continue
        last, start, end = first + over, first - beside, first + over + beside
        off_ft = apart[last] - apart[first]
        valid = trace.whole(start, end, hindered) & (stepped[end] == stepped[start])
        usual_ft = _NOISES * usual_excess(off_ft, valid, int(end[0] - start[0]))
        limit_ft = np.where(drawn[end + 1] > drawn[start], _DRAWN_FT, _AGAINST_FT) + rounded_ft
        limit_ft = np.maximum(limit_ft, usual_ft) + _OFF_ALTITUDE * ranges(pressure_ft, start, end)
        times = np.where(valid, np.abs(off_ft) / limit_ft, -np.inf)
        k = greatest(times, max(1.0, best[0] if best is not None else 1.0))
        if k is not None:
            best = float(times[k]), int(first[k]), int(last[k])
    if best is None:
        return
    times_limit, begin, finish = best
    set_by_hand = trace.track.altitude_source == "indicated"
    yield Flag(
        sign="altitude_disagrees",
        strength=min(strength_of(times_limit), _INDICATED if set_by_hand else 1.0),
        evidence=(
            f"from {trace.when(begin, finish)} altitude less pressure altitude goes from "
            f"{apart[begin]:+.0f} to {apart[finish]:+.0f} ft, as neither the air nor a receiver makes it"
        ),
    )


def _steps_itself(trace: Trace, pressure_ft: Floats) -> Bools:
    """Where pressure altitude steps while the altitude goes on: its own error, or another setting of its source."""
    written = np.abs(np.diff(pressure_ft))
    written = written[written > 1e-6]
    least_ft = max(_SUDDEN_FT, 1.5 * float(written.min())) if len(written) else _SUDDEN_FT
    with np.errstate(invalid="ignore"):
        return np.asarray(
            _sudden(pressure_ft) > np.maximum(least_ft, _sudden(trace.altitude_ft) / _SUDDEN_SHARE)
        )


def _sudden(values: Floats) -> Floats:
    """How far each step is off those beside it."""
    step = np.diff(values)
    beside = np.stack([np.roll(step, shift) for shift in (-2, -1, 1, 2)])
    return np.asarray(np.abs(step - np.median(beside, axis=0)))
