"""Text put into a PDF: each letter once looked up, and never shaped again.

Owns      the operators that show one line of text in a PDF, and telling the file which letters of a font it needs.
Not here  widths and kerning (``layout``), where a text stands (``page``), the file itself (matplotlib).

matplotlib shapes a text each time it draws it, and reads each letter from the font's file twice: a millisecond a line,
of which the summary of a thousand flights has ten thousand. What comes of it is the same here, letter by letter, with
the versions of matplotlib whose files are known; with any other it is matplotlib that shows the text.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache
from typing import Any
from unicodedata import bidirectional, category

import matplotlib as mpl
from matplotlib.backends.backend_pdf import Op, Verbatim, pdfRepr

from debrief.reports.fonts import face
from debrief.reports.layout import kerning_em

_THOUSANDTHS = 1000.0  # of the type size: the unit of a shift between two letters in a PDF
_KNOWN = (3, 11)  # versions that embed a letter under its own two bytes
_LAST = "\uffff"  # of the letters that two bytes can tell
_LEFTWARDS = (
    "R",
    "AL",
    "AN",
)  # kinds of letters that are read from the right, some joined to their neighbours
_ALONG, _UPWARDS = (1, 0, 0, 1), (0, 1, -1, 0)


@lru_cache(maxsize=16384)
def showable(text: str) -> bool:
    """Whether ``show`` can show it, and not only matplotlib."""
    return mpl.__version_info__[:2] == _KNOWN and max(text) <= _LAST and all(map(_stands_alone, text))


@cache
def _stands_alone(letter: str) -> bool:
    """Whether it is set after the one before, to its right and in the one shape that it has."""
    return not category(letter).startswith("M") and bidirectional(letter) not in _LEFTWARDS


def embed(renderer: Any, letters: Sequence[str], *, font: str) -> None:
    """Have these letters of the font in the file of ``renderer``, matplotlib's for a page of a PDF."""
    if letters:  # told apart, so that none are joined
        renderer.file._character_tracker.track(face(font), " ".join(letters))


def show(
    renderer: Any, ink: Any, x_pt: float, y_pt: float, text: str, size_pt: float, *, font: str, upright: bool
) -> None:
    """Show one line of embedded letters from a point, counted from the bottom left of the page.

    ``ink`` is what the renderer knows a colour by.
    """
    renderer.check_gc(ink, ink.get_rgb())
    renderer.file.output(
        Op.begin_text,
        renderer.file.fontName(face(font).fname),
        size_pt,
        Op.selectfont,
        *(_UPWARDS if upright else _ALONG),
        x_pt,
        y_pt,
        Op.textmatrix,
        Verbatim(_letters(text, font=font)),
        Op.showkern,
        Op.end_text,
    )


@lru_cache(maxsize=16384)
def _letters(text: str, *, font: str) -> bytes:
    """The text in two bytes a letter, broken where two letters stand closer, or farther apart, than usual."""
    parts: list[bytes | float] = []
    together, before = b"", ""
    for letter in text:
        apart_em = kerning_em(before, letter, font=font) if before else 0.0
        if apart_em:
            parts += [together, -_THOUSANDTHS * apart_em]
            together = b""
        together += letter.encode("utf-16-be")
        before = letter
    operand: bytes = pdfRepr([*parts, together])
    return operand
