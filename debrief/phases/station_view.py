"""The flight as the station sees it: smoothed positions in its plane, radials, distances, the cone.

Owns      ``observe``: from a conditioned log and a procedure to a function of time (``StationView`` at any
          moments), its one-second grid, and the noise behind both.
Not here  which phase a moment belongs to (``attempts``), the samples' own defects (tracks.conditioning).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.errors import Place, TrackError
from debrief.navigation.geodesy import StationPlane
from debrief.navigation.units import KT_PER_M_S, METRES_PER_FT, METRES_PER_NM, SECONDS_PER_MINUTE
from debrief.phases.model import Floats, Noise, StationView
from debrief.procedures.model import Procedure
from debrief.tracks.late_stamps import lateness_m, retimed
from debrief.tracks.model import Conditioned, Track
from debrief.tracks.smoothing import Spline, fit
from debrief.tracks.turning_noise import turning_noise_m

#: Nothing of an approach happens farther out than this; what lies beyond is neither smoothed nor searched.
WINDOW_NM = 40.0
#: A log whose nearest point is farther away belongs to another place: the files do not go together.
ELSEWHERE_NM = 100.0
#: What to do about a log that names one the other.
SWAPPED = (
    "Its latitudes and longitudes seem to be exchanged: so read, it passes near the station. Export it again, or name the "
    "columns: --column latitude=... --column longitude=..."
)
GRID_S = 1.0
SAME_MOMENT_S = 1e-6  # a moment so near the edge of a stretch is still in it
#: Jerk of an aircraft that rolls into a standard turn in some seconds, and levels off, as spectral densities.
JERK_DENSITY_M2_S5 = 0.3
VERTICAL_JERK_DENSITY_M2_S5 = 0.03
POSITION_FLOOR_M = 0.2  # no log is better than its fifth or sixth decimal
ALTITUDE_FLOOR_M = 0.15
PLAINLY_MORE = 1.5  # times the noise: less may be chance, of the few samples in turns


@dataclass(frozen=True, slots=True, eq=False)
class _Stretch:
    """One unbroken stretch of the log near the station."""

    position: Spline
    altitudes: tuple[Spline, ...]  # broken again where the altitude is missing for long
    sure: Spline  # whose noise is that of the positions: along the way, where they jitter along it

    @property
    def start_s(self) -> float:
        return self.position.start_s

    @property
    def end_s(self) -> float:
        return self.position.end_s


@dataclass(frozen=True, slots=True, eq=False)
class Observer:
    """The smoothed flight, to be asked at any moments; entries inside gaps come back as ``nan``."""

    procedure: Procedure
    stretches: tuple[_Stretch, ...]

    def __call__(self, t_s: Floats) -> StationView:
        """The view at ``t_s``, any order. [s since the track's epoch]"""
        t_s = np.atleast_1d(np.asarray(t_s, dtype=np.float64))
        if len(t_s) == 1 or (t_s[1:] >= t_s[:-1]).all():
            return self._in_order(t_s)
        order = np.argsort(t_s, kind="stable")
        return self._in_order(t_s[order]).where(np.argsort(order))

    def _in_order(self, t_s: Floats) -> StationView:
        motion = np.full((6, len(t_s)), np.nan)
        height = np.full((2, len(t_s)), np.nan)
        segment = np.full(len(t_s), -1)
        for number, inside in _within(t_s, self.stretches):
            stretch = self.stretches[number]
            segment[inside] = number
            motion[:, inside] = stretch.position.motion(t_s[inside], 3).reshape(6, -1)
            for part, known in _within(t_s, stretch.altitudes):
                height[:, known] = stretch.altitudes[part].motion(t_s[known], 2)[:, 0]
        return StationView(
            t_s=t_s, segment=segment, motion_m=motion, height_m=height, station=self.procedure.station
        )


def _within(t_s: Floats, stretches: Sequence[_Stretch | Spline]) -> Iterator[tuple[int, slice]]:
    """The stretches that moments in order of time lie in, by number, each with those moments."""
    if not len(t_s):
        return
    first_s, last_s = float(t_s[0]), float(t_s[-1])
    for number, stretch in enumerate(stretches):
        start_s, end_s = stretch.start_s - SAME_MOMENT_S, stretch.end_s + SAME_MOMENT_S
        if start_s <= first_s and last_s <= end_s:  # as nearly always
            yield number, slice(0, len(t_s))
        elif start_s <= last_s and first_s <= end_s:
            first, last = (
                np.searchsorted(t_s, start_s, side="left"),
                np.searchsorted(t_s, end_s, side="right"),
            )
            if first < last:
                yield number, slice(int(first), int(last))


def observe(log: Conditioned, procedure: Procedure) -> tuple[StationView, Observer, Noise]:
    """Smooth the log near the station.

    Returns
    -------
    view : StationView on a grid of one second, no entries inside gaps, in order of time.
    at : the same flight at any moments.
    noise : what the smoother learned.

    Raises
    ------
    TrackError
        Where the log never comes within 100 NM of the station: the two files do not belong together.
    """
    track = log.track
    east_nm, north_nm = _plane(procedure).to_plane(track.latitude_deg, track.longitude_deg)
    east_nm, north_nm = east_nm[log.order], north_nm[log.order]
    distance_nm = np.hypot(east_nm, north_nm)
    if np.min(distance_nm) > ELSEWHERE_NM:
        raise TrackError(
            f"its nearest point lies {np.min(distance_nm):,.0f} NM from station {procedure.station.ident} "
            f"of {procedure.name!r}",
            where=Place(path=track.file),
            remedy=SWAPPED
            if seems_swapped(track, procedure)
            else "Give the procedure that was flown, with --procedure.",
            needs="procedure",
        )
    whole = _stretches(log, distance_nm)
    parts = [_measured(log, part) for part in whole]
    places = [np.column_stack([east_nm[part], north_nm[part]]) * METRES_PER_NM for part in parts]
    log_s = log.t_s
    times = [log_s[part] for part in parts]
    positions = [_position(t_s, metres) for t_s, metres in zip(times, places, strict=True)]
    late_m = lateness_m(list(zip(times, places, positions, strict=True)))
    stretches = []
    for every, t_s, metres, position in zip(whole, times, places, positions, strict=True):
        altitudes = tuple(_altitudes(log, every))
        if late_m:
            steady, way = retimed(t_s, metres, position, late_m)
            stretches.append(_Stretch(_position(t_s, steady), altitudes, way))
        else:
            stretches.append(_Stretch(position, altitudes, position))
    at = Observer(procedure, tuple(stretches))
    grid = [np.arange(s.start_s, s.end_s + 1e-9, GRID_S) for s in stretches]
    view = at(np.concatenate(grid) if grid else np.empty(0))
    samples = list(zip(times, places, (stretch.position for stretch in stretches), strict=True))
    return view, at, _noise(stretches, turning_noise_m(samples, JERK_DENSITY_M2_S5))


def _position(t_s: Floats, metres: Floats) -> Spline:
    return fit(t_s, metres, jerk_density=JERK_DENSITY_M2_S5, floor=POSITION_FLOOR_M)


def _plane(procedure: Procedure) -> StationPlane:
    return StationPlane(latitude_deg=procedure.station.latitude, longitude_deg=procedure.station.longitude)


def nearest_nm(log: Conditioned, procedure: Procedure) -> float:
    """How near to the station the used samples come. [NM]"""
    return _plane(procedure).nearest_nm(log.track.latitude_deg[log.order], log.track.longitude_deg[log.order])


def nearest_of(track: Track, procedure: Procedure) -> float:
    """How near to the station the raw track comes, as it was read. [NM]"""
    return _plane(procedure).nearest_nm(track.latitude_deg, track.longitude_deg)


def seems_swapped(track: Track, procedure: Procedure) -> bool:
    """Whether a track far from the station would pass near it with latitude and longitude exchanged."""
    possible = np.abs(track.longitude_deg) <= 90.0
    if not possible.any():
        return False
    east_as_north, north_as_east = track.longitude_deg[possible], track.latitude_deg[possible]
    return _plane(procedure).nearest_nm(east_as_north, north_as_east) <= WINDOW_NM


def _stretches(log: Conditioned, distance_nm: Floats) -> list[NDArray[np.int64]]:
    """Indices (into the used samples) of each unbroken stretch of two samples or more near the station."""
    near = distance_nm <= WINDOW_NM
    cut = np.flatnonzero((np.diff(log.segment) != 0) | (np.diff(near.astype(np.int8)) != 0)) + 1
    parts = np.split(np.arange(len(near)), cut)
    return [part for part in parts if len(part) > 1 and near[part[0]]]


def _measured(log: Conditioned, part: NDArray[np.int64]) -> NDArray[np.int64]:
    """The samples of a stretch but for those that a program drew between others; its ends stay.

    They would hold a turn to straight lines, and pass for samples without noise.
    """
    if log.on_lines is None or not log.on_lines[part].any():
        return part
    keep = ~log.on_lines[part]
    keep[[0, -1]] = True
    return part[keep]


def _altitudes(log: Conditioned, picked: NDArray[np.int64]) -> list[Spline]:
    """Splines of the altitude in one stretch, broken where it is missing for longer than a gap would be."""
    known = picked[log.altitude_used[picked]]
    if len(known) < 2:
        return []
    t_s = log.t_s
    longest_s = max(10.0, 3.5 * log.median_interval_s)
    parts = np.split(known, np.flatnonzero(np.diff(t_s[known]) > longest_s) + 1)
    metres = log.altitude_ft * METRES_PER_FT
    return [
        fit(
            t_s[part],
            metres[part, None],
            jerk_density=VERTICAL_JERK_DENSITY_M2_S5,
            floor=ALTITUDE_FLOOR_M,
            quantum=max(_quantum(metres[part]), log.altitude_errors.step_ft * METRES_PER_FT),
        )
        for part in parts
        if len(part) > 1
    ]


def _quantum(values: Floats) -> float:
    """The step in which values were recorded: the smallest change, where most samples do not change at all."""
    change = np.abs(np.diff(values))
    moved = change[change > 1e-6]
    if len(moved) < 3 or len(moved) > 0.6 * len(change):
        return 0.0
    return float(np.percentile(moved, 5))


def _noise(stretches: list[_Stretch], turning_m: float) -> Noise:
    """The noise of the longest stretches, weighted by their length; ``nan`` altitude noise where none is known.

    That across turns counts where it is plainly more.
    """
    if not stretches:
        return Noise(
            position_nm=np.nan,
            worse_in_turns=np.nan,
            altitude_ft=np.nan,
            smoothed_position_nm=np.nan,
            smoothed_altitude_ft=np.nan,
            smoothed_groundspeed_kt=np.nan,
            smoothed_vertical_speed_ft_min=np.nan,
        )
    positions = [s.sure for s in stretches]
    altitudes = [a for s in stretches for a in s.altitudes]
    position_m = _mean(positions, lambda s: s.sigma)
    return Noise(
        position_nm=position_m / METRES_PER_NM,
        worse_in_turns=turning_m / position_m if turning_m > PLAINLY_MORE * position_m else 1.0,
        altitude_ft=_mean(altitudes, lambda s: s.sigma) / METRES_PER_FT,
        smoothed_position_nm=_mean(positions, lambda s: s.spread(0)) / METRES_PER_NM,
        smoothed_altitude_ft=_mean(altitudes, lambda s: s.spread(0)) / METRES_PER_FT,
        smoothed_groundspeed_kt=_mean(positions, lambda s: s.spread(1)) * KT_PER_M_S,
        smoothed_vertical_speed_ft_min=_mean(altitudes, lambda s: s.spread(1))
        / METRES_PER_FT
        * SECONDS_PER_MINUTE,
    )


def _mean(splines: list[Spline], of: Callable[[Spline], float]) -> float:
    if not splines:
        return float("nan")
    lengths = np.array([s.end_s - s.start_s for s in splines])
    values = np.array([of(s) for s in splines])
    return float(np.sqrt(np.average(values**2, weights=np.maximum(lengths, 1e-3))))
