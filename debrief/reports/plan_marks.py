"""What stands on the map besides the track: station, rings, courses, runway, wind, scale, times, numbers.

Owns      one function for each kind of mark, and their labels.
Not here  the track and the map's window (``plan``), finding room for a label (``placing``).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.language import figure, tr
from debrief.navigation.angles import difference_deg
from debrief.phases.model import Flight
from debrief.procedures.geometry import RUNWAY_DRAWN_NM, place_nm
from debrief.procedures.model import Procedure, Runway
from debrief.reports.layout import Rect, width_pt
from debrief.reports.page import ASCENT, DESCENT, Page, number_across_pt
from debrief.reports.placing import Placer
from debrief.reports.scene import Scene
from debrief.reports.style import FAINT, INK, PAPER_WHITE, RULE, SMALL_PT, SOFT
from debrief.reports.window import Window, strokes_across
from debrief.reports.words import bearing, elapsed, number
from debrief.result import Wind

Floats = NDArray[np.float64]

_STATION_PT = 6.0
_NEAR_STATION_PT = 32.0  # labels of phases that begin nearer would crowd round it
_ONE_LINE_DEG = 1.0  # two published directions closer than this are one line on the map
_BESIDE_LINE_PT = (2.5, 10.0, 20.0)  # of the name of a line, from it
_NICE_NM = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)


def _label(page: Page, text: str, box: Rect, *, colour: str = INK, bold: bool = False) -> None:
    """Put a label on a place the placer found."""
    page.rect(box, fill=PAPER_WHITE, opacity=0.85, zorder=30.0)
    page.text(box.left + 1.0, box.bottom - DESCENT * SMALL_PT, text, SMALL_PT, colour=colour, bold=bold)


def _size(text: str, *, bold: bool = False) -> tuple[float, float]:
    return width_pt(text, SMALL_PT, bold=bold) + 2.0, (ASCENT + DESCENT) * SMALL_PT + 0.4


def _beside(
    page: Page,
    placer: Placer,
    at: tuple[float, float],
    text: str,
    *,
    far_pt: float = 34.0,
    colour: str = INK,
    bold: bool = False,
) -> None:
    """Put a label near a point where one is free; a label without room is left out."""
    box = placer.near(*at, *_size(text, bold=bold), far_pt=far_pt)
    if box is not None:
        _label(page, text, box, colour=colour, bold=bold)


def station(page: Page, window: Window, placer: Placer, procedure: Procedure) -> None:
    """The aid: a hexagon for a VOR, a dotted ring for an NDB, in a square where it has a DME."""
    if not window.shows(0.0, 0.0):
        return
    x, y = window.at(0.0, 0.0)
    size = _STATION_PT
    if procedure.station.is_ndb:
        page.circle(x, y, size, edge=INK, width=1.1, dashes=(1.0, 1.2), clip=window.box, zorder=12.0)
    else:
        angles = np.radians(np.arange(0, 360, 60))
        page.polygon(
            x + size * np.cos(angles),
            y + size * np.sin(angles),
            edge=INK,
            width=1.2,
            clip=window.box,
            zorder=12.0,
        )
    if procedure.station.has_dme:
        square = Rect(x - size - 1, y - size - 1, x + size + 1, y + size + 1)
        page.rect(square, edge=INK, width=0.8, clip=window.box, zorder=12.0)
    page.circle(x, y, 1.3, fill=INK, clip=window.box, zorder=12.0)
    placer.take(Rect(x - size - 1, y - size - 1, x + size + 1, y + size + 1))
    _beside(page, placer, (x, y), procedure.station.ident, bold=True, far_pt=46.0)


def runway(page: Page, window: Window, placer: Placer, procedure: Procedure) -> None:
    """The landing runway, and one to circle to, from the threshold on, of a length that is not the real one."""
    circling = procedure.circling
    for one in (procedure.runway, None if circling is None else circling.runway):
        if one is not None:
            _runway(page, window, placer, procedure, one)


def _runway(page: Page, window: Window, placer: Placer, procedure: Procedure, runway: Runway) -> None:
    threshold = place_nm(procedure, runway)
    if not window.shows(*threshold):
        return
    x, y = window.at(*threshold)
    course = np.radians(runway.course_true_deg)
    long_pt = RUNWAY_DRAWN_NM * window.points_per_nm
    end = (x + long_pt * np.sin(course), y - long_pt * np.cos(course))
    page.line([x, end[0]], [y, end[1]], colour=PAPER_WHITE, width=7.0, clip=window.box, zorder=6.5)
    page.line([x, end[0]], [y, end[1]], colour="#3a3a3a", width=4.6, clip=window.box, zorder=6.6)
    page.line(
        [x, end[0]], [y, end[1]], colour=PAPER_WHITE, width=0.8, dashes=(4, 3), clip=window.box, zorder=6.7
    )
    _beside(page, placer, (x, y), tr("Runway {ident}", ident=runway.ident), far_pt=62.0)


def rings(page: Page, window: Window, placer: Placer, procedure: Procedure) -> None:
    """Circles round the station at whole distances, with their radius; the reversal's limit dashed."""
    corners = [
        float(np.hypot(east, north))
        for east in (_edge_nm(window, -1, 0), _edge_nm(window, 1, 0))
        for north in (_edge_nm(window, 0, -1), _edge_nm(window, 0, 1))
    ]
    reach = max(corners)
    step = next((nice for nice in _NICE_NM if reach / nice <= 7.0), _NICE_NM[-1])
    reversal = procedure.reversal
    within = reversal.within_nm if reversal is not None else None
    radii = [step * count for count in range(1, int(reach / step) + 1) if step * count != within]
    for radius in radii:
        _ring(page, window, placer, radius, f"{figure(radius, 'g')} NM", limit=False)
    if within is not None and within < reach:
        _ring(page, window, placer, within, tr("stay within {within:g} NM", within=within), limit=True)


