"""Strips against time: needle, altitude, speed, vertical speed, rate of turn, under the phases' names.

Owns      ``draw_strips``: which strips there are, their scales, the time axis; ``about_strips``, what to know of them.
Not here  the charts (``chart``), the heads (``bands``), the limits (``limits``).

A pilot reads from it: what the needle, the altitude and the speeds did at the moment of each finding.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.grading.needle_scale import by_pointer
from debrief.language import tr
from debrief.phases.model import StationView
from debrief.procedures.model import Phase
from debrief.reports.bands import Band, bands_height, finding_row, finding_row_height, phase_bands
from debrief.reports.chart import Chart, reach, round_values
from debrief.reports.layout import Rect, wrapped
from debrief.reports.limits import limit_stretches
from debrief.reports.page import Page
from debrief.reports.scene import Scene
from debrief.reports.style import FAINT, GRID, INK, LEADING, PHASE_LOOKS, SMALL_PT, SOFT
from debrief.reports.words import elapsed, number, phase_name

Floats = NDArray[np.float64]

_LABEL_PT = 92.0  # on the left: the strip's name, its unit and its figures
_AXIS_PT = 26.0
_STRIP_GAP_PT = 9.0
_MOST_NUMBERS_PT = 130.0  # of the paper above the strips
_LABEL_HALF_PT = 17.0  # of a time of day
_TIME_STEPS_S = (15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1200.0, 1800.0, 3600.0)
_ALTITUDE_STEPS_FT = (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
_SPEED_STEPS_KT = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
_RATE_STEPS = (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
_TURN_STEPS = (1.0, 3.0, 6.0, 15.0)
_STANDARD_RATE_DEG_S = 3.0
_TRIM = 0.004


@dataclass(frozen=True, slots=True)
class _Strip:
    name: str
    unit: str
    draw: Callable[[Chart, Scene], None]
    scale: tuple[float, float]
    values: tuple[float, ...]
    text: Callable[[float], str]


def about_strips(scene: Scene) -> str:
    """What stands above the strips: how to read them."""
    said = [tr("Times count from {moment}.", moment=scene.zero_name)]
    if scene.gaps:
        said.append(tr("Hatched areas were not observed."))
    said.append(
        tr(
            "The pointer says nothing in the cone over the station; the standard's limit counts once a course is "
            "joined, and on the final until the runway is made for."
        )
        if scene.flight.procedure.station.is_ndb
        else tr(
            "The needle is blank in the cone over the station; the standard's limit counts once a course is joined, "
            "and on the final until the runway is made for."
        )
    )
    return " ".join(said)


def draw_strips(page: Page, box: Rect, scene: Scene) -> None:
    """Draw every strip of an attempt, one below the other, on one time axis."""
    left, right = box.left + _LABEL_PT, box.right
    start_s, end_s = scene.found.start_s, max(scene.found.end_s, scene.found.start_s + 1.0)

    def x_at(t_s: float) -> float:
        return left + (t_s - start_s) / (end_s - start_s) * (right - left)

    bands = bands_of(scene, x_at)
    marks = _marks(scene, x_at, left, right)
    bands_bottom = box.top + bands_height(bands, left, right)
    top = bands_bottom + finding_row_height(marks, left, right) + 3.0
    strips = _strips(scene)
    tall = (box.bottom - _AXIS_PT - top - _STRIP_GAP_PT * (len(strips) - 1)) / len(strips)
    boxes = [
        Rect(left, top + index * (tall + _STRIP_GAP_PT), right, top + index * (tall + _STRIP_GAP_PT) + tall)
        for index in range(len(strips))
    ]
    phase_bands(page, bands, left, right, bands_bottom)
    finding_row(page, marks, left, right, bands_bottom + 1.0, boxes)
    moments = _moments(scene, start_s, end_s)
    for strip, area in zip(strips, boxes, strict=True):
        chart = Chart(page, area, start_s, end_s, *strip.scale)
        chart.frame()
        for moment in moments:
            chart.upright(moment, colour=GRID, width=0.5)
        for band in bands[1:]:
            x = band.left_pt
            page.segments([(x, area.top, x, area.bottom)], colour=FAINT, width=0.5, zorder=3.0)
        chart.figures_up(strip.values, strip.text)
        for gap_start_s, gap_end_s in scene.gaps:
            chart.unseen(gap_start_s, gap_end_s)
        strip.draw(chart, scene)
        _name(page, box.left, area, strip)
    _time_axis(page, boxes[-1], scene, moments, x_at)


def _marks(
    scene: Scene, x_at: Callable[[float], float], left: float, right: float
) -> list[tuple[float, int]]:
    """Where each finding's number belongs, the weightiest first, as long as the strips keep their room."""
    marks: list[tuple[float, int]] = []
    for finding in scene.attempt.findings:
        moment = scene.moment_of(finding)
        if moment is None or not scene.found.start_s <= moment <= scene.found.end_s:
            continue
        more = [*marks, (x_at(moment), finding.number)]
        if finding_row_height(more, left, right) <= _MOST_NUMBERS_PT:
            marks = more
    return marks


