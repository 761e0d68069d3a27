"""What lies on the disk now: the logs, procedures and standard that results were made of.

Owns      finding them again, and their sums.
Not here  holding them against a signature (``signatures``).
"""

from __future__ import annotations

from pathlib import Path

from debrief.checkride.results import Results
from debrief.checkride.signatures import Present
from debrief.checkride.submissions import find_submissions
from debrief.errors import DebriefError
from debrief.grading import bundled_standards
from debrief.procedures import bundled_procedures
from debrief.tracks.readers.packed import unpacked_member
from debrief.tracks.readers.samples import sha256_of

_BUNDLED = ""


def present_now(results: Results, folder: Path | None = None) -> Present:
    """The sums of all that the results name, as far as it can be found.

    ``folder`` is where the submissions lie, where that is no longer the folder that was graded. Raises ``DebriefError``
    where it cannot be read.
    """
    unseen: list[str] = []
    where = folder if folder is not None else Path(results.folder)
    tracks: dict[str, str] = {}
    try:
        for submission in find_submissions(where).submissions:
            sum_now = _sum_of(submission.path, submission.member)
            if sum_now:
                tracks[submission.file] = sum_now
        gone = [row.file for row in results.flights if row.sha256 and row.file not in tracks]
        if gone:
            unseen.append(f"{len(gone)} of the logs, the first {gone[0]}")
    except DebriefError as error:
        if folder is not None:
            raise
        unseen.append(f"the logs in {where}: {error.what}")
    bundled = {procedure.sha256 for procedure in bundled_procedures()}
    procedures: dict[str, tuple[str, str]] = {}
    for told in results.procedures:
        sum_now = _named(told.get("path", _BUNDLED))
        if sum_now:
            procedures[told["sha256"]] = (told["name"], sum_now)
        elif told["sha256"] not in bundled:
            unseen.append(f"the procedure {told['name']}")
    standard = dict(results.standard)
    sum_now = _named(standard.get("path", _BUNDLED))
    if not sum_now and standard.get("sha256") in {s.sha256 for s in bundled_standards().values()}:
        sum_now = standard["sha256"]
    if not sum_now:
        unseen.append(f"the standard {standard.get('name', '')}")
    return Present(
        tracks=tracks,
        procedures=procedures,
        standard=(standard.get("name", ""), sum_now) if sum_now else None,
        unseen=tuple(unseen),
    )


def _named(path: str) -> str:
    try:
        return sha256_of(Path(path)) if path else ""
    except OSError:
        return ""


def _sum_of(path: Path, member: int | None) -> str:
    try:
        if not path.is_file():  # a pipe or a device has no end
            return ""
        if member is None:
            return sha256_of(path)
        with unpacked_member(path, member) as log:
            return sha256_of(log)
    except (OSError, DebriefError):
        return ""
