"""The club's board: pilots over many flights of one procedure, as the logbook has them. A worker makes it.

Owns      gathering the approaches of a procedure, what the board shows of them, the small charts in it (numbers from
          the comparison, placed on a scale).
Not here  any statistic (``comparison``), any sentence (``reports.comparison_words``), the page (``pages_board``).
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from debrief.comparison import Comparison, Flown, compare
from debrief.comparison.model import MeasureComparison, PilotMeasure
from debrief.logbook import Logbook
from debrief.logbook.looking import Approach, FlightRow, approaches, flights, pilots
from debrief.logbook.names import folded
from debrief.reports.comparison_words import (
    differences,
    hard_sentence,
    interval,
    nothing_found,
    too_few,
    trends,
    value,
)

_WIDE, _EDGE = 220.0, 8.0  # of a chart
_MAP = 520.0
_HARD_SHOWN = 5

Place = tuple[float, float]


def board(
    logbook: Logbook,
    connection: sqlite3.Connection,
    about: Mapping[str, Any],
    before: Mapping[str, Any] | None,
) -> Mapping[str, Any]:
    """What the board shows of a procedure, the most flown one where none is named.

    ``about`` names the ``procedure``, the ``pilot`` to look at ("" for everybody), and the ``owner``: the account of
    that pilot, where it is the pilot who looks and may see nobody else. ``before`` is what was shown the last time: it is given back where nothing
    has changed.
    """
    every = flights(logbook)
    counts = Counter(row.procedure for row in every if row.attempts)
    names = [name for name, _ in sorted(counts.items(), key=lambda entry: (-entry[1], entry[0]))]
    procedure = about["procedure"] if about["procedure"] in counts else (names[0] if names else "")
    of_it = [row for row in every if row.procedure == procedure and row.attempts]
    pages = _pages(connection, about["owner"])
    pilot = _shown_name(logbook, about["pilot"], own=about["owner"] is not None)
    state = [[*map(str, row), pages.get(row.number)] for row in of_it]
    stamp = hashlib.sha256(json.dumps([names, pilot, state]).encode()).hexdigest()
    if before is not None and before["stamp"] == stamp:
        return before
    found = {"stamp": stamp, "procedures": names, "procedure": procedure, "pilot": pilot, "board": None}
    if not of_it:
        return found
    firsts = _firsts(approaches(logbook, procedure=procedure), {row.number for row in of_it})
    comparison = compare(
        [_flown(approach) for approach in firsts], procedure, shown=[pilot] if pilot else None
    )
    paths = {approach.flight: _path(approach) for approach in firsts}
    rows = {row.number: row for row in of_it}
    return found | {"board": _shown(comparison, paths, rows, pages, pilot)}


def _pages(connection: sqlite3.Connection, owner: int | None) -> dict[int, str]:
    """The page's own flights that may be opened, by their numbers in the logbook."""
    rows = connection.execute(
        "SELECT id, logbook_flight FROM flight WHERE logbook_flight IS NOT NULL AND removed_at IS NULL"
        " AND state = 'done' AND (? IS NULL OR owner = ?) ORDER BY added_at",
        (owner, owner),
    )
    return {row["logbook_flight"]: row["id"] for row in rows}


def _shown_name(logbook: Logbook, pilot: str, *, own: bool) -> str:
    """A pilot as the logbook shows them; the name itself where the logbook does not know it.

    Who looks for themselves is known by name alone: somebody else may have chosen it as an alias.
    """
    wanted = folded(" ".join(pilot.split()))
    for row in pilots(logbook) if wanted else ():
        if wanted == folded(row.name) or (not own and row.alias and wanted == folded(row.alias)):
            return row.shown
    return pilot


def _firsts(found: Sequence[Approach], wanted: set[int]) -> list[Approach]:
    """The first approach of each flight: no two of one day's wind and mood."""
    first = {row.flight: row for row in sorted(found, key=lambda row: -row.number) if row.flight in wanted}
    return sorted(first.values(), key=lambda row: (row.started, row.flight))


def _flown(approach: Approach) -> Flown:
    return Flown(
        flight=approach.flight,
        pilot=approach.pilot,
        time=approach.started,
        measures=approach.measures,
        wind_speed_kt=approach.wind_speed_kt,
        items=approach.items,
    )


def _path(approach: Approach) -> list[Place]:
    """Where it was flown; nothing where it was not observed."""
    return [
        (east, north)
        for east, north in approach.path()[:, :2].tolist()
        if east == east and north == north  # nan where unknown
    ]


