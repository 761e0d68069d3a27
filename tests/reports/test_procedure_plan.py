"""The picture of a procedure: everything on it can be read, and the file is whole or absent."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest

from debrief.errors import OutputError
from debrief.procedures import Procedure, bundled_procedures, load_procedure
from debrief.procedures.model import AltitudeLimit
from debrief.reports.procedure_plan import procedure_page, write_procedure_plan
from debrief.reports.style import CAUTION

every_procedure = pytest.mark.parametrize("procedure", bundled_procedures(), ids=lambda p: Path(p.file).stem)


@every_procedure
def test_no_text_covers_another_or_leaves_the_page(procedure: Procedure) -> None:
    page = procedure_page(procedure)

    covering = [(a.text, b.text) for a, b in combinations(page.texts, 2) if a.box.overlaps(b.box)]
    outside = [text.text for text in page.texts if text.box.meet(page.area) != text.box]
    assert covering == []
    assert outside == []


@every_procedure
def test_every_altitude_the_runway_and_the_caution_are_on_it(procedure: Procedure) -> None:
    texts = " ".join(text.text for text in procedure_page(procedure).texts)
    altitudes_ft = [step.at_or_above_ft for leg in procedure.leg for step in leg.step_down]
    for leg in procedure.leg:
        limit = leg.altitude
        altitudes_ft += [ft for ft in (limit.low_ft, limit.high_ft) if ft is not None] if limit else []

    assert [
        ft for ft in altitudes_ft if texts.count(f"{ft:,.0f} ft") + texts.count(f"{ft:,.0f} and") == 0
    ] == []
    assert procedure.runway is not None
    assert f"Runway {procedure.runway.ident}" in texts
    assert CAUTION in texts


def test_each_leg_shows_its_altitude_on_the_map(lantern: Procedure) -> None:
    texts = [text.text for text in procedure_page(lantern).texts]

    assert "Outbound, 2,800 ft or above" in texts
    assert "Course reversal, 2,300 ft or above" in texts
    assert "Intermediate, 1,800 ft or above" in texts
    assert "1,100 ft to 2.0 DME" in texts
    assert "Missed approach at 4.6 DME, minimum 620 ft" in texts


@pytest.fixture
def lantern() -> Procedure:
    return load_procedure("lantern-vor-22")


def test_a_long_name_and_a_missing_runway_fit_too(lantern: Procedure) -> None:
    odd = lantern.model_copy(update={"name": "W" * 120, "note": "Nota bene. " * 30, "runway": None})

    page = procedure_page(odd)

    assert [text.text for text in page.texts if text.box.meet(page.area) != text.box] == []
    assert [(a.text, b.text) for a, b in combinations(page.texts, 2) if a.box.overlaps(b.box)] == []


def test_a_procedure_without_altitudes_or_length_is_drawn(lantern: Procedure) -> None:
    legs = tuple(
        leg.model_copy(
            update={"altitude": AltitudeLimit(at_or_above_ft=620) if leg.phase == "final" else None}
        )
        for leg in lantern.leg
    )

    texts = [text.text for text in procedure_page(lantern.model_copy(update={"leg": legs})).texts]

    assert "Intermediate: course 224" in texts


def test_the_file_is_a_picture_and_nothing_is_left_beside_it(lantern: Procedure, tmp_path: Path) -> None:
    path = tmp_path / "plan.png"
    write_procedure_plan(lantern, path)
    first = path.read_bytes()
    write_procedure_plan(lantern, path)

    assert first.startswith(b"\x89PNG\r\n\x1a\n")
    assert path.read_bytes() == first
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan.png"]


def test_where_it_cannot_be_written_the_place_is_named(lantern: Procedure, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file where a folder is wanted")

    with pytest.raises(OutputError) as caught:
        write_procedure_plan(lantern, tmp_path / "taken" / "plan.png")

    assert str(caught.value) == (
        f"{tmp_path / 'taken'}: cannot be written: File exists. "
        "Choose a file that can be written, or make room on the disk."
    )
    assert [entry.name for entry in tmp_path.iterdir()] == ["taken"]


def test_a_full_disk_leaves_no_file(
    lantern: Procedure, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(source: object, target: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(OutputError, match=r"plan\.png: cannot be written: No space left on device\."):
        write_procedure_plan(lantern, tmp_path / "plan.png")

    assert list(tmp_path.iterdir()) == []
