"""A second, tiny flight generator: headings held and turned at a constant rate, blown along by a steady wind.

Owns      ``Aeroplane`` and its log. It imports nothing of the program but the plain data of a procedure and a log.
Not here  what a test has it fly, and the truth about it (``test_independent``).

True directions, a flat plane with the station at its origin; positions come from geographiclib.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np
from geographiclib.geodesic import Geodesic
from numpy.typing import NDArray

from debrief.procedures.model import Procedure
from debrief.tracks.model import Track

Floats = NDArray[np.float64]

STEP_S = 0.2
ROLL_S = 3.0
RATE_DEG_S = 2.8
LONGEST_S = 3600.0
GENTLE_DEG_S = 0.6  # steering along a course is no turn
METRES_PER_NM = 1852.0


def within_180_deg(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


@dataclass
class Aeroplane:
    """State, and everything flown so far. Signs: right and up positive."""

    east_nm: float
    north_nm: float
    heading_deg: float
    altitude_ft: float
    tas_kt: float = 100.0
    wind_from_deg: float = 0.0
    wind_kt: float = 0.0
    to_ft: float | None = None  # climbs or descends to it
    climb_ft_min: float = 600.0
    t_s: float = 0.0
    marks: dict[str, float] = field(default_factory=dict)
    flown: list[tuple[float, float, float, float]] = field(default_factory=list)

    def step(self, rate_deg_s: float = 0.0) -> None:
        assert self.t_s < LONGEST_S, "the pilot of the test never gets there"
        self.flown.append((self.t_s, self.east_nm, self.north_nm, self.altitude_ft))
        self.heading_deg += rate_deg_s * STEP_S
        heading, wind = math.radians(self.heading_deg), math.radians(self.wind_from_deg)
        self.east_nm += (self.tas_kt * math.sin(heading) - self.wind_kt * math.sin(wind)) * STEP_S / 3600.0
        self.north_nm += (self.tas_kt * math.cos(heading) - self.wind_kt * math.cos(wind)) * STEP_S / 3600.0
        if self.to_ft is not None:
            most_ft = self.climb_ft_min / 60.0 * STEP_S
            self.altitude_ft += max(-most_ft, min(most_ft, self.to_ft - self.altitude_ft))
        self.t_s += STEP_S

    def mark(self, name: str) -> None:
        self.marks[name] = self.t_s

    def heading_for(self, track_deg: float) -> float:
        """The heading that keeps a track in this wind."""
        across = self.wind_kt * math.sin(math.radians(self.wind_from_deg - track_deg))
        return track_deg + math.degrees(math.asin(across / self.tas_kt))

    def hold(self, seconds: float) -> None:
        """Keep the heading for so long."""
        for _ in range(round(seconds / STEP_S)):
            self.step()

    def hold_until(self, there: Callable[[], bool]) -> None:
        while not there():
            self.step()

    def turn(self, by_deg: float) -> None:
        """Turn the nose by so much, rolling in and out for 3 s."""
        full_s = max(0.0, abs(by_deg) / RATE_DEG_S - ROLL_S)
        rate_deg_s = math.copysign(abs(by_deg) / (full_s + ROLL_S), by_deg)
        count = round((full_s + 2 * ROLL_S) / STEP_S)
        for number in range(count):
            now_s = (number + 0.5) * STEP_S
            self.step(rate_deg_s * min(1.0, now_s / ROLL_S, (count * STEP_S - now_s) / ROLL_S))

    def turn_to(self, heading_deg: float, way: str = "shorter") -> None:
        by_deg = within_180_deg(heading_deg - self.heading_deg)
        if way == "right":
            by_deg %= 360.0
        if way == "left":
            by_deg = -(-by_deg % 360.0)
        self.turn(by_deg)

    def across_nm(self, course_deg: float) -> float:
        """Right of the course through the station."""
        course = math.radians(course_deg)
        return self.east_nm * math.cos(course) - self.north_nm * math.sin(course)

    def along_nm(self, course_deg: float) -> float:
        """Past the station, along the course."""
        course = math.radians(course_deg)
        return self.east_nm * math.sin(course) + self.north_nm * math.cos(course)

    def distance_nm(self) -> float:
        return math.hypot(self.east_nm, self.north_nm)

    def follow(self, course_deg: float, until: Callable[[], bool]) -> None:
        """Steer along the course through the station, so gently that it is no turn."""
        while not until():
            cut_deg = max(-20.0, min(20.0, 60.0 * self.across_nm(course_deg)))
            off_deg = within_180_deg(self.heading_for(course_deg - cut_deg) - self.heading_deg)
            self.step(max(-GENTLE_DEG_S, min(GENTLE_DEG_S, 0.2 * off_deg)))

    def join(self, course_deg: float) -> None:
        """Hold the heading to the course, and turn onto it."""
        by_deg = abs(within_180_deg(self.heading_for(course_deg) - self.heading_deg))
        radius_nm = self.tas_kt / 3600.0 / math.radians(RATE_DEG_S)
        early_nm = radius_nm * (1.0 - math.cos(math.radians(by_deg))) + 0.04
        side = math.copysign(1.0, self.across_nm(course_deg))
        self.hold_until(lambda: side * self.across_nm(course_deg) <= early_nm)
        self.turn_to(self.heading_for(course_deg))

    def log(
        self,
        procedure: Procedure,
        interval_s: float = 1.0,
        noise_m: float = 0.0,
        *,
        from_s: float = 0.0,
        gap_s: tuple[float, float] = (0.0, 0.0),
        seed: int = 0,
    ) -> Track:
        """What a recorder makes of it that is switched on at ``from_s``, and off for a while where asked."""
        flown = np.array(self.flown)
        t_s = np.arange(from_s, flown[-1, 0], interval_s)
        t_s = t_s[(t_s < gap_s[0]) | (t_s >= gap_s[1])]
        east_nm, north_nm, altitude_ft = (np.interp(t_s, flown[:, 0], flown[:, i]) for i in (1, 2, 3))
        noise = np.random.default_rng(seed)
        east_m = east_nm * METRES_PER_NM + noise.normal(0.0, noise_m, len(t_s))
        north_m = north_nm * METRES_PER_NM + noise.normal(0.0, noise_m, len(t_s))
        station = procedure.station
        points = [
            Geodesic.WGS84.Direct(
                station.latitude, station.longitude, math.degrees(math.atan2(x, y)), math.hypot(x, y)
            )
            for x, y in zip(east_m, north_m, strict=True)
        ]
        return Track(
            file="aeroplane.gpx",
            sha256="0" * 64,
            format="gpx",
            epoch=datetime(2026, 3, 1, tzinfo=UTC),
            t_s=t_s,
            latitude_deg=np.array([point["lat2"] for point in points]),
            longitude_deg=np.array([point["lon2"] for point in points]),
            altitude_ft=altitude_ft,
            altitude_source="indicated",
            part=np.zeros(len(t_s)),
            line=np.arange(len(t_s)) + 1.0,
        )
