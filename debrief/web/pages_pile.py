"""Pages of the pile: every submission in a table, one opened beside its verdicts, decisions, signing, export.

Owns      what these pages show, sorting and filtering.
Not here  the rows and what is decided of them (``pile``).
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from starlette.responses import Response

from debrief.checkride.model import VERDICTS
from debrief.errors import DebriefError
from debrief.language import mark, tr
from debrief.web import accounts, flights
from debrief.web.answers import RefusedError, go_to, json_answer, page
from debrief.web.guard import Ask
from debrief.web.limits import PATIENCE_S, SHOWN_AT_ONCE
from debrief.web.pages_flights import part_of

if TYPE_CHECKING:
    from debrief.checkride.model import Item, Row
    from debrief.web.pile import Pile

SHOWN = mark(
    {
        "all": "all",
        "examiner": "for the examiner",
        "unsatisfactory": "unsatisfactory",
        "signs": "with signs",
        "decided": "decided by an examiner",
    }
)
_RANK = {"unsatisfactory": 0, "not assessable": 1, "unreadable": 2, "satisfactory": 3}
_RANK_OF_ITEM = {"unsatisfactory": 0, "marginal": 1}
_LONGEST_WAIT_S = 15.0


def _pile(ask: Ask, patience_s: float = 0.0) -> Pile:
    from debrief.web.pile import MOST, pile_of

    every = flights.listed(ask.connection, owner=None, of_all=True, most=MOST)
    return pile_of(ask.store, ask.connection, every, patience_s)


def _rows(ask: Ask) -> list[Row]:
    return _pile(ask).rows


def _whole(ask: Ask) -> list[Row]:
    """The rows as they are passed on: not before copies among them were looked for."""
    pile = _pile(ask, _LONGEST_WAIT_S)
    if not pile.copies_known:
        raise RefusedError(
            503, tr("Copies among the flights are still being looked for. Wait a moment, then do it again.")
        )
    return pile.rows


def _has_decisions(row: Row) -> bool:
    return row.overruled is not None or any(item.overruled for item in row.items)


def _chosen(rows: Sequence[Row], shown: str, wanted: str, sort: str) -> list[Row]:
    tests: dict[str, Callable[[Row], bool]] = {
        "all": lambda _row: True,
        "examiner": lambda row: bool(row.to_examiner),
        "unsatisfactory": lambda row: row.decided == "unsatisfactory",
        "signs": lambda row: bool(row.flags),
        "decided": _has_decisions,
    }
    keys: dict[str, Callable[[Row], Any]] = {
        "pilot": lambda row: row.pilot.casefold(),
        "procedure": lambda row: row.procedure,
        "result": lambda row: _RANK.get(row.decided, 2),
        "margin": lambda row: (row.margin is None, row.margin or 0.0),
        "signs": lambda row: -max((flag.strength for flag in row.flags), default=0.0),
        "recorded": lambda row: row.recorded or "",
    }
    folded = wanted.casefold()

    def said(row: Row) -> str:
        """What is read in its line: of the file its name, not the random key before it, which may hold any letters."""
        return f"{row.pilot} {row.file.rpartition('/')[2]} {row.procedure}".casefold()

    kept = [row for row in rows if tests[shown](row) and folded in said(row)]
    return sorted(kept, key=lambda row: (keys[sort](row), row.file))


def _asked(ask: Ask) -> dict[str, str]:
    query = ask.request.query_params
    shown, sort = query.get("show", "all"), query.get("sort", "result")
    return {
        "show": shown if shown in SHOWN else "all",
        "sort": sort if sort in ("pilot", "procedure", "result", "margin", "signs", "recorded") else "result",
        "find": query.get("find", "")[:80],
    }


def pile_page(ask: Ask) -> Response:
    """The table of submissions."""
    return _pile_page(ask, "")


def _pile_page(ask: Ask, said: str) -> Response:
    from debrief.web.pile import checked

    pile, asked = _pile(ask, PATIENCE_S), _asked(ask)
    rows = pile.rows
    chosen = _chosen(rows, asked["show"], asked["find"], asked["sort"])
    begin, shown = part_of(ask, chosen)
    return page(
        ask,
        "pile.html",
        rows=shown,
        begin=begin,
        chosen=len(chosen),
        at_once=SHOWN_AT_ONCE,
        total=len(rows),
        waiting=sum(bool(row.to_examiner) for row in rows),
        asked=asked,
        shown=SHOWN,
        signatures=checked(ask.connection, rows),
        said=said,
        copies_known=pile.copies_known,
        may_decide=ask.role in ("alone", "examiner"),
    )


def flight_page(ask: Ask) -> Response:
    """One submission beside its verdicts."""
    return _flight_page(ask, "", {})


def _flight_page(ask: Ask, wrong: str, entered: dict[str, str]) -> Response:
    asked, pile = _asked(ask), _pile(ask)
    rows = pile.rows
    row = _row(ask, rows)
    order = [entry.file for entry in _chosen(rows, asked["show"], asked["find"], asked["sort"])]
    row = replace(row, items=tuple(sorted(row.items, key=lambda item: _RANK_OF_ITEM.get(item.decided, 2))))
    place = order.index(row.file) if row.file in order else None
    around = (
        (None, None)
        if place is None
        else (order[place - 1] if place else None, order[place + 1] if place + 1 < len(order) else None)
    )
    return page(
        ask,
        "pile_flight.html",
        status=400 if wrong else 200,
        row=row,
        figures=[_figures(item) for item in row.items],
        flight=ask.the_flight,
        before=around[0] and around[0].partition("/")[0],
        after=around[1] and around[1].partition("/")[0],
        asked=asked,
        results=VERDICTS,
        wrong=wrong,
        entered=entered,
        copies_known=pile.copies_known,
        may_decide=ask.role in ("alone", "examiner"),
    )


def _figures(item: Item) -> str:
    """Value and limit of an item, as the report writes them."""
    from debrief.checkride.against import figures_of

    parts = [
        name.format(value=figures)
        for name, figures in zip((tr("{value}"), tr("limit {value}")), figures_of(item), strict=True)
        if figures
    ]
    return f"{', '.join(parts)}." if parts else ""


def _row(ask: Ask, rows: Sequence[Row]) -> Row:
    found = next((row for row in rows if row.file.startswith(f"{ask.the_flight.id}/")), None)
    if found is None:
        raise RefusedError(
            404, tr("This flight is not graded yet. It may still be in work, or wait for an answer.")
        )
    return found


def _decided(ask: Ask) -> Row:
    """Keep the decision that a form holds; the row as it was."""
    from debrief.web.pile import overrule

    row = _row(ask, _rows(ask))
    overrule(
        ask.connection,
        row,
        item=ask.field("item"),
        result=ask.field("result"),
        by=ask.name,
        because=ask.field("because")[:2000],
    )
    return row


def decide(ask: Ask) -> Response:
    """Keep a decision, and show the flight as it stands then."""
    try:
        _decided(ask)
    except DebriefError as error:
        entered = {name: ask.field(name) for name in ("item", "result", "because")}
        return _flight_page(ask, str(error), entered)
    query = ask.request.url.query
    return go_to(f"/pile/{ask.the_flight.id}{f'?{query}' if query else ''}")


def decide_for_script(ask: Ask) -> Response:
    """Keep a decision."""
    from debrief.checkride.results import row_json

    try:
        _decided(ask)
    except DebriefError as error:
        return json_answer({"error": str(error)}, 400)
    after = _row(ask, _rows(ask))
    return json_answer(row_json(after) | {"decided": after.decided, "to_examiner": list(after.to_examiner)})


def pile_for_script(ask: Ask) -> Response:
    """Every row."""
    from debrief.web.pile import exported

    return Response(exported(ask.connection, _whole(ask))["results.json"], media_type="application/json")


def sign(ask: Ask) -> Response:
    """Sign the pile as it stands."""
    from debrief.web.pile import sign_as

    rows = _whole(ask)
    if not rows:
        return _pile_page(ask, tr("There is nothing to sign yet."))
    key = sign_as(ask.store, ask.connection, rows, number=ask.owner or 0, name=ask.name)
    accounts.note(ask.connection, ask.name, "signed the results", f"{len(rows)} flights, key {key}")
    return go_to("/pile")


def export(ask: Ask) -> Response:
    """The results as files in one archive: what the command line reads, checks and verifies."""
    from debrief.web.pile import exported

    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in exported(ask.connection, _whole(ask)).items():
            archive.writestr(name, text)
    return Response(
        buffer.getvalue(),
        media_type="application/zip",
        headers={"Content-Disposition": 'attachment; filename="results.zip"'},
    )
