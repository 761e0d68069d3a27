"""One short invented flight, and the many ways to write it as a table. Not a reader: the tests' own writer."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import cos, radians

START = datetime(2026, 5, 4, 22, 12, 7, tzinfo=UTC)  # an evening: hours beyond 12
SPEED_KT = 120.0
CLIMB_FT_MIN = 480.0
INTERVAL_S = 5.0


@dataclass(frozen=True)
class Row:
    """One sample of the truth."""

    time: datetime
    latitude: float
    longitude: float
    altitude_ft: float


def flight(
    count=120, start=START, latitude=-17.7512345, longitude=178.4512345, track_deg=40.0, altitude_ft=1500.0
):
    """A straight climb at a constant speed; on a sphere of 60 NM to the degree, good to half a percent."""
    rows = []
    for index in range(count):
        flown_deg = SPEED_KT / 3600 * INTERVAL_S * index / 60
        rows.append(
            Row(
                time=start + timedelta(seconds=INTERVAL_S * index),
                latitude=latitude + flown_deg * cos(radians(track_deg)),
                longitude=longitude + flown_deg * cos(radians(90 - track_deg)) / cos(radians(latitude)),
                altitude_ft=altitude_ft + CLIMB_FT_MIN / 60 * INTERVAL_S * index,
            )
        )
    return rows


def iso(row):
    """The time as most logs write it."""
    return row.time.strftime("%Y-%m-%dT%H:%M:%SZ")


def table(columns, rows=None, delimiter=",", decimal=".", end="\n", preamble=""):
    """A table: ``columns`` maps headings to functions of a row; floats get seven decimals and the mark."""
    rows = flight() if rows is None else rows
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator=end)
    writer.writerow(columns)
    for row in rows:
        cells = [function(row) for function in columns.values()]
        writer.writerow(
            [f"{cell:.7f}".replace(".", decimal) if isinstance(cell, float) else str(cell) for cell in cells]
        )
    return preamble + text.getvalue()


def usual(time=iso, **more):
    """The three columns that must be there, and others by heading."""
    return {
        "time": time,
        "latitude": lambda row: row.latitude,
        "longitude": lambda row: row.longitude,
    } | {heading.replace("__", " "): function for heading, function in more.items()}
