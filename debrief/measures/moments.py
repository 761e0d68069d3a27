"""How sure the moments are that phases and turns begin and end with, and what is measured at them.

Owns      the errors of a closest point, the edge of a cone, a turn's beginning; of a value read at such a moment.
Not here  finding the moments (phases), the errors of the log (``log_errors``).
Source    What is read as it passes a limit is read wrongly by its error over its rate of change (JCGM 100:2008, 5.1.2;
          mark: memory).

A smoothed turn begins early: over the time ``s`` in which the smoother takes samples together the roll is rounded off.
In simulated flights of every interval and noise that comes to ``EARLY_PER_S`` times the square of ``s``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import degrees, hypot, nan, radians, sqrt, tan

import numpy as np

from debrief.measures import log_errors
from debrief.measures.uncertainty import COVERAGE, altitude_ft, ground_track_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.units import FEET_PER_NM, KT_PER_M_S, SECONDS_PER_HOUR
from debrief.phases.model import Flight

#: By simulated flights, see above. [1/s]
EARLY_PER_S = 0.11
#: A normal error is stood for by so many standard deviations to each side, at 1/6 each, and by none at 2/3: its mean
#: square is 2/6 x 3 = 1 and its mean fourth power 2/6 x 9 = 3, as they should be (quadrature by three points).
QUADRATURE = sqrt(3.0)
#: Over so long to each side the rate at which a turn begins is looked at. [s]
_BESIDE_S = 1.0
#: A roll slower than this is none that was meant. [deg/s each second]
_SLOWEST_ROLL_DEG_S2 = 0.2


@dataclass(frozen=True, slots=True)
class Moment:
    """The error of a moment: standard deviation, and by how much it lies early or late for sure. [s]"""

    sd_s: float
    bias_s: float = 0.0

    @property
    def half_width_s(self) -> float:
        """At 95 %. [s]"""
        return half_width(self.sd_s, bias=self.bias_s)


def closest_point(flight: Flight, distance_nm: float, groundspeed_kt: float) -> Moment:
    """A station passage: the position along the track over the speed; abeam, a wrong track moves it besides."""
    if not groundspeed_kt > 0:
        return Moment(nan)
    slip_nm = distance_nm * tan(radians(min(ground_track_deg(flight, groundspeed_kt) / 2.0, 60.0)))
    position_nm = log_errors.one(log_errors.position_nm(flight))
    return Moment(hypot(position_nm, slip_nm) / groundspeed_kt * SECONDS_PER_HOUR)


def cone_edge(flight: Flight, groundspeed_kt: float) -> Moment:
    """Entering or leaving the cone of ambiguity: the position, and the height that sets its radius."""
    if not groundspeed_kt > 0:
        return Moment(nan)
    position_nm = log_errors.one(log_errors.position_nm(flight))
    return Moment(hypot(position_nm, cone_radius_sd_nm(flight)) / groundspeed_kt * SECONDS_PER_HOUR)


def cone_radius_sd_nm(flight: Flight) -> float:
    """Standard deviation of the radius of the cone of ambiguity, by that of the altitude. [NM]"""
    wide = tan(radians(flight.procedure.station.cone_half_angle_deg))
    return altitude_ft(flight) / 2.0 / FEET_PER_NM * wide


def turn_rate_sd_deg_s(flight: Flight, groundspeed_kt: float, at_s: float | None = None) -> float:
    """Standard deviation of one smoothed rate of turn (at a moment): the acceleration's across the track, over the speed.

    [deg/s]
    """
    if not groundspeed_kt > 0:
        return nan
    across_m_s2 = log_errors.one(log_errors.acceleration_m_s2(flight, at_s))
    return degrees(across_m_s2 * KT_PER_M_S / groundspeed_kt)


def turn_edge(flight: Flight, t_s: float) -> Moment:
    """A turn's beginning or end: how wrong its rate is, over how fast that changes there."""
    view = flight.at(np.array([t_s - _BESIDE_S, t_s, t_s + _BESIDE_S]))
    if not float(view.groundspeed_kt[1]) > 0:
        return Moment(nan)
    rolled = abs(float(view.turn_rate_deg_s[2] - view.turn_rate_deg_s[0])) / (2.0 * _BESIDE_S)
    roll_deg_s2 = max(rolled if np.isfinite(rolled) else 0.0, _SLOWEST_ROLL_DEG_S2)
    wrong_deg_s = turn_rate_sd_deg_s(flight, float(view.groundspeed_kt[1]), t_s)
    return Moment(wrong_deg_s / roll_deg_s2, EARLY_PER_S * log_errors.smoothed_over_s(flight) ** 2)


def over_limit(value: Callable[[float], float | None], limit: float, sd: float, *, least: float) -> float:
    """Standard deviation of a value that hangs on where a quantity, wrong by ``sd``, passes a limit.

    ``value`` gives it at any limit, ``None`` where there is none; the limit is not taken below ``least``.
    """
    at = value(limit)
    others = [value(max(limit + wrong, min(limit, least))) for wrong in (QUADRATURE * sd, -QUADRATURE * sd)]
    apart = [other - at for other in others if other is not None and at is not None]
    # where it jumps from one to the other, the interval holds either
    return max([hypot(*apart) / (QUADRATURE * sqrt(2.0)), *(abs(one) / COVERAGE for one in apart)])


def read_at(moment: Moment, rate_per_s: float, normal: float, rectangular: float = 0.0) -> float:
    """Half-width at 95 % of a value read at a moment, which changes by ``rate_per_s`` there.

    ``normal`` and ``rectangular``: the errors of the value itself, as ``half_width`` takes them.
    """
    return half_width(
        hypot(normal, rate_per_s * moment.sd_s), bias=rate_per_s * moment.bias_s, rectangular=rectangular
    )
