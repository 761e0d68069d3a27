"""``debrief grade``: a folder of submissions, one table.

Owns      the command's options, its progress bar, its lines on the terminal, its exit status.
Not here  the work (``checkride``), catching errors (``cli``).
"""

from __future__ import annotations

import datetime as dt
import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from debrief.cli_options import AltitudeUnit, Columns, Paper, ToleranceStandard, columns_given, day_given
from debrief.cli_terminal import complain, say, stop_if_asked

if TYPE_CHECKING:
    from debrief.checkride.against import Change
    from debrief.checkride.folder import Progress
    from debrief.checkride.model import Row
    from debrief.checkride.task import Settings

NOT_ALL_ASSESSED = 1
AUTO = "auto"
_LISTED = 25
_NAMED = 5


def grade(
    folder: Annotated[
        Path,
        typer.Argument(metavar="FOLDER", readable=False, help="The submissions: logs, also in zip archives."),
    ],
    procedure: Annotated[
        str,
        typer.Option(
            "--procedure",
            "-p",
            metavar="P",
            help="A procedure file, or a bundled procedure's name; auto takes the best fitting for each log.",
        ),
    ] = AUTO,
    procedures: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            readable=False,
            help="With auto: a folder of procedure files to choose from besides the bundled ones.",
        ),
    ] = None,
    standard: ToleranceStandard = "instrument-rating",
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="DIR", readable=False, help="Where the results go.")
    ] = Path("graded"),
    reports: Annotated[
        Literal["all", "failed", "none"],
        typer.Option(help="Which flights get a report of their own; failed: all that are not satisfactory."),
    ] = "none",
    names: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.csv",
            readable=False,
            help="Whose flight is whose: a CSV with the headings file and pilot. One in FOLDER is found by itself.",
        ),
    ] = None,
    date: Annotated[
        str | None,
        typer.Option(
            metavar="YYYY-MM-DD",
            help="The day (UTC) of the logs that leave it open: that have only the time of day, or count from a start.",
        ),
    ] = None,
    units_altitude: AltitudeUnit = None,
    column: Columns = None,
    paper: Paper = "A4",
    workers: Annotated[
        int | None,
        typer.Option(min=1, max=256, metavar="N", help="Worker processes; one a processor by default."),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Work on the Dask cluster at this address, tcp://HOST:8786."),
    ] = None,
    against: Annotated[
        Path | None,
        typer.Option(
            metavar="OLD", readable=False, help="Say which results differ from these older ones, and why."
        ),
    ] = None,
) -> None:
    """Grade every log under FOLDER: results.csv, results.json and summary.pdf, one row a file.

    A log that cannot be read is a row with the reason. Run again, only what is new or was changed is graded. Exit
    status: 0 where every log could be assessed, 1 where some could not, 2 where the work could not be done.
    """
    from debrief.checkride.against import changes
    from debrief.checkride.folder import grade_folder
    from debrief.checkride.results import read_results
    from debrief.checkride.written import write_results
    from debrief.whole_files import check_folder

    settings = _settings(
        procedure,
        procedures,
        standard,
        out,
        reports,
        paper,
        date=day_given(date) if date is not None else None,
        altitude_unit=units_altitude,
        columns=columns_given(column or []),
    )
    check_folder(out)
    old = read_results(against) if against is not None else None
    with _progress_bar() as progress:
        run = grade_folder(
            folder, settings, names=names, workers=workers, scheduler=scheduler, progress=progress
        )
    stop_if_asked()
    written = write_results(run.results, out, paper=paper)
    for line in _told(run.results.flights):
        say(line)
    if run.kept:
        complain(f"{run.kept} of them unchanged since the last run, {run.graded} graded now.")
    for line in _beside(run.results.flights, run.missing):
        complain(line)
    if old is not None:
        for line in _changed(changes(old, run.results)):
            say(line)
    say("  wrote " + ", ".join(str(path) for path in written))
    if any(row.result in ("unreadable", "not assessable") for row in run.results.flights):
        raise typer.Exit(NOT_ALL_ASSESSED)


