"""The application: the paths behind their wrappers.

Owns      ``make_app``.
Not here  serving it, its workers, its lock (``server``).
"""

from __future__ import annotations

import logging

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

from debrief.language import tr
from debrief.web.answers import HERE, RefusedError, refusal
from debrief.web.guard import routes
from debrief.web.headers import Bodies, Headers, Hosts
from debrief.web.paths import PATHS
from debrief.web.store import Store

_log = logging.getLogger("debrief.web")


class _Kept(StaticFiles):
    """Static files: an address with a sum changes with the file, so a browser may keep that."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        if response.status_code == 200 and scope["query_string"]:
            response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        elif response.status_code == 200:  # a part that a script loads by its plain name
            response.headers["Cache-Control"] = "no-cache"
        return response


def make_app(store: Store, *, loopback: bool, language: str = "") -> ASGIApp:
    """The application over a data folder.

    Parameters
    ----------
    loopback : nobody but this machine can reach it.
    language : of every page; that of each browser where empty.
    """
    app = Starlette(
        routes=[*routes(PATHS), Mount("/static", _Kept(directory=HERE / "static"), name="static")],
        middleware=[
            Middleware(Hosts, loopback=loopback),
            Middleware(Bodies),
        ],
        exception_handlers={HTTPException: _http_error, Exception: _fault},
    )
    app.state.store = store
    app.state.loopback = loopback
    app.state.secret = store.secret()
    return Headers(app, language)  # outermost: on the answer to a fault, too


async def _http_error(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    said = {
        404: tr("There is nothing at this address. It may have been removed."),
        405: tr("That cannot be done at this address."),
    }.get(status, tr("This request cannot be understood."))
    return await run_in_threadpool(refusal, request, RefusedError(status, said))


async def _fault(request: Request, error: Exception) -> Response:
    _log.error("fault at %s %s", request.method, request.url.path, exc_info=error)
    said = tr(
        "This did not work, by a fault of debrief. Nothing that was saved is lost. Load the page again."
    )
    return await run_in_threadpool(refusal, request, RefusedError(500, said))
