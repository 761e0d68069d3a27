"""The XML of a KML file into numbers, in bounded memory.

Owns      which elements hold a place and a time: tracks (``gx:Track``, in KML 2.3 ``Track``) and placemarks.
Not here  the parser (``xml_stream``), what the numbers mean together and what is said about them (``kml``).
Source    KML 2.2 and 2.3 (OGC 07-147r2, 12-007r2). A track is a list of ``when`` and a list of ``coord`` of the same
          length, "longitude latitude altitude" parted by blanks. Mark: seen (2nd hand). A placemark has its time in
          a ``TimeStamp`` or ``TimeSpan``, its place in ``coordinates``: schemas ogckml22.xsd (2008-01-23) and
          kml22gx.xsd. Mark: seen.
"""

from __future__ import annotations

from array import array
from collections import Counter
from dataclasses import dataclass, field
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.errors import Place, TrackError
from debrief.tracks.readers.iso_times import IsoTimes
from debrief.tracks.readers.samples import refuse_too_many
from debrief.tracks.readers.xml_stream import Ending, local_name, parsed_as_its_bytes_are, stream
from debrief.tracks.words import counted

if TYPE_CHECKING:
    from lxml import etree

_NAMES = ("kml", "Placemark", "Track", "MultiTrack", "when", "begin", "coord", "coordinates", "altitudeMode")
_LINES = ("LineString", "LinearRing")
#: What an altitude counts from; the first is meant where the file says nothing.
MODES = ("clampToGround", "relativeToGround", "absolute", "clampToSeaFloor", "relativeToSeaFloor")


@dataclass(slots=True)
class Points:
    """Timed positions, in the order of the file."""

    latitude: array[float] = field(default_factory=lambda: array("d"))
    longitude: array[float] = field(default_factory=lambda: array("d"))
    altitude_m: array[float] = field(default_factory=lambda: array("d"))
    mode: array[int] = field(default_factory=lambda: array("b"))  # index into MODES
    part: array[float] = field(default_factory=lambda: array("d"))
    track: array[float] = field(default_factory=lambda: array("d"))
    times: IsoTimes = field(default_factory=IsoTimes)

    def add(self, place: tuple[float, float, float], mode: int, part: int, track: int) -> None:
        """Take a position; its time is taken apart from it."""
        longitude, latitude, altitude_m = place
        self.latitude.append(latitude)
        self.longitude.append(longitude)
        self.altitude_m.append(altitude_m)
        self.mode.append(mode)
        self.part.append(part)
        self.track.append(track)

    def shorten(self, count: int) -> None:
        """Keep the first positions only; their times are those of the first, too."""
        for column in (self.latitude, self.longitude, self.altitude_m, self.mode, self.part, self.track):
            del column[count:]

    def __len__(self) -> int:
        return len(self.latitude)


@dataclass(slots=True)
class Found:
    """What a file holds."""

    in_tracks: Points = field(default_factory=Points)
    placemarks: Points = field(default_factory=Points)
    counts: Counter[str] = field(default_factory=Counter)
    ending: Ending = field(default_factory=Ending)

    def __len__(self) -> int:
        return len(self.in_tracks) + len(self.placemarks)


def parse(path: Path) -> Found:
    """The timed positions of a KML file. Raises ``TrackError`` where a track's lists differ in length."""
    return parsed_as_its_bytes_are(path, _parse_as)


def _parse_as(path: Path, encoding: str | None) -> Found:
    reading = _Reading(path)
    reading.found.ending = stream(path, _NAMES, take=reading.take, encoding=encoding)
    reading.break_off()
    return reading.found


class _Reading:
    """One file while it is read: what of the open track and placemark is known so far."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.found = Found()
        self.parts = self.tracks = self.folders = 0
        self.timed = 0  # times in tracks
        self.track_starts = 0  # positions before the open track
        self.mode = 0
        self.stamp = ""
        self.place: tuple[float, float, float] | None = None
        self.folder: etree._Element | None = None

    def take(self, element: etree._Element) -> None:
        """Read one finished element."""
        name = local_name(element)
        parent = element.getparent()
        inside = local_name(parent) if parent is not None else ""
        if inside == "Track":
            if name == "when":
                self.found.in_tracks.times.add((element.text or "").strip())
                self.timed += 1
            elif name == "coord":
                self.found.in_tracks.add(_place(element.text or ""), 0, self.parts, self.tracks)
                refuse_too_many(self.path, len(self.found.in_tracks))
        if name == "altitudeMode" and inside in ("Track", "Point"):
            self.mode = _mode(element.text or "")
        elif name == "coordinates":
            if inside == "Point":
                self.place = _place((element.text or "").replace(",", " "))
            elif inside in _LINES:
                self.found.counts["line"] += 1
        elif name in ("when", "begin") and inside in ("TimeStamp", "TimeSpan") and _of_placemark(parent):
            self.stamp = self.stamp or (element.text or "").strip()
        elif name == "Track":
            self._close_track()
            self.tracks += inside != "MultiTrack"
        elif name == "MultiTrack":
            self.tracks += 1
        elif name == "Placemark":
            self._close_placemark(parent)

    def _close_track(self) -> None:
        """A track is whole: as many times as positions, and now it is known what its altitudes count from."""
        points = self.found.in_tracks
        positions, times = len(points) - self.track_starts, self.timed - self.track_starts
        if positions != times:
            raise TrackError(
                f"a track has {counted(times, 'time')} and {counted(positions, 'position')}, so that it is not known "
                "which belong together",
                where=Place(path=self.path),
                remedy="Export the log again.",
            )
        self._end_track(positions)

    def break_off(self) -> None:
        """Where the file breaks off within a track, keep the positions whose times are there."""
        points = self.found.in_tracks
        kept = min(len(points), self.timed)
        points.shorten(kept)
        self._end_track(kept - self.track_starts)

    def _end_track(self, positions: int) -> None:
        self.found.in_tracks.mode[self.track_starts :] = array("b", [self.mode]) * positions
        self.track_starts += positions
        self.parts += 1
        self.mode = 0

    def _close_placemark(self, folder: etree._Element | None) -> None:
        """A placemark's point, where it has a time; those of one folder are one track."""
        if self.place is not None and self.stamp:
            if folder is not self.folder:
                self.folder = folder
                self.folders += 1
            points = self.found.placemarks
            points.times.add(self.stamp)
            points.add(self.place, self.mode, self.folders, self.folders)
            refuse_too_many(self.path, len(points))
        elif self.place is not None:
            self.found.counts["placemark"] += 1
        self.stamp, self.place, self.mode = "", None, 0


def _of_placemark(stamp: etree._Element | None) -> bool:
    """Whether a time is the placemark's own, and not that of a view or a folder."""
    owner = stamp.getparent() if stamp is not None else None
    return owner is not None and local_name(owner) == "Placemark"


def _mode(text: str) -> int:
    """What the altitudes count from; an unknown mode is as good as none."""
    return MODES.index(text.strip()) if text.strip() in MODES else 0


def _place(text: str) -> tuple[float, float, float]:
    """Longitude, latitude and altitude; ``nan`` for each that is not there."""
    parts = text.split()
    numbers = [_number(part) for part in (parts if len(parts) > 1 else text.split(","))[:3]]
    longitude, latitude, altitude_m = (*numbers, nan, nan, nan)[:3]
    return longitude, latitude, altitude_m


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return nan
