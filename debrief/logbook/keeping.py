"""Keeping a logbook sound: backups, a check of the whole, and measuring everything again.

Owns      ``backup``, ``check``, ``refresh``.
Not here  taking a logbook elsewhere (``portable``).
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import tempfile
import zlib
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select

from debrief import __version__
from debrief.errors import DebriefError, OutputError, Place
from debrief.logbook import tables
from debrief.logbook.adding import remeasured
from debrief.logbook.entry import Reading, measure_log
from debrief.logbook.opening import Logbook, reading, writing
from debrief.logbook.portable import ANOTHER_NAME, appearing_whole, export_to
from debrief.logbook.record import Definition, procedure_of, record_of, standard_of
from debrief.whole_files import refuse_taken

_DATABASE = b"SQLite format 3\0"  # the first bytes of such a file


def backup(logbook: Logbook, file: Path) -> None:
    """Write a copy of the logbook as it is at this moment, while others may be writing.

    A logbook in a file is copied as one; a shared one is written as ``export_to`` does. The copy appears whole or not at
    all.

    Raises
    ------
    OutputError
        Where the copy cannot be written, would be the logbook itself, or something else stands there.
    """
    if logbook.shared or logbook.file is None:
        export_to(logbook, file)
        return
    if file.exists() and file.samefile(logbook.file):
        raise OutputError(
            "this is the logbook itself",
            where=Place(path=file),
            remedy="Choose another place, or make room on the disk.",
        )
    refuse_taken(file, _DATABASE, ANOTHER_NAME)
    with (
        appearing_whole(file) as part,
        closing(sqlite3.connect(logbook.file)) as source,
        closing(sqlite3.connect(part)) as copy,
    ):
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it


def check(logbook: Logbook) -> tuple[str, ...]:
    """What is wrong with a logbook, in plain words; empty where all is sound.

    The database's own check, and every flight: log and result are there, the log is the one that was measured, the
    result can be read, and has as many approaches as are stored.
    """
    flight, found = tables.flight, []
    with reading(logbook) as connection:
        if not logbook.shared:
            found += [
                f"the file: {row[0]}"
                for pragma in ("integrity_check", "foreign_key_check")
                for row in connection.exec_driver_sql(f"PRAGMA {pragma}")
                if row[0] != "ok"
            ]
        columns = (flight.c.id, flight.c.sha256, flight.c.attempts)
        for number, sha256, attempts in connection.execute(select(*columns).order_by(flight.c.id)).all():
            contents = {
                table.name: connection.execute(
                    select(table.c.content).where(table.c.flight_id == number)
                ).scalar()
                for table in (tables.original, tables.result)
            }
            query = select(tables.attempt.c.number).where(tables.attempt.c.flight_id == number)
            stored = len(connection.execute(query).all())
            found += [f"flight {number}: {what}" for what in _faults(contents, sha256, attempts, stored)]
    return tuple(found)


def _faults(contents: dict[str, bytes | None], sha256: str, attempts: int, stored: int) -> Iterator[str]:
    for name, content in contents.items():
        if content is None:
            yield f"its {name} is missing"
            return
    try:
        log, result = (zlib.decompress(content) for content in contents.values() if content is not None)
        told = len(json.loads(result)["attempts"])
    except (zlib.error, ValueError, KeyError, TypeError) as error:
        yield f"it cannot be read back: {error}"
        return
    if hashlib.sha256(log).hexdigest() != sha256:
        yield "the log is not the one that was measured"
    if not told == attempts == stored:
        yield f"its result has {told} approaches, {attempts} are said, {stored} stored"


@dataclass(frozen=True, slots=True, kw_only=True)
class Refreshed:
    """What became of a flight that was measured again."""

    flight: int
    file: str
    mistake: str = ""  # why it stays as it was measured before


def refresh(logbook: Logbook, *, everything: bool = False) -> Iterator[Refreshed]:
    """Measure stored flights again from their logs, as they were read then, against what they were held against then.

    Parameters
    ----------
    everything : those that this very version measured, too.

    Notes
    -----
    Each flight is one transaction: it has the old result or the new one. A log that this version cannot use keeps the
    old result.
    """
    program = f"debrief {__version__}"
    flight = tables.flight
    with reading(logbook) as connection:
        query = select(flight.c.id).order_by(flight.c.id)
        if not everything:
            query = query.where(flight.c.program != program)
        numbers = list(connection.execute(query).scalars())
    for number in numbers:
        yield _measured_again(logbook, int(number))


def _measured_again(logbook: Logbook, number: int) -> Refreshed:
    flight = tables.flight
    with reading(logbook) as connection:
        row = connection.execute(select(flight).where(flight.c.id == number)).first()
        if row is None:  # erased meanwhile
            return Refreshed(flight=number, file="", mistake="it is not there any more")
        kept = tables.original
        packed = connection.execute(select(kept.c.content).where(kept.c.flight_id == number)).scalar_one()
        definitions = [
            Definition(sha256=found.sha256, name=found.name, file=found.file, content=found.content)
            for table, key in ((tables.procedure, row.procedure_id), (tables.standard, row.standard_id))
            for found in connection.execute(select(table).where(table.c.id == key))
        ]
    with tempfile.TemporaryDirectory(prefix="debrief-") as folder:
        path = Path(folder) / (Path(row.file).name or "log")
        path.write_bytes(zlib.decompress(packed))
        try:
            entry = measure_log(
                path,
                procedures=[procedure_of(definitions[0])],
                standard=standard_of(definitions[1]),
                reading=Reading.of_stored(row.reading),
            )
        except DebriefError as error:
            return Refreshed(flight=number, file=row.file, mistake=error.what)
    record = record_of(entry, "refreshed")  # the pilot stays who it was
    with writing(logbook) as connection:
        if connection.execute(select(flight.c.id).where(flight.c.id == number)).first() is not None:
            remeasured(connection, number, record)
    return Refreshed(flight=number, file=row.file)