def _edge_nm(window: Window, right: int, up: int) -> float:
    if right:
        return window.centre_east_nm + right * window.box.width / 2 / window.points_per_nm
    return window.centre_north_nm + up * window.box.height / 2 / window.points_per_nm


def _ring(page: Page, window: Window, placer: Placer, radius_nm: float, text: str, *, limit: bool) -> None:
    x, y = window.at(0.0, 0.0)
    long_pt = radius_nm * window.points_per_nm
    dashes, width, colour = ((6.0, 3.0), 0.8, SOFT) if limit else ((1.0, 3.0), 0.6, FAINT)
    angles = np.radians(np.arange(0, 360, 6))
    box = placer.among([(x + long_pt * np.sin(a), y - long_pt * np.cos(a)) for a in angles], *_size(text))
    if box is not None:
        _label(page, text, box, colour=SOFT)
    elif limit:
        return  # only its corners are on the map, and nothing would say what they are
    page.circle(x, y, long_pt, edge=colour, width=width, dashes=dashes, clip=window.box, zorder=2.0)


def arc(page: Page, window: Window, placer: Placer, line_nm: tuple[Floats, Floats], text: str) -> None:
    """The name of a published arc, somewhere along it."""
    x, y = window.x(line_nm[0]), window.y(line_nm[1])
    inside = [
        (float(x[at]), float(y[at]))
        for at in range(0, len(x), 3)
        if window.shows(float(line_nm[0][at]), float(line_nm[1][at]))
    ]
    box = placer.among(inside, *_size(text)) if inside else None
    if box is not None:
        _label(page, text, box, colour=SOFT)


