"""A part of a flight at a pace of its own: faster or slower from one sample to the next, and back by as much.

Owns      ``impossible_motion`` of such a part, whose samples were made anew at the log's interval.
Not here  stamps that show it (``stamps``), one step in speed alone (``motion``), columns that know of it (``columns``).

Who stretches the time of a leg and samples it anew leaves even stamps, and speeds that are all multiplied by one
factor. An engine or a brake makes no more than a quarter of gravity, and that for a while; a gust does not last.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.lines import Lines, medians
from debrief.checkride.signs.scale import SPARSE_S, noise_of, of_a_clock, peaks, places, strength_of
from debrief.checkride.signs.trace import FLYING_M_S, Trace

_SIDE_S, _FEWEST = 5.0, 4
_LEAST_M_S, _FASTER_M_S2, _NOISES = 2.2, 2.5, 6.0
_NOISES_THERE, _ENDS_OFF = 4.0, 2.0  # a line's end is off by twice what its mean is
_AT_ONCE = 0.6  # of the change, within one interval
_SAME, _SAME_NOISES = 0.15, 2.0  # of the factor; of both changes
_SHORTEST_S, _LONGEST_S = 20.0, 400.0
_MOST_PLACES, _APART_S = 3, 8.0
_PACE_OFF, _ENDS_S = 0.04, 20.0
_HABIT, _MOST = 0.4, 0.8


def pace_signs(trace: Trace) -> Iterator[Flag]:
    """The pair of steps in speed that are each other's reverse."""
    lines = Lines((trace.t_s[1:] + trace.t_s[:-1]) / 2.0, trace.samples(_SIDE_S, _FEWEST))
    count = lines.count
    if trace.interval_s > SPARSE_S or len(trace) < 6 * count:
        return
    speed = np.hypot(np.diff(trace.x_m), np.diff(trace.y_m)) / trace.step_s
    pace = np.log(np.maximum(speed, 1.0))
    mean, slope = lines.through(pace)
    at = np.arange(count, len(trace) - count)  # the sample between the two sides
    before, after = at - count, at
    step = mean[after] - slope[after] * (lines.mean_s[after] - trace.t_s[at])
    step -= mean[before] + slope[before] * (trace.t_s[at] - lines.mean_s[before])
    slow = np.append(speed < FLYING_M_S, False)
    valid = trace.whole(at - count, at + count, trace.hindered | slow)
    valid &= (trace.t_s[at] > trace.t_s[0] + _ENDS_S) & (trace.t_s[at] < trace.t_s[-1] - _ENDS_S)
    if not valid.any():
        return
    noise = noise_of(step, valid)
    least = np.maximum(_LEAST_M_S, _FASTER_M_S2 * trace.interval_s) / np.maximum(speed[at], FLYING_M_S)
    change = np.maximum(np.abs(step), np.abs(mean[after] - mean[before]))
    at_once = (pace[at] - pace[at - 1]) * np.sign(step) > _AT_ONCE * change
    # beside a wild sample, or a step aside, one speed or two are odd, and the others go on
    middle = medians(pace, count)
    at_once &= (middle[after] - middle[before]) * np.sign(step) > _AT_ONCE * np.abs(step)
    # what scatters more for a while makes steps at its ends
    rough = np.maximum(*(lines.off(pace)[side] for side in (before, after))) * _ENDS_OFF / np.sqrt(count)
    times = np.abs(step) / np.maximum(np.maximum(least, _NOISES * noise), _NOISES_THERE * rough)
    times = np.where(valid & at_once, times, -np.inf)
    found = list(peaks(times, 1.0, count, count + 1))
    drawn = places(np.sort(trace.t_s[at[found]]), _APART_S) > _MOST_PLACES
    pairs = [
        (float(min(times[a], times[b])), a, b)
        for a in found
        for b in found
        if _SHORTEST_S < trace.t_s[at[b]] - trace.t_s[at[a]] < _LONGEST_S
        and abs(step[a] + step[b]) < _SAME * abs(step[a]) + _SAME_NOISES * noise
        and not of_a_clock(float(np.exp(step[a])), _PACE_OFF)
        and not trace.through_one_height(int(at[a]), int(at[b]))
    ]
    if not pairs:
        return
    most, a, b = max(pairs)
    yield Flag(
        sign="impossible_motion",
        strength=_HABIT if drawn or trace.flown_steeply else min(strength_of(most), _MOST),
        evidence=(
            f"at {trace.when(int(at[a]))} the ground speed goes to {100.0 * np.exp(step[a]):.0f} % from one sample to the "
            f"next, at {trace.when(int(at[b]))} to {100.0 * np.exp(step[b]):.0f} %: as if time was multiplied by "
            f"{np.exp(-step[a]):.2f} in between"
        ),
    )
