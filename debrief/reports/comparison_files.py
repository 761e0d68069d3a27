"""The files of a comparison: PDF, pictures, ``comparison.json``, ``comparison.csv``. All of them, or none.

Owns      ``write_comparison`` and what stands in the JSON and CSV files.
Not here  the pages (``comparison_pages``).
Source    DEVELOPERS.md, "Comparison file".
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
from collections.abc import Mapping, Sequence
from datetime import UTC
from pathlib import Path as FilePath
from typing import Any

from debrief.comparison.model import Comparison, MeasureComparison, PilotMeasure
from debrief.procedures import Procedure
from debrief.reports.comparison_maps import Path
from debrief.reports.comparison_pages import build_comparison_pages
from debrief.reports.files import bound, png_bytes
from debrief.reports.style import CAUTION, Paper
from debrief.whole_files import no_formula, refuse_taken, write_whole

FORMAT = 1
FLIGHTS = "flights.csv"
_FLIGHT_COLUMNS = ("flight", "pilot", "time", "wind_speed_kt")
COLUMNS = (
    "measure",
    "unit",
    "pilot",
    "flights",
    "mean",
    "sd",
    "level",
    "level_low",
    "level_high",
    "spread",
    "spread_low",
    "spread_high",
    "differs",
    "smallest_change",
    "per_month",
    "per_month_low",
    "per_month_high",
    "trend_beyond_chance",
)


def write_comparison(
    comparison: Comparison,
    procedure: Procedure,
    paths: Mapping[str, Sequence[Path]],
    out: FilePath,
    *,
    paper: Paper = "A4",
) -> tuple[FilePath, ...]:
    """Write comparison.pdf, .png (page one), .json, .csv and flights.csv to a folder, which is made where missing.

    The same comparison gives the same bytes.

    Returns
    -------
    The paths written.

    Raises
    ------
    OutputError
        Where a file cannot be written; then none is left half done. Where flights.csv is there, and is another table.
    """
    # of the names of a comparison's files this is one that a club's own table, or a log, may have
    head = ",".join(_FLIGHT_COLUMNS).encode()
    refuse_taken(out / FLIGHTS, head, "Choose another folder with --out.")
    pages = build_comparison_pages(comparison, procedure, paths, paper)
    contents = {
        out / "comparison.pdf": bound(
            pages,
            title=f"Pilots compared: {comparison.procedure}",
            creator=comparison.program,
            date=comparison.flights[-1].time.astimezone(UTC),
        ),
        out / "comparison.png": png_bytes(pages[0]),
        out / "comparison.json": comparison_json(comparison).encode(),
        out / "comparison.csv": comparison_csv(comparison).encode(),
        out / FLIGHTS: flights_csv(comparison).encode(),
    }
    write_whole(contents)
    return tuple(contents)


def comparison_json(comparison: Comparison) -> str:
    """The text of ``comparison.json``, with a newline at its end."""
    content = {
        "format": FORMAT,
        "program": comparison.program,
        "caution": CAUTION,
        "procedure": comparison.procedure,
        "pilots": list(comparison.pilots),
        "flights": len(comparison.flights),
        "club_pilots": comparison.club_pilots,
        "measures": [_measure(measure) for measure in comparison.measures],
        "hard": [dataclasses.asdict(hard) for hard in comparison.hard],
    }
    return json.dumps(_plain(content), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _measure(measure: MeasureComparison) -> dict[str, Any]:
    return {
        "name": measure.measure.name,
        "words": measure.measure.words,
        "unit": measure.measure.unit,
        "adjusted_for": list(measure.adjusted_for),
        "club": dataclasses.asdict(measure.club),
        "pilots": [dataclasses.asdict(pilot) for pilot in measure.pilots],
    }


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    if isinstance(value, float):
        return float(f"{value:.6g}") if math.isfinite(value) else None
    return value


def comparison_csv(comparison: Comparison) -> str:
    """One row a measure and pilot; empty where there are too few flights."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(COLUMNS)
    for measure in comparison.measures:
        for pilot in measure.pilots:
            rows.writerow([_cell(entry) for entry in _row(measure, pilot)])
    return text.getvalue()


def _row(measure: MeasureComparison, pilot: PilotMeasure) -> tuple[object, ...]:
    trend = pilot.trend
    nobody = (None, None)
    return (
        measure.measure.name,
        measure.measure.unit,
        pilot.pilot,
        pilot.flights,
        pilot.mean,
        pilot.sd,
        pilot.level,
        *(pilot.level_interval or nobody),
        pilot.spread,
        *(pilot.spread_interval or nobody),
        pilot.differs,
        pilot.smallest_change,
        *(
            (trend.per_month, *trend.interval, trend.beyond_chance)
            if trend is not None
            else (*nobody, None, None)
        ),
    )


def flights_csv(comparison: Comparison) -> str:
    """One row a flight of the pilots shown, with every measure that is compared, as flown."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    names = [measure.measure.name for measure in comparison.measures]
    rows.writerow([*_FLIGHT_COLUMNS, *names])
    for flown in comparison.flights:
        if flown.pilot in comparison.pilots:
            time = flown.time.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
            values = [measure.values.get(flown.flight) for measure in comparison.measures]
            rows.writerow(
                [_cell(entry) for entry in (flown.flight, flown.pilot, time, flown.wind_speed_kt, *values)]
            )
    return text.getvalue()


def _cell(entry: object) -> str:
    if entry is None:
        return ""
    if isinstance(entry, bool):
        return str(int(entry))
    if isinstance(entry, float):
        return f"{entry:.6g}"
    return no_formula(str(entry))
