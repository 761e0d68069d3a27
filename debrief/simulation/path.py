"""A final flown down a path: from the final fix at the published angle, and at the minimum in time.

Owns      the path from where the final begins, and the rate of descent that keeps the aircraft on it.
Not here  a final flown by one suitable rate, the steps and minima that hold on the way (``ending``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from debrief.navigation.descent import THRESHOLD_CROSSING_FT
from debrief.procedures.geometry import missed_approach_distance_nm, threshold_along_nm
from debrief.simulation.pilot import FT_PER_NM, Pilot

#: Steeper than this nobody is asked to go for the sake of a missed approach point that comes early.
#: Source: FAA Order 8260.3 (TERPS), the most of a non-precision final. Mark: seen (2nd hand).
STEEPEST_FOR_THE_POINT_FT_NM = 400.0
ORDINARY_FT_NM = FT_PER_NM * math.tan(math.radians(3.0))
LEVELLING_OFF_NM = 0.2
BACK_TO_PATH_PER_MIN = 6.0  # of the height above the path is lost at this rate
BACK_TO_PATH_FT_MIN = 300.0  # and no faster than this


@dataclass(frozen=True, slots=True)
class Path:
    """A straight line down along the final course."""

    foot_nm: float  # along it, past the station
    foot_ft: float
    ft_per_nm: float
    to_runway: bool = False  # goes on to the threshold

    def altitude_ft(self, along_nm: float) -> float:
        """Its altitude so far along the course."""
        return self.foot_ft + self.ft_per_nm * (self.foot_nm - along_nm)


def path_down(pilot: Pilot, minimum_ft: float) -> Path:
    """The path of a final that begins here.

    The published angle, to 50 ft over the threshold; a steeper one where that would begin below the aircraft, or
    still be above the minimum at the missed approach point.
    """
    procedure, aircraft, leg = pilot.procedure, pilot.aircraft, pilot.procedure.final
    course = pilot.line_final()
    along_nm, altitude_ft = course.along_nm(aircraft), aircraft.altitude_ft
    speed_kt = max(40.0, pilot.helm.groundspeed_on(course.course_deg))
    end_nm = missed_approach_distance_nm(procedure, speed_kt)
    if end_nm is not None and procedure.station_on_aerodrome:
        end_nm = -end_nm
    published_deg = leg.descent_angle_deg if leg is not None else None
    published_ft_nm = None if published_deg is None else FT_PER_NM * math.tan(math.radians(published_deg))
    foot_nm, foot_ft = end_nm, minimum_ft
    threshold_nm = threshold_along_nm(procedure, speed_kt)
    if threshold_nm is not None and procedure.runway is not None:
        foot_nm = threshold_nm
        foot_ft = procedure.runway.elevation_ft + THRESHOLD_CROSSING_FT
    if foot_nm is None or foot_nm <= along_nm or foot_ft >= altitude_ft:
        return Path(along_nm, altitude_ft, published_ft_nm or ORDINARY_FT_NM)
    needed_ft_nm = (altitude_ft - foot_ft) / (foot_nm - along_nm)
    path = Path(foot_nm, foot_ft, max(published_ft_nm or 0.0, needed_ft_nm), foot_nm == threshold_nm)
    if end_nm is None or end_nm <= along_nm or path.altitude_ft(end_nm) <= minimum_ft:
        return path
    in_time_ft_nm = (altitude_ft - minimum_ft) / max(end_nm - LEVELLING_OFF_NM - along_nm, LEVELLING_OFF_NM)
    steepest_ft_nm = max(path.ft_per_nm, STEEPEST_FOR_THE_POINT_FT_NM)
    return Path(along_nm, altitude_ft, min(in_time_ft_nm, steepest_ft_nm))


def rate_down(pilot: Pilot, path: Path) -> float:
    """The rate of descent that follows a path, or comes back to it from above; none below it. [ft/min]"""
    aircraft = pilot.aircraft
    above_ft = aircraft.altitude_ft - path.altitude_ft(pilot.line_final().along_nm(aircraft))
    along_path = aircraft.groundspeed_kt / 60.0 * path.ft_per_nm
    return max(0.0, along_path + min(BACK_TO_PATH_FT_MIN, BACK_TO_PATH_PER_MIN * above_ft))
