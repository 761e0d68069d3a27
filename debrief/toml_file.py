"""Small TOML files that people write: read whole or refused in one clear line.

Owns      reading and parsing (missing, a folder, too large, not text, not TOML), and the words for a single
          wrong value, asked of its pydantic model.
Not here  what a file may hold, which is for the model of each (procedures, grading).
"""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.errors import DebriefError, Place

if TYPE_CHECKING:
    from pydantic import BaseModel
    from pydantic_core import ErrorDetails

LARGEST_BYTES = 1_000_000
LONGEST_SHOWN = 40  # characters of a wrong value that are repeated in an error


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What sort of file it is, for the words of an error."""

    noun: str  # "procedure", "standard"
    error: type[DebriefError]
    or_else: str  # what may be given instead of a file


def read_toml(path: Path, kind: Kind) -> tuple[dict[str, object], bytes]:
    """The parsed file and its bytes.

    Raises
    ------
    ``kind.error``, in one line, where it cannot be read or is not TOML in UTF-8.
    """
    content = _content(path, kind)
    return _parsed(path, content, kind), content


def _content(path: Path, kind: Kind) -> bytes:
    where, error = Place(path=path), kind.error
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise error("this is a folder", where=where, remedy=f"Give one of the {kind.noun} files in it.")
        if not stat.S_ISREG(status.st_mode):
            raise error(
                "this is not an ordinary file", where=where, remedy=f"Give a {kind.noun} file (.toml)."
            )
        if status.st_size > LARGEST_BYTES:
            raise error(
                f"the file has {status.st_size:,} bytes; a {kind.noun} has {LARGEST_BYTES:,} at most",
                where=where,
                remedy=f"Give a {kind.noun} file (.toml).",
            )
        return path.read_bytes()
    except FileNotFoundError as missing:
        raise error(
            "there is no such file",
            where=where,
            remedy=f"Give a {kind.noun} file (.toml), or {kind.or_else}.",
        ) from missing
    except (OSError, ValueError) as failure:  # ValueError: a path with a NUL in it
        reason = (failure.strerror if isinstance(failure, OSError) else None) or str(failure)
        raise error(
            f"the file cannot be read: {reason or type(failure).__name__}",
            where=where,
            remedy=f"Give a {kind.noun} file (.toml) that can be read.",
        ) from failure


def _parsed(path: Path, content: bytes, kind: Kind) -> dict[str, object]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as failure:
        raise kind.error(
            "this is not text in UTF-8",
            where=Place(path=path, line=content.count(b"\n", 0, failure.start) + 1),
            remedy=f"A {kind.noun} file is TOML; save it as UTF-8.",
        ) from failure
    try:
        return tomllib.loads(text)
    except RecursionError as failure:
        raise kind.error(
            "the brackets are nested too deeply",
            where=Place(path=path),
            remedy=f"A {kind.noun} file is TOML.",
        ) from failure
    except ValueError as failure:  # its own errors, and numbers of thousands of digits
        what, line = _toml_mistake(str(failure), text)
        twice = any(word in what for word in ("overwrite", "twice", "namespace"))
        comma = _decimal_comma(text.split("\n")[line - 1]) if line is not None else None
        if comma:
            raise kind.error(
                "a number stands with a decimal comma",
                where=Place(path=path, line=line),
                remedy=f"Write a point in its place: {comma}.",
            ) from failure
        raise kind.error(
            f"this is not valid TOML: {what}",
            where=Place(path=path, line=line),
            remedy="The same key or table stands twice, or [name] for [[name]]."
            if twice
            else 'A line reads key = value, a text stands in "quotes".',
        ) from failure


def _decimal_comma(line: str) -> str | None:
    """A number written with a comma in this line, as it should be written."""
    found = re.search(r"=\s*([-+]?\d+),(\d+)(?![\d,]*\.?\d*\s*\])", line.partition("#")[0])
    return f"{found[1]}.{found[2]}" if found else None


def _toml_mistake(message: str, text: str) -> tuple[str, int | None]:
    """What the TOML parser said, without its place, and the line it meant."""
    found = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$", message)
    if found is None:  # Python's own limit on the digits of a number, worded for programmers
        return "a number has thousands of digits", None
    line = int(found[1]) if found[1] else text.rstrip().count("\n") + 1
    what = message[: found.start()]
    return shortened(what[:1].lower() + what[1:], longest=120), line


def bundled_files(*folder: str) -> dict[str, Path]:
    """The TOML files of a folder in the package, by the name they are asked for."""
    files = Path(str(resources.files("debrief"))).joinpath(*folder).glob("*.toml")
    return {path.stem: path for path in sorted(files)}


def unknown_name(name: str, names: list[str], kind: Kind) -> DebriefError:
    """The error for a name that no bundled file has; ``names`` are those they have."""
    meant = nearest(name, names)
    hint = f'Did you mean "{meant}"? ' if meant else ""
    return kind.error(
        f'no {kind.noun} is called "{shortened(name)}"',
        remedy=f"{hint}Give a file (.toml) or one of {', '.join(names)}.",
    )


def nearest(name: str, names: list[str]) -> str | None:
    """The allowed name that begins with the one given, or that a misspelt one most resembles, whatever its case."""
    by_folded = {allowed.casefold(): allowed for allowed in names}
    folded = name.casefold()
    begun = [key for key in by_folded if folded and key.startswith(f"{folded}_")]
    matches = begun[:1] or get_close_matches(folded, by_folded, n=1)
    return by_folded[matches[0]] if matches else None


def value_words(detail: ErrorDetails, model: type[BaseModel]) -> tuple[str, str]:
    """What is wrong with one value of a model, and what is allowed instead."""
    kind, given, ctx = detail["type"], shown(detail["input"]), detail.get("ctx", {})
    key = str(next((part for part in reversed(detail["loc"]) if isinstance(part, str)), ""))
    if kind == "missing":
        return "the key is missing", f"Add {key} = {'1' if key == 'format' else '...'}"
    if kind in ("literal_error", "enum"):
        allowed = re.findall(r"'([^']*)'", str(ctx["expected"])) or [str(ctx["expected"])]
        hint = nearest(detail["input"], allowed) if isinstance(detail["input"], str) else None
        did_you_mean = f' Did you mean "{hint}"?' if hint else ""
        quoted = ", ".join(f'"{name}"' if "'" in str(ctx["expected"]) else name for name in allowed)
        return f"{given} is not known", f"Allowed: {quoted}.{did_you_mean}"
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        return f"{given} is out of range", f"Allowed: {_range(model, key)}."
    if kind in ("float_type", "float_parsing", "finite_number", "int_type"):
        return f"{given} is not a number", "Give a number, without quotes and unit."
    if kind == "bool_type":
        return f"{given} is neither true nor false", "Give true or false, without quotes."
    if kind == "string_type":
        return f"{given} is not a text", 'Give a text in "quotes".'
    if kind in ("string_too_short", "string_too_long"):
        limit = ctx.get("min_length", ctx.get("max_length"))
        few = "at least" if kind == "string_too_short" else "at most"
        characters = "character" if limit == 1 else "characters"
        return f"{given} has the wrong length", f"Give {few} {limit} {characters}."
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return f"{given} is not a table", "Give a table: { key = value, ... }."
    if kind in ("tuple_type", "list_type", "too_short"):
        return f"{given} is not a list with entries", "Give a list in [ ], or tables that begin with [[ ]]."
    return f"{given}: {detail['msg'].lower()}", ""


def _range(model: type[BaseModel], key: str) -> str:
    """Both ends of what is allowed, asked of the model itself."""
    bounds = dict(_bounds(model.model_json_schema(mode="validation")["properties"][key]))
    low, high = bounds.get("minimum"), bounds.get("maximum")
    above, below = bounds.get("exclusiveMinimum"), bounds.get("exclusiveMaximum")
    least = f"{low:g}" if low is not None else f"above {above:g}" if above is not None else ""
    most = f"{high:g}" if high is not None else f"below {below:g}" if below is not None else ""
    return (
        f"{least} to {most}" if least and most else f"{least or most} {'and more' if least else 'and less'}"
    )


def _bounds(schema: object) -> Iterator[tuple[str, float]]:
    if isinstance(schema, dict):
        for name, value in schema.items():
            if isinstance(value, int | float) and not isinstance(value, bool):
                yield name, value
            else:
                yield from _bounds(value)
    elif isinstance(schema, list):
        for item in schema:
            yield from _bounds(item)


def shown(value: object) -> str:
    """A wrong value as people wrote it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{shortened(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return shortened(f"{value:g}" if isinstance(value, float) else str(value))


def shortened(text: str, longest: int = LONGEST_SHOWN) -> str:
    """A text on one line, with nothing in it that a terminal would obey, cut where it is long."""
    line = "".join(c if c.isprintable() else " " for c in text)
    return line if len(line) <= longest else f"{line[: longest - 1]}…"
