"""Procedure files written: from the keys and values of a procedure to the text of its file.

Owns      ``procedure_toml``: order, tables, comments.
Not here  whether the values are valid (``model``), reading (``toml_reader``).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date

_HEAD = (
    "# A procedure file, made with debrief. For simulator flying and training debriefs. Not for navigation:",
    "# the published procedure, local rules and a qualified instructor or examiner prevail.",
)


def procedure_toml(data: Mapping[str, object]) -> str:
    r"""The file of a procedure, as ``tomllib`` reads it back.

    >>> print(procedure_toml({"format": 1, "name": "A \"b\"", "leg": [{"phase": "final"}]}).split("\n\n", 1)[1])
    format = 1
    name = "A \"b\""
    <BLANKLINE>
    [[leg]]
    phase = "final"
    <BLANKLINE>
    """
    lines = [*_HEAD, ""]
    lines += [f"{key} = {_value(value)}" for key, value in data.items() if not isinstance(value, dict | list)]
    for key, value in data.items():
        if isinstance(value, dict):
            lines += ["", f"[{key}]", *(f"{name} = {_value(entry)}" for name, entry in value.items())]
    for key, value in data.items():
        if isinstance(value, list):
            for table in value:
                lines += ["", f"[[{key}]]", *(f"{name} = {_value(entry)}" for name, entry in table.items())]
    return "\n".join(lines) + "\n"


def _value(value: object) -> str:
    match value:
        case bool():
            return str(value).lower()
        case int():
            return str(value)
        case float():
            return repr(value)
        case date():
            return value.isoformat()
        case str():
            return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
        case dict():
            inside = ", ".join(f"{name} = {_value(entry)}" for name, entry in value.items())
            return f"{{ {inside} }}"
        case list() | tuple():
            return f"[{', '.join(map(_value, value))}]"
    raise TypeError(f"a procedure file holds no {type(value).__name__}")
