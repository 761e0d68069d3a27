"""What must hold of what stands beside the legs: the arc, the end by eye, the missed approach and the hold.

Owns      ``around_the_legs``.
Not here  the legs (``checks``), the step-downs and the stations beside (``checks_steps``).
Source    The keys: DEVELOPERS.md, "Procedure file".
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import inverse
from debrief.procedures.checks_steps import Problem

if TYPE_CHECKING:
    from debrief.procedures.model import Extent, Procedure

LEAD_WITHIN_DEG = 45.0  # a lead radial from the radial flown inbound on
VISUAL_WITHIN_DEG = (
    60.0  # the runway from the final course: beyond it a landing is circling. Mark: common practice
)
HIGHEST_CIRCLING_FT = 5000.0  # a circling minimum above its runway
SAME_RUNWAY_NM, SAME_RUNWAY_DEG = 0.1, 10.0
CIRCLED_TO_NM = 3.0  # two runways of one aerodrome
LEAST_SPEED_KIAS = 50.0  # a limit below it is a slip of the pen. Mark: common practice


def around_the_legs(procedure: Procedure) -> Iterator[Problem]:
    """What is wrong with each of them, in the order of the file."""
    yield from _arc(procedure)
    yield from _visual_segment(procedure)
    yield from _circling(procedure)
    yield from _missed_approach(procedure)
    yield from _hold(procedure)


def _arc(procedure: Procedure) -> Iterator[Problem]:
    arc, station = procedure.arc, procedure.station
    if arc is None:
        return
    if not station.has_dme:
        article = "an" if station.is_ndb else "a"
        yield Problem(
            ("arc", "dme_nm"),
            f"the station is {article} {station.kind}, which has no DME",
            f'Leave [arc] out, or give station.kind = "{station.kind}/DME".',
        )
    if arc.lead_radial_deg is None:
        return
    inbound_radial_deg = (procedure.inbound_course_deg + 180.0) % 360.0
    way = 1.0 if arc.direction == "clockwise" else -1.0
    before_deg = way * float(difference_deg(inbound_radial_deg, arc.lead_radial_deg))
    if not 0.0 <= before_deg <= LEAD_WITHIN_DEG:
        yield Problem(
            ("arc", "lead_radial_deg"),
            f"{arc.lead_radial_deg:g} does not lie before {inbound_radial_deg:g}, on which the inbound course is flown, "
            f"going {arc.direction}",
            f"It is met at most {LEAD_WITHIN_DEG:g} degrees before it.",
        )


def _visual_segment(procedure: Procedure) -> Iterator[Problem]:
    segment, station, final = procedure.visual_segment, procedure.station, procedure.final
    if segment is None or final is None or final.course_deg is None:
        return
    runway = procedure.runway
    if runway is None:
        yield Problem(
            ("visual_segment",),
            "there is no runway to fly to by eye",
            "Add [runway], or leave [visual_segment] out.",
        )
        return
    begins = segment.begins
    if begins is not None and begins.dme_nm is not None and not station.has_dme:
        article = "an" if station.is_ndb else "a"
        yield Problem(
            ("visual_segment", "begins", "dme_nm"),
            f"the station is {article} {station.kind}, which has no DME",
            f'Give minutes, leave begins out, or give station.kind = "{station.kind}/DME".',
        )
    if begins is not None and begins.minutes is not None and procedure.station_on_aerodrome:
        yield Problem(
            ("visual_segment", "begins", "minutes"),
            "a time counts from the station, which this final is flown to",
            "Give dme_nm, or leave begins out.",
        )
    if begins is not None:
        yield from _begins_before_the_point(procedure, begins)
    off_deg = abs(float(difference_deg(runway.course_true_deg, procedure.final_course_true_deg)))
    if off_deg > VISUAL_WITHIN_DEG:
        yield Problem(
            ("visual_segment",),
            f"the runway points {runway.course_true_deg:g} true, {off_deg:g} degrees from the final course",
            f"A visual segment leads to a runway within {VISUAL_WITHIN_DEG:g} degrees of the course.",
        )


def _begins_before_the_point(procedure: Procedure, begins: Extent) -> Iterator[Problem]:
    """Where both are given alike, the visual segment begins no later than the missed approach point."""
    final = procedure.final
    point = final.missed_approach_point if final is not None else None
    if point is None:
        return
    if begins.dme_nm is not None and point.dme_nm is not None:
        way = -1.0 if procedure.station_on_aerodrome else 1.0
        late, key = way * (begins.dme_nm - point.dme_nm) > 0.0, "dme_nm"
        text = f"{begins.dme_nm:g} DME lies past the missed approach point at {point.dme_nm:g} DME"
    elif begins.minutes is not None and point.minutes is not None:
        late, key = begins.minutes > point.minutes, "minutes"
        text = f"{begins.minutes:g} minutes end after the {point.minutes:g} of the missed approach point"
    else:
        return
    if late:
        yield Problem(
            ("visual_segment", "begins", key), text, "It begins at the missed approach point, or before it."
        )


def _circling(procedure: Procedure) -> Iterator[Problem]:
    circling, own = procedure.circling, procedure.runway
    if circling is None:
        return
    runway, low_ft = circling.runway, circling.altitude.low_ft
    if low_ft is None:
        yield Problem(
            ("circling", "altitude"),
            "the circling minimum is missing",
            "Give altitude = { at_or_above_ft = ... }.",
        )
        return
    if not runway.elevation_ft < low_ft <= runway.elevation_ft + HIGHEST_CIRCLING_FT:
        yield Problem(
            ("circling", "altitude"),
            f"the minimum of {low_ft:g} ft does not fit the runway's elevation of {runway.elevation_ft:g} ft",
            f"It lies above it, by {HIGHEST_CIRCLING_FT:,.0f} ft at most.",
        )
    minimum_ft = procedure.low_ft("final")
    if minimum_ft is not None and low_ft < minimum_ft:
        yield Problem(
            ("circling", "altitude"),
            f"the minimum of {low_ft:g} ft is lower than the {minimum_ft:g} ft of the final leg",
            "Circling takes no less than a landing straight in.",
        )
    if own is None:
        return
    apart_nm, _ = inverse(own.latitude, own.longitude, runway.latitude, runway.longitude)
    turned_deg = abs(float(difference_deg(own.course_true_deg, runway.course_true_deg)))
    if apart_nm < SAME_RUNWAY_NM and turned_deg < SAME_RUNWAY_DEG:
        yield Problem(
            ("circling", "runway"),
            f"it is the same as [runway] {own.ident}",
            "Give the runway that is landed on by circling.",
        )
    elif apart_nm > CIRCLED_TO_NM:
        yield Problem(
            ("circling", "runway"),
            f"its threshold lies {apart_nm:,.1f} NM from that of [runway]",
            f"Both lie on one aerodrome, within {CIRCLED_TO_NM:g} NM.",
        )


def _missed_approach(procedure: Procedure) -> Iterator[Problem]:
    missed, final = procedure.missed_approach, procedure.final
    if missed is None or final is None or final.altitude is None or final.altitude.low_ft is None:
        return
    minimum_ft = final.altitude.low_ft
    climb_ft = missed.altitude.high_ft if missed.altitude.low_ft is None else missed.altitude.low_ft
    if climb_ft is not None and climb_ft <= minimum_ft:
        yield Problem(
            ("missed_approach", "altitude"),
            f"{climb_ft:g} ft is not above the minimum of {minimum_ft:g} ft",
            "The missed approach climbs.",
        )
    if missed.turn_at_ft is None:
        return
    ground = "the threshold" if procedure.runway is not None else "the station"
    if missed.turn_at_ft <= procedure.ground_ft:
        yield Problem(
            ("missed_approach", "turn_at_ft"),
            f"{missed.turn_at_ft:g} ft is not above {ground}, which lies at {procedure.ground_ft:g} ft",
            "Altitudes are feet above mean sea level.",
        )
    if missed.turn is None:
        yield Problem(
            ("missed_approach", "turn_at_ft"),
            "it gives where to turn, but turn is missing",
            'Give turn = "left" or turn = "right", or leave it out.',
        )
    if climb_ft is not None and missed.turn_at_ft > climb_ft:
        yield Problem(
            ("missed_approach", "turn_at_ft"),
            f"{missed.turn_at_ft:g} is above the altitude of {climb_ft:g} ft to climb to",
            "The turn begins on the way there.",
        )


def _hold(procedure: Procedure) -> Iterator[Problem]:
    hold, station = procedure.hold, procedure.station
    if hold is None:
        return
    if hold.length is not None and hold.length.dme_nm is not None and not station.has_dme:
        article = "an" if station.is_ndb else "a"
        yield Problem(
            ("hold", "length", "dme_nm"),
            f"the station is {article} {station.kind}, which has no DME",
            f'Give minutes, or station.kind = "{station.kind}/DME".',
        )
    if hold.max_speed_kias is not None and hold.max_speed_kias < LEAST_SPEED_KIAS:
        yield Problem(
            ("hold", "max_speed_kias"),
            f"{hold.max_speed_kias:g} kt is slower than an aeroplane flies",
            f"It is the greatest indicated airspeed, {LEAST_SPEED_KIAS:g} kt at least.",
        )
    low_ft = hold.altitude.low_ft if hold.altitude is not None else None
    if low_ft is not None and low_ft <= station.elevation_ft:
        yield Problem(
            ("hold", "altitude"),
            f"{low_ft:g} ft is not above the station, which stands at {station.elevation_ft:g} ft",
            "Altitudes are feet above mean sea level.",
        )
