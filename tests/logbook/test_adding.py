"""A flight goes into a logbook once, whole, and comes out as it went in."""

from __future__ import annotations

import dataclasses
import gzip
import shutil
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from debrief.errors import LogbookError, TrackError
from debrief.grading import load_standard
from debrief.logbook import (
    Entry,
    Logbook,
    Reading,
    add_flight,
    approaches,
    flight,
    flights,
    measure_log,
    open_logbook,
    original,
    pilots,
    stored_result,
)
from debrief.procedures import load_procedure
from tests.logbook.conftest import SAMPLES, entry_of

ONE_PACE_NM = 0.001
ONE_FOOT = 1.0


def test_a_flight_comes_out_as_it_went_in(any_book: Logbook, clean: Entry):
    added = add_flight(any_book, clean, "  Wren   Alder ")

    assert (added.outcome, added.pilot) == ("added", "Wren Alder")
    assert original(any_book, added.flight).content == (SAMPLES / "lantern-clean.gpx").read_bytes()
    assert stored_result(any_book, added.flight) == dataclasses.replace(clean.result, flight=None)
    (row,) = flights(any_book)
    assert (row.pilot, row.procedure, row.grade, row.attempts) == (
        "Wren Alder",
        "Lantern VOR/DME runway 22",
        "satisfactory",
        1,
    )
    assert row.started == clean.result.track.start
    assert row == flight(any_book, added.flight)


def test_an_approach_has_its_measures_by_their_path_in_the_result_file(any_book: Logbook, clean: Entry):
    add_flight(any_book, clean, "Wren")

    (approach,) = approaches(any_book)
    attempt = clean.result.attempts[0]
    assert attempt.measures.outbound is not None
    assert attempt.measures.outbound.cross_track_nm is not None
    assert approach.measures["outbound.cross_track_nm.rms"] == attempt.measures.outbound.cross_track_nm.rms
    assert attempt.measures.intercept is not None
    assert approach.measures["intercept.overshoot_nm"] == attempt.measures.intercept.overshoot_nm
    assert not [name for name in approach.measures if "time" in name.rpartition(".")[2].split("_")[-1:]]
    assert approach.items == tuple((item.rule, item.phase, item.result) for item in attempt.grade.items)


def test_a_path_is_kept_to_a_pace_and_a_foot(any_book: Logbook, clean: Entry):
    add_flight(any_book, clean, "Wren")

    (approach,) = approaches(any_book)
    path = approach.path()
    found = clean.result.flight.attempts[0]
    view = clean.result.flight.view.between(found.start_s, found.end_s)
    assert len(path) <= 160
    for end in (0, -1):
        wanted = (view.east_nm[end], view.north_nm[end], view.altitude_ft[end])
        assert path[end] == pytest.approx(wanted, abs=ONE_FOOT)
        assert path[end, :2] == pytest.approx(wanted[:2], abs=ONE_PACE_NM)
    assert np.isfinite(path).all()


def test_the_same_flight_is_stored_once_and_says_so(any_book: Logbook, clean: Entry, wrong_side: Entry):
    first = add_flight(any_book, clean, "Wren")
    add_flight(any_book, wrong_side, "Wren")
    again = add_flight(any_book, clean, "WREN")

    assert (again.flight, again.outcome) == (first.flight, "already there")
    assert len(flights(any_book)) == 2


def test_another_file_of_the_same_flight_is_the_same_flight(any_book: Logbook, clean: Entry, tmp_path: Path):
    """Packed, renamed, or exported anew with another line in its head: the samples tell."""
    first = add_flight(any_book, clean, "Wren")
    text = (SAMPLES / "lantern-clean.gpx").read_bytes()
    packed, edited = tmp_path / "again.gpx.gz", tmp_path / "other.gpx"
    packed.write_bytes(gzip.compress(text))
    edited.write_bytes(text.replace(b"</gpx>", b"<!-- exported anew --></gpx>"))

    for path in (packed, edited):
        entry = measure_log(path, procedures=[clean.procedure], standard=clean.standard)
        assert entry.result.track.sha256 != clean.result.track.sha256
        assert add_flight(any_book, entry, "Wren").flight == first.flight
    assert len(flights(any_book)) == 1


