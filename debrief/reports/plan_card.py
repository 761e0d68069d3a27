"""The plan card on one page: limits, legs, the pattern as this wind shapes it, the turn at the station, the final.

Owns      ``write_plan_card`` (PDF and PNG) and the page.
Not here  its words and numbers (``planning``), the map (``plan_card_map``).

A pilot reads from it, before flying: what to set and hold on each leg, for how long, and where it would go wrong.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from debrief.language import tr
from debrief.planning import blocks
from debrief.planning.blocks import Block
from debrief.planning.card import Card
from debrief.planning.words import heading_sentences, method_sentences
from debrief.reports.card_blocks import Column
from debrief.reports.files import bound, png_bytes
from debrief.reports.flow import Flow
from debrief.reports.layout import Rect, wrapped
from debrief.reports.legend import draw_legend, legend_height
from debrief.reports.page import ASCENT, Page
from debrief.reports.plan_card_map import draw_pattern, legend_entries
from debrief.reports.style import (
    INK,
    LEADING,
    RESULT_MARKS,
    SMALL_PT,
    SOFT,
    TABLE_PT,
    TITLE_PT,
    Paper,
)
from debrief.reports.words import day
from debrief.whole_files import name_of, write_whole

_GUTTER_PT = 20.0
_LEAST_MAP_PT = 120.0
_MOST_MAP_PT = 330.0
_SMALL_TITLE_PT = 13.0


def write_plan_card(cards: Sequence[Card], out: Path, *, paper: Paper = "A4") -> tuple[Path, ...]:
    """Write the card as NAME-plan.pdf and NAME-plan.png into a folder, which is made where missing.

    ``cards`` are those of a range of speeds, the slowest first; of one speed only one. NAME is that of the procedure's
    file without its ending. Either both files appear whole, or neither.

    Raises
    ------
    OutputError
        Where the folder cannot be made or a file cannot be written.
    """
    from debrief import __version__

    card = cards[-1]
    page = plan_card_page(cards, paper)
    stem = out / f"{name_of(card.procedure.file)}-plan"
    when = card.conditions.when
    midnight = datetime(when.year, when.month, when.day, tzinfo=when.tzinfo)  # the same card, the same bytes
    pdf = bound([page], title=_title(card), creator=f"debrief {__version__}", date=midnight)
    contents = {
        stem.with_name(f"{stem.name}.pdf"): pdf,
        stem.with_name(f"{stem.name}.png"): png_bytes(page),
    }
    write_whole(contents)
    return tuple(contents)


def _title(card: Card) -> str:
    return tr("Plan card: {name}", name=card.procedure.name)


def plan_card_page(cards: Sequence[Card], paper: Paper) -> Page:
    """The card, whatever it holds, on one page: where room is short the type shrinks, then the map goes."""
    card = cards[-1]
    flow = Flow(paper, (_title(card), ""))
    _head(flow, card)
    wide = [
        block
        for block in (blocks.speeds_block(cards), blocks.limits_block(card), blocks.legs_block(card))
        if block is not None
    ]
    _set(flow, card, wide, next(_fitting(flow, card, wide)))
    return flow.finish()[0]


def _narrow(card: Card, *, short: bool) -> list[Block]:
    found = (
        blocks.reversal_block(card),
        blocks.station_block(card),
        blocks.final_block(card, short=short),
    )
    return [block for block in found if block is not None]


def _head(flow: Flow, card: Card) -> None:
    page = flow.page
    flow.y_pt -= 6.0
    page.text(flow.left, flow.y_pt + ASCENT * SMALL_PT, tr("PLAN CARD"), SMALL_PT, bold=True, colour=SOFT)
    made = tr("Worked out {when}, from the procedure alone", when=day(card.conditions.when))
    page.text(flow.right, flow.y_pt + ASCENT * SMALL_PT, made, SMALL_PT, colour=SOFT, align="right")
    flow.y_pt += SMALL_PT * LEADING + 2.0
    page.segments([(flow.left, flow.y_pt, flow.right, flow.y_pt)], colour=INK, width=1.4)
    flow.y_pt += 6.0
    name = card.procedure.name
    flow.title(
        name, TITLE_PT if len(wrapped(name, flow.width, TITLE_PT, bold=True)) == 1 else _SMALL_TITLE_PT
    )


@dataclass(frozen=True, slots=True)
class _Arrangement:
    """How the page is divided: the type, what stands left under the map, what stands right."""

    size_pt: float
    left: tuple[Block, ...]
    right: tuple[Block, ...]
    map_pt: float  # 0 where there is no room for one


def _fitting(flow: Flow, card: Card, wide: Sequence[Block]) -> Iterator[_Arrangement]:
    """The arrangements that fit, the best first: smaller type, then no map, then a shorter table of the final.

    The last one comes whether it fits or not.
    """
    width = _column_pt(flow)
    tallest: list[tuple[float, _Arrangement]] = []
    for short, with_map, size_pt in (
        (False, True, TABLE_PT),
        (False, True, SMALL_PT),
        (True, True, SMALL_PT),
        (False, False, SMALL_PT),
        (True, False, SMALL_PT),
    ):
        narrow = _narrow(card, short=short)
        room = flow.bottom - _wide_bottom(flow, card, wide, size_pt) - _method_pt(flow)
        for left, right in _divided(narrow, straight_in=card.reversal is None):
            left_pt, right_pt = _height(left, width, size_pt), _height(right, width, size_pt)
            map_pt = min(room - left_pt, _MOST_MAP_PT) if with_map else 0.0
            if max(left_pt, right_pt) <= room and (map_pt >= _LEAST_MAP_PT or not with_map):
                yield _Arrangement(size_pt, left, right, map_pt)
            tallest.append((max(left_pt, right_pt), _Arrangement(size_pt, left, right, 0.0)))
    yield min(tallest, key=lambda entry: entry[0])[1]


def _divided(
    narrow: Sequence[Block], *, straight_in: bool
) -> Iterator[tuple[tuple[Block, ...], tuple[Block, ...]]]:
    """What stands left and right: the reversal under its map where it can, then every other way."""
    orders: list[tuple[int, ...]] = [(), (0,)] if straight_in else [(0,), (0, 1), (0, 2), (), (1,), (2,)]
    for order in orders:
        left = tuple(narrow[index] for index in order if index < len(narrow))
        yield left, tuple(block for block in narrow if block not in left)


def _column_pt(flow: Flow) -> float:
    return (flow.width - _GUTTER_PT) / 2


def _height(parts: Sequence[Block], width_pt: float, size_pt: float) -> float:
    column = Column(None, 0.0, width_pt, 0.0, size_pt)
    for part in parts:
        column.block(part)
    return column.y_pt


def _wide_bottom(flow: Flow, card: Card, wide: Sequence[Block], size_pt: float) -> float:
    column = Column(None, flow.left, flow.right, flow.y_pt, size_pt)
    _set_wide(column, card, wide)
    return column.y_pt


def _set_wide(column: Column, card: Card, wide: Sequence[Block]) -> None:
    column.sentence(" ".join(heading_sentences(card)), colour=SOFT)
    column.y_pt += 5.0
    limits = blocks.limits_block(card).title
    for block in wide:
        mark = RESULT_MARKS["unsatisfactory" if card.broken else "satisfactory"]
        column.block(block, mark=mark if block.title == limits else None)


def _method_pt(flow: Flow) -> float:
    return len(wrapped(" ".join(method_sentences()), flow.width, SMALL_PT)) * SMALL_PT * LEADING + 4.0


def _set(flow: Flow, card: Card, wide: Sequence[Block], arrangement: _Arrangement) -> None:
    page, size_pt = flow.page, arrangement.size_pt
    full = Column(page, flow.left, flow.right, flow.y_pt, size_pt)
    _set_wide(full, card, wide)
    top, middle = full.y_pt, flow.left + _column_pt(flow)
    left = Column(page, flow.left, middle, top, size_pt)
    right = Column(page, middle + _GUTTER_PT, flow.right, top, size_pt)
    if arrangement.map_pt > 0.0:
        entries = legend_entries(card)
        legend = legend_height(entries, left.width) + 4.0
        box = Rect(left.left, top + 2.0, left.right, top + arrangement.map_pt - legend - 8.0)
        draw_pattern(page, box, card)
        draw_legend(page, Rect(box.left, box.bottom + 4.0, box.right, box.bottom + legend), entries)
        left.y_pt = top + arrangement.map_pt
    for column, parts in ((left, arrangement.left), (right, arrangement.right)):
        for part in parts:
            column.block(part)
    foot = Column(page, flow.left, flow.right, flow.bottom - _method_pt(flow), SMALL_PT)
    foot.sentence(" ".join(method_sentences()), colour=SOFT)
