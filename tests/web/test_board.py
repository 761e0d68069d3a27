"""The board: pilots over their flights, as the comparison has them; a pilot sees no other pilot."""

from __future__ import annotations

import gzip
import json

import pytest

from debrief.logbook import approaches, open_logbook
from debrief.web.tasks import content_of
from tests.web.conftest import TRACKS
from tests.web.site import Site


@pytest.fixture(scope="module")
def club(tmp_path_factory):
    """Ada flew the procedure twice, Ben once, and somebody something else."""
    site = Site(tmp_path_factory.mktemp("board"), loopback=False)
    for name, role in (("Ada", "pilot"), ("Ben", "pilot"), ("Exa", "examiner")):
        site.add_account(name, role)
    for pilot, file in (
        ("Ada", "lantern-clean.gpx"),
        ("Ada", "lantern-wrong-side.gpx"),
        ("Ben", "lantern-gap-over-station.gpx"),
        ("Ben", "ember-altitude-bust.gpx"),
    ):
        site.drop((TRACKS / file).read_bytes(), file, browser=site.signed_in(pilot))
    site.work()
    return site


def test_the_most_flown_procedure_comes_first_with_every_pilot(club):
    text = club.looked_at(club.signed_in("Exa"), "/board").text

    assert "3 flights of 2 pilots." in text
    assert text.index("Lantern VOR/DME runway 22") < text.index("South Ember VOR/DME runway 17")
    assert "Ada" in text
    assert "Ben" in text
    assert "Fewer than 3 flights, so shown and not judged: Ada, Ben." in text


def test_a_pilot_sees_themselves_and_the_club_but_nobody_else(club):
    path = "/board?pilot=Ada&procedure=Lantern+VOR%2FDME+runway+22"
    text = club.looked_at(club.signed_in("Ben"), path).text

    assert "3 flights of 2 pilots." in text
    assert "You see yourself" in text
    assert "Ada" not in text
    assert "lantern-clean" not in text


def test_what_is_compared_are_the_measures_of_the_results(club):
    """Held against the result files that the pages of these flights offer to save."""
    book = open_logbook(club.logbook)
    with club.store.open() as connection:
        rows = connection.execute("SELECT id, logbook_flight, result_key FROM flight").fetchall()
    found = {approach.flight: approach for approach in approaches(book)}

    assert len(rows) == len(found) == 4
    for row in rows:
        folder = club.store.result(row["result_key"])
        result = json.loads(gzip.decompress((folder / "result.json.gz").read_bytes()))
        measured = result["attempts"][0]["measures"]
        stored = found[row["logbook_flight"]].measures
        assert stored["final.lowest_altitude_ft"] == measured["final"]["lowest_altitude_ft"]


def test_no_request_compares_anything_itself(club):
    """Without a worker the page says that it waits; with one it is there, and the next look takes it as it is kept."""
    browser = club.signed_in("Exa")
    path = "/board?procedure=South+Ember+VOR%2FDME+runway+17"
    assert "The flights are being compared." in browser.get(path).text
    club.work()
    again = browser.get(path).text
    assert "This is the board as it was." in again
    assert "1 flight of 1 pilot." in again
    with club.store.open() as connection:
        names = [row["name"] for row in connection.execute("SELECT name FROM task")]
    before = {name: club.store.kept(name).stat().st_ino for name in names if content_of(club.store, name)}
    club.work()
    assert {name: club.store.kept(name).stat().st_ino for name in before} == before


def test_an_empty_board_teaches(site):
    assert "Nothing to compare yet." in site.looked_at(site.browser, "/board").text
