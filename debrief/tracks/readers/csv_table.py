"""Where the table is in a text file: encoding, delimiter, the row of headings, the rows under it.

Owns      finding the table, and walking through its rows in bounded memory.
Not here  what headings mean (``csv_columns``), what cells say (``csv_values``, ``csv_times``).
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path
from typing import IO

import numpy as np

from debrief.errors import Place, TrackError
from debrief.tracks.model import Floats
from debrief.tracks.readers.csv_columns import is_unit, meaning_of, plain_words
from debrief.tracks.readers.sniff import HEAD_BYTES, decoded, encoding_of

DELIMITERS = (",", ";", "\t", "|", " ")  # the last one: any number of blanks

_SEARCHED = 80  # lines in which the headings must come
_SAMPLED = 400  # rows that tell how numbers and dates are written
_ROWS_AT_ONCE = 20_000
_LONGEST_LINE = 1_000_000  # characters: a longer one is no row of a log
_END = "#end-of-the-file"  # a row of its own, unless it is read into a cell that was never closed
_MOST_CUT_OFF = 2  # lines of a last cell that a file breaks off in
_LINE_END = re.compile(r"\r\n|\r|\n")
_NUMBER = re.compile(r"\s*[-+]?[\d.,:]+\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table that was found, and its first rows."""

    encoding: str
    delimiter: str
    headings: tuple[str, ...]  # empty where the table has none
    heading_line: int | None
    units: tuple[str, ...]  # a row of units beside the headings; empty where there is none
    first_line: int  # where the rows begin, counted from 1
    width: int
    sample: tuple[tuple[str, ...], ...]

    def cells(self, index: int) -> list[str]:
        """The cells of one column in the sample, without the empty ones."""
        column = (row[index].strip() for row in self.sample if index < len(row))
        return [cell for cell in column if cell]

    def unit(self, index: int) -> str:
        """The cell of the row of units over or under a heading."""
        return self.units[index] if index < len(self.units) else ""


@dataclass(slots=True)
class Rows:
    """A piece of the table: columns of cells, the line of each row."""

    lines: Floats
    columns: list[list[str]]

    def column(self, index: int) -> list[str]:
        """The cells of one column; empty texts where the rows are too short."""
        return self.columns[index] if index < len(self.columns) else [""] * len(self.lines)


@dataclass(slots=True)
class Left:
    """Rows that could not be taken: how many, and the line of the first."""

    too_long: int = 0
    first_too_long: int = 0
    counts: Counter[int] = field(default_factory=Counter)


def split_line(line: str, delimiter: str) -> list[str]:
    """One line as cells."""
    if delimiter == " ":
        return line.split()
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return []


def find_table(path: Path, asked: Mapping[str, str]) -> Table:
    """The table in a file; ``asked`` are headings a person named, which count as known words."""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    lines = _LINE_END.split(decoded(head).replace("\0", ""))
    if len(head) == HEAD_BYTES:
        lines.pop()  # cut off by the end of the head
    if not lines:
        raise TrackError(
            f"its first line is longer than {HEAD_BYTES:,} bytes",
            where=Place(path=path, line=1),
            remedy="Write one row of the log on each line.",
        )
    return table_in(lines, encoding_of(head), frozenset(plain_words(where) for where in asked.values()))


def table_in(lines: Sequence[str], encoding: str, asked: frozenset[str] = frozenset()) -> Table:
    """The table in the first lines of a file."""
    best: tuple[int, int, int, str] = (0, 0, 0, "")
    for rank, delimiter in enumerate(DELIMITERS):
        for number, line in enumerate(lines[:_SEARCHED]):
            score = _heading_score(split_line(line, delimiter), asked) if line.strip() else 0
            if score > best[0]:
                best = (score, -rank, number, delimiter)
    if best[0]:
        _, _, at, delimiter = best
        headings = tuple(split_line(lines[at], delimiter))
    else:
        delimiter, at = _likeliest(lines)
        headings = tuple(split_line(lines[at], delimiter)) if lines else ()
    return _table(lines, encoding, delimiter, headings, at, named=bool(best[0]))


