"""The flown track as GeoJSON.

Owns      the features and their properties, and lines cut at the antimeridian.
Not here  what is drawn (``flown``).
Source    RFC 7946: positions are longitude, latitude; a third number would count from the ellipsoid, so that altitudes
          above the sea stand in a property beside the times. Mark: seen (2nd hand). Lines across the antimeridian are
          cut in two: section 3.1.9. Mark: memory. ``coordTimes``, ``stroke``, ``marker-color``, ``title`` and
          ``description``: common practice, which most maps know.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.reports.annotated.flown import FindingPlace, Floats, Flown, Line, Piece
from debrief.reports.style import LIMIT, SOFT, Look

Json = dict[str, "Json"] | list["Json"] | str | float | None

_HALF_TURN_DEG = 180.0
_DECIMALS = 7  # of degrees
_FT_DECIMALS = 1


@dataclass(frozen=True, slots=True, eq=False)
class _Cut:
    """A line as the pieces on either side of the antimeridian; one where it does not cross it."""

    longitude_deg: list[Floats]
    latitude_deg: list[Floats]
    time: list[NDArray[np.datetime64]]
    altitude_ft: list[Floats]


def geojson_bytes(track: Flown) -> bytes:
    """A feature collection: the procedure, the track piece by piece, the findings. UTF-8, one feature a line."""
    features = [
        *(_line(line) for line in track.lines),
        *(
            _feature({"type": "Point", "coordinates": [p.longitude_deg, p.latitude_deg]},
                     {"kind": "procedure point", "title": p.name, "marker-color": SOFT, "marker-size": "small"})
            for p in track.points
        ),
        *(_piece(piece) for piece in track.pieces),
        *(_finding(place) for place in track.findings),
    ]  # fmt: skip
    head = {"type": "FeatureCollection", "name": track.title, "description": track.about}
    opening = json.dumps(head, ensure_ascii=False)[:-1]
    lines = ",\n".join(json.dumps(feature, ensure_ascii=False, allow_nan=False) for feature in features)
    return f'{opening}, "features": [\n{lines}\n]}}\n'.encode()


def _feature(geometry: Json, properties: dict[str, Json]) -> Json:
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def _stroke(look: Look) -> dict[str, Json]:
    return {"stroke": look.colour, "stroke-width": look.width_pt, "stroke-opacity": 1.0}


def _line(line: Line) -> Json:
    nothing = np.full(len(line.latitude_deg), np.nan)
    cut = _cut(line.latitude_deg, line.longitude_deg, np.zeros(len(nothing), "datetime64[ms]"), nothing)
    properties: dict[str, Json] = {"kind": "procedure", "title": line.name}
    return _feature(_geometry(cut), properties | _stroke(line.look))


def _piece(piece: Piece) -> Json:
    # a line has two positions
    there = np.arange(len(piece.time)) if len(piece.time) > 1 else np.zeros(2, np.int64)
    cut = _cut(
        piece.latitude_deg[there], piece.longitude_deg[there], piece.time[there], piece.altitude_ft[there]
    )
    times: list[Json] = [_texts(part) for part in cut.time]
    altitudes: list[Json] = [_numbers(part) for part in cut.altitude_ft]
    properties: dict[str, Json] = {
        "kind": "track",
        "title": piece.name,
        "phase": piece.phase or None,
        "attempt": piece.attempt or None,
        "start": piece.stamps[0],
        "end": piece.stamps[-1],
    }
    properties |= _stroke(piece.look)
    properties["coordTimes"] = times if len(times) > 1 else times[0]
    properties["altitude_ft"] = altitudes if len(altitudes) > 1 else altitudes[0]
    return _feature(_geometry(cut), properties)


def _finding(place: FindingPlace) -> Json:
    finding = place.finding
    geometry: Json = None
    if place.longitude_deg is not None and place.latitude_deg is not None:
        geometry = {"type": "Point", "coordinates": [place.longitude_deg, place.latitude_deg]}
    return _feature(
        geometry,
        {
            "kind": "finding",
            "title": place.name,
            "description": f"{finding.message} {finding.advice}".strip(),
            "attempt": place.attempt,
            "number": finding.number,
            "rule": finding.rule,
            "phase": finding.phase,
            "verdict": finding.verdict,
            "value": _known(finding.value),
            "limit": _known(finding.limit),
            "unit": finding.unit,
            "at": f"{place.time:%Y-%m-%dT%H:%M:%SZ}" if place.time is not None else None,
            "marker-color": LIMIT,
        },
    )


def _known(value: float | None) -> float | None:
    return float(value) if value is not None and np.isfinite(value) else None


def _texts(time: NDArray[np.datetime64]) -> list[Json]:
    return [f"{text}Z" for text in np.datetime_as_string(time, unit="ms").tolist()]


def _numbers(values: Floats) -> list[Json]:
    rounded = np.round(values, _FT_DECIMALS)
    return [value if value == value else None for value in rounded.tolist()]  # nan is not itself


def _geometry(cut: _Cut) -> Json:
    lines: list[Json] = [
        np.column_stack([longitude, latitude]).tolist()
        for longitude, latitude in zip(cut.longitude_deg, cut.latitude_deg, strict=True)
    ]
    if len(lines) == 1:
        return {"type": "LineString", "coordinates": lines[0]}
    return {"type": "MultiLineString", "coordinates": lines}


def _cut(latitude: Floats, longitude: Floats, time: NDArray[np.datetime64], altitude_ft: Floats) -> _Cut:
    """Cut where a step crosses the antimeridian: a point on it ends one line, its twin begins the next.

    The point is where a straight step crosses it, at the time and altitude of an even one.
    """
    crossings = np.nonzero(np.abs(np.diff(longitude)) > _HALF_TURN_DEG)[0]
    cut = _Cut([], [], [], [])
    head: tuple[float, float, np.datetime64, float] | None = None
    start = 0
    for end in [*(crossings + 1).tolist(), len(longitude)]:
        tail = None
        if end < len(longitude):
            side = float(np.copysign(_HALF_TURN_DEG, longitude[end - 1]))
            onward = longitude[end] + 2.0 * side  # the step without its jump
            step = onward - longitude[end - 1]
            share = float((side - longitude[end - 1]) / step) if step else 0.0
            tail = (
                side,
                round(float(latitude[end - 1] + share * (latitude[end] - latitude[end - 1])), _DECIMALS),
                time[end - 1]
                + np.timedelta64(round(share * int((time[end] - time[end - 1]).astype(int))), "ms"),
                float(altitude_ft[end - 1] + share * (altitude_ft[end] - altitude_ft[end - 1])),
            )
        ends = ([head] if head else [], [tail] if tail else [])
        for columns, values, index in (
            (cut.longitude_deg, longitude, 0),
            (cut.latitude_deg, latitude, 1),
            (cut.time, time, 2),
            (cut.altitude_ft, altitude_ft, 3),
        ):
            before = np.array([point[index] for point in ends[0]], dtype=values.dtype)
            behind = np.array([point[index] for point in ends[1]], dtype=values.dtype)
            columns.append(np.concatenate([before, values[start:end], behind]))
        head = (-tail[0], *tail[1:]) if tail else None
        start = end
    return cut
