"""What the page costs, in a real browser and with many uploads at once: rows for the table of benchmarks.

Owns      the page's rows. Wall-clock seconds: somebody waits for them.
Not here  the table (``__main__``), the server and browser that the tests use too (``tests.web``).
"""

from __future__ import annotations

import io
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import httpx2
import numpy as np
from playwright.sync_api import sync_playwright

from debrief import read_track
from debrief.web.pile import ROW
from debrief.web.store import put_whole
from tests.web.chromium import ARGUMENTS, chromium
from tests.web.running import ROOT, Running
from tests.web.site import Site

SAMPLES = 15_000
UPLOADS = 50
RUN_S = 4.0
LISTED = 2000


Measured = tuple[str, float, str, float | None]  # what, how much, its unit, the most that was asked


def waiting(folder: Path) -> Iterator[Measured]:
    """The first visit: until the page can be used, and from the sample flight's button to its debrief. [s]"""
    with serving(folder) as server, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        page = browser.new_page()
        began = time.monotonic()
        page.goto(server.address)
        yield "page usable after", time.monotonic() - began, "s", 1.0
        began = time.monotonic()
        page.get_by_role("button", name="See it with an invented flight").click()
        page.locator(".report").wait_for()
        yield "sample log to its debrief", time.monotonic() - began, "s", 5.0
        browser.close()


def cursor(folder: Path) -> Iterator[Measured]:
    """Milliseconds of a frame of the replay, with many samples."""
    head = "time,latitude,longitude,altitude_ft\n"
    with serving(folder) as server, sync_playwright() as playwright:
        flight = server.drop("long.csv", (head + _many_samples()).encode())
        server.wait()
        browser = playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        page = browser.new_page(viewport={"width": 1280, "height": 860})
        page.goto(f"{server.address}/flights/{flight}/replay")
        page.wait_for_selector("#replay[data-ready]", timeout=60_000)
        count = len(server.client.get(f"/flights/{flight}/files/replay.json?show").json()["samples"]["t"])
        page.keyboard.press(" ")
        before, began = int(page.get_attribute("#replay", "data-frames") or 0), time.monotonic()
        page.wait_for_timeout(1000 * RUN_S)
        frames = int(page.get_attribute("#replay", "data-frames") or 0) - before
        took_ms = 1000 * (time.monotonic() - began) / frames
        browser.close()
    yield f"a frame of the replay of {count:,} samples", took_ms, "ms", 1000 / 30


def _many_samples() -> str:
    """The sample flight with so many samples, made by drawing lines between its own."""
    track = read_track(ROOT / "sample_tracks" / "lantern-clean.gpx")
    every = np.linspace(track.t_s[0], track.t_s[-1], SAMPLES)
    columns = [
        np.interp(every, track.t_s, values)
        for values in (track.latitude_deg, track.longitude_deg, track.altitude_ft)
    ]
    lines = io.StringIO()
    for t_s, latitude, longitude, altitude in zip(every, *columns, strict=True):
        lines.write(
            f"{track.time_at(float(t_s)).isoformat()},{latitude:.7f},{longitude:.7f},{altitude:.1f}\n"
        )
    return lines.getvalue()


def many(folder: Path) -> Iterator[Measured]:
    """Many uploads at once: what another visitor waits for at worst, and until all are debriefed. [s]"""
    content = (ROOT / "sample_tracks" / "lantern-wrong-side.gpx").read_bytes()
    with serving(folder) as server, visiting(server.address) as waits_s:
        began = time.monotonic()
        with ThreadPoolExecutor(UPLOADS) as pool:
            ids = list(pool.map(lambda n: server.drop(f"{n}.gpx", content + b"\n" * n), range(UPLOADS)))
        while any(flight["state"] in ("waiting", "working") for flight in server.flights()):
            time.sleep(0.5)
        taken = time.monotonic() - began
        states = [flight["state"] for flight in server.flights()]
    if not len(set(ids)) == UPLOADS == states.count("done"):
        raise RuntimeError(f"{UPLOADS} were sent; they are {Counter(states)}")
    yield f"another visitor during {UPLOADS} uploads at once, at worst", max(waits_s), "s", 1.0
    yield f"until all {UPLOADS} are debriefed", taken, "s", None


def lists(folder: Path) -> Iterator[Measured]:
    """What a request costs the server itself where thousands of flights are there. [s of a processor]"""
    site = Site(folder)
    site.drop((ROOT / "sample_tracks" / "lantern-wrong-side.gpx").read_bytes())
    site.work()
    with site.store.open() as connection:
        first = dict(connection.execute("SELECT * FROM flight").fetchone())
        gaps = ", ".join("?" * len(first))
        row = (site.store.result(first["result_key"]) / ROW).read_bytes()
        for number in range(LISTED):
            key = f"{number:064x}"
            put_whole(site.store.result(key) / ROW, row)
            other = first | {
                "id": f"flight-{number}",
                "sha256": key,
                "result_key": key,
                "logbook_flight": None,
            }
            connection.execute(f"INSERT INTO flight ({', '.join(other)}) VALUES ({gaps})", [*other.values()])
    for path in ("/pile", "/", "/board"):
        site.looked_at(site.browser, path)  # what a worker has to work out is there
        began = time.process_time()
        site.get(path)
        yield (
            f"the server's own work on {path} with {LISTED:,} flights",
            time.process_time() - began,
            "s",
            0.1,
        )


@contextmanager
def serving(folder: Path) -> Iterator[Running]:
    """A server that ends whatever becomes of the measurement."""
    server = Running(folder)
    try:
        yield server
    finally:
        server.kill()


@contextmanager
def visiting(address: str) -> Iterator[list[float]]:
    """Another visitor, who asks for pages all the while; how long each made them wait. [s]"""
    waits_s: list[float] = []
    done = threading.Event()

    def visit() -> None:
        with httpx2.Client(base_url=address, timeout=60) as client:
            while not done.is_set():
                for path in ("/help", "/"):
                    began = time.monotonic()
                    client.get(path).raise_for_status()
                    waits_s.append(time.monotonic() - began)
                time.sleep(0.05)

    visitor = threading.Thread(target=visit)
    visitor.start()
    try:
        yield waits_s
    finally:
        done.set()
        visitor.join()
