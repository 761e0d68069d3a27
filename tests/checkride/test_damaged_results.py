"""Results, decisions and signatures that were damaged, or that somebody else wrote: one clear line, and no other error."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from debrief.checkride.model import Item, Row
from debrief.checkride.overrules import Decision, decisions_json, read_decisions
from debrief.checkride.results import Results, read_results, results_csv, results_json
from debrief.checkride.signatures import NAME, read_signatures
from debrief.checkride.submissions import find_submissions
from debrief.cli import main
from debrief.errors import DebriefError
from tests.cli.conftest import CLEAN

ITEM = Item(item="bank", value=1.0, limit=2.0, unit="deg", margin=None, verdict="satisfactory")
ROW = Row(file="a.gpx", pilot="Ann", result="satisfactory", items=(ITEM,))


def results_of(*rows: Row) -> Results:
    return Results(program="debrief 0", flights=rows, folder="f", procedures=(), standard={})


def refused(read: Callable[[], object]) -> str:
    with pytest.raises(DebriefError) as error:
        read()
    assert "\n" not in str(error.value)
    return str(error.value)


@pytest.mark.parametrize(
    "change",
    [
        lambda flight: flight.update(file=["a"]),
        lambda flight: flight.update(result=5),
        lambda flight: flight.update(margin="x"),
        lambda flight: flight.update(margin=float("nan")),
        lambda flight: flight.update(pilot="\ud800"),
        lambda flight: flight.update(attempt=True),
        lambda flight: flight["items"][0].update(item={}),
        lambda flight: flight["items"][0].update(overruled={"result": 1, "by": 2, "time": 3, "because": 4}),
        lambda flight: flight.update(overruled=5),
    ],
    ids=("file", "result", "margin", "nan", "half a letter", "attempt", "item", "overrule", "overruled"),
)
def test_results_of_other_types_are_refused(tmp_path: Path, change: Callable[[Any], None]) -> None:
    """They were taken as they stood, and the first command that printed or sorted them broke."""
    path = tmp_path / "results.json"
    told = json.loads(results_json(results_of(ROW)))
    assert len(json.loads(json.dumps(told))["flights"]) == 1
    change(told["flights"][0])
    path.write_text(json.dumps(told))

    assert refused(lambda: read_results(path)).startswith(f"{path}: holds something else than flights. ")


def test_a_procedure_without_its_sum_is_told(tmp_path: Path) -> None:
    """verify and sign, which need it, broke."""
    path = tmp_path / "results.json"
    path.write_text(json.dumps(json.loads(results_json(results_of(ROW))) | {"procedures": [{"name": "x"}]}))

    assert f"{path}: is incomplete: 'file' is missing. " in refused(lambda: read_results(path))


def test_results_of_a_newer_version_are_read(tmp_path: Path) -> None:
    """New keys and new words are no damage."""
    path = tmp_path / "results.json"
    told = json.loads(results_json(results_of(ROW)))
    told["flights"][0] |= {
        "new": [1],
        "flags": [{"sign": "new", "strength": 1, "evidence": "e", "other": None}],
    }
    path.write_text(json.dumps(told))

    (row,) = read_results(path).flights

    assert (row.file, row.flags[0].sign) == ("a.gpx", "new")


@pytest.mark.parametrize("change", [{"file": ["a"]}, {"item": {}}, {"attempt": "x"}, {"because": "\ud800"}])
def test_decisions_of_other_types_are_refused(tmp_path: Path, change: dict[str, object]) -> None:
    decision = Decision(
        file="a.gpx", sha256="", item="bank", attempt=1, machine="within", procedure_sha256="", standard_sha256="",
        result="satisfactory", by="Ann", time="2026-01-01T00:00:00Z", because="x",
    )  # fmt: skip
    told = json.loads(decisions_json([decision]))
    told["decisions"][0] |= change
    (tmp_path / "overrules.json").write_text(json.dumps(told))

    assert "overrules.json: it holds no decisions. " in refused(lambda: read_decisions(tmp_path))


@pytest.mark.parametrize(
    "statement",
    [{"flights": {"a": 5}}, {"flights": {"a": {"track": ["x"]}}}, {"flights": {}, "procedures": 5},
     {"flights": {}, "procedures": [[]]}, {"flights": {}, "by": "\ud800"}],
)  # fmt: skip
def test_signatures_of_other_types_are_refused(tmp_path: Path, statement: dict[str, object]) -> None:
    told = {"format": 1, "signatures": [{"statement": statement, "signature": ""}]}
    (tmp_path / NAME).write_text(json.dumps(told))

    assert f"{NAME}: it holds no signatures. " in refused(lambda: read_signatures(tmp_path))


def test_pipes_are_not_waited_for(tmp_path: Path) -> None:
    """A pipe under the name of a file of ours made every command wait for ever."""
    for name in ("results.json", "overrules.json", NAME, "names.csv"):
        os.mkfifo(tmp_path / name)
    (tmp_path / "a.gpx").write_bytes(CLEAN.read_bytes())

    assert "it is not an ordinary file" in refused(lambda: read_results(tmp_path))
    assert "it is not an ordinary file" in refused(lambda: read_decisions(tmp_path))
    assert "it is not an ordinary file" in refused(lambda: read_signatures(tmp_path))
    assert "it is not an ordinary file" in refused(
        lambda: find_submissions(tmp_path, names=tmp_path / "names.csv", without=[])
    )


def test_a_list_of_names_with_a_cell_larger_than_any(tmp_path: Path) -> None:
    """The library's own error for such a cell came through."""
    (tmp_path / "a.gpx").write_bytes(CLEAN.read_bytes())
    names = tmp_path / "list" / "names.csv"
    names.parent.mkdir()

    names.write_text("file,pilot\na.gpx," + "x" * 200_000 + "\n")
    assert f"{names}, line 2: the list of names cannot be read from here on: " in refused(
        lambda: find_submissions(tmp_path, names=names, without=[])
    )
    names.write_text("x" * 200_000 + ",file,pilot\na.gpx,Ann\n")
    assert "the list of names has no headings file and pilot" in refused(
        lambda: find_submissions(tmp_path, names=names, without=[])
    )


