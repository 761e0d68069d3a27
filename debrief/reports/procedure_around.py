"""What stands beside the legs of a procedure, on its picture: the arc in, the missed approach, the hold, crossing radials.

Owns      these lines in the station's plane, and drawing them with their names.
Not here  the legs themselves (``procedures.geometry``), the page they are drawn on (``procedure_plan``).

They are drawn as published, in still air, at an ordinary speed where a time or a turn has to become a length. Only so
much of an arc is drawn as shows where it is left; it goes on to wherever one comes from.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.turns import procedure_radius_nm
from debrief.procedures.geometry import (
    ORDINARY_SPEED_KT,
    extent_nm,
    final_course_true_deg,
    marks,
)
from debrief.procedures.model import AltitudeLimit, Arc, Extent, Procedure
from debrief.procedures.steps import crossing_along_nm, other_station
from debrief.procedures.words import limit_words, line_word, three_figures
from debrief.reports.layout import Rect
from debrief.reports.map_lines import along_at, arrow_head, points_along, tag
from debrief.reports.page import Page
from debrief.reports.placing import Placer
from debrief.reports.style import INK, PAPER_WHITE, PHASE_LOOKS, SOFT, Look
from debrief.reports.window import Window

Floats = NDArray[np.float64]

ARC_DRAWN_DEG = 60.0
MISSED_STRAIGHT_NM, MISSED_ALONE_NM = 1.5, 3.0
CROSSING_NM = 1.4  # to each side of the course
LEAD_NM = 0.5  # to each side of the arc
#: How each is drawn; also beside its words.
LOOKS = {
    "arc": Look("Arc", PHASE_LOOKS["inbound"].colour, (4.0, 1.6), 1.5),
    "missed_approach": PHASE_LOOKS["missed_approach"],
    "hold": Look("Hold", INK, (2.6, 1.3), 1.0),
}
_CROSSING = Look("Crossing radial", SOFT, (), 0.8)


@dataclass(frozen=True, slots=True, eq=False)
class Around:
    """One line beside the legs, with the label that stands at it."""

    kind: str  # "arc", "lead", "missed_approach", "hold", "crossing"
    east_nm: Floats
    north_nm: Floats
    label: str


def around(procedure: Procedure) -> tuple[Around, ...]:
    """The lines that a procedure has besides its legs."""
    return (*_arc(procedure), *_missed(procedure), *_hold(procedure), *_crossings(procedure))


def arc_line(procedure: Procedure, arc: Arc, drawn_deg: float = ARC_DRAWN_DEG) -> tuple[Floats, Floats]:
    """The last degrees of a published arc, up to where it is left: east and north in the station's plane. [NM]"""
    radius_nm, left_at = _radius_nm(procedure, arc), _left_at_deg(procedure, arc)
    side = 1.0 if arc.direction == "clockwise" else -1.0
    bearing = np.radians(np.arange(left_at - side * drawn_deg, left_at + side * 0.5, side))
    return radius_nm * np.sin(bearing), radius_nm * np.cos(bearing)


def _radius_nm(procedure: Procedure, arc: Arc) -> float:
    return extent_nm(Extent(dme_nm=arc.dme_nm), ORDINARY_SPEED_KT, _height_ft(procedure, arc.altitude))


def _left_at_deg(procedure: Procedure, arc: Arc) -> float:
    """The bearing on which an arc is left, true."""
    joined = procedure.true_deg((procedure.inbound_course_deg + 180.0) % 360.0)
    return procedure.true_deg(arc.lead_radial_deg) if arc.lead_radial_deg is not None else joined


def _arc(procedure: Procedure) -> tuple[Around, ...]:
    arc = procedure.arc
    if arc is None:
        return ()
    radius_nm, left_at = _radius_nm(procedure, arc), _left_at_deg(procedure, arc)
    east_nm, north_nm = arc_line(procedure, arc)
    limit = f", {_limit(arc.altitude)}" if arc.altitude is not None else ""
    lines = [
        Around(
            "arc",
            east_nm,
            north_nm,
            f"Arc at {arc.dme_nm:.1f} DME{limit}",
        )
    ]
    if arc.lead_radial_deg is not None:
        across = np.array([radius_nm - LEAD_NM, radius_nm + LEAD_NM])
        label = f"lead {line_word(procedure.station)} {three_figures(arc.lead_radial_deg)}"
        angle = np.radians(left_at)
        lines.append(Around("lead", across * np.sin(angle), across * np.cos(angle), label))
    return tuple(lines)


def _hold(procedure: Procedure) -> tuple[Around, ...]:
    hold = procedure.hold
    if hold is None:
        return ()
    radius_nm = procedure_radius_nm(ORDINARY_SPEED_KT)
    length = hold.length or Extent(minutes=1.0)
    far_nm = extent_nm(length, ORDINARY_SPEED_KT, _height_ft(procedure, hold.altitude))
    if length.dme_nm is not None:  # the outbound leg's end reads it, two radii aside of the inbound leg
        far_nm = float(np.sqrt(max(far_nm**2 - (2.0 * radius_nm) ** 2, radius_nm**2)))
    side = 1.0 if hold.side == "right" else -1.0
    turn = np.radians(np.arange(0.0, 181.0, 6.0))
    aside = side * np.concatenate(
        [radius_nm * (1.0 - np.cos(turn)), radius_nm * (1.0 + np.cos(turn)), np.zeros(1)]
    )
    ahead = np.concatenate([radius_nm * np.sin(turn), -far_nm - radius_nm * np.sin(turn), np.zeros(1)])
    east, north = _turned(aside, ahead, procedure.true_deg(hold.course_deg))
    limit = f", {_limit(hold.altitude)}" if hold.altitude is not None else ""
    return (Around("hold", east, north, f"Hold, inbound {three_figures(hold.course_deg)}{limit}"),)


