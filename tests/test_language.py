"""The languages: complete, current, and never mixed up between two tasks."""

from __future__ import annotations

import threading

import pytest

from debrief import catalogue
from debrief.errors import DebriefError
from debrief.language import figure, languages, speaking, spoken, tr, trn, within

STATION = "Station passage"


def test_the_catalogue_is_current_and_every_sentence_is_translated() -> None:
    """What CI asks of a change: ``python -m debrief.catalogue`` was run, and its gaps were filled."""
    wanted, wrong = catalogue.files()

    assert wrong == []
    stale = [path.name for path, content in wanted.items() if path.read_bytes() != content]
    assert stale == []


def test_every_language_keeps_the_gaps_of_every_sentence() -> None:
    for language in catalogue.written_languages():
        for message in catalogue.translated(language):
            if not message.id:
                continue
            one, many = (message.id, message.id) if isinstance(message.id, str) else message.id
            texts = (message.string,) if isinstance(message.string, str) else message.string
            for text in texts:
                assert catalogue.gaps(one) <= catalogue.gaps(text) <= catalogue.gaps(many), text


def test_a_wrong_translation_is_told() -> None:
    found = catalogue.template()
    for message in found:
        if message.id:
            message.string = message.id if isinstance(message.id, str) else tuple(message.id)
    assert catalogue.mistakes(found) == []

    found.get("{name} radial").string = "Radial {nam}"
    found.get(STATION).string = ""

    assert sorted(catalogue.mistakes(found)) == [
        "'Station passage': no translation",
        "'{name} radial': its gaps are ['name'], the translation's ['nam']",
    ]


def test_german_is_spoken_inside_its_block_only() -> None:
    assert languages() == ("en", "de")
    with speaking("de"):
        assert (spoken(), tr(STATION)) == ("de", "Stationsüberflug")
        with speaking("en"):
            assert tr(STATION) == STATION
        assert tr(STATION) == "Stationsüberflug"
    assert (spoken(), tr(STATION)) == ("en", STATION)


def test_another_thread_is_not_spoken_for() -> None:
    """The pages of two visitors are made at the same time."""
    heard: list[str] = []
    with speaking("de"):
        other = threading.Thread(target=lambda: heard.append(tr(STATION)))
        other.start()
        other.join()

    assert heard == [STATION]


def test_an_unknown_language_is_one_clear_line() -> None:
    with pytest.raises(DebriefError) as refused, speaking("xx"):
        pass

    assert str(refused.value) == "there is no language 'xx' here. Languages: en, de."


def test_what_has_no_translation_is_said_as_it_is() -> None:
    """A person's own words with braces in them, for one."""
    with speaking("de"):
        assert tr("my {own} words") == "my {own} words"
        assert tr("") == ""


def test_values_are_never_taken_for_gaps() -> None:
    assert tr("from {name}", name="{x}") == "from {x}"
    assert trn("one {x}", "{count} of {x}", 2, x="{count}") == "2 of {count}"


def test_names_within_a_sentence_stay_large_in_german() -> None:
    assert within("Side of the reversal") == "side of the reversal"
    assert within("DME distance") == "DME distance"
    with speaking("de"):
        assert within("Seite der Umkehrkurve") == "Seite der Umkehrkurve"


def test_a_number_is_written_as_its_language_writes_it() -> None:
    """Decimal comma and point for thousands: DIN 1333 and 5008 (memory)."""
    with speaking("de"):
        assert (figure(1234.56, ",.1f"), figure(-0.5, "+g"), figure(7, "d")) == ("1.234,6", "-0,5", "7")
        assert tr("{samples} ({share:.1f} %)", samples="12", share=4.25) == "12 (4,2 %)"
        # texts stand as they are: a file, a version, a time
        assert tr("{start} to {end}", start="debrief 0.1.0", end="a.gpx") == "debrief 0.1.0 bis a.gpx"
    assert (figure(1234.56, ",.1f"), figure(0.5)) == ("1,234.6", "0.5")
