"""Who may ask for what: each path says it, and nothing is answered before it was checked.

Owns      ``Path`` (a handler with its rule), ``Ask`` (a request that was let through), the checks in between.
Not here  accounts and sessions themselves, the handlers (``pages_*``, ``api``), headers (``headers``).
Source    OWASP ASVS 4.0.3, 4.1 and 4.2 (access control), 13.2 (interfaces). Mark: memory.

A handler is a plain function in a thread of its own, with a connection of its own. What is not allowed is refused here:
a path without a rule cannot be written.
"""

from __future__ import annotations

import hmac
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from debrief.language import mark, tr
from debrief.web import flights, sessions
from debrief.web.accounts import ROLE_WORDS, TOKEN_PREFIX, Account, holder_of_token, were_there_any
from debrief.web.answers import RefusedError, refusal
from debrief.web.flights import Flight
from debrief.web.sessions import Session
from debrief.web.store import Store

#: Who may ask: anybody; whoever is signed in; examiners and admins; examiners alone; admins alone.
Who = Literal["anybody", "signed in", "examiner or admin", "examiner", "admin"]
_ROLES: Mapping[Who, frozenset[str]] = {
    "signed in": frozenset({"pilot", "examiner", "admin"}),
    "examiner or admin": frozenset({"examiner", "admin"}),
    "examiner": frozenset({"examiner"}),
    "admin": frozenset({"admin"}),
}
WHO_WORDS: Mapping[Who, str] = mark(
    {
        "anybody": "anybody",
        "signed in": "signed in",
        "examiner or admin": "examiner or admin",
        "examiner": "examiner",
        "admin": "admin",
    }
)
_SAFE = frozenset({"GET", "HEAD"})
_MOST_FILES, _MOST_FIELDS = 100, 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """A request that was let through."""

    request: Request
    connection: sqlite3.Connection
    store: Store
    session: Session
    account: Account | None  # None: alone on loopback, without accounts; or nobody, on a path for anybody
    alone: bool
    form: FormData
    flight: Flight | None

    @property
    def owner(self) -> int | None:
        """Whose a flight is that is added now."""
        return None if self.account is None else self.account.id

    @property
    def sees_all(self) -> bool:
        """Whether everybody's flights are shown."""
        return self.alone or (self.account is not None and self.account.role != "pilot")

    @property
    def role(self) -> str:
        """The role, for what a page offers: "alone", "nobody" or an account's."""
        if self.alone:
            return "alone"
        return "nobody" if self.account is None else self.account.role

    @property
    def name(self) -> str:
        """Who it is, for the trail."""
        return "you" if self.account is None else self.account.name

    @property
    def the_flight(self) -> Flight:
        """The flight of the path."""
        if self.flight is None:
            raise RefusedError(404, tr("There is no such flight."))
        return self.flight

    def field(self, name: str, default: str = "") -> str:
        """A text field of the form."""
        value = self.form.get(name, default)
        return value if isinstance(value, str) else default


Handler = Callable[[Ask], Response]


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """A path, who may ask for it, and what answers. ``{flight}`` in it is one that must be the asker's own to see."""

    path: str
    handler: Handler
    method: Literal["GET", "POST", "DELETE"] = "GET"
    who: Who
    says: str  # what it does, for the description of the interface

    @property
    def is_interface(self) -> bool:
        """Whether scripts are answered here, in JSON."""
        return self.path.startswith("/api/")


def routes(paths: tuple[Path, ...]) -> list[Route]:
    """The paths as routes, each behind its rule."""
    return [Route(path.path, _guarded(path), methods=[path.method]) for path in paths]


def _guarded(path: Path) -> Callable[[Request], object]:
    async def endpoint(request: Request) -> Response:
        form = FormData()
        try:
            if path.method == "POST" and _is_form(request):
                form = await request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS)
            try:
                return await run_in_threadpool(_answer, path, request, form)
            finally:
                await form.close()
        except RefusedError as refused:
            return await run_in_threadpool(refusal, request, refused)

    return endpoint


def _is_form(request: Request) -> bool:
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    return kind in ("multipart/form-data", "application/x-www-form-urlencoded")


