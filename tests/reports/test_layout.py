"""Text is measured as the renderer sets it, and lines are never longer than their room."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from debrief.reports.files import png_bytes
from debrief.reports.findings import findings_part
from debrief.reports.flow import Column, Flow, Group, Row
from debrief.reports.fonts import own_font
from debrief.reports.layout import (
    SOFT_HYPHEN,
    Rect,
    printable,
    shortened,
    width_pt,
    wrapped,
)
from debrief.reports.page import Page
from tests.reports import fake

HALF_A_POINT = 0.5
SENTENCES = (
    "You went 72 ft below the minimum descent altitude of 620 ft.",
    "AVAToWaTYPofLTVY11 fi fl ffi",
    "Zażółć gęślą jaźń; Κέρκυρα; −72 ± 4°",
    "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA-J-G-Q-J-G-Q TTTTTTTTTTTTTTTTTTTTTT",  # set apart by kerning
)


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("sentence", SENTENCES)
def test_a_line_is_measured_no_shorter_than_it_is_printed(sentence: str, bold: bool) -> None:
    from matplotlib.ft2font import FT2Font, LoadFlags

    face = FT2Font(own_font(bold=bold))
    face.set_size(9.0, 72.0)
    face.set_text(sentence, 0.0, flags=LoadFlags.NO_HINTING)
    printed_pt = face.get_width_height()[0] / 64.0

    assert printed_pt <= width_pt(sentence, 9.0, bold=bold) + HALF_A_POINT
    assert printed_pt > 0.9 * width_pt(sentence, 9.0, bold=bold)


words = st.text(st.characters(codec="latin-1", categories=("L", "N", "P")), min_size=1, max_size=40)


@given(text=st.lists(words, max_size=20).map(" ".join), room=st.floats(12.0, 300.0))
def test_lines_fit_and_hold_every_letter(text: str, room: float) -> None:
    lines = wrapped(text, room, 8.0)

    assert all(width_pt(line, 8.0) <= room for line in lines)
    assert "".join(lines).replace(" ", "") == printable(text).replace(" ", "")


@pytest.mark.parametrize("room", range(30, 140))
def test_a_number_stands_on_the_line_of_its_unit(room: int) -> None:
    """Below an instrument a line ended in 0.8, and the next began with NM."""
    said = "At the minimum of 620 ft. Begun 0.55 NM before (18:10:31 UTC), at 127 kt."
    pairs = [
        pair for pair in ("620 ft.", "0.55 NM", "(18:10:31 UTC),", "127 kt.") if width_pt(pair, 9.0) <= room
    ]
    lines = wrapped(said, room, 9.0)

    assert all(any(pair in line for line in lines) for pair in pairs)


def test_a_word_is_broken_at_its_soft_hyphens_where_that_is_enough() -> None:
    word = f"Inter{SOFT_HYPHEN}mediate"

    assert wrapped(word, 40.0, 8.0) == ["Inter-", "mediate"]
    assert wrapped(word, 80.0, 8.0) == ["Intermediate"]


def test_shortened_text_fits_and_says_so() -> None:
    short = shortened("a-long-name-of-a-flight.gpx", 60.0, 8.0)

    assert width_pt(short, 8.0) <= 60.0
    assert short.endswith("…")
    assert shortened("short.gpx", 60.0, 8.0) == "short.gpx"


def test_rectangles_that_only_touch_do_not_overlap() -> None:
    left = Rect(0.0, 0.0, 10.0, 10.0)

    assert not left.overlaps(Rect(10.0, 0.0, 20.0, 10.0))
    assert left.overlaps(Rect(9.0, 9.0, 20.0, 20.0))
    assert left.meet(Rect(20.0, 20.0, 30.0, 30.0)).width == 0.0


@pytest.mark.parametrize(("size_pt", "bold"), [(7.0, False), (8.4, False), (7.6, True)])
def test_a_line_fits_its_room_in_the_picture_too(size_pt: float, bold: bool) -> None:
    """The picture's renderer would widen hinted letters by some points in a line."""
    page = Page(600.0, 60.0)
    box = page.text(10.0, 30.0, "Held against the instrument rating, below it for 31 s", size_pt, bold=bold)

    with Image.open(BytesIO(png_bytes(page))) as picture:
        inked = np.flatnonzero((np.asarray(picture.convert("L")) < 128).any(axis=0))
        points_per_pixel = page.area.width / picture.width

    assert inked[-1] * points_per_pixel <= box.right
    assert inked[-1] * points_per_pixel > box.right - 5.0