def _shown(
    comparison: Comparison,
    paths: Mapping[int, Sequence[Place]],
    rows: Mapping[int, FlightRow],
    pages: Mapping[int, str],
    pilot: str,
) -> dict[str, Any]:
    found = list(differences(comparison))
    return {
        "pilots": comparison.pilots,
        "club_pilots": comparison.club_pilots,
        "count": len(comparison.flights),
        "differences": found,
        "trends": list(trends(comparison)),
        "hard": [hard_sentence(entry) for entry in comparison.hard[:_HARD_SHOWN] if entry.missed],
        "few": too_few(comparison),
        "nothing": "" if found else nothing_found(comparison),
        "measures": [_measure(comparison, measure) for measure in comparison.measures],
        "overlay": _overlay(comparison, paths, pilot),
        "flights": [
            {
                "page": pages.get(entry.flight, ""),
                "number": entry.flight,
                "pilot": entry.pilot,
                "day": f"{entry.time:%Y-%m-%d}",
                "result": rows[entry.flight].grade or "",
            }
            for entry in sorted(comparison.flights, key=lambda entry: entry.time, reverse=True)
            if not pilot or entry.pilot == pilot
        ],
    }


def _measure(comparison: Comparison, measure: MeasureComparison) -> dict[str, Any]:
    """One measure with a row for each pilot, and its charts on one scale."""
    shown = set(comparison.pilots)
    pilot_of = {entry.flight: entry.pilot for entry in comparison.flights}
    ends = [edge for row in measure.pilots if row.level_interval is not None for edge in row.level_interval]
    values = [number for flight, number in measure.values.items() if pilot_of[flight] in shown]
    known = [*values, *ends, *([] if measure.club.level is None else [measure.club.level])]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    span = max(high - low, 1e-9)

    def x(number: float) -> float:
        return round(_EDGE + (number - low) / span * (_WIDE - 2 * _EDGE), 1)

    decimals = measure.measure.decimals
    return {
        "words": measure.measure.words,
        "unit": measure.measure.unit,
        "club": value(measure.club.level, measure),
        "club_x": None if measure.club.level is None else x(measure.club.level),
        "club_spread": value(measure.club.spread, measure),
        "adjusted": measure.adjusted_for,
        "rows": [
            {
                "pilot": row.pilot,
                "flights": row.flights,
                "level": value(row.level if row.level is not None else row.mean, measure),
                "level_interval": interval(row.level_interval, decimals),
                "spread": value(row.spread, measure),
                "spread_interval": interval(row.spread_interval, decimals),
                "differs": row.differs or "",
                "trend": _trend(row, measure),
                "x": None if row.level is None else x(row.level),
                "ends": None if row.level_interval is None else [x(edge) for edge in row.level_interval],
                "dots": [
                    x(number) for flight, number in measure.values.items() if pilot_of[flight] == row.pilot
                ],
            }
            for row in measure.pilots
        ],
    }


def _trend(row: PilotMeasure, measure: MeasureComparison) -> str:
    if row.trend is None or not row.trend.beyond_chance:
        return ""
    return f"{value(row.trend.per_month, measure, signed=True)} a month"


def _overlay(comparison: Comparison, paths: Mapping[int, Sequence[Place]], pilot: str) -> dict[str, Any]:
    """Every approach over one another, on a square of ``_MAP`` points; those that are asked for stand out."""
    seen = set(comparison.pilots)
    places = [point for path in paths.values() for point in path] or [(0.0, 0.0)]
    east, north = [place[0] for place in places], [place[1] for place in places]
    reach = max(max(east) - min(east), max(north) - min(north), 2.0) * 1.08
    middle_east, middle_north = (max(east) + min(east)) / 2, (max(north) + min(north)) / 2

    def at(place: Place) -> str:
        x = _MAP / 2 + (place[0] - middle_east) / reach * _MAP
        y = _MAP / 2 - (place[1] - middle_north) / reach * _MAP
        return f"{x:.1f},{y:.1f}"

    lines = [
        {"points": " ".join(at(place) for place in paths[entry.flight]), "shown": entry.pilot in seen}
        for entry in comparison.flights
        if len(paths[entry.flight]) > 1
    ]
    return {
        "size": _MAP,
        "lines": sorted(lines, key=lambda line: bool(line["shown"])) if pilot else lines,
        "station": at((0.0, 0.0)).split(","),
    }
