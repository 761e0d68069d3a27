"""The flown track as KML 2.2 with the gx extension.

Owns      the folders, styles and elements, and which samples a track in space can hold.
Not here  what is drawn (``flown``).
Source    KML 2.2 (OGC 07-147r2), schemas ogckml22.xsd (2008-01-23) and kml22gx.xsd: elements and their order. Mark:
          seen. ``gx:coord`` is parted by blanks. Mark: seen (2nd hand). Metres above the sea where ``altitudeMode`` is
          ``absolute``. Mark: memory.
"""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from debrief.navigation.units import METRES_PER_FT
from debrief.reports.annotated.flown import FindingPlace, Flown, Line, Piece, Point
from debrief.reports.annotated.texts import for_xml
from debrief.reports.style import LIMIT, NOMINAL_LOOK, OUTSIDE_LOOK, PHASE_LOOKS, SOFT, Look

if TYPE_CHECKING:
    from lxml import etree

_KML, _GX = "http://www.opengis.net/kml/2.2", "http://www.google.com/kml/ext/2.2"
_ENOUGH = 0.5  # share of a piece's samples with an altitude from which it is drawn in space


def kml_bytes(track: Flown) -> bytes:
    """A document with a folder for the procedure, one for each attempt and what lies between, one for the findings.

    A piece is a ``gx:Track``. In one with altitudes, a sample without has no place and is left out; where most have none
    the piece lies on the ground, without altitudes.
    """
    from lxml import etree

    spaces = {None: _KML, "gx": _GX}
    root = etree.Element(f"{{{_KML}}}kml", nsmap=spaces)  # type: ignore[arg-type]  # the stubs know no default space
    document = _add(root, "Document")
    _add(document, "name", track.title)
    left_out = sum(int(np.isnan(p.altitude_ft).sum()) for p in track.pieces if _in_space(p))
    note = f" {left_out:,} of them have no altitude and are left out here." if left_out else ""
    _add(document, "description", track.about + note)
    for name, look in {**PHASE_LOOKS, "outside": OUTSIDE_LOOK, "procedure": NOMINAL_LOOK}.items():
        _style(document, name, look)
    _marker_style(document, "point", SOFT)
    _marker_style(document, "finding", LIMIT)
    procedure = _folder(document, "Procedure")
    for line in track.lines:
        _line(procedure, line)
    for point in track.points:
        _point(procedure, point)
    for attempt, pieces in groupby(track.pieces, key=lambda piece: piece.attempt):
        folder = _folder(document, track.attempts[attempt - 1] if attempt else OUTSIDE_LOOK.name)
        for piece in pieces:
            _piece(folder, piece)
    placed = [place for place in track.findings if place.latitude_deg is not None]
    if placed:
        folder = _folder(document, "Findings")
        for place in placed:
            _finding(folder, place)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)


def _add(parent: etree._Element, name: str, text: str | None = None, space: str = _KML) -> etree._Element:
    from lxml import etree

    element = etree.SubElement(parent, f"{{{space}}}{name}")
    if text is not None:
        element.text = for_xml(text)
    return element


def _folder(document: etree._Element, name: str) -> etree._Element:
    folder = _add(document, "Folder")
    _add(folder, "name", name)
    return folder


def _colour(web: str) -> str:
    """A colour as KML writes it: opacity, blue, green, red.

    >>> _colour("#0072b2")
    'ffb27200'
    """
    return f"ff{web[5:7]}{web[3:5]}{web[1:3]}"


def _style(document: etree._Element, name: str, look: Look) -> None:
    """A line; the icon that a program moves along a track, and its name, are not shown."""
    style = _add(document, "Style")
    style.set("id", name)
    for part in ("IconStyle", "LabelStyle"):
        _add(_add(style, part), "scale", "0")
    line = _add(style, "LineStyle")
    _add(line, "color", _colour(look.colour))
    _add(line, "width", f"{look.width_pt:g}")


def _marker_style(document: etree._Element, name: str, colour: str) -> None:
    style = _add(document, "Style")
    style.set("id", name)
    icon = _add(style, "IconStyle")
    _add(icon, "color", _colour(colour))
    _add(icon, "scale", "0.8")


def _placemark(folder: etree._Element, name: str, description: str, style: str) -> etree._Element:
    placemark = _add(folder, "Placemark")
    _add(placemark, "name", name)
    if description:
        _add(placemark, "description", description)
    _add(placemark, "styleUrl", f"#{style}")
    return placemark


def _line(folder: etree._Element, line: Line) -> None:
    geometry = _add(_placemark(folder, line.name, "", "procedure"), "LineString")
    _add(geometry, "tessellate", "1")
    pairs = zip(line.longitude_deg.tolist(), line.latitude_deg.tolist(), strict=True)
    _add(geometry, "coordinates", " ".join(f"{lon:.7f},{lat:.7f}" for lon, lat in pairs))


def _point(folder: etree._Element, point: Point) -> None:
    geometry = _add(_placemark(folder, point.name, "", "point"), "Point")
    _add(geometry, "coordinates", f"{point.longitude_deg:.7f},{point.latitude_deg:.7f}")


def _finding(folder: etree._Element, place: FindingPlace) -> None:
    """Without a time: a program with a time slider would hide it."""
    finding = place.finding
    when = f" ({place.time:%H:%M:%SZ})" if place.time is not None else ""
    placemark = _placemark(
        folder, place.name, f"{finding.message} {finding.advice}".strip() + when, "finding"
    )
    geometry = _add(placemark, "Point")
    spot = f"{place.longitude_deg:.7f},{place.latitude_deg:.7f}"
    if place.altitude_ft is not None:
        _add(geometry, "altitudeMode", "absolute")
        spot += f",{place.altitude_ft * METRES_PER_FT:.2f}"
    _add(geometry, "coordinates", spot)


def _in_space(piece: Piece) -> bool:
    return bool(np.isfinite(piece.altitude_ft).mean() >= _ENOUGH)


def _piece(folder: etree._Element, piece: Piece) -> None:
    placemark = _placemark(folder, piece.name, "", piece.phase or "outside")
    geometry = _add(placemark, "Track", space=_GX)
    in_space = _in_space(piece)
    _add(geometry, "altitudeMode", "absolute" if in_space else "clampToGround")
    rows = [
        (stamp, lon, lat, altitude_ft * METRES_PER_FT)
        for stamp, lon, lat, altitude_ft in zip(
            piece.stamps,
            piece.longitude_deg.tolist(),
            piece.latitude_deg.tolist(),
            piece.altitude_ft.tolist(),
            strict=True,
        )
        if not in_space or np.isfinite(altitude_ft)
    ]
    for stamp, *_ in rows:
        _add(geometry, "when", stamp)
    for _, lon, lat, altitude_m in rows:
        _add(
            geometry, "coord", f"{lon:.7f} {lat:.7f}" + (f" {altitude_m:.2f}" if in_space else ""), space=_GX
        )
