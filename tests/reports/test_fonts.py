"""Names in any script: in the reports' own font, in one of the machine's, or a box that is explained."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont
from pypdf import PdfReader

from debrief.reports import fonts, layout, pdf_text
from debrief.reports.files import bound, pdf_bytes, png_bytes
from debrief.reports.fonts import font_for, own_font
from debrief.reports.layout import NO_LETTER, printable, width_pt
from debrief.reports.page import Page
from debrief.reports.pages import build_pages
from tests.reports import fake

IN_OUR_FONT = ("Łukasz Żółć", "Ιωάννης Παπαδόπουλος", "Наталія Ђорђевић", "Ørjan Åse", "Šárka Ďurišová")
CHINESE = "王小明"
EXPLAINED = f"{NO_LETTER} stands for a letter that no font of this machine has."
SIZE_PT = 9.0


def forget() -> None:
    """Everything that was found out about fonts."""
    for module in (fonts, layout, pdf_text):
        for found in vars(module).values():
            if hasattr(found, "cache_clear"):
                found.cache_clear()


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """The files of the machine's fonts: none, and those that a test puts there."""
    files: list[str] = []
    monkeypatch.setattr(fonts, "findSystemFonts", lambda: files)
    forget()
    yield files
    forget()


def chinese_font(folder: Path) -> str:
    """A font with the letters of one Chinese name, and no other; they look like Latin ones, twice as wide."""
    made = TTFont(own_font(bold=False))
    names = {ord(letter): name for letter, name in zip(CHINESE, ("W", "X", "M"), strict=True)}
    for table in made["cmap"].tables:
        table.cmap = dict(names) if table.isUnicode() else {}
    for name in names.values():
        wide, left = made["hmtx"][name]
        made["hmtx"][name] = (2 * wide, left)
    path = folder / "three letters.ttf"
    made.save(path)
    return str(path)


def told(page: Page) -> str:
    """What can be selected in a PDF of the page."""
    content = bound([page], title="t", creator="c", date=datetime(2026, 1, 1, tzinfo=UTC))
    return PdfReader(BytesIO(content)).pages[0].extract_text()


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("name", IN_OUR_FONT)
def test_names_of_europe_need_no_font_of_the_machine(machine: list[str], name: str, bold: bool):
    page = Page(300.0, 60.0)
    page.text(20.0, 30.0, name, SIZE_PT, bold=bold)

    assert {font_for(letter, bold=bold) for letter in name} == {own_font(bold=bold)}
    assert name in told(page)


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("upright", [False, True])
def test_what_our_font_lacks_is_printed_in_one_of_the_machines(
    machine: list[str], tmp_path: Path, bold: bool, upright: bool
):
    machine.append(chinese_font(tmp_path))
    text = f"Wren,{CHINESE}and Heron"
    page = Page(300.0, 300.0)
    box = page.text(20.0, 30.0, text, SIZE_PT, bold=bold, upright=upright)

    assert text in " ".join(told(page).split())
    assert max(box.width, box.height) == pytest.approx(width_pt(text, SIZE_PT, bold=bold))
    own = width_pt("Wren,", SIZE_PT, bold=bold) + width_pt("and Heron", SIZE_PT, bold=bold)
    assert width_pt(text, SIZE_PT, bold=bold) == pytest.approx(own + 2 * width_pt("WXM", SIZE_PT), abs=1.0)


def test_matplotlib_alone_prints_it_too(machine: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    machine.append(chinese_font(tmp_path))
    monkeypatch.setattr(pdf_text, "showable", lambda text: False)
    page = Page(300.0, 60.0)
    page.text(20.0, 30.0, f"Wren, {CHINESE} and Heron", SIZE_PT)

    assert f"Wren, {CHINESE} and Heron" in told(page)


def test_a_picture_has_the_letters_too(machine: list[str], tmp_path: Path):
    def picture() -> bytes:
        forget()
        page = Page(120.0, 40.0)
        page.text(20.0, 30.0, CHINESE, SIZE_PT)
        return png_bytes(page)

    boxes = picture()
    machine.append(chinese_font(tmp_path))

    assert picture() != boxes


def test_what_no_font_has_is_a_box_and_is_explained(machine: list[str]):
    result = fake.result()
    named = replace(result, procedure=replace(result.procedure, name=f"Approach of {CHINESE}"))
    content = PdfReader(BytesIO(pdf_bytes(build_pages(named, "A4"), named)))
    texts = [" ".join(page.extract_text().split()) for page in content.pages]

    assert printable(CHINESE) == NO_LETTER * 3
    assert f"Approach of {NO_LETTER * 3}" in texts[0]
    assert all((NO_LETTER * 3 in text) == (EXPLAINED in text) for text in texts)
    plain = PdfReader(BytesIO(pdf_bytes(build_pages(result, "A4"), result)))
    assert not any(NO_LETTER in page.extract_text() for page in plain.pages)


def test_a_font_that_no_pdf_can_hold_or_that_is_damaged_is_passed_by(machine: list[str], tmp_path: Path):
    good = chinese_font(tmp_path)
    content = Path(good).read_bytes()
    damaged, outlineless = tmp_path / "a.ttf", tmp_path / "b.ttf"
    damaged.write_bytes(content[:300])
    outlineless.write_bytes(content.replace(b"glyf", b"CFFx", 1))
    machine += [str(damaged), str(outlineless), str(tmp_path / "gone.ttf"), good]

    assert font_for("王", bold=True) == good
    assert font_for("四", bold=True) is None


def test_what_cannot_be_printed_at_all_is_a_box_too(machine: list[str]):
    assert printable("Łódź 機 \x07 end\nof line") == f"Łódź {NO_LETTER} {NO_LETTER} end of line"


def test_a_letter_and_its_accent_are_one_letter(machine: list[str]):
    """Some systems write names of files in two letters for each such one."""
    assert printable("Mu\u0308ller") == "Müller"


def test_names_read_from_the_right_are_left_to_who_can_turn_them():
    assert not pdf_text.showable("שלום")
    assert not pdf_text.showable("محمد")
    assert not pdf_text.showable("x\u0301")


def test_the_machines_fonts_are_not_looked_for_where_our_own_does(monkeypatch: pytest.MonkeyPatch):
    def never() -> list[str]:
        raise AssertionError("the machine's fonts were looked for")

    forget()
    monkeypatch.setattr(fonts, "findSystemFonts", never)
    assert os.path.basename(font_for("Ω", bold=True) or "") == "DejaVuSans-Bold.ttf"
    forget()
