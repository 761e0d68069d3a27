"""A log as the search for signs looks at it: in order of time, in metres, without single wild samples.

Owns      ``Trace``, what of it is bridged by straight lines, the words for a place in it.
Not here  any sign.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from debrief.checkride.signs.cubics import cubic, off_cubic, wild
from debrief.tracks.middles import median_of
from debrief.tracks.model import Conditioned, Floats, Track
from debrief.tracks.words import clock, time_of_day

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

FEWEST = 60  # samples; in less nothing can be told
FLYING_M_S = 20.0
MOST_WIND_M_S = 20.0  # by which a simulator's wind is another from one height to the next
METRES_PER_DEG = 111_195.0  # a mean degree of latitude; half a percent is ample here
_WILD_M, _WILD_FT, _ABSURD_FT = 250.0, 100.0, 1500.0
_SPEED_OVER_S = 12.0
_GAP_INTERVALS, _ASIDE_S, _ASIDE = 4.0, 4.0, 4.0
_PER_DEGREE = (1e3, 3.6e3, 6e3, 1e4, 3.6e4, 6e4, 1e5, 3.6e5, 6e5, 1e6, 1e7)  # seconds and minutes of arc, too
_DRAWN_COLUMNS = (
    "groundspeed_kt",
    "vertical_speed_ft_min",
    "pressure_altitude_ft",
    "ground_track_true_deg",
)
_DRAWN_S, _FEWEST_DRAWN, _BENT_STEPS, _LEAST_STEP, _MOST_DRAWN = 8.0, 5, 1.5, 0.05, 0.3
_STANDING_M_S, _STANDING_OVER_S = 8.0, 3.0
# 155 kt; of the speeds that nine in ten steps keep below; steps
_SLEWED_M_S, _SLEWED, _FEWEST_SLEWED = 80.0, 1.5, 3
_NO_NOISE_M, _ROUNDED = 0.12, 0.6  # degrees with six decimals scatter by 0.06; of a step
_CLIMB_OVER_S, _CLIMBS_FT_S, _ONE_HEIGHT_FT = 6.0, 3.0, 60.0
_STEEP_OVER_S, _STEEP_M_S2, _STEEP_SHARE = 3.0, 9.8, 0.03


@dataclass(frozen=True, kw_only=True, eq=False)
class Trace:
    """Arrays have one entry a sample, times strictly increasing."""

    track: Track
    index: Ints  # into the raw track
    t_s: Floats
    x_m: Floats  # east and north of the first sample
    y_m: Floats
    altitude_ft: Floats  # nan where missing
    bridged: Bools  # on a straight line that bridges a dropout, or beside a break the conditioning knows of

    def __len__(self) -> int:
        return len(self.t_s)

    @cached_property
    def step_s(self) -> Floats:
        """Time from each sample to the next."""
        return np.diff(self.t_s)

    @cached_property
    def interval_s(self) -> float:
        """Median step."""
        return median_of(self.step_s)

    @cached_property
    def altitude_step_ft(self) -> float:
        """The smallest change of altitude from sample to sample; 0 where there is none."""
        return _least_change(self.altitude_ft)

    @cached_property
    def filled_altitude_ft(self) -> Floats | None:
        """Altitudes with straight lines where some are missing; ``None`` where more than one in ten is."""
        known = np.isfinite(self.altitude_ft)
        return np.interp(self.t_s, self.t_s[known], self.altitude_ft[known]) if known.mean() >= 0.9 else None

    @cached_property
    def drawn(self) -> Bools:
        """On straight lines for a while in all that the log has, as where a program filled a dropout in every column.

        Nowhere in a log that is so for much of it and has no noise: a simulator's.
        """
        bends = [(_bend(self.t_s, part), max(self.rounding_m, _LEAST_STEP)) for part in (self.x_m, self.y_m)]
        columns = [self.altitude_ft, *map(self.column, _DRAWN_COLUMNS)]
        bends += [(_bend(self.t_s, values), step_of(values)) for values in columns if values is not None]
        straight = np.all([np.nan_to_num(bend) <= _BENT_STEPS * step for bend, step in bends], axis=0)
        drawn: Bools = np.zeros(len(self), dtype=np.bool_)
        for first, last in runs(straight, self.samples(_DRAWN_S, _FEWEST_DRAWN)):
            drawn[first : last + 1] = True
        if drawn.mean() > _MOST_DRAWN:
            noise_m = _noise_m(self.t_s, self.x_m, self.y_m, np.zeros_like(drawn))
            if noise_m < max(_NO_NOISE_M, _ROUNDED * self.rounding_m):
                return np.zeros_like(drawn)
        return drawn

    @cached_property
    def rounding_m(self) -> float:
        """The step to which latitudes are written, from a thousandth of a degree to a centimetre; 0 where finer."""
        steps = self.track.latitude_deg[self.index]
        for per_degree in _PER_DEGREE:
            if np.mean(np.abs(steps * per_degree - np.round(steps * per_degree)) < 1e-3) > 0.6:
                return METRES_PER_DEG / per_degree
        return 0.0

    @cached_property
    def gap(self) -> Bools:
        """For each step: whether it is far longer than usual, and not for samples that were set aside as wild.

        Beside a step in position those on its one side are taken for wild: they leave no gap.
        """
        longest_s = max(_GAP_INTERVALS * self.interval_s, self.interval_s + 1.5)
        return np.asarray(self.step_s - self.aside_s > longest_s)

    @cached_property
    def aside_s(self) -> Floats:
        """For each step: how long it is for samples between that were set aside, up to some seconds."""
        return np.minimum(
            (np.diff(self.index) - 1) * self.interval_s, max(_ASIDE_S, _ASIDE * self.interval_s)
        )

    @cached_property
    def thinned(self) -> Bools:
        """For each step: whether samples between were set aside."""
        return np.asarray(np.diff(self.index) > 1)

    @cached_property
    def cubic(self) -> tuple[Floats, Floats]:
        """Weights of the cubic through each sample's neighbours, and the size of white noise left (see ``cubics``)."""
        return cubic(self.t_s)

    @cached_property
    def speed_m_s(self) -> Floats:
        """Ground speed over some twelve seconds around each sample."""
        return self._speed_over(*self.around(_SPEED_OVER_S))

    @cached_property
    def flying(self) -> Bools:
        """Fast enough to be in the air."""
        return self.speed_m_s > FLYING_M_S

    @cached_property
    def standing(self) -> Bools:
        """Where a position stands for some seconds, as that of a simulator does in a pause, and just beside it."""
        start, end = self.around(_STANDING_OVER_S)
        count = np.concatenate([[0], np.cumsum(self._speed_over(start, end) < _STANDING_M_S)])
        return np.asarray(count[np.minimum(end + 1, len(self) - 1) + 1] > count[np.maximum(start - 1, 0)])

    @cached_property
    def hindered(self) -> Bools:
        """Where nothing is told of how it was flown: on a bridge, standing, or not in the air."""
        return self.bridged | self.standing | ~self.flying

    @cached_property
    def flown_steeply(self) -> bool:
        """Whether the log turns with more than 45 degrees of bank now and then, as in aerobatics, where much is flown."""
        wide = self.samples(_STEEP_OVER_S, 1)
        if len(self) <= 2 * wide:
            return False
        bend_m = np.hypot(
            *(v[2 * wide :] - 2.0 * v[wide:-wide] + v[: -2 * wide] for v in (self.x_m, self.y_m))
        )
        over_s = (self.t_s[2 * wide :] - self.t_s[: -2 * wide]) / 2.0
        return bool(np.mean(bend_m / over_s**2 > _STEEP_M_S2) > _STEEP_SHARE)

    def whole(self, first: Ints, last: Ints, hindered: Bools) -> Bools:
        """Whether from the first to the last sample of each window there is no gap, and none of those hindered."""
        gaps, hindrances = (np.concatenate([[0], np.cumsum(part)]) for part in (self.gap, hindered))
        return np.asarray((gaps[last] == gaps[first]) & (hindrances[last + 1] == hindrances[first]))

    def climb_ft_s(self, at: int) -> float:
        """Rate of climb over some seconds around a sample; nan where the altitude is not known."""
        beside = self.samples(_CLIMB_OVER_S / 2.0)
        first, last = max(at - beside, 0), min(at + beside, len(self) - 1)
        return float((self.altitude_ft[last] - self.altitude_ft[first]) / (self.t_s[last] - self.t_s[first]))

    def through_one_height(self, there: int, back: int) -> bool:
        """Whether the flight climbs through a height at the one sample, and sinks through it at the other."""
        rates_ft_s = [self.climb_ft_s(k) for k in (there, back)]
        slowest_ft_s, fastest_ft_s = sorted(map(abs, rates_ft_s))
        apart_ft = abs(self.altitude_ft[there] - self.altitude_ft[back])
        return bool(
            rates_ft_s[0] * rates_ft_s[1] < 0.0
            and slowest_ft_s > _CLIMBS_FT_S
            and apart_ft < _ONE_HEIGHT_FT + 2.0 * fastest_ft_s * self.interval_s
        )

    def another_wind(self, steps: list[int]) -> bool:
        """Whether these steps in speed are where a simulator's wind is another at once from some height on.

        Sunk or climbed through once, or to and fro; ``steps`` are the samples of all that the log has.
        """
        if len(steps) == 1:
            return abs(self.climb_ft_s(steps[0])) > _CLIMBS_FT_S
        return len(steps) == 2 and self.through_one_height(*steps)

    def has_any(self, names: Collection[str]) -> bool:
        """Whether the log has one of these columns at least."""
        return any(name in self.track.columns for name in names)

    def around(self, seconds: float) -> tuple[Ints, Ints]:
        """The first and the last sample of so many seconds around each."""
        half, here = self.samples(seconds / 2, 1), np.arange(len(self))
        return np.maximum(here - half, 0), np.minimum(here + half, len(self) - 1)

    def _speed_over(self, start: Ints, end: Ints) -> Floats:
        way_m = np.hypot(self.x_m[end] - self.x_m[start], self.y_m[end] - self.y_m[start])
        return np.asarray(way_m / (self.t_s[end] - self.t_s[start]))

    def column(self, name: str) -> Floats | None:
        """A column of the log at these samples; ``None`` where it has none, or hardly a value in it."""
        column = self.track.columns.get(name)
        if column is None:
            return None
        values = column[self.index]
        return values if np.isfinite(values).mean() > 0.5 else None

    def summed(self, rate: Floats) -> Floats:
        """A rate [1/s] summed up from the first sample; what is missing counts as 0."""
        steps = self.step_s * (rate[1:] + rate[:-1]) / 2.0
        return np.concatenate([[0.0], np.cumsum(np.nan_to_num(steps))])

    def samples(self, seconds: float, least: int = 1) -> int:
        """How many samples make so many seconds."""
        return max(least, round(seconds / self.interval_s))

    def when(self, first: int, last: int | None = None) -> str:
        """A moment, or from when to when, as times of day."""
        start_s = float(self.t_s[first])
        if last is None:
            return clock(self.track, start_s)
        return f"{time_of_day(self.track, start_s)} to {clock(self.track, float(self.t_s[last]))}"

    def mostly_bridged(self, first: int, last: int) -> bool:
        """Whether most of a stretch lies on a bridge."""
        return bool(self.bridged[first : last + 1].mean() > 0.5)


