"""The command line: parses, calls, prints. What a command does is the public API's work.

Owns      ``debrief report``; mounts ``debrief procedures``. Paths go to standard output, progress and remarks to
          standard error. Exit status: 0 done (whatever the grade), 2 for input that cannot be used.
Not here  any geometry, format or judgement.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from debrief import __version__, cli_procedures
from debrief.errors import DebriefError, TrackError

CAUTION = (
    "For simulator flying and training debriefs only. Not for navigation: the published procedure, local rules "
    "and a qualified instructor or examiner prevail."
)
BAD_INPUT = 2

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help=f"Debrief recorded instrument approaches with a course reversal.\n\n{CAUTION}",
)
app.add_typer(cli_procedures.app, name="procedures")


def _version(asked: bool) -> None:
    if not asked:
        return
    from importlib.metadata import version

    libraries = ("numpy", "scipy", "pandas", "lxml", "pyproj", "pygeomag", "matplotlib", "pydantic")
    typer.echo(f"debrief {__version__}, Python {sys.version.split()[0]}")
    typer.echo(", ".join(f"{name} {version(name)}" for name in libraries))
    raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Versions, for a bug report.")
    ] = False,
) -> None:
    pass


@app.command(epilog=CAUTION)
def report(
    tracks: Annotated[
        list[Path], typer.Argument(metavar="TRACK...", help="GPX or CSV logs, one flight each.")
    ],
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure", "-p", metavar="P", help="A procedure file, or a bundled procedure's name."
        ),
    ] = None,
    procedures: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="A folder of procedure files to choose from besides the bundled ones."
        ),
    ] = None,
    standard: Annotated[
        str,
        typer.Option("--standard", "-s", metavar="S", help="A bundled tolerance standard's name, or a file."),
    ] = "instrument-rating",
    out: Annotated[Path, typer.Option("--out", "-o", metavar="DIR", help="Where the reports go.")] = Path(
        "reports"
    ),
    paper: Annotated[Literal["A4", "Letter"], typer.Option(help="Paper size of the PDF.")] = "A4",
    qnh: Annotated[
        float | None,
        typer.Option(
            metavar="HPA", min=850, max=1100, help="The log holds pressure altitude: correct it to this QNH."
        ),
    ] = None,
    altitude_offset_ft: Annotated[
        float, typer.Option(metavar="FT", min=-5000, max=5000, help="Add this to every altitude of the log.")
    ] = 0.0,
    units_altitude: Annotated[
        Literal["ft", "m"] | None,
        typer.Option(help="The unit of the log's altitude, where the log misstates it."),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=HEADING",
            help="Which CSV heading (or 1-based position) holds a quantity, latitude=Y for example.",
        ),
    ] = None,
    date: Annotated[
        datetime | None,
        typer.Option(
            formats=["%Y-%m-%d"], help="The flight's date (UTC), where the log has only the time of day."
        ),
    ] = None,
) -> None:
    """Debrief flights: for each TRACK write NAME.pdf, NAME.png (page one) and NAME.json.

    Without --procedure the best fitting one of the bundled procedures (and of --procedures) is taken, and the
    report says which and how well it fits.
    """
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
        columns=_columns(column or []),
        date=date.date() if date is not None else None,
        tracks=tracks,
    )
    failed = 0
    for track in _progress(tracks):
        try:
            for line in report_one(track, request):
                typer.echo(line)
        except DebriefError as error:
            if len(tracks) == 1:
                raise
            typer.echo(str(error), err=True)
            failed += 1
    if failed:
        raise typer.Exit(BAD_INPUT)


def _columns(given: list[str]) -> dict[str, str]:
    columns = {}
    for pair in given:
        name, equals, heading = pair.partition("=")
        if not (name.strip() and equals and heading.strip()):
            raise TrackError(
                f"--column {pair!r} is not of the form NAME=HEADING",
                remedy="Write for example --column latitude=Y.",
            )
        columns[name.strip()] = heading.strip()
    return columns


def _progress(tracks: list[Path]) -> Iterator[Path]:
    """The tracks one by one, with a progress bar on a terminal where there are several."""
    if len(tracks) == 1 or not sys.stderr.isatty():
        yield from tracks
        return
    from rich.console import Console
    from rich.progress import track as bar

    yield from bar(tracks, description="Debriefing", console=Console(stderr=True), transient=True)


def main() -> None:
    """Run the command line; every error of ours is one line on standard error, and status 2."""
    try:
        app()
    except DebriefError as error:
        typer.echo(str(error), err=True)
        sys.exit(BAD_INPUT)
    except KeyboardInterrupt:
        typer.echo("Stopped.", err=True)
        sys.exit(130)
