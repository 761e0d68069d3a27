"""Motion that lasts and cannot be: speeds, sinking and turning beyond any, and one speed whatever is flown.

Owns      ``impossible_motion`` of that kind.
Not here  steps from one sample to the next (``motion``, ``joined``), corners (``corners``).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.trace import FLYING_M_S, Trace, runs
from debrief.navigation.units import GRAVITY_M_S2
from debrief.tracks.middles import MAD_TO_SIGMA, median_of
from debrief.tracks.model import Floats

_LATERAL_M_S2 = 40.0
_HASTENED = 1.7  # times the log's own speed: a simulator's clock at another rate
_FAST_M_S = 360.0  # 700 kt
_FALL_FT_MIN = 9000.0
_FASTER, _FALLING = 0.7, 0.4  # aircraft do fall so: in weightless flights, and by single wrong altitudes
_BROKEN = 4.0  # so many times the limit nobody would edit: the recorder has failed
_LASTING_S = 8.0
_AVERAGED_S, _FEWEST_PARTS, _MOST_PARTS = 30.0, 12, 0.8
# from the slow to the fast of nine in ten parts; thirty seconds between positions of 1 m make 0.001
_ONE_SPEED = 0.004
_DESCENT_FT = 1000.0  # in which true airspeed alone changes by 2 %
_ONE_WAY = 0.8
# so many corners, of 20 degrees and twice gravity and more, are a drawing's; with all of a corner in one sample
_FEWEST_CORNERS, _CORNER_RAD, _CORNER_M_S2, _BEGUN, _DRAWN = 2, 0.35, 20.0, 0.3, 0.65
_COMPUTED = 0.45  # told, but not for the examiner: a plain simulator in still air may hold one speed, too


def beyond_signs(trace: Trace) -> Iterator[Flag]:
    """Speeds, sinking and turning that last and cannot be."""
    half = trace.samples(_LASTING_S / 2)
    n = len(trace)
    here = np.arange(half, n - half)
    if not len(here):
        return
    start, end = here - half, here + half
    gaps = np.concatenate([[0], np.cumsum(trace.gap)])
    whole = (gaps[end] == gaps[start]) & ~trace.bridged[here]
    seconds = trace.t_s[end] - trace.t_s[start]
    speed = np.hypot(trace.x_m[end] - trace.x_m[start], trace.y_m[end] - trace.y_m[start]) / seconds
    climb_ft_min = (trace.altitude_ft[end] - trace.altitude_ft[start]) / seconds * 60.0
    with np.errstate(invalid="ignore"):
        fast = whole & (speed > _FAST_M_S) & (speed < _BROKEN * _FAST_M_S)
        steep = np.abs(climb_ft_min)
        falls = whole & (steep > _FALL_FT_MIN) & (steep < _BROKEN * _FALL_FT_MIN)
    for mask, words, values, strength in (
        (fast, "a ground speed of {:.0f} kt", speed * 3.6 / 1.852, _FASTER),
        (falls, "{:+.0f} ft/min", climb_ft_min, _FALLING),
    ):
        found = runs(mask, max(3, trace.samples(_LASTING_S)))
        if found:
            first, last = found[0]
            value = values[first : last + 1][int(np.argmax(np.abs(values[first : last + 1])))]
            yield Flag(
                sign="impossible_motion",
                strength=strength,
                evidence=f"from {trace.when(int(here[first]), int(here[last]))} {words.format(value)}",
            )
    yield from _turning(trace)
    yield from _one_speed(trace)


def _one_speed(trace: Trace) -> Iterator[Flag]:
    """One ground speed through a whole flight, of which the air alone takes some percent in every descent.

    At the same indicated speed true airspeed grows by about 2 % in 1,000 ft, and a turn changes what the wind adds.
    """
    part = trace.samples(_AVERAGED_S)
    at = np.arange(0, len(trace), part)
    if len(at) <= _FEWEST_PARTS:
        return
    way_m = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(trace.x_m), np.diff(trace.y_m)))])
    speed = np.diff(way_m[at]) / np.diff(trace.t_s[at])
    missing = np.concatenate([[0], np.cumsum(trace.gap)])
    known = (missing[at[1:]] == missing[at[:-1]]) & (speed > FLYING_M_S)
    if known.sum() < _FEWEST_PARTS or known.mean() < _MOST_PARTS:
        return
    low, high = np.quantile(speed[known], [0.05, 0.95])
    altitude_ft = trace.altitude_ft[np.isfinite(trace.altitude_ft)]
    if len(altitude_ft) < len(trace) / 2 or high - low >= _ONE_SPEED * low:
        return
    height_ft = float(np.ptp(np.quantile(altitude_ft, [0.05, 0.95])))
    heading = np.arctan2(np.diff(trace.x_m[at]), np.diff(trace.y_m[at]))[known]
    turns = float(np.hypot(np.sin(heading).mean(), np.cos(heading).mean())) < _ONE_WAY
    if height_ft > _DESCENT_FT and turns:
        corners = _corners(trace)
        drawn = corners >= _FEWEST_CORNERS
        yield Flag(
            sign="impossible_motion",
            strength=_DRAWN if drawn else _COMPUTED,
            evidence=(
                f"nine tenths of the log move at {low * 3.6 / 1.852:.1f} to {high * 3.6 / 1.852:.1f} kt over the "
                f"ground, through its turns and {height_ft:.0f} ft of altitude"
                + (
                    f", and {corners} times into another direction from one sample to the next"
                    if drawn
                    else ""
                )
            ),
        )


def _corners(trace: Trace) -> int:
    """How often the way goes into another direction within a step, with straight steps before and after."""
    heading = np.unwrap(np.arctan2(np.diff(trace.x_m), np.diff(trace.y_m)))
    if len(heading) < 6:
        return 0
    turn = np.abs(heading[3:-1] - heading[1:-3])
    beside = np.maximum(np.abs(heading[1:-3] - heading[:-4]), np.abs(heading[4:] - heading[3:-1]))
    step_s, speed_m_s = trace.step_s[2:-2], np.maximum(trace.speed_m_s[2:-3], FLYING_M_S)
    sharp = (turn > np.maximum(_CORNER_RAD, _CORNER_M_S2 * step_s / speed_m_s)) & (beside < _BEGUN * turn)
    # a corner between two steps shows in both pairs that have it
    return int((sharp[1:] & ~sharp[:-1]).sum() + sharp[0])


def _turning(trace: Trace) -> Iterator[Flag]:
    """Turning harder than any airframe of this sort stands: four times gravity for some seconds."""
    count = max(1, trace.samples(2.0))
    n = len(trace)
    if n < 6 * count:
        return
    x_m, y_m, t_s = trace.x_m, trace.y_m, trace.t_s
    seconds = t_s[count:] - t_s[:-count]
    vx, vy = (x_m[count:] - x_m[:-count]) / seconds, (y_m[count:] - y_m[:-count]) / seconds
    lapse = t_s[2 * count :] - t_s[: -2 * count]
    across = (vx[:-count] * vy[count:] - vy[:-count] * vx[count:]) / np.maximum(
        np.hypot(vx[:-count], vy[:-count]), 1.0
    )
    lateral = np.abs(across) / (lapse / 2)
    noise = _spread(across / (lapse / 2))
    gaps = np.concatenate([[0], np.cumsum(trace.gap)])
    at = np.arange(len(lateral))
    whole = (gaps[at + 2 * count] == gaps[at]) & ~trace.bridged[at + count]
    found = runs(whole & (lateral > max(_LATERAL_M_S2, 6 * noise)), max(3, trace.samples(4.0)))
    if found:
        first, last = found[0]
        inside = np.hypot(vx[first : last + 1], vy[first : last + 1])
        hastened = median_of(inside) > _HASTENED * median_of(trace.speed_m_s[trace.flying])
        yield Flag(
            sign="impossible_motion",
            strength=0.4 if hastened else 0.65,
            evidence=(
                f"from {trace.when(first + count, last + count)} it turns with "
                f"{lateral[first : last + 1].max() / GRAVITY_M_S2:.1f} times gravity"
            ),
        )


def _spread(values: Floats) -> float:
    """Robust standard deviation about zero."""
    known = values[np.isfinite(values)]
    return MAD_TO_SIGMA * median_of(np.abs(known)) if len(known) else 0.0