def trace_of(track: Track, log: Conditioned | None) -> Trace | None:
    """The log made ready; ``None`` where it has too few samples. ``log`` is ``None`` where it was refused."""
    known = np.isfinite(track.t_s) & np.isfinite(track.latitude_deg) & np.isfinite(track.longitude_deg)
    index = np.flatnonzero(known)
    index = index[np.argsort(track.t_s[index], kind="stable")]
    if len(index) < FEWEST:
        return None
    index = index[np.concatenate([[True], np.diff(track.t_s[index]) > 0])]
    bridged_raw = _bridged_samples(track, log)
    far = _wild(_in_metres(track, index))
    far |= set_aside(track, log, ("spike", "repeated position"))[index]
    index = index[~far]
    index = index[~wild(track.t_s[index], *_in_metres(track, index))]
    if len(index) < FEWEST:
        return None
    x_m, y_m = _in_metres(track, index)
    bridged = bridged_raw[index]
    # a simulator's log loses no signal: what looks like a bridge is a leg, with a corner that something else made
    if bridged.any() and _noise_m(track.t_s[index], x_m, y_m, bridged) < _NO_NOISE_M:
        bridged = np.zeros_like(bridged)
    bridged |= _slewed(track.t_s[index], x_m, y_m)
    return Trace(
        track=track,
        index=index,
        t_s=track.t_s[index],
        x_m=x_m,
        y_m=y_m,
        altitude_ft=_without_wild(track.altitude_ft[index]),
        bridged=bridged,
    )


