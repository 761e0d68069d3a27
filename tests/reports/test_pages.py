"""The pages: complete, readable, nothing clipped and nothing on top of anything else."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from debrief.reports.files import pdf_bytes
from debrief.reports.page import Page
from debrief.reports.pages import build_pages
from debrief.reports.style import CAUTION, PAPERS, Paper
from tests.reports import fake
from tests.reports.setting import faults, overlapping

LONG_FILE = "wieczorny-lot-nad-wyspą-źdźbło-i-z-powrotem-" * 4 + ".gpx"
LONG_NAME = "Procedura podejścia VOR/DME pas 22 Łódź, Κέρκυρα " * 2

CASES: dict[str, dict[str, Any]] = {
    "one attempt": {},
    "no approach": {"approach": False},
    "two attempts": {"attempts": 2},
    "five attempts": {"attempts": 5},
    "thirty findings": {"findings": 30},
    "no finding": {"findings": 0},
    "long names": {"file": LONG_FILE, "name": LONG_NAME},
    "no altitude": {"altitude": False},
    "no wind": {"wind": False},
    "gaps": {"gap": True},
    "chosen by fit": {"best_fit": True},
    "five hours": {"before_s": 17_000.0},
    "a pointer, nose up": {"kind": "NDB"},
    "a pointer, north up": {"kind": "NDB", "wind": False, "altitude": False, "attempts": 2},
    "everything": {"attempts": 5, "findings": 30, "gap": True, "file": LONG_FILE, "best_fit": True},
}


def words_of(page: Page) -> str:
    return " ".join(text.text for text in page.texts)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("case", CASES)
def test_every_page_is_set_without_fault(case: str, paper: Paper) -> None:
    pages = build_pages(fake.result(**CASES[case]), paper)

    assert faults(pages) == []
    for number, page in enumerate(pages, start=1):
        assert (page.area.right, page.area.bottom) == PAPERS[paper]
        assert CAUTION in words_of(page)
        assert f"Page {number} of {len(pages)}" in words_of(page)


def test_a_fault_in_the_setting_is_seen() -> None:
    page = Page(300.0, 200.0)
    page.text(100.0, 100.0, "one", 8.0)
    page.text(105.0, 103.0, "two", 8.0)
    page.text(280.0, 50.0, "off the paper", 8.0)
    page.text(100.0, 150.0, "too small", 5.0)

    assert len(faults([page])) == 3
    assert len(overlapping(page.texts)) == 1


def test_page_one_answers_what_how_well_and_what_to_work_on() -> None:
    result = fake.result()
    said = words_of(build_pages(result, "A4")[0])

    assert "Lantern VOR/DME runway 22" in said
    assert "evening-at-lantern.gpx" in said
    assert "4 May 2026, 18:40:00 to" in said
    assert "Unsatisfactory" in said
    assert "Three things to work on" in said
    for finding in result.attempts[0].findings[:3]:
        assert finding.message in said
        assert finding.advice in said
    for sentence in result.attempts[0].went_well:
        assert sentence in said


def test_page_one_names_the_first_cause_and_what_to_practise() -> None:
    """Three exercises and a chain of four: set whole, on both papers."""
    from dataclasses import replace

    from debrief.result import Cause, Practice

    result = fake.result()
    attempt = result.attempts[0]
    found = attempt.findings[3]
    followed = (
        "The pattern took 2.2 NM more than at 200 kt (finding 2). The turn in went through (finding 3)."
    )
    cause = Cause(
        rule=found.rule,
        phase=found.phase,
        start=found.start,
        message=f"{found.message} {followed}",
        leads_to=(1,),
    )
    exercises = tuple(
        Practice(
            what=f"The speed for the reversal, {number}",
            exercise=f"Slow down to 19{number} kt three times, 3 minutes before the station, and note the power.",
            aim=f"Within {number} kt from the station until established.",
            finding=(found.number, 1, 3)[number - 1],
        )
        for number in (1, 2, 3)
    )
    others = (
        Cause(rule=f.rule, phase=f.phase, start=f.start, message=f.message)
        for f in (attempt.findings[0], attempt.findings[2])
    )
    caused = replace(attempt, causes=(cause, *others), practice=exercises)
    for paper in PAPERS:
        pages = build_pages(replace(result, attempts=(caused,)), paper)
        said = words_of(pages[0])

        assert faults(pages) == []
        assert f"First cause, marginal: {found.message}" in said
        assert followed in said
        assert "To practise" in said
        for exercise in exercises:
            assert exercise.what in said
            assert exercise.exercise in said
            assert "Aim: w" + exercise.aim[1:] in said


def test_a_long_reason_of_the_result_stands_in_two_lines() -> None:
    from dataclasses import replace

    result = fake.result()
    attempt = result.attempts[0]
    reason = "Outside the standard: " + ", ".join(f"rule number {count}" for count in range(1, 9)) + "."
    graded = replace(attempt, grade=replace(attempt.grade, reason=reason))

    pages = build_pages(replace(result, attempts=(graded,)), "A4")

    assert faults(pages) == []
    assert reason in words_of(pages[0])


def test_the_results_of_many_attempts_are_not_cut_short() -> None:
    """Beside each of five results stood the beginning of a reason, and three dots."""
    front = build_pages(fake.result(attempts=5, findings=4), "Letter")[0]

    assert not [text.text for text in front.texts if text.text.endswith("…")]


def test_what_the_log_does_not_show_is_nothing_to_work_on() -> None:
    """The fifth of the made-up findings is about the log."""
    said = words_of(build_pages(fake.result(findings=5), "A4")[0])

    assert "The altitude of this log" not in said


def test_without_an_approach_page_one_says_why() -> None:
    pages = build_pages(fake.result(approach=False), "A4")

    assert "No approach was found: the log never comes nearer than 11.2 NM to LQN." in words_of(pages[0])
    assert "log begins 18:40 UTC" in words_of(pages[0])
    assert "Unsatisfactory" not in words_of(pages[0])


def test_the_findings_stand_in_each_picture_by_their_numbers() -> None:
    plan, profile, strips, *_ = build_pages(fake.result(findings=4), "A4")

    for page in (plan, profile, strips):
        for number in "1234":
            assert number in {text.text for text in page.texts}


def test_each_attempt_has_its_own_pages() -> None:
    said = [words_of(page) for page in build_pages(fake.result(attempts=3), "A4")]

    for number in (1, 2, 3):
        for part in ("plan view", "profile", "strips against time", "findings", "measures by phase"):
            assert any(f"Attempt {number}: {part}" in text for text in said), (number, part)


def test_the_choice_by_fit_names_the_others() -> None:
    said = " ".join(words_of(page) for page in build_pages(fake.result(best_fit=True), "A4"))

    assert "of those at hand this one fits the flight best (fit 93 %)" in said
    assert "Sallow VOR runway 13" in said
    assert "31" in said


def test_missing_altitude_is_said_in_the_pictures() -> None:
    pages = build_pages(fake.result(altitude=False), "A4")

    assert "no usable altitude in the log" in words_of(pages[1])
    assert "no usable altitude in the log" in words_of(pages[2])


def test_a_result_read_back_gives_a_report_without_pictures() -> None:
    from dataclasses import replace

    pages = build_pages(replace(fake.result(), flight=None), "A4")

    assert faults(pages) == []
    assert "The pictures need the log" in words_of(pages[0])
    assert any("Measures by phase" in words_of(page) for page in pages)


def test_the_text_of_the_pdf_can_be_selected_and_its_fonts_are_embedded() -> None:
    result = fake.result(file="źdźbło-Κέρκυρα.gpx")
    reader = PdfReader(BytesIO(pdf_bytes(build_pages(result, "A4"), result)))

    first = re.sub(r"\s+", " ", reader.pages[0].extract_text())
    assert "źdźbło-Κέρκυρα.gpx" in first
    assert "You went 72 ft below the minimum descent altitude" in first
    for page in reader.pages:
        assert "Not for navigation" in page.extract_text()
        for entry in page["/Resources"]["/Font"].values():  # type: ignore[index]
            embedded = entry.get_object()
            descendant = embedded.get("/DescendantFonts")
            face = descendant[0].get_object() if descendant is not None else embedded
            assert "/FontFile2" in face["/FontDescriptor"].get_object()


def test_a_name_in_the_mathematicians_hand_is_printed_as_it_is() -> None:
    """A dollar sign begins no formula."""
    said = words_of(build_pages(fake.result(file="$5_flight^2$.gpx"), "A4")[0])

    assert "$5_flight^2$.gpx" in said
