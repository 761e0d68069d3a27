"""The terminal: lines that any terminal can show, work in progress, and being told to stop.

Owns      what reaches standard output and standard error, the caution of every help text, and what happens where
          nobody reads them any more.
Not here  what is said.
Imports   nothing heavy: the help text must appear at once.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TextIO

from debrief.errors import OutputError

CAUTION = (
    "For simulator flying and training debriefs only. Not for navigation: the published procedure, local rules "
    "and a qualified instructor or examiner prevail."
)
_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")  # the last one is not on every system


class Stopped(BaseException):  # no error, and nothing that handles errors may take it for one
    """The user or the system asked the program to stop."""

    def __init__(self, number: int) -> None:
        self.status = 128 + number  # common practice of shells
        super().__init__(f"stopped by signal {number}")


@contextmanager
def stopping_on_signals() -> Iterator[None]:
    """Raise ``Stopped`` where the program is interrupted or ended, so that everything half done is undone."""
    before = {
        number: signal.signal(number, _stop)
        for name in _SIGNALS
        if (number := getattr(signal, name, None)) is not None
    }
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _stop(number: int, _frame: FrameType | None) -> None:
    signal.signal(number, signal.SIG_IGN)  # asked twice, what is half done is still undone
    raise Stopped(number)


def say(line: str) -> None:
    """A line on standard output. Where its reader has gone away, the work goes on in silence."""
    _write(sys.stdout, line + "\n")


def complain(line: str) -> None:
    """A line on standard error."""
    _write(sys.stderr, line + "\n")


@contextmanager
def shown_as_working(text: str) -> Iterator[None]:
    """Show on a terminal what is being worked on, and take it away again; elsewhere show nothing."""
    terminal = sys.stderr is not None and sys.stderr.isatty()
    if terminal:
        _write(sys.stderr, f"{text} ...")
    try:
        yield
    finally:
        if terminal:
            _write(sys.stderr, "\r" + " " * (len(text) + 4) + "\r")


def printable(text: str, encoding: str = "utf-8") -> str:
    r"""The text with a question mark for whatever a terminal would obey or could not show.

    >>> printable("a\x1b[31m\nb\udcff")
    'a?[31m?b?'
    >>> printable("Höhe", "ascii")
    'H?he'
    """
    clean = "".join(letter if letter.isprintable() else "?" for letter in text)
    return clean.encode(encoding, "replace").decode(encoding)


def _write(stream: TextIO | None, text: str) -> None:
    if stream is None:  # closed before we began
        return
    body = text.strip("\r\n")
    try:
        stream.write(text.replace(body, printable(body, stream.encoding or "ascii")) if body else text)
        stream.flush()
    except BrokenPipeError:
        _discard(stream)
    except OSError as error:
        _discard(stream)
        name = "standard error" if stream is sys.stderr else "standard output"
        raise OutputError(f"{name} cannot be written: {error.strerror or error}") from error


def _discard(stream: TextIO) -> None:
    """Send the rest to nowhere: Python would complain of it again at its end."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)
