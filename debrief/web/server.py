"""Serving the page: one server process over one folder, and the workers that it keeps going.

Owns      ``Plan`` (what was asked for), the folder's lock, starting and replacing workers, opening the browser.
Not here  the application (``app``), the work (``worker``), the command's options (``cli_serve``).

Killed at any moment it loses nothing: what it answered for lies in the folder, and its workers end with it.
"""

from __future__ import annotations

import logging
import os
import socket
import sqlite3
import subprocess
import sys
import threading
import time
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from debrief.errors import OutputError, Place
from debrief.threads import ONE_THREAD
from debrief.web import accounts, booking, flights, tasks
from debrief.web.app import make_app
from debrief.web.limits import WORKERS
from debrief.web.store import Store

LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})
_LOOK_S = 0.2
_REST_S = 1.0  # before a worker that ended at once is started again
_WAIT_FOR_LOCK_S = 3.0  # a server that was just killed lets go of it

TLS_WORDS = (
    "Others reach this page over the network, so let nobody read along: give it a certificate "
    "(--certificate cert.pem --key key.pem), or bind it to loopback and put a web server that speaks TLS in front of it, "
    "on this machine, that passes on the Host, X-Forwarded-For and X-Forwarded-Proto headers. "
    "Without TLS nobody signs in from another machine."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What was asked for."""

    host: str
    port: int
    folder: Path
    browser: bool
    certificate: Path | None = None
    key: Path | None = None
    logbook: str = ""  # its address
    language: str = ""  # of every page; that of each browser where empty

    @property
    def loopback(self) -> bool:
        """Whether only this machine can reach it."""
        return self.host in LOOPBACK


def serve(plan: Plan, say: Callable[[str], None]) -> None:
    """Serve until told to stop.

    Raises
    ------
    OutputError
        Where it may not start (bound elsewhere without accounts), the address is taken, or the folder cannot be used.
    """
    store = Store(plan.folder)
    store.make()
    with store.open() as connection:
        if not plan.loopback and not accounts.are_there_any(connection):
            raise OutputError(
                f"{plan.host} can be reached by others, and there are no accounts, so anybody could do anything",
                remedy=f"Make one first: debrief accounts add NAME --role admin --folder {plan.folder}. {TLS_WORDS}",
            )
    logbook = _which_logbook(plan)
    with _listening(plan) as listener, _alone_with(store):
        with store.open() as connection:
            flights.give_all_back(connection)
            booking.give_all_back(connection)
            booking.keep_in(connection, logbook)
            tasks.start_afresh(store, connection)
            logs, results = flights.forget_removed(connection)
        _forget(store, logs, results)
        _serve(plan, store, listener, say)


def _which_logbook(plan: Plan) -> str:
    """Where the logbook is, without a password. One that cannot be used is told before anything is served."""
    from debrief.logbook.opening import open_logbook

    book = open_logbook(plan.logbook)
    book.engine.dispose()
    if book.file is None and not book.shared:
        raise OutputError("a logbook in memory keeps nothing", remedy="Give --logbook a file.")
    return book.address if book.file is None else str(book.file.resolve())


def _serve(plan: Plan, store: Store, listener: socket.socket, say: Callable[[str], None]) -> None:
    logging.getLogger("debrief.web").addHandler(logging.StreamHandler())
    config = uvicorn.Config(
        make_app(store, loopback=plan.loopback, language=plan.language),
        log_level="error",
        access_log=False,
        server_header=False,
        lifespan="off",
        timeout_keep_alive=10,
        timeout_graceful_shutdown=3,
        ssl_certfile=None if plan.certificate is None else str(plan.certificate),
        ssl_keyfile=None if plan.key is None else str(plan.key),
    )
    server = uvicorn.Server(config)
    scheme = "http" if plan.certificate is None else "https"
    host = "localhost" if plan.host == "localhost" else listener.getsockname()[0]
    address = f"{scheme}://{f'[{host}]' if ':' in host else host}:{listener.getsockname()[1]}/"
    workers = _Workers(store, plan.logbook)
    workers.start()
    threading.Thread(target=_preload, args=(store,), daemon=True).start()
    try:
        say(f"The page is at {address}  (data in {store.folder}; Ctrl+C stops it)")
        if not plan.loopback and plan.certificate is None:
            say(TLS_WORDS)
        if plan.browser and plan.loopback:
            threading.Thread(target=_open_browser, args=(server, address), daemon=True).start()
        server.run(sockets=[listener])
    finally:
        workers.stop()


def _preload(store: Store) -> None:
    """What the first look at a report, a procedure or the pile needs, while the first page is read."""
    import debrief.procedures.remarks
    import debrief.web.maker
    import debrief.web.pictures  # noqa: F401  # loaded for its own sake
    from debrief.web.pile import warm

    with store.open() as connection:
        warm(store, connection)


def _open_browser(server: uvicorn.Server, address: str) -> None:
    while not server.started:
        time.sleep(0.05)
    webbrowser.open(address)


def can_show_a_browser() -> bool:
    """Whether a window could open at all: a browser in a terminal would take the terminal."""
    return sys.platform in ("win32", "darwin") or bool(
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )


@contextmanager
def _listening(plan: Plan) -> Iterator[socket.socket]:
    """The address, bound before anything else: taken or not is told at once."""
    remedy = "Is debrief serve running already? Give another --port, or 0 for any that is free."
    with ExitStack() as open_sockets:
        try:
            found = socket.getaddrinfo(plan.host, plan.port, type=socket.SOCK_STREAM)[0]
            listener = open_sockets.enter_context(socket.socket(found[0], socket.SOCK_STREAM))
            if sys.platform != "win32":
                listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind(found[4])
            listener.listen(256)
        except (OSError, OverflowError) as error:
            said = getattr(error, "strerror", None) or str(error)
            raise OutputError(
                f"{plan.host}, port {plan.port} cannot be used: {said}", remedy=remedy
            ) from error
        yield listener


@contextmanager
def _alone_with(store: Store) -> Iterator[None]:
    """Hold the folder's lock. The system lets go of it when this process ends, however that is."""
    connection = sqlite3.connect(
        store.folder / "lock.sqlite3", isolation_level=None, timeout=_WAIT_FOR_LOCK_S
    )
    try:
        connection.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as error:
        raise OutputError(
            "another debrief serve works on this folder",
            where=Place(path=store.folder),
            remedy="Use its page, stop it, or give another --folder.",
        ) from error
    try:
        yield
    finally:
        connection.close()


def _forget(store: Store, logs: set[str], results: set[str]) -> None:
    """Delete the files that flights removed long ago left, and uploads that never became whole."""
    import shutil

    for sha256 in logs:
        store.log(sha256).unlink(missing_ok=True)
    for key in results:
        shutil.rmtree(store.result(key), ignore_errors=True)
    for part in store.arriving.iterdir():
        part.unlink(missing_ok=True)


class _Workers:
    """The worker processes: one that ends is replaced, and what it held goes back to the queue."""

    def __init__(self, store: Store, logbook: str) -> None:
        self.store = store
        self.logbook = logbook
        self.processes: list[subprocess.Popen[bytes]] = []
        self.stopping = threading.Event()
        self.keeper = threading.Thread(target=self._keep, daemon=True)

    def start(self) -> None:
        """Start them, and keep them going."""
        self.processes = [self._one() for _ in range(WORKERS)]
        self.keeper.start()

    def stop(self) -> None:
        """End them; what they hold waits for the next server."""
        self.stopping.set()
        self.keeper.join(timeout=2)
        for process in self.processes:
            process.kill()
        for process in self.processes:
            process.wait()

    def _one(self) -> subprocess.Popen[bytes]:
        environment = {**os.environ, "MPLBACKEND": "Agg", **ONE_THREAD}
        command = [sys.executable, "-m", "debrief.web.worker", str(self.store.folder), self.logbook]
        return subprocess.Popen(command, stdin=subprocess.PIPE, env=environment)

    def _keep(self) -> None:
        started = [time.monotonic()] * len(self.processes)
        while not self.stopping.wait(_LOOK_S):
            for index, process in enumerate(self.processes):
                if process.poll() is None:
                    continue
                self._give_back(process.pid)
                if self.stopping.wait(max(0.0, started[index] + _REST_S - time.monotonic())):
                    return
                self.processes[index], started[index] = self._one(), time.monotonic()

    def _give_back(self, pid: int) -> None:
        with self.store.open() as connection:
            booking.give_back(connection, pid)
            tasks.give_back(connection, pid)
            for lease, _ in flights.leases(connection):
                if lease.startswith(f"{pid}-"):
                    flights.give_back(connection, lease)
