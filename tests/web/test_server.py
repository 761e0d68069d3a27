"""Real servers: killed in the middle of everything, started where they may not, asked by many at once."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import httpx2
import pytest

from debrief.cli import main
from debrief.logbook import flights as logbook_flights
from debrief.logbook import open_logbook
from debrief.web import flights
from debrief.web.accounts import trail
from debrief.web.flights import Wishes
from debrief.web.limits import MOST_MEMORY_BYTES
from debrief.web.pile import decisions
from debrief.web.store import Store
from tests.web.conftest import TRACKS
from tests.web.running import ROOT, Forked, Running, logbook_of


def logs(count):
    """Short logs, no two alike."""
    content = (TRACKS / "brandel-sparse.csv").read_bytes()
    return [(f"flight-{number}.csv", content + b"\n" * number) for number in range(count)]


def test_nothing_is_lost_and_nothing_comes_twice_when_workers_and_server_are_killed(tmp_path):
    """Uploads go on while a worker is killed and then the server; the next server finishes what was answered for."""
    server = Running(tmp_path)
    with ThreadPoolExecutor(4) as pool:
        sent = [pool.submit(server.drop, *log) for log in logs(4)]
        accepted = {entry.result() for entry in sent[:2]}
        os.kill(server.workers()[0], signal.SIGKILL)
        accepted |= {entry.result() for entry in sent}
        server.kill()
    assert len(accepted) == 4
    time.sleep(0.5)

    again = Running(tmp_path)
    try:
        found = again.wait()
        assert Counter(flight["id"] for flight in found) == Counter(accepted)
        assert {flight["state"] for flight in found} == {"done"}
        keys = {flight["sha256"] for flight in found}
        results = list(tmp_path.glob("results/*/*/whole.json"))
        assert len(keys) == len(results) == 4
        assert list((tmp_path / "arriving").iterdir()) == []
        until = time.monotonic() + 30
        while any(flight["logbook"]["waits"] for flight in again.flights()) and time.monotonic() < until:
            time.sleep(0.1)
        assert {flight["logbook"]["flight"] for flight in again.flights()} == {1}
        assert len(logbook_flights(open_logbook(logbook_of(tmp_path)))) == 1  # four logs of one flight
    finally:
        status, said = again.stop()
    assert (status, said) == (130, "Stopped. No file was left half written.\n")
    assert list(tmp_path.glob("**/*.part")) == []


ROUNDS = 40
LONGEST_LIFE_S = (
    0.08  # of a server after a decision was sent; one is taken in half that time where nothing else runs
)


def test_no_decision_that_was_answered_for_is_lost_and_none_is_kept_twice(site):
    """Killed at forty random moments while decisions come in; each that had no answer is sent again, as a person would."""
    pace = random.Random(7)
    flight = site.drop(logs(1)[0][1], "flight.csv")
    site.work()
    site.looked_at(site.browser, "/api/v1/pile")  # what it needs is worked out, as beside a server's workers
    server = Forked(site.store.folder)
    answered, killed_before_the_answer = [], 0
    try:
        server.start()
        for number in range(ROUNDS):
            reason = f"reason {number}"
            killer = threading.Timer(pace.uniform(0.0, LONGEST_LIFE_S), server.kill)
            killer.start()
            while not decided(server, flight, reason):
                killed_before_the_answer += 1
                killer.join()
                server.start()
            answered.append(reason)
            killer.join()
            if not server.lives:
                server.start()
        with site.store.open() as connection:
            kept = [decision.because for decision in decisions(connection)]
            noted = [row["because"] for row in trail(connection) if row["what"].startswith("decided")]
    finally:
        server.end()
    row = site.looked_at(site.browser, "/api/v1/pile").json()["flights"][0]

    assert kept == answered
    assert noted == answered[::-1]
    assert row["overruled"]["because"] == answered[-1]
    assert killed_before_the_answer > 0  # else nothing was tried


def decided(server, flight, reason):
    """Whether a decision was answered for."""
    fields = {"item": "result", "result": "unsatisfactory", "because": reason}
    try:
        answer = server.client.post(f"/api/v1/pile/{flight}/decisions", data=fields)
    except (httpx2.TransportError, RuntimeError):  # the server is gone, and with it this client
        return False
    assert answer.status_code == 200, answer.text
    return True


def test_workers_end_with_the_server_and_have_a_limit_of_memory(tmp_path):
    server = Running(tmp_path)
    workers = server.workers()
    assert len(workers) == 2
    for worker in workers:
        with open(f"/proc/{worker}/limits", encoding="ascii") as limits:
            line = next(line for line in limits if line.startswith("Max address space"))
        until = time.monotonic() + 20
        while str(MOST_MEMORY_BYTES) not in line and time.monotonic() < until:  # just begun
            time.sleep(0.1)
            with open(f"/proc/{worker}/limits", encoding="ascii") as limits:
                line = next(line for line in limits if line.startswith("Max address space"))
        assert str(MOST_MEMORY_BYTES) in line

    server.kill()

    until = time.monotonic() + 20
    while any(os.path.exists(f"/proc/{worker}") for worker in workers) and time.monotonic() < until:
        time.sleep(0.1)
    assert not any(os.path.exists(f"/proc/{worker}") for worker in workers)


def test_a_log_that_takes_too_long_is_refused_and_its_process_ends(tmp_path):
    store = Store(tmp_path)
    store.make()
    with store.open() as connection:
        flight, _ = flights.add(
            connection, owner=None, sha256="aa", file="a", size_bytes=1, pilot="", wishes=Wishes()
        )
    code = (
        "import sys, time, debrief.web.work, debrief.web.worker as worker\n"
        "worker.LONGEST_WORK_S = 0.3\n"
        "debrief.web.work.work = lambda *_: time.sleep(60)\n"
        f"sys.argv = ['worker', {str(tmp_path)!r}, {str(logbook_of(tmp_path))!r}]\n"
        "worker.main()\n"
    )

    worker = subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stdin=subprocess.PIPE)
    status = worker.wait(timeout=60)
    worker.stdin.close()

    assert status == 3
    with store.open() as connection:
        refused = flights.one(connection, flight.id)
    assert (refused.state, refused.lease) == ("refused", None)
    assert "takes longer than" in refused.said


def run(capsys, *words):
    with pytest.raises(SystemExit) as left:
        main(list(words))
    return left.value.code, capsys.readouterr()


def test_bound_elsewhere_it_does_not_start_without_accounts(tmp_path, capsys):
    status, said = run(capsys, "serve", "--no-browser", "--host", "0.0.0.0", "--folder", str(tmp_path))

    assert status == 2
    assert said.err.count("\n") == 1
    assert "there are no accounts" in said.err
    assert "debrief accounts add NAME --role admin" in said.err
    assert "TLS" in said.err


def test_one_folder_has_one_server_and_one_port_one_page(tmp_path, capsys):
    server = Running(tmp_path / "data")
    try:
        port = server.address.rpartition(":")[2]
        taken = run(capsys, "serve", "--no-browser", "--port", port, "--folder", str(tmp_path / "other"))
        locked = run(capsys, "serve", "--no-browser", "--port", "0", "--folder", str(tmp_path / "data"))
    finally:
        server.kill()

    assert taken[0] == locked[0] == 2
    assert "Give another --port" in taken[1].err
    assert "another debrief serve works on this folder" in locked[1].err


def test_a_folder_that_cannot_be_used_is_one_clear_line(tmp_path, capsys):
    (tmp_path / "file").write_text("")

    status, said = run(capsys, "serve", "--no-browser", "--folder", str(tmp_path / "file"))

    assert status == 2
    assert "--folder" in said.err


def test_accounts_are_kept_from_the_command_line(tmp_path, capsys, monkeypatch):
    import io

    folder = ["--folder", str(tmp_path)]
    monkeypatch.setattr("sys.stdin", io.StringIO("umbrella tractor violet 7\n"))
    assert run(capsys, "accounts", "add", "Ada", "--role", "pilot", *folder)[0] == 0
    monkeypatch.setattr("sys.stdin", io.StringIO("short\n"))
    status, said = run(capsys, "accounts", "add", "Ben", "--role", "pilot", *folder)
    assert (status, "12 to 128 characters" in said.err) == (2, True)
    assert run(capsys, "accounts", "close", "ada", *folder)[0] == 0
    assert run(capsys, "accounts", "list", *folder)[1].out == "Ada  pilot  closed\n"
    assert run(capsys, "accounts", "open", "Ada", *folder)[0] == 0
    monkeypatch.setattr("sys.stdin", io.StringIO("copper lantern meadow 3\n"))
    assert run(capsys, "accounts", "password", "Ada", *folder)[0] == 0
    status, said = run(capsys, "accounts", "close", "Nobody", *folder)
    assert (status, "debrief accounts list names them" in said.err) == (2, True)
