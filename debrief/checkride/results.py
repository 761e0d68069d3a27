"""The results of a folder as files: ``results.json`` and ``results.csv``, and reading the first back.

Owns      how rows look in both.
Not here  the rows themselves (``model``), the summary for people (``summary``), writing whole files (``reports.files``).
Source    DEVELOPERS.md, "Graded folder".

The same rows give the same bytes.
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import chain
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

from debrief.checkride.model import UNREADABLE, VERDICTS, Flag, Item, Overrule, Row
from debrief.errors import DebriefError, Place
from debrief.whole_files import no_formula, read_ordinary

_Part = TypeVar("_Part")

JSON_NAME, CSV_NAME, PDF_NAME = "results.json", "results.csv", "summary.pdf"
RESULTS = (JSON_NAME, CSV_NAME, PDF_NAME)
COLUMNS = (
    "file", "sha256", "pilot", "procedure", "standard", "attempt", "result", "first_cause", "margin", "log_quality",
    "flags", "reason", "decided", "to_examiner",
)  # fmt: skip
_FORMAT = 1
_FROM_A_COPY = "Put the file back from a copy."
_DERIVED = ("decided", "to_examiner")
_KINDS = (Row, Item, Flag, Overrule)
#: Of each part of a row, its fields in order, and those that a file must have.
_NAMES: Mapping[type, dict[str, None]] = {
    kind: dict.fromkeys(field.name for field in dataclasses.fields(kind)) for kind in _KINDS
}
_NEEDED: Mapping[type, tuple[str, ...]] = {
    kind: tuple(
        field.name
        for field in dataclasses.fields(kind)
        if field.default is field.default_factory is dataclasses.MISSING
    )
    for kind in _KINDS
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Results:
    """A graded folder."""

    program: str
    flights: tuple[Row, ...]
    folder: str = ""  # of the submissions, as it was given
    procedures: tuple[dict[str, str], ...] = ()  # "name", "file", "sha256", "path" of each that was offered
    standard: Mapping[str, str] = dataclasses.field(default_factory=dict)  # the same of the standard
    left_aside: tuple[str, ...] = ()  # files that are no logs
    date: str = ""  # the day that was given for logs that leave it open
    altitude_unit: str = ""  # that was given for every log
    columns: Mapping[str, str] = dataclasses.field(default_factory=dict)  # that were named


def results_json(results: Results) -> str:
    """The text of ``results.json``."""
    head = {
        "format": _FORMAT,
        "program": results.program,
        "folder": results.folder,
        "procedures": list(results.procedures),
        "standard": dict(results.standard),
        "left_aside": list(results.left_aside),
        **({"date": results.date} if results.date else {}),
        **({"altitude_unit": results.altitude_unit} if results.altitude_unit else {}),
        **({"columns": dict(results.columns)} if results.columns else {}),
        "flights": [],
    }
    if not results.flights:
        return _text(head) + "\n"
    # row by row: the pieces of ten thousand rows at once would take a gigabyte
    rows = (
        _text(row_json(row) | {name: _derived(row, name) for name in _DERIVED}).replace("\n", "\n  ")
        for row in results.flights
    )
    return _text(head).removesuffix("]\n}") + ",".join(f"\n  {row}" for row in rows) + "\n ]\n}\n"


def _text(content: Mapping[str, Any]) -> str:  # whatever JSON holds
    return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False)


def results_csv(rows: Sequence[Row]) -> str:
    """The text of ``results.csv``: one row a file."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\r\n")  # RFC 4180
    table.writerow(COLUMNS)
    table.writerows([_cell(row, name) for name in COLUMNS] for row in rows)
    return text.getvalue()


def _cell(row: Row, name: str) -> str:
    if name == "flags":
        return ";".join(dict.fromkeys(flag.sign for flag in row.flags))
    if name == "to_examiner":
        return "; ".join(row.to_examiner)
    value = getattr(row, name)
    if isinstance(value, str):
        return no_formula(value)
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _derived(row: Row, name: str) -> Any:  # whatever JSON holds
    value = getattr(row, name)
    return list(value) if isinstance(value, tuple) else value


def row_json(row: Row) -> dict[str, Any]:
    """A row as JSON holds it."""
    return _fields(row) | {
        "flags": [_fields(flag) for flag in row.flags],
        "items": [_fields(item) for item in row.items],
    }


def _fields(part: Row | Item | Flag | Overrule) -> dict[str, Any]:
    """One level of a row. ``dataclasses.asdict`` would copy each number and word: ten times the work."""
    told = {name: getattr(part, name) for name in _NAMES[type(part)]}
    if (overruled := told.get("overruled")) is not None:
        told["overruled"] = _fields(overruled)
    return told


def row_from(told: Mapping[str, Any]) -> Row:
    """A row read back; keys that this version does not know are passed over."""
    known = _known(Row, told)
    known["flags"] = tuple(of_its_types(Flag(**_known(Flag, flag))) for flag in told.get("flags", ()))
    known["items"] = tuple(
        of_its_types(Item(**(_known(Item, item) | {"overruled": _overrule(item.get("overruled"))})))
        for item in told.get("items", ())
    )
    known["overruled"] = _overrule(told.get("overruled"))
    return of_its_types(Row(**known))


