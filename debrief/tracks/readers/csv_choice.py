"""Which column is used for what: those a person named, else the best of each kind.

Owns      the choice, and the line that is said where a time or a position is not recognised.
Not here  what one heading means (``csv_columns``), the words (``csv_words``).
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from debrief.errors import Place, TrackError
from debrief.tracks.readers import csv_values as cells_as
from debrief.tracks.readers.csv_columns import (
    Column,
    Meaning,
    asked_columns,
    listed,
    meaning_of,
    plain_words,
    unit_in,
)
from debrief.tracks.readers.csv_table import Table
from debrief.tracks.readers.csv_words import DIMENSION, WORDS, Quantity
from debrief.tracks.readers.samples import Wishes
from debrief.tracks.readers.sniff import plain
from debrief.tracks.readers.stamps import MISSING, NO_DATE, read_stamps

NUMERIC: tuple[Quantity, ...] = (
    "altitude",
    "groundspeed",
    "speed",
    "track",
    "heading",
    "airspeed",
    "vertical_speed",
)

_COMPARED = 60  # headings that are held against the known words, for a suggestion
_CLOCK_DIGITS = re.compile(r"([01]\d|2[0-3])[0-5]\d[0-5]\d(?:[.,]\d+)?")
_SIX_DIGITS = re.compile(r"\d{6}")
_DATE_DIGITS = re.compile(r"(?:19|20)\d\d(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])(?:[0-2]\d[0-5]\d[0-5]\d)?")


def choose_columns(path: Path, table: Table, wishes: Wishes) -> list[Column]:
    """The columns that are used: those a person named, else the best of each kind."""
    place = Place(path=path, line=table.heading_line)
    headings = table.headings or ("",) * table.width
    asked = asked_columns(path, headings, wishes.columns, table.heading_line)
    if not table.headings and not asked:
        raise TrackError(
            "no row of headings says what the columns are",
            where=place,
            remedy="Name them by position, for example --column time=1 --column latitude=2 --column longitude=3.",
            needs="columns",
        )
    taken = {column.index for column in asked}
    found = [
        Column(index=index, heading=heading, meaning=meaning)
        for index, heading in enumerate(table.headings)
        if index not in taken and (meaning := meaning_of(heading, table.unit(index))) is not None
    ]
    chosen = list(asked)
    for column in sorted(found, key=lambda column: (len(column.meaning.qualifiers), column.index)):
        if not any(_same(column.meaning, other.meaning) for other in chosen):
            chosen.append(column)
    chosen = _one_time(chosen, found, asked, table)
    _refuse_missing(table, chosen, place)
    return [_with_unit_of_cells(column, table) for column in chosen]


def _same(one: Meaning, other: Meaning) -> bool:
    """Whether a second column of this meaning adds nothing."""
    if one.quantity != other.quantity:
        return False
    kinds = ("altitude", "heading", "track", "airspeed")
    return one.quantity not in kinds or one.qualifiers == other.qualifiers


def _one_time(chosen: list[Column], found: list[Column], asked: list[Column], table: Table) -> list[Column]:
    """The time that says most about itself, and the date that goes with it."""
    by_person = {column.meaning.quantity for column in asked}
    rest = [
        column
        for column in chosen
        if column in asked or column.meaning.quantity not in ("time", "elapsed", "date")
    ]
    quantities = {column.meaning.quantity for column in rest}
    if {"latitude", "longitude"} <= quantities:
        rest = [column for column in rest if column in asked or column.meaning.quantity != "position"]
    times = [column for column in found if column.meaning.quantity in ("time", "elapsed")]
    time = next((column for column in asked if column.meaning.quantity in ("time", "elapsed")), None)
    if time is None and times:
        time = min(times, key=lambda column: _doubt(column, table))
        rest.append(time)
    dates = [column for column in found if column.meaning.quantity == "date" and table.cells(column.index)]
    if dates and "date" not in by_person:
        zone = time.meaning.qualifiers if time else frozenset()
        rest.append(min(dates, key=lambda column: (column.meaning.qualifiers != zone, column.index)))
    return rest


def _doubt(column: Column, table: Table) -> tuple[int, bool, int]:
    """How little a time column says: the less, the sooner it is used."""
    cells = table.cells(column.index)
    if not cells:
        return (9, False, column.index)
    local = "local" in column.meaning.qualifiers
    if np.isfinite(cells_as.numbers(cells[:1])).all():
        since_1970 = abs(float(cells_as.numbers(cells[:1])[0])) >= 1e8
        return (1 if since_1970 else 5, local, column.index)
    stamp = read_stamps(cells[:1])
    if column.meaning.quantity == "elapsed":
        return (6, local, column.index)
    zone = stamp.offset_min[0] != MISSING or "utc" in column.meaning.qualifiers
    dated = stamp.form[0] != NO_DATE
    clock = stamp.day_us[0] != MISSING
    if not clock:
        return (8, local, column.index)
    return ((0 if zone else 2) if dated else (3 if zone else 4), local, column.index)


def _refuse_missing(table: Table, chosen: list[Column], place: Place) -> None:
    have = {column.meaning.quantity for column in chosen}
    missing: list[Quantity] = []
    if not have & {"time", "elapsed", "date"}:
        missing.append("time")
    if "position" not in have:
        missing += [name for name in ("latitude", "longitude") if name not in have]
    if not missing:
        return
    words = " or ".join(missing) if len(missing) < 3 else ", ".join(missing[:-1]) + " or " + missing[-1]
    spare = [
        heading for index, heading in enumerate(table.headings) if index not in {c.index for c in chosen}
    ]
    known = "; ".join(f"{name}: {', '.join(WORDS[name][:4])}, ..." for name in missing)
    hints = " ".join(f"--column {name}={_nearest(name, spare)}" for name in missing)
    raise TrackError(
        f"no column is recognised as {words} among {listed(table.headings) or 'columns without headings'}",
        where=place,
        remedy=f"Known headings are {known}. Name yours: {hints}.",
        needs="columns",
    )


def _nearest(name: Quantity, headings: list[str]) -> str:
    """The heading that comes nearest to the words for a quantity, as it is to be typed."""
    best, best_ratio = "HEADING", 0.7
    for heading in headings[:_COMPARED]:
        for word in WORDS[name]:
            ratio = difflib.SequenceMatcher(None, plain_words(heading), word).ratio()
            if ratio > best_ratio:
                best, best_ratio = plain(heading.strip()), ratio
    return f"'{best}'" if re.search(r"\s", best) else best


def _with_unit_of_cells(column: Column, table: Table) -> Column:
    """Units that stand in the cells, ``120 kt``, where the heading has none; of several that of most cells."""
    quantity = column.meaning.quantity
    if quantity not in NUMERIC or (column.meaning.unit not in (None, "fl")):
        return column
    cells = table.cells(column.index)
    texts = Counter(cells_as.unit_text(cell, ".") or cells_as.unit_text(cell, ",") for cell in cells)
    units: Counter[str | None] = Counter()
    for text, count in texts.items():
        if text:
            units[unit_in(text, DIMENSION[quantity])] += count
    if not units or None in units:
        return column
    return replace(column, meaning=replace(column.meaning, unit=units.most_common(1)[0][0]))


def twice_over(table: Table, chosen: Sequence[Column]) -> list[tuple[Column, int]]:
    """Columns that are used, each with another one that has the same heading and other cells."""
    same = [
        (column, index)
        for column in chosen
        for index, heading in enumerate(table.headings)
        if index != column.index and heading.strip() and plain_words(heading) == plain_words(column.heading)
    ]
    return [
        (column, index)
        for column, index in same
        if any(row[index : index + 1] != row[column.index : column.index + 1] for row in table.sample)
    ]


def is_written(table: Table, column: Column, *, has_date: bool) -> bool:
    """Whether a column holds dates and times in figures and signs, and not numbers that count."""
    cells = table.cells(column.index)
    if not cells:
        return True
    if column.meaning.quantity == "date" and all(_SIX_DIGITS.fullmatch(cell) for cell in cells):
        return True  # 040526 is no count of days; which part is what, nobody can tell
    digits = [cell for cell in cells if _DATE_DIGITS.fullmatch(cell)]
    if len(digits) * 2 > len(cells):
        return True
    clocks = [cell for cell in cells if _CLOCK_DIGITS.fullmatch(cell)]
    if len(clocks) == len(cells) and column.meaning.quantity == "time" and column.meaning.unit is None:
        return has_date or len(cells) > 60 or cells[0].startswith("0")
    numeric = np.isfinite(cells_as.numbers(cells, cells_as.decimal_mark(cells)))
    return bool(numeric.mean() < 0.5)
