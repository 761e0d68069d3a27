"""What a card says about the turn at the station, the reversal and the final.

Owns      those sentences.
Not here  how a number is written, the heading and the limits (``words``), where a sentence stands (``blocks``).
"""

from __future__ import annotations

from collections.abc import Iterator

from debrief.navigation.descent import gradient_ft_nm
from debrief.navigation.turns import RuleOfThumbLead
from debrief.navigation.units import FEET_PER_NM, SECONDS_PER_HOUR
from debrief.planning.card import Card
from debrief.planning.final import FinalPlan
from debrief.planning.lead import STEEPEST_FLY_BY_DEG, Lead
from debrief.planning.pattern import FlownReversal, Joining
from debrief.planning.timing import Timing
from debrief.planning.words import clock, course, feet, miles, whole
from debrief.procedures.entries import OFFSET_SECTOR_DEG, PARALLEL_SECTOR_DEG
from debrief.procedures.model import Pattern

EXAMPLE_CHANGE_DEG = 45.0  # the row of the table whose rule of thumb is gone through
_SAME_SECONDS = 1.0
_SAME_KT = 1.0
_AT_STATION_NM = 0.05


def lead_sentences(card: Card, lead: Lead) -> Iterator[str]:
    """The turn from the arrival course."""
    yield f"{_arrival(card, lead)} {_height(card)}"
    if lead.exact_nm is None:
        yield f"More than {STEEPEST_FLY_BY_DEG:.0f}° is turned over the station, not before it."
        return
    dme = f", where the DME reads {miles(lead.exact_dme_nm or 0.0)}" if card.procedure.station.has_dme else ""
    seconds = lead.exact_nm / lead.groundspeed_kt * SECONDS_PER_HOUR
    exact = f"Exact, r tan(change/2): {miles(lead.exact_nm)} NM before it, {seconds:.0f} s{dme}."
    if lead.drifted_nm is not None and card.conditions.wind_speed_kt > 0.0:
        exact += f" With the wind's drift during the turn: {miles(lead.drifted_nm)} NM."
    yield exact
    yield from _rules(card, lead, "over the ground")


def _arrival(card: Card, lead: Lead) -> str:
    course_deg = card.next_course_deg or 0.0
    arriving = f"Arriving on {course(lead.arrival_course_deg)}"
    if card.entry is not None:
        name = {"direct": "direct", "offset": "offset (teardrop)", "parallel": "parallel"}[card.entry]
        return (
            f"{arriving}: {name} entry into the racetrack, turn {lead.side} {lead.change_deg:.0f}° to "
            f"{course(course_deg)}."
        )
    return f"{arriving}: turn {lead.side} {lead.change_deg:.0f}° onto {course(course_deg)}."


def _height(card: Card) -> str:
    height_nm = card.station_height_ft / FEET_PER_NM
    return f"Height above the station {whole(card.station_height_ft)} ft, {miles(height_nm)} NM."


def leads_sentences(card: Card) -> Iterator[str]:
    """What the table of changes shows, and one row of it gone through."""
    windy = card.conditions.wind_speed_kt > 0.0
    drift = "; with drift, the wind's during the turn included" if windy else ""
    yield (
        f"Onto {course(card.next_course_deg or 0.0)}. {_height(card)} In NM before the station: exact, r tan(change/2) "
        f"over the ground{drift}; rule, the rule of thumb's DME reading."
    )
    lead = next(lead for lead in card.leads if round(lead.change_deg) == EXAMPLE_CHANGE_DEG)
    yield from _rules(card, lead, f"over the ground from {course(lead.arrival_course_deg)}")


def _rules(card: Card, lead: Lead, which: str) -> Iterator[str]:
    """The rule of thumb at the ground speed, at the indicated speed where that differs, and what it needs."""
    indicated_kt = card.conditions.speed_kias
    steps = _steps(lead.rule, lead.groundspeed_kt, lead.change_deg)
    yield f"Rule of thumb (common practice) at {lead.groundspeed_kt:.0f} kt {which}: {steps}"
    if abs(lead.groundspeed_kt - indicated_kt) >= _SAME_KT:
        yield (
            f"For want of a ground speed, at the {indicated_kt:g} kt indicated: "
            f"{_steps(lead.rule_at_indicated, indicated_kt, lead.change_deg)}"
        )
    if not card.procedure.station.has_dme:
        yield "The rule gives a DME reading, which this station does not have."


