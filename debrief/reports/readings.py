"""What could be read from the instruments at a moment, in plain sentences.

Owns      those sentences and the lines of figures above them.
Not here  the readings themselves (measures.shown), their pictures (``instruments``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from debrief.grading.needle_scale import by_pointer
from debrief.grading.practice import OVERHEAD_FROM_DEG
from debrief.grading.words import side_of
from debrief.language import mark, tr
from debrief.procedures.model import Pattern, Phase, Procedure
from debrief.reports.words import bearing, elapsed, measured, number, quantity
from debrief.result import Attempt, Result, Shown

CENTRED_DEG = 1.0  # so near the middle a needle is read as centred: a tenth of its scale
_CENTRED_SHARE = 0.1
_FROM_THE_NOSE_DEG = 5.0  # so near it a pointer is read as on the nose, or the tail
_POINT_APART_NM = 0.05
_ABOUT_FT = 20.0
_AT_MOST_ABOVE_FT = 100.0  # of who flies at a minimum. Mark: common practice

#: A turn begun before the station, and past it; where one begun over it would have been as good.
_BEGUN: dict[bool, tuple[str, str]] = mark(
    {
        False: (
            "Begun {lead} before the station; {right} before it suits {change} at {speed}.",
            "Begun {lead} past the station; {right} before it suits {change} at {speed}.",
        ),
        True: (
            "Begun {lead} before the station; {right} before it suits {change} at {speed}, and so does turning over it.",
            "Begun {lead} past the station; {right} before it suits {change} at {speed}, and so does turning over it.",
        ),
    }
)
#: About at it, above it, below it; of a final, and of a flight that circled to another runway.
_AT_A_MINIMUM: dict[bool, tuple[str, str, str]] = mark(
    {
        False: (
            "At the minimum of {limit}.",
            "{height} above the minimum of {limit}.",
            "{height} below the minimum of {limit}.",
        ),
        True: (
            "At the circling minimum of {limit}.",
            "{height} above the circling minimum of {limit}.",
            "{height} below the circling minimum of {limit}.",
        ),
    }
)

TITLES = mark(
    {
        "turn at the station": "Turn at the station",
        "station passage": "Station passage",
        "turn off": "Turn off",
        "needle alive": "Needle alive",
        "established": "Established",
        "second passage": "Second passage",
        "minimum": "At the minimum",
    }
)


def pointer_leads_in(result: Result) -> bool:
    """Whether the course back in was flown by the pointer of an NDB; not known of a result read back."""
    if result.flight is None:
        return False
    procedure = result.flight.procedure
    return by_pointer(procedure, Phase.INTERMEDIATE if procedure.has_intermediate else Phase.FINAL)


def figures(shown: Shown, *, has_dme: bool) -> str:
    """DME and altitude, as far as they are known."""
    distance = f"DME {quantity(shown.dme_nm, 'NM', decimals=1)}" if has_dme else tr("no DME")
    altitude = tr("no altitude") if shown.altitude_ft is None else measured(shown.altitude_ft, "ft")
    return f"{distance}, {altitude}"


def title(shown: Shown, attempt: Attempt, procedure: Procedure) -> str:
    """The name of a moment; a pointer has no needle, and a final broken off far above it never was at its minimum."""
    if shown.moment == "needle alive" and procedure.station.is_ndb:
        return tr("Pointer comes in")
    if shown.moment == "minimum" and shown.altitude_ft is not None:
        limit_ft = procedure.minimum_ft(circled=attempt.measures.circling is not None)
        if limit_ft is not None and shown.altitude_ft > limit_ft + _AT_MOST_ABOVE_FT:
            return tr("Lowest on final")
    return tr(TITLES[shown.moment])


def sentences(shown: Shown, attempt: Attempt, procedure: Procedure) -> str:
    """What could be read there: the station, the course, and what the moment is for."""
    return " ".join((*_read(shown, procedure), *_meant(shown, attempt, procedure)))


def _read(shown: Shown, procedure: Procedure) -> Iterator[str]:
    if by_guidance(shown, procedure):
        yield from _guided(shown)
        return
    pointer = procedure.station.is_ndb
    if shown.cone:
        yield (
            tr("Over the station the pointer swings and says nothing: fly headings there, not the pointer.")
            if pointer
            else tr("Over the station needle and flag say nothing: fly headings there, not the needle.")
        )
        return
    off_deg = shown.deviation_deg
    if shown.course_deg is None or off_deg is None:
        return
    course = bearing(shown.course_deg)
    reversal = procedure.reversal
    racetrack = reversal is not None and reversal.pattern is Pattern.RACETRACK
    against = shown.moment == "turn off" and racetrack  # there the course back in is set, and flown against
    if pointer:
        yield from _pointer(shown, -off_deg if against else off_deg, course)
        return
    side = side_of(-off_deg)  # of the aircraft: where the needle stands
    if against and abs(off_deg) >= CENTRED_DEG:
        yield _flown_against(shown, side, side_of(off_deg), course)
        return
    leaves_its_stop = shown.moment == "needle alive"  # which it then stands at, or a hair off it
    if shown.deflection is not None and abs(shown.deflection) >= 1.0 and not leaves_its_stop:
        yield tr(
            "Needle at its {side} stop: {course} lies more than {full_scale} {side}.",
            side=side,
            course=course,
            full_scale=quantity(shown.full_scale, "deg", decimals=0),
        )
    elif abs(off_deg) < CENTRED_DEG:
        yield tr("Needle centred: on {course}.", course=course)
    else:
        yield (
            tr(
                "Needle {off_deg} {side}: {course} lies {distance} {side}.",
                off_deg=quantity(abs(off_deg), "deg"),
                side=side,
                course=course,
                distance=quantity(_aside_nm(shown), "NM"),
            )
        )


def _flown_against(shown: Shown, needle: str, side: str, course: str) -> str:
    """The needle stands away from where the course lies."""
    if shown.deflection is not None and abs(shown.deflection) >= 1.0:
        return tr(
            "Needle at its {needle} stop; flown against {course}, which lies more than {full_scale} to the {side}.",
            needle=needle,
            side=side,
            course=course,
            full_scale=quantity(shown.full_scale, "deg", decimals=0),
        )
    return tr(
        "Needle {off_deg} {needle}; flown against {course}, which lies {distance} to the {side}.",
        off_deg=quantity(abs(shown.deviation_deg or 0.0), "deg"),
        needle=needle,
        side=side,
        course=course,
        distance=quantity(_aside_nm(shown), "NM"),
    )


def by_guidance(shown: Shown, procedure: Procedure) -> bool:
    """Whether a moment is read by the needle of a localiser or a satellite course, not by the station's."""
    if shown.phase is None or procedure.final_guidance is None:
        return False
    back_in = shown.moment in ("needle alive", "established") and not procedure.has_intermediate
    return shown.moment == "minimum" or back_in


