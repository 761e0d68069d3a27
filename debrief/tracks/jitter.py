"""How finely the log says where and when: stamps that jitter, coordinates that are rounded.

Owns      remarks on both. No sample is set aside for them.
Not here  several samples on one stamp (``order``), the noise model of the smoother (``smoothing``).

A late stamp moves a good position along the flight and never across it. So jitter shows as scatter along the
track that is several times that across it.
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.navigation.units import KT_PER_M_S
from debrief.tracks.gaps import is_gap
from debrief.tracks.middles import spread
from debrief.tracks.points import Points

_MOVING_M_S = 15.0
_LEAST_JITTER_S = 0.1
_TIMES_ACROSS = 3.0
_ROUNDINGS = 3.0
_SCATTER = 1.5**0.5  # of the middle of three positions against the line through the others
_FEWEST = 20
_COARSE_DEG = 0.99e-4


def rounding_warnings(points: Points) -> tuple[str, ...]:
    """Say where coordinates are written to four decimals of a degree or fewer."""
    if points.rounding_deg < _COARSE_DEG:
        return ()
    decimals = round(-np.log10(points.rounding_deg))
    return (
        (
            tr(
                "Positions are rounded to {decimals} decimals of a degree, steps of {rounding_m:.0f} m: "
                "close to the station an angle is only as good as that.",
                decimals=decimals,
                rounding_m=points.rounding_m,
            )
        ),
    )


def jitter_warnings(points: Points) -> tuple[str, ...]:
    """Say how far stamps stand off the motion they belong to."""
    if len(points) < _FEWEST:
        return ()
    at = np.arange(1, len(points) - 1)
    gap = is_gap(points)
    at = at[~(gap[at - 1] | gap[at]) & (points.local_speed_m_s[at] > _MOVING_M_S)]
    if len(at) < _FEWEST:
        return ()
    east, north = points.off_chord_m(at - 1, at, at + 1)
    to_east, to_north = points.offset_m(at - 1, at + 1)
    length = np.maximum(np.hypot(to_east, to_north), 1e-9)
    along = spread((east * to_east + north * to_north) / length)
    across = spread((east * to_north - north * to_east) / length)
    speed = float(np.median(points.net_speed_m_s[at]))
    if speed < _MOVING_M_S:  # it moves to and fro: no motion that stamps could stand off
        return ()
    jitter_s = along / _SCATTER / speed
    if jitter_s < _LEAST_JITTER_S or along < max(_TIMES_ACROSS * across, _ROUNDINGS * points.rounding_m):
        return ()
    raw = points.distance_m(at - 1, at) / (points.t_s[at] - points.t_s[at - 1])
    scatter_kt = spread(raw) * KT_PER_M_S
    whole = bool((np.mod(points.t_s - points.t_s[0], 1.0) == 0).all())
    return (
        (
            tr(
                "Time stamps (they are whole seconds) stand off the motion by about {jitter:.1f} s: speeds from sample "
                "to sample scatter by {scatter:.0f} kt around the right mean, so they are taken from the smoothed track."
                if whole
                else "Time stamps stand off the motion by about {jitter:.1f} s: speeds from sample to sample scatter by "
                "{scatter:.0f} kt around the right mean, so they are taken from the smoothed track.",
                jitter=jitter_s,
                scatter=scatter_kt,
            )
        ),
    )
