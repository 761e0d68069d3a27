"""From what a reader found to a ``Track``: what cannot be used is left out, counted and said.

Owns      the rule for a usable sample, the notes about the others, and what a person wished for.
Not here  any file format; judging samples that are usable but odd (``tracks.conditioning``).
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.errors import Place, TrackError
from debrief.tracks.model import AltitudeSource, Floats, Track
from debrief.tracks.readers.parts import without_repeated_ends
from debrief.tracks.readers.stamps import MISSING
from debrief.tracks.words import counted

AltitudeUnit = Literal["ft", "m"]

#: Positions in a log: eleven days of one a second, a day of ten. More would need memory without end.
MOST_SAMPLES = 1_000_000

FEET_PER_METRE = 1 / 0.3048  # the international foot, by definition
KNOTS_PER_METRE_A_SECOND = 3600 / 1852  # the international nautical mile, by definition


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the person said about the file, because the file does not."""

    columns: Mapping[str, str] = field(default_factory=dict)  # CSV: our name -> heading or position from 1
    date: date | None = None  # the day (UTC) of the first sample, for logs with times of day alone
    altitude_unit: AltitudeUnit | None = None


@dataclass(slots=True)
class Remarks:
    """What a reader has to say about a file, in the order it was found."""

    notes: list[str] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)
    altitude_unit: list[str] = field(default_factory=list)

    def note(self, text: str) -> None:
        """Say what was found or left out."""
        self.notes.append(text)

    def assume(self, text: str) -> None:
        """Say what was taken for granted and should be confirmed by a person."""
        self.notes.append(text)
        self.assumed.append(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Everything a file holds, usable or not: one entry a point or row, ``nan`` where it has no value."""

    time_us: NDArray[np.int64]  # microseconds since 1970, UTC; MISSING where there is none
    latitude_deg: Floats
    longitude_deg: Floats
    altitude_ft: Floats
    part: Floats
    line: Floats
    line_counts: Literal["line", "point"] = "line"  # what ``line`` counts
    columns: Mapping[str, Floats]


def refuse_too_many(path: Path, count: int) -> None:
    """End the reading of a file that holds more than any flight, before it fills the memory."""
    if count > MOST_SAMPLES:
        raise TrackError(
            f"it holds more than {MOST_SAMPLES:,} positions, more than any flight",
            where=Place(path=path),
            remedy="Cut the flight out of it.",
        )


def make_track(
    path: Path,
    samples: Samples,
    remarks: Remarks,
    *,
    format_name: str,
    word: Literal["point", "row"],
    altitude_source: AltitudeSource,
    pilot: str | None = None,
) -> Track:
    """The usable samples as a ``Track``, with a note about each kind that was left out.

    Usable is a sample with a time and a position on the Earth. Longitudes of 180 to 360 degrees are the same
    places as -180 to 0 and are brought there. Raises ``TrackError`` where fewer than two samples are usable.
    """
    refuse_too_many(path, len(samples.time_us))
    samples = _as_one_piece(samples, remarks)
    usable = _usable(path, samples, remarks, word)
    rows = slice(None) if usable.all() else usable  # a slice copies nothing, and most files are whole
    latitude = samples.latitude_deg[rows]
    longitude = samples.longitude_deg[rows]
    if (longitude > 180).any():
        remarks.note("Longitudes beyond 180 degrees were taken as west of Greenwich.")
    longitude = np.where(longitude >= 180, longitude - 360, longitude)
    at_zero = (latitude == 0) & (longitude == 0)
    if at_zero.all():
        raise TrackError(
            f"every {word} lies at latitude 0, longitude 0",
            where=Place(path=path),
            remedy="The recorder had no position: record the flight again.",
        )
    if at_zero.any():
        remarks.note(
            f"{counted(at_zero.sum(), word)} at latitude 0, longitude 0, as a recorder without a position writes."
        )
    altitude = samples.altitude_ft[rows]
    if np.isnan(altitude).all():
        altitude_source = "unknown"
        remarks.note("The log has no altitudes.")
    time_us = samples.time_us[rows]
    return Track(
        file=_shown(path.name),
        sha256=sha256_of(path),
        format=format_name,
        epoch=datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=int(time_us[0])),
        t_s=(time_us - time_us[0]) / 1e6,
        latitude_deg=latitude,
        longitude_deg=longitude,
        altitude_ft=altitude,
        altitude_source=altitude_source,
        part=np.unique(samples.part[rows], return_inverse=True)[1].astype(np.float64),
        line=samples.line[rows],
        line_counts=samples.line_counts,
        columns={
            name: values[rows] for name, values in samples.columns.items() if not np.isnan(values[rows]).all()
        },
        notes=tuple(remarks.notes),
        assumed=tuple(remarks.assumed),
        altitude_unit_notes=tuple(remarks.altitude_unit),
        pilot=pilot,
    )


def _as_one_piece(samples: Samples, remarks: Remarks) -> Samples:
    kept, part = without_repeated_ends(
        samples.time_us, samples.latitude_deg, samples.longitude_deg, samples.part
    )
    if kept.all():
        return samples
    again = int((~kept).sum())
    remarks.note(
        f"{counted(again, 'part')} of the track {'begins' if again == 1 else 'begin'} with the very point the one before "
        "ended with: read without a break."
    )
    return replace(
        samples,
        time_us=samples.time_us[kept],
        latitude_deg=samples.latitude_deg[kept],
        longitude_deg=samples.longitude_deg[kept],
        altitude_ft=samples.altitude_ft[kept],
        part=part[kept],
        line=samples.line[kept],
        columns={name: values[kept] for name, values in samples.columns.items()},
    )


def _usable(path: Path, samples: Samples, remarks: Remarks, word: str) -> NDArray[np.bool_]:
    latitude, longitude = samples.latitude_deg, samples.longitude_deg
    timed = samples.time_us != MISSING
    placed = np.isfinite(latitude) & np.isfinite(longitude)
    with np.errstate(invalid="ignore"):
        on_earth = placed & (np.abs(latitude) <= 90) & (longitude >= -180) & (longitude <= 360)
    count = len(timed)
    if not count:
        raise TrackError(f"no {word}s in it", where=Place(path=path), remedy="Export the log again.")
    if not placed.any():
        raise TrackError(
            f"none of {counted(count, word)} has a position",
            where=Place(path=path),
            remedy="Export the log again with latitude and longitude.",
        )
    if not on_earth.any():
        first = int(np.argmax(placed))
        swapped = (np.abs(longitude[placed]) <= 90).all() and (np.abs(latitude[placed]) <= 180).all()
        raise TrackError(
            f"no position is on the Earth: latitude {latitude[first]:g}, longitude {longitude[first]:g}",
            where=_place(path, samples, first),
            remedy="Positions must be degrees, latitude -90 to 90 and longitude -180 to 180"
            + (": these seem to be exchanged." if swapped else "."),
        )
    if not timed.any():
        raise TrackError(
            f"none of {counted(count, word)} has a time",
            where=Place(path=path),
            remedy="Export the log again with times.",
        )
    for reason, wrong in (
        ("without a position", ~placed),
        ("with a position that is not on the Earth", placed & ~on_earth),
        ("without a time that can be read", on_earth & ~timed),
    ):
        if wrong.any():
            first = int(samples.line[int(np.argmax(wrong))])
            remarks.note(
                f"{counted(wrong.sum(), word)} {reason} left out (the {'first' if wrong.sum() > 1 else 'one'} "
                f"in {samples.line_counts} {first})."
            )
    usable: NDArray[np.bool_] = on_earth & timed
    if usable.sum() < 2:
        raise TrackError(
            f"only {counted(usable.sum(), word)} of {count} can be used"
            if count > 1
            else f"only one {word} in it",
            where=Place(path=path),
            remedy="A debrief needs a track: export the whole flight.",
        )
    return usable


def _place(path: Path, samples: Samples, index: int) -> Place:
    number = int(samples.line[index])
    return Place(path=path, line=number) if samples.line_counts == "line" else Place(path=path, point=number)


def _shown(name: str) -> str:
    """A file's name as text that can be written anywhere; names need not be text to every system."""
    return os.fsencode(name).decode("utf-8", "replace")


def sha256_of(path: Path) -> str:
    """The SHA-256 of the file's bytes, in hexadecimal digits; read in pieces."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
