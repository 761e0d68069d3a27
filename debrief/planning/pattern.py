"""The course reversal flown in a wind: its headings and times, how far it reaches, how it meets the course.

Owns      ``fly_reversal``: from the station outbound, through the pattern, onto the inbound course.
Not here  the air and the pen (``air``), the other legs and the card (``card``), a pilot's errors (``simulation``).
Source    Patterns: DEVELOPERS.md, Definitions. Wind allowed for in heading and time: ICAO Doc 8168 Vol I, I-4-3.
          Mark: memory.

Two ways of flying it. As planned, the wind is allowed for: courses are kept, times stretched or cut. As
published, guided legs are kept but headings and times are those of still air; what the wind then does can be seen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.radials import along_track_nm, cross_track_nm, ground_distance_nm
from debrief.navigation.timing import outbound_seconds
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, Floats
from debrief.planning.air import Air, Pen
from debrief.planning.timing import Timing, outbound_timing, rule_seconds
from debrief.procedures.geometry import CLOSING_DEG, FIRST_TURN_DEG
from debrief.procedures.model import Leg, Pattern, Procedure

#: The angle of the last straight leg where the pattern leaves it to the pilot (30 to 45 deg: common practice).
INTERCEPT_DEG = 30.0

#: From the start of the turn, where the file gives none. Source: ICAO Doc 8168 Vol II, I-4-3, 3.5.4.1. Mark: seen
#: (2nd hand).
LEG_45_SECONDS = 60.0

#: A straight leg shorter than this is no leg: the turn runs straight onto the course (as ``intercept.angle_deg``).
SHORTEST_STRAIGHT_S = 3.0
ON_COURSE_NM = 0.05  # half a degree of needle at 6 NM: nobody would call it past the course
LEAST_CLOSING_KT = 5.0  # a heading that closes on the course more slowly is none to intercept on
#: Of a racetrack's outbound heading from its course: beyond it another pattern is flown.
MOST_OFFSET_DEG = 40.0
_HALVINGS = 40

LineName = Literal["outbound", "course_reversal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StraightLeg:
    """A straight leg of the reversal: the heading held, and what it makes good over the ground."""

    name: str
    heading_true_deg: float
    track_true_deg: float
    groundspeed_kt: float
    seconds: float
    timing: Timing | None = None  # of a leg flown by the clock


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """How the last turn meets the inbound course."""

    # a straight leg, straight out of the turn, past the course, or not at all: the heading back never reaches it
    how: Literal["intercept", "turn", "through", "never"]
    angle_deg: float | None  # between the track and the course: of the straight leg, or where it crosses
    overshoot_nm: float  # past the course before it is joined; 0 where none
    along_nm: float  # how far before the station the course is joined; negative past it


@dataclass(frozen=True, slots=True, kw_only=True)
class FlownReversal:
    """A reversal over the ground, in the station plane. [NM east and north of the station]"""

    lines: tuple[tuple[LineName, Floats, Floats], ...]
    outbound_s: float
    reversal_s: float  # from the turn off the outbound course until the inbound course is joined
    outbound_nm: float  # from the station to where the turn off begins, along the ground
    legs: tuple[StraightLeg, ...]
    joining: Joining
    farthest_nm: float  # from the station
    width_nm: float  # the farthest from the inbound course, on the side of the pattern


def fly_reversal(
    procedure: Procedure, outbound: Air, reversal: Air, *, outbound_ft: float, allowed: bool
) -> FlownReversal | None:
    """Fly out, around and back onto the inbound course; ``None`` where the procedure has no reversal.

    Parameters
    ----------
    outbound, reversal : the air on the two legs: one wind, the true airspeeds of their altitudes.
    outbound_ft : the altitude of the outbound leg, at which its DME is read.
    allowed : with the wind allowed for (as planned), or headings and times as published.
    """
    leg = procedure.reversal
    if leg is None or leg.pattern is None or procedure.outbound is None:
        return None
    height_ft = outbound_ft - procedure.station.elevation_ft
    flight = _Flight(procedure, leg, outbound, reversal, height_ft=height_ft, allowed=allowed)
    fly = {
        Pattern.PROCEDURE_TURN_45_180: _procedure_turn,
        Pattern.PROCEDURE_TURN_80_260: _procedure_turn,
        Pattern.BASE_TURN: _base_turn,
        Pattern.RACETRACK: _racetrack,
    }[leg.pattern]
    joining = fly(flight)
    east_nm, north_nm = (
        np.concatenate(parts) for parts in zip(*(line[1:] for line in flight.lines), strict=True)
    )
    return FlownReversal(
        lines=tuple(flight.lines),
        outbound_s=flight.turned_off_s,
        reversal_s=flight.pen.seconds - flight.turned_off_s,
        outbound_nm=float(np.hypot(flight.lines[0][1][-1], flight.lines[0][2][-1])),
        legs=tuple(flight.legs),
        joining=joining,
        farthest_nm=float(np.hypot(east_nm, north_nm).max()),
        width_nm=max(float(flight.to_go(east_nm, north_nm).max()), 0.0),
    )


class _Flight:
    """A reversal being flown: the frame of its inbound course, the pen, and what has been noted."""

    def __init__(
        self,
        procedure: Procedure,
        leg: Leg,
        outbound: Air,
        reversal: Air,
        *,
        height_ft: float,
        allowed: bool,
    ) -> None:
        self.procedure, self.leg, self.allowed = procedure, leg, allowed
        self.outbound_height_ft = max(height_ft, 0.0)
        self.outbound_air, self.air = outbound, reversal
        self.inbound_true_deg = procedure.true_deg(procedure.inbound_course_deg)
        self.outbound_true_deg = procedure.true_deg(procedure.outbound_course_deg or 0.0)
        self.side = 1 if leg.side == "right" else -1
        # a procedure turn comes back against its side; a base turn and a racetrack turn towards it
        self.last_turn = -self.side if leg.pattern in FIRST_TURN_DEG else self.side
        self.pen = Pen()
        self.lines: list[tuple[LineName, Floats, Floats]] = []
        self.legs: list[StraightLeg] = []
        self.turned_off_s = 0.0

    def ground_nm(self, dme_nm: float) -> float:
        """Ground distance at which the DME reads that on the outbound leg; 0 where it reads no less overhead."""
        return float(np.nan_to_num(ground_distance_nm(dme_nm, self.outbound_height_ft)))

    def to_go(self, east_nm: Floats | float, north_nm: Floats | float) -> Floats:
        """How far a place lies from the inbound course on the pattern's side; negative beyond the course. [NM]"""
        return np.asarray(
            self.last_turn * cross_track_nm(np.asarray(east_nm), np.asarray(north_nm), self.inbound_true_deg)
        )

    def left_after(self, heading_true_deg: float, east_nm: float, north_nm: float) -> float:
        """What is left to go to the course after one unbroken last turn from that heading and place. [NM]"""
        inbound_heading = self.air.heading_true_deg(self.inbound_true_deg)
        whole = self.air.turn(heading_true_deg, inbound_heading, self.last_turn)
        return float(self.to_go(east_nm + whole.east_nm, north_nm + whole.north_nm))

    def away_kt(self, heading_true_deg: float) -> float:
        """How fast a heading leads away from the course, on the pattern's side."""
        track_true_deg, groundspeed_kt = self.air.made_good(heading_true_deg)
        track = np.radians(track_true_deg)
        return float(self.to_go(groundspeed_kt * np.sin(track), groundspeed_kt * np.cos(track)))

    def note(self, name: str, heading_true_deg: float, seconds: float, timing: Timing | None = None) -> None:
        """Keep a straight leg of the reversal for the card."""
        track_true_deg, groundspeed_kt = self.air.made_good(heading_true_deg)
        self.legs.append(
            StraightLeg(
                name=name,
                heading_true_deg=float(wrap_360(heading_true_deg)),
                track_true_deg=track_true_deg,
                groundspeed_kt=groundspeed_kt,
                seconds=seconds,
                timing=timing,
            )
        )

    def turn_off(self) -> None:
        """End the outbound leg."""
        self.lines.append(("outbound", *self.pen.lift()))
        self.turned_off_s = self.pen.seconds


