"""What is wrong with a procedure file's keys and values, in one clear line.

Owns      the words: which key, the value given, what is allowed, the nearest name for a misspelt one.
Not here  reading the file (``toml_reader``), deciding what is wrong (``model``, ``checks``).
"""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import TYPE_CHECKING

from debrief.errors import Place, ProcedureError
from debrief.procedures.checks import KEYS_OF_PHASE
from debrief.procedures.model import AltitudeLimit, Extent, Leg, Procedure, Runway, Station, StepDown

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from pydantic import BaseModel, ValidationError
    from pydantic_core import ErrorDetails

FILLED_BY_READER = ("file", "sha256")
LONGEST_SHOWN = 40  # characters of a wrong value that are repeated in an error

_TABLES: dict[str, type[BaseModel]] = {
    "station": Station,
    "runway": Runway,
    "leg": Leg,
    "altitude": AltitudeLimit,
    "length": Extent,
    "missed_approach_point": Extent,
    "step_down": StepDown,
}

Location = tuple[str | int, ...]


def first_mistake(path: Path, data: dict[str, object], error: ValidationError) -> ProcedureError:
    """The first mistake in words; a misspelt key before the key that is missing because of it."""
    details = error.errors(include_url=False)
    first = next((d for d in details if d["type"] == "extra_forbidden"), details[0])
    location: Location = tuple(first["loc"])
    more = len(details) - 1
    if first["type"] == "extra_forbidden":
        mistake = unknown_key(path, location, data)
        nearest = _nearest_key(location, data)
        more -= sum(d["type"] == "missing" and d["loc"] == (*location[:-1], nearest) for d in details)
    elif first["type"] == "procedure":
        ctx = first["ctx"]
        mistake = ProcedureError(
            ctx["what"], where=_place(path, (*location, *ctx["where"]), data), remedy=ctx["remedy"]
        )
    else:
        what, remedy = _words(first, data)
        mistake = ProcedureError(what, where=_place(path, location, data), remedy=remedy)
    if more < 1:
        return mistake
    others = f"({more} more {'mistake' if more == 1 else 'mistakes'} in this file.)"
    return ProcedureError(mistake.what, where=mistake.where, remedy=f"{mistake.remedy} {others}".strip())


def unknown_key(path: Path, location: Location, data: dict[str, object]) -> ProcedureError:
    """A key that this place of the file does not have, with the nearest one that it has."""
    nearest = _nearest_key(location, data)
    hint = f"Did you mean {nearest}? " if nearest else ""
    return ProcedureError(
        "the key is unknown",
        where=_place(path, location, data),
        remedy=f"{hint}Keys here: {', '.join(_keys_at(location, data))}.",
    )


def _table_at(location: Location) -> type[BaseModel]:
    names = (part for part in reversed(location[:-1]) if isinstance(part, str))
    return next((_TABLES[name] for name in names if name in _TABLES), Procedure)


def _keys_at(location: Location, data: dict[str, object]) -> list[str]:
    table = _table_at(location)
    if table is Leg:
        phase = _phase_of(location[:2], data)
        return list(KEYS_OF_PHASE.get(phase, Leg.model_fields))
    return [key for key in table.model_fields if not (table is Procedure and key in FILLED_BY_READER)]


def _nearest_key(location: Location, data: dict[str, object]) -> str | None:
    key = str(location[-1]).casefold()
    keys = _keys_at(location, data)
    return next(
        iter(get_close_matches(key, keys, n=1) or [k for k in keys if k.startswith(f"{key}_") and key]), None
    )


def _place(path: Path, location: Location, data: dict[str, object]) -> Place:
    """The key as people read it: legs and steps counted from 1, a leg with its phase."""
    parts: list[str] = []
    for index, part in enumerate(location):
        if isinstance(part, str):
            parts.append(shortened(part))
        elif parts:
            phase = _phase_of(location[: index + 1], data)
            parts[-1] = f"{parts[-1]} {part + 1}" + (f" ({shortened(phase)})" if phase else "")
    return Place(path=path, key=".".join(parts) or None)


def _phase_of(location: Location, data: dict[str, object]) -> str:
    match location, data:
        case ("leg", int(index)), {"leg": list(legs)} if index < len(legs):
            phase = legs[index].get("phase") if isinstance(legs[index], dict) else None
            return phase if isinstance(phase, str) else ""
    return ""


