"""Where a label can stand: near its point, off the lines, off the other labels.

Owns      ``Placer``.
Not here  drawing the label.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from debrief.reports.layout import Rect

Floats = NDArray[np.float64]

_DIRECTIONS = 16
_DISTANCES_PT = (9.0, 13.0, 18.0, 25.0, 34.0, 46.0, 62.0, 82.0, 108.0, 140.0, 180.0, 230.0)
_CLEARANCE_PT = 1.2
_LINE_CLEARANCE_PT = 2.0  # so near its edge a line touches a label, though it runs between two points
_POINT_COST_PT = 7.0  # a point of a line under a label is as bad as so much more distance
_LAST_COST_PT = 60.0  # of the last of many places, against the first
_HIDDEN_COST_PT = 300.0  # more than any distance: a number without its line points at nothing
_LINE_POINTS = 40


class Placer:
    """Keeps what is taken of a rectangle, and finds free places in the rest."""

    def __init__(self, area: Rect) -> None:
        self.area = area
        self._boxes: list[tuple[float, float, float, float]] = []
        self._points: list[Floats] = [np.empty((0, 2))]

    def take(self, box: Rect) -> None:
        """Keep this rectangle free of labels."""
        self._boxes.append((box.left, box.top, box.right, box.bottom))

    def avoid(self, x_pt: Floats, y_pt: Floats) -> None:
        """Keep labels off these points where it can be done."""
        points = np.column_stack([x_pt, y_pt])
        points = points[np.isfinite(points).all(axis=1)]
        self._points.append(points[_within(points, self.area)])

    def crowding(self, box: Rect) -> int:
        """How many points to be avoided lie in a rectangle."""
        return int(_within(np.concatenate(self._points), box).sum())

    def near(
        self,
        x_pt: float,
        y_pt: float,
        width_pt: float,
        height_pt: float,
        *,
        far_pt: float,
        tied: bool = False,
    ) -> Rect | None:
        """The best free rectangle of that size within ``far_pt`` of a point, and take it.

        ``tied`` where a line will join both: then one whose line no label hides, if there is any. ``None`` where
        none is free.
        """
        angles = np.arange(_DIRECTIONS) * 2 * np.pi / _DIRECTIONS
        distances = np.array([distance for distance in _DISTANCES_PT if distance <= far_pt])
        away, angle = (grid.ravel() for grid in np.meshgrid(distances, angles, indexing="ij"))
        # the near edge, not the middle, stands at the distance
        x = x_pt + (away + width_pt / 2) * np.cos(angle)
        y = y_pt + (away + height_pt / 2) * np.sin(angle)
        hidden = self._hidden(x_pt, y_pt, x, y) if tied else np.zeros(len(x))
        return self._best(x, y, away + _HIDDEN_COST_PT * hidden, width_pt, height_pt)

    def _hidden(self, x_pt: float, y_pt: float, x: Floats, y: Floats) -> NDArray[np.bool_]:
        """Whether what is taken hides a part of the line from a point to each of several others."""
        along = np.linspace(0.0, 1.0, _LINE_POINTS)[:, None]
        on_x, on_y = x_pt + along * (x - x_pt), y_pt + along * (y - y_pt)
        hidden = np.zeros(len(x), dtype=np.bool_)
        for left, top, right, bottom in self._boxes:
            if not (left <= x_pt <= right and top <= y_pt <= bottom):
                hidden |= ((on_x > left) & (on_x < right) & (on_y > top) & (on_y < bottom)).any(axis=0)
        return hidden

    def among(
        self,
        centres: Sequence[tuple[float, float]],
        width_pt: float,
        height_pt: float,
        *,
        on_no_line: bool = False,
    ) -> Rect | None:
        """The best free rectangle of that size on one of the centres, the first ones preferred, and take it.

        ``on_no_line`` where any of them will do that lies on no line.
        """
        if not centres:
            return None
        x, y = np.array(centres, dtype=np.float64).T
        step = min(1.0, _LAST_COST_PT / len(x))  # of many places the last is no farther away than of few
        cost = step * np.arange(len(x), dtype=np.float64)
        if on_no_line:  # then one point of a line is worse than the last place
            cost *= _POINT_COST_PT / (2.0 * _LAST_COST_PT)
        return self._best(x, y, cost, width_pt, height_pt)

    def _best(self, x: Floats, y: Floats, cost: Floats, width_pt: float, height_pt: float) -> Rect | None:
        left, right = x - width_pt / 2, x + width_pt / 2
        top, bottom = y - height_pt / 2, y + height_pt / 2
        free = (left >= self.area.left + 1) & (right <= self.area.right - 1)
        free &= (top >= self.area.top + 1) & (bottom <= self.area.bottom - 1)
        for box_left, box_top, box_right, box_bottom in self._boxes:
            free &= (
                (left >= box_right + _CLEARANCE_PT)
                | (right <= box_left - _CLEARANCE_PT)
                | (top >= box_bottom + _CLEARANCE_PT)
                | (bottom <= box_top - _CLEARANCE_PT)
            )
        if not free.any():
            return None
        points = np.concatenate(self._points)
        covered = (
            (points[:, 0] > left[:, None] - _LINE_CLEARANCE_PT)
            & (points[:, 0] < right[:, None] + _LINE_CLEARANCE_PT)
            & (points[:, 1] > top[:, None] - _LINE_CLEARANCE_PT)
            & (points[:, 1] < bottom[:, None] + _LINE_CLEARANCE_PT)
        ).sum(axis=1)
        total = np.where(free, cost + _POINT_COST_PT * covered, np.inf)
        best = int(np.argmin(total))
        box = Rect(float(left[best]), float(top[best]), float(right[best]), float(bottom[best]))
        self.take(box)
        return box


def _within(points: Floats, box: Rect) -> NDArray[np.bool_]:
    """Which points lie in a rectangle; none is ``nan``."""
    x, y = points.T
    inside: NDArray[np.bool_] = (x > box.left) & (x < box.right) & (y > box.top) & (y < box.bottom)
    return inside