def set_aside(track: Track, log: Conditioned | None, reasons: tuple[str, ...]) -> Bools:
    """For each raw sample whether the conditioning set it aside for one of these reasons."""
    if log is None:
        return np.zeros(len(track), dtype=np.bool_)
    return np.array([why in reasons for why in log.set_aside], dtype=np.bool_)


def _bridged_samples(track: Track, log: Conditioned | None) -> Bools:
    bridged = set_aside(track, log, ("bridged",))
    if log is not None:
        for gap in log.gaps:
            if gap.reason in ("bridged", "stuck"):
                bridged |= (track.t_s >= gap.start_s) & (track.t_s <= gap.end_s)
    return bridged


def _in_metres(track: Track, index: Ints) -> tuple[Floats, Floats]:
    latitude, longitude = track.latitude_deg[index], track.longitude_deg[index]
    if np.ptp(longitude) > 180.0:
        longitude = np.unwrap(longitude, period=360.0)
    across = METRES_PER_DEG * np.cos(np.radians(latitude))
    return (longitude - longitude[0]) * across, (latitude - latitude[0]) * METRES_PER_DEG


def _wild(places: tuple[Floats, Floats]) -> Bools:
    """Single samples far from both neighbours, which are near each other."""
    wild = np.zeros(len(places[0]), dtype=np.bool_)
    x, y = places
    to_next = np.hypot(np.diff(x), np.diff(y))
    across = np.hypot(x[2:] - x[:-2], y[2:] - y[:-2])
    wild[1:-1] = (np.minimum(to_next[:-1], to_next[1:]) > _WILD_M + 2.0 * across) & (across < 20 * _WILD_M)
    return wild


