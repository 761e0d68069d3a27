"""People's own words about a flight: a note from the command line, and a TOML file beside the track.

Owns      the sidecar's keys, where it is looked for, and making a stranger's text safe to show.
Not here  reading TOML (``toml_file``), where the words stand in a report (``reports.notes``).

Every key may be left out. A text is only ever shown: nothing in it is markup, a formula or a command.
"""

from __future__ import annotations

import os
import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from debrief.errors import Place, SidecarError
from debrief.result import Notes
from debrief.toml_file import Kind, nearest, read_toml, shortened, value_words

_KIND = Kind(noun="sidecar", error=SidecarError, or_else="leave --sidecar out")
_OTHER_FILES = ("station", "leg", "rule")  # a procedure or a standard has one of these tables
LONGEST_NAME = 100
LONGEST_TEXT = 10_000

_Name = Annotated[str, Field(max_length=LONGEST_NAME)]
_Text = Annotated[str, Field(max_length=LONGEST_TEXT)]


class _Sidecar(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    format: Literal[1] = 1
    pilot: _Name = ""
    aircraft: _Name = ""
    planned: _Text = ""
    note: _Text = ""
    instructor_remarks: _Text = ""


def notes_for(track: Path, name: str, *, sidecar: Path | None = None, note: str = "") -> Notes | None:
    """What people said about the flight of one track; ``None`` where nothing was said.

    Parameters
    ----------
    track : the log's path; ``name.toml`` beside it is its sidecar, unless that is a procedure or a standard.
    name : the track's name as its report has it, without any ending.
    sidecar : the sidecar's path, where it is another one.
    note : the pilot's words from elsewhere; they come after the sidecar's.

    Raises
    ------
    SidecarError
        One clear line, where the sidecar cannot be read, or a key or value in it is not valid, or ``note`` is
        too long.
    """
    if len(note) > LONGEST_TEXT:
        raise SidecarError(
            f"the note has {len(note):,} characters; it may have {LONGEST_TEXT:,}", remedy="Shorten it."
        )
    beside = track.parent / f"{name}.toml"  # a path such as "." has no name that could be replaced
    if sidecar is not None:
        said = read_sidecar(sidecar)
    elif os.path.exists(beside) and not _is_another(beside):
        said = read_sidecar(beside)
    else:
        said = Notes()
    texts = [text for text in (said.note, shown_text(note)) if text]
    said = replace(said, note="\n".join(texts))
    return said if replace(said, file="") != Notes() else None


def read_sidecar(path: Path) -> Notes:
    """The words in a sidecar file, safe to show. Raises ``SidecarError`` as ``notes_for`` does."""
    data, _ = read_toml(path, _KIND)
    try:
        found = _Sidecar.model_validate(data)
    except ValidationError as error:
        raise _first_mistake(path, error) from error
    return Notes(
        pilot=_one_line(found.pilot),
        aircraft=_one_line(found.aircraft),
        planned=shown_text(found.planned),
        note=shown_text(found.note),
        instructor_remarks=shown_text(found.instructor_remarks),
        file=path.name,
    )


def shown_text(text: str) -> str:
    r"""A stranger's text with nothing in it that a terminal or a page would obey; line breaks stay.

    >>> shown_text("  a\x1b[31m\tb\r\n\r\n  c\u202e ")
    'a[31m b\nc'
    """
    lines = unicodedata.normalize("NFC", text).splitlines()
    return "\n".join(line for line in (_one_line(line) for line in lines) if line)


def _one_line(text: str) -> str:
    """Blanks of every kind become one; letters that are not letters (controls, directions, halves) go."""
    spaced = " ".join(text.split())
    return " ".join("".join(c for c in spaced if c == " " or unicodedata.category(c)[0] != "C").split())


def _is_another(path: Path) -> bool:
    data, _ = read_toml(path, _KIND)
    return any(table in data for table in _OTHER_FILES)


def _first_mistake(path: Path, error: ValidationError) -> SidecarError:
    """The first mistake in words; a misspelt key first."""
    details = error.errors(include_url=False)
    first = next((d for d in details if d["type"] == "extra_forbidden"), details[0])
    key = str(first["loc"][0])
    where = Place(path=path, key=shortened(key))
    if first["type"] != "extra_forbidden":
        what, remedy = value_words(first, _Sidecar)
        return SidecarError(what, where=where, remedy=remedy)
    keys = list(_Sidecar.model_fields)
    meant = nearest(key, keys)
    hint = f"Did you mean {meant}? " if meant else ""
    return SidecarError("the key is unknown", where=where, remedy=f"{hint}Keys here: {', '.join(keys)}.")
