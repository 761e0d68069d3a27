"""A worker: a process of its own that takes flights from the queue, with limits on memory and time.

Owns      the loop of one worker, and its limits; ``python -m debrief.web.worker FOLDER``.
Not here  the work (``work``), starting workers and ending those that take too long (``server``).

It ends with the server: its standard input closes then. One log that ends it suddenly takes no other with it.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
import sys
import threading
import time
from functools import partial
from pathlib import Path
from typing import cast

from debrief.web import flights
from debrief.web.flights import State
from debrief.web.limits import LONGEST_WORK_S, MOST_MEMORY_BYTES
from debrief.web.store import Store

_PAUSE_S = 0.1
_FLIGHTS_BEFORE_REST = 100  # then the process is replaced: libraries keep memory


def main() -> None:
    """Work until the server is gone, or long enough."""
    store = Store(Path(sys.argv[1]))
    _limit_memory()
    threading.Thread(target=_end_with_server, daemon=True).start()
    from debrief.web.work import work  # the libraries: before the first flight waits

    done = 0
    with store.open() as connection:
        while done < _FLIGHTS_BEFORE_REST:
            lease = f"{os.getpid()}-{secrets.token_hex(8)}"
            flight = flights.claim(connection, lease)
            if flight is None:
                time.sleep(_PAUSE_S)
                continue
            alarm = threading.Timer(LONGEST_WORK_S, _took_too_long, (store, lease))
            alarm.daemon = True
            alarm.start()
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
                flights.refuse(connection, lease, _fault(error))
            finally:
                alarm.cancel()
            done += 1


def _fault(error: Exception) -> str:
    import traceback

    frames = traceback.extract_tb(error.__traceback__)
    ours = Path(__file__).parents[1]
    place = next((frame for frame in reversed(frames) if ours in Path(frame.filename).parents), None)
    at = f", {Path(place.filename).name} line {place.lineno}" if place is not None else ""
    return (
        f"This cannot be debriefed: {type(error).__name__}{at}. That is a fault of debrief: please report it with "
        "what debrief --version says."
    )


def _took_too_long(store: Store, lease: str) -> None:
    """A log that takes too long is refused, and the process that still reads it ends."""
    with store.open() as connection:
        flights.refuse(
            connection,
            lease,
            f"Reading it takes longer than the {LONGEST_WORK_S:.0f} s that are allowed. Cut the flight out of it.",
        )
    os._exit(3)


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