def bands_of(scene: Scene, x_at: Callable[[float], float]) -> list[Band]:
    """The phases' stretches; a passage is named by its station."""
    return [
        Band(
            phase=span.phase,
            left_pt=x_at(span.start_s),
            right_pt=x_at(span.end_s),
            name=tr("over {ident}", ident=scene.flight.procedure.station.ident)
            if span.phase == Phase.STATION_PASSAGE
            else phase_name(span.phase),
        )
        for span in scene.found.spans
    ]


def _moments(scene: Scene, start_s: float, end_s: float) -> list[float]:
    return [
        scene.zero_s + value
        for value in round_values(start_s - scene.zero_s, end_s - scene.zero_s, _TIME_STEPS_S, 11)
    ]


def _time_axis(
    page: Page, box: Rect, scene: Scene, moments: Sequence[float], x_at: Callable[[float], float]
) -> None:
    first, second = box.bottom + 3.0 + SMALL_PT, box.bottom + 4.0 + SMALL_PT * (1 + LEADING)
    page.text(box.left - 4.0, first, "min:s", SMALL_PT, colour=SOFT, align="right")
    page.text(box.left - 4.0, second, "UTC", SMALL_PT, colour=SOFT, align="right")
    for moment in moments:
        x = x_at(moment)
        if not box.left + _LABEL_HALF_PT < x < box.right - _LABEL_HALF_PT:
            continue  # it would run into the axis' name, or off the chart
        page.text(x, first, elapsed(moment - scene.zero_s), SMALL_PT, colour=INK, align="centre")
        stamp = scene.flight.log.track.time_at(moment)
        page.text(x, second, f"{stamp:%H:%M:%S}", SMALL_PT, colour=SOFT, align="centre")


def _name(page: Page, left: float, area: Rect, strip: _Strip) -> None:
    room = _LABEL_PT - 34.0
    y = area.top + SMALL_PT
    for line in wrapped(strip.name, room, SMALL_PT, bold=True):
        page.text(left, y, line, SMALL_PT, bold=True)
        y += SMALL_PT * LEADING
    for line in wrapped(strip.unit, room, SMALL_PT):
        page.text(left, y, line, SMALL_PT, colour=SOFT)
        y += SMALL_PT * LEADING


def _strips(scene: Scene) -> list[_Strip]:
    whole = scene.whole
    limits = [limit.altitude_ft for limit in limit_stretches(scene)]
    altitude = reach(whole.altitude_ft, limits, least=800.0)
    airspeed = _airspeed(scene)[1]
    speed = reach(np.concatenate([whole.groundspeed_kt, airspeed]), least=40.0, trim=_TRIM)
    rate = reach(whole.vertical_speed_ft_min, (0.0,), least=1000.0, trim=_TRIM)
    turn = reach(whole.turn_rate_deg_s, (-3.0, 3.0), least=6.0, trim=_TRIM)
    speed_name = (
        tr("Ground speed (solid), indicated airspeed (dotted)") if len(airspeed) else tr("Ground speed")
    )
    return [
        _off_course(scene),
        _Strip(tr("Altitude"), "ft", _altitude, altitude, *_figures(altitude, _ALTITUDE_STEPS_FT)),
        _Strip(speed_name, "kt", _speed, speed, *_figures(speed, _SPEED_STEPS_KT)),
        _Strip(
            tr("Vertical speed"),
            tr("ft/min, climb above 0"),
            _vertical_speed,
            rate,
            *_figures(rate, _RATE_STEPS),
        ),
        _Strip(
            tr("Rate of turn"),
            tr("°/s, right above 0; ±3: standard"),
            _turn,
            turn,
            *_figures(turn, _TURN_STEPS),
        ),
    ]


