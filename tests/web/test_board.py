"""The board: pilots over their flights, as the comparison has them; a pilot sees no other pilot."""

from __future__ import annotations

import gzip
import json

import pytest

from debrief.web.board import FLOWN, board_of, procedures_flown
from debrief.web.flights import listed
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
    text = club.signed_in("Exa").get("/board").text

    assert "3 flights of 2 pilots." in text
    assert text.index("Lantern VOR/DME runway 22") < text.index("South Ember VOR/DME runway 17")
    assert "Ada" in text
    assert "Ben" in text
    assert "Fewer than 3 flights, so shown and not judged: Ada, Ben." in text


def test_a_pilot_sees_themselves_and_the_club_but_nobody_else(club):
    text = club.signed_in("Ben").get("/board?pilot=Ada&procedure=Lantern+VOR%2FDME+runway+22").text

    assert "3 flights of 2 pilots." in text
    assert "You see yourself" in text
    assert "Ada" not in text
    assert "lantern-clean" not in text


def test_what_is_compared_are_the_measures_of_the_results(club):
    with club.store.open() as connection:
        every = listed(connection, owner=None, of_all=True)
    board = board_of(club.store, every, procedures_flown(every)[0], None)

    for entry in board.comparison.flights:
        flight = board.flights[entry.flight]
        folder = club.store.result(flight.result_key)
        result = json.loads(gzip.decompress((folder / "result.json.gz").read_bytes()))
        measured = result["attempts"][0]["measures"]
        assert entry.measures["final.lowest_altitude_ft"] == measured["final"]["lowest_altitude_ft"]
        assert (folder / FLOWN).is_file()
        assert entry.pilot == flight.pilot


def test_an_empty_board_teaches(site):
    assert "Nothing to compare yet." in site.get("/board").text
