"""Procedure files: from TOML to a checked ``Procedure``, and every mistake to one clear line.

Owns      finding and reading a file, or a bundled one by its name.
Not here  what a procedure may hold (``model``), what must agree in it (``checks``), the words for a wrong
          value (``mistakes``).
"""

from __future__ import annotations

import hashlib
import re
import stat
import tomllib
from difflib import get_close_matches
from functools import cache
from importlib import resources
from pathlib import Path

from pydantic import ValidationError

from debrief.errors import Place, ProcedureError
from debrief.procedures.mistakes import FILLED_BY_READER, first_mistake, shortened, unknown_key
from debrief.procedures.model import Procedure

LARGEST_BYTES = 1_000_000


def load_procedure(path_or_name: str | Path) -> Procedure:
    """Read a procedure: a file, or the name of a bundled one such as ``lantern-vor-22``.

    Raises
    ------
    ProcedureError
        One clear line, whatever is wrong with the file or the name.
    """
    if isinstance(path_or_name, str):
        bundled = _bundled_files()
        if path_or_name.casefold() in bundled:
            return _read(bundled[path_or_name.casefold()])
        if _is_name(path_or_name):
            raise _unknown_name(path_or_name)
    return _read(Path(path_or_name))


def bundled_procedures() -> tuple[Procedure, ...]:
    """Every procedure that comes with the program, in order of its name; all are invented."""
    return tuple(_read(path) for path in _bundled_files().values())


def procedures_in(folder: str | Path) -> tuple[Procedure, ...]:
    """Every ``.toml`` of a folder, in order of its name; the first that is wrong raises ``ProcedureError``."""
    folder = Path(folder)
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".toml")
    except (OSError, ValueError) as error:
        raise ProcedureError(
            f"the folder cannot be read: {_reason(error)}",
            where=Place(path=folder),
            remedy="Give a folder that holds procedure files (.toml).",
        ) from error
    if not paths:
        raise ProcedureError(
            "there is no procedure file (.toml) in this folder",
            where=Place(path=folder),
            remedy="Give a folder that holds some.",
        )
    return tuple(_read(path) for path in paths)


@cache
def _bundled_files() -> dict[str, Path]:
    folder = Path(str(resources.files("debrief"))) / "procedures" / "examples"
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def _is_name(text: str) -> bool:
    """Whether a text that names no bundled procedure was meant as a name rather than as a path."""
    return not text.strip() or not (set(text) & set("/\\.\0") or Path(text).exists())


def _unknown_name(name: str) -> ProcedureError:
    names = tuple(_bundled_files())
    nearest = get_close_matches(name.casefold(), names, n=1)
    hint = f'Did you mean "{nearest[0]}"? ' if nearest else ""
    return ProcedureError(
        f'no procedure is called "{shortened(name)}"',
        remedy=f"{hint}Give a file (.toml) or one of {', '.join(names)}.",
    )


def _read(path: Path) -> Procedure:
    content = _content(path)
    data = _toml(path, content)
    for key in FILLED_BY_READER:
        if key in data:
            raise unknown_key(path, (key,), data)
    try:
        checked = Procedure.model_validate(data)
    except ValidationError as error:
        raise first_mistake(path, data, error) from error
    return checked.model_copy(update={"file": path.name, "sha256": hashlib.sha256(content).hexdigest()})


def _content(path: Path) -> bytes:
    where = Place(path=path)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise ProcedureError(
                "this is a folder", where=where, remedy="Give one of the procedure files in it."
            )
        if not stat.S_ISREG(status.st_mode):
            raise ProcedureError(
                "this is not an ordinary file", where=where, remedy="Give a procedure file (.toml)."
            )
        if status.st_size > LARGEST_BYTES:
            raise ProcedureError(
                f"the file has {status.st_size:,} bytes; a procedure has {LARGEST_BYTES:,} at most",
                where=where,
                remedy="Give a procedure file (.toml).",
            )
        return path.read_bytes()
    except FileNotFoundError as error:
        raise ProcedureError(
            "there is no such file",
            where=where,
            remedy="Give a procedure file (.toml), or a name that `debrief procedures` lists.",
        ) from error
    except (OSError, ValueError) as error:  # ValueError: a path with a NUL in it
        raise ProcedureError(
            f"the file cannot be read: {_reason(error)}",
            where=where,
            remedy="Give a procedure file (.toml) that can be read.",
        ) from error


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error) or type(error).__name__


def _toml(path: Path, content: bytes) -> dict[str, object]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ProcedureError(
            "this is not text in UTF-8",
            where=Place(path=path, line=content.count(b"\n", 0, error.start) + 1),
            remedy="A procedure file is TOML; save it as UTF-8.",
        ) from error
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise ProcedureError(
            "the brackets are nested too deeply", where=Place(path=path), remedy="A procedure file is TOML."
        ) from error
    except ValueError as error:  # its own errors, and numbers of thousands of digits
        what, line = _toml_mistake(str(error), text)
        raise ProcedureError(
            f"this is not valid TOML: {what}",
            where=Place(path=path, line=line),
            remedy=(
                "The same key or table stands twice, or [leg] for [[leg]]."
                if "overwrite" in what or "twice" in what or "namespace" in what
                else 'A line reads key = value, a text stands in "quotes".'
            ),
        ) from error


def _toml_mistake(message: str, text: str) -> tuple[str, int | None]:
    """What the TOML parser said, without its place, and the line it meant."""
    found = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$", message)
    if found is None:  # Python's own limit on the digits of a number, worded for programmers
        return "a number has thousands of digits", None
    line = int(found[1]) if found[1] else text.rstrip().count("\n") + 1
    return shortened(_lower_first(message[: found.start()]), longest=120), line


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]
