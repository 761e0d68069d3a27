"""People's own words in the report: whole, on page one or later, and never read as anything but words."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from debrief.reports.files import pdf_bytes
from debrief.reports.page import Page
from debrief.reports.pages import build_pages
from debrief.reports.result_json import read_result, result_json
from debrief.reports.style import PAPERS, Paper
from debrief.result import Notes, Result
from tests.reports import fake
from tests.reports.setting import faults

SHORT = Notes(
    pilot="Robin Example",
    aircraft="trainer",
    planned="120 kt",
    note="Lost the needle.",
    instructor_remarks="Brief the side.",
    file="evening.toml",
)
LONG = Notes(
    planned="ø" * 400,
    note="\n".join(f"line {n} of my note" for n in range(150)),
    instructor_remarks="b c " * 900,
)


def noted(notes: Notes) -> Result:
    return replace(fake.result(), notes=notes)


def words_of(pages: list[Page]) -> str:
    return " ".join(text.text for page in pages for text in page.texts)


def test_short_words_stand_on_page_one() -> None:
    pages = build_pages(noted(SHORT), "A4")
    said = words_of(pages[:1])

    assert "Pilot: Robin Example · Aircraft: trainer" in said
    assert "Planned: 120 kt" in said
    assert "Pilot's note: Lost the needle." in said
    assert "Instructor's remarks: Brief the side." in said
    assert "Lost the needle." not in words_of(pages[1:])


@pytest.mark.parametrize("paper", PAPERS)
def test_long_words_go_on_later_pages_whole(paper: Paper) -> None:
    pages = build_pages(noted(LONG), paper)
    later = words_of(pages[1:])

    assert faults(pages) == []
    assert "planned, pilot's note, instructor's remarks" in words_of(pages[:1])
    assert later.count("ø") == 400
    assert all(f"line {n} of my note" in later for n in range(150))
    assert later.count("b c") == 900


def test_a_flight_without_words_says_nothing_of_them() -> None:
    said = words_of(build_pages(fake.result(), "A4"))

    assert "Pilot" not in said
    assert "own words" not in said


def test_nothing_in_a_text_is_a_formula_or_markup() -> None:
    """Drawn through matplotlib, which takes dollars for formulas unless it is told otherwise."""
    odd = r"$x^2$ \alpha_1 <b>bold</b> %(x)s {y}"
    result = noted(Notes(note=odd))

    read_back = PdfReader(BytesIO(pdf_bytes(build_pages(result, "A4"), result))).pages[0].extract_text()

    assert odd in read_back


def test_the_result_file_keeps_the_words(tmp_path) -> None:
    path = tmp_path / "evening.json"
    path.write_text(result_json(noted(LONG)), encoding="utf-8")

    assert read_result(path).notes == LONG
