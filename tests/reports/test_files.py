"""Files appear whole or not at all, and the same flight gives the same bytes."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from debrief.errors import OutputError
from debrief.reports import write_report
from debrief.whole_files import name_of, write_whole
from tests.reports import fake


def everything_in(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ...]:
    """The three files of one report, in a folder that had to be made."""
    return write_report(fake.result(), tmp_path_factory.mktemp("reports") / "new" / "folder")


def test_a_report_is_a_pdf_a_picture_and_a_result_file(report: tuple[Path, ...]) -> None:
    assert [path.name for path in report] == [
        "evening-at-lantern.pdf",
        "evening-at-lantern.png",
        "evening-at-lantern.json",
    ]
    assert everything_in(report[0].parent) == {path.name for path in report}
    assert report[0].read_bytes().startswith(b"%PDF-")
    with Image.open(report[1]) as picture:
        assert picture.size == pytest.approx((8.27 * 120, 11.69 * 120), abs=2)


def test_the_same_flight_gives_the_same_bytes_and_replaces_the_older(
    report: tuple[Path, ...], tmp_path: Path
) -> None:
    (tmp_path / "again.json").write_text("older")

    again = write_report(fake.result(), tmp_path, name="again")

    assert [path.read_bytes() for path in again] == [path.read_bytes() for path in report]


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("evening.gpx", "evening"),
        ("evening.flight.gpx", "evening.flight"),
        ("logs/evening.gpx", "evening"),
        ("logs\\evening.gpx", "evening"),
        ("evening", "evening"),
        (".gpx", "debrief"),
    ],
)
def test_a_report_is_named_after_its_track(file: str, name: str) -> None:
    assert name_of(file) == name


def test_a_folder_that_cannot_be_made_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")

    with pytest.raises(OutputError) as caught:
        write_whole({tmp_path / "file" / "reports" / "a.pdf": b"new"})

    assert str(caught.value) == (
        f"{tmp_path / 'file' / 'reports'}: cannot be written: Not a directory. Choose a folder that can be "
        "written to with --out, or make room on the disk."
    )
    assert everything_in(tmp_path) == {"file"}


def test_a_folder_in_the_place_of_a_file_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "flight.json").mkdir()

    with pytest.raises(OutputError, match=r"flight\.json: cannot be written: a folder of that name"):
        write_whole({tmp_path / "flight.pdf": b"new", tmp_path / "flight.json": b"new"})

    assert everything_in(tmp_path) == {"flight.json"}


@pytest.mark.parametrize("fails_at", [1, 2, 3])
def test_a_full_disk_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    write = Path.write_bytes
    calls = []

    def full(path: Path, data: bytes) -> int:
        calls.append(path)
        if len(calls) == fails_at:
            write(path, data[: len(data) // 2])
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return write(path, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OutputError, match="No space left on device"):
        write_whole({tmp_path / "new" / f"flight.{kind}": b"new" for kind in ("pdf", "png", "json")})

    assert everything_in(tmp_path) == set()


def test_an_older_report_outlives_a_full_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.txt").write_text("older")

    def full(source: Path, target: Path) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OutputError):
        write_whole({tmp_path / "a.txt": b"newer", tmp_path / "b.txt": b"newer"})

    assert everything_in(tmp_path) == {"a.txt"}
    assert (tmp_path / "a.txt").read_text() == "older"


def test_a_file_size_limit_of_the_system_leaves_nothing_behind(tmp_path: Path) -> None:
    """Without any patch: the system itself refuses to write more than 1,000 bytes."""
    program = (
        "import resource, signal, pathlib\n"
        "from debrief.errors import OutputError\n"
        "from debrief.whole_files import write_whole\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "try:\n"
        f"    write_whole({{pathlib.Path({str(tmp_path / 'a.pdf')!r}): bytes(5000)}})\n"
        "except OutputError as error:\n"
        "    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert "a.pdf: cannot be written: File too large" in done.stdout
    assert everything_in(tmp_path) == set()


KILLED_WHILE_WRITING = """
import os, pathlib, signal, sys
from debrief.whole_files import write_whole
os.replace = lambda part, target: os.kill(os.getpid(), signal.SIGKILL)
folder = pathlib.Path(sys.argv[1])
write_whole({folder / "a.pdf": b"new", folder / "b.pdf": b"new"})
"""


def test_what_a_killed_process_left_is_taken_away_by_the_next_and_nothing_else(tmp_path: Path) -> None:
    """``kill -9`` between writing and renaming: hidden files stayed in the folder for ever."""
    (tmp_path / "a.pdf").write_text("older")
    subprocess.run([sys.executable, "-c", KILLED_WHILE_WRITING, str(tmp_path)], check=False)
    left = everything_in(tmp_path) - {"a.pdf"}
    (one, *_) = sorted(left)
    _, machine, process, _ = one.split("-")
    others = {
        f".debrief-{machine}-{os.getppid()}-0.part",  # whose writer lives
        f".debrief-{'0' * 8}-{process}-0.part",  # of another machine that writes into this folder
        f".debrief-{machine}-{process}-0.part.gpx",
        f"debrief-{machine}-{process}-0.part",
        f".{process}-0.part",
    }
    for name in others:
        (tmp_path / name).write_text("somebody's")

    write_whole({tmp_path / "c.pdf": b"next"})

    assert len(left) == 2
    assert everything_in(tmp_path) == {"a.pdf", "c.pdf"} | others
    assert (tmp_path / "a.pdf").read_text() == "older"
