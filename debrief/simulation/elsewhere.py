"""Flights without an approach, and what lies between two approaches.

Owns      the way back to the station, an overflight, airwork, circuits at the aerodrome.
Not here  any leg of a procedure (``pilot``, ``ending``).
"""

from __future__ import annotations

import itertools
import math

from debrief.simulation.ending import PATH_FT_PER_NM, landing, runway_line
from debrief.simulation.guidance import Banks, Line
from debrief.simulation.pilot import Pilot

BACK_FROM_NM = 8.0  # how far to fly out before the next attempt
CIRCUIT_HEIGHT_FT = 1000.0
CIRCUIT_WIDTH_NM = 1.1
ROTATION = 0.7  # of the circuit speed


def away_and_back(pilot: Pilot, bearing_true_deg: float) -> Banks:
    """Fly out on that bearing until far enough to begin again, then turn towards the station."""
    line = Line(bearing_true_deg)
    pilot.airspeed_kias = pilot.plan.cruise_kias
    direction = pilot.shorter_way(bearing_true_deg)
    yield from pilot.helm.turning_onto(direction, line, 45.0)
    for bank_deg in pilot.helm.following(line, 45.0):
        if line.along_nm(pilot.aircraft) > BACK_FROM_NM:
            break
        yield bank_deg
    back = Line(bearing_true_deg + 180.0)
    yield from pilot.helm.turning_onto(1, back, 45.0)


def transit(pilot: Pilot) -> Banks:
    """Straight over the station and on."""
    pilot.note("transit")
    until_s = pilot.aircraft.t_s + pilot.plan.instead_minutes * 60.0
    line = Line(math.degrees(math.atan2(-pilot.aircraft.east_nm, -pilot.aircraft.north_nm)))
    for bank_deg in pilot.helm.following(line, 45.0):
        if pilot.aircraft.t_s > until_s:
            return
        yield bank_deg


def airwork(pilot: Pilot) -> Banks:
    """Steep turns both ways, slow flight, climbs and descents, never near the station."""
    pilot.note("airwork")
    aircraft, level_ft = pilot.aircraft, pilot.aircraft.altitude_ft
    until_s = aircraft.t_s + pilot.plan.instead_minutes * 60.0
    course_deg = aircraft.heading_deg
    for number in itertools.count():
        pilot.altitude_ft = level_ft + (0.0, 700.0, -300.0)[number % 3]
        pilot.airspeed_kias = pilot.plan.cruise_kias * (1.0, 0.8, 0.9)[number % 3]
        direction = 1 if number % 2 == 0 else -1
        yield from pilot.helm.turning(direction, course_deg + direction * 179.0)
        yield from pilot.helm.turning(direction, course_deg)
        began_s = aircraft.t_s
        for bank_deg in pilot.helm.holding(course_deg):
            if aircraft.t_s > began_s + 45.0 or aircraft.t_s > until_s:
                break
            yield bank_deg
        if aircraft.t_s > until_s:
            return
        course_deg += 90.0


def circuits(pilot: Pilot) -> Banks:
    """Take off and land in left-hand circuits until the time is up; the last landing stops."""
    runway, aircraft = pilot.procedure.runway, pilot.aircraft
    if runway is None:
        raise ValueError(f"{pilot.procedure.name} has no runway to fly circuits at")
    centre = runway_line(pilot, runway)
    until_s = aircraft.t_s + pilot.plan.instead_minutes * 60.0
    aircraft.on_ground, aircraft.airspeed_kias = True, 0.0
    aircraft.altitude_ft = pilot.altitude_ft = runway.elevation_ft
    aircraft.east_nm, aircraft.north_nm = centre.east_nm, centre.north_nm
    aircraft.point(centre.course_deg)
    pilot.note("circuits")
    standing_until_s = aircraft.t_s + 20.0
    pilot.airspeed_kias = 0.0
    while aircraft.t_s < standing_until_s:
        yield 0.0
    while aircraft.t_s < until_s:
        yield from one_circuit(pilot, centre)
        yield from landing(pilot, runway, centre, 0.0)


def one_circuit(pilot: Pilot, centre: Line) -> Banks:
    """From the ground round to the final of the circuit."""
    aircraft, ground_ft = pilot.aircraft, pilot.aircraft.altitude_ft
    pilot.airspeed_kias = 0.85 * pilot.plan.approach_kias
    while aircraft.airspeed_kias < ROTATION * pilot.airspeed_kias:
        yield 0.0
    aircraft.lift_off()
    pilot.altitude_ft = ground_ft + CIRCUIT_HEIGHT_FT
    downwind = centre.beside(-CIRCUIT_WIDTH_NM)
    for bank_deg in pilot.helm.following(centre):
        if aircraft.altitude_ft > ground_ft + 0.7 * CIRCUIT_HEIGHT_FT:
            break
        yield bank_deg
    yield from pilot.helm.turning(-1, centre.course_deg - 90.0)
    opposite = Line(downwind.course_deg + 180.0, downwind.east_nm, downwind.north_nm)
    yield from pilot.helm.turning_onto(-1, opposite, 90.0)
    for bank_deg in pilot.helm.following(opposite, 90.0):
        if opposite.along_nm(aircraft) > 1.0:
            break
        yield bank_deg
    pilot.airspeed_kias = pilot.plan.final_kias
    pilot.altitude_ft = ground_ft + 0.55 * CIRCUIT_HEIGHT_FT
    yield from pilot.helm.turning(-1, centre.course_deg + 90.0)
    yield from pilot.helm.turning_onto(-1, centre, 90.0)
    for bank_deg in pilot.helm.following(centre):
        to_go_nm = -centre.along_nm(aircraft)
        if aircraft.altitude_ft - ground_ft >= to_go_nm * PATH_FT_PER_NM or to_go_nm < 0.5:
            return
        yield bank_deg
