"""The result file: ``Result`` to JSON and back.

Owns      how the result's values look in JSON: times, numbers that could not be measured, phases not flown.
Not here  which values there are (``debrief.result`` alone says that: the file has no model of its own).
Source    DEVELOPERS.md, "Result file".

Times are ISO 8601 with fractions and ``Z``; ``nan`` and infinities become ``null``; a phase that was not
flown is absent from ``measures``. The same result gives the same bytes.
"""

from __future__ import annotations

import dataclasses
import json
import math
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING, Any, get_args, get_origin, get_type_hints

import numpy as np

from debrief.errors import DebriefError, Place, as_path
from debrief.result import Measures, Result
from debrief.whole_files import read_ordinary

if TYPE_CHECKING:
    from pydantic import TypeAdapter

#: What JSON can hold.
Json = dict[str, "Json"] | list["Json"] | str | int | float | bool | None

_NOT_WRITTEN = frozenset({"flight"})  # the arrays behind the result: rebuilt from the log, never stored
_FORMAT = 1


def result_json(result: Result) -> str:
    """The result file's text, with a newline at its end.

    ``read_result`` gives the same result back, its ``flight`` excepted.
    """
    return json.dumps(_plain(result), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def read_result(path: str | Path) -> Result:
    """The result that a file holds. Its ``flight`` is ``None``.

    Keys that this version does not know are passed over: a newer one may have written them.

    Raises
    ------
    DebriefError
        Where the file cannot be read, is not JSON, or is not a result of this format.
    """
    file = as_path(path, DebriefError, "a result")
    where = Place(path=file)
    remedy = "Give a .json file that debrief wrote."
    try:
        content = json.loads(read_ordinary(file).decode("utf-8"))
    except OSError as error:
        raise DebriefError(f"cannot be read: {error.strerror}", where=where, remedy=remedy) from error
    except (ValueError, RecursionError) as error:
        raise DebriefError(f"is not JSON: {error}", where=where, remedy=remedy) from error
    if not isinstance(content, dict) or content.get("format") != _FORMAT:
        raise DebriefError("is not a result of format 1", where=where, remedy=remedy)
    from pydantic import ValidationError

    try:
        return _adapter().validate_python(_with_nan(content, Result))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = Place(path=path, key=".".join(str(part) for part in first["loc"]))
        raise DebriefError(f"is not a result: {first['msg']}", where=where, remedy=remedy) from error


@cache
def _adapter() -> TypeAdapter[Result]:
    from pydantic import TypeAdapter  # costs a third of a second: only where a file is read

    return TypeAdapter(Result)


def _with_nan(value: object, kind: Any) -> object:  # a type hint has no narrower type
    """The value with ``nan`` back where the model wants a float and the file has ``null``."""
    if kind is float:
        return math.nan if value is None else value
    if get_origin(kind) is tuple and isinstance(value, list):
        return [_with_nan(entry, get_args(kind)[0]) for entry in value]
    if isinstance(kind, UnionType) and value is not None:
        return _with_nan(value, next((arm for arm in get_args(kind) if dataclasses.is_dataclass(arm)), None))
    if isinstance(kind, type) and dataclasses.is_dataclass(kind) and isinstance(value, dict):
        hints = _hints(kind)
        return {key: _with_nan(entry, hints.get(key)) for key, entry in value.items()}
    return value


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _plain(value: object) -> Json:
    """One value of the result as JSON holds it."""
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, str):
        return str(value)  # a StrEnum's member is one
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, datetime):
        return _iso(value)
    if isinstance(value, tuple):
        return [_plain(entry) for entry in value]
    if isinstance(value, dict):
        return {name: _plain(entry) for name, entry in value.items()}
    if dataclasses.is_dataclass(value):
        fields = (f.name for f in dataclasses.fields(value) if f.name not in _NOT_WRITTEN)
        entries = {name: getattr(value, name) for name in fields}
        if isinstance(value, Measures):
            entries = {name: entry for name, entry in entries.items() if entry not in (None, ())}
        return {name: _plain(entry) for name, entry in entries.items()}
    raise TypeError(f"a result holds no {type(value).__name__}")


def _iso(time: datetime) -> str:
    """UTC with fractions: milliseconds, or microseconds where there are any.

    >>> _iso(datetime(2026, 5, 4, 10, 12, 7, 500000, tzinfo=UTC))
    '2026-05-04T10:12:07.500Z'
    """
    precision = "microseconds" if time.microsecond % 1000 else "milliseconds"
    return time.astimezone(UTC).replace(tzinfo=None).isoformat(timespec=precision) + "Z"
