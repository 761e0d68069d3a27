"""The report in German: set without fault, and no English left in it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import debrief
from debrief import catalogue
from debrief.language import speaking
from debrief.planning.text import COLUMNS as CARD_COLUMNS
from debrief.planning.text import card_text
from debrief.procedures import Procedure
from debrief.reference import with_references
from debrief.reports.page import Page
from debrief.reports.pages import build_pages
from debrief.reports.plan_card import plan_card_page
from debrief.reports.style import PAPERS, Paper
from debrief.reports.text import text_report
from debrief.result import Result
from tests.reports import fake
from tests.reports.setting import faults
from tests.reports.test_pages import CASES
from tests.reports.test_plan_card import assert_readable, ranged

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
#: Words that an English sentence of some length has, and no German one.
ENGLISH = re.compile(r"\b([Tt]he|and|of|[Ww]ith|[Ff]rom|not|[Ii]s|are|that|than|[Bb]efore|by|to)\b")
FLIGHTS = {
    "lantern-wrong-side": "lantern-vor-22",
    "ember-altitude-bust": "ember-vor-17",
    "sallow-two-attempts": "sallow-vor-13",
    "lantern-no-approach": "lantern-vor-22",
}


@pytest.fixture(scope="module", params=FLIGHTS)
def german(request: pytest.FixtureRequest) -> Result:
    with speaking("de"):
        track = debrief.read_track(SAMPLES / f"{request.param}.gpx")
        return with_references(debrief.debrief(track, debrief.load_procedure(FLIGHTS[request.param])))


def lines_of(pages: list[Page]) -> Iterator[str]:
    return (text.text for page in pages for text in page.texts)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("case", CASES)
def test_every_page_is_set_without_fault(case: str, paper: Paper) -> None:
    with speaking("de"):
        assert faults(build_pages(fake.result(**CASES[case]), paper)) == []


@pytest.mark.parametrize("paper", PAPERS)
def test_a_flight_is_set_without_fault(german: Result, paper: Paper) -> None:
    with speaking("de"):
        assert faults(build_pages(german, paper)) == []


def test_no_english_is_left_on_a_page(german: Result) -> None:
    with speaking("de"):
        lines = list(lines_of(build_pages(german, "A4")))

    assert len(lines) > 50
    assert [line for line in lines if ENGLISH.search(line)] == []


def test_no_english_is_left_in_the_report_in_words(german: Result) -> None:
    with speaking("de"):
        lines = text_report(german).splitlines()

    assert [line for line in lines if ENGLISH.search(line)] == []


def test_no_whole_sentence_of_the_catalogue_is_left(german: Result) -> None:
    """Short ones may be a word of both languages (Wind, Position)."""
    with speaking("de"):
        pages = " ".join(lines_of(build_pages(german, "A4")))
        told = pages + " ".join(text_report(german).split())
    sentences = {text for text, _ in catalogue.sentences() if isinstance(text, str)}
    whole = [text for text in sentences if len(text) > 20 and not catalogue.gaps(text)]

    assert len(whole) > 100
    assert [text for text in whole if text in told] == []


#: What keeps its points: paragraphs of texts, gravity of no number.
PARAGRAPH = re.compile(
    r"[IV]+-\d-\d, [\d.]+|^[\d.]+; |ALAR|Briefing Note 7\.1|8260\.3|debrief [\d.]+|IR\.|AIM"
)


def test_every_number_has_a_decimal_comma(german: Result) -> None:
    """In sentences, tables and pictures."""
    with speaking("de"):
        lines = list(lines_of(build_pages(german, "A4")))

    assert any(re.search(r"\d,\d", line) for line in lines)
    points = [line for line in lines if re.search(r"(?<![\d.])\d+\.\d{1,2}(?!\d)", PARAGRAPH.sub("", line))]
    assert points == []


def test_our_words_for_a_source_are_translated_and_titles_are_not() -> None:
    """Every bundled standard: what is no published text is in the catalogue."""
    from debrief.grading.sources import WORDS
    from debrief.grading.standard_reader import bundled_standards

    for standard in bundled_standards().values():
        ours = {rule.source.title for rule in standard.rule if rule.source.mark == "common practice"}
        assert ours | {standard.name} <= set(WORDS)
    tolerance = next(iter(bundled_standards().values())).rule[0]
    with speaking("de"):
        assert str(tolerance.source).endswith("[gesehen, aus zweiter Hand]")


def test_english_would_be_seen() -> None:
    """The twin: the same checks, held against the English report."""
    pages = build_pages(fake.result(), "A4")

    assert [line for line in lines_of(pages) if ENGLISH.search(line)]


@pytest.mark.parametrize("planned", debrief.bundled_procedures(), ids=lambda planned: Path(planned.file).stem)
def test_a_plan_card_is_german_and_set_without_fault(planned: Procedure) -> None:
    with speaking("de"):
        for speeds_kias, wind, arrival_deg in (
            ([120.0], (270.0, 20.0), None),
            ([90.0], (0.0, 0.0), 140.0),
            ([120.0, 140.0, 160.0], (100.0, 40.0), None),
        ):
            cards = ranged(planned, speeds_kias, wind, arrival_deg)
            page = plan_card_page(cards, "A4")
            text = card_text(cards)

            assert_readable(page)
            if len(cards) == 1:
                assert max(len(line) for line in text.splitlines()) <= CARD_COLUMNS
            assert [line for line in (*lines_of([page]), *text.splitlines()) if ENGLISH.search(line)] == []
