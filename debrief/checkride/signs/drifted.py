"""Moves of which the log's own columns know nothing: positions and altitudes against speeds summed up over time.

Owns      ``speed_disagrees`` and ``altitude_disagrees`` of a part that was moved aside or lifted, however slowly.
Not here  columns that disagree for as long as the part lasts (``columns``), pressure altitude (``integrated``).

Whoever moves a part aside moves it there and back. Meanwhile ground speed and track still tell of the flight as it
was: summed up over the same seconds they lead to another place. How late a log's columns are is the same all through
it: it is found first, as what makes the sums fit best, and taken off. What is left of it shows where a speed changes,
at the two ends of a stretch, and nowhere between.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.lines import means_about
from debrief.checkride.signs.received import (
    LONGEST_INTERVAL_S,
    NEVER_AGAIN_S,
    NOT_RENEWED,
    RENEWED_S,
    made_deg,
    made_ft_min,
    made_kt,
    stale,
    untold,
)
from debrief.checkride.signs.scale import greatest, strength_of, usual_excess
from debrief.checkride.signs.trace import Bools, Trace, ranges
from debrief.tracks.middles import median_of
from debrief.tracks.model import Floats

_COLUMNS = ("groundspeed_kt", "vertical_speed_ft_min")  # one of them at least is asked
_OVER_S = (8.0, 16.0, 32.0, 64.0)  # a part is moved within one of these
_BESIDE_S = 12.0  # on each side, where the two go on together
_LATE_S = np.arange(-1.0, 7.1, 0.5)  # filtered velocities; a vertical speed indicator
_FITTED_S, _FITTED_OVERLAP = 16.0, 4
# that a column is late by besides, also of how late it is: a filter is not late by one time; and where it shows
_LEFT_LATE_S, _LEFT_LATE, _ENDS_S = 1.5, 0.25, 3.0
_MEAN_S = 2.0  # on each side: what scatters from sample to sample
_NOISES = 6.5
_MOVED_M, _LIFTED_FT = 45.0, 40.0  # less changes nothing that is judged
# where all a log says lies on straight lines, as over a dropout: what those miss of a flight
_DRAWN_M, _DRAWN_FT, _DRAWN_LATE = 120.0, 110.0, 3.0
_OFF_RATE = 0.15  # of a height: a rate of climb in air far from the standard atmosphere's temperature
_OFF_AIR, _CLIMB_S, _CLIMB_FT = 0.05, 32.0, 100.0  # of that air from height to height
_ROUNDED = 1.4  # steps, two ends together
_OFF_BESIDE = 0.2  # share of the way that a column may be off on both sides, to be one that tells of it
_JUMP_KT, _JUMP_DEG, _JUMP_FT_MIN = 4.0, 4.0, 150.0  # of a column that is received again
_IS_KT, _IS_DEG, _IS_FT_MIN = 2.5, 3.0, 80.0  # of one that stands because it is so
_FEWEST, _STEEP = 10, 0.4
_UNSURE, _FEWEST_APART = 1.0, 4.0
_M_S = 1852.0 / 3600.0


@dataclass(frozen=True, slots=True)
class _Sums:
    """What a log says twice, shape (axes, samples): where it is, and the speeds that lead there."""

    places: Floats
    speeds: Floats  # of a second
    hindered: Bools
    least: tuple[float, float]  # elsewhere, on straight lines
    behind_m: float = 0.0  # that a position may lie behind on its way
    scale: float = 0.0  # share of what the speeds sum up to that they may be off by


@dataclass(frozen=True, slots=True)
class _Found:
    """The window that is furthest beyond its limit."""

    times: float  # the limit
    first: int  # sample
    last: int
    off: Floats  # each axis


def drift_signs(trace: Trace) -> Iterator[Flag]:
    """The greatest move aside that speed and track do not know, and the greatest lift that the rate of climb does not."""
    if trace.interval_s > LONGEST_INTERVAL_S or not trace.has_any(_COLUMNS):
        return
    hindered = untold(trace)
    yield from _moved(trace, hindered)
    yield from _lifted(trace, hindered)


def _moved(trace: Trace, hindered: Bools) -> Iterator[Flag]:
    speed_kt, track_deg = trace.column("groundspeed_kt"), trace.column("ground_track_true_deg")
    if speed_kt is None or track_deg is None:
        return
    track = np.radians(track_deg)
    speeds = speed_kt * _M_S * np.stack([np.sin(track), np.cos(track)])
    hindered = hindered | stale(
        trace, speed_kt, _JUMP_KT, made=made_kt, within=_IS_KT, to_the_end_s=NEVER_AGAIN_S
    )
    hindered |= stale(
        trace, track_deg, _JUMP_DEG, made=made_deg, within=_IS_DEG, full=360.0, to_the_end_s=NEVER_AGAIN_S
    )
    renewed = trace.interval_s <= RENEWED_S
    behind_m = 0.0 if renewed else NOT_RENEWED * trace.interval_s * median_of(trace.speed_m_s)
    places = np.stack([trace.x_m, trace.y_m])
    found = _furthest(trace, _Sums(places, speeds, hindered, (_MOVED_M, _DRAWN_M), behind_m))
    if found is not None:
        yield Flag(
            sign="speed_disagrees",
            strength=_STEEP if trace.flown_steeply else strength_of(found.times),
            evidence=(
                f"from {trace.when(found.first, found.last)} the positions move {np.hypot(*found.off):.0f} m aside, of "
                "which ground speed and track, summed up over the same time, know nothing"
            ),
        )


def _lifted(trace: Trace, hindered: Bools) -> Iterator[Flag]:
    rate_ft_min = trace.column("vertical_speed_ft_min")
    altitude_ft = trace.filled_altitude_ft
    if rate_ft_min is None or altitude_ft is None:
        return
    hindered = hindered | stale(
        trace,
        rate_ft_min,
        _JUMP_FT_MIN,
        made=made_ft_min,
        within=_IS_FT_MIN,
        to_the_end_s=NEVER_AGAIN_S,
    )
    hindered |= ~np.isfinite(trace.altitude_ft)
    rounded_ft = _ROUNDED * trace.altitude_step_ft
    least_ft = _LIFTED_FT + rounded_ft, _DRAWN_FT + rounded_ft
    found = _furthest(
        trace,
        _Sums(
            altitude_ft[None],
            rate_ft_min[None] / 60.0,
            hindered,
            least_ft,
            scale=_off_rate(trace, altitude_ft, rate_ft_min / 60.0, hindered),
        ),
    )
    if found is not None:
        yield Flag(
            sign="altitude_disagrees",
            strength=_STEEP if trace.flown_steeply else strength_of(found.times),
            evidence=(
                f"from {trace.when(found.first, found.last)} the altitude changes by {found.off[0]:+.0f} ft, of which the "
                "rate of climb, summed up over the same time, knows nothing"
            ),
        )


def _off_rate(trace: Trace, altitude_ft: Floats, rate_ft_s: Floats, hindered: Bools) -> float:
    """The share by which a rate of climb may be off: what the log's climbs show, and some, as the air changes with height."""
    over = trace.samples(_CLIMB_S, 2)
    first = np.arange(0, len(trace) - over, max(1, over // _FITTED_OVERLAP))
    first = first[trace.whole(first, first + over, hindered | ~np.isfinite(rate_ft_s))]
    told_ft = trace.summed(rate_ft_s)
    told, made = (values[first + over] - values[first] for values in (told_ft, altitude_ft))
    climbs = np.abs(told) > _CLIMB_FT
    if climbs.sum() < _FEWEST:
        return _OFF_RATE
    return min(_OFF_RATE, _OFF_AIR + abs(median_of(made[climbs] / told[climbs]) - 1.0))


def _furthest(trace: Trace, sums: _Sums) -> _Found | None:
    """Where places and sums go apart most, beyond what the log's own errors make."""
    hindered = sums.hindered | ~np.isfinite(sums.speeds).all(axis=0)
    told = np.stack([trace.summed(speed) for speed in sums.speeds])
    late_s = _late_s(trace, sums, told, hindered)
    apart = sums.places - _later(trace.t_s, told, late_s)
    mean = int(_MEAN_S / trace.interval_s)
    apart = np.stack([means_about(values, mean) for values in apart])
    ends = trace.samples(_ENDS_S + abs(late_s))
    beside = max(trace.samples(_BESIDE_S, 2), ends, trace.samples(abs(late_s)) + mean)
    drawn = np.concatenate([[0], np.cumsum(trace.drawn)])
    best: _Found | None = None
    for over_s in _OVER_S:
        over = trace.samples(over_s, 2)
        first = np.arange(beside, len(trace) - over - beside)
        if len(first) < _FEWEST:
            continue
        last, start, end = first + over, first - beside, first + over + beside
        rate = (apart[:, last] - apart[:, first]) / (trace.t_s[last] - trace.t_s[first])
        valid = trace.whole(start, end, hindered)
        if valid.sum() < _FEWEST:
            continue
        usual_rate = np.array([[median_of(values[valid])] for values in rate])
        off = (rate - usual_rate) * (trace.t_s[last] - trace.t_s[first])
        far = np.sqrt((off**2).sum(axis=0))
        if not (far[valid] > sums.least[0]).any():
            continue
        noise = usual_excess(far, valid, over, between=True)
        if not np.isfinite(noise):
            continue
        # what so few windows apart from each other are off by tells little of what they may be
        noise *= 1.0 + _UNSURE / max(float(valid.sum()) / over - _FEWEST_APART, 1.0)
        valid &= _agree_beside(trace, sums, apart, ((start, first), (last, end)))
        straight = drawn[end + 1] > drawn[start]
        least = np.maximum(np.where(straight, sums.least[1], sums.least[0]), _NOISES * noise)
        left_s = np.where(straight, _DRAWN_LATE, 1.0) * (_LEFT_LATE_S + _LEFT_LATE * abs(late_s))
        told_by = np.sqrt(((told[:, last] - told[:, first]) ** 2).sum(axis=0))
        limit = least + sums.scale * told_by + left_s * _changes(sums.speeds, first, last, ends)
        times = np.where(valid, _not_behind(off, sums, first, last) / limit, -np.inf)
        k = greatest(times, max(1.0, best.times if best is not None else 1.0))
        if k is not None:
            best = _Found(float(times[k]), int(first[k]), int(last[k]), off[:, k])
    return best


def _late_s(trace: Trace, sums: _Sums, told: Floats, hindered: Bools) -> float:
    """How late the speeds are, by what makes the sums fit best."""
    over = trace.samples(_FITTED_S, 2)
    first = np.arange(0, len(trace) - over, max(1, over // _FITTED_OVERLAP))
    first = first[trace.whole(first, first + over, hindered)]
    if len(first) < _FEWEST:
        return 0.0
    t_s, last = trace.t_s, first + over
    way = sums.places[:, last] - sums.places[:, first]
    late_s = _LATE_S[:, None]
    shown = [np.interp(t_s[last] + late_s, t_s, of) - np.interp(t_s[first] + late_s, t_s, of) for of in told]
    off = way[:, None] - np.stack(shown)  # (axes, latenesses, windows)
    off = off - np.median(off, axis=2, keepdims=True)
    misfit = np.sqrt((off**2).sum(axis=0)).mean(axis=1)
    return float(_LATE_S[int(np.argmin(misfit))])


def _later(t_s: Floats, told: Floats, late_s: float) -> Floats:
    """Sums as they will be so much later: what they should have been by now."""
    return np.stack([np.interp(t_s + late_s, t_s, values) for values in told])


def _agree_beside(
    trace: Trace, sums: _Sums, apart: Floats, sides: tuple[tuple[np.ndarray, np.ndarray], ...]
) -> Bools:
    """Where positions and sums go on together just before and after; altitudes always may."""
    if len(sums.places) == 1:
        return np.ones(len(sides[0][0]), dtype=np.bool_)
    off_m_s = [
        np.sqrt(((apart[:, b] - apart[:, a]) ** 2).sum(axis=0)) / (trace.t_s[b] - trace.t_s[a])
        for a, b in sides
    ]
    speed_m_s = np.maximum(trace.speed_m_s[sides[0][1]], 1.0)
    return np.asarray(np.maximum(*off_m_s) < _OFF_BESIDE * speed_m_s)


def _changes(speeds: Floats, first: np.ndarray, last: np.ndarray, ends: int) -> Floats:
    """How much the speeds change about the two ends of each window, and from the one to the other."""
    square = np.zeros(len(first))
    for speed in speeds:
        about = ranges(speed, first - ends, first + ends) + ranges(speed, last - ends, last + ends)
        square += about**2 + np.nan_to_num(speed[last] - speed[first]) ** 2
    return np.sqrt(square)


def _not_behind(off: Floats, sums: _Sums, first: np.ndarray, last: np.ndarray) -> Floats:
    """How far it is off besides what positions make that lie behind on their way at either end."""
    if sums.behind_m:
        for at in (last, first):
            way = np.nan_to_num(sums.speeds[:, at])
            way = way / np.maximum(np.sqrt((way**2).sum(axis=0)), 1e-6)
            along = (off * way).sum(axis=0)
            off = off - np.clip(along, -sums.behind_m, sums.behind_m) * way
    return np.asarray(np.sqrt((off**2).sum(axis=0)))
