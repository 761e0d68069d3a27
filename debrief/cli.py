"""The command line: parses, calls, prints. What a command does is the public API's work.

Owns      ``debrief report``; mounts the other commands. Results go to standard output, progress
          and mistakes to standard error. Exit status: 0 done (whatever the grade), 2 for input that cannot be used.
Not here  any geometry, format or judgement; what a terminal can show (``cli_terminal``).
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Annotated

import typer

from debrief import (
    __version__,
    cli_compare,
    cli_grade,
    cli_logbook,
    cli_plan,
    cli_procedures,
    cli_review,
    cli_serve,
    cli_standards,
)
from debrief.cli_options import (
    BAD_INPUT,
    AltitudeOffset,
    AltitudeUnit,
    Columns,
    Day,
    LogFormat,
    OneProcedure,
    Paper,
    ProcedureFolder,
    Qnh,
    ToleranceStandard,
    columns_given,
    day_given,
)
from debrief.cli_terminal import CAUTION, Stopped, complain, say, shown_as_working, stopping_on_signals
from debrief.errors import DebriefError
from debrief.threads import compute_in_one_thread

# What typer raises where the command line is wrong: its own module moved between typer's releases.
_WrongUsage: type[BaseException] = typer.BadParameter.__mro__[2]

app = typer.Typer(
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help=f"Debrief recorded instrument approaches with a course reversal.\n\n{CAUTION}",
)
app.add_typer(cli_procedures.app, name="procedures")
app.add_typer(cli_logbook.app, name="logbook")
app.add_typer(cli_serve.accounts_app, name="accounts", short_help="Keep the accounts of the page.")
app.add_typer(cli_standards.app, name="standards")


def _version(asked: bool) -> None:
    if not asked:
        return
    from importlib.metadata import version

    libraries = (
        "numpy",
        "scipy",
        "pandas",
        "lxml",
        "pyproj",
        "pygeomag",
        "matplotlib",
        "pydantic",
        "sqlalchemy",
    )
    say(f"debrief {__version__}, Python {sys.version.split()[0]}")
    say(", ".join(f"{name} {version(name)}" for name in libraries))
    raise typer.Exit


@app.callback(invoke_without_command=True)
def _options(
    context: typer.Context,
    _asked: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Versions, for a bug report.")
    ] = False,
) -> None:
    if context.invoked_subcommand is None:
        for line in context.get_help().splitlines():
            say(line)


@app.command(epilog=CAUTION, short_help="Debrief flights: a PDF, a picture and a result file for each.")
def report(
    tracks: Annotated[
        list[Path],
        typer.Argument(
            metavar="TRACK",
            readable=False,
            help="Logs, one flight each: GPX, CSV, IGC, KML or GeoJSON, or one of these packed (gzip, zip).",
        ),
    ],
    procedure: OneProcedure = None,
    procedures: ProcedureFolder = None,
    standard: ToleranceStandard = "instrument-rating",
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="DIR", readable=False, help="Where the reports go.")
    ] = Path("reports"),
    also: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KIND,...",
            help="Further files: the track by phase with findings for maps (geojson, kml, gpx), every sample as a "
            "table (csv, parquet).",
        ),
    ] = None,
    note: Annotated[
        str, typer.Option(metavar="TEXT", help="The pilot's own words, for the report.", show_default=False)
    ] = "",
    sidecar: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.toml",
            readable=False,
            help="Pilot, aircraft, what was planned, remarks; without it NAME.toml beside the track, where there is one.",
        ),
    ] = None,
    text: Annotated[
        bool,
        typer.Option("--text", help="Print the whole report in words, for a screen reader or a message."),
    ] = False,
    language: Annotated[str, typer.Option(metavar="LANG", help="The language of the report: en, de.")] = "en",
    paper: Paper = "A4",
    qnh: Qnh = None,
    altitude_offset_ft: AltitudeOffset = 0.0,
    units_altitude: AltitudeUnit = None,
    column: Columns = None,
    format: LogFormat = None,
    date: Day = None,
) -> None:
    """Debrief flights: for each TRACK write NAME.pdf, NAME.png (page one) and NAME.json.

    Without --procedure the best fitting one of the bundled procedures (and of --procedures) is taken, and the
    report says which and how well it fits.
    """
    columns = columns_given(column or [])
    day = day_given(date) if date is not None else None
    from debrief.cli_report import Request, report_one
    from debrief.pipeline import AltitudeCorrection

    request = Request.read(
        procedure=procedure,
        procedures=procedures,
        standard=standard,
        out=out,
        paper=paper,
        altitude=AltitudeCorrection(qnh_hpa=qnh, offset_ft=altitude_offset_ft),
        altitude_unit=units_altitude,
        columns=columns,
        format=format,
        date=day,
        tracks=tracks,
        also=also or (),
        note=note,
        sidecar=sidecar,
        language=language,
        text=text,
    )
    failed = False
    for number, track in enumerate(tracks, start=1):
        which = f"{number} of {len(tracks)}: " if len(tracks) > 1 else ""
        try:
            with shown_as_working(f"{which}{track.name}"):
                lines = report_one(track, request)
        except Exception as error:  # one log that cannot be used does not stop the others
            complain(_one_line(error, str(track)))
            failed = True
            continue
        for line in lines:
            say(line)
    if failed:
        raise typer.Exit(BAD_INPUT)


app.command(epilog=CAUTION, short_help="Compare pilots over their flights of one procedure.")(
    cli_compare.compare
)
app.command(epilog=CAUTION, short_help="Plan an approach: a card of headings, leads, times and limits.")(
    cli_plan.plan
)
app.command(epilog=CAUTION, short_help="Show a page in your browser: drop logs, read and replay debriefs.")(
    cli_serve.serve
)
app.command(epilog=CAUTION, short_help="Grade a folder of submissions: one table, with its evidence.")(
    cli_grade.grade
)
app.command(epilog=CAUTION, short_help="Disagree with a graded folder: overrule, with name and reason.")(
    cli_review.review
)
app.add_typer(cli_review.keys_app, name="keys", short_help="Make a key to sign results with.")
app.command(epilog=CAUTION, short_help="Sign results with your key.")(cli_review.sign)
app.command(epilog=CAUTION, short_help="Check who signed results, and what was altered since.")(
    cli_review.verify
)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with its status; every mistake is one line on standard error.

    ``arguments`` are those of the process where none are given.
    """
    compute_in_one_thread()
    _keep_libraries_quiet()
    given = sys.argv[1:] if arguments is None else arguments
    if (empty := _empty(given)) is not None:
        complain(f"{empty} is empty. Write what is meant, or leave it out: a variable in it may not be set.")
        sys.exit(BAD_INPUT)
    try:
        with stopping_on_signals():
            status = app(args=arguments, standalone_mode=False)
    except Stopped as stopped:
        complain("Stopped. No file was left half written.")
        sys.exit(stopped.status)
    except _WrongUsage as error:
        complain(_wrong_usage(error, given))
        sys.exit(BAD_INPUT)
    except Exception as error:
        complain(_one_line(error))
        sys.exit(BAD_INPUT)
    sys.exit(status if isinstance(status, int) else 0)