def _answer(path: Path, request: Request, form: FormData) -> Response:
    store: Store = request.app.state.store
    with store.open() as connection:
        session, account, by_token = _who_asks(request, connection)
        request.state.session = session
        request.state.account = account
        alone = _is_alone(request, connection)
        request.state.alone = alone
        if (
            path.method not in _SAFE
            and not by_token
            and not (alone and path.is_interface and _is_script(request))
        ):
            _refuse_forged(request, form, session)
        if path.who != "anybody" and not alone:
            if account is None:
                raise RefusedError(401, tr("Sign in first."))
            if account.role not in _ROLES[path.who]:
                raise RefusedError(
                    403,
                    tr(
                        "This is for the role {wanted}; you are signed in as {role}.",
                        wanted=tr(WHO_WORDS[path.who]),
                        role=tr(ROLE_WORDS[account.role]),
                    ),
                )
        ask = Ask(
            request=request,
            connection=connection,
            store=store,
            session=session,
            account=account,
            alone=alone,
            form=form,
            flight=None,
        )
        if "flight" in request.path_params:
            ask = replace(ask, flight=flight_for(ask, request.path_params["flight"]))
        response = path.handler(ask)
        if request.state.session.key and request.state.session.key not in request.cookies.get(
            sessions.COOKIE, ""
        ):
            _set_cookie(request, response, request.state.session)
        return response


def _who_asks(request: Request, connection: sqlite3.Connection) -> tuple[Session, Account | None, bool]:
    """The session (a new one where there is none), the account behind it, and whether a token named it."""
    kind, _, token = request.headers.get("authorization", "").partition(" ")
    if kind.lower() == "bearer" and token.startswith(TOKEN_PREFIX):
        account = holder_of_token(connection, token.strip())
        if account is None:
            raise RefusedError(
                401, tr("This token is not known, or has ended. Make another one under Account.")
            )
        return Session(key="", form_key="", account=account), account, True
    cookie = request.cookies.get(sessions.COOKIE, "")
    session = sessions.found(connection, request.app.state.secret, cookie) if cookie else None
    if session is None:
        session = Session(key="", form_key="", account=None)
        if request.method in _SAFE and not request.url.path.startswith("/api/"):
            session = sessions.begin(connection)
    return session, session.account, False


def _is_alone(request: Request, connection: sqlite3.Connection) -> bool:
    """Whether this is one person on one machine: bound to loopback, and no accounts were made."""
    return bool(request.app.state.loopback) and not were_there_any(connection)


def _is_script(request: Request) -> bool:
    """Whether no browser sent this: every one names the origin of what would change something."""
    return not any(name in request.headers for name in ("origin", "sec-fetch-site", "cookie", "referer"))


def _refuse_forged(request: Request, form: FormData, session: Session) -> None:
    """A change comes from our own page: the form's key fits the session, and the browser names no other origin."""
    origin = request.headers.get("origin")
    if origin is not None and urlsplit(origin).netloc != request.headers.get("host", ""):
        raise RefusedError(403, tr("This request came from another page, so nothing was changed."))
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        raise RefusedError(403, tr("This request came from another page, so nothing was changed."))
    sent = request.headers.get("x-form-key") or form.get("form_key") or ""
    if not isinstance(sent, str) or not session.form_key or not hmac.compare_digest(sent, session.form_key):
        raise RefusedError(
            403, tr("This page was open for too long. Load it again, then repeat what you did.")
        )


def flight_for(ask: Ask, name: str) -> Flight:
    """The flight of that id; whoever may not see it learns nothing of it, not even that it is there."""
    try:
        flight = flights.one(ask.connection, name)
    except LookupError as error:
        raise RefusedError(404, tr("There is no such flight.")) from error
    if not ask.sees_all and flight.owner != ask.owner:
        raise RefusedError(404, tr("There is no such flight."))
    return flight


def _set_cookie(request: Request, response: Response, session: Session) -> None:
    response.set_cookie(
        sessions.COOKIE,
        sessions.signed(request.app.state.secret, session.key),
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="strict",
    )
