"""The page and the logbook: one storage of who flew what, whichever way a flight came in."""

from __future__ import annotations

import hashlib
import json
import sqlite3

import pytest

from debrief.cli import main
from debrief.logbook import approaches, flights, open_logbook, original, pilots, stored_result
from debrief.logbook.keeping import check
from debrief.web import booking
from debrief.web.store import _FIRST, _PILE, Store
from tests.web.conftest import TRACKS
from tests.web.site import Site

CLEAN = TRACKS / "lantern-clean.gpx"
LANTERN = "Lantern VOR/DME runway 22"


def listed(site, **more):
    return [(row.number, row.pilot, row.file) for row in flights(open_logbook(site.logbook), **more)]


def command(capsys, *words):
    with pytest.raises(SystemExit) as left:
        main(list(words))
    return left.value.code, capsys.readouterr().out


def told(site, flight):
    return site.get(f"/api/v1/flights/{flight}").json()["logbook"]


def test_a_flight_dropped_on_the_page_is_in_the_logbook_whole(site, log, capsys):
    flight = site.drop(log, "evening.gpx")
    site.work()

    status, said = command(capsys, "logbook", "list", "--logbook", str(site.logbook))
    assert status == 0
    assert LANTERN in said
    assert listed(site) == [(1, booking.UNNAMED, "evening.gpx")]
    book = open_logbook(site.logbook)
    assert original(book, 1).content == log
    page = site.get(f"/flights/{flight}/files/result.json").json()["attempts"]
    stored = stored_result(book, 1).attempts
    assert [attempt.grade.result for attempt in stored] == [attempt["grade"]["result"] for attempt in page]
    assert check(book) == ()
    assert told(site, flight) == {"flight": 1, "waits": False, "said": ""}
    assert "In the logbook as flight 1" in site.get(f"/flights/{flight}").text


def test_a_flight_added_on_the_command_line_is_on_the_board(site, capsys):
    status, _ = command(
        capsys, "logbook", "add", str(CLEAN), "--pilot", "Wren Alder", "--logbook", str(site.logbook)
    )
    assert status == 0

    text = site.looked_at(site.browser, "/board").text

    assert "1 flight of 1 pilot." in text
    assert "Wren Alder" in text
    assert "logbook, flight 1" in text


def test_what_is_said_about_a_flight_is_corrected_in_the_logbook_too(site, log):
    flight = site.drop(log, "evening.gpx")
    site.work()
    before = approaches(open_logbook(site.logbook))[0].measures["final.lowest_altitude_ft"]

    site.post(f"/flights/{flight}/answers", {"offset_ft": "-70", "pilot": "  Wren \n Alder "})
    site.work()

    book = open_logbook(site.logbook)
    assert listed(site) == [(1, "Wren Alder", "evening.gpx")]
    assert [row.name for row in pilots(book)] == ["Wren Alder"]  # nobody without a flight is left behind
    after = approaches(book)[0].measures["final.lowest_altitude_ft"]
    assert after == pytest.approx(before - 70, abs=0.1)
    assert check(book) == ()


def test_removing_and_bringing_back_are_kept_in_step(site, log):
    flight = site.drop(log, "evening.gpx")
    site.work()

    site.post(f"/flights/{flight}/remove")
    site.work()
    assert listed(site) == []
    assert [row[0] for row in listed(site, removed=True)] == [1]

    site.post(f"/flights/{flight}/bring-back")
    site.work()
    assert [row[0] for row in listed(site)] == [1]

    site.post(f"/flights/{flight}/remove")
    again = site.drop(log, "evening again.gpx")
    site.work()
    assert [row[0] for row in listed(site)] == [1]
    assert told(site, again)["flight"] == 1


def test_what_was_in_the_logbook_before_is_left_as_it_is(site, log, capsys, tmp_path):
    file = tmp_path / "evening.gpx"
    file.write_bytes(log)
    command(capsys, "logbook", "add", str(file), "--pilot", "Wren", "--logbook", str(site.logbook))
    flight = site.post("/flights", {"pilot": "wren"}, files={"log": ("x.gpx", log)})
    flight = flight.headers["location"].rpartition("/")[2]
    site.work()
    assert told(site, flight)["flight"] == 1

    site.post(f"/flights/{flight}/remove")
    site.work()

    assert [row[:2] for row in listed(site)] == [(1, "Wren")]


