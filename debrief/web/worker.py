"""A worker: a process of its own that does what is waited for, with limits on memory and time.

Owns      the loop of one worker, and its limits; ``python -m debrief.web.worker FOLDER LOGBOOK``.
Not here  the work on a log (``work``), the logbook (``booking``), what pages need (``board``, ``pile``), starting workers and ending those that take too long (``server``).

It ends with the server: its standard input closes then. One log that ends it suddenly takes no other with it.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from debrief.errors import DebriefError
from debrief.language import mark, speaking
from debrief.web import booking, flights, tasks
from debrief.web.flights import Flight, State
from debrief.web.limits import LONGEST_WORK_S, MOST_MEMORY_BYTES
from debrief.web.store import Store

if TYPE_CHECKING:
    from debrief.logbook import Logbook

_PAUSE_S = 0.1
_FLIGHTS_BEFORE_REST = 100  # then the process is replaced: libraries keep memory


def main() -> None:
    """Work until the server is gone, or long enough."""
    store, address = Store(Path(sys.argv[1])), sys.argv[2]
    _limit_memory()
    threading.Thread(target=_end_with_server, daemon=True).start()
    import debrief.web.work  # noqa: F401  # the libraries: before the first flight waits

    done = 0
    with store.open() as connection:
        while done < _FLIGHTS_BEFORE_REST:
            lease = f"{os.getpid()}-{secrets.token_hex(8)}"
            if not work_once(store, connection, address, lease):
                time.sleep(_PAUSE_S)
                continue
            done += 1


def work_once(store: Store, connection: sqlite3.Connection, address: str, lease: str) -> bool:
    """Do one thing that is waited for: what a page needs first, then the logbook, then a log. False where nothing is."""
    task = tasks.claim(connection, lease)
    if task is not None:
        with _in_time(lambda: _give_up(store, lease)):
            _compute(store, connection, address, task, lease)
        return True
    entered = booking.claim(connection, lease)
    if entered is not None:
        with _in_time(lambda: None):
            _book(store, connection, address, entered)
        return True
    flight = flights.claim(connection, lease)
    if flight is not None:
        with _in_time(lambda: _took_too_long(store, lease)):
            _debrief(store, connection, flight, lease)
        return True
    return False


def _debrief(store: Store, connection: sqlite3.Connection, flight: Flight, lease: str) -> None:
    from debrief.web.work import work

    try:
        ended = work(
            store,
            flight,
            partial(flights.tell, connection, lease),
            partial(flights.show, connection, lease),
        )
        flights.finish(
            connection,
            lease,
            cast(State, ended.state),
            said=ended.said,
            asks=ended.asks,
            summary=ended.summary,
            result_key=ended.result_key,
            pilot=ended.pilot,
        )
    except sqlite3.Error:
        raise
    except Exception as error:  # a fault of ours: this flight is told, the next one is taken
        flights.refuse(connection, lease, f"This cannot be debriefed: {_fault(error)}")


def _book(store: Store, connection: sqlite3.Connection, address: str, flight: Flight) -> None:
    try:
        booking.book(store, connection, partial(_logbook, address), flight)
    except sqlite3.Error:
        raise
    except Exception as error:  # a fault of ours, which another try would not mend
        booking.give_up(connection, flight, f"It could not be put there: {_fault(error)}")


def _compute(
    store: Store, connection: sqlite3.Connection, address: str, task: tasks.Task, lease: str
) -> None:
    from debrief.web.board import board
    from debrief.web.pile import copies
    from debrief.web.work import say_in

    before, said = tasks.content_of(store, task.name), ""
    content: Mapping[str, Any] | None
    try:
        if task.kind == "report":
            say_in(store, flights.one(connection, task.about["flight"]), task.about["language"])
            content = before
        elif task.kind == "board":
            with speaking(task.about["language"]):
                content = board(_logbook(address), connection, task.about, before)
        else:
            content = copies(store, connection, before)
        if content is not None and content is not before:
            tasks.keep(store, task.name, content)
    except sqlite3.Error:
        raise
    except DebriefError as error:
        said = str(error)
    except Exception as error:  # a fault of ours: who asked is told
        said = f"This could not be worked out: {_fault(error)}"
    tasks.finish(connection, lease, said)


@cache
def _logbook(address: str) -> Logbook:
    """The logbook, opened at its first use and kept open."""
    from debrief.logbook.opening import open_logbook

    return open_logbook(address)


@contextmanager
def _in_time(too_late: Callable[[], None]) -> Iterator[None]:
    """What takes too long ends this process, after ``too_late``."""

    def end() -> None:
        too_late()
        os._exit(3)

    alarm = threading.Timer(LONGEST_WORK_S, end)
    alarm.daemon = True
    alarm.start()
    try:
        yield
    finally:
        alarm.cancel()


def _fault(error: Exception) -> str:
    import traceback

    frames = traceback.extract_tb(error.__traceback__)
    ours = Path(__file__).parents[1]
    place = next((frame for frame in reversed(frames) if ours in Path(frame.filename).parents), None)
    at = f", {Path(place.filename).name} line {place.lineno}" if place is not None else ""
    return f"{type(error).__name__}{at}. That is a fault of debrief: please report it with what debrief --version says."


def _took_too_long(store: Store, lease: str) -> None:
    """A log that takes too long is refused."""
    with store.open() as connection:
        flights.refuse(
            connection,
            lease,
            mark("Reading it takes longer than is allowed. Cut the flight out of it."),
        )


def _give_up(store: Store, lease: str) -> None:
    with store.open() as connection:
        tasks.finish(connection, lease, mark("It takes longer than is allowed."))


def _end_with_server() -> None:
    """Nothing is ever written to standard input: it ends when the server does, however that was."""
    sys.stdin.buffer.read()
    os._exit(0)


def _limit_memory() -> None:
    try:
        import resource
    except ImportError:  # not on every system
        return
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


if __name__ == "__main__":
    main()
