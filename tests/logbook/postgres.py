"""A real PostgreSQL server of the tests' own: made in a temporary folder, on a free port of this machine, and gone after.

Debian's package is installed where it is missing. The server runs as the user postgres, as it refuses to run as root.
"""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

PACKAGE = "postgresql"
_PROGRAMS = "/usr/lib/postgresql/*/bin"


def programs() -> Path:
    """Where initdb and pg_ctl are; installs Debian's package where they are not."""
    for attempt in range(2):
        found = sorted(Path("/").glob(_PROGRAMS.lstrip("/")), key=lambda path: int(path.parent.name))
        if found:
            return found[-1]
        on_path = shutil.which("initdb")
        if on_path is not None:
            return Path(on_path).parent
        if attempt == 0:
            for words in (["update", "-q"], ["install", "-qy", PACKAGE]):
                subprocess.run(
                    ["apt-get", *words],
                    check=True,
                    stdout=subprocess.DEVNULL,
                    env={**os.environ, "DEBIAN_FRONTEND": "noninteractive"},
                )
    raise RuntimeError("PostgreSQL's programs are not there, and cannot be installed")


class Server:
    """A running server. Its databases are made one a test."""

    def __init__(self, port: int) -> None:
        self.port = port
        self._made = 0

    def address(self, database: str, login: str = "postgres") -> str:
        """Of a database, for that login; nobody needs a password here."""
        return f"postgresql://{login}@127.0.0.1:{self.port}/{database}"

    def ask(self, sql: str, database: str = "postgres", login: str = "postgres") -> list[tuple[object, ...]]:
        """What the database itself says to that login, past any code of ours."""
        with psycopg.connect(self.address(database, login), autocommit=True) as connection:
            found = connection.execute(sql)  # type: ignore[call-overload]  # it wants a literal
            return found.fetchall() if found.description is not None else []

    def new_database(self) -> str:
        """The name of a new, empty database."""
        self._made += 1
        name = f"club{self._made}"
        self.ask(f"CREATE DATABASE {name}")
        return name

    def new_login(self, name: str) -> None:
        """Make a login, once."""
        if not self.ask(f"SELECT 1 FROM pg_roles WHERE rolname = '{name}'"):
            self.ask(f'CREATE ROLE "{name}" LOGIN')


@contextmanager
def running_server() -> Iterator[Server]:
    """Make a server, start it, and stop it in the end."""
    bin_folder = programs()
    folder = Path(tempfile.mkdtemp(prefix="debrief-pg-"))
    as_user: dict[str, object] = {}
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        as_user = {"user": "postgres", "group": user.pw_gid, "extra_groups": []}

    def run(*words: str) -> None:
        subprocess.run(
            [str(bin_folder / words[0]), *words[1:]],
            check=True,
            cwd=folder,
            stdout=subprocess.DEVNULL,
            **as_user,
        )  # type: ignore[call-overload]

    data, port = str(folder / "data"), _free_port()
    settings = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=off -c shared_buffers=16MB"
    try:
        run("initdb", "-D", data, "-A", "trust", "-U", "postgres", "-E", "UTF8", "--no-sync")
        run("pg_ctl", "-D", data, "-w", "-l", str(folder / "log"), "-o", settings, "start")
        try:
            yield Server(port)
        finally:
            run("pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
