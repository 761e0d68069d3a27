"""What could be read from the instruments at a moment, in plain sentences.

Owns      those sentences and the lines of figures above them.
Not here  the readings themselves (measures.shown), their pictures (``instruments``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from debrief.procedures.model import Procedure
from debrief.reports.words import bearing, elapsed, number, quantity
from debrief.result import Attempt, Shown

CENTRED_DEG = 1.0  # so near the middle a needle is read as centred: a tenth of its scale
_FROM_THE_NOSE_DEG = 5.0  # so near it a pointer is read as on the nose, or the tail
_POINT_APART_NM = 0.05
_ABOUT_FT = 20.0

TITLES = {
    "turn at the station": "Turn at the station",
    "station passage": "Station passage",
    "turn off": "Turn off",
    "needle alive": "Needle alive",
    "established": "Established",
    "second passage": "Second passage",
    "minimum": "At the minimum",
}


def figures(shown: Shown, *, has_dme: bool) -> str:
    """DME and altitude, as far as they are known."""
    distance = f"DME {quantity(shown.dme_nm, 'NM', decimals=1)}" if has_dme else "no DME"
    altitude = "no altitude" if shown.altitude_ft is None else quantity(shown.altitude_ft, "ft")
    return f"{distance}, {altitude}"


def title(shown: Shown, *, pointer: bool) -> str:
    """The name of a moment; a pointer has no needle."""
    return "Pointer comes in" if pointer and shown.moment == "needle alive" else TITLES[shown.moment]


def sentences(shown: Shown, attempt: Attempt, procedure: Procedure) -> str:
    """What could be read there: the station, the course, and what the moment is for."""
    return " ".join((*_read(shown, procedure), *_meant(shown, attempt, procedure)))


def _read(shown: Shown, procedure: Procedure) -> Iterator[str]:
    pointer = procedure.station.kind.startswith("NDB")
    if shown.cone:
        what, one = (
            ("the pointer swings and says", "pointer") if pointer else ("needle and flag say", "needle")
        )
        yield f"Over the station {what} nothing: fly headings there, not the {one}."
        return
    off_deg = shown.deviation_deg
    if shown.course_deg is None or off_deg is None:
        return
    course = bearing(shown.course_deg)
    if pointer:
        yield from _pointer(shown, off_deg, course)
        return
    side = "left" if off_deg > 0 else "right"  # of the aircraft: where the needle stands
    if shown.deflection is not None and abs(shown.deflection) >= 1.0:
        yield f"Needle at its {side} stop: {course} lies over {quantity(shown.full_scale, 'deg', decimals=0)} {side}."
    elif abs(off_deg) < CENTRED_DEG:
        yield f"Needle centred: on {course}."
    else:
        yield (
            f"Needle {quantity(abs(off_deg), 'deg')} {side}: {course} lies {quantity(_aside_nm(shown), 'NM')} {side}."
        )


def _pointer(shown: Shown, off_deg: float, course: str) -> Iterator[str]:
    side = "left" if off_deg > 0 else "right"
    relative = shown.relative_bearing_deg
    if relative is not None:
        from_nose_deg = (relative + 180.0) % 360.0 - 180.0
        ahead, which = abs(from_nose_deg), "right" if from_nose_deg > 0 else "left"
        if ahead <= _FROM_THE_NOSE_DEG:
            yield "Pointer on the nose."
        elif ahead >= 180.0 - _FROM_THE_NOSE_DEG:
            yield "Pointer on the tail."
        elif ahead <= 90.0:
            yield f"Pointer {ahead:.0f}° {which} of the nose."
        else:
            yield f"Pointer {180.0 - ahead:.0f}° {which} of the tail."
    if abs(off_deg) < CENTRED_DEG:
        yield f"Bearing {bearing(shown.bearing_deg)}: on {course}."
    else:
        yield (
            f"Bearing {bearing(shown.bearing_deg)}: {course} lies {quantity(_aside_nm(shown), 'NM')} to the {side}."
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
        if turn.exact_lead_nm is not None:
            way = "before" if turn.lead_nm >= 0 else "past"
            right = quantity(turn.exact_lead_nm, "NM")
            yield (
                f"Begun {quantity(abs(turn.lead_nm), 'NM')} {way} the station; {right} before it suits "
                f"{quantity(abs(turn.change_deg), 'deg', decimals=0)} at {quantity(turn.groundspeed_kt, 'kt')}."
            )
    elif shown.moment in ("station passage", "second passage"):
        if not shown.cone:
            yield f"Closest point, {quantity(shown.distance_nm, 'NM')} aside: the flag changes as it comes abeam."
        elif shown.dme_nm is not None:
            yield f"The DME reads the height: {quantity(shown.dme_nm, 'NM', decimals=1)} at the least."
    elif shown.moment == "turn off":
        yield from _turn_off(attempt, procedure)
    elif shown.moment == "needle alive":
        pointer = procedure.station.kind.startswith("NDB")
        if shown.why:
            never = "Never more than 10° off" if pointer else "Never at its stop"
            yield f"{never} on the way in, it stood farthest out here: from now on it comes in."
        else:
            now = "It comes within 10° of the course" if pointer else "It leaves its stop"
            yield f"{now}: have the inbound heading ready."
    elif shown.moment == "established":
        yield "Within 5° of the course, flying along it: the next altitude may be taken up."
    elif shown.moment == "minimum":
        yield from _minimum(shown, procedure)


def _turn_off(attempt: Attempt, procedure: Procedure) -> Iterator[str]:
    leg, outbound = procedure.outbound, attempt.measures.outbound
    if leg is None or leg.length is None or outbound is None:
        return
    if leg.length.dme_nm is not None:
        yield f"Published: turn at DME {number(leg.length.dme_nm, 1)}."
    elif leg.length.minutes is not None and outbound.time_from_passage_s is not None:
        published = elapsed(60.0 * leg.length.minutes)
        yield f"The clock reads {elapsed(outbound.time_from_passage_s)} min:s; published: {published}."


def _minimum(shown: Shown, procedure: Procedure) -> Iterator[str]:
    leg = procedure.final
    limit = leg.altitude.low_ft if leg is not None and leg.altitude is not None else None
    if limit is not None and shown.altitude_ft is not None:
        off_ft = shown.altitude_ft - limit
        where = "above" if off_ft >= 0 else "below"
        if abs(off_ft) < _ABOUT_FT:
            yield f"At the minimum of {quantity(limit, 'ft')}."
        else:
            yield f"{quantity(abs(off_ft), 'ft')} {where} the minimum of {quantity(limit, 'ft')}."
    point = leg.missed_approach_point if leg is not None else None
    if point is None or point.dme_nm is None or shown.dme_nm is None:
        return
    to_go_nm = point.dme_nm - shown.dme_nm
    if shown.to_from == "TO":
        to_go_nm = -to_go_nm
    if abs(to_go_nm) >= _POINT_APART_NM:
        where = "before" if to_go_nm > 0 else "past"
        yield (
            f"{quantity(abs(to_go_nm), 'NM', decimals=1)} {where} the missed approach point, "
            f"DME {number(point.dme_nm, 1)}."
        )
