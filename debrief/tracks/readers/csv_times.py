"""When each row was recorded: from a time column, a date column, offsets and the day a person gave.

Owns      seconds since 1970 or since the start, the order of day and month, the roll at midnight, what is
          assumed about the zone.
Not here  the written forms of one date (``stamps``).
Rule      Nothing is guessed in silence: what the file leaves open is taken as UTC or day first and said, or,
          where the two readings differ by weeks, refused.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from debrief.errors import Place, TrackError
from debrief.tracks.model import Floats
from debrief.tracks.readers.csv_columns import Column
from debrief.tracks.readers.csv_words import DAY_FIRST, FACTOR
from debrief.tracks.readers.samples import Remarks
from debrief.tracks.readers.sniff import plain
from debrief.tracks.readers.stamps import (
    DAY_US,
    DOTTED,
    MINUTE_US,
    MISSING,
    NO_DATE,
    YEAR_FIRST,
    DateOrder,
    Ints,
    Stamps,
    midnight_us,
)
from debrief.tracks.words import counted

# Sizes of a count since 1970 for the years 1973 to 2286; no other use of such numbers is known.
_EPOCHS = ((1e8, 1e10, 1e6, "seconds"), (1e11, 1e13, 1e3, "milliseconds"), (1e14, 1e16, 1.0, "microseconds"),
           (1e17, 1e19, 1e-3, "nanoseconds"))  # fmt: skip
_DAY_NUMBERS = (20_000.0, 80_000.0)  # a spreadsheet's days since 1900, for the years 1954 to 2119
_EPOCH_DAY = date(1970, 1, 1).toordinal()


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """What the file says about time, before any decision; one entry a row."""

    time_column: Column | None
    date_column: Column | None
    time: Stamps | Floats | None
    date: Stamps | Floats | None
    offset_min: Ints | None  # from a column of offsets; MISSING where a row has none
    first_texts: tuple[str, str] = field(default=("", ""))  # of the time and the date column, for messages


def times_us(path: Path, when: When, day: date | None, remarks: Remarks) -> Ints:
    """Microseconds since 1970, UTC, for each row; ``MISSING`` where a row has no time.

    Raises ``TrackError`` where the file leaves open which day it was and ``day`` does not tell.
    """
    if isinstance(when.date, np.ndarray):
        _refuse_day_numbers(path, when.date_column, when.date)
    if isinstance(when.time, np.ndarray):
        return _counted_times(path, when, when.time, day, remarks)
    if when.time is None:
        if not isinstance(when.date, Stamps):
            raise _no_time(path, when)
        return _written_times(path, when, when.date, when.date_column, day, remarks)
    return _written_times(path, when, when.time, when.time_column, day, remarks)


def _no_time(path: Path, when: When) -> TrackError:
    text = next((text for text in when.first_texts if text), "")
    shown = f"; the first reads {plain(text)[:40]!r}" if text else ""
    return TrackError(
        f"no time in column {when.time_column or when.date_column} can be read{shown}",
        where=Place(path=path),
        remedy="Write times as 2026-05-04T10:12:07Z, or as seconds since 1970.",
    )


# Numbers


def _counted_times(path: Path, when: When, values: Floats, day: date | None, remarks: Remarks) -> Ints:
    seen = values[np.isfinite(values)]
    if not len(seen):
        raise _no_time(path, when)
    column = when.time_column
    size = float(np.median(np.abs(seen)))
    for low, high, scale, name in _EPOCHS:
        if low <= size < high:
            remarks.note(f"Column {column} was read as {name} since 1970, UTC.")
            return _rounded(values * scale, low * scale, high * scale)
    _refuse_day_numbers(path, column, values)
    unit = (column.meaning.unit if column else None) or "s"
    seconds = values * FACTOR[("time", unit)]
    starts = _date_of(path, when, day, remarks)
    if starts is None:
        raise TrackError(
            f"column {column} counts time from a start that the file does not give",
            where=Place(path=path),
            remedy="Pass the day of the flight, for example --date 2026-05-04.",
            needs="date",
        )
    stays_in_day = bool(
        (seconds[np.isfinite(seconds)] >= 0).all() and (seconds[np.isfinite(seconds)] < 86_400).all()
    )
    if isinstance(when.date, Stamps) and stays_in_day:
        remarks.assume(f"Column {column} was read as seconds after midnight, UTC, of the date beside it.")
    else:
        start = datetime.fromtimestamp(int(starts[starts != MISSING][0]) / 1e6, UTC)
        starts = np.full(len(values), int(starts[starts != MISSING][0]))
        remarks.assume(f"Column {column} counts time from a start: it was set to {start:%Y-%m-%d} 00:00 UTC.")
    elapsed_us = _rounded(seconds * 1e6, -1e17, 1e17)
    return np.where((elapsed_us == MISSING) | (starts == MISSING), MISSING, elapsed_us + starts)


def _rounded(values_us: Floats, low_us: float, high_us: float) -> Ints:
    with np.errstate(invalid="ignore"):
        good = np.isfinite(values_us) & (values_us >= low_us) & (values_us < high_us)
    return np.where(good, np.round(np.where(good, values_us, 0.0)).astype(np.int64), MISSING)


def _refuse_day_numbers(path: Path, column: Column | None, values: Floats) -> None:
    seen = values[np.isfinite(values)]
    if not len(seen):
        return
    days = bool((seen >= _DAY_NUMBERS[0]).all() and (seen <= _DAY_NUMBERS[1]).all() and np.ptp(seen) < 3)
    share = bool((seen >= 0).all() and (seen < 1).all() and len(seen) > 2)
    is_date = column is not None and column.meaning.quantity == "date"
    if (days and (is_date or (seen % 1 != 0).any())) or (share and not is_date):
        raise TrackError(
            f"column {column} holds a spreadsheet's day numbers, such as {seen[0]:.10g}",
            where=Place(path=path),
            remedy="Format the column as date and time in the spreadsheet and export it again.",
        )


# Dates and clock times


def _written_times(
    path: Path, when: When, stamps: Stamps, column: Column | None, day: date | None, remarks: Remarks
) -> Ints:
    clock = stamps.day_us != MISSING
    if not clock.any():
        if stamps.understood.any():
            raise TrackError(
                f"column {column} holds dates without a time of day",
                where=Place(path=path),
                remedy="Export the log with the time of each sample.",
            )
        raise _no_time(path, when)
    offset_min, zone_known = _offsets(stamps, when, column, remarks)
    dated = (stamps.form != NO_DATE) & clock
    if dated.sum() * 2 > clock.sum():
        midnight = midnight_us(stamps, _order(path, when, stamps, column, day, remarks))
        _say_own_dates(midnight, day, remarks)
        if (midnight[dated] == MISSING).all() and isinstance(when.date, Stamps):
            midnight = np.full(len(stamps), MISSING)  # a spreadsheet's empty date, 1899-12-30
            dated[:] = False
    if dated.sum() * 2 <= clock.sum():
        found = _date_of(path, when, day, remarks)
        if found is None:
            odd = f", and column {when.date_column} has none that can be read" if when.date_column else ""
            shown = f", such as {plain(when.first_texts[1])[:40]!r}" if odd and when.first_texts[1] else ""
            raise TrackError(
                f"column {column} holds times of day without a date{odd}{shown}",
                where=Place(path=path),
                remedy="Pass the day of the flight (UTC), for example --date 2026-05-04.",
                needs="date",
            )
        midnight = _rolled(found, stamps.day_us, remarks, from_column=isinstance(when.date, Stamps))
        if not isinstance(when.date, Stamps) and day is not None:
            midnight = _on_the_day(midnight, stamps.day_us, offset_min, day)
    if not zone_known and column is not None:
        _assume_utc(column, when, remarks)
    good = clock & (midnight != MISSING)
    local_us = np.where(good, midnight, 0) + np.where(good, stamps.day_us, 0)
    return np.where(good, local_us - offset_min * MINUTE_US, MISSING)


def _say_own_dates(midnight: Ints, day: date | None, remarks: Remarks) -> None:
    known = midnight[midnight != MISSING]
    if day is not None and len(known):
        days_off = known // DAY_US - (day.toordinal() - _EPOCH_DAY)
        if (np.abs(days_off) > 1).all():
            remarks.note(f"The log has dates of its own: {day} was not used.")


def _date_of(path: Path, when: When, day: date | None, remarks: Remarks) -> Ints | None:
    """The midnight before each row by the date column, or by the day a person gave; None without either."""
    if isinstance(when.date, Stamps):
        midnight = midnight_us(when.date, _order(path, when, when.date, when.date_column, day, remarks))
        if (midnight != MISSING).any():
            return _filled(midnight)
    if day is None:
        return None
    count = len(when.time) if when.time is not None else 0
    return np.full(count, (day.toordinal() - _EPOCH_DAY) * DAY_US)


def _filled(midnight: Ints) -> Ints:
    """Rows without a date take the one above them, as in logs that write it only when it changes."""
    known = np.flatnonzero(midnight != MISSING)
    above = known[np.clip(np.searchsorted(known, np.arange(len(midnight)), side="right") - 1, 0, None)]
    return midnight[above]


def _rolled(midnight: Ints, day_us: Ints, remarks: Remarks, *, from_column: bool) -> Ints:
    """Add a day where the clock passes midnight and the date does not."""
    rows = np.flatnonzero(day_us != MISSING)
    moment = midnight[rows] + day_us[rows]
    step = np.diff(moment, prepend=moment[:1])
    # A clock that falls by half a day and more has passed midnight; one that rises by as much came back over
    # it, as samples out of order do. Where the date moves with the clock neither is seen.
    days = np.cumsum((step < -DAY_US // 2).astype(np.int64) - _back_over(step, midnight[rows]))
    if not days.any():
        return midnight
    remarks.note(
        "The times pass midnight while the date stays: the next day was taken from there on."
        if from_column
        else "The times pass midnight: the next day was taken from there on."
    )
    rolled = midnight.copy()
    rolled[rows] += days * DAY_US
    return rolled


def _back_over(step: Ints, midnight: Ints) -> Ints:
    same_day = np.diff(midnight, prepend=midnight[:1]) == 0
    passed = np.cumsum(step < -DAY_US // 2) > 0
    back: Ints = ((step > DAY_US // 2) & same_day & passed).astype(np.int64)
    return back


def _on_the_day(midnight: Ints, day_us: Ints, offset_min: Ints, day: date) -> Ints:
    """The person's day is that of the first sample in UTC; local midnight may be a day off."""
    first = int(np.flatnonzero(day_us != MISSING)[0])
    utc_us = int(midnight[first] + day_us[first] - offset_min[first] * MINUTE_US)
    days_off = utc_us // DAY_US - (day.toordinal() - _EPOCH_DAY)
    return midnight - days_off * DAY_US


