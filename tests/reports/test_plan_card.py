"""The plan card on paper: one page whatever it holds, everything on it to be read, whole or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from debrief.errors import OutputError
from debrief.planning.blocks import blocks
from debrief.planning.card import Card
from debrief.procedures import Procedure, bundled_procedures, load_procedure
from debrief.reports.page import Page
from debrief.reports.plan_card import plan_card_page, write_plan_card
from debrief.reports.style import CAUTION, SMALL_PT
from tests.planning.practice import card

PAPERS = ("A4", "Letter")
every_procedure = pytest.mark.parametrize("planned", bundled_procedures(), ids=lambda p: Path(p.file).stem)


def ranged(
    planned: Procedure,
    speeds_kias: Sequence[float],
    wind: tuple[float, float],
    arrival_deg: float | None = None,
) -> list[Card]:
    return [card(planned, speed, wind, arrival_deg=arrival_deg) for speed in speeds_kias]


def assert_readable(page: Page) -> None:
    covering = [(a.text, b.text) for a, b in combinations(page.texts, 2) if a.box.overlaps(b.box)]
    outside = [text.text for text in page.texts if text.box.meet(page.area) != text.box]
    assert covering == []
    assert outside == []
    assert min(text.size_pt for text in page.texts) >= SMALL_PT


@every_procedure
@pytest.mark.parametrize("paper", PAPERS)
def test_no_text_covers_another_or_leaves_the_page(planned: Procedure, paper) -> None:
    assert_readable(plan_card_page(ranged(planned, [120.0], (270.0, 20.0)), paper))
    assert_readable(plan_card_page(ranged(planned, [90.0], (0.0, 0.0), 140.0), paper))
    six = [190.0 + 10.0 * step for step in range(6)]
    assert_readable(plan_card_page(ranged(planned, six, (100.0, 60.0)), paper))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_longest_card_still_is_one_page(paper) -> None:
    ember = load_procedure("ember-vor-17")
    long = ember.model_copy(update={"name": "Wide words " * 10 + "W" * 10})
    cards = ranged(long, [230.0 + 10.0 * step for step in range(6)], (350.0, 70.0))
    page = plan_card_page(cards, paper)

    assert len(cards[-1].broken) >= 4
    assert_readable(page)


@every_procedure
def test_no_word_of_a_tables_head_is_broken(planned: Procedure) -> None:
    cards = ranged(planned, [140.0, 150.0], (100.0, 30.0))
    found = set(words_of(plan_card_page(cards, "A4")).split())
    heads = {
        word
        for block in blocks(cards)
        if block.table
        for head, _ in block.table.heads
        for word in head.split()
    }

    assert heads <= found


def words_of(page: Page) -> str:
    return " ".join(text.text for text in page.texts)


def test_the_limits_stand_at_the_top_with_a_sign_beside_the_word() -> None:
    lantern = load_procedure("lantern-vor-22")
    kept = plan_card_page(ranged(lantern, [110.0], (0.0, 0.0)), "A4")
    broken = plan_card_page(ranged(lantern, [210.0], (200.0, 30.0)), "A4")

    assert "At this speed, in still air, every limit is kept." in words_of(kept)
    assert "Speed: 210 kt indicated is above the 200 kt published for the reversal." in words_of(broken)
    assert _signs(kept) == {"o"}
    assert _signs(broken) == {"X"}


def _signs(page: Page) -> set[str]:
    return {
        str(line.get_marker())
        for line in page.figure.lines + page.figure.findobj(lambda artist: hasattr(artist, "get_marker"))
        if line.get_marker() not in (None, "None", "")
    }


def test_the_map_shows_the_heading_of_each_leg() -> None:
    made = card(load_procedure("lantern-vor-22"), 120.0, (270.0, 20.0))
    texts = words_of(plan_card_page([made], "A4"))

    for leg in made.legs:
        assert f"heading {round(made.magnetic_deg(leg.heading_true_deg)):03d}°" in texts
    assert "Headings and times as published" in texts
    assert "Wind 270° true, 20 kt" in texts


def test_in_still_air_there_is_no_wind_on_the_map() -> None:
    texts = words_of(plan_card_page([card(load_procedure("lantern-vor-22"))], "A4"))

    assert "Wind" not in texts
    assert "Headings and times as published" not in texts


def test_the_files_are_one_page_of_text_and_its_picture(tmp_path: Path) -> None:
    cards = [card(load_procedure("sallow-vor-13"), 120.0, (300.0, 15.0))]
    pdf, png = write_plan_card(cards, tmp_path / "cards")
    reader = PdfReader(BytesIO(pdf.read_bytes()))
    text = " ".join(reader.pages[0].extract_text().split())

    assert (pdf.name, png.name) == ("sallow-vor-13-plan.pdf", "sallow-vor-13-plan.png")
    assert len(reader.pages) == 1
    assert "Sallow VOR runway 13" in text
    assert CAUTION in text
    assert reader.metadata is not None
    assert reader.metadata.title == "Plan card: Sallow VOR runway 13"


def test_the_same_card_is_the_same_bytes(tmp_path: Path) -> None:
    cards = [card(load_procedure("lantern-vor-22"), 120.0, (270.0, 20.0))]
    first = [path.read_bytes() for path in write_plan_card(cards, tmp_path)]

    assert [path.read_bytes() for path in write_plan_card(cards, tmp_path)] == first


def test_a_full_disk_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(source: object, target: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(OutputError, match=r"plan\.pdf: cannot be written: No space left on device\."):
        write_plan_card([card(load_procedure("lantern-vor-22"))], tmp_path / "cards")

    assert list(tmp_path.iterdir()) == []


def test_the_card_reads_in_grey(tmp_path: Path) -> None:
    """Every ink is darker than a third of the way to white, but for rules, washes and grids."""
    from PIL import Image

    cards = [card(load_procedure("marrow-vor-31"), 120.0, (270.0, 20.0))]
    _, png = write_plan_card(cards, tmp_path)
    with Image.open(png) as picture:
        grey = np.asarray(picture.convert("L"))
        colour = np.asarray(picture.convert("RGB")).astype(int)
    coloured = colour.max(axis=2) - colour.min(axis=2) > 120  # the inks of the phases

    assert coloured.any()
    assert np.quantile(grey[coloured], 0.9) < 170
