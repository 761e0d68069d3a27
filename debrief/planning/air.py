"""Flying in a steady wind: headings, ground speeds, and turns carried along by it.

Owns      ``Air`` (a true airspeed in a wind) and ``Pen``, which draws a path over the ground in it.
Not here  the formulas themselves (``navigation``), which path is flown (``pattern``).
Source    A turn in a wind is a circle in the air, carried by the wind for as long as it lasts. Turns: ICAO
          Doc 8168 Vol II, I-4-3, 3.6, in ``navigation.turns``; they begin and end at once.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from debrief.navigation.angles import wrap_360
from debrief.navigation.turns import procedure_bank_deg, procedure_radius_nm, turn_rate_deg_s
from debrief.navigation.units import SECONDS_PER_HOUR, Floats
from debrief.navigation.wind import (
    east_north,
    groundspeed_on_course_kt,
    headwind_and_crosswind_kt,
    track_and_groundspeed,
    wind_correction_deg,
)

ARC_STEP_DEG = 1.0  # a chord leaves its arc by less than 0.0001 NM
_FULL_CIRCLE_DEG = 360.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A level turn over the ground: what it takes, and where it ends from where it began."""

    seconds: float
    east_nm: float
    north_nm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """A true airspeed in a wind that is the same everywhere. Directions are true."""

    true_airspeed_kt: float
    wind_from_true_deg: float
    wind_speed_kt: float

    @property
    def radius_nm(self) -> float:
        """Radius in the air: at the lesser of 25 deg of bank and that of 3 deg/s."""
        return float(procedure_radius_nm(self.true_airspeed_kt))

    @property
    def bank_deg(self) -> float:
        """Bank of the turns: the lesser of 25 deg and that of 3 deg/s."""
        return float(procedure_bank_deg(self.true_airspeed_kt))

    @property
    def turn_rate_deg_s(self) -> float:
        """Rate of the turns, without its side."""
        return float(turn_rate_deg_s(self.true_airspeed_kt, self.bank_deg))

    @property
    def wind_nm_s(self) -> tuple[float, float]:
        """How far east and north the air moves in a second."""
        east_kt, north_kt = east_north(self.wind_speed_kt, self.wind_from_true_deg)
        return -float(east_kt) / SECONDS_PER_HOUR, -float(north_kt) / SECONDS_PER_HOUR

    def correction_deg(self, course_true_deg: float) -> float:
        """Heading less course, right positive."""
        return float(
            wind_correction_deg(
                course_true_deg, self.true_airspeed_kt, self.wind_from_true_deg, self.wind_speed_kt
            )
        )

    def heading_true_deg(self, course_true_deg: float) -> float:
        """The heading that keeps a course, in [0, 360)."""
        return float(wrap_360(course_true_deg + self.correction_deg(course_true_deg)))

    def groundspeed_kt(self, course_true_deg: float) -> float:
        """Ground speed along a course that is kept."""
        return float(
            groundspeed_on_course_kt(
                course_true_deg, self.true_airspeed_kt, self.wind_from_true_deg, self.wind_speed_kt
            )
        )

    def headwind_kt(self, course_true_deg: float) -> float:
        """Wind against a course, a tailwind negative."""
        return float(
            headwind_and_crosswind_kt(course_true_deg, self.wind_from_true_deg, self.wind_speed_kt)[0]
        )

    def made_good(self, heading_true_deg: float) -> tuple[float, float]:
        """Track in [0, 360) and ground speed of a heading that is held."""
        track_true_deg, groundspeed_kt = track_and_groundspeed(
            heading_true_deg, self.true_airspeed_kt, self.wind_from_true_deg, self.wind_speed_kt
        )
        return float(track_true_deg), float(groundspeed_kt)

    def turn(self, from_true_deg: float, to_true_deg: float, direction: int) -> Turn:
        """The turn from one heading to another, +1 to the right, -1 to the left."""
        change_deg = (direction * (to_true_deg - from_true_deg)) % _FULL_CIRCLE_DEG
        east_nm, north_nm, seconds = self.arc(from_true_deg, np.array([change_deg]), direction)
        return Turn(seconds=float(seconds[0]), east_nm=float(east_nm[0]), north_nm=float(north_nm[0]))

    def arc(self, from_true_deg: float, changes_deg: Floats, direction: int) -> tuple[Floats, Floats, Floats]:
        """East and north of where a turn began, and seconds since, after each change of heading."""
        seconds = changes_deg / self.turn_rate_deg_s
        before, after = np.radians(from_true_deg), np.radians(from_true_deg + direction * changes_deg)
        in_air_nm = direction * self.radius_nm
        wind_east, wind_north = self.wind_nm_s
        return (
            in_air_nm * (np.cos(before) - np.cos(after)) + wind_east * seconds,
            in_air_nm * (np.sin(after) - np.sin(before)) + wind_north * seconds,
            seconds,
        )


@dataclass(slots=True)
class Pen:
    """Draws a path over the ground from the station on: east and north of it, by heading and time."""

    east_nm: float = 0.0
    north_nm: float = 0.0
    heading_true_deg: float = 0.0
    seconds: float = 0.0
    _east: list[Floats] = field(default_factory=list)
    _north: list[Floats] = field(default_factory=list)

    def lift(self) -> tuple[Floats, Floats]:
        """The line drawn since the last time, and begin a new one here."""
        line = np.concatenate(self._east), np.concatenate(self._north)
        self._east, self._north = [line[0][-1:]], [line[1][-1:]]
        return line

    def hold(self, air: Air, heading_true_deg: float, seconds: float) -> None:
        """Fly a heading for a time."""
        track_true_deg, groundspeed_kt = air.made_good(heading_true_deg)
        self.heading_true_deg = heading_true_deg
        self._ahead(track_true_deg, groundspeed_kt * seconds / SECONDS_PER_HOUR, seconds)

    def follow(self, air: Air, course_true_deg: float, distance_nm: float) -> None:
        """Keep a course over a distance."""
        self.heading_true_deg = air.heading_true_deg(course_true_deg)
        seconds = distance_nm / air.groundspeed_kt(course_true_deg) * SECONDS_PER_HOUR
        self._ahead(course_true_deg, distance_nm, seconds)

    def turn(self, air: Air, to_true_deg: float, direction: int) -> tuple[Floats, Floats]:
        """Turn to a heading, +1 to the right, -1 to the left; the arc drawn."""
        whole_deg = (direction * (to_true_deg - self.heading_true_deg)) % _FULL_CIRCLE_DEG
        steps = max(int(np.ceil(whole_deg / ARC_STEP_DEG)), 1)
        east_nm, north_nm, seconds = air.arc(
            self.heading_true_deg, np.linspace(0.0, whole_deg, steps + 1), direction
        )
        arc = self.east_nm + east_nm, self.north_nm + north_nm
        self._draw(*arc)
        self.seconds += float(seconds[-1])
        self.heading_true_deg = to_true_deg
        return arc

    def _ahead(self, track_true_deg: float, distance_nm: float, seconds: float) -> None:
        way_nm = np.array([0.0, distance_nm])
        track = np.radians(track_true_deg)
        self._draw(self.east_nm + way_nm * np.sin(track), self.north_nm + way_nm * np.cos(track))
        self.seconds += seconds

    def _draw(self, east_nm: Floats, north_nm: Floats) -> None:
        self._east.append(east_nm)
        self._north.append(north_nm)
        self.east_nm, self.north_nm = float(east_nm[-1]), float(north_nm[-1])
