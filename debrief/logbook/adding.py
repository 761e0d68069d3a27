"""Putting a flight into a logbook: once, whole, or not at all.

Owns      ``add_flight``, ``add_record`` and what counts as the same flight.
Not here  debriefing it (``entry``), what is kept of it (``record``).
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Literal

from sqlalchemy import Connection, Table, select
from sqlalchemy.exc import IntegrityError

from debrief.errors import LogbookError
from debrief.logbook import tables
from debrief.logbook.entry import Entry
from debrief.logbook.names import folded
from debrief.logbook.opening import Logbook, writing
from debrief.logbook.record import Definition, Record, record_of
from debrief.navigation.geodesy import inverse

SAME_S = 2.0  # two logs of one flight may be cut to whole seconds
SAME_NM = 0.2  # and rounded, or written by another recorder in the same aircraft


class SameFlightError(LogbookError):
    """The flight is in the logbook under another pilot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What became of a flight that was to be added."""

    flight: int  # its number
    outcome: Literal["added", "already there", "brought back"]
    pilot: str  # whose it is in the logbook


def add_flight(logbook: Logbook, entry: Entry, pilot: str) -> Added:
    """Store a debriefed flight as that pilot's.

    The same log, or another recording of the same flight (begun and ended at the same times and places), is stored
    once: then nothing changes, unless it had been removed, which is undone.

    Raises
    ------
    LogbookError
        Where the flight stands under another pilot, or the logbook cannot be written.
    """
    record = record_of(entry, pilot)
    with writing(logbook) as connection:
        return add_record(connection, record)


def add_record(connection: Connection, record: Record) -> Added:
    """Store a flight within a transaction that is open for writing, see ``add_flight``."""
    same = same_flight(connection, record)
    if same is not None:
        number, pilot, removed = same
        if folded(pilot) != folded(record.pilot):
            raise SameFlightError(
                f"{record.flight['file']}: this flight is in the logbook already, as flight {number} of {pilot}",
                remedy="Remove it there first, if it was put under the wrong name.",
            )
        if removed is not None:
            flight = tables.flight
            connection.execute(flight.update().where(flight.c.id == number).values(removed=None))
        return Added(
            flight=number, outcome="already there" if removed is None else "brought back", pilot=pilot
        )
    pilot_id, pilot = pilot_row(connection, record.pilot)
    number = _insert(
        connection,
        tables.flight,
        pilot_id=pilot_id,
        procedure_id=_definition_row(connection, tables.procedure, record.procedure),
        standard_id=_definition_row(connection, tables.standard, record.standard),
        **record.flight,
    )
    connection.execute(
        tables.original.insert().values(flight_id=number, content=zlib.compress(record.original, 6))
    )
    put_measured(connection, number, record)
    return Added(flight=number, outcome="added", pilot=pilot)


def put_measured(connection: Connection, number: int, record: Record) -> None:
    """Store what was measured of a flight, in place of what was measured before."""
    for table in (tables.result, tables.attempt):
        connection.execute(table.delete().where(table.c.flight_id == number))
    connection.execute(
        tables.result.insert().values(flight_id=number, content=zlib.compress(record.result, 6))
    )
    if record.attempts:
        connection.execute(
            tables.attempt.insert(), [{"flight_id": number, **attempt} for attempt in record.attempts]
        )


def remeasured(connection: Connection, number: int, record: Record) -> None:
    """Put a newer measurement in the place of an older one; the flight, its pilot and its log stay."""
    kept = {"attempts", "grade", "remark", "program"}
    values = {name: value for name, value in record.flight.items() if name in kept}
    connection.execute(tables.flight.update().where(tables.flight.c.id == number).values(**values))
    put_measured(connection, number, record)


def corrected(connection: Connection, number: int, record: Record) -> None:
    """Put a flight as it was corrected in the place of what stood there: its pilot and what it was held against, too.

    A flight that was removed is back then. A pilot of whom nothing else is there goes.
    """
    flight, pilot = tables.flight, tables.pilot
    before = connection.execute(select(flight.c.pilot_id).where(flight.c.id == number)).scalar_one()
    values = {name: value for name, value in record.flight.items() if name not in ("sha256", "added")}
    values |= {
        "pilot_id": pilot_row(connection, record.pilot)[0],
        "procedure_id": _definition_row(connection, tables.procedure, record.procedure),
        "standard_id": _definition_row(connection, tables.standard, record.standard),
        "removed": None,
    }
    connection.execute(flight.update().where(flight.c.id == number).values(**values))
    put_measured(connection, number, record)
    of_others = [
        select(table.c.pilot_id).where(table.c.pilot_id == before) for table in (flight, tables.member)
    ]
    if all(connection.execute(query).first() is None for query in of_others):
        connection.execute(pilot.delete().where(pilot.c.id == before, pilot.c.alias.is_(None)))


def pilot_row(connection: Connection, name: str) -> tuple[int, str]:
    """The key of a pilot and the name as it stands; a new one is entered."""
    pilot = tables.pilot
    found = connection.execute(select(pilot.c.id, pilot.c.name).where(pilot.c.folded == folded(name))).first()
    if found is not None:
        return int(found.id), str(found.name)
    return _insert(connection, pilot, name=name, folded=folded(name), created=datetime.now(UTC)), name


def _definition_row(connection: Connection, table: Table, kept: Definition) -> int:
    number = connection.execute(select(table.c.id).where(table.c.sha256 == kept.sha256)).scalar()
    if number is not None:
        return int(number)
    return _insert(
        connection, table, sha256=kept.sha256, name=kept.name, file=kept.file, content=dict(kept.content)
    )


def _insert(connection: Connection, table: Table, **values: Any) -> int:
    try:
        key = connection.execute(table.insert().values(**values)).inserted_primary_key
    except IntegrityError as error:  # a row that this role may not see stands in the way
        raise LogbookError(
            "this flight, or a pilot of this name, is in the logbook already, where you may not see it",
            remedy="Ask an instructor of the club.",
        ) from error
    assert key is not None
    return int(key[0])


def same_flight(connection: Connection, record: Record) -> tuple[int, str, datetime | None] | None:
    """The number, pilot and removal of the flight that is this one; ``None`` where it is new."""
    flight, pilot, new = tables.flight, tables.pilot, record.flight
    near = timedelta(seconds=SAME_S)
    rows = connection.execute(
        select(flight, pilot.c.name)
        .join(pilot, pilot.c.id == flight.c.pilot_id)
        .where(
            (flight.c.sha256 == new["sha256"])
            | (
                flight.c.started.between(new["started"] - near, new["started"] + near)
                & flight.c.ended.between(new["ended"] - near, new["ended"] + near)
            )
        )
        .order_by(flight.c.id)
    )
    for row in rows:
        if row.sha256 == new["sha256"] or all(
            _apart_nm(row, new, end) <= SAME_NM for end in ("first", "last")
        ):
            return int(row.id), str(row.name), row.removed
    return None


def _apart_nm(row: Any, new: Any, end: str) -> float:
    distance_nm, _ = inverse(
        getattr(row, f"{end}_latitude"),
        getattr(row, f"{end}_longitude"),
        new[f"{end}_latitude"],
        new[f"{end}_longitude"],
    )
    return float(distance_nm)
