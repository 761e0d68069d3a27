"""Holding over the station: entry, circuits by the clock or the DME, in this wind.

Owns      the hold before an approach and the one after a missed approach.
Not here  a racetrack that is the course reversal (``reversal``), how holds are published (``procedures.model``).
"""

from __future__ import annotations

import math

from debrief.navigation.angles import wrap_360
from debrief.procedures.entries import OFFSET_DEG, entry_into
from debrief.procedures.model import Hold
from debrief.simulation.guidance import Banks, Line
from debrief.simulation.pilot import Pilot

_SECONDS_PER_HOUR = 3600.0
LONGEST_ENTRY_S = 60.0
STEER_OUT_DEG = 30.0
NEAREST_NM = 0.3  # nearer the turn a small correction would be a large one


def hold(pilot: Pilot, pattern: Hold, circuits: int) -> Banks:
    """To the station, in by the sector's entry, and round: the last circuit ends once the turn inbound is made.

    ``note`` says "hold" at each crossing, and "hold inbound" at each turn inbound (the last belongs to what follows).
    """
    side = 1 if pattern.side == "right" else -1
    inbound = Line(pilot.true_deg(pattern.course_deg))
    out_deg = inbound.course_deg + 180.0
    if pattern.altitude is not None and pattern.altitude.low_ft is not None:
        pilot.altitude_ft = pattern.altitude.low_ft + pilot.plan.altitude_margin_ft
    yield from to_station(pilot, None)
    for circuit in range(circuits):
        pilot.note("hold")
        way = entry_into(float(wrap_360(out_deg)), side, float(wrap_360(pilot.aircraft.ground_track_deg)))
        first = way if circuit == 0 else "direct"
        yield from _outbound(pilot, pattern, inbound, side, first)
        pilot.note("hold inbound")
        direction = -side if first == "parallel" else side
        yield from pilot.helm.turning_onto(direction, inbound, 45.0)
        if circuit + 1 < circuits:
            yield from to_station(pilot, inbound)


def to_station(pilot: Pilot, line: Line | None) -> Banks:
    """Along the line (straight there without one) until the closest point is behind."""
    pilot.watch_station()
    if line is None:
        line = Line(math.degrees(math.atan2(-pilot.aircraft.east_nm, -pilot.aircraft.north_nm)))
    for bank_deg in pilot.helm.following(line):
        if pilot.passing_station() and line.along_nm(pilot.aircraft) > 0.0:
            return
        yield bank_deg


def _outbound(pilot: Pilot, pattern: Hold, inbound: Line, side: int, first: str) -> Banks:
    out_deg = inbound.course_deg + 180.0
    began_s: float | None = None
    left_s = pilot.aircraft.t_s
    if first == "direct":
        yield from pilot.helm.turning(side, out_deg)
    else:
        track_deg = out_deg - side * OFFSET_DEG if first == "offset" else out_deg
        yield from pilot.helm.turning(pilot.shorter_way(track_deg), track_deg)
    while True:
        if began_s is None and inbound.along_nm(pilot.aircraft) < 0.0:
            began_s = pilot.aircraft.t_s
        to_go_s = _to_go_s(pilot, pattern, began_s, out_deg)
        if to_go_s <= 0.0:
            return
        track_deg = out_deg
        if first == "offset" and pilot.aircraft.t_s - left_s < LONGEST_ENTRY_S:
            track_deg = out_deg - side * OFFSET_DEG
        elif first != "parallel":
            ahead_nm = max(to_go_s * pilot.aircraft.groundspeed_kt / _SECONDS_PER_HOUR, NEAREST_NM)
            track_deg = out_deg - side * steer_deg(pilot, inbound, side, ahead_nm)
        yield pilot.helm.bank_to(pilot.helm.heading_for(track_deg))


def _to_go_s(pilot: Pilot, pattern: Hold, began_s: float | None, out_deg: float) -> float:
    """What is left of the outbound leg, from abeam the station."""
    length = pattern.length
    if length is not None and length.dme_nm is not None:
        away_nm = length.dme_nm - pilot.dme_nm()
        return away_nm / pilot.helm.groundspeed_on(out_deg) * _SECONDS_PER_HOUR
    seconds = 60.0 * (length.minutes if length is not None and length.minutes is not None else 1.0)
    return seconds if began_s is None else seconds - (pilot.aircraft.t_s - began_s)


def steer_deg(pilot: Pilot, inbound: Line, side: int, ahead_nm: float) -> float:
    """How far off the outbound course to fly, so that the turn inbound ends on the course in this wind. [deg]

    Positive into the holding side; at most 30. ``ahead_nm`` is what is left of the outbound leg.
    """
    east_kt, north_kt = pilot.aircraft.air.steady(pilot.aircraft.altitude_ft)
    turn_s = 180.0 / pilot.helm.turn_rate_deg_s() + 4.0
    drift_nm = side * inbound.side_of(east_kt, north_kt) * turn_s / _SECONDS_PER_HOUR
    wanted_nm = max(0.6 * pilot.helm.radius_nm(), 2.08 * pilot.helm.radius_nm() - drift_nm)
    off_deg = math.degrees(math.atan2(wanted_nm - side * inbound.across_nm(pilot.aircraft), ahead_nm))
    return max(-STEER_OUT_DEG, min(STEER_OUT_DEG, off_deg))
