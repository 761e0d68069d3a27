"""Columns that stand where what they tell of does not, while the others of the same receiver go on.

Owns      ``speed_disagrees`` of a ground speed that stands at one number or a track at one course, ``altitude_disagrees`` of a rate of climb that was held
          to a least one.
Not here  a ground speed that was held down (``columns``), columns that were not received at all.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.received import LONGEST_INTERVAL_S
from debrief.checkride.signs.trace import Bools, Trace, runs
from debrief.tracks.middles import median_of, spread
from debrief.tracks.model import Floats

_COLUMNS = ("ground_track_true_deg", "vertical_speed_ft_min")  # one of them at least is asked
_CHORD_S = 8.0
_STANDS_S, _FEWEST, _CHANGES = 30.0, 8, 6  # of the ground speed meanwhile
_TURNS_DEG, _NOISES, _AGREES_DEG, _INNER = 3.0, 6.0, 10.0, (0.1, 0.9)
# of a ground speed
_AT_FIRST = 3
_MOST_STANDS, _AGREES_KT, _FASTER_KT, _NOISES_SPEED, _CHANGING, _KT = 2, 2.0, 4.0, 4.0, 0.2, 3.6 / 1.852
_FEWEST_HELD, _SMOOTH_FT_MIN, _BEYOND_FT_MIN, _SLOW_FT_MIN = 10, 250.0, 120.0, 1800.0
_AGREE_FT_MIN, _BELOW_FT_MIN, _HELD_SHARE = 60.0, 60.0, 0.75
_STRENGTH = 0.65


def standing_signs(trace: Trace) -> Iterator[Flag]:
    """Stands of the ground speed and of the track; the lowest rate of climb."""
    if not trace.has_any(_COLUMNS):
        return
    if trace.interval_s > LONGEST_INTERVAL_S or len(trace) < 8 * trace.samples(_CHORD_S / 2.0):
        return
    first, last = trace.around(_CHORD_S)
    whole = trace.whole(first, last, trace.hindered | trace.drawn)
    yield from _speed(trace, first, last, whole)
    yield from _track(trace, first, last, whole)
    yield from _rate(trace, first, last, whole)


def _speed(trace: Trace, first: np.ndarray, last: np.ndarray, whole: Bools) -> Iterator[Flag]:
    speed_kt = trace.column("groundspeed_kt")
    others = [values for name in _COLUMNS if (values := trace.column(name)) is not None]
    stands = runs(np.diff(speed_kt) == 0.0, _FEWEST) if speed_kt is not None and others else []
    stands = [(a, b + 1) for a, b in stands if trace.t_s[b + 1] - trace.t_s[a] >= _STANDS_S]
    if speed_kt is None or not 0 < len(stands) <= _MOST_STANDS:
        return
    made_kt = np.hypot(trace.x_m[last] - trace.x_m[first], trace.y_m[last] - trace.y_m[first])
    made_kt *= _KT / (trace.t_s[last] - trace.t_s[first])
    off_kt = made_kt - speed_kt
    known = whole & np.isfinite(off_kt) & trace.flying
    elsewhere = known.copy()
    for a, b in stands:
        elsewhere[a : b + 1] = False
    # of the airspeed that some logs have there a wind makes more
    if elsewhere.sum() < 4 * _FEWEST or abs(median_of(off_kt[elsewhere])) > _AGREES_KT:
        return
    limit_kt = max(_FASTER_KT, _NOISES_SPEED * spread(off_kt[elsewhere]))
    for a, b in stands:
        inside = known[a : b + 1]
        changes = max(int((np.diff(values[a : b + 1]) != 0.0).sum()) for values in others)
        if changes < max(_CHANGES, _CHANGING * (b - a)) or inside.sum() < _FEWEST:
            continue
        off_there_kt = np.abs(off_kt[a : b + 1][inside])
        most_kt = float(np.median(off_there_kt))
        # one that is not received stands at what it was
        if min(most_kt, float(np.median(off_there_kt[:_AT_FIRST]))) > limit_kt:
            yield Flag(
                sign="speed_disagrees",
                strength=_STRENGTH,
                evidence=(
                    f"from {trace.when(a, b)} the log's ground speed stands at {speed_kt[a]:.1f} kt to the last digit, while its "
                    f"other columns go on changing; the positions go at another by {most_kt:.0f} kt, and elsewhere the two agree"
                ),
            )
            return


def _track(trace: Trace, first: np.ndarray, last: np.ndarray, whole: Bools) -> Iterator[Flag]:
    track_deg, speed_kt = trace.column("ground_track_true_deg"), trace.column("groundspeed_kt")
    if track_deg is None or speed_kt is None:
        return
    made = np.degrees(np.arctan2(trace.x_m[last] - trace.x_m[first], trace.y_m[last] - trace.y_m[first]))
    off = (made - track_deg + 180.0) % 360.0 - 180.0
    known = whole & np.isfinite(off)
    stands = runs(np.diff(track_deg) == 0.0, _FEWEST)
    standing: Bools = np.zeros(len(trace), dtype=np.bool_)
    for a, b in stands:
        standing[a : b + 2] = True
    elsewhere = known & ~standing
    if elsewhere.sum() < 4 * _FEWEST or abs(median_of(off[elsewhere])) > _AGREES_DEG:
        return
    limit_deg = max(_TURNS_DEG, _NOISES * spread(off[elsewhere]))
    found = []
    for a, b in stands:
        inside = slice(a, b + 2)
        changes = int((np.diff(speed_kt[inside]) != 0.0).sum())
        if trace.t_s[b + 1] - trace.t_s[a] < _STANDS_S or changes < _CHANGES or known[inside].sum() < _FEWEST:
            continue
        low, high = np.quantile(off[inside][known[inside]], _INNER)
        if high - low > limit_deg:
            found.append((a, b + 1, float(high - low)))
    if len(found) == 1:
        a, b, turned = found[0]
        yield Flag(
            sign="speed_disagrees",
            strength=_STRENGTH,
            evidence=(
                f"from {trace.when(a, b)} the log's track stands at {track_deg[a]:.1f} degrees to the last digit, while the "
                f"ground speed goes on changing and the positions turn by {turned:.0f} degrees"
            ),
        )


def _rate(trace: Trace, first: np.ndarray, last: np.ndarray, whole: Bools) -> Iterator[Flag]:
    rate_ft_min = trace.column("vertical_speed_ft_min")
    if rate_ft_min is None:
        return
    made = (trace.altitude_ft[last] - trace.altitude_ft[first]) / (trace.t_s[last] - trace.t_s[first]) * 60.0
    known = whole & np.isfinite(made) & np.isfinite(rate_ft_min)
    least = float(np.nanmin(rate_ft_min))
    sinking = known & (rate_ft_min < -_BELOW_FT_MIN) & (rate_ft_min > least + _BELOW_FT_MIN)
    if not -_SLOW_FT_MIN < least < -_BELOW_FT_MIN or sinking.sum() < _FEWEST_HELD:
        return
    off = made - rate_ft_min
    usual = median_of(off[sinking])
    held = [
        k
        for a, b in runs(rate_ft_min == least, 2)
        if _smooth(rate_ft_min, a, b, least)
        for k in range(a, b + 1)
        if known[k]
    ]
    if len(held) < _FEWEST_HELD or abs(usual) > _AGREE_FT_MIN:
        return
    beyond = usual - float(np.quantile(off[held], 1.0 - _HELD_SHARE / 2.0))
    if beyond > max(_BEYOND_FT_MIN, 1.5 * spread(off[sinking] - usual)):
        yield Flag(
            sign="altitude_disagrees",
            strength=_STRENGTH,
            evidence=(
                f"from {trace.when(held[0], held[-1])} the log's rate of climb stands at {least:.0f} ft/min, its least, in "
                f"{len(held)} samples; the altitude sinks faster by {beyond:.0f} ft/min and more, and elsewhere the two agree"
            ),
        )


def _smooth(values: Floats, first: int, last: int, least: float) -> bool:
    edges = [values[k] for k in (first - 1, last + 1) if 0 <= k < len(values)]
    return all(edge - least < _SMOOTH_FT_MIN for edge in edges)
