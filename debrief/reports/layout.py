"""Text measured and broken into lines, so that nothing is clipped and nothing overlaps.

Owns      the widths of text, line breaks, rectangles of paper.
Not here  the fonts (``fonts``), ink (``page``), running on over pages (``flow``), what the text says.

A width is the sum of the letters' advances in the font that is embedded, and of the kerning that sets some of them
farther apart. That which brings letters closer is left out, so a measured line always fits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import groupby, pairwise
from unicodedata import normalize

from matplotlib.ft2font import Kerning, LoadFlags

from debrief.reports.fonts import face, font_for

NO_LETTER = "□"  # printed for a letter that no font has
SOFT_HYPHEN = "\u00ad"  # where a long word may be broken; not printed
_UNITS = frozenset({"NM", "ft", "kt", "ft/min", "s", "min", "hPa", "%", "DME", "UTC", "degrees", "Grad"})
ELLIPSIS = "…"


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle on a page, in points from the top left corner."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Its width [pt]."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Its height [pt]."""
        return self.bottom - self.top

    def inset(self, by_pt: float) -> Rect:
        """The rectangle within, ``by_pt`` from each side."""
        return Rect(self.left + by_pt, self.top + by_pt, self.right - by_pt, self.bottom - by_pt)

    def meet(self, other: Rect) -> Rect:
        """What both cover; of no size where they are apart."""
        left, top = max(self.left, other.left), max(self.top, other.top)
        return Rect(
            left, top, max(left, min(self.right, other.right)), max(top, min(self.bottom, other.bottom))
        )

    def overlaps(self, other: Rect) -> bool:
        """Whether both cover some paper."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


@cache
def _advance_em(letter: str, *, bold: bool) -> float:
    path = font_for(letter, bold=bold)
    assert path is not None, "only what is printable is measured"
    letters = face(path)
    return float(letters.load_char(ord(letter), flags=LoadFlags.NO_SCALE).horiAdvance) / letters.units_per_EM


@cache
def kerning_em(left: str, right: str, *, font: str) -> float:
    """By how much of the type size two letters of a font stand farther apart than usual; closer negative."""
    letters = face(font)
    first, second = letters.get_char_index(ord(left)), letters.get_char_index(ord(right))
    return letters.get_kerning(first, second, Kerning.UNSCALED) / letters.units_per_EM


@lru_cache(maxsize=65536)
def _set_apart_em(left: str, right: str, *, bold: bool) -> float:
    path = font_for(left, bold=bold)
    return kerning_em(left, right, font=path) if path and path == font_for(right, bold=bold) else 0.0


@cache
def _known(letter: str) -> bool:
    return font_for(letter, bold=False) is not None


@lru_cache(maxsize=4096)
def printable(text: str) -> str:
    """The text on one line, with a box for what no font prints; a letter and its accent as one letter."""
    words = normalize("NFC", " ".join(text.replace(SOFT_HYPHEN, "").split()))
    return "".join(letter if _known(letter) else NO_LETTER for letter in words)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Letters of a text that one font prints, and where they begin, of the type size from the text's beginning."""

    text: str
    font: str  # its file
    from_em: float


@lru_cache(maxsize=16384)
def stretches(text: str, *, bold: bool) -> tuple[Stretch, ...]:
    """A printable text, cut where another font goes on."""
    found: list[Stretch] = []
    along_em = 0.0
    for path, letters in groupby(text, lambda letter: font_for(letter, bold=bold)):
        assert path is not None, "only what is printable is set"
        part = "".join(letters)
        found.append(Stretch(part, path, along_em))
        along_em += sum(_advance_em(letter, bold=bold) for letter in part)
        along_em += sum(kerning_em(*pair, font=path) for pair in pairwise(part))
    return tuple(found)


@lru_cache(maxsize=16384)
def width_pt(text: str, size_pt: float, *, bold: bool = False) -> float:
    """How long a line of text is [pt]."""
    letters = printable(text)
    advances_em = sum(_advance_em(letter, bold=bold) for letter in letters)
    return size_pt * (
        advances_em + sum(max(0.0, _set_apart_em(*pair, bold=bold)) for pair in pairwise(letters))
    )


def shortened(text: str, room_pt: float, size_pt: float, *, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits, with an ellipsis."""
    text = printable(text)
    if width_pt(text, size_pt, bold=bold) <= room_pt:
        return text
    while text and width_pt(text + ELLIPSIS, size_pt, bold=bold) > room_pt:
        text = text[:-1].rstrip()
    return text + ELLIPSIS


def wrapped(text: str, room_pt: float, size_pt: float, *, bold: bool = False) -> list[str]:
    """The text in lines no longer than ``room_pt``; a word longer than a line is broken. ``""`` is no line.

    A number and its unit stand on one line where it has room for both.
    """
    lines: list[str] = []
    line = ""
    words = [
        part
        for joined in _joined(text.split())
        for part in ([joined] if width_pt(joined, size_pt, bold=bold) <= room_pt else joined.split())
    ]
    for hyphenated in words:
        word = printable(hyphenated)
        longer = f"{line} {word}" if line else word
        if width_pt(longer, size_pt, bold=bold) <= room_pt:
            line = longer
            continue
        if line:
            lines.append(line)
        *whole, line = _broken(hyphenated, room_pt, size_pt, bold=bold)
        lines.extend(whole)
    return [*lines, line] if line else lines


def _joined(words: Sequence[str]) -> list[str]:
    """The words, a number and the unit after it as one."""
    joined: list[str] = []
    for word in words:
        if joined and joined[-1][-1].isdigit() and word.rstrip(".,;:)") in _UNITS:
            joined[-1] += f" {word}"
        else:
            joined.append(word)
    return joined


def _broken(word: str, room_pt: float, size_pt: float, *, bold: bool) -> list[str]:
    """A word in pieces that fit: at its soft hyphens if that is enough, else anywhere."""
    whole = printable(word)
    if width_pt(whole, size_pt, bold=bold) <= room_pt:
        return [whole]
    *parts, last = word.split(SOFT_HYPHEN)
    hyphened = [*(printable(part) + "-" for part in parts), printable(last)]
    if all(width_pt(part, size_pt, bold=bold) <= room_pt for part in hyphened):
        return hyphened
    word = whole
    pieces = [""]
    for letter in word:
        if pieces[-1] and width_pt(pieces[-1] + letter, size_pt, bold=bold) > room_pt:
            pieces.append("")
        pieces[-1] += letter
    return pieces
