"""A landing at a runway of known elevation: the only place where a log's altitude can be checked.

Owns      ``RunwayPlace``, finding samples that stand on the runway, the altitude measured there, the slope of the descent to it.
Not here  the landing as a phase (phases), correcting anything (``altitude`` does, when asked).

On the runway is a sample within 90 m of its line behind the threshold, slower than 35 kt (or with the log's own flag for
being on the ground). Faster ones may be a low pass, but for those slower than little more than half the speed over the
threshold, which count where a log ends while the aircraft still brakes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.navigation.units import FEET_PER_NM, KT_PER_M_S, METRES_PER_NM
from debrief.tracks.middles import spread
from debrief.tracks.model import Floats
from debrief.tracks.points import Bools, Ints, Points

_SLOW_KT = 35.0
_BESIDE_M = 90.0  # a runway typed to three decimals, a recorder off by its noise; a taxiway beside is as high
_BEFORE_M, _BEHIND_M = -50.0, 3500.0
_BRAKED_TO = (
    0.55  # of the speed over the threshold: a wing that made a third more than its stall there is stalled
)
_SHORTEST_S = 4.0  # each sample standing for an interval
_VISIT_S = 60.0
_LEVEL_FT = 40.0
_NOISES = 3.5
_FEWEST_FOR_NOISE = 5
_SIGMAS_95 = 1.96
_FEWEST_OF_PATH = 2
_PATH_FROM_NM, _PATH_TO_NM = 3.0, 0.3
_PATH_BESIDE_M = 600.0
_PATH_S = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RunwayPlace:
    """The landing runway, by its threshold. WGS84 degrees, feet above the sea, degrees from true north."""

    latitude_deg: float
    longitude_deg: float
    elevation_ft: float
    course_true_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OnRunway:
    """What the log says where the aircraft stood on the runway."""

    t_s: float  # the first of these samples
    altitude_ft: float  # median
    noise_ft: float  # of that, one standard deviation
    slope_deg: float | None  # of the descent to it, by the log's altitudes; None where none was seen


def on_runway(points: Points, altitude_ft: Floats, used: Bools, runway: RunwayPlace) -> OnRunway | None:
    """Find the last time the aircraft stood or rolled on the runway; ``None`` where it never did.

    ``altitude_ft`` and ``used`` have one entry for each of ``points``.
    """
    along, across = _along_and_across_m(points, runway)
    over = used & (np.abs(across) < _BESIDE_M) & (along > _BEFORE_M) & (along < _BEHIND_M)
    here = np.flatnonzero(over)
    sigma_ft = noise_ft(points.t_s[used], altitude_ft[used])
    for visit in reversed(np.split(here, np.flatnonzero(np.diff(points.t_s[here]) > _VISIT_S) + 1)):
        down = _on_its_wheels(points, visit)
        if not _long_enough(points, down):
            continue
        level_ft = np.percentile(altitude_ft[down], 90) - np.percentile(altitude_ft[down], 10)
        if level_ft > _LEVEL_FT + _NOISES * sigma_ft:
            continue
        return OnRunway(
            t_s=float(points.t_s[down[0]]),
            altitude_ft=float(np.median(altitude_ft[down])),
            noise_ft=sigma_ft / float(np.sqrt(len(down))),
            slope_deg=_slope_deg(points, altitude_ft, used, along, across, int(down[0])),
        )
    return None


def _on_its_wheels(points: Points, visit: Ints) -> Ints:
    """The samples over the runway that are too slow to fly.

    Where a log has too few of them, also those so much slower than over the threshold as only brakes make it.
    """
    speed_kt = points.net_speed_m_s[visit] * KT_PER_M_S
    slow = speed_kt < _SLOW_KT
    flag = points.track.columns.get("on_ground")
    if flag is not None:
        logged = flag[points.index[visit]]
        slow = np.where(np.isfinite(logged), logged > 0, slow)
    elif not _long_enough(points, visit[slow]):
        slow |= speed_kt < _BRAKED_TO * speed_kt[:1]
    return visit[slow]


def _long_enough(points: Points, here: Ints) -> bool:
    return len(here) > 0 and points.t_s[here[-1]] - points.t_s[here[0]] + points.interval_s >= _SHORTEST_S


def noise_ft(t_s: Floats, altitude_ft: Floats) -> float:
    """Standard deviation of one altitude, by how far each lies off the line between its neighbours. [ft]"""
    if len(t_s) < _FEWEST_FOR_NOISE:
        return 0.0
    share = (t_s[1:-1] - t_s[:-2]) / (t_s[2:] - t_s[:-2])
    off_ft = altitude_ft[1:-1] - altitude_ft[:-2] - share * (altitude_ft[2:] - altitude_ft[:-2])
    off_ft = np.abs(off_ft) / np.sqrt(1.0 + share**2 + (1.0 - share) ** 2)
    # of altitudes in steps most do not differ at all, and yet the others do
    return max(spread(np.concatenate([off_ft, -off_ft])), float(np.percentile(off_ft, 95)) / _SIGMAS_95)


def _along_and_across_m(points: Points, runway: RunwayPlace) -> tuple[Floats, Floats]:
    east_m_deg, north_m_deg = points.metres_per_deg
    longitude = points.track.longitude_deg[points.index] - runway.longitude_deg
    east = ((longitude + 180.0) % 360.0 - 180.0) * east_m_deg
    north = (points.latitude_deg - runway.latitude_deg) * north_m_deg
    course = np.radians(runway.course_true_deg)
    return east * np.sin(course) + north * np.cos(course), east * np.cos(course) - north * np.sin(course)


def _slope_deg(
    points: Points, altitude_ft: Floats, used: Bools, along: Floats, across: Floats, landed: int
) -> float | None:
    final = used & (np.abs(across) < _PATH_BESIDE_M) & (np.arange(len(points)) < landed)
    final &= (along < -_PATH_TO_NM * METRES_PER_NM) & (along > -_PATH_FROM_NM * METRES_PER_NM)
    final &= points.t_s[landed] - points.t_s < _PATH_S
    if final.sum() < _FEWEST_OF_PATH or np.ptp(along[final]) < METRES_PER_NM / 2:
        return None
    ft_a_metre = np.polyfit(along[final], altitude_ft[final], 1)[0]
    return float(-np.degrees(np.arctan(ft_a_metre * METRES_PER_NM / FEET_PER_NM)))
