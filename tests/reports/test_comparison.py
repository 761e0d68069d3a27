"""A comparison on paper and in files: everything to be read, with one pilot and with forty; whole or not at all."""

from __future__ import annotations

import csv
import json
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from debrief.comparison import Comparison, compare
from debrief.comparison.catalogue import CATALOGUE
from debrief.comparison.model import Flown
from debrief.comparison.over_time import control_chart
from debrief.errors import OutputError
from debrief.procedures import load_procedure
from debrief.reports.comparison_files import COLUMNS, comparison_csv, comparison_json, write_comparison
from debrief.reports.comparison_maps import Path as Line
from debrief.reports.comparison_pages import build_comparison_pages
from debrief.reports.comparison_strips import limits_shown
from debrief.reports.comparison_words import METHOD
from debrief.reports.style import CAUTION
from tests.comparison.clubs import FIRST_DAY
from tests.reports.setting import faults

PROCEDURE = load_procedure("lantern-vor-22")


def some_flights(pilots: int, each: int, seed: int = 1) -> list[Flown]:
    """Flights with every measure of the catalogue; the first pilot is steadier and farther out, and has a long name."""
    from datetime import timedelta

    draw = np.random.default_rng(seed)
    flown = []
    for pilot in range(pilots):
        for number in range(each if pilot != 1 else min(each, 2)):
            values = draw.normal(50.0, 0.5 if pilot == 0 else 3.0, len(CATALOGUE)) + (
                20.0 if pilot == 0 else 0.0
            )
            flown.append(
                Flown(
                    flight=len(flown) + 1,
                    pilot=f"Pilot {pilot:02d}" if pilot else "Wilhelmina Winterbottom-Wetherby",
                    time=FIRST_DAY + timedelta(days=number + pilot / 100),
                    measures=dict(zip((m.name for m in CATALOGUE), values.tolist(), strict=True)),
                    wind_speed_kt=float(draw.uniform(0, 20)),
                    items=(("tracking", "final", "marginal" if number % 2 else "satisfactory"),),
                )
            )
    return flown


def lines_of(flown: list[Flown]) -> dict[str, list[Line]]:
    """A spiral a flight."""
    turn = np.linspace(0, 6, 50)
    lines: dict[str, list[Line]] = {}
    for number, flight in enumerate(flown):
        out = turn * (1.0 + 0.01 * number)
        lines.setdefault(flight.pilot, []).append(
            Line(east_nm=out * np.sin(turn), north_nm=out * np.cos(turn))
        )
    return lines


def compared(flown: list[Flown], **more: object) -> Comparison:
    return compare(flown, PROCEDURE.name, deals=49, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("pilots", [1, 3, 12, 40])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_text_covers_another_or_leaves_the_page(pilots: int, paper):
    flown = some_flights(pilots, 4 if pilots > 12 else 9)
    pages = build_comparison_pages(compared(flown), PROCEDURE, lines_of(flown), paper)

    assert faults(pages) == []
    # how it was found stands whole on the last page, which held its last line alone
    assert "How the numbers were found" in {text.text for text in pages[-1].texts}


def test_the_report_says_who_differs_who_is_not_judged_and_how_it_was_found(tmp_path: Path):
    flown = some_flights(5, 9)
    comparison = compared(flown)
    write_comparison(comparison, PROCEDURE, lines_of(flown), tmp_path)
    reader = PdfReader(BytesIO((tmp_path / "comparison.pdf").read_bytes()))
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)

    # she differs on every measure, too many for a sentence each
    club = comparison.measures[0].club.level
    assert f"Lead of the turn at the station (NM): level (the club's {club:.2f}) Wilhelmina" in text
    assert "Fewer than 3 flights, so shown and not judged: Pilot 01." in text
    assert "Tracking the course, final: missed in" in text
    assert all(f"{title}. " in text for title, _ in METHOD)
    assert all(CAUTION.split(".")[0] in page.extract_text() for page in reader.pages)


