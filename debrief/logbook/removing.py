"""Taking flights out of a logbook, bringing them back, and erasing a pilot for good.

Owns      ``remove``, ``undo``, ``erase``, ``set_alias``.
Not here  asking the user (the command line).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from sqlalchemy import Connection, delete, func, select

from debrief.errors import LogbookError
from debrief.logbook import tables
from debrief.logbook.looking import no_such_flight, pilot_key
from debrief.logbook.names import folded, pilot_name
from debrief.logbook.opening import Logbook, plainly, writing


def remove(logbook: Logbook, numbers: Sequence[int]) -> None:
    """Take flights out; all stays stored, and ``undo`` brings them back.

    Raises
    ------
    LogbookError
        Where one of them is not there; then none is taken out.
    """
    now = datetime.now(UTC)
    with writing(logbook) as connection:
        for number in numbers:
            if number > tables.GREATEST_NUMBER or not take_out(connection, number, now):
                raise no_such_flight(logbook, number)


def take_out(connection: Connection, number: int, now: datetime) -> bool:
    """Take one flight out; whether it was there."""
    flight = tables.flight
    query = flight.update().where(flight.c.id == number, flight.c.removed.is_(None))
    return bool(connection.execute(query.values(removed=now)).rowcount)


def undo(logbook: Logbook) -> tuple[int, ...]:
    """Bring back what the latest removal took out; the numbers of those flights, none where nothing was."""
    flight = tables.flight
    with writing(logbook) as connection:
        latest = connection.execute(select(func.max(flight.c.removed))).scalar()
        if latest is None:
            return ()
        query = select(flight.c.id).where(flight.c.removed == latest).order_by(flight.c.id)
        numbers = tuple(int(number) for number in connection.execute(query).scalars())
        connection.execute(flight.update().where(flight.c.removed == latest).values(removed=None))
    return numbers


def erase(logbook: Logbook, pilot: str) -> int:
    """Erase a pilot and every flight of that name, logs included, for good; how many flights that were.

    A file is written anew afterwards, so that nothing of it is left in its free space. Copies that were made before
    (backups, exports, the copy before a migration) are not touched.
    """
    flight = tables.flight
    with writing(logbook) as connection:
        key = pilot_key(connection, pilot)
        of_pilot = select(flight.c.id).where(flight.c.pilot_id == key)
        for table in (tables.attempt, tables.result, tables.original):
            connection.execute(delete(table).where(table.c.flight_id.in_(of_pilot)))
        count = connection.execute(delete(flight).where(flight.c.pilot_id == key)).rowcount
        connection.execute(delete(tables.pilot).where(tables.pilot.c.id == key))
    if not logbook.shared:
        with plainly(logbook.address), logbook.engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert raw is not None
            raw.execute("VACUUM").close()
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").close()
    return int(count)


def set_alias(logbook: Logbook, pilot: str, alias: str | None) -> None:
    """Show a pilot by an alias from now on, or by name again.

    Raises
    ------
    LogbookError
        Where there is no such pilot, or somebody else has that name or alias.
    """
    shown = pilot_name(alias) if alias is not None else None
    table = tables.pilot
    with writing(logbook) as connection:
        key = pilot_key(connection, pilot)
        if shown is not None:
            others = connection.execute(select(*table.c["folded", "alias"]).where(table.c.id != key))
            if any(folded(shown) in (row.folded, folded(row.alias or "")) for row in others):
                raise LogbookError(
                    f"somebody else in the logbook is called {shown!r}", remedy="Choose another alias."
                )
        connection.execute(table.update().where(table.c.id == key).values(alias=shown))
