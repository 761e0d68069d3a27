"""Roles of a shared logbook: a pilot sees her or his own flights, an instructor all. PostgreSQL holds to it itself.

Owns      who is what, and what each role may do with each table.
Not here  making logins and passwords (the database's own business), the policies (``migrations``).

The logbook's owner, who made it, sees all and gives roles. A pilot may add flights, remove and erase them, choose an
alias, and nothing else: results are measured anew by instructors.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import Connection, delete, select, text

from debrief.errors import LogbookError, Place
from debrief.logbook import tables
from debrief.logbook.adding import pilot_row
from debrief.logbook.addresses import VERSION_TABLE
from debrief.logbook.names import pilot_name
from debrief.logbook.opening import Logbook, reading, writing

Role = Literal["pilot", "instructor"]

_EVERYBODY = (
    f"SELECT ON {VERSION_TABLE}, member",
    "SELECT, INSERT ON procedure, standard",
    "SELECT, INSERT, DELETE ON flight, original, result, attempt",
    "SELECT, DELETE, UPDATE (alias) ON pilot",
    "EXECUTE ON FUNCTION logbook_role(), logbook_pilot()",
)
_RIGHTS: dict[Role, tuple[str, ...]] = {
    "pilot": (*_EVERYBODY, "UPDATE (removed) ON flight"),
    "instructor": (*_EVERYBODY, "INSERT ON pilot", "UPDATE ON flight, original, result, attempt"),
}
_TABLES = f"{VERSION_TABLE}, member, procedure, standard, flight, original, result, attempt, pilot"


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One login of the database and what it is in the logbook."""

    login: str
    role: Role
    pilot: str | None  # who it is, where it is a pilot


def members(logbook: Logbook) -> tuple[Member, ...]:
    """Who is what, by login; of those one may see."""
    member, pilot = tables.member, tables.pilot
    query = (
        select(member.c.login, member.c.role, pilot.c.name.label("pilot"))
        .outerjoin(pilot, pilot.c.id == member.c.pilot_id)
        .order_by(member.c.login)
    )
    with reading(logbook) as connection:
        return tuple(Member(**row._mapping) for row in connection.execute(query))


def give_role(logbook: Logbook, login: str, *, pilot: str | None) -> None:
    """Let a login of the database into the logbook: as that pilot, or as an instructor where ``None``.

    Raises
    ------
    LogbookError
        Where the logbook is not shared, or the database has no such login.
    """
    role: Role = "instructor" if pilot is None else "pilot"
    with _of_owner(logbook, login) as connection:
        pilot_id = None if pilot is None else pilot_row(connection, pilot_name(pilot))[0]
        _take(connection, login)
        connection.execute(tables.member.insert().values(login=login, role=role, pilot_id=pilot_id))
        name = connection.dialect.identifier_preparer.quote(login)
        schema = str(connection.exec_driver_sql("SELECT quote_ident(current_schema())").scalar())
        connection.exec_driver_sql(f"GRANT USAGE ON SCHEMA {schema} TO {name}")
        for right in _RIGHTS[role]:
            connection.exec_driver_sql(f"GRANT {right} TO {name}")


def take_role(logbook: Logbook, login: str) -> None:
    """Let a login in no more; flights stay. ``LogbookError`` where it had no role."""
    with _of_owner(logbook, login) as connection:
        if not _take(connection, login):
            raise LogbookError(f"{login!r} has no role in this logbook", where=Place(path=logbook.address))


def _take(connection: Connection, login: str) -> bool:
    name = connection.dialect.identifier_preparer.quote(login)
    connection.exec_driver_sql(f"REVOKE ALL ON {_TABLES} FROM {name}")
    connection.exec_driver_sql(f"REVOKE ALL ON FUNCTION logbook_role(), logbook_pilot() FROM {name}")
    return bool(connection.execute(delete(tables.member).where(tables.member.c.login == login)).rowcount)


@contextmanager
def _of_owner(logbook: Logbook, login: str) -> Iterator[Connection]:
    """A transaction for roles, once it is plain that there can be any."""
    if not logbook.shared:
        raise LogbookError(
            "a logbook in a file has no roles: who may read the file reads all of it",
            where=Place(path=logbook.address),
            remedy="Share one in PostgreSQL: --logbook postgresql://user@host/database.",
        )
    with writing(logbook) as connection:
        query = text("SELECT 1 FROM pg_roles WHERE rolname = :login")
        if connection.execute(query, {"login": login}).scalar() is None:
            raise LogbookError(
                f"the database has no login {login!r}",
                where=Place(path=logbook.address),
                remedy="Make it first: CREATE ROLE ... LOGIN.",
            )
        yield connection
