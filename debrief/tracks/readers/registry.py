"""The formats that can be read, and the choice between them by content.

Owns      ``read_track``: is there a file, which reader is it for, what if none or several say yes.
Not here  any format. To add one: a module with ``NAME``, ``SUFFIXES``, ``looks_like`` and ``read``, and its
          name in ``READERS``.
"""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Protocol, cast

from debrief.errors import Place, TrackError, as_path, refuse_other
from debrief.tracks.model import Track
from debrief.tracks.readers import csv_log, geojson, gpx, igc, kml
from debrief.tracks.readers.packed import is_packed, read_packed
from debrief.tracks.readers.samples import AltitudeUnit, Wishes
from debrief.tracks.readers.sniff import HEAD_BYTES, kind_of
from debrief.tracks.readers.stamps import FIRST_YEAR, LAST_YEAR


class Reader(Protocol):
    """What a format's module offers."""

    NAME: str  # as in ``Track.format`` and ``--format``
    SUFFIXES: tuple[str, ...]  # usual endings, for lists of files; the content decides

    def looks_like(self, head: bytes) -> bool:
        """Whether the first bytes of a file can only be this format."""
        ...

    def read(self, path: Path, wishes: Wishes) -> Track:
        """The whole file, or ``TrackError``."""
        ...


READERS: tuple[Reader, ...] = (gpx, csv_log, igc, kml, geojson)
SUFFIXES = tuple(suffix for reader in READERS for suffix in reader.SUFFIXES)  # usual endings of a log's name
PACKED = ("gz", "zip")  # usual endings of a packed log's, besides
#: Endings under which nothing but a log is expected; of others the content decides.
LOG_SUFFIXES = frozenset(SUFFIXES) - {".txt", ".json"}


def read_track(
    path: str | Path,
    *,
    columns: Mapping[str, str] | None = None,
    date: dt.date | None = None,
    altitude_unit: AltitudeUnit | None = None,
    format: str | None = None,
) -> Track:
    """Read a log: GPX, CSV, IGC, KML or GeoJSON, as it is or alone in a gzip or zip archive.

    Parameters
    ----------
    path : the file; what it is, is told from its content, not from its name.
    columns : for CSV, which column holds what: ``{"latitude": "Y"}`` by heading, ``{"latitude": "3"}`` by
        position counted from 1. The names are those of ``csv_words.NAMES``.
    date : the day, UTC, of the first sample, for logs that have only times of day or an unclear date.
    altitude_unit : "ft" or "m", where the log does not say or says it wrongly.
    format : the name of a reader, where the content leaves a doubt.

    Returns
    -------
    Every usable sample in the order of the file, and in ``notes`` what was assumed or left out.

    Raises
    ------
    TrackError
        One clear line: what is wrong with the file, where, and what to do.
    """
    file = as_path(path, TrackError, "a track")
    _refuse_other_wishes(columns, date, altitude_unit, format)
    if date is not None and not FIRST_YEAR <= date.year <= LAST_YEAR:
        raise TrackError(
            f"no flight is of the day {date.isoformat()[:10]}",
            remedy=f"Give a day of the years {FIRST_YEAR} to {LAST_YEAR}.",
        )
    wishes = Wishes(columns=dict(columns or {}), date=date, altitude_unit=altitude_unit)
    try:
        if is_packed(_head_of(file, format)):
            track = read_packed(file, is_log, lambda log: _reader_for(log, format).read(log, wishes))
        else:
            track = _reader_for(file, format).read(file, wishes)
    except OSError as error:
        raise TrackError(
            f"it cannot be read: {error.strerror or error}",
            where=Place(path=path),
            remedy="Check the name and who may read it.",
        ) from error
    if columns and track.format != csv_log.NAME:
        note = f"The columns asked for ({', '.join(columns)}) were not used: only a CSV has columns."
        track = replace(track, notes=(*track.notes, note))
    return track


def _refuse_other_wishes(columns: object, date: object, altitude_unit: object, format_: object) -> None:
    """What a program asks for is of the types it must be, or ``TrackError``."""
    remedy = 'Give a mapping of texts, for example {"latitude": "Y"}.'
    if columns is not None:
        refuse_other(columns, Mapping, TrackError, "what columns asks for", remedy)
        for word in (word for pair in cast("Mapping[object, object]", columns).items() for word in pair):
            refuse_other(word, str, TrackError, "a name or heading in columns", remedy)
    if date is not None:
        refuse_other(date, dt.date, TrackError, "the date", "Give a datetime.date.")
    if altitude_unit not in (None, "ft", "m"):
        raise TrackError(f"the altitude's unit is {altitude_unit!r}", remedy='Give "ft" or "m".')
    if format_ is not None:
        refuse_other(format_, str, TrackError, "the format", "Give its name, for example gpx.")


def is_log(head: bytes) -> bool:
    """Whether a file with these first bytes is of a format that can be read."""
    return any(reader.looks_like(head) for reader in READERS)


def _head_of(path: Path, name: str | None) -> bytes:
    """The first bytes of a file that is there, is a file, and is not empty; ``name`` is that of a format, if any."""
    names = [reader.NAME for reader in READERS]
    if name is not None and name not in names:
        near = difflib.get_close_matches(name, names, n=1)
        hint = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(names)}."
        raise TrackError(f"there is no log format {name!r}", where=Place(path=path), remedy=hint)
    if "\0" in str(path) or not path.exists():
        raise TrackError("there is no such file", where=Place(path=path), remedy="Check the name.")
    if path.is_dir():
        raise TrackError("it is a folder, not a log", where=Place(path=path), remedy="Give the file inside.")
    if not path.is_file():
        raise TrackError(
            "it is not an ordinary file", where=Place(path=path), remedy="Give the log's own file."
        )
    head = b""
    if path.stat().st_size:  # of none, nothing is read: a file of the system's own may wait for ever
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    if not head:
        raise TrackError("the file is empty", where=Place(path=path), remedy="Export the log again.")
    return head


def _reader_for(path: Path, name: str | None) -> Reader:
    head = _head_of(path, name)
    if name is not None:
        return next(reader for reader in READERS if name == reader.NAME)
    willing = [reader for reader in READERS if reader.looks_like(head)]
    if len(willing) > 1:
        raise TrackError(
            f"it could be {' or '.join(reader.NAME for reader in willing)}",
            where=Place(path=path),
            remedy=f"Say which with --format, for example --format {willing[0].NAME}.",
        )
    if not willing:
        what, remedy = kind_of(head)
        raise TrackError(f"this is {what}", where=Place(path=path), remedy=remedy)
    return willing[0]
