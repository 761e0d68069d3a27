"""The summary of many flights: each flight's items with value, limit and margin, on pages that can be read."""

from __future__ import annotations

from dataclasses import replace

from debrief.checkride.model import Item, Row
from debrief.checkride.results import Results
from debrief.checkride.summary import summary_pages
from tests.reports.setting import faults

ITEMS = (
    Item(item="Minimum descent altitude", verdict="satisfactory", required=True, value=640.0, limit=620.0, unit="ft", margin=20.0),
    Item(item="Overshoot of the inbound course", verdict="satisfactory", required=True, value=0.25, limit=0.4, unit="NM", margin=0.15),
    Item(item="Side of the reversal", verdict="satisfactory", required=True, value=None, limit=None, unit=None, margin=None),
    *(
        Item(item=f"Altitude kept up to the station, leg {leg}", verdict="satisfactory", required=True, value=3433.0, limit=3400.0, unit="ft", margin=33.0)
        for leg in range(8)
    ),
)  # fmt: skip


def graded(count: int) -> tuple[Row, ...]:
    """So many flights that passed; of the first one item failed, of the second one lies within its uncertainty."""
    rows = [
        Row(
            file=f"week 9/a group with a long name/candidate-{number:03}.gpx",
            pilot=f"Candidate {number:03}",
            procedure="Lantern VOR/DME runway 22",
            result="satisfactory",
            items=ITEMS,
        )
        for number in range(count)
    ]
    low, far, *rest = ITEMS
    failed = replace(low, value=580.0, margin=-40.0, verdict="unsatisfactory")
    unsure = replace(far, value=0.41, margin=-0.01, verdict="marginal")
    other = replace(far, value=0.3, limit=0.6, margin=0.3)
    unseen = replace(rest[0], verdict="not assessable", reason="the log has a gap there")
    rows[0] = replace(rows[0], items=(failed, far, *rest), result="unsatisfactory")
    rows[1] = replace(rows[1], items=(low, unsure, unseen, *rest[1:]))
    rows[2] = replace(rows[2], items=(low, other, *rest), pilot=rows[3].pilot)
    return tuple(rows)


def texts(count: int) -> list[list[str]]:
    pages = summary_pages(Results(program="debrief 0", flights=graded(count)), "A4")
    assert faults(pages) == []
    return [[text.text for text in page.texts] for page in pages]


def test_of_hundreds_of_flights_each_item_stands_with_its_margin_under_its_limit() -> None:
    pages = texts(300)
    words = [text for page in pages for text in page]

    assert words.count("640 (+20)") == 299
    assert words.count("580 (−40)!") == 1
    assert words.count("0.41 (−0.01)?") == 1
    # on two lines: held to another limit than the others
    assert words[words.index("0.30 of 0.60") + 1 :].count("(+0.30)") == 1
    assert words.count("3,433 (+33)") == 8 * 300
    assert words.count("yes") == 299
    assert any(text.endswith("620 ft") for text in words)  # above its column
    # a pilot with two flights: their files tell them apart
    assert "Candidate 003" not in words[words.index("Flight by flight") :]
    assert len(pages) < 40


def test_of_a_hundred_flights_each_has_a_table_of_its_own() -> None:
    words = [text for page in texts(100) for text in page]

    assert words.count("640 ft") == 99
    assert words.count("+20 ft") == 99


def test_of_more_than_anybody_reads_the_file_is_named() -> None:
    words = " ".join(text for page in texts(401) for text in page)

    assert "The items of so many flights (401) stand in results.json" in words


def test_a_verdict_stands_whole_on_its_line() -> None:
    """The bold one of a failed item was broken before its last letter."""
    words = [text for page in texts(4) for text in page]

    assert words.count("unsatisfactory") == 2  # in the overview, and of the item
    assert "y" not in words


def test_what_is_wrong_with_the_file_beside_a_log_is_told() -> None:
    (row, *_) = graded(4)
    remark = "ada.toml is not valid TOML in UTF-8: the pilot was not read from it"

    pages = summary_pages(Results(program="debrief 0", flights=(replace(row, remark=remark),)), "A4")

    assert remark in " ".join(text.text for page in pages for text in page.texts)
