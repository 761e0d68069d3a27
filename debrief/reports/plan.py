"""The plan view: where the aircraft went, over what was published. North is up.

Owns      ``draw_plan``: the lines on the map. ``draw_track_only``: the log where no approach was found.
Not here  the nominal outline's geometry (procedures.geometry), what is written on the map (``plan_marks``).

A pilot reads from it: which leg went where and when, which way the wind blew, where each finding happened.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import StationPlane
from debrief.phases.model import Flight, StationView
from debrief.procedures.geometry import Polyline, outline
from debrief.procedures.model import Phase
from debrief.reports import plan_marks as marks
from debrief.reports.layout import Rect
from debrief.reports.page import Page
from debrief.reports.placing import Placer
from debrief.reports.procedure_around import ARC_DRAWN_DEG, arc_line
from debrief.reports.scene import ROLLED_OUT_KT, Scene
from debrief.reports.style import (
    ARC_LOOK,
    BY_EYE_DASHES,
    NOMINAL_LOOK,
    OUTSIDE_LOOK,
    PAPER_WHITE,
    PHASE_LOOKS,
    REFERENCE_LOOK,
    RULE,
)
from debrief.reports.window import Window, strokes_across, window_over

Floats = NDArray[np.float64]

_INBOUND_SHOWN_NM = 2.5
_STATION_SHOWN_NM = 60.0  # a log that never comes so near is shown without the station
_DRAWN_POINTS = 2000  # of a line in the background
_LABEL_STEP_PT = 3.0  # labels keep off the track at steps of this
_LIGHTLY = 4  # off lines beneath the track at every so many of them: a label rather crosses one than leaves its place


def draw_plan(page: Page, box: Rect, scene: Scene, others: Sequence[Scene] = ()) -> None:
    """Draw an attempt from above; other attempts thin and grey beneath."""
    flight = scene.flight
    lines = outline(flight.procedure)
    window = window_over(box, _worth_showing(scene, lines))
    placer = Placer(box)
    _base(page, window, placer, flight, lines)
    for other in others:
        _line(page, window, other.whole, OUTSIDE_LOOK.colour, OUTSIDE_LOOK.width_pt, (), zorder=5.0)
    _reference(page, window, placer, scene)
    _arc(page, window, placer, scene)
    _flown(page, window, placer, scene)
    marks.corner(page, window, placer, scene.attempt.wind, without_wind=tr("Wind not known"))
    marks.station(page, window, placer, flight.procedure)
    marks.runway(page, window, placer, flight.procedure)
    marks.findings(page, window, placer, scene)
    marks.phase_changes(page, window, placer, scene)
    marks.gaps(page, window, placer, scene)
    marks.courses(page, window, placer, flight.procedure)
    marks.rings(page, window, placer, flight.procedure)
    page.rect(box, edge=RULE, width=0.8, zorder=20.0)


def draw_track_only(page: Page, box: Rect, flight: Flight) -> None:
    """Draw the whole log where no approach was found in it."""
    track = flight.log.track
    station = flight.procedure.station
    plane = StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)
    used = flight.log.order
    every = max(len(used) // _DRAWN_POINTS, 1)
    kept, segment = used[::every], flight.log.segment[::every]
    east, north = plane.to_plane(track.latitude_deg[kept], track.longitude_deg[kept])
    lines = outline(flight.procedure)
    places: list[tuple[Floats, Floats]] = [(east, north)]
    if len(east) and np.nanmin(np.hypot(east, north)) < _STATION_SHOWN_NM:
        places.append((np.zeros(1), np.zeros(1)))
    window = window_over(box, places)
    placer = Placer(box)
    _base(page, window, placer, flight, lines)
    breaks = np.flatnonzero(np.diff(segment)) + 1
    x = np.insert(window.x(east), breaks, np.nan)
    y = np.insert(window.y(north), breaks, np.nan)
    page.line(x, y, colour="#333333", width=1.1, clip=box, zorder=8.0)
    placer.avoid(x, y)
    marks.log_ends(page, window, placer, flight, east, north)
    marks.corner(page, window, placer, None, without_wind="")
    marks.station(page, window, placer, flight.procedure)
    marks.runway(page, window, placer, flight.procedure)
    marks.courses(page, window, placer, flight.procedure)
    marks.rings(page, window, placer, flight.procedure)
    page.rect(box, edge=RULE, width=0.8, zorder=20.0)


def _worth_showing(scene: Scene, lines: Sequence[Polyline]) -> list[tuple[Floats, Floats]]:
    """What the map must hold: the attempt without its long way in, the station and the pattern."""
    places: list[tuple[Floats, Floats]] = [(np.zeros(1), np.zeros(1))]
    if scene.arc is not None:
        places.append((scene.arc.east_nm, scene.arc.north_nm))
    for span, path in scene.paths:
        far = span.phase == Phase.INBOUND and scene.arc is None
        near = path.distance_nm < _INBOUND_SHOWN_NM if far else slice(None)
        places.append((path.east_nm[near], path.north_nm[near]))
    if scene.errorless is not None:
        path = scene.errorless.approach
        after = path.t_s >= scene.errorless.zero_s  # its way in left out
        places.append((path.east_nm[after], path.north_nm[after]))
    places.extend((line.east_nm, line.north_nm) for line in lines)
    return places


def _base(page: Page, window: Window, placer: Placer, flight: Flight, lines: Sequence[Polyline]) -> None:
    page.rect(window.box, fill=PAPER_WHITE, zorder=0.5)
    for line in lines:
        if line.name != "runway":
            x, y = window.x(line.east_nm), window.y(line.north_nm)
            page.line(
                x,
                y,
                colour=NOMINAL_LOOK.colour,
                width=NOMINAL_LOOK.width_pt,
                dashes=BY_EYE_DASHES if line.name == "visual_segment" else NOMINAL_LOOK.dashes,
                clip=window.box,
                zorder=3.0,
            )
            dense_x, dense_y = _dense(x, y)
            placer.avoid(dense_x[::_LIGHTLY], dense_y[::_LIGHTLY])
    view = flight.view
    if len(view):
        every = max(len(view) // _DRAWN_POINTS, 1)
        thin = view.where(slice(None, None, every))
        _line(page, window, thin, OUTSIDE_LOOK.colour, OUTSIDE_LOOK.width_pt, (), zorder=4.0)
        placer.avoid(*_dense(window.x(thin.east_nm), window.y(thin.north_nm)))


def _line(
    page: Page,
    window: Window,
    path: StationView,
    colour: str,
    width: float,
    dashes: tuple[float, ...],
    *,
    zorder: float,
) -> None:
    breaks = np.flatnonzero(np.diff(path.segment)) + 1  # never across a gap
    x = np.insert(window.x(path.east_nm), breaks, np.nan)
    y = np.insert(window.y(path.north_nm), breaks, np.nan)
    page.line(x, y, colour=colour, width=width, dashes=dashes, clip=window.box, zorder=zorder)


def _dense(x_pt: Floats, y_pt: Floats) -> tuple[Floats, Floats]:
    """The points of a line about every ``_LABEL_STEP_PT``, for keeping labels off it."""
    steps = np.hypot(np.diff(x_pt), np.diff(y_pt))
    along = np.concatenate([[0.0], np.cumsum(np.nan_to_num(steps))])
    known = np.isfinite(x_pt) & np.isfinite(y_pt)
    if not known.any() or along[-1] == 0.0:
        return x_pt[known], y_pt[known]
    at = np.arange(0.0, along[-1], _LABEL_STEP_PT)
    return np.interp(at, along[known], x_pt[known]), np.interp(at, along[known], y_pt[known])


def _reference(page: Page, window: Window, placer: Placer, scene: Scene) -> None:
    """The errorless flight, under the pilot's."""
    look = REFERENCE_LOOK
    if scene.errorless is not None:
        path = scene.errorless.approach
        _line(page, window, path, PAPER_WHITE, look.width_pt + 1.2, (), zorder=6.8)
        _line(page, window, path, look.colour, look.width_pt, look.dashes, zorder=7.0)
        x, y = _dense(window.x(path.east_nm), window.y(path.north_nm))
        placer.avoid(x[::_LIGHTLY], y[::_LIGHTLY])


