"""One flight as a logbook keeps it: the same from a debrief, from a file of another logbook, and after a refresh.

Owns      ``Record``, made of an ``Entry``: which columns a flight has, its flat measures, its path for pictures.
Not here  the database (``adding``), the portable file (``portable``).
"""

from __future__ import annotations

import dataclasses
import json
import math
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from debrief.grading import Standard
from debrief.logbook.entry import Entry
from debrief.logbook.names import pilot_name
from debrief.phases.model import Flight, FoundAttempt
from debrief.procedures import Procedure
from debrief.result import Attempt, Measures, Result

PATH_POINTS = 160  # a picture of many flights shows no more
_PATH_NM = 1000.0  # a path is kept in thousandths
_LARGEST_PATH_BYTES = 200_000  # of its text: forty times what its points need


@dataclass(frozen=True, slots=True, kw_only=True)
class Definition:
    """A procedure or a standard as it was when a flight was measured."""

    sha256: str
    name: str
    file: str
    content: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One flight, whole."""

    pilot: str
    procedure: Definition
    standard: Definition
    flight: Mapping[str, Any]  # columns of the table of that name, without keys of other tables
    attempts: tuple[Mapping[str, Any], ...]  # the same
    original: bytes  # the log
    result: bytes  # the result file


def record_of(entry: Entry, pilot: str) -> Record:
    """What a logbook keeps of a debriefed flight."""
    from debrief.reports.result_json import result_json

    result, flight = entry.result, entry.result.flight
    order = flight.log.order
    first, last = int(order[0]), int(order[-1])
    track = flight.log.track
    return Record(
        pilot=pilot_name(pilot),
        procedure=_definition(entry.procedure),
        standard=_definition(entry.standard),
        flight={
            "sha256": result.track.sha256,
            "file": result.track.file,
            "started": result.track.start,
            "ended": result.track.end,
            "first_latitude": float(track.latitude_deg[first]),
            "first_longitude": float(track.longitude_deg[first]),
            "last_latitude": float(track.latitude_deg[last]),
            "last_longitude": float(track.longitude_deg[last]),
            "attempts": len(result.attempts),
            "grade": result.attempts[0].grade.result if result.attempts else None,
            "remark": _remark(result),
            "program": result.program,
            "reading": entry.reading.stored(),
            "added": datetime.now(UTC),
        },
        attempts=tuple(
            _attempt(flight, found, attempt)
            for found, attempt in zip(flight.attempts, result.attempts, strict=True)
        ),
        original=entry.content,
        result=result_json(result).encode(),
    )


def _definition(of: Procedure | Standard) -> Definition:
    # what the file said and nothing that follows from it: the same model checks it again when it is read
    content = of.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    plain = {key: value for key, value in content.items() if key not in ("file", "sha256")}
    return Definition(sha256=of.sha256, name=of.name, file=of.file, content=plain)


def procedure_of(kept: Definition) -> Procedure:
    """The procedure that was kept."""
    checked = Procedure.model_validate_json(json.dumps(kept.content))
    return checked.model_copy(update={"file": kept.file, "sha256": kept.sha256})


def standard_of(kept: Definition) -> Standard:
    """The standard that was kept."""
    checked = Standard.model_validate_json(json.dumps(kept.content))
    return checked.model_copy(update={"file": kept.file, "sha256": kept.sha256})


def _remark(result: Result) -> str:
    if not result.attempts:
        return " ".join(result.warnings) or "No approach was found."
    findings = result.attempts[0].findings
    return findings[0].message if findings else ""


def _attempt(flight: Flight, found: FoundAttempt, attempt: Attempt) -> dict[str, Any]:
    wind = attempt.wind
    return {
        "number": attempt.number,
        "started": attempt.phases[0].start,
        "ending": attempt.ending,
        "grade": attempt.grade.result,
        "wind_from_true_deg": wind.from_true_deg if wind is not None else None,
        "wind_speed_kt": wind.speed_kt if wind is not None else None,
        "measures": dict(flat_measures(attempt.measures)),
        "items": [[item.rule, item.phase, item.result] for item in attempt.grade.items],
        "path": packed_path(flown_path(flight, found)),
    }


def flat_measures(measures: Measures) -> Iterator[tuple[str, float]]:
    """Every number among the measures with its path in the result file, ``outbound.cross_track_nm.rms`` for example."""
    for field in dataclasses.fields(measures):
        if field.name != "earlier_circuits":
            yield from _numbers(getattr(measures, field.name), field.name)


def _numbers(value: object, path: str) -> Iterator[tuple[str, float]]:
    if dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from _numbers(getattr(value, field.name), f"{path}.{field.name}")
    elif isinstance(value, float | int) and not isinstance(value, bool) and math.isfinite(value):
        yield path, float(value)


def flown_path(flight: Flight, found: FoundAttempt) -> NDArray[np.float64]:
    """Where an approach was flown: rows of east, north of the station [NM] and altitude [ft], ``nan`` where unknown."""
    view = flight.view.between(found.start_s, found.end_s)
    picked = np.unique(np.linspace(0, len(view) - 1, min(len(view), PATH_POINTS)).round().astype(np.int64))
    return np.column_stack([view.east_nm[picked], view.north_nm[picked], view.altitude_ft[picked]])


def packed_path(path: NDArray[np.float64]) -> bytes:
    """A path in few bytes: thousandths of a mile, and feet."""
    whole = np.round(path * [_PATH_NM, _PATH_NM, 1.0])
    rows = [[int(e), int(n), int(a) if math.isfinite(a) else None] for e, n, a in whole.tolist()]
    return zlib.compress(json.dumps(rows, separators=(",", ":")).encode(), 9)


def unpacked_path(packed: bytes) -> NDArray[np.float64]:
    """The path that ``packed_path`` packed.

    Raises
    ------
    ValueError
        Where it is none: an imported file can hold anything, also what swells.
    """
    unpacking = zlib.decompressobj()
    try:
        text = unpacking.decompress(packed, _LARGEST_PATH_BYTES)
        if not unpacking.eof:
            raise ValueError("a path is cut off, or larger than any")
        rows = np.array(json.loads(text), dtype=np.float64).reshape(-1, 3)
    except (zlib.error, TypeError, RecursionError) as error:
        raise ValueError(f"a path cannot be read: {error}") from error
    return rows / [_PATH_NM, _PATH_NM, 1.0]
