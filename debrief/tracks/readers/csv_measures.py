"""Altitude, speeds and directions in our units: which column is used, and what its unit is where nobody says.

Owns      the choice among several altitudes, units found by measuring, what is assumed.
Not here  the measuring itself (``csv_units``), headings (``csv_columns``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from debrief.tracks.model import AltitudeSource, Floats
from debrief.tracks.readers.csv_columns import Column
from debrief.tracks.readers.csv_units import climb_units, speed_unit
from debrief.tracks.readers.csv_words import FACTOR, Quantity
from debrief.tracks.readers.samples import AltitudeUnit, Remarks

# The altitude a procedure is flown by comes first; the last needs a correction for the day's pressure.
_PREFERENCE = ("indicated", "msl", "plain", "gps", "pressure")
_SOURCE: dict[str, AltitudeSource] = {
    "indicated": "indicated",
    "msl": "gps",  # a height above the sea that no pressure shifts
    "plain": "unknown",
    "gps": "gps",
    "pressure": "pressure",
}
_METRE_WORDS = (
    "ele",
    "elev",
    "elevation",
    "height",
    "elevacion",
    "elevazione",
    "elevacao",
    "hauteur",
    "altezza",
    "altura",
)
_SPEED_NAMES = {"indicated": "airspeed_kias", "true": "airspeed_ktas"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A column of numbers as they stand in the file."""

    column: Column
    values: Floats

    @property
    def unit(self) -> str | None:
        """As the heading, the row of units or the cells say."""
        return self.column.meaning.unit

    @property
    def kind(self) -> str:
        """Of an altitude: one of ``_PREFERENCE``."""
        qualifiers = self.column.meaning.qualifiers
        if "true" in qualifiers:
            return "msl"
        return next((kind for kind in ("pressure", "indicated", "msl", "gps") if kind in qualifiers), "plain")


@dataclass(slots=True)
class Measures:
    """What the numeric columns come to."""

    altitude_ft: Floats
    altitude_source: AltitudeSource = "unknown"
    columns: dict[str, Floats] = field(default_factory=dict)
    north_open: bool = False  # of the heading: taken as true


def measures_of(
    t_s: Floats,
    latitude_deg: Floats,
    longitude_deg: Floats,
    found: Sequence[Measured],
    remarks: Remarks,
    *,
    transponder: bool,
    altitude_unit: AltitudeUnit | None,
) -> Measures:
    """Altitude, speeds and directions in our units; one entry a row in every array.

    ``transponder`` says that the rows come from a transponder, whose plain altitude is pressure altitude.
    ``altitude_unit`` is a person's word for the unit of the altitudes and goes over the headings.
    """

    def of(*quantities: Quantity) -> list[Measured]:
        return [item for item in found if item.column.meaning.quantity in quantities]

    measures = Measures(altitude_ft=np.full(len(t_s), np.nan))
    speed_unit_shown = _ground_speed(
        t_s, latitude_deg, longitude_deg, of("groundspeed", "speed"), measures, remarks
    )
    _airspeeds(of("airspeed", "speed"), measures, remarks)
    _directions(of("track", "heading"), measures, remarks)
    rate = next(iter(of("vertical_speed")), None)
    altitudes = of("altitude")
    if transponder:
        altitudes = [_by_transponder(item, remarks) for item in altitudes]
    metric = speed_unit_shown == "m/s"
    _altitudes(t_s, altitudes, rate, measures, remarks, asked=altitude_unit, metric=metric)
    return measures


def _ground_speed(
    t_s: Floats,
    latitude_deg: Floats,
    longitude_deg: Floats,
    found: list[Measured],
    measures: Measures,
    remarks: Remarks,
) -> str | None:
    """Fill the ground speed; the unit that had to be measured, where one had to be."""
    candidates = [item for item in found if not item.column.meaning.qualifiers & {"indicated", "true"}]
    candidates.sort(key=lambda item: item.column.meaning.quantity != "groundspeed")
    for item in candidates:
        shown = None
        surely = item.column.meaning.quantity == "groundspeed"
        if item.unit is None or not surely:
            shown = speed_unit(t_s, latitude_deg, longitude_deg, item.values)
        unit = item.unit or shown
        if item.unit is None and shown:
            remarks.note(
                f"Column {item.column} has no unit: the positions show that it is ground speed in {unit}."
            )
        elif surely and not unit:
            unit = "kt"
            remarks.assume(f"Column {item.column} has no unit: it was taken as knots.")
        elif not surely and item.unit and shown is None:
            remarks.assume(f"Column {item.column} was taken as ground speed.")
        elif (not surely and shown != unit) or not unit:
            remarks.note(
                f"Column {item.column} was left out: the positions do not show that it is ground speed."
            )
            continue
        measures.columns["groundspeed_kt"] = item.values * FACTOR[("speed", unit or "kt")]
        return shown if item.unit is None else None
    return None


def _airspeeds(found: list[Measured], measures: Measures, remarks: Remarks) -> None:
    for item in found:
        qualifiers = item.column.meaning.qualifiers & {"indicated", "true"}
        kind = next(iter(qualifiers), None)
        if kind is None:
            if item.column.meaning.quantity == "speed":
                continue
            kind = "indicated"
            remarks.assume(f"Column {item.column} was taken as indicated airspeed.")
        if item.unit is None:
            word = item.column.meaning.word
            if not word.startswith("k"):
                remarks.assume(f"Column {item.column} has no unit: it was taken as knots.")
        measures.columns.setdefault(_SPEED_NAMES[kind], item.values * FACTOR[("speed", item.unit or "kt")])


