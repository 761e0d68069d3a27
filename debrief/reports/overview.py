"""The whole log at a glance: altitude against the time of day, with the attempts and the gaps.

Owns      ``draw_log``.
Not here  the attempts in detail (``strips``, ``profile``).

A pilot reads from it: where in a long flight each attempt lies, and what the recorder missed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.phases.model import Flight
from debrief.reports.chart import Chart, reach, round_values
from debrief.reports.layout import Rect, width_pt
from debrief.reports.page import Page
from debrief.reports.style import FAINT, SMALL_PT, SOFT, WASH
from debrief.reports.words import number

Floats = NDArray[np.float64]

OVERVIEW_PT = 112.0  # the paper it takes
_LEFT_PT = 40.0
_HEAD_PT = 11.0
_FOOT_PT = 14.0
_DRAWN_POINTS = 2000
_TIME_STEPS_S = (
    60.0,
    120.0,
    300.0,
    600.0,
    1200.0,
    1800.0,
    3600.0,
    7200.0,
    14400.0,
    21600.0,
    43200.0,
    86400.0,
)
_ALTITUDE_STEPS_FT = (100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10000.0)
_SECONDS_PER_DAY = 86400.0


def draw_log(page: Page, box: Rect, flight: Flight) -> None:
    """Draw the altitude as logged, a line for each unbroken stretch; attempts shaded, gaps hatched."""
    log = flight.log
    t_s = log.t_s
    start_s, end_s = float(t_s[0]), max(float(t_s[-1]), float(t_s[0]) + 1.0)
    altitude_ft = np.where(log.altitude_used, log.altitude_ft, np.nan)
    scale = reach(altitude_ft, least=800.0)
    area = Rect(box.left + _LEFT_PT, box.top + _HEAD_PT, box.right, box.bottom - _FOOT_PT)
    chart = Chart(page, area, start_s, end_s, *scale)
    chart.frame()
    chart.figures_up(round_values(*scale, _ALTITUDE_STEPS_FT, 6), number)
    page.text(box.left, area.top + SMALL_PT, "ft", SMALL_PT, colour=SOFT)
    page.text(box.left + _LEFT_PT, box.top + SMALL_PT, tr("altitude as logged"), SMALL_PT, colour=SOFT)
    _times(chart, flight)
    for count, found in enumerate(flight.attempts, start=1):
        _attempt(chart, count, found.start_s, found.end_s)
    for gap in log.gaps:
        chart.unseen(gap.start_s, gap.end_s)
    every = max(len(t_s) // _DRAWN_POINTS, 1)
    breaks = np.flatnonzero(np.diff(log.segment[::every])) + 1  # never across a gap
    x, y = np.insert(t_s[::every], breaks, np.nan), np.insert(altitude_ft[::every], breaks, np.nan)
    chart.line(x, y, width=0.9)
    if not np.isfinite(altitude_ft).any():
        chart.note(tr("no usable altitude in the log"))


def _times(chart: Chart, flight: Flight) -> None:
    """Round times of day along the foot."""
    track = flight.log.track
    midnight = track.time_at(0.0).replace(hour=0, minute=0, second=0, microsecond=0)
    since_s = (track.epoch - midnight).total_seconds()
    marks = round_values(chart.x_from + since_s, chart.x_to + since_s, _TIME_STEPS_S, 14)

    def text(value: float) -> str:
        minutes = round((value + since_s) % _SECONDS_PER_DAY / 60.0)
        return f"{minutes // 60:02d}:{minutes % 60:02d}"

    chart.figures_across([mark - since_s for mark in marks], text)
    page, box = chart.page, chart.box
    page.text(box.left - 22.0, box.bottom + 3.0 + SMALL_PT, "UTC", SMALL_PT, colour=SOFT, align="right")


def _attempt(chart: Chart, count: int, start_s: float, end_s: float) -> None:
    box = chart.box
    left, right = float(chart.x(start_s)), float(chart.x(end_s))
    named_to = box.left + width_pt(tr("altitude as logged"), SMALL_PT) + 6.0
    chart.page.rect(Rect(left, box.top, right, box.bottom), fill=WASH, zorder=0.8)
    chart.page.segments(
        [(left, box.top, left, box.bottom), (right, box.top, right, box.bottom)], colour=FAINT
    )
    for text in (tr("attempt {count}", count=count), str(count)):
        wide = width_pt(text, SMALL_PT)
        if wide <= right - left + 2.0 and (left + right - wide) / 2 > named_to:
            chart.page.text((left + right) / 2, box.top - 3.5, text, SMALL_PT, colour=SOFT, align="centre")
            return
