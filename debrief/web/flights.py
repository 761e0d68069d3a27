"""Flights: what was uploaded, where its debrief stands, and the queue that the workers take from.

Owns      the rows of ``flight``: adding, asking after, answering, removing and bringing back; the queue's leases.
Not here  the work itself (``work``), who may see which flight (``guard``), files (``store``).

The queue gives each flight at least once: a lease that nobody holds any more is given again. Since a result's key is
made from what it depends on, and a lease must still be held when its end is written down, nothing happens twice.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from debrief.language import mark, spoken
from debrief.web.limits import KEPT_REMOVED_S, MOST_TRIES
from debrief.web.store import at_once

State = Literal["waiting", "working", "asking", "done", "refused"]
STATES: tuple[State, ...] = ("waiting", "working", "asking", "done", "refused")

READING = mark("Reading the log")
ENDED_SUDDENLY = mark(
    "The reading of this log ended suddenly, twice: it needs more memory than is allowed, or it is damaged in a way "
    "that no message tells. Cut the flight out of a longer log, or export it again."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What a person said about a flight; nothing by default."""

    procedure: str = ""  # a bundled name, or that of one made here; "": the best fitting
    standard: str = "instrument-rating"
    qnh_hpa: float | None = None
    offset_ft: float = 0.0
    altitude_unit: Literal["", "ft", "m"] = ""
    date: str = ""  # YYYY-MM-DD
    columns: dict[str, str] = field(default_factory=dict)

    def text(self) -> str:
        """As it is stored: the same wishes give the same text."""
        return json.dumps(asdict(self), sort_keys=True, ensure_ascii=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flight:
    """One upload, and where its debrief stands."""

    id: str
    owner: int | None  # None: alone on loopback
    sha256: str
    file: str  # its name, for people
    size_bytes: int
    pilot: str
    wishes: Wishes
    state: State
    said: str  # how far it is, or why it was refused
    asks: dict[str, Any]  # what a person must say before it goes on
    summary: dict[str, Any]  # what lists show of a result
    result_key: str | None
    lease: str | None
    tries: int
    added_at: float
    removed_at: float | None
    language: str  # of whoever dropped it: its report is made in this one first
    to_book: int  # counts what the logbook has to know of; see ``booking``
    booked: int
    logbook_flight: int | None  # its number in the logbook
    logbook_ours: bool  # put there by this page
    logbook_said: str  # why it is not there


def _flight(row: sqlite3.Row) -> Flight:
    return Flight(
        id=row["id"],
        owner=row["owner"],
        sha256=row["sha256"],
        file=row["file"],
        size_bytes=row["size_bytes"],
        pilot=row["pilot"],
        wishes=Wishes(**json.loads(row["wishes"])),
        state=row["state"],
        said=row["said"],
        asks=json.loads(row["asks"] or "{}"),
        summary=json.loads(row["summary"]),
        result_key=row["result_key"],
        lease=row["lease"],
        tries=row["tries"],
        added_at=row["added_at"],
        removed_at=row["removed_at"],
        language=row["language"],
        to_book=row["to_book"],
        booked=row["booked"],
        logbook_flight=row["logbook_flight"],
        logbook_ours=bool(row["logbook_ours"]),
        logbook_said=row["logbook_said"],
    )


def add(
    connection: sqlite3.Connection,
    *,
    owner: int | None,
    sha256: str,
    file: str,
    size_bytes: int,
    pilot: str,
    wishes: Wishes,
) -> tuple[Flight, bool]:
    """Put a log that lies in the store into the queue.

    Returns
    -------
    The flight, and whether it is new: the same log of the same owner is one flight, however often it is dropped.
    """
    with at_once(connection):
        found = connection.execute(
            "SELECT * FROM flight WHERE ifnull(owner, 0) = ifnull(?, 0) AND sha256 = ? AND removed_at IS NULL",
            (owner, sha256),
        ).fetchone()
        if found is not None:
            return _flight(found), False
        name = secrets.token_urlsafe(12)
        connection.execute(
            "INSERT INTO flight (id, owner, sha256, file, size_bytes, pilot, wishes, state, added_at, language)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, 'waiting', ?, ?)",
            (name, owner, sha256, file, size_bytes, pilot, wishes.text(), time.time(), spoken()),
        )
    return one(connection, name), True


def one(connection: sqlite3.Connection, name: str) -> Flight:
    """The flight of that id; ``LookupError`` where there is none."""
    row = connection.execute("SELECT * FROM flight WHERE id = ?", (name,)).fetchone()
    if row is None:
        raise LookupError(name)
    return _flight(row)


def listed(
    connection: sqlite3.Connection,
    *,
    owner: int | None,
    of_all: bool = False,
    removed: bool = False,
    most: int = 500,
) -> tuple[Flight, ...]:
    """Flights of one owner or of all, newest first."""
    rows = connection.execute(
        f"SELECT * FROM flight WHERE (? OR ifnull(owner, 0) = ifnull(?, 0))"
        f" AND removed_at IS {'NOT ' if removed else ''}NULL ORDER BY added_at DESC, id LIMIT ?",
        (of_all, owner, most),
    )
    return tuple(map(_flight, rows))


def added_since(connection: sqlite3.Connection, owner: int | None, since: float) -> int:
    """How many flights an owner added since then."""
    row = connection.execute(
        "SELECT count(*) FROM flight WHERE ifnull(owner, 0) = ifnull(?, 0) AND added_at > ?", (owner, since)
    ).fetchone()
    return int(row[0])


def ahead_of(connection: sqlite3.Connection, flight: Flight) -> int:
    """How many flights wait before this one."""
    row = connection.execute(
        "SELECT count(*) FROM flight WHERE state = 'waiting' AND removed_at IS NULL AND added_at < ?",
        (flight.added_at,),
    ).fetchone()
    return int(row[0])


def answer(connection: sqlite3.Connection, name: str, wishes: Wishes, pilot: str | None = None) -> None:
    """Take what a person said, and put the flight into the queue again; a worker's lease on it ends.

    ``pilot`` is who flew it, ``None`` where that was not said.
    """
    connection.execute(
        "UPDATE flight SET wishes = ?, pilot = coalesce(?, pilot), state = 'waiting', said = '', asks = '',"
        " lease = NULL, tries = 0 WHERE id = ?",
        (wishes.text(), pilot, name),
    )


def remove(connection: sqlite3.Connection, name: str) -> None:
    """Take a flight out of every list; it can be brought back for a while."""
    connection.execute(
        "UPDATE flight SET removed_at = ?, to_book = to_book + 1 WHERE id = ? AND removed_at IS NULL",
        (time.time(), name),
    )


def bring_back(connection: sqlite3.Connection, name: str) -> bool:
    """Undo ``remove``; False where the same log was added again meanwhile."""
    try:
        connection.execute(
            "UPDATE flight SET removed_at = NULL, to_book = to_book + 1 WHERE id = ? AND removed_at IS NOT NULL",
            (name,),
        )
    except sqlite3.IntegrityError:
        return False
    return True


def forget_removed(connection: sqlite3.Connection) -> tuple[set[str], set[str]]:
    """Delete flights removed long ago; the sums and result keys that no other flight needs."""
    with at_once(connection):
        long_ago = time.time() - KEPT_REMOVED_S
        gone = connection.execute(
            "DELETE FROM flight WHERE removed_at < ? AND (to_book = booked OR NOT logbook_ours) RETURNING sha256, result_key",
            (long_ago,),
        ).fetchall()
        logs = {row["sha256"] for row in gone}
        results = {row["result_key"] for row in gone if row["result_key"]}
        for row in connection.execute("SELECT sha256, result_key FROM flight"):
            logs.discard(row["sha256"])
            results.discard(row["result_key"])
    return logs, results


# The queue


def claim(connection: sqlite3.Connection, lease: str) -> Flight | None:
    """Take the flight that waits longest, under a lease of the worker's own naming; ``None`` where none waits."""
    with at_once(connection):
        row = connection.execute(
            "SELECT id FROM flight WHERE state = 'waiting' AND removed_at IS NULL ORDER BY added_at, id LIMIT 1"
        ).fetchone()
        if row is None:
            return None
        connection.execute(
            "UPDATE flight SET state = 'working', said = ?, lease = ?, leased_at = ?,"
            " tries = tries + 1 WHERE id = ?",
            (READING, lease, time.time(), row["id"]),
        )
    return one(connection, row["id"])


def tell(connection: sqlite3.Connection, lease: str, said: str) -> None:
    """Say how far a flight is."""
    connection.execute("UPDATE flight SET said = ? WHERE lease = ?", (said, lease))


def show(connection: sqlite3.Connection, lease: str, summary: dict[str, Any], result_key: str) -> None:
    """The page of a flight can be shown; the lease is kept, for files that take longer are still written."""
    connection.execute(
        "UPDATE flight SET state = 'done', said = '', asks = '', summary = ?, result_key = ? WHERE lease = ?",
        (json.dumps(summary), result_key, lease),
    )


def finish(
    connection: sqlite3.Connection,
    lease: str,
    state: State,
    *,
    said: str = "",
    asks: dict[str, Any] | None = None,
    summary: dict[str, Any] | None = None,
    result_key: str | None = None,
    pilot: str | None = None,
) -> bool:
    """Write down how a flight's debrief ended; False where the lease is not held any more, and nothing is written."""
    done = connection.execute(
        "UPDATE flight SET state = ?, said = ?, asks = ?, summary = ?, result_key = coalesce(?, result_key),"
        " pilot = CASE WHEN pilot = '' THEN coalesce(?, '') ELSE pilot END, to_book = to_book + 1, lease = NULL,"
        " tries = 0 WHERE lease = ?",
        (
            state,
            said,
            json.dumps(asks) if asks else "",
            json.dumps(summary or {}),
            result_key,
            pilot,
            lease,
        ),
    )
    return done.rowcount == 1


def leases(connection: sqlite3.Connection) -> Sequence[tuple[str, float]]:
    """The leases that are held, and since when."""
    rows = connection.execute("SELECT lease, leased_at FROM flight WHERE lease IS NOT NULL")
    return [(row["lease"], row["leased_at"]) for row in rows]


def give_back(connection: sqlite3.Connection, lease: str) -> None:
    """The worker that held this lease ended suddenly: its flight waits again, or is refused where that happened before."""
    connection.execute(
        "UPDATE flight SET state = CASE WHEN tries >= ? THEN 'refused' ELSE 'waiting' END,"
        " said = CASE WHEN tries >= ? THEN ? ELSE '' END, lease = NULL WHERE lease = ?",
        (MOST_TRIES, MOST_TRIES, ENDED_SUDDENLY, lease),
    )


def give_all_back(connection: sqlite3.Connection) -> None:
    """No worker is alive, for the server itself had ended: what they held waits again, and no log is to blame."""
    connection.execute(
        "UPDATE flight SET state = 'waiting', said = '', lease = NULL, tries = max(tries - 1, 0)"
        " WHERE lease IS NOT NULL"
    )


def refuse(connection: sqlite3.Connection, lease: str, said: str) -> None:
    """Refuse the flight of a lease, with the reason."""
    finish(connection, lease, "refused", said=said)
