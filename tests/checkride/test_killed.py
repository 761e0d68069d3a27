"""Killed at any moment, and run again: the same table as of an undisturbed run."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from tests.checkride.conftest import SAMPLES

ROOT = Path(__file__).parents[2]
LOGS, KILLS = 12, 3
FILES = ("results.json", "results.csv", "summary.pdf")


def command(folder: Path, out: Path) -> list[str]:
    return [sys.executable, "-m", "debrief", "grade", str(folder), "--procedure", "frosthelm-vor-04", "--workers", "2",
            "--out", str(out)]  # fmt: skip


def test_kill_9_loses_nothing(tmp_path: Path) -> None:
    folder, out = tmp_path / "submissions", tmp_path / "out"
    folder.mkdir()
    log = (SAMPLES / "frosthelm-late-turn.gpx").read_bytes()
    for number in range(LOGS):
        (folder / f"{number:02}.gpx").write_bytes(log + b"\n" * number)
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": ROOT}
    begun = time.monotonic()
    subprocess.run(command(folder, tmp_path / "calm"), check=True, **quiet)  # type: ignore[call-overload]
    whole_s = time.monotonic() - begun
    draw = random.Random(4)

    for _ in range(KILLS):
        process = subprocess.Popen(command(folder, out), start_new_session=True, **quiet)  # type: ignore[call-overload]
        time.sleep(draw.uniform(0.2, 0.9) * whole_s)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
    subprocess.run(command(folder, out), check=True, **quiet)  # type: ignore[call-overload]

    for name in FILES:
        assert (out / name).read_bytes() == (tmp_path / "calm" / name).read_bytes(), name


def started(folder: Path, out: Path) -> subprocess.Popen[str]:
    """A run over a dozen logs in a session of its own, once three of them are graded."""
    folder.mkdir()
    log = (SAMPLES / "frosthelm-late-turn.gpx").read_bytes()
    for number in range(LOGS):
        (folder / f"{number:02}.gpx").write_bytes(log + b"\n" * number)
    process = subprocess.Popen(
        command(folder, out), start_new_session=True, cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )  # fmt: skip
    until = time.monotonic() + 120.0
    while not ((out / ".graded").exists() and (out / ".graded").read_bytes().count(b"\n") >= 3):
        assert time.monotonic() < until
        time.sleep(0.05)
    return process


def test_a_killed_run_leaves_no_workers_behind(tmp_path: Path) -> None:
    """They waited for work for ever, a hundred megabytes each. They hold the pipe that is read to its end here."""
    process = started(tmp_path / "submissions", tmp_path / "out")

    process.kill()

    process.communicate(timeout=60)
    assert process.returncode == -signal.SIGKILL


def test_a_worker_ends_whose_run_was_killed_before_it_was_ready() -> None:
    of_another = f"from debrief.checkride.workers import _end_with; _end_with({os.getppid()}); print('stays')"

    ended = subprocess.run([sys.executable, "-c", of_another], cwd=ROOT, capture_output=True, text=True)

    assert (ended.returncode, ended.stdout, ended.stderr) == (1, "", "")


def test_a_run_that_is_stopped_says_so_in_one_line(tmp_path: Path) -> None:
    """What still waited for a worker made the pool's own thread fail, with a traceback after the line."""
    process = started(tmp_path / "submissions", tmp_path / "out")

    process.terminate()

    out, err = process.communicate(timeout=60)
    assert (process.returncode, out, err) == (
        128 + signal.SIGTERM,
        "",
        "Stopped. No file was left half written.\n",
    )


def test_a_worker_that_is_killed_takes_no_log_along(tmp_path: Path) -> None:
    """The workers are known by their command line: a crash, or a system without memory, ends one of them."""
    process = started(tmp_path / "submissions", tmp_path / "out")

    os.kill(next(workers_of(process.pid)), signal.SIGKILL)

    out, err = process.communicate(timeout=240)
    assert (process.returncode, err) == (0, "")
    assert out.startswith(f"{LOGS} logs: {LOGS} ")


def workers_of(session: int) -> Iterator[int]:
    for entry in Path("/proc").iterdir():
        if not entry.name.isdecimal():
            continue
        try:
            if os.getsid(int(entry.name)) == session and b"LokyProcess" in (entry / "cmdline").read_bytes():
                yield int(entry.name)
        except OSError:
            continue
