"""One page, as a sheet of paper measured in points from its top left corner.

Owns      ``Page``: text, lines, areas and marks put on a matplotlib figure, and the box of every text.
Not here  what is put where (everybody else), measuring and wrapping text (``layout``).

No axes are used: a chart here is a rectangle and two scales, so what is drawn stands where it was measured
and a page takes milliseconds. Text goes to the renderer as text: it can be selected, and its font is embedded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from matplotlib.artist import Artist
from matplotlib.backend_bases import RendererBase
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Polygon, Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Affine2D, Bbox, Transform, TransformedBbox
from numpy.typing import ArrayLike

from debrief.reports import pdf_text
from debrief.reports.fonts import font
from debrief.reports.layout import Rect, printable, stretches, width_pt
from debrief.reports.style import INK, PAPER_WHITE, SMALL_PT

POINTS_PER_INCH = 72.0
ASCENT, DESCENT = 0.76, 0.22  # of the type size: capitals and figures above the baseline, tails below
_AIR_PT = 1.6  # round the ring of a finding's number

Align = Literal["left", "centre", "right"]


@dataclass(frozen=True, slots=True)
class TextBox:
    """A text on a page, and the paper it takes."""

    text: str
    box: Rect
    size_pt: float


@dataclass(frozen=True, slots=True)
class _Run:
    x_pt: float
    y_pt: float
    text: str
    size_pt: float
    font: str  # its file
    colour: str
    upright: bool  # reads from bottom to top


@cache
def _unjoined() -> Text:
    """What tells a renderer not to join letters (fi, fl): text stands as it was measured, letter by letter."""
    style = Text()
    if hasattr(style, "set_fontfeatures"):  # matplotlib joins letters since 3.11
        style.set_fontfeatures(["-liga"])
    return style


class _Ink(Artist):
    """All the text of a page, handed to the renderer without measuring it a second time."""

    def __init__(self, height_pt: float) -> None:
        super().__init__()
        self.height_pt = height_pt
        self.runs: list[_Run] = []
        self.set_zorder(50)

    def draw(self, renderer: RendererBase) -> None:
        figure = self.get_figure()
        if figure is None:
            return
        pixels = figure.dpi / POINTS_PER_INCH
        down = renderer.flipy()
        in_pdf = hasattr(renderer, "file")
        if in_pdf:
            self._embed(renderer)
        for run in self.runs:
            context = renderer.new_gc()
            context.set_foreground(to_rgba(run.colour), isRGBA=True)
            x, y = run.x_pt * pixels, (run.y_pt if down else self.height_pt - run.y_pt) * pixels
            if in_pdf and pdf_text.showable(run.text):
                pdf_text.show(
                    renderer, context, x, y, run.text, run.size_pt, font=run.font, upright=run.upright
                )
            else:
                angle_deg = 90.0 if run.upright else 0.0
                style = font(run.font, run.size_pt)
                renderer.draw_text(context, x, y, run.text, style, angle_deg, mtext=_unjoined())
            context.restore()

    def _embed(self, renderer: RendererBase) -> None:
        for path in sorted({run.font for run in self.runs}):
            texts = [run.text for run in self.runs if run.font == path and pdf_text.showable(run.text)]
            pdf_text.embed(renderer, sorted(set().union(*texts)), font=path)


class Page:
    """A page to draw on. All coordinates are points from the top left corner, y downwards."""

    def __init__(self, width_pt: float, height_pt: float) -> None:
        self.area = Rect(0.0, 0.0, width_pt, height_pt)
        inches = (width_pt / POINTS_PER_INCH, height_pt / POINTS_PER_INCH)
        self.figure = Figure(figsize=inches, facecolor=PAPER_WHITE)
        flip = Affine2D(
            np.array(
                [
                    [1 / POINTS_PER_INCH, 0.0, 0.0],
                    [0.0, -1 / POINTS_PER_INCH, height_pt / POINTS_PER_INCH],
                    [0.0, 0.0, 1.0],
                ]
            )
        )
        self._points: Transform = flip + self.figure.dpi_scale_trans
        self._ink = _Ink(height_pt)
        self.figure.add_artist(self._ink)
        self.texts: list[TextBox] = []

    def _add(self, artist: Artist, clip: Rect | None, zorder: float) -> None:
        artist.set_transform(self._points)
        artist.set_zorder(zorder)
        self.figure.add_artist(artist)
        if clip is not None:
            box = Bbox.from_extents(clip.left, clip.top, clip.right, clip.bottom)
            artist.set_clip_box(TransformedBbox(box, self._points))

    def text(
        self,
        x_pt: float,
        y_pt: float,
        text: str,
        size_pt: float,
        *,
        bold: bool = False,
        colour: str = INK,
        align: Align = "left",
        upright: bool = False,
    ) -> Rect:
        """Put one line of text with its baseline at ``y_pt``; upright text runs upwards from there."""
        text = printable(text)
        wide = width_pt(text, size_pt, bold=bold)
        back = {"left": 0.0, "centre": wide / 2, "right": wide}[align]
        up, down = ASCENT * size_pt, DESCENT * size_pt
        if upright:
            y_pt += back
            box = Rect(x_pt - up, y_pt - wide, x_pt + down, y_pt)
        else:
            x_pt -= back
            box = Rect(x_pt, y_pt - up, x_pt + wide, y_pt + down)
        if text:
            for part in stretches(text, bold=bold):
                along_pt = part.from_em * size_pt
                x_part, y_part = (x_pt, y_pt - along_pt) if upright else (x_pt + along_pt, y_pt)
                self._ink.runs.append(_Run(x_part, y_part, part.text, size_pt, part.font, colour, upright))
            self.texts.append(TextBox(text, box, size_pt))
        return box

    def line(
        self,
        x_pt: ArrayLike,
        y_pt: ArrayLike,
        *,
        colour: str = INK,
        width: float = 0.6,
        dashes: Sequence[float] = (),
        clip: Rect | None = None,
        zorder: float = 5.0,
    ) -> None:
        """Draw a line through the points; ``nan`` breaks it. Dashes are in line widths."""
        line = Line2D(
            np.asarray(x_pt, dtype=np.float64),
            np.asarray(y_pt, dtype=np.float64),
            color=colour,
            linewidth=width,
            linestyle=(0.0, tuple(dashes)) if dashes else "solid",
            solid_capstyle="butt",
            dash_capstyle="butt",
            solid_joinstyle="round",
        )
        self._add(line, clip, zorder)

    def segments(
        self,
        ends: Sequence[tuple[float, float, float, float]],
        *,
        colour: str = INK,
        width: float = 0.6,
        dashes: Sequence[float] = (),
        clip: Rect | None = None,
        zorder: float = 5.0,
    ) -> None:
        """Draw separate straight strokes, each from (x, y) to (x, y)."""
        if not ends:
            return
        table = np.array(ends, dtype=np.float64)
        gap = np.full(len(table), np.nan)
        x_pt = np.stack([table[:, 0], table[:, 2], gap], axis=1).ravel()
        y_pt = np.stack([table[:, 1], table[:, 3], gap], axis=1).ravel()
        self.line(x_pt, y_pt, colour=colour, width=width, dashes=dashes, clip=clip, zorder=zorder)

    def rect(
        self,
        box: Rect,
        *,
        fill: str | None = None,
        edge: str | None = None,
        width: float = 0.6,
        opacity: float = 1.0,
        clip: Rect | None = None,
        zorder: float = 1.0,
    ) -> None:
        """Fill and edge a rectangle."""
        patch = Rectangle(
            (box.left, box.top),
            box.width,
            box.height,
            facecolor=to_rgba(fill, opacity) if fill else "none",
            edgecolor=edge or "none",
            linewidth=width if edge else 0.0,
        )
        self._add(patch, clip, zorder)

    def hatch(
        self, box: Rect, *, colour: str, pitch_pt: float = 5.0, clip: Rect | None = None, zorder: float = 2.0
    ) -> None:
        """Rule a rectangle with slanting lines: nothing was observed there."""
        tall = box.height
        starts = np.arange(box.left - tall, box.right, pitch_pt)
        strokes = [(x, box.bottom, x + tall, box.top) for x in starts.tolist()]
        inside = box if clip is None else box.meet(clip)
        self.segments(strokes, colour=colour, width=0.4, clip=inside, zorder=zorder)

    def polygon(
        self,
        x_pt: ArrayLike,
        y_pt: ArrayLike,
        *,
        fill: str | None = None,
        edge: str | None = None,
        width: float = 0.6,
        clip: Rect | None = None,
        zorder: float = 6.0,
    ) -> None:
        """Fill and edge a closed shape."""
        corners = np.column_stack([np.asarray(x_pt, dtype=np.float64), np.asarray(y_pt, dtype=np.float64)])
        patch = Polygon(
            corners,
            closed=True,
            facecolor=fill or "none",
            edgecolor=edge or "none",
            linewidth=width if edge else 0.0,
        )
        self._add(patch, clip, zorder)

    def circle(
        self,
        x_pt: float,
        y_pt: float,
        radius_pt: float,
        *,
        fill: str | None = None,
        edge: str | None = None,
        width: float = 0.6,
        dashes: Sequence[float] = (),
        clip: Rect | None = None,
        zorder: float = 6.0,
    ) -> None:
        """Fill and edge a circle."""
        patch = Circle(
            (x_pt, y_pt),
            radius_pt,
            facecolor=fill or "none",
            edgecolor=edge or "none",
            linewidth=width if edge else 0.0,
            linestyle=(0.0, tuple(dashes)) if dashes else "solid",
        )
        self._add(patch, clip, zorder)

    def mark(self, x_pt: float, y_pt: float, shape: str, size_pt: float, colour: str) -> None:
        """Put one filled marker, by matplotlib's letter for its shape."""
        mark = Line2D(
            [x_pt],
            [y_pt],
            marker=shape,
            markersize=size_pt,
            color=colour,
            markeredgewidth=0,
            linestyle="none",
        )
        self._add(mark, None, 6.0)

    def number(self, x_pt: float, y_pt: float, number: int) -> Rect:
        """Put the number of a finding, in a ring, centred on the point."""
        radius = number_radius_pt(number)
        self.circle(x_pt, y_pt, radius, fill=PAPER_WHITE, edge=INK, width=0.9, zorder=45.0)
        self.text(x_pt, y_pt + 0.36 * SMALL_PT, str(number), SMALL_PT, bold=True, align="centre")
        return Rect(x_pt - radius, y_pt - radius, x_pt + radius, y_pt + radius)

    def pin(self, x_pt: float, y_pt: float, place: Rect, number: int, clip: Rect) -> None:
        """Put the number of a finding on its place, with a line to the point where it happened."""
        middle_x, middle_y = (place.left + place.right) / 2, (place.top + place.bottom) / 2
        self.line([x_pt, middle_x], [y_pt, middle_y], width=0.6, clip=clip, zorder=11.0)
        # on the thick line of a final the dot would be seen by its white ring alone
        self.circle(x_pt, y_pt, 2.6, fill=PAPER_WHITE, clip=clip, zorder=11.4)
        self.circle(x_pt, y_pt, 1.7, fill=INK, clip=clip, zorder=11.5)
        self.number(middle_x, middle_y, number)


def number_across_pt(number: int) -> float:
    """Width of the place of a finding's number: its ring, and air round it for no label to touch it [pt]."""
    return 2.0 * (number_radius_pt(number) + _AIR_PT)


def number_radius_pt(number: int) -> float:
    """Radius of the ring round a finding's number [pt]."""
    return (5.6, 6.8, 9.0)[min(len(str(number)), 3) - 1]
