"""Removed is not lost; erased is."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.errors import LogbookError
from debrief.logbook import Entry, Logbook, add_flight, approaches, flights, open_logbook, original, pilots
from debrief.logbook.removing import erase, remove, set_alias, undo
from tests.logbook.conftest import entry_of


def test_a_removed_flight_can_be_brought_back(any_book: Logbook, clean: Entry, wrong_side: Entry):
    one, two = (add_flight(any_book, entry, "Wren").flight for entry in (clean, wrong_side))

    remove(any_book, [one])
    assert [row.number for row in flights(any_book)] == [two]
    assert [approach.flight for approach in approaches(any_book)] == [two]
    assert [row.number for row in flights(any_book, removed=True)] == [one]
    assert pilots(any_book)[0].flights == 1

    assert undo(any_book) == (one,)
    assert len(flights(any_book)) == 2
    assert undo(any_book) == ()


def test_undo_brings_back_the_latest_removal_first(any_book: Logbook, clean: Entry, wrong_side: Entry):
    one, two = (add_flight(any_book, entry, "Wren").flight for entry in (clean, wrong_side))
    remove(any_book, [two])
    remove(any_book, [one])

    assert [undo(any_book), undo(any_book), undo(any_book)] == [(one,), (two,), ()]


def test_adding_a_removed_flight_brings_it_back(any_book: Logbook, clean: Entry):
    number = add_flight(any_book, clean, "Wren").flight
    remove(any_book, [number])

    added = add_flight(any_book, clean, "Wren")

    assert (added.flight, added.outcome) == (number, "brought back")
    assert len(flights(any_book)) == 1


def test_removing_what_is_not_there_removes_nothing(any_book: Logbook, clean: Entry):
    number = add_flight(any_book, clean, "Wren").flight

    with pytest.raises(LogbookError, match="there is no flight 99"):
        remove(any_book, [number, 99])

    assert len(flights(any_book)) == 1


def test_a_pilot_is_shown_by_the_alias_and_found_by_both(any_book: Logbook, clean: Entry):
    add_flight(any_book, clean, "Wren")
    set_alias(any_book, "wren", "Pilot A")

    assert [row.pilot for row in flights(any_book)] == ["Pilot A"]
    assert [row.pilot for row in flights(any_book, names=True)] == ["Wren"]
    assert [approach.pilot for approach in approaches(any_book)] == ["Pilot A"]
    assert len(flights(any_book, pilots=["pilot a"])) == len(flights(any_book, pilots=["WREN"])) == 1

    set_alias(any_book, "Pilot A", None)
    assert [row.pilot for row in flights(any_book)] == ["Wren"]


def test_an_alias_never_makes_one_of_two_pilots(any_book: Logbook, clean: Entry, wrong_side: Entry):
    add_flight(any_book, clean, "Wren")
    add_flight(any_book, wrong_side, "Heron")
    set_alias(any_book, "Heron", "Grey")

    for taken in ("heron", "GREY"):
        with pytest.raises(LogbookError, match="somebody else in the logbook is called"):
            set_alias(any_book, "Wren", taken)


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


def test_a_number_is_never_given_twice(any_book: Logbook, clean: Entry, wrong_side: Entry):
    """An old list that names flight 1 must not come to mean another flight."""
    number = add_flight(any_book, clean, "Wren").flight
    erase(any_book, "Wren")

    assert add_flight(any_book, wrong_side, "Wren").flight > number


def test_two_openings_of_one_file_see_the_same(book: Logbook, clean: Entry):
    assert book.file is not None
    other = open_logbook(Path(book.file))
    add_flight(book, clean, "Wren")

    assert len(flights(other)) == 1
