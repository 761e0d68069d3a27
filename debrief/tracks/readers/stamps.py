"""Dates and times as people write them: from texts to numbers, a column at a time.

Owns      the written forms of a date, a time of day and an offset from UTC, and their order where it is
          certain.
Not here  which column holds them (``csv_columns``), numbers of seconds (``csv_times``), what to do with a
          time that is missing (``samples``).
Method    The texts of one column have few shapes. Each shape is understood once, by a regular expression;
          the digits of all texts of that shape are then taken together.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Shorts = NDArray[np.int16]
DateOrder = Literal["ymd", "dmy", "mdy"]

MISSING = np.iinfo(np.int64).min  # a time, a time of day or an offset that is not there
DAY_US = 86_400_000_000
MINUTE_US = 60_000_000

# How the three numbers of a date are ordered; the larger, the less certain.
NO_DATE, YEAR_FIRST, DOTTED, UNCLEAR = 0, 1, 2, 3

_LONGEST = 64  # characters; no date is longer, and one long text would widen the whole table
_DATES_AT_ONCE = 100_000  # keeps the arrays in between small
# Of a zone from UTC. Source: IANA time zone database, Pacific/Kiritimati. Mark: seen.
FARTHEST_OFFSET_MIN = 14 * 60
LAST_MINUTE = 59
FIRST_YEAR, LAST_YEAR = 1900, 2199  # outside, a clock was not set; inside, ``datetime`` can print it

_DATE = r"""(?:
    (?P<y>0000)(?P<sep>[-/.])(?P<mo>00?)(?P=sep)(?P<d>00?)
  | (?P<cy>0000)(?P<cmo>00)(?P<cd>00)
  | (?P<a>00?)(?P<sep2>[-/.])\s?(?P<b>00?)(?P=sep2)\s?(?P<c>0000|00)
  | (?P<nd>00?)(?:st|nd|rd|th|\.)?[-/.\s]*(?P<month>[^\W\d_]{3,12})\.?[-/.,\s]*(?P<ny>0000|00)
  | (?P<month2>[^\W\d_]{3,12})\.?\s*(?P<nd2>00?)(?:st|nd|rd|th)?,?\s+(?P<ny2>0000)
)"""
_WEEKDAY = r"(?:[^\W\d_]{2,10}\.?,?\s+)?"
_BETWEEN = (
    r"(?:(?:\s*[t,]\s*|[-_\s]+)(?:(?:at|um|à)\s+)?|(?<=00000000)(?=000000))"  # or nothing: 20260504101207
)


def _clock(prefix: str) -> str:
    """A time of day and a zone; an expression may use each name once, so it is written for two uses."""
    return rf"""(?:
        (?P<{prefix}h>00?)(?::|h\s?)(?P<{prefix}mi>00)
            (?:(?::|m(?:in)?\s?|'\s?)(?P<{prefix}s>00)(?:[.,:](?P<{prefix}f>0+))?(?:s|'')?)?
      | (?P<{prefix}ch>00)(?P<{prefix}cmi>00)(?P<{prefix}cs>00)(?:[.,](?P<{prefix}cf>0+))?
    )(?:\s*(?P<{prefix}half>[ap])\.?\s?m\.?)?
    \s*(?P<{prefix}utc>z|utc|gmt|zulu)?\s*
    (?:(?P<{prefix}sign>[-+−])(?P<{prefix}oh>00?)(?::?(?P<{prefix}om>00))?)?"""


_SHAPE = re.compile(
    rf"{_WEEKDAY}(?:{_DATE}(?:{_BETWEEN}{_clock('')})?|{_clock('only_')})", re.VERBOSE | re.IGNORECASE
)
_OFFSET = re.compile(
    r"(?:utc|gmt)?\s*(?P<sign>[-+−]?)(?P<oh>\d\d?)(?::?(?P<om>\d\d))?(?::00)?", re.IGNORECASE
)

# English, German, French, Spanish, Italian, Portuguese, Dutch, Swedish, Polish: by their first letters,
# without accents, the longer beginning first.
_MONTHS = {
    **dict.fromkeys(("jan", "ene", "gen", "jän", "sty"), 1),
    **dict.fromkeys(("feb", "fev", "lut"), 2),
    **dict.fromkeys(("mar", "mrt", "mae", "mrz"), 3),
    **dict.fromkeys(("apr", "avr", "abr", "kwi"), 4),
    **dict.fromkeys(("may", "mai", "maj", "mei", "mag"), 5),
    **dict.fromkeys(("jun", "juin", "giu", "cze"), 6),
    **dict.fromkeys(("jul", "juil", "lug", "lip"), 7),
    **dict.fromkeys(("aug", "aou", "ago", "sie"), 8),
    **dict.fromkeys(("sep", "set", "wrz"), 9),
    **dict.fromkeys(("oct", "okt", "out", "ott", "paz"), 10),
    **dict.fromkeys(("nov", "lis"), 11),
    **dict.fromkeys(("dec", "dez", "dic", "gru"), 12),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamps:
    """What the texts of a column say, as numbers; one entry a text."""

    # of the date, in the order written; already y, m, d where YEAR_FIRST; 0 where there is none
    numbers: tuple[Shorts, Shorts, Shorts]
    form: NDArray[np.int8]  # NO_DATE, YEAR_FIRST, DOTTED or UNCLEAR
    day_us: Ints  # microseconds since midnight; MISSING where there is no time of day
    offset_min: Ints  # local time less UTC; 0 for a ``Z``; MISSING where the text has no zone

    def __len__(self) -> int:
        return len(self.form)

    @property
    def understood(self) -> NDArray[np.bool_]:
        """Where the text was a date, a time of day, or both."""
        found: NDArray[np.bool_] = (self.form != NO_DATE) | (self.day_us != MISSING)
        return found


def read_stamps(texts: Sequence[str]) -> Stamps:
    """Understand a column of texts, each a date, a time of day, or both, with or without a zone.

    A text that is none of these, or names an hour or minute that no clock shows, is not ``understood``.
    Fractions of a second are kept to the microsecond. A leap second becomes the second after it.

    >>> stamps = read_stamps(["2026-05-04T10:12:07.5Z", "noon"])
    >>> [int(part[0]) for part in stamps.numbers], int(stamps.day_us[0]) / 1e6, stamps.understood.tolist()
    ([2026, 5, 4], 36727.5, [True, False])
    """
    count = len(texts)
    numbers = (np.zeros(count, np.int16), np.zeros(count, np.int16), np.zeros(count, np.int16))
    columns = {name: np.full(count, MISSING) for name in ("day_us", "offset_min")}
    form = np.zeros(count, dtype=np.int8)
    if count:
        codes = _codes(texts)
        for shape, rows in _shapes(codes):
            match = _SHAPE.fullmatch(shape)
            if match is not None:
                _take(_Rows(match, codes, rows), numbers, columns, form)
    return Stamps(
        numbers=numbers,
        form=form,
        day_us=columns["day_us"],
        offset_min=columns["offset_min"],
    )


def joined(pieces: Sequence[Stamps]) -> Stamps:
    """One column from its pieces, in their order."""
    return Stamps(
        numbers=(
            np.concatenate([piece.numbers[0] for piece in pieces]),
            np.concatenate([piece.numbers[1] for piece in pieces]),
            np.concatenate([piece.numbers[2] for piece in pieces]),
        ),
        form=np.concatenate([piece.form for piece in pieces]),
        day_us=np.concatenate([piece.day_us for piece in pieces]),
        offset_min=np.concatenate([piece.offset_min for piece in pieces]),
    )


def midnight_us(stamps: Stamps, order: DateOrder) -> Ints:
    """The midnight each date begins with, in microseconds since 1970, zone left aside.

    ``order`` holds for the forms that do not begin with the year. ``MISSING`` where there is no date, or
    none that the calendar has, or one outside the years 1900 to 2199. Years of two digits are in 1970 to 2069.
    """
    found = np.full(len(stamps), MISSING)
    for start in range(0, len(stamps), _DATES_AT_ONCE):
        rows = slice(start, start + _DATES_AT_ONCE)
        found[rows] = _midnight_us([numbers[rows] for numbers in stamps.numbers], stamps.form[rows], order)
    return found


def _midnight_us(numbers: list[Shorts], form: NDArray[np.int8], order: DateOrder) -> Ints:
    first, second, third = (part.astype(np.int64) for part in numbers)
    year_first = form == YEAR_FIRST
    year = np.where(year_first, first, third)
    month = np.where(year_first, second, second if order == "dmy" else first)
    day = np.where(year_first, third, first if order == "dmy" else second)
    two_digits = ~year_first & (year >= 0) & (year < 100)
    year = np.where(two_digits, year + np.where(year < 70, 2000, 1900), year)
    good = (form != NO_DATE) & (year >= FIRST_YEAR) & (year <= LAST_YEAR)
    good &= (month >= 1) & (month <= 12) & (day >= 1)
    months = np.where(good, (year - 1970) * 12 + month - 1, 0)
    first_day = months.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    next_month = (months + 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
    good &= day <= next_month - first_day
    return np.where(good, (first_day + np.where(good, day, 1) - 1) * DAY_US, MISSING)


def _nowhere(size_min: Any, minutes: Any) -> Any:
    """Whether no clock is so far from UTC, or an hour has no such minute; of one zone or of an array of them."""
    return (size_min > FARTHEST_OFFSET_MIN) | (minutes > LAST_MINUTE)


def offset_minutes(text: str) -> int | None:
    """An offset from UTC written alone: ``+02:00``, ``-0530``, ``UTC+2``; None where it is not one."""
    if text.strip().casefold() in ("z", "utc", "gmt", "zulu"):
        return 0
    match = _OFFSET.fullmatch(text.strip())
    if match is None:
        return None
    minutes = int(match["oh"]) * 60 + int(match["om"] or 0)
    if _nowhere(minutes, int(match["om"] or 0)):
        return None
    return -minutes if match["sign"] in ("-", "−") else minutes


def _codes(texts: Sequence[str]) -> NDArray[np.uint32]:
    """The texts as rows of character codes, padded with zeros; one that is too long is left empty."""
    clean = [text.strip() for text in texts]
    width = max(map(len, clean))
    if width > _LONGEST:
        clean = [text if len(text) <= _LONGEST else "" for text in clean]
    table = np.array(clean, dtype=np.str_)
    width = table.dtype.itemsize // 4
    if width == 0:
        return np.zeros((len(clean), 1), dtype=np.uint32)
    return table.view(np.uint32).reshape(len(clean), width)


def _shapes(codes: NDArray[np.uint32]) -> list[tuple[str, NDArray[np.intp]]]:
    """Each shape (every digit a 0) with the rows that have it."""
    shape = np.where((codes >= ord("0")) & (codes <= ord("9")), np.uint32(ord("0")), codes)
    if (shape == shape[0]).all():
        return [(_text(shape[0]), np.arange(len(shape)))]
    whole_rows = np.ascontiguousarray(shape).view(f"V{shape.shape[1] * 4}").ravel()
    _, first, group = np.unique(whole_rows, return_index=True, return_inverse=True)
    by_group = np.split(np.argsort(group, kind="stable"), np.cumsum(np.bincount(group))[:-1])
    return [(_text(shape[row]), rows) for row, rows in zip(first, by_group, strict=True)]


def _text(row: NDArray[np.uint32]) -> str:
    return "".join(map(chr, row)).rstrip("\0")


class _Rows:
    """The rows of one shape, and where in them the parts of a date stand."""

    def __init__(self, match: re.Match[str], codes: NDArray[np.uint32], rows: NDArray[np.intp]) -> None:
        self.match = match
        self.codes = codes
        self.rows = rows

    def letters(self, *names: str) -> str | None:
        """What the shape has in the first of these groups that is there."""
        return next((self.match[name] for name in names if self.match[name]), None)

    def number(self, *names: str) -> Ints | None:
        """The whole number in the first of these groups that is there, for each row."""
        for name in names:
            if self.match[name] is not None:
                start, end = self.match.span(name)
                return self._digits(start, end) @ 10 ** np.arange(end - start - 1, -1, -1)
        return None

    def fraction_us(self, *names: str) -> Ints:
        """The digits behind the second, in microseconds; 0 where the shape has none."""
        for name in names:
            if self.match[name] is not None:
                start, end = self.match.span(name)
                end = min(end, start + 6)
                return self._digits(start, end) @ 10 ** np.arange(5, 5 - (end - start), -1)
        return np.zeros(len(self.rows), dtype=np.int64)

    def _digits(self, start: int, end: int) -> Ints:
        return self.codes[self.rows, start:end].astype(np.int64) - ord("0")


def _take(
    shape: _Rows, numbers: tuple[Shorts, Shorts, Shorts], columns: dict[str, Ints], form: NDArray[np.int8]
) -> None:
    """Fill the columns for all rows of one shape."""
    dated = _take_date(shape, numbers)
    if dated is None:
        return
    rows = shape.rows
    hour, minute = (
        shape.number("h", "ch", "only_h", "only_ch"),
        shape.number("mi", "cmi", "only_mi", "only_cmi"),
    )
    if hour is None or minute is None:
        form[rows] = dated
        return
    second = shape.number("s", "cs", "only_s", "only_cs")
    second = np.zeros_like(hour) if second is None else second
    good = (minute < 60) & (second < 61)
    half = shape.letters("half", "only_half")
    if half is None:
        good &= (hour < 24) | ((hour == 24) & (minute == 0) & (second == 0))
    else:
        good &= (hour >= 1) & (hour <= 12)
        hour = hour % 12 + (12 if half.casefold() == "p" else 0)
    day_us = ((hour * 60 + minute) * 60 + second) * 1_000_000 + shape.fraction_us(
        "f", "cf", "only_f", "only_cf"
    )
    columns["day_us"][rows] = np.where(good, day_us, MISSING)
    form[rows] = np.where(good, dated, NO_DATE)
    offset_hours = shape.number("oh", "only_oh")
    if offset_hours is not None:
        offset_minutes = shape.number("om", "only_om")
        size = offset_hours * 60 + (0 if offset_minutes is None else offset_minutes)
        columns["offset_min"][rows] = size if shape.letters("sign", "only_sign") == "+" else -size
        # no clock is so far off; by which zone the time is told, nobody knows then
        nowhere = _nowhere(size, size - 60 * offset_hours)
        columns["day_us"][rows[nowhere]] = MISSING
        form[rows[nowhere]] = NO_DATE
    elif shape.letters("utc", "only_utc"):
        columns["offset_min"][rows] = 0


def _take_date(shape: _Rows, numbers: tuple[Shorts, Shorts, Shorts]) -> int | None:
    """Fill the date's three numbers; its form, or None where its month has no name we know."""
    match = shape.match
    parts: tuple[Ints | None, ...]
    month_name = shape.letters("month", "month2")
    if month_name is not None:
        month = _month(month_name)
        if month is None:
            return None
        year = shape.number("ny", "ny2")
        assert year is not None  # both forms with a name have a year
        year = np.where(year < 70, year + 2000, np.where(year < 100, year + 1900, year))
        parts, form = (year, np.full_like(year, month), shape.number("nd", "nd2")), YEAR_FIRST
    elif match["a"] is not None:
        parts = (shape.number("a"), shape.number("b"), shape.number("c"))
        form = DOTTED if match["sep2"] == "." else UNCLEAR
    elif match["y"] is not None or match["cy"] is not None:
        parts = (shape.number("y", "cy"), shape.number("mo", "cmo"), shape.number("d", "cd"))
        form = YEAR_FIRST
    else:
        return NO_DATE
    for column, values in zip(numbers, parts, strict=True):
        assert values is not None  # a form has all three
        column[shape.rows] = values
    return form


def _month(name: str) -> int | None:
    plain = "".join(c for c in unicodedata.normalize("NFKD", name.casefold()) if not unicodedata.combining(c))
    return _MONTHS.get(plain[:4], _MONTHS.get(plain[:3]))
