"""The examiner's pile: what the machine found of each flight, what an examiner decided otherwise, who signed it.

Owns      reading the rows that the workers stored, the decisions and signatures in the database, copies among flights.
Not here  rows, signs, overrules and signatures themselves (``checkride``), how they look (``pages_pile``).

A decision is on the disk before it is answered for, and is never changed: a later one on the same item counts instead.
"""

from __future__ import annotations

import dataclasses
import gzip
import hashlib
import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from debrief.checkride.copies import copy_flags, with_copies
from debrief.checkride.keys import new_key
from debrief.checkride.model import UNREADABLE, Flag, Row
from debrief.checkride.overrules import Decision, decide, decisions_json, with_overrules
from debrief.checkride.results import Results, results_csv, results_json, row_from
from debrief.checkride.shape import Shape
from debrief.checkride.signatures import Checked, Present, check, sign, signatures_json
from debrief.checkride.task import PROGRAM
from debrief.errors import DebriefError
from debrief.language import tr
from debrief.web.accounts import note
from debrief.web.flights import Flight, listed
from debrief.web.store import Store, at_once
from debrief.web.tasks import content_of, task_name, wanted

ROW, SHAPE = "row.json.gz", "shape.txt"
MOST = 5000  # flights of a pile


def file_of(flight: Flight) -> str:
    """What a flight is called in the results: its id keeps two files of one name apart."""
    return f"{flight.id}/{flight.file}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pile:
    """The rows, and whether copies among them were looked for already."""

    rows: list[Row]
    copies_known: bool


def pile_of(
    store: Store, connection: sqlite3.Connection, flights: Sequence[Flight], patience_s: float
) -> Pile:
    """A row for each flight that is done or was refused, with copies among them and the decisions that hold.

    Copies are looked for by a worker; until it has found them the rows come without.
    """
    told = _graded(flights)
    rows = [_row(store, flight) for flight in told]
    key = _key(told)
    found = content_of(store, task_name("copies", {})) or {}
    if found.get("key") != key and told:
        found = wanted(store, connection, "copies", {}, patience_s).content or {}
    flags = found.get("flags", {})
    rows = [with_copies(row, [Flag(**flag) for flag in flags.get(row.file, ())]) for row in rows]
    taken = decisions(connection)
    decided = {decision.file for decision in taken}
    rows = [with_overrules([row], taken)[0] if row.file in decided else row for row in rows]
    return Pile(rows=rows, copies_known=not told or found.get("key") == key)


def warm(store: Store, connection: sqlite3.Connection) -> None:
    """Read what pages of the pile need, so that the first of them does not have to."""
    for flight in _graded(listed(connection, owner=None, of_all=True, most=MOST)):
        _row(store, flight)


def copies(
    store: Store, connection: sqlite3.Connection, before: Mapping[str, Any] | None
) -> Mapping[str, Any]:
    """The flags of copies among all flights, by file: the task of a worker. ``before``: what it found the last time."""
    told = _graded(listed(connection, owner=None, of_all=True, most=MOST))
    key = _key(told)
    if before is not None and before["key"] == key:
        return before
    rows = [_row(store, flight) for flight in told]
    shapes = [
        _shape(store.result(flight.result_key) / SHAPE) if flight.result_key else None for flight in told
    ]
    flags = {
        file: [dataclasses.asdict(flag) for flag in found] for file, found in copy_flags(rows, shapes).items()
    }
    return {"key": key, "flags": flags}


def _graded(flights: Sequence[Flight]) -> list[Flight]:
    return [flight for flight in flights if flight.state in ("done", "refused")]


def _key(flights: Sequence[Flight]) -> str:
    """By what copies are found, in short."""
    parts = [[file_of(flight), flight.result_key] for flight in flights]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def _row(store: Store, flight: Flight) -> Row:
    file = file_of(flight)
    found = _stored_row(store.folder, flight.result_key, file, flight.pilot) if flight.result_key else None
    if found is None:
        return Row(file=file, sha256=flight.sha256, pilot=flight.pilot, result=UNREADABLE, reason=flight.said)
    return found