def _offsets(stamps: Stamps, when: When, column: Column | None, remarks: Remarks) -> tuple[Ints, bool]:
    """Local time less UTC in minutes for each row, and whether the file says so."""
    own = stamps.offset_min != MISSING
    rest, known = 0, False
    if column is not None and column.meaning.offset_min is not None:
        rest, known = column.meaning.offset_min, True
    elif column is not None and "utc" in column.meaning.qualifiers:
        known = True
    offset_min = np.where(own, stamps.offset_min, rest)
    if when.offset_min is not None and not own.all() and (when.offset_min != MISSING).any() and not known:
        beside = _filled(when.offset_min)
        return np.where(own, stamps.offset_min, beside), True
    seen = stamps.day_us != MISSING
    if own[seen].any() and not own[seen].all() and not known:
        remarks.assume(f"{counted((seen & ~own).sum(), 'time')} without a zone taken as UTC.")
        return offset_min, True
    return offset_min, known or bool(own[seen].all())


def _assume_utc(column: Column, when: When, remarks: Remarks) -> None:
    if "utc" in getattr(when.date_column, "meaning", column.meaning).qualifiers:
        return
    if "local" in column.meaning.qualifiers:
        remarks.assume(
            f"Column {column} holds local times without an offset: they are shown as if they were UTC."
        )
    else:
        remarks.assume(f"Column {column} does not name a zone: its times were taken as UTC.")


