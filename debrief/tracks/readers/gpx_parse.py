"""The XML of a GPX file into numbers, in bounded memory.

Owns      the elements that are read.
Not here  the parser (``xml_stream``), what the numbers mean together and what is said about them (``gpx``).
"""

from __future__ import annotations

import re
from array import array
from collections import Counter
from dataclasses import dataclass, field
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, cast

from debrief.tracks.readers.gpx_plain import parse_plain
from debrief.tracks.readers.iso_times import IsoTimes
from debrief.tracks.readers.samples import refuse_too_many
from debrief.tracks.readers.xml_stream import Ending, parsed_as_its_bytes_are, stream

if TYPE_CHECKING:
    from lxml import etree

_PARTS = ("gpx", "trkpt", "trkseg", "trk", "wpt", "rtept")
_CHILDREN = ("ele", "time", "speed", "course", "geoidheight", "fix", "extensions")
# An extension whose schema states the units: speed in m/s, course in degrees true. Mark: memory.
_EXTENSION_WITH_UNITS = re.compile(r"\{[^}]*/TrackPointExtension/v2\}(speed|course)$")


@dataclass(slots=True)
class Found:
    """What was read so far: numbers, and counts of what is worth saying."""

    latitude: array[float] = field(default_factory=lambda: array("d"))
    longitude: array[float] = field(default_factory=lambda: array("d"))
    elevation_m: array[float] = field(default_factory=lambda: array("d"))
    speed_m_s: array[float] = field(default_factory=lambda: array("d"))
    course_deg: array[float] = field(default_factory=lambda: array("d"))
    line: array[float] = field(default_factory=lambda: array("d"))
    part: array[float] = field(default_factory=lambda: array("d"))
    track: array[float] = field(default_factory=lambda: array("d"))
    times: IsoTimes = field(default_factory=IsoTimes)
    geoid_m: array[float] = field(default_factory=lambda: array("d"))
    parts: int = 0  # segments and tracks that were closed
    counts: Counter[str] = field(default_factory=Counter)
    version: str = ""
    ending: Ending = field(default_factory=Ending)

    def __len__(self) -> int:
        return len(self.latitude)


def parse(path: Path) -> Found:
    """The points of a GPX file. Raises ``TrackError`` where it declares entities."""
    plain = parse_plain(path, lambda content: _parse_as(path, None, content))
    return plain if plain is not None else parsed_as_its_bytes_are(path, _parse_as)


def _parse_as(path: Path, encoding: str | None, content: bytes | None = None) -> Found:
    found = Found()
    kinds: dict[object, str] = {}

    def take(element: etree._Element) -> None:
        _take(element, found, kinds)
        refuse_too_many(path, len(found))

    def begin(root: etree._Element) -> None:
        found.version = root.get("version", "")
        namespace = root.tag.rpartition("}")[0]
        kinds.update({f"{namespace}}}{name}" if namespace else name: name for name in _PARTS})

    found.ending = stream(
        path,
        _PARTS,
        begin=begin,
        take=take,
        whole="trkpt",
        encoding=encoding,
        content=content,
    )
    if found.ending.blank_lines:
        found.line = array("d", (line + found.ending.blank_lines for line in found.line))
    return found


def _take(element: etree._Element, found: Found, kinds: dict[object, str]) -> None:
    """Read one finished element."""
    name = kinds.get(element.tag) or _learn(element.tag, kinds)
    if name != "trkpt":
        found.counts[name] += 1
        if name in ("trkseg", "trk"):
            found.parts += 1
        return
    elevation_m = speed_m_s = course_deg = nan
    time = ""
    for child in element:
        kind = kinds.get(child.tag) or _learn(child.tag, kinds)
        if kind == "time":
            time = (child.text or "").strip()
        elif kind == "ele":
            elevation_m = _number(child.text, found)
        elif kind == "speed":
            speed_m_s = _number(child.text, found)
            found.counts["direct speed"] += 1
        elif kind == "course":
            course_deg = _number(child.text, found)
        elif kind == "extensions":
            speed_m_s, course_deg = _extensions(child, found, speed_m_s, course_deg)
        elif kind == "geoidheight":
            found.geoid_m.append(_number(child.text, found))
        elif kind == "fix" and (child.text or "").strip() == "none":
            found.counts["no fix"] += 1
    found.latitude.append(_number(element.get("lat"), found))
    found.longitude.append(_number(element.get("lon"), found))
    found.elevation_m.append(elevation_m)
    found.speed_m_s.append(speed_m_s)
    found.course_deg.append(course_deg)
    found.line.append(cast("int | None", element.sourceline) or 0)
    found.part.append(found.parts)
    found.track.append(found.counts["trk"])
    found.times.add(time)


def _learn(tag: object, kinds: dict[object, str]) -> str:
    """What a child of a point is, in any namespace: its local name, where we read it. Looked up once a tag."""
    name = tag.rpartition("}")[2] if isinstance(tag, str) else ""
    kinds[tag] = name if name in _CHILDREN else "other"
    return kinds[tag]


def _extensions(
    extensions: etree._Element, found: Found, speed_m_s: float, course_deg: float
) -> tuple[float, float]:
    """Speed and course out of an extension whose schema states their units; others are only counted."""
    for child in extensions.iter():
        if not isinstance(child.tag, str):
            continue
        known = _EXTENSION_WITH_UNITS.search(child.tag)
        if known is None:
            if child.tag.rpartition("}")[2].casefold() in ("speed", "course", "heading"):
                found.counts["unclear extension"] += 1
        elif known[1] == "speed":
            speed_m_s = _number(child.text, found)
        else:
            course_deg = _number(child.text, found)
    return speed_m_s, course_deg


def _number(text: str | None, found: Found) -> float:
    try:
        return float(text or "nan")
    except ValueError:
        return _careful(text or "", found)


def _careful(text: str, found: Found) -> float:
    """A number written with a decimal comma, against the schema; ``nan`` where it is no number at all."""
    try:
        number = float(text.replace(",", ".", 1))
    except ValueError:
        return nan
    found.counts["comma"] += 1
    return number
