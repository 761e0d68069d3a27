"""The list of flights, as soon as it can be there.

Owns      what a line of the list shows, and the short way to it for a logbook that is a file.
Not here  every other look into a logbook (``looking``), how the lines are laid out (the command line).
Imports   nothing heavy: to load SQLAlchemy takes longer than to read ten thousand flights.

A file of today's schema is read by SQLite itself, and never written to. Whatever is not so plain (no such file, an older
schema, a file that is damaged or no logbook, a club's database, one pilot or procedure asked for) goes the usual way,
which knows what to do and to say. Both ways give the same list; a test holds them together.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import NamedTuple

from debrief.logbook.addresses import NEWEST, VERSION_TABLE, default_address, file_of

_TO_THE_MINUTE = len("2026-03-03 18:05")


class Listed(NamedTuple):
    """A flight as a line of the list shows it."""

    number: int
    started: str  # UTC, to the minute
    pilot: str  # the alias, where there is one and names were not asked for
    procedure: str
    grade: str | None  # of the first approach; None where none was found
    remark: str


def listed(
    address: str | None,
    *,
    pilots: Sequence[str] = (),
    procedure: str | None = None,
    since: date | None = None,
    removed: bool = False,
    names: bool = False,
) -> list[Listed]:
    """The flights that ``looking.flights`` gives for the same arguments, in the same order, as lines show them."""
    file = file_of(address if address is not None else default_address())
    if file is not None and not pilots and procedure is None:
        rows = _from_file(file, since=since, removed=removed, names=names)
        if rows is not None:
            return rows
    from debrief.logbook.looking import flights
    from debrief.logbook.opening import open_logbook

    book = open_logbook(address, must_exist=True)
    try:
        found = flights(book, pilots=pilots, procedure=procedure, since=since, removed=removed, names=names)
    finally:
        book.engine.dispose()
    return [
        Listed(
            row.number,
            row.started.isoformat(" ")[:_TO_THE_MINUTE],
            row.pilot,
            row.procedure,
            row.grade,
            row.remark,
        )
        for row in found
    ]


def _from_file(file: Path, *, since: date | None, removed: bool, names: bool) -> list[Listed] | None:
    """The flights of a file of today's schema; ``None`` where it is not plainly one."""
    query = f"""
        SELECT flight.id, substr(flight.started, 1, {_TO_THE_MINUTE}),
               {"pilot.name" if names else "coalesce(pilot.alias, pilot.name)"},
               procedure.name, flight.grade, flight.remark
        FROM flight
        JOIN pilot ON pilot.id = flight.pilot_id
        JOIN procedure ON procedure.id = flight.procedure_id
        WHERE flight.removed IS {"NOT NULL" if removed else "NULL"} AND flight.started >= ?
        ORDER BY flight.started, flight.id
    """  # moments are text that sorts as time does, see ``tables.Utc``
    try:
        uri = f"{file.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True)) as connection:
            connection.execute("BEGIN")  # one view: schema and flights
            if connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone() != (NEWEST,):
                return None
            since_text = since.isoformat() if since is not None else ""
            return list(map(Listed._make, connection.execute(query, (since_text,))))
    except (sqlite3.Error, ValueError):  # a name that no file can have is a ValueError
        return None
