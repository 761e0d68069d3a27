"""The list has a short way to a plain file; it must give what the usual way gives, and leave every doubt to it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from debrief.errors import LogbookError
from debrief.logbook import Entry, Logbook, add_flight, flights, open_logbook
from debrief.logbook.addresses import VERSION_TABLE
from debrief.logbook.listing import listed
from debrief.logbook.opening import writing
from debrief.logbook.removing import remove, set_alias
from tests.logbook.conftest import entry_of
from tests.logbook.hard_times import add_record, records


@pytest.fixture
def filled(any_book: Logbook) -> Logbook:
    """Pilots with and without an alias, flights with and without an approach, one removed."""
    with writing(any_book) as connection:
        for record in records(30):
            add_record(connection, record)
    add_flight(any_book, entry_of("lantern-wrong-side.gpx"), "Alder")
    add_flight(any_book, entry_of("lantern-no-approach.gpx"), "Alder")
    set_alias(any_book, "Pilot 1", "Heron")
    remove(any_book, [3])
    return any_book


def address_of(book: Logbook) -> str:
    return book.engine.url.render_as_string(hide_password=False).replace("+psycopg", "")


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"names": True},
        {"removed": True},
        {"since": date(2026, 3, 4)},
        {"since": date(2030, 1, 1)},
        {"pilots": ["heron", "Alder"]},
        {"procedure": "lantern-vor-22", "since": date(2026, 3, 4)},
    ],
)
def test_both_ways_give_the_same_list(filled: Logbook, asked: dict[str, object]):
    wanted = [
        (row.number, f"{row.started:%Y-%m-%d %H:%M}", row.pilot, row.procedure, row.grade, row.remark)
        for row in flights(filled, **asked)  # type: ignore[arg-type]
    ]

    assert [tuple(row) for row in listed(address_of(filled), **asked)] == wanted  # type: ignore[arg-type]
    assert wanted or "since" in asked


def test_the_list_of_a_plain_file_never_opens_it_for_writing(
    book: Logbook, clean: Entry, monkeypatch: pytest.MonkeyPatch
):
    add_flight(book, clean, "Wren")
    monkeypatch.setattr("debrief.logbook.opening.open_logbook", None)

    assert [row.pilot for row in listed(str(book.file))] == ["Wren"]


def test_a_flight_that_another_process_has_just_added_is_listed(book: Logbook, clean: Entry):
    """It still stands in the log beside the file, as long as the other process has the logbook open."""
    add_flight(book, clean, "Wren")
    assert book.file is not None
    assert book.file.with_name(f"{book.file.name}-wal").stat().st_size

    assert len(listed(str(book.file))) == 1


def test_what_no_link_can_hold_may_stand_in_a_files_name(tmp_path: Path, clean: Entry):
    file = tmp_path / "our club? 50% #1.sqlite"
    add_flight(open_logbook(file), clean, "Wren")

    assert file.is_file()
    assert [row.pilot for row in listed(str(file))] == ["Wren"]


def _newer(file: Path) -> None:
    with sqlite3.connect(file) as raw:
        raw.execute(f"UPDATE {VERSION_TABLE} SET version_num = '9999'")
    raw.close()


def _torn(file: Path) -> None:
    file.write_bytes(file.read_bytes()[:20_000])


def _no_logbook(file: Path) -> None:
    file.write_text("a text, and long enough to be taken for something" * 40)


@pytest.mark.parametrize(
    ("harm", "said"), [(_newer, "a newer debrief"), (_torn, "damaged"), (_no_logbook, "this is no logbook")]
)
def test_whatever_is_not_plain_is_said_as_everywhere(
    book: Logbook, clean: Entry, harm: Callable[[Path], None], said: str
):
    add_flight(book, clean, "Wren")
    book.engine.dispose()
    assert book.file is not None
    harm(book.file)

    with pytest.raises(LogbookError, match=said):
        listed(str(book.file))


def test_a_logbook_that_is_not_there_is_said_and_not_made(tmp_path: Path):
    with pytest.raises(LogbookError, match=r"new\.sqlite: there is no such logbook"):
        listed(str(tmp_path / "new.sqlite"))

    assert list(tmp_path.iterdir()) == []