def _arc(page: Page, window: Window, placer: Placer, scene: Scene) -> None:
    """The published arc under the flown one; only its end where none was flown."""
    procedure, flown = scene.flight.procedure, scene.attempt.measures.arc
    if procedure.arc is None:
        return
    drawn_deg = ARC_DRAWN_DEG
    if flown is not None:
        drawn_deg = max(drawn_deg, abs(float(difference_deg(flown.to_radial_deg, flown.from_radial_deg))))
    east, north = arc_line(procedure, procedure.arc, drawn_deg)
    x, y = window.x(east), window.y(north)
    look = NOMINAL_LOOK
    page.line(x, y, colour=look.colour, width=look.width_pt, dashes=look.dashes, clip=window.box, zorder=3.0)
    path = scene.arc
    if path is not None:
        _line(page, window, path, PAPER_WHITE, ARC_LOOK.width_pt + 1.6, (), zorder=8.0)
        _line(page, window, path, ARC_LOOK.colour, ARC_LOOK.width_pt, ARC_LOOK.dashes, zorder=9.0)
        placer.avoid(*_dense(window.x(path.east_nm), window.y(path.north_nm)))
        _arrow(page, window, path, ARC_LOOK.colour)
    marks.arc(page, window, placer, (east, north), tr("arc {dme:.1f} DME", dme=procedure.arc.dme_nm))