def _guided(shown: Shown) -> Iterator[str]:
    if shown.course_deg is None or shown.deflection is None or shown.full_scale is None:
        return
    unit = shown.full_scale_unit or "deg"
    decimals = 2 if unit == "NM" else 1
    course, scale = bearing(shown.course_deg), quantity(shown.full_scale, unit, decimals=decimals)
    side = side_of(-shown.deflection)
    if abs(shown.deflection) >= 1.0:
        yield tr(
            "Needle at its {side} stop: {course} lies more than {full_scale} {side}.",
            side=side,
            course=course,
            full_scale=scale,
        )
    elif abs(shown.deflection) < _CENTRED_SHARE:
        yield tr("Needle centred: on {course}.", course=course)
    else:
        off = quantity(abs(shown.deflection) * shown.full_scale, unit, decimals=decimals)
        yield tr(
            "Needle {off} {side}, of {full_scale} to its stop: {course} lies to the {side}.",
            off=off,
            side=side,
            full_scale=scale,
            course=course,
        )


def _pointer(shown: Shown, off_deg: float, course: str) -> Iterator[str]:
    side = side_of(-off_deg)
    relative = shown.relative_bearing_deg
    if relative is not None:
        from_nose_deg = (relative + 180.0) % 360.0 - 180.0
        ahead, which = abs(from_nose_deg), side_of(from_nose_deg)
        if ahead <= _FROM_THE_NOSE_DEG:
            yield tr("Pointer on the nose.")
        elif ahead >= 180.0 - _FROM_THE_NOSE_DEG:
            yield tr("Pointer on the tail.")
        elif ahead <= 90.0:
            yield tr("Pointer {ahead:.0f}° {which} of the nose.", ahead=ahead, which=which)
        else:
            yield tr("Pointer {ahead:.0f}° {which} of the tail.", ahead=180.0 - ahead, which=which)
    if abs(off_deg) < CENTRED_DEG:
        yield tr("Bearing {bearing_deg}: on {course}.", bearing_deg=bearing(shown.bearing_deg), course=course)
    else:
        yield (
            tr(
                "Bearing {bearing_deg}: {course} lies {distance} to the {side}.",
                bearing_deg=bearing(shown.bearing_deg),
                course=course,
                distance=quantity(_aside_nm(shown), "NM"),
                side=side,
            )
        )