def _directions(found: list[Measured], measures: Measures, remarks: Remarks) -> None:
    for item in sorted(found, key=lambda item: not item.column.meaning.qualifiers):
        degrees = item.values * FACTOR[("angle", item.unit or "deg")] % 360
        magnetic = "magnetic" in item.column.meaning.qualifiers
        if item.column.meaning.quantity == "track":
            if magnetic:
                remarks.note(
                    f"Column {item.column} was left out: a magnetic track is measured from the positions."
                )
                continue
            if "ground_track_true_deg" in measures.columns:
                remarks.note(f"Column {item.column} was left out: another column gives the track.")
                continue
            if "true" not in item.column.meaning.qualifiers:
                remarks.assume(f"Column {item.column} was taken as track over the ground from true north.")
            measures.columns["ground_track_true_deg"] = degrees
        elif magnetic:
            measures.columns.setdefault("heading_mag_deg", degrees)
        elif "true" in item.column.meaning.qualifiers:
            measures.columns.setdefault("heading_true_deg", degrees)
        elif "heading_true_deg" not in measures.columns:
            remarks.assume(
                f"Column {item.column} does not say which north: it was taken as true heading, unless the flight shows "
                "that it is magnetic."
            )
            measures.north_open = True
            measures.columns["heading_true_deg"] = degrees


def _altitudes(
    t_s: Floats,
    found: list[Measured],
    rate: Measured | None,
    measures: Measures,
    remarks: Remarks,
    *,
    asked: AltitudeUnit | None,
    metric: bool,
) -> None:
    chosen = _preferred(found, remarks)
    rate_unit = rate.unit if rate else None
    if chosen is not None:
        unit, rate_unit = _altitude_unit(t_s, chosen, rate, remarks, asked=asked, metric=metric)
        measures.altitude_ft = chosen.values * FACTOR[("length", unit)]
        measures.altitude_source = _SOURCE[chosen.kind]
        of_pressure = [chosen, *found] if chosen.kind == "pressure" else found
        pressure = next((item for item in of_pressure if item.kind == "pressure"), None)
        if pressure is not None:
            pressure_unit = asked or pressure.unit or unit
            measures.columns["pressure_altitude_ft"] = pressure.values * FACTOR[("length", pressure_unit)]
    if rate is not None:
        if rate_unit is None:
            rate_unit = "m/s" if metric else "ft/min"
            remarks.assume(f"Column {rate.column} has no unit: it was taken as {rate_unit}.")
        measures.columns["vertical_speed_ft_min"] = rate.values * FACTOR[("rate", rate_unit)]


def _by_transponder(item: Measured, remarks: Remarks) -> Measured:
    """What a transponder sends as altitude, and where it measures from."""
    if item.kind == "gps":
        remarks.note(
            f"Column {item.column} comes from a transponder: it is height above the ellipsoid, which lies up to "
            "350 ft off the sea's level."
        )
    if item.kind != "plain":
        return item
    remarks.note(f"Column {item.column} comes from a transponder: it is pressure altitude.")
    meaning = replace(item.column.meaning, qualifiers=frozenset({"pressure"}))
    return replace(item, column=replace(item.column, meaning=meaning))


def _preferred(found: list[Measured], remarks: Remarks) -> Measured | None:
    """The altitude to use: by kind, but never one that is there for less than half of the rows others have."""
    counts = {id(item): int(np.isfinite(item.values).sum()) for item in found}
    most = max(counts.values(), default=0)
    if not most:
        return None
    full = [item for item in found if counts[id(item)] * 2 >= most]
    chosen = min(full, key=lambda item: _PREFERENCE.index(item.kind))
    if len(found) > 1:
        others = " or ".join(str(item.column) for item in found if item is not chosen)
        remarks.note(f"Altitude was taken from column {chosen.column}, not from {others}.")
    return chosen


def _altitude_unit(
    t_s: Floats,
    chosen: Measured,
    rate: Measured | None,
    remarks: Remarks,
    *,
    asked: AltitudeUnit | None,
    metric: bool,
) -> tuple[str, str | None]:
    """The units of the altitude and of the vertical speed: asked for, written, measured, or assumed."""
    written = asked or chosen.unit
    if asked is not None and chosen.unit not in (None, asked):
        remarks.note(
            f"Column {chosen.column} was taken as {asked}, as asked, though its heading says {chosen.unit}."
        )
    measured = None
    if rate is not None and (written is None or rate.unit is None):
        lengths = (written,) if written else ("ft", "m")
        rates = (rate.unit,) if rate.unit else ("ft/min", "m/s")
        measured = climb_units(t_s, chosen.values, rate.values, lengths, rates)
    rate_unit = rate.unit if rate else None
    if measured is not None:
        if rate is not None and rate.unit is None:
            rate_unit = measured[1]
            remarks.note(f"Column {rate.column} has no unit: the altitude shows that it is {rate_unit}.")
        if written is None:
            words = f"Column {chosen.column} has no unit: the vertical speed shows that it is {measured[0]}."
            remarks.note(words)
            remarks.altitude_unit.append(words)
            return measured[0], rate_unit
    if written is not None:
        return written, rate_unit
    metres = metric or chosen.column.meaning.word in _METRE_WORDS
    why = "the speeds are in metres a second" if metric else "as is usual under such a heading"
    words = f"Column {chosen.column} has no unit: it was taken as {'metres' if metres else 'feet'}, {why}."
    remarks.assume(words)
    remarks.altitude_unit.append(words)
    return "m" if metres else "ft", rate_unit
