"""What a page needs computed over many flights: asked for by the server, done by a worker, kept in a file.

Owns      the rows of ``task``: asking, taking, finishing; the file of what came of one, and waiting for it.
Not here  what is computed (``board``, ``copies``), the worker's loop (``worker``).

No request computes such a thing itself: it waits a little for a worker, then shows what was found before, or that it is
still being worked out. A task that is asked for again while it is in work is done again.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import sqlite3
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from debrief.language import mark
from debrief.web.limits import KEPT_TASKS_S, MOST_TRIES, PATIENCE_S
from debrief.web.store import Store, at_once, put_whole

Kind = Literal["board", "copies", "report"]
_LOOK_S = 0.03
_ENDED_SUDDENLY = mark("This takes more memory or time than is allowed.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something to compute."""

    name: str
    kind: Kind
    about: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What is known of a task: its last outcome, and whether that is of now."""

    content: dict[str, Any] | None
    current: bool
    said: str  # why it could not be done


def task_name(kind: Kind, about: Mapping[str, Any]) -> str:
    """What a task is called: the same for the same."""
    return f"{kind}-{hashlib.sha256(json.dumps(about, sort_keys=True).encode()).hexdigest()[:32]}"


def wanted(
    store: Store,
    connection: sqlite3.Connection,
    kind: Kind,
    about: Mapping[str, Any],
    patience_s: float = PATIENCE_S,
) -> Kept:
    """Ask for a task to be done, and wait for it a little."""
    text, name = json.dumps(about, sort_keys=True), task_name(kind, about)
    now = time.time()
    connection.execute(
        "INSERT INTO task (name, kind, about, asked_at) VALUES (?, ?, ?, ?)"
        " ON CONFLICT (name) DO UPDATE SET asked_at = excluded.asked_at, tries = 0",
        (name, kind, text, now),
    )
    until = time.monotonic() + patience_s
    while True:
        done_at, said = connection.execute(
            "SELECT done_at, said FROM task WHERE name = ?", (name,)
        ).fetchone()
        if done_at >= now or time.monotonic() >= until:
            return Kept(content=content_of(store, name), current=done_at >= now, said=said)
        time.sleep(_LOOK_S)


def content_of(store: Store, name: str) -> dict[str, Any] | None:
    """What came of a task the last time; ``None`` where nothing did."""
    try:
        found: dict[str, Any] = json.loads(gzip.decompress(store.kept(name).read_bytes()))
    except FileNotFoundError:
        return None
    return found


def keep(store: Store, name: str, content: Mapping[str, Any]) -> None:
    """Keep what came of a task."""
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    put_whole(store.kept(name), gzip.compress(text.encode(), 6, mtime=0))


def claim(connection: sqlite3.Connection, lease: str) -> Task | None:
    """Take the task that was asked for first, under a lease; ``None`` where there is none."""
    due = "SELECT name, kind, about FROM task WHERE asked_at > done_at AND lease IS NULL ORDER BY asked_at LIMIT 1"
    if connection.execute(due).fetchone() is None:  # without a lock: it is asked ten times a second
        return None
    with at_once(connection):
        row = connection.execute(due).fetchone()
        if row is None:
            return None
        connection.execute(
            "UPDATE task SET lease = ?, taken_at = ?, tries = tries + 1 WHERE name = ?",
            (lease, time.time(), row["name"]),
        )
    return Task(name=row["name"], kind=row["kind"], about=json.loads(row["about"]))


def finish(connection: sqlite3.Connection, lease: str, said: str = "") -> None:
    """Write down that a task is done, as of when it was taken; ``said`` is why nothing came of it."""
    connection.execute(
        "UPDATE task SET done_at = taken_at, lease = NULL, tries = 0, said = ? WHERE lease = ?", (said, lease)
    )


def give_back(connection: sqlite3.Connection, pid: int) -> None:
    """A worker ended suddenly: its task waits again, or is given up where that happened before."""
    connection.execute(
        "UPDATE task SET done_at = CASE WHEN tries >= ? THEN taken_at ELSE done_at END,"
        " said = CASE WHEN tries >= ? THEN ? ELSE said END, lease = NULL WHERE lease LIKE ?",
        (MOST_TRIES, MOST_TRIES, _ENDED_SUDDENLY, f"{pid}-%"),
    )


def start_afresh(store: Store, connection: sqlite3.Connection) -> None:
    """No worker is alive, and nobody waits any more; what was not asked for in a long time is deleted."""
    connection.execute("UPDATE task SET lease = NULL, tries = 0, done_at = max(done_at, asked_at)")
    long_ago = time.time() - KEPT_TASKS_S
    for row in connection.execute(
        "DELETE FROM task WHERE asked_at < ? RETURNING name", (long_ago,)
    ).fetchall():
        store.kept(row["name"]).unlink(missing_ok=True)
