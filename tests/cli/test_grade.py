"""The grader's commands as a user runs them, on the sample submissions."""

from __future__ import annotations

import csv
import json
import re
import shutil
import tomllib
from pathlib import Path

import pytest
from pypdf import PdfReader

from debrief.reports.style import CAUTION
from tests.cli.conftest import CLEAN, SAMPLES, Run, everything_in

SUBMISSIONS = SAMPLES / "checkride"
PROCEDURE = ("--procedure", "lantern-vor-22")


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample submissions, graded once."""
    from debrief.cli import main

    out = tmp_path_factory.mktemp("graded")
    with pytest.raises(SystemExit) as left:
        main(["grade", str(SUBMISSIONS), *PROCEDURE, "--out", str(out), "--workers", "1"])
    assert left.value.code == 1  # one cannot be read, one not be assessed
    return out


@pytest.fixture
def graded(once: Path, tmp_path: Path) -> Path:
    shutil.copytree(once, tmp_path / "graded")
    return tmp_path / "graded"


def flights(folder: Path) -> dict[str, dict[str, object]]:
    told = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    return {flight["pilot"]: flight for flight in told["flights"]}


def test_the_table_has_a_row_a_log(graded: Path) -> None:
    with (graded / "results.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["pilot"]: row for row in csv.DictReader(file)}

    assert {pilot: (row["result"], row["flags"]) for pilot, row in rows.items()} == {
        "Ada Finch": ("satisfactory", "copy"),
        "Bo Tern": ("unsatisfactory", ""),
        "Cy Plover": ("satisfactory", "copy"),
        "Di Crake": ("satisfactory", "altitude_disagrees"),
        "Ed Rail": ("not assessable", ""),
        "Fay Heron": ("unreadable", ""),
    }
    assert rows["Bo Tern"]["file"] == "week.zip/tern.gpx"
    assert float(rows["Bo Tern"]["margin"]) < 0
    assert rows["Ed Rail"]["log_quality"] == "poor"
    assert "25 s apart" in rows["Ed Rail"]["reason"]
    assert sorted(everything_in(graded)) == [".graded", "results.csv", "results.json", "summary.pdf"]


def test_the_results_file_has_the_keys_others_write_against(graded: Path) -> None:
    told = json.loads((graded / "results.json").read_text(encoding="utf-8"))

    assert told["format"] == 1
    assert told["program"].startswith("debrief ")
    for flight in told["flights"]:
        assert {"file", "sha256", "pilot", "procedure", "standard", "attempt", "result", "first_cause", "margin",
                "log_quality", "flags", "reason", "items"} <= set(flight)  # fmt: skip
        for item in flight["items"]:
            assert {"item", "value", "limit", "unit", "margin", "verdict", "overruled"} <= set(item)
        for flag in flight["flags"]:
            assert set(flag) == {"sign", "strength", "evidence", "other"}
    by_pilot = flights(graded)
    assert by_pilot["Ada Finch"]["flags"][0]["other"] == "week.zip/plover.gpx"  # type: ignore[index]
    assert by_pilot["Cy Plover"]["flags"][0]["other"] == "week.zip/finch.gpx"  # type: ignore[index]


def test_the_summary_can_be_read(graded: Path) -> None:
    pages = [page.extract_text() for page in PdfReader(graded / "summary.pdf").pages]

    assert "Checkride: 6 submissions" in pages[0]
    assert "1 unsatisfactory" in pages[0]
    assert all(" ".join(CAUTION.split()) in " ".join(page.split()) for page in pages)
    text = " ".join(" ".join(pages).split())
    assert "it is never a verdict of cheating" in text
    assert "6 days later in the other" in text


def test_a_second_run_grades_nothing(run: Run, graded: Path) -> None:
    before = (graded / "results.json").read_bytes()

    ran = run("grade", SUBMISSIONS, *PROCEDURE, "--out", graded, "--workers", "1")

    assert ran.status == 1
    assert (
        ran.out.splitlines()[0] == "6 logs: 3 satisfactory, 1 unsatisfactory, 1 not assessable, 1 unreadable."
    )
    assert ran.err == "5 of them unchanged since the last run, 1 graded now.\n" or ran.err.startswith(
        "6 of them"
    )
    assert (graded / "results.json").read_bytes() == before


def test_the_day_of_logs_that_leave_it_open_can_be_given(run: Run, tmp_path: Path) -> None:
    log = (SAMPLES / "brandel-sparse.csv").read_text(encoding="utf-8").replace("Datum;", "", 1)
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "undated.csv").write_text(log.replace("\n12.03.2026;", "\n"), encoding="utf-8")
    words = ("grade", tmp_path / "logs", "--procedure", "brandel-ndb-27", "--out", tmp_path / "out")

    assert (
        run(*words, "--date", "2026-03-12", "--workers", "1").out.splitlines()[0] == "1 log: 1 satisfactory."
    )
    ran = run(*words, "--date", "12.03.2026")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("--date '12.03.2026' is not a date. ")


def test_nobody_signs_results_whose_decisions_cannot_be_read(run: Run, graded: Path, tmp_path: Path) -> None:
    """Signed they were, and verify said the next moment that a file of theirs is damaged."""
    run("keys", "new", tmp_path / "quill.key", "--name", "R. Quill")
    (graded / "overrules.json").write_text('{"decisions": [', encoding="utf-8")

    ran = run("sign", graded, "--key", tmp_path / "quill.key")

    assert (ran.status, ran.out) == (2, "")
    assert "overrules.json: the decisions cannot be read: it is not JSON." in ran.err
    assert not (graded / "signatures.json").exists()


def test_what_a_standard_would_change_is_told(run: Run, graded: Path, tmp_path: Path) -> None:
    run("standards", "new", tmp_path / "club.toml", "--from", "instrument-rating", "--name", "Club")
    text = (tmp_path / "club.toml").read_text(encoding="utf-8")
    at = text.index('rule = "reversal_side"')
    (tmp_path / "club.toml").write_text(
        text[:at] + text[at:].replace("required = true", "required = false", 1)
    )

    ran = run(
        "grade", SUBMISSIONS, *PROCEDURE, "--standard", tmp_path / "club.toml", "--out", tmp_path / "new",
        "--against", graded, "--workers", "1",
    )  # fmt: skip

    lines = ran.out.splitlines()
    at = lines.index("1 result differs from the old ones:")
    assert lines[at + 1].startswith(
        "  week.zip/tern.gpx: unsatisfactory, now satisfactory: another standard (Instrument rating, now Club); "
        "Side of the reversal: unsatisfactory, now advisory only"
    )


def test_the_examiner_overrules_signs_and_verifies(run: Run, graded: Path, tmp_path: Path) -> None:
    ran = run(
        "review", graded, "--set", "Di Crake", "minimum descent altitude", "unsatisfactory",
        "--because", "Heard at 460 ft", "--by", "R. Quill",
    )  # fmt: skip
    assert ran.status == 0
    assert ran.out.splitlines()[-1] == (
        "week.zip/crake.gpx: the machine says satisfactory, after the review unsatisfactory."
    )
    crake = flights(graded)["Di Crake"]
    assert (crake["result"], crake["decided"]) == ("satisfactory", "unsatisfactory")
    (item,) = [item for item in crake["items"] if item["overruled"]]  # type: ignore[attr-defined]
    assert item["verdict"] == "satisfactory"
    assert {key: item["overruled"][key] for key in ("result", "by", "because")} == {
        "result": "unsatisfactory", "by": "R. Quill", "because": "Heard at 460 ft",
    }  # fmt: skip
    assert item["overruled"]["time"].endswith("Z")

    key = tmp_path / "quill.key"
    made = run("keys", "new", key, "--name", "R. Quill")
    assert key.read_text() not in made.out + made.err
    assert run("sign", graded, "--key", key).status == 0
    verified = run("verify", graded, "--key", f"{key}.pub")
    assert verified.status == 0
    assert "nothing was altered since" in verified.out

    for name, written, altered in (
        ("results.csv", b"Di Crake", b"Di Drake"),
        ("results.json", b'"decided": "unsatisfactory"', b'"decided": "satisfactory"'),
        ("overrules.json", b"R. Quill", b"R. Quell"),
    ):
        file = graded / name
        told = file.read_bytes()
        file.write_bytes(told.replace(written, altered))
        verified = run("verify", graded)
        assert verified.status == 1
        assert verified.out.splitlines()[-1].startswith(f"{name} was altered")
        file.write_bytes(told)
    summary = (graded / "summary.pdf").read_bytes()
    (graded / "summary.pdf").write_bytes(summary + b"%")
    verified = run("verify", graded)
    assert verified.status == 1
    assert verified.out.splitlines()[1:] == ["  the summary, summary.pdf"]
    again = run("sign", graded, "--key", key)
    assert again.out.endswith("summary.pdf was made anew of the results, and is signed with them.\n")
    assert (graded / "summary.pdf").read_bytes() == summary
    assert run("verify", graded).status == 0
    assert run("verify", graded, "--folder", tmp_path / "nowhere").err == (
        f"{tmp_path / 'nowhere'}: there is no such folder. Give the folder in which the submissions lie.\n"
    )

    run("review", graded, "--set", "Ed Rail", "result", "satisfactory", "--because", "seen live", "--by", "B")
    verified = run("verify", graded)
    assert verified.status == 1
    assert verified.out.splitlines()[1:3] == [
        "  week.zip/rail.gpx: an overrule",
        "  the summary, summary.pdf",
    ]


def test_an_overrule_survives_another_run(run: Run, graded: Path) -> None:
    run(
        "review",
        graded,
        "--set",
        "Bo Tern",
        "result",
        "satisfactory",
        "--because",
        "right by clearance",
        "--by",
        "Q",
    )

    run("grade", SUBMISSIONS, *PROCEDURE, "--out", graded, "--workers", "1")

    assert flights(graded)["Bo Tern"]["decided"] == "satisfactory"


def test_without_a_terminal_review_lists_what_to_look_at(run: Run, graded: Path) -> None:
    ran = run("review", graded)

    assert ran.out.splitlines() == [
        (
            "   1  Fay Heron, heron.gpx: unreadable (this is a web page. Download the log itself: the page may have asked to "
            "sign in.)"
        ),
        "   2  Di Crake, week.zip/crake.gpx: satisfactory (signs: altitude disagrees)",
        "   3  Ada Finch, week.zip/finch.gpx: satisfactory (signs: copy)",
        "   4  Cy Plover, week.zip/plover.gpx: satisfactory (signs: copy)",
        (
            "   5  Ed Rail, week.zip/rail.gpx: not assessable (The log is too poor to fail anybody by: its samples are "
            "25 s apart, 20 s are allowed.)"
        ),
    ]
    assert ran.err.startswith("To decide from a script: --set")


def test_an_examiner_at_a_terminal_is_told_why_an_item_is_not_assessable(
    run: Run, graded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["5", "R. Quill", "", ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("typer.prompt", lambda *_asked, **_how: next(answers))

    ran = run("review", graded)

    assert "   1  Altitude, inbound leg: not assessable (the log has only one position every 25 s)" in (
        ran.out.splitlines()
    )


def test_an_examiner_who_mistypes_a_verdict_is_asked_for_it_again(
    run: Run, graded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was told after the reason had been typed, and item, verdict and reason were asked for anew."""
    asked: list[str] = []
    answers = iter(["2", "R. Quill", "7", "failed", "unsatisfactory", "Heard at 460 ft", "", ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)

    def answer(words: str, **_how: object) -> str:
        asked.append(words)
        return next(answers)

    monkeypatch.setattr("typer.prompt", answer)

    ran = run("review", graded)

    assert ran.err == "Give one of satisfactory, marginal, unsatisfactory, not assessable, withdraw.\n"
    assert asked.count("Because") == 1
    assert re.search(r"\n   7  Minimum descent altitude: satisfactory [0-9]{3} ft against 620 ft\n", ran.out)
    assert flights(graded)["Di Crake"]["decided"] == "unsatisfactory"


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (
            ("grade", "nowhere"),
            "nowhere: there is no such folder. Give the folder in which the submissions lie.",
        ),
        (
            ("review", "nowhere"),
            "nowhere: there are no results. Give the folder of the results, or the results.json in it.",
        ),
        (("grade", ".", "--procedure", "nothing"), 'no procedure is called "nothing"'),
        (
            ("grade", ".", "--procedures", "x", "--procedure", "lantern-vor-22"),
            "--procedures is for --procedure auto only.",
        ),
        (("verify", "nowhere"), "nowhere: there are no results."),
        (("standards", "show", "nothing"), 'no standard is called "nothing"'),
        (
            ("standards", "new", "club.txt", "--from", "training"),
            "club.txt: a standard's file ends in .toml. Name it so.",
        ),
    ],
)
def test_what_cannot_be_done_is_one_line(
    run: Run, words: tuple[str, ...], line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    ran = run(*words)

    assert ran.status == 2
    assert ran.err.startswith(line)
    assert ran.err.count("\n") == 1
    assert everything_in(tmp_path) == []


def test_what_is_wrong_beside_the_logs_is_told(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "submissions"
    folder.mkdir()
    (folder / "heron.gpx").write_text("<html>")
    (folder / "heron.toml").write_text("pilot = 5")
    (folder / "names.csv").write_text("file,pilot\nhern.gpx,Fay Heron\n")

    ran = run("grade", folder, "--out", tmp_path / "out")

    assert ran.status == 1
    assert ran.err.splitlines() == [
        'heron.gpx: heron.toml: pilot is not a text in "quotes".',
        "The list of names has 1 file that is not among the submissions: hern.gpx",
    ]


def test_results_that_are_not_signed_say_so(run: Run, graded: Path) -> None:
    ran = run("verify", graded)

    assert (ran.status, ran.out) == (2, "")
    assert ran.err == f"{graded}: the results are not signed at all. Sign them with debrief sign.\n"


def test_standards_are_listed_shown_started_and_checked(run: Run, tmp_path: Path) -> None:
    listed = run("standards").out.splitlines()
    assert [line.split()[0] for line in listed] == [
        "airline-transport", "european-instrument", "instrument-rating", "training",
    ]  # fmt: skip
    shown = run("standards", "show", "instrument-rating").out
    assert "0.75 of full scale, 7.5 deg for 4 s" in shown
    assert "nothing above what is published" in shown
    assert "FAA-S-ACS-8C, IR.VI.A.S12 [seen (2nd hand)]" in shown
    club = tmp_path / "club.toml"
    assert run("standards", "new", club, "--from", "training").status == 0
    rules = len(tomllib.loads(club.read_text(encoding="utf-8"))["rule"])
    assert run("standards", "check", club).out == f"{club}: valid. club (after Training), {rules} rules\n"
    assert run("standards", "new", club, "--from", "training").err.startswith(f"{club}: it is there already.")
    club.write_text(club.read_text().replace("within = 0.6", "within = 6"))
    assert (
        "more than 3 times the widest of the bundled standards (0.6)" in run("standards", "check", club).out
    )


def test_results_never_take_the_place_of_a_submission(run: Run, tmp_path: Path) -> None:
    """Graded into their own folder, a log called results.csv was lost."""
    folder = tmp_path / "submissions"
    folder.mkdir()
    (folder / "a.gpx").write_bytes(CLEAN.read_bytes())
    (folder / "loop.gpx").symlink_to("loop.gpx")
    assert run("grade", folder, *PROCEDURE, "--out", folder, "--workers", "1").status == 1  # one unreadable
    (folder / "loop.gpx").unlink()
    assert (
        run("grade", folder, *PROCEDURE, "--out", folder, "--workers", "1").status == 0
    )  # its own results are none
    log = folder / "results.csv"
    log.write_text(
        "time,lat,lon\n" + "".join(f"2026-05-04T10:00:{s:02d}Z,47.{s:02d},-31.5\n" for s in range(60))
    )
    before = log.read_bytes()

    ran = run("grade", folder, *PROCEDURE, "--out", folder, "--workers", "1")

    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        f"{log}: this is a submission, and the results would take its place. Choose another folder with --out.\n"
    )
    assert log.read_bytes() == before


def test_a_column_by_a_name_that_nothing_has_is_told_before_any_log_is_read(run: Run, tmp_path: Path) -> None:
    ran = run("grade", SUBMISSIONS, "--out", tmp_path / "g", "--column", "lattitude=Y")

    assert ran.status == 2
    assert ran.err == ("--column lattitude=Y: there is no column named 'lattitude'. Did you mean latitude?\n")
    assert not (tmp_path / "g").exists()
