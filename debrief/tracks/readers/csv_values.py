"""Cells into numbers: decimal commas, thousands, units in cells, degrees and minutes, flags.

Owns      the written forms of a number, an angle, a pair of coordinates, a flag.
Not here  dates and times (``stamps``, ``csv_times``), which column is which (``csv_columns``).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from math import nan
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.tracks.model import Floats

Mark = Literal[".", ","]
Axis = Literal["latitude", "longitude"]

_NUMBER = {
    mark: re.compile(
        rf"(?P<sign>[-+]?)\s*(?P<whole>\d{{1,3}}(?:[{groups}]\d{{3}})+|\d*)(?:[{mark}](?P<part>\d*))?"
        r"(?P<power>[eE][-+]?\d{1,3})?\s*(?P<unit>[^\d\s.,+-][^\d]{0,11})?"
    )
    for mark, groups in ((".", r",'’\s"), (",", r".'’\s"))
}
_GROUPS = {mark: re.compile(rf"[-+]?\d{{1,3}}(?:[{mark}]\d{{3}})+\D*") for mark in ".,"}
_LEVEL = re.compile(r"\s*(?:FL|F)\s*(\d{2,3})\s*", re.IGNORECASE)
_ANGLE = re.compile(
    r"\s*(?P<before>[NSEWnsew])?\s*(?P<sign>[-+]?)\s*(?P<first>\d+(?:\.\d*)?)"
    r"(?:\s*(?:[°ºd*:\s-]|[dD]eg\.?)\s*(?P<second>\d+(?:\.\d*)?))?"
    r"(?:\s*(?:['′’`m:\s-]|min\.?)\s*(?P<third>\d+(?:\.\d*)?))?"
    r"\s*(?:[°ºd\"″”'′’m]|[dD]eg\.?|''|min\.?|sec|(?<=[m\d])s(?=\s*[NSEWnsew]))?"
    r"\s*(?P<after>[NSEWnsew]|(?:north|south|east|west|North|South|East|West))?\s*"
)
_LIMIT = {"latitude": 90.0, "longitude": 180.0}
_LONGEST = 80  # characters of a cell that can be a number or a position
_WHOLE_TURN_DEG = 360.0
_LETTERS = {"latitude": "NS", "longitude": "EW"}
_POINT = re.compile(
    r"\s*(?:SRID=\d+;)?\s*POINT\s*Z?M?\s*\(\s*(\S+?)[\s,]+(\S+?)(?:[\s,]+\S+)*\s*\)\s*", re.IGNORECASE
)
_YES = frozenset(
    [
        "1",
        "1.0",
        "true",
        "t",
        "yes",
        "y",
        "on",
        "ground",
        "gnd",
        "landed",
        "ja",
        "j",
        "oui",
        "o",
        "si",
        "sì",
        "sim",
        "wahr",
        "vrai",
        "vero",
        "tak",
        "g",
    ]
)
_NO = frozenset(
    [
        "0",
        "0.0",
        "false",
        "f",
        "no",
        "n",
        "off",
        "air",
        "airborne",
        "flying",
        "nein",
        "non",
        "nee",
        "não",
        "nao",
        "nej",
        "nie",
        "falsch",
        "faux",
        "falso",
        "a",
    ]
)


def decimal_mark(cells: Sequence[str], usual: Mark = ".") -> Mark:
    """Which mark stands before the decimals in a column; ``usual`` where its cells leave that open.

    The last mark in a cell with both is the decimal one; a mark before anything but groups of three digits is.
    """
    commas = [cell for cell in cells if "," in cell]
    points = [cell for cell in cells if "." in cell]
    both = [cell for cell in commas if "." in cell]
    if both:
        return "," if sum(cell.rfind(",") > cell.rfind(".") for cell in both) * 2 > len(both) else "."
    other: Mark = "." if usual == "," else ","
    others = points if usual == "," else commas
    if others and any(not _GROUPS[other].fullmatch(cell.strip()) for cell in others):
        return other
    return usual


def position_mark(cells: Sequence[str]) -> Mark:
    """The same for positions, which are too small for groups of thousands; both may stand in one cell."""
    with_points = sum("." in cell for cell in cells)
    with_commas_only = sum("," in cell and "." not in cell for cell in cells)
    return "," if with_commas_only > with_points else "."


def numbers(
    cells: Sequence[str], mark: Mark = ".", factor_of: Callable[[str], float | None] | None = None
) -> Floats:
    """A column of numbers; ``nan`` where a cell is empty or is none.

    Units in cells are passed over, unless ``factor_of`` gives what a number with that unit is to be multiplied with.

    >>> numbers(["1,234.5", "", "85 kt"]).tolist()
    [1234.5, nan, 85.0]
    >>> numbers(["85 kt", "100 km/h", "85"], factor_of={"km/h": 0.54}.get).tolist()
    [85.0, 54.0, 85.0]
    """
    if mark == ".":
        try:
            return _finite(np.array(list(map(float, cells)), dtype=np.float64))
        except ValueError:
            pass
    known: dict[str, float] = {}
    values = np.empty(len(cells))
    for index, cell in enumerate(cells):
        value = known.get(cell)
        if value is None:
            unit = unit_text(cell, mark) if factor_of else ""
            factor = (factor_of(unit) if factor_of and unit else None) or 1.0
            value = known[cell] = _number(cell, mark) * factor
        values[index] = value
    return _finite(values)


def _number(cell: str, mark: Mark) -> float:
    text = _short(cell).strip("\"'").replace("−", "-")
    if mark == ".":
        try:
            return float(text)
        except ValueError:
            pass
    level = _LEVEL.fullmatch(text)
    if level:
        return float(level[1]) * 100
    match = _NUMBER[mark].fullmatch(text)
    if match is None or not (match["whole"] or match["part"]):
        return nan
    whole = re.sub(r"[^\d]", "", match["whole"]) or "0"
    return float(f"{match['sign']}{whole}.{match['part'] or '0'}{match['power'] or ''}")


def _short(cell: str) -> str:
    """A cell without blanks around it; "" where it is too long for any number or position."""
    text = cell.strip()
    return text if len(text) <= _LONGEST else ""


def _finite(values: Floats) -> Floats:
    values[~np.isfinite(values)] = nan
    return values


def unit_text(cell: str, mark: Mark) -> str:
    """What stands behind the number in a cell; "" where nothing does."""
    if _LEVEL.fullmatch(cell):
        return "ft"  # already a hundred feet for one: see ``numbers``
    match = _NUMBER[mark].fullmatch(_short(cell))
    return (match["unit"] or "").strip() if match else ""


def angles(cells: Sequence[str], mark: Mark, axis: Axis) -> Floats:
    """A column of latitudes or longitudes in degrees, north and east positive.

    Understands decimal degrees, degrees with minutes and seconds, a letter for the hemisphere, and with such a
    letter DDMM.mmm and DDMMSS. A number without a letter is handed on as it is. ``nan`` where a cell is neither.

    >>> angles(["47.5", "47 30 S", "4730.00N"], ".", "latitude").tolist()
    [47.5, -47.5, 47.5]
    """
    if mark == ".":
        try:
            return _finite(np.array(list(map(float, cells)), dtype=np.float64))
        except ValueError:
            pass
    return _finite(np.array([_angle(cell, mark, axis) for cell in cells], dtype=np.float64))


def _angle(cell: str, mark: Mark, axis: Axis) -> float:
    text = _short(cell).strip('"').replace("−", "-")
    text = text.replace(",", ".") if mark == "," or text.count(",") == 1 else text
    try:
        return float(text)
    except ValueError:
        pass
    match = _ANGLE.fullmatch(text)
    if match is None or (match["before"] and match["after"]):
        return nan
    letter = (match["before"] or match["after"] or "")[:1].upper()
    if match["after"] == "s" and "m" in text:
        letter = ""  # 47d12m30s: seconds, not south
    if letter and (letter not in _LETTERS[axis] or match["sign"] == "-"):
        return nan
    parts = [float(match[name]) for name in ("first", "second", "third") if match[name]]
    if letter and len(parts) == 1:
        parts = _packed(match["first"], axis)
    if any(part >= 60 for part in parts[1:]):
        return nan
    size = math.fsum(part / 60**power for power, part in enumerate(parts))
    return -size if letter in ("S", "W") or match["sign"] == "-" else size


def _packed(text: str, axis: Axis) -> list[float]:
    """``4712.345`` and ``471221``: degrees, minutes, seconds in one number, told by the count of digits."""
    whole, _, part = text.partition(".")
    degrees = 2 if axis == "latitude" else 3
    fraction = f".{part}" if part else ""
    if len(whole) == degrees + 2:
        return [float(whole[:degrees]), float(whole[degrees:] + fraction)]
    if len(whole) == degrees + 4:
        return [
            float(whole[:degrees]),
            float(whole[degrees : degrees + 2]),
            float(whole[degrees + 2 :] + fraction),
        ]
    return [float(text)]


def pairs(cells: Sequence[str]) -> tuple[Floats, Floats]:
    """A column with both coordinates: the first and the second of each cell, as latitude and longitude.

    ``POINT(x y)`` has the longitude first, by its standard (OGC simple features; mark: memory).
    """
    split = [_pair(cell) for cell in cells]
    first = np.array([_half(a, "latitude") for a, _ in split], dtype=np.float64)
    second = np.array([_half(b, "longitude") for _, b in split], dtype=np.float64)
    return _finite(first), _finite(second)


def _pair(cell: str) -> tuple[str, str]:
    point = _POINT.fullmatch(_short(cell))
    if point:
        return point[2], point[1]
    text = _short(cell).strip('()[]"')
    for separator in (";", "|", "/"):
        if separator in text:
            halves = text.split(separator)
            return (halves[0], halves[1]) if len(halves) == 2 else ("", "")
    commas = text.split(",")
    if len(commas) == 2:
        return commas[0], commas[1]
    if len(commas) == 4:  # 47,12,-31,23: decimal commas
        return ",".join(commas[:2]), ",".join(commas[2:])
    letters = re.fullmatch(r"\s*([NS].*?|.*?[NS])[\s,]*([EW].*|[^EW]*[EW])\s*", text, re.IGNORECASE)
    if letters:
        return letters[1], letters[2]
    blanks = text.split()
    return (blanks[0], blanks[1]) if len(blanks) in (2, 3) else ("", "")


def _half(text: str, axis: Axis) -> float:
    return _angle(text, "," if "," in text else ".", axis)


def signs(cells: Sequence[str]) -> Floats:
    """Letters of a hemisphere as signs: 1 for N and E, -1 for S and W, ``nan`` for anything else."""
    meaning = {"N": 1.0, "E": 1.0, "S": -1.0, "W": -1.0}
    return np.array([meaning.get(cell.strip()[:1].upper(), nan) for cell in cells], dtype=np.float64)


def flags(cells: Sequence[str]) -> Floats:
    """A column of yes and no: 1.0 for yes (or ground), 0.0 for no (or air), ``nan`` for anything else."""
    meaning = dict.fromkeys(_YES, 1.0) | dict.fromkeys(_NO, 0.0)
    return np.array([meaning.get(cell.strip().casefold(), nan) for cell in cells], dtype=np.float64)


def packed_positions(latitude: Floats, longitude: Floats) -> tuple[Floats, Floats] | None:
    """Numbers DDMM.mmm and DDDMM.mmm as degrees; None where the two columns are not written so.

    They are where one of them is too large for any angle in degrees, and both have minutes under 60.
    """
    if not any(_usually(np.abs(values) > _WHOLE_TURN_DEG, values) > 0.5 for values in (latitude, longitude)):
        return None
    degrees = _packed_degrees(latitude), _packed_degrees(longitude)
    for values, limit in zip(degrees, _LIMIT.values(), strict=True):
        if _usually(np.abs(values) <= limit, values) < 0.99:
            return None
    return degrees


def _packed_degrees(values: Floats) -> Floats:
    size = np.abs(values)
    minutes = size % 100
    degrees = np.sign(values) * ((size - minutes) / 100 + minutes / 60)
    return np.where(minutes < 60, degrees, np.where(np.isnan(values), nan, np.inf))


def _usually(true: NDArray[np.bool_], values: Floats) -> float:
    """How often a condition holds among the values that are there; 0 where none is."""
    seen = ~np.isnan(values)
    return float(true[seen].mean()) if seen.any() else 0.0
