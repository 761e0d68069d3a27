"""The exceptions, and the one way their text is composed.

DebriefError
├── TrackError        a log that cannot be read, or cannot be used
├── ProcedureError    a procedure file that is not valid, or an unknown procedure
├── StandardError     a tolerance standard that is not valid, or unknown
├── PlanError         a speed, wind or course that no card can be made for
├── SidecarError      people's own words that cannot be read
├── LogbookError      a logbook that cannot be opened, or that does not hold what was asked of it
└── OutputError       a result that cannot be written

Every text says where, what is wrong, and what to do: ``place: what is wrong. what to do``, on one line.
Only the command line's ``main`` (and later the page) catches them.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

#: What a person can say so that it works after all; each way in (command line, page) asks in its own words.
Need = Literal["columns", "date", "procedure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where in which file: a line, a point (counted from 1), a column or a key, as far as known."""

    path: str | Path
    line: int | None = None
    point: int | None = None
    column: str | None = None
    key: str | None = None

    def __str__(self) -> str:
        parts = [str(self.path)]
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.point is not None:
            parts.append(f"point {self.point}")
        if self.column is not None:
            parts.append(f"column {self.column!r}")
        if self.key is not None:
            parts.append(f"key {self.key}")
        return ", ".join(parts)


class DebriefError(Exception):
    """Something the user can mend. ``str()`` of it is one clear line; ``needs`` is what would mend it, where one answer does."""

    def __init__(
        self, what: str, *, where: Place | None = None, remedy: str = "", needs: Need | None = None
    ) -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        self.needs = needs
        head = f"{where}: " if where is not None else ""
        tail = f" {remedy}" if remedy else ""
        text = f"{head}{what.rstrip('.')}.{tail}"
        super().__init__(" ".join(text.split()))


class TrackError(DebriefError):
    """A log that cannot be read, or holds nothing that can be used."""


class ProcedureError(DebriefError):
    """A procedure file that is not valid, or a name that no procedure has."""


class StandardError(DebriefError):
    """A tolerance standard that is not valid, or a name that no standard has."""


class PlanError(DebriefError):
    """A speed, wind or course that cannot be read, or that the procedure cannot be flown in."""


class SidecarError(DebriefError):
    """A sidecar file that is not valid, or a note that is too long."""


class LogbookError(DebriefError):
    """A logbook that cannot be opened or written, or that does not hold what was asked of it."""


class OutputError(DebriefError):
    """A report or result that could not be written."""


def as_path(given: object, kind: type[DebriefError], what: str) -> Path:
    """A path as a program hands it over; ``kind``, in one line, where it is none.

    >>> as_path("a.gpx", TrackError, "a track").name
    'a.gpx'
    """
    refuse_other(given, (str, os.PathLike), kind, f"the path of {what}", "Give a text or a pathlib.Path.")
    try:
        return Path(given)  # type: ignore[arg-type]  # looked at above
    except TypeError as error:  # one of bytes
        raise kind(f"the path of {what} is made of bytes", remedy="Give a text or a pathlib.Path.") from error


def refuse_other(
    given: object, wanted: type | tuple[type, ...], kind: type[DebriefError], what: str, remedy: str
) -> None:
    """Raise ``kind`` where a program hands over a thing of another type than it must be."""
    if not isinstance(given, wanted):
        called = "None" if given is None else f"of the type {type(given).__name__}"
        raise kind(f"{what} is {called}", remedy=remedy)
