"""Pages about procedures: the list, one in words and as a picture, the form that makes one.

Owns      what these pages show; drawing a procedure for a screen.
Not here  the form's fields and mistakes (``maker``), the drawing itself (``reports``).
Imports   the library inside functions: the first page must not wait for it.
"""

from __future__ import annotations

import base64
import re
from datetime import UTC, datetime
from threading import Lock
from typing import TYPE_CHECKING, Any

from starlette.responses import Response

from debrief.language import tr
from debrief.web.answers import RefusedError, go_to, json_answer, page
from debrief.web.guard import Ask
from debrief.web.procedure_files import known_procedures, new_key, own_file
from debrief.web.store import put_whole

if TYPE_CHECKING:
    from debrief.procedures import Procedure

_drawing = Lock()  # matplotlib's settings are the process's
_PLAIN_KEY = re.compile(r"[0-9a-z-]{1,80}")
_NOTHING: dict[str, Any] = {"words": [], "picture": "", "remarks": []}


def list_page(ask: Ask) -> Response:
    """Every procedure that can be chosen."""
    return page(ask, "procedures.html", procedures=known_procedures(ask.store))


def _loaded(ask: Ask, key: str) -> Procedure:
    from debrief.errors import ProcedureError
    from debrief.procedures import load_procedure

    if not _PLAIN_KEY.fullmatch(key):
        raise RefusedError(404, tr("There is no such procedure."))
    own = own_file(ask.store, key)
    try:
        return load_procedure(own if own is not None else key)
    except ProcedureError as error:
        raise RefusedError(404, tr("There is no such procedure, or its file is no longer valid.")) from error


def show_page(ask: Ask) -> Response:
    """One procedure."""
    key = ask.request.path_params["procedure"]
    procedure = _loaded(ask, key)
    own = own_file(ask.store, key) is not None
    return page(ask, "procedure.html", key=key, own=own, title=procedure.name, **_shown(procedure))


def file(ask: Ask) -> Response:
    """A procedure's file, to keep or to pass on."""
    from debrief.procedures.toml_writer import procedure_toml

    key = ask.request.path_params["procedure"]
    own = own_file(ask.store, key)
    if own is not None:
        text = own.read_text(encoding="utf-8")
    else:
        text = procedure_toml(_loaded(ask, key).model_dump(mode="python", exclude_unset=True))
    return Response(
        text,
        media_type="application/toml",
        headers={"Content-Disposition": f'attachment; filename="{key}.toml"'},
    )


def new_page(ask: Ask) -> Response:
    """The form, empty or filled from a procedure."""
    from debrief.web.maker import form_fields

    start = ask.request.query_params.get("from", "")
    fields: dict[str, str] = {}
    if start:
        fields = form_fields(_loaded(ask, start))
        fields["name"] = tr("{name}, changed", name=fields["name"])
    return _form(ask, fields, {}, start)


def _form(ask: Ask, fields: dict[str, str], mistakes: dict[str, str], start: str = "") -> Response:
    from debrief.web.maker import ALTITUDES, LAYOUTS, MOST_OTHERS, MOST_STEPS, carried_names, procedure_data

    return page(
        ask,
        "maker.html",
        status=400 if mistakes else 200,
        fields=fields,
        mistakes=mistakes,
        start=start,
        layouts=[(key, tr(word)) for key, word in LAYOUTS.items()],
        altitudes=[(key, tr(word)) for key, word in ALTITUDES.items()],
        steps=range(MOST_STEPS),
        others=range(MOST_OTHERS),
        carried=carried_names(fields),
        procedures=known_procedures(ask.store),
        **(_checked(procedure_data(fields)) if fields else _NOTHING),
    )


def _sent(ask: Ask) -> dict[str, str]:
    return {name: value for name, value in ask.form.items() if isinstance(value, str) and name != "form_key"}


def _checked(data: dict[str, Any]) -> dict[str, Any]:
    """What can be shown of a procedure; nothing where it is not valid."""
    from pydantic import ValidationError

    from debrief.procedures import Procedure

    try:
        return _shown(Procedure.model_validate(data))
    except ValidationError:
        return _NOTHING


def _shown(procedure: Procedure) -> dict[str, Any]:
    from debrief.procedures.remarks import remarks
    from debrief.procedures.words import describe

    return {
        "words": describe(procedure).split("\n\n"),
        "picture": _picture(procedure),
        "remarks": list(remarks(procedure, datetime.now(UTC).date())),
    }


def check(ask: Ask) -> Response:
    """The form as it stands: mistakes by field; words, picture and file where there are none."""
    from debrief.procedures.toml_writer import procedure_toml
    from debrief.web.maker import mistakes, procedure_data

    data = procedure_data(_sent(ask))
    wrong = mistakes(data)
    if wrong:
        return json_answer({"mistakes": wrong})
    return json_answer({"mistakes": {}, "file": procedure_toml(data), **_checked(data)})


def save(ask: Ask) -> Response:
    """Keep a procedure, and show it."""
    from debrief.procedures.toml_writer import procedure_toml
    from debrief.web.maker import mistakes, procedure_data

    fields = _sent(ask)
    data = procedure_data(fields)
    wrong = mistakes(data)
    if wrong:
        return _form(ask, fields, wrong)
    key = new_key(str(data["name"]))
    put_whole(ask.store.procedures / f"{key}.toml", procedure_toml(data).encode())
    return go_to(f"/procedures/{key}")


def _picture(procedure: Procedure) -> str:
    """The picture of a procedure, as an address that holds it whole."""
    from debrief.reports.procedure_plan import procedure_page
    from debrief.web.pictures import svg_bytes

    with _drawing:
        drawn = svg_bytes(procedure_page(procedure))
    return f"data:image/svg+xml;base64,{base64.b64encode(drawn).decode()}"
