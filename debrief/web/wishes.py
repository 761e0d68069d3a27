"""What a person answers about a flight, from a form: checked here, in words that stand beside the field.

Owns      the fields of the answers and their mistakes.
Not here  what is done with them (``work``).
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace
from typing import Literal, cast

from debrief.language import mark, tr
from debrief.web.flights import Wishes
from debrief.web.procedure_files import own_file
from debrief.web.store import Store

#: What a column of a table can hold, in plain words.
COLUMN_NAMES = mark(
    {
        "time": "time, or date and time",
        "elapsed_s": "seconds since the start",
        "date": "date",
        "latitude": "latitude",
        "longitude": "longitude",
        "position": "latitude and longitude in one",
        "altitude_ft": "altitude in feet",
        "altitude_m": "altitude in metres",
        "pressure_altitude_ft": "pressure altitude in feet",
        "groundspeed_kt": "ground speed in knots",
        "ground_track_true_deg": "ground track, true",
        "heading_true_deg": "heading, true",
        "heading_mag_deg": "heading, magnetic",
        "airspeed_kias": "indicated airspeed in knots",
        "vertical_speed_ft_min": "vertical speed in ft/min",
    }
)
STANDARDS = mark(
    {
        "instrument-rating": "Instrument rating",
        "airline-transport": "Airline transport",
        "european-instrument": "European instrument test",
        "training": "Training, our own",
    }
)
_LEAST_QNH, _MOST_QNH = 850.0, 1100.0
_MOST_OFFSET_FT = 5000.0


def read_wishes(
    store: Store, before: Wishes, fields: Mapping[str, str]
) -> tuple[Wishes | None, dict[str, str]]:
    """The wishes with what a form says in place of what stood before; else the mistakes, by field.

    A field that the form does not have keeps its value; an empty one takes its wish back.
    """
    mistakes: dict[str, str] = {}
    wishes = before
    if "procedure" in fields:
        wishes = replace(wishes, procedure=_procedure(store, fields["procedure"], mistakes))
    if "standard" in fields:
        if fields["standard"] not in STANDARDS:
            mistakes["standard"] = tr("Choose one of the standards.")
        wishes = replace(wishes, standard=fields["standard"])
    if "qnh_hpa" in fields:
        qnh = _number(fields["qnh_hpa"], "qnh_hpa", mistakes)
        if qnh is not None and not _LEAST_QNH <= qnh <= _MOST_QNH:
            mistakes["qnh_hpa"] = tr(
                "Give hectopascals, {least:.0f} to {most:.0f}.", least=_LEAST_QNH, most=_MOST_QNH
            )
        wishes = replace(wishes, qnh_hpa=qnh)
    if "offset_ft" in fields:
        offset = _number(fields["offset_ft"], "offset_ft", mistakes) or 0.0
        if abs(offset) > _MOST_OFFSET_FT:
            mistakes["offset_ft"] = tr("Give feet, {most:.0f} at most either way.", most=_MOST_OFFSET_FT)
        wishes = replace(wishes, offset_ft=offset)
    if "altitude_unit" in fields:
        unit = fields["altitude_unit"]
        if unit not in ("", "ft", "m"):
            mistakes["altitude_unit"] = tr("Choose feet or metres.")
        wishes = replace(wishes, altitude_unit=cast(Literal["", "ft", "m"], unit))
    if "date" in fields:
        wishes = replace(wishes, date=_date(fields["date"], mistakes))
    columns = _columns(fields, mistakes)
    if columns is not None:
        wishes = replace(wishes, columns=columns)
    return (None if mistakes else wishes), mistakes


def _procedure(store: Store, key: str, mistakes: dict[str, str]) -> str:
    from debrief.procedures import bundled_procedures

    names = {procedure.file.removesuffix(".toml") for procedure in bundled_procedures()}
    if key and key not in names and own_file(store, key) is None:
        mistakes["procedure"] = tr("Choose one of the procedures.")
    return key


def _number(text: str, name: str, mistakes: dict[str, str]) -> float | None:
    text = text.strip().replace(",", ".").replace("−", "-")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        mistakes[name] = tr("Give a number, without a unit.")
        return None
    if abs(value) < float("inf"):
        return value
    mistakes[name] = tr("Give a number, without a unit.")
    return None


def _date(text: str, mistakes: dict[str, str]) -> str:
    text = text.strip()
    if text:
        try:
            datetime.date.fromisoformat(text)
        except ValueError:
            mistakes["date"] = tr("Write the date as 2026-03-05.")
    return text


def _columns(fields: Mapping[str, str], mistakes: dict[str, str]) -> dict[str, str] | None:
    """``column-3 = latitude`` says that the third column is the latitude."""
    given = {name: value for name, value in fields.items() if name.startswith("column-")}
    if not given:
        return None
    columns: dict[str, str] = {}
    for name, value in given.items():
        position = name.removeprefix("column-")
        if not value:
            continue
        if value not in COLUMN_NAMES or not position.isdecimal():
            mistakes[name] = tr("Choose what this column holds.")
        elif value in columns:
            mistakes[name] = tr("Two columns cannot both be the {what}.", what=tr(COLUMN_NAMES[value]))
        else:
            columns[value] = position
    return columns
