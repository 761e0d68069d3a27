"""The fonts of the reports: their own, and what this machine has for letters that their own lack.

Owns      which font prints which letter, the letters of each font.
Not here  widths and lines (``layout``), putting text on paper (``page``, ``pdf_text``).

A name in Chinese or Thai has letters that the reports' own font does not have. They are printed in a font of this
machine that has them, so such a report may differ from one machine to another; every other report does not.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from functools import cache

import matplotlib as mpl
from matplotlib.font_manager import FontProperties, findSystemFonts
from matplotlib.ft2font import FT2Font

_ODD_CUT = re.compile(r"bold|black|heavy|light|thin|italic|oblique|cond|mono|serif", re.IGNORECASE)
_OUTLINES = b"glyf"  # the table of TrueType outlines: a PDF takes no other font as it is
_COLLECTION = b"ttcf"


@cache
def own_font(*, bold: bool) -> str:
    """The file of the reports' own font."""
    # the fonts that come with matplotlib, by file: the same on every machine, and no search through the system
    return os.path.join(
        mpl.get_data_path(), "fonts", "ttf", "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    )


@cache
def font_for(letter: str, *, bold: bool) -> str | None:
    """The file of the font that prints a letter; ``None`` where none does."""
    if not letter.isprintable():
        return None
    for own in (own_font(bold=bold), own_font(bold=False)):
        if face(own).get_char_index(ord(letter)):
            return own
    return next((path for path in _fonts_of_this_machine() if _has(path, letter)), None)


@cache
def face(path: str) -> FT2Font:
    """A font's letters."""
    return FT2Font(path)


@cache
def font(path: str, size_pt: float) -> FontProperties:
    """A font in one size."""
    return FontProperties(fname=path, size=size_pt)


@cache
def _fonts_of_this_machine() -> tuple[str, ...]:
    """Plain cuts first, and of these the biggest file, which has the most letters."""

    def order(path: str) -> tuple[bool, int, str]:
        return bool(_ODD_CUT.search(os.path.basename(path))), -os.path.getsize(path), path

    return tuple(sorted((path for path in findSystemFonts() if os.path.isfile(path)), key=order))


def _has(path: str, letter: str) -> bool:
    """Whether the font has the letter, and can be put into a PDF."""
    try:
        letters = FT2Font(path)  # not kept: a machine has hundreds, and each stays open
    except (OSError, RuntimeError):  # a damaged one
        return False
    return bool(letters.scalable and letters.get_char_index(ord(letter)) and _OUTLINES in _tables(path))


@cache
def _tables(path: str) -> frozenset[bytes]:
    """The names of a font's tables; of a collection's first font."""
    with open(path, "rb") as file:
        head = file.read(16)
        start = int.from_bytes(head[12:16]) if head[:4] == _COLLECTION else 0
        file.seek(start + 4)
        count = int.from_bytes(file.read(2))
        file.seek(start + 12)
        return frozenset(_names(file.read(16 * count)))


def _names(table: bytes) -> Iterator[bytes]:
    for first in range(0, len(table), 16):
        yield table[first : first + 4]