def _table(
    lines: Sequence[str], encoding: str, delimiter: str, headings: tuple[str, ...], at: int, *, named: bool
) -> Table:
    has_headings = named or not any(_NUMBER.fullmatch(cell) for cell in headings)
    units: tuple[str, ...] = ()
    first = at + 1 if has_headings else at
    if has_headings:
        headings = (headings[0].lstrip().removeprefix("#").lstrip(), *headings[1:]) if headings else headings
        under = next((n for n in range(first, min(first + 3, len(lines))) if lines[n].strip()), None)
        for number in (under, at - 1):
            if number is not None and number >= 0:
                cells = split_line(lines[number], delimiter)
                if _is_unit_row(cells):
                    units = tuple(cells)
                    first = number + 1 if number > at else first
                    break
    rows = [split_line(line, delimiter) for line in lines[first : first + _SAMPLED] if line.strip()]
    rows = [row for row in rows if not row or not row[0].startswith("#")]
    return Table(
        encoding=encoding,
        delimiter=delimiter,
        headings=headings if has_headings else (),
        heading_line=at + 1 if has_headings else None,
        units=units,
        first_line=first + 1,
        width=len(headings),
        sample=tuple(map(tuple, rows)),
    )


def _heading_score(cells: Sequence[str], asked: frozenset[str]) -> int:
    """How much a row looks like the headings of a log; 0 where it does not."""
    if len(cells) < 2 or sum(bool(_NUMBER.fullmatch(cell)) for cell in cells) > len(cells) / 2:
        return 0
    found = [meaning.quantity for cell in cells if (meaning := meaning_of(cell)) is not None]
    known = set(found)
    named = sum(plain_words(cell.lstrip("#")) in asked for cell in cells if cell.strip())
    placed = {"latitude", "longitude"} <= known or "position" in known
    timed = bool(known & {"time", "elapsed", "date"})
    if not (placed or named or len(known) > 1):
        return 0
    return 100 * named + 20 * placed + 10 * timed + len(known)


def _likeliest(lines: Sequence[str]) -> tuple[str, int]:
    """Without a known heading: the delimiter that gives most rows of one width, and the first such row."""
    best = (0, 0, DELIMITERS[0], 0)
    for delimiter in DELIMITERS[:-1]:
        widths = [len(split_line(line, delimiter)) if line.strip() else 0 for line in lines[:_SEARCHED]]
        usual, count = (
            Counter(width for width in widths if width > 1).most_common(1)[0]
            if max(widths, default=0) > 1
            else (0, 0)
        )
        if (count, usual) > best[:2]:
            best = (count, usual, delimiter, widths.index(usual))
    return best[2], best[3]


def _is_unit_row(cells: Sequence[str]) -> bool:
    """Half of it units that are known here; a third where it is a remark: many instruments have units of their own."""
    filled = [cell for cell in cells if cell.strip().lstrip("#")]
    units = sum(map(is_unit, filled))
    enough = 3 if cells and cells[0].lstrip().startswith("#") else 2
    return (
        units >= 2 and units * enough >= len(filled) and not any(_NUMBER.fullmatch(cell) for cell in filled)
    )


def has_columns(text: str) -> bool:
    """Whether the first lines of a text are a table: known headings, or rows of three cells and more."""
    lines = [line for line in _LINE_END.split(text.replace("\0", "")) if line.strip()][:_SEARCHED]
    return any(
        len(split_line(line, delimiter)) > 2 or _heading_score(split_line(line, delimiter), frozenset()) > 0
        for line in lines
        for delimiter in DELIMITERS[:-1]
    ) or any(_heading_score(split_line(line, " "), frozenset()) > 20 for line in lines)


