"""The interface for scripts, which the page's own scripts use too: JSON, under ``/api/v1``.

Owns      what each path answers, and ``description``: the interface in OpenAPI 3.1, made from the paths themselves.
Not here  the checks (``guard``), taking logs in (``uploads``).
"""

from __future__ import annotations

import re
from typing import Any

from starlette.responses import Response

from debrief import __version__
from debrief.language import tr
from debrief.web import flights
from debrief.web.answers import CAUTION, json_answer, page
from debrief.web.files import DOWNLOADS
from debrief.web.flights import STATES
from debrief.web.guard import WHO_WORDS, Ask, Path
from debrief.web.pages_flights import pilot_said, row, uploaded
from debrief.web.pages_pile import decide_for_script
from debrief.web.procedure_files import known_procedures
from debrief.web.wishes import STANDARDS, read_wishes


def _shown(ask: Ask, flight: flights.Flight) -> dict[str, Any]:
    """One flight, with the addresses of what belongs to it."""
    address = f"/api/v1/flights/{flight.id}"
    return row(ask.store, flight) | {
        "said": tr(flight.said),
        "ahead": flights.ahead_of(ask.connection, flight) if flight.state == "waiting" else 0,
        "page": f"/flights/{flight.id}",
        "files": {name: f"{address}/files/{name}" for name in DOWNLOADS} if flight.state == "done" else {},
    }


def add(ask: Ask) -> Response:
    """Take logs in; each is told apart."""
    taken = uploaded(ask)
    answer = [
        {"file": entry.file, "refused": entry.refused}
        if entry.flight is None
        else {"file": entry.file, "new": entry.new, "flight": _shown(ask, entry.flight)}
        for entry in taken
    ]
    return json_answer({"logs": answer}, 202 if any(entry.flight for entry in taken) else 400)


def listed(ask: Ask) -> Response:
    """The flights one may see, newest first."""
    shown = flights.listed(ask.connection, owner=ask.owner, of_all=ask.sees_all)
    return json_answer({"flights": [_shown(ask, flight) for flight in shown]})


def one(ask: Ask) -> Response:
    """One flight."""
    return json_answer(_shown(ask, ask.the_flight))


def answer(ask: Ask) -> Response:
    """Take answers about a flight."""
    fields = {name: value for name, value in ask.form.items() if isinstance(value, str)}
    wishes, mistakes = read_wishes(ask.store, ask.the_flight.wishes, fields)
    if wishes is None:
        return json_answer({"error": tr("Some answers cannot be used."), "fields": mistakes}, 400)
    flights.answer(ask.connection, ask.the_flight.id, wishes, pilot_said(ask))
    return json_answer(_shown(ask, flights.one(ask.connection, ask.the_flight.id)), 202)


def remove(ask: Ask) -> Response:
    """Remove a flight; it can be brought back."""
    flights.remove(ask.connection, ask.the_flight.id)
    return json_answer({"removed": ask.the_flight.id})


def bring_back(ask: Ask) -> Response:
    """Undo that."""
    if not flights.bring_back(ask.connection, ask.the_flight.id):
        return json_answer({"error": tr("The same log was added again meanwhile.")}, 409)
    return json_answer(_shown(ask, flights.one(ask.connection, ask.the_flight.id)))


def procedures(ask: Ask) -> Response:
    """The procedures that can be chosen."""
    return json_answer(
        {
            "procedures": [
                {
                    "key": known.key,
                    "name": known.name,
                    "station": known.station,
                    "pattern": known.pattern,
                    "own": known.own,
                }
                for known in known_procedures(ask.store)
            ],
            "standards": STANDARDS,
        }
    )


def who(ask: Ask) -> Response:
    """Who the token belongs to."""
    return json_answer({"name": ask.name, "role": ask.role})


def describe(_ask: Ask) -> Response:
    """The interface in OpenAPI."""
    from debrief.web.paths import PATHS

    return json_answer(description(PATHS))


def api_page(ask: Ask) -> Response:
    """The interface in words."""
    from debrief.web.paths import PATHS

    shown = [path for path in PATHS if path.is_interface]
    return page(ask, "api.html", paths=shown, who_words=WHO_WORDS)


_ERROR = {
    "description": "RefusedError, with one line of what to do.",
    "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}},
}
_FIELDS = {
    "procedure": "a procedure's key; empty for the best fitting",
    "standard": f"one of {', '.join(STANDARDS)}",
    "qnh_hpa": "the QNH, where the log holds pressure altitude",
    "offset_ft": "add this to every altitude",
    "altitude_unit": "ft or m, where the log misstates it",
    "date": "the day of the flight (UTC), YYYY-MM-DD",
    "pilot": "who flew it; an account of the role pilot cannot say, for its flights are its own",
}


def description(paths: tuple[Path, ...]) -> dict[str, Any]:
    """OpenAPI 3.1 of every path of the interface."""
    found: dict[str, dict[str, Any]] = {}
    for path in paths:
        if path.is_interface:
            address = re.sub(r":\w+}", "}", path.path)
            found.setdefault(address, {})[path.method.lower()] = _operation(path, address)
    flight = {
        "type": "object",
        "properties": {
            "id": {"type": "string"},
            "file": {"type": "string"},
            "sha256": {"type": "string"},
            "state": {"enum": list(STATES)},
            "said": {"type": "string", "description": "how far it is, what is asked, or why it was refused"},
            "writing": {"type": "boolean", "description": "done, but the PDF and the PNG still come"},
            "asks": {"type": "object", "description": "what an answer is wanted about"},
            "summary": {"type": "object", "description": "procedure, fit, results, first thing to work on"},
            "wishes": {"type": "object"},
            "ahead": {"type": "integer", "description": "flights that wait before this one"},
            "page": {"type": "string"},
            "logbook": {"type": "object", "description": "its number in the logbook, or why it is not there"},
            "files": {"type": "object", "additionalProperties": {"type": "string"}},
        },
    }
    return {
        "openapi": "3.1.0",
        "info": {"title": "debrief", "version": __version__, "description": CAUTION},
        "security": [{"token": []}, {}],
        "paths": found,
        "components": {
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
            "schemas": {
                "Flight": flight,
                "Error": {"type": "object", "properties": {"error": {"type": "string"}}},
            },
        },
    }


def _operation(path: Path, address: str) -> dict[str, Any]:
    operation: dict[str, Any] = {
        "operationId": path.handler.__name__,
        "summary": path.says,
        "description": f"For: {path.who}.",
        "parameters": [
            {"name": name, "in": "path", "required": True, "schema": {"type": "string"}}
            for name in re.findall(r"{(\w+)}", address)
        ],
        "responses": {"200": {"description": "Done."}, "default": _ERROR},
    }
    if path.handler is decide_for_script:
        operation["requestBody"] = _form({name: {"type": "string"} for name in ("item", "result", "because")})
    if path.handler in (add, answer):
        code = "202"
        operation["responses"] = {code: {"description": "Taken; it is debriefed next."}, "default": _ERROR}
        fields: dict[str, Any] = {
            name: {"type": "string", "description": about} for name, about in _FIELDS.items()
        }
        if path.handler is add:
            logs = {"type": "array", "items": {"type": "string", "format": "binary"}}
            fields = {"log": logs, "standard": fields["standard"], "pilot": fields["pilot"]}
        operation["requestBody"] = _form(fields)
    return operation


def _form(fields: dict[str, Any]) -> dict[str, Any]:
    return {"content": {"multipart/form-data": {"schema": {"type": "object", "properties": fields}}}}
