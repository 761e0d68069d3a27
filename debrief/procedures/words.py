"""A procedure in plain words, as a pilot would brief it aloud.

Owns      the briefing: a paragraph for the station, the runway and each leg, with every figure and its unit.
Not here  the picture (``reports``), what is unusual about a procedure (``remarks``).
"""

from __future__ import annotations

from debrief.language import figure, tr
from debrief.navigation.angles import wrap_360
from debrief.navigation.descent import descent_rate_ft_min, gradient_ft_nm
from debrief.procedures.alignment import centre_line_crossing_nm, runway_off_deg
from debrief.procedures.checks import station_to_threshold
from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import AltitudeLimit, Extent, Leg, Pattern, Procedure, Station, StepDown

CAUTION = (
    "For simulator flying and training only. Not for navigation: the published procedure, its current chart "
    "and the clearance given prevail."
)
BRIEFED_GROUNDSPEED_KT = 120.0  # the speed for which a rate of descent is said
OTHER_SIDE = {"left": "right", "right": "left"}


def describe(procedure: Procedure) -> str:
    """The briefing of a procedure: paragraphs with an empty line between them, the caution last.

    Radials and courses are magnetic in three figures, altitudes feet above mean sea level, distances NM.
    """
    leg_words = {
        "inbound": _inbound,
        "outbound": _outbound,
        "course_reversal": _reversal,
        "intermediate": _intermediate,
        "final": _final,
    }
    paragraphs = [
        f"{procedure.name}. {procedure.note}".strip(),
        _station(procedure),
        _runway(procedure),
        *(leg_words[leg.phase](procedure, leg) for leg in procedure.leg),
        *around_words(procedure).values(),
        CAUTION,
    ]
    return "\n\n".join(paragraph for paragraph in paragraphs if paragraph)


def three_figures(direction_deg: float) -> str:
    """A magnetic direction as spoken: ``044``, ``360``, ``044.5``."""
    rounded_deg = round(float(wrap_360(direction_deg)), 1) % 360.0 or 360.0
    return f"{rounded_deg:03.0f}" if rounded_deg.is_integer() else f"{rounded_deg:05.1f}"


def limit_words(limit: AltitudeLimit) -> str:
    """An altitude restriction: ``at or above 3,500 ft``."""
    if limit.between_ft is not None:
        return f"between {limit.between_ft[0]:,.0f} and {limit.between_ft[1]:,.0f} ft"
    if limit.at_ft is not None:
        return f"at {limit.at_ft:,.0f} ft"
    if limit.at_or_above_ft is not None:
        return f"at or above {limit.at_or_above_ft:,.0f} ft"
    return f"at or below {limit.at_or_below_ft:,.0f} ft"


def extent_words(extent: Extent) -> str:
    """How far or how long: ``5.0 DME``, ``1 minute 30 seconds``."""
    if extent.dme_nm is not None:
        return f"{extent.dme_nm:.1f} DME"
    return time_words((extent.minutes or 0.0) * 60.0)


def until_words(step: StepDown) -> str:
    """What ends a step: ``2.0 DME``, ``radial 183 of MWX``."""
    if step.until_radial is not None:
        radial = three_figures(step.until_radial.radial_deg)
        return tr("radial {radial} of {station}", radial=radial, station=step.until_radial.station)
    return f"{figure(step.until_dme_nm or 0.0, '.1f')} DME"


def time_words(seconds: float) -> str:
    """A time as spoken: ``60 seconds``, ``1 minute 30 seconds``, ``3 minutes``."""
    whole, rest = divmod(round(seconds), 60)
    minutes = f"{whole} minute{'' if whole == 1 else 's'}" if whole else ""
    rest_words = f"{rest} second{'' if rest == 1 else 's'}" if rest or not whole else ""
    return f"{minutes} {rest_words}".strip()


def _station(procedure: Procedure) -> str:
    station = procedure.station
    place = f"{_degrees(station.latitude, 'NS')} {_degrees(station.longitude, 'EW')}"
    article = "an" if station.is_ndb else "a"
    zero = f"zero {line_word(station)}"
    declination_deg = station.declination_deg
    side = f"{abs(declination_deg):.1f} degrees {'east' if declination_deg > 0 else 'west'} of true north"
    return (
        f"Station: {station.ident}, {article} {station.kind} at {place}, elevation {station.elevation_ft:,.0f} ft. "
        f"Its {zero} points {side if declination_deg else 'to true north'}."
    )


