"""Removed is not lost; erased is."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.errors import LogbookError
from debrief.logbook import Entry, Logbook, add_flight, approaches, flights, open_logbook, original, pilots
from debrief.logbook.removing import erase, remove, set_alias, undo
from tests.logbook.conftest import entry_of


def test_a_removed_flight_can_be_brought_back(book: Logbook, clean: Entry, wrong_side: Entry):
    one, two = (add_flight(book, entry, "Wren").flight for entry in (clean, wrong_side))

    remove(book, [one])
    assert [row.number for row in flights(book)] == [two]
    assert [approach.flight for approach in approaches(book)] == [two]
    assert [row.number for row in flights(book, removed=True)] == [one]
    assert pilots(book)[0].flights == 1

    assert undo(book) == (one,)
    assert len(flights(book)) == 2
    assert undo(book) == ()


def test_undo_brings_back_the_latest_removal_first(book: Logbook, clean: Entry, wrong_side: Entry):
    one, two = (add_flight(book, entry, "Wren").flight for entry in (clean, wrong_side))
    remove(book, [two])
    remove(book, [one])

    assert [undo(book), undo(book), undo(book)] == [(one,), (two,), ()]


def test_adding_a_removed_flight_brings_it_back(book: Logbook, clean: Entry):
    number = add_flight(book, clean, "Wren").flight
    remove(book, [number])

    added = add_flight(book, clean, "Wren")

    assert (added.flight, added.outcome) == (number, "brought back")
    assert len(flights(book)) == 1


def test_removing_what_is_not_there_removes_nothing(book: Logbook, clean: Entry):
    number = add_flight(book, clean, "Wren").flight

    with pytest.raises(LogbookError, match="there is no flight 99"):
        remove(book, [number, 99])

    assert len(flights(book)) == 1


def test_a_pilot_is_shown_by_the_alias_and_found_by_both(book: Logbook, clean: Entry):
    add_flight(book, clean, "Wren")
    set_alias(book, "wren", "Pilot A")

    assert [row.pilot for row in flights(book)] == ["Pilot A"]
    assert [row.pilot for row in flights(book, names=True)] == ["Wren"]
    assert [approach.pilot for approach in approaches(book)] == ["Pilot A"]
    assert len(flights(book, pilots=["pilot a"])) == len(flights(book, pilots=["WREN"])) == 1

    set_alias(book, "Pilot A", None)
    assert [row.pilot for row in flights(book)] == ["Wren"]


def test_an_alias_never_makes_one_of_two_pilots(book: Logbook, clean: Entry, wrong_side: Entry):
    add_flight(book, clean, "Wren")
    add_flight(book, wrong_side, "Heron")
    set_alias(book, "Heron", "Grey")

    for taken in ("heron", "GREY"):
        with pytest.raises(LogbookError, match="somebody else in the logbook is called"):
            set_alias(book, "Wren", taken)


def test_an_erased_pilot_is_gone_from_the_file_itself(book: Logbook, clean: Entry, wrong_side: Entry):
    """Not a byte of name or log stays, in free space or the write-ahead log either."""
    assert book.file is not None
    add_flight(book, clean, "Wrenbergsson")
    add_flight(book, entry_of("quillow-overshoot.gpx", "quillow-ndb-18"), "Wrenbergsson")
    kept = add_flight(book, wrong_side, "Heron").flight

    assert erase(book, "Wrenbergsson") == 2

    assert [row.name for row in pilots(book)] == ["Heron"]
    assert len(original(book, kept).content) > 0
    book.engine.dispose()
    for path in book.file.parent.iterdir():
        assert b"Wrenbergsson" not in path.read_bytes()
        assert b"quillow-overshoot" not in path.read_bytes()


def test_a_number_is_never_given_twice(book: Logbook, clean: Entry, wrong_side: Entry):
    """An old list that names flight 1 must not come to mean another flight."""
    number = add_flight(book, clean, "Wren").flight
    erase(book, "Wren")

    assert add_flight(book, wrong_side, "Wren").flight > number


def test_two_openings_of_one_file_see_the_same(book: Logbook, clean: Entry):
    assert book.file is not None
    other = open_logbook(Path(book.file))
    add_flight(book, clean, "Wren")

    assert len(flights(other)) == 1