def _steps(rule: RuleOfThumbLead, speed_kt: float, change_deg: float) -> str:
    both_nm = rule.speed_part_nm + rule.margin_nm
    return (
        f"{speed_kt:.0f}/60 × 1/3 = {miles(rule.speed_part_nm)}; + 1/2 = {miles(both_nm)}; × {change_deg:.0f}/90 = "
        f"{miles(both_nm * rule.share_of_90_deg)}; + height {miles(rule.height_part_nm)} = {miles(rule.lead_nm)} NM on "
        "the DME."
    )


def entry_sentences(card: Card) -> Iterator[str]:
    """How a racetrack is entered, where the arrival is not known."""
    reversal, course_deg = card.procedure.reversal, card.procedure.outbound_course_deg
    if reversal is None or course_deg is None:
        return
    side = 1.0 if reversal.side == "right" else -1.0
    offset_deg, parallel_deg = course_deg - side * OFFSET_SECTOR_DEG, course_deg + side * PARALLEL_SECTOR_DEG
    yield f"{_height(card)} The entry depends on the course one arrives on (give --arrival):"
    yield (
        f"from {course(offset_deg % 360)} to {course(course_deg)} offset (teardrop), from {course(course_deg)} to "
        f"{course(parallel_deg % 360)} parallel, from anywhere else direct, over the station and {reversal.side}."
    )


def pattern_title(card: Card) -> str:
    """The name of the pattern."""
    reversal = card.procedure.reversal
    if reversal is None or reversal.pattern is None:
        return "No reversal"
    name = str(reversal.pattern)
    return (
        f"Outbound and {name}, {reversal.side}"
        if name[0].isdigit()
        else f"{name.capitalize()}, {reversal.side}"
    )


def reversal_sentences(card: Card) -> Iterator[str]:
    """Turns, times, reach, and how the course is joined."""
    flown, published, leg = card.reversal, card.as_published, card.procedure.reversal
    if flown is None or published is None or leg is None:
        return
    turns = card.turns
    yield (
        f"Turns: {whole(turns.true_airspeed_kt)} kt true, bank {turns.bank_deg:.0f}°, {turns.turn_rate_deg_s:.1f}°/s, "
        f"radius {miles(turns.radius_nm)} NM; 180° take {180.0 / turns.turn_rate_deg_s:.0f} s."
    )
    yield from _times(card, flown)
    yield _reach(flown, leg.within_nm)
    yield _joins(flown)
    if card.reversal_ft_min is not None:
        yield (
            f"It takes {clock(flown.reversal_s)} and {whole(card.reversal_ft)} ft are to be lost in it: at least "
            f"{whole(card.reversal_ft_min)} ft/min."
        )
    else:
        yield f"It takes {clock(flown.reversal_s)} from the turn off until the course is joined."
    if card.conditions.wind_speed_kt > 0.0:
        yield (
            f"With the published headings and times, nothing allowed: farthest {published.farthest_nm:.1f} NM, "
            f"{_joins_briefly(published.joining)}."
        )


def _times(card: Card, flown: FlownReversal) -> Iterator[str]:
    for row in card.legs:
        if row.timing is not None:
            yield f"{row.name}: {_timing(row.timing)}"
    reversal = card.procedure.reversal
    if reversal is None:
        return
    if reversal.pattern is Pattern.PROCEDURE_TURN_80_260 and flown.legs:
        held_s = flown.legs[0].seconds
        yield (
            f"Hold the 80° heading for {held_s:.0f} s before turning back, so that the turn ends on the course."
            if held_s >= _SAME_SECONDS
            else "Turn back at once: the wind leaves room enough."
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
        f"Outbound heading {course(card.magnetic_deg(outbound.heading_true_deg))} ends the turn on the course; three "
        f"times the inbound correction (AIM 5-3-8) would be {course(card.magnetic_deg(tripled_deg))}."
    )


def _timing(timing: Timing) -> str:
    if abs(timing.allowed_s - timing.published_s) < _SAME_SECONDS:
        return f"{clock(timing.published_s)}, as published."
    return (
        f"{clock(timing.allowed_s)} for the published {clock(timing.published_s)} in still air; a second a knot in each "
        f"minute (common practice) gives {clock(timing.rule_s)}."
    )


def _reach(flown: FlownReversal, within_nm: float | None) -> str:
    reach = f"Farthest from the station {flown.farthest_nm:.1f} NM"
    if within_nm is not None:
        spare_nm = within_nm - flown.farthest_nm
        left = f"{spare_nm:.1f} NM to spare" if spare_nm >= 0.0 else f"{-spare_nm:.1f} NM too far"
        reach += f" of the {within_nm:g} NM allowed, {left}"
    return f"{reach}; {flown.width_nm:.1f} NM wide."