# The order of day and month


def _order(
    path: Path, when: When, stamps: Stamps, column: Column | None, day: date | None, remarks: Remarks
) -> DateOrder:
    """Day first or month first, where the dates do not begin with the year."""
    rows = np.flatnonzero(stamps.form > YEAR_FIRST)
    if not len(rows):
        return "ymd"
    first, second, third = (numbers[rows] for numbers in stamps.numbers)
    said = column.meaning.date_order if column is not None else None
    if said in ("dmy", "mdy"):
        return said
    # a recorder writes one or two days: decide on the different dates, in the order they come
    changes = np.flatnonzero((np.diff(first, prepend=-1) != 0) | (np.diff(second, prepend=-1) != 0))
    a, b = first[changes], second[changes]
    day_first, month_first = bool((b <= 12).all()), bool((a <= 12).all())
    if day_first != month_first:
        return "dmy" if day_first else "mdy"
    if not day_first:
        text = f"{first[0]:02d}/{second[0]:02d}/{third[0]}"
        raise TrackError(
            f"column {column} holds dates, such as {text!r}, of which no number can be the month throughout",
            where=Place(path=path),
            remedy="Write dates as 2026-05-04.",
        )
    if (a == b).all():
        return "dmy"
    asked = _order_by_day(stamps, day)
    if asked is not None:
        return asked
    # Past midnight the day goes up by one; the month does not.
    if len(a) > 1 and (np.diff(b) == 0).all() and (np.diff(a) == 1).all():
        return "dmy"
    if len(a) > 1 and (np.diff(a) == 0).all() and (np.diff(b) == 1).all():
        return "mdy"
    example = Example.of(int(first[0]), int(second[0]), int(third[0]))
    if (stamps.form[rows] == DOTTED).all():
        remarks.assume(f"Dates such as {example.dotted} were read day first: {example.day_first}.")
        return "dmy"
    over = (when.date_column, when.time_column)
    if any(heading is not None and heading.meaning.word in DAY_FIRST for heading in over):
        remarks.assume(
            f"Dates such as {example.slashed} were read day first, as the language of the headings writes them: "
            f"{example.day_first}."
        )
        return "dmy"
    raise TrackError(
        f"dates such as {example.slashed} in column {column} leave open which number is the month",
        where=Place(path=path),
        remedy=f"Pass the day of the flight: --date {example.day_first} or --date {example.month_first}.",
        needs="date",
    )


