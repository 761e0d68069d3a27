"""KML 2.2 and 2.3: its tracks, or else its placemarks with a time.

Owns      which of the two is the flight, which altitudes are heights above the sea, and what is said about the rest.
Not here  the XML (``kml_parse``), what makes a point usable (``samples``), the forms of a time (``stamps``).
Source    KML 2.2 (OGC 07-147r2), schema ogckml22.xsd (2008-01-23): the values of ``altitudeMode``, ``clampToGround`` where
          nothing is said. Mark: seen. Altitudes in metres, ``absolute`` ones above the sea. Mark: memory.
"""

from __future__ import annotations

from array import array
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from debrief.errors import Place, TrackError
from debrief.tracks.model import Floats, Track
from debrief.tracks.readers.kml_parse import MODES, Found, Points, parse
from debrief.tracks.readers.samples import FEET_PER_METRE, Remarks, Samples, Wishes, make_track
from debrief.tracks.readers.several import compare_tracks
from debrief.tracks.readers.sniff import decoded, xml_root
from debrief.tracks.readers.stamps import MISSING
from debrief.tracks.readers.xml_stream import WORTH_KEEPING_S
from debrief.tracks.words import counted

NAME = "kml"
SUFFIXES: tuple[str, ...] = (".kml",)

_ABSOLUTE = MODES.index("absolute")
_CLAMPED = MODES.index("clampToGround")


def looks_like(head: bytes) -> bool:
    """Whether the first element of the text is ``kml``, under any prefix and in any encoding."""
    return xml_root(decoded(head)) == "kml"


def read(path: Path, wishes: Wishes) -> Track:
    """The tracks of a KML file; where it has none, its placemarks with a time.

    Only ``absolute`` altitudes are above the sea. Those that the file itself does not mean (``clampToGround``) are
    taken where ``wishes.altitude_unit`` says what they are; heights above the ground never are. Raises ``TrackError``
    where the file declares entities, has no timed positions, or breaks off within the first minute of flight.
    """
    found = parse(path)
    points = found.in_tracks if len(found.in_tracks) else found.placemarks
    if not len(points):
        _refuse_what_holds_no_track(path, found)
    time_us = points.times.all_us()[: len(points)]  # a file may break off between a time and its position
    _refuse_what_breaks_off(path, found, points, time_us)
    remarks = Remarks()
    if found.ending.reason:
        remarks.note(found.ending.words(len(points)))
    if points.times.without_zone:
        remarks.assume(f"{counted(points.times.without_zone, 'time')} without a zone taken as UTC.")
    if points.times.odd:
        remarks.note(f"Times that cannot be read, the first {points.times.odd[:40]!r}.")
    _say_left_aside(found, points, remarks)
    if found.ending.other_encoding:
        remarks.note("The file is not in the encoding it declares; names may be misspelt.")
    samples = Samples(
        time_us=time_us,
        latitude_deg=np.frombuffer(points.latitude),
        longitude_deg=np.frombuffer(points.longitude),
        altitude_ft=_altitude_ft(points, wishes, remarks),
        part=np.frombuffer(points.part),
        line=np.arange(1.0, len(points) + 1),
        line_counts="point",
        columns={},
    )
    compare_tracks(path, samples, np.frombuffer(points.track), remarks)
    return make_track(path, samples, remarks, format_name=NAME, word="point", altitude_source="unknown")


def _altitude_ft(points: Points, wishes: Wishes, remarks: Remarks) -> Floats:
    metres = _finite(points.altitude_m)
    mode = np.frombuffer(points.mode, dtype=np.int8)
    given = np.nan_to_num(metres) != 0
    meant = mode == _ABSOLUTE
    clamped = given & (mode == _CLAMPED)
    if wishes.altitude_unit is not None and clamped.any():
        meant |= mode == _CLAMPED
        remarks.note(
            "Altitudes that the file does not mean (altitudeMode clampToGround) were taken, as asked."
        )
    elif clamped.any():
        remarks.note(
            f"{counted(clamped.sum(), 'altitude')} left out, which the file itself says to pass over (altitudeMode "
            "clampToGround): --units-altitude m takes them as metres above the sea."
        )
    above_ground = given & (mode != _ABSOLUTE) & (mode != _CLAMPED)
    if above_ground.any():
        remarks.note(
            f"{counted(above_ground.sum(), 'height')} above the ground left out: no altitude follows from them."
        )
    if wishes.altitude_unit == "ft":
        remarks.note("Altitudes were taken as feet, as asked.")
    return np.where(meant, metres * (1.0 if wishes.altitude_unit == "ft" else FEET_PER_METRE), np.nan)


def _finite(values: array[float]) -> Floats:
    numbers = np.frombuffer(values)
    return np.where(np.isfinite(numbers), numbers, np.nan)


def _refuse_what_holds_no_track(path: Path, found: Found) -> None:
    if found.ending.reason:
        raise TrackError(
            f"the XML breaks off before the first position: {found.ending.reason}",
            where=Place(path=path, line=found.ending.line or None),
            remedy="Export the log again.",
        )
    others = [counted(found.counts[key], key) for key in ("line", "placemark") if found.counts[key]]
    if others:
        raise TrackError(
            f"it holds {' and '.join(others)}, but no times",
            where=Place(path=path),
            remedy="Export the track with its times: a drawn line has none.",
        )
    raise TrackError("it holds no track", where=Place(path=path), remedy="Export the track with its times.")


def _refuse_what_breaks_off(path: Path, found: Found, points: Points, time_us: NDArray[np.int64]) -> None:
    timed = time_us[time_us != MISSING]
    flight_s = float(timed.max() - timed.min()) / 1e6 if len(timed) else 0.0
    if found.ending.reason and flight_s < WORTH_KEEPING_S:
        raise TrackError(
            f"the XML breaks off after point {len(points)}: {found.ending.reason}",
            where=Place(path=path, line=found.ending.line or None),
            remedy="Export the log again.",
        )
    if not len(timed):
        odd = f"; the first reads {points.times.odd[:40]!r}" if points.times.odd else ""
        raise TrackError(
            f"none of {counted(len(points), 'point')} has a time that can be read{odd}",
            where=Place(path=path),
            remedy="Export the log with the time of each point.",
        )


def _say_left_aside(found: Found, points: Points, remarks: Remarks) -> None:
    if points is found.in_tracks and len(found.placemarks):
        remarks.note(
            f"{counted(len(found.placemarks), 'placemark')} with a time left aside: the track was read."
        )
    for key in ("line", "placemark"):
        if found.counts[key]:
            remarks.note(f"{counted(found.counts[key], key)} without times left aside.")
