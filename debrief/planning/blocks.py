"""The card as blocks of sentences and tables, for a terminal and for paper alike.

Owns      ``Block``, ``Table``, and which blocks a card has.
Not here  the numbers (``card``), how they are written (``words``), setting them (``text``, ``reports.plan_card``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from debrief.language import figure, tr, trn
from debrief.planning import sentences, words
from debrief.planning.card import Card
from debrief.planning.lead import CHANGES_DEG, Lead
from debrief.planning.legs import LegPlan
from debrief.planning.words import clock, course, feet, miles, whole

#: Where the station's alignment and today's variation lie farther apart, both headings are shown.
SHOW_BOTH_DEG = 1.0

#: A heading held for less than this is not held: the next turn follows at once.
HELD_S = 1.0

Align = Literal["left", "right"]
Head = tuple[str, Align]


@dataclass(frozen=True, slots=True)
class Table:
    """Heads with their alignment, and rows of as many cells."""

    heads: tuple[Head, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A part of the card: a title, sentences, a table below them."""

    title: str
    lines: tuple[str, ...] = ()
    table: Table | None = None


def limits_block(card: Card) -> Block:
    """What this speed and wind would break."""
    if not card.broken:
        kept = (
            tr("At this speed, in this wind, every limit is kept.")
            if card.conditions.wind_speed_kt > 0.0
            else tr("At this speed, in still air, every limit is kept.")
        )
        return Block(tr("Limits"), (kept,))
    title = trn("A limit would be broken", "{count} limits would be broken", len(card.broken))
    return Block(title, tuple(words.broken(broken) for broken in card.broken))


def legs_block(card: Card) -> Block:
    """Heading, speed, distance, time and descent of each leg."""
    both = shows_both(card)
    both_head: list[Head] = [(tr("by station"), "right")] if both else []
    heads: list[Head] = [
        (tr("Leg"), "left"),
        (tr("Course"), "right"),
        (tr("Altitude, ft"), "left"),
        (tr("Heading"), "right"),
        *both_head,
        (tr("Corr."), "right"),
        (tr("TAS"), "right"),
        (tr("GS"), "right"),
        ("NM", "right"),
        (tr("Time"), "right"),
        ("ft/min", "right"),
    ]
    rows = tuple(_leg_row(card, leg, both=both) for leg in card.legs)
    return Block(tr("The legs"), (), Table(tuple(heads), rows))


def shows_both(card: Card) -> bool:
    """Whether headings by the compass and by the station's alignment differ enough to show both."""
    if card.variation_deg is None:
        return False
    return abs(card.procedure.station.declination_deg - card.variation_deg) > SHOW_BOTH_DEG


def _leg_row(card: Card, leg: LegPlan, *, both: bool) -> tuple[str, ...]:
    return (
        words.leg_name(leg.name),
        course(leg.course_deg) if leg.course_deg is not None else "",
        words.altitude(leg.altitude),
        course(card.magnetic_deg(leg.heading_true_deg)),
        *([course(card.by_station_deg(leg.heading_true_deg))] if both else []),
        words.correction(leg.correction_deg),
        whole(leg.true_airspeed_kt),
        whole(leg.groundspeed_kt),
        "" if leg.distance_nm is None or _at_once(leg) else figure(leg.distance_nm, ".1f"),
        "" if leg.seconds is None else tr("at once") if _at_once(leg) else clock(leg.seconds),
        whole(leg.descent_ft_min) if leg.descent_ft_min is not None else "",
    )


def _at_once(leg: LegPlan) -> bool:
    """Whether a heading is turned through and not held."""
    return leg.course_deg is None and leg.seconds is not None and leg.seconds < HELD_S


def station_block(card: Card) -> Block | None:
    """The turn at the station; ``None`` where there is none."""
    if card.next_course_deg is None:
        return None
    if card.lead is not None:
        return Block(tr("The turn at the station"), tuple(sentences.lead_sentences(card, card.lead)))
    if not card.leads:
        return Block(tr("The turn at the station"), tuple(sentences.entry_sentences(card)))
    windy = card.conditions.wind_speed_kt > 0.0
    drift_head: list[Head] = [(tr("with drift"), "right")] if windy else []
    side_heads: list[Head] = [(tr("exact"), "right"), *drift_head, (tr("rule"), "right")]
    heads: list[Head] = [
        (tr("Change"), "right"),
        (tr("Right from"), "right"),
        *side_heads,
        (tr("Left from"), "right"),
        *side_heads,
    ]
    rows = []
    for number, change_deg in enumerate(CHANGES_DEG):
        right, left = card.leads[2 * number : 2 * number + 2]
        rows.append((f"{change_deg:.0f}°", *_lead_cells(right, windy=windy), *_lead_cells(left, windy=windy)))
    return Block(
        tr("The turn at the station"),
        tuple(sentences.leads_sentences(card)),
        Table(tuple(heads), tuple(rows)),
    )