def test_a_flight_of_somebody_else_is_refused(any_book: Logbook, clean: Entry):
    add_flight(any_book, clean, "Wren")

    with pytest.raises(LogbookError) as refused:
        add_flight(any_book, clean, "Heron")

    assert str(refused.value) == (
        "lantern-clean.gpx: this flight is in the logbook already, as flight 1 of Wren. "
        "Remove it there first, if it was put under the wrong name."
    )
    assert [row.name for row in pilots(any_book)] == ["Wren"]


def test_a_flight_without_an_approach_is_kept_with_the_reason(any_book: Logbook):
    add_flight(any_book, entry_of("lantern-no-approach.gpx"), "Wren")

    (row,) = flights(any_book)
    assert (row.grade, row.attempts) == (None, 0)
    assert row.remark.startswith("No approach was found")
    assert approaches(any_book) == ()


def test_how_a_log_was_read_is_kept_with_it(tmp_path: Path):
    reading = Reading(
        columns={"latitude": "lat"},
        date=date(2026, 3, 5),
        altitude_unit="m",
        qnh_hpa=1002.0,
        altitude_offset_ft=-20.0,
    )

    assert Reading.of_stored(reading.stored()) == reading
    assert Reading.of_stored({}) == Reading()


def test_what_is_asked_for_is_what_is_listed(any_book: Logbook, clean: Entry, wrong_side: Entry):
    add_flight(any_book, clean, "Wren")
    add_flight(any_book, wrong_side, "Heron")
    add_flight(any_book, entry_of("quillow-overshoot.gpx", "quillow-ndb-18"), "Heron")

    def files(**asked: object) -> list[str]:
        return [row.file for row in flights(any_book, **asked)]  # type: ignore[arg-type]

    assert files() == ["lantern-clean.gpx", "lantern-wrong-side.gpx", "quillow-overshoot.gpx"]
    assert files(pilots=["heron"]) == ["lantern-wrong-side.gpx", "quillow-overshoot.gpx"]
    for name in ("lantern-vor-22", "lantern-vor-22.toml", "Lantern VOR/DME runway 22"):
        assert files(procedure=name) == ["lantern-clean.gpx", "lantern-wrong-side.gpx"]
    assert files(since=date(2026, 3, 5)) == ["lantern-wrong-side.gpx", "quillow-overshoot.gpx"]
    assert files(procedure="lantern-vor-22", since=date(2026, 3, 6)) == []


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"pilots": ["Crane"]}, "the logbook has no pilot 'Crane'."),
        (
            {"procedure": "ember-vor-17"},
            "no flight of procedure 'ember-vor-17' is in the logbook. It has flights of: lantern-vor-22.",
        ),
    ],
)
def test_what_is_not_there_is_said(any_book: Logbook, clean: Entry, asked: dict[str, object], said: str):
    add_flight(any_book, clean, "Wren")

    with pytest.raises(LogbookError) as refused:
        flights(any_book, **asked)  # type: ignore[arg-type]

    assert said in str(refused.value)


@pytest.mark.parametrize("name", ["", "  ", "x" * 61, "Wren\x1b[31m"])
def test_a_name_that_cannot_be_shown_is_refused(any_book: Logbook, clean: Entry, name: str):
    with pytest.raises(LogbookError, match=r"--pilot|Type it again"):
        add_flight(any_book, clean, name)

    assert pilots(any_book) == ()


def test_a_log_that_grows_while_it_is_read_is_not_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A recorder still writes: what was debriefed and what would be kept must be the same bytes."""
    from debrief.logbook import entry as module

    path = tmp_path / "growing.gpx"
    shutil.copy(SAMPLES / "lantern-clean.gpx", path)
    read = module.read_track

    def read_and_grow(*arguments: object, **more: object) -> object:
        track = read(*arguments, **more)  # type: ignore[arg-type]
        path.write_bytes(path.read_bytes() + b"\n")
        return track

    monkeypatch.setattr(module, "read_track", read_and_grow)
    with pytest.raises(TrackError, match="it changed while it was read"):
        measure_log(path, procedures=[load_procedure("lantern-vor-22")], standard=load_standard("training"))


def test_a_logbook_in_memory_works_too(clean: Entry):
    book = open_logbook("sqlite://")
    add_flight(book, clean, "Wren")

    assert len(flights(book)) == 1