def _fly_outbound(flight: _Flight) -> None:
    """Keep the outbound radial as far as its DME, or for its time."""
    procedure, air, course = flight.procedure, flight.outbound_air, flight.outbound_true_deg
    length = procedure.outbound.length if procedure.outbound is not None else None
    distance_nm = 0.0
    if length is not None and length.dme_nm is not None:
        distance_nm = flight.ground_nm(length.dme_nm)
    elif length is not None and length.minutes is not None:
        timing = outbound_timing(length.minutes * SECONDS_PER_MINUTE, air, course)
        seconds = timing.allowed_s if flight.allowed else timing.published_s
        distance_nm = seconds * air.groundspeed_kt(course) / SECONDS_PER_HOUR
    flight.pen.follow(air, course, distance_nm)
    flight.turn_off()


def _procedure_turn(flight: _Flight) -> Joining:
    """45/180 and 80/260: away from the outbound course, then back the other way."""
    _fly_outbound(flight)
    pattern = flight.leg.pattern
    timed = pattern is Pattern.PROCEDURE_TURN_45_180
    away_deg = FIRST_TURN_DEG[Pattern.PROCEDURE_TURN_45_180 if timed else Pattern.PROCEDURE_TURN_80_260]
    course = float(wrap_360(flight.outbound_true_deg + flight.side * away_deg))
    heading = flight.air.heading_true_deg(course) if timed and flight.allowed else course
    still = Air(true_airspeed_kt=flight.air.true_airspeed_kt, wind_from_true_deg=0.0, wind_speed_kt=0.0)
    published_s = flight.leg.leg_seconds or LEG_45_SECONDS
    still_s = published_s - still.turn(flight.outbound_true_deg, course, flight.side).seconds
    wanted_nm = 0.0
    if timed:  # as far short of the course as in still air, but never past it
        wanted_nm = max(_left_in_still_air(flight, still, course, max(still_s, 0.0)), 0.0)
    began_s = flight.pen.seconds
    flight.pen.turn(flight.air, heading, flight.side)
    straight_s = max(published_s - (flight.pen.seconds - began_s), 0.0) if timed else 0.0
    if flight.allowed:
        straight_s = _seconds_until(flight, heading, wanted_nm)
    if straight_s > 0.0:
        flight.pen.hold(flight.air, heading, straight_s)
    if timed:
        allowed_s = flight.pen.seconds - began_s
        rule_s = rule_seconds(published_s, flight.air.headwind_kt(course))
        timing = Timing(published_s=published_s, allowed_s=allowed_s, rule_s=rule_s)
        flight.note("away at 45°", heading, allowed_s, timing)
    else:
        flight.note("away at 80°", heading, straight_s)
    back = float(wrap_360(flight.outbound_true_deg + flight.side * away_deg + 180.0))
    if not timed:
        back = float(wrap_360(flight.inbound_true_deg - flight.last_turn * INTERCEPT_DEG))
    return _onto_course(flight, flight.air.heading_true_deg(back) if flight.allowed else back)


