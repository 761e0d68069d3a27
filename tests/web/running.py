"""A real server for tests: its process, its address, and being killed."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import httpx2

ROOT = Path(__file__).parents[2]
LONGEST_WAIT_S = 300.0  # of a busy machine; nothing here waits this long for nothing


def logbook_of(folder):
    """The logbook of a page over that folder: beside it, never the user's own."""
    return folder.with_name(f"{folder.name}-logbook.sqlite")


class Running:
    """``debrief serve`` over a folder, on a port of its own."""

    def __init__(self, folder, *, port=0):
        command = [sys.executable, "-m", "debrief", "serve", "--no-browser", "--port", str(port)]
        self.process = subprocess.Popen(
            [*command, "--folder", str(folder), "--logbook", str(logbook_of(folder))],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        line = self.process.stdout.readline()
        found = re.search(r"http://\S+?(?=/)", line)
        assert found, line + self.process.stdout.read()
        self.address = found[0]
        self.client = httpx2.Client(base_url=self.address, timeout=LONGEST_WAIT_S)

    def flights(self):
        return self.client.get("/api/v1/flights").json()["flights"]

    def drop(self, name, content):
        """Send a log; the id of its flight, once the server has answered for it."""
        answer = self.client.post("/api/v1/flights", files={"log": (name, content)})
        assert answer.status_code == 202, answer.text
        return answer.json()["logs"][0]["flight"]["id"]

    def wait(self, states=("done", "asking", "refused")):
        """Until every flight is in one of the states."""
        until = time.monotonic() + LONGEST_WAIT_S
        while time.monotonic() < until:
            found = self.flights()
            if all(flight["state"] in states and not flight["writing"] for flight in found):
                return found
            time.sleep(0.1)
        raise AssertionError([(flight["file"], flight["state"], flight["said"]) for flight in found])

    def workers(self):
        """The process numbers of the workers."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text()
        return [
            int(child)
            for child in children.split()
            if "debrief.web.worker" in Path(f"/proc/{child}/cmdline").read_text()
        ]

    def kill(self):
        """End it as a power cut would: at once, without a word."""
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.client.close()
        self.process.stdout.close()

    def stop(self):
        """End it as Ctrl+C does; its exit status and what it still said."""
        self.process.send_signal(signal.SIGINT)
        said = self.process.communicate(timeout=30)[0]
        self.client.close()
        return self.process.returncode, said


# one process that has read the whole program forks each server: it answers as soon as it is there
_FORKING = """
import os, sys
from pathlib import Path
import debrief.logbook.migrating, uvicorn.loops.auto, uvicorn.protocols.http.auto
from debrief.web import pages_pile, pile, server
server.WORKERS = 0
plan = server.Plan(host="127.0.0.1", port=0, folder=Path(sys.argv[1]), browser=False, logbook=sys.argv[2])
server._preload(server.Store(plan.folder))
for _ in sys.stdin:
    child = os.fork()
    if child == 0:
        server.serve(plan, lambda said: print(os.getpid(), said, flush=True))
        os._exit(0)
    os.waitpid(child, 0)
    print("ended", flush=True)
"""


class Forked:
    """What ``debrief serve`` runs, without workers, over a folder that a server has used before; again and again.

    For what is done in the server alone, to be killed in the middle of it more often than a program can be started.
    """

    def __init__(self, folder):
        self.process = subprocess.Popen(
            [sys.executable, "-c", _FORKING, str(folder), str(logbook_of(folder))],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.number, self.client, self.lives = 0, None, False

    def start(self):
        """Fork a server, and wait until it answers."""
        self.process.stdin.write("start\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        self.number = int(line.split()[0])
        address = re.search(r"http://\S+?(?=/)", line)[0]
        self.client = httpx2.Client(base_url=address, timeout=LONGEST_WAIT_S)
        self.lives = True

    def kill(self):
        """End it as a power cut would."""
        os.kill(self.number, signal.SIGKILL)
        assert self.process.stdout.readline() == "ended\n"
        self.client.close()
        self.lives = False

    def end(self):
        """End the process that forks, too."""
        if self.lives:
            self.kill()
        self.process.stdin.close()
        self.process.wait()
        self.process.stdout.close()
