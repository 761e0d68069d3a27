"""The logbook's commands: what they say, what they ask, what they leave alone."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

import debrief
from debrief.cli import main
from debrief.logbook import open_logbook
from debrief.logbook.adding import add_record
from debrief.logbook.opening import writing
from debrief.reports.annotated import annotated_files
from tests.logbook.hard_times import records

ROOT = Path(__file__).parents[2]
CLEAN = str(ROOT / "sample_tracks" / "lantern-clean.gpx")


def geojson_of(gpx: str) -> bytes:
    """A log as GeoJSON, which may be called .json."""
    result = debrief.debrief(debrief.read_track(gpx), debrief.load_procedure("lantern-vor-22"))
    return annotated_files(result, ("geojson",))[".track.geojson"]


class Said:
    """What a command left."""

    def __init__(self, status: int, out: str, err: str) -> None:
        self.status, self.out, self.err = status, out, err


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    """Run a command on the test's own logbook; ``answer`` is what is typed."""

    def command(*words: str, answer: str = "") -> Said:
        monkeypatch.setattr("sys.stdin", io.StringIO(answer))
        with pytest.raises(SystemExit) as left:
            main([*words, "--logbook", str(tmp_path / "club.sqlite")])
        captured = capsys.readouterr()
        return Said(int(left.value.code or 0), captured.out, captured.err)

    return command


@pytest.fixture
def club(tmp_path: Path) -> None:
    """Twelve flights of three pilots."""
    with writing(open_logbook(tmp_path / "club.sqlite")) as connection:
        for record in records(12, pilots=3):
            add_record(connection, record)


def test_adding_says_what_became_of_each_log(run, tmp_path: Path):
    bad = tmp_path / "bad.gpx"
    bad.write_text("no log")
    first = run("logbook", "add", CLEAN, str(bad), "--pilot", "Wren", "--procedure", "lantern-vor-22")
    again = run("logbook", "add", CLEAN, "--pilot", "wren", "--procedure", "lantern-vor-22")

    assert first.status == 2
    assert first.out == "lantern-clean.gpx: Lantern VOR/DME runway 22, added as flight 1 of Wren.\n"
    assert str(bad) in first.err
    assert len(first.err.splitlines()) == 1
    assert again.status == 0
    assert (
        again.out
        == "lantern-clean.gpx: in the logbook already, as flight 1 of Wren; nothing was stored twice.\n"
    )


def test_listing_showing_and_taking_out(run, club, tmp_path: Path):
    listed = run("logbook", "list", "--pilots", "Pilot 1,Pilot 2")
    shown = run("logbook", "show", "2", "--out", str(tmp_path / "out"))

    assert len(listed.out.splitlines()) == 8
    assert "Pilot 0" not in listed.out
    assert "Flight 2, Pilot 1, 2026-03-03 19:05" in shown.out
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["flight-1.gpx", "flight-1.json"]


@pytest.mark.parametrize("answer", ["n\n", "", "perhaps\n"])
def test_removing_asks_first_and_no_answer_is_a_no(run, club, answer: str):
    said = run("logbook", "remove", "1", "2", answer=answer)

    assert said.status == 0
    assert said.out == ""
    assert "Nothing was removed." in said.err
    assert len(run("logbook", "list").out.splitlines()) == 12


def test_removing_can_be_undone(run, club):
    assert run("logbook", "remove", "1", "2", answer="y\n").out.startswith("Removed 2 flights.")
    assert len(run("logbook", "list").out.splitlines()) == 10
    assert len(run("logbook", "list", "--removed").out.splitlines()) == 2
    assert run("logbook", "undo").out == "Brought back flights 1, 2.\n"
    assert run("logbook", "undo").err == "Nothing was removed.\n"


def test_erasing_asks_first_too(run, club):
    assert "Nothing was erased." in run("logbook", "erase", "Pilot 0", answer="\n").err
    assert run("logbook", "erase", "Pilot 0", "--yes").out.startswith("Erased Pilot 0 and 4 flights.")
    assert run("logbook", "pilots").out.splitlines() == [
        "Pilot 1: 4 flights, 2026-03-03 to 2026-03-04",
        "Pilot 2: 4 flights, 2026-03-03 to 2026-03-04",
    ]


def test_an_alias_is_shown_and_names_are_shown_on_request(run, club):
    assert run("logbook", "alias", "Pilot 1", "--as", "Grey").out == "Pilot 1 is shown as Grey.\n"
    assert "Grey: 4 flights" in run("logbook", "pilots").out
    assert "Pilot 1 (shown as Grey): 4 flights" in run("logbook", "pilots", "--names").out


