"""Looking into a logbook.

Owns      flights, pilots and approaches as plain rows; originals and results given back.
Not here  changing anything, statistics (``debrief.comparison``), words for the terminal.

A pilot is shown by the alias, where one was chosen, unless real names are asked for.
"""

from __future__ import annotations

import tempfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from sqlalchemy import Connection, Select, func, select

from debrief.errors import LogbookError, Place
from debrief.logbook import tables
from debrief.logbook.names import folded
from debrief.logbook.opening import Logbook, reading

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from debrief.procedures import Procedure
    from debrief.result import Result


class FlightRow(NamedTuple):
    """A flight as a list shows it. A plain tuple: of ten thousand, a class of its own would cost a tenth of a second."""

    number: int
    pilot: str  # the alias, where there is one and names were not asked for
    file: str
    procedure: str
    standard: str
    started: datetime
    ended: datetime
    attempts: int
    grade: str | None  # of the first approach; None where none was found
    remark: str
    program: str
    sha256: str
    added: datetime
    removed: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PilotRow:
    """A pilot, and how much of the logbook is hers or his."""

    name: str
    alias: str | None
    flights: int
    first: datetime | None
    last: datetime | None

    @property
    def shown(self) -> str:
        """The alias, else the name."""
        return self.alias or self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """A log as it was handed in."""

    file: str
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Approach:
    """One approach with its numbers, for comparisons."""

    flight: int
    number: int  # within its flight, from 1
    pilot: str
    started: datetime
    ending: str
    grade: str
    wind_speed_kt: float | None
    measures: Mapping[str, float]  # by the path in the result file
    items: tuple[tuple[str, str | None, str], ...]  # rule, phase, result
    packed_path: bytes

    def path(self) -> NDArray[np.float64]:
        """East and north of the station [NM] and altitude [ft], a row a point."""
        from debrief.logbook.record import unpacked_path

        return unpacked_path(self.packed_path)


def flights(
    logbook: Logbook,
    *,
    pilots: Sequence[str] = (),
    procedure: str | None = None,
    since: date | None = None,
    removed: bool = False,
    names: bool = False,
) -> tuple[FlightRow, ...]:
    """The flights of a logbook, the oldest first.

    Parameters
    ----------
    pilots : names or aliases; everybody's where empty. One that nobody has raises ``LogbookError``.
    procedure : its name, or its file with or without the ending. An unknown one raises ``LogbookError``.
    since : flights of that day and later.
    removed : those that were removed, instead.
    names : real names, never aliases.
    """
    with reading(logbook) as connection:
        query = _flights(names=names)
        query = _where(connection, query, logbook, pilots=pilots, procedure=procedure, since=since)
        taken = tables.flight.c.removed
        rows = connection.execute(query.where(taken.is_not(None) if removed else taken.is_(None)))
        assert tuple(rows.keys()) == FlightRow._fields
        return tuple(map(FlightRow._make, rows))


def flight(logbook: Logbook, number: int, *, names: bool = False) -> FlightRow:
    """One flight by its number, a removed one too.

    Raises
    ------
    LogbookError
        Where there is none.
    """
    if number > tables.GREATEST_NUMBER:
        raise no_such_flight(logbook, number)
    with reading(logbook) as connection:
        row = connection.execute(_flights(names=names).where(tables.flight.c.id == number)).first()
    if row is None:
        raise no_such_flight(logbook, number)
    return FlightRow(**row._mapping)


def no_such_flight(logbook: Logbook, number: int) -> LogbookError:
    """The error for a number that no flight has."""
    return LogbookError(
        f"there is no flight {number}",
        where=Place(path=logbook.address),
        remedy="`debrief logbook list` shows their numbers.",
    )


def _flights(*, names: bool) -> Select[Any]:
    flight, pilot = tables.flight, tables.pilot
    procedure, standard = tables.procedure, tables.standard
    return (
        select(
            flight.c.id.label("number"),
            shown_pilot(names=names).label("pilot"),
            flight.c.file,
            procedure.c.name.label("procedure"),
            standard.c.name.label("standard"),
            *(flight.c[name] for name in ("started", "ended", "attempts", "grade", "remark", "program")),
            *(flight.c[name] for name in ("sha256", "added", "removed")),
        )
        .join(pilot, pilot.c.id == flight.c.pilot_id)
        .join(procedure, procedure.c.id == flight.c.procedure_id)
        .join(standard, standard.c.id == flight.c.standard_id)
        .order_by(flight.c.started, flight.c.id)
    )


def shown_pilot(*, names: bool) -> Any:
    """The column that a pilot is shown by."""
    return tables.pilot.c.name if names else func.coalesce(tables.pilot.c.alias, tables.pilot.c.name)


def _where(
    connection: Connection,
    query: Select[Any],
    logbook: Logbook,
    *,
    pilots: Sequence[str],
    procedure: str | None,
    since: date | None,
) -> Select[Any]:
    if pilots:
        query = query.where(tables.flight.c.pilot_id.in_([pilot_key(connection, name) for name in pilots]))
    if procedure is not None:
        query = query.where(tables.flight.c.procedure_id.in_(_procedure_keys(connection, logbook, procedure)))
    if since is not None:
        query = query.where(tables.flight.c.started >= datetime.combine(since, time(), UTC))
    return query


