"""Course reversals: the turns away and back of the patterns, and a racetrack's outbound leg.

Owns      when to turn back so that the turn ends on the inbound course, in this wind.
Not here  the legs before and after (``pilot``).
"""

from __future__ import annotations

import math

from debrief.procedures.model import Pattern, Phase
from debrief.simulation.guidance import Banks, Line, within_180_deg
from debrief.simulation.holding import steer_deg
from debrief.simulation.pilot import Pilot
from debrief.simulation.plan import Attempt

#: A racetrack's outbound track is kept over its last part: small corrections there would be large turns.
NO_MORE_STEERING_NM = 0.8
LONGEST_ENTRY_TURN_DEG = 215.0
LONGEST_OFFSET_S = 90.0
HELD_INTERCEPT_NM = 0.35


def reverse(pilot: Pilot, attempt: Attempt) -> Banks:
    """The turns of the pattern, up to the one that joins the inbound course."""
    leg = pilot.procedure.reversal
    if leg is None:
        return
    pilot.note("reversal")
    pilot.altitude_ft = pilot.altitude_for(Phase.COURSE_REVERSAL, attempt)
    if attempt.faults.no_reversal or leg.pattern is Pattern.BASE_TURN:
        return
    away_deg = 80.0 if leg.pattern is Pattern.PROCEDURE_TURN_80_260 else 45.0
    line, side = pilot.line_outbound(attempt), pilot.side(attempt)
    began_s = pilot.aircraft.t_s
    track_deg = line.course_deg + side * away_deg
    least_s = (leg.leg_seconds or 60.0) if away_deg == 45.0 else 0.0
    yield from pilot.helm.turning(side, track_deg)
    for bank_deg in pilot.helm.holding(track_deg):
        flown_s = pilot.aircraft.t_s - began_s
        blown_kt = side * wind_right_kt(pilot, line)
        # One second a knot, as is usual, and as long as it takes to turn back short of the course.
        if flown_s >= least_s - min(20.0, max(0.0, blown_kt)) and room_to_turn_back(
            pilot, line, side, away_deg, attempt.faults.intercept_angle_deg
        ):
            return
        yield bank_deg


def wind_right_kt(pilot: Pilot, line: Line) -> float:
    """How fast the air moves to the right of the line."""
    east_kt, north_kt = pilot.aircraft.air.steady(pilot.aircraft.altitude_ft)
    along_east, along_north = line.track_vector
    return east_kt * along_north - north_kt * along_east


def room_to_turn_back(
    pilot: Pilot, line: Line, side: int, away_deg: float, intercept_deg: float | None
) -> bool:
    """Whether a turn back from here ends short of the course, the wind during the turn allowed for.

    Short enough to turn onto the course from an intercept heading: 45 degrees after a 45/180, none after an
    80/260; a given ``intercept_deg`` is held for a while, too.
    """
    radius_nm = pilot.helm.radius_nm()
    angle_deg = (45.0 if away_deg == 45.0 else 0.0) if intercept_deg is None else intercept_deg
    heading_deg = side * within_180_deg(pilot.aircraft.heading_deg - line.course_deg)
    back_deg = angle_deg - 180.0
    turn_nm = radius_nm * (math.cos(math.radians(back_deg)) - math.cos(math.radians(heading_deg)))
    turn_s = abs(heading_deg - back_deg) / pilot.helm.turn_rate_deg_s() + 4.0
    drift_nm = side * wind_right_kt(pilot, line) * turn_s / 3600.0
    onto_nm = 1.23 * radius_nm * (1.0 - math.cos(math.radians(angle_deg))) + 0.02
    held_nm = 0.0 if intercept_deg is None else HELD_INTERCEPT_NM
    return side * line.across_nm(pilot.aircraft) + turn_nm + drift_nm >= onto_nm + held_nm


def racetrack(pilot: Pilot, attempt: Attempt, circuit: int) -> Banks:
    """Outbound beside the inbound course, so far out that the turn inbound ends on the course."""
    leg, outbound = pilot.procedure.reversal, pilot.procedure.outbound
    if leg is None or outbound is None:
        return
    side, inbound = pilot.side(attempt), pilot.line_inbound()
    out_deg = pilot.line_outbound(attempt).course_deg
    pilot.note("circuit")
    first_deg = pilot.racetrack_course(attempt, out_deg) if circuit == 0 else out_deg
    # From a course near the outbound one the holding turn would be nearly a full circle.
    parallel = circuit == 0 and attempt.entry == "parallel"
    around_deg = side * (first_deg - pilot.aircraft.ground_track_deg) % 360.0
    with_the_pattern = around_deg < LONGEST_ENTRY_TURN_DEG and not parallel
    direction = side if with_the_pattern else pilot.shorter_way(first_deg)
    for bank_deg in pilot.helm.turning(direction, first_deg):
        pilot.leave_station(attempt)
        yield bank_deg
    timing_from_s: float | None = None
    track_deg = first_deg
    while True:
        pilot.leave_station(attempt)
        if timing_from_s is None and inbound.along_nm(pilot.aircraft) < 0.0:
            timing_from_s = pilot.aircraft.t_s  # abeam, or on the outbound heading where that is later
        to_go_nm = to_go_nm_of(pilot, attempt, timing_from_s, out_deg)
        if to_go_nm <= 0.0:
            break
        if parallel:
            track_deg = out_deg
        elif circuit == 0 and attempt.entry == "offset" and still_offset(pilot, inbound, side):
            track_deg = first_deg
        elif to_go_nm > NO_MORE_STEERING_NM:
            # Into the holding side is left of the outbound course where turns are right.
            track_deg = out_deg - side * steer_deg(pilot, inbound, side, to_go_nm)
        yield pilot.helm.bank_to(pilot.helm.heading_for(track_deg))
    pilot.note("reversal")
    pilot.altitude_ft = pilot.altitude_for(Phase.COURSE_REVERSAL, attempt)


def still_offset(pilot: Pilot, inbound: Line, side: int) -> bool:
    """Whether the 30 degrees of an offset entry are still held: up to abeam the outbound track, or 90 s at most.

    Source: ICAO Doc 8168 Vol II, I-4-3, 3.4.4.1 a (1 min 30 s). Mark: seen.
    """
    wide_enough = side * inbound.across_nm(pilot.aircraft) >= 2.0 * pilot.helm.radius_nm()
    return not wide_enough and pilot.aircraft.t_s - pilot.closest_s < LONGEST_OFFSET_S


def to_go_nm_of(pilot: Pilot, attempt: Attempt, timing_from_s: float | None, out_deg: float) -> float:
    """How much of the outbound leg is left, by DME or by time."""
    leg, outbound, faults = pilot.procedure.reversal, pilot.procedure.outbound, attempt.faults
    length = outbound.length if outbound is not None else None
    if length is not None and length.dme_nm is not None:
        return length.dme_nm + faults.outbound_longer_nm - pilot.dme_nm()
    if length is not None and length.minutes is not None:  # from the closest point, the turn included
        seconds, timing_from_s = 60.0 * length.minutes, pilot.closest_s
    else:
        seconds = (leg.leg_seconds if leg is not None else None) or 60.0
    flown_s = pilot.aircraft.t_s - timing_from_s if timing_from_s is not None else 0.0
    left_s = seconds + faults.outbound_longer_s - flown_s
    return left_s * pilot.helm.groundspeed_on(out_deg) / 3600.0