def test_the_order_of_pilots_does_not_give_an_alias_away(run, club):
    run("logbook", "alias", "Pilot 1", "--as", "Zebra")

    shown = [line.split(":")[0] for line in run("logbook", "pilots").out.splitlines()]

    assert shown == ["Pilot 0", "Pilot 2", "Zebra"]


def test_out_and_in_again(run, club, tmp_path: Path):
    file, copy = tmp_path / "club.zip", tmp_path / "copy.sqlite"
    assert run("logbook", "export", str(file)).out == f"{file}: 12 flights written.\n"
    assert run("logbook", "import", str(file)).out == f"{file}: 0 flights added, 12 already there.\n"
    assert run("logbook", "backup", str(copy)).out == f"{copy}: written.\n"
    assert "12 flights, all sound." in run("logbook", "check").out
    with pytest.raises(SystemExit):
        main(["logbook", "list", "--logbook", str(copy)])


def test_an_export_or_a_backup_never_takes_the_place_of_something_else(run, club, tmp_path: Path):
    """``logbook export`` over the logbook itself left a zip archive of its flights in its place, and nothing to open."""
    book, log, file = tmp_path / "club.sqlite", tmp_path / "evening.gpx", tmp_path / "club.zip"
    log.write_bytes(Path(CLEAN).read_bytes())
    before = run("logbook", "list").out
    for command in ("export", "backup"):
        for path in (book, log):
            said = run("logbook", command, str(path))
            assert (said.status, said.out) == (2, "")
            assert said.err.startswith(f"{path}: ")
    # not its bytes: the database may write what stood beside it into the file at any time
    assert run("logbook", "list").out == before
    assert log.read_bytes() == Path(CLEAN).read_bytes()

    for _ in range(2):  # an older one is replaced
        assert run("logbook", "export", str(file)).status == 0
        assert run("logbook", "backup", str(tmp_path / "copy.sqlite")).status == 0
    assert len(run("logbook", "list").out.splitlines()) == 12


def test_a_log_in_json_and_its_result_are_two_files(run, tmp_path: Path):
    """Both were evening.json, and only the result was written."""
    log = tmp_path / "evening.json"
    log.write_bytes(geojson_of(CLEAN))
    added = run("logbook", "add", str(log), "--pilot", "Wren", "--procedure", "lantern-vor-22")
    assert added.status == 0, added.err
    run("logbook", "show", "1", "--out", str(tmp_path / "out"))

    assert (tmp_path / "out" / "evening.json").read_bytes() == log.read_bytes()
    assert json.loads((tmp_path / "out" / "evening.result.json").read_text())["format"] == 1


def test_damage_is_told_with_status_2(run, club, tmp_path: Path):
    with writing(open_logbook(tmp_path / "club.sqlite")) as connection:
        connection.exec_driver_sql("DELETE FROM result WHERE flight_id = 3")

    said = run("logbook", "check")
    assert said.status == 2
    assert said.err.endswith("flight 3: its result is missing.\n")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["logbook", "show", "99"], "there is no flight 99"),
        (["logbook", "show", "9" * 30], f"there is no flight {'9' * 30}"),
        (["logbook", "remove", "--yes", "9" * 30], f"there is no flight {'9' * 30}"),
        (["logbook", "alias", "Pilot 1", "--as", ""], "--as is empty"),
        (["logbook", "list", "--pilots", "Crane"], "the logbook has no pilot 'Crane'"),
        (["logbook", "list", "--since", "yesterday"], "--since 'yesterday' is not a date"),
        (["logbook", "import", "nowhere.zip"], "Give a file that `debrief logbook export` wrote."),
        (["logbook", "backup", "/"], "it is a folder. Give the name of a file in it."),
        (["logbook", "roles"], ""),
        (["logbook", "roles", "give", "wren"], "a logbook in a file has no roles"),
        (["compare", "--procedure", "nowhere"], "no flight of procedure 'nowhere' is in the logbook"),
        (["compare", "--pilots", "Crane"], "the logbook has no pilot 'Crane'"),
        (["compare", "--since", "2099-01-01"], "no approach of Lantern VOR/DME runway 22 is in the logbook"),
    ],
)
def test_mistakes_are_one_line(run, club, words: list[str], said: str):
    found = run(*words)

    assert said in found.err
    assert found.status == (2 if said else 0)
    assert len(found.err.splitlines()) == 1