def _noise_m(t_s: Floats, x_m: Floats, y_m: Floats, bridged: Bools) -> float:
    """How far positions beside bridges are usually off smooth curves; inf where there are few."""
    weights, _ = cubic(t_s)
    off_m = np.hypot(off_cubic(x_m, weights), off_cubic(y_m, weights))[~bridged[2:-2]]
    return median_of(off_m) if len(off_m) >= FEWEST else np.inf


def _slewed(t_s: Floats, x_m: Floats, y_m: Floats) -> Bools:
    """Where a simulator's aircraft is moved to where its flight begins: far faster than it flies, to or from a stand."""
    speed = np.hypot(np.diff(x_m), np.diff(y_m)) / np.diff(t_s)
    least_m_s = max(_SLEWED_M_S, _SLEWED * float(np.quantile(speed, 0.9)))
    found: Bools = np.zeros(len(t_s), dtype=np.bool_)
    for first, last in runs(speed > least_m_s, _FEWEST_SLEWED):
        sides = speed[max(first - _FEWEST_SLEWED, 0) : first], speed[last + 1 : last + 1 + _FEWEST_SLEWED]
        if any(not len(side) or median_of(side) < _STANDING_M_S for side in sides):
            found[max(first - 1, 0) : last + 3] = True
    return found


def _without_wild(altitude_ft: Floats) -> Floats:
    """Altitudes with up to two wild ones in a row taken out; zeros, which mean ground or nothing, too.

    Of altitudes that are off by more than anybody would edit, up to five in a row.
    """
    values = np.where(altitude_ft == 0.0, np.nan, altitude_ft)
    for beside, off_ft in ((5, _ABSURD_FT), (2, _WILD_FT)):
        if len(values) > 2 * beside:
            windows = np.lib.stride_tricks.sliding_window_view(
                np.pad(values, beside, mode="edge"), 2 * beside + 1
            )
            # nan sorts last: a median of those known, near enough
            middle = np.sort(windows, axis=1)[:, beside]
            with np.errstate(invalid="ignore"):
                values = np.where(np.abs(values - middle) > off_ft, np.nan, values)
    return values


def runs(mask: Bools, least: int = 1, bridge: int = 0) -> list[tuple[int, int]]:
    """First and last of each run of ``True`` of at least that length, holes up to ``bridge`` filled."""
    if bridge:
        mask = mask.copy()
        edges = np.flatnonzero(mask)
        if len(edges):
            holes = np.flatnonzero((np.diff(edges) > 1) & (np.diff(edges) <= bridge + 1))
            for hole in holes:
                mask[edges[hole] : edges[hole + 1]] = True
    change = np.diff(np.concatenate([[0], mask.astype(np.int8), [0]]))
    first, last = np.flatnonzero(change == 1), np.flatnonzero(change == -1) - 1
    return [(int(a), int(b)) for a, b in zip(first, last, strict=True) if b - a + 1 >= least]


def _bend(t_s: Floats, values: Floats) -> Floats:
    """How far each value is off the line through its neighbours."""
    share = (t_s[1:-1] - t_s[:-2]) / (t_s[2:] - t_s[:-2])
    return np.pad(np.abs(values[1:-1] - values[:-2] - share * (values[2:] - values[:-2])), 1)


def step_of(values: Floats) -> float:
    """The step in which values are written, as far as it counts."""
    return max(_least_change(values), _LEAST_STEP)


def _least_change(values: Floats) -> float:
    """The smallest change from sample to sample; 0 where there is none."""
    steps = np.abs(np.diff(values[np.isfinite(values)]))
    return float(steps[steps > 1e-6].min()) if (steps > 1e-6).any() else 0.0


def ranges(values: Floats, first: Ints, last: Ints) -> Floats:
    """Highest less lowest value from ``first`` to ``last`` of each window; all are of one length. 0 where unknown."""
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    wide = int(last[0] - first[0]) + 1
    unknown = np.isnan(values)
    low = minimum_filter1d(np.where(unknown, np.inf, values), wide, origin=-(wide // 2))[first]
    high = maximum_filter1d(np.where(unknown, -np.inf, values), wide, origin=-(wide // 2))[first]
    return np.asarray(np.maximum(high - low, 0.0))
