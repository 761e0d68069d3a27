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
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import FrameType
from typing import TextIO

from debrief.errors import OutputError

CAUTION = (
    "For simulator flying and training debriefs only. Not for navigation: the published procedure, local rules "
    "and a qualified instructor or examiner prevail."
)
_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")  # the last one is not on every system
_UNDOING_S = 1.0  # for so long a second signal waits for the first to be obeyed


class Stopped(BaseException):  # no error, and nothing that handles errors may take it for one
    """The user or the system asked the program to stop."""

    def __init__(self, number: int) -> None:
        self.status = 128 + number  # common practice of shells
        super().__init__(f"stopped by signal {number}")


@dataclass(slots=True)
class _Asked:
    """That it was asked to stop, and when: compiled libraries may drop an exception or turn it into another."""

    number: int | None = None
    at_s: float = 0.0


_asked = _Asked()


def stop_if_asked() -> None:
    """Raise ``Stopped`` where it was asked for, whatever became of it then."""
    if _asked.number is not None:
        raise Stopped(_asked.number)


@contextmanager
def stopping_on_signals() -> Iterator[None]:
    """Raise ``Stopped`` where the program is interrupted or ended, so that everything half done is undone."""
    _asked.number = None
    before = {
        number: signal.signal(number, _stop)
        for name in _SIGNALS
        if (number := getattr(signal, name, None)) is not None
    }
    try:
        yield
    except Exception:
        stop_if_asked()
        raise
    else:
        stop_if_asked()
    finally:
        _asked.number = None
        for number, handler in before.items():
            signal.signal(number, handler)


def _stop(number: int, _frame: FrameType | None) -> None:
    now_s = time.monotonic()
    again = _asked.number is not None and now_s - _asked.at_s < _UNDOING_S
    _asked.number, _asked.at_s = number, now_s
    if not again:  # asked twice, what is half done is still undone
        raise Stopped(number)


def say(line: str) -> None:
    """A line on standard output. Where its reader has gone away, the work goes on in silence."""
    _write(sys.stdout, line + "\n")


def say_all(lines: Sequence[str]) -> None:
    """Lines on standard output, all at once: thousands take no longer than they must."""
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    _write(sys.stdout, "".join(printable(line, encoding) + "\n" for line in lines), clean=True)


def complain(line: str) -> None:
    """A line on standard error."""
    _write(sys.stderr, line + "\n")


@contextmanager
def shown_as_working(text: str) -> Iterator[None]:
    """Show on a terminal what is being worked on, and take it away again; elsewhere show nothing.

    Raises ``Stopped`` at its end where that was asked for and lost on the way.
    """
    terminal = sys.stderr is not None and sys.stderr.isatty()
    try:
        if terminal:
            _write(sys.stderr, f"{text} ...")
        yield
    finally:
        if terminal:
            _write(sys.stderr, "\r" + " " * (len(text) + 4) + "\r")
        stop_if_asked()


def printable(text: str, encoding: str = "utf-8") -> str:
    r"""The text with a question mark for whatever a terminal would obey or could not show.

    >>> printable("a\x1b[31m\nb\udcff")
    'a?[31m?b?'
    >>> printable("Höhe", "ascii")
    'H?he'
    """
    clean = text if text.isprintable() else "".join(x if x.isprintable() else "?" for x in text)
    return clean.encode(encoding, "replace").decode(encoding)


def _write(stream: TextIO | None, text: str, *, clean: bool = False) -> None:
    if stream is None:  # closed before we began
        return
    body = text.strip("\r\n")
    try:
        if body and not clean:
            text = text.replace(body, printable(body, stream.encoding or "ascii"))
        stream.write(text)
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
