"""The report's pictures for a screen: the same drawings on a paper of a screen's shape, as SVG.

Owns      which pictures a result has, in a wide and a narrow size, and their text for who cannot see them.
Not here  the drawings (``reports``).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from io import BytesIO

import matplotlib as mpl

from debrief.procedures.model import Phase
from debrief.reports.final import draw_final
from debrief.reports.front import plan_entries
from debrief.reports.layout import Rect
from debrief.reports.legend import Entry, draw_legend, legend_height
from debrief.reports.page import Page
from debrief.reports.plan import draw_plan, draw_track_only
from debrief.reports.profile import draw_profile, profile_entries
from debrief.reports.scene import Scene
from debrief.reports.strips import draw_strips
from debrief.result import Result

WIDTHS_PT = {"wide": 700.0, "narrow": 350.0}
_HEIGHT = {"plan": 0.85, "profile": 0.42, "final": 0.42, "strips": 0.95, "track": 0.8}  # of the width
_NARROW_TALLER = {"plan": 1.15, "profile": 0.75, "final": 0.75, "strips": 1.7, "track": 1.1}
_MARGIN_PT, _GAP_PT = 4.0, 6.0

Draw = Callable[[Page, Rect], None]


def pictures(result: Result, scenes: Sequence[Scene]) -> dict[str, bytes]:
    """SVG files by their names: ``plan-1-wide.svg`` is the plan of attempt 1, ``track-0-wide.svg`` the whole log."""
    files: dict[str, bytes] = {}
    flight = result.flight
    for size, width in WIDTHS_PT.items():
        if not scenes and flight is not None:
            files[f"track-0-{size}.svg"] = _svg(
                "track", size, width, [], lambda page, box: draw_track_only(page, box, flight)
            )
        for scene in scenes:
            others = [other for other in scenes if other is not scene]
            number = scene.attempt.number
            for kind, entries, draw in _of(scene, others):
                files[f"{kind}-{number}-{size}.svg"] = _svg(kind, size, width, entries, draw)
    return files


def _of(scene: Scene, others: Sequence[Scene]) -> list[tuple[str, list[Entry], Draw]]:
    found: list[tuple[str, list[Entry], Draw]] = [
        (
            "plan",
            plan_entries(scene),
            lambda page, box: draw_plan(page, box, scene, others),
        ),
        ("profile", profile_entries(scene), lambda page, box: draw_profile(page, box, scene)),
    ]
    if scene.found.last(Phase.FINAL) is not None:
        found.append(("final", [], lambda page, box: draw_final(page, box, scene)))
    found.append(("strips", [], lambda page, box: draw_strips(page, box, scene)))
    return found


def _svg(kind: str, size: str, width: float, entries: list[Entry], draw: Draw) -> bytes:
    inner = width - 2 * _MARGIN_PT
    legend = legend_height(entries, inner) + _GAP_PT if entries else 0.0
    shape = _HEIGHT if size == "wide" else _NARROW_TALLER
    page = Page(width, width * shape[kind] + legend)
    box = Rect(_MARGIN_PT, _MARGIN_PT, width - _MARGIN_PT, page.area.bottom - _MARGIN_PT - legend)
    draw(page, box)
    if entries:
        draw_legend(
            page, Rect(box.left, box.bottom + _GAP_PT, box.right, page.area.bottom - _MARGIN_PT), entries
        )
    return svg_bytes(page)


def svg_bytes(page: Page) -> bytes:
    """A page as SVG, its letters as shapes: a screen need not have the font. The same page gives the same bytes."""
    buffer = BytesIO()
    with mpl.rc_context({"svg.fonttype": "path", "svg.hashsalt": "debrief"}):
        page.figure.savefig(
            buffer, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None}
        )
    return re.sub(rb"<metadata>.*?</metadata>\s*", b"", buffer.getvalue(), flags=re.DOTALL)
