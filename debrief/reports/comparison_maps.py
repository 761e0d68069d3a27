"""Every flight of a procedure on one map, and each pilot's on a small one.

Owns      ``draw_overlay``, ``draw_small_maps``.
Not here  the published outline's geometry (``procedures.geometry``), the map's marks (``plan_marks``).

A reader sees from it where the club's flights lie together and where they fan out; pilots are told apart by their own
maps, not by colours, so it reads in grey and with forty pilots too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.procedures import Procedure
from debrief.procedures.geometry import outline
from debrief.reports import plan_marks
from debrief.reports.flow import Flow
from debrief.reports.layout import Rect, shortened
from debrief.reports.map_lines import corner, points_along
from debrief.reports.page import Page
from debrief.reports.placing import Placer
from debrief.reports.style import BY_EYE_DASHES, INK, NOMINAL, PAPER_WHITE, RULE, SMALL_PT, SOFT
from debrief.reports.window import Window, aspect, window_over

Floats = NDArray[np.float64]

FLOWN = "#0072b2"
_POINTS = 400_000  # of all flights together: more do not show on paper
_ACROSS = 3
_LEAST_MAP_PT, _MOST_MAP_PT, _MOST_OF_MANY_PT = 80.0, 235.0, 113.0
_FEW = 6  # pilots whose maps may be tall
_TITLE_PT = 13.0
_BELOW_PT = 6.0
_GIVES_WAY = 0.2  # of its height
_GUTTER_PT = 10.0
_FAR_SHARE = 0.995  # of all points lie within the window


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """Where one approach was flown: east and north of the station. [NM]"""

    east_nm: Floats
    north_nm: Floats


def draw_overlay(
    page: Page, box: Rect, procedure: Procedure, paths: Mapping[str, Sequence[Path]], shown: Sequence[str]
) -> None:
    """Draw every approach; those of the pilots who are not shown fainter."""
    window = window_over(box, _places(procedure, [path for own in paths.values() for path in own]))
    placer = Placer(box)
    page.rect(box, fill=PAPER_WHITE, zorder=0.5)
    _published(page, window, procedure, placer)
    count = sum(len(own) for own in paths.values())
    width = 0.8 if count <= 60 else 0.45 if count <= 150 else 0.25
    for is_shown in (False, True):
        own = [path for name, flown in paths.items() if (name in shown) == is_shown for path in flown]
        _flown(page, window, own, width, FLOWN if is_shown else RULE)
    corner(page, window, placer)
    plan_marks.station(page, window, placer, procedure)
    plan_marks.runway(page, window, placer, procedure)
    plan_marks.courses(page, window, placer, procedure)
    plan_marks.rings(page, window, placer, procedure)
    page.rect(box, edge=RULE, width=0.8, zorder=20.0)


def draw_small_maps(
    flow: Flow,
    procedure: Procedure,
    paths: Mapping[str, Sequence[Path]],
    shown: Sequence[str],
    *,
    before_pt: float,
    strip_pt: float,
) -> None:
    """One small map a pilot, all on one scale, three in a row.

    Parameters
    ----------
    before_pt, strip_pt : what follows: so much, then strips of that height. The maps give way a little where one more
        of them then fits on the page.
    """
    everything = [path for own in paths.values() for path in own]
    wide = (flow.width - (_ACROSS - 1) * _GUTTER_PT) / _ACROSS
    places = _places(procedure, everything)
    # as tall as what was flown, so that no map has empty halves
    most = _MOST_MAP_PT if len(shown) <= _FEW else _MOST_OF_MANY_PT
    tall = min(max(wide * aspect(places), _LEAST_MAP_PT), most)
    rows = -(-len(shown) // _ACROSS)
    left_over = flow.room - rows * (_TITLE_PT + tall + _BELOW_PT) - before_pt
    missing = (strip_pt - left_over % strip_pt) / rows
    if left_over > 0.0 and missing <= _GIVES_WAY * tall:
        tall -= missing
    for first in range(0, len(shown), _ACROSS):
        row = flow.picture(_TITLE_PT + tall + _BELOW_PT)
        for place, name in enumerate(shown[first : first + _ACROSS]):
            left = row.left + place * (wide + _GUTTER_PT)
            own = paths.get(name, ())
            count = f"{len(own)} approach{'' if len(own) == 1 else 'es'}"
            title = shortened(name, wide - 70.0, SMALL_PT, bold=True)
            flow.page.text(left, row.top + 9.0, title, SMALL_PT, bold=True)
            flow.page.text(left + wide, row.top + 9.0, count, SMALL_PT, colour=SOFT, align="right")
            box = Rect(left, row.top + _TITLE_PT, left + wide, row.bottom - _BELOW_PT)
            window = window_over(box, places)
            flow.page.rect(box, fill=PAPER_WHITE, zorder=0.5)
            _published(flow.page, window, procedure, None)
            _flown(flow.page, window, own, 0.7 if len(own) <= 15 else 0.4, INK)
            x, y = window.at(0.0, 0.0)
            flow.page.circle(x, y, 2.2, fill=PAPER_WHITE, edge=INK, width=0.8, zorder=12.0)
            flow.page.rect(box, edge=RULE, width=0.6, zorder=20.0)


def _places(procedure: Procedure, paths: Sequence[Path]) -> list[tuple[Floats, Floats]]:
    """What a map must hold: the procedure, the station, and all but the farthest points that were flown."""
    places = [(line.east_nm, line.north_nm) for line in outline(procedure)]
    if paths:
        east = np.concatenate([path.east_nm for path in paths])
        north = np.concatenate([path.north_nm for path in paths])
        # one long arrival must not make all the others small
        ends = [np.nanquantile(axis, [1.0 - _FAR_SHARE, _FAR_SHARE]) for axis in (east, north)]
        places.append((ends[0], ends[1]))
    return [*places, (np.zeros(1), np.zeros(1))]


def _published(page: Page, window: Window, procedure: Procedure, placer: Placer | None) -> None:
    for line in outline(procedure):
        if line.name == "runway":
            continue
        x, y = window.x(line.east_nm), window.y(line.north_nm)
        if placer is not None:
            placer.avoid(*points_along(x, y))
        dashes = BY_EYE_DASHES if line.name == "visual_segment" else ()
        width = 4.0 if placer is not None else 2.6
        page.line(x, y, colour=NOMINAL, width=width, dashes=dashes, clip=window.box, zorder=4.0)
        if placer is not None:  # many flights cover it
            page.line(x, y, colour=INK, width=0.8, dashes=(3.0, 2.0), clip=window.box, zorder=9.0)


def _flown(page: Page, window: Window, paths: Sequence[Path], width: float, colour: str) -> None:
    """All in one line with breaks: a page of a thousand flights stays one drawing."""
    if not paths:
        return
    step = max(1, sum(len(path.east_nm) for path in paths) // _POINTS)
    gap = np.array([np.nan])
    x = np.concatenate([part for path in paths for part in (window.x(path.east_nm[::step]), gap)])
    y = np.concatenate([part for path in paths for part in (window.y(path.north_nm[::step]), gap)])
    page.line(x, y, colour=colour, width=width, clip=window.box, zorder=8.0)