def _flown(page: Page, window: Window, placer: Placer, scene: Scene) -> None:
    for span, path in scene.paths:
        look = PHASE_LOOKS[span.phase]
        _line(page, window, path, PAPER_WHITE, look.width_pt + 1.6, (), zorder=8.0)
        _line(page, window, path, look.colour, look.width_pt, look.dashes, zorder=9.0)
        placer.avoid(*_dense(window.x(path.east_nm), window.y(path.north_nm)))
        _arrow(page, window, path, look.colour)
    _minutes(page, window, scene)


def _arrow(page: Page, window: Window, path: StationView, colour: str) -> None:
    """A head that shows which way a phase was flown, on the middle of its line."""
    x, y = window.x(path.east_nm), window.y(path.north_nm)
    inside = np.flatnonzero(
        np.isfinite(x)
        & (path.groundspeed_kt > ROLLED_OUT_KT)
        & (x > window.box.left + 6)
        & (x < window.box.right - 6)
        & (y > window.box.top + 6)
        & (y < window.box.bottom - 6)
    )
    if len(inside) < 20:  # too short for an arrow
        return
    middle = int(inside[len(inside) // 2])
    heading = np.radians(path.ground_track_true_deg[middle])
    if not np.isfinite(heading):
        return
    ahead = np.array([np.sin(heading), -np.cos(heading)])
    aside = np.array([-ahead[1], ahead[0]])
    tip = np.array([x[middle], y[middle]]) + 5.0 * ahead
    back = tip - 9.0 * ahead
    corners = np.array([tip, back + 3.6 * aside, back + 1.8 * ahead, back - 3.6 * aside])
    page.polygon(
        corners[:, 0], corners[:, 1], fill=colour, edge=PAPER_WHITE, width=0.5, clip=window.box, zorder=10.0
    )


def _minutes(page: Page, window: Window, scene: Scene) -> None:
    """A short stroke across the track at each whole minute since the passage."""
    start_s = scene.found.start_s if scene.arc is None else float(scene.arc.t_s[0])
    first = np.ceil((start_s - scene.zero_s) / 60.0)
    last = np.floor((scene.found.end_s - scene.zero_s) / 60.0)
    moments = scene.flight.at(scene.zero_s + 60.0 * np.arange(first, last + 1))
    page.segments(strokes_across(window, moments, 3.0), width=0.6, clip=window.box, zorder=9.5)
