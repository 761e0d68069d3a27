"""What the heading of a column means: quantity, kind, unit.

Owns      taking a heading apart, and the choice where several columns hold the same quantity.
Not here  the words themselves (``csv_words``), the cells (``csv_values``).
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from debrief.errors import Place, TrackError
from debrief.tracks.readers.csv_words import (
    ALLOWED,
    DIMENSION,
    FILLERS,
    NAMES,
    PHRASES,
    QUALIFIERS,
    UNIT_QUALIFIERS,
    UNITS,
    WORDS,
    Dimension,
    Qualifier,
    Quantity,
)
from debrief.tracks.readers.sniff import plain
from debrief.tracks.readers.stamps import DateOrder, offset_minutes

_BRACKETS = re.compile(r"[(\[{<]([^)\]}>]*)[)\]}>]")
_CAMEL = re.compile(
    r"(?<=[a-zà-ÿ])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])|(?<=[A-Za-z])(?=\d)|(?<=\d)(?=[A-Za-z]{2})"
)
_SPLIT = re.compile(r"[^\w°º/^-]+|_+|(?<=\D)-|-(?=\D)")
_LETTERS = str.maketrans(
    {"ł": "l", "ø": "o", "đ": "d", "ß": "ss", "æ": "ae", "œ": "oe", "’": "'", "µ": "u", "μ": "u"}
)
_SEA_LEVEL = re.compile(r"(?:above |over )?(?:mean )?sea level")
_DATE_FORM = re.compile(
    r"\b(d{1,2}|m{1,2}|y{2,4})[-/. ]?(d{1,2}|m{1,2}|y{2,4})[-/. ]?(d{1,2}|m{1,2}|y{2,4})\b"
)
_CLOCK_FORM = re.compile(r"\bh{1,2}:?m{1,2}(?::?s{1,2}(?:[.,][sfx0]+)?)?\b")
_ZONE_FORM = re.compile(r"\b(?:utc|gmt)\s?([-+−]\s?\d{1,2}(?::?\d\d)?)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What a column holds. ``unit`` is None where the heading does not say."""

    quantity: Quantity
    qualifiers: frozenset[Qualifier] = frozenset()
    unit: str | None = None
    date_order: DateOrder | None = None  # from a heading such as ``Date (dd/mm/yyyy)``
    offset_min: int | None = None  # from a heading such as ``Time (UTC+2)``
    word: str = ""  # the word that was recognised


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of the file that is used."""

    index: int
    heading: str
    meaning: Meaning

    def __str__(self) -> str:
        return repr(plain(self.heading.strip())) if self.heading.strip() else f"column {self.index + 1}"


def plain_words(text: str) -> str:
    """A heading in lower case, without accents, its parts set apart: ``GndSpd`` becomes ``gnd spd``."""
    apart = " ".join(part for part in _SPLIT.split(_CAMEL.sub(" ", text.translate(_LETTERS))) if part)
    folded = unicodedata.normalize("NFKD", apart.casefold()).translate(_LETTERS)
    return "".join(letter for letter in folded if not unicodedata.combining(letter))


def _compact(text: str) -> str:
    return re.sub(r"[\s/_-]", "", text)


_GROWN = tuple(word for word in QUALIFIERS if len(word) > 2)
_BY_WORD: dict[str, tuple[Quantity, tuple[Qualifier, ...]]] = {
    **{_compact(word): (quantity, ()) for quantity, words in WORDS.items() for word in words},
    **PHRASES,
}


@lru_cache(maxsize=4096)
def meaning_of(heading: str, unit_row: str = "") -> Meaning | None:
    """What a heading means, with what stands in a row of units under or over it; None where unknown.

    >>> found = meaning_of("Altitude MSL [m]")
    >>> found.quantity, sorted(found.qualifiers), found.unit
    ('altitude', ['msl'], 'm')
    >>> meaning_of("Selected altitude (ft)") is None
    True
    """
    text = heading.strip().lstrip("#").strip()
    if not text or len(text) > 80:
        return None
    outside = _BRACKETS.sub(" ", text)
    inside = " ".join(_BRACKETS.findall(text)) + " " + unit_row.strip().lstrip("#")
    inside, lower = _in_english(inside), _in_english(f"{text} {unit_row}")
    order, offset = _date_order(lower), _ZONE_FORM.search(lower)
    inside = _ZONE_FORM.sub(" ", _CLOCK_FORM.sub(" ", _DATE_FORM.sub(" ", inside)))
    outside = (
        _ZONE_FORM.sub(" ", outside) if not offset else re.sub(_ZONE_FORM.pattern, " ", outside, flags=re.I)
    )
    units, extra = _units_in(inside)
    words = _SEA_LEVEL.sub("msl", plain_words(outside)).split()
    for found in _readings(words, units, extra):
        return replace(
            found, date_order=order, offset_min=offset_minutes(offset[1].replace(" ", "")) if offset else None
        )
    return None


def _readings(words: list[str], units: list[str], extra: list[str]) -> list[Meaning]:
    """The first way to understand the words: as they are; then with the last ones as a unit."""
    trials = [(words, units)]
    if not units:
        for size in (2, 1):
            if len(words) > size:
                spellings = ("/".join(words[-size:]), "".join(words[-size:]))
                trials += [(words[:-size], [unit]) for unit in spellings if unit in UNITS]
    for rest, unit_texts in trials:
        found = _match(rest + extra, unit_texts)
        if found is not None:
            return [found]
    return []


def _match(words: list[str], units: list[str]) -> Meaning | None:
    by_unit: set[Qualifier] = {UNIT_QUALIFIERS[unit] for unit in units if unit in UNIT_QUALIFIERS}
    trials: list[tuple[str, set[Qualifier]]] = [(_compact("".join(words)), by_unit)]
    qualifiers = by_unit | {QUALIFIERS[word] for word in words if word in QUALIFIERS}
    rest = [word for word in words if word not in QUALIFIERS]
    trials.append((_compact("".join(rest)), qualifiers))
    telling = [word for word in rest if word not in FILLERS]
    trials.append((_compact("".join(telling)), qualifiers))
    for key, found in list(trials):
        trials += _peeled(key, found)
    for key, found in trials:
        known = _BY_WORD.get(key)
        if known is None:
            continue
        quantity, own = known
        allowed = ALLOWED.get(quantity, frozenset())
        if not found <= allowed:
            continue
        unit = _unit_for(quantity, units)
        if unit is None and units:
            continue
        meant = frozenset(own) or frozenset(found)
        if "msl" in by_unit:  # feet above the sea are no pressure altitude, whatever the "p" is short for
            meant = meant - {"pressure"} | {"msl"}
        if quantity == "time" and key in ("utc", "zulu", "gmt", "utctime"):
            meant |= {"utc"}
        if key in ("fl", "flightlevel"):
            unit = unit or "fl"
        return Meaning(quantity=quantity, qualifiers=meant, unit=unit or None, word=key)
    return None


def _peeled(key: str, found: set[Qualifier]) -> list[tuple[str, set[Qualifier]]]:
    """``gpsaltitude`` and ``altitudemsl``: a qualifier grown together with its word."""
    if not key.startswith(_GROWN) and not key.endswith(_GROWN):
        return []
    return [
        (rest, found | {QUALIFIERS[word]})
        for word in _GROWN
        for rest in (key.removeprefix(word), key.removesuffix(word))
        if len(rest) > 1 and rest != key
    ]


def _unit_for(quantity: Quantity, units: Sequence[str]) -> str | None:
    """The unit of the quantity's dimension among the texts; "" where none is asked for."""
    dimension = DIMENSION.get(quantity)
    for text in units:
        for known, unit in UNITS[text]:
            if known == dimension:
                return unit
    return "" if dimension is None else None


