"""A sign that a reader would have to know is told in words, wherever a rule's value and limit stand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.checkride.against import figures_of
from debrief.checkride.model import Item
from debrief.checkride.summary import _against, _cells, _item_head
from debrief.reports.findings import finding_words
from debrief.reports.text import text_report
from debrief.reports.words import MINUS
from debrief.result import GradeItem
from tests.reports.fake import result


@pytest.mark.parametrize(
    ("rule", "value_nm", "limit_nm", "said"),
    [
        ("turn_lead", -1.3, -0.6, ("1.30 ± 0.05 NM late", "0.60 NM late")),
        ("turn_lead", 0.8, 0.6, ("0.80 ± 0.05 NM early", "0.60 NM early")),
        ("turn_lead", -0.004, -0.6, ("0.00 ± 0.05 NM", "0.60 NM late")),
        ("missed_approach", -0.2, 0.5, ("0.20 ± 0.05 NM before", "0.50 NM past")),
        ("outbound_length", 6.1, 5.7, ("6.10 ± 0.05 NM", "5.70 NM")),
        ("station_missed", 1.376, 1.375, ("1.38 ± 0.05 NM", "1.375 NM")),
        ("station_missed", 1.9, 5 / 3, ("1.90 ± 0.05 NM", "1.67 NM")),
    ],
)
def test_early_and_late_are_words(rule: str, value_nm: float, limit_nm: float, said: tuple[str, str]) -> None:
    """A late turn's limit stood as -0.60 NM, without a word on the sign."""
    attempt = result().attempts[0]
    finding = replace(
        attempt.findings[0], rule=rule, value=value_nm, limit=limit_nm, unit="NM", uncertainty=0.05, kind=""
    )
    words = finding_words(finding, None)

    assert (words.value, words.limit) == said


def test_the_table_of_items_and_an_examiners_summary_say_so_too() -> None:
    plain = result()
    attempt = plain.attempts[0]
    item = GradeItem(
        item="Turn at the station", result="unsatisfactory", value=-1.3, limit=-0.6, unit="NM", margin=-0.7,
        source="common practice", rule="turn_lead", phase="inbound",
    )  # fmt: skip
    grade = replace(attempt.grade, items=(item,))
    text = " ".join(text_report(replace(plain, attempts=(replace(attempt, grade=grade),))).split())
    asked = Item(
        item=item.item, value=item.value, limit=item.limit, unit=item.unit, margin=item.margin,
        verdict=item.result, rule=item.rule,
    )  # fmt: skip

    assert "Value: 1.30 nautical miles late; Limit: 0.60 nautical miles late" in text
    assert _against(asked) == "1.30 NM late against a limit of 0.60 NM late."
    assert MINUS not in _against(asked)
    assert figures_of(asked) == ("1.30 NM late", "0.60 NM late")
    assert figures_of(replace(asked, value=None, limit=None)) == ("", "")


@pytest.mark.parametrize(
    ("unit", "limit", "said"),
    [("deg", 2.25, "2.25°"), ("deg", 7.5, "7.5°"), ("kt", 12.5, "12.5 kt"), ("ft", 1125.0, "1,125 ft")],
)
def test_a_limit_stands_as_it_is_wherever_it_is_told(unit: str, limit: float, said: str) -> None:
    """Three quarters of a localiser's full scale, 2.25 degrees, stood as 2.2: what lay between seemed to be too much."""
    item = Item(
        item="X",
        rule="tracking",
        value=limit - 0.1,
        limit=limit,
        unit=unit,
        margin=0.1,
        verdict="satisfactory",
    )

    assert figures_of(item)[1] == said
    assert _against(item).endswith(f"a limit of {said}.")
    assert _cells(item)[3] == said
    assert _item_head(("X", unit), limit) == f"X, limit {said}"