def line_word(station: Station) -> str:
    """What a line from the station is called: a radial, or a bearing where it is an NDB."""
    return "bearing" if station.is_ndb else "radial"


def _degrees(value_deg: float, letters: str) -> str:
    return f"{abs(value_deg):.4f} {letters[0] if value_deg >= 0 else letters[1]}"


def _runway(procedure: Procedure) -> str:
    runway, threshold = procedure.runway, station_to_threshold(procedure)
    if runway is None or threshold is None:
        return "Runway: none given. Nothing is measured past the missed approach point."
    distance_nm, bearing_true_deg = threshold
    on = f"{line_word(procedure.station)} {three_figures(round(bearing_true_deg - procedure.station.declination_deg))}"
    return (
        f"Runway: {runway.ident}, threshold elevation {runway.elevation_ft:,.0f} ft, {distance_nm:.1f} NM from the "
        f"station on {on}. The runway points {three_figures(runway.course_true_deg)} degrees true."
    )


def _inbound(procedure: Procedure, leg: Leg) -> str:
    return f"Inbound: fly to {procedure.station.ident}, from anywhere{_at(leg)}."


def _at(leg: Leg) -> str:
    return f", {limit_words(leg.altitude)}" if leg.altitude is not None else ""


def _outbound(procedure: Procedure, leg: Leg) -> str:
    ident, reversal = procedure.station.ident, procedure.reversal
    if leg.course_deg is not None and reversal is not None:
        until = _racetrack_end(leg, reversal)
        return (
            f"Outbound: over {ident}, turn {reversal.side} to {three_figures(leg.course_deg)} and fly beside the "
            f"inbound course{until}{_at(leg)}."
        )
    how_long = f" to {extent_words(leg.length)}" if leg.length is not None else ""
    if leg.length is not None and leg.length.minutes is not None:
        how_long = f" for {extent_words(leg.length)} from the station"
    on = f"{line_word(procedure.station)} {three_figures(leg.radial_deg or 0.0)}"
    return f"Outbound: from {ident} on {on}{how_long}{_at(leg)}."


def _racetrack_end(leg: Leg, reversal: Leg) -> str:
    parts = []
    if reversal.leg_seconds:
        parts.append(f"for {time_words(reversal.leg_seconds)}")
    if leg.length is not None and leg.length.dme_nm is not None:
        parts.append(f"to {extent_words(leg.length)}")
    elif leg.length is not None:
        parts.append(f"until {extent_words(leg.length)} after the station")
    return f" {', '.join(parts)}" if parts else ""


def _reversal(procedure: Procedure, leg: Leg) -> str:
    course = procedure.outbound_course_deg or 0.0
    inbound = three_figures(procedure.inbound_course_deg)
    side = leg.side or "left"
    away, back = f"turn {side}", f"turn {OTHER_SIDE[side]}"
    sign = 1.0 if side == "right" else -1.0
    first_deg = {Pattern.PROCEDURE_TURN_45_180: 45.0, Pattern.PROCEDURE_TURN_80_260: 80.0}
    turned = three_figures(course + sign * first_deg[leg.pattern]) if leg.pattern in first_deg else ""
    match leg.pattern:
        case Pattern.PROCEDURE_TURN_45_180:
            seconds = f", fly that leg for {time_words(leg.leg_seconds)}" if leg.leg_seconds else ""
            opposite = three_figures(course + sign * 45.0 + 180.0)
            shape = (
                f"45/180 on the {side} side of the outbound course: {away} 45 degrees to {turned}{seconds}, then "
                f"{back} 180 degrees to {opposite} and intercept {inbound} inbound"
            )
        case Pattern.PROCEDURE_TURN_80_260:
            shape = (
                f"80/260 on the {side} side of the outbound course: {away} 80 degrees to {turned}, then at once "
                f"{back} 260 degrees and intercept {inbound} inbound"
            )
        case Pattern.BASE_TURN:
            shape = f"base turn: {away} to intercept {inbound} inbound"
        case _:
            shape = f"racetrack: {away} to intercept {inbound} inbound"
    limits = []
    if leg.within_nm is not None:
        limits.append(f"within {leg.within_nm:g} NM of the station")
    if leg.max_speed_kias is not None:
        limits.append(f"not above {leg.max_speed_kias:g} kt indicated")
    if leg.altitude is not None:
        limits.append(limit_words(leg.altitude))
    stay = f" Stay {', '.join(limits)}." if limits else ""
    return f"Course reversal: {shape}.{stay}{_when_straight_in(procedure, leg)}"


