"""One submission graded: what a worker does. Everything that can go wrong with a log comes back as a row.

Owns      ``Job`` and ``Settings`` (what goes to a worker), ``grade_job`` (what comes back).
Not here  which files there are (``submissions``), who does the work (``workers``), what is kept (``journal``).
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from debrief import __version__
from debrief.checkride.attempts import counted
from debrief.checkride.model import NOT_ASSESSABLE, SATISFACTORY, UNREADABLE, Row
from debrief.checkride.shape import Shape, shape_of
from debrief.checkride.signs import signs_of
from debrief.checkride.submissions import reason_of
from debrief.choice import debrief_best
from debrief.errors import DebriefError, OutputError, TrackError
from debrief.grading import Standard
from debrief.pipeline import debrief, debrief_flight
from debrief.procedures import Procedure
from debrief.result import Result
from debrief.tracks.readers import read_track
from debrief.tracks.readers.packed import unpacked_member
from debrief.tracks.readers.samples import sha256_of

if TYPE_CHECKING:
    from debrief.reports.style import Paper
    from debrief.tracks.model import Track

Reports = Literal["all", "failed", "none"]
PROGRAM = f"debrief {__version__}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What is the same for every log."""

    procedures: tuple[Procedure, ...]
    best_fit: bool  # of several; else there is one
    standard: Standard
    reports: Reports = "none"
    paper: Paper = "A4"
    out: Path = Path()
    date: dt.date | None = None  # of logs that leave open which day it was
    altitude_unit: Literal["ft", "m"] | None = None  # of every log, whatever it says
    columns: tuple[tuple[str, str], ...] = ()  # which column of a CSV holds what, of those logs that have it
    procedure_paths: tuple[str, ...] = ()  # where each was read; "" of a bundled one
    standard_path: str = ""

    @property
    def digest(self) -> str:
        """One sum over all that a grade depends on besides the log."""
        parts = [PROGRAM, self.standard.sha256, str(self.best_fit), *(p.sha256 for p in self.procedures)]
        if self.date is not None:
            parts.append(self.date.isoformat())
        if self.altitude_unit is not None:
            parts.append(f"altitude in {self.altitude_unit}")
        parts += [f"{name}={heading}" for name, heading in self.columns]
        return hashlib.sha256("\n".join(parts).encode()).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One log to be graded."""

    file: str
    path: Path
    member: int | None = None
    report: str = ""  # the report's path without its ending, relative to the folder of the results


@dataclass(frozen=True, slots=True, kw_only=True)
class Graded:
    """What came of a job."""

    row: Row
    shape: Shape | None = None  # by which copies are found; None where the log could not be read
    stop: str = ""  # why nothing more should be done: a result could not be written
    program: str = PROGRAM


def grade_job(job: Job, settings: Settings) -> Graded:
    """Read, grade and look over one log; write its report where it is asked for."""
    blank = _blank(job, settings)
    try:
        with ExitStack() as unpacked:
            path = job.path
            if job.member is not None:
                path = unpacked.enter_context(unpacked_member(job.path, job.member))
            blank = replace(blank, sha256=_sum_of(path))
            return _graded(job, settings, path, blank)
    except OutputError as error:
        return Graded(row=blank, stop=str(error))
    except DebriefError as error:
        return Graded(row=replace(blank, reason=reason_of(error)))
    except MemoryError:
        return Graded(row=replace(blank, reason="there is not enough memory for it. Cut the log shorter."))
    except OSError as error:
        return Graded(row=replace(blank, reason=f"the system refused: {error.strerror or error}."))
    except Exception as error:  # a fault of ours must not end the work on all the others
        said = " ".join(str(error).split())[:200]
        reason = f"this cannot be done: {type(error).__name__}: {said}. That is a fault of debrief: please report it."
        return Graded(row=replace(blank, reason=reason))


def grade_jobs(jobs: Sequence[Job], settings: Settings) -> list[Graded]:
    """Several at a time, so that what is the same for all travels once."""
    return [grade_job(job, settings) for job in jobs]


def lost(job: Job, settings: Settings, reason: str) -> Graded:
    """What is told of a log that nobody could grade."""
    return Graded(row=replace(_blank(job, settings), reason=reason))


def _blank(job: Job, settings: Settings) -> Row:
    standard = settings.standard
    return Row(file=job.file, standard=standard.name, standard_sha256=standard.sha256, result=UNREADABLE)


def _sum_of(path: Path) -> str:
    if not path.is_file():  # told by the reader, in its own words
        return ""
    return sha256_of(path)


def _graded(job: Job, settings: Settings, path: Path, blank: Row) -> Graded:
    track = replace(_read(path, settings), file=job.file.rpartition("/")[2])
    blank = replace(blank, pilot=track.pilot or "")
    shape = shape_of(track)
    try:
        result = _result(track, settings)
    except TrackError as error:  # read, but no flight that could be graded
        flags = signs_of(track, None, None)
        row = replace(blank, result=NOT_ASSESSABLE, reason=reason_of(error), log_quality="poor", flags=flags)
        return Graded(row=row, shape=shape)
    procedure = next(p for p in settings.procedures if p.sha256 == result.procedure.sha256)
    row = counted(result, settings.standard, blank)
    row = replace(row, flags=signs_of(track, result.flight, procedure))
    if settings.reports == "all" or (settings.reports == "failed" and row.result != SATISFACTORY):
        row = replace(row, report=_report(result, job, settings))
    return Graded(row=row, shape=shape)


def _read(path: Path, settings: Settings) -> Track:
    """A log with the columns that were named for it; one that has no such headings may need none named."""
    columns = dict(settings.columns)
    try:
        return read_track(path, columns=columns, date=settings.date, altitude_unit=settings.altitude_unit)
    except TrackError as error:
        if not columns or error.needs != "columns":
            raise
        try:
            return read_track(path, date=settings.date, altitude_unit=settings.altitude_unit)
        except TrackError:
            raise error from None


def _result(track: Track, settings: Settings) -> Result:
    if settings.best_fit:
        return debrief_best(track, settings.procedures, settings.standard, verdicts_only=True)
    return debrief(track, settings.procedures[0], settings.standard, verdicts_only=True)


def _report(result: Result, job: Job, settings: Settings) -> str:
    from debrief.reports import write_report  # matplotlib: only where a report is asked for

    assert result.flight is not None
    result = debrief_flight(result.flight, settings.standard, procedure_info=result.procedure)
    stem = settings.out / job.report
    write_report(result, stem.parent, paper=settings.paper, name=stem.name)
    return f"{job.report}.pdf"
