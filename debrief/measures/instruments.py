"""What the instruments showed: needle, flag, distance and bearing pointer at any moments of a flight.

Owns      the course that should have been selected in a phase, and the readings against it.
Not here  which moments are asked for (``samples``, ``shown``), the formulas (navigation.radials), drawing (reports).
Source    The columns: DEVELOPERS.md, "Samples".

They are those of an ideal receiver on the smoothed track: what a real one added to them, no log tells.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.measures.air import Air
from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.geodesy import StationPlane, inverse
from debrief.navigation.radials import (
    along_track_nm,
    cross_track_nm,
    deflection,
    deviation_deg,
    to_from,
)
from debrief.phases.model import Floats, FoundAttempt, Span, StationView
from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import Phase, Procedure

Texts = NDArray[np.str_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """One entry a moment; ``nan`` or "" where not known, and where the instrument shows nothing."""

    course_deg: Floats  # that should have been selected, magnetic
    cross_track_nm: Floats  # from it
    deviation_deg: Floats  # not in the cone
    deflection: Floats
    to_from: Texts  # not in the cone
    dme_nm: Floats  # where the station has a DME
    bearing_deg: Floats  # to the station, magnetic by its alignment, as published; 0..360


def readings(
    procedure: Procedure,
    view: StationView,
    course_deg: Floats,
    inbound: NDArray[np.bool_],
    guided: NDArray[np.bool_] | None = None,
) -> Readings:
    """Read the instruments at the moments of a view.

    ``course_deg`` is the course selected, ``nan`` for none; ``inbound`` says where it is flown to the station,
    ``guided`` where it is that of a final whose guidance is another's.
    """
    station = procedure.station
    deviation = np.where(view.in_cone, np.nan, deviation_deg(view.radial_deg, course_deg, inbound=inbound))
    across_nm = cross_track_nm(view.east_nm, view.north_nm, course_deg + station.declination_deg)
    needle = deflection(deviation)
    guidance = guidance_of(procedure)
    if guidance is not None and guided is not None:
        there = guided & np.isfinite(course_deg)
        share = guidance.share(view.east_nm, view.north_nm)
        across_nm = np.where(there, guidance.across_nm(view.east_nm, view.north_nm), across_nm)
        needle = np.where(there, np.clip(share, -1.0, 1.0), needle)
    return Readings(
        course_deg=course_deg,
        cross_track_nm=across_nm,
        deviation_deg=deviation,
        deflection=needle,
        to_from=np.where(view.in_cone, "", to_from(view.radial_deg, course_deg)),
        dme_nm=view.dme_nm if station.has_dme else np.full(len(view), np.nan),
        bearing_deg=wrap_360(view.radial_deg + 180.0),
    )


def relative_bearing_deg(procedure: Procedure, view: StationView, air: Air) -> Floats:
    """Where a pointer to the station stands on a card with the nose at its top: 0..360, clockwise.

    ``nan`` where the heading is not known. A logged heading is from the meridian of the aircraft, one from the
    wind from that of the station, as the smoothed track is: the bearing is taken from the same.
    """
    station = procedure.station
    if air.heading_logged:
        plane = StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)
        latitude, longitude = plane.to_geographic(view.east_nm, view.north_nm)
        _, bearing_true_deg = inverse(latitude, longitude, station.latitude, station.longitude)
    else:
        bearing_true_deg = wrap_360(view.radial_deg + 180.0 + station.declination_deg)
    return wrap_360(difference_deg(bearing_true_deg, air.heading_true_deg))


def course_to_select(procedure: Procedure, attempt: FoundAttempt, span: Span) -> float | None:
    """The course that should be selected in a phase, magnetic; ``None`` inbound, where none is published.

    From the turn off the outbound course on (on a racetrack from the station outbound) that is the course back
    in; during a passage the course of the leg that follows.
    """
    final_deg = procedure.final.course_deg if procedure.final is not None else None
    if span.phase is Phase.INBOUND:
        return None
    if span.phase is Phase.STATION_PASSAGE:
        after = next((s for s in attempt.spans if s.start_s >= span.end_s and s is not span), None)
        if after is None or after.phase is Phase.STATION_PASSAGE:
            return final_deg
        return course_to_select(procedure, attempt, after)
    if span.phase is Phase.OUTBOUND and procedure.outbound is not None:
        radial_deg = procedure.outbound.radial_deg
        return radial_deg if radial_deg is not None else procedure.inbound_course_deg
    if span.phase in (Phase.COURSE_REVERSAL, Phase.INTERMEDIATE):
        return procedure.inbound_course_deg
    return final_deg


def flown_to_station(
    procedure: Procedure, phase: Phase, course_deg: float, view: StationView
) -> NDArray[np.bool_]:
    """Whether the selected course leads to the station from where the aircraft is (it does, on its near side)."""
    if phase is Phase.OUTBOUND and procedure.outbound is not None:
        racetrack = procedure.outbound.radial_deg is None
        return np.full(len(view), racetrack)
    if phase in (Phase.COURSE_REVERSAL, Phase.INTERMEDIATE):
        return np.ones(len(view), dtype=np.bool_)
    return along_track_nm(view.east_nm, view.north_nm, procedure.true_deg(course_deg)) < 0