def _aside_nm(shown: Shown) -> float | None:
    """How far the course lies to the side; where it is abeam or behind, as far as the station. [NM]"""
    if shown.distance_nm is None or shown.deviation_deg is None:
        return None
    return shown.distance_nm * math.sin(math.radians(min(abs(shown.deviation_deg), 90.0)))


def _meant(shown: Shown, attempt: Attempt, procedure: Procedure) -> Iterator[str]:
    measures = attempt.measures
    if shown.moment == "turn at the station" and measures.turn is not None:
        turn = measures.turn
        either_way = abs(turn.change_deg) >= OVERHEAD_FROM_DEG and turn.lead_nm < (turn.exact_lead_nm or 0.0)
        if turn.exact_lead_nm is not None:
            before, past = _BEGUN[either_way]
            yield tr(
                before if turn.lead_nm >= 0 else past,
                lead=quantity(abs(turn.lead_nm), "NM"),
                right=quantity(turn.exact_lead_nm, "NM"),
                change=quantity(abs(turn.change_deg), "deg", decimals=0),
                speed=quantity(turn.groundspeed_kt, "kt"),
            )
        else:
            yield tr(
                "Begun {lead} before the station; a change of {change} is turned over it."
                if turn.lead_nm >= 0
                else "Begun {lead} past the station; a change of {change} is turned over it.",
                lead=quantity(abs(turn.lead_nm), "NM"),
                change=quantity(abs(turn.change_deg), "deg", decimals=0),
            )
    elif shown.moment in ("station passage", "second passage"):
        if not shown.cone:
            yield tr(
                "Closest point, {distance_nm} aside: the flag changes as it comes abeam.",
                distance_nm=quantity(shown.distance_nm, "NM"),
            )
        elif shown.dme_nm is not None:
            yield tr(
                "The DME reads the height: {dme_nm} at the least.",
                dme_nm=quantity(shown.dme_nm, "NM", decimals=1),
            )
    elif shown.moment == "turn off":
        yield from _turn_off(attempt, procedure)
    elif shown.moment == "needle alive":
        pointer = procedure.station.is_ndb
        if shown.why:
            yield (
                tr(
                    "Within 10° before the aircraft headed in, it stood farthest out here: from now on it comes in."
                )
                if pointer
                else tr(
                    "Off its stop before the aircraft headed in, it stood farthest out here: from now on it comes in."
                )
            )
        else:
            yield (
                tr("It comes within 10° of the course: have the inbound heading ready.")
                if pointer
                else tr("It leaves its stop: have the inbound heading ready.")
            )
    elif shown.moment == "established":
        yield (
            tr("Within half of full scale of the course, flying along it: the next altitude may be taken up.")
            if by_guidance(shown, procedure)
            else tr("Within 5° of the course, flying along it: the next altitude may be taken up.")
        )
    elif shown.moment == "minimum":
        yield from _minimum(shown, attempt, procedure)


def _turn_off(attempt: Attempt, procedure: Procedure) -> Iterator[str]:
    leg, outbound = procedure.outbound, attempt.measures.outbound
    if leg is None or leg.length is None or outbound is None:
        return
    if leg.length.dme_nm is not None:
        yield tr("Published: turn at DME {dme_nm}.", dme_nm=number(leg.length.dme_nm, 1))
    elif leg.length.minutes is not None and outbound.time_from_passage_s is not None:
        published = elapsed(60.0 * leg.length.minutes)
        yield tr(
            "The clock reads {time} min:s; published: {published}.",
            time=elapsed(outbound.time_from_passage_s),
            published=published,
        )


def _minimum(shown: Shown, attempt: Attempt, procedure: Procedure) -> Iterator[str]:
    circled = attempt.measures.circling is not None
    limit = procedure.minimum_ft(circled=circled)
    if limit is not None and shown.altitude_ft is not None:
        off_ft = shown.altitude_ft - limit
        about, above, below = _AT_A_MINIMUM[circled]
        yield tr(
            about if abs(off_ft) < _ABOUT_FT else above if off_ft >= 0 else below,
            height=measured(abs(off_ft), "ft"),
            limit=quantity(limit, "ft"),
        )
    point = procedure.final.missed_approach_point if procedure.final is not None else None
    if point is None or point.dme_nm is None or shown.dme_nm is None:
        return
    to_go_nm = point.dme_nm - shown.dme_nm
    if shown.to_from == "TO":
        to_go_nm = -to_go_nm
    if abs(to_go_nm) >= _POINT_APART_NM:
        yield tr(
            "{distance} before the missed approach point, DME {dme}."
            if to_go_nm > 0
            else "{distance} past the missed approach point, DME {dme}.",
            distance=quantity(abs(to_go_nm), "NM", decimals=1),
            dme=number(point.dme_nm, 1),
        )
