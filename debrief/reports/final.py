"""The final: altitude against the distance along the final course, with every published limit on it.

Owns      ``draw_final``.
Not here  the flown path as a whole (``profile``), the descent's figures (measures).

A pilot reads from it: where the descent began, how it ran against the published path and the steps, and whether
the minimum was kept up to the missed approach point.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.navigation.angles import difference_deg
from debrief.navigation.descent import THRESHOLD_CROSSING_FT, gradient_ft_nm
from debrief.navigation.radials import along_track_nm
from debrief.phases.model import StationView
from debrief.procedures.geometry import MarkName, final_course_true_deg, marks
from debrief.procedures.model import Phase
from debrief.reports.chart import Chart, reach
from debrief.reports.layout import Rect
from debrief.reports.limits import limit_stretches
from debrief.reports.page import Page
from debrief.reports.placing import Placer
from debrief.reports.profile import (
    AXIS_PT,
    LABEL_PT,
    axes,
    errorless_trace,
    label_size,
    limit_label,
    numbers,
    put_label,
    say_if_empty,
    trace,
)
from debrief.reports.scene import ROLLED_OUT_KT, Scene
from debrief.reports.style import INK, SOFT
from debrief.reports.words import number

Floats = NDArray[np.float64]

_BEFORE_FINAL_NM = 1.2
_BEYOND_NM = 0.8
_FLOWN_IN_DEG = 90.0  # of the course: flown in its direction
_BEFORE_S, _AFTER_S = 120.0, 60.0
_POLE_STEP_PT = 4.0


def draw_final(page: Page, box: Rect, scene: Scene) -> None:
    """Altitude on the last final against the distance from the station along the final course."""
    procedure = scene.flight.procedure
    course_true_deg = final_course_true_deg(procedure)
    final = scene.found.last(Phase.FINAL)
    if final is None:
        return

    def x_nm(view: StationView) -> Floats:
        return np.asarray(along_track_nm(view.east_nm, view.north_nm, course_true_deg))

    points = {
        mark.name: float(along_track_nm(mark.east_nm, mark.north_nm, course_true_deg))
        for mark in marks(procedure)
    }
    clocked_s = _clocked_s(scene)
    if clocked_s is not None:  # where the clock said so, not where a flight in still air would be by then
        points["missed_approach_point"] = float(x_nm(scene.flight.at(np.array([clocked_s])))[0])
    ends = x_nm(scene.flight.at(np.array([final.start_s, final.end_s])))
    known = [*ends[np.isfinite(ends)].tolist(), *points.values()]
    x_from, x_to = min(known) - _BEFORE_FINAL_NM, max(known) + _BEYOND_NM
    shown = scene.path(
        max(final.start_s - _BEFORE_S, scene.found.start_s), min(final.end_s + _AFTER_S, scene.found.end_s)
    )
    inside = (x_nm(shown) >= x_from) & (x_nm(shown) <= x_to)
    limits = [limit for limit in limit_stretches(scene) if limit.phase == Phase.FINAL]
    ground = [procedure.runway.elevation_ft] if procedure.runway is not None else []
    scale = reach(shown.altitude_ft[inside], [limit.altitude_ft for limit in limits] + ground, least=800.0)
    left = box.left + LABEL_PT
    chart = Chart(page, Rect(left, box.top + 2.0, box.right, box.bottom - AXIS_PT), x_from, x_to, *scale)
    ident = procedure.station.ident
    towards = procedure.station_on_aerodrome
    name = (
        tr("NM along the final course to {ident}", ident=ident)
        if towards
        else tr("NM along the final course from {ident}", ident=ident)
    )
    axes(chart, name, signed=not towards)
    placer, circled = Placer(chart.box), scene.attempt.measures.circling
    from_s = final.start_s - _BEFORE_S
    # then to and fro: no distance along it
    to_s = np.inf if circled is None else scene.seconds(circled.start)
    for span, path in scene.paths:
        if span.end_s >= from_s and span.start_s <= final.end_s + _AFTER_S:
            stands = path.groundspeed_kt < ROLLED_OUT_KT  # its noise would draw a knot
            off_deg = np.abs(difference_deg(path.ground_track_true_deg, course_true_deg))
            back = (span.phase != Phase.FINAL) & (off_deg > _FLOWN_IN_DEG)  # over what was flown in
            drawn = (path.t_s >= from_s) & (path.t_s <= to_s) & ~stands & ~back
            trace(chart, placer, span.phase, x_nm(path), np.where(drawn, path.altitude_ft, np.nan))
    if scene.errorless is not None:
        without_error = scene.errorless.approach
        x = x_nm(without_error)
        off_deg = np.abs(difference_deg(without_error.ground_track_true_deg, course_true_deg))
        against = (off_deg > _FLOWN_IN_DEG) & (without_error.groundspeed_kt > ROLLED_OUT_KT)
        elsewhere = np.flatnonzero((x < x_from) | against)
        last = int(elsewhere[-1]) + 1 if len(elsewhere) else 0
        errorless_trace(chart, x[last:], without_error.altitude_ft[last:])
    _published(chart, placer, scene, points, final.start_s)
    say_if_empty(chart, shown)
    numbers(chart, placer, scene, x_nm, from_s, to_s)


def _clocked_s(scene: Scene) -> float | None:
    """When the missed approach point was passed, where it is found by the clock and was passed. [s]"""
    leg, flown = scene.flight.procedure.final, scene.attempt.measures.final
    point = leg.missed_approach_point if leg is not None else None
    if point is None or point.minutes is None or flown is None or flown.missed_approach_point is None:
        return None
    return scene.seconds(flown.missed_approach_point)


def _published(
    chart: Chart, placer: Placer, scene: Scene, points: dict[MarkName, float], start_s: float
) -> None:
    """The station, the steps, the minimum, the missed approach point, the threshold and the published path."""
    procedure = scene.flight.procedure
    leg = procedure.final
    if leg is None:
        return
    course_true_deg = final_course_true_deg(procedure)
    begin = 0.0
    if procedure.station_on_aerodrome:
        view = scene.flight.at(np.array([start_s]))
        begin = float(along_track_nm(view.east_nm, view.north_nm, course_true_deg)[0])
    _pole(chart, placer, 0.0, procedure.station.ident)
    x = begin if np.isfinite(begin) else chart.x_from
    for mark in marks(procedure):
        at = float(along_track_nm(mark.east_nm, mark.north_nm, course_true_deg))
        if mark.name == "step_down" and mark.altitude_ft is not None and at > x:
            chart.limit(x, at, mark.altitude_ft, forbidden_below=True)
            limit_label(chart, placer, (x, at), mark.altitude_ft, below=True)
            _pole(chart, placer, at, mark.until)
            x = at
    low_ft = procedure.minimum_ft(circled=scene.attempt.measures.circling is not None)
    end = points.get("missed_approach_point", chart.x_to)
    if low_ft is not None and end > x:
        chart.limit(x, end, low_ft, forbidden_below=True)
        limit_label(chart, placer, (x, end), low_ft, below=True)
    if "missed_approach_point" in points:
        _pole(chart, placer, end, _point_name(scene))
    if "threshold" in points and procedure.runway is not None:
        y = float(chart.y(procedure.runway.elevation_ft))
        left = float(chart.x(points["threshold"]))
        chart.page.segments([(left, y, chart.box.right, y)], width=3.0, clip=chart.box, zorder=6.0)
        placer.take(Rect(left, y - 2.0, chart.box.right, y + 2.0))
        _label(chart, placer, (left, y), tr("threshold {ident}", ident=procedure.runway.ident))
    _published_path(chart, placer, scene, points, x_start=begin)


def _point_name(scene: Scene) -> str:
    """The missed approach point by what tells it: beside the poles of steps its name alone seemed to be theirs."""
    leg = scene.flight.procedure.final
    point = leg.missed_approach_point if leg is not None else None
    if _clocked_s(scene) is not None:
        return tr("missed approach point, by the clock")
    if point is not None and point.dme_nm is not None:
        return tr("missed approach point, {dme} DME", dme=number(point.dme_nm, 1))
    return tr("missed approach point")


def _published_path(
    chart: Chart, placer: Placer, scene: Scene, points: dict[MarkName, float], *, x_start: float
) -> None:
    procedure = scene.flight.procedure
    leg = procedure.final
    if leg is None or leg.descent_angle_deg is None:
        return
    if "threshold" in points and procedure.runway is not None:
        foot, foot_ft = points["threshold"], procedure.runway.elevation_ft + THRESHOLD_CROSSING_FT
    elif "missed_approach_point" in points and leg.altitude is not None and leg.altitude.low_ft is not None:
        foot, foot_ft = points["missed_approach_point"], leg.altitude.low_ft
    else:
        return
    top_ft = foot_ft + float(gradient_ft_nm(leg.descent_angle_deg)) * (foot - x_start)
    if not top_ft > foot_ft:
        return
    chart.line(
        [x_start, foot], [top_ft, foot_ft], colour=SOFT, width=0.9, dashes=(8.0, 2.5, 1.5, 2.5), zorder=5.0
    )
    shares = np.linspace(0.0, 1.0, 60)
    x, y = chart.x(x_start + shares * (foot - x_start)), chart.y(top_ft + shares * (foot_ft - top_ft))
    placer.avoid(x, y)
    named = len(shares) * 5 // 8
    _label(
        chart,
        placer,
        (float(x[named]), float(y[named])),
        tr("{angle}° published", angle=number(leg.descent_angle_deg, 1)),
    )


def _pole(chart: Chart, placer: Placer, x: float, text: str) -> None:
    """A line upwards with its name at the top."""
    if not chart.x_from <= x <= chart.x_to:
        return
    chart.upright(x, colour=SOFT, width=0.8, dashes=(3.0, 2.0))
    wide, tall = label_size(text)
    at = float(chart.x(x))
    along = np.arange(chart.box.top, chart.box.bottom, _POLE_STEP_PT)
    placer.avoid(np.full_like(along, at), along)
    centres = [
        (at + side * (wide / 2 + 3.0), chart.box.top + tall * (row + 0.8))
        for row in range(4)
        for side in (1, -1)
    ]
    box = placer.among(centres, wide, tall)
    if box is not None:
        put_label(chart.page, box, text)


def _label(chart: Chart, placer: Placer, at: tuple[float, float], text: str) -> None:
    box = placer.near(*at, *label_size(text), far_pt=62.0)
    if box is not None:
        put_label(chart.page, box, text, colour=INK)
