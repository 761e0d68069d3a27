"""CSV and its relatives: any table of text with a time and a position in each row.

Owns      how the cells of the chosen columns become samples, and what is said about rows left out.
Not here  finding the table (``csv_table``), the columns (``csv_choice``), cells (``csv_values``), times
          (``csv_times``), units nobody wrote down (``csv_measures``).
Note      Rows are split by Python's own ``csv``: it tells the line of every row and lets short, long and
          unfinished rows be counted, at 15 ms for a four-hour log.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from debrief.errors import Place, TrackError
from debrief.tracks.model import Floats, Track
from debrief.tracks.readers import csv_values as cells_as
from debrief.tracks.readers.csv_choice import NUMERIC, choose_columns, is_written, twice_over
from debrief.tracks.readers.csv_columns import Column, Meaning, unit_in
from debrief.tracks.readers.csv_measures import Measured, measures_of
from debrief.tracks.readers.csv_table import Left, Rows, Table, find_table, has_columns, rows_of
from debrief.tracks.readers.csv_times import When, times_us
from debrief.tracks.readers.csv_words import DIMENSION, FACTOR, Quantity
from debrief.tracks.readers.samples import Remarks, Samples, Wishes, make_track, refuse_too_many
from debrief.tracks.readers.sniff import decoded, kind_of, plain, xml_root
from debrief.tracks.readers.stamps import MISSING, Ints, Stamps, joined, offset_minutes, read_stamps
from debrief.tracks.words import counted

NAME = "csv"
SUFFIXES: tuple[str, ...] = (".csv", ".tsv", ".txt")

_ENOUGH = 4096  # bytes in which most XML shows that it is XML
_MOST_NAMES = 5  # of aircraft in a message


def looks_like(head: bytes) -> bool:
    """Whether the first bytes are text in columns, and none of the formats that only look so."""
    if xml_root(decoded(head[:_ENOUGH])) is not None:
        return False
    return kind_of(head)[0] == "text without columns" and has_columns(decoded(head))


def read(path: Path, wishes: Wishes) -> Track:
    """A log in rows and columns, whatever its headings, delimiter, decimal mark and encoding.

    What the file leaves open is taken from ``wishes``, measured against the positions, or assumed and said.
    Raises ``TrackError`` where no time or position is recognised, or where rows of several aircraft are mixed.
    """
    table = find_table(path, wishes.columns)
    remarks = Remarks()
    chosen = choose_columns(path, table, wishes)
    left = Left()
    read_in = _Cells(table, chosen)
    for rows in rows_of(path, table, left):
        read_in.add(rows)
        refuse_too_many(path, sum(map(len, read_in.lines)))
    if not read_in.lines:
        _refuse_no_rows(path, table, left)
    _say_left(path, table, left, sum(map(len, read_in.lines)), remarks)
    read_in.refuse_several_aircraft(path)
    if table.encoding == "cp1252":
        remarks.note("The text is not UTF-8: it was read as Windows-1252.")
    latitude, longitude = _positions(read_in, chosen, remarks)
    time_us = times_us(path, read_in.when(), wishes.date, remarks)
    seconds = np.where(time_us == MISSING, np.nan, time_us / 1e6)
    values = []
    for column in chosen:
        if column.meaning.quantity in NUMERIC:
            floats = read_in.floats(column)
            if np.isfinite(floats).any():
                values.append(Measured(column=column, values=floats))
            elif cells := table.cells(column.index):
                remarks.note(f"Column {column} was left out: it holds no numbers, but {plain(cells[0])!r}.")
    for column, other in twice_over(table, chosen):
        remarks.note(
            f"Columns {column.index + 1} and {other + 1} are both called {column} and differ: "
            f"column {column.index + 1} was taken."
        )
    measures = measures_of(
        seconds,
        latitude,
        longitude,
        values,
        remarks,
        transponder=read_in.transponder,
        altitude_unit=wishes.altitude_unit,
    )
    for column in chosen:
        if column.meaning.quantity in ("on_ground", "airborne"):
            flag = read_in.floats(column)
            measures.columns["on_ground"] = 1 - flag if column.meaning.quantity == "airborne" else flag
    samples = Samples(
        time_us=time_us,
        latitude_deg=latitude,
        longitude_deg=longitude,
        altitude_ft=measures.altitude_ft,
        part=np.zeros(len(time_us)),
        line=np.concatenate(read_in.lines),
        columns=measures.columns,
    )
    pilots = read_in.names.get("pilot", set())
    track = make_track(
        path,
        samples,
        remarks,
        format_name=NAME,
        word="row",
        altitude_source=measures.altitude_source,
        pilot=next(iter(pilots)) if len(pilots) == 1 else None,
    )
    return replace(track, heading_north_open=measures.north_open)


# The cells


class _Cells:
    """The columns that are used, as numbers, piece by piece."""

    def __init__(self, table: Table, chosen: list[Column]) -> None:
        self.table = table
        self.by_quantity = {column.meaning.quantity: column for column in reversed(chosen)}
        self.chosen = chosen
        self.lines: list[Floats] = []
        self.numbers: dict[int, list[Floats]] = {}
        self.second: list[Floats] = []  # the longitudes of a column with both coordinates
        self.stamps: dict[int, list[Stamps]] = {}
        self.offsets: list[Ints] = []
        self.names: dict[Quantity, set[str]] = {}
        placed = [c for c in chosen if c.meaning.quantity in ("latitude", "longitude", "position")]
        self.mark = cells_as.position_mark([cell for c in placed for cell in table.cells(c.index)])
        self.written = {
            column.index
            for column in chosen
            if column.meaning.quantity in ("time", "date")
            and is_written(table, column, has_date="date" in self.by_quantity)
        }

    def add(self, rows: Rows) -> None:
        """Take one piece of the table."""
        self.lines.append(rows.lines)
        for column in self.chosen:
            cells = rows.column(column.index)
            quantity = column.meaning.quantity
            if quantity in ("aircraft", "flight_id", "pilot"):
                names = self.names.setdefault(quantity, set())
                if len(names) <= _MOST_NAMES:
                    names |= {cell.strip() for cell in set(cells) if cell.strip()}
            elif quantity == "utc_offset":
                known = {cell: offset_minutes(cell) for cell in set(cells)}
                self.offsets.append(
                    np.array([MISSING if (m := known[cell]) is None else m for cell in cells])
                )
            elif quantity == "position":
                first, second = cells_as.pairs(cells)
                self.numbers.setdefault(column.index, []).append(first)
                self.second.append(second)
            elif column.index in self.written:
                self.stamps.setdefault(column.index, []).append(read_stamps(cells))
            else:
                self.numbers.setdefault(column.index, []).append(self._values(column, cells))

    def _values(self, column: Column, cells: list[str]) -> Floats:
        quantity = column.meaning.quantity
        if quantity == "latitude":
            return cells_as.angles(cells, self.mark, "latitude")
        if quantity == "longitude":
            return cells_as.angles(cells, self.mark, "longitude")
        if quantity in ("north_south", "east_west"):
            return cells_as.signs(cells)
        if quantity in ("on_ground", "airborne"):
            return cells_as.flags(cells)
        mark = cells_as.decimal_mark(self.table.cells(column.index), self.mark)
        in_cells = quantity in NUMERIC and column.meaning.unit is not None
        return cells_as.numbers(cells, mark, partial(_factor, column.meaning) if in_cells else None)

    def floats(self, column: Column) -> Floats:
        """The whole column; once, for its pieces are given up."""
        return np.concatenate(self.numbers.pop(column.index))

    @property
    def transponder(self) -> bool:
        """Whether rows name an aircraft by the 24-bit address of its transponder."""
        column = self.by_quantity.get("aircraft")
        return column is not None and bool(re.search(r"icao|hex|modes|address", column.meaning.word))

    def when(self) -> When:
        """The time and date columns."""
        time = self.by_quantity.get("time") or self.by_quantity.get("elapsed")
        date = self.by_quantity.get("date")
        if time is not None and time.index not in self.stamps and time.index not in self.numbers:
            time = None
        texts = [self.table.cells(column.index)[:1] if column else [] for column in (time, date)]
        return When(
            time_column=time,
            date_column=date,
            time=self._stamps_or_floats(time),
            date=self._stamps_or_floats(date),
            offset_min=np.concatenate(self.offsets) if self.offsets else None,
            first_texts=(texts[0][0] if texts[0] else "", texts[1][0] if texts[1] else ""),
        )

    def _stamps_or_floats(self, column: Column | None) -> Stamps | Floats | None:
        if column is None:
            return None
        return joined(self.stamps.pop(column.index)) if column.index in self.stamps else self.floats(column)

    def refuse_several_aircraft(self, path: Path) -> None:
        """A track is of one aircraft: ``TrackError`` where a column names several."""
        quantity: Quantity = "aircraft" if self.names.get("aircraft") else "flight_id"
        names = sorted(self.names.get(quantity, ()))
        if len(names) < 2:
            return
        some = ", ".join(plain(name)[:20] for name in names[: _MOST_NAMES - 1])
        raise TrackError(
            f"rows of several aircraft are mixed: {some}{' and more' if len(names) >= _MOST_NAMES else ''}",
            where=Place(path=path, column=plain(self.by_quantity[quantity].heading.strip())),
            remedy="Keep the rows of one.",
        )


def _factor(meaning: Meaning, text: str) -> float | None:
    """What a number with that text behind it is to be multiplied with for the column's own unit."""
    dimension = DIMENSION[meaning.quantity]
    unit = unit_in(text, dimension)
    if unit is None or meaning.unit is None or unit == meaning.unit or meaning.unit == "fl":
        return None
    return FACTOR[(dimension, unit)] / FACTOR[(dimension, meaning.unit)]


