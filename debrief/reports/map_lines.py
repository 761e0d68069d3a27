"""What any map of a procedure shares: places along a line, arrow heads, labels with a hair line, the corner.

Owns      those of a drawn line on the paper; north, scale and wind in a corner.
Not here  which lines a map has (``procedure_plan``, ``plan_card``), the marks of the ground (``plan_marks``).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.language import figure
from debrief.reports.layout import Rect, width_pt
from debrief.reports.page import ASCENT, DESCENT, Page
from debrief.reports.placing import Placer
from debrief.reports.style import INK, PAPER_WHITE, RULE, SMALL_PT, SOFT, WASH
from debrief.reports.window import Window

Floats = NDArray[np.float64]

LABEL_STEP_PT = 1.0  # close together: a label crosses no line of the procedure where another place is free
NICE_NM = (0.5, 1.0, 2.0, 5.0)
SCALE_PT = 90.0  # the longest scale
WIND_PT = 26.0  # what the wind's arrow adds to the corner's height


def points_along(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Points every few points of paper along a line, for labels to keep off."""
    far = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    at = np.arange(0.0, far[-1], LABEL_STEP_PT)
    return np.interp(at, far, x), np.interp(at, far, y)


def along_at(x: Floats, y: Floats, part: float = 0.5) -> tuple[float, float, float, float]:
    """The point a part of the way along a line on the paper, and the unit vector in which it is flown there."""
    steps = np.hypot(np.diff(x), np.diff(y))
    far = np.concatenate([[0.0], np.cumsum(steps)])
    there = far[-1] * part
    step = min(int(np.searchsorted(far, there, side="right")) - 1, len(steps) - 1)
    if steps[step] == 0.0:
        return float(x[step]), float(y[step]), 0.0, 0.0
    along_x, along_y = (x[step + 1] - x[step]) / steps[step], (y[step + 1] - y[step]) / steps[step]
    return float(np.interp(there, far, x)), float(np.interp(there, far, y)), float(along_x), float(along_y)


def arrow_head(page: Page, line_x: Floats, line_y: Floats, part: float, colour: str, clip: Rect) -> None:
    """Show with an arrow head which way a line is flown, that part of the way along it."""
    x, y, along_x, along_y = along_at(line_x, line_y, part)
    tip, back = np.array([x + 5 * along_x, y + 5 * along_y]), np.array([x - 5 * along_x, y - 5 * along_y])
    aside = np.array([-along_y, along_x]) * 4.0
    corners = np.array([tip, back + aside, back - aside])
    page.polygon(
        corners[:, 0], corners[:, 1], fill=colour, edge=PAPER_WHITE, width=0.5, clip=clip, zorder=9.0
    )


def tag(page: Page, placer: Placer, at: tuple[float, float], text: str, *, bold: bool = False) -> None:
    """A label near a point, with a hair line to it where it stands apart."""
    wide, tall = width_pt(text, SMALL_PT, bold=bold) + 7.0, (ASCENT + DESCENT) * SMALL_PT + 2.0
    box = placer.near(*at, wide, tall, far_pt=140.0)
    if box is None:
        return
    middle_x, middle_y = (box.left + box.right) / 2, (box.top + box.bottom) / 2
    page.line([at[0], middle_x], [at[1], middle_y], colour=SOFT, width=0.4, zorder=28.0)
    page.rect(box, fill=WASH, edge=RULE, width=0.4, zorder=29.0)
    page.text(box.left + 3.0, box.bottom - DESCENT * SMALL_PT - 1.0, text, SMALL_PT, bold=bold)


def corner(
    page: Page,
    window: Window,
    placer: Placer,
    *,
    wind_from_true_deg: float | None = None,
    wind_text: str = "",
) -> None:
    """North and the scale, in the corner with the most room; the wind as an arrow beside its words where given."""
    most_pt = min(SCALE_PT, window.box.width / 4.0)
    scale_nm = max(nice for nice in NICE_NM if nice == NICE_NM[0] or nice * window.points_per_nm <= most_pt)
    scale_pt = scale_nm * window.points_per_nm
    text, area = f"{figure(scale_nm, 'g')} NM", window.box
    wide, tall = scale_pt + width_pt(text, SMALL_PT) + 38.0, 30.0
    if wind_text:
        wide, tall = max(wide, width_pt(wind_text, SMALL_PT) + 42.0), tall + WIND_PT
    corners = [
        Rect(left, top, left + wide, top + tall)
        for top in (area.bottom - tall, area.top)
        for left in (area.right - wide, area.left)
    ]
    box = min(corners, key=placer.crowding)
    placer.take(box)
    page.rect(box, fill=PAPER_WHITE, edge=RULE, width=0.5, zorder=25.0)
    x, y = box.left + 11.0, box.bottom - 14.0
    page.polygon([x, x + 4, x, x - 4], [y - 10, y + 8, y + 4, y + 8], fill=INK, zorder=26.0)
    page.text(x + 5.0, y - 4.0, "N", SMALL_PT, bold=True)
    left, y = box.left + 28.0, box.bottom - 9.0
    page.segments(
        [
            (left, y, left + scale_pt, y),
            (left, y - 3, left, y + 3),
            (left + scale_pt, y - 3, left + scale_pt, y + 3),
        ],
        width=0.9,
        zorder=26.0,
    )
    page.text(left + scale_pt + 4.0, y + 2.5, text, SMALL_PT)
    if wind_text and wind_from_true_deg is not None:
        _wind_arrow(page, box.left + 18.0, box.top + 16.0, wind_from_true_deg)
        page.text(box.left + 36.0, box.top + 18.5, wind_text, SMALL_PT)


def _wind_arrow(page: Page, x: float, y: float, wind_from_true_deg: float) -> None:
    """An arrow that flies with the wind."""
    towards = np.radians(wind_from_true_deg + 180.0)
    dx, dy = float(np.sin(towards)), -float(np.cos(towards))
    page.line([x - 13 * dx, x + 5 * dx], [y - 13 * dy, y + 5 * dy], width=1.4, zorder=26.0)
    back_x, back_y = x + 4 * dx, y + 4 * dy
    page.polygon(
        [x + 13 * dx, back_x - 4 * dy, back_x + 4 * dy],
        [y + 13 * dy, back_y + 4 * dx, back_y - 4 * dx],
        fill=INK,
        zorder=26.0,
    )
