"""The report of a comparison, page by page.

Owns      which parts it has, in which order; its tables.
Not here  the pictures (``comparison_maps``, ``comparison_strips``), the sentences (``comparison_words``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from debrief.comparison.model import Comparison, MeasureComparison, PilotMeasure
from debrief.procedures import Procedure
from debrief.reports import comparison_words as words
from debrief.reports.comparison_maps import Path, draw_overlay, draw_small_maps
from debrief.reports.comparison_strips import (
    CHART_ROW_PT,
    draw_measures,
    draw_over_time,
    signals_of,
    strip_pt,
)
from debrief.reports.flow import Column, Flow, Group, Row
from debrief.reports.layout import Rect
from debrief.reports.page import Page
from debrief.reports.style import BODY_PT, SOFT, TABLE_PT, TITLE_PT, Paper
from debrief.reports.words import NOTHING, number, phase_name, rule_name
from debrief.tracks.words import counted

_SENTENCES_SHOWN = 8
_PILOTS_TABLED = (
    15  # with more, the table has those only of whom there is something to say; the CSV file has all
)
_LEAST_MAP_PT = 200.0
_HEADING_PT = 34.0
_ABOUT_PT = 40.0  # what is said before the first strip
_LEGEND_PT = 12.0
#: One pilot is charted on every measure; of several, each on the steadiness of the needle.
_CHARTED = ("final.deviation_deg.rms", "outbound.deviation_deg.rms")


def build_comparison_pages(
    comparison: Comparison, procedure: Procedure, paths: Mapping[str, Sequence[Path]], paper: Paper
) -> list[Page]:
    """Every page of the report, ready to be written.

    Parameters
    ----------
    paths : every approach by its pilot, of all pilots of the club.
    """
    dates = f"{comparison.flights[0].time:%Y-%m-%d} to {comparison.flights[-1].time:%Y-%m-%d}"
    flow = Flow(paper, (f"Pilots compared: {comparison.procedure}", dates))
    _front(flow, comparison, procedure, paths, dates)
    strip = strip_pt(len(comparison.pilots))[0]
    if len(comparison.pilots) > 1:
        flow.turn()
        flow.heading("Each pilot's flights")
        flow.paragraph(
            "All on one scale, north up. Black: flown; grey: as published, in still air; ring: the station.",
            colour=SOFT,
        )
        draw_small_maps(
            flow, procedure, paths, comparison.pilots, before_pt=_HEADING_PT + _ABOUT_PT, strip_pt=strip
        )
    flow.heading("Level and spread", keep_pt=_ABOUT_PT + strip)
    flow.paragraph(
        "A ring is what the flights show, its line the 95 % interval; short strokes are the flights themselves. A filled "
        "mark and a bold name: differs from the others beyond chance. Dashed: the club. Beside a name: flights that have "
        "the measure. An arrow head: the interval goes on.",
        size_pt=TABLE_PT,
        colour=SOFT,
    )
    draw_measures(flow, comparison)
    charts = list(_charts(comparison))
    if charts:
        flow.heading("Over time", keep_pt=_ABOUT_PT + CHART_ROW_PT)
        flow.paragraph(
            "One pilot's flights in order, and below how far each lies from the one before. Thin line: mean; dashed: where "
            "flights of a pilot who does not change hardly ever come. A filled mark lies outside, or is the eighth in a "
            "row on one side of the mean. A broad line: a trend beyond chance."
            + (
                ""
                if len(comparison.pilots) <= _PILOTS_TABLED
                else " Only charts that show something stand here."
            ),
            size_pt=TABLE_PT,
            colour=SOFT,
        )
        draw_over_time(flow, comparison, charts)
    _hard(flow, comparison)
    _table(flow, comparison)
    method = [f"{title}. {text}" for title, text in words.METHOD]
    flow.titled_paragraphs("How the numbers were found", method, size_pt=TABLE_PT)
    return flow.finish()


def _front(
    flow: Flow,
    comparison: Comparison,
    procedure: Procedure,
    paths: Mapping[str, Sequence[Path]],
    dates: str,
) -> None:
    flow.title(f"Pilots compared: {comparison.procedure}", TITLE_PT)
    shown = len(comparison.pilots)
    of = f" of {comparison.club_pilots}" if shown < comparison.club_pilots else ""
    flow.paragraph(
        f"{counted(shown, 'pilot')}{of}, {counted(len(comparison.flights), 'flight')} of the club, {dates}. "
        f"{comparison.program}.",
        colour=SOFT,
    )
    flow.heading("Beyond chance")
    found = [*words.differences(comparison), *words.trends(comparison)]
    if len(found) > _SENTENCES_SHOWN:
        found = [*words.differences_by_measure(comparison), *words.trends(comparison)]
    for sentence in found[:_SENTENCES_SHOWN]:
        flow.paragraph(sentence, bullet="•")
    if len(found) > _SENTENCES_SHOWN:
        rest = len(found) - _SENTENCES_SHOWN
        flow.paragraph(f"And {rest} more: filled marks under Level and spread, and the table.", bullet="•")
    if not found:
        flow.paragraph(words.nothing_found(comparison))
    few = words.too_few(comparison)
    if few:
        flow.paragraph(few, colour=SOFT)
    if comparison.hard:
        flow.heading("What the club finds hard")
        for hard in comparison.hard[: words.HARD_SHOWN]:
            flow.paragraph(words.hard_sentence(hard), bullet="•")
    if flow.room < _LEAST_MAP_PT:
        flow.turn()
    flow.heading("Every approach")
    box = flow.picture(flow.room)
    draw_overlay(
        flow.page,
        Rect(box.left, box.top, box.right, box.bottom - _LEGEND_PT),
        procedure,
        paths,
        comparison.pilots,
    )
    legend = "Blue: flown. Grey, with a broken line: as published, in still air."
    if shown < comparison.club_pilots:
        legend = "Blue: flown by the pilots shown. Thin grey: by others. Broad grey, with a broken line: as published."
    flow.page.text(box.left, box.bottom - 1.0, legend, BODY_PT, colour=SOFT)


def _charts(comparison: Comparison) -> list[tuple[MeasureComparison, PilotMeasure]]:
    """Which pilots and measures are charted over time."""
    alone = len(comparison.pilots) == 1
    measures = [m for m in comparison.measures if alone or m.measure.name in _CHARTED[:1]]
    if not measures:
        measures = [m for m in comparison.measures if m.measure.name in _CHARTED[1:]] or list(
            comparison.measures[:1]
        )
    everybody = len(comparison.pilots) <= _PILOTS_TABLED
    return [
        (measure, row)
        for measure in measures
        for row in measure.pilots
        if row.spread is not None and (everybody or _telling(row) or signals_of(comparison, measure, row))
    ]


def _hard(flow: Flow, comparison: Comparison) -> None:
    if not comparison.hard:
        return
    columns = (
        Column("What the standard asks for", 3.2),
        Column("Phase", 1.6),
        Column("Missed", 1.2, "right"),
        Column("Share", 0.8, "right"),
        Column("95 %", 1.4, "right"),
        Column("Pilots", 0.8, "right"),
    )
    rows = [
        Row(
            (
                rule_name(hard.rule),
                phase_name(hard.phase),
                f"{hard.missed} of {hard.flights}",
                words.share(hard.share),
                f"{words.share(hard.interval[0])} to {words.share(hard.interval[1])}",
                str(hard.pilots),
            )
        )
        for hard in comparison.hard
    ]
    flow.titled_table("What the club finds hard", columns, rows)


def _table(flow: Flow, comparison: Comparison) -> None:
    columns = (
        Column("Pilot", 1.6),
        Column("Flights", 1.0, "right"),
        Column("As flown: mean (SD)", 1.6, "right"),
        Column("Level", 0.9, "right"),
        Column("95 %", 1.7, "right"),
        Column("Spread", 1.0, "right"),
        Column("95 %", 1.7, "right"),
        Column("Differs", 0.9),
        Column("Smallest change", 1.2, "right"),
        Column("A month", 1.0, "right"),
    )
    everybody = len(comparison.pilots) <= _PILOTS_TABLED
    rows: list[Row | Group] = []
    for measure in comparison.measures:
        decimals = measure.measure.decimals
        freed = f"; freed of {' and '.join(measure.adjusted_for)}" if measure.adjusted_for else ""
        rows.append(
            Group(
                f"{measure.measure.words} ({measure.measure.unit}): club {number(measure.club.level, decimals)}, "
                f"spread {number(measure.club.spread, decimals)}, between pilots "
                f"{number(measure.club.between, decimals)}{freed}"
            )
        )
        rows += [_row(measure, row) for row in measure.pilots if everybody or _telling(row)]
    flow.titled_table(
        "Every number" if everybody else "The numbers of the club, and of who differs", columns, rows
    )
    if not everybody:
        flow.paragraph("Every number of every pilot stands in comparison.csv.", size_pt=TABLE_PT, colour=SOFT)


def _telling(row: PilotMeasure) -> bool:
    return row.differs is not None or (row.trend is not None and row.trend.beyond_chance)


def _row(measure: MeasureComparison, row: PilotMeasure) -> Row:
    decimals = measure.measure.decimals
    month = NOTHING
    if row.trend is not None:
        month = number(row.trend.per_month, decimals, signed=True) + ("!" if row.trend.beyond_chance else "")
    return Row(
        (
            row.pilot,
            str(row.flights),
            number(row.mean, decimals) + (f" ({number(row.sd, decimals)})" if row.sd is not None else ""),
            number(row.level, decimals),
            words.interval(row.level_interval, decimals),
            number(row.spread, decimals),
            words.interval(row.spread_interval, decimals),
            row.differs or ("" if row.spread is not None else NOTHING),
            number(row.smallest_change, decimals),
            month,
        ),
        bold=row.differs is not None,
    )
