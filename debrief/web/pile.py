"""The examiner's pile: what the machine found of each flight, what an examiner decided otherwise, who signed it.

Owns      reading the rows that the workers stored, the decisions and signatures in the database, copies among flights.
Not here  rows, signs, overrules and signatures themselves (``checkride``), how they look (``pages_pile``).

A decision is on the disk before it is answered for, and is never changed: a later one on the same item counts instead.
"""

from __future__ import annotations

import dataclasses
import gzip
import json
import sqlite3
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from debrief.checkride.copies import copies_among
from debrief.checkride.keys import new_key
from debrief.checkride.model import UNREADABLE, Row
from debrief.checkride.overrules import Decision, decide, decisions_json, with_overrules
from debrief.checkride.results import Results, results_csv, results_json, row_from
from debrief.checkride.shape import Shape
from debrief.checkride.signatures import Checked, Present, check, sign, signatures_json
from debrief.checkride.task import PROGRAM
from debrief.errors import DebriefError
from debrief.web.flights import Flight
from debrief.web.store import Store

ROW, SHAPE = "row.json.gz", "shape.txt"


def file_of(flight: Flight) -> str:
    """What a flight is called in the results: its id keeps two files of one name apart."""
    return f"{flight.id}/{flight.file}"


def rows_of(store: Store, connection: sqlite3.Connection, flights: Sequence[Flight]) -> list[Row]:
    """A row for each flight that is done or was refused, with copies among them and the decisions that hold."""
    told = [flight for flight in flights if flight.state in ("done", "refused")]
    keys = tuple((file_of(f), f.pilot, f.sha256, f.result_key or "", f.said) for f in told)
    return with_overrules(_found(store.folder, keys), decisions(connection))


@lru_cache(maxsize=4)
def _found(folder: Path, keys: tuple[tuple[str, str, str, str, str], ...]) -> list[Row]:
    """What the machine found: it changes only with the flights themselves."""
    store = Store(folder)
    rows: list[Row] = []
    shapes: list[Shape | None] = []
    for file, pilot, sha256, key, said in keys:
        path = store.result(key) if key else None
        if path is None or not (path / ROW).is_file():
            rows.append(Row(file=file, sha256=sha256, pilot=pilot, result=UNREADABLE, reason=said))
            shapes.append(None)
            continue
        row = row_from(json.loads(gzip.decompress((path / ROW).read_bytes())))
        rows.append(dataclasses.replace(row, file=file, pilot=pilot or row.pilot))
        shapes.append(_shape(path / SHAPE))
    return copies_among(rows, shapes)


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
    """Keep what an examiner decides on one item of a flight, or on its result.

    Raises
    ------
    DebriefError
        Where it is not clear what is meant, or the reason is missing.
    """
    if not because.strip():
        raise DebriefError("a decision needs its reason", remedy="Write why, in a sentence.")
    made = decide([row], pilot=row.file, item=item, result=result, by=by, because=because)
    connection.execute("INSERT INTO decision (content) VALUES (?)", (json.dumps(dataclasses.asdict(made)),))
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