def _positions(read_in: _Cells, chosen: list[Column], remarks: Remarks) -> tuple[Floats, Floats]:
    by = {column.meaning.quantity: column for column in reversed(chosen)}
    if "latitude" not in by or "longitude" not in by:
        first, second = read_in.floats(by["position"]), np.concatenate(read_in.second)
        if (np.abs(first) > 90).any() and not (np.abs(second) > 90).any():
            remarks.note(f"Column {by['position']} has the longitude first.")
            return second, first
        return first, second
    latitude, longitude = read_in.floats(by["latitude"]), read_in.floats(by["longitude"])
    if by["latitude"].meaning.unit or by["longitude"].meaning.unit:
        latitude = latitude * FACTOR[("angle", by["latitude"].meaning.unit or "deg")]
        longitude = longitude * FACTOR[("angle", by["longitude"].meaning.unit or "deg")]
    packed = cells_as.packed_positions(latitude, longitude)
    if packed is not None:
        example = latitude[np.isfinite(latitude)][0]
        remarks.assume(f"Positions such as {example:g} were read as degrees and minutes (DDMM.mmm).")
        latitude, longitude = packed
    if "north_south" in by:
        latitude = np.abs(latitude) * read_in.floats(by["north_south"])
    if "east_west" in by:
        longitude = np.abs(longitude) * read_in.floats(by["east_west"])
    return latitude, longitude


# Rows that are not there


def _refuse_no_rows(path: Path, table: Table, left: Left) -> None:
    if left.too_long:
        _refuse_long_rows(path, table, left)
    raise TrackError(
        "there are headings but no rows under them" if table.headings else "there are no rows",
        where=Place(path=path, line=table.heading_line),
        remedy="Export the log again.",
    )


def _say_left(path: Path, table: Table, left: Left, rows: int, remarks: Remarks) -> None:
    if left.too_long > rows:
        _refuse_long_rows(path, table, left)
    if left.too_long:
        remarks.note(
            f"{counted(left.too_long, 'row')} with more cells than headings left out "
            f"(the first in line {left.first_too_long})."
        )


def _refuse_long_rows(path: Path, table: Table, left: Left) -> None:
    raise TrackError(
        f"rows have {left.counts.most_common(1)[0][0]} cells under {table.width} headings",
        where=Place(path=path, line=left.first_too_long),
        remedy="Where numbers have decimal commas, separate the columns with semicolons.",
    )
