"""Legends: every line and sign that a picture holds, in words, wrapped under it.

Owns      ``draw_legend``.
Not here  the looks (``style``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from debrief.language import tr
from debrief.reports.layout import Rect, width_pt
from debrief.reports.page import Page
from debrief.reports.style import INK, LINE_LOOKS, PAPER_WHITE, REFERENCE_LOOK, SMALL_PT, SOFT, Look
from debrief.result import Attempt

Sign = Literal["line", "minute", "change", "finding", "gap", "limit"]

_SAMPLE_PT = 24.0
_GAP_PT = 12.0
_PITCH_PT = 11.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One sign and its meaning; a line has a look."""

    text: str
    sign: Sign = "line"
    look: Look | None = None


def phase_entries(phases: Sequence[str]) -> list[Entry]:
    """The lines of the phases that were flown, each once, in the order flown."""
    looks = [LINE_LOOKS[phase] for phase in dict.fromkeys(phases)]
    return [Entry(tr(look.name), look=look) for look in looks]


def reference_entries(attempt: Attempt) -> list[Entry]:
    """The line of the errorless flight, where there is one."""
    if attempt.reference is None:
        return []
    still = attempt.reference.wind_speed_kt is None
    return [
        Entry(tr("Without error, in still air") if still else tr(REFERENCE_LOOK.name), look=REFERENCE_LOOK)
    ]


def _rows(entries: Sequence[Entry], room_pt: float) -> list[list[tuple[float, Entry]]]:
    rows: list[list[tuple[float, Entry]]] = [[]]
    x = 0.0
    for entry in entries:
        wide = _SAMPLE_PT + 4.0 + width_pt(entry.text, SMALL_PT)
        if rows[-1] and x + wide > room_pt:
            rows.append([])
            x = 0.0
        rows[-1].append((x, entry))
        x += wide + _GAP_PT
    return rows


def legend_height(entries: Sequence[Entry], room_pt: float) -> float:
    """The paper a legend takes [pt]."""
    return len(_rows(entries, room_pt)) * _PITCH_PT


def draw_legend(page: Page, box: Rect, entries: Sequence[Entry]) -> None:
    """Draw the entries in rows from the top of the box."""
    for number, row in enumerate(_rows(entries, box.width)):
        y = box.top + (number + 0.5) * _PITCH_PT
        for x, entry in row:
            _sample(page, box.left + x, y, entry)
            page.text(box.left + x + _SAMPLE_PT + 4.0, y + 0.36 * SMALL_PT, entry.text, SMALL_PT, colour=SOFT)


def _sample(page: Page, x: float, y: float, entry: Entry) -> None:
    middle, end = x + _SAMPLE_PT / 2, x + _SAMPLE_PT
    if entry.look is not None:
        look = entry.look
        page.line([x, end], [y, y], colour=look.colour, width=look.width_pt, dashes=look.dashes)
    elif entry.sign == "gap":
        page.hatch(Rect(x, y - 3.5, end, y + 3.5), colour=SOFT, pitch_pt=4.0)
    elif entry.sign == "limit":
        page.line([x, end], [y - 2, y - 2], width=1.0)
        page.segments([(at, y - 2, at - 3, y + 2) for at in range(round(x) + 3, round(end), 4)], width=0.5)
    elif entry.sign == "finding":
        page.circle(middle, y, 4.0, fill=PAPER_WHITE, edge=INK, width=0.9)
    else:
        half, width = (3.0, 0.6) if entry.sign == "minute" else (5.0, 1.2)
        page.line([x, end], [y, y], colour=SOFT, width=1.2)
        page.segments([(middle, y - half, middle, y + half)], width=width)
