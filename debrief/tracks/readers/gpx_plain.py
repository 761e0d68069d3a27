"""The plainest GPX read fast: one segment of points that have latitude, longitude, elevation and time, nothing else.

Owns      ``parse_plain``: the same as the parser finds, or ``None`` where a file is not that plain.
Not here  any other file (``gpx_parse``), what the numbers mean (``gpx``).

Most logs of recorders and simulators are of this kind. Their points are taken apart by one pattern, which must cover
every byte between the first and the last; what stands before, the first and the last point, and what stands behind go
through the parser as a file of their own, so that whatever it would refuse or remark is refused and remarked.
"""

from __future__ import annotations

import re
from array import array
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from debrief.tracks.readers.iso_times import IsoTimes

if TYPE_CHECKING:
    from collections.abc import Callable

    from debrief.tracks.readers.gpx_parse import Found

_LARGEST_BYTES = 16_000_000
_FEWEST = 16
_NUMBER = rb"(-?[0-9]{1,9}(?:\.[0-9]{1,17})?)"
_SPACE = rb"[ \t\r\n]*"
_POINT = re.compile(
    rb'<trkpt lat="' + _NUMBER + rb'" lon="' + _NUMBER + rb'">' + _SPACE
    + rb"<ele>" + _NUMBER + rb"</ele>" + _SPACE + rb"<time>([0-9TZ:.+-]{10,35})</time>" + _SPACE + rb"</trkpt>"
)  # fmt: skip
_PARTS = _POINT.groups + 1
_TAGS = 6  # angle brackets that open one, in a point
_LESS, _NEW_LINE = ord("<"), ord("\n")


def parse_plain(path: Path, parse: Callable[[bytes], Found]) -> Found | None:
    """The points of a plain file; ``None`` where it must be parsed. ``parse`` parses bytes as if they were the file."""
    if path.stat().st_size > _LARGEST_BYTES:
        return None
    content = path.read_bytes()
    start, end = content.find(b"<trkpt "), content.rfind(b"</trkpt>") + len(b"</trkpt>")
    if start < 0 or end <= start:
        return None
    body = content[start:end]
    pieces = _POINT.split(body)
    count = len(pieces) // _PARTS
    if count < _FEWEST or b"".join(pieces[::_PARTS]).strip(b" \t\r\n"):
        return None
    letters = np.frombuffer(body, dtype=np.uint8)
    begins = np.flatnonzero(letters == _LESS)[::_TAGS]
    if len(begins) != count:
        return None
    last = int(begins[-1])
    first_end = body.index(b"</trkpt>") + len(b"</trkpt>")
    found = parse(content[:start] + body[:first_end] + body[last:] + content[end:])
    if len(found) != 2 or found.ending.reason or found.part[0] != found.part[1]:
        return None
    new_lines = np.flatnonzero(letters == _NEW_LINE)
    found.line = array("d", found.line[0] + np.searchsorted(new_lines, begins).astype(np.float64))
    found.latitude, found.longitude, found.elevation_m = (
        array("d", map(float, pieces[at::_PARTS])) for at in (1, 2, 3)
    )
    unknown = array("d", [float("nan")]) * count
    found.speed_m_s, found.course_deg = unknown, array("d", unknown)
    found.part, found.track = (array("d", column[:1]) * count for column in (found.part, found.track))
    found.times = IsoTimes()
    found.times.add_all(b"\n".join(pieces[4::_PARTS]).decode("ascii").split("\n"))
    return found
