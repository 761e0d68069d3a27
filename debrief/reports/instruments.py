"""Small pictures of what the instruments showed: a needle over its scale, or a pointer on a card.

Owns      how they are drawn: plain, our own, and read without colour.
Not here  which moments are drawn (``shown_part``), what they read (measures.shown), the sentences (``readings``).

A needle stands on the side where the course lies: towards it the pilot flies. A blank flag or needle is said in
words, since an empty place could be taken for a fault of the picture.
"""

from __future__ import annotations

import math

from debrief.language import tr
from debrief.reports.layout import Rect
from debrief.reports.page import Page
from debrief.reports.style import INK, PAPER_WHITE, RULE, SOFT, WASH
from debrief.reports.words import bearing, quantity
from debrief.result import Shown

TYPE_PT = 8.0  # the least in these pictures
_DOTS = 5  # on either side, a fifth of full scale each
_INSET_PT = 6.0


def draw_needle(page: Page, box: Rect, shown: Shown, *, guided: bool = False) -> None:
    """The course selected, the flag, and the needle over five dots on either side; ``guided`` by another aid.

    That one has no flag, and its full scale stands in the flag's place.
    """
    page.rect(box, fill=WASH, edge=RULE, width=0.7)
    middle, half = (box.left + box.right) / 2.0, box.width / 2.0 - _INSET_PT - 4.0
    top = box.top + 4.0 + TYPE_PT
    course = (
        tr("no course") if shown.course_deg is None else tr("set {course}", course=bearing(shown.course_deg))
    )
    page.text(box.left + _INSET_PT, top, course, TYPE_PT, bold=True)
    flag = shown.to_from or tr("blank")
    if guided:
        scale = quantity(
            shown.full_scale,
            shown.full_scale_unit or "deg",
            decimals=2 if shown.full_scale_unit == "NM" else 1,
        )
        flag = tr("full scale {scale}", scale=scale)
    page.text(
        box.right - _INSET_PT,
        top,
        flag,
        TYPE_PT,
        bold=shown.to_from is not None and not guided,
        colour=INK if shown.to_from or guided else SOFT,
        align="right",
    )
    upper, lower = top + 6.0, box.bottom - 5.0
    scale_y = (upper + lower) / 2.0
    page.circle(middle, scale_y, 4.0, edge=INK, width=0.8)
    for dot in range(1, _DOTS + 1):
        for side in (-1.0, 1.0):
            at = middle + side * half * dot / _DOTS
            page.circle(at, scale_y, 1.3 if dot < _DOTS else 2.0, fill=SOFT)
    if shown.deflection is None:
        page.text(middle, lower, tr("no needle"), TYPE_PT, colour=SOFT, align="centre")
        return
    x = middle - half * shown.deflection
    page.segments([(x, upper, x, lower)], colour=INK, width=2.4, zorder=8.0)


def draw_pointer(page: Page, box: Rect, shown: Shown) -> None:
    """A card with the nose (or, without a heading, magnetic north) at its top, and the pointer to the station.

    The course is a dashed line across it, flown towards its small ring.
    """
    page.rect(box, fill=WASH, edge=RULE, width=0.7)
    top = box.top + 4.0 + TYPE_PT
    relative = shown.relative_bearing_deg
    if not shown.cone:
        page.text(
            box.left + _INSET_PT,
            top,
            tr("to {bearing}", bearing=bearing(shown.bearing_deg)),
            TYPE_PT,
            bold=True,
        )
    page.text(
        box.right - _INSET_PT,
        top,
        tr("nose up") if relative is not None else tr("north up"),
        TYPE_PT,
        align="right",
    )
    upper, lower = top + 5.0, box.bottom - 4.0
    radius = (lower - upper) / 2.0
    x, y = (box.left + box.right) / 2.0, (upper + lower) / 2.0
    page.circle(x, y, radius, fill=PAPER_WHITE, edge=INK, width=0.9, zorder=3.0)
    for tick in range(0, 360, 30):
        inner = radius - (5.0 if tick % 90 == 0 else 3.0)
        page.segments([(*_at(x, y, inner, tick), *_at(x, y, radius, tick))], colour=SOFT, width=0.7)
    up = [(x, upper - 2.0), (x - 3.0, upper + 4.0), (x + 3.0, upper + 4.0)]
    page.polygon([p[0] for p in up], [p[1] for p in up], fill=INK, zorder=7.0)
    if shown.bearing_deg is None:
        return
    turned_deg = 0.0 if relative is None else relative - shown.bearing_deg  # of the card under the nose
    if shown.course_deg is not None:
        course_deg = shown.course_deg + turned_deg
        start, end = _at(x, y, -(radius - 7.0), course_deg), _at(x, y, radius - 7.0, course_deg)
        page.segments([(*start, *end)], colour=SOFT, width=0.9, dashes=(4.0, 2.5))
        page.circle(*end, 2.0, fill=PAPER_WHITE, edge=SOFT, width=0.9)
    if shown.cone:
        words = page.text(x, y + 0.36 * TYPE_PT, tr("swings"), TYPE_PT, colour=SOFT, align="centre")
        page.rect(words, fill=PAPER_WHITE, zorder=6.0)  # the course's line runs through the middle
        return
    pointer_deg = shown.bearing_deg + turned_deg
    tip, tail = _at(x, y, radius - 3.0, pointer_deg), _at(x, y, -(radius - 8.0), pointer_deg)
    page.segments([(*tail, *_at(x, y, radius - 8.0, pointer_deg))], colour=INK, width=1.8, zorder=8.0)
    left, right = (_at(x, y, radius - 11.0, pointer_deg + side) for side in (-18.0, 18.0))
    page.polygon([tip[0], left[0], right[0]], [tip[1], left[1], right[1]], fill=INK, zorder=8.0)


def draw_missing(page: Page, box: Rect) -> None:
    """The place of a moment that was not flown or not observed: hatched, as everywhere in the report."""
    page.rect(box, edge=RULE, width=0.7)
    page.hatch(box, colour=RULE)


def _at(x: float, y: float, radius: float, angle_deg: float) -> tuple[float, float]:
    """The point of a ring clockwise from its top."""
    angle = math.radians(angle_deg)
    return x + radius * math.sin(angle), y - radius * math.cos(angle)