def _left_in_still_air(flight: _Flight, still: Air, heading_true_deg: float, straight_s: float) -> float:
    """What the published 45/180 leaves to go to the course after an unbroken turn back, without wind. [NM]"""
    pen = Pen(flight.pen.east_nm, flight.pen.north_nm, flight.outbound_true_deg)
    pen.turn(still, heading_true_deg, flight.side)
    pen.hold(still, heading_true_deg, straight_s)
    whole = still.turn(heading_true_deg, flight.inbound_true_deg, flight.last_turn)
    return float(flight.to_go(pen.east_nm + whole.east_nm, pen.north_nm + whole.north_nm))


def _seconds_until(flight: _Flight, heading_true_deg: float, wanted_nm: float) -> float:
    """How long to hold a heading so that an unbroken turn back leaves that much to go; 0 where it leaves more."""
    left_nm = flight.left_after(heading_true_deg, flight.pen.east_nm, flight.pen.north_nm)
    away_kt = flight.away_kt(heading_true_deg)
    return max((wanted_nm - left_nm) / away_kt * SECONDS_PER_HOUR, 0.0) if away_kt > 0.0 else 0.0


def _base_turn(flight: _Flight) -> Joining:
    """Out on the radial, and back in one turn."""
    _fly_outbound(flight)
    return _onto_course(flight, _intercept_heading(flight))


