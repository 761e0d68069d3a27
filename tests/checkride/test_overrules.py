"""An examiner disagrees: kept beside the machine's verdict, added up anew, and lapsing with what it was taken on."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import replace
from pathlib import Path

import pytest

from debrief.checkride.model import Flag, Item, Row, added_up
from debrief.checkride.overrules import Decision, decide, decisions_json, read_decisions, with_overrules
from debrief.checkride.results import Results, read_results, results_json, row_json
from debrief.checkride.summary import summary_pages
from debrief.errors import DebriefError


def item(name: str, verdict: str = "satisfactory", **more: object) -> Item:
    rule, _, phase = name.partition(" ")
    blank = Item(item=name.capitalize(), value=1.0, limit=2.0, unit="deg", margin=1.0, verdict=verdict)
    return replace(blank, rule=rule, phase=phase or None, worth=float(verdict == "satisfactory"), **more)  # type: ignore[arg-type]


ROW = Row(
    file="week/ada.gpx",
    sha256="aa",
    pilot="Ada Finch",
    result="unsatisfactory",
    procedure_sha256="pp",
    standard_sha256="ss",
    items=(
        item("tracking final", "unsatisfactory"),
        item("tracking outbound"),
        item("turn_lead", required=False),
    ),
)
OTHER = replace(ROW, file="bo.gpx", sha256="bb", pilot="Bo Tern", result="satisfactory", items=())


def taken(**more: str) -> Decision:
    asked = {
        "pilot": "ada finch",
        "item": "tracking final",
        "result": "satisfactory",
        "by": "Q",
        "because": "seen",
    }
    return decide([ROW, OTHER], **(asked | more))


def test_a_decision_stands_beside_the_verdict() -> None:
    (row, _) = with_overrules([ROW, OTHER], [taken()])

    assert row.items[0].verdict == "unsatisfactory"
    assert row.items[0].overruled is not None
    assert (row.items[0].overruled.by, row.items[0].overruled.because) == ("Q", "seen")
    assert (row.result, row.decided) == ("unsatisfactory", "satisfactory")


def test_the_last_decision_counts_and_can_be_taken_back() -> None:
    rows = with_overrules([ROW], [taken(), taken(result="not assessable")])
    assert rows[0].decided == "not assessable"

    back = decide(rows, pilot="ada finch", item="tracking final", result="withdraw", by="Q", because="a slip")
    rows = with_overrules([ROW], [taken(), back])
    assert rows[0] == ROW


def test_a_whole_result_can_be_overruled() -> None:
    decision = taken(item="result", result="satisfactory")

    (row,) = with_overrules([ROW], [decision])

    assert row.decided == "satisfactory"
    assert all(entry.overruled is None for entry in row.items)


def test_who_has_decided_on_the_whole_is_asked_no_more() -> None:
    """The summary asked an examiner again for what he had decided."""
    flag = Flag(sign="altitude_disagrees", strength=0.9, evidence="the track has no landing")
    row = replace(ROW, flags=(flag,), items=(item("tracking final", "marginal"),))
    assert row.to_examiner == ("marginal: Tracking final", "signs: altitude disagrees")

    (decided,) = with_overrules([row], [taken(item="result", result="satisfactory")])

    assert decided.to_examiner == ()


def test_the_summary_says_who_decided_what_and_why() -> None:
    decision = taken(item="result", result="satisfactory", because="flown again beside me")
    results = Results(program="debrief 0", flights=tuple(with_overrules([ROW], [decision, taken()])))

    words = " ".join(text.text for page in summary_pages(results, "A4") for text in page.texts)

    assert "Decided by an examiner" in words
    assert "flown again beside me" in words
    assert "Tracking final" in words


@pytest.mark.parametrize(
    "changed",
    [
        {"sha256": "cc"},
        {"standard_sha256": "tt"},
        {"procedure_sha256": "qq"},
        {"items": (item("tracking final", "marginal"),)},
    ],
)
def test_a_decision_lapses_with_what_it_was_taken_on(changed: dict[str, object]) -> None:
    (row,) = with_overrules([replace(ROW, **changed)], [taken()])  # type: ignore[arg-type]

    assert row.items[0].overruled is None


@pytest.mark.parametrize(
    "name", ["Tracking final", "tracking_final", "TRACKING  FINAL (attempt 1)", "tracking final deg"]
)
def test_an_item_may_be_named_in_several_ways(name: str) -> None:
    assert taken(item=name).item == "Tracking final"


@pytest.mark.parametrize(
    ("asked", "line"),
    [
        ({"pilot": "Ada Fin"}, "no log is of 'Ada Fin'. Did you mean 'Ada Finch'?"),
        ({"pilot": "Zoe"}, "no log is of 'Zoe'. See the columns pilot and file of results.csv."),
        (
            {"item": "tracking"},
            (
                "'tracking' of week/ada.gpx may be Tracking final (attempt 1); Tracking outbound (attempt 1). "
                "Give the item's whole name."
            ),
        ),
        (
            {"item": "trackin final"},
            "week/ada.gpx has no item 'trackin final'. Did you mean 'Tracking final'?",
        ),
        (
            {"result": "fine"},
            "no verdict is called 'fine'. Give one of satisfactory, marginal, unsatisfactory, not assessable, withdraw.",
        ),
        ({"by": " "}, "an overrule needs --by NAME. Say who decided, and why."),
        ({"because": ""}, 'an overrule needs --because "...". Say who decided, and why.'),
        (
            {"result": "withdraw"},
            "nobody overruled 'Tracking final' of week/ada.gpx, so there is nothing to take back. See debrief review.",
        ),
        (
            {"item": "result", "result": "marginal"},
            "a whole result is not marginal. Give satisfactory, unsatisfactory or not assessable.",
        ),
    ],
)
def test_what_is_not_clear_is_asked_again_in_one_line(asked: dict[str, str], line: str) -> None:
    with pytest.raises(DebriefError) as error:
        taken(**asked)

    assert str(error.value) == line


def test_bytes_that_are_no_text_can_be_kept() -> None:
    """From a terminal of another encoding: the decision could not be written, as a fault of the program."""
    decision = taken(by="R. Quill \udcff", because="heard\nat 460\udcfe")

    assert (decision.by, decision.because) == ("R. Quill \\xff", "heard at 460\\xfe")
    assert decisions_json([decision]).encode()


def test_two_logs_of_one_pilot_are_told_apart_by_file() -> None:
    rows = [ROW, replace(ROW, file="week/ada 2.gpx")]

    with pytest.raises(DebriefError, match="2 logs are of 'ada finch'"):
        decide(rows, pilot="ada finch", item="result", result="satisfactory", by="Q", because="seen")
    assert (
        decide(rows, pilot="ada 2.gpx", item="result", result="satisfactory", by="Q", because="seen").file
        == "week/ada 2.gpx"
    )


def test_decisions_are_kept(tmp_path: Path) -> None:
    decision = taken()
    (tmp_path / "overrules.json").write_text(decisions_json([decision]), encoding="utf-8")

    assert read_decisions(tmp_path) == (decision,)
    assert read_decisions(tmp_path / "elsewhere") == ()
    (tmp_path / "overrules.json").write_text("{")
    with pytest.raises(DebriefError, match="the decisions cannot be read"):
        read_decisions(tmp_path)


@pytest.mark.parametrize(
    ("verdicts", "pass_share", "result"),
    [
        (["satisfactory", "marginal"], None, "satisfactory"),
        (["satisfactory", "unsatisfactory"], None, "unsatisfactory"),
        (["satisfactory", "not assessable"], None, "not assessable"),
        (["unsatisfactory", "not assessable"], None, "unsatisfactory"),
        (["satisfactory", "unsatisfactory", "satisfactory"], 0.6, "satisfactory"),
        (["satisfactory", "unsatisfactory", "satisfactory"], 0.7, "unsatisfactory"),
        (["satisfactory", "not assessable", "satisfactory"], 0.6, "satisfactory"),
        (["satisfactory", "not assessable", "satisfactory"], 0.7, "not assessable"),
        ([], None, "not assessable"),
    ],
)
def test_items_add_up(verdicts: list[str], pass_share: float | None, result: str) -> None:
    """Of equal weights two of three are 67 %."""
    worth = {"satisfactory": 1.0, "marginal": 1.0, "unsatisfactory": 0.0, "not assessable": None}
    items = [replace(item(f"rule{n}", verdict), worth=worth[verdict]) for n, verdict in enumerate(verdicts)]

    assert added_up(items, pass_share) == result


def test_results_that_lack_something_are_told_in_plain_words(tmp_path: Path) -> None:
    told = json.loads(results_json(Results(program="debrief 0", flights=(ROW,))))
    del told["flights"][0]["items"][0]["verdict"]
    (tmp_path / "results.json").write_text(json.dumps(told))

    with pytest.raises(DebriefError, match=r"is incomplete: 'verdict' is missing"):
        read_results(tmp_path)


def test_the_results_are_set_as_the_standard_library_sets_them() -> None:
    """Byte for byte what ``json.dumps`` gives with an indent of 1, and each row what ``dataclasses.asdict`` gives."""
    flags = (Flag(sign="copy", strength=0.9, evidence='a "quoted" ö', other=None),)
    rows = (*with_overrules([replace(ROW, flags=flags), OTHER], [taken(), taken(item="result")]), OTHER)
    text = results_json(
        Results(program="debrief 0", flights=rows, procedures=({"name": "x"}, {}), standard={})
    )

    assert text == json.dumps(json.loads(text), indent=1, ensure_ascii=False) + "\n"
    assert [json.loads(json.dumps(row_json(row))) for row in rows] == [
        json.loads(json.dumps(dataclasses.asdict(row))) for row in rows
    ]
