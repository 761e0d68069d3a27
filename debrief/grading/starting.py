"""A standard of one's own, started as a copy of another.

Owns      the new file: the other's text with its comments, under a name and a source of its own.
Not here  reading a standard (``standard_reader``).
"""

from __future__ import annotations

import re
from pathlib import Path

from debrief.errors import OutputError, Place, StandardError
from debrief.grading.standard_reader import load_standard, path_of

_NAME = re.compile(r"^name\s*=.*$", re.MULTILINE)
_HEAD = re.compile(r"\A(?:#[^\n]*\n)*")


def start_from(path_or_name: str, file: Path, *, name: str = "") -> None:
    """Write ``file`` as a copy of a standard.

    Raises
    ------
    StandardError
        Where there is no such standard, or the name cannot be one.
    OutputError
        Where the file is there already or cannot be written; nothing is left half done.
    """
    if file.suffix.lower() != ".toml":
        raise StandardError("a standard's file ends in .toml", where=Place(path=file), remedy="Name it so.")
    other = load_standard(path_or_name)
    title = " ".join(name.split()) or f"{file.stem} (after {other.name})"
    if not title.isprintable() or len(title) > 120:
        raise StandardError(
            "that cannot be a standard's name", remedy="Give 1 to 120 characters with --name."
        )
    text = path_of(path_or_name).read_text(encoding="utf-8-sig")
    quoted = title.replace("\\", "\\\\").replace('"', '\\"')
    text = _NAME.sub(lambda _: f'name = "{quoted}"', text, count=1)
    head = f"# {title}: started as a copy of {other.name}. Change a limit, and its source with it.\n"
    text = _HEAD.sub(lambda _: head, text, count=1)
    where = Place(path=file)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("x", encoding="utf-8") as fresh:
            try:
                fresh.write(text)
                fresh.flush()
            except OSError:
                file.unlink(missing_ok=True)
                raise
    except FileExistsError as error:
        raise OutputError(
            "it is there already", where=where, remedy="Nothing is overwritten: give another name."
        ) from error
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or str(error)
        raise OutputError(f"cannot be written: {said}", where=where, remedy="Give another place.") from error
