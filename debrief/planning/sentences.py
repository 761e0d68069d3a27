"""What a card says about the turn at the station, the reversal and the final.

Owns      those sentences.
Not here  how a number is written, the heading and the limits (``words``), where a sentence stands (``blocks``).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.language import sentence, tr
from debrief.navigation.descent import gradient_ft_nm
from debrief.navigation.turns import STEEPEST_FLY_BY_DEG, RuleOfThumbLead
from debrief.navigation.units import FEET_PER_NM, SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.planning.card import Card
from debrief.planning.final import FinalPlan
from debrief.planning.lead import Lead
from debrief.planning.limits import ROUNDING_NM
from debrief.planning.pattern import FlownReversal, Joining
from debrief.planning.timing import Timing
from debrief.planning.words import (
    clock,
    course,
    feet,
    leg_name,
    miles,
    pattern_name,
    side_name,
    whole,
)
from debrief.procedures.alignment import centre_line_crossing_nm, runway_off_deg
from debrief.procedures.entries import OFFSET_SECTOR_DEG, PARALLEL_SECTOR_DEG
from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import Pattern

EXAMPLE_CHANGE_DEG = 45.0  # the row of the table whose rule of thumb is gone through
_SAME_SECONDS = 1.0
_SAME_KT = 1.0
_AT_STATION_NM = 0.05


def lead_sentences(card: Card, lead: Lead) -> Iterator[str]:
    """The turn from the arrival course."""
    yield f"{_arrival(card, lead)} {_height(card)}"
    if lead.exact_nm is None:
        yield tr(
            "More than {limit:.0f}° is turned over the station, not before it.", limit=STEEPEST_FLY_BY_DEG
        )
        return
    dme = (
        tr(", where the DME reads {exact_dme_nm}", exact_dme_nm=miles(lead.exact_dme_nm or 0.0))
        if card.procedure.station.has_dme
        else ""
    )
    seconds = lead.exact_nm / lead.groundspeed_kt * SECONDS_PER_HOUR
    exact = tr(
        "Exact, r tan(change/2): {exact_nm} NM before it, {seconds:.0f} s{dme}.",
        exact_nm=miles(lead.exact_nm),
        seconds=seconds,
        dme=dme,
    )
    if lead.drifted_nm is not None and card.conditions.wind_speed_kt > 0.0:
        exact += " " + tr(
            "With the wind's drift during the turn: {drifted_nm} NM.", drifted_nm=miles(lead.drifted_nm)
        )
    yield exact
    yield from _rules(card, lead, tr("over the ground"))


def _arrival(card: Card, lead: Lead) -> str:
    course_deg = card.next_course_deg or 0.0
    arriving = tr("Arriving on {arrival_course_deg}", arrival_course_deg=course(lead.arrival_course_deg))
    if card.entry is not None:
        name = {"direct": tr("direct"), "offset": tr("offset (teardrop)"), "parallel": tr("parallel")}[
            card.entry
        ]
        return tr(
            "{arriving}: {name} entry into the racetrack, turn {side} {change_deg:.0f}° to {course_deg}.",
            arriving=arriving,
            name=name,
            side=side_name(lead.side),
            change_deg=lead.change_deg,
            course_deg=course(course_deg),
        )
    return tr(
        "{arriving}: turn {side} {change_deg:.0f}° onto {course_deg}.",
        arriving=arriving,
        side=side_name(lead.side),
        change_deg=lead.change_deg,
        course_deg=course(course_deg),
    )


def _height(card: Card) -> str:
    height_nm = card.station_height_ft / FEET_PER_NM
    return tr(
        "Height above the station {station_height_ft} ft, {height_nm} NM.",
        station_height_ft=whole(card.station_height_ft),
        height_nm=miles(height_nm),
    )


def leads_sentences(card: Card) -> Iterator[str]:
    """What the table of changes shows, and one row of it gone through."""
    windy = card.conditions.wind_speed_kt > 0.0
    drift = tr("; with drift, the wind's during the turn included") if windy else ""
    yield (
        tr(
            "Onto {course}. {height} In NM before the station: exact, r tan(change/2) over "
            "the ground{drift}; rule, the rule of thumb's DME reading.",
            course=course(card.next_course_deg or 0.0),
            height=_height(card),
            drift=drift,
        )
    )
    lead = next(lead for lead in card.leads if round(lead.change_deg) == EXAMPLE_CHANGE_DEG)
    yield from _rules(
        card,
        lead,
        tr("over the ground from {arrival_course_deg}", arrival_course_deg=course(lead.arrival_course_deg)),
    )


def _rules(card: Card, lead: Lead, which: str) -> Iterator[str]:
    """The rule of thumb at the ground speed, at the indicated speed where that differs, and what it needs."""
    indicated_kt = card.conditions.speed_kias
    steps = _steps(lead.rule, lead.groundspeed_kt, lead.change_deg)
    yield tr(
        "Rule of thumb (common practice) at {groundspeed_kt:.0f} kt {which}: {steps}",
        groundspeed_kt=lead.groundspeed_kt,
        which=which,
        steps=steps,
    )
    if abs(lead.groundspeed_kt - indicated_kt) >= _SAME_KT:
        yield (
            tr(
                "For want of a ground speed, at the {indicated_kt:g} kt indicated: {rule_at_indicated}",
                indicated_kt=indicated_kt,
                rule_at_indicated=_steps(lead.rule_at_indicated, indicated_kt, lead.change_deg),
            )
        )
    if not card.procedure.station.has_dme:
        yield tr("The rule gives a DME reading, which this station does not have.")


def _steps(rule: RuleOfThumbLead, speed_kt: float, change_deg: float) -> str:
    both_nm = rule.speed_part_nm + rule.margin_nm
    return tr(
        "{speed_kt:.0f}/60 × 1/3 = {speed_part_nm}; + 1/2 = {both_nm}; × {change_deg:.0f}/90 = "
        "{share_of_90_deg}; + height {height_part_nm} = {lead_nm} NM on the DME.",
        speed_kt=speed_kt,
        speed_part_nm=miles(rule.speed_part_nm),
        both_nm=miles(both_nm),
        change_deg=change_deg,
        share_of_90_deg=miles(both_nm * rule.share_of_90_deg),
        height_part_nm=miles(rule.height_part_nm),
        lead_nm=miles(rule.lead_nm),
    )


def entry_sentences(card: Card) -> Iterator[str]:
    """How a racetrack is entered, where the arrival is not known."""
    reversal, course_deg = card.procedure.reversal, card.procedure.outbound_course_deg
    if reversal is None or course_deg is None:
        return
    side = 1.0 if reversal.side == "right" else -1.0
    offset_deg, parallel_deg = course_deg - side * OFFSET_SECTOR_DEG, course_deg + side * PARALLEL_SECTOR_DEG
    yield tr(
        "{height} The entry depends on the course one arrives on (give --arrival):", height=_height(card)
    )
    yield (
        tr(
            "from {offset_deg} to {course_deg} offset (teardrop), from {course_deg} to "
            "{parallel_deg} parallel, from anywhere else direct, over the station and {side}.",
            offset_deg=course(offset_deg % 360),
            course_deg=course(course_deg),
            parallel_deg=course(parallel_deg % 360),
            side=side_name(reversal.side),
        )
    )


def pattern_title(card: Card) -> str:
    """The name of the pattern."""
    reversal = card.procedure.reversal
    if reversal is None or reversal.pattern is None:
        return tr("No reversal")
    name = pattern_name(str(reversal.pattern))
    return (
        tr("Outbound and {name}, {side}", name=name, side=side_name(reversal.side))
        if name[0].isdigit()
        else f"{sentence(name)}, {side_name(reversal.side)}"
    )


def reversal_sentences(card: Card) -> Iterator[str]:
    """Turns, times, reach, and how the course is joined."""
    flown, published, leg = card.reversal, card.as_published, card.procedure.reversal
    if flown is None or published is None or leg is None:
        return
    turns = card.turns
    yield (
        tr(
            "Turns: {true_airspeed_kt} kt true, bank {bank_deg:.0f}°, {turn_rate_deg_s:.1f}°/s, "
            "radius {radius_nm} NM; 180° take {half_turn:.0f} s.",
            true_airspeed_kt=whole(turns.true_airspeed_kt),
            bank_deg=turns.bank_deg,
            turn_rate_deg_s=turns.turn_rate_deg_s,
            radius_nm=miles(turns.radius_nm),
            half_turn=180.0 / turns.turn_rate_deg_s,
        )
    )
    yield from _times(card, flown)
    yield _reach(flown, leg.within_nm)
    yield _joins(flown)
    if card.reversal_ft_min is not None:
        yield (
            tr(
                "It takes {reversal_s} and {reversal_ft} ft are to be lost in it: at least "
                "{reversal_ft_min} ft/min.",
                reversal_s=clock(flown.reversal_s),
                reversal_ft=whole(card.reversal_ft),
                reversal_ft_min=whole(card.reversal_ft_min),
            )
        )
    else:
        yield tr(
            "It takes {reversal_s} from the turn off until the course is joined.",
            reversal_s=clock(flown.reversal_s),
        )
    if card.conditions.wind_speed_kt > 0.0:
        yield (
            tr(
                "With the published headings and times, nothing allowed: farthest {farthest_nm:.1f} NM, "
                "{joining}.",
                farthest_nm=published.farthest_nm,
                joining=_joins_briefly(published.joining),
            )
        )


def _times(card: Card, flown: FlownReversal) -> Iterator[str]:
    for row in card.legs:
        if row.timing is not None:
            yield f"{leg_name(row.name)}: {_timing(row.timing)}"
    reversal = card.procedure.reversal
    if reversal is None:
        return
    if reversal.pattern is Pattern.PROCEDURE_TURN_80_260 and flown.legs:
        held_s = flown.legs[0].seconds
        yield (
            tr(
                "Hold the 80° heading for {held_s:.0f} s before turning back, so that the turn ends on "
                "the course.",
                held_s=held_s,
            )
            if held_s >= _SAME_SECONDS
            else tr("Turn back at once: the wind leaves room enough.")
        )
    if reversal.pattern is Pattern.RACETRACK and card.conditions.wind_speed_kt > 0.0:
        yield from _racetrack_correction(card)


def _racetrack_correction(card: Card) -> Iterator[str]:
    """The exact outbound heading against three times the inbound correction."""
    outbound = next((row for row in card.legs if row.phase == "outbound"), None)
    inbound = next((row for row in card.legs if row.phase in ("intermediate", "final")), None)
    if outbound is None or inbound is None or outbound.course_deg is None:
        return
    tripled_deg = card.procedure.true_deg(outbound.course_deg) - 3.0 * inbound.correction_deg
    yield (
        tr(
            "Outbound heading {heading_true_deg} ends the turn on the course; three times the "
            "inbound correction (AIM 5-3-8) would be {tripled_deg}.",
            heading_true_deg=course(card.magnetic_deg(outbound.heading_true_deg)),
            tripled_deg=course(card.magnetic_deg(tripled_deg)),
        )
    )


def _timing(timing: Timing) -> str:
    if abs(timing.allowed_s - timing.published_s) < _SAME_SECONDS:
        return tr("{published_s}, as published.", published_s=clock(timing.published_s))
    return tr(
        "fly {allowed_s}, which is the published {published_s} of still air in this wind; by the rule of "
        "thumb, a second a knot in each minute (common practice), {rule_s}.",
        allowed_s=clock(timing.allowed_s),
        published_s=clock(timing.published_s),
        rule_s=clock(timing.rule_s),
    )


def _reach(flown: FlownReversal, within_nm: float | None) -> str:
    reach, width = flown.farthest_nm, flown.width_nm
    if within_nm is None:
        return tr("Farthest from the station {reach:.1f} NM; {width:.1f} NM wide.", reach=reach, width=width)
    spare_nm = within_nm - reach
    return tr(
        "Farthest from the station {reach:.2f} NM of the {within:g} NM allowed, {left:.2f} NM to spare; {width:.1f} NM "
        "wide."
        if spare_nm >= -ROUNDING_NM
        else "Farthest from the station {reach:.2f} NM of the {within:g} NM allowed, {left:.2f} NM too far; {width:.1f} "
        "NM wide.",
        reach=reach,
        within=within_nm,
        left=abs(spare_nm),
        width=width,
    )


def _joins(flown: FlownReversal) -> str:
    joining = flown.joining
    where = tr(
        "{distance:.1f} NM before the station"
        if joining.along_nm > 0.0
        else "{distance:.1f} NM past the station",
        distance=abs(joining.along_nm),
    )
    match joining.how:
        case "intercept":
            straight_s = flown.legs[-1].seconds
            return tr(
                "Intercepts at {angle_deg:.0f}° after {straight_s:.0f} s straight; on course {where}.",
                angle_deg=joining.angle_deg,
                straight_s=straight_s,
                where=where,
            )
        case "turn":
            return tr("The last turn ends on the course, {where}: no straight intercept.", where=where)
        case "never":
            return tr("The heading back hardly closes on the course in this wind: it is not joined.")
        case _:
            return tr(
                "The last turn runs {overshoot_nm} NM past the course{joining}; joined from the far side "
                "{where}.",
                overshoot_nm=miles(joining.overshoot_nm),
                joining=_crossing(joining),
                where=where,
            )


def _crossing(joining: Joining) -> str:
    return (
        tr(" (crossed at {angle_deg:.0f}°)", angle_deg=joining.angle_deg)
        if joining.angle_deg is not None
        else ""
    )


def _joins_briefly(joining: Joining) -> str:
    if joining.how == "intercept":
        return tr("intercept at {angle_deg:.0f}°", angle_deg=joining.angle_deg)
    if joining.how == "turn":
        return tr("the last turn ends on the course")
    if joining.how == "never":
        return tr("the heading back hardly closes on the course")
    return tr(
        "the last turn runs {overshoot_nm} NM past the course", overshoot_nm=miles(joining.overshoot_nm)
    )


def joins_in_short(joining: Joining) -> str:
    """How the course is joined, for a cell of a table."""
    if joining.how == "intercept":
        return tr("at {angle_deg:.0f}°", angle_deg=joining.angle_deg)
    if joining.how == "through":
        return tr("{overshoot_nm} NM past", overshoot_nm=miles(joining.overshoot_nm))
    return tr("in the turn") if joining.how == "turn" else tr("never")


def way_to(card: Card) -> str:
    """Which way the final's distances count: from the station, or to it."""
    ident = card.procedure.station.ident
    return (
        tr("to {ident}", ident=ident)
        if card.procedure.station_on_aerodrome
        else tr("from {ident}", ident=ident)
    )


