"""A kinematic aircraft: where it is, and how it answers bank, climb and speed.

Owns      the state, one time step of it, and the wind it flies in.
Not here  deciding what to fly (``pilot``), latitude and longitude (``flight``).
Source    A coordinated level turn: rate = g tan(bank) / true airspeed. The standard atmosphere's density up
          to 11 km: sigma = (1 - 6.8756e-6 h)^4.2559, h in feet (ICAO Doc 7488). Mark: memory.

Scalars, not arrays: each step depends on the one before. Positions are a plane around the station, directions
are from that plane's north, speeds through the air are in knots.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from debrief.simulation.plan import Wind

STANDARD_RATE_DEG_S = 3.0
ROLL_RATE_DEG_S = 5.0
#: g / 1 kt, in degrees a second: multiply by tan(bank) and divide by the true airspeed in knots.
TURN_CONSTANT = math.degrees(9.80665 / (1852.0 / 3600.0))
VERTICAL_ACCELERATION_FT_MIN_S = 100.0  # 0.05 g: a gentle pitch change
SPEED_CHANGE_KT_S = 0.8  # level, with power or without
BRAKING_KT_S = 3.0
TAKE_OFF_KT_S = 3.5


def true_airspeed_kt(airspeed_kias: float, altitude_ft: float) -> float:
    """True airspeed in the standard atmosphere, compressibility left out (under 1 kt below 200 kt, 10,000 ft)."""
    return float(airspeed_kias * (1.0 - 6.8756e-6 * altitude_ft) ** -2.12795)


def standard_bank_deg(true_airspeed: float) -> float:
    """Bank of a standard-rate turn at this true airspeed in knots."""
    return math.degrees(math.atan(STANDARD_RATE_DEG_S * true_airspeed / TURN_CONSTANT))


class Air:
    """The moving air: the planned wind and a seeded, smooth gust on top of it."""

    def __init__(self, wind: Wind, seed: int) -> None:
        self._wind = wind
        self._random = random.Random(seed)
        self._rough = [0.0, 0.0]
        self._gust = [0.0, 0.0]
        self._known_ft: float | None = None  # the altitude of the steady wind below
        self._known = (0.0, 0.0)

    def steady(self, altitude_ft: float) -> tuple[float, float]:
        """Where the air moves to, east and north, without gusts. [kt]"""
        if altitude_ft == self._known_ft:  # asked several times a step
            return self._known
        wind = self._wind
        above = (altitude_ft - wind.reference_ft) / 1000.0
        speed_kt = max(0.0, wind.speed_kt + wind.shear_kt_per_1000_ft * above) if wind.speed_kt else 0.0
        towards = math.radians(wind.from_true_deg + wind.veer_deg_per_1000_ft * above + 180.0)
        self._known_ft, self._known = (
            altitude_ft,
            (speed_kt * math.sin(towards), speed_kt * math.cos(towards)),
        )
        return self._known

    def gust(self, step_s: float) -> tuple[float, float]:
        """The gust a step later: white noise through lags of 12 s and 3 s, so that it has no corners. [kt]"""
        size_kt = self._wind.gust_kt
        if not size_kt:
            return 0.0, 0.0
        # The second lag takes away a fifth of the variance: 12 / (12 + 3).
        kick = size_kt * math.sqrt(2 * step_s / 12.0 * 15.0 / 12.0)
        for axis in (0, 1):
            self._rough[axis] += -self._rough[axis] * step_s / 12.0 + kick * self._random.gauss(0.0, 1.0)
            self._gust[axis] += (self._rough[axis] - self._gust[axis]) * step_s / 3.0
        return self._gust[0], self._gust[1]


@dataclass(slots=True)
class Aircraft:
    """The state at one moment. Headings are from the plane's north; ``rate_ft_min`` is up positive."""

    air: Air
    east_nm: float
    north_nm: float
    altitude_ft: float
    heading_deg: float
    airspeed_kias: float
    t_s: float = 0.0
    bank_deg: float = 0.0
    rate_ft_min: float = 0.0
    on_ground: bool = False
    airspeed_ktas: float = 0.0
    wind_east_kt: float = 0.0
    wind_north_kt: float = 0.0
    ground_east_kt: float = 0.0
    ground_north_kt: float = 0.0

    def __post_init__(self) -> None:
        self._velocities(0.0)

    @property
    def groundspeed_kt(self) -> float:
        """Speed over the ground. [kt]"""
        return math.hypot(self.ground_east_kt, self.ground_north_kt)

    @property
    def ground_track_deg(self) -> float:
        """Track over the ground, from the plane's north. [deg, -180..180]"""
        return math.degrees(math.atan2(self.ground_east_kt, self.ground_north_kt))

    def _velocities(self, step_s: float) -> None:
        heading = math.radians(self.heading_deg)
        if self.on_ground:
            self.airspeed_ktas = self.airspeed_kias
            self.ground_east_kt = self.airspeed_kias * math.sin(heading)
            self.ground_north_kt = self.airspeed_kias * math.cos(heading)
            return
        self.airspeed_ktas = true_airspeed_kt(self.airspeed_kias, self.altitude_ft)
        east_kt, north_kt = self.air.steady(self.altitude_ft)
        gust_east_kt, gust_north_kt = self.air.gust(step_s)
        self.wind_east_kt, self.wind_north_kt = east_kt + gust_east_kt, north_kt + gust_north_kt
        self.ground_east_kt = self.airspeed_ktas * math.sin(heading) + self.wind_east_kt
        self.ground_north_kt = self.airspeed_ktas * math.cos(heading) + self.wind_north_kt

    def point(self, heading_deg: float) -> None:
        """Be on that heading at once: before the flight begins."""
        self.heading_deg = heading_deg
        self._velocities(0.0)

    def touch_down(self, elevation_ft: float) -> None:
        """Roll on along the path over the ground, at the speed over the ground."""
        self.heading_deg, self.airspeed_kias = self.ground_track_deg, self.groundspeed_kt
        self.altitude_ft, self.rate_ft_min, self.bank_deg, self.on_ground = elevation_ft, 0.0, 0.0, True
        self._velocities(0.0)

    def lift_off(self) -> None:
        """Leave the ground with the velocity of the roll: the wind is then in the airspeed and the heading."""
        east_kt, north_kt = self.air.steady(self.altitude_ft)
        east_kt, north_kt = self.ground_east_kt - east_kt, self.ground_north_kt - north_kt
        self.on_ground = False
        self.heading_deg = math.degrees(math.atan2(east_kt, north_kt))
        self.airspeed_kias = math.hypot(east_kt, north_kt) / true_airspeed_kt(1.0, self.altitude_ft)
        self._velocities(0.0)

    def step(self, step_s: float, bank_deg: float, rate_ft_min: float, airspeed_kias: float) -> None:
        """Fly one step towards the bank, the climb and the speed asked for."""
        before_east_kt, before_north_kt = self.ground_east_kt, self.ground_north_kt
        before_rate = self.rate_ft_min
        self.t_s += step_s
        if self.on_ground:
            most = (TAKE_OFF_KT_S if airspeed_kias > self.airspeed_kias else BRAKING_KT_S) * step_s
            self.bank_deg = self.rate_ft_min = 0.0
        else:
            most = SPEED_CHANGE_KT_S * step_s
            roll = ROLL_RATE_DEG_S * step_s
            bank_before = self.bank_deg
            self.bank_deg += max(-roll, min(roll, bank_deg - self.bank_deg))
            mean_bank = math.radians((bank_before + self.bank_deg) / 2)
            self.heading_deg += TURN_CONSTANT * math.tan(mean_bank) / self.airspeed_ktas * step_s
            pull = VERTICAL_ACCELERATION_FT_MIN_S * step_s
            self.rate_ft_min += max(-pull, min(pull, rate_ft_min - self.rate_ft_min))
        self.airspeed_kias += max(-most, min(most, airspeed_kias - self.airspeed_kias))
        self.altitude_ft += (before_rate + self.rate_ft_min) / 120.0 * step_s
        self._velocities(step_s)
        self.east_nm += (before_east_kt + self.ground_east_kt) / 7200.0 * step_s
        self.north_nm += (before_north_kt + self.ground_north_kt) / 7200.0 * step_s
