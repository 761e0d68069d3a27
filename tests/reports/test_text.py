"""The report in words alone: complete, in the order that matters, and nothing that a voice would stumble over."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import debrief
from debrief.language import speaking, spoken
from debrief.reports.text import COLUMNS, spelled, text_report
from debrief.result import Notes, Result
from tests.reports import fake

SAMPLES = Path(__file__).parents[2] / "sample_tracks"


@pytest.fixture(scope="module", params=["en", "de"])
def told(request: pytest.FixtureRequest) -> Result:
    with speaking(request.param):
        track = debrief.read_track(SAMPLES / "ember-altitude-bust.gpx")
        return debrief.debrief(track, debrief.load_procedure("ember-vor-17"))


def said(result: Result) -> str:
    with speaking(result.language):
        return text_report(result)


def on_one_line(text: str) -> str:
    return " ".join(text.split())


def test_everything_that_was_found_is_said_in_order(told: Result) -> None:
    attempt = told.attempts[0]
    with speaking(told.language):
        parts = [
            attempt.grade.reason,
            attempt.findings[1].message,  # the first cause
            attempt.practice[0].exercise,
            *(text for f in attempt.findings for text in (f.message, f.why, f.advice)),
            *attempt.went_well,
            told.track.sha256,
        ]
        wanted = [spelled(on_one_line(part)) for part in parts]
    text = on_one_line(said(told))

    assert [part for part in wanted if part not in text] == []
    headings = {
        "en": (
            "WHAT WAS FLOWN",
            "RESULT",
            "TO WORK ON",
            "TO PRACTISE",
            "FINDINGS",
            "WHAT WENT WELL",
            "MEASURES",
        ),
        "de": (
            "WAS GEFLOGEN WURDE",
            "ERGEBNIS",
            "ZU ARBEITEN IST",
            "ZU ÜBEN",
            "BEFUNDE",
            "WAS GUT WAR",
            "MESSWERTE",
        ),
    }[told.language]
    places = [text.index(heading) for heading in headings]
    assert places == sorted(places)


def test_the_caution_comes_first() -> None:
    text = said(fake.result())

    assert text.startswith("For simulator flying and training debriefs. Not for navigation.")


@pytest.mark.parametrize(
    "case", [{}, {"approach": False}, {"attempts": 2, "findings": 30, "gap": True, "best_fit": True}], ids=str
)
def test_no_line_is_long_and_nothing_depends_on_columns(case: dict[str, object]) -> None:
    text = said(fake.result(**case))  # type: ignore[arg-type]

    assert text.endswith("\n")
    for line in text.splitlines():
        assert len(line) <= COLUMNS
        assert "  " not in line
        assert not re.search(r"[|_=*#<>─│•·]{2}|[─│┌┐]", line)


def test_a_voice_hears_units_as_words(told: Result) -> None:
    text = said(told)

    assert not re.search(r"\d\s?(NM|ft|kt|°|hPa|s|min)(?![\w:])", text)
    assert "±" not in text
    assert "−" not in text
    assert "\u00ad" not in text


def test_one_is_not_several() -> None:
    assert spelled("1 NM, 1.0 NM, 1 ft") == "1 nautical mile, 1.0 nautical miles, 1 foot"
    assert spelled("Rate, ft/min: +300; lead +") == "Rate, feet a minute: plus 300; lead positive"
    # typed as it stands
    assert spelled("again with --altitude-offset-ft -278.") == "again with --altitude-offset-ft -278."
    assert (
        spelled("VOR/DME 22, 12:05:09 UTC, 2:30 min:s")
        == "VOR/DME 22, 12:05:09 UTC, 2:30 minutes and seconds"
    )


def test_peoples_own_words_stand_as_they_are() -> None:
    """Their 5 ft stays 5 ft: it is not ours to alter."""
    text = said(replace(fake.result(), notes=Notes(pilot="Robin Example", note="5 ft low\nsecond line")))

    assert "Pilot: Robin Example" in text
    assert "Pilot's note: 5 ft low\nsecond line\n" in text


def test_another_language_is_asked_for_each_time() -> None:
    with speaking("de"):
        text_report(fake.result())
    assert spoken() == "en"


@pytest.mark.parametrize("offset_ft", [0.0, 120.0])
def test_what_the_landing_showed_of_the_altitude_is_one_number(offset_ft: float) -> None:
    """Two figures of different samples, +11 and +14 ft of one landing, stood pages apart."""
    procedure = debrief.load_procedure("lantern-vor-22")
    correction = debrief.AltitudeCorrection(offset_ft=offset_ft)
    track = debrief.read_track(SAMPLES / "lantern-clean.gpx")
    text = on_one_line(said(debrief.debrief(track, procedure, altitude=correction)))

    number = r"(plus|minus) (\d+) plus or minus (\d+) feet"
    measured = re.search(rf"Logged altitude less runway elevation\. {number}", text)
    logged = re.search(rf"log less runway elevation {number}", text)
    assert measured is not None
    assert logged is not None
    sign = {"plus": 1, "minus": -1}
    assert sign[measured[1]] * int(measured[2]) == pytest.approx(
        sign[logged[1]] * int(logged[2]) + offset_ft, abs=0.0 if offset_ft == 0.0 else 10.0
    )
    assert measured[3] == logged[3]