def final_sentences(card: Card, final: FinalPlan) -> Iterator[str]:
    """Descent, where it begins and ends, and when the approach is missed."""
    if final.angle_deg is not None and final.rate_ft_min is not None:
        source = tr("published") if final.angle_published else tr("what it takes")
        yield (
            tr(
                "Descent {angle_deg:.1f}° ({source}), {gradient:.0f} ft/NM: {rate_ft_min} ft/min at "
                "{groundspeed_kt} kt over the ground (five times that, for 3°, common practice: "
                "{rule_rate_ft_min}).",
                angle_deg=final.angle_deg,
                source=source,
                gradient=gradient_ft_nm(final.angle_deg),
                rate_ft_min=whole(final.rate_ft_min),
                groundspeed_kt=whole(final.groundspeed_kt),
                rule_rate_ft_min=whole(final.rule_rate_ft_min),
            )
        )
    leg = card.procedure.final
    if final.too_low_published and leg is not None and leg.descent_angle_deg is not None:
        yield (
            tr(
                "The published {descent_angle_deg:.1f}° would begin below the {start_ft} ft allowed there.",
                descent_angle_deg=leg.descent_angle_deg,
                start_ft=feet(final.start_ft or 0.0),
            )
        )
    descent = _descent(card, final)
    if descent:
        yield descent
    yield from _missed(card, final)
    yield from (text for text in (_guided(card), _by_eye(card), _circling(card)) if text)


