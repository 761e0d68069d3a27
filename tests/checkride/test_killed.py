"""Killed at any moment, and run again: the same table as of an undisturbed run."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
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
