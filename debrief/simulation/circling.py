"""Circling: off the final course at the circling minimum, downwind beside another runway, and down in the base turn.

Owns      ``circle``.
Not here  the final before it, the path to the runway and the roll-out (``ending``).
"""

from __future__ import annotations

from debrief.procedures.model import Circling
from debrief.simulation.guidance import Banks, Line
from debrief.simulation.pilot import Pilot
from debrief.simulation.plan import Attempt

JOINING_DEG = 45.0  # flown at the downwind line with
BASE_PAST_NM = 0.9  # the base turn begins so far past abeam the threshold
WIDER_THAN_A_TURN = 2.1  # the downwind line, in radii of a turn
BASE_RATE_FT_MIN = 450.0
AIMED_AT_FT = 330.0  # above the threshold, at the end of the base turn
FROM_NM = 2.2  # so far from the threshold the final course is left


def leaves_the_course(pilot: Pilot, centre: Line, minimum_ft: float) -> bool:
    """Whether the aircraft is near enough to the runway, and down at the circling minimum."""
    aircraft = pilot.aircraft
    away_nm = ((aircraft.east_nm - centre.east_nm) ** 2 + (aircraft.north_nm - centre.north_nm) ** 2) ** 0.5
    return away_nm < FROM_NM and aircraft.altitude_ft < minimum_ft + 100.0


def circle(pilot: Pilot, circling: Circling, centre: Line, attempt: Attempt) -> Banks:
    """Downwind on the attempt's side of the runway, then the base turn: up to a path that can be landed from."""
    pilot.note("circling")
    aircraft, helm, faults = pilot.aircraft, pilot.helm, attempt.faults
    side = 1.0 if attempt.circle == "right" else -1.0
    level_ft = (circling.altitude.low_ft or 0.0) + pilot.plan.altitude_margin_ft - faults.circling_low_ft
    pilot.altitude_ft = level_ft
    aside = centre.beside(side * WIDER_THAN_A_TURN * helm.radius_nm())
    downwind = Line(aside.course_deg + 180.0, aside.east_nm, aside.north_nm)
    early_nm = faults.base_turn_late_s * aircraft.groundspeed_kt / 3600.0
    for bank_deg in helm.following(downwind, JOINING_DEG):
        past_nm = -centre.along_nm(aircraft)  # before the threshold, as landed
        on_it = abs(downwind.across_nm(aircraft)) < 0.2
        if on_it and past_nm > BASE_PAST_NM - early_nm:
            _down(pilot, circling)
        if on_it and past_nm > BASE_PAST_NM:
            break
        yield bank_deg
    pilot.note("base turn")
    _down(pilot, circling)
    yield from helm.turning_onto(round(side), centre, JOINING_DEG)


def _down(pilot: Pilot, circling: Circling) -> None:
    pilot.rate_ft_min = BASE_RATE_FT_MIN
    pilot.altitude_ft = circling.runway.elevation_ft + AIMED_AT_FT
