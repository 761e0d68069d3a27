"""What must hold of the guidance of a final that is not flown by the station.

Owns      ``final_guidance``.
Not here  its line and its needle (``guidance``), the legs (``checks``).
Source    The keys: DEVELOPERS.md, "Procedure file".
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sin
from typing import TYPE_CHECKING

from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import inverse
from debrief.procedures.checks_steps import Problem

if TYPE_CHECKING:
    from debrief.procedures.model import FinalGuidance, Procedure

COURSE_WITHIN_DEG = 10.0  # the course given from true north, from the one by the station's alignment
STATION_WITHIN_NM = 2.0  # the station from the course that begins at it
ANTENNA_WITHIN_NM = 5.0  # of the threshold


def final_guidance(procedure: Procedure) -> Iterator[Problem]:
    """What is wrong with the guidance of the final."""
    given = procedure.final_guidance
    if given is None:
        return
    if procedure.runway is None:
        yield Problem(
            ("final_guidance",),
            "there is no runway that it leads to",
            "Add [runway], or leave [final_guidance] out.",
        )
        return
    yield from _keys(given)
    yield from _course(procedure, given)
    yield from _antenna(procedure, given)


def _keys(given: FinalGuidance) -> Iterator[Problem]:
    """The keys of the other kind."""
    localiser = given.kind == "localiser"
    others = ("full_scale_nm",) if localiser else ("antenna", "full_scale_deg")
    for key in others:
        if getattr(given, key) is not None:
            yield Problem(
                ("final_guidance", key),
                f"{key} does not belong to a {given.kind} course",
                "It takes kind, course_true_deg, antenna, full_scale_deg."
                if localiser
                else "It takes kind, course_true_deg, full_scale_nm.",
            )
    if localiser and given.antenna is None:
        yield Problem(
            ("final_guidance", "antenna"),
            "the key is missing",
            "Give antenna = { past_threshold_ft = ... }, or its latitude and longitude.",
        )


def _course(procedure: Procedure, given: FinalGuidance) -> Iterator[Problem]:
    final, station, runway = procedure.final, procedure.station, procedure.runway
    if final is None or final.course_deg is None or runway is None:
        return
    by_station_deg, course_deg = procedure.true_deg(final.course_deg), procedure.final_course_true_deg
    off_deg = abs(float(difference_deg(course_deg, by_station_deg)))
    if off_deg > COURSE_WITHIN_DEG:
        yield Problem(
            ("final_guidance", "course_true_deg"),
            f"{course_deg:g} lies {off_deg:g} degrees from {by_station_deg:g}, the final course by the station",
            f"The two agree within {COURSE_WITHIN_DEG:g} degrees. This one is from true north.",
        )
    distance_nm, bearing_true_deg = inverse(
        station.latitude, station.longitude, runway.latitude, runway.longitude
    )
    aside_nm = abs(distance_nm * sin(radians(bearing_true_deg - course_deg)))
    if not procedure.station_on_aerodrome and given.kind == "satellite" and aside_nm > STATION_WITHIN_NM:
        yield Problem(
            ("final_guidance",),
            f"the course to the threshold passes the station {aside_nm:.1f} NM away",
            f"The final begins at the station, within {STATION_WITHIN_NM:g} NM of it.",
        )


def _antenna(procedure: Procedure, given: FinalGuidance) -> Iterator[Problem]:
    antenna, runway = given.antenna, procedure.runway
    if antenna is None or runway is None or antenna.latitude is None or antenna.longitude is None:
        return
    distance_nm, bearing_true_deg = inverse(
        runway.latitude, runway.longitude, antenna.latitude, antenna.longitude
    )
    past_nm = distance_nm * cos(radians(bearing_true_deg - procedure.final_course_true_deg))
    if distance_nm > ANTENNA_WITHIN_NM or past_nm <= 0.0:
        yield Problem(
            ("final_guidance", "antenna"),
            f"it stands {distance_nm:,.1f} NM from the threshold, {'past' if past_nm > 0.0 else 'before'} it",
            f"It stands past the threshold, within {ANTENNA_WITHIN_NM:g} NM.",
        )
