"""What an examiner decided otherwise: kept beside the machine's verdict, with name, time and reason, and never lost.

Owns      ``overrules.json`` (every decision, in order), finding what is meant, putting decisions onto rows, whether
          the two agree.
Not here  what they add up to (``model``), asking for them (``cli_review``).

A decision holds for one item of one log. Where log, procedure or standard is another, or the machine comes to another
verdict, it lapses: it stays in the file, and the examiner is asked again.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from debrief.checkride.model import (
    VERDICTS,
    WHOLE_RESULT,
    Item,
    Overrule,
    Row,
)
from debrief.checkride.results import of_its_types
from debrief.errors import DebriefError, Place
from debrief.whole_files import on_one_line, read_ordinary

NAME = "overrules.json"
WITHDRAW = "withdraw"
RESULTS = (*VERDICTS, WITHDRAW)
_FORMAT = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One decision; the last on an item counts."""

    file: str
    sha256: str  # of the log it was taken on
    item: str  # its name; WHOLE_RESULT for the flight's result
    attempt: int
    machine: str  # the verdict it was taken against
    procedure_sha256: str  # and by what
    standard_sha256: str
    result: str  # WITHDRAW takes an earlier one back
    by: str
    time: str
    because: str


def read_decisions(folder: Path) -> tuple[Decision, ...]:
    """Every decision kept in a folder of results, oldest first. Raises ``DebriefError`` where the file is damaged."""
    path = folder / NAME
    try:
        told = json.loads(read_ordinary(path).decode("utf-8"))
    except FileNotFoundError:
        return ()
    except (OSError, ValueError, RecursionError) as error:
        said = getattr(error, "strerror", None) or "it is not JSON"
        raise _damaged(path, f"the decisions cannot be read: {said}") from error
    try:
        names = {field.name for field in dataclasses.fields(Decision)}
        return tuple(
            of_its_types(Decision(**{key: value for key, value in entry.items() if key in names}))
            for entry in told["decisions"]
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise _damaged(path, "it holds no decisions") from error


def _damaged(path: Path, what: str) -> DebriefError:
    return DebriefError(
        what, where=Place(path=path), remedy="Put the file back from a copy, or move it away."
    )


def decisions_json(decisions: Sequence[Decision]) -> str:
    """The text of the file."""
    content: dict[str, Any] = {"format": _FORMAT, "decisions": [dataclasses.asdict(d) for d in decisions]}
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


def stand_in(rows: Sequence[Row], folder: Path) -> bool:
    """Whether the rows hold just what the decisions in a folder make of them; true, too, where none are kept there."""
    if not (folder / NAME).exists():
        return True
    return list(rows) == with_overrules(rows, read_decisions(folder))


def with_overrules(rows: Sequence[Row], decisions: Sequence[Decision]) -> list[Row]:
    """The rows with the decisions that still hold on them."""
    last: dict[tuple[str, str, int], Decision] = {}
    for decision in decisions:
        last[decision.file, decision.item, decision.attempt] = decision
    return [_decided(row, last) for row in rows]


def _decided(row: Row, last: dict[tuple[str, str, int], Decision]) -> Row:
    items = tuple(
        replace(item, overruled=_holding(last.get((row.file, item.item, item.attempt)), row, item.verdict))
        for item in row.items
    )
    whole = _holding(last.get((row.file, WHOLE_RESULT, 0)), row, row.result)
    return replace(row, items=items, overruled=whole)


def _holding(decision: Decision | None, row: Row, machine: str) -> Overrule | None:
    if decision is None or decision.result == WITHDRAW:
        return None
    taken_on = (decision.sha256, decision.procedure_sha256, decision.standard_sha256, decision.machine)
    if taken_on != (row.sha256, row.procedure_sha256, row.standard_sha256, machine):
        return None
    return Overrule(result=decision.result, by=decision.by, time=decision.time, because=decision.because)


def decide(
    rows: Sequence[Row],
    *,
    pilot: str,
    item: str,
    result: str,
    by: str,
    because: str,
    now: datetime | None = None,
) -> Decision:
    """What an examiner asks for, held against the results.

    Parameters
    ----------
    pilot : the pilot's name, or the file's, as the table has them.
    item : an item's name or its rule, with the phase where several have it; or ``result``.
    result : one of ``RESULTS``.

    Raises ``DebriefError`` where it is not clear what is meant, or name or reason is missing.
    """
    asked = " ".join(result.split()).casefold().replace("_", " ")
    if asked not in RESULTS:
        raise DebriefError(f"no verdict is called {result!r}", remedy=f"Give one of {', '.join(RESULTS)}.")
    if not by.strip() or not because.strip():
        missing = "--by NAME" if not by.strip() else '--because "..."'
        raise DebriefError(f"an overrule needs {missing}", remedy="Say who decided, and why.")
    row = _row_of(rows, pilot)
    when = (now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    if item.casefold() == WHOLE_RESULT:
        name, attempt, machine, standing = WHOLE_RESULT, 0, row.result, row.overruled
        if asked == "marginal":
            raise DebriefError(
                "a whole result is not marginal",
                remedy="Give satisfactory, unsatisfactory or not assessable.",
            )
    else:
        found = _item_of(row, item)
        name, attempt, machine, standing = found.item, found.attempt, found.verdict, found.overruled
    if asked == WITHDRAW and standing is None:
        what = "the result" if name == WHOLE_RESULT else repr(name)
        raise DebriefError(
            f"nobody overruled {what} of {row.file}, so there is nothing to take back",
            remedy="See debrief review.",
        )
    return Decision(
        file=row.file,
        sha256=row.sha256,
        item=name,
        attempt=attempt,
        machine=machine,
        procedure_sha256=row.procedure_sha256,
        standard_sha256=row.standard_sha256,
        result=asked,
        by=on_one_line(by),
        time=when,
        because=on_one_line(because),
    )


def _row_of(rows: Sequence[Row], pilot: str) -> Row:
    wanted = pilot.casefold()
    found = [row for row in rows if wanted in (row.file.casefold(), row.file.rpartition("/")[2].casefold())]
    found = found or [row for row in rows if row.pilot.casefold() == wanted]
    if len(found) == 1:
        return found[0]
    if found:
        files = ", ".join(row.file for row in found[:4])
        raise DebriefError(
            f"{len(found)} logs are of {pilot!r}: {files}", remedy="Give the file instead of the pilot."
        )
    names = {name.casefold(): name for row in rows for name in (row.pilot, row.file)}
    near = get_close_matches(wanted, names, n=1)
    hint = f"Did you mean {names[near[0]]!r}?" if near else "See the columns pilot and file of results.csv."
    raise DebriefError(f"no log is of {pilot!r}", remedy=hint)


def _item_of(row: Row, wanted: str) -> Item:
    folded = " ".join(wanted.replace("_", " ").split()).casefold()

    def names(item: Item) -> tuple[str, ...]:
        rule, phase = item.rule.replace("_", " "), (item.phase or "").replace("_", " ")
        with_attempt = f"{item.item} (attempt {item.attempt})"
        return tuple(
            n.casefold()
            for n in (item.item, with_attempt, rule, f"{rule} {phase}", f"{rule} {phase} {item.unit}")
        )

    for position in range(5):
        found = [item for item in row.items if names(item)[position] == folded]
        if len(found) == 1:
            return found[0]
        if found:
            listed = "; ".join(dict.fromkeys(f"{i.item} (attempt {i.attempt})" for i in found))
            raise DebriefError(
                f"{wanted!r} of {row.file} may be {listed}", remedy="Give the item's whole name."
            )
    known = {name: item.item for item in row.items for name in names(item)}
    near = get_close_matches(folded, known, n=1)
    hint = (
        f"Did you mean {known[near[0]]!r}?"
        if near
        else f"Its items: {'; '.join(i.item for i in row.items) or 'none'}."
    )
    raise DebriefError(f"{row.file} has no item {wanted!r}", remedy=hint)
