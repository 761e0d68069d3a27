"""The logbook kept in step with the page: what is debriefed here goes into it, what is removed here goes out of it.

Owns      which flights the logbook has to hear of (columns of ``flight``), and telling it.
Not here  the logbook (``debrief.logbook``), the worker that does it (``worker``), the board that reads it (``board``).

Each change of a flight counts ``to_book`` up in the same statement, and a worker brings ``booked`` after it: killed in
between, or with a logbook that cannot be reached, it is done later, and doing it twice changes nothing. The page keeps
in step what it put there itself. A flight that was in the logbook before is left as it is there.
"""

from __future__ import annotations

import gzip
import json
import sqlite3
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from debrief.errors import LogbookError
from debrief.language import mark
from debrief.web.flights import Flight, one
from debrief.web.limits import LONGEST_PILOT
from debrief.web.store import Store, at_once

if TYPE_CHECKING:
    from debrief.logbook import Logbook

ENTRY = "entry.json.gz"  # of a result: the flight as a logbook keeps it
UNNAMED = "without a name"  # the pilot of a flight of which nobody said who flew it
AGAIN_S = 20.0  # after a logbook could not be used


@dataclass(frozen=True, slots=True, kw_only=True)
class _Booked:
    """How a flight stands in the logbook."""

    number: int | None
    ours: bool
    said: str = ""


def keep_in(connection: sqlite3.Connection, address: str) -> None:
    """Say which logbook it is; where it was another one before, every flight goes into this one, too."""
    with at_once(connection):
        row = connection.execute("SELECT address FROM logbook").fetchone()
        if row is not None and row["address"] == address:
            return
        connection.execute("DELETE FROM logbook")
        connection.execute("INSERT INTO logbook (address) VALUES (?)", (address,))
        connection.execute(
            "UPDATE flight SET booked = 0, book_lease = NULL, logbook_flight = NULL, logbook_ours = 0, logbook_said = ''"
        )


def claim(connection: sqlite3.Connection, lease: str) -> Flight | None:
    """Take a flight of which the logbook has to hear, under a lease; ``None`` where there is none."""
    now = time.time()
    due = (  # one after the other: a removal comes before the same log dropped again
        "SELECT id FROM flight WHERE to_book > booked AND book_after <= ?"
        " AND (removed_at IS NOT NULL OR state NOT IN ('waiting', 'working'))"
        " AND NOT EXISTS (SELECT 1 FROM flight WHERE book_lease IS NOT NULL) ORDER BY added_at, id LIMIT 1"
    )
    if connection.execute(due, (now,)).fetchone() is None:  # without a lock: it is asked ten times a second
        return None
    with at_once(connection):
        row = connection.execute(due, (now,)).fetchone()
        if row is None:
            return None
        connection.execute("UPDATE flight SET book_lease = ? WHERE id = ?", (lease, row["id"]))
    return one(connection, row["id"])


def book(
    store: Store, connection: sqlite3.Connection, logbook: Callable[[], Logbook], flight: Flight
) -> None:
    """Tell the logbook of a claimed flight, and write down how it stands there."""
    try:
        after, wait = _told(store, connection, logbook(), flight), 0.0
    except LogbookError as error:  # another time
        after = _Booked(number=flight.logbook_flight, ours=flight.logbook_ours, said=error.what)
        wait = time.time() + AGAIN_S
    connection.execute(
        "UPDATE flight SET booked = CASE WHEN ? THEN booked ELSE ? END, book_after = ?, logbook_flight = ?,"
        " logbook_ours = ?, logbook_said = ?, book_lease = NULL WHERE id = ?",
        (wait > 0, flight.to_book, wait, after.number, after.ours, after.said, flight.id),
    )


def give_up(connection: sqlite3.Connection, flight: Flight, said: str) -> None:
    """Write down why a claimed flight is not told to the logbook; its next change is."""
    connection.execute(
        "UPDATE flight SET booked = ?, logbook_said = ?, book_lease = NULL WHERE id = ?",
        (flight.to_book, said, flight.id),
    )


def _told(store: Store, connection: sqlite3.Connection, logbook: Logbook, flight: Flight) -> _Booked:
    from debrief.logbook.adding import SameFlightError

    path = store.result(flight.result_key) / ENTRY if flight.result_key else None
    if flight.removed_at is not None or flight.state != "done" or path is None or not path.is_file():
        return _taken_out(connection, logbook, flight)
    try:
        return _put_in(store, connection, logbook, flight)
    except SameFlightError:  # who it is, is not for everybody who may see this flight
        return _Booked(
            number=None, ours=False, said=mark("The logbook has this flight already, as another pilot's.")
        )


def _taken_out(connection: sqlite3.Connection, logbook: Logbook, flight: Flight) -> _Booked:
    from debrief.logbook.opening import writing
    from debrief.logbook.removing import take_out

    if flight.logbook_flight is None or not flight.logbook_ours:
        return _Booked(number=None, ours=False)
    heir = connection.execute(
        "UPDATE flight SET logbook_ours = 1 WHERE id = (SELECT id FROM flight WHERE logbook_flight = ? AND id != ?"
        " AND removed_at IS NULL AND state = 'done' LIMIT 1) RETURNING id",
        (flight.logbook_flight, flight.id),
    ).fetchone()
    if heir is not None:  # the same flight was dropped by somebody else, too
        return _Booked(number=None, ours=False)
    with writing(logbook) as booking:
        take_out(booking, flight.logbook_flight, datetime.now(UTC))
    return _Booked(number=flight.logbook_flight, ours=True)


def _put_in(store: Store, connection: sqlite3.Connection, logbook: Logbook, flight: Flight) -> _Booked:
    from debrief.logbook.adding import add_record, corrected, same_flight
    from debrief.logbook.opening import writing
    from debrief.logbook.portable import record_from

    assert flight.result_key is not None
    folder = store.result(flight.result_key)
    record = record_from(
        json.loads(gzip.decompress((folder / ENTRY).read_bytes())),
        store.log(flight.sha256).read_bytes(),
        gzip.decompress((folder / "result.json.gz").read_bytes()),
    )
    record = replace(record, pilot=logbook_pilot(flight.pilot))
    ours = flight.logbook_ours
    with writing(logbook) as booking:
        same = same_flight(booking, record)
        if not ours and (same is None or same[2] is not None):
            # written down before it is done: killed after it, the page still knows that it put it there
            connection.execute("UPDATE flight SET logbook_ours = 1 WHERE id = ?", (flight.id,))
            ours = True
        if same is not None and flight.logbook_ours and flight.logbook_flight in (None, same[0]):
            corrected(booking, same[0], record)
            return _Booked(number=same[0], ours=True)
        return _Booked(number=add_record(booking, record).flight, ours=ours)


def logbook_pilot(name: str) -> str:
    """What a flight's pilot is called in the logbook."""
    shown = " ".join("".join(letter if letter.isprintable() else " " for letter in name).split())
    return shown[:LONGEST_PILOT].strip() or UNNAMED


def give_back(connection: sqlite3.Connection, pid: int) -> None:
    """A worker ended suddenly: what it was telling the logbook is told again."""
    connection.execute("UPDATE flight SET book_lease = NULL WHERE book_lease LIKE ?", (f"{pid}-%",))


def give_all_back(connection: sqlite3.Connection) -> None:
    """No worker is alive."""
    connection.execute("UPDATE flight SET book_lease = NULL, book_after = 0 WHERE book_lease IS NOT NULL")
