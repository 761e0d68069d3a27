"""Making a logbook's tables, and bringing an older logbook up to date.

Owns      which schema a logbook has, the copy that is kept before it changes, one transaction for all steps.
Not here  the steps themselves (``migrations/versions``, for Alembic), the number of the newest (``addresses``).

Alembic is loaded only where there is something to do. A step that fails or is killed changes nothing.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlalchemy import Connection, inspect

from debrief.errors import LogbookError, Place
from debrief.logbook.addresses import NEWEST, VERSION_TABLE
from debrief.logbook.opening import Logbook, no_such_logbook, reading, writing


def bring_up_to_date(logbook: Logbook, target: str = NEWEST, *, make: bool = True) -> None:
    """Make the tables (unless ``make`` is false), or migrate them; nothing where they are those of ``target``.

    Before an older logbook changes a copy of it is kept: a file beside it, in PostgreSQL a schema.

    Raises
    ------
    LogbookError
        Where a newer debrief made the logbook, or another program the file; where there are no tables and none
        are to be made.
    """
    with reading(logbook) as connection:
        found = schema_of(connection, logbook)
    if found == target:
        return
    if found is None and not make:
        raise no_such_logbook(logbook.address)
    if found is not None and found > NEWEST:
        raise LogbookError(
            f"a newer debrief wrote this logbook (schema {found}; this one knows {NEWEST})",
            where=Place(path=logbook.address),
            remedy="Install that debrief.",
        )
    if found is not None and logbook.file is not None:
        _keep_file(logbook.file, found)
    with writing(logbook) as connection:
        found = schema_of(connection, logbook)  # another process may have done it meanwhile
        if found == target:
            return
        if found is not None and logbook.shared:
            _keep_schema(connection, found)
        _migrate(connection, target)


def schema_of(connection: Connection, logbook: Logbook) -> str | None:
    """The schema a logbook has; ``None`` where the database is empty."""
    names = inspect(connection).get_table_names()
    if VERSION_TABLE in names:
        row = connection.exec_driver_sql(f"SELECT version_num FROM {VERSION_TABLE}").first()
        if row is not None:
            return str(row[0])
    if names:
        raise LogbookError(
            "this database is no logbook: it holds tables of something else",
            where=Place(path=logbook.address),
            remedy="Give another address.",
        )
    return None


def _migrate(connection: Connection, target: str) -> None:
    import logging

    from alembic import command
    from alembic.config import Config

    logging.getLogger("alembic").setLevel(logging.WARNING)
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    command.upgrade(config, target)


def _keep_file(file: Path, found: str) -> None:
    """A copy of the whole file as it was, made by SQLite itself, so that it is whole while others write."""
    kept = file.with_name(f"{file.name}.schema-{found}")
    if kept.exists():
        return
    part = file.with_name(f"{file.name}.schema-{found}.part")
    part.unlink(missing_ok=True)
    source, copy = sqlite3.connect(file), sqlite3.connect(part)
    try:
        source.backup(copy)
    finally:
        source.close()
        copy.close()
    part.replace(kept)


def _keep_schema(connection: Connection, found: str) -> None:
    """The tables as they were, in a schema that only the logbook's owner can see."""
    kept = f"logbook_{found}"
    if kept in inspect(connection).get_schema_names():
        return
    names = inspect(connection).get_table_names()
    connection.exec_driver_sql(f'CREATE SCHEMA "{kept}"')
    for name in names:
        connection.exec_driver_sql(f'CREATE TABLE "{kept}"."{name}" AS TABLE "{name}"')
