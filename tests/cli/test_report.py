"""``debrief report`` as a user runs it: what it writes, what it says, and what it leaves alone."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import debrief
from debrief.reports.annotated import annotated_files
from tests.cli.conftest import CLEAN, SAMPLES, Run, everything_in

PROCEDURE = ("--procedure", "lantern-vor-22")
THREE = ["pdf", "png", "json"]


def said(out: Path, name: str) -> str:
    return "  wrote " + ", ".join(str(out / f"{name}.{kind}") for kind in THREE)


def test_one_flight_is_a_line_and_three_files(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "new" / "reports"

    ran = run("report", CLEAN, *PROCEDURE, "--out", out, "--paper", "letter")

    assert (ran.status, ran.err) == (0, "")
    assert ran.out.splitlines() == [
        "lantern-clean.gpx: Lantern VOR/DME runway 22: satisfactory. Nothing to work on was found.",
        said(out, "lantern-clean"),
    ]
    assert everything_in(out) == [f"lantern-clean.{kind}" for kind in sorted(THREE)]
    assert b"/MediaBox [ 0 0 612 792 ]" in (out / "lantern-clean.pdf").read_bytes()


def test_the_best_fitting_procedure_is_named_with_its_fit(run: Run, tmp_path: Path) -> None:
    ran = run("report", SAMPLES / "lantern-wrong-side.gpx", "--out", tmp_path)

    line = ran.out.splitlines()[0]
    result = json.loads((tmp_path / "lantern-wrong-side.json").read_text())
    assert ran.status == 0
    assert result["procedure"]["chosen"] == "best fit"
    assert line == (
        f"lantern-wrong-side.gpx: Lantern VOR/DME runway 22 (best fit, {100 * result['procedure']['fit']:.0f} %): "
        f"unsatisfactory. Work on first: {result['attempts'][0]['findings'][0]['message']}"
    )


def test_a_bad_track_does_not_stop_the_others(run: Run, tmp_path: Path) -> None:
    bad, out = tmp_path / "bad.gpx", tmp_path / "out"
    bad.write_text("")

    ran = run("report", bad, CLEAN, *PROCEDURE, "--out", out)

    assert ran.status == 2
    assert ran.err == f"{bad}: the file is empty. Export the log again.\n"
    assert ran.out.splitlines()[-1] == said(out, "lantern-clean")
    assert everything_in(out) == [f"lantern-clean.{kind}" for kind in sorted(THREE)]


@pytest.mark.parametrize("words", [PROCEDURE, ()], ids=["given", "best of all"])
def test_a_flight_without_an_approach_has_a_report_that_says_so(
    run: Run, tmp_path: Path, words: tuple[str, ...]
) -> None:
    ran = run("report", SAMPLES / "lantern-no-approach.gpx", *words, "--out", tmp_path)

    assert (ran.status, ran.err) == (0, "")
    result = json.loads((tmp_path / "lantern-no-approach.json").read_text())
    assert result["attempts"] == []
    reason = " ".join(result["warnings"])
    assert reason.startswith(
        "No approach was found: the track comes within 12.4 NM of station LQN, but holds neither an outbound leg "
        "with its reversal nor a descent on the final course."
        if words
        else "No approach was found: the flight does not fit any of the 5 procedures near it"
    )
    assert ran.out.splitlines()[0] == f"lantern-no-approach.gpx: {reason}"


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("two\nlines", "two?lines"),
        ("\x1b[31mred", "?[31mred"),
        ("landing 🛬 übung", "landing 🛬 übung"),
        ("$x_{a}^$ %s {0}", "$x_{a}^$ %s {0}"),
        ("x" * 240, "x" * 240),
        (os.fsdecode(b"not \xff text"), "not ? text"),
    ],
    ids=["line end", "control", "beyond the font", "markup", "long", "no text"],
)
def test_a_report_keeps_its_tracks_name_whatever_it_is(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, shown: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(f"{name}.csv").write_text(short_log())

    ran = run("report", f"{name}.csv", *PROCEDURE, "--out", "out")

    assert (ran.status, ran.err) == (0, "")
    assert ran.out.splitlines()[-1] == said(Path("out"), shown)
    assert everything_in(Path("out")) == [f"{name}.{kind}" for kind in sorted(THREE)]


def test_a_name_too_long_for_its_report_leaves_nothing(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(f"{'x' * 251}.csv").write_text(short_log())

    ran = run("report", f"{'x' * 251}.csv", *PROCEDURE, "--out", "out")

    assert (ran.status, ran.out) == (2, "")
    assert ran.err.endswith(
        ".json: cannot be written: File name too long. Give the log, or the folder, a shorter name.\n"
    )
    assert everything_in(tmp_path) == [f"{'x' * 251}.csv"]


def test_help_carries_the_caution(run: Run) -> None:
    for words in (
        (),
        ("--help",),
        ("report", "--help"),
        ("procedures", "--help"),
        ("procedures", "show", "--help"),
    ):
        ran = run(*words)

        assert (ran.status, ran.err) == (0, "")
        assert "Not for navigation" in " ".join(ran.out.split())


def short_log() -> str:
    """Ten samples near the station: a report of a page or two, soon drawn."""
    rows = "".join(f"2026-05-04T10:00:{s:02d}Z,47.{1000 + s},-31.5000,3000\n" for s in range(10))
    return f"time,latitude,longitude,altitude_ft\n{rows}"


def test_words_of_pilot_and_instructor_go_into_the_report(run: Run, tmp_path: Path) -> None:
    beside = tmp_path / "lantern-clean.gpx"
    beside.write_bytes(CLEAN.read_bytes())
    beside.with_suffix(".toml").write_text('pilot = "Robin Example"\ninstructor_remarks = "Good."')

    ran = run("report", beside, *PROCEDURE, "--note", "A smooth one.", "--out", tmp_path / "out")

    assert (ran.status, ran.err) == (0, "")
    assert json.loads((tmp_path / "out" / "lantern-clean.json").read_text())["notes"] == {
        "pilot": "Robin Example",
        "aircraft": "",
        "planned": "",
        "note": "A smooth one.",
        "instructor_remarks": "Good.",
        "file": "lantern-clean.toml",
    }


def test_the_report_in_words_is_printed_and_the_files_written(run: Run, tmp_path: Path) -> None:
    ran = run("report", CLEAN, *PROCEDURE, "--text", "--language", "de", "--out", tmp_path / "out")

    assert (ran.status, ran.err) == (0, "")
    assert "Es wurde nichts gefunden, woran zu arbeiten wäre".upper() in ran.out.upper()
    assert max(len(line) for line in ran.out.splitlines()[:-1]) <= 78
    assert everything_in(tmp_path / "out") == [f"lantern-clean.{kind}" for kind in sorted(THREE)]
    result = json.loads((tmp_path / "out" / "lantern-clean.json").read_text())
    assert result["language"] == "de"
    assert result["attempts"][0]["grade"]["result"] == "satisfactory"


def test_an_unknown_language_is_one_line(run: Run, tmp_path: Path) -> None:
    ran = run("report", CLEAN, "--language", "xx", "--out", tmp_path / "out")

    assert (ran.status, ran.out) == (2, "")
    assert ran.err == "there is no language 'xx' here. Languages: en, de.\n"
    assert not (tmp_path / "out").exists()


def _changed(
    tmp_path: Path, name: str, change: Callable[[tuple[str, str, str, str]], str], head: str
) -> Path:
    """The flight on the wrong side as a CSV, each row made by ``change`` of time, latitude, longitude, metres."""
    text = (SAMPLES / "lantern-wrong-side.gpx").read_text()
    points = re.findall(r'lat="([^"]+)" lon="([^"]+)">\s*<ele>([^<]+)</ele>\s*<time>([^<]+)', text)
    path = tmp_path / name
    path.write_text(head + "\n" + "".join(change(point) + "\n" for point in points))
    return path


def test_metres_taken_as_feet_are_told_on_the_terminal(run: Run, tmp_path: Path) -> None:
    """Every height is wrong then, and with it the verdict in the line above: nobody should have to open the report."""
    path = _changed(
        tmp_path, "a.csv", lambda p: f"{p[3]},{p[0]},{p[1]},{float(p[2]):.0f}", "time,lat,lon,altitude"
    )

    ran = run("report", path, *PROCEDURE, "--out", tmp_path / "out")

    assert ran.status == 0
    assert ran.out.splitlines()[1:-1] == [
        "  Column 'altitude' has no unit: it was taken as feet, as is usual under such a heading.",
        (
            "  No descent is steeper than 1.0 degrees: the altitudes may be metres taken as feet. "
            "If so, run again with --units-altitude m."
        ),
    ]
    again = run("report", path, *PROCEDURE, "--units-altitude", "m", "--out", tmp_path / "out")
    assert len(again.out.splitlines()) == 2


def test_metres_found_out_are_told_on_the_terminal(run: Run, tmp_path: Path) -> None:
    rows = (SAMPLES / "lantern-wrong-side.gpx").read_text()
    points = re.findall(r'lat="([^"]+)" lon="([^"]+)">\s*<ele>([^<]+)</ele>\s*<time>([^<]+)', rows)
    feet_min = np.gradient([float(point[2]) / 0.3048 for point in points], 1.0) * 60.0
    path = tmp_path / "a.csv"
    path.write_text(
        "time,lat,lon,altitude,vertical speed (ft/min)\n"
        + "".join(
            f"{p[3]},{p[0]},{p[1]},{p[2]},{rate:.0f}\n" for p, rate in zip(points, feet_min, strict=True)
        )
    )

    ran = run("report", path, *PROCEDURE, "--out", tmp_path / "out")

    assert ran.status == 0
    assert ran.out.splitlines()[1:-1] == [
        "  Column 'altitude' has no unit: the vertical speed shows that it is m."
    ]


@pytest.mark.parametrize(
    ("words", "begins"),
    [
        (PROCEDURE, "its nearest point lies 6,302 NM from station LQN of 'Lantern VOR/DME runway 22'. "),
        (
            (),
            (
                "no known procedure lies within 40 NM of this track; the nearest station, EMQ of 'South Ember VOR/DME "
                "runway 17', is 3,378 NM away. "
            ),
        ),
    ],
    ids=["given", "best of all"],
)
def test_latitude_and_longitude_swapped_are_said_and_not_mended(
    run: Run, tmp_path: Path, words: tuple[str, ...], begins: str
) -> None:
    path = _changed(
        tmp_path,
        "a.csv",
        lambda p: f"{p[3]},{p[1]},{p[0]},{float(p[2]) / 0.3048:.0f}",
        "time,lat,lon,altitude_ft",
    )

    ran = run("report", path, *words, "--out", tmp_path / "out")

    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        f"a.csv: {begins}Its latitudes and longitudes seem to be exchanged: so read, it passes near the station. Export it "
        "again, or name the columns: --column latitude=... --column longitude=...\n"
    )
    assert everything_in(tmp_path) == ["a.csv"]
    named = run(
        "report", path, *words, "--column", "latitude=lon", "--column", "longitude=lat", "--out", tmp_path
    )
    assert named.status == 0


def test_a_report_never_takes_the_place_of_its_log(run: Run, tmp_path: Path) -> None:
    """A log in GeoJSON may be called evening.json, as the result file is: reported beside itself it was lost."""
    found = debrief.debrief(debrief.read_track(CLEAN), debrief.load_procedure("lantern-vor-22"))
    log = tmp_path / "evening.json"
    log.write_bytes(annotated_files(found, ("geojson",))[".track.geojson"])
    before = log.read_bytes()

    ran = run("report", log, "--procedure", "lantern-vor-22", "--out", tmp_path)

    assert (ran.status, ran.out) == (2, "")
    assert ran.err == f"{log}: this is the log itself. Choose another folder with --out.\n"
    assert [path.name for path in tmp_path.iterdir()] == ["evening.json"]
    assert log.read_bytes() == before
    assert run("report", log, "--procedure", "lantern-vor-22", "--out", tmp_path / "out").status == 0
    same_name = tmp_path / "evening.gpx"
    same_name.write_bytes(CLEAN.read_bytes())
    other = run("report", same_name, "--procedure", "lantern-vor-22", "--out", tmp_path)
    assert other.err == f"{log}: this is a log. Choose another folder with --out.\n"
    assert log.read_bytes() == before
    for _ in range(2):  # what a report writes itself is written anew, logs as they are
        wanted = ("--procedure", "lantern-vor-22", "--also", "geojson,gpx,csv")
        assert run("report", same_name, *wanted, "--out", tmp_path / "also").status == 0
