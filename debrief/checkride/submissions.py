"""What lies in a folder of submissions: every log, also inside zip archives, and whose it is.

Owns      walking the folder, telling logs from what lies beside them, the pilots' names.
Not here  reading a log (``tracks.readers``), grading it (``task``).

A log is what the content says, or what is named like one: a web page under a ``.gpx`` name is a submission that cannot
be read, a letter beside it is left aside. Hidden files and folders are passed over. Names may hold any character.
"""

from __future__ import annotations

import csv
import io
import os
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from debrief.checkride.journal import NAME as JOURNAL
from debrief.checkride.results import COLUMNS, RESULTS
from debrief.errors import DebriefError, Place, TrackError
from debrief.tracks.readers.packed import Member, members_of
from debrief.tracks.readers.registry import LOG_SUFFIXES, is_log
from debrief.tracks.readers.sniff import HEAD_BYTES, plain
from debrief.whole_files import read_ordinary

_MOST_NAMES_BYTES = 10_000_000
_MOST_SIDECAR_BYTES = 100_000
_LONGEST_HEADINGS = 4096  # of a list of names
_PASSED_OVER = ("__MACOSX", "Thumbs.db", "desktop.ini")
_LONGEST_PILOT = 120
_RESULTS_BEGIN = (",".join(COLUMNS[:3]).encode(), b'{\n "format": 1,\n "program": "debrief', b"%PDF")
#: What lies beside logs and may hold a table all the same.
_DOCUMENTS = frozenset(
    (
        ".md",
        ".rst",
        ".pdf",
        ".png",
        ".jpg",
        ".jpeg",
        ".gif",
        ".html",
        ".htm",
        ".doc",
        ".docx",
        ".odt",
        ".xls",
        ".xlsx",
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Submission:
    """One log of the folder."""

    file: str  # relative to the folder, with forward slashes; in an archive: ARCHIVE/LOG
    path: Path  # of the log, or of the archive it lies in
    member: int | None = None  # which entry of the archive
    pilot: str = ""  # as a sidecar or a list of names says; "" where none does
    remark: str = ""  # what is wrong with its sidecar
    broken: str = ""  # why it cannot even be opened


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The submissions in the order of their names, and what was left aside."""

    submissions: tuple[Submission, ...]
    left_aside: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()  # what the list of names has and the folder has not


@dataclass(slots=True)
class _Search:
    folder: Path
    submissions: list[Submission] = field(default_factory=list)
    left_aside: list[str] = field(default_factory=list)


def find_submissions(folder: Path, *, names: Path | None = None, without: Sequence[Path] = ()) -> Found:
    """Every log under a folder.

    Parameters
    ----------
    folder : where to look; links to other folders are not followed.
    names : a CSV with the headings ``file`` and ``pilot``. Where it is not given, one in the folder itself is taken.
    without : folders that are not looked into, such as that of the results.

    Raises
    ------
    DebriefError
        Where the folder cannot be read, or the list of names is none.
    """
    if not folder.is_dir():
        what = "this is not a folder" if folder.exists() else "there is no such folder"
        raise TrackError(
            what, where=Place(path=folder), remedy="Give the folder in which the submissions lie."
        )
    own_list = names if names is not None else _names_in(folder)
    listed = _names_from(own_list) if own_list is not None else {}
    search = _Search(folder)
    skipped = {path.resolve() for path in without}
    for top, folders, files in os.walk(folder, onerror=lambda error: _unreadable_folder(search, error)):
        here = Path(top)
        folders[:] = sorted(
            name for name in folders if not _hidden(name) and (here / name).resolve() not in skipped
        )
        if JOURNAL in files:  # a run's own results, which may lie among logs
            files = [name for name in files if not (name in RESULTS and _is_written_by_a_run(here / name))]
        for name in sorted(files):
            path = here / name
            if not _hidden(name) and (own_list is None or path != own_list):
                _look_at(search, path)
    ordered = sorted(search.submissions, key=lambda found: found.file)
    named, missing = _named(ordered, listed)
    return Found(
        submissions=tuple(named), left_aside=tuple(sorted(search.left_aside)), missing=tuple(missing)
    )


def shown_path(path: str) -> str:
    r"""A path as text that can be written: bytes that are no text are shown as ``\xff``.

    >>> shown_path("a\udcff.gpx")
    'a\\xff.gpx'
    """
    return path.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def _hidden(name: str) -> bool:
    return (name.startswith((".", "~$")) and name not in (".", "..")) or name in _PASSED_OVER


def _is_written_by_a_run(path: Path) -> bool:
    """Whether results are what they are called, and not a log that was put in their place."""
    try:
        with path.open("rb") as file:
            return file.read(HEAD_BYTES).lstrip().startswith(_RESULTS_BEGIN)
    except OSError:
        return False


def _unreadable_folder(search: _Search, error: OSError) -> None:
    path = Path(error.filename)
    if path == search.folder:
        raise TrackError(
            f"the folder cannot be read: {error.strerror}",
            where=Place(path=path),
            remedy="Check who may read it.",
        ) from error
    broken = f"the folder cannot be read: {error.strerror}"
    search.submissions.append(Submission(file=_relative(search, path), path=path, broken=broken))


def _relative(search: _Search, path: Path) -> str:
    return shown_path(path.relative_to(search.folder).as_posix())


def _look_at(search: _Search, path: Path) -> None:
    file, suffix = _relative(search, path), path.suffix.lower()
    if suffix == ".toml":  # a sidecar, or a procedure
        return
    if suffix == ".zip":
        _look_into(search, path, file)
    elif suffix in LOG_SUFFIXES or suffix == ".gz" or (suffix not in _DOCUMENTS and _looks_like_a_log(path)):
        pilot, remark = _sidecar_of(path)
        search.submissions.append(Submission(file=file, path=path, pilot=pilot, remark=remark))
    else:
        search.left_aside.append(file)


def _looks_like_a_log(path: Path) -> bool:
    try:
        if not path.is_file():  # to open a pipe would wait for whoever writes into it
            return False
        with path.open("rb") as file:
            return is_log(file.read(HEAD_BYTES))
    except OSError:
        return False


def _look_into(search: _Search, path: Path, file: str) -> None:
    """Every log of an archive; one that cannot be opened is a submission that cannot be read."""
    try:
        with members_of(path) as members:
            logs = _take_logs(search, path, file, members)
    except TrackError as error:
        search.submissions.append(Submission(file=file, path=path, broken=reason_of(error)))
        return
    if not logs:
        search.submissions.append(
            Submission(
                file=file, path=path, broken="there is no log in the archive. Give the logs themselves."
            )
        )


def _take_logs(search: _Search, path: Path, file: str, members: Sequence[Member]) -> int:
    """Each log among an archive's files becomes a submission; how many there are."""
    logs = 0
    taken: set[str] = set()
    sidecars = {member.name: member for member in members if member.name.endswith(".toml")}
    for member in members:
        last = member.name.rpartition("/")[2]
        parts = member.name.split("/")
        if member.name in sidecars or any(_hidden(part) for part in parts):
            continue
        suffix = Path(last).suffix.lower()
        inside = f"{file}/{shown_path(member.name)}"
        named_so = suffix in LOG_SUFFIXES or suffix in (".gz", ".zip")
        if not named_so and (suffix in _DOCUMENTS or not is_log(member.head())):
            search.left_aside.append(inside)
            continue
        logs += 1
        while inside in taken:  # an archive may hold one name twice
            inside += "'"
        taken.add(inside)
        pilot, remark = _sidecar_in(member, sidecars)
        search.submissions.append(
            Submission(file=inside, path=path, member=member.number, pilot=pilot, remark=remark)
        )
    return logs


def reason_of(error: DebriefError) -> str:
    """What an error says, without the path: the row has the file's name already."""
    where = error.where
    place = ""
    if where is not None:
        parts = [f"line {where.line}" if where.line else "", f"point {where.point}" if where.point else ""]
        parts += [f"column {where.column!r}" if where.column else "", f"key {where.key}" if where.key else ""]
        place = ", ".join(part for part in parts if part)
    head = f"{place}: " if place else ""
    return " ".join(f"{head}{error.what.rstrip('.')}. {error.remedy}".split())


def _sidecar_of(path: Path) -> tuple[str, str]:
    """The pilot that a TOML file beside the log names, and what is wrong with that file."""
    for sidecar in (path.with_name(f"{path.name}.toml"), path.with_suffix(".toml")):
        try:
            if sidecar.is_file() and sidecar.stat().st_size <= _MOST_SIDECAR_BYTES:
                return _pilot_in(sidecar.read_bytes(), shown_path(sidecar.name))
        except OSError as error:
            return "", f"{shown_path(sidecar.name)} cannot be read: {error.strerror}"
    return "", ""


def _sidecar_in(member: Member, sidecars: Mapping[str, Member]) -> tuple[str, str]:
    stem = member.name.rpartition(".")[0]
    for name in (f"{member.name}.toml", f"{stem}.toml"):
        if name in sidecars:
            return _pilot_in(sidecars[name].head(), name.rpartition("/")[2])
    return "", ""


def _pilot_in(content: bytes, name: str) -> tuple[str, str]:
    try:
        pilot = tomllib.loads(content.decode("utf-8-sig")).get("pilot", "")
    except (ValueError, RecursionError):
        return "", f"{plain(name)} is not valid TOML in UTF-8: the pilot was not read from it"
    if not isinstance(pilot, str):
        return "", f'{plain(name)}: pilot is not a text in "quotes"'
    return tidy(pilot), ""


def tidy(pilot: str) -> str:
    """A pilot's name as it is told: on one line, without what a terminal would obey, not too long."""
    return " ".join(plain(pilot).split())[:_LONGEST_PILOT]


def _names_in(folder: Path) -> Path | None:
    """The first CSV in the folder itself whose headings are those of a list of names."""
    for path in sorted(folder.glob("*.csv")):
        try:
            if not path.is_file() or (path.name in RESULTS and _is_written_by_a_run(path)):
                continue
            with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
                head = file.readline(_LONGEST_HEADINGS)
        except OSError:
            continue
        if _columns(head) is not None:
            return path
    return None


def _columns(head: str) -> tuple[str, int, int] | None:
    """Delimiter, and the columns of file and pilot, where the headings have both."""
    for delimiter in ",;\t":
        try:
            cells = next(csv.reader([head[:_LONGEST_HEADINGS]], delimiter=delimiter), [])
        except csv.Error:
            continue
        headings = [cell.strip().casefold() for cell in cells]
        if "file" in headings and "pilot" in headings:
            return delimiter, headings.index("file"), headings.index("pilot")
    return None


@dataclass(frozen=True, slots=True)
class _Listed:
    """A line of the list of names."""

    file: str  # as it was written
    pilot: str
    line: int


def _names_from(path: Path) -> dict[str, _Listed]:
    """The list by file, in small letters and with forward slashes."""
    where = Place(path=path)
    try:
        if path.stat().st_size > _MOST_NAMES_BYTES:
            raise TrackError(
                "the list of names has more than 10 MB", where=where, remedy="Give a shorter one."
            )
        text = read_ordinary(path).decode("utf-8-sig", "replace")
    except OSError as error:
        raise TrackError(
            f"the list of names cannot be read: {error.strerror}", where=where, remedy="Check its name."
        ) from error
    found = _columns(next(iter(text.splitlines()), ""))
    if found is None:
        raise TrackError(
            "the list of names has no headings file and pilot",
            where=where,
            remedy="Its first line reads file,pilot and each further line names a log and its pilot.",
        )
    delimiter, at_file, at_pilot = found
    # a file's name may hold a line's end
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    listed: dict[str, _Listed] = {}
    try:
        next(rows)
        for row in rows:
            if len(row) <= max(at_file, at_pilot) or not row[at_file].strip() or not tidy(row[at_pilot]):
                continue
            entry = _Listed(row[at_file].strip(), tidy(row[at_pilot]), rows.line_num)
            key = entry.file.replace("\\", "/").removeprefix("./").casefold()
            first = listed.setdefault(key, entry)
            if first.pilot != entry.pilot:
                raise TrackError(
                    f"the list of names has {plain(entry.file)!r} twice: of {first.pilot} in line {first.line}, "
                    f"of {entry.pilot} here",
                    where=replace(where, line=entry.line),
                    remedy="Leave out one of the two; where logs in two folders have one name, write the folder too.",
                )
    except csv.Error as error:
        raise TrackError(
            f"the list of names cannot be read from here on: {error}",
            where=replace(where, line=rows.line_num),
            remedy="Look for a quotation mark that is opened and not closed.",
        ) from error
    return listed


def _named(
    submissions: Sequence[Submission], listed: Mapping[str, _Listed]
) -> tuple[list[Submission], list[str]]:
    """Each submission with the pilot that the list has for it, and what the list has beyond them.

    It is listed by its path, its name, or its name without the ending; what is the path of one log is the name of no other.
    """
    paths = {submission.file.casefold() for submission in submissions}
    named, used = [], set()
    for submission in submissions:
        path = submission.file.casefold()
        last = path.rpartition("/")[2]
        short = (name for name in (last, last.rpartition(".")[0]) if name not in paths)
        key = next((name for name in (path, *short) if name in listed), None)
        if key is not None:
            used.add(key)
            submission = replace(submission, pilot=submission.pilot or listed[key].pilot)
        named.append(submission)
    return named, [entry.file for key, entry in listed.items() if key not in used]
