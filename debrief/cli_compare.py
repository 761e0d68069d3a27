"""The command that compares pilots.

Owns      ``debrief compare``: options, the way from a logbook's approaches to a comparison and its files.
Not here  statistics (``comparison``), pages (``reports``), storage (``logbook``), catching errors (``cli``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from debrief.cli_logbook import Address, Names, Pilots, Since, names_given
from debrief.cli_options import Paper, day_given
from debrief.cli_terminal import say, shown_as_working, stop_if_asked
from debrief.errors import LogbookError

if TYPE_CHECKING:
    from debrief.comparison import Flown
    from debrief.logbook import Approach


def compare(
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure", "-p", metavar="P", help="The procedure; without it the one with the most flights."
        ),
    ] = None,
    pilots: Pilots = None,
    since: Since = None,
    logbook: Address = None,
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="DIR", readable=False, help="Where the report goes.")
    ] = Path("reports"),
    paper: Paper = "A4",
    names: Names = False,
) -> None:
    """Compare pilots over their flights of one procedure: level, spread and trend, with what is beyond chance.

    Writes comparison.pdf, .png, .json and .csv, and flights.csv. Pilots who are not asked for still make up the club.
    """
    day = day_given(since, "--since") if since is not None else None
    from debrief.comparison import compare as compared
    from debrief.logbook.looking import approaches, flights, kept_procedure, shown_names
    from debrief.logbook.opening import open_logbook
    from debrief.reports.comparison_files import write_comparison
    from debrief.reports.comparison_maps import Path as Line
    from debrief.whole_files import check_folder

    check_folder(out)
    book = open_logbook(logbook, must_exist=True)
    asked = shown_names(book, names_given(pilots), names=names)
    chosen = procedure or _most_flown([row.procedure for row in flights(book)])
    found = kept_procedure(book, chosen)
    with shown_as_working(found.name):
        rows = approaches(book, procedure=chosen, since=day, names=names)
        flown = first_approaches(rows)
        if not flown:
            raise LogbookError(
                f"no approach of {found.name} is in the logbook for these days",
                remedy="Choose an earlier --since, or another --procedure.",
            )
        comparison = compared(flown, found.name, shown=asked or None)
        if not comparison.pilots:
            raise LogbookError(
                f"none of these pilots flew {found.name} on these days",
                remedy="Choose others with --pilots, or an earlier --since.",
            )
        lines = defaultdict(list)
        for row in rows:
            path = row.path()
            lines[row.pilot].append(Line(east_nm=path[:, 0], north_nm=path[:, 1]))
        stop_if_asked()  # nothing is written yet
        files = write_comparison(comparison, found, lines, out, paper=paper)
    from debrief.tracks.words import counted

    differing = sum(row.differs is not None for measure in comparison.measures for row in measure.pilots)
    say(
        f"{found.name}: {counted(len(comparison.pilots), 'pilot')}, {counted(len(flown), 'flight')}, "
        f"{counted(len(comparison.measures), 'measure')}; {differing or 'no'} "
        f"difference{'' if differing == 1 else 's'} from the club beyond chance."
    )
    say("  wrote " + ", ".join(str(file) for file in files))


def first_approaches(rows: Sequence[Approach]) -> list[Flown]:
    """The first approach of each flight, as comparisons take it."""
    from debrief.comparison import Flown

    first = {row.flight: row for row in sorted(rows, key=lambda row: -row.number)}
    return [
        Flown(
            flight=row.flight,
            pilot=row.pilot,
            time=row.started,
            measures=row.measures,
            wind_speed_kt=row.wind_speed_kt,
            items=row.items,
        )
        for row in first.values()
    ]


def _most_flown(procedures: list[str]) -> str:
    if not procedures:
        raise LogbookError(
            "the logbook is empty", remedy="`debrief logbook add TRACK --pilot NAME` puts a flight in."
        )
    return max(sorted(set(procedures)), key=procedures.count)
