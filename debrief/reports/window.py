"""A map's window: a rectangle of paper over a part of the station plane.

Owns      ``Window`` and its scale; strokes across a track.
Not here  what is drawn in it (``plan``, ``plan_marks``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.phases.model import StationView
from debrief.reports.layout import Rect

Floats = NDArray[np.float64]

_LARGEST_NM = 120.0  # across; a log that goes farther is cut off at the frame
_SMALLEST_NM = 4.0
_PADDING = 0.08  # of the window, on each side


@dataclass(frozen=True, slots=True)
class Window:
    """A map: a rectangle of paper over a part of the station plane, one scale both ways."""

    box: Rect
    centre_east_nm: float
    centre_north_nm: float
    points_per_nm: float

    def x(self, east_nm: Floats | float) -> Floats:
        """Across the paper [pt]."""
        middle = (self.box.left + self.box.right) / 2
        return np.asarray(middle + (np.asarray(east_nm) - self.centre_east_nm) * self.points_per_nm)

    def y(self, north_nm: Floats | float) -> Floats:
        """Down the paper [pt]."""
        middle = (self.box.top + self.box.bottom) / 2
        return np.asarray(middle - (np.asarray(north_nm) - self.centre_north_nm) * self.points_per_nm)

    def at(self, east_nm: float, north_nm: float) -> tuple[float, float]:
        """A place on the paper [pt]."""
        return float(self.x(east_nm)), float(self.y(north_nm))

    def shows(self, east_nm: float, north_nm: float, *, inset_pt: float = 0.0) -> bool:
        """Whether a place lies within the frame."""
        x_pt, y_pt = self.at(east_nm, north_nm)
        box = self.box.inset(inset_pt)
        return box.left <= x_pt <= box.right and box.top <= y_pt <= box.bottom


def window_over(box: Rect, places: Sequence[tuple[Floats, Floats]]) -> Window:
    """The map on ``box`` that holds all the places (east and north, NM), as large as it may be."""
    west, far_east, south, far_north = _ends(places)
    wide, tall = _extent(west, far_east), _extent(south, far_north)
    return Window(
        box=box,
        centre_east_nm=(west + far_east) / 2,
        centre_north_nm=(south + far_north) / 2,
        points_per_nm=min(box.width / wide, box.height / tall),
    )


def aspect(places: Sequence[tuple[Floats, Floats]]) -> float:
    """How tall a map of all the places is, as a share of its width.

    >>> aspect([(np.array([0.0, 20.0]), np.array([-5.0, 5.0]))])
    0.5
    """
    west, far_east, south, far_north = _ends(places)
    return _extent(south, far_north) / _extent(west, far_east)


def _ends(places: Sequence[tuple[Floats, Floats]]) -> tuple[float, float, float, float]:
    """West, east, south and north end. [NM]"""
    east = np.concatenate([np.ravel(pair[0]) for pair in places])
    north = np.concatenate([np.ravel(pair[1]) for pair in places])
    known = np.isfinite(east) & np.isfinite(north)
    if not known.any():
        return 0.0, 0.0, 0.0, 0.0
    east, north = east[known], north[known]
    return float(east.min()), float(east.max()), float(north.min()), float(north.max())


def _extent(low_nm: float, high_nm: float) -> float:
    """With the padding on both sides. [NM]"""
    return min(max(high_nm - low_nm, _SMALLEST_NM), _LARGEST_NM) * (1 + 2 * _PADDING)


def strokes_across(
    window: Window, moments: StationView, half_pt: float
) -> list[tuple[float, float, float, float]]:
    """Strokes across the track, to ``half_pt`` on both sides, at each moment that was observed."""
    heading = np.radians(moments.ground_track_true_deg)
    x, y = window.x(moments.east_nm), window.y(moments.north_nm)
    dx, dy = half_pt * np.cos(heading), half_pt * np.sin(heading)
    table = np.column_stack([x - dx, y - dy, x + dx, y + dy])
    return [tuple(row) for row in table[np.isfinite(table).all(axis=1)].tolist()]
