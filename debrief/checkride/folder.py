"""A whole folder graded: from submissions to results, picking up where an earlier run was stopped.

Owns      ``grade_folder``: which logs are still to be done, the order of the table, names of reports.
Not here  the work on one log (``task``), who does it (``workers``), the files written (``results``, ``summary``).
"""

from __future__ import annotations

import hashlib
import os
import re
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import zip_longest
from pathlib import Path

from debrief.checkride import journal
from debrief.checkride.copies import copies_among
from debrief.checkride.journal import Entry
from debrief.checkride.model import SATISFACTORY, Row
from debrief.checkride.overrules import read_decisions, with_overrules
from debrief.checkride.results import RESULTS, Results
from debrief.checkride.submissions import Submission, find_submissions, tidy
from debrief.checkride.task import PROGRAM, Graded, Job, Settings, lost
from debrief.checkride.workers import graded
from debrief.errors import OutputError, Place, TrackError
from debrief.tracks.readers.samples import sha256_of
from debrief.tracks.words import counted
from debrief.whole_files import name_of

REPORTS = "reports"
_LONGEST_NAME = 100
_ODD = re.compile(r"[^\w .,()+=@~-]")

#: Told how many logs are done, and of how many.
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What a run did."""

    results: Results
    graded: int  # anew
    kept: int  # from an earlier run, unchanged since
    missing: tuple[str, ...] = ()  # what the list of names has and the folder has not


def grade_folder(
    folder: Path,
    settings: Settings,
    *,
    names: Path | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: Progress = lambda _done, _of: None,
) -> Run:
    """Grade every log under ``folder``; what an earlier run into ``settings.out`` did and still holds is kept.

    Raises
    ------
    DebriefError
        Where the folder cannot be read, holds no log, or the results' folder cannot be written, or the results would
        take the place of a submission. What was graded until then is kept for the next run.
    """
    found = find_submissions(folder, names=names, without=[settings.out])
    submissions = found.submissions
    if not submissions:
        aside = f": {counted(len(found.left_aside), 'file')} in it, none a log" if found.left_aside else ""
        raise TrackError(
            f"{folder}: there is no log in it{aside}", remedy="Give the folder of the submissions."
        )
    _refuse_to_replace(submissions, settings.out)
    reports = _report_names(submissions)
    with journal.opened(settings.out) as kept:
        archives = {s.path: _sum_of(s.path) for s in submissions if s.member is not None}
        sources = {s.file: archives[s.path] for s in submissions if s.member is not None}
        for submission in submissions:
            if submission.file in kept.entries and submission.file not in sources:
                sources[submission.file] = _sum_of(submission.path)
        wanted = [s for s in submissions if not s.broken]
        jobs = [
            Job(file=s.file, path=s.path, member=s.member, report=reports[s.file])
            for s in wanted
            if not _still_holds(kept.entries.get(s.file), sources.get(s.file, ""), settings)
        ]
        progress(len(wanted) - len(jobs), len(wanted))
        for number, outcome in enumerate(
            graded(jobs, settings, workers=workers, scheduler=scheduler), start=1
        ):
            if outcome.stop:
                raise OutputError(outcome.stop)
            _take_away_report(settings.out, kept.entries.get(outcome.row.file), outcome.row)
            kept.add(_entry(outcome, sources, settings))
            progress(len(wanted) - len(jobs) + number, len(wanted))
        kept.tidy([s.file for s in wanted])
        entries = [kept.entries[s.file] if not s.broken else _broken(s, settings) for s in submissions]
    rows = [_with_pilot(entry.row, s) for entry, s in zip(entries, submissions, strict=True)]
    rows = copies_among(rows, [entry.shape for entry in entries])
    rows = with_overrules(rows, read_decisions(settings.out))
    results = Results(
        program=PROGRAM,
        flights=tuple(rows),
        folder=str(folder),
        procedures=tuple(
            {"name": p.name, "file": p.file, "sha256": p.sha256, "path": path}
            for p, path in zip_longest(settings.procedures, settings.procedure_paths, fillvalue="")
            if not isinstance(p, str)
        ),
        standard={
            "name": settings.standard.name,
            "file": settings.standard.file,
            "sha256": settings.standard.sha256,
            "path": settings.standard_path,
        },
        left_aside=found.left_aside,
        date=settings.date.isoformat() if settings.date is not None else "",
        altitude_unit=settings.altitude_unit or "",
        columns=dict(settings.columns),
    )
    return Run(results=results, graded=len(jobs), kept=len(wanted) - len(jobs), missing=found.missing)


def _refuse_to_replace(submissions: Sequence[Submission], out: Path) -> None:
    """A submission may be called results.csv, and lie where the results are to go."""
    written = {os.path.realpath(out / name) for name in RESULTS}
    for submission in submissions:
        if os.path.realpath(submission.path) in written:  # a link that leads to itself is no error here
            raise OutputError(
                "this is a submission, and the results would take its place",
                where=Place(path=submission.path),
                remedy="Choose another folder with --out.",
            )


def _sum_of(path: Path) -> str:
    try:
        return sha256_of(path) if path.is_file() else ""  # a pipe or a device has no end
    except OSError:
        return ""


def _still_holds(entry: Entry | None, source_sha256: str, settings: Settings) -> bool:
    """Whether what was graded is unchanged, and its report there if one is asked for."""
    if entry is None or entry.settings != settings.digest or entry.source_sha256 != source_sha256:
        return False
    # who may read it can change without its content
    if entry.row.result == "unreadable" and not source_sha256:
        return False
    row = entry.row
    asked = settings.reports == "all" or (settings.reports == "failed" and row.result != SATISFACTORY)
    if not asked or (row.attempt is None and row.report is None and row.result == "unreadable"):
        return True
    return row.report is not None and entry.report == settings.paper and (settings.out / row.report).is_file()


def _entry(outcome: Graded, sources: dict[str, str], settings: Settings) -> Entry:
    row = outcome.row
    return Entry(
        settings=settings.digest,
        source_sha256=sources.get(row.file, row.sha256),
        report=settings.paper if row.report is not None else "",
        row=row,
        shape=outcome.shape,
    )


def _take_away_report(out: Path, before: Entry | None, row: Row) -> None:
    """Remove the report of an earlier grade where this one has none: beside the new table it would be taken for its own."""
    report = before.row.report if before is not None else None
    if report is None or row.report is not None:
        return
    from debrief.reports.files import SUFFIXES

    parts = report.split("/")
    if parts[0] == REPORTS and ".." not in parts:  # as it was written here
        for suffix in SUFFIXES:
            with suppress(OSError):  # somebody else's by now; the table is right all the same
                (out / report).with_suffix(suffix).unlink()


def _broken(submission: Submission, settings: Settings) -> Entry:
    job = Job(file=submission.file, path=submission.path)
    row = lost(job, settings, submission.broken).row
    return Entry(settings=settings.digest, source_sha256="", report="", row=row, shape=None)


def _with_pilot(row: Row, submission: Submission) -> Row:
    """Whose flight it is: by a sidecar or list, else as the log says, else by the file's name."""
    pilot = submission.pilot or row.pilot or name_of(submission.file.removesuffix(".gz"))
    return replace(row, pilot=tidy(pilot), remark=submission.remark)


def _report_names(submissions: Sequence[Submission]) -> dict[str, str]:
    """A path for each report, without its ending: like the log's, but such that every system can have it.

    Where two would be the same, or differ by capital letters alone, each gets a piece of its name's sum.
    """
    plain = {s.file: "/".join(_safe(part) for part in _parts(s.file)) for s in submissions}
    counts = Counter(path.casefold() for path in plain.values())
    return {
        file: f"{REPORTS}/{path}" + (f"-{_piece(file)}" if counts[path.casefold()] > 1 else "")
        for file, path in plain.items()
    }


def _parts(file: str) -> list[str]:
    *folders, last = file.split("/")
    return [*(folder for folder in folders if folder not in ("", ".", "..")), name_of(last)]


def _safe(part: str) -> str:
    safe = _ODD.sub("_", part).strip(" .") or "_"
    return safe if safe == part and len(safe) <= _LONGEST_NAME else f"{safe[:_LONGEST_NAME]}-{_piece(part)}"


def _piece(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]