def _settings(
    procedure: str,
    procedures: Path | None,
    standard: str,
    out: Path,
    reports: Literal["all", "failed", "none"],
    paper: Literal["A4", "Letter"],
    *,
    date: dt.date | None,
    altitude_unit: Literal["ft", "m"] | None,
    columns: Mapping[str, str],
) -> Settings:
    from debrief.checkride.task import Settings
    from debrief.errors import ProcedureError
    from debrief.grading import load_standard
    from debrief.procedures import bundled_procedures, load_procedure, procedures_in
    from debrief.tracks.readers.csv_columns import refuse_unknown_names

    refuse_unknown_names(columns)
    best_fit = procedure == AUTO
    paths: tuple[str, ...] = ()
    if best_fit:
        own = procedures_in(procedures) if procedures is not None else ()
        offered = (*own, *bundled_procedures())
        paths = tuple(str((procedures or Path()) / p.file) for p in own)
    elif procedures is not None:
        raise ProcedureError(
            "--procedures is for --procedure auto only", remedy="Leave out one of the two options."
        )
    else:
        offered = (load_procedure(procedure),)
        paths = (_path_of(procedure),)
    return Settings(
        procedures=offered,
        best_fit=best_fit,
        standard=load_standard(standard),
        reports=reports,
        paper=paper,
        out=out,
        date=date,
        altitude_unit=altitude_unit,
        columns=tuple(sorted(columns.items())),
        procedure_paths=paths,
        standard_path=_path_of(standard),
    )


def _path_of(path_or_name: str) -> str:
    """The path of a file of the user's own; "" for the name of a bundled one."""
    return path_or_name if Path(path_or_name).is_file() else ""


@contextmanager
def _progress_bar() -> Iterator[Progress]:
    """A bar with the time left, on a terminal; elsewhere nothing."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda _done, _of: stop_if_asked()
        return
    begun: list[float] = []
    done_before: list[int] = []

    def show(done: int, of: int) -> None:
        stop_if_asked()
        if not begun:
            begun.append(time.monotonic())
            done_before.append(done)
        spent_s, fresh = time.monotonic() - begun[0], done - done_before[0]
        left = f", about {_lasting(spent_s / fresh * (of - done))} left" if fresh and done < of else ""
        filled = round(30 * done / of) if of else 30
        bar = "#" * filled + "." * (30 - filled)
        sys.stderr.write(f"\r[{bar}] {done} of {of}{left}".ljust(79))
        sys.stderr.flush()

    try:
        yield show
    finally:
        sys.stderr.write("\r" + " " * 79 + "\r")
        sys.stderr.flush()


def _lasting(seconds: float) -> str:
    """A time left, coarse enough not to jump about.

    >>> _lasting(42.0), _lasting(200.0), _lasting(9000.0)
    ('42 s', '4 min', '2 h 30 min')
    """
    if seconds < 60:
        return f"{seconds:.0f} s"
    minutes = -(-round(seconds) // 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"


def _told(rows: Sequence[Row]) -> Iterator[str]:
    counts = Counter(row.decided for row in rows)
    order = ("satisfactory", "unsatisfactory", "not assessable", "unreadable")
    said = ", ".join(f"{counts[result]} {result}" for result in order if counts[result])
    yield f"{len(rows)} {'log' if len(rows) == 1 else 'logs'}: {said}."
    noted = [row for row in rows if row.noted]
    if noted:
        yield "For the examiner to look at:"
    for row in noted[:_LISTED]:
        yield f"  {row.file}: {row.decided}. {row.noted}"
    if len(noted) > _LISTED:
        yield f"  and {len(noted) - _LISTED} more, in results.csv"


def _beside(rows: Sequence[Row], missing: Sequence[str]) -> Iterator[str]:
    """What is wrong with what lies beside the logs: pilots would be given no name, or another, in silence."""
    remarks = [f"{row.file}: {row.remark}." for row in rows if row.remark]
    yield from remarks[:_LISTED]
    if len(remarks) > _LISTED:
        yield f"and {len(remarks) - _LISTED} more, in results.json"
    if missing:
        said = ", ".join(missing[:_NAMED]) + (" ..." if len(missing) > _NAMED else "")
        files = "1 file that is" if len(missing) == 1 else f"{len(missing)} files that are"
        yield f"The list of names has {files} not among the submissions: {said}"


def _changed(told: Sequence[Change]) -> Iterator[str]:
    if not told:
        yield "No result differs from the old ones."
        return
    yield f"{len(told)} {'result differs' if len(told) == 1 else 'results differ'} from the old ones:"
    for change in told:
        yield f"  {change.file}: {change.was or 'new'}, now {change.now or 'gone'}: {change.why}"
