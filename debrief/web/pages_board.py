"""The page of the board: who flies how, with intervals; a pilot sees their own, and the club as a whole.

Owns      what the page shows, and the small charts in it (numbers from the comparison, placed on a scale).
Not here  the numbers (``comparison``), the sentences (``reports.comparison_words``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import Response

from debrief.web import flights
from debrief.web.answers import page
from debrief.web.guard import Ask

if TYPE_CHECKING:
    from debrief.comparison.model import MeasureComparison, PilotMeasure
    from debrief.web.board import Board

_MOST = 5000
_WIDE, _EDGE = 220.0, 8.0  # of a chart
_MAP = 520.0
_HARD_SHOWN = 5


def board_page(ask: Ask) -> Response:
    """The board of one procedure."""
    from debrief.web.board import board_of, procedures_flown

    every = flights.listed(ask.connection, owner=None, of_all=True, most=_MOST)
    names = procedures_flown(every)
    asked = ask.request.query_params.get("procedure", "")
    procedure = asked if asked in names else (names[0] if names else "")
    pilot = ask.name if not ask.sees_all else ask.request.query_params.get("pilot", "")
    board = board_of(ask.store, every, procedure, [pilot] if pilot else None) if procedure else None
    return page(
        ask,
        "board.html",
        procedures=names,
        procedure=procedure,
        pilot=pilot,
        own=not ask.sees_all,
        board=_shown(board, pilot) if board is not None else None,
    )


def _shown(board: Board, pilot: str) -> dict[str, Any]:
    from debrief.reports.comparison_words import differences, hard_sentence, nothing_found, too_few, trends

    comparison = board.comparison
    found = list(differences(comparison))
    flown = sorted(comparison.flights, key=lambda entry: entry.time)
    return {
        "pilots": comparison.pilots,
        "club_pilots": comparison.club_pilots,
        "count": len(comparison.flights),
        "differences": found,
        "trends": list(trends(comparison)),
        "hard": [hard_sentence(entry) for entry in comparison.hard[:_HARD_SHOWN] if entry.missed],
        "few": too_few(comparison),
        "nothing": "" if found else nothing_found(comparison),
        "measures": [_measure(board, measure) for measure in comparison.measures],
        "overlay": _overlay(board, pilot),
        "flights": [
            {
                "id": board.flights[entry.flight].id,
                "pilot": entry.pilot,
                "day": f"{entry.time:%Y-%m-%d}",
                "result": board.flights[entry.flight].summary["results"][0],
                "file": board.flights[entry.flight].file,
            }
            for entry in flown
            if not pilot or entry.pilot == pilot
        ],
    }


def _measure(board: Board, measure: MeasureComparison) -> dict[str, Any]:
    """One measure with a row for each pilot, and its charts on one scale."""
    from debrief.reports.comparison_words import interval, value

    shown = set(board.comparison.pilots)
    pilot_of = {entry.flight: entry.pilot for entry in board.comparison.flights}
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
    from debrief.reports.comparison_words import value

    if row.trend is None or not row.trend.beyond_chance:
        return ""
    return f"{value(row.trend.per_month, measure, signed=True)} a month"


def _overlay(board: Board, pilot: str) -> dict[str, Any]:
    """Every approach over one another, on a square of ``_MAP`` points; those that are asked for stand out."""
    seen = set(board.comparison.pilots)
    places = [point for path in board.paths for point in path] or [(0.0, 0.0)]
    east, north = [place[0] for place in places], [place[1] for place in places]
    reach = max(max(east) - min(east), max(north) - min(north), 2.0) * 1.08
    middle_east, middle_north = (max(east) + min(east)) / 2, (max(north) + min(north)) / 2

    def at(place: tuple[float, float]) -> str:
        x = _MAP / 2 + (place[0] - middle_east) / reach * _MAP
        y = _MAP / 2 - (place[1] - middle_north) / reach * _MAP
        return f"{x:.1f},{y:.1f}"

    lines = [
        {"points": " ".join(at(place) for place in path), "shown": entry.pilot in seen}
        for entry, path in zip(board.comparison.flights, _in_order(board), strict=True)
        if len(path) > 1
    ]
    station = at((0.0, 0.0)).split(",")
    return {
        "size": _MAP,
        "lines": sorted(lines, key=lambda line: bool(line["shown"])) if pilot else lines,
        "station": station,
    }


def _in_order(board: Board) -> list[tuple[tuple[float, float], ...]]:
    return [board.paths[entry.flight] for entry in board.comparison.flights]
