"""The same work on a cluster: a real Dask scheduler and two workers on loopback, one of them killed half-way."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from debrief.checkride.folder import grade_folder
from debrief.checkride.results import results_json
from debrief.errors import DebriefError
from tests.checkride.conftest import SAMPLES, MakeSettings

LOGS = 24
STARTING_S = 60.0


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The address of a scheduler, and its two workers."""
    told = tmp_path / "scheduler.json"
    quiet = {"cwd": Path(__file__).parents[2], "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    dask = [sys.executable, "-m", "dask"]
    scheduler = subprocess.Popen(
        [
            *dask,
            "scheduler",
            "--host",
            "127.0.0.1",
            "--port",
            "0",
            "--no-dashboard",
            "--scheduler-file",
            str(told),
        ],
        **quiet,  # type: ignore[call-overload]
    )
    workers: list[subprocess.Popen[bytes]] = []
    try:
        wait_for(told.exists)
        workers += [
            subprocess.Popen(
                [*dask, "worker", "--scheduler-file", str(told), "--host", "127.0.0.1", "--nthreads", "1",
                 "--no-nanny", "--no-dashboard", "--local-directory", str(tmp_path / f"worker-{number}")],
                **quiet,  # type: ignore[call-overload]
            )
            for number in range(2)
        ]  # fmt: skip
        import json

        yield json.loads(told.read_text())["address"], workers
    finally:
        for process in [*workers, scheduler]:
            process.kill()
            process.wait()


def wait_for(done: object) -> None:
    end = time.monotonic() + STARTING_S
    while not done():  # type: ignore[operator]
        assert time.monotonic() < end, "the cluster does not start"
        time.sleep(0.05)


def test_a_killed_worker_loses_nothing(
    cluster: tuple[str, list[subprocess.Popen[bytes]]], tmp_path: Path, settings: MakeSettings
) -> None:
    folder = tmp_path / "submissions"
    folder.mkdir()
    log = (SAMPLES / "frosthelm-late-turn.gpx").read_bytes()
    for number in range(LOGS):
        (folder / f"{number:02}.gpx").write_bytes(log + b"\n" * number)
    alone = grade_folder(folder, settings(procedure="frosthelm-vor-04", out="alone"), workers=0)
    address, (first, _) = cluster
    killed: list[int] = []

    def kill_one(done: int, of: int) -> None:
        if done >= of // 3 and not killed:
            os.kill(first.pid, signal.SIGKILL)
            killed.append(done)

    run = grade_folder(folder, settings(procedure="frosthelm-vor-04"), scheduler=address, progress=kill_one)

    assert killed
    assert killed[0] < LOGS
    assert results_json(run.results) == results_json(alone.results)
    shutil.rmtree(folder)


def test_a_scheduler_that_is_not_there_is_one_line(folder: Path, settings: MakeSettings) -> None:
    with pytest.raises(DebriefError) as error:
        grade_folder(folder, settings(), scheduler="no-protocol://nowhere")

    assert str(error.value).startswith("no-protocol://nowhere: the scheduler cannot be reached: ")


@pytest.mark.parametrize("address", ["cluster", "8786", "cluster:", "foo://cluster:1", "tcp://:1", ""])
def test_what_is_no_address_of_a_scheduler_is_one_line(
    folder: Path, settings: MakeSettings, address: str, capfd: pytest.CaptureFixture[str]
) -> None:
    """A client that could not be made told of it a second time, with a traceback."""
    with pytest.raises(DebriefError, match="the scheduler cannot be reached: this is no address of one"):
        grade_folder(folder, settings(), scheduler=address)

    assert capfd.readouterr().err == ""