def unit_in(text: str, dimension: Dimension) -> str | None:
    """The unit written in a cell or a row of units, where it is one of this dimension."""
    key = _compact_unit(text)
    return next((unit for known, unit in UNITS.get(key, ()) if known == dimension), None)


def is_unit(text: str) -> bool:
    """Whether a cell of a row under the headings holds a unit or the form of a date or time."""
    lower = _in_english(text.strip().lstrip("#"))
    if _DATE_FORM.search(lower) or _CLOCK_FORM.search(lower):
        return True
    return bool(_units_in(lower)[0])


def _compact_unit(text: str) -> str:
    return re.sub(r"[\s._]", "", text.translate(_LETTERS).casefold())


def _units_in(text: str) -> tuple[list[str], list[str]]:
    """The units in a text, and its other words."""
    whole = _compact_unit(text)
    if whole in UNITS:
        return [whole], []
    units, others = [], []
    for word in re.split(r"[\s,;_]+", text.translate(_LETTERS).casefold()):
        key = _compact_unit(word)
        if key in UNITS:
            units.append(key)
        else:
            others += _SEA_LEVEL.sub("msl", plain_words(word)).split()
    return units, others


def _in_english(text: str) -> str:
    """Lower case, and the letters for day and year of other languages as d and y."""
    lower = text.casefold()
    for theirs, ours in (("jjjj", "yyyy"), ("aaaa", "yyyy"), ("jj", "dd"), ("tt", "dd")):
        lower = re.sub(rf"(?<![^\W_]){theirs}(?![^\W_])", ours, lower)
    return lower