@pytest.mark.parametrize(
    "words",
    [
        ["logbook", "list"],
        ["logbook", "list", "--pilots", "Wren"],
        ["logbook", "pilots"],
        ["logbook", "show", "1"],
        ["logbook", "remove", "1"],
        ["logbook", "undo"],
        ["logbook", "alias", "Wren", "--as", "Grey"],
        ["logbook", "erase", "Wren", "--yes"],
        ["logbook", "export", "club.zip"],
        ["logbook", "backup", "copy.sqlite"],
        ["logbook", "check"],
        ["logbook", "refresh"],
        ["logbook", "roles"],
        ["logbook", "roles", "give", "wren"],
        ["logbook", "roles", "take", "wren"],
        ["compare"],
    ],
)
def test_a_logbook_that_is_not_there_is_made_by_nobody_who_only_looks(
    run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]
):
    """A slip in the name would else leave an empty file, and say that nobody flew."""
    monkeypatch.chdir(tmp_path)
    found = run(*words)

    assert (found.status, found.out) == (2, "")
    assert found.err == (
        f"{tmp_path / 'club.sqlite'}: there is no such logbook. "
        "Check --logbook; `debrief logbook add TRACK --pilot NAME` makes a new one.\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_comparing_an_empty_logbook_says_what_to_do(run, tmp_path: Path):
    open_logbook(tmp_path / "club.sqlite")
    found = run("compare")

    assert found.status == 2
    assert found.err == "the logbook is empty. `debrief logbook add TRACK --pilot NAME` puts a flight in.\n"


def test_comparing_some_pilots_by_alias(run, club, tmp_path: Path):
    run("logbook", "alias", "Pilot 1", "--as", "Grey")
    found = run("compare", "--pilots", "pilot 1", "--out", str(tmp_path / "out"))
    content = json.loads((tmp_path / "out" / "comparison.json").read_text(encoding="utf-8"))

    assert found.status == 0
    assert content["pilots"] == ["Grey"]
    assert content["club_pilots"] == 3
    assert "Pilot 1" not in (tmp_path / "out" / "comparison.csv").read_text(encoding="utf-8")


def test_a_comparison_leaves_a_table_of_somebody_else_alone(run, club, tmp_path: Path):
    taken = tmp_path / "out" / "flights.csv"
    taken.parent.mkdir()
    taken.write_text("time,latitude,longitude\n")
    found = run("compare", "--out", str(taken.parent))

    assert (found.status, found.out) == (2, "")
    assert found.err == (
        f"{taken}: it is there already, and holds something else. Choose another folder with --out.\n"
    )
    assert [path.name for path in taken.parent.iterdir()] == ["flights.csv"]
    taken.unlink()
    for _ in range(2):
        assert run("compare", "--out", str(taken.parent)).status == 0


def test_a_watched_folder_gives_its_new_logs_to_the_logbook(tmp_path: Path):
    """The real command, ended by a signal: one log that is copied in while it watches, slowly."""
    folder, book = tmp_path / "logs", tmp_path / "club.sqlite"
    folder.mkdir()
    words = [
        "logbook",
        "watch",
        str(folder),
        "--pilot",
        "Wren",
        "--procedure",
        "lantern-vor-22",
        "--settled",
        "0.5",
    ]
    child = subprocess.Popen(
        [sys.executable, "-m", "debrief", *words, "--logbook", str(book)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    assert child.stderr is not None
    assert child.stderr.readline() == f"Watching {folder}. Stop with Ctrl-C.\n"
    content = Path(CLEAN).read_bytes()
    with (folder / "new.gpx").open("wb") as log:
        for part in range(4):
            log.write(content[part * len(content) // 4 : (part + 1) * len(content) // 4])
            log.flush()
            time.sleep(0.1)

    assert child.stdout.readline() == "new.gpx: Lantern VOR/DME runway 22, added as flight 1 of Wren.\n"
    child.terminate()
    _, rest = child.communicate(timeout=30)
    assert rest == "Stopped. No file was left half written.\n"
    assert child.returncode == 128 + 15


def test_the_format_is_taken_as_it_is_told(run):
    added = run("logbook", "add", CLEAN, "--pilot", "Wren", "--format", "csv")

    assert added.status == 2
    assert "no column is recognised" in added.err  # read as a table
    assert run("logbook", "add", CLEAN, "--pilot", "Wren", "--format", "gpx").status == 0