def _keep_libraries_quiet() -> None:
    """Libraries tell developers of deprecations and of caches they cannot write; a pilot has no use for it."""
    import logging
    import warnings

    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    if not sys.warnoptions:
        warnings.simplefilter("ignore")


#: Options whose text is said to be missing by whoever asks for it, or may well be.
_TEXTS = ("--note", "--because", "--by", "--name", "--pilot", "--set")


def _empty(arguments: Sequence[str]) -> str | None:
    """Which word of a command line is empty, in words: as a path it would be the folder one stands in."""
    for before, word in pairwise(("", *arguments)):
        option, equals, value = word.partition("=")
        if word.startswith("-") and equals and not value and option not in _TEXTS:
            return option
        if not word and not before.startswith("-"):
            return "a word of the command line"
        if not word and before not in _TEXTS:
            return before
    return None


def _wrong_usage(error: BaseException, arguments: Sequence[str]) -> str:
    context = getattr(error, "ctx", None)
    named = [word for word in arguments[:1] if not word.startswith("-")]
    command = context.command_path if context is not None else " ".join(["debrief", *named])
    said = getattr(error, "format_message", lambda: str(error))().rstrip(".")
    for library, plain in _PLAINLY:
        said = said.replace(library, plain)
    # a command that only has others under it was given alone
    if context is not None and said.startswith("Usage:"):
        said = f"{context.info_name} needs one of its commands after it"
    dashed = next((word for word in arguments if word.startswith("-") and os.path.exists(word)), None)
    if dashed is not None:
        return f"{said}. If the file {dashed!r} is meant, write ./{dashed}."
    return f"{said}. See {command} --help."


#: What the library that reads the command line says, and what a pilot understands.
_PLAINLY = (
    ("Input should be a valid integer, unable to parse string as an integer", "this is no whole number"),
    ("Input should be a valid number, unable to parse string as a number", "this is no number"),
    ("Input should be ", "it must be "),
    ("Value error, ", ""),
)


def _one_line(error: Exception, about: str = "") -> str:
    """What to tell of an error: ours says it itself; any other is a fault of ours, and its place is named."""
    if isinstance(error, DebriefError):
        return str(error)
    head = f"{about}: " if about else ""
    if isinstance(error, MemoryError):
        return f"{head}there is not enough memory for it. Close other programs, or cut the log shorter."
    if isinstance(error, OSError):
        return f"{head}the system refused: {error.strerror or error}."
    import traceback

    frames = traceback.extract_tb(error.__traceback__)
    place = next((f for f in reversed(frames) if Path(__file__).parent in Path(f.filename).parents), None)
    at = f", {Path(place.filename).name} line {place.lineno}" if place is not None else ""
    said = " ".join(str(error).split())[:200]
    return (
        f"{head}this cannot be done: {type(error).__name__}{at}: {said}. "
        "That is a fault of debrief: please report it with what debrief --version says."
    )