def of_its_types(part: _Part) -> _Part:
    """The same, if each field holds what it must; else ``TypeError``. Of words, any: newer versions have new ones."""
    kind: type[Any] = type(part)
    for name, allowed in _allowed(kind):  # type: ignore[arg-type]  # a class can be hashed
        value = getattr(part, name)
        if not isinstance(value, allowed) or (isinstance(value, bool) and bool not in allowed):
            raise TypeError(f"{name} is {type(value).__name__}")
        if isinstance(value, str):
            value.encode("utf-8")  # half a letter cannot be written again
        elif isinstance(value, float) and not math.isfinite(value):
            raise TypeError(f"{name} is no number")
    return part


@cache
def _allowed(kind: type[Any]) -> tuple[tuple[str, tuple[type, ...]], ...]:
    """The fields of a dataclass, and the plain types that each may hold."""
    hints = get_type_hints(kind)
    return tuple((field.name, tuple(_plain_types(hints[field.name]))) for field in dataclasses.fields(kind))


def _plain_types(hint: Any) -> Iterator[type]:
    if get_origin(hint) is Literal:
        yield str
    elif get_origin(hint) is not None and get_origin(hint) is not tuple:  # this or that
        for one in get_args(hint):
            yield from _plain_types(one)
    elif hint is float:
        yield from (float, int)
    else:
        yield get_origin(hint) or hint


def _overrule(told: Mapping[str, Any] | None) -> Overrule | None:
    return None if told is None else of_its_types(Overrule(**_known(Overrule, told)))


def _known(kind: type, told: Mapping[str, Any]) -> dict[str, Any]:
    for name in _NEEDED[kind]:
        if name not in told:
            raise KeyError(name)
    names = _NAMES[kind]
    return {name: value for name, value in told.items() if name in names}


def _texts(told: Mapping[str, object], needed: Sequence[str] = ()) -> dict[str, str]:
    for name in needed:
        if name not in told:
            raise KeyError(name)
    return {str(name): str(value) for name, value in told.items()}


def read_results(path: Path) -> Results:
    """The results in a file, or in a folder that holds ``results.json``.

    Raises ``DebriefError``, in one line, where there are none.
    """
    file = path / JSON_NAME if path.is_dir() else path
    where = Place(path=file)
    remedy = f"Give the folder of the results, or the {JSON_NAME} in it."
    try:
        told = json.loads(read_ordinary(file).decode("utf-8"))
    except FileNotFoundError as error:
        raise DebriefError("there are no results", where=where, remedy=remedy) from error
    except OSError as error:
        raise DebriefError(f"cannot be read: {error.strerror}", where=where, remedy=remedy) from error
    except (ValueError, RecursionError) as error:
        raise DebriefError("is not JSON", where=where, remedy=remedy) from error
    if (
        not isinstance(told, dict)
        or told.get("format") != _FORMAT
        or not isinstance(told.get("flights"), list)
    ):
        raise DebriefError("holds no results of format 1", where=where, remedy=remedy)
    try:
        flights = tuple(row_from(flight) for flight in told["flights"])
        twice = next(
            (name for name, count in Counter(row.file for row in flights).items() if count > 1), None
        )
        if twice is not None:  # of which one would be signed, and the other be read
            raise DebriefError(f"holds {twice} twice", where=where, remedy=_FROM_A_COPY)
        strange = next(chain.from_iterable(map(_strange_verdicts, flights)), None)
        if strange is not None:
            raise DebriefError(strange, where=where, remedy=_FROM_A_COPY)
        return Results(
            program=str(told["program"]),
            flights=flights,
            folder=str(told.get("folder", "")),
            procedures=tuple(
                _texts(procedure, ("name", "file", "sha256")) for procedure in told.get("procedures", ())
            ),
            standard=_texts(told.get("standard", {})),
            left_aside=tuple(map(str, told.get("left_aside", ()))),
            date=str(told.get("date", "")),
            altitude_unit=str(told.get("altitude_unit", "")),
            columns=_texts(told.get("columns", {})),
        )
    except KeyError as error:
        raise DebriefError(f"is incomplete: {error} is missing", where=where, remedy=remedy) from error
    except (TypeError, ValueError, AttributeError) as error:
        raise DebriefError("holds something else than flights", where=where, remedy=remedy) from error


def _strange_verdicts(row: Row) -> Iterator[str]:
    """Verdicts that no version gives: a word that nobody knows neither passes nor fails, and would be signed as if it did."""
    of_all = (row.result, *([row.overruled.result] if row.overruled is not None else []))
    for word in of_all:
        if word not in (*VERDICTS, UNREADABLE):
            yield f"the result of {row.file} is {word!r}, which is none of {', '.join((*VERDICTS, UNREADABLE))}"
    for item in row.items:
        for word in (item.verdict, item.decided):
            if word not in VERDICTS:
                yield f"the verdict of {row.file} on {item.item} is {word!r}, which is none of {', '.join(VERDICTS)}"


def told_otherwise(path: Path, results: Results) -> tuple[str, ...]:
    """Of which flights the file says something else than their items come to; no signature stands for that.

    ``results`` are those that were read from ``path``.
    """
    file = path / JSON_NAME if path.is_dir() else path
    told = json.loads(read_ordinary(file).decode("utf-8"))["flights"]
    return tuple(
        row.file
        for row, flight in zip(results.flights, told, strict=True)
        if any(name in flight and flight[name] != _derived(row, name) for name in _DERIVED)
    )
