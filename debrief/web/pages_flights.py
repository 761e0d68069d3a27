"""Pages about flights: the list with the place to drop logs, one flight's report or question, its files.

Owns      what these pages show and which change leads where.
Not here  taking a log in (``uploads``), the report's words (``page_words``), how it looks (templates).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, TypeVar

from starlette.datastructures import UploadFile
from starlette.responses import Response

from debrief.language import spoken, tr
from debrief.web import files, flights, tasks
from debrief.web.answers import RefusedError, go_to, page
from debrief.web.flights import Flight, Wishes
from debrief.web.guard import Ask, flight_for
from debrief.web.limits import LONGEST_PILOT, MEGABYTE, MOST_UPLOAD_BYTES, MOST_UPLOADS_AT_ONCE, SHOWN_AT_ONCE
from debrief.web.procedure_files import known_procedures
from debrief.web.store import Store
from debrief.web.uploads import Taken, sample, take
from debrief.web.wishes import COLUMN_NAMES, STANDARDS, read_wishes

T = TypeVar("T")
_MOST = 20_000
_UNDER_WAY = ("waiting", "working")


def home(ask: Ask) -> Response:
    """The list of flights, and the place to drop logs."""
    return _home(ask, [])


def _home(ask: Ask, taken: list[Taken]) -> Response:
    every = flights.listed(ask.connection, owner=ask.owner, of_all=ask.sees_all, most=_MOST)
    begin, shown = part_of(ask, every)
    removed = ask.request.query_params.get("removed", "")
    return page(
        ask,
        "home.html",
        flights=[row(ask.store, flight) for flight in shown],
        refused=[entry for entry in taken if entry.refused],
        known=[entry for entry in taken if entry.flight is not None and not entry.new],
        removed=removed if removed.replace("-", "").replace("_", "").isalnum() else "",
        standards=STANDARDS,
        most_mb=round(MOST_UPLOAD_BYTES / MEGABYTE),
        most_files=MOST_UPLOADS_AT_ONCE,
        count=len(every),
        begin=begin,
        at_once=SHOWN_AT_ONCE,
        of_all=ask.sees_all and not ask.alone,
    )


def part_of(ask: Ask, every: Sequence[T]) -> tuple[int, Sequence[T]]:
    """Where the part of a long list begins that is asked for, and that part."""
    asked = ask.request.query_params.get("begin", "0")
    begin = int(asked) if asked.isdecimal() and len(asked) < 7 else 0
    begin = min(begin, max(len(every) - 1, 0)) // SHOWN_AT_ONCE * SHOWN_AT_ONCE
    return begin, every[begin : begin + SHOWN_AT_ONCE]


def row(store: Store, flight: Flight) -> dict[str, Any]:
    """One flight as lists and scripts see it."""
    return {
        "id": flight.id,
        "file": flight.file,
        "sha256": flight.sha256,
        "size_bytes": flight.size_bytes,
        "pilot": flight.pilot,
        "state": flight.state,
        "said": flight.said,
        "writing": flight.state == "done" and flight.lease is not None,
        "asks": flight.asks,
        "summary": files.summary(store, flight),
        "wishes": asdict(flight.wishes),
        "added_at": flight.added_at,
        "logbook": {
            "flight": flight.logbook_flight if flight.removed_at is None else None,
            "waits": flight.to_book > flight.booked,
            "said": flight.logbook_said,
        },
    }


def uploaded(ask: Ask) -> list[Taken]:
    """Take in what a form sent, with what it wishes for all of them."""
    sent = [
        (entry.filename, entry.file) for entry in ask.form.getlist("log") if isinstance(entry, UploadFile)
    ]
    sent = [(name, file) for name, file in sent if name]  # an empty chooser sends a part without a name
    fields = {"standard": ask.field("standard")} if ask.field("standard") else {}
    wishes, mistakes = read_wishes(ask.store, Wishes(), fields)
    if wishes is None or mistakes:
        raise RefusedError(
            400, tr("No such standard. Choose one of {standards}.", standards=", ".join(STANDARDS))
        )
    return take(ask, sent, wishes, pilot_said(ask) or "")


def pilot_said(ask: Ask) -> str | None:
    """Who a form says flew it; ``None`` where it does not say, or who sent it may not: a pilot's flights are theirs."""
    if ask.role == "pilot" or "pilot" not in ask.form:
        return None
    shown = "".join(letter if letter.isprintable() else " " for letter in ask.field("pilot"))
    return " ".join(shown.split())[:LONGEST_PILOT]


def upload(ask: Ask) -> Response:
    """Take logs from a form; one alone leads to its page."""
    taken = uploaded(ask)
    if len(taken) == 1 and taken[0].flight is not None:
        return go_to(f"/flights/{taken[0].flight.id}")
    if any(entry.refused for entry in taken):
        return _home(ask, taken)
    return go_to("/")


