"""A procedure on one small picture: the plan as published, and a line of words for each leg.

Owns      ``write_procedure_plan`` (a PNG file) and the page it is drawn on.
Not here  the outline's geometry (``procedures.geometry``), the map's window (``plan``), its marks (``plan_marks``).

A pilot reads from it: where each leg lies, how high, where the final steps down and ends, and the runway. Legs
differ by colour, dashes and weight, so that it reads in grey too.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from debrief.errors import OutputError
from debrief.procedures.geometry import Mark, Polyline, marks, outline
from debrief.procedures.model import Leg, Pattern, Procedure
from debrief.procedures.words import (
    around_words,
    extent_words,
    limit_words,
    line_word,
    three_figures,
    time_words,
    until_words,
)
from debrief.reports import plan_marks, procedure_around
from debrief.reports.files import png_bytes
from debrief.reports.layout import Rect, wrapped
from debrief.reports.map_lines import along_at, arrow_head, corner, points_along, tag
from debrief.reports.page import ASCENT, Page
from debrief.reports.placing import Placer
from debrief.reports.style import (
    BODY_PT,
    CAUTION,
    INK,
    LEADING,
    LINE_LOOKS,
    PAPER_WHITE,
    PHASE_LOOKS,
    RULE,
    SECTION_PT,
    SMALL_PT,
    SOFT,
    Look,
)
from debrief.reports.window import Window, window_over
from debrief.whole_files import write_whole

Floats = NDArray[np.float64]

WIDTH_PT = 440.0
MAP_PT = 400.0  # high
MARGIN_PT = 16.0
SAMPLE_PT = 30.0  # of a leg's line, beside its words
POINT_PT = 4.5  # half of a step-down's stroke and of the missed approach point's cross
OUTBOUND_ASIDE_PT = 3.4
BACK_THE_SAME_WAY = (Pattern.PROCEDURE_TURN_45_180, Pattern.PROCEDURE_TURN_80_260)


def write_procedure_plan(procedure: Procedure, path: Path) -> None:
    """Write the picture of a procedure as PNG; the file appears whole or not at all.

    Raises
    ------
    OutputError
        Where it cannot be written.
    """
    try:
        write_whole({path: png_bytes(procedure_page(procedure))})
    except OutputError as error:
        remedy = "Choose a file that can be written, or make room on the disk."
        raise OutputError(error.what, where=error.where, remedy=remedy) from error


def procedure_page(procedure: Procedure) -> Page:
    """The picture as a page: title, map, a line for each leg, the caution."""
    room_pt = WIDTH_PT - 2 * MARGIN_PT
    name = wrapped(procedure.name, room_pt, SECTION_PT, bold=True)
    heading = wrapped(_heading(procedure), room_pt, BODY_PT)
    legs = [
        (leg, wrapped(_leg_words(procedure, leg), room_pt - SAMPLE_PT - 8.0, BODY_PT))
        for leg in procedure.leg
    ]
    around = [
        (
            LINE_LOOKS[name] if name == "visual_segment" else procedure_around.LOOKS.get(name),
            wrapped(words, room_pt - SAMPLE_PT - 8.0, BODY_PT),
        )
        for name, words in around_words(procedure).items()
    ]
    caution = wrapped(CAUTION, room_pt, SMALL_PT)
    pitch_pt = BODY_PT * LEADING
    heading_top = MARGIN_PT + len(name) * SECTION_PT * LEADING
    map_top = heading_top + len(heading) * pitch_pt + 6.0
    legs_top = map_top + MAP_PT + 12.0
    below = [*(lines for _, lines in legs), *(lines for _, lines in around)]
    caution_top = legs_top + sum(len(lines) * pitch_pt + 3.0 for lines in below) + 6.0
    page = Page(WIDTH_PT, caution_top + len(caution) * SMALL_PT * LEADING + MARGIN_PT)

    _lines(page, MARGIN_PT, MARGIN_PT, name, SECTION_PT, bold=True)
    _lines(page, MARGIN_PT, heading_top, heading, BODY_PT, colour=SOFT)
    draw_procedure(page, Rect(MARGIN_PT, map_top, WIDTH_PT - MARGIN_PT, map_top + MAP_PT), procedure)
    y = legs_top
    for leg, lines in legs:
        if leg.phase != "inbound":  # from anywhere: it has no line
            _sample(page, y, PHASE_LOOKS[leg.phase])
        y = _lines(page, MARGIN_PT + SAMPLE_PT + 8.0, y, lines, BODY_PT) + 3.0
    for look, lines in around:
        if look is not None:
            _sample(page, y, look)
        y = _lines(page, MARGIN_PT + SAMPLE_PT + 8.0, y, lines, BODY_PT) + 3.0
    _lines(page, MARGIN_PT, caution_top, caution, SMALL_PT, colour=SOFT)
    return page


def _sample(page: Page, top: float, look: Look) -> None:
    """A piece of a line beside its words."""
    ends, middle = [MARGIN_PT, MARGIN_PT + SAMPLE_PT], top + 0.45 * BODY_PT
    page.line(ends, [middle, middle], colour=look.colour, width=look.width_pt, dashes=look.dashes)


def _lines(
    page: Page,
    x: float,
    top: float,
    lines: list[str],
    size_pt: float,
    *,
    bold: bool = False,
    colour: str = INK,
) -> float:
    """Set lines of text beneath each other; gives back where the next would begin."""
    for line in lines:
        page.text(x, top + ASCENT * size_pt, line, size_pt, bold=bold, colour=colour)
        top += size_pt * LEADING
    return top


def draw_procedure(page: Page, box: Rect, procedure: Procedure) -> None:
    """Draw the map of a procedure: north up, rings round the station, each leg with its altitude."""
    lines, points, beside = outline(procedure), marks(procedure), procedure_around.around(procedure)
    places: list[tuple[Floats, Floats]] = [
        *((line.east_nm, line.north_nm) for line in lines),
        *((line.east_nm, line.north_nm) for line in beside),
    ]
    window = window_over(box, [*places, (np.zeros(1), np.zeros(1))])
    placer = Placer(box)
    page.rect(box, fill=PAPER_WHITE, zorder=0.5)
    flown = [line for line in lines if line.name != "runway"]
    procedure_around.draw_lines(page, window, placer, beside, box)
    for line in lines:
        placer.avoid(*points_along(window.x(line.east_nm), window.y(line.north_nm)))
    for line in flown:
        look = LINE_LOOKS[line.name]
        x, y = _beside_the_way_back(procedure, line, window)
        page.line(x, y, colour=PAPER_WHITE, width=look.width_pt + 1.6, clip=box, zorder=7.0)
        page.line(x, y, colour=look.colour, width=look.width_pt, dashes=look.dashes, clip=box, zorder=8.0)
        steps = [window.at(p.east_nm, p.north_nm) for p in points if p.name == "step_down"]
        at = _clear_of(x, y, steps if line.name == "final" else [])
        if line.name != "visual_segment":  # too short for one
            arrow_head(page, x, y, at, look.colour, box)
    corner(page, window, placer)
    for point in points:
        _point(page, window, placer, point, procedure)
    plan_marks.station(page, window, placer, procedure)
    for point in points:
        _point_words(page, window, placer, point)
    plan_marks.runway(page, window, placer, procedure)
    for line in flown:
        _altitude(page, placer, *_beside_the_way_back(procedure, line, window), procedure.leg_of(line.name))
    procedure_around.draw_labels(page, window, placer, beside)
    plan_marks.courses(page, window, placer, procedure)
    plan_marks.rings(page, window, placer, procedure)
    page.rect(box, edge=RULE, width=0.8, zorder=20.0)


def _beside_the_way_back(procedure: Procedure, line: Polyline, window: Window) -> tuple[Floats, Floats]:
    """A line on the paper; an outbound leg that comes back the same way is drawn a little beside itself."""
    x, y = window.x(line.east_nm), window.y(line.north_nm)
    reversal = procedure.reversal
    if line.name != "outbound" or reversal is None or reversal.pattern not in BACK_THE_SAME_WAY:
        return x, y
    course = np.radians(procedure.true_deg(procedure.outbound_course_deg or 0.0))
    aside_pt = OUTBOUND_ASIDE_PT if reversal.side == "right" else -OUTBOUND_ASIDE_PT
    return x + aside_pt * np.cos(course), y + aside_pt * np.sin(course)


def _clear_of(x: Floats, y: Floats, marks_at: list[tuple[float, float]]) -> float:
    """The part of the way along a line, near its middle, that lies farthest from the marks on it."""

    def clearance_pt(part: float) -> float:
        at_x, at_y, _, _ = along_at(x, y, part)
        return min(float(np.hypot(at_x - mark_x, at_y - mark_y)) for mark_x, mark_y in marks_at)

    return max((0.3, 0.4, 0.5, 0.6, 0.7), key=clearance_pt) if marks_at else 0.5


def _altitude(page: Page, placer: Placer, x: Floats, y: Floats, leg: Leg | None) -> None:
    if leg is None or leg.altitude is None or leg.phase == "final":  # a final's stands at its end
        return
    limit = limit_words(leg.altitude)
    if leg.altitude.at_or_above_ft is not None:
        limit = f"{limit.removeprefix('at or above ')} or above"
    tag(page, placer, along_at(x, y)[:2], f"{PHASE_LOOKS[leg.phase].name}, {limit}")


def _point(page: Page, window: Window, placer: Placer, point: Mark, procedure: Procedure) -> None:
    """A step-down as a stroke across the final, the missed approach point as a cross."""
    x, y = window.at(point.east_nm, point.north_nm)
    if point.name == "step_down":
        course = np.radians(procedure.true_deg(procedure.inbound_course_deg))
        dx, dy = POINT_PT * np.cos(course), POINT_PT * np.sin(course)
        page.line([x - dx, x + dx], [y - dy, y + dy], width=1.6, clip=window.box, zorder=12.0)
    elif point.name == "missed_approach_point":
        low, high = y + POINT_PT, y - POINT_PT
        page.line([x - POINT_PT, x + POINT_PT], [low, high], width=1.6, clip=window.box, zorder=12.5)
        page.line([x - POINT_PT, x + POINT_PT], [high, low], width=1.6, clip=window.box, zorder=12.5)
    else:
        return
    placer.take(Rect(x - POINT_PT, y - POINT_PT, x + POINT_PT, y + POINT_PT))


def _point_words(page: Page, window: Window, placer: Placer, point: Mark) -> None:
    at = window.at(point.east_nm, point.north_nm)
    if point.name == "step_down":
        tag(page, placer, at, f"{point.altitude_ft:,.0f} ft to {point.until}")
    elif point.name == "missed_approach_point":
        dme = f" at {point.dme_nm:.1f} DME" if point.dme_nm is not None else ""
        minimum = f", minimum {point.altitude_ft:,.0f} ft" if point.altitude_ft is not None else ""
        tag(page, placer, at, f"Missed approach{dme}{minimum}")


def _heading(procedure: Procedure) -> str:
    station, runway = procedure.station, procedure.runway
    words = f"Station {station.ident}, {station.kind}, elevation {station.elevation_ft:,.0f} ft. "
    if runway is not None:
        words += f"Runway {runway.ident}, threshold elevation {runway.elevation_ft:,.0f} ft. "
    return words + procedure.note


def _leg_words(procedure: Procedure, leg: Leg) -> str:
    """A leg on a line or two: what is flown, then its limits."""
    what = {
        "inbound": f"from anywhere to {procedure.station.ident}",
        "outbound": _outbound_words(procedure, leg),
        "course_reversal": f"{leg.pattern}, {leg.side}",
        "intermediate": f"course {three_figures(leg.course_deg or 0.0)}",
        "final": f"course {three_figures(leg.course_deg or 0.0)}",
    }[leg.phase]
    limits = [what]
    if leg.phase == "course_reversal":
        if leg.leg_seconds and leg.pattern in (Pattern.PROCEDURE_TURN_45_180, Pattern.RACETRACK):
            limits.append(f"leg of {time_words(leg.leg_seconds)}")
        if leg.within_nm is not None:
            limits.append(f"within {leg.within_nm:g} NM")
        if leg.max_speed_kias is not None:
            limits.append(f"not above {leg.max_speed_kias:g} kt indicated")
        if leg.when_straight_in_deg is not None:
            limits.append(f"straight in allowed within {leg.when_straight_in_deg:g}°")
    limits += [f"{step.at_or_above_ft:,.0f} ft or above until {until_words(step)}" for step in leg.step_down]
    if leg.altitude is not None:
        minimum = "minimum descent altitude " if leg.phase == "final" else ""
        low_ft = leg.altitude.low_ft
        limits.append(
            f"{minimum}{low_ft:,.0f} ft" if minimum and low_ft is not None else limit_words(leg.altitude)
        )
    if leg.missed_approach_point is not None:
        far = extent_words(leg.missed_approach_point)
        by_dme = leg.missed_approach_point.dme_nm is not None
        after = f"at {far}" if by_dme else f"{far} after {procedure.station.ident}"
        limits.append(f"missed approach {after}")
    return f"{PHASE_LOOKS[leg.phase].name}: {', '.join(limits)}"


def _outbound_words(procedure: Procedure, leg: Leg) -> str:
    direction = (
        f"{line_word(procedure.station)} {three_figures(leg.radial_deg)}"
        if leg.radial_deg is not None
        else f"course {three_figures(leg.course_deg or 0.0)}"
    )
    if leg.length is None:
        return direction
    return f"{direction} {'to' if leg.length.dme_nm is not None else 'for'} {extent_words(leg.length)}"