def _when_straight_in(procedure: Procedure, leg: Leg) -> str:
    if leg.when_straight_in_deg is None:
        return ""
    return (
        f" It may be left out on arriving within {leg.when_straight_in_deg:g} degrees of the course of "
        f"{three_figures(procedure.inbound_course_deg)}."
    )


def _intermediate(procedure: Procedure, leg: Leg) -> str:
    course = three_figures(leg.course_deg or 0.0)
    return f"Intermediate: established on {course}, inbound to {procedure.station.ident}{_at(leg)}."


def _final(procedure: Procedure, leg: Leg) -> str:
    ident, course = procedure.station.ident, three_figures(leg.course_deg or 0.0)
    towards = procedure.station_on_aerodrome
    where = f"established on {course}, towards {ident}" if towards else f"from {ident} on {course}"
    sentences = [f"Final: {where}."]
    sentences += [
        f"Not below {step.at_or_above_ft:,.0f} ft until {until_words(step)}." for step in leg.step_down
    ]
    if leg.altitude is not None and leg.altitude.low_ft is not None:
        sentences.append(_minimum(procedure, leg.altitude.low_ft))
    sentences.append(_missed_approach_point(procedure, leg))
    if leg.descent_angle_deg is not None:
        rate = float(descent_rate_ft_min(BRIEFED_GROUNDSPEED_KT, leg.descent_angle_deg))
        sentences.append(
            f"The descent angle is {leg.descent_angle_deg:.1f} degrees: {gradient_ft_nm(leg.descent_angle_deg):.0f} "
            f"ft a mile, {round(rate, -1):.0f} ft/min at {BRIEFED_GROUNDSPEED_KT:.0f} kt over the ground."
        )
    return " ".join(sentences)


def around_words(procedure: Procedure) -> dict[str, str]:
    """What stands beside the legs, by its key, a paragraph each; what is not given is left out."""
    parts = {
        "arc": _arc,
        "final_guidance": _final_guidance,
        "visual_segment": _visual_segment,
        "circling": _circling,
        "missed_approach": _missed_approach,
        "hold": _hold,
    }
    found = {key: part(procedure) for key, part in parts.items()}
    return {key: words for key, words in found.items() if words}


def _arc(procedure: Procedure) -> str:
    arc = procedure.arc
    if arc is None:
        return ""
    lead = ""
    if arc.lead_radial_deg is not None:
        lead = f", at {line_word(procedure.station)} {three_figures(arc.lead_radial_deg)}"
    limit = f", {limit_words(arc.altitude)}" if arc.altitude is not None else ""
    return (
        f"Arc: {arc.direction} round {procedure.station.ident} at {arc.dme_nm:.1f} DME{limit}; turn inbound onto "
        f"{three_figures(procedure.inbound_course_deg)}{lead}."
    )


def _final_guidance(procedure: Procedure) -> str:
    given, guidance = procedure.final_guidance, guidance_of(procedure)
    if given is None or guidance is None:
        return ""
    course = f"{three_figures(guidance.course_true_deg)} degrees true"
    if given.kind == "satellite":
        return (
            f"Guidance on final: a satellite course to the threshold, {course}. Full scale of the needle is "
            f"{guidance.full_scale:.2f} NM to each side."
        )
    antenna = given.antenna
    past_ft = antenna.past_threshold_ft if antenna is not None else None
    stands = f" {past_ft:,.0f} ft past the threshold" if past_ft is not None else ""
    return (
        f"Guidance on final: a localiser{stands}, {course}. Full scale of the needle is {guidance.full_scale:.1f} "
        "degrees to each side."
    )