def _intercept_heading(flight: _Flight) -> float:
    course = float(wrap_360(flight.inbound_true_deg - flight.last_turn * INTERCEPT_DEG))
    return flight.air.heading_true_deg(course) if flight.allowed else course


def _racetrack(flight: _Flight) -> Joining:
    """From the inbound course over the station around to the outbound heading, out, and around again."""
    heading = float(wrap_360(flight.outbound_true_deg))
    if flight.allowed:
        heading = _racetrack_heading(flight)
    seconds, timing = _racetrack_outbound(flight, heading, flight.pen)
    flight.note("outbound", heading, seconds, timing)
    flight.turn_off()
    return _onto_course(flight, _intercept_heading(flight))


def _racetrack_heading(flight: _Flight) -> float:
    """The outbound heading from which an unbroken turn inbound ends on the course, by halving. [deg true]

    The nearest to the outbound course within ``MOST_OFFSET_DEG`` of it where none does.
    """

    def left_nm(heading_true_deg: float) -> float:
        pen = Pen()
        _racetrack_outbound(flight, heading_true_deg, pen)
        return flight.left_after(heading_true_deg, pen.east_nm, pen.north_nm)

    return _where_zero(
        lambda offset_deg: left_nm(flight.outbound_true_deg - flight.last_turn * offset_deg),
        lambda offset_deg: float(wrap_360(flight.outbound_true_deg - flight.last_turn * offset_deg)),
    )


def _where_zero(value: Callable[[float], float], result: Callable[[float], float]) -> float:
    """``result`` where a value that grows with the offset passes zero."""
    low_deg, high_deg = -MOST_OFFSET_DEG, MOST_OFFSET_DEG
    for _ in range(_HALVINGS):
        middle_deg = (low_deg + high_deg) / 2.0
        if value(middle_deg) > 0.0:
            high_deg = middle_deg
        else:
            low_deg = middle_deg
    return result((low_deg + high_deg) / 2.0)


def _racetrack_outbound(flight: _Flight, heading_true_deg: float, pen: Pen) -> tuple[float, Timing | None]:
    """The turn at the station and the outbound leg; the seconds on the leg, and its timing where timed."""
    air = flight.outbound_air
    pen.heading_true_deg = air.heading_true_deg(flight.inbound_true_deg)
    pen.turn(air, heading_true_deg, flight.last_turn)
    track_true_deg, groundspeed_kt = air.made_good(heading_true_deg)
    length = flight.procedure.outbound.length if flight.procedure.outbound is not None else None
    if length is not None and length.dme_nm is not None:
        circle_nm = flight.ground_nm(length.dme_nm)
        seconds = _seconds_to_circle(pen, track_true_deg, groundspeed_kt, circle_nm)
        pen.hold(air, heading_true_deg, seconds)
        return seconds, None
    off = np.radians(difference_deg(track_true_deg, flight.outbound_true_deg))
    outbound_kt = groundspeed_kt * float(np.cos(off))
    still_s = flight.leg.leg_seconds or 0.0
    if not still_s and length is not None and length.minutes is not None:  # the turn included
        still_s = max(length.minutes * SECONDS_PER_MINUTE - 180.0 / air.turn_rate_deg_s, 0.0)
    slowed_kt = air.true_airspeed_kt - outbound_kt
    timing = Timing(
        published_s=still_s,
        allowed_s=float(
            np.nan_to_num(outbound_seconds(still_s, air.true_airspeed_kt, slowed_kt), nan=still_s)
        ),
        rule_s=rule_seconds(still_s, air.headwind_kt(flight.outbound_true_deg)),
    )
    # timing starts abeam the station, or on the outbound heading where that is later. Doc 8168 Vol I; mark: memory
    past_nm = float(along_track_nm(pen.east_nm, pen.north_nm, flight.outbound_true_deg))
    abeam_s = max(-past_nm, 0.0) / max(outbound_kt, 1.0) * SECONDS_PER_HOUR
    seconds = timing.allowed_s if flight.allowed else timing.published_s
    pen.hold(air, heading_true_deg, abeam_s + seconds)
    return seconds, timing


