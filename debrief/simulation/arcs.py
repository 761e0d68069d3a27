"""Flying a DME arc on the way in, to the lead radial and onto the inbound course.

Owns      joining the arc, keeping its distance in the wind, the turn inbound.
Not here  the approach that follows (``pilot``).
"""

from __future__ import annotations

import math

from debrief.navigation.angles import difference_deg
from debrief.procedures.model import Arc
from debrief.simulation.guidance import Banks, Line
from debrief.simulation.pilot import Pilot
from debrief.simulation.plan import Attempt

KEEPING_NM = 0.5  # a distance off the arc is flown off at the angle that this is a leg of
STEEPEST_DEG = 60.0


def fly_arc(pilot: Pilot, arc: Arc, attempt: Attempt) -> Banks:
    """From outside the arc straight in to it, along it, and at the lead radial onto the inbound course."""
    pilot.note("to the arc")
    aircraft, faults = pilot.aircraft, attempt.faults
    way = 1 if arc.direction == "clockwise" else -1
    if arc.altitude is not None and arc.altitude.low_ft is not None:
        pilot.altitude_ft = arc.altitude.low_ft + pilot.plan.altitude_margin_ft
    distance_nm = arc.dme_nm + faults.arc_off_nm
    to_station = Line(math.degrees(math.atan2(-aircraft.east_nm, -aircraft.north_nm)))
    for bank_deg in pilot.helm.following(to_station):
        if pilot.dme_nm() < distance_nm + pilot.helm.radius_nm():
            break
        yield bank_deg
    pilot.note("arc")
    while True:
        radial_true_deg = math.degrees(math.atan2(aircraft.east_nm, aircraft.north_nm))
        passed_deg = way * float(difference_deg(radial_true_deg, pilot.true_deg(lead_radial(pilot, arc))))
        if abs(passed_deg) < 90.0 and passed_deg >= faults.arc_turn_late_deg:
            break
        off_nm = pilot.dme_nm() - distance_nm
        steer_deg = max(-STEEPEST_DEG, min(STEEPEST_DEG, math.degrees(math.atan2(off_nm, KEEPING_NM))))
        yield pilot.helm.bank_to(pilot.helm.heading_for(radial_true_deg + way * (90.0 + steer_deg)))
    pilot.note("turn off the arc")
    yield from pilot.helm.turning_onto(way, pilot.line_inbound(), 45.0)


def lead_radial(pilot: Pilot, arc: Arc) -> float:
    """The published lead radial, or that of a turn radius before the inbound course. [deg magnetic]"""
    if arc.lead_radial_deg is not None:
        return arc.lead_radial_deg
    way = 1.0 if arc.direction == "clockwise" else -1.0
    ahead_deg = math.degrees(math.asin(min(1.0, pilot.helm.radius_nm() / arc.dme_nm)))
    return pilot.procedure.inbound_course_deg + 180.0 - way * ahead_deg