def _lead_cells(lead: Lead, *, windy: bool) -> tuple[str, ...]:
    drifted = [miles(lead.drifted_nm) if lead.drifted_nm is not None else "–"] if windy else []
    exact = miles(lead.exact_nm) if lead.exact_nm is not None else "–"
    return (course(lead.arrival_course_deg), exact, *drifted, miles(lead.rule.lead_nm))


def reversal_block(card: Card) -> Block | None:
    """The outbound leg's and the pattern's timing, reach and intercept; ``None`` without a reversal."""
    if card.reversal is None or card.procedure.reversal is None:
        return None
    return Block(sentences.pattern_title(card), tuple(sentences.reversal_sentences(card)))


def final_block(card: Card, *, short: bool = False) -> Block | None:
    """Descent, table and time to the missed approach point; ``short`` with half the rows of the table."""
    final = card.final
    if final is None:
        return None
    dme = card.procedure.station.has_dme
    heads: tuple[Head, ...] = (
        ("DME" if dme else f"NM {sentences.way_to(card)}", "right"),
        (tr("Altitude"), "right"),
        (tr("Lowest"), "right"),
        (tr("Time"), "right"),
    )
    rows = tuple(
        (
            figure(row.dme_nm, ".1f") if row.dme_nm is not None else figure(row.distance_nm, ".1f"),
            feet(row.altitude_ft),
            feet(row.minimum_ft) if row.minimum_ft is not None else "",
            clock(row.seconds) if row.seconds is not None else "",
        )
        for row in (final.rows[-1::-2][::-1] if short else final.rows)
    )
    table = Table(heads, rows) if rows else None
    return Block(tr("The final"), tuple(sentences.final_sentences(card, final)), table)


def speeds_block(cards: Sequence[Card]) -> Block | None:
    """A row for each speed of a range; ``None`` for one speed."""
    if len(cards) < 2:
        return None
    reversal = cards[0].reversal is not None
    fixed = cards[0].conditions.final_speed_kias == cards[-1].conditions.final_speed_kias
    heads: list[Head] = [(tr("IAS"), "right")]
    if reversal:
        heads += [
            (tr("Heading out"), "right"),
            (tr("Time out"), "right"),
            (tr("Bank"), "right"),
            (tr("Radius"), "right"),
            (tr("Farthest"), "right"),
            (tr("Joins the course"), "left"),
        ]
    if not fixed:
        heads += [(tr("Final ft/min"), "right"), (tr("To missed appr."), "right")]
    heads.append((tr("Breaks"), "left"))
    rows = []
    for card in cards:
        cells = [whole(card.conditions.speed_kias)]
        if card.reversal is not None:
            out = next((leg for leg in card.legs if leg.phase == "outbound"), None)
            cells += [
                course(card.magnetic_deg(out.heading_true_deg)) if out is not None else "",
                clock(out.seconds) if out is not None and out.seconds is not None else "–",
                f"{card.turns.bank_deg:.0f}°",
                miles(card.turns.radius_nm),
                figure(card.reversal.farthest_nm, ".1f"),
                sentences.joins_in_short(card.reversal.joining),
            ]
        if not fixed and card.final is not None:
            rate, seconds = card.final.rate_ft_min, card.final.to_end_s
            cells += [
                whole(rate) if rate is not None else "–",
                clock(seconds) if seconds is not None else "–",
            ]
        cells.append(", ".join(words.broken_in_short(broken) for broken in card.broken) or tr("nothing"))
        rows.append(tuple(cells))
    last = cards[-1].conditions.speed_kias
    line = tr("The rest of the card is for {last:g} kt, the fastest of them.", last=last)
    return Block(tr("By speed"), (line,), Table(tuple(heads), tuple(rows)))


def blocks(cards: Sequence[Card]) -> tuple[Block, ...]:
    """Every block of a card, in the order read; ``cards`` are those of a range of speeds, the slowest first."""
    card = cards[-1]
    found = [
        speeds_block(cards),
        limits_block(card),
        legs_block(card),
        station_block(card),
        reversal_block(card),
        final_block(card),
    ]
    return tuple(block for block in found if block is not None)
