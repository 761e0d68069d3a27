"""The card for a terminal: the blocks in plain lines and columns.

Owns      ``card_text``.
Not here  what the blocks say (``blocks``, ``words``).
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from debrief.language import tr
from debrief.planning.blocks import Block, Table, blocks
from debrief.planning.card import Card
from debrief.planning.words import CAUTION, heading_sentences, method_sentences

COLUMNS = 96
_GAP = "  "


def card_text(cards: Sequence[Card]) -> str:
    """The card of one speed, or of a range of them with the slowest first, in lines of 96 letters at most."""
    card = cards[-1]
    parts = [
        "\n".join(
            [tr("Plan card: {name}", name=card.procedure.name), *_wrapped(" ".join(heading_sentences(card)))]
        ),
        *("\n".join(_block(block)) for block in blocks(cards)),
        "\n".join(_wrapped(" ".join(method_sentences()))),
        "\n".join(_wrapped(tr(CAUTION))),
    ]
    return "\n\n".join(parts)


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, COLUMNS, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )


def _block(block: Block) -> Iterator[str]:
    yield block.title.upper()
    for line in block.lines:
        yield from _wrapped(line)
    if block.table is not None:
        yield from _table(block.table)


def _table(table: Table) -> Iterator[str]:
    rows = [tuple(head for head, _ in table.heads), *table.rows]
    widths = [max(len(row[number]) for row in rows) for number in range(len(table.heads))]
    for row in rows:
        cells = [
            cell.rjust(width) if align == "right" else cell.ljust(width)
            for cell, width, (_, align) in zip(row, widths, table.heads, strict=True)
        ]
        yield _GAP.join(cells).rstrip()