def _seconds_to_circle(pen: Pen, track_true_deg: float, groundspeed_kt: float, radius_nm: float) -> float:
    """How long on a track until that far from the station; 0 where the pen is that far already. [s]"""
    track = np.radians(track_true_deg)
    along_nm = pen.east_nm * float(np.sin(track)) + pen.north_nm * float(np.cos(track))
    inside_nm2 = radius_nm**2 - pen.east_nm**2 - pen.north_nm**2
    if inside_nm2 <= 0.0:
        return 0.0
    return (float(np.sqrt(along_nm**2 + inside_nm2)) - along_nm) / groundspeed_kt * SECONDS_PER_HOUR


def _onto_course(flight: _Flight, intercept_heading_true_deg: float) -> Joining:
    """The last turn: broken by a straight leg to the course, unbroken, or past the course and back to it."""
    pen, air, inbound = flight.pen, flight.air, flight.inbound_true_deg
    inbound_heading = air.heading_true_deg(inbound)
    left_nm = flight.left_after(pen.heading_true_deg, pen.east_nm, pen.north_nm)
    closing_kt = -flight.away_kt(intercept_heading_true_deg)
    straight_s = left_nm / closing_kt * SECONDS_PER_HOUR if closing_kt > 0.0 else 0.0
    angle_deg: float | None = None
    how: Literal["intercept", "turn", "through", "never"] = "turn"
    overshoot_nm = 0.0
    if left_nm < -ON_COURSE_NM:
        how = "through"
        angle_deg, overshoot_nm = _crossing(flight, *pen.turn(air, inbound_heading, flight.last_turn))
        _close(flight)
    elif left_nm > ON_COURSE_NM and closing_kt < LEAST_CLOSING_KT:
        how = "never"
        pen.turn(air, intercept_heading_true_deg, flight.last_turn)
    elif straight_s <= 0.0:
        pen.turn(air, inbound_heading, flight.last_turn)
    else:
        pen.turn(air, intercept_heading_true_deg, flight.last_turn)
        pen.hold(air, intercept_heading_true_deg, straight_s)
        pen.turn(air, inbound_heading, flight.last_turn)
        if straight_s >= SHORTEST_STRAIGHT_S:
            how = "intercept"
            angle_deg = abs(float(difference_deg(air.made_good(intercept_heading_true_deg)[0], inbound)))
            flight.note("intercept", intercept_heading_true_deg, straight_s)
    flight.lines.append(("course_reversal", *pen.lift()))
    along_nm = -float(along_track_nm(pen.east_nm, pen.north_nm, inbound))
    return Joining(how=how, angle_deg=angle_deg, overshoot_nm=overshoot_nm, along_nm=along_nm)


def _crossing(flight: _Flight, east_nm: Floats, north_nm: Floats) -> tuple[float | None, float]:
    """The angle at which the last turn's arc crosses the course, and how far past it the arc leads. [deg, NM]"""
    to_go_nm = flight.to_go(east_nm, north_nm)
    crossed = np.flatnonzero((to_go_nm[:-1] > 0.0) & (to_go_nm[1:] <= 0.0))
    overshoot_nm = float(-to_go_nm.min())
    if not crossed.size:
        return None, overshoot_nm
    at = int(crossed[-1])
    track = np.degrees(np.arctan2(east_nm[at + 1] - east_nm[at], north_nm[at + 1] - north_nm[at]))
    return abs(float(difference_deg(float(track), flight.inbound_true_deg))), overshoot_nm


def _close(flight: _Flight) -> None:
    """From beyond the course back to it, at the angle a drawn procedure closes at."""
    pen = flight.pen
    beyond_nm = -float(flight.to_go(pen.east_nm, pen.north_nm))
    course = float(wrap_360(flight.inbound_true_deg + flight.last_turn * CLOSING_DEG))
    pen.follow(flight.air, course, beyond_nm / float(np.sin(np.radians(CLOSING_DEG))))
