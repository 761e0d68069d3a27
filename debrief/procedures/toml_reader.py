"""Procedure files: from TOML to a checked ``Procedure``, and every mistake to one clear line.

Owns      finding a file, or a bundled one by its name, and checking what it holds.
Not here  reading TOML (``toml_file``), what a procedure may hold (``model``) and what must agree in it
          (``checks``), the words for a wrong value (``mistakes``).
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

from pydantic import ValidationError

from debrief.errors import Place, ProcedureError, as_path
from debrief.procedures.mistakes import FILLED_BY_READER, first_mistake, mistakes, unknown_key
from debrief.procedures.model import Procedure
from debrief.toml_file import Kind, bundled_files, read_toml, unknown_name

PROCEDURE = Kind(noun="procedure", error=ProcedureError, or_else="a name that `debrief procedures` lists")


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
            raise unknown_name(path_or_name, list(_bundled_files()), PROCEDURE)
    return _read(as_path(path_or_name, ProcedureError, "a procedure"))


def mistakes_in(file: str | Path) -> tuple[ProcedureError, ...]:
    """Everything that is wrong with a procedure file, a line each; empty where it is valid.

    A file that cannot be read, or is not TOML, has that one mistake.
    """
    path = Path(file)
    try:
        data, _ = read_toml(path, PROCEDURE)
    except ProcedureError as error:
        return (error,)
    filled = tuple(unknown_key(path, (key,), data) for key in FILLED_BY_READER if key in data)
    try:
        Procedure.model_validate({key: value for key, value in data.items() if key not in FILLED_BY_READER})
    except ValidationError as error:
        return (*filled, *mistakes(path, data, error))
    return filled


def bundled_procedures() -> tuple[Procedure, ...]:
    """Every procedure that comes with the program, in order of its name; all are invented."""
    return tuple(_read(path) for path in _bundled_files().values())


def procedures_offered(folder: str | Path | None = None) -> tuple[Procedure, ...]:
    """What a flight is held against where nobody says which: those of the folder first, then the bundled ones."""
    own = procedures_in(folder) if folder is not None else ()
    return (*own, *bundled_procedures())


def procedures_in(folder: str | Path) -> tuple[Procedure, ...]:
    """Every ``.toml`` of a folder, in order of its name; the first that is wrong raises ``ProcedureError``."""
    folder = Path(folder)
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".toml")
    except (OSError, ValueError) as error:
        raise ProcedureError(
            f"the folder cannot be read: {getattr(error, 'strerror', None) or error}",
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
    return bundled_files("procedures", "examples")


def _is_name(text: str) -> bool:
    """Whether a text that names no bundled procedure was meant as a name rather than as a path."""
    return not text.strip() or not (set(text) & set("/\\.\0") or Path(text).exists())


def _read(path: Path) -> Procedure:
    data, content = read_toml(path, PROCEDURE)
    for key in FILLED_BY_READER:
        if key in data:
            raise unknown_key(path, (key,), data)
    try:
        checked = Procedure.model_validate(data)
    except ValidationError as error:
        raise first_mistake(path, data, error) from error
    return checked.model_copy(update={"file": path.name, "sha256": hashlib.sha256(content).hexdigest()})