def _joins(flown: FlownReversal) -> str:
    joining = flown.joining
    where = f"{abs(joining.along_nm):.1f} NM {'before' if joining.along_nm > 0.0 else 'past'} the station"
    match joining.how:
        case "intercept":
            straight_s = flown.legs[-1].seconds
            return f"Intercepts at {joining.angle_deg:.0f}° after {straight_s:.0f} s straight; on course {where}."
        case "turn":
            return f"The last turn ends on the course, {where}: no straight intercept."
        case "never":
            return "The heading back hardly closes on the course in this wind: it is not joined."
        case _:
            return (
                f"The last turn runs {miles(joining.overshoot_nm)} NM past the course{_crossing(joining)}; joined from "
                f"the far side {where}."
            )


def _crossing(joining: Joining) -> str:
    return f" (crossed at {joining.angle_deg:.0f}°)" if joining.angle_deg is not None else ""


def _joins_briefly(joining: Joining) -> str:
    if joining.how == "intercept":
        return f"intercept at {joining.angle_deg:.0f}°"
    if joining.how == "turn":
        return "the last turn ends on the course"
    if joining.how == "never":
        return "the heading back hardly closes on the course"
    return f"the last turn runs {miles(joining.overshoot_nm)} NM past the course"


def joins_in_short(joining: Joining) -> str:
    """How the course is joined, for a cell of a table."""
    if joining.how == "intercept":
        return f"at {joining.angle_deg:.0f}°"
    if joining.how == "through":
        return f"{miles(joining.overshoot_nm)} NM past"
    return "in the turn" if joining.how == "turn" else "never"


def way_to(card: Card) -> str:
    """Which way the final's distances count: from the station, or to it."""
    return f"{'to' if card.procedure.station_on_aerodrome else 'from'} {card.procedure.station.ident}"


def final_sentences(card: Card, final: FinalPlan) -> Iterator[str]:
    """Descent, where it begins and ends, and when the approach is missed."""
    if final.angle_deg is not None and final.rate_ft_min is not None:
        source = "published" if final.angle_published else "what it takes"
        yield (
            f"Descent {final.angle_deg:.1f}° ({source}), {gradient_ft_nm(final.angle_deg):.0f} ft/NM: "
            f"{whole(final.rate_ft_min)} ft/min at {whole(final.groundspeed_kt)} kt over the ground (five times that, "
            f"for 3°, common practice: {whole(final.rule_rate_ft_min)})."
        )
    leg = card.procedure.final
    if final.too_low_published and leg is not None and leg.descent_angle_deg is not None:
        yield (
            f"The published {leg.descent_angle_deg:.1f}° would begin below the {feet(final.start_ft or 0.0)} ft allowed "
            "there."
        )
    sentence = _descent(card, final)
    if sentence:
        yield sentence
    yield from _missed(card, final)


def _descent(card: Card, final: FinalPlan) -> str:
    parts = []
    if final.descent_nm is not None and final.start_ft is not None:
        at = _place(card, final.descent_nm, final.descent_dme_nm)
        parts.append(f"begin the descent from {whole(final.start_ft)} ft {at}")
    if final.minimum_at_nm is not None and final.minimum_ft is not None:
        at = _place(card, final.minimum_at_nm, final.minimum_at_dme_nm)
        parts.append(f"at the minimum of {whole(final.minimum_ft)} ft {at}")
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _place(card: Card, along_nm: float, reading_nm: float | None) -> str:
    if abs(along_nm) < _AT_STATION_NM:
        return f"at {card.procedure.station.ident}"
    if reading_nm is not None:
        return f"at {reading_nm:.1f} DME"
    return f"{abs(along_nm):.1f} NM {'before' if along_nm < 0.0 else 'past'} {card.procedure.station.ident}"


def _missed(card: Card, final: FinalPlan) -> Iterator[str]:
    leg, ident = card.procedure.final, card.procedure.station.ident
    point = leg.missed_approach_point if leg is not None else None
    since = f"after {ident}" if not card.procedure.station_on_aerodrome else "after joining the course"
    if final.published_s is not None:
        place = f", {final.end_nm:.1f} NM past it at this ground speed" if final.end_nm is not None else ""
        yield f"Missed approach point: {clock(final.published_s)} {since} as published{place}."
    elif final.to_end_s is not None:
        where = (
            f"at {point.dme_nm:.1f} DME"
            if point is not None and point.dme_nm is not None
            else "at the threshold"
        )
        if point is None and card.procedure.station_on_aerodrome:
            where = f"at {ident}"
        yield f"Missed approach point {where}: {clock(final.to_end_s)} {since}."
    if final.to_threshold_s is not None and (final.published_s is not None or point is not None):
        yield f"Abeam the threshold {clock(final.to_threshold_s)} {since}."