@dataclass(frozen=True, slots=True)
class Example:
    """One date, read both ways, for a message."""

    dotted: str
    slashed: str
    day_first: str
    month_first: str

    @classmethod
    def of(cls, first: int, second: int, third: int) -> Example:
        """From the three numbers as they are written."""
        year = third + (2000 if third < 70 else 1900) if third < 100 else third
        return cls(
            dotted=f"{first:02d}.{second:02d}.{third}",
            slashed=f"{first:02d}/{second:02d}/{third}",
            day_first=f"{year}-{second:02d}-{first:02d}",
            month_first=f"{year}-{first:02d}-{second:02d}",
        )


def _order_by_day(stamps: Stamps, day: date | None) -> DateOrder | None:
    """The order under which the first date is the day a person gave, or beside it (for the zone's sake)."""
    if day is None:
        return None
    near = {day.toordinal() + d - _EPOCH_DAY for d in (-1, 0, 1)}
    fitting: list[DateOrder] = []
    orders: tuple[DateOrder, ...] = ("dmy", "mdy")
    for order in orders:
        midnight = midnight_us(stamps, order)
        known = midnight[midnight != MISSING]
        if len(known) and int(known[0]) // DAY_US in near:
            fitting.append(order)
    return fitting[0] if len(fitting) == 1 else None
