"""Which files there are besides the report, what they are called, and what it takes to write them.

Owns      ``annotated_files``: the bytes of each file by its ending; what is missing for one, said before any work.
Not here  what stands in the files (one module a format), writing them (``reports.files``).
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from importlib.util import find_spec
from typing import Literal, get_args

from debrief.errors import OutputError
from debrief.reports.annotated.flown import Flown, flown
from debrief.reports.annotated.geojson import geojson_bytes
from debrief.reports.annotated.gpx import gpx_bytes
from debrief.reports.annotated.kml import kml_bytes
from debrief.reports.annotated.samples import samples_csv, samples_parquet
from debrief.result import Result

Format = Literal["geojson", "kml", "gpx", "csv", "parquet"]
FORMATS: tuple[Format, ...] = get_args(Format)

_TRACKS: dict[Format, Callable[[Flown], bytes]] = {
    "geojson": geojson_bytes,
    "kml": kml_bytes,
    "gpx": gpx_bytes,
}
_TABLES: dict[Format, Callable[[Result], bytes]] = {"csv": samples_csv, "parquet": samples_parquet}


def formats_from(words: Iterable[str]) -> tuple[Format, ...]:
    """The formats that were asked for, each once: names, or several of them with commas between.

    Raises
    ------
    OutputError
        Where there is no such format, or a library that it takes is not installed.

    >>> formats_from(["gpx,csv", "gpx"])
    ('gpx', 'csv')
    """
    found: list[Format] = []
    for word in (word for several in words for word in several.split(",")):
        name = word.strip().casefold()
        known = next((format_ for format_ in FORMATS if format_ == name), None)
        if known is None:
            near = difflib.get_close_matches(name, FORMATS, n=1)
            raise OutputError(
                f"there is no file of the kind {word.strip()!r}",
                remedy=f"Did you mean {near[0]}?" if near else f"Known are {', '.join(FORMATS)}.",
            )
        if known == "parquet" and find_spec("pyarrow") is None:
            raise OutputError(
                "Parquet takes the library pyarrow, which is not installed",
                remedy="Install debrief[parquet], or ask for csv.",
            )
        if known not in found:
            found.append(known)
    return tuple(found)


def annotated_files(result: Result, formats: Iterable[Format]) -> dict[str, bytes]:
    """The content of each file by the ending of its name, ``.track.gpx`` for example; the same result, the same bytes.

    Raises ``DebriefError`` for a result without its flight, as one read from a file is.
    """
    contents: dict[str, bytes] = {}
    track: Flown | None = None
    for format_ in formats:
        if format_ in _TRACKS:
            track = track or flown(result)
            contents[f".track.{format_}"] = _TRACKS[format_](track)
        else:
            contents[f".samples.{format_}"] = _TABLES[format_](result)
    return contents
