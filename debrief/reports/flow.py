"""Text and tables that run on over pages, and what stands on every page.

Owns      ``Words``: what takes text and tables, so that a part says the same wherever it is set. ``Flow``: headings, paragraphs, pictures' places and tables set one below the other; the running
          head, the caution and the page number.
Not here  widths and line breaks (``layout``), ink (``page``), words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import takewhile
from typing import Protocol

from debrief.language import tr
from debrief.reports.layout import NO_LETTER, Rect, shortened, width_pt, wrapped
from debrief.reports.page import ASCENT, Align, Page
from debrief.reports.style import (
    BODY_PT,
    CAUTION,
    FOOTER_PT,
    GAP_PT,
    HEADER_PT,
    HEADING_PT,
    INK,
    LEADING,
    MARGIN_PT,
    PAPERS,
    RULE,
    SECTION_PT,
    SMALL_PT,
    SOFT,
    TABLE_PT,
    WASH,
    Paper,
)

_CELL_GAP_PT = 8.0
_ROW_PAD_PT = 3.0
_GROUP_PT = TABLE_PT * LEADING + 2 * _ROW_PAD_PT  # of the line that names a group of rows
_GREAT_HOLE = 0.4  # of a page
_SHORT_GROUP = 0.25  # of a page: so short a group of rows stands on one
_LAST_ROWS = 4  # of a table that runs on: fewer do not stand on a page of their own
_UNDER_HEADING_PT = 3.0
_FIRST_ROWS = 2  # of a table, or of a long group: fewer do not stand below its head at the foot of a page
_FIRST_ROWS_PT = 40.0  # a heading stands above at least so much of what it heads


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table; its share of the width is against the other columns' shares."""

    title: str
    share: float
    align: Align = "left"


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table: one text a column."""

    cells: tuple[str, ...]
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """A line across a table that names the rows below it."""

    title: str


class Words(Protocol):
    """What takes headings, paragraphs and tables: pages of paper (``Flow``), or a page on a screen."""

    def heading(self, text: str, *, keep_pt: float = ...) -> None:
        """Take a heading."""

    def subheading(self, text: str, *, keep_pt: float = ...) -> None:
        """Take a lesser heading."""

    def paragraph(
        self, text: str, *, size_pt: float = ..., bold: bool = ..., colour: str = ..., bullet: str = ...
    ) -> None:
        """Take a paragraph."""

    def table(self, columns: Sequence[Column], rows: Sequence[Row | Group]) -> None:
        """Take a table."""

    def titled_table(
        self, title: str, columns: Sequence[Column], rows: Sequence[Row | Group], *, lesser: bool = ...
    ) -> None:
        """Take a heading and its table."""


class Flow:
    """Pages filled from top to bottom. ``page`` and ``y_pt`` are where the next thing goes."""

    def __init__(self, paper: Paper, running_head: tuple[str, str]) -> None:
        self._size_pt = PAPERS[paper]
        self._running_head = running_head
        self.pages: list[Page] = []
        self._rules_pt: list[list[float]] = []  # of each page, where a line stands under a row of a table
        self.turn()

    @property
    def page(self) -> Page:
        """The page being filled."""
        return self.pages[-1]

    @property
    def left(self) -> float:
        """Left edge of the text [pt]."""
        return MARGIN_PT

    @property
    def right(self) -> float:
        """Right edge of the text [pt]."""
        return self._size_pt[0] - MARGIN_PT

    @property
    def width(self) -> float:
        """Width of the text [pt]."""
        return self.right - self.left

    @property
    def bottom(self) -> float:
        """Where the text of a page ends [pt]."""
        return self._size_pt[1] - MARGIN_PT - FOOTER_PT

    @property
    def room(self) -> float:
        """What is left of the page [pt]."""
        return self.bottom - self.y_pt

    @property
    def top(self) -> float:
        """Where the text of the page being filled begins [pt]."""
        return MARGIN_PT if len(self.pages) == 1 else MARGIN_PT + HEADER_PT - 8.0

    def turn(self) -> None:
        """Begin a new page."""
        self.pages.append(Page(*self._size_pt))
        self._rules_pt.append([])
        self.y_pt = self.top

    def need(self, height_pt: float) -> None:
        """Begin a new page unless so much is left of this one, or it is still empty."""
        if height_pt > self.room and self.y_pt > self.top:
            self.turn()

    def space(self, height_pt: float) -> None:
        """Leave some paper free; at the top of a page none."""
        if self.y_pt > self.top:
            self.y_pt += height_pt

    def heading(self, text: str, *, keep_pt: float = _FIRST_ROWS_PT, size_pt: float = SECTION_PT) -> None:
        """Set a heading, on the page on which ``keep_pt`` of what follows fits too."""
        lines = wrapped(text, self.width, size_pt, bold=True)
        self.need(GAP_PT + len(lines) * size_pt * LEADING + _UNDER_HEADING_PT + keep_pt)
        self.space(GAP_PT)
        self._lines(lines, self.left, size_pt, bold=True, colour=INK)
        self.y_pt += _UNDER_HEADING_PT

    def subheading(self, text: str, *, keep_pt: float = _FIRST_ROWS_PT) -> None:
        """Set a lesser heading."""
        self.heading(text, keep_pt=keep_pt, size_pt=HEADING_PT)

    def title(self, text: str, size_pt: float) -> None:
        """Set the title of the report."""
        self._lines(wrapped(text, self.width, size_pt, bold=True), self.left, size_pt, bold=True, colour=INK)
        self.y_pt += 2.0

    def paragraph(
        self,
        text: str,
        *,
        size_pt: float = BODY_PT,
        bold: bool = False,
        colour: str = INK,
        indent_pt: float = 0.0,
        bullet: str = "",
    ) -> None:
        """Set a paragraph; it may run on over the page, but its last line stands on none alone."""
        hang_pt = width_pt(bullet, size_pt) + 0.5 * size_pt if bullet else 0.0
        left = self.left + indent_pt + hang_pt
        lines = wrapped(text, self.right - left, size_pt, bold=bold)
        for number, line in enumerate(lines):
            together = 2 if number == len(lines) - 2 else 1
            self.need(together * size_pt * LEADING)
            if bullet and number == 0:
                self.page.text(left - hang_pt, self.y_pt + ASCENT * size_pt, bullet, size_pt, colour=colour)
            self._lines([line], left, size_pt, bold=bold, colour=colour)
        self.y_pt += 0.25 * size_pt

    def titled_paragraphs(self, title: str, texts: Sequence[str], *, size_pt: float = BODY_PT) -> None:
        """Set a heading with its paragraphs, on one page where one holds them all."""
        pitch = size_pt * LEADING
        tall = sum(len(wrapped(text, self.width, size_pt)) * pitch + 0.25 * size_pt for text in texts)
        whole = (
            GAP_PT + SECTION_PT * LEADING + tall <= self._size_pt[1] - 2 * MARGIN_PT - FOOTER_PT - HEADER_PT
        )
        self.heading(title, keep_pt=tall if whole else _FIRST_ROWS_PT)
        for text in texts:
            self.paragraph(text, size_pt=size_pt)

    def picture(self, height_pt: float) -> Rect:
        """Keep a rectangle of the full width for a picture, on the next page where it has no room here."""
        self.need(height_pt)
        box = Rect(self.left, self.y_pt, self.right, self.y_pt + height_pt)
        self.y_pt += height_pt
        return box

    def _lines(self, lines: Sequence[str], left: float, size_pt: float, *, bold: bool, colour: str) -> None:
        for line in lines:
            self.page.text(left, self.y_pt + ASCENT * size_pt, line, size_pt, bold=bold, colour=colour)
            self.y_pt += size_pt * LEADING

    def table(self, columns: Sequence[Column], rows: Sequence[Row | Group]) -> None:
        """Set a table; its head stands again on each page it runs on to."""
        edges = self._edges(columns)
        group: Group | None = None
        for number, row in enumerate(rows):
            if number == 0:
                self.need(self._head_height(columns, edges) + self._begun_height(rows, edges))
            elif self._ends_alone(rows, number, edges):
                self.turn()
            elif isinstance(row, Group):
                self.need(self._begun_height(rows[number:], edges))
            if number == 0 or self.y_pt == self.top:
                self._table_head(columns, edges, group if isinstance(row, Row) else None)
            if isinstance(row, Group):
                group = row
                self._group(row)
            else:
                self._row(row, columns, edges, group)
        self.y_pt += GAP_PT

    def _head_height(self, columns: Sequence[Column], edges: Sequence[tuple[float, float]]) -> float:
        return self._row_height(Row(tuple(column.title for column in columns), bold=True), edges)

    def _begun_height(self, rows: Sequence[Row | Group], edges: Sequence[tuple[float, float]]) -> float:
        """What rows take up to the second one, of a short group that they begin with up to its last one. [pt]

        Of few rows, what all of them take: too few would stand on one side of a break or on the other.
        """
        tall, page = 0.0, self.bottom - self.top
        whole = sum(self._height(row, edges) for row in rows)
        if len(rows) < _FIRST_ROWS + _LAST_ROWS and whole < _GREAT_HOLE * page:
            return whole
        if rows and isinstance(rows[0], Group):
            own = list(takewhile(lambda entry: isinstance(entry, Row), rows[1:]))
            group = _GROUP_PT + sum(self._height(row, edges) for row in own)
            if group <= _SHORT_GROUP * page:
                return group
            tall, rows = _GROUP_PT, rows[1:]
        return min(tall + sum(self._height(row, edges) for row in rows[:_FIRST_ROWS]), page)

    def _height(self, row: Row | Group, edges: Sequence[tuple[float, float]]) -> float:
        return _GROUP_PT if isinstance(row, Group) else self._row_height(row, edges)

    def _ends_alone(
        self, rows: Sequence[Row | Group], number: int, edges: Sequence[tuple[float, float]]
    ) -> bool:
        """Whether fewer than the last rows from here on would stand alone on the next page.

        A group's name goes with the rows below it.
        """
        rest = rows[number:]
        last = _LAST_ROWS + (1 if isinstance(rows[number], Group) else 0)
        if len(rest) != last or number < _FIRST_ROWS or isinstance(rows[number - 1], Group):
            return False
        return sum(self._height(row, edges) for row in rest) > self.room

    def titled_table(
        self, title: str, columns: Sequence[Column], rows: Sequence[Row | Group], *, lesser: bool = False
    ) -> None:
        """Set a heading and its table, on one page where that leaves no great hole in the page before."""
        edges = self._edges(columns)
        head = self._head_height(columns, edges)
        tall = head + sum(self._height(row, edges) for row in rows)
        keep = tall if tall < _GREAT_HOLE * (self.bottom - self.top) else _FIRST_ROWS_PT
        keep = max(keep, head + self._begun_height(rows, edges))
        self.heading(title, keep_pt=keep, size_pt=HEADING_PT if lesser else SECTION_PT)
        self.table(columns, rows)

    def _edges(self, columns: Sequence[Column]) -> list[tuple[float, float]]:
        usable = self.width - _CELL_GAP_PT * (len(columns) - 1)
        unit = usable / sum(column.share for column in columns)
        edges, left = [], self.left
        for column in columns:
            edges.append((left, left + unit * column.share))
            left += unit * column.share + _CELL_GAP_PT
        return edges

    def _table_head(
        self, columns: Sequence[Column], edges: Sequence[tuple[float, float]], group: Group | None = None
    ) -> None:
        """The columns' titles, and the name of the group that runs on over the page."""
        titles = Row(tuple(column.title for column in columns), bold=True)
        self._cells(titles, columns, edges, colour=SOFT)
        self.page.segments([(self.left, self.y_pt, self.right, self.y_pt)], colour=INK, width=0.8)
        if group is not None:
            self._group(group)

    def _group(self, group: Group) -> None:
        box = Rect(self.left, self.y_pt, self.right, self.y_pt + _GROUP_PT)
        self.page.rect(box, fill=WASH)
        text = shortened(group.title, self.width - 8.0, TABLE_PT, bold=True)
        self.page.text(
            self.left + 4.0, self.y_pt + _ROW_PAD_PT + ASCENT * TABLE_PT, text, TABLE_PT, bold=True
        )
        self.y_pt += _GROUP_PT

    def _row_height(self, row: Row, edges: Sequence[tuple[float, float]]) -> float:
        lines = max(len(self._cell_lines(row, number, edges)) for number in range(len(row.cells)))
        return max(lines, 1) * TABLE_PT * LEADING + 2 * _ROW_PAD_PT

    def _cell_lines(self, row: Row, number: int, edges: Sequence[tuple[float, float]]) -> tuple[str, ...]:
        left, right = edges[number]
        return _lines_of(row.cells[number], right - left, bold=row.bold)

    def _row(
        self,
        row: Row,
        columns: Sequence[Column],
        edges: Sequence[tuple[float, float]],
        group: Group | None,
    ) -> None:
        pages = len(self.pages)
        self.need(min(self._row_height(row, edges), self.bottom - self.top - 40.0))
        if len(self.pages) > pages:
            self._table_head(columns, edges, group)
        self._cells(row, columns, edges, colour=INK)
        self._rules_pt[-1].append(self.y_pt)

    def _cells(
        self, row: Row, columns: Sequence[Column], edges: Sequence[tuple[float, float]], *, colour: str
    ) -> None:
        lines = [self._cell_lines(row, number, edges) for number in range(len(row.cells))]
        pitch = TABLE_PT * LEADING
        self.y_pt += _ROW_PAD_PT
        for level in range(max(len(cell) for cell in lines)):
            if self.y_pt + pitch > self.bottom:  # a row longer than what any page holds
                self.turn()
                self._table_head(columns, edges)
                self.y_pt += _ROW_PAD_PT
            for cell, column, (left, right) in zip(lines, columns, edges, strict=True):
                if level < len(cell):
                    x_pt = {"left": left, "centre": (left + right) / 2, "right": right}[column.align]
                    y_pt = self.y_pt + ASCENT * TABLE_PT
                    self.page.text(
                        x_pt, y_pt, cell[level], TABLE_PT, bold=row.bold, colour=colour, align=column.align
                    )
            self.y_pt += pitch
        self.y_pt += _ROW_PAD_PT

    def finish(self) -> list[Page]:
        """Put rules, the running head, the caution and the page number on every page, and give the pages back."""
        # all at once: each drawing costs as much
        for page, rules_pt in zip(self.pages, self._rules_pt, strict=True):
            page.segments([(self.left, y_pt, self.right, y_pt) for y_pt in rules_pt], colour=RULE, width=0.4)
        for number, page in enumerate(self.pages, start=1):
            if number > 1:
                self._head(page)
            self._foot(page, tr("Page {number} of {pages}", number=number, pages=len(self.pages)))
        return self.pages

    def _head(self, page: Page) -> None:
        baseline = MARGIN_PT
        left, right = self._running_head
        right = shortened(right, self.width * 0.5, SMALL_PT)
        room = self.width - width_pt(right, SMALL_PT) - 12.0
        page.text(self.left, baseline, shortened(left, room, SMALL_PT), SMALL_PT, colour=SOFT)
        page.text(self.right, baseline, right, SMALL_PT, colour=SOFT, align="right")
        page.segments([(self.left, baseline + 4.5, self.right, baseline + 4.5)], colour=RULE, width=0.5)

    def _foot(self, page: Page, page_number: str) -> None:
        top = self.bottom + 8.0
        page.segments([(self.left, top, self.right, top)], colour=RULE, width=0.5)
        room = self.width - width_pt(page_number, SMALL_PT, bold=True) - 14.0
        lines = wrapped(tr(CAUTION), room, SMALL_PT)
        if any(NO_LETTER in box.text for box in page.texts):
            lines.append(tr("{box} stands for a letter that no font of this machine has.", box=NO_LETTER))
        for level, line in enumerate(lines):
            y_pt = top + 11.0 + level * SMALL_PT * LEADING
            page.text(self.left, y_pt, line, SMALL_PT, colour=SOFT)
        page.text(self.right, top + 11.0, page_number, SMALL_PT, bold=True, colour=SOFT, align="right")


@lru_cache(maxsize=4096)
def _lines_of(cell: str, room_pt: float, *, bold: bool) -> tuple[str, ...]:
    """The lines of a table's cell: they are counted, more than once, before they are set."""
    return tuple(wrapped(cell, room_pt, TABLE_PT, bold=bold))


def titled(name: str, title: str) -> str:
    """The heading of a part, after the attempt's name where there are several."""
    return f"{name}: {title}" if name else title[0].upper() + title[1:]
