"""Moves of which the log's own columns know nothing: positions and altitudes against rates summed up over time.

Owns      ``speed_disagrees`` and ``altitude_disagrees`` of a part that was moved aside or lifted, however slowly.
Not here  columns that disagree for as long as the part lasts (``columns``).

Whoever moves a part aside moves it there and back. Meanwhile ground speed and track still tell of the flight as it
was: summed up over the same seconds they lead to another place. What a column is off before and after (another unit,
a heading in place of a track, a clock that runs fast) is taken off. What a late column makes grows with how much it
changes meanwhile, and is allowed for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.scale import MISSING, greatest, of_a_clock, strength_of, usual_excess
from debrief.checkride.signs.trace import Bools, Trace, ranges, runs, step_of
from debrief.tracks.model import Floats

LONGEST_INTERVAL_S = 6.0  # at longer ones a column is older than its position
_COLUMNS = (
    "groundspeed_kt",
    "vertical_speed_ft_min",
    "pressure_altitude_ft",
)  # one of them at least is asked
_OVER_S = (8.0, 16.0, 32.0, 64.0)  # a part is moved within one of these
_BESIDE_S = 16.0  # on each side, from which a column's usual error is taken
_NOISES = 8.0
_MOVED_M, _LIFTED_FT, _AGAINST_FT = 45.0, 40.0, 60.0  # less changes nothing that is judged
# where all a log says lies on straight lines, as over a dropout: what those miss of a flight
_DRAWN_M, _DRAWN_FT = 120.0, 110.0
_LATE_S, _LATE_RATE_S = 4.0, 6.0  # at most: filtered velocities; a vertical speed indicator
# where columns change most, how late they show there: so many times as late they are nowhere in that log
_CHANGING, _LATER, _LATE_SHARE, _FEWEST_CHANGES = 0.6, 5.0, 0.8, 30
_ROUNDED = 0.7  # of a step, two ends together
_OFF_BESIDE = 0.2  # share of the way that a column may be off on both sides, to be one that tells of it
# of a height flown: pressure altitude in air far from the standard atmosphere's temperature
_OFF_ALTITUDE = 0.15
_SUDDEN_FT, _SUDDEN_SHARE = 40.0, 0.5  # a pressure altitude that steps by itself
_INDICATED = 0.45
_RENEWED_S = 1.5  # at longer intervals one position is a way of its own
_NOT_RENEWED = 1.3  # intervals
_STALE_S, _TURNS_ON = 8.0, 1.5
_NEVER_AGAIN_S = 60.0  # to the log's end: nobody climbs or sinks at one rate to the last digit for so long
_JUMP_KT, _JUMP_DEG, _JUMP_FT_MIN, _JUMP_FT = 4.0, 4.0, 150.0, 60.0  # of a column that is received again
_PACE_OFF, _PACE_LASTING_S = 0.06, 6.0
_M_S = 1852.0 / 3600.0


@dataclass(frozen=True, slots=True)
class _Window:
    """Entry k of each array is of the window that begins at sample k, with sides before and after it."""

    over_s: float  # about
    start: np.ndarray  # of the side before
    first: np.ndarray
    last: np.ndarray
    end: np.ndarray  # of the side after
    whole: Bools  # no gap, no bridge, flying
    drawn: Bools  # on straight lines for a while


@dataclass(frozen=True, slots=True)
class _Found:
    """The window that is furthest beyond its limit."""

    times: float  # the limit
    first: int  # sample
    last: int
    off: float  # in the unit of what was summed up


_Held = Callable[[_Window], tuple[Floats, Floats]]  # windows to what is off in each, and that in limits


def integrated_signs(trace: Trace) -> Iterator[Flag]:
    """The greatest move aside that speed and track do not know, and the greatest lift that no rate or pressure knows."""
    if trace.interval_s > LONGEST_INTERVAL_S or not any(trace.column(name) is not None for name in _COLUMNS):
        return
    windows = [at for at in _windows(trace) if len(at.first)]
    yield from _moved(trace, windows)
    yield from _lifted(trace, windows)
    yield from _against_pressure(trace, windows)


def _greatest(windows: list[_Window], held: _Held) -> _Found | None:
    found: _Found | None = None
    for at in windows:
        off, times = held(at)
        k = greatest(times, max(1.0, found.times if found is not None else 1.0))
        if k is not None:
            found = _Found(float(times[k]), int(at.first[k]), int(at.last[k]), float(off[k]))
    return found


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


def _windows(trace: Trace) -> Iterator[_Window]:
    """Those of each length."""
    hindered = trace.hindered | _at_another_pace(trace)
    # beside a missing sample a position that was not renewed shows by itself
    if trace.interval_s > _RENEWED_S:
        missing = trace.step_s > MISSING * trace.interval_s
        hindered = hindered | np.append(missing, False) | np.append(False, missing)
    beside = trace.samples(_BESIDE_S, 2)
    drawn = np.concatenate([[0], np.cumsum(trace.drawn)])
    for over_s in _OVER_S:
        over = trace.samples(over_s, 2)
        first = np.arange(beside, len(trace) - over - beside)
        start, end = first - beside, first + over + beside
        whole = trace.whole(start, end, hindered)
        yield _Window(over_s, start, first, first + over, end, whole, drawn[end + 1] > drawn[start])


def _limit(
    least: tuple[float, float], late: tuple[float, Floats], off: Floats, valid: Bools, at: _Window
) -> Floats:
    """What the log's own errors make nowhere else, and not less than ``least`` (on straight lines the second).

    ``late`` is by how much time a column may be late at most, and how far it goes in each window.
    """
    most_s, changed = late
    most_s *= 1.0 + at.over_s / (2.0 * _BESIDE_S)  # the sides' share counts as much as the window is longer
    late_s = np.where(at.drawn, most_s, min(most_s, _shown_late_s(off, changed, valid)))
    usual = _NOISES * usual_excess(off, valid, int(at.end[0] - at.start[0]))
    return np.asarray(np.maximum(np.where(at.drawn, least[1], least[0]), usual) + late_s * changed)


def _off(trace: Trace, at: _Window, apart: Floats) -> Floats:
    """How far things move apart within each window, less what they do so on both sides of it."""
    t_s = trace.t_s
    before = (apart[at.first] - apart[at.start]) / (t_s[at.first] - t_s[at.start])
    after = (apart[at.end] - apart[at.last]) / (t_s[at.end] - t_s[at.last])
    lapse_s = t_s[at.last] - t_s[at.first]
    return np.asarray(apart[at.last] - apart[at.first] - lapse_s * (before + after) / 2.0)


def _known(at: _Window, column: Floats) -> Bools:
    """Windows throughout which a column has values."""
    missing = np.concatenate([[0], np.cumsum(~np.isfinite(column))])
    return np.asarray(missing[at.end + 1] == missing[at.start])


def _moved(trace: Trace, windows: list[_Window]) -> Iterator[Flag]:
    speed_kt, track_deg = trace.column("groundspeed_kt"), trace.column("ground_track_true_deg")
    if speed_kt is None or track_deg is None:
        return
    track = np.radians(track_deg)
    east, north = speed_kt * _M_S * np.sin(track), speed_kt * _M_S * np.cos(track)
    apart = trace.x_m - trace.summed(east), trace.y_m - trace.summed(north)

    def held(at: _Window) -> tuple[Floats, Floats]:
        east_m, north_m = (_off(trace, at, part) for part in apart)
        off_m = np.hypot(east_m, north_m)
        sides_m_s = [
            np.hypot(*(part[b] - part[a] for part in apart)) / (trace.t_s[b] - trace.t_s[a])
            for a, b in ((at.start, at.first), (at.last, at.end))
        ]
        speed_m_s = np.maximum(trace.speed_m_s[at.first], 1.0)
        valid = at.whole & _known(at, east) & (np.maximum(*sides_m_s) < _OFF_BESIDE * speed_m_s)
        valid &= ~_stale(trace, at, speed_kt, _JUMP_KT) & ~_stale(trace, at, track_deg, _JUMP_DEG, full=360.0)
        changed = ranges(east, at.start, at.end) + ranges(north, at.start, at.end)
        limit_m = _limit((_MOVED_M, _DRAWN_M), (_LATE_S, changed), off_m, valid, at)
        along_m = np.abs(east_m * np.sin(track[at.first]) + north_m * np.cos(track[at.first]))
        across_m = np.sqrt(np.maximum(off_m**2 - along_m**2, 0.0))
        # a position that was not renewed lies behind on the way; beside the window it counts as the window is longer
        behind_s = _NOT_RENEWED * trace.interval_s if trace.interval_s > _RENEWED_S else 0.0
        behind_m = behind_s * speed_m_s * (1.0 + at.over_s / (2.0 * _BESIDE_S))
        times = np.hypot(across_m, np.maximum(along_m - behind_m, 0.0)) / limit_m
        return off_m, np.where(valid, times, -np.inf)

    found = _greatest(windows, held)
    if found is not None:
        yield Flag(
            sign="speed_disagrees",
            strength=strength_of(found.times),
            evidence=(
                f"from {trace.when(found.first, found.last)} the positions move {found.off:.0f} m aside, of which ground "
                "speed and track, summed up over the same time, know nothing"
            ),
        )


def _shown_late_s(off: Floats, changed: Floats, valid: Bools) -> float:
    """Far more than a column mostly shows to be late, where it changes most; inf where it changes nowhere."""
    changing = valid & (changed > 0.0)
    if changing.any():
        changing &= changed >= np.quantile(changed[changing], _CHANGING)
    if changing.sum() < _FEWEST_CHANGES:
        return np.inf
    return _LATER * float(np.quantile(np.abs(off[changing]) / changed[changing], _LATE_SHARE))


def _stale(
    trace: Trace,
    at: _Window,
    column: Floats,
    jump: float,
    *,
    full: float = np.inf,
    to_the_end_s: float = np.inf,
) -> Bools:
    """Windows in which a column was not received for a while: it stands, and then is another by more than ``jump``.

    One that stands because the flight is steady goes on where it stood. ``full`` is a whole circle, of a direction;
    ``to_the_end_s`` is how long it may stand at the log's end, but for 0.
    """
    step = np.abs(np.diff(column))
    step = np.minimum(step, full - step)
    stale: Bools = np.zeros(len(trace), dtype=np.bool_)
    for first, last in runs(step == 0.0, trace.samples(_STALE_S, 2)):
        again, then = (step[k] if k < len(step) else 0.0 for k in (last + 1, last + 2))
        never_again = last + 1 == len(step) and column[-1] != 0.0
        lasts_s = trace.t_s[last + 1] - trace.t_s[first]
        # a turn that begins goes on by as much
        if again > max(jump, _TURNS_ON * then) or (never_again and lasts_s > to_the_end_s):
            stale[first : last + 2] = True
    count = np.concatenate([[0], np.cumsum(stale)])
    return np.asarray(count[at.end + 1] > count[at.start])


def _lifted(trace: Trace, windows: list[_Window]) -> Iterator[Flag]:
    rate_ft_min = trace.column("vertical_speed_ft_min")
    if rate_ft_min is None:
        return
    rate_ft_s = rate_ft_min / 60.0
    apart = trace.altitude_ft - trace.summed(rate_ft_s)

    def held(at: _Window) -> tuple[Floats, Floats]:
        off_ft = _off(trace, at, apart)
        valid = at.whole & _known(at, rate_ft_s) & _known(at, trace.altitude_ft)
        valid &= ~_stale(trace, at, rate_ft_min, _JUMP_FT_MIN, to_the_end_s=_NEVER_AGAIN_S)
        changed = ranges(rate_ft_s, at.start, at.end)
        limit_ft = _limit((_LIFTED_FT, _DRAWN_FT), (_LATE_RATE_S, changed), off_ft, valid, at)
        # at the ends of the sides, too
        limit_ft += _ROUNDED * trace.altitude_step_ft * (1.0 + at.over_s / _BESIDE_S)
        return off_ft, np.where(valid, np.abs(off_ft) / limit_ft, -np.inf)

    found = _greatest(windows, held)
    if found is not None:
        yield Flag(
            sign="altitude_disagrees",
            strength=strength_of(found.times),
            evidence=(
                f"from {trace.when(found.first, found.last)} the altitude changes by {found.off:+.0f} ft, of which the "
                "rate of climb, summed up over the same time, knows nothing"
            ),
        )


def _against_pressure(trace: Trace, windows: list[_Window]) -> Iterator[Flag]:
    """An altitude that changes where pressure altitude does not, or the other way round."""
    pressure_ft = trace.column("pressure_altitude_ft")
    if pressure_ft is None:
        return
    apart = trace.altitude_ft - pressure_ft
    rounded_ft = 2.0 * _ROUNDED * (trace.altitude_step_ft + step_of(pressure_ft))

    def held(at: _Window) -> tuple[Floats, Floats]:
        off_ft = apart[at.last] - apart[at.first]
        valid = at.whole & _known(at, apart) & ~_steps_itself(trace, at, pressure_ft)
        valid &= ~_stale(trace, at, pressure_ft, _JUMP_FT)
        changed = ranges(pressure_ft, at.start, at.end)
        usual_ft = _NOISES * usual_excess(off_ft, valid, int(at.end[0] - at.start[0]))
        limit_ft = np.where(at.drawn, _DRAWN_FT, _AGAINST_FT) + rounded_ft
        limit_ft = np.maximum(limit_ft, usual_ft) + _OFF_ALTITUDE * changed
        return off_ft, np.where(valid, np.abs(off_ft) / limit_ft, -np.inf)

    found = _greatest(windows, held)
    if found is not None:
        set_by_hand = trace.track.altitude_source == "indicated"
        yield Flag(
            sign="altitude_disagrees",
            strength=min(strength_of(found.times), _INDICATED if set_by_hand else 1.0),
            evidence=(
                f"from {trace.when(found.first, found.last)} altitude less pressure altitude goes from "
                f"{apart[found.first]:+.0f} to {apart[found.last]:+.0f} ft, as neither the air nor a receiver makes it"
            ),
        )


def _steps_itself(trace: Trace, at: _Window, pressure_ft: Floats) -> Bools:
    """Where pressure altitude steps while the altitude goes on: its own error, or another setting of its source."""
    written = np.abs(np.diff(pressure_ft))
    written = written[written > 1e-6]
    least_ft = max(_SUDDEN_FT, 1.5 * float(written.min())) if len(written) else _SUDDEN_FT
    with np.errstate(invalid="ignore"):
        steps = _sudden(pressure_ft) > np.maximum(least_ft, _sudden(trace.altitude_ft) / _SUDDEN_SHARE)
    count = np.concatenate([[0], np.cumsum(steps)])
    return np.asarray(count[at.end] > count[at.start])


def _sudden(values: Floats) -> Floats:
    """How far each step is off those beside it."""
    step = np.diff(values)
    beside = np.stack([np.roll(step, shift) for shift in (-2, -1, 1, 2)])
    return np.asarray(np.abs(step - np.median(beside, axis=0)))
