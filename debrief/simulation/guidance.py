"""How the pilot steers: headings in a wind, turns one way, joining a line and keeping it.

Owns      steering laws that turn where the aircraft is into a bank.
Not here  which line or turn comes next (``pilot``), the aircraft's answer (``aircraft``).
Source    The wind triangle and the coordinated turn; the steering itself is our own: an intercept flown at
          a constant angle over the ground until a normal turn ends on the line, then small angles.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from debrief.simulation.aircraft import ROLL_RATE_DEG_S, TURN_CONSTANT, Aircraft, standard_bank_deg

#: The bank asked for, each step.
Banks = Iterator[float]

SETTLE_S = 8.0  # a cross-track is flown off at the angle that would take this long
TURN_MARGIN = 1.12  # the turn onto a line allows for rolling in and out


def within_180_deg(angle_deg: float) -> float:
    """The same angle in [-180, 180)."""
    return (angle_deg + 180.0) % 360.0 - 180.0


@dataclass(frozen=True, slots=True)
class Line:
    """A straight course in the plane, through a point, flown in its direction."""

    course_deg: float
    east_nm: float = 0.0
    north_nm: float = 0.0

    def across_nm(self, aircraft: Aircraft) -> float:
        """How far the aircraft is right of the line."""
        course = math.radians(self.course_deg)
        east_nm, north_nm = aircraft.east_nm - self.east_nm, aircraft.north_nm - self.north_nm
        return east_nm * math.cos(course) - north_nm * math.sin(course)

    def side_of(self, east_nm: float, north_nm: float) -> float:
        """How far a displacement goes to the right of the course."""
        course = math.radians(self.course_deg)
        return east_nm * math.cos(course) - north_nm * math.sin(course)

    def along_nm(self, aircraft: Aircraft) -> float:
        """How far the aircraft is past the line's point."""
        course = math.radians(self.course_deg)
        east_nm, north_nm = aircraft.east_nm - self.east_nm, aircraft.north_nm - self.north_nm
        return east_nm * math.sin(course) + north_nm * math.cos(course)

    def beside(self, right_nm: float) -> Line:
        """The parallel line that far to the right."""
        course = math.radians(self.course_deg)
        return Line(
            self.course_deg,
            self.east_nm + right_nm * math.cos(course),
            self.north_nm - right_nm * math.sin(course),
        )

    @property
    def track_vector(self) -> tuple[float, float]:
        """Unit vector of the course, east and north."""
        course = math.radians(self.course_deg)
        return math.sin(course), math.cos(course)


class Helm:
    """Steering of one aircraft; each method that yields is one manoeuvre, a bank a step."""

    def __init__(self, aircraft: Aircraft, bank_limit_deg: float) -> None:
        self.aircraft = aircraft
        self.bank_limit_deg = bank_limit_deg
        self.unsteady_deg = 0.0  # added to each heading asked for

    def bank_now_deg(self) -> float:
        """Bank of a normal turn: the lesser of standard rate and the limit."""
        return min(self.bank_limit_deg, standard_bank_deg(self.aircraft.airspeed_ktas))

    def turn_rate_deg_s(self) -> float:
        """Rate of a normal turn."""
        return TURN_CONSTANT * math.tan(math.radians(self.bank_now_deg())) / self.aircraft.airspeed_ktas

    def radius_nm(self) -> float:
        """Radius of a normal turn in the air."""
        return self.aircraft.airspeed_ktas / 3600.0 / math.radians(self.turn_rate_deg_s())

    def heading_for(self, track_deg: float) -> float:
        """The heading that makes good the track, in the wind as the pilot knows it (without gusts)."""
        east_kt, north_kt = self.aircraft.air.steady(self.aircraft.altitude_ft)
        track = math.radians(track_deg)
        from_right_kt = -(east_kt * math.cos(track) - north_kt * math.sin(track))
        ratio = max(-0.9, min(0.9, from_right_kt / self.aircraft.airspeed_ktas))
        return track_deg + math.degrees(math.asin(ratio)) + self.unsteady_deg

    def groundspeed_on(self, track_deg: float) -> float:
        """Ground speed the aircraft would have on that track. [kt]"""
        east_kt, north_kt = self.aircraft.air.steady(self.aircraft.altitude_ft)
        track = math.radians(track_deg)
        correction = math.radians(self.heading_for(track_deg) - track_deg - self.unsteady_deg)
        along_kt = east_kt * math.sin(track) + north_kt * math.cos(track)
        return self.aircraft.airspeed_ktas * math.cos(correction) + along_kt

    def track_to_join(self, line: Line, angle_deg: float) -> float:
        """The track that leads onto the line: at the angle, then a normal turn, then gently."""
        right_nm = line.across_nm(self.aircraft)
        away_nm = abs(right_nm)
        speed_kt = max(self.aircraft.groundspeed_kt, self.groundspeed_on(line.course_deg), 30.0)
        radius_nm = TURN_MARGIN * speed_kt / 3600.0 / math.radians(self.turn_rate_deg_s())
        turning = math.degrees(math.acos(max(-1.0, 1.0 - away_nm / radius_nm)))
        settling = math.degrees(math.atan(away_nm * 3600.0 / (speed_kt * SETTLE_S)))
        return line.course_deg - math.copysign(min(angle_deg, turning, settling), right_nm)

    def bank_to(self, heading_deg: float) -> float:
        """Bank towards a heading by the shorter way."""
        off_deg = within_180_deg(heading_deg - self.aircraft.heading_deg)
        return math.copysign(self._bank_for(abs(off_deg)), off_deg)

    def _bank_for(self, left_deg: float) -> float:
        # Rolling out from bank b takes b^2 / (2 p) times g / v degrees of turn: roll out in time for it.
        per_bank = TURN_CONSTANT * math.radians(1.0) / self.aircraft.airspeed_ktas
        rolling_out = math.sqrt(1.4 * ROLL_RATE_DEG_S * left_deg / per_bank)
        return min(self.bank_now_deg(), 2.5 * left_deg, rolling_out)

    def turning(self, direction: int, track_deg: float) -> Banks:
        """Turn that way (+1 right, -1 left) until on the track."""
        while True:
            left_deg = direction * (self.heading_for(track_deg) - self.aircraft.heading_deg) % 360.0
            if left_deg < 3.0 or left_deg > 340.0:
                return
            yield direction * self._bank_for(left_deg)

    def turning_onto(self, direction: int, line: Line, angle_deg: float) -> Banks:
        """Turn that way until the shorter way onto the line is the same way."""
        while True:
            track_deg = self.track_to_join(line, angle_deg)
            left_deg = direction * (self.heading_for(track_deg) - self.aircraft.heading_deg) % 360.0
            if left_deg < 90.0 or left_deg > 330.0:
                return
            yield direction * self._bank_for(left_deg)

    def holding(self, track_deg: float) -> Banks:
        """Keep the track, for ever."""
        while True:
            yield self.bank_to(self.heading_for(track_deg))

    def following(self, line: Line, angle_deg: float = 45.0) -> Banks:
        """Join the line at the angle and keep it, for ever."""
        while True:
            yield self.bank_to(self.heading_for(self.track_to_join(line, angle_deg)))

    def chasing(self, line: Line, chase_deg: float) -> Banks:
        """Steer to whichever side of the line's needle stands, by so much and at once, for ever.

        Each turn is over only after the aircraft has crossed the line, so that it weaves on by itself.
        """
        while True:
            side = -1.0 if line.across_nm(self.aircraft) > 0.0 else 1.0
            yield self.bank_to(self.heading_for(line.course_deg + side * chase_deg))