def courses(page: Page, window: Window, placer: Placer, procedure: Procedure) -> None:
    """The published radial and courses as thin lines through the station, each with its figure."""
    lines: list[tuple[float, str]] = []  # from the station outwards, true; the label
    inbound_deg = procedure.inbound_course_deg
    outbound = procedure.outbound
    if outbound is not None and outbound.radial_deg is not None:
        lines.append(
            (
                procedure.true_deg(outbound.radial_deg),
                tr("bearing {bearing}", bearing=bearing(outbound.radial_deg))
                if procedure.station.is_ndb
                else tr("radial {radial}", radial=bearing(outbound.radial_deg)),
            )
        )
    inbound = (procedure.true_deg(inbound_deg + 180.0), tr("course {course}", course=bearing(inbound_deg)))
    if lines and abs(float(difference_deg(lines[0][0], inbound[0]))) < _ONE_LINE_DEG:
        lines = [(inbound[0], f"{lines[0][1]}, {inbound[1]}")]
    else:
        lines.append(inbound)
    final = procedure.final
    if final is not None and final.course_deg is not None and not procedure.station_on_aerodrome:
        lines.append(
            (
                procedure.true_deg(final.course_deg),
                tr("final {course}", course=bearing(final.course_deg)),
            )
        )
    x, y = window.at(0.0, 0.0)
    long_pt = 4.0 * max(window.box.width, window.box.height)
    for true_deg, text in lines:
        angle = np.radians(true_deg)
        dx, dy = float(np.sin(angle)), -float(np.cos(angle))
        ends = (x, y, x + long_pt * dx, y + long_pt * dy)
        page.segments(
            [ends], colour=FAINT, width=0.5, dashes=(12.0, 3.0, 2.0, 3.0), clip=window.box, zorder=2.5
        )
        wide, tall = _size(text)
        clear_pt = (
            wide * abs(dy) + tall * abs(dx)
        ) / 2.0  # so far aside it stands beside the line, and not on it
        centres = [
            (x + far * dx + side * (clear_pt + off_pt) * dy, y + far * dy - side * (clear_pt + off_pt) * dx)
            for off_pt in _BESIDE_LINE_PT
            for far in range(600, 30, -10)
            for side in (1.0, -1.0)
        ]
        box = placer.among(centres, wide, tall, on_no_line=True)
        if box is not None:
            _label(page, text, box, colour=SOFT)


def corner(page: Page, window: Window, placer: Placer, wind: Wind | None, *, without_wind: str) -> None:
    """North, the wind (or what is said without one) and the scale, in the corner with the most room."""
    text = without_wind
    if wind is not None:
        text = tr(
            "Wind {direction} true, {speed} ± {uncertainty} kt",
            direction=bearing(wind.from_true_deg),
            speed=number(wind.speed_kt),
            uncertainty=number(max(wind.speed_uncertainty_kt, 1.0)),
        )
    scale_nm = max(nice for nice in _NICE_NM if nice == _NICE_NM[0] or nice * window.points_per_nm < 110.0)
    scale_pt = scale_nm * window.points_per_nm
    wide = (
        max(width_pt(text, SMALL_PT), scale_pt + width_pt(f"{figure(scale_nm, 'g')} NM", SMALL_PT), 70.0)
        + 14.0
    )
    tall = 62.0
    area = window.box
    corners = [
        Rect(left, top, left + wide, top + tall)
        for top in (area.top, area.bottom - tall)
        for left in (area.right - wide, area.left)
    ]
    box = min(corners, key=placer.crowding)
    placer.take(box)
    page.rect(box, fill=PAPER_WHITE, edge=RULE, width=0.5, opacity=0.95, zorder=25.0)
    _north(page, box.left + 14.0, box.top + 18.0)
    if wind is not None:
        _wind_arrow(page, box.left + 46.0, box.top + 18.0, wind)
    page.text(box.left + 6.0, box.top + 43.0, text, SMALL_PT)
    left, y = box.left + 6.0, box.top + 54.0
    page.segments(
        [
            (left, y, left + scale_pt, y),
            (left, y - 3, left, y + 3),
            (left + scale_pt, y - 3, left + scale_pt, y + 3),
        ],
        width=0.9,
        zorder=26.0,
    )
    page.text(left + scale_pt + 4.0, y + 2.5, f"{figure(scale_nm, 'g')} NM", SMALL_PT)


def _north(page: Page, x: float, y: float) -> None:
    page.polygon([x, x + 4, x, x - 4], [y - 10, y + 8, y + 4, y + 8], fill=INK, zorder=26.0)
    page.text(x + 6.0, y - 4.0, "N", SMALL_PT, bold=True)