def pilot_key(connection: Connection, name: str) -> int:
    """The key of the pilot of that name or alias, in any case of letters; ``LogbookError`` where there is none."""
    pilot, wanted = tables.pilot, folded(" ".join(name.split()))
    known = list(connection.execute(select(pilot.c.id, pilot.c.folded, pilot.c.alias)))
    for row in known:
        if wanted in (row.folded, folded(row.alias or "")):
            return int(row.id)
    raise LogbookError(
        f"the logbook has no pilot {name!r}", remedy="`debrief logbook pilots` shows who is in it."
    )


def _procedure_keys(connection: Connection, logbook: Logbook, asked: str) -> list[int]:
    known = list(connection.execute(select(*tables.procedure.c["id", "name", "file"])))
    wanted = {asked.casefold(), Path(asked).name.casefold()}
    keys = [
        int(row.id)
        for row in known
        if wanted & {row.name.casefold(), row.file.casefold(), Path(row.file).stem.casefold()}
    ]
    if not keys:
        names = ", ".join(sorted({Path(row.file).stem for row in known})) or "none yet"
        raise LogbookError(
            f"no flight of procedure {asked!r} is in the logbook",
            where=Place(path=logbook.address),
            remedy=f"It has flights of: {names}.",
        )
    return keys


def pilots(logbook: Logbook) -> tuple[PilotRow, ...]:
    """Everybody in the logbook that one may see, by name."""
    flight, pilot = tables.flight, tables.pilot
    query = (
        select(
            pilot.c.name,
            pilot.c.alias,
            func.count(flight.c.id).label("flights"),
            func.min(flight.c.started).label("first"),
            func.max(flight.c.started).label("last"),
        )
        .outerjoin(flight, (flight.c.pilot_id == pilot.c.id) & flight.c.removed.is_(None))
        .group_by(pilot.c.id, pilot.c.name, pilot.c.alias, pilot.c.folded)
        .order_by(pilot.c.folded)
    )
    with reading(logbook) as connection:
        return tuple(PilotRow(**row._mapping) for row in connection.execute(query))


def approaches(
    logbook: Logbook,
    *,
    pilots: Sequence[str] = (),
    procedure: str | None = None,
    since: date | None = None,
    names: bool = False,
) -> tuple[Approach, ...]:
    """Every approach of the flights that ``flights`` gives for the same arguments, in order of time."""
    flight, attempt = tables.flight, tables.attempt
    query = (
        select(
            attempt.c.flight_id.label("flight"),
            attempt.c.number,
            shown_pilot(names=names).label("pilot"),
            *(
                attempt.c[name]
                for name in ("started", "ending", "grade", "wind_speed_kt", "measures", "items")
            ),
            attempt.c.path.label("packed_path"),
        )
        .join(flight, flight.c.id == attempt.c.flight_id)
        .join(tables.pilot, tables.pilot.c.id == flight.c.pilot_id)
        .where(flight.c.removed.is_(None))
        .order_by(attempt.c.started, attempt.c.flight_id, attempt.c.number)
    )
    with reading(logbook) as connection:
        query = _where(connection, query, logbook, pilots=pilots, procedure=procedure, since=since)
        return tuple(
            Approach(**{**row._mapping, "items": tuple((r, p, v) for r, p, v in row.items)})
            for row in connection.execute(query)
        )


def kept_procedure(logbook: Logbook, asked: str) -> Procedure:
    """The procedure that the latest flight of that name was held against; ``LogbookError`` where there is none."""
    from debrief.logbook.record import Definition, procedure_of

    flight, table = tables.flight, tables.procedure
    with reading(logbook) as connection:
        keys = _procedure_keys(connection, logbook, asked)
        row = connection.execute(
            select(table)
            .outerjoin(flight, flight.c.procedure_id == table.c.id)
            .where(table.c.id.in_(keys))
            .order_by(flight.c.started.desc(), table.c.id.desc())
        ).first()
    assert row is not None
    return procedure_of(Definition(sha256=row.sha256, name=row.name, file=row.file, content=row.content))


def shown_names(logbook: Logbook, asked: Sequence[str], *, names: bool = False) -> tuple[str, ...]:
    """Pilots by what they are shown as; ``LogbookError`` where one is nobody in the logbook."""
    with reading(logbook) as connection:
        keys = [pilot_key(connection, name) for name in asked]
        query = select(shown_pilot(names=names)).where(tables.pilot.c.id.in_(keys))
        return tuple(str(name) for name in connection.execute(query).scalars())


def original(logbook: Logbook, number: int) -> Original:
    """The log of a flight, byte for byte. ``LogbookError`` where there is no such flight."""
    flight, kept = tables.flight, tables.original
    query = select(flight.c.file, kept.c.content).join(kept, kept.c.flight_id == flight.c.id)
    with reading(logbook) as connection:
        row = connection.execute(query.where(flight.c.id == number)).first()
    if row is None:
        raise no_such_flight(logbook, number)
    return Original(file=row.file, content=zlib.decompress(row.content))


def stored_json(logbook: Logbook, number: int) -> bytes:
    """The result file of a flight. ``LogbookError`` where there is no such flight."""
    kept = tables.result
    with reading(logbook) as connection:
        content = connection.execute(select(kept.c.content).where(kept.c.flight_id == number)).scalar()
    if content is None:
        raise no_such_flight(logbook, number)
    return zlib.decompress(content)


def stored_result(logbook: Logbook, number: int) -> Result:
    """The result of a flight, without the arrays behind it. ``LogbookError`` where there is no such flight."""
    from debrief.reports.result_json import read_result

    content = stored_json(logbook, number)
    with tempfile.TemporaryDirectory(prefix="debrief-") as folder:
        file = Path(folder) / f"flight-{number}.json"
        file.write_bytes(content)
        return read_result(file)
