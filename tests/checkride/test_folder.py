"""A folder graded: one row a log, picked up where it was, the same whoever does the work."""

from __future__ import annotations

import datetime as dt
import gzip
import json
import os
import shutil
import signal
import struct
import threading
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from joblib.externals.loky import get_reusable_executor

from debrief.checkride import folder as folder_module
from debrief.checkride.folder import Run, grade_folder
from debrief.checkride.model import Row
from debrief.checkride.results import results_csv, results_json
from debrief.checkride.shape import Shape, shape_of
from debrief.checkride.submissions import find_submissions
from debrief.checkride.task import Graded, Job, Settings
from debrief.checkride.workers import graded
from debrief.checkride.written import write_results
from debrief.errors import DebriefError, OutputError
from debrief.tracks.readers import read_track
from tests.checkride.conftest import SAMPLES, MakeSettings


@pytest.fixture
def done(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The logs that are really graded, in this process."""
    files: list[str] = []

    def here(jobs: Sequence[Job], settings: Settings, **_: object) -> object:
        files.extend(job.file for job in jobs)
        return graded(jobs, settings, workers=0)

    monkeypatch.setattr(folder_module, "graded", here)
    return files


def test_each_log_is_a_row_with_its_items(folder: Path, settings: MakeSettings, done: list[str]) -> None:
    run = grade_folder(folder, settings())

    rows = {row.file: row for row in run.results.flights}
    assert list(rows) == ["frosthelm-late-turn.gpx", "lantern-wrong-side.gpx", "week 9/brandel-sparse.csv"]
    assert [row.result for row in rows.values()] == ["satisfactory", "unsatisfactory", "satisfactory"]
    wrong = rows["lantern-wrong-side.gpx"]
    assert wrong.procedure == "Lantern VOR/DME runway 22"
    assert wrong.first_cause is not None
    assert "right of the outbound course" in wrong.first_cause
    assert [item.item for item in wrong.items if item.verdict == "unsatisfactory"] == ["Side of the reversal"]
    assert rows["week 9/brandel-sparse.csv"].log_quality == "fair"  # ten seconds between samples
    assert all(not row.flags for row in rows.values())


def test_an_item_without_a_number_says_why_it_was_not_met(tmp_path: Path, settings: MakeSettings) -> None:
    """The examiner who was to decide on a marginal one was shown a dash."""
    shutil.copy(SAMPLES / "kestrey-noisy-recorder.gpx", tmp_path)

    (row,) = grade_folder(tmp_path, settings(procedure="kestrey-ndb-09"), workers=0).results.flights

    item = next(item for item in row.items if item.item == "Stabilised approach")
    assert (item.verdict, item.value) == ("marginal", None)
    assert item.reason.startswith(
        "The approach may not have been stabilised below 1,000 ft above the runway, "
    )
    assert not any(i.reason for i in row.items if i.verdict == "marginal" and i.value is not None)


def test_what_cannot_be_read_is_a_row_with_its_reason(
    folder: Path, settings: MakeSettings, done: list[str]
) -> None:
    (folder / "page.gpx").write_text("<html>sign in</html>")
    (folder / "empty.csv").write_text("")
    (folder / "broken.zip").write_bytes(b"PK\x03\x04 cut off")

    run = grade_folder(folder, settings())

    reasons = {row.file: row.reason for row in run.results.flights if row.result == "unreadable"}
    assert set(reasons) == {"page.gpx", "empty.csv", "broken.zip"}
    assert reasons["page.gpx"].startswith("this is a web page.")
    assert reasons["empty.csv"] == "the file is empty. Export the log again."
    assert reasons["broken.zip"].startswith("the archive is damaged or cut off")
    assert not any(str(folder) in reason for reason in reasons.values())


def test_logs_in_archives_count_each(tmp_path: Path, settings: MakeSettings, done: list[str]) -> None:
    folder = tmp_path / "packed"
    folder.mkdir()
    log = (SAMPLES / "frosthelm-late-turn.gpx").read_bytes()
    with zipfile.ZipFile(folder / "week.zip", "w") as archive:
        archive.writestr("../../up.gpx", log)
        archive.writestr("in/ada.gpx", log + b"\n")
        archive.writestr("in/ada.toml", 'pilot = "Ada Finch"')
        archive.writestr("in/read me.txt", "Dear examiner, ...")
        archive.writestr("__MACOSX/in/._ada.gpx", b"\0\0")
    (folder / "bo.gpx.gz").write_bytes(gzip.compress(log + b"\n\n", mtime=0))

    run = grade_folder(folder, settings(procedure="frosthelm-vor-04"))

    assert {row.file: (row.pilot, row.result) for row in run.results.flights} == {
        "bo.gpx.gz": ("bo", "satisfactory"),
        "week.zip/../../up.gpx": ("up", "satisfactory"),
        "week.zip/in/ada.gpx": ("Ada Finch", "satisfactory"),
    }
    assert run.results.left_aside == ("week.zip/in/read me.txt",)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "packed"]


def test_a_log_whose_columns_must_be_named_is_told_what_can_be_done_in_a_folder(
    tmp_path: Path, settings: MakeSettings
) -> None:
    rows = "".join(f"2026-05-04T10:00:{second:02d}Z,47.1,-31.2\n" for second in range(30))
    (tmp_path / "odd.csv").write_text(f"time,alpha,beta\n{rows}")

    (row,) = grade_folder(tmp_path, settings(), workers=0).results.flights

    assert row.result == "unreadable"
    assert row.reason.endswith("Name yours: --column latitude=HEADING --column longitude=HEADING.")


def test_an_earlier_runs_results_are_no_submissions(
    folder: Path, settings: MakeSettings, tmp_path: Path
) -> None:
    """Where they lie beside their journal, among logs; a log put in their place is one."""
    before = find_submissions(folder)
    write_results(grade_folder(folder, settings(), workers=0).results, tmp_path / "out")
    shutil.copytree(tmp_path / "out", folder, dirs_exist_ok=True)

    assert find_submissions(folder) == before
    (folder / "results.csv").write_text("time,lat,lon\n")
    assert "results.csv" in [submission.file for submission in find_submissions(folder).submissions]


def test_whose_flight_it_is_is_told_by_sidecar_list_or_name(folder: Path) -> None:
    (folder / "lantern-wrong-side.toml").write_text('pilot = "Ada Finch"')
    (folder / "names.csv").write_text(
        "pilot;file\nBo Tern;week 9\\brandel-sparse.csv\nCy;lantern-wrong-side\n"
    )
    (folder / "frosthelm-late-turn.gpx.toml").write_text("pilot = no text")

    found = {s.file: s for s in find_submissions(folder).submissions}

    assert {file: s.pilot for file, s in found.items()} == {
        "frosthelm-late-turn.gpx": "",
        "lantern-wrong-side.gpx": "Ada Finch",
        "week 9/brandel-sparse.csv": "Bo Tern",
    }
    assert found["frosthelm-late-turn.gpx"].remark.startswith(
        "frosthelm-late-turn.gpx.toml is not valid TOML"
    )


def test_a_listed_path_is_the_name_of_no_other_log(folder: Path) -> None:
    """The log of the same name in another folder was given to the pilot of this one."""
    shutil.copy(folder / "lantern-wrong-side.gpx", folder / "week 9")
    (folder / "names.csv").write_text(
        "file,pilot\n./lantern-wrong-side.gpx,Ada\nfrosthelm-late-turn.gpx,Bo\nmissing.gpx,Di\nunnamed.gpx,\n"
    )

    found = find_submissions(folder)

    assert {s.file: s.pilot for s in found.submissions} == {
        "frosthelm-late-turn.gpx": "Bo",
        "lantern-wrong-side.gpx": "Ada",
        "week 9/brandel-sparse.csv": "",
        "week 9/lantern-wrong-side.gpx": "",
    }
    assert found.missing == ("missing.gpx",)


def test_one_log_of_two_pilots_is_refused(folder: Path) -> None:
    names = folder / "names.csv"
    names.write_text('file,pilot\n"a\nb.gpx",Ada\nA.GPX,Bo\na.gpx,Bo\na.gpx,Cy\n')

    with pytest.raises(DebriefError) as refused:
        find_submissions(folder)

    assert str(refused.value) == (
        f"{names}, line 6: the list of names has 'a.gpx' twice: of Bo in line 4, of Cy here. Leave out one of the two; "
        "where logs in two folders have one name, write the folder too."
    )


def test_an_unchanged_log_is_not_graded_again(folder: Path, settings: MakeSettings, done: list[str]) -> None:
    first = grade_folder(folder, settings())
    done.clear()

    again = grade_folder(folder, settings())

    assert done == []
    assert (again.graded, again.kept) == (0, 3)
    assert results_json(again.results) == results_json(first.results)


def test_a_changed_log_standard_or_procedure_is_graded_again(
    folder: Path, settings: MakeSettings, done: list[str]
) -> None:
    grade_folder(folder, settings())
    done.clear()
    log = folder / "frosthelm-late-turn.gpx"
    log.write_bytes(log.read_bytes() + b"\n")
    (folder / "new.gpx").write_bytes((SAMPLES / "lantern-clean.gpx").read_bytes())
    (folder / "lantern-wrong-side.gpx").unlink()

    run = grade_folder(folder, settings())
    assert done == ["frosthelm-late-turn.gpx", "new.gpx"]
    assert "lantern-wrong-side.gpx" not in {row.file for row in run.results.flights}

    done.clear()
    grade_folder(folder, settings(standard="training"))
    assert len(done) == 3
    done.clear()
    grade_folder(folder, settings(standard="training", procedure="frosthelm-vor-04"))
    assert len(done) == 3


def test_columns_and_the_altitudes_unit_are_given_once_for_all(
    tmp_path: Path, settings: MakeSettings, done: list[str]
) -> None:
    """A log whose headings are not recognised, one that has others, and one that needs none named."""
    folder = tmp_path / "submissions"
    folder.mkdir()
    text = (SAMPLES / "brandel-sparse.csv").read_text(encoding="utf-8")
    (folder / "odd.csv").write_text(
        text.replace(";Breite;", ";P1;", 1).replace(";Länge;", ";P2;", 1), encoding="utf-8"
    )
    (folder / "usual.csv").write_text(text, encoding="utf-8")
    shutil.copy(SAMPLES / "lantern-wrong-side.gpx", folder)
    asked = replace(settings(procedure="brandel-ndb-27"), columns=(("latitude", "P1"), ("longitude", "P2")))

    own = grade_folder(folder, settings(procedure="brandel-ndb-27"))
    named = grade_folder(folder, asked)
    in_feet = grade_folder(folder, replace(asked, altitude_unit="ft"))

    assert [row.result for row in own.results.flights][1:] == ["unreadable", "satisfactory"]
    assert [row.result for row in named.results.flights][1:] == ["satisfactory", "satisfactory"]
    assert named.results.flights[1].items == named.results.flights[2].items
    assert in_feet.results.flights[2].result == "unsatisfactory"  # its metres taken for feet
    assert len(done) == 9  # other settings are another grade
    told = json.loads(results_json(in_feet.results))
    assert (told["columns"], told["altitude_unit"]) == ({"latitude": "P1", "longitude": "P2"}, "ft")
    assert not {"columns", "altitude_unit"} & set(json.loads(results_json(own.results)))


def test_the_day_that_logs_leave_open_is_given_once_for_all(
    tmp_path: Path, settings: MakeSettings, done: list[str]
) -> None:
    """The row asked for --date, which the command did not have: such a log could never be graded."""
    folder = tmp_path / "submissions"
    folder.mkdir()
    text = (SAMPLES / "brandel-sparse.csv").read_text(encoding="utf-8")
    undated = text.replace("Datum;", "", 1).replace("\n12.03.2026;", "\n")
    (folder / "undated.csv").write_text(undated, encoding="utf-8")
    shutil.copy(SAMPLES / "lantern-wrong-side.gpx", folder)
    own = grade_folder(folder, settings())
    given = grade_folder(folder, replace(settings(), date=dt.date(2026, 3, 12)))

    dated, undated_row = given.results.flights
    assert own.results.flights[0] == dated  # a day of its own counts
    assert own.results.flights[1].result == "unreadable"
    assert "--date" in own.results.flights[1].reason
    assert undated_row.result == "satisfactory"
    assert undated_row.recorded.startswith("2026-03-12T18:00:00")
    assert done == ["lantern-wrong-side.gpx", "undated.csv"] * 2  # another day is another grade
    assert json.loads(results_json(given.results))["date"] == "2026-03-12"
    assert "date" not in json.loads(results_json(own.results))


def test_an_interrupted_run_goes_on_where_it_was(
    folder: Path, settings: MakeSettings, done: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = results_json(grade_folder(folder, settings(out="undisturbed")).results)
    calm = folder_module.graded

    def torn(jobs: Sequence[Job], settings: Settings, **_: object) -> object:
        yield next(iter(graded(jobs, settings, workers=0)))
        raise KeyboardInterrupt

    monkeypatch.setattr(folder_module, "graded", torn)
    with pytest.raises(KeyboardInterrupt):
        grade_folder(folder, settings())
    journal = settings().out / ".graded"
    journal.write_bytes(journal.read_bytes() + b'7f00aa11 {"settings": "half a li')  # as the power went
    monkeypatch.setattr(folder_module, "graded", calm)
    done.clear()

    run = grade_folder(folder, settings())

    assert done == ["lantern-wrong-side.gpx", "week 9/brandel-sparse.csv"]
    assert results_json(run.results) == whole


def test_a_line_whose_sum_does_not_agree_does_not_count(
    folder: Path, settings: MakeSettings, done: list[str]
) -> None:
    grade_folder(folder, settings())
    journal = settings().out / ".graded"
    text = journal.read_bytes()
    journal.write_bytes(text.replace(b"unsatisfactory", b"satisfactory  "))
    done.clear()

    run = grade_folder(folder, settings())

    assert "lantern-wrong-side.gpx" in done
    assert run.results.flights[1].result == "unsatisfactory"


def test_a_full_disk_leaves_no_half_line(
    folder: Path, settings: MakeSettings, done: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from debrief.checkride import journal

    class Full:
        def __init__(self, file: object) -> None:
            self.file = file

        def write(self, content: bytes) -> int:
            self.file.write(content[:40])  # type: ignore[attr-defined]
            raise OSError(28, "No space left on device")

        def __getattr__(self, name: str) -> object:
            return getattr(self.file, name)

    real = journal.Journal.__init__

    def full(self: journal.Journal, path: Path, file: object, *rest: object) -> None:
        real(self, path, Full(file), *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(journal.Journal, "__init__", full)

    with pytest.raises(OutputError) as error:
        grade_folder(folder, settings())

    assert str(error.value).startswith(f"{settings().out / '.graded'}: cannot be written: No space left")
    assert (settings().out / ".graded").read_bytes() == b""


def test_a_folder_that_cannot_be_written_is_told(
    folder: Path, settings: MakeSettings, tmp_path: Path
) -> None:
    (tmp_path / "taken").write_text("a file")

    with pytest.raises(OutputError) as error:
        grade_folder(folder, replace(settings(), out=tmp_path / "taken" / "out"))

    assert str(error.value).startswith(
        f"{tmp_path / 'taken' / 'out' / '.graded'}: cannot be written: Not a directory"
    )


def test_two_runs_into_one_folder_do_not_mix(folder: Path, settings: MakeSettings) -> None:
    from debrief.checkride import journal

    with journal.opened(settings().out), pytest.raises(OutputError, match="another run is grading"):
        grade_folder(folder, settings())


def test_a_folder_without_logs_or_no_folder_is_one_line(tmp_path: Path, settings: MakeSettings) -> None:
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "a.txt").write_text("Dear examiner")

    with pytest.raises(DebriefError) as error:
        grade_folder(tmp_path / "letters", settings())
    assert str(error.value) == (
        f"{tmp_path / 'letters'}: there is no log in it: 1 file in it, none a log. "
        "Give the folder of the submissions."
    )
    with pytest.raises(DebriefError, match="there is no such folder"):
        grade_folder(tmp_path / "nowhere", settings())


def test_names_may_hold_any_character(tmp_path: Path, settings: MakeSettings, done: list[str]) -> None:
    folder = tmp_path / "odd"
    folder.mkdir()
    log = (SAMPLES / "frosthelm-late-turn.gpx").read_bytes()
    names = ["a b;c,d.gpx", 'quo"te.gpx', "line\nbreak.gpx", "Ünï-日本.gpx", "=1+1.gpx", "x" * 200 + ".gpx"]
    for number, name in enumerate(names):
        (folder / name).write_bytes(log + b"\n" * number)
    with open(os.fsencode(str(folder)) + b"/bad-\xff.gpx", "wb") as file:
        file.write(log + b"\n" * 40)

    run = grade_folder(folder, settings(procedure="frosthelm-vor-04", reports="none"))

    rows = run.results.flights
    assert {row.file for row in rows} == {*names, "bad-\\xff.gpx"}
    assert "line break" in {row.pilot for row in rows}
    assert all(row.pilot.isprintable() for row in rows)
    assert all(row.result == "satisfactory" for row in rows)
    json.loads(results_json(run.results).encode("utf-8"))
    assert results_csv(rows).encode("utf-8")


def test_reports_are_written_for_those_that_failed(
    folder: Path, settings: MakeSettings, done: list[str]
) -> None:
    run = grade_folder(folder, settings(reports="failed"))

    out = settings().out
    assert [row.report for row in run.results.flights] == [None, "reports/lantern-wrong-side.pdf", None]
    assert (out / "reports/lantern-wrong-side.pdf").read_bytes().startswith(b"%PDF")
    done.clear()
    (out / "reports/lantern-wrong-side.pdf").unlink()
    grade_folder(folder, settings(reports="failed"))
    assert done == ["lantern-wrong-side.gpx"]


def test_a_report_that_the_table_no_longer_has_is_taken_away(
    folder: Path, settings: MakeSettings, done: list[str]
) -> None:
    """A flight that was changed and passes now kept the report that fails it."""
    grade_folder(folder, settings(reports="failed"))
    reports = settings().out / "reports"
    (reports / "notes.txt").write_text("mine")
    assert len(list(reports.iterdir())) == 4

    shutil.copy(SAMPLES / "lantern-clean.gpx", folder / "lantern-wrong-side.gpx")
    run = grade_folder(folder, settings(reports="failed"))

    assert all(row.report is None for row in run.results.flights)
    assert [path.name for path in reports.iterdir()] == ["notes.txt"]


def test_reports_of_logs_with_one_name_do_not_overwrite_each_other(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    for name in ("a/x.gpx", "a/x.csv", "a/X.igc"):
        shutil.copy(SAMPLES / "frosthelm-late-turn.gpx", tmp_path / name)

    names = folder_module._report_names(find_submissions(tmp_path).submissions)

    assert len({name.casefold() for name in names.values()}) == 3
    assert all(name.startswith("reports/a/") for name in names.values())


def test_the_results_do_not_depend_on_who_works(folder: Path, settings: MakeSettings) -> None:
    texts = []
    for workers in (0, 1, 2):
        run = grade_folder(folder, settings(out=f"out-{workers}"), workers=workers)
        texts.append(results_json(run.results))

    assert texts[0] == texts[1] == texts[2]


class _Deadly(type(Path())):  # type: ignore[misc]  # the class of paths on this system
    """A path that ends the process which looks at it, as a log does that fills the memory."""

    def is_file(self) -> bool:
        os._exit(9)


def test_a_worker_that_dies_takes_no_other_log_along(folder: Path, settings: MakeSettings) -> None:
    jobs = [Job(file=s.file, path=s.path) for s in find_submissions(folder).submissions]
    jobs[1] = replace(jobs[1], path=_Deadly(jobs[1].path))

    outcomes = {g.row.file: g.row for g in graded(jobs, settings(), workers=2)}

    assert {file: row.result for file, row in outcomes.items()} == {
        "frosthelm-late-turn.gpx": "satisfactory",
        "lantern-wrong-side.gpx": "unreadable",
        "week 9/brandel-sparse.csv": "satisfactory",
    }
    assert "the worker that read it was ended" in outcomes["lantern-wrong-side.gpx"].reason


def test_a_worker_killed_while_it_sends_takes_no_log_along(
    folder: Path, settings: MakeSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What reads the results waited for the rest of its message for ever."""
    jobs = [Job(file=s.file, path=s.path) for s in find_submissions(folder).submissions]
    pools = []

    def kept(**given: Any) -> Any:
        pools.append(get_reusable_executor(**given))
        return pools[-1]

    monkeypatch.setattr("joblib.externals.loky.get_reusable_executor", kept)
    outcomes = graded(jobs, settings(), workers=1)
    taken = [next(outcomes)]

    os.write(
        pools[0]._result_queue._writer.fileno(), struct.pack("!i", 1_000_000)
    )  # says how long it will be
    for process in list(pools[0]._processes.values()):
        os.kill(process.pid, signal.SIGKILL)
    taking = threading.Thread(target=lambda: taken.extend(outcomes), daemon=True)
    taking.start()
    taking.join(60.0)

    assert sorted(g.row.file for g in taken) == sorted(job.file for job in jobs)


def test_a_log_that_was_graded_says_by_which_program(folder: Path, settings: MakeSettings) -> None:
    jobs = [Job(file="x.gpx", path=folder / "frosthelm-late-turn.gpx")]

    (outcome,) = graded(jobs, settings(procedure="frosthelm-vor-04"), workers=0)

    assert isinstance(outcome, Graded)
    assert outcome.program.startswith("debrief ")
    assert outcome.row.procedure_sha256 == settings(procedure="frosthelm-vor-04").procedures[0].sha256


def test_pipes_and_devices_are_never_waited_for(
    folder: Path, settings: MakeSettings, done: list[str]
) -> None:
    """A pipe that nobody writes into, and a device without an end, once kept the whole folder waiting."""
    for name in ("names.csv", "pipe", "pipe.gpx"):
        os.mkfifo(folder / name)
    (folder / "endless.gpx").symlink_to("/dev/zero")

    def twice() -> None:
        # The second run looks at what the first one did.
        runs.extend(grade_folder(folder, settings()) for _ in range(2))

    runs: list[Run] = []
    working = threading.Thread(target=twice, daemon=True)
    working.start()
    working.join(timeout=60)

    assert len(runs) == 2
    reasons = {row.file: row.reason for row in runs[1].results.flights if row.result == "unreadable"}
    assert reasons == dict.fromkeys(
        ("endless.gpx", "names.csv", "pipe.gpx"), "it is not an ordinary file. Give the log's own file."
    )


def test_an_archive_of_thousands_is_listed_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It was opened again for each file in it: 20,000 letters took more than a minute."""
    opened: list[Path] = []

    class Counting(zipfile.ZipFile):
        def __init__(self, path: Path) -> None:
            opened.append(path)
            super().__init__(path)

    with zipfile.ZipFile(tmp_path / "week.zip", "w") as archive:
        for number in range(50):
            archive.writestr(f"{number}.txt", "Dear examiner, ...")
    monkeypatch.setattr(zipfile, "ZipFile", Counting)

    found = find_submissions(tmp_path)

    assert opened == [tmp_path / "week.zip"]
    assert len(found.left_aside) == 50
    assert [submission.broken[:22] for submission in found.submissions] == ["there is no log in the"]


def test_a_run_that_goes_on_has_what_an_unbroken_one_has(folder: Path, settings: MakeSettings) -> None:
    """Shapes and values are rounded on their way through the journal; copies were told of by other minutes after it."""
    log = SAMPLES / "lantern-clean.gpx"
    shutil.copy(log, folder / "one.gpx")
    (folder / "two.gpx").write_bytes(log.read_bytes() + b"\n")
    unbroken = grade_folder(folder, settings(), workers=0)
    resumed = grade_folder(folder, settings(), workers=0)

    assert (unbroken.kept, resumed.graded) == (0, 0)
    assert any(flag.sign == "copy" for row in resumed.results.flights for flag in row.flags)
    assert resumed.results == unbroken.results


def test_what_is_kept_is_at_once_what_the_next_run_finds(tmp_path: Path) -> None:
    from debrief.checkride import journal

    shape = shape_of(read_track(SAMPLES / "lantern-clean.gpx"))
    row = Row(file="one.gpx", result="satisfactory", margin=1.0 / 3.0)
    with journal.opened(tmp_path) as kept:
        kept.add(journal.Entry(settings="", source_sha256="", report="", row=row, shape=shape))
        now = kept.entries["one.gpx"]
    with journal.opened(tmp_path) as kept:
        later = kept.entries["one.gpx"]

    assert now.row == later.row
    assert now.shape is not None
    assert later.shape is not None
    for name in Shape.__slots__:
        assert np.array_equal(getattr(now.shape, name), getattr(later.shape, name), equal_nan=True), name
