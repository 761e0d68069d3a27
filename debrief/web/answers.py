"""What goes back: pages from templates, JSON, and refusals in the shape that was asked for.

Owns      the templates' environment and what each of them knows, ``RefusedError`` and its answer.
Not here  what is on a page (``pages_*``), headers (``headers``).
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from debrief import __version__
from debrief.language import ENGLISH, in_script, mark, sentence, spoken, tr, trn, within
from debrief.web.accounts import ROLE_WORDS

if TYPE_CHECKING:
    from debrief.web.guard import Ask

CAUTION = mark(
    "For simulator flying and training debriefs. Not for navigation. "
    "The published procedure, local rules and a qualified instructor or examiner prevail."
)
HERE = Path(__file__).parent
_MONTHS = mark(
    (
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    )
)
#: Results of a flight or an item, and how good a log is: words that stand in stored results.
_STORED_WORDS = mark(
    (
        "satisfactory",
        "marginal",
        "unsatisfactory",
        "not assessable",
        "unreadable",
        "withdraw",
        "good",
        "fair",
        "poor",
    )
)
_SIGN_WORDS = mark(
    {
        "impossible_motion": "impossible motion",
        "edited_times": "edited times",
        "spliced": "spliced",
        "smoothed": "smoothed",
        "speed_disagrees": "speed disagrees",
        "altitude_disagrees": "altitude disagrees",
        "noise_changes": "noise changes",
        "copy": "copy",
        "before_procedure": "before the procedure",
    }
)
_TITLES = mark(
    {
        400: "This cannot be used",
        401: "Sign in first",
        403: "Not allowed",
        404: "Not found",
        405: "Not possible here",
        408: "Too slow",
        413: "Too large",
        429: "Too many at once",
        500: "A fault of debrief",
        503: "Not at the moment",
    }
)


class RefusedError(Exception):
    """A request that is not carried out: the status, and one clear line of what to do."""

    def __init__(self, status: int, said: str) -> None:
        self.status = status
        self.said = said
        super().__init__(said)


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["moment"] = _moment
    environment.filters["size"] = _size
    environment.filters["sentence"] = sentence
    environment.filters["said"] = tr
    for name, known in (
        ("tr", tr),
        ("trn", trn),
        ("trh", _with_tags),
        ("spoken", spoken),
        ("within", within),
        ("result_word", _result_word),
        ("script_words", _script_words),
        ("role_words", ROLE_WORDS),
        ("sign_words", _SIGN_WORDS),
    ):
        environment.globals[name] = known
    environment.globals["static"] = static_address
    environment.globals["caution"] = CAUTION
    environment.globals["version"] = __version__
    return environment


def _moment(at: float) -> str:
    """A time for people: UTC, to the minute."""
    time = datetime.fromtimestamp(at, UTC)
    return tr(
        "{day} {month} {year}, {time} UTC",
        day=time.day,
        month=tr(_MONTHS[time.month - 1]),
        year=time.year,
        time=f"{time:%H:%M}",
    )


def _with_tags(message: str, **values: object) -> Markup:
    """A sentence with tags in it, which are ours; what is put into its gaps is shown as text."""
    return Markup(tr(message)).format(**values)  # the sentence is ours, its gaps are escaped


def _result_word(result: str) -> str:
    """A result as it stands on its own."""
    return sentence(tr(result))


@cache
def _sentences_of_scripts() -> tuple[str, ...]:
    return tuple(
        found
        for path in sorted((HERE / "static").glob("*.js"))
        for found in in_script(path.read_text(encoding="utf-8"))
    )


def _script_words() -> str:
    """What the page's own scripts say, in the language that is spoken; "" where they say it as it is written."""
    if spoken() == ENGLISH:
        return ""
    return json.dumps({text: tr(text) for text in _sentences_of_scripts()}, ensure_ascii=False)


def _size(count: int) -> str:
    return f"{count / 1e6:.1f} MB" if count >= 1e6 else f"{max(count / 1e3, 1):.0f} kB"


@cache
def static_address(name: str) -> str:
    """The address of a static file, with its sum: it may be kept for ever, and never is an old one used."""
    content = (HERE / "static" / name).read_bytes()
    return f"/static/{name}?{hashlib.sha256(content).hexdigest()[:12]}"


def page(ask: Ask, template: str, *, status: int = 200, **content: Any) -> HTMLResponse:
    """A page from its template."""
    return _page(ask.request, template, status, ask.session.form_key, ask.role, ask.name, content)


def _page(
    request: Request,
    template: str,
    status: int,
    form_key: str,
    role: str,
    name: str,
    content: dict[str, Any],
) -> HTMLResponse:
    text = (
        _templates()
        .get_template(template)
        .render(form_key=form_key, role=role, name=name, path=request.url.path, **content)
    )
    return HTMLResponse(text, status)


def json_answer(content: object, status: int = 200) -> JSONResponse:
    """JSON, for scripts and for the page's own."""
    return JSONResponse(content, status)


def go_to(address: str) -> RedirectResponse:
    """After a change: load that page."""
    return RedirectResponse(address, 303)


def wants_json(request: Request) -> bool:
    """Whether a script asks."""
    return request.url.path.startswith("/api/")


def refusal(request: Request, refused: RefusedError) -> Response:
    """The answer to what is refused: JSON for scripts, the sign-in page or a page with a way out for people."""
    if wants_json(request):
        headers = {"WWW-Authenticate": "Bearer"} if refused.status == 401 else {}
        return JSONResponse({"error": refused.said}, refused.status, headers=headers)
    if refused.status == 401 and request.method == "GET":
        return RedirectResponse(f"/sign-in?then={quote(request.url.path)}", 303)
    session = getattr(request.state, "session", None)
    account = getattr(request.state, "account", None)
    role = (
        "alone"
        if getattr(request.state, "alone", False)
        else account.role
        if account is not None
        else "nobody"
    )
    return _page(
        request,
        "refused.html",
        refused.status,
        session.form_key if session is not None else "",
        role,
        account.name if account is not None else "you",
        {
            "title": tr(_TITLES[refused.status]) if refused.status in _TITLES else tr("This did not work"),
            "said": refused.said,
        },
    )
