"""The pattern of a plan card on a map: flown with the wind allowed for, and as published for comparison.

Owns      ``draw_pattern`` and its legend.
Not here  the path itself (``planning.pattern``), the rest of the card (``plan_card``).

A pilot reads from it: which heading on which leg, how far out the pattern reaches against its limit, and what the wind
would do to headings and times flown as published.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.language import mark, tr
from debrief.planning.card import Card
from debrief.planning.legs import LegPlan
from debrief.planning.words import course
from debrief.procedures.geometry import Polyline, outline
from debrief.reports import plan_marks
from debrief.reports.layout import Rect
from debrief.reports.legend import Entry, phase_entries
from debrief.reports.map_lines import along_at, arrow_head, corner, points_along, tag
from debrief.reports.page import Page
from debrief.reports.placing import Placer
from debrief.reports.style import LINE_LOOKS, PAPER_WHITE, RULE, SOFT, Look
from debrief.reports.window import Window, window_over

Floats = NDArray[np.float64]

AS_PUBLISHED_LOOK = Look(mark("Headings and times as published"), SOFT, (1.2, 1.6), 1.1)


def legend_entries(card: Card) -> list[Entry]:
    """The lines of the map."""
    entries = phase_entries([name for name, _, _ in _lines(card)])
    if _shows_published(card):
        entries.append(Entry(tr(AS_PUBLISHED_LOOK.name), look=AS_PUBLISHED_LOOK))
    return entries


def draw_pattern(page: Page, box: Rect, card: Card) -> None:
    """Draw the map: north up, rings round the station, the planned path with its headings, the wind."""
    procedure, lines = card.procedure, _lines(card)
    published = card.as_published.lines if card.as_published is not None and _shows_published(card) else ()
    runway = [line for line in outline(procedure) if line.name == "runway"]
    window = window_over(
        box,
        [(east, north) for _, east, north in (*lines, *published)]
        + [(line.east_nm, line.north_nm) for line in runway]
        + [(np.zeros(1), np.zeros(1))],
    )
    placer = Placer(box)
    page.rect(box, fill=PAPER_WHITE, zorder=0.5)
    for _, east, north in published:
        _line(page, window, placer, AS_PUBLISHED_LOOK, east, north)
    for name, east, north in lines:
        _line(page, window, placer, LINE_LOOKS[name], east, north)
        if name != "visual_segment":  # too short for one
            arrow_head(page, window.x(east), window.y(north), 0.5, LINE_LOOKS[name].colour, box)
    for line in runway:
        placer.avoid(*points_along(window.x(line.east_nm), window.y(line.north_nm)))
    conditions = card.conditions
    windy = conditions.wind_speed_kt > 0.0
    corner(
        page,
        window,
        placer,
        wind_from_true_deg=conditions.wind_from_true_deg if windy else None,
        wind_text=tr(
            "Wind {direction} true, {speed:g} kt",
            direction=course(conditions.wind_from_true_deg),
            speed=conditions.wind_speed_kt,
        )
        if windy
        else "",
    )
    plan_marks.station(page, window, placer, procedure)
    plan_marks.runway(page, window, placer, procedure)
    _headings(page, window, placer, card)
    plan_marks.rings(page, window, placer, procedure)
    page.rect(box, edge=RULE, width=0.8, zorder=20.0)


def _shows_published(card: Card) -> bool:
    return card.as_published is not None and card.conditions.wind_speed_kt > 0.0


def _lines(card: Card) -> list[tuple[str, Floats, Floats]]:
    """The planned path by phase: out and around in this wind, then the published courses to the end."""
    lines: list[tuple[str, Floats, Floats]] = []
    end = None
    if card.reversal is not None:
        lines += [(name, east, north) for name, east, north in card.reversal.lines]
        end = lines[-1][1][-1:], lines[-1][2][-1:]
    if end is not None and card.procedure.has_intermediate:
        lines.append(("intermediate", np.append(end[0], 0.0), np.append(end[1], 0.0)))
    published = {line.name: line for line in outline(card.procedure)}
    lines.append(("final", *_from(published["final"], card, end)))
    if "visual_segment" in published:
        lines.append(
            ("visual_segment", published["visual_segment"].east_nm, published["visual_segment"].north_nm)
        )
    return lines


def _from(final: Polyline, card: Card, end: tuple[Floats, Floats] | None) -> tuple[Floats, Floats]:
    """The final as published; on the aerodrome from where the planned path joins it."""
    if end is None or not card.procedure.station_on_aerodrome:
        return final.east_nm, final.north_nm
    return np.append(end[0], final.east_nm[-1]), np.append(end[1], final.north_nm[-1])


def _line(page: Page, window: Window, placer: Placer, look: Look, east_nm: Floats, north_nm: Floats) -> None:
    x, y = window.x(east_nm), window.y(north_nm)
    placer.avoid(*points_along(x, y))
    page.line(x, y, colour=PAPER_WHITE, width=look.width_pt + 1.4, clip=window.box, zorder=7.0)
    page.line(x, y, colour=look.colour, width=look.width_pt, dashes=look.dashes, clip=window.box, zorder=8.0)


def _headings(page: Page, window: Window, placer: Placer, card: Card) -> None:
    """The heading of each leg beside its line."""
    for name, east, north in _lines(card):
        x, y = window.x(east), window.y(north)
        rows = [leg for leg in card.legs if leg.phase == name]
        if name == "course_reversal":
            for leg in rows:
                at = _where_held(x, y, leg.track_true_deg)
                if at is not None:
                    tag(page, placer, at, _heading(card, leg))
        elif rows:
            tag(page, placer, along_at(x, y)[:2], _heading(card, rows[0]))


def _heading(card: Card, leg: LegPlan) -> str:
    return tr("heading {heading}", heading=course(card.magnetic_deg(leg.heading_true_deg)))


def _where_held(x: Floats, y: Floats, track_true_deg: float) -> tuple[float, float] | None:
    """The middle of the longest stroke of a line that runs along a track."""
    dx, dy = np.diff(x), -np.diff(y)
    lengths = np.hypot(dx, dy)
    along = np.abs((np.degrees(np.arctan2(dx, dy)) - track_true_deg + 180.0) % 360.0 - 180.0) < 0.5
    if not (along & (lengths > 0)).any():
        return None
    at = int(np.argmax(np.where(along, lengths, 0.0)))
    return float(x[at] + x[at + 1]) / 2.0, float(y[at] + y[at + 1]) / 2.0
