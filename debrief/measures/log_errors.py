"""What is wrong with the smoothed flight, as parts that forget themselves over different times.

Owns      the parts of the error of a position, an altitude and their rates; how they add up in one value, a mean
          or weighted sum, the greatest of many.
Not here  the noise (phases), the biases of a log (tracks), which measure is moved by how much (``uncertainty``).
Source    The smoother's posterior: ``tracks.smoothing``. An error that forgets itself over a time T has the spectrum
          2 s^2 T / (1 + (w T)^2) (any text on Gauss-Markov processes); through the smoother's 1 / (1 + (w/w0)^6) its
          rate of change has the variance 0.5556 s^2 w0 / T and its acceleration 0.1667 s^2 w0^3 / T.

Averages of many samples do not help against what lasts: a satellite position wanders over a minute, and a part of
its error stays the same all along the flight.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf, isfinite, pi, sqrt

import numpy as np

from debrief.navigation.intervals import averaged, greatest_of
from debrief.navigation.units import (
    KT_PER_M_S,
    METRES_PER_FT,
    METRES_PER_NM,
    SECONDS_PER_HOUR,
    SECONDS_PER_MINUTE,
)
from debrief.phases.model import Flight, Floats, StationView
from debrief.phases.station_view import JERK_DENSITY_M2_S5, VERTICAL_JERK_DENSITY_M2_S5

#: The slow part of a satellite receiver's error forgets itself over about this time. [s] Mark: memory.
WANDERS_S = 60.0
#: Between samples far apart the most probable motion is off by this times sqrt(jerk density x interval^5), its
#: speed by sqrt(density x interval^3), its acceleration by sqrt(density x interval), on the average over an interval:
#: the smoother's model solved for exact samples.
_BETWEEN = (0.0186, 0.0630, 0.322)

#: Shares of the noise alone in the posterior deviations of a speed and of an acceleration: the roots of the integrals of
#: x^2 / (1 + x^6)^2 and of x^2 / (1 + x^6), of x^4 / (1 + x^6)^2 and of x^4 / (1 + x^6). The rest is what may have been
#: flown and was smoothed away: of a straight flight nothing.
_NOISE_ALONE = {1: 0.707, 2: 0.408}
#: Gusts and corrections of a straight flight are so much of a turn's jerks. By the ground speeds over the station of 80
#: simulated flights (tests.measures.coverage) recorded every 5 and 10 s: 0.5 to 0.65.
_STRAIGHT = 0.6

#: Where a log begins or ends the smoother looks to one side only: by so much its posterior deviation of a rate is greater
#: there, the root of 18 (the stationary filter of three integrators leaves a rate the variance 3 r w0^3, its smoother
#: r w0^3 / 6, with r the noise's density).
_RATE_AT_END = 4.243

#: Of several values that are truly alike, errors put the greatest above and the others below: so many standard
#: deviations below the greatest a value may still belong with it.
NEAR = 3.0


@dataclass(frozen=True, slots=True)
class Part:
    """An error of that standard deviation which forgets itself over ``lasts_s``; ``inf`` for one that never does."""

    sd: float
    lasts_s: float


Parts = tuple[Part, ...]


def position_nm(flight: Flight, *, turning: bool = False) -> Parts:
    """Across any axis; ``turning`` where the flight is not straight between samples. [NM]"""
    return _scaled(_position_m(flight, 0, turning=turning), 1.0 / METRES_PER_NM)


def velocity_kt(flight: Flight, at_s: float | None = None, *, turning: bool = True) -> Parts:
    """Of the ground velocity along any axis; at a moment, also by how far apart positions were measured there. [kt]

    ``turning`` where the flight is not straight between samples; else, and of a speed along the track of any flight, the
    noise alone, and what little lies unseen.
    """
    return _scaled(_position_m(flight, 1, turning=turning, at_s=at_s), KT_PER_M_S)


def acceleration_m_s2(flight: Flight, at_s: float | None = None) -> Parts:
    """Of the acceleration over the ground along any axis, by the noise alone: what is smoothed away is a bias."""
    return _position_m(flight, 2, turning=True, at_s=at_s)


def smoothed_over_s(flight: Flight) -> float:
    """The time over which the smoother takes its samples together, 1 / w0. [s]"""
    return 1.0 / _seen_rad_s(
        flight.noise.position_nm * METRES_PER_NM, flight.log.measured_interval_s, JERK_DENSITY_M2_S5
    )


def rates_worse(flight: Flight, t_s: Floats) -> Floats:
    """By how much the errors of rates are greater at each moment: beside a gap, and where the log begins or ends."""
    edges_s = [flight.view.t_s[0], flight.view.t_s[-1]]
    edges_s += [edge_s for gap in flight.log.gaps for edge_s in (gap.start_s, gap.end_s)]
    apart_s = np.abs(t_s[:, None] - np.array(edges_s)).min(axis=1)
    return np.where(apart_s < smoothed_over_s(flight), _RATE_AT_END, 1.0)


def altitude_ft(flight: Flight) -> Parts:
    """Of a smoothed altitude, without the known bias and the rounding. [ft]"""
    return _scaled(_altitude_m(flight, 0), 1.0 / METRES_PER_FT)


def vertical_speed_ft_min(flight: Flight) -> Parts:
    """Of a smoothed vertical speed. [ft/min]"""
    return _scaled(_altitude_m(flight, 1), SECONDS_PER_MINUTE / METRES_PER_FT)


def one(parts: Parts) -> float:
    """Standard deviation of one value."""
    return hypot(*(part.sd for part in parts))


def changing(parts: Parts) -> float:
    """Standard deviation of what changes along a flight."""
    return hypot(*(part.sd for part in parts if isfinite(part.lasts_s)))


def mean(parts: Parts, seconds: float) -> float:
    """Standard deviation of a mean over some seconds."""
    return sqrt(sum(part.sd**2 * averaged(seconds, part.lasts_s) for part in parts))


def greatest(parts: Parts, near_s: float) -> tuple[float, float]:
    """How far the greatest of many values lies too high for their errors, and its standard deviation.

    ``near_s``: for how long the value is within ``NEAR`` standard deviations (of what changes) of the greatest.
    """
    varying = changing(parts)
    if not varying > 0.0:
        return 0.0, one(parts)
    count = 1.0
    for part in parts:
        if isfinite(part.lasts_s):
            count += (part.sd / varying) ** 2 * near_s / max(part.lasts_s, 1.0)
    mean_of, spread_of = greatest_of(count)
    lasting = sqrt(max(0.0, one(parts) ** 2 - varying**2))
    return mean_of * varying, hypot(lasting, spread_of * varying)


def weighted(parts: Parts, t_s: Floats, weights: Floats) -> float:
    """Standard deviation of the sum of the errors at ``t_s`` (increasing), each times its weight."""
    variance = 0.0
    for part in parts:
        if not isfinite(part.lasts_s):
            variance += part.sd**2 * float(weights.sum()) ** 2
        elif part.sd > 0:
            variance += part.sd**2 * _quadratic(t_s, weights, max(part.lasts_s, 0.5))
    return sqrt(max(0.0, variance))


def mean_groundspeed_kt(flight: Flight, view: StationView) -> float:
    """Standard deviation of the mean ground speed along a view: that of the way flown, over the time it took.

    A step of the way is wrong by what the position's error changed along it. Summed up, errors count at the first and
    the last position, and where the way turns between them; on a straight way all others cancel.
    """
    together = np.diff(view.segment) == 0
    seconds = float(np.diff(view.t_s)[together].sum())
    if not seconds > 0.0:
        return one(velocity_kt(flight, turning=False))
    parts = position_nm(flight, turning=True)
    step_nm = np.hypot(np.diff(view.east_nm), np.diff(view.north_nm))
    variance = 0.0
    for place_nm in (view.east_nm, view.north_nm):
        ahead = np.divide(
            np.diff(place_nm), step_nm, out=np.zeros_like(step_nm), where=together & (step_nm > 0.0)
        )
        variance += weighted(parts, view.t_s, np.diff(-ahead, prepend=0.0, append=0.0)) ** 2
    return sqrt(variance) / seconds * SECONDS_PER_HOUR


def _quadratic(t_s: Floats, weights: Floats, lasts_s: float) -> float:
    """The sum of w_i w_j exp(-|t_i - t_j| / lasts_s) over all pairs, in one pass over blocks."""
    decay = np.exp(-np.diff(t_s, prepend=t_s[0]) / lasts_s)
    total, carried = 0.0, 0.0
    # exp(t / lasts_s) would overflow over a long phase: each block starts anew from what was carried
    edges = np.unique(np.searchsorted(t_s, np.arange(t_s[0], t_s[-1] + 1e-9, 200.0 * lasts_s)))
    for first, last in zip(edges, [*edges[1:], len(t_s)], strict=True):
        block, grown = weights[first:last], np.exp((t_s[first:last] - t_s[first]) / lasts_s)
        before = (np.cumsum(block * grown) + carried * decay[first]) / grown
        total += float((block * (2.0 * before - block)).sum())
        carried = float(before[-1])
    return total


def _position_m(flight: Flight, derivative: int, *, turning: bool, at_s: float | None = None) -> Parts:
    noise, errors, log = flight.noise, flight.log.position_errors, flight.log
    worse = noise.worse_in_turns if turning else 1.0
    return _parts(
        worse * noise.position_nm * METRES_PER_NM,
        log.measured_interval_s if at_s is None else log.unseen_s(at_s, smoothed_over_s(flight)),
        JERK_DENSITY_M2_S5,
        derivative,
        constant=errors.constant_nm * METRES_PER_NM,
        wander=errors.wander_nm * METRES_PER_NM,
        smoothed=(
            worse * noise.smoothed_position_nm * METRES_PER_NM,
            worse * noise.smoothed_groundspeed_kt / KT_PER_M_S,
        ),
        turning=turning,
    )


def _altitude_m(flight: Flight, derivative: int) -> Parts:
    errors = flight.log.altitude_errors
    return _parts(
        flight.noise.altitude_ft * METRES_PER_FT,
        flight.log.median_interval_s,
        VERTICAL_JERK_DENSITY_M2_S5,
        derivative,
        constant=errors.constant_ft * METRES_PER_FT,
        wander=errors.wander_ft * METRES_PER_FT,
        smoothed=(
            flight.noise.smoothed_altitude_ft * METRES_PER_FT,
            flight.noise.smoothed_vertical_speed_ft_min * METRES_PER_FT / SECONDS_PER_MINUTE,
        ),
        turning=True,
    )


def _parts(
    sigma: float,
    interval_s: float,
    density: float,
    derivative: int,
    *,
    constant: float,
    wander: float,
    smoothed: tuple[float, float],
    turning: bool,
) -> Parts:
    """The parts of a smoothed value (0), its rate (1) or its acceleration (2), in metres and seconds."""
    seen = _seen_rad_s(sigma, interval_s, density)
    lasts_s = 1.5 / seen
    unseen = _BETWEEN[derivative] * sqrt(density * interval_s ** (5 - 2 * derivative))
    if derivative == 0:
        between = unseen if turning else 0.0
        # over samples closer together than the wander lasts the noise is smoothed, the wander is not
        return (
            Part(_joined(smoothed[0], between), lasts_s),
            Part(wander, WANDERS_S),
            Part(constant, inf),
        )
    if derivative == 1:
        noise_share, unseen_share = (1.0, 1.0) if turning else (_NOISE_ALONE[1], _STRAIGHT)
        noise, between = noise_share * smoothed[1], unseen_share * unseen
        drift = wander * sqrt(0.5556 * seen / WANDERS_S)
    else:
        noise, between = (
            _NOISE_ALONE[2] * part for part in (sigma * sqrt(interval_s * seen**5 / 3.0), unseen)
        )
        drift = wander * sqrt(0.1667 * seen**3 / WANDERS_S)
    return (Part(hypot(_joined(noise, between), drift), 1.0 / seen),)


def _seen_rad_s(sigma: float, interval_s: float, density: float) -> float:
    """The corner of the smoother; no sampling sees faster than half its own rate."""
    return min(float((density / max(sigma**2 * interval_s, 1e-9)) ** (1 / 6)), pi / interval_s)


def _joined(noise: float, between: float) -> float:
    """Noise between close samples and what lies unseen between far ones, within a tenth of the model's posterior."""
    return float((noise**3 + between**3) ** (1 / 3))


def _scaled(parts: Parts, by: float) -> Parts:
    return tuple(Part(part.sd * by, part.lasts_s) for part in parts)
