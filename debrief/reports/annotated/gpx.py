"""The flown track as GPX 1.1.

Owns      the track, routes and waypoints, and what their fields hold.
Not here  what is drawn (``flown``).
Source    GPX 1.1 schema (Topografix, 2004): ``ele`` in metres, times in UTC, -180 <= longitude < 180; a new ``trkseg``
          where reception was lost. Mark: seen (wording); ranges memory.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from debrief.navigation.units import METRES_PER_FT
from debrief.reports.annotated.flown import FindingPlace, Flown, Piece
from debrief.reports.annotated.texts import for_xml

if TYPE_CHECKING:
    from gpxpy.gpx import GPXTrack, GPXWaypoint


def gpx_bytes(track: Flown) -> bytes:
    """A ``trk`` named for its phase for each piece, findings and points as ``wpt``, the procedure's lines as ``rte``."""
    import gpxpy.gpx as model

    document = model.GPX()
    document.creator = for_xml(track.program)
    document.name = for_xml(track.title)
    document.description = for_xml(track.about)
    document.time = track.start
    for point in track.points:
        document.waypoints.append(
            model.GPXWaypoint(
                point.latitude_deg, point.longitude_deg, name=for_xml(point.name), type="procedure"
            )
        )
    document.waypoints += [_finding(place) for place in track.findings if place.latitude_deg is not None]
    for line in track.lines:
        route = model.GPXRoute(name=for_xml(line.name))
        route.type = "procedure"
        route.points = [
            model.GPXRoutePoint(lat, lon)
            for lat, lon in zip(line.latitude_deg.tolist(), line.longitude_deg.tolist(), strict=True)
        ]
        document.routes.append(route)
    document.tracks = [_piece(piece) for piece in track.pieces]
    text: str = document.to_xml(version="1.1", prettyprint=True)
    return f"{text}\n".encode()


def _finding(place: FindingPlace) -> GPXWaypoint:
    import gpxpy.gpx as model

    finding = place.finding
    return model.GPXWaypoint(
        place.latitude_deg,
        place.longitude_deg,
        elevation=_metres(place.altitude_ft),
        time=place.time,
        name=for_xml(place.name),
        description=for_xml(f"{finding.message} {finding.advice}".strip()),
        type="finding",
    )


def _metres(altitude_ft: float | None) -> float | None:
    if altitude_ft is None or not np.isfinite(altitude_ft):
        return None
    return round(altitude_ft * METRES_PER_FT, 2)


def _piece(piece: Piece) -> GPXTrack:
    import gpxpy.gpx as model

    named = model.GPXTrack(name=piece.name)
    named.type = "flown"  # type: ignore[assignment]  # the library's hint allows nothing but None
    points = [
        model.GPXTrackPoint(lat, lon, elevation=_metres(altitude_ft), time=time)
        for lat, lon, altitude_ft, time in zip(
            piece.latitude_deg.tolist(),
            piece.longitude_deg.tolist(),
            piece.altitude_ft.tolist(),
            piece.moments,
            strict=True,
        )
    ]
    named.segments.append(model.GPXTrackSegment(points))
    return named
