"""A folder watched: which new logs in it are finished.

Owns      ``finished_logs``: a file counts as finished once it has kept its size and time for a while.
Not here  adding them (the command line).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from debrief.errors import LogbookError, Place

SETTLED_S = 10.0
PAUSE_S = 1.0
_UNFINISHED = (".part", ".tmp", ".crdownload", ".partial", ".swp")


@dataclass(slots=True)
class _Seen:
    size: int
    changed_ns: int
    since_s: float
    given: bool


def finished_logs(
    folder: Path,
    *,
    settled_s: float = SETTLED_S,
    present_too: bool = False,
    now: Callable[[], float] = time.monotonic,
    wait: Callable[[float], None] = time.sleep,
) -> Iterator[Path]:
    """Give each file of a folder once it is finished; never ends. One that is written to later is given again.

    Parameters
    ----------
    settled_s : so long it must have stayed as it is. [s]
    present_too : those that are there at the beginning, too.
    now, wait : the clock.

    Raises
    ------
    LogbookError
        Where the folder cannot be read.
    """
    _files(folder)  # what cannot be watched is said before anybody waits
    return _finished(folder, settled_s, present_too, now, wait)


def _finished(
    folder: Path,
    settled_s: float,
    present_too: bool,
    now: Callable[[], float],
    wait: Callable[[float], None],
) -> Iterator[Path]:
    seen: dict[Path, _Seen] = {}
    first = True
    while True:
        for path, size, changed_ns in _files(folder):
            known = seen.get(path)
            if known is None or (known.size, known.changed_ns) != (size, changed_ns):
                seen[path] = _Seen(size, changed_ns, now(), given=first and not present_too)
            elif not known.given and size and now() - known.since_s >= settled_s:
                known.given = True
                yield path
        first = False
        wait(PAUSE_S)


def _files(folder: Path) -> list[tuple[Path, int, int]]:
    found = []
    try:
        for path in sorted(folder.iterdir()):
            if path.name.startswith(".") or path.suffix.lower() in _UNFINISHED:
                continue
            try:
                status = path.stat()
            except OSError:  # gone again
                continue
            if path.is_file():
                found.append((path, status.st_size, status.st_mtime_ns))
    except OSError as error:
        raise LogbookError(
            f"the folder cannot be read: {error.strerror or error}",
            where=Place(path=folder),
            remedy="Give the folder that the logs are written to.",
        ) from error
    return found
