"""The commands about the club's logbook.

Owns      ``debrief logbook`` and the commands under it: options, one call, lines for the terminal.
Not here  storing (``logbook``), comparing pilots (``cli_compare``), catching errors (``cli``).
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from debrief.cli_options import (
    BAD_INPUT,
    AltitudeOffset,
    AltitudeUnit,
    Columns,
    Day,
    LogFormat,
    OneProcedure,
    ProcedureFolder,
    Qnh,
    ToleranceStandard,
    columns_given,
    day_given,
)
from debrief.cli_terminal import CAUTION, complain, say, say_all, shown_as_working, stop_if_asked
from debrief.errors import DebriefError

if TYPE_CHECKING:
    from debrief.logbook import Added
    from debrief.logbook.listing import Listed

app = typer.Typer(
    epilog=CAUTION,
    help="Keep a club's flights: add logs, list them, measure them again, take them elsewhere.",
    short_help="Keep a club's flights in a logbook.",
    no_args_is_help=True,
)

Address = Annotated[
    str | None,
    typer.Option(
        "--logbook",
        metavar="ADDRESS",
        help="The logbook: a file, or postgresql://user@host/database. Your own where not given.",
    ),
]
Numbers = Annotated[
    list[int], typer.Argument(metavar="FLIGHT", help="Numbers of flights, as `list` shows them.")
]
Yes = Annotated[bool, typer.Option("--yes", help="Do not ask first.")]
Names = Annotated[bool, typer.Option("--names", help="Show real names, not aliases.")]
Pilots = Annotated[
    str | None, typer.Option(metavar="A,B", help="Only these pilots, by name or alias.", show_default=False)
]
Since = Annotated[str | None, typer.Option(metavar="YYYY-MM-DD", help="Only flights of that day and later.")]
OnlyProcedure = Annotated[
    str | None, typer.Option("--procedure", "-p", metavar="P", help="Only flights of this procedure.")
]


@app.command(epilog=CAUTION, short_help="Debrief logs and put them into the logbook.")
def add(
    tracks: Annotated[
        list[Path], typer.Argument(metavar="TRACK", readable=False, help="Logs, one flight each.")
    ],
    pilot: Annotated[str, typer.Option(metavar="NAME", help="Who flew them.")],
    procedure: OneProcedure = None,
    procedures: ProcedureFolder = None,
    standard: ToleranceStandard = "instrument-rating",
    qnh: Qnh = None,
    altitude_offset_ft: AltitudeOffset = 0.0,
    units_altitude: AltitudeUnit = None,
    column: Columns = None,
    format: LogFormat = None,
    date: Day = None,
    logbook: Address = None,
) -> None:
    """Debrief logs and put each into the logbook, its original with it. A flight that is there is not stored twice."""
    columns = columns_given(column or [])
    day = day_given(date) if date is not None else None
    from debrief.grading import load_standard
    from debrief.logbook import Reading, add_flight, measure_log, open_logbook
    from debrief.logbook.names import pilot_name
    from debrief.procedures import load_procedure, procedures_offered

    name = pilot_name(pilot)
    reading = Reading(
        columns=columns,
        date=day,
        altitude_unit=units_altitude,
        format=format,
        qnh_hpa=qnh,
        altitude_offset_ft=altitude_offset_ft,
    )
    choices = (load_procedure(procedure),) if procedure is not None else procedures_offered(procedures)
    rules = load_standard(standard)
    book = open_logbook(logbook)
    failed = False
    for number, track in enumerate(tracks, start=1):
        which = f"{number} of {len(tracks)}: " if len(tracks) > 1 else ""
        try:
            with shown_as_working(f"{which}{track.name}"):
                entry = measure_log(track, procedures=choices, standard=rules, reading=reading)
                added = add_flight(book, entry, name)
        except DebriefError as error:  # one log that cannot be used does not stop the others
            complain(str(error))
            failed = True
            continue
        say(_what_became(track, added, entry.result.procedure.name))
    if failed:
        raise typer.Exit(BAD_INPUT)


def _what_became(track: Path, added: Added, procedure: str) -> str:
    where = f"flight {added.flight} of {added.pilot}"
    if added.outcome == "already there":
        return f"{track.name}: in the logbook already, as {where}; nothing was stored twice."
    if added.outcome == "brought back":
        return f"{track.name}: was removed once; brought back as {where}."
    return f"{track.name}: {procedure}, added as {where}."


@app.command("list", epilog=CAUTION, short_help="List the flights.")
def list_flights(
    procedure: OnlyProcedure = None,
    pilots: Pilots = None,
    since: Since = None,
    removed: Annotated[bool, typer.Option("--removed", help="List what was removed, instead.")] = False,
    names: Names = False,
    logbook: Address = None,
) -> None:
    """List the flights of the logbook, the oldest first."""
    day = day_given(since, "--since") if since is not None else None
    from debrief.logbook.listing import listed

    rows = listed(
        logbook,
        pilots=names_given(pilots),
        procedure=procedure,
        since=day,
        removed=removed,
        names=names,
    )
    if not rows:
        complain("No such flight is in the logbook. `debrief logbook add TRACK --pilot NAME` puts one in.")
        return
    say_all(_lines(rows))


def names_given(pilots: str | None) -> tuple[str, ...]:
    """Pilots as they were typed, with commas between."""
    return tuple(name for part in (pilots or "").split(",") if (name := part.strip()))


def _lines(rows: Sequence[Listed]) -> list[str]:
    none = "no approach"
    pilot, procedure, grade = (
        max(map(len, texts))
        for texts in (
            {row.pilot for row in rows},
            {row.procedure for row in rows},
            {row.grade or none for row in rows},
        )
    )
    return [
        f"{row.number:5}  {row.started}  {row.pilot:{pilot}}  {row.procedure:{procedure}}  "
        f"{row.grade or none:{grade}}  {row.remark}".rstrip()
        for row in rows
    ]


@app.command(epilog=CAUTION, short_help="Show who is in the logbook.")
def pilots(names: Names = False, logbook: Address = None) -> None:
    """Show who is in the logbook, with how many flights and since when."""
    from debrief.logbook.looking import pilots as everybody
    from debrief.logbook.opening import open_logbook

    rows = everybody(open_logbook(logbook, must_exist=True))
    if not rows:
        complain("The logbook is empty. `debrief logbook add TRACK --pilot NAME` puts a flight in.")
    if not names:  # the order of names would give an alias away
        rows = tuple(sorted(rows, key=lambda row: row.shown.casefold()))
    for row in rows:
        shown = f"{row.name} (shown as {row.alias})" if names and row.alias else row.shown
        count = "1 flight" if row.flights == 1 else f"{row.flights} flights"
        days = dict.fromkeys(f"{day:%Y-%m-%d}" for day in (row.first, row.last) if day is not None)
        when = f", {' to '.join(days)}" if days else ""
        say(f"{shown}: {count}{when}")


@app.command(epilog=CAUTION, short_help="Show one flight, or take its files out.")
def show(
    number: Annotated[int, typer.Argument(metavar="FLIGHT", help="Its number, as `list` shows it.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="DIR", help="Write the original log and the result file here."),
    ] = None,
    names: Names = False,
    logbook: Address = None,
) -> None:
    """Show what was found in one flight."""
    from debrief.cli_report import summary
    from debrief.logbook import flight, open_logbook, original, stored_result
    from debrief.logbook.looking import stored_json
    from debrief.whole_files import name_of, write_whole

    book = open_logbook(logbook, must_exist=True)
    row = flight(book, number, names=names)
    removed = f" It was removed on {row.removed:%Y-%m-%d}." if row.removed is not None else ""
    say(f"Flight {row.number}, {row.pilot}, {row.started:%Y-%m-%d %H:%M} to {row.ended:%H:%M} UTC.{removed}")
    say(f"Measured by {row.program}, standard {row.standard}.")
    result = stored_result(book, number)
    for line in summary(result):
        say(line)
    for attempt in result.attempts:
        for finding in attempt.findings:
            say(f"  {attempt.number}.{finding.number} {finding.verdict}: {finding.message}")
    if out is not None:
        kept = original(book, number)
        safe = Path(kept.file).name or f"flight-{number}"
        told = f"{name_of(safe)}.json"
        if told == safe:  # a log in JSON
            told = f"{name_of(safe)}.result.json"
        files = {out / safe: kept.content, out / told: stored_json(book, number)}
        write_whole(files)
        say("  wrote " + ", ".join(str(file) for file in files))


def agreed(question: str) -> bool:
    """Ask on the terminal; no answer is a no."""
    complain(f"{question} Answer y or n:")
    answer = sys.stdin.readline() if sys.stdin is not None else ""
    return answer.strip().casefold() in ("y", "yes")


@app.command(epilog=CAUTION, short_help="Take flights out; `undo` brings them back.")
def remove(numbers: Numbers, yes: Yes = False, logbook: Address = None) -> None:
    """Take flights out of lists and comparisons. They stay stored: `debrief logbook undo` brings them back."""
    from debrief.logbook.looking import flight
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.removing import remove as take_out

    book = open_logbook(logbook, must_exist=True)
    wanted = sorted(set(numbers))
    rows = [flight(book, number) for number in wanted]
    for row in rows:
        complain(f"{row.number}  {row.started:%Y-%m-%d %H:%M}  {row.pilot}  {row.procedure}")
    if not yes and not agreed("Remove from the logbook?"):
        complain("Nothing was removed.")
        return
    take_out(book, wanted)
    count = "1 flight" if len(wanted) == 1 else f"{len(wanted)} flights"
    say(f"Removed {count}. `debrief logbook undo` brings back what was removed last.")


@app.command(epilog=CAUTION, short_help="Bring back what was removed last.")
def undo(logbook: Address = None) -> None:
    """Bring back what the latest removal took out."""
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.removing import undo as bring_back

    numbers = bring_back(open_logbook(logbook, must_exist=True))
    if not numbers:
        complain("Nothing was removed.")
        return
    flights = "flight" if len(numbers) == 1 else "flights"
    say(f"Brought back {flights} {', '.join(str(number) for number in numbers)}.")


@app.command(epilog=CAUTION, short_help="Show a pilot by an alias.")
def alias(
    pilot: Annotated[str, typer.Argument(metavar="PILOT", help="The pilot's name.")],
    shown_as: Annotated[
        str | None,
        typer.Option("--as", metavar="ALIAS", help="What to show instead; the name again without it."),
    ] = None,
    logbook: Address = None,
) -> None:
    """Show a pilot by an alias in lists and comparisons, or by name again."""
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.removing import set_alias

    set_alias(open_logbook(logbook, must_exist=True), pilot, shown_as)
    say(f"{pilot} is shown as {shown_as}." if shown_as is not None else f"{pilot} is shown by name.")


@app.command(epilog=CAUTION, short_help="Erase a pilot with all flights, for good.")
def erase(
    pilot: Annotated[str, typer.Argument(metavar="PILOT", help="The pilot's name.")],
    yes: Yes = False,
    logbook: Address = None,
) -> None:
    """Erase a pilot: name, flights, logs and results. It cannot be undone; `export --pilot NAME` first keeps a copy."""
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.removing import erase as erase_pilot

    book = open_logbook(logbook, must_exist=True)
    if not yes and not agreed(f"Erase {pilot} and every flight of that name, for good?"):
        complain("Nothing was erased.")
        return
    count = erase_pilot(book, pilot)
    say(
        f"Erased {pilot} and {count} flight{'' if count == 1 else 's'}. Backups and exports made before are not touched."
    )


@app.command("export", epilog=CAUTION, short_help="Write all of it, or a pilot, as one portable file.")
def export_flights(
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", readable=False, help="Where it goes.")],
    pilot: Annotated[str | None, typer.Option(metavar="NAME", help="Only this pilot's flights.")] = None,
    logbook: Address = None,
) -> None:
    """Write every flight with its log and result, removed ones too, as one file that `import` reads anywhere."""
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.portable import export_to

    count = export_to(open_logbook(logbook, must_exist=True), file, pilot=pilot)
    say(f"{file}: {_flights(count)} written.")


def _flights(count: int) -> str:
    return f"{count} flight{'' if count == 1 else 's'}"


@app.command("import", epilog=CAUTION, short_help="Add the flights of a portable file.")
def import_flights(
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", readable=False, help="What `export` wrote.")],
    logbook: Address = None,
) -> None:
    """Add every flight of a portable file. What is there already is not stored twice, so it may be done again."""
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.portable import import_from

    added = there = 0
    failed = False
    for outcome in import_from(open_logbook(logbook), file):
        stop_if_asked()
        added += outcome in ("added", "brought back")
        there += outcome == "already there"
        if outcome not in ("added", "brought back", "already there"):
            complain(outcome)
            failed = True
    say(f"{file}: {_flights(added)} added, {there} already there.")
    if failed:
        raise typer.Exit(BAD_INPUT)


@app.command(epilog=CAUTION, short_help="Write a copy of the logbook.")
def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", readable=False, help="Where the copy goes.")],
    logbook: Address = None,
) -> None:
    """Write a copy of the logbook as it is now, also while others write. Of a shared one: a portable file."""
    from debrief.logbook.keeping import backup as copy
    from debrief.logbook.opening import open_logbook

    copy(open_logbook(logbook, must_exist=True), file)
    say(f"{file}: written.")


@app.command(epilog=CAUTION, short_help="Check that nothing in the logbook is damaged.")
def check(logbook: Address = None) -> None:
    """Check the file itself, and that every flight has its log and result, whole and in agreement."""
    from debrief.logbook.keeping import check as faults
    from debrief.logbook.looking import flights
    from debrief.logbook.opening import open_logbook

    book = open_logbook(logbook, must_exist=True)
    found = faults(book)
    for fault in found:
        complain(f"{book.address}: {fault}.")
    if found:
        raise typer.Exit(BAD_INPUT)
    say(f"{book.address}: {_flights(len(flights(book)))}, all sound.")


@app.command(epilog=CAUTION, short_help="Measure stored flights again with this version.")
def refresh(
    everything: Annotated[
        bool, typer.Option("--all", help="Those that this very version measured, too.")
    ] = False,
    logbook: Address = None,
) -> None:
    """Measure flights again from their logs, as they were read then, against the same procedure and standard."""
    from debrief.logbook.keeping import refresh as measured_again
    from debrief.logbook.opening import open_logbook

    done = 0
    failed = False
    for flown in measured_again(open_logbook(logbook, must_exist=True), everything=everything):
        stop_if_asked()
        done += not flown.mistake
        if flown.mistake:
            complain(
                f"flight {flown.flight}, {flown.file}: {flown.mistake}; it stays as it was measured before."
            )
            failed = True
    say(f"Measured {_flights(done)} again.")
    if failed:
        raise typer.Exit(BAD_INPUT)


@app.command(epilog=CAUTION, short_help="Add new logs of a folder as they are finished.")
def watch(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", readable=False, help="Where logs are written to.")
    ],
    pilot: Annotated[str, typer.Option(metavar="NAME", help="Who flies them.")],
    procedure: OneProcedure = None,
    standard: ToleranceStandard = "instrument-rating",
    settled: Annotated[
        float,
        typer.Option(
            metavar="S", min=0.5, help="A log is finished once nobody wrote to it for so many seconds."
        ),
    ] = 10.0,
    present: Annotated[
        bool, typer.Option("--present", help="Add the logs that are there already, too.")
    ] = False,
    logbook: Address = None,
) -> None:
    """Watch a folder and add each new log once it is finished, until it is stopped (Ctrl-C)."""
    from debrief.grading import load_standard
    from debrief.logbook import add_flight, measure_log, open_logbook
    from debrief.logbook.names import pilot_name
    from debrief.logbook.watching import finished_logs
    from debrief.procedures import load_procedure, procedures_offered

    name, rules = pilot_name(pilot), load_standard(standard)
    choices = (load_procedure(procedure),) if procedure is not None else procedures_offered()
    finished = finished_logs(folder, settled_s=settled, present_too=present)
    book = open_logbook(logbook)
    complain(f"Watching {folder}. Stop with Ctrl-C.")
    for path in finished:
        try:
            entry = measure_log(path, procedures=choices, standard=rules)
            added = add_flight(book, entry, name)
        except DebriefError as error:
            complain(str(error))
            continue
        say(_what_became(path, added, entry.result.procedure.name))


roles = typer.Typer(help="Who may see what in a shared (PostgreSQL) logbook.", epilog=CAUTION)
app.add_typer(roles, name="roles", short_help="Who may see what in a shared logbook.")


@roles.callback(invoke_without_command=True)
def list_roles(context: typer.Context, logbook: Address = None) -> None:
    """List who is what: an instructor sees all, a pilot her or his own flights. The database itself holds to it."""
    if context.invoked_subcommand is not None:
        return
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.roles import members

    rows = members(open_logbook(logbook, must_exist=True))
    if not rows:
        complain("Nobody but the owner may see this logbook.")
    for row in rows:
        say(f"{row.login}: {row.role}" + (f" {row.pilot}" if row.pilot is not None else ""))


@roles.command(epilog=CAUTION, short_help="Let a login of the database in.")
def give(
    login: Annotated[str, typer.Argument(metavar="LOGIN", help="A login that the database knows.")],
    pilot: Annotated[
        str | None, typer.Option(metavar="NAME", help="The pilot it is; an instructor where not given.")
    ] = None,
    logbook: Address = None,
) -> None:
    """Let a login of the database into the logbook: as a pilot, or as an instructor who sees all."""
    from debrief.logbook.addresses import is_shared
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.roles import give_role

    # a club's logbook may begin with who may see it; a file has no roles, and none is made to say so
    book = open_logbook(logbook, must_exist=logbook is None or not is_shared(logbook))
    give_role(book, login, pilot=pilot)
    say(f"{login} is {'an instructor' if pilot is None else f'the pilot {pilot}'} now.")


@roles.command(epilog=CAUTION, short_help="Let a login in no more.")
def take(
    login: Annotated[str, typer.Argument(metavar="LOGIN", help="Its name.")], logbook: Address = None
) -> None:
    """Let a login into the logbook no more. Flights stay."""
    from debrief.logbook.opening import open_logbook
    from debrief.logbook.roles import take_role

    take_role(open_logbook(logbook, must_exist=True), login)
    say(f"{login} has no role any more.")


@app.command(epilog=CAUTION, short_help="Put an invented club of five pilots into the logbook.")
def sample(logbook: Address = None) -> None:
    """Put a sample club into the logbook: five invented pilots, forty invented flights of one approach."""
    import tempfile

    from debrief.grading import load_standard
    from debrief.logbook import add_flight, measure_log, open_logbook
    from debrief.procedures import load_procedure
    from debrief.simulation.club import PROCEDURE, club_flights
    from debrief.simulation.samples import INVENTED
    from debrief.simulation.sensor import record
    from debrief.simulation.writers import write_gpx

    book, procedure, standard = open_logbook(logbook), load_procedure(PROCEDURE), load_standard()
    count = 0
    with tempfile.TemporaryDirectory(prefix="debrief-") as folder:
        for flown in club_flights(procedure):
            path = Path(folder) / flown.file
            with shown_as_working(flown.file):
                track = record(flown.flight, flown.sensor, flown.seed)
                write_gpx(track, path, name=path.stem, description=INVENTED)
                entry = measure_log(path, procedures=[procedure], standard=standard)
                added = add_flight(book, entry, flown.pilot)
            count += added.outcome == "added"
    same = ", with the same --logbook" if logbook else ""
    say(
        f"Added {count} invented flights of {procedure.name}. Try: debrief compare --procedure {PROCEDURE}{same}"
    )