def test_a_name_is_no_formula_in_the_table() -> None:
    """Who sends a log called =cmd|... must not have it run where the examiner opens the table."""
    table = results_csv(
        [Row(file="=cmd|' /c calc'!A1.gpx", pilot="@SUM(1)", result="unreadable", margin=-1.5)]
    )

    cells = table.splitlines()[1].split(",")
    assert cells[0] == "'=cmd|' /c calc'!A1.gpx"
    assert cells[2] == "'@SUM(1)"
    assert cells[8] == "-1.5"  # a number stays one


def test_a_flight_that_stands_twice_is_refused(tmp_path: Path) -> None:
    """A signature has one sum for each file: a row put before the true one of that name was read, and nothing was altered."""
    forged = Row(file="a.gpx", pilot="Ann", result="unsatisfactory")
    (tmp_path / "results.json").write_text(results_json(results_of(forged, ROW)))

    assert refused(lambda: read_results(tmp_path)) == (
        f"{tmp_path / 'results.json'}: holds a.gpx twice. Put the file back from a copy."
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda flight: flight.update(result="passed"), "the result of a.gpx is 'passed', which is none of"),
        (
            lambda flight: flight["items"][0].update(verdict="Satisfactory"),
            "the verdict of a.gpx on bank is 'Satisfactory', which is none of satisfactory, marginal, unsat",
        ),
        (
            lambda flight: flight["items"][0].update(
                overruled={"result": "fine", "by": "Q", "time": "2026-03-05T10:00:00Z", "because": "seen"}
            ),
            "the verdict of a.gpx on bank is 'fine', which is none of",
        ),
    ],
    ids=("result", "verdict", "overruled"),
)
def test_a_verdict_that_nobody_knows_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], change: Callable[[Any], None], said: str
) -> None:
    """Typed in by hand it was listed by review as it stood, counted as met, and signed."""
    told = json.loads(results_json(results_of(ROW)))
    change(told["flights"][0])
    (tmp_path / "results.json").write_text(json.dumps(told))

    refusal = refused(lambda: read_results(tmp_path))

    assert refusal.startswith(f"{tmp_path / 'results.json'}: {said}")
    assert refusal.endswith(". Put the file back from a copy.")
    key = tmp_path / "quill.key"
    with pytest.raises(SystemExit):
        main(["keys", "new", str(key), "--name", "R. Quill"])
    for words in (["review", tmp_path], ["sign", tmp_path, "--key", key]):
        with pytest.raises(SystemExit) as left:
            main([str(word) for word in words])
        assert left.value.code == 2
        assert said in capsys.readouterr().err.replace("\n", " ")
