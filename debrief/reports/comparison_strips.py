"""Level and spread of each pilot on each measure, and one pilot's flights over time.

Owns      ``draw_measures`` (a strip a measure: levels on the left, spreads on the right) and ``draw_over_time``.
Not here  the numbers (``debrief.comparison``).

A reader sees from it how far apart the pilots' intervals lie, and every single flight; who differs beyond chance has a
filled mark and a bold name. Shapes and lines say it all: no colour is needed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from debrief.comparison.model import Comparison, Flown, Interval, MeasureComparison, PilotMeasure
from debrief.comparison.over_time import DAYS_A_MONTH, ControlChart, control_chart
from debrief.reports.chart import Chart, reach, round_values
from debrief.reports.comparison_words import value
from debrief.reports.flow import Flow
from debrief.reports.layout import Rect, shortened
from debrief.reports.style import FAINT, GRID, HEADING_PT, INK, PAPER_WHITE, SMALL_PT, SOFT
from debrief.reports.words import number

_NAME_PT = 78.0
_GUTTER_PT = 14.0
_HEAD_PT = 24.0
_FOOT_PT = 18.0
_DOT_PT = 2.3
_STEPS = tuple(base * 10.0**power for power in range(-3, 5) for base in (1.0, 2.0, 5.0))
_CHART_PT = 96.0
CHART_ROW_PT = _CHART_PT + 46.0
_NEVER_NEGATIVE = (".rms", "overshoot_nm")  # sizes
_SPREAD_CUT = 4.0  # an interval may run this many times the club's spread before it is cut


def draw_measures(flow: Flow, comparison: Comparison) -> None:
    """A strip a measure, each whole on one page."""
    pilot_of = {flown.flight: flown.pilot for flown in comparison.flights}
    tall, pitch = strip_pt(len(comparison.pilots))
    for measure in comparison.measures:
        _strip(flow, flow.picture(tall), measure, pitch, pilot_of)


def strip_pt(pilots: int) -> tuple[float, float]:
    """How tall the strip of a measure is, and the pitch of its rows: two strips of forty pilots go on a page. [pt]"""
    pitch = 11.0 if pilots <= 15 else 9.0 if pilots <= 30 else 7.4
    return _HEAD_PT + pitch * pilots + _FOOT_PT, pitch


def _strip(flow: Flow, box: Rect, measure: MeasureComparison, pitch: float, pilot_of: dict[int, str]) -> None:
    page, top = flow.page, box.top + _HEAD_PT
    half = (box.width - _NAME_PT - _GUTTER_PT) / 2
    unit = measure.measure.unit
    page.text(box.left, box.top + 9.0, f"{measure.measure.words} ({unit})", HEADING_PT, bold=True)
    bottom = top + pitch * len(measure.pilots)
    left = Rect(box.left + _NAME_PT, top, box.left + _NAME_PT + half, bottom)
    right = Rect(left.right + _GUTTER_PT, top, box.right, bottom)
    flown = np.array(list(measure.values.values()))
    edges = [edge for row in measure.pilots for edge in row.level_interval or ()]
    ends = reach(np.concatenate([flown, edges]), least=10.0**-measure.measure.decimals, trim=0.005)
    levels = Chart(page, left, *ends, 0.0, 1.0)
    spreads = Chart(page, right, 0.0, _widest(measure), 0.0, 1.0)
    for chart, title, club in (
        (levels, "level", measure.club.level),
        (spreads, "spread", measure.club.spread),
    ):
        chart.frame()
        steps = round_values(chart.x_from, chart.x_to, _steps(measure), 6)
        chart.figures_across(steps, lambda at: number(at, measure.measure.decimals))
        page.text(chart.box.left, chart.box.top - 3.0, title, SMALL_PT, colour=SOFT)
        if club is not None and chart.x_from <= club <= chart.x_to:
            chart.upright(club, colour=INK, width=0.8, dashes=(4.0, 2.0), zorder=6.0)
            words = f"club {value(club, measure)}"
            page.text(chart.box.right, chart.box.top - 3.0, words, SMALL_PT, colour=SOFT, align="right")
    for number_of, row in enumerate(measure.pilots):
        middle = top + (number_of + 0.5) * pitch
        name = shortened(row.pilot, _NAME_PT - 26.0, SMALL_PT, bold=row.differs is not None)
        page.text(box.left, middle + 0.36 * SMALL_PT, name, SMALL_PT, bold=row.differs is not None)
        page.text(
            left.left - 4.0, middle + 0.36 * SMALL_PT, f"{row.flights}", SMALL_PT, colour=SOFT, align="right"
        )
        own = [one for flight, one in measure.values.items() if pilot_of[flight] == row.pilot]
        ticks = levels.x(np.array(own)) if own else np.empty(0)
        strokes = [(float(x), middle - 0.3 * pitch, float(x), middle + 0.3 * pitch) for x in ticks]
        page.segments(strokes, colour=FAINT, width=0.5, clip=left, zorder=4.0)
        _mark(levels, middle, row.level, row.level_interval, row.differs in ("level", "both"))
        _mark(spreads, middle, row.spread, row.spread_interval, row.differs in ("spread", "both"))


def _steps(measure: MeasureComparison) -> tuple[float, ...]:
    """Steps of a scale that its figures can show."""
    return tuple(step for step in _STEPS if step > 0.9 * 10.0**-measure.measure.decimals)


def _widest(measure: MeasureComparison) -> float:
    """The scale of spreads: the far end of a wide interval may run off it."""
    known = [row.spread for row in measure.pilots if row.spread is not None]
    club = measure.club.spread
    if not known or club is None:
        return 10.0**-measure.measure.decimals
    ends = [row.spread_interval[1] for row in measure.pilots if row.spread_interval is not None]
    return max(1.15 * max(known), min(1.05 * max(ends), _SPREAD_CUT * club))


def _mark(chart: Chart, y: float, at: float | None, ends: Interval | None, differs: bool) -> None:
    """An interval as a line with a mark on it; an arrow head where it runs off the chart."""
    if at is None or ends is None:
        return
    page, box = chart.page, chart.box
    low, high = (float(chart.x(end)) for end in ends)
    page.segments(
        [(max(low, box.left), y, min(high, box.right), y)],
        width=1.7 if differs else 1.1,
        clip=box,
        zorder=9.0,
    )
    if high > box.right:
        tip = box.right - 0.5
        page.polygon([tip, tip - 4.0, tip - 4.0], [y, y - 2.2, y + 2.2], fill=INK, clip=box, zorder=10.0)
    x = min(max(float(chart.x(at)), box.left), box.right)
    if differs:
        size = _DOT_PT + 1.0
        page.polygon([x, x + size, x, x - size], [y - size, y, y + size, y], fill=INK, zorder=12.0)
    else:
        page.circle(x, y, _DOT_PT, fill=PAPER_WHITE, edge=INK, width=1.0, zorder=12.0)


def draw_over_time(
    flow: Flow, comparison: Comparison, charts: Sequence[tuple[MeasureComparison, PilotMeasure]]
) -> None:
    """Individuals and moving ranges of some pilots and measures, two in a row."""
    wide = (flow.width - _GUTTER_PT) / 2
    for first in range(0, len(charts), 2):
        row = flow.picture(CHART_ROW_PT)
        for place, (measure, pilot) in enumerate(charts[first : first + 2]):
            left = row.left + place * (wide + _GUTTER_PT)
            _over_time(flow, Rect(left, row.top, left + wide, row.bottom - 8.0), comparison, measure, pilot)


def signals_of(comparison: Comparison, measure: MeasureComparison, pilot: PilotMeasure) -> bool:
    """Whether a pilot's chart shows anything but chance."""
    found = control_chart(_flown(comparison, measure, pilot)[1])
    return found is not None and bool({*found.outside, *found.runs})


