"""How sure a measure is: the budgets behind every ``..._uncertainty...``.

Owns      the half-widths at 95 % (two standard deviations) of positions, angles, heights, speeds and moments.
Not here  the noise itself (phases, from the smoother), the biases of a log (tracks), limits (grading).
Source    Independent parts add as squares; an angle at the station is u(cross-track) / distance, in radians
          (DEVELOPERS.md, Definitions). Table of the figures behind the GPS part: DEVELOPERS.md, Sources.

Every budget holds what the log does not tell: the noise that is left after smoothing (two standard deviations)
and, beside it, a bias that no smoothing removes. What the pilot's own instruments showed is not in it: a
receiver and the station's alignment add up to some degrees in a real aircraft and nothing in a simulator.
``nan`` noise (nothing known of it) makes the answer ``nan``.
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.units import METRES_PER_FT, SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.model import Flight

#: Two standard deviations.
COVERAGE = 2.0

#: Air warmer or colder than standard by as much as this (95 %) is ordinary. Mark: memory.
TEMPERATURE_OFF_STANDARD_K = 10.0
_STANDARD_TEMPERATURE_K = 288.15

#: A satellite altitude: 13 m at 95 %. Source: GPS SPS Performance Standard, 5th edition, Table 3.8-3.
#: Mark: seen (2nd hand).
SATELLITE_ALTITUDE_FT = 13.0 / METRES_PER_FT
#: Its errors forget themselves over about this time. [s] Mark: memory.
ALTITUDE_WANDERS_S = 60.0

#: An airspeed column: rounding, and what a pilot reads. Mark: memory.
LOGGED_AIRSPEED_KT = 2.0

#: A turn's beginning (1 deg/s) is known to this much even in a perfect log: the smoother spreads it. [s]
TURN_START_S = 1.0


def position_nm(flight: Flight) -> float:
    """Across any axis: smoothed noise, and the log's own bias [NM]."""
    return float(np.hypot(COVERAGE * flight.noise.smoothed_position_nm, flight.log.position_uncertainty_nm))


def angle_at_station_deg(flight: Flight, distance_nm: float) -> float:
    """Of a radial or a deviation at a distance: atan(u(position) / distance), at most 180 [deg]."""
    if not distance_nm > 0:
        return 180.0
    return float(np.degrees(np.arctan(position_nm(flight) / distance_nm)))


def altitude_ft(flight: Flight) -> float:
    """Of one smoothed altitude: its noise, and the bias of its source [ft]."""
    return float(np.hypot(COVERAGE * flight.noise.smoothed_altitude_ft, flight.log.altitude_uncertainty_ft))


def groundspeed_kt(flight: Flight) -> float:
    """Of one smoothed ground speed [kt]."""
    return float(COVERAGE * flight.noise.smoothed_groundspeed_kt)


def ground_track_deg(flight: Flight, groundspeed_kt: float) -> float:
    """Of one smoothed ground track: the velocity's noise across it, over the speed [deg]."""
    if not groundspeed_kt > 0:
        return 180.0
    return float(np.degrees(np.arctan(COVERAGE * flight.noise.smoothed_groundspeed_kt / groundspeed_kt)))


def vertical_speed_ft_min(flight: Flight) -> float:
    """Of one smoothed vertical speed [ft/min]."""
    return float(COVERAGE * flight.noise.smoothed_vertical_speed_ft_min)


def rate_over_ft_min(flight: Flight, seconds: float) -> float:
    """Of a climb or descent over some seconds: two altitudes' noise over that time; the bias cancels [ft/min].

    Never more than that of one smoothed vertical speed.
    """
    ends = COVERAGE * flight.noise.smoothed_altitude_ft * np.sqrt(2.0) / seconds * SECONDS_PER_MINUTE
    return float(min(ends, vertical_speed_ft_min(flight)))


def greatest_rate_ft_min(flight: Flight, seconds: float) -> float:
    """Of the greatest climb or descent over some seconds that a phase holds [ft/min].

    The greatest of many picks out what the log's slow errors add: a satellite altitude wanders (a bias measured at
    the landing does not stop it), and between samples farther apart than ``seconds`` it may do so unseen.
    """
    return float(np.hypot(rate_over_ft_min(flight, seconds), _wander_ft_min(flight, seconds)))


def _wander_ft_min(flight: Flight, seconds: float) -> float:
    if flight.log.altitude_source not in ("gps", "ellipsoid", "unknown"):
        return 0.0
    apart_s = max(seconds, flight.log.median_interval_s)
    share = np.sqrt(2.0 * (1.0 - np.exp(-apart_s / ALTITUDE_WANDERS_S)))
    return float(SATELLITE_ALTITUDE_FT * share / seconds * SECONDS_PER_MINUTE)


def closest_point_s(flight: Flight, distance_nm: float, groundspeed_kt: float) -> float:
    """Of the time of a station passage [s].

    The position along the track over the speed; abeam at a distance, a wrong track moves it besides.
    """
    if not groundspeed_kt > 0:
        return float("nan")
    slip_nm = distance_nm * np.tan(np.radians(min(ground_track_deg(flight, groundspeed_kt), 60.0)))
    return float(np.hypot(position_nm(flight), slip_nm) / groundspeed_kt * SECONDS_PER_HOUR)


def turn_start_s(flight: Flight) -> float:
    """Of the moment a turn begins: half a sample interval, and the smoother's spread [s]."""
    return float(np.hypot(TURN_START_S, flight.log.median_interval_s / 2.0))


def lead_nm(flight: Flight, groundspeed_kt: float) -> float:
    """Of the lead of a turn: the position, and the way flown in ``turn_start_s`` [NM]."""
    return float(np.hypot(position_nm(flight), groundspeed_kt / SECONDS_PER_HOUR * turn_start_s(flight)))


def airspeed_from_wind_kt(flight: Flight, wind_uncertainty_kt: float, airspeed_kt: float) -> float:
    """Of an airspeed found from ground speed and wind [kt].

    Ground speed, wind, and air that is not standard: true airspeed grows with the root of its temperature.
    """
    temperature_kt = airspeed_kt * TEMPERATURE_OFF_STANDARD_K / _STANDARD_TEMPERATURE_K / 2.0
    return float(np.sqrt(groundspeed_kt(flight) ** 2 + wind_uncertainty_kt**2 + temperature_kt**2))