def _guided(card: Card) -> str:
    """What the final is flown by, and its full scale; empty where that is the station."""
    given, guidance = card.procedure.final_guidance, guidance_of(card.procedure)
    if given is None or guidance is None:
        return ""
    half = guidance.full_scale / 2.0
    if guidance.unit == "NM":
        return tr(
            "The final is a satellite course: full scale {scale:.2f} NM to each side, established within {half:.2f} NM.",
            scale=guidance.full_scale,
            half=half,
        )
    return tr(
        "The final is flown by a localiser: full scale {scale:.1f}° to each side, established within {half:.1f}°.",
        scale=guidance.full_scale,
        half=half,
    )


def _by_eye(card: Card) -> str:
    """Where the final course is left for the runway, and which way; empty without a visual segment."""
    procedure = card.procedure
    segment, runway, off_deg = procedure.visual_segment, procedure.runway, runway_off_deg(procedure)
    if segment is None or runway is None or off_deg is None:
        return ""
    begins = segment.begins
    where = tr("the missed approach point")
    if begins is not None and begins.dme_nm is not None:
        where = tr("{dme:.1f} DME", dme=begins.dme_nm)
    elif begins is not None and begins.minutes is not None:
        ident = procedure.station.ident
        where = tr("{time} after {ident}", time=clock(begins.minutes * SECONDS_PER_MINUTE), ident=ident)
    crossing = centre_line_crossing_nm(procedure)
    if crossing is None:
        return tr("From {where} by eye to runway {ident}, straight ahead.", where=where, ident=runway.ident)
    return tr(
        "From {where} by eye to runway {ident}, {angle:.0f}° to the right of the course; the course crosses its centre "
        "line {before:.1f} NM before the threshold."
        if off_deg > 0.0
        else "From {where} by eye to runway {ident}, {angle:.0f}° to the left of the course; the course crosses its "
        "centre line {before:.1f} NM before the threshold.",
        where=where,
        ident=runway.ident,
        angle=abs(off_deg),
        before=crossing[1],
    )


