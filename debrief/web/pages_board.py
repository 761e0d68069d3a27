"""The page of the board: who flies how, with intervals; a pilot sees their own, and the club as a whole.

Owns      who may ask for whose board.
Not here  what it shows (``board``, in a worker), how it looks (templates).
"""

from __future__ import annotations

from starlette.responses import Response

from debrief.language import spoken
from debrief.web.answers import page
from debrief.web.guard import Ask
from debrief.web.tasks import wanted


def board_page(ask: Ask) -> Response:
    """The board of one procedure."""
    query = ask.request.query_params
    about = {
        "procedure": query.get("procedure", "")[:200],
        "pilot": (query.get("pilot", "") if ask.sees_all else ask.name)[:200],
        "language": spoken(),
        "owner": None if ask.sees_all else ask.owner,
    }
    kept = wanted(ask.store, ask.connection, "board", about)
    content = kept.content or {"procedures": [], "procedure": "", "pilot": "", "board": None}
    return page(
        ask,
        "board.html",
        kept=kept,
        own=not ask.sees_all,
        procedures=content["procedures"],
        procedure=content["procedure"],
        pilot=content["pilot"],
        board=content["board"],
    )
