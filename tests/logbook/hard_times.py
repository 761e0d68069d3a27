"""What a process does to a logbook until it is killed, its disk is full, or another writes too; run as a child.

``records(n)`` gives n flights that differ in time and content alone, made of one debrief.
"""

from __future__ import annotations

import dataclasses
import hashlib
import resource
import signal
from collections.abc import Callable
from datetime import timedelta
from functools import cache
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from typing import Any

from debrief.errors import DebriefError
from debrief.logbook import open_logbook
from debrief.logbook.adding import add_record
from debrief.logbook.keeping import refresh
from debrief.logbook.opening import writing
from debrief.logbook.portable import import_from
from debrief.logbook.record import Record, record_of
from tests.logbook.conftest import entry_of


@cache
def one_record() -> Record:
    """The one debrief that all records are made of."""
    return record_of(entry_of("lantern-clean.gpx"), "Wren")


def records(count: int, *, first: int = 0, pilots: int = 4) -> list[Record]:
    """Flights, one an hour, of several pilots."""
    base = one_record()
    made = []
    for number in range(first, first + count):
        later = timedelta(hours=number)
        original = base.original + f"<!-- {number} -->\n".encode()
        flight = {
            **base.flight,
            "sha256": hashlib.sha256(original).hexdigest(),
            "file": f"flight-{number}.gpx",
            "started": base.flight["started"] + later,
            "ended": base.flight["ended"] + later,
        }
        attempts = tuple({**attempt, "started": attempt["started"] + later} for attempt in base.attempts)
        made.append(
            dataclasses.replace(
                base, pilot=f"Pilot {number % pilots}", flight=flight, attempts=attempts, original=original
            )
        )
    return made


def add_all(address: str, first: int, count: int, done: Any) -> None:
    """Add flights one by one, and count those that were told to be added."""
    ready = records(count, first=first)
    book = open_logbook(address)
    for record in ready:
        with writing(book) as connection:
            add_record(connection, record)
        done.value += 1


def refresh_all(address: str, done: Any) -> None:
    """Measure everything again, over and over."""
    entry_of("lantern-clean.gpx")  # what is loaded for it is loaded
    book = open_logbook(address)
    done.value = 1
    while True:
        for _ in refresh(book, everything=True):
            done.value += 1


def import_all(address: str, file: str, done: Any) -> None:
    """Import a portable file."""
    book = open_logbook(address)
    done.value = 1
    for _ in import_from(book, Path(file)):
        done.value += 1


def add_until_full(address: str, largest_bytes: int, told: Any) -> None:
    """Add flights while no file may grow beyond a size; tell what was said in the end."""
    ready = records(60)
    book = open_logbook(address)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # the system's refusal comes as an error then
    resource.setrlimit(resource.RLIMIT_FSIZE, (largest_bytes, largest_bytes))
    try:
        for record in ready:
            with writing(book) as connection:
                add_record(connection, record)
    except DebriefError as error:
        told.value = str(error).encode()


def started(context: Any, what: Callable[..., None], *arguments: object) -> ForkServerProcess:
    """A child that is at work."""
    process: ForkServerProcess = context.Process(target=what, args=arguments)
    process.start()
    return process
