"""The commands about standards: list the bundled ones, show one with its sources, check a file, start one's own.

Owns      ``debrief standards`` and its commands.
Not here  reading and checking (``grading``), catching errors (``cli``).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from debrief.cli_terminal import CAUTION, complain, say

if TYPE_CHECKING:
    from debrief.grading import Standard
    from debrief.grading.standard import Tolerance

app = typer.Typer()


@app.callback(
    invoke_without_command=True,
    epilog=CAUTION,
    short_help="List the bundled tolerance standards; show or check one, or start your own.",
)
def list_standards(context: typer.Context) -> None:
    """List the bundled tolerance standards; or show or check one, or start one's own."""
    if context.invoked_subcommand is not None:
        return
    from debrief.grading import bundled_standards

    found = bundled_standards()
    width = max(map(len, found))
    for name, standard in found.items():
        say(f"{name.ljust(width)}  {standard.name}, after {standard.source}")


@app.command(epilog=CAUTION, short_help="Show each tolerance of a standard with its source.")
def show(
    standard: Annotated[
        str, typer.Argument(metavar="S", help="A standard's file (.toml), or the name of a bundled one.")
    ],
) -> None:
    """Show what a standard asks for: each tolerance with its source, what it adds up to, what a log must show."""
    from debrief.grading import load_standard

    for line in _shown(load_standard(standard)):
        say(line)


@app.command(epilog=CAUTION, short_help="Check a standard's file.")
def check(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The standard's file (.toml) to check.")],
) -> None:
    """Check a standard's file: say that it is valid and what is unusual in it, or what is wrong."""
    from debrief.grading import load_standard
    from debrief.grading.remarks import remarks

    standard = load_standard(file)
    say(f"{file}: valid. {standard.name}, {len(standard.rule)} rules")
    for remark in remarks(standard):
        say(f"Worth a second look: {remark}")


@app.command(epilog=CAUTION, short_help="Start a standard of one's own from another.")
def new(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", readable=False, help="The file (.toml) to write; it must not be there yet."
        ),
    ],
    from_: Annotated[
        str,
        typer.Option("--from", metavar="S", help="A bundled standard's name, or a file: what to start from."),
    ],
    name: Annotated[str, typer.Option(metavar="NAME", help="What the new standard is called.")] = "",
) -> None:
    """Start a standard of one's own: a copy of another, under a name of its own, with its comments, to be changed."""
    from debrief.grading.starting import start_from

    start_from(from_, file, name=name)
    say(f"{file}: written, from {from_}. Change it, then: debrief standards check {file}")
    complain("Where you change a limit, change its source too: it says whose figure it is.")


def _shown(standard: Standard) -> Iterator[str]:
    yield f"{standard.name}, after {standard.source}"
    yield ""
    rows = [_row(tolerance) for tolerance in standard.rule]
    widths = [max(len(row[column]) for row in rows) for column in range(3)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row[:3], widths, strict=True))
        yield f"{'  '.join(cells)}  {row[3]}"
    yield ""
    adding = standard.adding
    if standard.pass_share is not None:
        yield f"Adds up by weights: {100 * standard.pass_share:.0f} % of the required items' weights must be earned."
    else:
        yield "Adds up: every required item must pass."
    source = f" {adding.source}" if adding is not None else ""
    which = {"all": "all attempts count, and the weakest decides"}.get(
        standard.counting_attempt, f"the {standard.counting_attempt} attempt counts"
    )
    yield f"Of several attempts in a log, {which}.{source}"
    brief = standard.excursion
    if brief is None:
        yield "A brief excursion counts in full."
    else:
        yield (
            f"A brief excursion counts as marginal ({', '.join(brief.rules)}): up to {brief.seconds:g} s and "
            f"{brief.depth:g} of the step called serious, {brief.times} at most; worth {100 * brief.worth:.0f} % by "
            f"weights. {brief.source}"
        )
    asked = standard.assessable
    yield (
        f"Not assessable: a phase of which less than {100 * asked.observed_share:.0f} % was recorded, positions more than "
        f"{asked.longest_interval_s:g} s apart, altitudes uncertain by more than {asked.altitude_uncertainty_ft:g} ft. "
        f"{asked.source}"
    )


def _row(tolerance: Tolerance) -> tuple[str, str, str, str]:
    phases = ", ".join(tolerance.phases).replace("_", " ")
    of = f" ({phases})" if phases else ""
    kind = "required" if tolerance.required else "advisory"
    return (
        f"{tolerance.rule.replace('_', ' ')}{of}",
        _limit(tolerance),
        f"{kind}, weight {tolerance.weight:g}",
        str(tolerance.source),
    )


def _limit(tolerance: Tolerance) -> str:
    from debrief.grading.standard import LIMIT_KEYS

    unit = tolerance.unit or ""
    said = []
    for key in LIMIT_KEYS:
        value = getattr(tolerance, key)
        if value is None:
            continue
        if key in ("below", "above"):
            said.append(f"{f'{value:g} {unit}' if value else 'nothing'} {key} what is published")
        elif key == "full_scale_fraction":
            said.append(f"{value:g} of full scale, {tolerance.limit_deg:g} deg")
        else:
            said.append(f"{key.replace('_', ' ')} {value:g} {unit}".rstrip())
    held = f" for {tolerance.held_s:g} s" if tolerance.held_s else ""
    return (", ".join(said) + held) if said else "as published"
