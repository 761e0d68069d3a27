"""What was graded so far, kept as it comes in, so that an interrupted run goes on where it was.

Owns      the file ``.graded`` in the folder of the results: one line a log, each whole or not there at all.
Not here  the results for people (``results``).

A line holds its own checksum. Whatever was being written when the power went is the last line, its sum does not
agree, and it is cut off when the file is opened again. A line counts for a log whose content has the same sum, under
the same program, procedures and standard.
"""

from __future__ import annotations

import json
import os
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from debrief.checkride.model import Row
from debrief.checkride.results import row_from, row_json
from debrief.checkride.shape import Shape
from debrief.errors import OutputError, Place
from debrief.whole_files import write_whole

NAME = ".graded"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One log as it was graded."""

    settings: str  # digest of all but the log
    source_sha256: str  # of the file on disk: of a log in an archive, the archive's
    report: str  # paper of the report that was written; "" where none was
    row: Row
    shape: Shape | None

    def line(self) -> bytes:
        """As it stands in the file."""
        body = json.dumps(
            {
                "settings": self.settings,
                "source": self.source_sha256,
                "report": self.report,
                "row": row_json(self.row),
                "shape": self.shape.text() if self.shape is not None else None,
            },
            ensure_ascii=True,
        ).encode()
        return b"%08x %s\n" % (zlib.crc32(body), body)


class Journal:
    """The open file. Entries are read once, and added one by one."""

    def __init__(
        self, path: Path, file: BinaryIO, entries: dict[str, Entry], lengths: dict[str, int]
    ) -> None:
        self.path = path
        self.entries = entries  # by the log's name
        self._file = file
        self._lengths = lengths  # of their lines, in bytes

    def add(self, entry: Entry) -> None:
        """Keep an entry. Where the disk is full nothing of it is left, and ``OutputError`` says so."""
        line, end = entry.line(), self._file.tell()
        try:
            self._file.write(line)
            self._file.flush()
        except OSError as error:
            _cut_off(self._file, end)
            raise _cannot_write(self.path, error) from error
        # as the next run would find it: what is rounded on the way is rounded in this run, too
        self.entries[entry.row.file] = _entry(line) or entry
        self._lengths[entry.row.file] = len(line)

    def tidy(self, files: Iterable[str]) -> None:
        """Keep only the entries of these logs, one each."""
        kept = [file for file in files if file in self.entries]
        if self._file.tell() > 2 * sum(self._lengths[file] for file in kept):
            write_whole({self.path: b"".join(self.entries[file].line() for file in kept)})


@contextmanager
def opened(folder: Path) -> Iterator[Journal]:
    """The journal in a folder, which is made where missing; nobody else may write to it meanwhile.

    Raises ``OutputError`` where it cannot be written, or another run is at work there.
    """
    path = folder / NAME
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = path.open("a+b", buffering=0)
    except (OSError, ValueError) as error:
        raise _cannot_write(path, error) from error
    with file:
        _lock(file, path)
        file.seek(0)
        entries, lengths, end = _read(file)
        _cut_off(file, end)
        yield Journal(path, file, entries, lengths)
        try:
            os.fsync(file.fileno())
        except OSError as error:
            raise _cannot_write(path, error) from error


def _read(file: BinaryIO) -> tuple[dict[str, Entry], dict[str, int], int]:
    """Every whole line, the last one of a log counting, with its length; and where the last whole line ends."""
    entries: dict[str, Entry] = {}
    lengths: dict[str, int] = {}
    end = 0
    for line in iter(_lines(file)):
        entry = _entry(line)
        if entry is None:
            break
        entries[entry.row.file] = entry
        lengths[entry.row.file] = len(line)
        end += len(line)
    return entries, lengths, end


def _lines(file: BinaryIO) -> Iterator[bytes]:
    rest = b""
    while piece := file.read(1 << 20):
        *lines, rest = (rest + piece).split(b"\n")
        yield from (line + b"\n" for line in lines)


def _entry(line: bytes) -> Entry | None:
    """A line read back; ``None`` where it is not whole, or an older program wrote it otherwise."""
    checksum, _, body = line.rstrip(b"\n").partition(b" ")
    try:
        if int(checksum, 16) != zlib.crc32(body):
            return None
        told = json.loads(body)
        shape = told["shape"]
        return Entry(
            settings=told["settings"],
            source_sha256=told["source"],
            report=told["report"],
            row=row_from(told["row"]),
            shape=Shape.read(shape) if shape is not None else None,
        )
    except (ValueError, KeyError, TypeError):
        return None


def _cut_off(file: BinaryIO, end: int) -> None:
    try:
        file.truncate(end)
        file.seek(end)
    except OSError:
        return  # the next opening does it


def _lock(file: BinaryIO, path: Path) -> None:
    try:
        import fcntl
    except ImportError:  # not on every system; two runs at once are then the user's own affair
        return
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        raise OutputError(
            "another run is grading into this folder",
            where=Place(path=path.parent),
            remedy="Wait for it, or give another folder with --out.",
        ) from error


def _cannot_write(path: Path, error: OSError | ValueError) -> OutputError:
    said = getattr(error, "strerror", None) or str(error)
    return OutputError(
        f"cannot be written: {said}",
        where=Place(path=path),
        remedy="What was graded so far is kept: make room or choose another folder with --out, and run it again.",
    )