def try_sample(ask: Ask) -> Response:
    """Debrief the sample flight."""
    return go_to(f"/flights/{sample(ask).id}")


def flight_page(ask: Ask) -> Response:
    """One flight: its report, its question, why it was refused, or how far it is."""
    return _flight_page(ask, {}, {})


def _flight_page(ask: Ask, mistakes: dict[str, str], entered: dict[str, str]) -> Response:
    flight = ask.the_flight
    about: dict[str, Any] = {
        "flight": row(ask.store, flight),
        "removed": flight.removed_at is not None,
        "mistakes": mistakes,
        "entered": {**_entered(flight.wishes), **entered},
        "standards": STANDARDS,
        "procedures": known_procedures(ask.store),
        "column_names": COLUMN_NAMES,
        "downloads": files.DOWNLOADS,
        "ahead": flights.ahead_of(ask.connection, flight) if flight.state == "waiting" else 0,
    }
    if flight.state == "done":
        said, why_not = _said_here(ask, flight)
        return page(
            ask,
            "report.html",
            said=said,
            why_not=why_not,
            status=400 if mistakes else 200,
            report=files.parsed(ask.store, flight, "page.json"),
            **about,
        )
    template = "progress.html" if flight.state in _UNDER_WAY else "question.html"
    return page(ask, template, status=400 if mistakes else 200, **about)


def _said_here(ask: Ask, flight: Flight) -> tuple[bool, str]:
    """Whether a report is there in the language that is spoken, after some waiting; else why it never will be."""
    if files.is_said(ask.store, flight):
        return True, ""
    about = {"flight": flight.id, "language": spoken(), "result": flight.result_key}
    why_not = tasks.wanted(ask.store, ask.connection, "report", about).said
    return files.is_said(ask.store, flight), why_not


def _entered(wishes: Wishes) -> dict[str, str]:
    """What the fields of the answers hold at first."""
    return {
        "procedure": wishes.procedure,
        "standard": wishes.standard,
        "qnh_hpa": "" if wishes.qnh_hpa is None else f"{wishes.qnh_hpa:g}",
        "offset_ft": f"{wishes.offset_ft:g}" if wishes.offset_ft else "",
        "altitude_unit": wishes.altitude_unit,
        "date": wishes.date,
        **{f"column-{position}": name for name, position in wishes.columns.items()},
    }


def answer(ask: Ask) -> Response:
    """Take what a person said about a flight, and debrief it again."""
    fields = {name: value for name, value in ask.form.items() if isinstance(value, str)}
    wishes, mistakes = read_wishes(ask.store, ask.the_flight.wishes, fields)
    if wishes is None:
        return _flight_page(ask, mistakes, fields)
    flights.answer(ask.connection, ask.the_flight.id, wishes, pilot_said(ask))
    return go_to(f"/flights/{ask.the_flight.id}")


def remove(ask: Ask) -> Response:
    """Take a flight out of the list; the list offers to undo it."""
    flights.remove(ask.connection, ask.the_flight.id)
    return go_to(f"/?removed={ask.the_flight.id}")


def bring_back(ask: Ask) -> Response:
    """Undo that."""
    flights.bring_back(ask.connection, ask.the_flight.id)
    return go_to("/")


def removed_page(ask: Ask) -> Response:
    """The flights that were removed, each to be brought back."""
    gone = flights.listed(ask.connection, owner=ask.owner, of_all=ask.sees_all, removed=True)
    return page(ask, "removed.html", flights=[row(ask.store, flight) for flight in gone])


def file(ask: Ask) -> Response:
    """One file of a flight's result."""
    return files.answer(
        ask.store,
        ask.the_flight,
        ask.request.path_params["name"],
        ask.request.headers.get("accept-encoding", ""),
        save="show" not in ask.request.query_params,
    )


def replay_page(ask: Ask) -> Response:
    """One flight, moment by moment; with ``beside``, another one with it, both from their station passage."""
    flight = ask.the_flight
    if flight.state != "done":
        return go_to(f"/flights/{flight.id}")
    beside = ask.request.query_params.get("beside", "")
    other = flight_for(ask, beside) if beside else None
    seen = flights.listed(ask.connection, owner=ask.owner, of_all=ask.sees_all)
    return page(
        ask,
        "replay.html",
        flight=row(ask.store, flight),
        other=row(ask.store, other) if other is not None and other.state == "done" else None,
        others=[
            row(ask.store, entry)
            for entry in seen
            if entry.state == "done"
            and entry.id != flight.id
            and entry.summary.get("procedure") == flight.summary.get("procedure")
        ],
    )
