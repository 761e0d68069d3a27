"""The examiner's commands: review, keys, sign, verify.

Owns      their options, the questions that ``review`` asks, their lines and exit statuses.
Not here  decisions, keys and signatures themselves (``checkride``), catching errors (``cli``).
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from debrief.cli_terminal import CAUTION, complain, say

if TYPE_CHECKING:
    from debrief.checkride.model import Item, Row
    from debrief.checkride.overrules import Decision
    from debrief.checkride.results import Results
    from debrief.checkride.signatures import Checked

ALTERED = 1
_RESULTS = typer.Argument(
    metavar="RESULTS", readable=False, help="The folder of the results, or the results.json in it."
)

keys_app = typer.Typer(no_args_is_help=True, help=f"Keys for signing results.\n\n{CAUTION}")


def review(
    results: Annotated[Path, _RESULTS],
    set_: Annotated[
        tuple[str, str, str] | None,
        typer.Option(
            "--set",
            metavar="PILOT ITEM RESULT",
            help="Overrule one item (or result, for the whole flight) without being asked. RESULT: satisfactory, "
            "marginal, unsatisfactory, not assessable, or withdraw.",
        ),
    ] = None,
    because: Annotated[str, typer.Option(metavar="TEXT", help="The reason, with --set.")] = "",
    by: Annotated[str, typer.Option(metavar="NAME", help="Who decides.")] = "",
) -> None:
    """Disagree with the machine: its verdict is kept beside yours, with your name, the time and the reason.

    Without --set the flights that an examiner should look at are listed, and each decision is asked for and kept at
    once.
    """
    from debrief.checkride.overrules import decide
    from debrief.checkride.results import read_results

    folder = results if results.is_dir() else results.parent
    found = read_results(results)
    if set_ is not None:
        pilot, item, verdict = set_
        decision = decide(found.flights, pilot=pilot, item=item, result=verdict, by=by, because=because)
        found = _kept(found, folder, decision)
        say(_decision_words(decision))
        row = next(row for row in found.flights if row.file == decision.file)
        say(f"{row.file}: the machine says {row.result}, after the review {row.decided}.")
        return
    _asked(found, folder, by)


def _kept(results: Results, folder: Path, decision: Decision) -> Results:
    """Write a decision and all that follows from it, before anything else is done."""
    from dataclasses import replace

    from debrief.checkride.overrules import read_decisions, with_overrules
    from debrief.checkride.written import write_results

    decisions = (*read_decisions(folder), decision)
    after = replace(results, flights=tuple(with_overrules(results.flights, decisions)))
    write_results(after, folder, decisions=decisions)
    return after


def _decision_words(decision: Decision) -> str:
    what = "the result" if decision.item == "result" else decision.item
    if decision.result == "withdraw":
        return f"{decision.file}, {what}: {decision.by} takes the overrule back; the machine's {decision.machine} stands."
    return f"{decision.file}, {what}: {decision.machine}, overruled as {decision.result} by {decision.by}."


def _asked(results: Results, folder: Path, by: str) -> None:
    """List, ask, keep, again, until the examiner has had enough."""
    noted = [
        row for row in results.flights if row.noted or row.overruled or any(i.overruled for i in row.items)
    ]
    if not sys.stdin.isatty():
        for line in _listed(noted or list(results.flights)):
            say(line)
        complain('To decide from a script: --set PILOT ITEM RESULT --because "..." --by NAME')
        return
    rows = list(results.flights)
    while True:
        for line in _listed(rows):
            say(line)
        chosen = _number("Which flight (its number, or nothing to end)", len(rows))
        if chosen is None:
            return
        by = by or str(typer.prompt("Your name")).strip()
        results = _one_flight(results, folder, rows[chosen - 1], by)
        rows = list(results.flights)


def _listed(rows: Sequence[Row]) -> Iterator[str]:
    for number, row in enumerate(rows, start=1):
        decided = (
            row.decided if row.decided == row.result else f"{row.result}, after the review {row.decided}"
        )
        noted = f" ({row.noted})" if row.noted else ""
        yield f"{number:4}  {row.pilot}, {row.file}: {decided}{noted}"


def _number(question: str, most: int) -> int | None:
    while True:
        said = str(typer.prompt(question, default="", show_default=False)).strip()
        if not said:
            return None
        if said.isdecimal() and 1 <= int(said) <= most:
            return int(said)
        complain(f"Give a number from 1 to {most}.")


def _one_flight(results: Results, folder: Path, row: Row, by: str) -> Results:
    from debrief.checkride.overrules import RESULTS, decide

    while True:
        for line in _flight_lines(row):
            say(line)
        chosen = _number("Which item (its number, or nothing to go back)", len(row.items) + 1)
        if chosen is None:
            return results
        item = "result" if chosen > len(row.items) else row.items[chosen - 1]
        verdict = str(typer.prompt(f"Your verdict ({', '.join(RESULTS)})")).strip()
        while verdict.casefold() not in RESULTS:
            complain(f"Give one of {', '.join(RESULTS)}.")
            verdict = str(typer.prompt("Your verdict")).strip()
        because = str(typer.prompt("Because")).strip()
        name = item if isinstance(item, str) else f"{item.item} (attempt {item.attempt})"
        try:
            decision = decide(
                results.flights, pilot=row.file, item=name, result=verdict, by=by, because=because
            )
        except Exception as error:  # told, and asked again: nothing else is lost
            complain(str(error))
            continue
        results = _kept(results, folder, decision)
        row = next(entry for entry in results.flights if entry.file == row.file)
        say(_decision_words(decision))


def _flight_lines(row: Row) -> Iterator[str]:
    yield f"{row.pilot}, {row.file}: {row.decided}. {row.reason}"
    for flag in row.flags:
        other = f" ({flag.other})" if flag.other else ""
        yield f"      {flag.sign}{other}, strength {flag.strength:.2f}: {flag.evidence}"
    for number, item in enumerate(row.items, start=1):
        yield f"{number:4}  {_item_words(item)}"
    yield f"{len(row.items) + 1:4}  the whole result"


def _item_words(item: Item) -> str:
    from debrief.checkride.against import figures_of
    from debrief.checkride.model import NOT_ASSESSABLE, SATISFACTORY

    value, limit = figures_of(item)
    against = f" against {limit}" if limit else ""
    over = item.overruled
    said = f"; overruled as {over.result} by {over.by}: {over.because}" if over is not None else ""
    advisory = "" if item.required else ", advisory"
    numberless = item.value is None and item.verdict != SATISFACTORY
    why = f" ({item.reason})" if item.reason and (numberless or item.verdict == NOT_ASSESSABLE) else ""
    return f"{item.item}: {item.verdict}{why} {value}{against}{advisory}{said}".replace("  ", " ").strip()


@keys_app.command(epilog=CAUTION, short_help="Make a key to sign results with.")
def new(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", readable=False, help="Where the private key goes; FILE.pub beside it."
        ),
    ],
    name: Annotated[str, typer.Option(metavar="NAME", help="Whose key it is, as signatures will say.")],
) -> None:
    """Make an Ed25519 key: FILE holds the private key, readable by you only; FILE.pub is for everybody."""
    from debrief.checkride.keys import new_key

    public = new_key(file, name)
    say(f"{file}: the private key of {public.name}. Keep it to yourself.")
    say(f"{file}.pub: the public key, {public.fingerprint}. Give it to whoever is to check your signatures.")


def sign(
    results: Annotated[Path, _RESULTS],
    key: Annotated[
        Path, typer.Option(metavar="FILE", readable=False, help="Your private key, of debrief keys new.")
    ],
) -> None:
    """Sign results: from then on it can be told who stands for them, and what was altered since."""
    from debrief.checkride import signatures
    from debrief.checkride.overrules import read_decisions
    from debrief.checkride.results import PDF_NAME, read_results
    from debrief.checkride.written import summary_to_sign
    from debrief.whole_files import write_whole

    folder = results if results.is_dir() else results.parent
    found = read_results(results)
    read_decisions(folder)  # damaged, it is told before anybody stands for what it should say
    summary, stands = summary_to_sign(found, folder)
    entry = signatures.sign(found, key, summary=summary)
    earlier = signatures.read_signatures(folder)
    path = folder / signatures.NAME
    contents = {path: signatures.signatures_json([*earlier, entry]).encode("utf-8")}
    if not stands:
        contents[folder / PDF_NAME] = summary
    write_whole(contents)
    say(f"Signed by {entry['statement']['by']} on {entry['statement']['time']}: {path}")
    if not stands:
        say(f"{PDF_NAME} was made anew of the results, and is signed with them.")


def verify(
    results: Annotated[Path, _RESULTS],
    key: Annotated[
        Path | None,
        typer.Option(metavar="FILE.pub", readable=False, help="The public key that must have signed."),
    ] = None,
    folder: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", readable=False, help="Where the submissions lie now, if they were moved."
        ),
    ] = None,
) -> None:
    """Say who signed results, and whether log, procedure, standard, result, overrule or summary was altered since.

    Exit status: 0 where a signature holds, 1 where something was altered or a signature is false, 2 where there is none.
    """
    from dataclasses import replace

    from debrief.checkride import overrules, signatures
    from debrief.checkride.keys import read_public
    from debrief.checkride.present import present_now
    from debrief.checkride.results import CSV_NAME, JSON_NAME, read_results, told_otherwise
    from debrief.checkride.written import summary_sum, table_agrees
    from debrief.errors import DebriefError, Place

    place = results if results.is_dir() else results.parent
    found = read_results(results)
    entries = signatures.read_signatures(place)
    wanted = read_public(key) if key is not None else None
    if wanted is not None:
        entries = [entry for entry in entries if signatures.same_key(entry, wanted)]
    if not entries:
        whose = f"by {wanted.name}" if wanted is not None else "at all"
        raise DebriefError(
            f"the results are not signed {whose}",
            where=Place(path=place),
            remedy="Sign them with debrief sign.",
        )
    present = replace(present_now(found, folder), summary=summary_sum(place))
    checked = [signatures.check(entry, found, present) for entry in entries]
    for one in checked:
        for line in _checked_lines(one, known=wanted is not None):
            say(line)
    for what in dict.fromkeys(what for one in checked for what in one.unseen):
        complain(f"Not looked at: {what}.")
    otherwise = told_otherwise(results, found)
    if otherwise:
        more = f" and {len(otherwise) - 1} more" if len(otherwise) > 1 else ""
        say(
            f"{JSON_NAME} was altered: what it says was decided of {otherwise[0]}{more} is not what the items there "
            "come to, and no signature stands for it."
        )
    table_stands = table_agrees(found, place)
    if not table_stands:
        say(f"{CSV_NAME} was altered: it does not say what the results say, and no signature stands for it.")
    decisions_stand = overrules.stand_in(found.flights, place)
    if not decisions_stand:
        say(
            f"{overrules.NAME} was altered: the results do not hold what it says, and no signature stands for it."
        )
    if not (table_stands and decisions_stand and not otherwise and all(one.holds for one in checked)):
        raise typer.Exit(ALTERED)


def _checked_lines(one: Checked, *, known: bool) -> Iterator[str]:
    if not one.valid:
        yield f"FALSE: a signature that claims to be by {one.by} is not of that key, or was altered itself."
        return
    whose = "" if known else f" (key {one.key}: ask {one.by} whether it is theirs)"
    if one.holds:
        yield f"Signed by {one.by} on {one.time}{whose}: nothing was altered since."
        return
    yield f"Signed by {one.by} on {one.time}{whose}. Altered since:"
    yield from (f"  {what}" for what in one.altered)
