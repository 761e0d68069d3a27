"""The JSON of a GeoJSON file into numbers.

Owns      JSON, and where in a feature its times and altitudes stand.
Not here  what the numbers mean together and what is said about them (``geojson``).
Source    RFC 7946: positions are longitude, latitude and perhaps metres above the WGS84 ellipsoid; no time. Mark: seen
          (2nd hand). Times as a property of the feature: common practice.
"""

from __future__ import annotations

import json
import re
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import isfinite, nan
from pathlib import Path

import numpy as np

from debrief.errors import Place, TrackError
from debrief.tracks.readers.iso_times import IsoTimes
from debrief.tracks.readers.samples import FEET_PER_METRE
from debrief.tracks.readers.sniff import HEAD_BYTES, encoding_of, plain
from debrief.tracks.words import counted

Json = dict[str, "Json"] | list["Json"] | str | float | bool | None

_LARGEST_MB = 64  # a week at 1 Hz; as objects it takes five times that
#: Where times stand, by the property's name in small letters without marks: beside a line, and beside a point.
_LINE_TIMES = ("coordtimes", "times", "timestamps", "datetimes")
_POINT_TIMES = ("time", "timestamp", "datetime", "when", "date", "utc")
_ALTITUDES = {"altitudeft": 1.0, "altitudem": FEET_PER_METRE, "ele": FEET_PER_METRE}  # to feet


@dataclass(slots=True)
class Points:
    """Timed positions, in the order of the file."""

    latitude: array[float] = field(default_factory=lambda: array("d"))
    longitude: array[float] = field(default_factory=lambda: array("d"))
    altitude_ft: array[float] = field(default_factory=lambda: array("d"))
    part: array[float] = field(default_factory=lambda: array("d"))
    track: array[float] = field(default_factory=lambda: array("d"))
    times: IsoTimes = field(default_factory=IsoTimes)
    seconds: array[float] = field(default_factory=lambda: array("d"))  # the times that are numbers
    heights: int = 0  # altitudes that are third numbers of a position

    def __len__(self) -> int:
        return len(self.latitude)


@dataclass(slots=True)
class Found:
    """What a file holds."""

    kind: str  # of the whole document
    lines: Points = field(default_factory=Points)
    points: Points = field(default_factory=Points)
    parts: int = 0
    tracks: int = 0
    untimed_lines: int = 0
    untimed_points: int = 0


def parse(path: Path) -> Found:
    """Every line and point of a GeoJSON file that has times.

    Raises ``TrackError`` where the file is no JSON or no GeoJSON, is too large to be read as a whole, or a line has not as
    many times as positions.
    """
    document = _load(path)
    kind = document.get("type") if isinstance(document, dict) else None
    found = Found(kind=kind if isinstance(kind, str) else "")
    for geometry, properties in _features(document):
        _take(path, found, geometry, properties)
    return found


def _load(path: Path) -> Json:
    if path.stat().st_size > _LARGEST_MB * 1_000_000:
        raise TrackError(
            f"it is larger than {_LARGEST_MB} MB, more than can be read of this format",
            where=Place(path=path),
            remedy="Export the log as GPX or CSV.",
        )
    raw = path.read_bytes()
    try:
        text = raw.decode(encoding_of(raw[:HEAD_BYTES]), "replace").removeprefix("\ufeff").rstrip("\0")
        document: Json = json.loads(text, parse_int=float)
    except json.JSONDecodeError as error:
        raise TrackError(
            f"its JSON cannot be read: {plain(error.msg)} in column {error.colno}",
            where=Place(path=path, line=error.lineno),
            remedy="Export the log again.",
        ) from error
    except RecursionError as error:
        raise TrackError(
            "its JSON is nested too deeply to be a track",
            where=Place(path=path),
            remedy="Export the log again.",
        ) from error
    _refuse_other_coordinates(path, document)
    return document


def _refuse_other_coordinates(path: Path, document: Json) -> None:
    """A member that RFC 7946 removed, by which older files name other coordinates than WGS84."""
    named = document.get("crs") if isinstance(document, dict) else None
    name = json.dumps(named) if named is not None else ""
    if named is not None and not re.search(r"CRS:?84|EPSG:+4326", name):
        raise TrackError(
            f"its coordinates are not WGS84: {plain(name)[:80]}",
            where=Place(path=path),
            remedy="Export the log in WGS84 (EPSG:4326).",
        )


