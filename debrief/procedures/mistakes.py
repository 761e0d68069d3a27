"""What is wrong with a procedure file's keys and values, in one clear line each.

Owns      the words: which key, the value given, what is allowed, the nearest name for a misspelt one.
Not here  reading the file (``toml_reader``), deciding what is wrong (``model``, ``checks``).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from pydantic import ValidationError

from debrief.errors import Place, ProcedureError
from debrief.procedures.checks import KEYS_OF_PHASE
from debrief.procedures.model import (
    AltitudeLimit,
    Antenna,
    Arc,
    Circling,
    CrossingRadial,
    Extent,
    FinalGuidance,
    Hold,
    Leg,
    MissedApproach,
    OtherStation,
    Procedure,
    Runway,
    Station,
    StepDown,
    VisualSegment,
)
from debrief.toml_file import nearest, shortened, shown, value_words

if TYPE_CHECKING:
    from pathlib import Path

    from pydantic import BaseModel
    from pydantic_core import ErrorDetails

FILLED_BY_READER = ("file", "sha256")

_TABLES: dict[str, type[BaseModel]] = {
    "station": Station,
    "runway": Runway,
    "leg": Leg,
    "altitude": AltitudeLimit,
    "length": Extent,
    "missed_approach_point": Extent,
    "step_down": StepDown,
    "until_radial": CrossingRadial,
    "other_station": OtherStation,
    "arc": Arc,
    "final_guidance": FinalGuidance,
    "antenna": Antenna,
    "visual_segment": VisualSegment,
    "circling": Circling,
    "begins": Extent,
    "missed_approach": MissedApproach,
    "hold": Hold,
}

Location = tuple[str | int, ...]
_BESIDE_DEG = 1.0  # the runway from the station, in a file worth a guess


def first_mistake(path: Path, data: dict[str, object], error: ValidationError) -> ProcedureError:
    """The first mistake in words, and how many more there are."""
    first, *others = mistakes(path, data, error)
    if not others:
        return first
    more = f"({len(others)} more {'mistake' if len(others) == 1 else 'mistakes'} in this file.)"
    return ProcedureError(first.what, where=first.where, remedy=f"{first.remedy} {more}".strip())


def mistakes(path: Path, data: dict[str, object], error: ValidationError) -> list[ProcedureError]:
    """Every mistake in words; misspelt keys come first, in place of the keys that are missing because of them."""
    details = error.errors(include_url=False)
    misspelt = [tuple(d["loc"]) for d in details if d["type"] == "extra_forbidden"]
    meant = {(*at[:-1], nearest(str(at[-1]), _keys_at(at, data))) for at in misspelt}
    found = [unknown_key(path, at, data) for at in misspelt]
    for at, what, remedy in _said(
        [
            d
            for d in details
            if d["type"] != "extra_forbidden" and not (d["type"] == "missing" and tuple(d["loc"]) in meant)
        ],
        data,
    ):
        found.append(ProcedureError(what, where=_place(path, at, data), remedy=remedy))
    return found


def every_mistake(data: dict[str, object]) -> list[tuple[Location, str, str]]:
    """Each mistake in a procedure's values: where (legs and steps counted from 0), what is wrong, what to do.

    Empty where there is none. What contradicts another key is only looked for once every value is in range.
    """
    try:
        Procedure.model_validate(data)
    except ValidationError as error:
        return list(_said(error.errors(include_url=False), data))
    return []


def _said(details: list[ErrorDetails], data: dict[str, object]) -> Iterator[tuple[Location, str, str]]:
    for detail in details:
        location: Location = tuple(detail["loc"])
        if detail["type"] == "procedure":
            for problem in detail["ctx"]["problems"]:
                yield (*location, *problem.where), problem.what, problem.remedy
        else:
            yield (location, *_words(detail, data))


def unknown_key(path: Path, location: Location, data: dict[str, object]) -> ProcedureError:
    """A key that this place of the file does not have, with the nearest one that it has."""
    keys = _keys_at(location, data)
    meant = nearest(str(location[-1]), keys)
    hint = f"Did you mean {meant}? " if meant else ""
    return ProcedureError(
        "the key is unknown",
        where=_place(path, location, data),
        remedy=f"{hint}Keys here: {', '.join(keys)}.",
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
    """What is wrong with one value, and what is allowed; what is particular to procedures comes first."""
    kind, location, given = detail["type"], tuple(detail["loc"]), shown(detail["input"])
    match kind, location:
        case "missing", ("leg",):
            return "there are no legs", 'Add [[leg]] with phase = "final", and the others before it.'
        case "missing", (str(table),) if table in _TABLES:
            return "the table is missing", f"Add [{table}] with {', '.join(_keys_at((table, ''), {}))}."
        case "missing", ("circling", "runway"):
            return (
                "the table is missing",
                f"Add [circling.runway] with {', '.join(_keys_at(('runway', ''), {}))}.",
            )
        case "missing", (*_, int(number)):
            return f"value {number + 1} is missing", "Give both, as [low, high]."
        case (("tuple_type" | "list_type"), ("leg",)):
            return f"{given} is not a list", "Legs begin with [[leg]]."
        case (("model_type" | "model_attributes_type" | "dict_type"), _):
            return f"{given} is not a table", f"Keys here: {', '.join(_keys_at((*location, ''), data))}."
        case "value_error", _:
            return str(detail["ctx"]["error"]), ""
    if kind in ("greater_than_equal", "less_than_equal") and _is_swapped(location, data):
        what, remedy = value_words(detail, _table_at(location))
        return what, f"{remedy} Latitude and longitude seem to be exchanged."
    if kind.startswith("date"):
        return f"{given} is not a date", "Write 2026-01-15, without quotes."
    return value_words(detail, _table_at(location))


def _is_swapped(location: Location, data: dict[str, object]) -> bool:
    """Whether a latitude beyond the pole, swapped with its longitude, lies beside the file's other position."""
    if len(location) != 2 or location[0] not in ("station", "runway") or location[1] != "latitude":
        return False
    match data.get(str(location[0])), data.get("runway" if location[0] == "station" else "station"):
        case (
            {"latitude": int() | float() as latitude, "longitude": int() | float() as longitude},
            {"latitude": int() | float() as other_latitude, "longitude": int() | float() as other_longitude},
        ):
            others = ((other_latitude, other_longitude), (other_longitude, other_latitude))
            return any(max(abs(longitude - x), abs(latitude - y)) < _BESIDE_DEG for x, y in others)
    return False
