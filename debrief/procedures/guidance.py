"""What drives the needle on a final that is not flown by the station: a localiser, or a satellite course.

Owns      ``Guidance``: the line of such a course, how far off it an aircraft is, and the full scale of its needle.
Not here  the station's needle (``navigation.radials``), which leg is flown by which (``guidance_of``'s callers).
Source    Full scale of a localiser: 700 ft from stop to stop at the threshold, at most 3 degrees to each side. Mark:
          memory. A satellite course on a non-precision final: 0.3 NM to each side. Mark: memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.geodesy import StationPlane, inverse
from debrief.navigation.radials import FULL_SCALE_DEG, along_track_nm, cross_track_nm
from debrief.navigation.units import FEET_PER_NM
from debrief.procedures.model import Phase, Procedure

Floats = NDArray[np.float64]

HALF_WIDTH_FT = 350.0  # of a localiser course at the threshold, from the centre to full scale
MOST_LOCALISER_DEG = 3.0
SATELLITE_NM = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Guidance:
    """A course by its line in the station's plane, and its needle."""

    unit: Literal["deg", "NM"]
    full_scale: float  # to each side, in ``unit``
    course_true_deg: float
    east_nm: float  # a point of the line: the antenna of a localiser, the threshold
    north_nm: float

    def across_nm(self, east_nm: Floats, north_nm: Floats) -> Floats:
        """How far right of the line. [NM]"""
        across: Floats = cross_track_nm(
            east_nm - self.east_nm, north_nm - self.north_nm, self.course_true_deg
        )
        return across

    def before_nm(self, east_nm: Floats, north_nm: Floats) -> Floats:
        """How far before the line's point, past it negative. [NM]"""
        past: Floats = along_track_nm(east_nm - self.east_nm, north_nm - self.north_nm, self.course_true_deg)
        return -past

    def off(self, east_nm: Floats, north_nm: Floats) -> Floats:
        """How far right of the course, in ``unit``; ``nan`` past the antenna of a localiser."""
        across_nm = self.across_nm(east_nm, north_nm)
        if self.unit == "NM":
            return across_nm
        before_nm = self.before_nm(east_nm, north_nm)
        angle_deg = np.degrees(np.arctan2(across_nm, before_nm))
        off_deg: Floats = np.where(before_nm > 0.0, angle_deg, np.nan)
        return off_deg

    def share(self, east_nm: Floats, north_nm: Floats) -> Floats:
        """The same as a share of full scale, not clipped."""
        share: Floats = self.off(east_nm, north_nm) / self.full_scale
        return share

    def as_station_deg(self, east_nm: Floats, north_nm: Floats) -> Floats:
        """The deviation from a station's course at which its needle would stand alike. [deg]"""
        like_deg: Floats = FULL_SCALE_DEG * self.share(east_nm, north_nm)
        return like_deg

    def limit(self, station_deg: float) -> float:
        """What a limit in degrees of a station's needle is here, as the same share of full scale; in ``unit``."""
        return station_deg / FULL_SCALE_DEG * self.full_scale


def guidance_of(procedure: Procedure) -> Guidance | None:
    """The guidance of the final; ``None`` where that is the station."""
    given, runway, final = procedure.final_guidance, procedure.runway, procedure.final
    if given is None or runway is None or final is None or final.course_deg is None:
        return None
    plane = StationPlane(latitude_deg=procedure.station.latitude, longitude_deg=procedure.station.longitude)
    threshold = plane.to_plane(runway.latitude, runway.longitude)
    east_nm, north_nm = float(threshold[0]), float(threshold[1])
    course_true_deg = procedure.final_course_true_deg
    if given.kind == "satellite":
        return Guidance(
            unit="NM",
            full_scale=SATELLITE_NM if given.full_scale_nm is None else given.full_scale_nm,
            course_true_deg=course_true_deg,
            east_nm=east_nm,
            north_nm=north_nm,
        )
    antenna = antenna_place(procedure)
    if antenna is None:
        return None
    far_nm, _ = inverse(*antenna, runway.latitude, runway.longitude)
    there = plane.to_plane(*antenna)
    return Guidance(
        unit="deg",
        full_scale=localiser_full_scale_deg(far_nm) if given.full_scale_deg is None else given.full_scale_deg,
        course_true_deg=course_true_deg,
        east_nm=float(there[0]),
        north_nm=float(there[1]),
    )


def guidance_in(procedure: Procedure, phase: Phase | str) -> Guidance | None:
    """The guidance that a phase is flown by; ``None`` where that is the station.

    Where the final begins on being established, the way back in from the reversal is flown by it, too.
    """
    back_in = phase == Phase.COURSE_REVERSAL and not procedure.has_intermediate
    return guidance_of(procedure) if phase == Phase.FINAL or back_in else None


def antenna_place(procedure: Procedure) -> tuple[float, float] | None:
    """Latitude and longitude of a localiser's antenna: as given, or so far past the threshold along the runway."""
    given, runway = procedure.final_guidance, procedure.runway
    if given is None or given.antenna is None or runway is None:
        return None
    antenna = given.antenna
    if antenna.latitude is not None and antenna.longitude is not None:
        return antenna.latitude, antenna.longitude
    if antenna.past_threshold_ft is None:
        return None
    course, past_nm = np.radians(runway.course_true_deg), antenna.past_threshold_ft / FEET_PER_NM
    plane = StationPlane(latitude_deg=runway.latitude, longitude_deg=runway.longitude)
    latitude, longitude = plane.to_geographic(past_nm * np.sin(course), past_nm * np.cos(course))
    return float(latitude), float(longitude)


def localiser_full_scale_deg(antenna_to_threshold_nm: float) -> float:
    """Full scale to each side of a localiser's course.

    >>> round(localiser_full_scale_deg(8000.0 / 6076.12), 2), localiser_full_scale_deg(0.5)
    (2.51, 3.0)
    """
    half_deg = float(np.degrees(np.arctan2(HALF_WIDTH_FT / FEET_PER_NM, antenna_to_threshold_nm)))
    return min(half_deg, MOST_LOCALISER_DEG)