def _features(document: Json) -> Iterator[tuple[Json, dict[str, Json]]]:
    """Every geometry with the properties it belongs to."""
    if not isinstance(document, dict):
        return
    features = document.get("features")
    if isinstance(features, list):
        for feature in features:
            yield from _features(feature)
        return
    properties = document.get("properties")
    named = properties if isinstance(properties, dict) else {}
    geometry = document.get("geometry") if "geometry" in document else document
    several = geometry.get("geometries") if isinstance(geometry, dict) else None
    for each in several if isinstance(several, list) else [geometry]:
        yield each, named


def _take(path: Path, found: Found, geometry: Json, properties: dict[str, Json]) -> None:
    if not isinstance(geometry, dict):
        return
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    if not isinstance(coordinates, list):
        return
    if kind == "Point":
        time = _property(properties, _POINT_TIMES)
        if not isinstance(time, str | float):
            found.untimed_points += 1
            return
        altitude = _property(properties, tuple(_ALTITUDES))
        altitudes = [altitude] if isinstance(altitude, float) else []
        _add(found.points, [coordinates], [time], altitudes, _factor(properties), (0, 0))
    elif kind in ("LineString", "MultiLineString"):
        lines = (
            [coordinates]
            if kind == "LineString"
            else [line for line in coordinates if isinstance(line, list)]
        )
        times = _beside(_property(properties, _LINE_TIMES), lines)
        if times is None:
            found.untimed_lines += 1
            return
        for line, stamps in zip(lines, times, strict=True):
            if len(line) != len(stamps):
                raise TrackError(
                    f"a line has {counted(len(line), 'position')} and {counted(len(stamps), 'time')}, so that it is "
                    "not known which belong together",
                    where=Place(path=path),
                    remedy="Export the log again.",
                )
        nothing: list[list[Json]] = [[] for _ in lines]
        heights = _beside(_property(properties, tuple(_ALTITUDES)), lines) or nothing
        for line, stamps, beside in zip(lines, times, heights, strict=True):
            if len(line) == 2 and line[0] == line[1] and stamps[0] == stamps[1]:
                del line[1], stamps[1], beside[1:]  # a single sample: a line must have two positions
            _add(found.lines, line, stamps, beside, _factor(properties), (found.parts, found.tracks))
            found.parts += 1
        found.tracks += 1


def _add(
    points: Points,
    line: Sequence[Json],
    times: Sequence[Json],
    altitudes: Sequence[Json],
    to_ft: float,
    number: tuple[int, int],
) -> None:
    """Take a line's positions; ``altitudes`` are used where there is one for each."""
    beside = altitudes if len(altitudes) == len(line) else None
    for index, (position, time) in enumerate(zip(line, times, strict=True)):
        numbers = [_number(part) for part in position[:3]] if isinstance(position, list) else []
        longitude, latitude, height_m = (*numbers, nan, nan, nan)[:3]
        points.longitude.append(longitude)
        points.latitude.append(latitude)
        if beside is not None:
            points.altitude_ft.append(_number(beside[index]) * to_ft)
        else:
            points.altitude_ft.append(height_m * FEET_PER_METRE)
            points.heights += isfinite(height_m)
        points.part.append(number[0])
        points.track.append(number[1])
        points.times.add(time.strip() if isinstance(time, str) else "")
        points.seconds.append(_number(time))


def _property(properties: dict[str, Json], names: tuple[str, ...]) -> Json:
    """The first property of one of these names; those of a list for each position may stand one level down."""
    known = {re.sub(r"[^a-z]", "", key.casefold()): value for key, value in properties.items()}
    deeper = known.get("coordinateproperties")
    if isinstance(deeper, dict):
        known |= {re.sub(r"[^a-z]", "", key.casefold()): value for key, value in deeper.items()}
    return next((known[name] for name in names if name in known), None)


def _factor(properties: dict[str, Json]) -> float:
    return next(
        (factor for name, factor in _ALTITUDES.items() if _property(properties, (name,)) is not None), 1.0
    )


def _beside(values: Json, lines: list[list[Json]]) -> list[list[Json]] | None:
    """A list for each line: as it stands, or one list for all of them dealt out. ``None`` where there is none."""
    if not isinstance(values, list) or not values:
        return None
    nested = [value for value in values if isinstance(value, list)]
    if len(nested) == len(values) == len(lines):
        return nested
    if nested:
        return None
    if len(lines) == 1:
        return [values]
    ends = np.cumsum([len(line) for line in lines]).tolist()
    return [values[end - len(line) : end] for end, line in zip(ends, lines, strict=True)]


def _number(value: Json) -> float:
    return float(value) if isinstance(value, float) and isfinite(value) else nan
