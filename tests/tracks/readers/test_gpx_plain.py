"""The plainest GPX is read fast: the same as the parser finds, and everything less plain is left to the parser."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from debrief.tracks.readers import gpx_parse
from debrief.tracks.readers.gpx_parse import Found
from debrief.tracks.readers.gpx_plain import parse_plain
from debrief.tracks.readers.xml_stream import parsed_as_its_bytes_are

SAMPLES = Path(__file__).parents[3] / "sample_tracks"
COLUMNS = ("latitude", "longitude", "elevation_m", "speed_m_s", "course_deg", "line", "part", "track")
PLAIN = (SAMPLES / "lantern-clean.gpx").read_bytes()


def fast(path: Path) -> Found | None:
    return parse_plain(path, lambda content: gpx_parse._parse_as(path, None, content))


def slow(path: Path) -> Found:
    return parsed_as_its_bytes_are(path, gpx_parse._parse_as)


def assert_same(one: Found, other: Found) -> None:
    for name in COLUMNS:
        here, there = (np.array(getattr(found, name)) for found in (one, other))
        assert np.array_equal(here, there, equal_nan=True), name
    assert np.array_equal(one.times.all_us(), other.times.all_us())
    assert one.times.without_zone == other.times.without_zone
    assert one.times.odd == other.times.odd
    assert (one.counts, one.version, one.parts) == (other.counts, other.version, other.parts)
    assert one.ending == other.ending


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.gpx")), ids=lambda path: path.stem)
def test_a_plain_file_is_read_as_the_parser_reads_it(path: Path) -> None:
    found = fast(path)

    assert found is not None
    assert_same(found, slow(path))


CHANGES: dict[str, tuple[Callable[[bytes], bytes], bool | None]] = {  # None: either way will do
    "on one line": (lambda text: b"".join(line.strip() for line in text.splitlines()), True),
    "with carriage returns": (lambda text: text.replace(b"\n", b"\r\n"), True),
    "with blank lines before it": (lambda text: b"\n\n" + text, True),
    "in another encoding": (lambda text: text.replace(b"UTF-8", b"ISO-8859-1"), True),
    "with a time without a zone": (lambda text: text.replace(b":10:00Z<", b":10:00<"), True),
    "with a time that is none": (lambda text: text.replace(b":10:00Z<", b":99:00Z<"), True),
    "with a waypoint before the track": (
        lambda text: text.replace(b"<trk>", b'<wpt lat="1" lon="2"><ele>3</ele></wpt><trk>', 1),
        True,
    ),
    "with a second segment": (lambda text: _between(text, b"</trkseg><trkseg>"), False),
    "with a comment between two points": (lambda text: _between(text, b"<!-- here -->"), False),
    "with a speed": (lambda text: text.replace(b"</time>", b"</time><speed>50</speed>", 1), False),
    "with text between two points": (lambda text: _between(text, b"lost"), False),
    "with a point without elevation": (lambda text: text.replace(b"<ele>1310.6</ele>", b"", 1), None),
    "with a decimal comma": (lambda text: text.replace(b'lat="47.', b'lat="47,', 1), False),
    "with longitude first": (
        lambda text: text.replace(b'lat="', b'LAT="').replace(b'lon="', b'lat="').replace(b'LAT="', b'lon="'),
        False,
    ),
    "cut off in a point": (lambda text: text[: len(text) // 2], False),
    "cut off behind a point": (lambda text: text[: text.rindex(b"</trkpt>") + len(b"</trkpt>")], False),
    "with points inside a comment": (lambda text: _commented(text), False),
}


def _between(text: bytes, what: bytes) -> bytes:
    at = text.index(b"</trkpt>", len(text) // 2) + len(b"</trkpt>")
    return text[:at] + what + text[at:]


def _commented(text: bytes) -> bytes:
    start, end = text.index(b"<trkpt"), text.rindex(b"</trkpt>") + len(b"</trkpt>")
    return text[:start] + b"<!--" + text[start:end] + b"-->" + text[end:]


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_is_less_plain_is_read_the_same(change: str, tmp_path: Path) -> None:
    edit, plain = CHANGES[change]
    path = tmp_path / "log.gpx"
    path.write_bytes(edit(PLAIN))

    found = fast(path)

    if plain is not None:
        assert (found is not None) is plain
    if found is not None:
        assert_same(found, slow(path))
    assert_same(gpx_parse.parse(path), slow(path))


def test_a_document_type_is_refused_all_the_same(tmp_path: Path) -> None:
    from debrief.errors import TrackError

    path = tmp_path / "log.gpx"
    path.write_bytes(PLAIN.replace(b"<gpx", b'<!DOCTYPE gpx [<!ENTITY a "b">]><gpx', 1))

    with pytest.raises(TrackError, match="document type"):
        gpx_parse.parse(path)
