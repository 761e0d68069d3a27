"""Blocks of a card set in a column: a title, sentences, a table whose columns are as wide as what they hold.

Owns      ``Column``, which measures what it sets, and sets what it has measured.
Not here  what the blocks say (``planning.blocks``), the page (``plan_card``).
"""

from __future__ import annotations

from dataclasses import dataclass

from debrief.planning.blocks import Block, Table
from debrief.reports.layout import width_pt, wrapped
from debrief.reports.page import ASCENT, Page
from debrief.reports.style import HEADING_PT, INK, LEADING, RULE, SOFT

_PAD_ABOVE_PT, _PAD_BELOW_PT = 2.3, 0.5  # of a row: the letters stand in the middle between its rules
_MARK_PT = 7.0
_LEAST_GAP_PT = 4.0
_MOST_GAP_PT = 30.0
_AFTER_BLOCK_PT = 5.0
_AFTER_LINE_PT = 1.6
_ROUNDING_PT = 0.1


@dataclass(slots=True)
class Column:
    """A column of paper filled from ``y_pt`` down. Without a page it only measures."""

    page: Page | None
    left: float
    right: float
    y_pt: float
    size_pt: float  # of the type

    @property
    def width(self) -> float:
        """Width of the text [pt]."""
        return self.right - self.left

    def block(self, block: Block, *, mark: tuple[str, str] | None = None) -> None:
        """Set a title with a rule under it, then the sentences, then the table.

        ``mark`` stands before the title: matplotlib's letter for its shape, and its colour.
        """
        left = self.left
        if mark is not None:
            if self.page is not None:
                self.page.mark(left + _MARK_PT / 2, self.y_pt + 0.42 * HEADING_PT, mark[0], _MARK_PT, mark[1])
            self.left += _MARK_PT + 5.0
        self._line(block.title, HEADING_PT, bold=True)
        self.left = left
        self._rule(self.right, INK)
        self.y_pt += 3.0
        for text in block.lines:
            self.sentence(text)
        if block.table is not None:
            self._table(block.table)
        self.y_pt += _AFTER_BLOCK_PT

    def sentence(self, text: str, *, colour: str = INK) -> None:
        """Set a sentence in as many lines as it takes."""
        for line in wrapped(text, self.width, self.size_pt):
            self._line(line, self.size_pt, colour=colour)
        self.y_pt += _AFTER_LINE_PT

    def _line(self, text: str, size_pt: float, *, bold: bool = False, colour: str = INK) -> None:
        if self.page is not None:
            self.page.text(self.left, self.y_pt + ASCENT * size_pt, text, size_pt, bold=bold, colour=colour)
        self.y_pt += size_pt * LEADING

    def _rule(self, right: float, colour: str) -> None:
        if self.page is not None:
            ends = [(self.left, self.y_pt, right, self.y_pt)]
            self.page.segments(ends, colour=colour, width=0.6 if colour == INK else 0.4)

    def _table(self, table: Table) -> None:
        edges = self._edges(table)
        heads = [
            wrapped(head, right - left, self.size_pt, bold=True)
            for (head, _), (left, right) in zip(table.heads, edges, strict=True)
        ]
        deepest = max(len(lines) for lines in heads)  # heads stand on the rule, however many lines they take
        heads = [[""] * (deepest - len(lines)) + lines for lines in heads]
        self._cells(heads, table, edges, bold=True, colour=SOFT)
        self._rule(edges[-1][1], INK)
        for row in table.rows:
            cells = [
                wrapped(cell, right - left, self.size_pt)
                for cell, (left, right) in zip(row, edges, strict=True)
            ]
            self._cells(cells, table, edges, bold=False, colour=INK)
            self._rule(edges[-1][1], RULE)

    def _cells(
        self,
        cells: list[list[str]],
        table: Table,
        edges: list[tuple[float, float]],
        *,
        bold: bool,
        colour: str,
    ) -> None:
        self.y_pt += _PAD_ABOVE_PT
        for level in range(max(len(lines) for lines in cells)):
            for lines, (_, align), (left, right) in zip(cells, table.heads, edges, strict=True):
                if level < len(lines) and self.page is not None:
                    self.page.text(
                        right if align == "right" else left,
                        self.y_pt + ASCENT * self.size_pt,
                        lines[level],
                        self.size_pt,
                        bold=bold,
                        colour=colour,
                        align=align,
                    )
            self.y_pt += self.size_pt * LEADING
        self.y_pt += _PAD_BELOW_PT

    def _edges(self, table: Table) -> list[tuple[float, float]]:
        """Left and right of each column: as wide as its widest cell and its head.

        Where that is too much, heads are wrapped at their words; then the widest column gives way, too.
        """
        wide = self._natural(table, [head for head, _ in table.heads])
        if sum(wide) + _LEAST_GAP_PT * (len(wide) - 1) > self.width:
            longest = [max(head.split(), key=self._bold_pt, default="") for head, _ in table.heads]
            wide = self._natural(table, longest)
        gaps = len(wide) - 1
        most = self.width - _LEAST_GAP_PT * gaps
        if sum(wide) > most:
            widest = max(range(len(wide)), key=wide.__getitem__)
            wide[widest] = max(most - (sum(wide) - wide[widest]), self.size_pt)
        gap = min((self.width - sum(wide)) / gaps, _MOST_GAP_PT) if gaps else 0.0
        edges, left = [], self.left
        for column in wide:
            edges.append((left, left + column))
            left += column + gap
        return edges

    def _natural(self, table: Table, heads: list[str]) -> list[float]:
        cells = [
            max(width_pt(row[number], self.size_pt) for row in table.rows) for number in range(len(heads))
        ]
        return [
            max(self._bold_pt(head), cell) + _ROUNDING_PT for head, cell in zip(heads, cells, strict=True)
        ]

    def _bold_pt(self, text: str) -> float:
        return width_pt(text, self.size_pt, bold=True)
