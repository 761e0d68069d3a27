"""The commands about procedures: list the bundled ones, brief one, check a file.

Owns      ``debrief procedures``, ``debrief procedures show`` and ``debrief procedures check``.
Not here  reading and checking (``procedures``), the picture (``reports.procedure_plan``), catching errors (``cli``).
"""

from __future__ import annotations

import textwrap
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from debrief.cli_options import BAD_INPUT
from debrief.cli_terminal import CAUTION, complain, say

COLUMNS = 88

app = typer.Typer()


@app.callback(
    invoke_without_command=True, epilog=CAUTION, short_help="List the bundled procedures; brief or check one."
)
def list_procedures(context: typer.Context) -> None:
    """List the bundled procedures, which are all invented; or brief one, or check a file."""
    if context.invoked_subcommand is not None:
        return
    from debrief.procedures import bundled_procedures

    rows = [
        (
            Path(procedure.file).stem,
            procedure.name,
            f"{procedure.station.kind} {procedure.station.ident}",
            _pattern(procedure.reversal.pattern, procedure.reversal.side)
            if procedure.reversal is not None
            else ("by a DME arc" if procedure.arc is not None else "straight in"),
        )
        for procedure in bundled_procedures()
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        say("  ".join(cells).rstrip())
    complain("All are invented for practice. Not for navigation.")


def _pattern(pattern: str | None, side: str | None) -> str:
    return f"{pattern} {side}"


@app.command(epilog=CAUTION, short_help="Brief a procedure in plain words.")
def show(
    procedure: Annotated[
        str,
        typer.Argument(metavar="P", help="A procedure file (.toml), or the name of a bundled procedure."),
    ],
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE.png", help="Draw its plan into this picture, too.")
    ] = None,
) -> None:
    """Brief a procedure in plain words, leg by leg."""
    from debrief.errors import OutputError, Place
    from debrief.procedures import load_procedure
    from debrief.procedures.words import describe

    if picture is not None and picture.suffix.lower() != ".png":
        raise OutputError(
            "the picture is a PNG", where=Place(path=picture), remedy="Give a name that ends in .png."
        )
    loaded = load_procedure(procedure)
    paragraphs = [textwrap.fill(paragraph, COLUMNS) for paragraph in describe(loaded).split("\n\n")]
    if picture is not None:
        from debrief.reports.procedure_plan import write_procedure_plan

        write_procedure_plan(loaded, picture)
    for line in "\n\n".join(paragraphs).splitlines():
        say(line)
    if picture is not None:
        complain(f"Written: {picture}")


@app.command(epilog=CAUTION, short_help="Check a procedure file.")
def check(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The procedure file (.toml) to check.")],
) -> None:
    """Check a procedure file: say that it is valid and what is unusual in it, or all that is wrong.

    Whether the keys contradict one another is looked at once each of them is right by itself.
    """
    from debrief.procedures import load_procedure, mistakes_in
    from debrief.procedures.remarks import remarks

    found = mistakes_in(file) if Path(file).is_file() else ()
    for mistake in found:
        complain(str(mistake))
    if found:
        raise typer.Exit(BAD_INPUT)
    procedure = load_procedure(file)
    say(f"{file}: valid. {procedure.name}")
    for remark in remarks(procedure, datetime.now(UTC).date()):
        say(f"Worth a second look: {remark}")
