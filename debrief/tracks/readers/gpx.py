"""GPX 1.0 and 1.1: the track points of a file, in its order, in bounded memory.

Owns      the units of what is read, what is said about it, and when a file that breaks off is worth reading.
Not here  the XML (``gpx_parse``), what makes a point usable (``samples``), the forms of a time (``stamps``).
Source    GPX 1.1 schema (Topografix, 2004): ``lat``/``lon`` in degrees WGS84, ``ele`` in metres, ``time`` in
          UTC, a new ``trkseg`` where reception was lost. Mark: seen (wording); children and ranges memory.
          GPX 1.0 schema (2002): ``course`` in degrees true and ``speed`` in m/s under ``trkpt``. Mark: seen
          (2nd hand).
"""

from __future__ import annotations

from array import array
from math import nan
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from debrief.errors import Place, TrackError
from debrief.tracks.model import Floats, Track
from debrief.tracks.readers.gpx_parse import Found, parse
from debrief.tracks.readers.samples import (
    FEET_PER_METRE,
    KNOTS_PER_METRE_A_SECOND,
    Remarks,
    Samples,
    Wishes,
    make_track,
)
from debrief.tracks.readers.several import compare_tracks
from debrief.tracks.readers.sniff import decoded, xml_root
from debrief.tracks.readers.stamps import MISSING
from debrief.tracks.readers.xml_stream import WORTH_KEEPING_S
from debrief.tracks.words import counted

NAME = "gpx"
SUFFIXES: tuple[str, ...] = (".gpx",)


def looks_like(head: bytes) -> bool:
    """Whether the first element of the text is ``gpx``, under any prefix and in any encoding."""
    return xml_root(decoded(head)) == "gpx"


def read(path: Path, wishes: Wishes) -> Track:
    """The track points of a GPX file. Routes and waypoints are left aside.

    ``ele`` is taken as metres, unless ``wishes.altitude_unit`` says feet. A time without a zone is taken as
    UTC, and said. Raises ``TrackError`` where the file is no GPX, declares entities, has no usable points, or
    breaks off within the first minute of flight.
    """
    found = parse(path)
    time_us = found.times.all_us()
    _refuse_what_holds_no_track(path, found, time_us)
    remarks = Remarks()
    _say(found, remarks)
    if wishes.altitude_unit == "ft":
        remarks.note("Elevations were taken as feet, as asked.")
    lines = np.frombuffer(found.line)
    on_one_line = bool((lines == lines[0]).all())
    samples = Samples(
        time_us=time_us,
        latitude_deg=np.frombuffer(found.latitude),
        longitude_deg=np.frombuffer(found.longitude),
        altitude_ft=_finite(found.elevation_m) * (1.0 if wishes.altitude_unit == "ft" else FEET_PER_METRE),
        part=np.frombuffer(found.part),
        line=np.arange(1.0, len(lines) + 1) if on_one_line else lines,
        line_counts="point" if on_one_line else "line",
        columns={
            "groundspeed_kt": _finite(found.speed_m_s) * KNOTS_PER_METRE_A_SECOND,
            "ground_track_true_deg": _finite(found.course_deg) % 360,
        },
    )
    compare_tracks(path, samples, np.frombuffer(found.track), remarks)
    return make_track(path, samples, remarks, format_name=NAME, word="point", altitude_source="gps")


def _finite(values: array[float]) -> Floats:
    numbers = np.frombuffer(values)
    return np.where(np.isfinite(numbers), numbers, nan)


def _refuse_what_holds_no_track(path: Path, found: Found, time_us: NDArray[np.int64]) -> None:
    timed = time_us[time_us != MISSING]
    flight_s = float(timed.max() - timed.min()) / 1e6 if len(timed) else 0.0
    count = len(time_us)
    if found.ending.reason and flight_s < WORTH_KEEPING_S:
        raise TrackError(
            f"the XML breaks off {f'after point {count}' if count else 'before the first track point'}: "
            f"{found.ending.reason}",
            where=Place(path=path, line=found.ending.line or None),
            remedy="Export the log again.",
        )
    if count:
        if not len(timed):
            odd = f"; the first reads {found.times.odd[:40]!r}" if found.times.odd else ""
            raise TrackError(
                f"none of {counted(count, 'track point')} has a time that can be read{odd}",
                where=Place(path=path),
                remedy="Export the log with its times: a drawn route has none.",
            )
        return
    others = [
        counted(found.counts[tag], word)
        for tag, word in (("rtept", "route point"), ("wpt", "waypoint"))
        if found.counts[tag]
    ]
    raise TrackError(
        f"it holds {' and '.join(others)} but no track" if others else "it holds no track points",
        where=Place(path=path),
        remedy="Export the track that was recorded, with its times.",
    )


def _say(found: Found, remarks: Remarks) -> None:
    """The notes about a whole file, the weightiest first."""
    counts = found.counts
    if found.ending.reason:
        remarks.note(found.ending.words(len(found)))
    if found.times.without_zone:
        remarks.assume(
            f"{counted(found.times.without_zone, 'time')} without a zone taken as UTC, as GPX asks for."
        )
    if found.times.odd:
        remarks.note(f"Times that cannot be read, the first {found.times.odd[:40]!r}.")
    if counts["comma"]:
        remarks.note(f"{counted(counts['comma'], 'number')} written with a decimal comma.")
    if counts["direct speed"] and not found.version.startswith("1.0"):
        remarks.assume("The points have a speed outside GPX 1.1: taken as metres a second, as in GPX 1.0.")
    if counts["unclear extension"]:
        remarks.note("Speeds or courses in extensions were left out: no schema states their units.")
    geoid_m = np.array(found.geoid_m)
    if np.isfinite(geoid_m).any():
        remarks.note(
            f"The file gives the geoid's height ({np.nanmedian(geoid_m):.0f} m above the ellipsoid); "
            "elevations were taken as they stand."
        )
    for key, text in (
        ("no fix", "marked as without a fix were kept"),
        ("wpt", "left aside"),
        ("rtept", "left aside"),
    ):
        word = {"no fix": "point", "wpt": "waypoint", "rtept": "route point"}[key]
        if counts[key]:
            remarks.note(f"{counted(counts[key], word)} {text}.")
    if found.ending.other_encoding:
        remarks.note("The file is not in the encoding it declares; names may be misspelt.")
