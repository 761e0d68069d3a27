"""The tables of a logbook, the same in SQLite and PostgreSQL.

Owns      names, types, keys and what must be unique. ``migrations`` makes them; a test holds the two against each other.
Not here  reading or writing rows.

A flight is kept twice: whole (the original log and the result file, both compressed, so that everything can be
measured or shown again), and as columns and flat measures, for what is searched and compared.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, cast

from sqlalchemy import (
    JSON,
    Column,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Identity,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
)
from sqlalchemy.types import TypeEngine

metadata = MetaData(
    naming_convention={
        "pk": "%(table_name)s_key",
        "fk": "%(table_name)s_%(column_0_name)s_of",
        "uq": "%(table_name)s_%(column_0_name)s_once",
        "ix": "%(table_name)s_by_%(column_0_name)s",
    }
)


class Utc(TypeDecorator[datetime]):
    """A moment, UTC both ways. SQLite has no type for it: there it is text, as SQLAlchemy's own type writes it."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """What the database has for it."""
        return dialect.type_descriptor(String(32) if dialect.name == "sqlite" else DateTime(timezone=True))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """To the database."""
        if value is None:
            return None
        utc = value.astimezone(UTC)
        return f"{utc:%Y-%m-%d %H:%M:%S.%f}" if dialect.name == "sqlite" else utc

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """From the database."""
        if value is None:
            return None
        if dialect.name == "sqlite":  # ten thousand of them stand in a list: one call each
            return datetime.fromisoformat(value + "+00:00")
        return cast(datetime, value).astimezone(UTC)


#: That a row can have in any of the databases.
GREATEST_NUMBER = 2**31 - 1


def _number() -> Column[int]:
    return Column("id", Integer, Identity(), primary_key=True)


def _of_flight() -> Column[int]:
    return Column("flight_id", ForeignKey("flight.id", ondelete="CASCADE"), primary_key=True)


pilot = Table(
    "pilot",
    metadata,
    _number(),
    Column("name", String(120), nullable=False),
    Column("folded", String(240), nullable=False, unique=True),  # the name as it is looked up
    Column("alias", String(120), unique=True),  # shown instead of the name
    Column("created", Utc, nullable=False),
    sqlite_autoincrement=True,
)

member = Table(  # of a shared logbook: what a login of the database is in it
    "member",
    metadata,
    Column("login", String(63), primary_key=True),
    Column("role", String(10), nullable=False),  # "pilot", "instructor"
    Column("pilot_id", ForeignKey("pilot.id", ondelete="CASCADE")),
)

procedure = Table(
    "procedure",
    metadata,
    _number(),
    Column("sha256", String(64), nullable=False, unique=True),
    Column("name", Text, nullable=False, index=True),
    Column("file", Text, nullable=False),
    Column("content", JSON, nullable=False),  # the checked procedure: what is measured against again
)

standard = Table(
    "standard",
    metadata,
    _number(),
    Column("sha256", String(64), nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("file", Text, nullable=False),
    Column("content", JSON, nullable=False),
)

flight = Table(
    "flight",
    metadata,
    _number(),
    Column("pilot_id", ForeignKey("pilot.id"), nullable=False),
    Column("procedure_id", ForeignKey("procedure.id"), nullable=False),
    Column("standard_id", ForeignKey("standard.id"), nullable=False),
    Column("sha256", String(64), nullable=False, unique=True),  # of the original log
    Column("file", Text, nullable=False),
    Column("started", Utc, nullable=False),
    Column("ended", Utc, nullable=False),
    Column("first_latitude", Float(53), nullable=False),
    Column("first_longitude", Float(53), nullable=False),
    Column("last_latitude", Float(53), nullable=False),
    Column("last_longitude", Float(53), nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("grade", String(20)),  # of the first approach; none where none was found
    Column("remark", Text, nullable=False),  # what to work on first, or why nothing was found
    Column("program", String(60), nullable=False),  # that measured it
    Column("reading", JSON, nullable=False),  # how the log was to be read, see ``entry.Reading``
    Column("added", Utc, nullable=False),
    Column("removed", Utc),  # taken out, and can be brought back
    Index("flight_by_procedure", "procedure_id", "started"),
    Index("flight_by_pilot", "pilot_id", "started"),
    Index("flight_by_started", "started"),
    sqlite_autoincrement=True,
)

original = Table(
    "original",
    metadata,
    _of_flight(),
    Column("content", LargeBinary, nullable=False),  # the log, byte for byte, zlib
)

result = Table(
    "result",
    metadata,
    _of_flight(),
    Column("content", LargeBinary, nullable=False),  # the result file, zlib
)

attempt = Table(
    "attempt",
    metadata,
    _of_flight(),
    Column("number", Integer, primary_key=True),  # from 1
    Column("started", Utc, nullable=False),
    Column("ending", String(20), nullable=False),
    Column("grade", String(20), nullable=False),
    Column("wind_from_true_deg", Float(53)),
    Column("wind_speed_kt", Float(53)),
    Column("measures", JSON, nullable=False),  # path in the result file: number
    Column("items", JSON, nullable=False),  # [rule, phase, result] of each item of the grade
    Column("path", LargeBinary, nullable=False),  # for pictures, see ``paths``
)