def _off_course(scene: Scene) -> _Strip:
    """The needle over its scale; of an NDB, which has none, the bearing in degrees off the course."""
    procedure = scene.flight.procedure
    by_degrees = by_pointer(procedure, Phase.FINAL)
    figures = (
        {-1.0: "10°", -0.5: "5°", 0.0: "0", 0.5: "5°", 1.0: "10°"}
        if by_degrees
        else {-1.0: tr("1 left"), -0.5: "½", 0.0: "0", 0.5: "½", 1.0: tr("1 right")}
    )
    return _Strip(
        tr("Off the course") if by_degrees else tr("Needle"),
        tr("by the bearing; above 0: right of course; hatched lines: the standard's limit")
        if by_degrees
        else tr("of full scale; above 0: right of course; hatched lines: the standard's limit"),
        _needle,
        (-1.08, 1.08),
        tuple(figures),
        lambda value: figures[value],
    )


def _figures(
    scale: tuple[float, float], steps: Sequence[float]
) -> tuple[tuple[float, ...], Callable[[float], str]]:
    return tuple(round_values(*scale, steps, 6)), number


def _by_phase(chart: Chart, scene: Scene, values: Callable[[StationView], Floats]) -> None:
    for span, path in scene.paths:
        look = PHASE_LOOKS[span.phase]
        chart.line(path.t_s, values(path), colour=look.colour, width=1.3)


def _needle(chart: Chart, scene: Scene) -> None:
    chart.level(0.0, colour=SOFT, width=0.7)
    for half in (-0.5, 0.5):
        chart.level(half, colour=SOFT, width=0.7, dashes=(5.0, 3.0))
    for item in scene.attempt.grade.items:
        if item.rule == "tracking" and item.phase is not None and item.limit is not None:
            for span in scene.found.spans:
                if span.phase == item.phase:
                    share, until_s = item.limit / scene.full_scale(item.phase), scene.scored_until_s(span)
                    chart.limit(span.start_s, until_s, share, forbidden_below=False)
                    chart.limit(span.start_s, until_s, -share, forbidden_below=True)
    for span, path in scene.paths:
        look = PHASE_LOOKS[span.phase]
        chart.line(path.t_s, scene.needle(span, path), colour=look.colour, width=1.4)


def _altitude(chart: Chart, scene: Scene) -> None:
    for limit in limit_stretches(scene):
        chart.limit(limit.start_s, limit.end_s, limit.altitude_ft, forbidden_below=limit.forbidden_below)
    if not np.isfinite(scene.whole.altitude_ft).any():
        chart.note(tr("no usable altitude in the log"))
    _by_phase(chart, scene, lambda path: path.altitude_ft)


def _speed(chart: Chart, scene: Scene) -> None:
    _by_phase(chart, scene, lambda path: path.groundspeed_kt)
    t_s, airspeed = _airspeed(scene)
    if len(airspeed):
        chart.line(t_s, airspeed, colour=INK, width=0.9, dashes=(1.0, 1.5))


def _airspeed(scene: Scene) -> tuple[Floats, Floats]:
    """Logged indicated airspeed of the used samples in the attempt; empty where the log has none."""
    log = scene.flight.log
    column = log.track.columns.get("airspeed_kias")
    if column is None:
        return np.empty(0), np.empty(0)
    t_s, values = log.t_s, column[log.order]
    inside = (t_s >= scene.found.start_s) & (t_s <= scene.found.end_s) & np.isfinite(values)
    return t_s[inside], values[inside]


def _vertical_speed(chart: Chart, scene: Scene) -> None:
    chart.level(0.0, colour=SOFT, width=0.7)
    if not np.isfinite(scene.whole.vertical_speed_ft_min).any():
        chart.note(tr("no usable altitude in the log"))
    _by_phase(chart, scene, lambda path: path.vertical_speed_ft_min)


def _turn(chart: Chart, scene: Scene) -> None:
    chart.level(0.0, colour=SOFT, width=0.7)
    for rate in (-_STANDARD_RATE_DEG_S, _STANDARD_RATE_DEG_S):
        chart.level(rate, colour=SOFT, width=0.7, dashes=(5.0, 3.0))
    _by_phase(chart, scene, lambda path: path.turn_rate_deg_s)
