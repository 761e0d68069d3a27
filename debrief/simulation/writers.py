"""Writing a simulated log as a file, in the ways that real recorders do.

Owns      GPX through gpxpy, and CSV in any layout.
Not here  what the recorder saw (``sensor``), which logs come with the project (``samples``).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from debrief.tracks.model import Track

METRES_PER_FT = 0.3048

#: What a cell shows, from the track and the number of the sample.
Cell = Callable[[Track, int], str]


def write_gpx(track: Track, path: str | Path, *, name: str, description: str) -> None:
    """Write the track as GPX 1.1; a new part is a new segment. The same track gives the same bytes."""
    import gpxpy.gpx

    gpx = gpxpy.gpx.GPX()
    gpx.creator = "debrief simulation"
    gpx.name, gpx.description = name, description
    line = gpxpy.gpx.GPXTrack(name=name, description=description)
    gpx.tracks.append(line)
    part: float | None = None
    for number in range(len(track)):
        if track.part[number] != part:
            part = track.part[number]
            segment = gpxpy.gpx.GPXTrackSegment()
            line.segments.append(segment)
        altitude_ft = track.altitude_ft[number]
        segment.points.append(
            gpxpy.gpx.GPXTrackPoint(
                latitude=round(float(track.latitude_deg[number]), 7),
                longitude=round(float(track.longitude_deg[number]), 7),
                elevation=round(float(altitude_ft) * METRES_PER_FT, 1)
                if altitude_ft == altitude_ft
                else None,
                time=track.time_at(float(track.t_s[number])),
            )
        )
    Path(path).write_bytes(gpx.to_xml(version="1.1").encode("utf-8"))


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvLayout:
    """How a CSV file looks: its headings with what stands under them, and its punctuation."""

    columns: tuple[tuple[str, Cell], ...]
    preamble: tuple[str, ...] = ()  # lines above the headings
    delimiter: str = ","
    encoding: str = "utf-8"
    line_end: str = "\n"


def write_csv(track: Track, path: str | Path, layout: CsvLayout) -> None:
    """Write the track as CSV in that layout. The same track gives the same bytes."""
    text = io.StringIO()
    for remark in layout.preamble:
        text.write(remark + layout.line_end)
    rows = csv.writer(text, delimiter=layout.delimiter, lineterminator=layout.line_end)
    rows.writerow([heading for heading, _ in layout.columns])
    for number in range(len(track)):
        rows.writerow([cell(track, number) for _, cell in layout.columns])
    Path(path).write_bytes(text.getvalue().encode(layout.encoding))


def clock(pattern: str) -> Cell:
    """The UTC time of the sample, by ``strftime``."""
    return lambda track, number: _time(track, number).strftime(pattern)


def epoch_milliseconds() -> Cell:
    """Milliseconds since 1970."""
    return lambda track, number: str(round(_time(track, number).timestamp() * 1000))


def number_of(column: str, decimals: int, factor: float = 1.0, *, comma: bool = False) -> Cell:
    """A column of the track times a factor; empty where it has no value."""

    def cell(track: Track, number: int) -> str:
        values = track.columns[column] if column in track.columns else getattr(track, column)
        value = float(values[number])
        if value != value:
            return ""
        text = f"{value * factor:.{decimals}f}"
        return text.replace(".", ",") if comma else text

    return cell


def _time(track: Track, number: int) -> datetime:
    return track.time_at(float(track.t_s[number]))
