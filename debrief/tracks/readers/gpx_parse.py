"""The XML of a GPX file into numbers, in bounded memory.

Owns      the elements that are read, how they are freed, damaged and misdeclared XML.
Not here  what the numbers mean together and what is said about them (``gpx``).
Safety    No entity is resolved, no other file or address is opened, a document type is refused.
"""

from __future__ import annotations

import codecs
import re
from array import array
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, cast

import numpy as np
from numpy.typing import NDArray

from debrief.errors import Place, TrackError
from debrief.tracks.readers.sniff import HEAD_BYTES, encoding_of, plain
from debrief.tracks.readers.stamps import MINUTE_US, MISSING, YEAR_FIRST, midnight_us, read_stamps

if TYPE_CHECKING:
    from lxml import etree

_PIECE = 65_536  # bytes given to the parser at a time; what is finished is freed after each
_TIMES_AT_ONCE = 20_000
_UNBOUND_PREFIX = 201  # libxml2: XML_NS_ERR_UNDEFINED_NAMESPACE
_WRONG_ENCODING = (9, 81)  # libxml2: XML_ERR_INVALID_CHAR, XML_ERR_INVALID_ENCODING
_NO_CONTROLS = bytes(
    b if b in b"\t\n\r" or b >= 32 else 32 for b in range(256)
)  # XML allows none; a power cut leaves zeros
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
    texts: list[str] = field(default_factory=list)  # times not yet understood
    times_us: list[NDArray[np.int64]] = field(default_factory=list)
    geoid_m: array[float] = field(default_factory=lambda: array("d"))
    parts: int = 0  # segments and tracks that were closed
    counts: Counter[str] = field(default_factory=Counter)
    odd_time: str = ""  # the first that could not be read
    version: str = ""
    break_reason: str = ""  # why the XML ends early
    break_code: int = 0
    break_line: int = 0
    unread: float = 0.0  # share of the file behind the break

    def understand_times(self) -> None:
        """Turn the texts collected into numbers, so that they need not be kept."""
        stamps = read_stamps(self.texts)
        midnight = midnight_us(stamps, "dmy")
        whole = (midnight != MISSING) & (stamps.day_us != MISSING) & (stamps.form == YEAR_FIRST)
        offset_min = np.where(stamps.offset_min == MISSING, 0, stamps.offset_min)
        self.times_us.append(np.where(whole, midnight + stamps.day_us - offset_min * MINUTE_US, MISSING))
        self.counts["times without zone"] += int((whole & (stamps.offset_min == MISSING)).sum())
        if not self.odd_time and not whole.all():
            self.odd_time = next(
                (text for text, w in zip(self.texts, whole, strict=True) if text and not w), ""
            )
        self.texts.clear()


def parse(path: Path) -> Found:
    """Parse as the file says; where its encoding is not what it says, once more as what its bytes are."""
    found = _parse_as(path, None)
    if not found.break_reason or (found.latitude and found.break_code not in _WRONG_ENCODING):
        return found
    with path.open("rb") as file:
        encoding = encoding_of(file.read(HEAD_BYTES))
    again = _parse_as(path, "cp1252" if found.latitude else encoding)
    if (len(again.latitude), not again.break_reason) <= (len(found.latitude), False):
        return found
    again.counts["other encoding"] = 1
    return again


def _parse_as(path: Path, encoding: str | None) -> Found:
    from lxml import etree

    found = Found()
    size = path.stat().st_size
    parser = etree.XMLPullParser(
        events=("start", "end"),
        tag=[f"{{*}}{name}" for name in _PARTS],
        encoding="utf-8" if encoding else None,  # the pieces are then made so
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    root: etree._Element | None = None
    kinds: dict[object, str] = {}
    with path.open("rb") as file:
        pieces = _pieces(file, encoding)
        piece, blank_lines = _beginning(next(pieces))
        while True:
            try:
                if piece:
                    parser.feed(piece)
                else:
                    parser.close()
            except etree.XMLSyntaxError as error:
                _note_break(path, found, error, b"" if root is not None else piece)
                found.break_line += blank_lines
                found.unread = 1 - file.tell() / size
            events = cast("Iterable[tuple[str, etree._Element]]", parser.read_events())
            for event, element in events:
                if event == "end":
                    _take(element, found, kinds)
                elif root is None:
                    root = element
                    _refuse_document_type(
                        path, declared=element.getroottree().docinfo.internalDTD is not None
                    )
                    found.version = element.get("version", "")
                    namespace = element.tag.rpartition("}")[0]
                    kinds |= {f"{namespace}}}{name}" if namespace else name: name for name in _PARTS}
            if root is not None:
                _free(root)
            if not piece or found.break_reason:
                break
            piece = next(pieces)
    found.understand_times()
    if blank_lines:
        found.line = array("d", (line + blank_lines for line in found.line))
    return found


def _pieces(file: BinaryIO, encoding: str | None) -> Iterator[bytes]:
    """The file in pieces, as UTF-8 where its encoding is given; an empty piece comes last."""
    decoder = codecs.getincrementaldecoder(encoding)("replace") if encoding else None
    one_byte: bool | None = None
    while raw := file.read(_PIECE):
        piece = decoder.decode(raw).encode() if decoder else raw
        if one_byte is None:
            one_byte = encoding_of(piece) in ("utf-8", "utf-8-sig", "cp1252")
        if piece:
            yield piece.translate(_NO_CONTROLS) if one_byte else piece
    yield b""


def _beginning(piece: bytes) -> tuple[bytes, int]:
    """The first bytes without blank lines before the XML declaration, and how many those were."""
    bare = piece.removeprefix(codecs.BOM_UTF8)
    text = bare.lstrip(b" \t\r\n")
    return (text, bare[: len(bare) - len(text)].count(b"\n")) if text.startswith(b"<") else (piece, 0)


def _note_break(path: Path, found: Found, error: etree.XMLSyntaxError, head: bytes) -> None:
    code = getattr(error, "code", 0)  # the type stubs do not know it
    if code == _UNBOUND_PREFIX:  # told at the end of a file that was read whole
        found.counts["unbound prefix"] = 1
        return
    _refuse_document_type(path, declared=b"<!ENTITY" in head or b"<!DOCTYPE" in head)
    found.break_code = code or 0
    found.break_line = error.lineno or 0
    found.break_reason = plain(error.msg or "not well-formed").partition(", line ")[0].rstrip(". ")


def _refuse_document_type(path: Path, *, declared: bool) -> None:
    if declared:
        raise TrackError(
            "it declares a document type or entities, which a log has no need of and which is not read",
            where=Place(path=path),
            remedy="Remove the <!DOCTYPE ...> from the file, or export the log again.",
        )


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
    found.texts.append(time)
    if len(found.texts) >= _TIMES_AT_ONCE:
        found.understand_times()


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


def _free(root: etree._Element) -> None:
    """Drop every finished element. What is still open is the last of its siblings, all the way down."""
    node = root
    while len(node):
        del node[:-1]
        node = node[-1]
        if node.tag.rpartition("}")[2] == "trkpt":  # perhaps half read
            break
