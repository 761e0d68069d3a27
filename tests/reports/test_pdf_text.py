"""Text goes into a PDF as matplotlib would put it there, only sooner."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream, FloatObject, NumberObject

from debrief.reports import pdf_text
from debrief.reports.files import bound
from debrief.reports.page import Page

TEXTS = (
    "Office, flown first",
    "AVERY To Yverdon",
    "−3.5° ± 0.2 NM",
    "Größe (ft/min): Ærø",
    "naïve «Łódź» Ωmega",
)
SIZE_PT = 7.5
# to which matplotlib rounds each letter's place, of thousandths of the type size
A_64TH_POINT = 1000.0 / SIZE_PT / 64


def pdf_of(*texts: str, upright: bool = False) -> PdfReader:
    page = Page(300.0, 200.0)
    for number, text in enumerate(texts):
        page.text(
            20.0 + 12.0 * number, 40.0 + 14.0 * number, text, SIZE_PT, bold=number % 2 == 1, upright=upright
        )
    return PdfReader(BytesIO(bound([page], title="t", creator="c", date=datetime(2026, 1, 1, tzinfo=UTC))))


def shown(pdf: PdfReader) -> list[list[tuple[bytes, float]]]:
    """Of each text its letters, and by how much each is drawn back. [thousandths of the type size]"""
    content = ContentStream(pdf.pages[0].get_contents(), pdf)
    return [list(_letters(operands[0])) for operands, operator in content.operations if operator == b"TJ"]


def _letters(parts: list[object]) -> Iterator[tuple[bytes, float]]:
    back = 0.0
    for part in parts:
        if isinstance(part, (FloatObject, NumberObject)):
            back = float(part)
            continue
        for first in range(0, len(part.original_bytes), 2):
            yield part.original_bytes[first : first + 2], back
            back = 0.0


@pytest.mark.parametrize("upright", [False, True])
def test_what_is_shown_can_be_selected_and_searched(upright: bool) -> None:
    told = pdf_of(*TEXTS, upright=upright).pages[0].extract_text()
    assert [text for text in TEXTS if text not in told] == []


def test_letters_stand_as_matplotlib_would_set_them(monkeypatch: pytest.MonkeyPatch) -> None:
    ours = shown(pdf_of(*TEXTS))
    monkeypatch.setattr(pdf_text, "showable", lambda text: False)
    theirs = shown(pdf_of(*TEXTS))
    for own, other in zip(ours, theirs, strict=True):
        assert [letter for letter, _ in own] == [letter for letter, _ in other]
        assert [back for _, back in own] == pytest.approx([back for _, back in other], abs=A_64TH_POINT)
    assert max(back for text in ours for _, back in text) > 5 * A_64TH_POINT, "no kerning was tried"


def test_letters_beyond_two_bytes_are_shown_too() -> None:
    """Pilots name files as they like; such a letter needs a font of its own in the file."""
    assert "Wren 😀 rode" in pdf_of("Wren 😀 rode", "and another").pages[0].extract_text()
