"""GeoJSON: lines with a list of times beside them, or points with a time each.

Owns      which of the two is the flight, what its numbers of time are, lines cut at the antimeridian, and what is said
          about the rest.
Not here  the JSON (``geojson_parse``), what makes a point usable (``samples``), the forms of a time (``stamps``).
Source    RFC 7946: heights are metres above the WGS84 ellipsoid; lines that cross the antimeridian are cut in two. Mark:
          seen (2nd hand).
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from debrief.errors import Place, TrackError
from debrief.tracks.model import AltitudeSource, Floats, Track
from debrief.tracks.readers.geojson_parse import Found, Points, parse
from debrief.tracks.readers.samples import FEET_PER_METRE, Remarks, Samples, Wishes, make_track
from debrief.tracks.readers.several import compare_tracks
from debrief.tracks.readers.sniff import decoded
from debrief.tracks.readers.stamps import Ints
from debrief.tracks.words import counted

NAME = "geojson"
SUFFIXES: tuple[str, ...] = (".geojson", ".json")

_KINDS = "FeatureCollection|Feature|GeometryCollection|Point|MultiPoint|LineString|MultiLineString|Polygon|MultiPolygon"
_GEOJSON = re.compile(rf'"type"\s*:\s*"(?:{_KINDS})"')
_MILLISECONDS_FROM = 1e11  # a larger number is milliseconds: as seconds it would be the year 5138
_EARLIEST_S, _LATEST_S = 1e8, 4.1e9  # from 1973 to the end of the century; less counts from somewhere else
_ANTIMERIDIAN_DEG = 180.0


def looks_like(head: bytes) -> bool:
    """Whether the text is a JSON object with a type that GeoJSON knows."""
    text = decoded(head).lstrip()
    return text.startswith("{") and _GEOJSON.search(text) is not None


def read(path: Path, wishes: Wishes) -> Track:
    """The lines of a GeoJSON file that have times; where it has none, its points with a time.

    Times are ISO 8601, or seconds or milliseconds since 1970. A property with the altitudes goes before the third
    number of a position, which counts from the ellipsoid. Raises ``TrackError`` where the file is no JSON, is too large
    to be read as a whole, or holds no timed positions.
    """
    found = parse(path)
    points = found.lines if len(found.lines) else found.points
    if not len(points):
        _refuse_what_holds_no_track(path, found)
    remarks = Remarks()
    time_us = _times_us(points, remarks)
    kept, part = _without_cuts(points, time_us)
    if points is found.lines and len(found.points):
        remarks.note(f"{counted(len(found.points), 'point')} with a time left aside: the line was read.")
    for count, word in ((found.untimed_lines, "line"), (found.untimed_points, "single point")):
        if count:
            remarks.note(f"{counted(count, word)} without times left aside.")
    altitude_ft, source = _altitude(points, wishes, remarks)
    samples = Samples(
        time_us=time_us[kept],
        latitude_deg=np.frombuffer(points.latitude)[kept],
        longitude_deg=np.frombuffer(points.longitude)[kept],
        altitude_ft=altitude_ft[kept],
        part=part[kept],
        line=np.arange(1.0, len(points) + 1)[kept],
        line_counts="point",
        columns={},
    )
    compare_tracks(path, samples, np.frombuffer(points.track)[kept], remarks)
    return make_track(path, samples, remarks, format_name=NAME, word="point", altitude_source=source)


def _times_us(points: Points, remarks: Remarks) -> Ints:
    """Microseconds since 1970, from texts or from numbers."""
    time_us = points.times.all_us()
    if points.times.without_zone:
        remarks.assume(f"{counted(points.times.without_zone, 'time')} without a zone taken as UTC.")
    if points.times.odd:
        remarks.note(f"Times that cannot be read, the first {points.times.odd[:40]!r}.")
    numbers = np.frombuffer(points.seconds)
    if np.isnan(numbers).all():
        return time_us
    in_milliseconds = float(np.nanmedian(np.abs(numbers))) >= _MILLISECONDS_FROM
    seconds = numbers / 1000.0 if in_milliseconds else numbers
    remarks.note(f"Times were read as {'milliseconds' if in_milliseconds else 'seconds'} since 1970, UTC.")
    with np.errstate(invalid="ignore"):
        good = (np.abs(seconds) >= _EARLIEST_S) & (np.abs(seconds) < _LATEST_S)
    return np.where(good, np.round(np.where(good, seconds, 0.0) * 1e6).astype(np.int64), time_us)


def _without_cuts(points: Points, time_us: Ints) -> tuple[NDArray[np.bool_], Floats]:
    """Which positions are samples, and the part of each.

    Where a line ends on the antimeridian and the next begins there, at the same time, one line was cut in two: the two
    points of the cut are no samples, and the parts are one.
    """
    part = np.frombuffer(points.part)
    latitude, longitude = np.frombuffer(points.latitude), np.frombuffer(points.longitude)
    cut = np.nonzero(
        (np.diff(part) != 0)
        & (np.abs(longitude[:-1]) == _ANTIMERIDIAN_DEG)
        & (longitude[1:] == -longitude[:-1])
        & (latitude[1:] == latitude[:-1])
        & (time_us[1:] == time_us[:-1])
    )[0]
    kept = np.ones(len(part), dtype=np.bool_)
    kept[cut] = kept[cut + 1] = False
    return kept, part - np.searchsorted(cut, np.arange(len(part)), side="left")


def _altitude(points: Points, wishes: Wishes, remarks: Remarks) -> tuple[Floats, AltitudeSource]:
    altitude_ft = np.frombuffer(points.altitude_ft)
    if wishes.altitude_unit == "ft" and points.heights:
        altitude_ft = altitude_ft / FEET_PER_METRE
        remarks.note("Altitudes were taken as feet, as asked.")
    if not points.heights:
        return altitude_ft, "unknown"
    remarks.assume(
        "Altitude is the third number of each position, which GeoJSON counts from the ellipsoid: it may be up to 350 ft "
        "from that above the sea. --altitude-offset-ft corrects it where the difference is known."
    )
    return altitude_ft, "ellipsoid"


def _refuse_what_holds_no_track(path: Path, found: Found) -> None:
    others = [
        counted(count, word)
        for count, word in ((found.untimed_lines, "line"), (found.untimed_points, "point"))
        if count
    ]
    if others:
        raise TrackError(
            f"it holds {' and '.join(others)}, but no times",
            where=Place(path=path),
            remedy="Export the track with the time of each position, as a property coordTimes for example.",
        )
    raise TrackError(
        f"it is a {found.kind} without a line or a point"
        if found.kind in _KINDS.split("|")
        else "it is no GeoJSON",
        where=Place(path=path),
        remedy="Export the log with positions and times.",
    )