def limits_shown(measure: str, found: ControlChart) -> tuple[float, ...]:
    """The limits of a chart. What is never negative has none below nothing: no flight could be beyond it."""
    if found.low < 0.0 and measure.endswith(_NEVER_NEGATIVE):
        return (found.high,)
    return found.low, found.high


def _flown(
    comparison: Comparison, measure: MeasureComparison, pilot: PilotMeasure
) -> tuple[list[Flown], NDArray[np.float64]]:
    """A pilot's flights that have the measure, and its values."""
    own = [f for f in comparison.flights if f.pilot == pilot.pilot and f.flight in measure.values]
    return own, np.array([measure.values[flown.flight] for flown in own])


def _over_time(
    flow: Flow, box: Rect, comparison: Comparison, measure: MeasureComparison, pilot: PilotMeasure
) -> None:
    page = flow.page
    own, values = _flown(comparison, measure, pilot)
    found = control_chart(values)
    title = f"{pilot.pilot}: {measure.measure.words} ({measure.measure.unit})"
    page.text(box.left, box.top + 9.0, shortened(title, box.width, SMALL_PT, bold=True), SMALL_PT, bold=True)
    if found is None:
        return
    order = np.arange(1.0, len(values) + 1.0)
    upper = Rect(box.left + 30.0, box.top + 15.0, box.right, box.top + 15.0 + 0.62 * _CHART_PT)
    lower = Rect(box.left + 30.0, upper.bottom + 5.0, box.right, upper.bottom + 5.0 + 0.34 * _CHART_PT)
    least = 10.0**-measure.measure.decimals
    limits = limits_shown(measure.measure.name, found)
    first = Chart(page, upper, 0.5, len(values) + 0.5, *reach(values, limits, least=least))
    ranges = np.abs(np.diff(values))
    second = Chart(
        page, lower, 0.5, len(values) + 0.5, 0.0, max(1.1 * float(np.max([*ranges, found.range_high])), least)
    )
    for chart, levels in ((first, limits), (second, (found.range_high,))):
        chart.frame()
        steps = round_values(chart.y_from, chart.y_to, _steps(measure), 4 if chart is first else 2)
        chart.figures_up(steps, lambda at: number(at, measure.measure.decimals))
        for level in levels:
            chart.level(level, colour=INK, width=0.7, dashes=(4.0, 2.0))
    first.level(found.centre, colour=SOFT, width=0.7)
    second.level(found.mean_range, colour=SOFT, width=0.7)
    first.line(order, values, colour=SOFT, width=0.8)
    second.line(order[1:], ranges, colour=SOFT, width=0.8)
    signals = {*found.outside, *found.runs}
    size = 1.9 if len(values) <= 40 else 1.2
    for number_of, (x, y) in enumerate(zip(first.x(order), first.y(values), strict=True)):
        fill = INK if number_of in signals else PAPER_WHITE
        page.circle(float(x), float(y), size, fill=fill, edge=INK, width=0.7, zorder=12.0)
    if pilot.trend is not None and pilot.trend.beyond_chance:
        days = np.array([(f.time - own[0].time).total_seconds() / 86400.0 for f in own])
        line = values.mean() + pilot.trend.per_month * (days - days.mean()) / DAYS_A_MONTH
        first.line(order, line, colour=INK, width=1.4)
    dates = f"{own[0].time:%Y-%m-%d} to {own[-1].time:%Y-%m-%d}, {len(own)} flights in order; below: ranges"
    page.text(upper.left, lower.bottom + 11.0, dates, SMALL_PT, colour=SOFT)
    page.segments([(upper.left, lower.bottom, upper.right, lower.bottom)], colour=GRID, width=0.5)