def _wind_arrow(page: Page, x: float, y: float, wind: Wind) -> None:
    """An arrow that flies with the wind."""
    towards = np.radians(wind.from_true_deg + 180.0)
    dx, dy = float(np.sin(towards)), -float(np.cos(towards))
    page.line([x - 13 * dx, x + 5 * dx], [y - 13 * dy, y + 5 * dy], width=1.4, zorder=26.0)
    tip_x, tip_y = x + 13 * dx, y + 13 * dy
    back_x, back_y = x + 4 * dx, y + 4 * dy
    page.polygon(
        [tip_x, back_x - 4 * dy, back_x + 4 * dy],
        [tip_y, back_y + 4 * dx, back_y - 4 * dx],
        fill=INK,
        zorder=26.0,
    )


def findings(page: Page, window: Window, placer: Placer, scene: Scene) -> None:
    """The number of each finding near where it happened, with a line to the very place."""
    for finding in scene.attempt.findings:
        moment = scene.moment_of(finding)
        if moment is None:
            continue
        place = scene.flight.at(np.array([moment]))
        east, north = float(place.east_nm[0]), float(place.north_nm[0])
        if not np.isfinite(east) or not window.shows(east, north):
            continue
        x, y = window.at(east, north)
        across = number_across_pt(finding.number)
        box = placer.near(x, y, across, across, far_pt=230.0, tied=True)
        if box is not None:
            page.pin(x, y, box, finding.number, window.box)


def phase_changes(page: Page, window: Window, placer: Placer, scene: Scene) -> None:
    """A stroke across the track where a phase begins, and the time since the passage.

    Near the station, where a passage begins and ends within seconds, one label tells the passages' times.
    """
    moments = scene.flight.at(np.array([span.start_s for span in scene.found.spans]))
    page.segments(strokes_across(window, moments, 6.5), width=1.2, clip=window.box, zorder=10.5)
    for index, span in enumerate(scene.found.spans):
        east, north = float(moments.east_nm[index]), float(moments.north_nm[index])
        if np.isfinite(east) and window.shows(east, north) and not _near_station(window, east, north):
            _beside(page, placer, window.at(east, north), scene.elapsed(span.start_s), far_pt=46.0)
    at = scene.flight.at(np.array([passage.t_s for passage in scene.found.passages]))
    times = [
        scene.elapsed(float(t_s))
        for t_s, east, north in zip(at.t_s, at.east_nm, at.north_nm, strict=True)
        if np.isfinite(east) and _near_station(window, float(east), float(north))
    ]
    if times and window.shows(0.0, 0.0):
        text = tr("passed {times}", times=", ".join(times))
        _beside(page, placer, window.at(0.0, 0.0), text, far_pt=46.0)


def _near_station(window: Window, east_nm: float, north_nm: float) -> bool:
    return float(np.hypot(east_nm, north_nm)) * window.points_per_nm < _NEAR_STATION_PT


def gaps(page: Page, window: Window, placer: Placer, scene: Scene) -> None:
    """Where the track is broken off: nothing was observed from there, for how long."""
    for start_s, end_s in scene.gaps:
        edge = scene.flight.at(np.array([start_s]))
        east, north = float(edge.east_nm[0]), float(edge.north_nm[0])
        if np.isfinite(east) and window.shows(east, north):
            text = tr("not observed for {time}", time=elapsed(end_s - start_s))
            _beside(page, placer, window.at(east, north), text, far_pt=62.0, colour=SOFT)


def log_ends(
    page: Page, window: Window, placer: Placer, flight: Flight, east_nm: Floats, north_nm: Floats
) -> None:
    """Where the log begins and ends, with the time of day."""
    if not len(east_nm):
        return
    times = flight.log.t_s
    for index, name in ((0, tr("log begins")), (-1, tr("log ends"))):
        if window.shows(float(east_nm[index]), float(north_nm[index])):
            x, y = window.at(float(east_nm[index]), float(north_nm[index]))
            page.circle(x, y, 2.2, fill=INK, clip=window.box, zorder=11.0)
            stamp = flight.log.track.time_at(float(times[index]))
            _beside(page, placer, (x, y), f"{name} {stamp:%H:%M} UTC", far_pt=62.0)
