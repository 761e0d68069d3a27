"""XML files in pieces, in bounded memory: the finished elements of some names, one after the other.

Owns      how XML is parsed and freed, damaged and misdeclared XML, what is refused in it.
Not here  any format: what the elements mean (``gpx_parse``, ``kml_parse``).
Safety    No entity is resolved, no other file or address is opened, a document type is refused.
"""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Protocol, TypeVar, cast

from debrief.errors import Place, TrackError
from debrief.tracks.readers.sniff import HEAD_BYTES, encoding_of, plain
from debrief.tracks.words import counted

if TYPE_CHECKING:
    from lxml import etree

    Element = etree._Element

_IN_PLAIN_WORDS = {  # what libxml2 says in its own terms
    "xmlParseEntityRef: no name": "an & that stands for nothing, which XML writes as &amp;",
    "EntityRef: expecting ';'": "an & that stands for nothing, which XML writes as &amp;",
    "Excessive depth in document": "its elements lie more than 256 deep in one another",
}
WORTH_KEEPING_S = 60.0  # a file that breaks off is used where it holds at least this much flight

_PIECE = 65_536  # bytes given to the parser at a time; what is finished is freed after each
_LONGEST_ELEMENT_MB = 8  # of one tag, text or point, which the parser keeps in memory until it ends
_UNBOUND_PREFIX = 201  # libxml2: XML_NS_ERR_UNDEFINED_NAMESPACE
_WRONG_ENCODING = (9, 81)  # libxml2: XML_ERR_INVALID_CHAR, XML_ERR_INVALID_ENCODING
# XML allows none; a power cut leaves zeros
_NO_CONTROLS = bytes(b if b in b"\t\n\r" or b >= 32 else 32 for b in range(256))


@dataclass(slots=True)
class Ending:
    """How the parsing of a file ended."""

    reason: str = ""  # why the XML ends early; "" where it does not
    code: int = 0
    line: int = 0
    unread: float = 0.0  # share of the file behind the break
    other_encoding: bool = False  # the bytes were read as another encoding than the file declares
    blank_lines: int = 0  # before the XML begins: the parser does not count them

    def words(self, points: int) -> str:
        """For a note: where the file breaks off, and how much of it was read."""
        rest = (
            f"; {self.unread:.0%} of the file lies behind that and was not read"
            if self.unread >= 0.01
            else ""
        )
        return (
            f"The file breaks off in line {self.line} ({self.reason}): "
            f"only the {counted(points, 'point')} before that {'was' if points == 1 else 'were'} read{rest}."
        )


class Parsed(Protocol):
    """What a format's parser makes of a file."""

    ending: Ending

    def __len__(self) -> int:
        """How many points were found."""
        ...


P = TypeVar("P", bound=Parsed)


def parsed_as_its_bytes_are(path: Path, parse: Callable[[Path, str | None], P]) -> P:
    """Parse as the file says (``None``); where its encoding is not what it says, once more as what its bytes are."""
    found = parse(path, None)
    if not found.ending.reason or (len(found) and found.ending.code not in _WRONG_ENCODING):
        return found
    with path.open("rb") as file:
        encoding = encoding_of(file.read(HEAD_BYTES))
    again = parse(path, "cp1252" if len(found) else encoding)
    if (len(again), not again.ending.reason) <= (len(found), False):
        return found
    again.ending.other_encoding = True
    return again


def stream(
    path: Path,
    names: Iterable[str],
    *,
    take: Callable[[Element], None],
    begin: Callable[[Element], None] | None = None,
    whole: str | None = None,
    encoding: str | None = None,
    content: bytes | None = None,
) -> Ending:
    """Parse a file, and hand over its finished elements.

    Parameters
    ----------
    names : the local names of the elements that are handed over, in any namespace.
    take : called with each finished element; it is freed some time afterwards.
    begin : called once, with the root before its content is read.
    whole : the local name of elements whose children must stay until ``take`` has seen them.
    encoding : what the bytes are, where the file is not to be believed.
    content : parsed in place of the file's bytes.

    Raises ``TrackError`` where the file declares a document type or entities, or one element fills the memory.
    """
    from lxml import etree

    ending = Ending()
    size = path.stat().st_size if content is None else len(content)
    parser = etree.XMLPullParser(
        events=("start", "end"),
        tag=[f"{{*}}{name}" for name in names],
        encoding="utf-8" if encoding else None,  # the pieces are then made so
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    root: Element | None = None
    kept = 0
    with path.open("rb") if content is None else BytesIO(content) as file:
        pieces = _pieces(file, encoding)
        piece, ending.blank_lines = _beginning(next(pieces))
        while True:
            try:
                if piece:
                    parser.feed(piece)
                else:
                    parser.close()
            except etree.XMLSyntaxError as error:
                _note_break(path, ending, error, b"" if root is not None else piece)
                ending.unread = 1 - file.tell() / size
            events = cast("Iterable[tuple[str, Element]]", parser.read_events())
            finished = False
            for event, element in events:
                if event == "end":
                    take(element)
                    finished = True
                elif root is None:
                    root = element
                    declared = element.getroottree().docinfo.internalDTD is not None
                    _refuse_document_type(path, declared=declared)
                    if begin is not None:
                        begin(element)
            half_read = root is None or b"<" not in piece or _free(root, whole)
            kept = kept + len(piece) if half_read and not finished else 0
            if not piece or ending.reason:
                return ending
            if kept > _LONGEST_ELEMENT_MB * 1_000_000:
                raise TrackError(
                    f"one of its elements is longer than {_LONGEST_ELEMENT_MB} MB, which none of a log is",
                    where=Place(path=path),
                    remedy="Export the log again.",
                )
            piece = next(pieces)


def local_name(element: Element) -> str:
    """The name of an element without its namespace; "" for what is no element."""
    tag: object = element.tag  # of a comment it is a function, whatever the type stubs say
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


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


def _note_break(path: Path, ending: Ending, error: etree.XMLSyntaxError, head: bytes) -> None:
    code = getattr(error, "code", 0)  # the type stubs do not know it
    if code == _UNBOUND_PREFIX:  # a prefix nobody declared, told at the end of a file that was read whole
        return
    _refuse_document_type(path, declared=b"<!ENTITY" in head or b"<!DOCTYPE" in head)
    ending.code = code or 0
    ending.line = (error.lineno or 0) + ending.blank_lines
    said = plain(error.msg or "not well-formed").partition(", line ")[0].rstrip(". ")
    ending.reason = next((told for begins, told in _IN_PLAIN_WORDS.items() if said.startswith(begins)), said)


def _refuse_document_type(path: Path, *, declared: bool) -> None:
    if declared:
        raise TrackError(
            "it declares a document type or entities, which a log has no need of and which is not read",
            where=Place(path=path),
            remedy="Remove the <!DOCTYPE ...> from the file, or export the log again.",
        )


def _free(root: Element, whole: str | None) -> bool:
    """Drop every finished element. What is still open is the last of its siblings, all the way down.

    Returns whether something was kept that may be half read.
    """
    node = root
    while len(node):
        del node[:-1]
        node = node[-1]
        if whole is not None and local_name(node) == whole:
            return True
    return False
