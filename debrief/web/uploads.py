"""Taking a log in: from a form's file to a place in the store and in the queue.

Owns      sizes and counts of uploads, the name that is kept for people, the sample flight.
Not here  reading a log: that happens in a worker, under limits (``work``).
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import shutil
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import BinaryIO

from debrief.language import tr
from debrief.web import flights
from debrief.web.answers import RefusedError
from debrief.web.flights import Flight, Wishes
from debrief.web.guard import Ask
from debrief.web.limits import (
    LEAST_FREE_BYTES,
    LONGEST_NAME,
    MEGABYTE,
    MOST_UPLOAD_BYTES,
    MOST_UPLOADS_AN_HOUR,
    MOST_UPLOADS_AT_ONCE,
)
from debrief.web.store import Store

_PIECE = 1 << 20
SAMPLE = "lantern-wrong-side.gpx"


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One file of an upload: its flight, or why it was not taken."""

    file: str
    flight: Flight | None
    new: bool = False
    refused: str = ""


def plain_name(name: str | None) -> str:
    r"""A file's name for people: no folders, nothing that is not printed, not too long.

    >>> plain_name("../../etc/pass\x00wd.gpx"), plain_name("C:\\logs\\night.csv"), plain_name("")
    ('passwd.gpx', 'night.csv', 'unnamed')
    """
    last = re.split(r"[/\\]", name or "")[-1]
    shown = "".join(letter for letter in last if letter.isprintable()).strip()
    if len(shown) > LONGEST_NAME:
        stem, dot, ending = shown.rpartition(".")
        ending = ending[:10] if dot else ""
        shown = f"{(stem or shown)[: LONGEST_NAME - len(ending) - 2]}…{dot}{ending}"
    return shown if shown.strip(".") else "unnamed"


def take(
    ask: Ask, files: Sequence[tuple[str | None, BinaryIO]], wishes: Wishes, pilot: str = ""
) -> list[Taken]:
    """Take logs in, each for itself: one that is refused stops no other.

    Raises
    ------
    RefusedError
        Where there are none, too many, or nothing can be taken at all.
    """
    if not files:
        raise RefusedError(400, tr("No file was sent. Choose one, or drop it on the page."))
    if len(files) > MOST_UPLOADS_AT_ONCE:
        raise RefusedError(
            413,
            tr(
                "{count} files are too many at once: send {most} at most.",
                count=len(files),
                most=MOST_UPLOADS_AT_ONCE,
            ),
        )
    if shutil.disk_usage(ask.store.folder).free < LEAST_FREE_BYTES:
        raise RefusedError(503, tr("The disk is nearly full, so nothing more is taken. Make room on it."))
    an_hour = flights.added_since(ask.connection, ask.owner, time.time() - 3600.0)
    if an_hour + len(files) > MOST_UPLOADS_AN_HOUR:
        raise RefusedError(
            429,
            tr("More than {most} flights in an hour: go on a little later.", most=MOST_UPLOADS_AN_HOUR),
        )
    return [_take_one(ask, plain_name(name), file, wishes, pilot) for name, file in files]


def _take_one(ask: Ask, name: str, file: BinaryIO, wishes: Wishes, pilot: str = "") -> Taken:
    part = ask.store.arriving / secrets.token_hex(16)
    try:
        sha256, size = _copied(file, part)
        if size == 0:
            return Taken(file=name, flight=None, refused=tr("The file is empty. Export the log again."))
        if size > MOST_UPLOAD_BYTES:
            most = f"{MOST_UPLOAD_BYTES / MEGABYTE:.0f} MB"
            return Taken(
                file=name,
                flight=None,
                refused=tr(
                    "It is larger than the {most} that a log may have. Cut the flight out of it, or pack it (gzip, zip).",
                    most=most,
                ),
            )
        _keep(ask.store, part, sha256)
    finally:
        part.unlink(missing_ok=True)
    flight, new = flights.add(
        ask.connection,
        owner=ask.owner,
        sha256=sha256,
        file=name,
        size_bytes=size,
        pilot=ask.account.name if ask.account is not None and ask.account.role == "pilot" else pilot,
        wishes=wishes,
    )
    return Taken(file=name, flight=flight, new=new)


def _copied(file: BinaryIO, part: os.PathLike[str]) -> tuple[str, int]:
    """Copy at most what is allowed, and one byte more; its sum and size."""
    digest, size = hashlib.sha256(), 0
    with open(part, "xb") as target:
        while size <= MOST_UPLOAD_BYTES and (piece := file.read(_PIECE)):
            size += len(piece)
            digest.update(piece)
            target.write(piece)
        target.flush()
        os.fsync(target.fileno())
    return digest.hexdigest(), size


def _keep(store: Store, part: os.PathLike[str], sha256: str) -> None:
    path = store.log(sha256)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    os.replace(part, path)


def sample(ask: Ask) -> Flight:
    """The invented sample flight, as if it had been dropped."""
    from debrief.web.answers import HERE

    with (HERE / "sample" / SAMPLE).open("rb") as file:
        taken = _take_one(ask, SAMPLE, file, Wishes())
    assert taken.flight is not None
    return taken.flight
