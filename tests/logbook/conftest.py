"""Debriefed sample flights, made once; a new logbook for each test."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from debrief.grading import load_standard
from debrief.logbook import Entry, Logbook, measure_log, open_logbook
from debrief.procedures import load_procedure
from tests.logbook.postgres import Server, running_server

SAMPLES = Path(__file__).parents[2] / "sample_tracks"


@cache
def entry_of(name: str, procedure: str = "lantern-vor-22") -> Entry:
    """A sample track, debriefed."""
    return measure_log(
        SAMPLES / name, procedures=[load_procedure(procedure)], standard=load_standard("training")
    )


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A PostgreSQL server, one for all tests of a process."""
    with running_server() as running:
        yield running


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    """A new logbook in a file."""
    return open_logbook(tmp_path / "club.sqlite")


@pytest.fixture
def shared(server: Server) -> Iterator[Logbook]:
    """A new logbook in PostgreSQL, opened by its owner."""
    opened = open_logbook(server.address(server.new_database()))
    yield opened
    opened.engine.dispose()


@pytest.fixture(params=["SQLite", "PostgreSQL"])
def any_book(request: pytest.FixtureRequest) -> Logbook:
    """A new logbook of either kind: the same must hold for both."""
    found: Logbook = request.getfixturevalue("book" if request.param == "SQLite" else "shared")
    return found


@pytest.fixture
def clean() -> Entry:
    """A flight without a fault."""
    return entry_of("lantern-clean.gpx")


@pytest.fixture
def wrong_side() -> Entry:
    """A flight with a grave fault."""
    return entry_of("lantern-wrong-side.gpx")