def rows_of(path: Path, table: Table, left: Left) -> Iterator[Rows]:
    """The rows under the headings, in pieces. Blank lines and lines that begin with ``#`` are no rows.

    A row with more cells than there are headings, not all of them empty, is left out and counted.
    """
    with path.open(encoding=table.encoding, errors="replace", newline="") as file:
        lines = _lines(path, file)
        for _ in range(table.first_line - 1):
            next(lines, None)
        quoting = csv.reader(chain(lines, [_END]), delimiter=table.delimiter, skipinitialspace=True)
        reader = (line.split() for line in lines) if table.delimiter == " " else quoting
        next_line = table.first_line
        while True:
            try:
                rows = list(islice(reader, _ROWS_AT_ONCE))
            except csv.Error as error:
                raise TrackError(
                    f"the table cannot be read from here on: {error}",
                    where=Place(path=path, line=table.first_line - 1 + quoting.line_num),
                    remedy="Look for a quotation mark that is opened and not closed.",
                ) from error
            if rows and rows[-1] == [_END]:
                rows.pop()
            if not rows:
                return
            numbers = _line_numbers(rows, next_line)
            next_line = int(numbers[-1]) + _line_count(rows[-1])
            if rows[-1] and rows[-1][-1].endswith(_END):
                _refuse_unclosed(path, rows[-1], int(numbers[-1]))
            piece = _rectangle(rows, numbers, table.width, left)
            if len(piece.lines):
                yield piece


def _refuse_unclosed(path: Path, row: list[str], line: int) -> None:
    """A cell that is opened and never closed has taken every row after it; not so where the file just breaks off in it."""
    lost = _line_count(row) - 1
    row[-1] = row[-1].removesuffix(_END)
    if lost > _MOST_CUT_OFF:
        raise TrackError(
            f"a quotation mark is opened here and never closed, so {lost:,} lines are one cell",
            where=Place(path=path, line=line),
            remedy="Close it or take it out, or export the log again.",
        )


def _lines(path: Path, file: IO[str]) -> Iterator[str]:
    """The lines of the file, without zeros; a line that never ends is refused before it fills the memory."""
    number = 0
    while line := file.readline(_LONGEST_LINE):
        number += 1
        if len(line) == _LONGEST_LINE:
            raise TrackError(
                f"a line is longer than {_LONGEST_LINE:,} characters",
                where=Place(path=path, line=number),
                remedy="Write one row of the log on each line.",
            )
        yield line.replace("\0", "") if "\0" in line else line


def _line_count(row: list[str]) -> int:
    """How many lines of the file a row takes: a quoted cell may hold line ends."""
    return 1 + sum(len(_LINE_END.findall(cell)) for cell in row)


def _line_numbers(rows: list[list[str]], first: int) -> Floats:
    """The line each row begins on."""
    several = [index for index, row in enumerate(rows) if any("\n" in cell or "\r" in cell for cell in row)]
    steps = np.ones(len(rows))
    for index in several:
        steps[index] = _line_count(rows[index])
    return first + np.concatenate([[0.0], np.cumsum(steps)[:-1]])


def _rectangle(rows: list[list[str]], numbers: Floats, width: int, left: Left) -> Rows:
    """Rows of one width. Most pieces of most files already are."""
    if not width or set(map(len, rows)) != {width}:
        kept = [index for index, row in enumerate(rows) if _fits(row, int(numbers[index]), width, left)]
        rows = [(rows[index] + [""] * width)[:width] for index in kept]
        numbers = numbers[kept]
    if any(row[0][:1] == "#" for row in rows):
        kept = [index for index, row in enumerate(rows) if row[0][:1] != "#"]
        rows, numbers = [rows[index] for index in kept], numbers[kept]
    return Rows(lines=numbers, columns=[list(column) for column in zip(*rows, strict=True)])


def _fits(row: list[str], number: int, width: int, left: Left) -> bool:
    if not row or (len(row) == 1 and not row[0].strip()):
        return False
    if any(cell.strip() for cell in row[width:]) and row[0][:1] != "#":
        left.too_long += 1
        left.first_too_long = left.first_too_long or number
        left.counts[len(row)] += 1
        return False
    return True
