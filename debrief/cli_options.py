"""Options that several commands share, from what was typed to what the code takes.

Owns      which procedure and standard, how a log is to be read, days; the exit status for what cannot be used.
Not here  the commands; anything heavy: the help text must appear at once.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Literal

import typer

from debrief.errors import TrackError

BAD_INPUT = 2

OneProcedure = Annotated[
    str | None,
    typer.Option("--procedure", "-p", metavar="P", help="A procedure file, or a bundled procedure's name."),
]
ProcedureFolder = Annotated[
    Path | None,
    typer.Option(
        metavar="DIR",
        readable=False,
        help="A folder of procedure files to choose from besides the bundled ones.",
    ),
]
ToleranceStandard = Annotated[
    str,
    typer.Option("--standard", "-s", metavar="S", help="A bundled tolerance standard's name, or a file."),
]
Qnh = Annotated[
    float | None,
    typer.Option(
        metavar="HPA",
        help="The log holds pressure altitude: correct it to this QNH, 850 to 1100 hectopascals.",
    ),
]
AltitudeOffset = Annotated[
    float, typer.Option(metavar="FT", help="Add this to every altitude of the log, -5000 to 5000 feet.")
]
AltitudeUnit = Annotated[
    Literal["ft", "m"] | None,
    typer.Option(help="The unit of the log's altitude, where the log misstates it."),
]


LogFormat = Annotated[
    str | None,
    typer.Option(
        metavar="NAME",
        help="The log's format, where its content leaves a doubt: gpx, csv, igc, kml, geojson.",
    ),
]


def _paper_given(given: str) -> str:
    """A paper size, typed with small letters or capitals."""
    for paper in ("A4", "Letter"):
        if given.casefold() == paper.casefold():
            return paper
    raise typer.BadParameter(f"{given[:20]!r} is not one of 'A4', 'Letter'.")


Paper = Annotated[
    Literal["A4", "Letter"],
    typer.Option(parser=_paper_given, metavar="<A4|Letter>", help="Paper size of what is printed."),
]
Columns = Annotated[
    list[str] | None,
    typer.Option(
        metavar="NAME=HEADING",
        help="Which CSV heading (or 1-based position) holds a quantity, latitude=Y for example.",
    ),
]
Day = Annotated[
    str | None,
    typer.Option(
        metavar="YYYY-MM-DD", help="The flight's date (UTC), where the log has only the time of day."
    ),
]


def columns_given(given: Sequence[str]) -> dict[str, str]:
    """``NAME=HEADING`` pairs as a mapping; ``TrackError`` where one is of another form."""
    columns: dict[str, str] = {}
    for pair in given:
        name, equals, heading = pair.partition("=")
        if not (name.strip() and equals and heading.strip()):
            raise TrackError(
                f"--column {pair!r} is not of the form NAME=HEADING",
                remedy="Write for example --column latitude=Y.",
            )
        if columns.get(name.strip(), heading.strip()) != heading.strip():
            raise TrackError(
                f"--column {name.strip()} is given twice: {columns[name.strip()]!r} and {heading.strip()!r}",
                remedy="Leave out one of the two.",
            )
        columns[name.strip()] = heading.strip()
    return columns


def day_given(given: str, option: str = "--date") -> datetime.date:
    """A day as it was typed; ``TrackError`` where it is none."""
    try:
        return datetime.date.fromisoformat(given)
    except ValueError as error:
        raise TrackError(
            f"{option} {given!r} is not a date",
            remedy=f"Write year, month and day, for example {option} 2026-05-04.",
        ) from error
