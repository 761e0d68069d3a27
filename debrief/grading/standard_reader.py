"""Tolerance standards: from TOML to a checked ``Standard``, and every mistake to one clear line.

Owns      finding a file, or a bundled standard by its name; which key is wrong, in the words of the file.
Not here  what a standard may hold (``standard``), reading TOML (``toml_file``).
"""

from __future__ import annotations

import hashlib
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import ValidationError

from debrief.errors import Place, StandardError, as_path
from debrief.grading.standard import (
    Adding,
    Assessable,
    Excursion,
    Gates,
    Joining,
    Source,
    Standard,
    Tolerance,
)
from debrief.toml_file import Kind, bundled_files, nearest, read_toml, shortened, unknown_name, value_words

if TYPE_CHECKING:
    from pydantic import BaseModel

_KIND = Kind(noun="standard", error=StandardError, or_else="the name of a bundled one")
_FILLED_BY_READER = ("file", "sha256")
_TABLES: dict[str, type[BaseModel]] = {
    "source": Source,
    "joining": Joining,
    "assessable": Assessable,
    "gates": Gates,
    "adding": Adding,
    "excursion": Excursion,
    "rule": Tolerance,
}
#: What is taken where no standard is asked for.
DEFAULT_STANDARD = "instrument-rating"


def load_standard(path_or_name: str | Path = DEFAULT_STANDARD) -> Standard:
    """Read a standard: a file, or the name of a bundled one such as ``instrument-rating``.

    Blanks and underscores in a name count as hyphens, and its case does not matter.

    Raises
    ------
    StandardError
        One clear line, whatever is wrong with the file or the name.
    """
    path = path_of(path_or_name)
    return _read_once(path) if path in _bundled_files().values() else _read(path)


def path_of(path_or_name: str | Path) -> Path:
    """Where a standard lies, bundled or not. Raises ``StandardError`` for a name that none has."""
    if isinstance(path_or_name, str):
        bundled = _bundled_files()
        name = path_or_name.strip().casefold().replace(" ", "-").replace("_", "-")
        if name in bundled:
            return bundled[name]
        if not name or not (set(path_or_name) & set("/\\.\0") or Path(path_or_name).exists()):
            raise unknown_name(path_or_name, list(_bundled_files()), _KIND)
    return as_path(path_or_name, StandardError, "a standard")


def bundled_standards() -> dict[str, Standard]:
    """Every standard that comes with the program, by the name it is asked for."""
    return {name: _read_once(path) for name, path in _bundled_files().items()}


@cache
def _bundled_files() -> dict[str, Path]:
    return bundled_files("grading", "standards")


@cache
def _read_once(path: Path) -> Standard:
    """A bundled one, which does not change while the program runs."""
    return _read(path)


def _read(path: Path) -> Standard:
    data, content = read_toml(path, _KIND)
    for key in _FILLED_BY_READER:
        if key in data:
            raise _unknown_key(path, (key,), data)
    try:
        checked = Standard.model_validate(data)
    except ValidationError as error:
        raise _first_mistake(path, data, error) from error
    return checked.model_copy(update={"file": path.name, "sha256": hashlib.sha256(content).hexdigest()})


Location = tuple[str | int, ...]


def _first_mistake(path: Path, data: dict[str, object], error: ValidationError) -> StandardError:
    """The first mistake in words; a misspelt key before the key that is missing because of it."""
    details = error.errors(include_url=False)
    first = next((d for d in details if d["type"] == "extra_forbidden"), details[0])
    location: Location = tuple(first["loc"])
    if first["type"] == "extra_forbidden":
        return _unknown_key(path, location, data)
    if first["type"] == "standard":
        where = _place(path, (*location, first["ctx"]["key"]), data)
        return StandardError(first["ctx"]["what"], where=where)
    what, remedy = value_words(first, _table_at(location))
    return StandardError(what, where=_place(path, location, data), remedy=remedy)


def _unknown_key(path: Path, location: Location, data: dict[str, object]) -> StandardError:
    keys = [key for key in _table_at(location).model_fields if key not in _FILLED_BY_READER]
    hint = nearest(str(location[-1]), keys)
    did_you_mean = f"Did you mean {hint}? " if hint else ""
    return StandardError(
        "the key is unknown",
        where=_place(path, location, data),
        remedy=f"{did_you_mean}Keys here: {', '.join(keys)}.",
    )


def _table_at(location: Location) -> type[BaseModel]:
    """The table a key stands in: ``rule`` itself is a list at the top, and a text within ``[[rule]]``."""
    names = [
        part
        for part, inner in pairwise(location)
        if isinstance(part, str) and part in _TABLES and inner != ""
    ]
    return _TABLES[names[-1]] if names else Standard


def _place(path: Path, location: Location, data: dict[str, object]) -> Place:
    """The key as people read it: tables counted from 1, a rule with its name."""
    parts: list[str] = []
    for part in location:
        if isinstance(part, str):
            parts.append(shortened(part))
        elif parts:
            name = _rule_name(location, data) if parts == ["rule"] else ""
            parts[-1] = f"{parts[-1]} {part + 1}" + (f" ({shortened(name)})" if name else "")
    return Place(path=path, key=".".join(parts) or None)


def _rule_name(location: Location, data: dict[str, object]) -> str:
    match location, data:
        case ("rule", int(index), *_), {"rule": list(rules)} if index < len(rules):
            name = rules[index].get("rule") if isinstance(rules[index], dict) else None
            return name if isinstance(name, str) else ""
    return ""
