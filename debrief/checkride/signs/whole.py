"""What a log's own columns say of the whole of it: positions turned or mirrored, times stretched.

Owns      ``speed_disagrees`` of a whole log that was turned or mirrored, ``edited_times`` of one whose times were
          multiplied and made even again.
Not here  parts (``columns``, ``drifted``), stamps that show it by themselves (``stamps``).

A track column is the positions' own, or magnetic, or a heading that leaves it by as much as the wind has it on each
course. One that is off by the same angle on all courses, and by none that the Earth's field explains, is that of a log
that was turned; one that turns left where the positions turn right, of one that was mirrored. A speed in another unit
is off by a factor; where the rate of climb is off by the same, it is the time.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.received import LONGEST_INTERVAL_S, untold
from debrief.checkride.signs.scale import of_a_clock
from debrief.checkride.signs.trace import Bools, Trace
from debrief.navigation.angles import difference_deg
from debrief.navigation.magnetism import variation_deg
from debrief.tracks.middles import median_of, spread
from debrief.tracks.model import Floats

_COLUMNS = ("ground_track_true_deg", "groundspeed_kt")  # one of them at least is asked
_CHORD_S = 8.0
_STEADY_S, _STEADY_DEG = (
    16.0,
    5.0,
)  # before and after: who circles one way only is off by how late the column is
_ONE_WAY = 0.995  # of the chord, and of the way through its middle
# samples; in so many sixths of the compass: two that are opposite tell the same
_FEWEST, _COURSES_DEG, _SECTORS = 60, 60.0, 3
_FEWEST_EACH = 10
_ALIKE_DEG = 5.0  # from course to course
# more is a decoder's error; a field of some years ago, a variation in whole degrees
_TURNED_DEG, _MOST_TURNED_DEG, _OFF_FIELD_DEG = 3.5, 60.0, 3.5
_MIRRORED, _TURNED, _STRETCHED = 0.85, 0.65, 0.65
_OVER_S, _CHANGED_FT, _FEWEST_CHANGES = 40.0, 150.0, 5
_PACE, _SAME_PACE, _STEADY = 0.04, 0.02, 0.03
_CLOCK_OFF = 0.03
_KT = 3.6 / 1.852


def whole_signs(trace: Trace) -> Iterator[Flag]:
    """What speaks of the whole log."""
    if trace.interval_s > LONGEST_INTERVAL_S or not trace.has_any(_COLUMNS):
        return
    half = trace.samples(_CHORD_S / 2.0)
    here = np.arange(half, len(trace) - half)
    if len(here) < _FEWEST:
        return
    first, last = here - half, here + half
    hindered = untold(trace)
    clear = trace.whole(first, last, hindered)
    east, north = (values[last] - values[first] for values in (trace.x_m, trace.y_m))
    straight = _straight(trace, first, here, last)
    yield from _turned(trace, here[clear & straight], np.degrees(np.arctan2(east, north))[clear & straight])
    speed_kt = np.hypot(east, north) / (trace.t_s[last] - trace.t_s[first]) * _KT
    yield from _stretched(trace, here, speed_kt, clear & straight, hindered)


def _straight(trace: Trace, first: np.ndarray, middle: np.ndarray, last: np.ndarray) -> Bools:
    x_m, y_m = trace.x_m, trace.y_m
    chord = np.hypot(x_m[last] - x_m[first], y_m[last] - y_m[first])
    way = np.hypot(x_m[middle] - x_m[first], y_m[middle] - y_m[first])
    way += np.hypot(x_m[last] - x_m[middle], y_m[last] - y_m[middle])
    return np.asarray(chord > _ONE_WAY * way)


def _turned(trace: Trace, at: np.ndarray, made_deg: Floats) -> Iterator[Flag]:
    column = trace.column("ground_track_true_deg")
    if column is None:
        return
    told = column[at]
    known = np.isfinite(told) & _steady(trace, column)[at]
    at, told, made = at[known], told[known], made_deg[known]
    sector = (made % 360.0 // _COURSES_DEG).astype(np.int64)
    parts = [part for k in np.unique(sector) if (part := sector == k).sum() >= _FEWEST_EACH]
    if len(at) < _FEWEST or len(parts) < _SECTORS:
        return
    off_deg, unlike_deg = _one_angle(made - told, parts)
    if unlike_deg > _ALIKE_DEG:
        mirrored_deg, unlike_deg = _one_angle(made + told, parts)
        if unlike_deg < _ALIKE_DEG:
            yield Flag(
                sign="speed_disagrees",
                strength=_MIRRORED,
                evidence=(
                    "the positions turn left where the log's track turns right, on all courses: as if they were mirrored "
                    f"about a line of {mirrored_deg / 2.0 % 180.0:.0f} degrees"
                ),
            )
        return
    if not _TURNED_DEG < abs(off_deg) < _MOST_TURNED_DEG:
        return
    where = trace.index[at[len(at) // 2]]
    track = trace.track
    field_deg = variation_deg(
        round(float(track.latitude_deg[where]), 1),
        round(float(track.longitude_deg[where]), 1),
        0.0,
        (track.epoch + timedelta(seconds=float(track.t_s[where]))).replace(microsecond=0),
    )
    if np.isfinite(field_deg) and abs(off_deg - field_deg) > _OFF_FIELD_DEG:
        yield Flag(
            sign="speed_disagrees",
            strength=_TURNED,
            evidence=(
                f"the positions move {abs(off_deg):.0f} degrees {'right' if off_deg > 0.0 else 'left'} of the log's track "
                f"on all courses, as if they were turned; the magnetic variation there, {field_deg:+.0f} degrees, does "
                "not explain it"
            ),
        )


def _steady(trace: Trace, column_deg: Floats) -> Bools:
    """Samples about which the column does not turn, on the whole and to the middle."""
    beside = trace.samples(_STEADY_S)
    steady: Bools = np.zeros(len(trace), dtype=np.bool_)
    if len(trace) > 2 * beside:
        before, middle, after = (
            column_deg[: -2 * beside],
            column_deg[beside:-beside],
            column_deg[2 * beside :],
        )
        turned = np.stack([difference_deg(after, before), difference_deg(middle, before)])
        with np.errstate(invalid="ignore"):
            steady[beside:-beside] = (np.abs(turned) < _STEADY_DEG).all(axis=0)
    return steady


def _one_angle(angles_deg: Floats, parts: list[Bools]) -> tuple[float, float]:
    """The angle about which these lie, in [-180, 180), and by how much the middle of some part is off it, at most."""
    around = np.radians(angles_deg)
    middle = float(np.degrees(np.arctan2(np.sin(around).mean(), np.cos(around).mean())))
    off = (angles_deg - middle + 180.0) % 360.0 - 180.0
    middles = np.array([median_of(off[part]) for part in parts])
    middle += float(np.median(middles))
    return (middle + 180.0) % 360.0 - 180.0, float(np.ptp(middles))


def _stretched(
    trace: Trace, here: np.ndarray, speed_kt: Floats, clear: Bools, hindered: Bools
) -> Iterator[Flag]:
    column, rate_ft_min = trace.column("groundspeed_kt"), trace.column("vertical_speed_ft_min")
    if column is None or rate_ft_min is None:
        return
    told_kt = column[here]
    with np.errstate(invalid="ignore", divide="ignore"):
        known = clear & (told_kt > 30.0)
        paces = np.log(speed_kt[known] / told_kt[known])
    if len(paces) < _FEWEST or spread(paces - median_of(paces)) > _STEADY:
        return
    pace = float(np.exp(median_of(paces)))
    if abs(pace - 1.0) < _PACE or of_a_clock(pace, _CLOCK_OFF):
        return
    climbs = _climbs(trace, rate_ft_min / 60.0, hindered)
    if climbs is None or abs(climbs / pace - 1.0) > _SAME_PACE + 1e-9:
        return
    yield Flag(
        sign="edited_times",
        strength=_STRETCHED,
        evidence=(
            f"positions and altitudes both go {pace:.2f} times as fast as ground speed and rate of climb say, all through "
            f"the log: as if time was multiplied by {1.0 / pace:.2f}"
        ),
    )


def _climbs(trace: Trace, rate_ft_s: Floats, hindered: Bools) -> float | None:
    """How many times as fast as its rate of climb says the altitude changes; ``None`` where it hardly does."""
    told_ft = trace.summed(rate_ft_s)
    over = trace.samples(_OVER_S, 2)
    first = np.arange(0, len(trace) - over, max(over // 2, 1))
    last = first + over
    whole = trace.whole(first, last, hindered | ~np.isfinite(rate_ft_s) | ~np.isfinite(trace.altitude_ft))
    told, made = (values[last] - values[first] for values in (told_ft, trace.altitude_ft))
    changed = whole & (np.abs(told) > _CHANGED_FT)
    if changed.sum() < _FEWEST_CHANGES:
        return None
    # all of them together: what one is late by the next has
    return float(np.abs(made[changed]).sum() / np.abs(told[changed]).sum())
