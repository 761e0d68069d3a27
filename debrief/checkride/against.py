"""Two gradings of the same flights: which results differ, and why.

Owns      ``changes``: old results against new ones.
Not here  reading them (``results``), printing them (``cli_grade``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from debrief.checkride.model import Item, Row
from debrief.checkride.results import Results

_MOST_ITEMS = 4  # told of one flight


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One file whose result is no longer the same, or that only one of the two knows."""

    file: str
    pilot: str
    was: str | None  # ``None``: not among the old results
    now: str | None
    why: str


def changes(old: Results, new: Results) -> tuple[Change, ...]:
    """Every file whose result differs, in the order of the new table, then those that are gone.

    The machine's results are compared, not what an examiner made of them.
    """
    before = {row.file: row for row in old.flights}
    moved = {row.sha256: row for row in old.flights if row.sha256}
    told = []
    matched: set[str] = set()
    for row in new.flights:
        was = before.get(row.file) or (moved.get(row.sha256) if row.sha256 else None)
        if was is None:
            told.append(_change(row, None, row.result, "it was not among the old results"))
            continue
        matched.add(was.file)
        if was.result != row.result:
            told.append(_change(row, was.result, row.result, "; ".join(_why(old, new, was, row))))
    told += [
        _change(row, row.result, None, "it is no longer in the folder")
        for row in old.flights
        if row.file not in matched
    ]
    return tuple(told)


def _change(row: Row, was: str | None, now: str | None, why: str) -> Change:
    return Change(file=row.file, pilot=row.pilot, was=was, now=now, why=why)


def _why(old: Results, new: Results, was: Row, now: Row) -> Iterator[str]:
    if was.sha256 != now.sha256:
        yield "the log was changed"
    if was.procedure_sha256 != now.procedure_sha256:
        yield (
            f"another procedure ({was.procedure or 'none'}, now {now.procedure or 'none'})"
            if (was.procedure != now.procedure)
            else "the procedure was changed"
        )
    if was.standard_sha256 != now.standard_sha256:
        yield (
            f"another standard ({was.standard}, now {now.standard})"
            if (was.standard != now.standard)
            else "the standard was changed"
        )
    if old.program != new.program:
        yield f"another version ({old.program}, now {new.program})"
    if was.attempt != now.attempt:
        yield f"attempt {now.attempt or 'none'} counts, before {was.attempt or 'none'}"
    differing = list(_items(was, now))
    yield from differing[:_MOST_ITEMS]
    if len(differing) > _MOST_ITEMS:
        yield f"and {len(differing) - _MOST_ITEMS} items more"
    if not differing and now.reason:
        yield now.reason.rstrip(".")


def _items(was: Row, now: Row) -> Iterator[str]:
    before = {_key(item): item for item in was.items}
    for item in now.items:
        old = before.pop(_key(item), None)
        if old is None:
            if item.verdict != "satisfactory":
                yield f"{item.item} is new: {item.verdict}"
        elif old.verdict != item.verdict:
            yield f"{item.item}: {old.verdict} ({_of_limit(old)}), now {item.verdict} ({_of_limit(item)})"
        elif old.required != item.required and item.verdict != "satisfactory":
            yield f"{item.item}: {item.verdict}, {'required now' if item.required else 'now advisory only'}"
    yield from (
        f"{item.item} is no longer asked" for item in before.values() if item.verdict != "satisfactory"
    )


def _key(item: Item) -> tuple[str, str | None, str | None]:
    return item.rule, item.phase, item.unit


def _of_limit(item: Item) -> str:
    value, limit = figures_of(item)
    return f"{value or 'no value'} against {limit}" if limit else value or "no value"


def figures_of(item: Item) -> tuple[str, str]:
    """The value of an item and its limit, as a report tells them; ``""`` for what there is none of."""
    from debrief.reports.words import sided_limit, sided_quantity  # heavy: only where something is told

    return (
        "" if item.value is None else sided_quantity(item.rule, item.unit, item.value),
        "" if item.limit is None else sided_limit(item.rule, item.unit, item.limit),
    )
