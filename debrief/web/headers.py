"""What holds for every request and answer: headers that forbid, sizes and times that end it, names it may be sent to.

Owns      ``Headers``, ``Hosts`` and ``Bodies``: three wrappers round the whole application.
Not here  who may ask for what (``guard``).
Source    OWASP ASVS 4.0.3, 12.1 (sizes), 13.2, 14.4 (headers), 14.5 (host). Mark: memory.

No page holds a script or a style of its own: everything comes from the static files, so the policy allows nothing else.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping

from starlette.datastructures import MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from debrief.language import ENGLISH, languages, speaking, tr
from debrief.web.limits import (
    LONGEST_SILENCE_S,
    LONGEST_UPLOAD_S,
    MEGABYTE,
    MOST_FORM_BYTES,
    MOST_REQUEST_BYTES,
)

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'; manifest-src 'self'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}
TAKES_LOGS = frozenset({"/flights", "/api/v1/flights"})
_MOST_LANGUAGES = 20  # of those that a browser asks for
_LOOPBACK = frozenset({"localhost", "127.0.0.1", "[::1]"})


class Headers:
    """Puts the forbidding headers on every answer, and speaks the language of who asks, or the one that was given."""

    def __init__(self, app: ASGIApp, language: str = "") -> None:
        self.app = app
        self.language = language

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, with the headers."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        language = self.language or _asked_for(scope)

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)  # a picture has a stricter policy of its own
                headers.setdefault("Cache-Control", "no-store")
                headers.setdefault("Content-Language", language)
                headers.add_vary_header("Accept-Language")
                if scope["scheme"] == "https":
                    headers["Strict-Transport-Security"] = "max-age=31536000"
            await send(message)

        with speaking(language):
            await self.app(scope, receive, with_headers)


def _asked_for(scope: Scope) -> str:
    """The language that the browser likes best, of those there are. Source: RFC 9110, 12.5.4 (memory)."""
    there, liked = languages(), []
    for part in _header(scope, b"accept-language").split(",")[:_MOST_LANGUAGES]:
        name, _, weight = part.strip().partition(";")
        code = name.strip().partition("-")[0].lower()
        try:
            quality = float(weight.strip().removeprefix("q=") or 1.0) if weight else 1.0
        except ValueError:
            quality = 0.0
        if code in there and quality > 0.0:
            liked.append((quality, code))
    return max(liked, key=lambda entry: entry[0])[1] if liked else ENGLISH


class Hosts:
    """On loopback, takes only what was sent to loopback by that name: no other page's name may lead here."""

    def __init__(self, app: ASGIApp, *, loopback: bool) -> None:
        self.app = app
        self.loopback = loopback

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse what was sent to another name."""
        if scope["type"] == "http" and self.loopback:
            host = _header(scope, b"host").rpartition(":")
            name = host[0] if host[1] and host[2].isdigit() else "".join(host)
            if name not in _LOOPBACK:
                answer = PlainTextResponse(tr("This page answers to localhost only."), 400)
                await answer(scope, receive, send)
                return
        await self.app(scope, receive, send)


class _TooLargeError(Exception):
    pass


class _TooSlowError(Exception):
    pass


class Bodies:
    """Ends a request that is too large or too slow, before and while it is read."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse what is too much."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        most = MOST_REQUEST_BYTES if scope["path"] in TAKES_LOGS else MOST_FORM_BYTES
        said = tr(
            "This is larger than the {most:.0f} MB that are taken at once. Send less at a time.",
            most=most / MEGABYTE,
        )
        length = _header(scope, b"content-length")
        if length.isdigit() and int(length) > most:
            await _refuse(scope, receive, send, 413, said)
            return
        counted, began = 0, time.monotonic()
        started = False

        async def counting() -> Message:
            nonlocal counted
            try:
                message = await asyncio.wait_for(receive(), None if started else LONGEST_SILENCE_S)
            except TimeoutError as error:
                raise _TooSlowError from error
            if message["type"] == "http.request":
                counted += len(message.get("body", b""))
                if counted > most:
                    raise _TooLargeError
                if time.monotonic() - began > LONGEST_UPLOAD_S:
                    raise _TooSlowError
            return message

        async def starting(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self.app(scope, counting, starting)
        except _TooLargeError:
            await _refuse(scope, receive, send, 413, said)
        except _TooSlowError:
            if not started:
                await _refuse(
                    scope, receive, send, 408, tr("This came too slowly, and was given up. Send it again.")
                )


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, said: str) -> None:
    headers: Mapping[str, str] = {"Connection": "close"}
    answer = (
        JSONResponse({"error": said}, status, headers=headers)
        if scope["path"].startswith("/api/")
        else PlainTextResponse(said, status, headers=headers)
    )
    await answer(scope, receive, send)


def _header(scope: Scope, name: bytes) -> str:
    return next((value.decode("latin-1") for key, value in scope["headers"] if key == name), "")
