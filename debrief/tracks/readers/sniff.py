"""What a file is, told from its first bytes and never from its name.

Owns      text or not, its encoding, the root of an XML document, and plain words for what is not a log.
Not here  the choice of a reader (``registry``).
"""

from __future__ import annotations

import codecs
import re

HEAD_BYTES = 262_144  # what a sniffer may look at

_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_TAR, _TAR_FROM = b"ustar", 257  # an archive of files as they are, which reads as text for the most part
_BINARY = (
    (b"\x1f\x8b", "a gzip archive", True),
    (b"PK\x03\x04", "a zip archive or a spreadsheet", True),
    (b"PK\x05\x06", "an empty zip archive", True),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", True),
    (b"BZh", "a bzip2 archive", True),
    (b"\xfd7zXZ", "an xz archive", True),
    (b"\x28\xb5\x2f\xfd", "a zstd archive", True),
    (b"Rar!", "a rar archive", True),
    (b"\x89PNG", "a PNG image", False),
    (b"\xff\xd8\xff", "a JPEG image", False),
    (b"GIF8", "a GIF image", False),
    (b"RIFF", "a picture or a sound", False),
    (b"BM", "a bitmap image", False),
    (b"II*\x00", "a TIFF image", False),
    (b"MM\x00*", "a TIFF image", False),
    (b"%PDF", "a PDF document", False),
    (b"SQLite format 3", "a database", False),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet or document", False),
    (b"PAR1", "a Parquet table", False),
    (b"\x7fELF", "a program", False),
    (b"MZ", "a program", False),
)
_PROLOG = re.compile(
    r"(?:\s+|<\?.*?\?>|<!--.*?-->|<!DOCTYPE[^\[>]*(?:\[.*?\]\s*)?>)*", re.DOTALL | re.IGNORECASE
)
_ROOT = re.compile(r"<(?:[\w.-]+:)?([\w.-]+)")
_WEB = re.compile(r"<!doctype\s+html\b", re.IGNORECASE)
_IGC = re.compile(r"\s*A[A-Z0-9]{3}.*\n(?:.*\n)*?H[A-Z]DTE")
_IGC_FIX = re.compile(r"\d{6}\d{7}[NS]\d{8}[EW][AV][-\d]\d{4}[-\d]\d{4}")  # after its B
_TEXT_CONTROLS = re.compile(r"[\x01-\x08\x0e-\x1f]")


def encoding_of(head: bytes) -> str:
    """The text encoding by its mark, by the zeros of two-byte text, by validity; Windows-1252 at the last."""
    for mark, name in _MARKS:
        if head.startswith(mark):
            return name
    sample = head[:4096]
    if len(sample) >= 4:
        even, odd = sample[0::2].count(0), sample[1::2].count(0)
        half = len(sample) // 2
        if odd > half * 0.4 and even < half * 0.1:
            return "utf-16-le"
        if even > half * 0.4 and odd < half * 0.1:
            return "utf-16-be"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)  # a letter cut off at the end is no error
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def decoded(head: bytes) -> str:
    """The first bytes as text, without a byte order mark; what does not fit is replaced."""
    text = codecs.getincrementaldecoder(encoding_of(head))("replace").decode(head)
    return text.removeprefix("\ufeff")


def xml_root(text: str) -> str | None:
    """The local name of the first element; None where the text is not XML."""
    start = _PROLOG.match(text)
    root = _ROOT.match(text, start.end() if start else 0)
    return root[1] if root else None


def is_igc(text: str) -> bool:
    """Whether the text has an IGC file's first line and date, or one of its fixes at the head of a line."""
    lines = "\n" + text.replace("\r", "\n")
    return _IGC.match(lines) is not None or any(map(_IGC_FIX.match, lines.split("\nB")[1:]))


def is_text(head: bytes) -> bool:
    """Whether the bytes are text: none of the marks of a binary file, hardly a control character."""
    if any(head.startswith(mark) for mark, _, _ in _BINARY if mark not in (b"BM", b"MZ")):
        return False
    text = decoded(head)
    zeros = text.rstrip("\0").count("\0")  # a recorder that lost its power leaves zeros at the end
    return len(_TEXT_CONTROLS.findall(text)) + zeros <= len(text) // 200


def kind_of(head: bytes) -> tuple[str, str]:
    """In plain words what a file that no reader knows seems to be, and what to do about it."""
    for mark, name, packed in _BINARY:
        if head.startswith(mark) and (len(mark) > 2 or packed or not is_text(head)):
            return name, "Unpack it and give the log inside." if packed else "Give the log itself."
    if head[_TAR_FROM:].startswith(_TAR):
        return "a tar archive", "Unpack it and give the log inside."
    if not is_text(head):
        return "binary data, not text", "Export the log as GPX or CSV."
    text = decoded(head).lstrip()
    if not text.rstrip("\0"):
        return "blank", "Export the log again."
    root = xml_root(text)
    if _WEB.match(text) or (root or "").casefold() in ("html", "head", "body"):
        return "a web page", "Download the log itself: the page may have asked to sign in."
    if root is not None:
        return f"an XML document whose root is <{root[:40]}>, not <gpx>", "Export the log as GPX or CSV."
    if text[0] in "{[":
        return "JSON", "Export the log as GPX or CSV."
    if re.match(r"[$!][A-Z]{5},", text):
        return "a stream of receiver sentences", "Convert it to GPX."
    if is_igc(text):
        return "an IGC log", "Give it as it came out of the recorder."
    return "text without columns", "Export the log as GPX or CSV."


def plain(text: str) -> str:
    """Someone else's text, fit for one line of a message: no control characters, not too long."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    return clean if len(clean) <= 120 else f"{clean[:117]}..."
