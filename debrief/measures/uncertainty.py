"""How sure a measure is: the budgets behind every ``..._uncertainty...``.

Owns      the half-widths at 95 % (two standard deviations) of positions, angles, heights, speeds and moments, of one
          value, of means and of the greatest of many.
Not here  the errors of the log that they start from (``log_errors``), limits (grading).
Source    JCGM 100:2008: independent parts add as squares; what is moved by an error is moved by its own slope
          (mark: memory). An angle at the station is u(cross-track) / distance, in radians (DEVELOPERS.md,
          Definitions). Table of the figures behind the GPS part: DEVELOPERS.md, Sources.

Every budget holds what the log does not tell: the noise that is left after smoothing, the slow error of its source,
its rounding, and how well the station's alignment is published. What the pilot's own instruments showed is not in
it: a receiver adds up to some degrees in a real aircraft and nothing in a simulator.
``nan`` noise (nothing known of it) makes the answer ``nan``.
"""

from __future__ import annotations

import numpy as np

from debrief.measures import log_errors
from debrief.measures.log_errors import Parts
from debrief.measures.wind import GUST_S, LEAST_GUST_KT
from debrief.navigation.intervals import half_width
from debrief.navigation.units import SECONDS_PER_MINUTE
from debrief.phases.model import Flight

#: Two standard deviations.
COVERAGE = 2.0

#: Air warmer or colder than standard by as much as this (95 %) is ordinary. Mark: memory.
TEMPERATURE_OFF_STANDARD_K = 10.0
_STANDARD_TEMPERATURE_K = 288.15

#: What a wind changes with height (95 %). Mark: common practice. [kt/ft]
WIND_CHANGE_KT_PER_FT = 3.0 / 1000.0

#: An airspeed column: rounding, and what a pilot reads. Mark: memory.
LOGGED_AIRSPEED_KT = 2.0


def position_nm(flight: Flight, *, turning: bool = False) -> float:
    """Across any axis: smoothed noise, and the log's own bias; in a turn, what lies unseen between samples [NM]."""
    return half_width(log_errors.one(log_errors.position_nm(flight, turning=turning)))


def angle_at_station_deg(flight: Flight, distance_nm: float) -> float:
    """Of a radial or a deviation: atan(u(position) / distance), and the station's alignment; at most 180 [deg]."""
    if not distance_nm > 0:
        return 180.0
    return half_width(
        position_angle_deg(flight, distance_nm) / COVERAGE,
        rectangular=flight.procedure.station.alignment_within_deg,
    )


def position_angle_deg(flight: Flight, distance_nm: float) -> float:
    """The part of the position alone in an angle at the station [deg]."""
    position = log_errors.one(log_errors.position_nm(flight))
    return COVERAGE * float(np.degrees(np.arctan(position / distance_nm)))


def altitude_ft(flight: Flight) -> float:
    """Of one smoothed altitude: its noise, and what is wrong with its source [ft]."""
    return _altitude(flight, log_errors.one(log_errors.altitude_ft(flight)))


def mean_altitude_ft(flight: Flight, seconds: float) -> float:
    """Of a mean altitude over some seconds [ft]."""
    return _altitude(flight, log_errors.mean(log_errors.altitude_ft(flight), seconds))


def altitude_at_ft(flight: Flight, moment_s: float, rate_ft_min: float) -> float:
    """Of the altitude at a moment that is itself unsure (standard deviation), as it changes so fast [ft]."""
    moved_ft = moment_s * rate_ft_min / SECONDS_PER_MINUTE
    return _altitude(flight, float(np.hypot(log_errors.one(log_errors.altitude_ft(flight)), moved_ft)))


def _altitude(flight: Flight, normal_ft: float, bias_ft: float = 0.0) -> float:
    errors = flight.log.altitude_errors
    return half_width(normal_ft, bias=abs(errors.bias_ft) + bias_ft, rectangular=errors.step_ft / 2.0)


def groundspeed_kt(flight: Flight) -> float:
    """Of one smoothed ground speed: what lies unseen between samples of a turn lies across the track [kt]."""
    return half_width(log_errors.one(log_errors.velocity_kt(flight, turning=False)))


def ground_track_deg(
    flight: Flight, groundspeed_kt: float, at_s: float | None = None, *, turning: bool = True
) -> float:
    """Of one smoothed ground track (at a moment): the velocity's noise across it, over the speed [deg]."""
    if not groundspeed_kt > 0:
        return 180.0
    across_kt = log_errors.one(log_errors.velocity_kt(flight, at_s, turning=turning))
    return half_width(float(np.degrees(np.arctan(across_kt / groundspeed_kt))))


