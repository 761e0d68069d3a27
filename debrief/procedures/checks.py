"""What must hold between the keys of a procedure, beyond the range of each one.

Owns      what is wrong with a procedure whose single values are all in range.
Not here  the range of a single key (``model``), the wording of the whole line (``toml_reader``), what is
          merely unusual (``remarks``).
Source    The keys and which leg takes them: DEVELOPERS.md, "Procedure file".
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians
from typing import TYPE_CHECKING

from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import inverse
from debrief.procedures.checks_around import around_the_legs
from debrief.procedures.checks_guidance import final_guidance
from debrief.procedures.checks_steps import Problem, step_downs

if TYPE_CHECKING:
    from debrief.procedures.model import Leg, Procedure

PHASES = ("inbound", "outbound", "course_reversal", "intermediate", "final")

#: The keys a leg of each phase takes, in the order people write them.
KEYS_OF_PHASE = {
    "inbound": ("phase", "altitude"),
    "outbound": ("phase", "radial_deg", "course_deg", "length", "altitude"),
    "course_reversal": (
        "phase",
        "pattern",
        "side",
        "within_nm",
        "leg_seconds",
        "max_speed_kias",
        "when_straight_in_deg",
        "altitude",
    ),
    "intermediate": ("phase", "course_deg", "altitude"),
    "final": (
        "phase",
        "course_deg",
        "altitude",
        "step_down",
        "missed_approach_point",
        "descent_angle_deg",
    ),
}

# How far apart the directions of a pattern may lie before the file is more likely wrong than unusual.
RECIPROCAL_WITHIN_DEG = 30.0  # the outbound radial of a procedure turn from the inbound course's reciprocal
PARALLEL_WITHIN_DEG = 15.0  # the outbound course of a racetrack from the same
BASE_TURN_DEG = (1.0, 90.0)  # the outbound radial of a base turn from the same
INTERMEDIATE_WITHIN_DEG = 30.0  # the intermediate course from the final course
RUNWAY_WITHIN_NM = 30.0  # the threshold from the station
HIGHEST_MINIMUM_FT = 5000.0  # the minimum descent altitude above the threshold


def problems(procedure: Procedure) -> tuple[Problem, ...]:
    """Every contradiction in a procedure, in the order of the file.

    One mistake is told once: what leads from leg to leg is looked at where every leg is there with its keys, and what
    stands about the runway where the runway is in its place.
    """
    order = tuple(_order(procedure))
    if order:
        return order
    legs = (
        *(problem for index, leg in enumerate(procedure.leg) for problem in _keys(index, leg)),
        *_needs(procedure),
    )
    if legs:
        return legs
    distances, altitudes = tuple(_distances(procedure)), tuple(_altitudes(procedure))
    minimum_fits = not any(problem.where == _minimum_at(procedure) for problem in altitudes)
    found = (
        *_dme(procedure),
        *_directions(procedure),
        *distances,
        *altitudes,
        *(step_downs(procedure) if minimum_fits else ()),
    )
    if any(problem.where == ("runway",) for problem in distances):
        return found
    return (*found, *final_guidance(procedure), *around_the_legs(procedure))


def _order(procedure: Procedure) -> Iterator[Problem]:
    phases = [leg.phase for leg in procedure.leg]
    for index, phase in enumerate(phases):
        if phase in phases[:index]:
            yield Problem(("leg", index, "phase"), f"there are two {phase} legs", "Leave one.")
        elif index and PHASES.index(phase) < PHASES.index(phases[index - 1]):
            yield Problem(
                ("leg", index, "phase"),
                f"the {phase} leg comes after the {phases[index - 1]} leg",
                f"Legs stand in the order flown: {', '.join(PHASES)}.",
            )
    if "final" not in phases:
        yield Problem(("leg",), "there is no final leg", 'Add a [[leg]] with phase = "final" at the end.')
    if "outbound" in phases and "course_reversal" not in phases:
        yield Problem(
            ("leg", phases.index("outbound"), "phase"),
            "there is an outbound leg but no course_reversal leg",
            "Add the reversal, or leave out the outbound leg of a straight-in approach.",
        )
    if "course_reversal" in phases and "outbound" not in phases:
        yield Problem(
            ("leg", phases.index("course_reversal"), "phase"),
            "there is a course_reversal leg but no outbound leg",
            "Add the outbound leg before it.",
        )
    if "intermediate" in phases and not {"outbound", "course_reversal"} & set(phases):
        yield Problem(
            ("leg", phases.index("intermediate"), "phase"),
            "there is an intermediate leg but no course_reversal leg",
            "A straight-in approach takes an inbound and a final leg only.",
        )


def _keys(index: int, leg: Leg) -> Iterator[Problem]:
    allowed = KEYS_OF_PHASE[leg.phase]
    for key in sorted(leg.model_fields_set - set(allowed)):
        yield Problem(
            ("leg", index, key),
            f"{key} does not belong to a leg of this phase",
            f"It takes {', '.join(allowed)}.",
        )


def _needs(procedure: Procedure) -> Iterator[Problem]:
    for index, leg in enumerate(procedure.leg):
        if leg.phase == "outbound":
            yield from _outbound_needs(procedure, index, leg)
        if leg.phase == "course_reversal":
            yield from _reversal_needs(procedure, index, leg)
        if leg.phase in ("intermediate", "final") and leg.course_deg is None:
            yield Problem(
                ("leg", index, "course_deg"), "the key is missing", "Give the magnetic course flown inbound."
            )
        if leg.phase == "final" and (leg.altitude is None or leg.altitude.low_ft is None):
            yield Problem(
                ("leg", index, "altitude"),
                "the minimum descent altitude is missing",
                "Give altitude = { at_or_above_ft = ... }.",
            )


def _outbound_needs(procedure: Procedure, index: int, leg: Leg) -> Iterator[Problem]:
    reversal = procedure.reversal
    if reversal is not None and reversal.pattern == "racetrack":
        if leg.radial_deg is not None:
            yield Problem(
                ("leg", index, "radial_deg"),
                "the outbound leg of a racetrack is flown beside the radial, not on it",
                "Give course_deg, parallel to the inbound course.",
            )
        elif leg.course_deg is None:
            yield Problem(
                ("leg", index, "course_deg"),
                "the key is missing",
                "The outbound leg of a racetrack takes course_deg, parallel to the inbound course.",
            )
        if leg.length is None and not reversal.leg_seconds:
            yield Problem(
                ("leg", index, "length"),
                "nothing ends the outbound leg of the racetrack",
                "Give length = { dme_nm = ... } here, or leg_seconds in the course_reversal leg.",
            )
        return
    if leg.course_deg is not None:
        yield Problem(
            ("leg", index, "course_deg"),
            "only the outbound leg of a racetrack takes course_deg",
            "Give radial_deg, the radial flown outbound.",
        )
    elif leg.radial_deg is None:
        yield Problem(("leg", index, "radial_deg"), "the key is missing", "Give the radial flown outbound.")
    if leg.length is None:
        yield Problem(
            ("leg", index, "length"),
            "the key is missing",
            "Give length = { dme_nm = ... } or length = { minutes = ... }.",
        )


def _reversal_needs(procedure: Procedure, index: int, leg: Leg) -> Iterator[Problem]:
    if leg.pattern is None:
        yield Problem(
            ("leg", index, "pattern"),
            "the key is missing",
            'Give one of "45/180", "80/260", "base turn", "racetrack".',
        )
    elif leg.side is None and leg.pattern != "base turn":
        yield Problem(
            ("leg", index, "side"),
            "the key is missing",
            'Give the side of the outbound course on which it is flown: "left" or "right".',
        )
    outbound = procedure.outbound
    by_time = outbound is not None and outbound.length is not None and outbound.length.dme_nm is None
    if leg.pattern == "racetrack" and leg.leg_seconds == 0 and by_time:
        yield Problem(
            ("leg", index, "leg_seconds"),
            "it is 0, but no DME distance ends the outbound leg of the racetrack",
            "Give the seconds flown outbound, or length = { dme_nm = ... } in the outbound leg.",
        )
    if leg.pattern == "45/180" and leg.leg_seconds == 0:
        yield Problem(
            ("leg", index, "leg_seconds"), "it is 0, but a 45/180 needs its 45-degree leg", "Give 60, or 75."
        )


def _dme(procedure: Procedure) -> Iterator[Problem]:
    if procedure.station.has_dme:
        return
    kind = procedure.station.kind
    article = "an" if procedure.station.is_ndb else "a"
    remedy = f'Give minutes, or station.kind = "{kind}/DME".'
    for index, leg in enumerate(procedure.leg):
        for key, extent in (("length", leg.length), ("missed_approach_point", leg.missed_approach_point)):
            if extent is not None and extent.dme_nm is not None:
                yield Problem(
                    ("leg", index, key, "dme_nm"),
                    f"the station is {article} {kind}, which has no DME",
                    remedy,
                )
        if any(step.until_dme_nm is not None for step in leg.step_down):
            yield Problem(
                ("leg", index, "step_down"),
                f"the station is {article} {kind}, which has no DME to step down by",
                f'Leave it out, or give station.kind = "{kind}/DME".',
            )


def _directions(procedure: Procedure) -> Iterator[Problem]:
    final, intermediate = procedure.final, procedure.leg_of("intermediate")
    if final is None or final.course_deg is None:
        return
    against_the_others = tuple(_back_against_the_others(procedure))
    if against_the_others:
        yield from against_the_others
        return
    if intermediate is not None and intermediate.course_deg is not None:
        off_deg = abs(difference_deg(intermediate.course_deg, final.course_deg))
        if off_deg > INTERMEDIATE_WITHIN_DEG:
            yield Problem(
                ("leg", procedure.leg.index(intermediate), "course_deg"),
                f"{intermediate.course_deg:g} lies {off_deg:g} degrees from the final course {final.course_deg:g}",
                f"The two agree within {INTERMEDIATE_WITHIN_DEG:g} degrees.",
            )
            return
    outbound, reversal = procedure.outbound, procedure.reversal
    if outbound is None or reversal is None or (course_deg := procedure.outbound_course_deg) is None:
        return
    reciprocal_deg = (procedure.inbound_course_deg + 180.0) % 360.0
    off_deg = difference_deg(course_deg, reciprocal_deg)
    where = ("leg", procedure.leg.index(outbound))
    text = (
        f"{course_deg:g} lies {abs(off_deg):g} degrees from {reciprocal_deg:g}, the way back along the inbound course "
        f"{procedure.inbound_course_deg:g}; one of the two is wrong"
    )
    if _goes_out(reversal.pattern, course_deg, procedure.inbound_course_deg):
        return
    if reversal.pattern == "racetrack":
        yield Problem((*where, "course_deg"), text, "The legs of a racetrack are parallel.")
    elif reversal.pattern == "base turn":
        least_deg, most_deg = BASE_TURN_DEG
        yield Problem(
            (*where, "radial_deg"), text, f"In a base turn it is {least_deg:g} to {most_deg:g} degrees."
        )
    else:
        yield Problem(
            (*where, "radial_deg"), text, f"In a {reversal.pattern} the two agree within a few degrees."
        )


def _goes_out(pattern: str | None, outbound_deg: float, inbound_deg: float) -> bool:
    """Whether an outbound direction and the course back in can belong to one reversal of that pattern."""
    off_deg = abs(difference_deg(outbound_deg, inbound_deg + 180.0))
    if pattern == "racetrack":
        return off_deg <= PARALLEL_WITHIN_DEG
    if pattern == "base turn":
        return BASE_TURN_DEG[0] <= off_deg <= BASE_TURN_DEG[1]
    return off_deg <= RECIPROCAL_WITHIN_DEG


def _back_against_the_others(procedure: Procedure) -> Iterator[Problem]:
    """A final course that the outbound leg and another witness, the intermediate leg or the runway, speak against."""
    final, intermediate, reversal = procedure.final, procedure.leg_of("intermediate"), procedure.reversal
    outbound_deg = procedure.outbound_course_deg
    if final is None or final.course_deg is None or reversal is None or outbound_deg is None:
        return
    along_deg = intermediate.course_deg if intermediate is not None else None
    if along_deg is not None and _goes_out(reversal.pattern, outbound_deg, along_deg):
        witness, direction_deg = "the intermediate course", along_deg
    elif procedure.runway is not None and procedure.visual_segment is None:
        witness = "the runway's direction by the station's alignment"
        direction_deg = round(
            (procedure.runway.course_true_deg - procedure.station.declination_deg) % 360.0, 1
        )
        if not _goes_out(reversal.pattern, outbound_deg, direction_deg):
            return
    else:
        return
    if abs(difference_deg(final.course_deg, direction_deg)) <= INTERMEDIATE_WITHIN_DEG:
        return
    for leg in (intermediate, final):
        if leg is None or leg.course_deg is None:
            continue
        off_deg = abs(difference_deg(leg.course_deg, direction_deg))
        if off_deg > INTERMEDIATE_WITHIN_DEG:
            yield Problem(
                ("leg", procedure.leg.index(leg), "course_deg"),
                f"{leg.course_deg:g} lies {off_deg:g} degrees from {direction_deg:g}, {witness}, which the outbound leg "
                "agrees with",
                "Give the magnetic course flown inbound.",
            )


def _minimum_at(procedure: Procedure) -> tuple[str | int, ...]:
    """Where the minimum stands, in a procedure whose legs are in order: at the end."""
    return ("leg", len(procedure.leg) - 1, "altitude")


def station_to_threshold(procedure: Procedure) -> tuple[float, float] | None:
    """Distance [NM] and true bearing [deg] from the station to the threshold; ``None`` without a runway."""
    station, runway = procedure.station, procedure.runway
    if runway is None:
        return None
    return inverse(station.latitude, station.longitude, runway.latitude, runway.longitude)


def _distances(procedure: Procedure) -> Iterator[Problem]:
    threshold = station_to_threshold(procedure)
    if threshold is not None and threshold[0] > RUNWAY_WITHIN_NM:
        yield Problem(
            ("runway",),
            f"the threshold lies {threshold[0]:,.0f} NM from the station",
            "Latitude and longitude of one of the two seem to be exchanged."
            if _is_swapped(procedure)
            else "Check latitude and longitude of both: south and west are negative.",
        )
        return
    yield from _visual_before_the_threshold(procedure, threshold)
    outbound, reversal = procedure.outbound, procedure.reversal
    if outbound is None or reversal is None or reversal.within_nm is None or outbound.length is None:
        return
    if outbound.length.dme_nm is not None and outbound.length.dme_nm > reversal.within_nm:
        yield Problem(
            ("leg", procedure.leg.index(reversal), "within_nm"),
            f"{reversal.within_nm:g} leaves no room after an outbound leg to {outbound.length.dme_nm:g} DME",
            "It counts from the station and holds the whole reversal.",
        )


def _is_swapped(procedure: Procedure) -> bool:
    """Whether the threshold, taken the other way round, lies near the station."""
    station, runway = procedure.station, procedure.runway
    if runway is None or abs(runway.longitude) > 90.0:
        return False
    distance_nm, _ = inverse(station.latitude, station.longitude, runway.longitude, runway.latitude)
    return distance_nm <= RUNWAY_WITHIN_NM


def _visual_before_the_threshold(
    procedure: Procedure, threshold: tuple[float, float] | None
) -> Iterator[Problem]:
    segment, final = procedure.visual_segment, procedure.final
    begins = segment.begins if segment is not None else None
    if (
        threshold is None
        or final is None
        or final.course_deg is None
        or begins is None
        or begins.dme_nm is None
    ):
        return
    off = radians(threshold[1] - procedure.final_course_true_deg)
    along_nm, way = threshold[0] * cos(off), -1.0 if procedure.station_on_aerodrome else 1.0
    if way * begins.dme_nm >= along_nm:
        yield Problem(
            ("visual_segment", "begins", "dme_nm"),
            f"{begins.dme_nm:g} DME lies past the threshold, which is {abs(along_nm):.1f} NM from the station along "
            "the final course",
            "It begins before the runway.",
        )


def _altitudes(procedure: Procedure) -> Iterator[Problem]:
    station_ft = procedure.station.elevation_ft
    limits = [
        (index, highest_ft)
        for index, leg in enumerate(procedure.leg)
        if leg.altitude is not None and leg.phase != "final"
        if (highest_ft := leg.altitude.low_ft if leg.altitude.high_ft is None else leg.altitude.high_ft)
        is not None
    ]
    under = [
        Problem(
            ("leg", index, "altitude"),
            f"{highest_ft:g} ft is not above the station, which stands at {station_ft:g} ft",
            "Altitudes are feet above mean sea level.",
        )
        for index, highest_ft in limits
        if highest_ft <= station_ft
    ]
    one_slip = len(under) == len(limits)  # in the station's elevation
    yield from under[:1] if one_slip else under
    final = procedure.final
    if final is None or final.altitude is None or (minimum_ft := final.altitude.low_ft) is None:
        return
    where = _minimum_at(procedure)
    if procedure.runway is not None:
        runway_ft = procedure.runway.elevation_ft
        if not runway_ft < minimum_ft <= runway_ft + HIGHEST_MINIMUM_FT:
            yield Problem(
                where,
                f"the minimum of {minimum_ft:g} ft does not fit the threshold's elevation of {runway_ft:g} ft",
                f"It lies above it, by {HIGHEST_MINIMUM_FT:,.0f} ft at most.",
            )
    for leg in procedure.leg:
        if leg is final or leg.altitude is None or leg.altitude.low_ft is None:
            continue
        if leg.altitude.low_ft < minimum_ft:
            yield Problem(
                where,
                f"the minimum of {minimum_ft:g} ft is higher than the {leg.altitude.low_ft:g} ft of the {leg.phase} leg",
                "The final leg descends.",
            )
            return