@lru_cache(maxsize=MOST)
def _stored_row(folder: Path, key: str, file: str, pilot: str) -> Row | None:
    """What the machine found of a flight: a result of that key never changes."""
    try:
        row = row_from(json.loads(gzip.decompress((Store(folder).result(key) / ROW).read_bytes())))
    except FileNotFoundError:
        return None
    return dataclasses.replace(row, file=file, pilot=pilot or row.pilot)


def _shape(path: Path) -> Shape | None:
    try:
        return Shape.read(path.read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None


def decisions(connection: sqlite3.Connection) -> tuple[Decision, ...]:
    """Every decision, oldest first."""
    rows = connection.execute("SELECT content FROM decision ORDER BY id")
    return tuple(Decision(**json.loads(row["content"])) for row in rows)


def overrule(
    connection: sqlite3.Connection, row: Row, *, item: str, result: str, by: str, because: str
) -> Decision:
    """Keep what an examiner decides on one item of a flight, or on its result, with its line in the trail: both or none.

    The same decision once more, of somebody whose page never heard that it was kept, changes nothing.

    Raises
    ------
    DebriefError
        Where it is not clear what is meant, or the reason is missing.
    """
    if not because.strip():
        raise DebriefError(tr("a decision needs its reason"), remedy=tr("Write why, in a sentence."))
    made = decide([row], pilot=row.file, item=item, result=result, by=by, because=because)
    with at_once(connection):
        last = next(
            (
                entry
                for entry in reversed(decisions(connection))
                if (entry.file, entry.item, entry.attempt) == (made.file, made.item, made.attempt)
            ),
            None,
        )
        if last is not None and dataclasses.replace(last, time=made.time) == made:
            return last
        connection.execute(
            "INSERT INTO decision (content) VALUES (?)", (json.dumps(dataclasses.asdict(made)),)
        )
        taken = made.result == "withdraw"
        note(
            connection,
            by,
            "took a decision back" if taken else f"decided {made.result} for {made.machine}",
            f"{row.file}: {made.item}",
            made.because,
        )
    return made


def results_of(rows: Sequence[Row]) -> Results:
    """The rows as results that can be written and signed."""
    procedures = {row.procedure_sha256: row for row in rows if row.procedure_sha256}
    standards = {row.standard_sha256: row.standard for row in rows if row.standard_sha256}
    first = next(iter(standards.items()), ("", ""))
    return Results(
        program=PROGRAM,
        flights=tuple(rows),
        procedures=tuple(
            {"name": row.procedure, "file": row.procedure_file, "sha256": sha256, "path": ""}
            for sha256, row in sorted(procedures.items())
        ),
        standard={"name": first[1], "sha256": first[0], "file": "", "path": ""},
    )


def sign_as(
    store: Store, connection: sqlite3.Connection, rows: Sequence[Row], *, number: int, name: str
) -> str:
    """Sign the rows as they stand, with the key of that examiner, which is made at the first time; its fingerprint."""
    path = store.folder / "keys" / f"{number}.pem"
    if not path.is_file():
        new_key(path, name)
    entry = sign(results_of(rows), path)
    connection.execute("INSERT INTO signature (content) VALUES (?)", (json.dumps(entry),))
    return checked(connection, rows)[-1].key


def checked(connection: sqlite3.Connection, rows: Sequence[Row]) -> list[Checked]:
    """Every signature, held against the rows as they are now."""
    results = results_of(rows)
    present = Present(tracks={row.file: row.sha256 for row in rows}, procedures={}, standard=None)
    return [check(entry, results, present) for entry in _signatures(connection)]


def _signatures(connection: sqlite3.Connection) -> list[dict[str, object]]:
    return [
        json.loads(row["content"]) for row in connection.execute("SELECT content FROM signature ORDER BY id")
    ]


def exported(connection: sqlite3.Connection, rows: Sequence[Row]) -> dict[str, str]:
    """The files of the results, as the command line writes and checks them."""
    return {
        "results.json": results_json(results_of(rows)),
        "results.csv": results_csv(rows),
        "overrules.json": decisions_json(decisions(connection)),
        "signatures.json": signatures_json(_signatures(connection)),
    }