def _words(detail: ErrorDetails, data: dict[str, object]) -> tuple[str, str]:
    """What is wrong with one value, and what is allowed."""
    kind, given, ctx = detail["type"], _shown(detail["input"]), detail.get("ctx", {})
    last = str(next((part for part in reversed(detail["loc"]) if isinstance(part, str)), ""))
    if kind == "missing":
        return _missing(tuple(detail["loc"]))
    if kind in ("literal_error", "enum"):
        return f"{given} is not known", f"Allowed: {_list(ctx['expected'])}.{_nearest_value(detail)}"
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        return f"{given} is out of range", f"Allowed: {_range(detail)}."
    if kind in ("float_type", "float_parsing", "finite_number", "int_type"):
        return f"{given} is not a number", "Give a number, without quotes and unit."
    if kind.startswith("string_t") and kind not in ("string_too_short", "string_too_long"):
        return f"{given} is not a text", 'Give a text in "quotes".'
    if kind in ("string_too_short", "string_too_long"):
        limit = ctx.get("min_length", ctx.get("max_length"))
        few = "at least" if kind == "string_too_short" else "at most"
        characters = "character" if limit == 1 else "characters"
        return f"{given} has the wrong length", f"Give {few} {limit} {characters}."
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return f"{given} is not a table", f"Keys here: {', '.join(_keys_at((*detail['loc'], ''), data))}."
    if kind in ("tuple_type", "list_type"):
        return (
            f"{given} is not a list",
            "Legs begin with [[leg]]." if last == "leg" else "Give a list in [ ].",
        )
    if kind.startswith("date"):
        return f"{given} is not a date", "Write 2026-01-15, without quotes."
    if kind == "value_error":
        return str(ctx["error"]), ""
    return f"{given}: {detail['msg'].lower()}", ""


def _missing(location: Location) -> tuple[str, str]:
    match location:
        case ("leg",):
            return "there are no legs", 'Add [[leg]] with phase = "final", and the others before it.'
        case (str(table),) if table in _TABLES:
            return "the table is missing", f"Add [{table}] with {', '.join(_keys_at((table, ''), {}))}."
        case (*_, int(number)):
            return f"value {number + 1} is missing", "Give both, as [low, high]."
    return "the key is missing", f"Add {location[-1]} = {'1' if location[-1] == 'format' else '...'}"


def _list(expected: str) -> str:
    return expected.replace(" or ", ", ").replace("'", '"')


def _nearest_value(detail: ErrorDetails) -> str:
    allowed = re.findall(r"'([^']*)'", str(detail["ctx"]["expected"]))
    given = detail["input"]
    nearest = (
        get_close_matches(given.lower(), [a.lower() for a in allowed], n=1) if isinstance(given, str) else []
    )
    match = next((a for a in allowed if nearest and a.lower() == nearest[0]), None)
    return f' Did you mean "{match}"?' if match else ""


def _range(detail: ErrorDetails) -> str:
    """Both ends of what is allowed, asked of the model itself."""
    key = next(part for part in reversed(detail["loc"]) if isinstance(part, str))
    table = _table_at(tuple(detail["loc"]))
    bounds = dict(_bounds(table.model_json_schema(mode="validation")["properties"][key]))
    low, high = bounds.get("minimum"), bounds.get("maximum")
    above, below = bounds.get("exclusiveMinimum"), bounds.get("exclusiveMaximum")
    least = f"{low:g}" if low is not None else f"above {above:g}"
    most = f"{high:g}" if high is not None else f"below {below:g}"
    return f"{least} to {most}"


def _bounds(schema: object) -> Iterator[tuple[str, float]]:
    if isinstance(schema, dict):
        for name, value in schema.items():
            if isinstance(value, int | float) and not isinstance(value, bool):
                yield name, value
            else:
                yield from _bounds(value)
    elif isinstance(schema, list):
        for item in schema:
            yield from _bounds(item)


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{shortened(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return shortened(f"{value:g}" if isinstance(value, float) else str(value))


def shortened(text: str, longest: int = LONGEST_SHOWN) -> str:
    """A text on one line, with nothing in it that a terminal would obey, cut where it is long."""
    line = "".join(c if c.isprintable() else " " for c in text)
    return line if len(line) <= longest else f"{line[: longest - 1]}…"
