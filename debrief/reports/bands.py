"""The heads over a chart that runs along the flight: phases by name, findings by number.

Owns      ``phase_bands`` and ``finding_row``.
Not here  the charts below (``profile``, ``strips``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from debrief.reports.layout import Rect, width_pt
from debrief.reports.page import Page, number_radius_pt
from debrief.reports.style import FAINT, INK, PHASE_LOOKS, SMALL_PT, SOFT, WASH

_ROW_PT = 10.5
_BAND_PT = 12.0
_FINDING_ROW_PT = 15.0
_APART_PT = 3.0
_BESIDE_PT = 1.5  # a label from the line down from another
_MANY = 12  # findings: with more, their lines must not hide the charts


@dataclass(frozen=True, slots=True)
class Band:
    """A phase's stretch across the paper."""

    phase: str
    left_pt: float
    right_pt: float
    name: str


def _rows(places: Sequence[tuple[float, float]], left: float, right: float) -> list[tuple[int, float]]:
    """For labels of (centre, width): the row, from the chart upwards, and the left edge of each."""
    ends: list[float] = []  # where each row is taken up to
    found = []
    for centre, wide in places:
        at = min(max(centre - wide / 2, left), max(right - wide, left))
        row = next((number for number, end in enumerate(ends) if at >= end + _APART_PT), len(ends))
        if row == len(ends):
            ends.append(left)
        ends[row] = at + wide
        found.append((row, at))
    return _beside_the_lines(places, found, left, right)


def _beside_the_lines(
    places: Sequence[tuple[float, float]], rows: Sequence[tuple[int, float]], left: float, right: float
) -> list[tuple[int, float]]:
    """The labels moved aside, where there is room, from the lines that come down from those above them."""
    moved = list(rows)
    for index, (centre, wide) in enumerate(places):
        row, at = moved[index]
        lines = [line for (line, _), (above, _) in zip(places, moved, strict=True) if above > row]
        struck = [line for line in lines if at - _BESIDE_PT < line < at + wide + _BESIDE_PT]
        if not struck:
            continue
        level = [(other, *places[n]) for n, (level, other) in enumerate(moved) if level == row and n != index]
        least = max(
            [left, *(line + _BESIDE_PT for line in struck if line <= centre)]
            + [other + its_width + _APART_PT for other, middle, its_width in level if middle < centre]
        )
        most = min(
            [right, *(line - _BESIDE_PT for line in struck if line > centre)]
            + [other - _APART_PT for other, middle, _ in level if middle >= centre]
        )
        if least + wide <= most:
            moved[index] = row, min(max(at, least), most - wide)
    return moved


def _outside(bands: Sequence[Band]) -> list[Band]:
    """The bands too short for their names."""
    return [band for band in bands if width_pt(band.name, SMALL_PT) + 4.0 > band.right_pt - band.left_pt]


def bands_height(bands: Sequence[Band], left: float, right: float) -> float:
    """The paper that the phase heads take [pt]."""
    return _BAND_PT + 2.0 + _ROW_PT * _levels(_places(_outside(bands)), left, right)


def _places(bands: Sequence[Band]) -> list[tuple[float, float]]:
    return [((band.left_pt + band.right_pt) / 2, width_pt(band.name, SMALL_PT)) for band in bands]


def _levels(places: Sequence[tuple[float, float]], left: float, right: float) -> int:
    return max((row for row, _ in _rows(places, left, right)), default=-1) + 1


def phase_bands(page: Page, bands: Sequence[Band], left: float, right: float, bottom: float) -> None:
    """Name each phase above ``bottom``: in its band where it fits, else above with a line down to the band."""
    for index, band in enumerate(bands):
        box = Rect(band.left_pt, bottom - _BAND_PT, band.right_pt, bottom)
        if index % 2 == 0:
            page.rect(box, fill=WASH)
        look = PHASE_LOOKS[band.phase]
        ends = [(box.left, bottom - 1.5, box.right, bottom - 1.5)]
        page.segments(ends, colour=look.colour, width=min(look.width_pt, 2.4), dashes=look.dashes, zorder=4.0)
        if width_pt(band.name, SMALL_PT) + 4.0 <= box.width:
            page.text((box.left + box.right) / 2, bottom - 4.8, band.name, SMALL_PT, align="centre")
    short = _outside(bands)
    for band, (row, at) in zip(short, _rows(_places(short), left, right), strict=True):
        baseline = bottom - _BAND_PT - 2.5 - row * _ROW_PT
        page.text(at, baseline, band.name, SMALL_PT)
        middle = (band.left_pt + band.right_pt) / 2
        page.segments([(middle, baseline + 1.8, middle, bottom - 3.0)], colour=FAINT, width=0.5, zorder=3.0)


def finding_row_height(marks: Sequence[tuple[float, int]], left: float, right: float) -> float:
    """The paper that the findings' numbers take [pt]."""
    return _FINDING_ROW_PT * _levels(_ring_places(marks), left, right)


def _ring_places(marks: Sequence[tuple[float, int]]) -> list[tuple[float, float]]:
    return [(x, 2 * number_radius_pt(number)) for x, number in sorted(marks)]


def finding_row(
    page: Page,
    marks: Sequence[tuple[float, int]],
    left: float,
    right: float,
    top: float,
    through: Sequence[Rect],
) -> None:
    """Set the findings' numbers in rows below ``top``, each with a thin line down through the charts."""
    marks = sorted(marks)
    levels = _levels(_ring_places(marks), left, right)
    colour = INK if len(marks) <= _MANY else FAINT
    for (x, number), (row, at) in zip(marks, _rows(_ring_places(marks), left, right), strict=True):
        y = top + (levels - row - 0.5) * _FINDING_ROW_PT
        centre = at + number_radius_pt(number)
        page.number(centre, y, number)
        down = through[0].top if through else y
        page.line([centre, x], [y, down], colour=SOFT, width=0.5, zorder=30.0)
        strokes = [(x, box.top, x, box.bottom) for box in through]
        page.segments(strokes, colour=colour, width=0.5, dashes=(2.0, 3.0), zorder=7.0)