def _missed(procedure: Procedure) -> tuple[Around, ...]:
    missed = procedure.missed_approach
    if missed is None:
        return ()
    point = next((mark for mark in marks(procedure) if mark.name == "missed_approach_point"), None)
    from_east, from_north = (point.east_nm, point.north_nm) if point is not None else (0.0, 0.0)
    course = (
        procedure.true_deg(missed.course_deg)
        if missed.course_deg is not None
        else final_course_true_deg(procedure)
    )
    aside, ahead = _back_to(missed.turn, *_into(-from_east, -from_north, course))
    east, north = _turned(aside, ahead, course)
    return (
        Around(
            "missed_approach",
            from_east + east,
            from_north + north,
            f"Missed approach, {_limit(missed.altitude)}",
        ),
    )


def _back_to(turn: str | None, aside_nm: float, ahead_nm: float) -> tuple[Floats, Floats]:
    """Straight on, and with a turn from there back to the station, which lies ``aside`` (right) and ``ahead``."""
    if turn is None:
        return np.zeros(2), np.array([0.0, MISSED_ALONE_NM])
    side = 1.0 if turn == "right" else -1.0
    radius_nm = procedure_radius_nm(ORDINARY_SPEED_KT)
    turned = np.radians(np.arange(0.0, 361.0, 3.0))
    x = side * radius_nm * (1.0 - np.cos(turned))
    y = MISSED_STRAIGHT_NM + radius_nm * np.sin(turned)
    to_station = np.arctan2(aside_nm - x, ahead_nm - y)
    off = np.mod(side * to_station - turned + np.pi, 2.0 * np.pi) - np.pi
    towards = np.flatnonzero((np.abs(off) < np.radians(6.0)) & (turned > 0.0))
    if not len(towards):  # the station lies within the turn
        return np.zeros(2), np.array([0.0, MISSED_ALONE_NM])
    end = int(towards[0]) + 1
    return (
        np.concatenate([np.zeros(1), x[:end], [aside_nm]]),
        np.concatenate([np.zeros(1), y[:end], [ahead_nm]]),
    )


def _crossings(procedure: Procedure) -> tuple[Around, ...]:
    final, found = procedure.final, []
    for step in final.step_down if final is not None else ():
        crossing = step.until_radial
        along_nm = crossing_along_nm(procedure, crossing) if crossing is not None else None
        if crossing is None or along_nm is None:
            continue
        course = np.radians(final_course_true_deg(procedure))
        bearing = np.radians(crossing.radial_deg + other_station(procedure, crossing).declination_deg)
        reach = np.array([-CROSSING_NM, CROSSING_NM])
        found.append(
            Around(
                "crossing",
                along_nm * np.sin(course) + reach * np.sin(bearing),
                along_nm * np.cos(course) + reach * np.cos(bearing),
                f"{crossing.station} radial {three_figures(crossing.radial_deg)}",
            )
        )
    return tuple(found)


def _height_ft(procedure: Procedure, altitude: AltitudeLimit | None) -> float:
    low_ft = altitude.low_ft if altitude is not None else None
    return 0.0 if low_ft is None else max(low_ft - procedure.station.elevation_ft, 0.0)


def _limit(altitude: AltitudeLimit) -> str:
    words = limit_words(altitude)
    if altitude.at_or_above_ft is not None:
        return f"{words.removeprefix('at or above ')} or above"
    return words


def _turned(aside: Floats, ahead: Floats, course_true_deg: float) -> tuple[Floats, Floats]:
    """From a frame with ``ahead`` along a course and ``aside`` to its right into east and north."""
    course = np.radians(course_true_deg)
    return aside * np.cos(course) + ahead * np.sin(course), ahead * np.cos(course) - aside * np.sin(course)


def _into(east: float, north: float, course_true_deg: float) -> tuple[float, float]:
    """The way back: aside (right) and ahead of a course."""
    course = np.radians(course_true_deg)
    return (
        float(east * np.cos(course) - north * np.sin(course)),
        float(east * np.sin(course) + north * np.cos(course)),
    )


def draw_lines(page: Page, window: Window, placer: Placer, lines: tuple[Around, ...], box: Rect) -> None:
    """Draw the lines, beneath the legs."""
    for line in lines:
        look = LOOKS.get(line.kind, _CROSSING)
        x, y = window.x(line.east_nm), window.y(line.north_nm)
        placer.avoid(*points_along(x, y))
        page.line(x, y, colour=PAPER_WHITE, width=look.width_pt + 1.2, clip=box, zorder=6.0)
        page.line(x, y, colour=look.colour, width=look.width_pt, dashes=look.dashes, clip=box, zorder=6.5)
        if line.kind in LOOKS:
            arrow_head(page, x, y, 0.5 if line.kind != "missed_approach" else 0.7, look.colour, box)


def draw_labels(page: Page, window: Window, placer: Placer, lines: tuple[Around, ...]) -> None:
    """Name each line, where there is room."""
    for line in lines:
        part = {"arc": 0.3, "hold": 0.4, "missed_approach": 0.8}.get(line.kind, 1.0)
        x, y = window.x(line.east_nm), window.y(line.north_nm)
        tag(
            page, placer, along_at(x, y, part)[:2] if part < 1.0 else (float(x[-1]), float(y[-1])), line.label
        )
