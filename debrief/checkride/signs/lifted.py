"""A part of a flight lifted, or lowered, with an eased beginning and end, in a log that tells nothing but positions.

Owns      ``altitude_disagrees`` of such a part between some seconds and twenty of easing.
Not here  steps (``motion``, ``sparse``); what columns know of it (``integrated``).

Whoever lifts a part lets it down again by as much. Both times the altitude climbs or sinks by hundreds of feet within
seconds and then goes on at the rate it had before, and the speed over the ground does not change: an aircraft pays for
300 ft with a third of its speed at 100 kt, and gets it back afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.lines import Lines
from debrief.checkride.signs.scale import SPARSE_S, peaks, places, strength_of, usual_excess
from debrief.checkride.signs.stepped import ABSURD_FT
from debrief.checkride.signs.trace import Bools, Trace
from debrief.navigation.units import GRAVITY_M_S2, METRES_PER_FT
from debrief.tracks.model import Floats

_OVER_S = (5.0, 8.0, 11.0, 16.0, 21.0)
_SIDE_S = 9.0
_LEAST_FT, _COARSE_FT = 70.0, 30.0
# from level to level an aircraft climbs so fast as well; in a climb or a descent it has no reason to
_LEVEL_FT_S, _LEVEL_TO_LEVEL_FT_S = 4.0, 18.0
_STEEPEST_FT_S, _GOES_ON_FT_S = 25.0, 15.0  # between pulls and pushes lines tell of no rate that goes on
_SHORT_S, _SHORT_FT_S, _LEAST_FT_S = 10.0, 9.5, 7.5
# than the log's own climbs; in a climb or a descent that goes on afterwards nobody flies so for long
_STEEPER, _STEEPER_FOR_LONG, _STEEP_SHARE = 1.4, 0.8, 0.96
_NOISES = 6.0
_SAME = 0.12  # of the lift
_LONGEST_S, _SHORTEST_S = 420.0, 15.0  # between the two
_PAID = 0.3  # of the energy that the climb takes, out of the speed
# an edit has two such places; a pilot who pulls and pushes has more
_MOST_PLACES, _APART_S = 3, 25.0
_HABIT, _MOST = 0.4, 0.75


@dataclass(frozen=True, slots=True)
class _Ramp:
    over_s: float
    first: int  # sample
    last: int
    lift_ft: float
    times: float  # the limit


def lifted_signs(trace: Trace) -> Iterator[Flag]:
    """The greatest lift that is taken back by as much."""
    if trace.interval_s > SPARSE_S or trace.altitude_step_ft > _COARSE_FT or trace.filled_altitude_ft is None:
        return
    lines = Lines(trace.t_s, trace.samples(_SIDE_S, 4))
    mean_ft, slope_ft_s = lines.through(trace.altitude_ft)
    known_ft_s = np.abs(slope_ft_s[np.isfinite(slope_ft_s)])
    if not len(known_ft_s):
        return
    usual_ft_s = float(np.quantile(known_ft_s, _STEEP_SHARE))
    ramps = [
        ramp for over_s in _OVER_S for ramp in _ramps(trace, over_s, lines, mean_ft, slope_ft_s, usual_ft_s)
    ]
    best: tuple[float, _Ramp, _Ramp] | None = None
    for up in ramps:
        for down in ramps:
            between_s = trace.t_s[down.first] - trace.t_s[up.last]
            if not _SHORTEST_S < between_s < _LONGEST_S or up.over_s != down.over_s:
                continue
            left_ft = abs(up.lift_ft + down.lift_ft)
            if left_ft > _SAME * abs(up.lift_ft):
                continue
            times = min(up.times, down.times)
            if best is None or times > best[0]:
                best = times, up, down
    if best is None:
        return
    times, up, down = best
    middle_s = np.sort([(trace.t_s[ramp.first] + trace.t_s[ramp.last]) / 2.0 for ramp in ramps])
    often = places(middle_s, _APART_S) > _MOST_PLACES
    yield Flag(
        sign="altitude_disagrees",
        strength=_HABIT if often else min(strength_of(times), _MOST),
        evidence=(
            f"at {trace.when(up.first)} the altitude changes by {up.lift_ft:+.0f} ft within {up.over_s:.0f} s, at "
            f"{trace.when(down.first)} by {down.lift_ft:+.0f} ft; before and after each the rate of climb is the same, and "
            "the ground speed does not change with it"
        ),
    )


def _ramps(
    trace: Trace, over_s: float, lines: Lines, mean_ft: Floats, slope: Floats, usual_ft_s: float
) -> Iterator[_Ramp]:
    """The greatest changes of altitude within so many seconds, between stretches at one rate.

    ``mean_ft`` and ``slope`` (feet a second) are those of the altitude's lines, ``usual_ft_s`` that of its steep
    climbs.
    """
    side, over, mean_s = lines.count, trace.samples(over_s, 2), lines.mean_s
    first = np.arange(side - 1, len(trace) - over - side + 1)
    if len(first) < 4 * side:
        return
    last = first + over
    before, after = first - side + 1, last
    start_ft = mean_ft[before] + slope[before] * (trace.t_s[first] - mean_s[before])
    end_ft = mean_ft[after] + slope[after] * (trace.t_s[last] - mean_s[after])
    lapse_s = trace.t_s[last] - trace.t_s[first]
    lift_ft = end_ft - start_ft - (slope[before] + slope[after]) / 2.0 * lapse_s
    excess_ft = np.abs(lift_ft) - np.abs(slope[after] - slope[before]) * (lapse_s + _SIDE_S) / 2.0
    valid = np.isfinite(excess_ft) & (np.abs(lift_ft) < ABSURD_FT)
    for_long = over_s > _SHORT_S
    going_on_ft_s = max(
        _LEAST_FT_S if for_long else _SHORT_FT_S,
        (_STEEPER_FOR_LONG if for_long else _STEEPER) * usual_ft_s,
    )
    least_ft = max(_LEAST_FT, 4.0 * trace.altitude_step_ft, going_on_ft_s * over_s)
    if not (valid & (excess_ft > least_ft)).any():  # as in most logs
        return
    # beyond a ramp's own beginning and end, which lie in the sides of a window within it
    beyond = np.maximum(before - side, 0), np.minimum(after + side, len(slope) - 1)
    rates = np.stack([slope[k] for k in (before, after, *beyond)])
    goes_on = (np.abs(rates[:2] - rates[2:]) < _GOES_ON_FT_S).all(axis=0)
    beside_ft_s = np.abs(rates)
    level_ft = max(_LEVEL_TO_LEVEL_FT_S, _STEEPER * usual_ft_s) * over_s
    whole = trace.whole(before, last + side - 1, trace.hindered) & np.isfinite(excess_ft)
    usual_ft = usual_excess(np.maximum(excess_ft, 0.0), whole, side + over)
    limit_ft = np.where(beside_ft_s.min(axis=0) > _LEVEL_FT_S, least_ft, max(least_ft, level_ft))
    limit_ft = np.maximum(limit_ft, _NOISES * usual_ft)
    valid &= whole & (beside_ft_s.max(axis=0) < _STEEPEST_FT_S) & goes_on
    valid &= ~_paid(trace, first, last, lift_ft)
    times = np.where(valid, excess_ft / limit_ft, -np.inf)
    for k in islice(peaks(times, 1.0, over + side, over + side), 4):
        yield _Ramp(over_s, int(first[k]), int(last[k]), float(lift_ft[k]), float(times[k]))


def _paid(trace: Trace, first: np.ndarray, last: np.ndarray, lift_ft: Floats) -> Bools:
    """Where the aircraft got slower as it climbed, or faster as it sank, as a pull or a push makes it."""
    beside = trace.samples(_SIDE_S / 2.0, 3)
    way_m = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(trace.x_m), np.diff(trace.y_m)))])
    before, after = np.maximum(first - beside, 0), np.minimum(last + beside, len(trace) - 1)
    slow = (way_m[first] - way_m[before]) / (trace.t_s[first] - trace.t_s[before])
    fast = (way_m[after] - way_m[last]) / (trace.t_s[after] - trace.t_s[last])
    gained = (slow**2 - fast**2) / 2.0
    with np.errstate(invalid="ignore"):
        return np.asarray(gained * np.sign(lift_ft) > _PAID * GRAVITY_M_S2 * np.abs(lift_ft) * METRES_PER_FT)