def vertical_speed_ft_min(flight: Flight) -> float:
    """Of one smoothed vertical speed [ft/min]."""
    return half_width(log_errors.one(log_errors.vertical_speed_ft_min(flight)))


def _rate_parts(flight: Flight, seconds: float) -> Parts:
    """Of a climb or descent over some seconds: two altitudes' errors over that time; what lasts cancels [ft/min].

    Never more than that of one smoothed vertical speed.
    """
    over = SECONDS_PER_MINUTE / seconds
    rates = []
    for part in log_errors.altitude_ft(flight):
        left = np.sqrt(2.0 * (1.0 - np.exp(-seconds / part.lasts_s))) if np.isfinite(part.lasts_s) else 0.0
        # differences over so long forget themselves as the error does, at the latest after half of it
        rates.append(log_errors.Part(part.sd * float(left) * over, min(part.lasts_s, seconds / 2.0)))
    whole, smoothed = log_errors.one(tuple(rates)), log_errors.one(log_errors.vertical_speed_ft_min(flight))
    share = min(1.0, smoothed / whole) if whole > 0 else 1.0
    return tuple(log_errors.Part(part.sd * share, part.lasts_s) for part in rates)


def mean_rate_sd_ft_min(flight: Flight, seconds: float) -> float:
    """Standard deviation of the mean climb over some seconds: only its first and last altitudes count [ft/min]."""
    return log_errors.one(_rate_parts(flight, seconds)) if seconds > 0.0 else np.nan


def near_rate_ft_min(flight: Flight, seconds: float) -> float:
    """How far below the greatest a rate over some seconds may lie and truly be as great [ft/min]."""
    return log_errors.NEAR * log_errors.changing(_rate_parts(flight, seconds))


def greatest_rate_ft_min(flight: Flight, seconds: float, near_s: float) -> float:
    """Of the greatest climb or descent over some seconds that a phase holds [ft/min].

    The greatest of many picks out what the log's errors add; ``near_s`` is for how long the rate is about as great.
    """
    bias, normal = log_errors.greatest(_rate_parts(flight, seconds), near_s)
    return half_width(normal, bias=bias)


def heading_from_wind_deg(wind_uncertainty_kt: float, above_ft: float, airspeed_kt: float) -> float:
    """Of a heading or a drift found from the ground track and a wind that was measured so far above or below [deg]."""
    return half_width(float(np.degrees(_wind_sd_kt(wind_uncertainty_kt, above_ft) / airspeed_kt)))


def _wind_sd_kt(wind_uncertainty_kt: float, above_ft: float) -> float:
    """Standard deviation along one axis of a wind that was measured so far above or below [kt].

    ``wind_uncertainty_kt`` is the half-width of its speed: along any axis it is known about as well.
    """
    changed_kt = WIND_CHANGE_KT_PER_FT * abs(above_ft) if np.isfinite(above_ft) else 0.0
    return float(np.hypot(wind_uncertainty_kt, changed_kt)) / COVERAGE


def airspeed_from_wind_kt(flight: Flight, wind_uncertainty_kt: float, airspeed_kt: float) -> float:
    """Of one airspeed found from ground speed and wind [kt], see ``airspeed_from_wind``."""
    return half_width(log_errors.one(airspeed_from_wind(flight, wind_uncertainty_kt, airspeed_kt)))


def airspeed_from_wind(
    flight: Flight, wind_uncertainty_kt: float, airspeed_kt: float, above_ft: float = 0.0
) -> Parts:
    """The parts of the error of an airspeed found from ground speed and a wind measured so far above or below [kt].

    Ground speed, wind and its gusts, and air that is not standard: true airspeed grows with the root of its temperature.
    """
    temperature_kt = airspeed_kt * TEMPERATURE_OFF_STANDARD_K / _STANDARD_TEMPERATURE_K / 2.0
    lasting_kt = float(np.hypot(_wind_sd_kt(wind_uncertainty_kt, above_ft), temperature_kt / COVERAGE))
    return (
        *log_errors.velocity_kt(flight, turning=False),
        log_errors.Part(LEAST_GUST_KT, GUST_S),
        log_errors.Part(lasting_kt, np.inf),
    )
