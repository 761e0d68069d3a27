"""What a terminal can show, and being told to stop: the real command in a process of its own where it matters."""

from __future__ import annotations

import errno
import io
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from debrief.cli_terminal import Stopped, shown_as_working, stopping_on_signals
from debrief.whole_files import write_whole
from tests.cli.conftest import CLEAN, Run, everything_in

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "-m", "debrief"]
REPORT = [*COMMAND, "report", str(CLEAN), "--procedure", "lantern-vor-22", "--out"]
NOTHING_HALF_DONE = "Stopped. No file was left half written.\n"


def ended(words: list[str], **more: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, capture_output=True, text=True, cwd=ROOT, check=False, **more)  # type: ignore[call-overload]


def shown_on(terminal: int, until: str | None = None) -> str:
    """What a terminal shows until a text, or until its program has left it."""
    seen = ""
    while until is None or until not in seen:
        try:
            piece = os.read(terminal, 4096)
        except OSError:  # what Linux says where the other end is closed
            break
        if not piece:
            break
        seen += piece.decode()
    return seen.replace("\r\n", "\n")


def test_a_reader_that_went_away_does_not_stop_the_work(tmp_path: Path) -> None:
    read, write = os.pipe()
    os.close(read)
    with os.fdopen(write, "w") as closed:
        done = subprocess.run(
            [*REPORT, str(tmp_path)], stdout=closed, stderr=subprocess.PIPE, cwd=ROOT, check=False
        )

    assert (done.returncode, done.stderr) == (0, b"")
    assert len(everything_in(tmp_path)) == 3


def test_output_that_cannot_be_written_is_one_line(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """As on a full disk, which a test cannot have."""

    class Full(io.TextIOWrapper):
        def write(self, _text: str, /) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with (tmp_path / "out").open("wb") as file, Full(file) as full:
        monkeypatch.setattr(sys, "stdout", full)
        ran = run("procedures")

    assert ran.status == 2
    assert ran.err == "standard output cannot be written: No space left on device.\n"


def test_a_terminal_that_knows_ascii_alone(tmp_path: Path) -> None:
    plain = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}

    done = ended([*COMMAND, "report", "flüge.gpx"], env=plain)

    assert done.returncode == 2
    assert done.stderr.isascii()
    assert done.stderr.endswith(".gpx: there is no such file. Check the name.\n")
    assert done.stderr.count("\n") == 1


def test_a_home_that_cannot_be_written_is_not_spoken_of(tmp_path: Path) -> None:
    """Drawing keeps a cache of fonts, and would complain."""
    (tmp_path / "home").write_text("a file: nothing can be made in it")
    nowhere = {
        **{name: value for name, value in os.environ.items() if not name.startswith(("XDG_", "MPL"))},
        "HOME": str(tmp_path / "home"),
    }

    done = ended(
        [*COMMAND, "procedures", "show", "lantern-vor-22", "--picture", str(tmp_path / "p.png")], env=nowhere
    )

    assert done.returncode == 0
    assert done.stderr == f"Written: {tmp_path / 'p.png'}\n"


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_signal_ends_the_work_in_one_line_and_leaves_nothing(tmp_path: Path, name: str) -> None:
    number = getattr(signal, name)
    ours, theirs = os.openpty()
    with subprocess.Popen(
        [*REPORT, str(tmp_path / "new" / "reports")], stdout=subprocess.PIPE, stderr=theirs, cwd=ROOT
    ) as running:
        os.close(theirs)
        said = shown_on(ours, until=f"{CLEAN.name} ...")  # it is at work
        running.send_signal(number)
        said += shown_on(ours)
    os.close(ours)

    assert running.returncode == 128 + number
    assert said.endswith(NOTHING_HALF_DONE)
    assert "Traceback" not in said
    assert everything_in(tmp_path) == []


def test_a_signal_while_files_are_written_leaves_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = Path.write_bytes

    def interrupted(path: Path, data: bytes) -> int:
        write(path, data[:1])
        signal.raise_signal(signal.SIGTERM)
        return len(data)

    monkeypatch.setattr(Path, "write_bytes", interrupted)
    with pytest.raises(Stopped) as stopped, stopping_on_signals():
        write_whole({tmp_path / "new" / "a.pdf": b"whole", tmp_path / "new" / "a.json": b"whole"})

    assert stopped.value.status == 128 + signal.SIGTERM
    assert everything_in(tmp_path) == []


@pytest.mark.parametrize("instead", [None, TypeError("incompatible arguments")], ids=["lost", "turned"])
def test_a_signal_that_a_library_swallows_is_obeyed_all_the_same(instead: Exception | None) -> None:
    """Compiled libraries drop it while they are imported, or make an error of their own of it."""

    def library() -> None:
        try:
            signal.raise_signal(signal.SIGINT)
        except Stopped:
            if instead is not None:
                raise instead from None

    with pytest.raises(Stopped), stopping_on_signals():
        library()
    with pytest.raises(Stopped), stopping_on_signals(), shown_as_working("flight.gpx"):
        library()


def test_a_second_signal_does_not_disturb_the_undoing() -> None:
    undone = []

    def work() -> None:
        try:
            signal.raise_signal(signal.SIGINT)
        finally:
            signal.raise_signal(signal.SIGINT)
            undone.append(True)

    with pytest.raises(Stopped), stopping_on_signals():
        work()

    assert undone == [True]


def test_signals_mean_what_they_did_before_once_the_work_is_done() -> None:
    before = signal.getsignal(signal.SIGINT)

    with stopping_on_signals():
        assert signal.getsignal(signal.SIGINT) is not before

    assert signal.getsignal(signal.SIGINT) is before


def test_elsewhere_than_on_a_terminal_nothing_shows_the_work(capsys: pytest.CaptureFixture[str]) -> None:
    with shown_as_working("flight.gpx"):
        pass

    assert capsys.readouterr() == ("", "")


def test_on_a_terminal_the_work_is_shown_and_taken_away_again() -> None:
    ours, theirs = os.openpty()
    with subprocess.Popen(
        [*COMMAND, "report", "a.gpx", "b.gpx"], stdout=subprocess.PIPE, stderr=theirs, cwd=ROOT
    ) as running:
        os.close(theirs)
        said = shown_on(ours)
    os.close(ours)

    blank = " " * len("1 of 2: a.gpx ...")
    assert running.returncode == 2
    assert said == (
        f"1 of 2: a.gpx ...\r{blank}\ra.gpx: there is no such file. Check the name.\n"
        f"2 of 2: b.gpx ...\r{blank}\rb.gpx: there is no such file. Check the name.\n"
    )