def _circling(card: Card) -> str:
    """The minimum for circling, and its side; empty where there is none."""
    circling = card.procedure.circling
    if circling is None or circling.altitude.low_ft is None:
        return ""
    minimum, ident = feet(circling.altitude.low_ft), circling.runway.ident
    if circling.side is None:
        return tr(
            "Circling to runway {ident}: not below {minimum} ft until the base turn.",
            ident=ident,
            minimum=minimum,
        )
    return tr(
        "Circling to runway {ident}: not below {minimum} ft until the base turn, only on its right side as landed."
        if circling.side == "right"
        else "Circling to runway {ident}: not below {minimum} ft until the base turn, only on its left side as landed.",
        ident=ident,
        minimum=minimum,
    )


def _descent(card: Card, final: FinalPlan) -> str:
    parts = []
    if final.descent_nm is not None and final.start_ft is not None:
        at = _place(card, final.descent_nm, final.descent_dme_nm)
        parts.append(tr("begin the descent from {start_ft} ft {at}", start_ft=whole(final.start_ft), at=at))
    if final.minimum_at_nm is not None and final.minimum_ft is not None:
        at = _place(card, final.minimum_at_nm, final.minimum_at_dme_nm)
        parts.append(tr("at the minimum of {minimum_ft} ft {at}", minimum_ft=whole(final.minimum_ft), at=at))
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _place(card: Card, along_nm: float, reading_nm: float | None) -> str:
    if abs(along_nm) < _AT_STATION_NM:
        return tr("at {ident}", ident=card.procedure.station.ident)
    if reading_nm is not None:
        return tr("at {reading_nm:.1f} DME", reading_nm=reading_nm)
    return tr(
        "{distance:.1f} NM before {ident}" if along_nm < 0.0 else "{distance:.1f} NM past {ident}",
        distance=abs(along_nm),
        ident=card.procedure.station.ident,
    )


