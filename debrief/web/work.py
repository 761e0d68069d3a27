"""One flight's debrief, from the log in the store to every file that its page shows.

Owns      ``work``: reading with a person's wishes, choosing the procedure, writing the result's files once, and what
          to ask where an answer would help.
Not here  the queue (``flights``), the process this runs in (``worker``), anything the library does.

The key of a result is made from everything it depends on. Where a folder of that key is whole, it is used as it is.
"""

from __future__ import annotations

import datetime
import gzip
import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from debrief import __version__
from debrief.checkride.attempts import counted
from debrief.checkride.model import UNREADABLE, Row
from debrief.checkride.results import row_json
from debrief.checkride.shape import shape_of
from debrief.checkride.signs import signs_of
from debrief.choice import debrief_best
from debrief.errors import DebriefError, OutputError, ProcedureError
from debrief.grading import load_standard
from debrief.language import ENGLISH, mark, speaking
from debrief.logbook.entry import Entry, Reading
from debrief.logbook.portable import record_json
from debrief.logbook.record import record_of
from debrief.pipeline import AltitudeCorrection, debrief
from debrief.procedures import Procedure, bundled_procedures, load_procedure
from debrief.procedures.toml_reader import procedures_in
from debrief.reference import with_references
from debrief.reports.annotated import annotated_files
from debrief.reports.files import pdf_bytes, png_bytes
from debrief.reports.pages import build_pages
from debrief.reports.result_json import result_json
from debrief.reports.scene import scenes
from debrief.result import Result
from debrief.tracks.model import Track
from debrief.tracks.readers import read_track
from debrief.tracks.readers.csv_table import find_table
from debrief.web.booking import ENTRY, logbook_pilot
from debrief.web.files import WHOLE
from debrief.web.flights import Flight, Wishes
from debrief.web.page_words import page_words, summary_of
from debrief.web.pictures import pictures
from debrief.web.pile import ROW, SHAPE
from debrief.web.procedure_files import own_file
from debrief.web.replay_data import replay_data
from debrief.web.store import Store, put_whole

FORM = 6  # of the files of a result: counted up where they change, so that older ones are made again
PRESSED = (".svg", ".json", ".geojson")  # stored as gzip

_SAMPLE_ROWS = 3
_SHORT = 40  # characters of a cell that are shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How the work on a flight ended."""

    state: str  # "done", "asking", "refused"
    said: str = ""
    asks: dict[str, Any] = field(default_factory=dict)
    summary: dict[str, Any] = field(default_factory=dict)
    result_key: str | None = None
    pilot: str | None = None


def work(
    store: Store,
    flight: Flight,
    tell: Callable[[str], None],
    show: Callable[[dict[str, Any], str], None],
) -> Ended:
    """Debrief one flight; ``tell`` is given how far it is, ``show`` what lists show and the key, once there is a page.

    The PDF takes longer than everything else, and comes after the page.
    """
    path = store.log(flight.sha256)
    wishes = flight.wishes
    try:
        track = _track(path, flight.file, wishes)
        given, choices = _procedures(store, wishes)
        key = result_key(flight.sha256, flight.file, wishes, (given,) if given is not None else choices)
        folder = store.result(key)
        said_in = said_in_folder(store, key, flight.language)
        if (folder / WHOLE).is_file() and (said_in / WHOLE).is_file():
            known = json.loads((said_in / WHOLE).read_text(encoding="utf-8"))
            return Ended(state="done", summary=known, result_key=key, pilot=track.pilot)
        tell(mark("Finding the procedure" if given is None else "Holding it against the procedure"))
        result = _result(track, given, choices, wishes)
        tell(mark("Looking the log over"))
        for name, content in _pile_files(result, track, given, choices, wishes).items():
            put_whole(folder / name, content)
        for name, content in _files_of_all(result).items():
            _put(folder, name, content)
        put_whole(folder / WHOLE, b"{}")
        tell(mark("Drawing the report"))
        if flight.language != ENGLISH:
            with speaking(flight.language):  # its sentences are made where it is judged
                result = _result(track, given, choices, wishes)
        summary = _say(said_in, result, track, flight.language, lambda summary: show(summary, key))
    except DebriefError as error:
        return _told(path, flight, error)
    except MemoryError:
        return Ended(
            state="refused",
            said=mark("Reading it takes more memory than is allowed. Cut the flight out of it."),
        )
    return Ended(state="done", summary=summary, result_key=key, pilot=track.pilot)


