"""The pilot's figures beside those of the errorless flight: what is printed adds up."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import pytest

from debrief.reports.reference_table import reference_part
from debrief.result import Attempt


@dataclass
class Heard:
    """Takes what is set, and keeps the table."""

    rows: list[tuple[str, ...]] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def subheading(self, text: str, **_: Any) -> None:
        assert text

    def paragraph(self, text: str, **_: Any) -> None:
        assert text
        self.said.append(text)

    def table(self, columns: Any, rows: Any) -> None:
        self.rows = [row.cells for row in rows]


def figures(**known: float) -> Any:
    names = (
        "lead_nm", "outbound_time_s", "outbound_heading_mag_deg", "turn_off_dme_nm", "reversal_width_nm",
        "reversal_max_distance_nm", "intercept_angle_deg", "established_distance_nm", "final_heading_mag_deg",
        "descent_start_distance_nm", "descent_angle_deg", "descent_rate_ft_min",
    )  # fmt: skip
    return SimpleNamespace(**{**dict.fromkeys(names), **known})


def flown_beside(reference: SimpleNamespace, entry: str | None = None) -> Attempt:
    arrival = SimpleNamespace(entry=entry)
    return SimpleNamespace(reference=reference, measures=SimpleNamespace(arrival=arrival))  # type: ignore[return-value]


def test_a_difference_is_that_of_the_figures_beside_it() -> None:
    """0.494 and 0.496 NM are shown as 0.49 and 0.50; their difference was shown as 0.00."""
    reference = SimpleNamespace(
        flown=figures(
            lead_nm=0.494,
            outbound_heading_mag_deg=359.6,
            intercept_angle_deg=44.44,
            descent_rate_ft_min=487.6,
        ),
        errorless=figures(
            lead_nm=0.496, outbound_heading_mag_deg=2.4, intercept_angle_deg=44.46, descent_rate_ft_min=534.9
        ),
        wind_speed_kt=None,
        method="Flown by a model.",
        why="",
    )
    heard = Heard()

    reference_part(heard, flown_beside(reference))

    assert [row[1:] for row in heard.rows] == [
        ("+0.49 NM", "+0.50 NM", "−0.01 NM"),
        ("360°", "002°", "−2°"),
        ("44.4°", "44.5°", "−0.1°"),
        ("490 ft/min", "530 ft/min", "−40 ft/min"),
    ]


@pytest.mark.parametrize(("wind_speed_kt", "said"), [(None, "in still air"), (20.0, "Not measured")])
def test_a_figure_that_stands_beside_none_has_its_reason(wind_speed_kt: float | None, said: str) -> None:
    """A dash stood there, and nobody knew whether it was the flight or the program that failed."""
    reference = SimpleNamespace(
        flown=figures(lead_nm=0.5, final_heading_mag_deg=103.0, intercept_angle_deg=43.3),
        errorless=figures(lead_nm=0.5),
        wind_speed_kt=wind_speed_kt,
        method="Flown by a model.",
        why="",
    )
    heard = Heard()

    reference_part(heard, flown_beside(reference))

    reasons = heard.said[1:]
    assert len(reasons) == 2
    assert any(said in text and "eading" in text for text in reasons)
    assert any("straight onto the course" in text for text in reasons)


@pytest.mark.parametrize(("entry", "said"), [("parallel", True), ("direct", False), (None, False)])
def test_a_racetrack_entered_parallel_says_why_its_figures_differ(entry: str | None, *, said: bool) -> None:
    reference = SimpleNamespace(
        flown=figures(reversal_width_nm=2.86),
        errorless=figures(reversal_width_nm=1.25),
        wind_speed_kt=None,
        method="Flown by a model.",
        why="",
    )
    heard = Heard()

    reference_part(heard, flown_beside(reference, entry))

    assert any("entered parallel" in text for text in heard.said) == said