@pytest.mark.parametrize("count", range(30, 60))
def test_no_table_leaves_a_row_or_two_on_a_page_of_their_own(count: int) -> None:
    flow = Flow("A4", ("head", "file"))
    flow.titled_table(
        "A table", [Column("What", 1.0), Column("Found", 1.0)], [Row((f"row {i}", "x")) for i in range(count)]
    )

    left = [sum(text.text == "x" for text in page.texts) for page in flow.finish()]

    assert sum(left) == count
    assert len(left) == 1 or left[-1] >= 4


@pytest.mark.parametrize("filled", range(40, 70))
@pytest.mark.parametrize("words", [40, 90])
def test_no_paragraph_leaves_its_last_line_on_a_page_of_its_own(filled: int, words: int) -> None:
    flow = Flow("A4", ("head", "file"))
    for number in range(filled):
        flow.paragraph(f"line {number}")
    flow.paragraph("word " * words)

    left = [sum(text.text.startswith("word") for text in page.texts) for page in flow.finish()]

    assert sum(left) > 1
    assert left[-1] != 1


@pytest.mark.parametrize("filled", range(40, 70))
def test_no_heading_of_a_table_stands_alone_at_the_foot_of_a_page(filled: int) -> None:
    """The heading of a table of one row kept less room than the table asked for."""
    flow = Flow("A4", ("left", "right"))
    for _ in range(filled):
        flow.paragraph("line")
    flow.titled_table("Title", [Column("A", 1)], [Row(("only row",))], lesser=True)

    page = next(page for page in flow.pages if "Title" in [text.text for text in page.texts])
    assert "only row" in [text.text for text in page.texts]


def test_a_group_that_runs_on_over_the_page_is_named_again() -> None:
    flow = Flow("A4", ("left", "right"))
    rows = [Group("Speed"), *(Row((f"row {number}",)) for number in range(60))]
    flow.table([Column("A", 1)], rows)

    assert len(flow.pages) > 1
    for page in flow.pages:
        said = [text.text for text in page.texts]
        assert said.index("Speed") == said.index("A") + 1


@pytest.mark.parametrize("filled", range(40, 60))
def test_a_short_group_of_rows_stands_on_one_page(filled: int) -> None:
    """Of two passages one line stood on the next page, and did not say whose altitude it was."""
    flow = Flow("A4", ("left", "right"))
    for _ in range(filled):
        flow.paragraph("line")
    for name in ("Speed", "Drift"):
        flow.table([Column("A", 1)], [Group(name), *(Row((f"{name} {row}",)) for row in range(6))])

    for name in ("Speed", "Drift"):
        on = [sum(text.text.startswith(f"{name} ") for text in page.texts) for page in flow.pages]
        assert sorted(on)[-1] == 6


@pytest.mark.parametrize("filled", range(30, 70))
@pytest.mark.parametrize("sizes", [(3,), (5,), (9, 1), (7, 2, 1), (14, 3)])
def test_no_part_of_a_table_is_left_with_a_single_row(filled: int, sizes: tuple[int, ...]) -> None:
    """The last group had one row, and stood with it alone on a page; so did the last row of a table of five."""
    flow = Flow("Letter", ("left", "right"))
    for _ in range(filled):
        flow.paragraph("line")
    rows: list[Row | Group] = []
    for group, size in enumerate(sizes):
        rows += [Group(f"group {group}")] if len(sizes) > 1 else []
        rows += [Row((f"row {group} {number}",)) for number in range(size)]
    flow.subheading("Title", keep_pt=190.0)
    flow.table([Column("A", 1)], rows)

    left = [sum(text.text.startswith("row ") for text in page.texts) for page in flow.finish()]
    with_title = next(page for page in flow.pages if "Title" in [text.text for text in page.texts])

    assert sum(left) == sum(sizes)
    assert 1 not in left
    assert sum(text.text.startswith("row ") for text in with_title.texts) >= 2


@pytest.mark.parametrize("filled", range(25, 60, 2))
def test_the_heading_of_the_findings_stands_above_the_first_of_them(filled: int) -> None:
    attempt = fake.result(findings=3).attempts[0]
    wordy = replace(attempt.findings[0], why="It matters for a reason or two. " * 12)
    attempt = replace(attempt, findings=(wordy, *attempt.findings[1:]))
    flow = Flow("A4", ("left", "right"))
    for _ in range(filled):
        flow.paragraph("line")
    findings_part(flow, "", attempt, None)

    page = next(page for page in flow.finish() if "Findings" in [text.text for text in page.texts])
    assert str(attempt.findings[0].number) in [text.text for text in page.texts]