def said_in_folder(store: Store, key: str, language: str) -> Path:
    """The folder of what a result's page and report say in a language."""
    return store.result(key) / language


def say_in(store: Store, flight: Flight, language: str) -> None:
    """Make page and report of a flight that is done in another language, unless they are there."""
    assert flight.result_key is not None
    folder = said_in_folder(store, flight.result_key, language)
    if (folder / WHOLE).is_file():
        return
    track = _track(store.log(flight.sha256), flight.file, flight.wishes)
    given, choices = _procedures(store, flight.wishes)
    if (
        result_key(flight.sha256, flight.file, flight.wishes, (given,) if given is not None else choices)
        != flight.result_key
    ):
        raise OutputError(
            "what it was held against has changed since", remedy="Debrief it again, at the end of its report."
        )
    with speaking(language):
        result = _result(track, given, choices, flight.wishes)
    _say(folder, result, track, language, lambda _summary: None)


def _say(
    folder: Path, result: Result, track: Track, language: str, shown: Callable[[dict[str, Any]], None]
) -> dict[str, Any]:
    """Write what a language says of a result, the page first; what lists show of it."""
    with speaking(language):
        summary = summary_of(result)
        for name, content in _page_files(result, track).items():
            _put(folder, name, content)
        shown(summary)
        for name, content in _report_files(result).items():
            _put(folder, name, content)
        put_whole(folder / WHOLE, _json(summary))
    return summary


def _track(path: Path, file: str, wishes: Wishes) -> Track:
    track = read_track(
        path, columns=wishes.columns or None, date=_date(wishes), altitude_unit=wishes.altitude_unit or None
    )
    return replace(track, file=file)


def _procedures(store: Store, wishes: Wishes) -> tuple[Procedure | None, tuple[Procedure, ...]]:
    """The procedure that was asked for, or those to choose from."""
    if wishes.procedure:
        own = own_file(store, wishes.procedure)
        return load_procedure(own if own is not None else wishes.procedure), ()
    try:
        made_here = procedures_in(store.procedures)
    except ProcedureError:  # none is there yet
        made_here = ()
    return None, (*made_here, *bundled_procedures())


def _result(track: Track, given: Procedure | None, choices: tuple[Procedure, ...], wishes: Wishes) -> Result:
    altitude = AltitudeCorrection(qnh_hpa=wishes.qnh_hpa, offset_ft=wishes.offset_ft)
    standard = load_standard(wishes.standard)
    if given is not None:
        return with_references(debrief(track, given, standard, altitude=altitude))
    return with_references(debrief_best(track, choices, standard, altitude=altitude))


def result_key(sha256: str, file: str, wishes: Wishes, procedures: tuple[Procedure, ...]) -> str:
    """A name for the result of this log with these wishes, by this version of the program."""
    parts = [__version__, str(FORM), sha256, file, wishes.text(), *(entry.sha256 for entry in procedures)]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def _pile_files(
    result: Result, track: Track, given: Procedure | None, choices: tuple[Procedure, ...], wishes: Wishes
) -> dict[str, bytes]:
    """What pile and logbook need: the row of the flight, the shape by which copies are found, what is booked of it."""
    standard = load_standard(wishes.standard)
    offered = (given,) if given is not None else choices
    procedure = next((entry for entry in offered if entry.sha256 == result.procedure.sha256), None)
    blank = Row(
        file=track.file,
        sha256=track.sha256,
        pilot=track.pilot or "",
        standard=standard.name,
        standard_sha256=standard.sha256,
        result=UNREADABLE,
    )
    row = replace(counted(result, standard, blank), flags=signs_of(track, result.flight, procedure))
    shape = shape_of(track)
    files = {ROW: gzip.compress(_json(row_json(row)), 6, mtime=0)}
    if procedure is not None and result.flight is not None:
        entry = Entry(
            content=b"", result=result, procedure=procedure, standard=standard, reading=_reading(wishes)
        )
        kept = record_of(entry, logbook_pilot(track.pilot or ""))
        files[ENTRY] = gzip.compress(_json(record_json(kept)), 6, mtime=0)
    return files if shape is None else files | {SHAPE: shape.text().encode("ascii")}


