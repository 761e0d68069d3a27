"""How sure the moments are that phases and turns begin and end with, and what is measured at them.

Owns      the errors of a closest point, the edge of a cone, a turn's beginning; of a value read at such a moment.
Not here  finding the moments (phases), the errors of the log (``log_errors``).
Source    What is read as it passes a limit is read wrongly by its error over its rate of change (JCGM 100:2008, 5.1.2;
          mark: memory).

A smoothed turn begins early: over the time ``s`` in which the smoother takes samples together the roll is rounded off.
In simulated flights of every interval and noise that comes to ``EARLY_PER_S`` times the square of ``s``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import degrees, hypot, nan, radians, sqrt, tan

import numpy as np

from debrief.measures import log_errors
from debrief.measures.uncertainty import COVERAGE, altitude_at_ft, altitude_ft, ground_track_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.units import FEET_PER_NM, KT_PER_M_S, SECONDS_PER_HOUR
from debrief.phases.model import Flight, StationView

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
    """The error of a moment: standard deviation, and by how much it lies early or late for sure. [s]

    ``turned_s``: how much later it lies where the station is turned clockwise by half of its last figure, of which
    anything within that may be true. ``within_s``: it lies anywhere within so much, as what is told by a sample does.
    """

    sd_s: float
    bias_s: float = 0.0
    turned_s: float = 0.0
    within_s: float = 0.0

    @property
    def half_width_s(self) -> float:
        """At 95 %. [s]"""
        return half_width(self.sd_s, bias=self.bias_s, rectangular=abs(self.turned_s) + self.within_s)

    @property
    def rms_s(self) -> float:
        """Root mean square of the error. [s]"""
        return hypot(self.sd_s, self.bias_s, self.turned_s / sqrt(3.0), self.within_s / sqrt(3.0))


def closest_point(flight: Flight, distance_nm: float, groundspeed_kt: float) -> Moment:
    """A station passage: the position along the track over the speed; abeam, a wrong track moves it besides."""
    if not groundspeed_kt > 0:
        return Moment(nan)
    slip_nm = distance_nm * tan(radians(min(ground_track_deg(flight, groundspeed_kt) / 2.0, 60.0)))
    position_nm = log_errors.one(log_errors.position_nm(flight))
    return Moment(hypot(position_nm, slip_nm) / groundspeed_kt * SECONDS_PER_HOUR)


def altitude_passing_ft(flight: Flight, at: StationView) -> float:
    """Half-width at 95 % of the altitude where a point of the ground is passed, ``at`` there, of one entry. [ft]"""
    passed = closest_point(flight, 0.0, float(at.groundspeed_kt[0]))
    return altitude_at_ft(flight, passed.sd_s, float(at.vertical_speed_ft_min[0]))


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
    """A turn's beginning: how wrong its rate is, over how fast that changes there."""
    return turn_edges(flight, [t_s])[0]


def turn_end(flight: Flight, t_s: float) -> Moment:
    """A turn's end, which is smoothed as its beginning is: late."""
    edge = turn_edge(flight, t_s)
    return Moment(edge.sd_s, -edge.bias_s)


def turn_edges(flight: Flight, times_s: Sequence[float]) -> list[Moment]:
    """``turn_edge`` of several turns at once."""
    if not len(times_s):
        return []
    view = flight.at((np.asarray(times_s)[:, None] + np.array([-_BESIDE_S, 0.0, _BESIDE_S])).ravel())
    rates_deg_s, speeds_kt = view.turn_rate_deg_s.reshape(-1, 3), view.groundspeed_kt.reshape(-1, 3)
    early_s = EARLY_PER_S * log_errors.smoothed_over_s(flight) ** 2
    edges = []
    for t_s, rate_deg_s, speed_kt in zip(times_s, rates_deg_s, speeds_kt[:, 1], strict=True):
        rolled = abs(float(rate_deg_s[2] - rate_deg_s[0])) / (2.0 * _BESIDE_S)
        roll_deg_s2 = max(rolled if np.isfinite(rolled) else 0.0, _SLOWEST_ROLL_DEG_S2)
        wrong_deg_s = turn_rate_sd_deg_s(flight, float(speed_kt), t_s)
        edges.append(Moment(wrong_deg_s / roll_deg_s2, early_s) if speed_kt > 0 else Moment(nan))
    return edges


def turn_rate_sure(rate_deg_s: float, seconds: float, begins: Moment, ends: Moment) -> tuple[float, float]:
    """Standard deviation and bias of a turn's mean rate. [deg/s]

    A smoothed turn begins early and ends late: of the time between two beginnings that cancels, of a turn's own not.
    """
    share = rate_deg_s / seconds
    return share * hypot(begins.sd_s, ends.sd_s), share * (begins.bias_s + ends.bias_s)


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
        hypot(normal, rate_per_s * moment.sd_s),
        bias=rate_per_s * moment.bias_s,
        rectangular=rectangular + abs(rate_per_s) * (abs(moment.turned_s) + moment.within_s),
    )


def between(first: Moment, last: Moment) -> float:
    """Half-width at 95 % of the time from one moment to another. [s]"""
    return half_width(
        hypot(first.sd_s, last.sd_s),
        bias=last.bias_s - first.bias_s,
        rectangular=abs(last.turned_s - first.turned_s) + first.within_s + last.within_s,
    )


def slant_sure_nm(flight: Flight, at: StationView, moment: Moment) -> float | None:
    """Half-width at 95 % of the slant range read at a moment; ``None`` without an altitude. [NM]

    ``at`` is the view there, of one entry: the nearer the station, the more the height counts.
    """
    if not float(at.dme_nm[0]) > 0:
        return None
    position_nm = log_errors.one(log_errors.position_nm(flight, turning=True))
    flat = float(at.distance_nm[0] / at.dme_nm[0])
    height_nm = altitude_ft(flight) / COVERAGE / FEET_PER_NM
    normal_nm = hypot(position_nm * flat, height_nm * sqrt(max(0.0, 1.0 - flat**2)))
    return read_at(moment, float(at.closing_kt[0]) / SECONDS_PER_HOUR * flat, normal_nm)


def passing(rate_per_s: float, wrong: float, turned: float = 0.0) -> Moment:
    """Where a quantity passes a limit: how wrong it is, over how fast it changes there.

    ``wrong`` is its standard deviation, ``turned`` what a station turned clockwise by half of its last figure adds.
    """
    if not abs(rate_per_s) > 0.0:
        return Moment(nan)
    return Moment(wrong / abs(rate_per_s), turned_s=-turned / rate_per_s)
