"""Tables of expected values, one CSV a subject; line 1 of each says what it is and where it comes from."""

from __future__ import annotations

import csv
from pathlib import Path
from types import SimpleNamespace

import numpy as np

FOLDER = Path(__file__).parent


def _value(text: str) -> float | str | None:
    if text == "":
        return None
    try:
        return float(text)
    except ValueError:
        return text


def read_vectors(name: str) -> list[SimpleNamespace]:
    """The rows of a table, numbers as floats, an empty cell as None."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        assert file.readline().startswith("# "), f"{name} begins with what it is and where it comes from"
        return [
            SimpleNamespace(**{key: _value(text) for key, text in row.items()})
            for row in csv.DictReader(file)
        ]


def column(rows: list[SimpleNamespace], name: str) -> np.ndarray:
    """One column of a table as an array."""
    return np.array([getattr(row, name) for row in rows], dtype=np.float64)