def _reading(wishes: Wishes) -> Reading:
    """How the log is to be read, as the logbook keeps it."""
    return Reading(
        columns=wishes.columns,
        date=_date(wishes),
        altitude_unit=wishes.altitude_unit or None,
        qnh_hpa=wishes.qnh_hpa,
        altitude_offset_ft=wishes.offset_ft,
    )


def _date(wishes: Wishes) -> datetime.date | None:
    return datetime.date.fromisoformat(wishes.date) if wishes.date else None


def _page_files(result: Result, track: Track) -> dict[str, bytes]:
    """What the page of a flight needs."""
    shown = scenes(result.flight, result.attempts) if result.flight is not None else ()
    drawn = pictures(result, shown)
    words = page_words(result, shown) | {"questions": _questions(result, track), "pictures": sorted(drawn)}
    return {
        **drawn,
        "replay.json": _json(replay_data(result, shown)),
        "page.json": _json(words),
    }


def _files_of_all(result: Result) -> dict[str, bytes]:
    """What is the same in every language: what other programs read."""
    return {
        "result.json": result_json(result).encode(),
        "track.geojson": annotated_files(result, ("geojson",))[".track.geojson"],
    }


def _report_files(result: Result) -> dict[str, bytes]:
    """The report on paper."""
    pages = build_pages(result, "A4")
    return {
        "report.png": png_bytes(pages[0]),
        "report.pdf": pdf_bytes(pages, result),
    }


def _put(folder: Path, name: str, content: bytes) -> None:
    pressed = name.endswith(PRESSED)
    put_whole(
        folder / (f"{name}.gz" if pressed else name),
        gzip.compress(content, 6, mtime=0) if pressed else content,
    )


def _json(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


# What to ask


def _questions(result: Result, track: Track) -> dict[str, Any]:
    """What a person should confirm or could correct: the reader's assumptions, and what a landing shows."""
    info = result.track
    return {
        "assumed": list(track.assumed),
        "altitude_source": info.altitude_source,
        "altitude_offset_ft": info.altitude_offset_ft,
        "altitude_uncertainty_ft": info.altitude_uncertainty_ft,
        "format": track.format,
    }


def _told(path: Path, flight: Flight, error: DebriefError) -> Ended:
    """A mistake in words that know no path and no command line: a question where an answer mends it."""
    what = error.what[:1].upper() + error.what[1:].rstrip(".")
    where = _where(error)
    said = f"{what}{where}."
    match error.needs:
        case "columns":
            return Ended(
                state="asking",
                said=said,
                asks={"kind": "columns", "columns": _columns(path, flight.wishes)},
            )
        case "date":
            return Ended(state="asking", said=said, asks={"kind": "date"})
        case "procedure":
            return Ended(state="asking", said=said, asks={"kind": "procedure"})
    return Ended(state="refused", said=f"{said} {error.remedy}".strip())


def _where(error: DebriefError) -> str:
    """Line, point and column of a mistake; never the path, which is ours."""
    if error.where is None:
        return ""
    place = replace(error.where, path="")
    text = str(place).removeprefix(", ")
    return f" ({text})" if text else ""


def _columns(path: Path, wishes: Wishes) -> list[dict[str, Any]]:
    """The headings of a table with the first cells under each, for a person to say what they are."""
    try:
        table = find_table(path, wishes.columns)
    except (DebriefError, OSError):
        return []
    headings = table.headings or tuple(f"column {number}" for number in range(1, table.width + 1))
    return [
        {
            "position": str(number + 1),
            "heading": heading.strip()[:_SHORT] or f"column {number + 1}",
            "cells": [cell[:_SHORT] for cell in table.cells(number)[:_SAMPLE_ROWS]],
        }
        for number, heading in enumerate(headings[:100])
    ]