def _date_order(lower: str) -> DateOrder | None:
    match = _DATE_FORM.search(lower)
    if match is None:
        return None
    order = "".join(part[0] for part in match.groups())
    return order if order in ("ymd", "dmy", "mdy") else None  # type: ignore[return-value]  # narrowed by the test


def refuse_unknown_names(asked: Mapping[str, str], path: Path | None = None) -> None:
    """``TrackError`` where a column is asked for by a name that no quantity has."""
    for name, where in asked.items():
        if name not in NAMES:
            near = difflib.get_close_matches(name, NAMES, n=1)
            raise TrackError(
                f"--column {plain(name)}={plain(where)}: there is no column named {plain(name)!r}",
                where=None if path is None else Place(path=path),
                remedy=f"Did you mean {near[0]}?" if near else f"Known are {', '.join(NAMES)}.",
                needs="columns",
            )


def asked_columns(
    path: Path, headings: Sequence[str], asked: Mapping[str, str], line: int | None
) -> list[Column]:
    """The columns a person named, by heading or by position; ``TrackError`` where one is not there."""
    columns: list[Column] = []
    plain_headings = [plain_words(heading.lstrip("#")) for heading in headings]
    refuse_unknown_names(asked, path)
    for name, where in asked.items():
        quantity, qualifiers, unit = NAMES[name]
        exact = [i for i, heading in enumerate(headings) if heading.strip() == where.strip()]
        alike = exact or [
            i for i, heading in enumerate(plain_headings) if heading and heading == plain_words(where)
        ]
        if not alike and where.strip().isdecimal() and 1 <= int(where) <= max(len(headings), 1):
            alike = [int(where) - 1]
        if not alike:
            near = difflib.get_close_matches(plain_words(where), plain_headings, n=1)
            hint = f" Did you mean {headings[plain_headings.index(near[0])].strip()!r}?" if near else ""
            raise TrackError(
                f"--column {name}={plain(where)}: the file has no such heading",
                where=Place(path=path, line=line),
                remedy=f"It has {listed(headings)}.{hint}",
                needs="columns",
            )
        twice = next((column.meaning.word for column in columns if column.index == alike[0]), None)
        if twice is not None:
            raise TrackError(
                f"--column {name}={plain(where)}: this column was given for {twice}, too",
                where=Place(path=path, line=line),
                remedy="Give each its own column; one that holds both coordinates is --column position=HEADING.",
                needs="columns",
            )
        own = meaning_of(headings[alike[0]])
        same = own if own is not None and own.quantity == quantity else None
        columns.append(
            Column(
                index=alike[0],
                heading=headings[alike[0]],
                meaning=Meaning(
                    quantity=quantity,
                    qualifiers=frozenset(qualifiers) or (same.qualifiers if same else frozenset()),
                    unit=unit or (same.unit if same else None),
                    date_order=_date_order(_in_english(headings[alike[0]])),
                    offset_min=same.offset_min if same else None,
                    word=name,
                ),
            )
        )
    return columns


def listed(headings: Sequence[str]) -> str:
    """Headings for a message: quoted, not too many."""
    shown = [repr(plain(heading.strip())[:40]) for heading in headings[:20]]
    more = f" and {len(headings) - 20} more" if len(headings) > 20 else ""
    return ", ".join(shown) + more