def _visual_segment(procedure: Procedure) -> str:
    segment, runway, final = procedure.visual_segment, procedure.runway, procedure.final
    if segment is None or runway is None or final is None or final.course_deg is None:
        return ""
    begins = "the missed approach point"
    if segment.begins is not None:
        after = "" if segment.begins.dme_nm is not None else f" after {procedure.station.ident}"
        begins = f"{extent_words(segment.begins)}{after}"
    return f"Visual segment: from {begins} fly by eye to runway {runway.ident}{_lies_off(procedure, final)}."


def _lies_off(procedure: Procedure, final: Leg) -> str:
    """How the runway lies to the final course."""
    off_deg, crossing = runway_off_deg(procedure) or 0.0, centre_line_crossing_nm(procedure)
    if abs(off_deg) < 0.5 or crossing is None:
        return ", along the final course"
    side = "right" if off_deg > 0 else "left"
    place = f"{crossing[1]:.1f} NM before the threshold" if crossing[1] > 0.05 else "not before the threshold"
    return (
        f", which points {abs(off_deg):.0f} degrees to the {side} of {three_figures(final.course_deg or 0.0)}; "
        f"the course crosses its centre line {place}"
    )


def _circling(procedure: Procedure) -> str:
    circling = procedure.circling
    if circling is None:
        return ""
    runway, low_ft = circling.runway, circling.altitude.low_ft or 0.0
    side = ""
    if circling.side is not None:
        side = f", only on its {circling.side} side as landed, so with turns to the {circling.side}"
    return (
        f"Circling: to runway {runway.ident}{side}, not below {low_ft:,.0f} ft, {low_ft - runway.elevation_ft:,.0f} ft "
        f"above its threshold, until the base turn. It points {three_figures(runway.course_true_deg)} degrees true."
    )


def _missed_approach(procedure: Procedure) -> str:
    missed, course_deg = procedure.missed_approach, procedure.missed_approach_course_deg
    if missed is None or course_deg is None:
        return ""
    turn = ""
    if missed.turn is not None:
        no_lower = f", no lower than {missed.turn_at_ft:,.0f} ft," if missed.turn_at_ft is not None else ""
        turn = f", then{no_lower} turn {missed.turn} back to {procedure.station.ident}"
    hold = " and hold" if procedure.hold is not None and missed.turn is not None else ""
    return (
        f"Missed approach: climb on {three_figures(course_deg)}{turn}{hold}; climb to "
        f"{climb_words(missed.altitude)}."
    )


def climb_words(limit: AltitudeLimit) -> str:
    """The altitude of a climb: ``3,000 ft or above``."""
    if limit.at_or_above_ft is not None:
        return f"{limit.at_or_above_ft:,.0f} ft or above"
    if limit.at_or_below_ft is not None:
        return f"{limit.at_or_below_ft:,.0f} ft or below"
    return limit_words(limit).removeprefix("at ")


def _hold(procedure: Procedure) -> str:
    hold = procedure.hold
    if hold is None:
        return ""
    length = extent_words(hold.length) if hold.length is not None else "1 minute"
    by_dme = hold.length is not None and hold.length.dme_nm is not None
    limits = [limit_words(hold.altitude)] if hold.altitude is not None else []
    if hold.max_speed_kias is not None:
        limits.append(f"not above {hold.max_speed_kias:g} kt indicated")
    stay = f" Stay {', '.join(limits)}." if limits else ""
    return (
        f"Hold: over {procedure.station.ident}, inbound on {three_figures(hold.course_deg)}, turns to the {hold.side}, "
        f"outbound {'to' if by_dme else 'for'} {length}.{stay}"
    )


def _minimum(procedure: Procedure, minimum_ft: float) -> str:
    above = (
        f", {minimum_ft - procedure.runway.elevation_ft:,.0f} ft above the threshold"
        if procedure.runway is not None
        else ""
    )
    return f"The minimum descent altitude is {minimum_ft:,.0f} ft{above}."


def _missed_approach_point(procedure: Procedure, leg: Leg) -> str:
    point, ident = leg.missed_approach_point, procedure.station.ident
    if point is not None and point.dme_nm is not None:
        return f"The missed approach point is at {extent_words(point)}."
    if point is not None:
        return f"The missed approach point is {extent_words(point)} after {ident}."
    if procedure.station_on_aerodrome:
        return f"The missed approach point is {ident}."
    return "No missed approach point is given; the threshold is taken for it."
