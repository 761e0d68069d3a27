"""A logbook, or one pilot's part of it, as one portable file: to another machine, another database, another club.

Owns      ``export_to``, ``import_from`` and the file: a zip archive of one folder a flight.
Not here  the database (``adding``), backups of a file as it is (``keeping``).

Format    ``logbook.json``: ``{"format": 1, "program", "flights"}``. ``flights/N/flight.json``: pilot, alias, procedure,
          standard and what is searched; ``flights/N/log``: the original; ``flights/N/result.json``: the result file.
Safety    No name inside is used as a path. Each log is held against its SHA-256, each value against its type: a measure
          that was text would break a comparison months later. What swells is refused while it does.
"""

from __future__ import annotations

import base64
import hashlib
import json
import sqlite3
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from pydantic import AwareDatetime, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from sqlalchemy import Connection, select

from debrief import __version__
from debrief.errors import LogbookError, OutputError, Place
from debrief.logbook import tables
from debrief.logbook.adding import SameFlightError, add_record, pilot_row
from debrief.logbook.looking import pilot_key
from debrief.logbook.names import pilot_name
from debrief.logbook.opening import Logbook, reading, writing
from debrief.logbook.record import Definition, Record, procedure_of, standard_of, unpacked_path
from debrief.whole_files import part_of, refuse_taken

FORMAT = 1
ANOTHER_NAME = "Give another name."
_ARCHIVE = b"PK"  # the first bytes of a zip archive
_LARGEST_BYTES = 600_000_000  # of one file inside: more than any log that can be read


def _path(text: object) -> bytes:
    packed = base64.b64decode(text if isinstance(text, str) else "", validate=True)
    unpacked_path(packed)  # asked now, while whoever has the file is there, not when a picture is drawn
    return packed


class _Part(BaseModel):
    """A part of ``flight.json``: what a table's columns can hold, and what a comparison can reckon with."""

    model_config = ConfigDict(allow_inf_nan=False)


class _ToldDefinition(_Part):
    sha256: str
    name: str
    file: str
    content: dict[str, Any]


class _ToldFlight(_Part):
    sha256: str
    file: str
    started: AwareDatetime
    ended: AwareDatetime
    first_latitude: float
    first_longitude: float
    last_latitude: float
    last_longitude: float
    attempts: int = Field(ge=0, le=1000)
    grade: str | None
    remark: str
    program: str
    reading: dict[str, Any]
    added: AwareDatetime | None
    removed: AwareDatetime | None


class _ToldAttempt(_Part):
    number: int = Field(ge=1, le=1000)
    started: AwareDatetime
    ending: str
    grade: str
    wind_from_true_deg: float | None
    wind_speed_kt: float | None
    measures: dict[str, float]
    items: list[tuple[str, str | None, str]]
    path: Annotated[bytes, BeforeValidator(_path)]


class _Told(_Part):
    pilot: str
    procedure: _ToldDefinition
    standard: _ToldDefinition
    flight: _ToldFlight
    attempts: list[_ToldAttempt]


_OF_FLIGHT = tuple(_ToldFlight.model_fields)
_OF_ATTEMPT = tuple(_ToldAttempt.model_fields)


def export_to(logbook: Logbook, file: Path, *, pilot: str | None = None) -> int:
    """Write every flight, removed ones too, or those of one pilot; how many. The file appears whole or not at all.

    Raises
    ------
    LogbookError, OutputError
        Where there is no such pilot; where the file cannot be written, or holds something else than an export.
    """
    refuse_taken(file, _ARCHIVE, ANOTHER_NAME)
    count = 0
    with (
        appearing_whole(file) as part,
        reading(logbook) as connection,
        zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        key = pilot_key(connection, pilot) if pilot is not None else None
        numbers = _numbers(connection, key)
        for number in numbers:
            count += 1
            _write(archive, f"flights/{count}", connection, number)
        about = {"format": FORMAT, "program": f"debrief {__version__}", "flights": count}
        archive.writestr("logbook.json", json.dumps(about, indent=2) + "\n")
    return count


@contextmanager
def appearing_whole(file: Path) -> Iterator[Path]:
    """A path beside ``file`` to write to; it takes the file's place where all went well, else nothing is left of it.

    Raises ``OutputError`` where the system or SQLite cannot write.
    """
    if file.is_dir():
        raise OutputError("it is a folder", where=Place(path=file), remedy="Give the name of a file in it.")
    part = part_of(file, "0")
    try:
        yield part
        part.replace(file)
    except (OSError, sqlite3.Error) as error:
        raise OutputError(
            f"cannot be written: {getattr(error, 'strerror', None) or error}",
            where=Place(path=file),
            remedy="Choose another place, or make room on the disk.",
        ) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _numbers(connection: Connection, pilot: int | None) -> list[int]:
    query = select(tables.flight.c.id).order_by(tables.flight.c.id)
    if pilot is not None:
        query = query.where(tables.flight.c.pilot_id == pilot)
    return [int(number) for number in connection.execute(query).scalars()]


def _write(archive: zipfile.ZipFile, folder: str, connection: Connection, number: int) -> None:
    record, alias = record_of_flight(connection, number)
    about = record_json(record) | {"alias": alias}
    archive.writestr(f"{folder}/flight.json", json.dumps(about, ensure_ascii=False, allow_nan=False))
    archive.writestr(f"{folder}/log", record.original)
    archive.writestr(f"{folder}/result.json", record.result)


def record_json(record: Record) -> dict[str, Any]:
    """A flight as plain data, without its log and its result file, which are files of their own."""
    return {
        "pilot": record.pilot,
        "procedure": asdict(record.procedure),
        "standard": asdict(record.standard),
        "flight": {name: _plain(record.flight.get(name)) for name in _OF_FLIGHT},
        "attempts": [{name: _plain(attempt[name]) for name in _OF_ATTEMPT} for attempt in record.attempts],
    }


def record_of_flight(connection: Connection, number: int) -> tuple[Record, str | None]:
    """A stored flight as it went in, and its pilot's alias."""
    flight, pilot = tables.flight, tables.pilot
    row = connection.execute(select(flight).where(flight.c.id == number)).one()._mapping
    who = connection.execute(select(pilot.c.name, pilot.c.alias).where(pilot.c.id == row["pilot_id"])).one()
    query = select(tables.attempt).where(tables.attempt.c.flight_id == number)
    attempts = [dict(found._mapping) for found in connection.execute(query.order_by(tables.attempt.c.number))]
    definitions = []
    for table in (tables.procedure, tables.standard):
        kept = connection.execute(select(table).where(table.c.id == row[f"{table.name}_id"])).one()
        definitions.append(
            Definition(sha256=kept.sha256, name=kept.name, file=kept.file, content=kept.content)
        )
    contents = [
        zlib.decompress(
            connection.execute(select(table.c.content).where(table.c.flight_id == number)).scalar_one()
        )
        for table in (tables.original, tables.result)
    ]
    record = Record(
        pilot=str(who.name),
        procedure=definitions[0],
        standard=definitions[1],
        flight={name: row[name] for name in _OF_FLIGHT},
        attempts=tuple({name: attempt[name] for name in _OF_ATTEMPT} for attempt in attempts),
        original=contents[0],
        result=contents[1],
    )
    return record, who.alias


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, bytes):
        return base64.b64encode(value).decode("ascii")
    return value


