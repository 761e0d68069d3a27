"""Opening a logbook by its address: a file on this machine, or a PostgreSQL database shared by a club.

Owns      connections and how they are set up, transactions, and errors of the database in one plain line.
Not here  what an address means (``addresses``), the tables (``tables``), making and migrating them (``migrating``).

SQLite runs with a write-ahead log, waits for other writers, and writes each commit through to the disk. A write is
one transaction that takes the lock at its beginning, so two processes never both believe that a flight is new.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, SQLAlchemyError
from sqlalchemy.pool import StaticPool

from debrief.errors import LogbookError, Place
from debrief.logbook.addresses import IN_MEMORY, default_address, file_of, is_shared

BUSY_S = 60.0  # for so long one writer waits for another
_WRITE = "debrief_write"
_LOCK = 0x6C6F67626F6F6B  # one number for all logbooks: writers of one database wait for each other


@dataclass(frozen=True, slots=True)
class Logbook:
    """An open logbook: where it is, and the connections to it."""

    address: str  # without a password
    engine: Engine

    @property
    def shared(self) -> bool:
        """Whether it is a PostgreSQL database."""
        return self.engine.dialect.name == "postgresql"

    @property
    def file(self) -> Path | None:
        """The file it is, where it is one."""
        database = self.engine.url.database
        return None if self.shared or not database else Path(database)


def open_logbook(address: str | Path | None = None, *, must_exist: bool = False) -> Logbook:
    """Open a logbook, make it where there is none, and bring an older one up to date (a copy of it is kept).

    Parameters
    ----------
    address : a file, ``postgresql://user@host/database``, or ``sqlite://`` for one in memory. The user's own,
        where ``None``.
    must_exist : where there is none, none is made. For whoever only looks: a name with a slip in it would else leave
        an empty logbook behind, and say that nobody flew.

    Raises
    ------
    LogbookError
        Where it cannot be opened, is no logbook, or is of a newer debrief; where there is none, with ``must_exist``.
    """
    from debrief.logbook.migrating import bring_up_to_date

    wanted = str(address) if address is not None else default_address()
    file = file_of(wanted)
    if must_exist and file is not None and not os.path.lexists(file):
        raise no_such_logbook(str(file))
    logbook = _connected(wanted)
    try:
        with plainly(logbook.address):
            bring_up_to_date(logbook, make=not must_exist or wanted == IN_MEMORY)
    except BaseException:
        logbook.engine.dispose()
        raise
    return logbook


def no_such_logbook(address: str) -> LogbookError:
    """What is said where a logbook must be there and is not."""
    return LogbookError(
        "there is no such logbook",
        where=Place(path=address),
        remedy="Check --logbook; `debrief logbook add TRACK --pilot NAME` makes a new one.",
    )


def _connected(address: str) -> Logbook:
    if is_shared(address):
        return _postgresql(address)
    if address == IN_MEMORY:
        return _in_memory()
    file = file_of(address)
    if file is None:
        raise LogbookError(
            f"the address {address.partition('://')[0]}://... is of no known kind",
            remedy="Give a file, or postgresql://user@host/database.",
        )
    return _sqlite(file)


def _postgresql(address: str) -> Logbook:
    rest = address.partition(":")[2]
    try:
        url = make_url(f"postgresql+psycopg:{rest}")
        engine = create_engine(
            url, pool_pre_ping=True, hide_parameters=True, connect_args={"connect_timeout": 10}
        )
    except (ArgumentError, ValueError) as error:
        raise LogbookError(
            "the address of the PostgreSQL logbook cannot be read",
            remedy="Write postgresql://user@host/database.",
        ) from error
    return Logbook(
        url.set(drivername="postgresql", password=None).render_as_string(hide_password=True), engine
    )


def _in_memory() -> Logbook:
    engine = create_engine(
        IN_MEMORY,
        hide_parameters=True,
        poolclass=StaticPool,
        connect_args={"check_same_thread": False},
    )
    return _set_up(Logbook(IN_MEMORY, engine))


def _sqlite(path: Path) -> Logbook:
    if path.is_dir():
        raise LogbookError("this is a folder", where=Place(path=path), remedy="Give the logbook's own file.")
    # to open a pipe would wait, past every signal, for who writes into it
    if path.exists() and not path.is_file():
        raise LogbookError(
            "this is not an ordinary file", where=Place(path=path), remedy="Give the logbook's own file."
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise LogbookError(
            f"its folder cannot be made: {error.strerror or error}",
            where=Place(path=path),
            remedy="Give another place with --logbook.",
        ) from error
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        hide_parameters=True,
        connect_args={"timeout": BUSY_S, "check_same_thread": False},
    )
    return _set_up(Logbook(str(path), engine))


def _set_up(logbook: Logbook) -> Logbook:
    event.listen(logbook.engine, "connect", _set_up_sqlite)
    event.listen(logbook.engine, "begin", _begin_sqlite)
    return logbook


def _set_up_sqlite(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None  # transactions begin where we say, tables and all
    for pragma in (
        f"busy_timeout = {int(BUSY_S * 1000)}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "secure_delete = ON",  # what is erased is overwritten
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin_sqlite(connection: Connection) -> None:
    write = connection.get_execution_options().get(_WRITE)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")


@contextmanager
def reading(logbook: Logbook) -> Iterator[Connection]:
    """One view of the logbook, in which nothing changes while it is read."""
    with plainly(logbook.address), logbook.engine.connect() as connection:
        if logbook.shared:
            connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
        with connection.begin():
            yield connection


@contextmanager
def writing(logbook: Logbook) -> Iterator[Connection]:
    """One transaction, all of it or nothing; other writers wait."""
    with plainly(logbook.address), logbook.engine.connect() as connection:
        connection = connection.execution_options(**{_WRITE: True})
        with connection.begin():
            if logbook.shared:
                connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")
            yield connection


@contextmanager
def plainly(address: str) -> Iterator[None]:
    """Tell what the database refuses in one plain line."""
    try:
        yield
    except DBAPIError as error:
        what, remedy = _plain(error.orig)
        raise LogbookError(what, where=Place(path=address), remedy=remedy) from error
    except SQLAlchemyError as error:
        raise LogbookError(
            f"the database cannot be used: {str(error).splitlines()[0]}", where=Place(path=address)
        ) from error


def _plain(error: BaseException | None) -> tuple[str, str]:
    said = " ".join(str(error).split())
    for words, what, remedy in _KNOWN:
        if words in said:
            return what, remedy
    if any(words in said for words in ("permission denied for", "row-level security", "must be owner")):
        return "your role in this logbook does not allow that", "Ask an instructor of the club."
    first: Any = str(error).strip().splitlines()[0] if said else type(error).__name__
    return f"the database refused: {first}", ""


_KNOWN = (
    ("file is not a database", "this is no logbook", "Give a file that debrief made, or a new name."),
    ("malformed", "the logbook's file is damaged", "Go back to a backup of it."),
    ("database or disk is full", "the disk is full; nothing was written", "Make room, then do it again."),
    (
        "disk I/O error",
        "the disk refused; nothing was written",
        "Make room or check the disk, then do it again.",
    ),
    (
        "database is locked",
        f"another program has been writing for {BUSY_S:.0f} s",
        "Wait until it is done, then do it again.",
    ),
    ("unable to open database file", "it cannot be opened", "Check the name, and who may write there."),
    ("readonly database", "it cannot be written", "Check who may write to the file and its folder."),
    ("password", "the database asks for another password", "Put it into your .pgpass file, or PGPASSWORD."),
    ("failed to resolve host", "no machine of that name is known", "Check the address."),
    ("could not connect", "there is no database", "Check the address, and that the server runs."),
    ("connection failed", "there is no database at that address", "Check it, and that the server runs."),
    ("connection to server", "there is no database at that address", "Check it, and that the server runs."),
    ("No space left", "the server's disk is full; nothing was written", "Make room, then do it again."),
)