def _missed(card: Card, final: FinalPlan) -> Iterator[str]:
    leg, ident = card.procedure.final, card.procedure.station.ident
    point = leg.missed_approach_point if leg is not None else None
    since = (
        tr("after {ident}", ident=ident)
        if not card.procedure.station_on_aerodrome
        else tr("after joining the course")
    )
    if final.published_s is not None:
        place = (
            tr(", {end_nm:.1f} NM past it at this ground speed", end_nm=final.end_nm)
            if final.end_nm is not None
            else ""
        )
        yield tr(
            "Missed approach point: {published_s} {since} as published{place}.",
            published_s=clock(final.published_s),
            since=since,
            place=place,
        )
    elif final.to_end_s is not None:
        where = (
            tr("at {dme_nm:.1f} DME", dme_nm=point.dme_nm)
            if point is not None and point.dme_nm is not None
            else tr("at the threshold")
        )
        if point is None and card.procedure.station_on_aerodrome:
            where = tr("at {ident}", ident=ident)
        yield tr(
            "Missed approach point {where}: {to_end_s} {since}.",
            where=where,
            to_end_s=clock(final.to_end_s),
            since=since,
        )
    if final.to_threshold_s is not None and (final.published_s is not None or point is not None):
        yield tr(
            "Abeam the threshold {to_threshold_s} {since}."
            if card.procedure.visual_segment is None
            else "Over the threshold {to_threshold_s} {since}.",
            to_threshold_s=clock(final.to_threshold_s),
            since=since,
        )