def test_another_pilots_flight_is_told_without_the_name(tmp_path, log):
    site = Site(tmp_path / "data", loopback=False)
    for name in ("Ada", "Ben"):
        site.add_account(name, "pilot")
    ada, ben = site.signed_in("Ada"), site.signed_in("Ben")
    site.drop(log, browser=ada)
    site.work()
    flight = site.drop(log, browser=ben)
    site.work()

    text = ben.get(f"/flights/{flight}").text
    assert "The logbook has this flight already, as another pilot&#39;s." in text
    assert "Ada" not in text
    assert [row[1] for row in listed(site)] == ["Ada"]
    ben.post(f"/flights/{flight}/remove")
    site.work()
    assert [row[1] for row in listed(site)] == ["Ada"]


def test_a_pilot_cannot_put_a_flight_under_another_name(tmp_path, log):
    site = Site(tmp_path / "data", loopback=False)
    site.add_account("Ada", "pilot")
    ada = site.signed_in("Ada")

    flight = site.drop(log, browser=ada)
    site.work()
    ada.post(f"/flights/{flight}/answers", {"pilot": "Ben"})
    site.work()

    assert [row[1] for row in listed(site)] == ["Ada"]


def test_of_one_flight_of_two_people_the_last_that_stays_counts(tmp_path, log):
    site = Site(tmp_path / "data", loopback=False)
    for name in ("Exa", "Eve"):
        site.add_account(name, "examiner")
    sent = []
    for name in ("Exa", "Eve"):
        browser = site.signed_in(name)
        sent.append(
            browser.send("POST", "/api/v1/flights", data={"pilot": "Ada"}, files={"log": ("a.gpx", log)})
        )
    ids = [answer.json()["logs"][0]["flight"]["id"] for answer in sent]
    site.work()
    examiner = site.signed_in("Exa")
    counts = []
    for flight in ids:
        examiner.post(f"/flights/{flight}/remove")
        site.work()
        counts.append(len(listed(site)))

    assert counts == [1, 0]


def test_a_logbook_that_cannot_be_used_stops_nothing_and_is_tried_again(site, log, monkeypatch):
    site.logbook.write_bytes(b"no database at all" * 100)
    flight = site.drop(log)
    site.work()

    assert told(site, flight)["waits"]
    text = site.get(f"/flights/{flight}").text
    assert "Not in the logbook: this is no logbook" in text
    assert "It is tried again." in text

    site.logbook.unlink()
    with site.store.open() as connection:
        connection.execute("UPDATE flight SET book_after = 0")
    site.work()
    assert told(site, flight) == {"flight": 1, "waits": False, "said": ""}


def test_killed_between_the_logbook_and_its_own_note_nothing_comes_twice(site, log, monkeypatch):
    """The logbook has the flight, the page did not write down that it has: the next worker does it again."""
    flight = site.drop(log)
    real = booking._told

    def killed(*told):
        real(*told)
        raise SystemExit

    monkeypatch.setattr(booking, "_told", killed)
    with pytest.raises(SystemExit):
        site.work()
    monkeypatch.setattr(booking, "_told", real)
    assert len(listed(site)) == 1
    assert told(site, flight)["waits"]

    with site.store.open() as connection:
        booking.give_all_back(connection)
    site.work()

    assert len(listed(site)) == 1
    assert told(site, flight) == {"flight": 1, "waits": False, "said": ""}
    site.post(f"/flights/{flight}/remove")  # and the page still knows that it put it there
    site.work()
    assert listed(site) == []


def test_another_logbook_gets_every_flight_too(site, log, tmp_path):
    site.drop(log)
    gone = site.drop(CLEAN.read_bytes())
    site.post(f"/flights/{gone}/remove")
    site.work()
    first, site.logbook = site.logbook, tmp_path / "another.sqlite"

    for address in (first, site.logbook, site.logbook):
        with site.store.open() as connection:
            booking.keep_in(connection, str(address))
    site.work()

    assert len(listed(site)) == 1
    assert len(flights(open_logbook(first))) == 1


def test_a_page_from_before_puts_its_flights_into_the_logbook(tmp_path, log):
    """Data of the version that knew no logbook: its flights are debriefed again, and booked."""
    store = Store(tmp_path / "data")
    sha256 = hashlib.sha256(log).hexdigest()
    store.log(sha256).parent.mkdir(parents=True)
    store.log(sha256).write_bytes(log)
    connection = sqlite3.connect(store.database)
    connection.executescript(f"{_FIRST}{_PILE}PRAGMA user_version = 2;")
    connection.execute(
        "INSERT INTO flight (id, sha256, file, size_bytes, pilot, wishes, state, result_key, added_at)"
        " VALUES ('old', ?, 'old.gpx', 1, 'Wren', ?, 'done', 'of before', 1)",
        (sha256, json.dumps({})),
    )
    connection.commit()
    connection.close()

    site = Site(tmp_path / "data")
    site.work()

    assert listed(site) == [(1, "Wren", "old.gpx")]