def import_from(logbook: Logbook, file: Path) -> Iterator[str]:
    """Add every flight of a portable file; gives for each what became of it, as ``Added.outcome``, or the mistake.

    Each flight is one transaction: what was added before a mistake or a power cut stays, and importing again adds the
    rest.

    Raises
    ------
    LogbookError
        Where the file is no export, or is damaged.
    """
    where = Place(path=file)
    remedy = "Give a file that `debrief logbook export` wrote."
    try:
        with zipfile.ZipFile(file) as archive:
            about = _json(archive, "logbook.json")
            if about.get("format") != FORMAT:
                raise LogbookError("it is not an export of format 1", where=where, remedy=remedy)
            for number in range(1, int(about["flights"]) + 1):
                record, alias = _read(archive, f"flights/{number}")
                yield _add(logbook, record, alias)
    except OSError as error:
        raise LogbookError(
            f"it cannot be read: {error.strerror or error}",
            where=where,
            remedy="Give a file that `debrief logbook export` wrote.",
        ) from error
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(key) for key in first["loc"])
        raise LogbookError(
            f"it is no export, or damaged: {place}: {first['msg']}", where=where, remedy=remedy
        ) from error
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, TypeError, ValueError, RuntimeError) as error:
        raise LogbookError(f"it is no export, or damaged: {error}", where=where, remedy=remedy) from error


def _add(logbook: Logbook, record: Record, alias: str | None) -> str:
    try:
        with writing(logbook) as connection:
            added = add_record(connection, record)
            if alias is not None and added.outcome == "added":
                _give_alias(connection, record.pilot, alias)
    except SameFlightError as error:  # somebody else's here: the others are added all the same
        return str(error)
    return added.outcome


def _give_alias(connection: Connection, name: str, alias: str) -> None:
    """Show the pilot by the alias the file knows, unless one was chosen here or somebody has it."""
    pilot = tables.pilot
    taken = connection.execute(select(pilot.c.id).where(pilot.c.alias == alias)).scalar()
    number, _ = pilot_row(connection, name)
    if taken is None:
        query = pilot.update().where(pilot.c.id == number, pilot.c.alias.is_(None))
        connection.execute(query.values(alias=alias))


def _json(archive: zipfile.ZipFile, name: str) -> dict[str, Any]:
    content = json.loads(_bytes(archive, name), parse_constant=_refused)
    if not isinstance(content, dict):
        raise ValueError(f"{name} holds no table")
    return content


def _refused(constant: str) -> float:
    raise ValueError(f"{constant} is no number")


def _bytes(archive: zipfile.ZipFile, name: str) -> bytes:
    with archive.open(name) as inside:
        content = inside.read(_LARGEST_BYTES + 1)
    if len(content) > _LARGEST_BYTES:
        raise ValueError(f"{name} is larger than any log")
    return content


def _read(archive: zipfile.ZipFile, folder: str) -> tuple[Record, str | None]:
    about = _json(archive, f"{folder}/flight.json")
    record = record_from(about, _bytes(archive, f"{folder}/log"), _bytes(archive, f"{folder}/result.json"))
    if hashlib.sha256(record.original).hexdigest() != record.flight["sha256"]:
        raise ValueError(f"{folder}/log is not the log that was measured")
    json.loads(record.result)
    procedure_of(record.procedure)
    standard_of(record.standard)
    alias = about["alias"]
    return record, pilot_name(alias) if alias is not None else None


def record_from(about: Mapping[str, Any], original: bytes, result: bytes) -> Record:
    """The flight that ``record_json`` told of; ``ValueError`` where it is none."""
    told = _Told.model_validate(about)
    return Record(
        pilot=pilot_name(told.pilot),
        procedure=Definition(**dict(told.procedure)),
        standard=Definition(**dict(told.standard)),
        flight=dict(told.flight),
        attempts=tuple(dict(attempt) for attempt in told.attempts),
        original=original,
        result=result,
    )
