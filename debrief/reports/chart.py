"""A chart: a rectangle of paper with a scale across and a scale up.

Owns      ``Chart``, round steps for its scales, grid lines with their figures.
Not here  what is drawn in it (``profile``, ``strips``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.reports.layout import Rect
from debrief.reports.page import Page
from debrief.reports.style import FAINT, GRID, INK, PAPER_WHITE, RULE, SMALL_PT, SOFT

Floats = NDArray[np.float64]

_HATCH_PT = 5.0
_GRASS_PT = 4.0
_AIR = 0.08  # of a scale, beyond its values


@dataclass(frozen=True, slots=True)
class Chart:
    """``x_from`` to ``x_to`` runs from left to right, ``y_from`` to ``y_to`` from the bottom to the top."""

    page: Page
    box: Rect
    x_from: float
    x_to: float
    y_from: float
    y_to: float

    def x(self, value: Floats | float) -> Floats:
        """Across the paper [pt]."""
        share = (np.asarray(value, dtype=np.float64) - self.x_from) / (self.x_to - self.x_from)
        return np.asarray(self.box.left + share * self.box.width)

    def y(self, value: Floats | float) -> Floats:
        """Down the paper [pt]."""
        share = (np.asarray(value, dtype=np.float64) - self.y_from) / (self.y_to - self.y_from)
        return np.asarray(self.box.bottom - share * self.box.height)

    def frame(self) -> None:
        """The paper of the chart, and its edge."""
        self.page.rect(self.box, fill=PAPER_WHITE, zorder=0.5)
        self.page.rect(self.box, edge=RULE, width=0.7, zorder=20.0)

    def line(
        self,
        x: Floats | Sequence[float],
        y: Floats | Sequence[float],
        *,
        colour: str = INK,
        width: float = 1.2,
        dashes: tuple[float, ...] = (),
        zorder: float = 8.0,
    ) -> None:
        """A line through values; ``nan`` breaks it."""
        self.page.line(
            self.x(np.asarray(x)),
            self.y(np.asarray(y)),
            colour=colour,
            width=width,
            dashes=dashes,
            clip=self.box,
            zorder=zorder,
        )

    def level(
        self, value: float, *, colour: str = FAINT, width: float = 0.5, dashes: tuple[float, ...] = ()
    ) -> None:
        """A line right across."""
        y = float(self.y(value))
        ends = [(self.box.left, y, self.box.right, y)]
        self.page.segments(ends, colour=colour, width=width, dashes=dashes, clip=self.box, zorder=3.0)

    def upright(
        self,
        value: float,
        *,
        colour: str = FAINT,
        width: float = 0.5,
        dashes: tuple[float, ...] = (),
        zorder: float = 3.0,
    ) -> None:
        """A line from the bottom to the top."""
        x = float(self.x(value))
        ends = [(x, self.box.top, x, self.box.bottom)]
        self.page.segments(ends, colour=colour, width=width, dashes=dashes, clip=self.box, zorder=zorder)

    def limit(self, x_from: float, x_to: float, value: float, *, forbidden_below: bool) -> None:
        """A limit line with short strokes on the side that is not allowed."""
        left, right = (float(self.x(x)) for x in (x_from, x_to))
        left, right = max(left, self.box.left), min(right, self.box.right)
        if right <= left:
            return
        y = float(self.y(value))
        side = 1.0 if forbidden_below else -1.0
        self.page.segments([(left, y, right, y)], width=1.0, clip=self.box, zorder=6.0)
        strokes = [
            (x, y, x - _GRASS_PT, y + side * _GRASS_PT)
            for x in np.arange(left + _GRASS_PT, right, 5.0).tolist()
        ]
        self.page.segments(strokes, width=0.5, clip=self.box, zorder=6.0)

    def unseen(self, x_from: float, x_to: float) -> None:
        """Hatch a stretch in which nothing was observed."""
        left, right = (float(self.x(x)) for x in (x_from, x_to))
        box = Rect(left, self.box.top, right, self.box.bottom).meet(self.box)
        if box.width > 0:
            self.page.hatch(box, colour=FAINT, pitch_pt=_HATCH_PT)

    def figures_up(self, values: Sequence[float], text: Callable[[float], str], *, grid: bool = True) -> None:
        """Grid lines across, with their figures on the left."""
        for value in values:
            y = float(self.y(value))
            if grid:
                self.page.segments(
                    [(self.box.left, y, self.box.right, y)], colour=GRID, width=0.5, zorder=1.5
                )
            self.page.text(
                self.box.left - 4.0, y + 0.36 * SMALL_PT, text(value), SMALL_PT, colour=SOFT, align="right"
            )

    def figures_across(self, values: Sequence[float], text: Callable[[float], str]) -> None:
        """Grid lines upwards, with their figures below."""
        for value in values:
            x = float(self.x(value))
            self.page.segments([(x, self.box.top, x, self.box.bottom)], colour=GRID, width=0.5, zorder=1.5)
            self.page.text(
                x, self.box.bottom + 3.0 + SMALL_PT, text(value), SMALL_PT, colour=SOFT, align="centre"
            )

    def note(self, text: str) -> None:
        """Say in the middle why there is nothing to see."""
        x, y = (self.box.left + self.box.right) / 2, (self.box.top + self.box.bottom) / 2
        self.page.text(x, y, text, SMALL_PT, colour=SOFT, align="centre")


def round_values(low: float, high: float, steps: Sequence[float], most: int) -> list[float]:
    """The multiples of the smallest step that gives no more than ``most`` of them between two values."""
    for step in steps:
        first, last = np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            return [float(step * count) for count in np.arange(first, last + 1)]
    return [low, high]


def reach(
    values: Floats, always: Sequence[float] = (), *, least: float, trim: float = 0.0
) -> tuple[float, float]:
    """A scale that holds the values and those of ``always``, at least ``least`` long, with some air.

    ``trim`` is the share of the values at either end that may run off the chart: one wild value must not make
    the rest unreadable.
    """
    known = np.ravel(values)[np.isfinite(np.ravel(values))]
    ends = np.quantile(known, [trim, 1.0 - trim]) if known.size else known
    ends = np.concatenate([ends, np.asarray(always, dtype=np.float64)])
    if not ends.size:
        return 0.0, least
    low, high = float(ends.min()), float(ends.max())
    short = max(least - (high - low), 0.0) / 2
    low, high = low - short, high + short
    air = _AIR * (high - low)
    return low - air, high + air
