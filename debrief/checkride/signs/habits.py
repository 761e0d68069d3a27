"""What a log does again and again by its nature, so that the same thing once more tells nothing.

Owns      ``habit_of``: a log drawn out by straight lines, one that breaks off often, one with late positions,
          one of a simulator whose clock was set to another rate.
Not here  any sign; what the conditioning makes of the same (``tracks.conditioning``, ``tracks.drawn_out``).
"""

from __future__ import annotations

import numpy as np

from debrief.checkride.signs.scale import PACES, SPARSE_S, places
from debrief.checkride.signs.trace import FLYING_M_S, Trace, set_aside
from debrief.tracks.model import Conditioned

_PATCHY_PLACES, _APART_S = 3, 120.0  # an edit makes one or two breaks of its own
_LATE_S, _LATE_SHARE = 0.7, 0.9
_FEWEST_STRAIGHT = 20
_ONE_WAY, _NEARLY_ONE_WAY = 0.97, 0.8  # cosines of 14 and 37 deg
_CHORDS_S = (0.0, 2.0, 4.0)
_PACE_S, _FEWEST_PACE, _STEADY, _PACE_OFF, _PACE_OFF_EVENED = 4.0, 4, 1.2, 0.1, 0.05


def habit_of(trace: Trace, log: Conditioned | None) -> str:
    """Why steps and odd parts are this log's habit; "" where they are not."""
    if log is None:
        return "nothing could be made of the log"
    if log.drawn_out_s is not None:
        return "the log is drawn out by straight lines"
    jumps_s = trace.track.t_s[set_aside(trace.track, log, ("spike", "jump"))]
    bridged_s = trace.t_s[trace.bridged]
    gaps = [
        gap
        for gap in log.gaps
        if gap.reason != "bridged" or ((bridged_s >= gap.start_s) & (bridged_s <= gap.end_s)).any()
    ]
    broken_s = np.sort([*jumps_s, *(edge for gap in gaps for edge in (gap.start_s, gap.end_s))])
    if max(len(gaps), places(broken_s, _APART_S)) >= _PATCHY_PLACES:
        return "the log breaks off often"
    if trace.interval_s > SPARSE_S and late_s(trace) > _LATE_S:
        return "its positions are often late"
    if _another_pace(trace):
        return "it goes on at another pace at once, as where a simulator's clock is set to another rate"
    return ""


def _another_pace(trace: Trace) -> bool:
    """Whether the way is half, twice or four times as long from some moment on, and steady beside.

    From sample to sample, or over as many seconds as even out what a recorder scatters.
    """
    return any(_steps_in_pace(trace, chord) for chord in sorted({trace.samples(s) for s in _CHORDS_S}))


def _steps_in_pace(trace: Trace, chord: int) -> bool:
    # a step in position is in as many chords as a chord has samples, and makes no pace
    count = max(trace.samples(_PACE_S, _FEWEST_PACE), 2 * chord)
    if len(trace) < 2 * (count + chord) + 2:
        return False
    way_m = np.stack([values[chord:] - values[:-chord] for values in (trace.x_m, trace.y_m)])
    speed_m_s = np.hypot(*way_m) / (trace.t_s[chord:] - trace.t_s[:-chord])
    unit = way_m / np.maximum(np.hypot(*way_m), 1e-6)
    gaps = np.concatenate([[0], np.cumsum(trace.gap)])
    speed_m_s[gaps[chord:] > gaps[:-chord]] = 0.0
    windows = np.lib.stride_tricks.sliding_window_view(speed_m_s, count)
    slowest, fastest = (np.maximum(part, 1e-3) for part in (windows.min(axis=1), windows.max(axis=1)))
    # the clock is set in the step between, of which some chords have a part
    apart = count + chord
    before, after = slice(0, len(windows) - apart), slice(apart, len(windows))
    # a landing run evened out is steady, too
    least_m_s = FLYING_M_S * (min(PACES) if chord == 1 else 1.0)
    steady = (fastest < _STEADY * slowest) & (slowest > least_m_s)
    middle = np.log(slowest * fastest) / 2.0
    pace = middle[after] - middle[before]
    off = _PACE_OFF if chord == 1 else _PACE_OFF_EVENED
    known = np.any([np.abs(pace / np.log(known) - 1.0) < off for known in PACES], axis=0)
    ends, goes_on = unit[:, count - 1 : count - 1 + len(pace)], unit[:, apart : apart + len(pace)]
    one_way = (ends * goes_on).sum(axis=0) > _NEARLY_ONE_WAY
    return bool((known & one_way & steady[before] & steady[after]).any())


def late_s(trace: Trace) -> float:
    """How late nine in ten positions of a log of some seconds' interval are at most, from its straight parts. [s]

    Late positions scatter along the track; what scatters across it is noise, and is taken off.
    """
    way_m = np.stack([np.diff(trace.x_m), np.diff(trace.y_m)])
    length_m = np.hypot(*way_m)
    unit, speed_m_s = way_m / np.maximum(length_m, 1e-6), length_m / trace.step_s
    at = np.arange(1, len(length_m) - 1)
    one_way = np.minimum(*((unit[:, at + k] * unit[:, at]).sum(axis=0) for k in (-1, 1))) > _ONE_WAY
    flying = np.minimum(speed_m_s[at - 1], speed_m_s[at + 1]) > FLYING_M_S
    straight = one_way & flying & ~(trace.gap[at - 1] | trace.gap[at] | trace.gap[at + 1])
    if straight.sum() < _FEWEST_STRAIGHT:
        return 0.0
    at = at[straight]
    velocity = way_m / trace.step_s
    usual = (velocity[:, at - 1] + velocity[:, at + 1]) / 2.0
    usual_m_s = np.hypot(*usual)
    off = way_m[:, at] - usual * trace.step_s[at]
    along_s = np.abs((off * usual).sum(axis=0)) / usual_m_s**2
    across_s = np.abs(off[0] * usual[1] - off[1] * usual[0]) / usual_m_s**2
    along, across = (float(np.quantile(values, _LATE_SHARE)) for values in (along_s, across_s))
    return float(np.sqrt(max(along**2 - across**2, 0.0)))
