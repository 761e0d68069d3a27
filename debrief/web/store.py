"""The data folder of the page: where things lie, and its database.

Owns      ``Store``: the paths, the connection to the SQLite file, its tables; writing a file whole.
Not here  what stands in the tables (``flights``, ``accounts``, ``sessions``).

A log lies under its SHA-256, a result under a key made from everything it depends on: no name from outside is ever
part of a path, and doing a thing twice gives the same files.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from debrief.errors import OutputError, Place
from debrief.whole_files import part_of

BUSY_MS = 10_000

_FIRST = """
CREATE TABLE account (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    role TEXT NOT NULL CHECK (role IN ('pilot', 'examiner', 'admin')),
    password TEXT NOT NULL,
    made_at REAL NOT NULL,
    closed_at REAL
);
CREATE TABLE session (
    key_sha256 TEXT PRIMARY KEY,
    account INTEGER REFERENCES account (id),
    form_key TEXT NOT NULL,
    begun_at REAL NOT NULL,
    seen_at REAL NOT NULL
);
CREATE TABLE token (
    id INTEGER PRIMARY KEY,
    account INTEGER NOT NULL REFERENCES account (id),
    label TEXT NOT NULL,
    token_sha256 TEXT NOT NULL UNIQUE,
    made_at REAL NOT NULL,
    ends_at REAL NOT NULL,
    used_at REAL
);
CREATE TABLE failed_sign_in (name TEXT NOT NULL COLLATE NOCASE, address TEXT NOT NULL, at REAL NOT NULL);
CREATE TABLE trail (
    id INTEGER PRIMARY KEY,
    at REAL NOT NULL,
    who TEXT NOT NULL,
    what TEXT NOT NULL,
    about TEXT NOT NULL,
    because TEXT NOT NULL
);
CREATE TRIGGER trail_is_never_changed BEFORE UPDATE ON trail BEGIN SELECT RAISE(ABORT, 'the trail is kept'); END;
CREATE TRIGGER trail_is_never_cut BEFORE DELETE ON trail BEGIN SELECT RAISE(ABORT, 'the trail is kept'); END;
CREATE TABLE flight (
    id TEXT PRIMARY KEY,
    owner INTEGER REFERENCES account (id),
    sha256 TEXT NOT NULL,
    file TEXT NOT NULL,
    size_bytes INTEGER NOT NULL,
    pilot TEXT NOT NULL,
    wishes TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('waiting', 'working', 'asking', 'done', 'refused')),
    said TEXT NOT NULL DEFAULT '',
    asks TEXT NOT NULL DEFAULT '',
    summary TEXT NOT NULL DEFAULT '{}',
    result_key TEXT,
    lease TEXT,
    leased_at REAL,
    tries INTEGER NOT NULL DEFAULT 0,
    added_at REAL NOT NULL,
    removed_at REAL
);
CREATE UNIQUE INDEX flight_once ON flight (ifnull(owner, 0), sha256) WHERE removed_at IS NULL;
CREATE INDEX flight_waiting ON flight (state, added_at);
"""
_PILE = """
CREATE TABLE decision (id INTEGER PRIMARY KEY, content TEXT NOT NULL);
CREATE TRIGGER decision_is_never_changed BEFORE UPDATE ON decision BEGIN SELECT RAISE(ABORT, 'decisions are kept'); END;
CREATE TRIGGER decision_is_never_cut BEFORE DELETE ON decision BEGIN SELECT RAISE(ABORT, 'decisions are kept'); END;
CREATE TABLE signature (id INTEGER PRIMARY KEY, content TEXT NOT NULL);
"""
_LOGBOOK = """
ALTER TABLE flight ADD COLUMN to_book INTEGER NOT NULL DEFAULT 0;
ALTER TABLE flight ADD COLUMN booked INTEGER NOT NULL DEFAULT 0;
ALTER TABLE flight ADD COLUMN book_lease TEXT;
ALTER TABLE flight ADD COLUMN book_after REAL NOT NULL DEFAULT 0;
ALTER TABLE flight ADD COLUMN logbook_flight INTEGER;
ALTER TABLE flight ADD COLUMN logbook_ours INTEGER NOT NULL DEFAULT 0;
ALTER TABLE flight ADD COLUMN logbook_said TEXT NOT NULL DEFAULT '';
CREATE TABLE logbook (address TEXT NOT NULL);
CREATE TABLE task (
    name TEXT PRIMARY KEY,
    kind TEXT NOT NULL,
    about TEXT NOT NULL,
    asked_at REAL NOT NULL,
    taken_at REAL,
    done_at REAL NOT NULL DEFAULT 0,
    lease TEXT,
    tries INTEGER NOT NULL DEFAULT 0,
    said TEXT NOT NULL DEFAULT ''
);
UPDATE flight SET state = 'waiting', lease = NULL WHERE state = 'done';
"""
_LANGUAGE = """
ALTER TABLE flight ADD COLUMN language TEXT NOT NULL DEFAULT 'en';
UPDATE flight SET state = 'waiting', lease = NULL WHERE state = 'done';
"""
#: What each version of the database adds to the one before.
_STEPS = (_FIRST, _PILE, _LOGBOOK, _LANGUAGE)
VERSION = len(_STEPS)


@dataclass(frozen=True, slots=True)
class Store:
    """A data folder."""

    folder: Path

    @property
    def database(self) -> Path:
        """The SQLite file."""
        return self.folder / "page.sqlite3"

    @property
    def procedures(self) -> Path:
        """The folder of the procedures that were made here."""
        return self.folder / "procedures"

    @property
    def arriving(self) -> Path:
        """Where uploads lie until they are whole."""
        return self.folder / "arriving"

    def log(self, sha256: str) -> Path:
        """The log with that sum."""
        return self.folder / "logs" / sha256[:2] / sha256

    def result(self, key: str) -> Path:
        """The folder of the files of one result."""
        return self.folder / "results" / key[:2] / key

    def kept(self, name: str) -> Path:
        """The file of what was computed for a page."""
        return self.folder / "kept" / f"{name}.json.gz"

    def make(self) -> None:
        """Make the folder and the database where they are missing; nobody else may read them.

        Raises
        ------
        OutputError
            Where it cannot be made, or is of a newer version of the program.
        """
        try:
            for name in ("", "arriving", "logs", "results", "kept"):
                (self.folder / name).mkdir(parents=True, exist_ok=True, mode=0o700)
            self.procedures.mkdir(exist_ok=True, mode=0o700)
            with self.open() as connection:
                found = connection.execute("PRAGMA user_version").fetchone()[0]
                if found > VERSION:
                    raise OutputError(
                        f"its data is of version {found}, newer than this program's {VERSION}",
                        where=Place(path=self.folder),
                        remedy="Use the newer program, or another --folder.",
                    )
                for number, step in enumerate(_STEPS[found:], start=found + 1):
                    connection.executescript(f"BEGIN;{step}PRAGMA user_version = {number};COMMIT;")
        except (OSError, sqlite3.Error) as error:
            raise OutputError(
                f"the folder cannot be used: {getattr(error, 'strerror', None) or error}",
                where=Place(path=self.folder),
                remedy="Give a folder that can be written to with --folder.",
            ) from error

    @contextmanager
    def open(self) -> Iterator[sqlite3.Connection]:
        """A connection for one thread, for a short while; each statement stands on its own unless in ``at_once``."""
        connection = sqlite3.connect(self.database, isolation_level=None, timeout=BUSY_MS / 1000)
        try:
            connection.row_factory = sqlite3.Row
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")  # what was answered for is on the disk
            connection.execute("PRAGMA foreign_keys = ON")
            yield connection
        finally:
            connection.close()

    def secret(self) -> bytes:
        """The key that signs cookies: made once, kept in the folder, readable by its owner alone."""
        path = self.folder / "secret"
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError:
            return path.read_bytes()
        with os.fdopen(handle, "wb") as file:
            file.write(secrets.token_bytes(32))
        return path.read_bytes()


@contextmanager
def at_once(connection: sqlite3.Connection) -> Iterator[None]:
    """Everything inside happens, or nothing."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def put_whole(path: Path, content: bytes) -> None:
    """Write a file so that it appears whole or not at all, and stays after a power cut."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = part_of(path, secrets.token_hex(6))
    try:
        with part.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
