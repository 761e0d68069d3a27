"""The strip of instrument pictures: what the pilot saw at the moments that matter.

Owns      where each picture, its figures and its sentences stand.
Not here  the pictures (``instruments``), the words (``readings``), the moments (measures.shown).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from debrief.language import tr
from debrief.procedures.model import Procedure
from debrief.reports.flow import Flow, titled
from debrief.reports.instruments import TYPE_PT, draw_missing, draw_needle, draw_pointer
from debrief.reports.layout import Rect, wrapped
from debrief.reports.page import Page
from debrief.reports.readings import by_guidance, figures, sentences, title
from debrief.reports.style import INK, LEADING, SOFT, TABLE_PT
from debrief.reports.words import clock
from debrief.result import Attempt, Shown

_COLUMNS = 4
_GAP_PT = 11.0
_NEEDLE_PT, _POINTER_PT = 64.0, 88.0  # height of a picture
_TITLE_PT = TYPE_PT + 0.6
_PITCH_PT = TYPE_PT * LEADING


@dataclass(frozen=True, slots=True)
class _Cell:
    """One moment, its lines already broken."""

    shown: Shown
    title: list[str]
    figures: list[str]
    text: list[str]
    picture_pt: float
    guided: bool  # by another needle than the station's

    @property
    def height_pt(self) -> float:
        lines = len(self.title) + len(self.figures) + len(self.text)
        return lines * _PITCH_PT + self.picture_pt + 14.0


def shown_part(
    flow: Flow,
    name: str,
    attempt: Attempt,
    procedure: Procedure,
    since: Callable[[datetime], str],
    zero_name: str,
) -> None:
    """Set the strip of an attempt; nothing where its moments are not known."""
    if not attempt.shown:
        return
    pointer = procedure.station.is_ndb
    width = (flow.width - _GAP_PT * (_COLUMNS - 1)) / _COLUMNS
    cells = [_cell(entry, attempt, procedure, since, width) for entry in attempt.shown]
    rows = [cells[at : at + _COLUMNS] for at in range(0, len(cells), _COLUMNS)]
    flow.heading(titled(name, tr("what the pilot saw")), keep_pt=40.0 + max(c.height_pt for c in rows[0]))
    flow.paragraph(_about(attempt, zero_name, pointer=pointer), size_pt=TABLE_PT, colour=SOFT)
    flow.space(4.0)
    for row in rows:
        box = flow.picture(max(cell.height_pt for cell in row))
        for number, cell in enumerate(row):
            left = box.left + number * (width + _GAP_PT)
            _draw(flow.page, Rect(left, box.top, left + width, box.bottom), cell, pointer=pointer)


def _about(attempt: Attempt, zero_name: str, *, pointer: bool) -> str:
    if pointer:
        what = tr(
            "The black arrow points to the station; the dashed line is the course that should be "
            "flown, towards its ring. The card has the nose at its top where the heading is known "
            "(logged, or from the wind), else north."
        )
        reasons = dict.fromkeys(entry.heading_why for entry in attempt.shown if entry.heading_why)
        if reasons:
            what += " " + tr("Heading not known: {reasons}.", reasons="; ".join(reasons))
    else:
        what = tr(
            "The bar stands on the side where the selected course lies; each dot is a fifth of full "
            "scale, the ring its middle. The course is the one that should be set there: at the turn "
            "at the station already the next leg's, at the turn off still the outbound one."
        )
    how = tr(
        "As an ideal receiver would show it at the place flown over; the aircraft's own may have been off by some "
        "degrees. Times: from {moment} (min:s), and UTC.",
        moment=zero_name,
    )
    return f"{what} {how}"


def _cell(
    shown: Shown, attempt: Attempt, procedure: Procedure, since: Callable[[datetime], str], width: float
) -> _Cell:
    guided = by_guidance(shown, procedure)
    pointer = procedure.station.is_ndb and not guided
    tall = _POINTER_PT if pointer else _NEEDLE_PT
    name = wrapped(title(shown, attempt, procedure), width, _TITLE_PT, bold=True)
    if shown.time is None:
        return _Cell(
            shown, name, [], wrapped(tr("Not shown: {why}.", why=shown.why), width, TYPE_PT), tall, guided
        )
    lines = (
        f"{since(shown.time)}, {clock(shown.time)} UTC",
        figures(shown, has_dme=procedure.station.has_dme),
    )
    return _Cell(
        shown,
        name,
        [piece for line in lines for piece in wrapped(line, width, TYPE_PT, bold=True)],
        wrapped(sentences(shown, attempt, procedure), width, TYPE_PT),
        tall,
        guided,
    )


def _draw(page: Page, box: Rect, cell: _Cell, *, pointer: bool) -> None:
    y = box.top + TYPE_PT
    for line in cell.title:
        page.text(box.left, y, line, _TITLE_PT, bold=True)
        y += _PITCH_PT
    picture = Rect(box.left, y - TYPE_PT + 3.0, box.right, y - TYPE_PT + 3.0 + cell.picture_pt)
    if cell.shown.time is None:
        draw_missing(page, picture)
    elif pointer and not cell.guided:
        draw_pointer(page, picture, cell.shown)
    else:
        draw_needle(page, picture, cell.shown, guided=cell.guided)
    y = picture.bottom + 3.0 + TYPE_PT
    for line in cell.figures:
        page.text(box.left, y, line, TYPE_PT, colour=INK, bold=True)
        y += _PITCH_PT
    for line in cell.text:
        page.text(box.left, y, line, TYPE_PT, colour=INK)
        y += _PITCH_PT