def test_few_differences_have_a_sentence_each():
    flown = some_flights(5, 9)
    few = compare(flown, "Lantern VOR/DME runway 22", measures=CATALOGUE[:3], deals=99)
    said = " ".join(
        text.text for text in build_comparison_pages(few, PROCEDURE, lines_of(flown), "A4")[0].texts
    )

    assert "Wilhelmina Winterbottom-Wetherby, lead of the turn at the station: level" in said


def test_a_size_has_no_limit_below_nothing_on_its_chart():
    """The mean less three mean ranges may be negative; no needle was ever off by less than nothing."""
    chart = control_chart(np.array([0.2, 1.4, 0.3, 1.2, 0.1]))
    assert chart is not None
    assert chart.low < 0.0

    assert limits_shown("final.deviation_deg.rms", chart) == (chart.high,)
    assert limits_shown("turn.lead_nm", chart) == (chart.low, chart.high)


def test_equal_pilots_are_not_called_alike(tmp_path: Path):
    flown = [f for f in some_flights(5, 4) if not f.pilot.startswith("Wil")]
    page = build_comparison_pages(compared(flown), PROCEDURE, lines_of(flown), "A4")[0]
    said = " ".join(text.text for text in page.texts)

    assert "No pilot differs from the others beyond chance. That does not say that all fly alike" in said


def test_the_json_file_is_what_its_format_says():
    """DEVELOPERS.md, Comparison file: the names of the contract, and nothing that JSON cannot hold."""
    content = json.loads(comparison_json(compared(some_flights(4, 6))))

    assert content["format"] == 1
    assert content["procedure"] == PROCEDURE.name
    first = content["measures"][0]
    assert first["name"] == CATALOGUE[0].name
    assert {"name", "unit", "club", "pilots"} <= first.keys()
    assert {"level", "spread"} <= first["club"].keys()
    for row in first["pilots"]:
        assert {
            "pilot",
            "flights",
            "level",
            "level_interval",
            "spread",
            "spread_interval",
            "differs",
        } <= row.keys()
        assert row["differs"] in (None, "level", "spread", "both")
    few = next(row for row in first["pilots"] if row["flights"] == 2)
    assert (few["level_interval"], few["spread"], few["spread_interval"], few["differs"]) == (None,) * 4


def test_the_csv_has_a_row_a_measure_and_pilot_and_no_formula():
    flown = list(some_flights(3, 4))
    flown = [*flown, *(Flown(**{**_fields(f), "flight": 100 + f.flight, "pilot": "=1+1"}) for f in flown[:4])]
    rows = list(csv.DictReader(comparison_csv(compared(flown)).splitlines()))

    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 4 * len(CATALOGUE)
    assert {row["pilot"] for row in rows} >= {"'=1+1"}
    few = next(row for row in rows if row["flights"] == "2")
    assert few["spread"] == few["level_low"] == few["differs"] == ""


def _fields(flown: Flown) -> dict[str, object]:
    return {name: getattr(flown, name) for name in Flown.__dataclass_fields__}


def test_the_same_comparison_gives_the_same_bytes(tmp_path: Path):
    flown = some_flights(3, 5)
    for folder in ("one", "two"):
        write_comparison(compared(flown), PROCEDURE, lines_of(flown), tmp_path / folder)

    names = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert names == ["comparison.csv", "comparison.json", "comparison.pdf", "comparison.png", "flights.csv"]
    for name in names:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_nothing_is_left_where_it_cannot_be_written(tmp_path: Path):
    flown = some_flights(2, 4)
    (tmp_path / "flights.csv").mkdir()

    with pytest.raises(OutputError):
        write_comparison(compared(flown), PROCEDURE, lines_of(flown), tmp_path)

    assert [path.name for path in tmp_path.iterdir()] == ["flights.csv"]
