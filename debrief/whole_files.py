"""Files of ours on the disk: each appears whole or not at all, and is named by its track.

Owns      ``write_whole``, ``refuse_taken``, ``read_ordinary``, ``on_one_line``, ``no_formula``, what happens when the disk is full or the
          process is killed; ``check_folder``; ``name_of``.
Not here  what stands in the files.
"""

from __future__ import annotations

import errno
import hashlib
import os
import platform
import re
import stat
from contextlib import suppress
from functools import cache, lru_cache
from pathlib import Path

from debrief.errors import OutputError, Place
from debrief.tracks.readers import PACKED, SUFFIXES

_REMEDY = "Choose a folder that can be written to with --out, or make room on the disk."


def name_of(track_file: str) -> str:
    """A track's file name without folders and ending; of a packed log, without either of its endings.

    >>> name_of("logs/evening.flight.gpx"), name_of("evening.gpx.gz"), name_of(".gpx"), name_of("..gpx")
    ('evening.flight', 'evening', 'debrief', 'debrief')
    """
    last = re.split(r"[/\\\\]", track_file)[-1]
    stem, _, ending = last.rpartition(".") if "." in last else (last, "", "")
    if ending.casefold() in PACKED and stem.casefold().endswith(SUFFIXES):
        stem = stem.rpartition(".")[0]
    return stem.strip() if stem.strip(" .") else "debrief"


def check_folder(folder: Path) -> None:
    """Raise ``OutputError`` where it is plain, before any work is done, that nothing can be written there.

    Makes nothing. What only shows in writing, such as a full disk, is told by ``write_whole``.
    """
    for entry in (folder, *folder.parents):
        try:
            mode = entry.stat().st_mode
        except FileNotFoundError:
            continue
        except (OSError, ValueError) as error:  # NotADirectoryError is told of the file itself, further up
            if isinstance(error, NotADirectoryError):
                continue
            raise _cannot_write(folder, error) from error
        if not stat.S_ISDIR(mode):
            what = "it is a file, not a folder" if entry == folder else f"{entry} is a file, not a folder"
            raise OutputError(what, where=Place(path=folder), remedy="Choose another folder with --out.")
        if not os.access(entry, os.W_OK | os.X_OK):
            raise _cannot_write(folder, PermissionError(errno.EACCES, os.strerror(errno.EACCES)))
        return


def _cannot_write(path: Path, error: OSError | ValueError) -> OutputError:
    said = getattr(error, "strerror", None) or str(error)
    too_long = getattr(error, "errno", None) == errno.ENAMETOOLONG
    remedy = "Give the log, or the folder, a shorter name." if too_long else _REMEDY
    return OutputError(f"cannot be written: {said}", where=Place(path=path), remedy=remedy)


def no_formula(text: str) -> str:
    """A stranger's text for a cell of a table that spreadsheets open: one that would count as a formula gets an apostrophe.

    Mark: common practice.

    >>> no_formula("=cmd|' /c calc'!A1"), no_formula("evening")
    ("'=cmd|' /c calc'!A1", 'evening')
    """
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def on_one_line(text: str) -> str:
    r"""What somebody typed, as it can be kept: without line ends, and with bytes that are no text shown as ``\xff``.

    >>> on_one_line(" heard\nat 460\udcff ")
    'heard at 460\\xff'
    """
    return " ".join(text.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace").split())


def read_ordinary(path: Path) -> bytes:
    """What a file of ours holds. Raises ``OSError`` for a pipe or a device, too: they have no end."""
    mode = path.stat().st_mode
    if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
        raise OSError(errno.EINVAL, "it is not an ordinary file")
    return path.read_bytes()


def refuse_taken(path: Path, begins_with: bytes, remedy: str) -> None:
    """Raise ``OutputError`` where a file of another kind stands, which would be lost: a log, a logbook, a table."""
    if not path.is_file():
        return
    with path.open("rb") as there:
        head = there.read(len(begins_with))
    if head not in (b"", begins_with):
        raise OutputError(
            "it is there already, and holds something else", where=Place(path=path), remedy=remedy
        )


def write_whole(contents: dict[Path, bytes]) -> None:
    """Write files so that each appears whole or not at all; after a failure nothing new is left behind.

    Raises
    ------
    OutputError
        Naming the file and what the system said.
    """
    waiting: dict[Path, Path] = {}
    made: list[Path] = []
    target = next(iter(contents)).parent
    try:
        made = _make_folder(target)
        for number, (target, content) in enumerate(contents.items()):
            if target.is_dir():
                raise IsADirectoryError(0, "a folder of that name stands there")
            part = part_of(target, str(number))
            waiting[part] = target
            part.write_bytes(content)
        for part, target in list(waiting.items()):
            os.replace(part, target)
            del waiting[part]
    except (OSError, ValueError) as error:  # ValueError: a name that the system cannot have
        raise _cannot_write(target, error) from error
    finally:
        for part in waiting:
            part.unlink(missing_ok=True)
        if waiting:
            for folder in made:
                _remove_if_empty(folder)


def part_of(target: Path, which: str) -> Path:
    """The name of a file until it is whole; what a killed process left of such files in that folder is taken away.

    ``which`` is of lower-case letters and figures, and not the same for any two that this process writes at a time.
    """
    _take_away_left_parts(os.path.realpath(target.parent))
    # in the same folder: a rename never copies
    return target.with_name(f".debrief-{_machine()}-{os.getpid()}-{which}.part")


_PART = re.compile(r"\.debrief-(?P<machine>[0-9a-f]{8})-(?P<process>[1-9][0-9]{0,9})-[0-9a-z]+\.part")


@cache
def _machine() -> str:
    """Which machine this is among those that may write into one folder: only here it is known which processes live."""
    return hashlib.sha256(platform.node().encode("utf-8", "surrogateescape")).hexdigest()[:8]


@lru_cache(maxsize=1024)  # once in a process is enough, and a folder may hold thousands of reports
def _take_away_left_parts(folder: str) -> None:
    if os.name == "nt":  # there to ask a process whether it lives may end it
        return
    try:
        names = os.listdir(folder)
    except OSError:
        return
    for name in names:
        found = _PART.fullmatch(name)
        if found and found["machine"] == _machine() and not _lives(int(found["process"])):
            with suppress(OSError):
                os.unlink(os.path.join(folder, name))


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)  # sends nothing
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):  # it is somebody else's
        return True
    return True


def _make_folder(folder: Path) -> list[Path]:
    """Make a folder and those above it; the ones made, innermost first."""
    missing = [folder, *folder.parents]
    missing = [entry for entry in missing if not entry.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return missing


def _remove_if_empty(folder: Path) -> None:
    try:
        folder.rmdir()
    except OSError:  # somebody else's file is in it by now
        return
