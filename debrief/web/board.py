"""The club's board: pilots over many flights of one procedure, from what the workers stored.

Owns      what is stored of a flight for it, gathering the flights of a procedure, the comparison kept for the next look.
Not here  any statistic (``comparison``), any sentence (``reports.comparison_words``), how it looks (templates).
"""

from __future__ import annotations

import gzip
import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from debrief.comparison import Comparison, Flown, compare
from debrief.logbook.record import flat_measures, flown_path
from debrief.result import Result
from debrief.web.flights import Flight
from debrief.web.store import Store

FLOWN = "flown.json.gz"
UNNAMED = "without a name"
_PATH_DECIMALS = 3


def flown_json(result: Result) -> dict[str, Any]:
    """The first approach of a flight, as comparisons take it, and where it was flown."""
    attempt = result.attempts[0]
    path = flown_path(result.flight, result.flight.attempts[0])
    return {
        "time": attempt.phases[0].start.isoformat(),
        "measures": dict(flat_measures(attempt.measures)),
        "wind_speed_kt": None if attempt.wind is None else attempt.wind.speed_kt,
        "items": [[item.rule, item.phase, item.result] for item in attempt.grade.items],
        "path": [
            [round(east, _PATH_DECIMALS), round(north, _PATH_DECIMALS)]
            for east, north in path[:, :2].tolist()
            if east == east and north == north  # none where it was not observed
        ],
    }


@dataclass(frozen=True, slots=True)
class Board:
    """The flights of one procedure, compared; ``flights`` are by the numbers of the comparison."""

    procedure: str
    comparison: Comparison
    flights: tuple[Flight, ...]
    paths: tuple[tuple[tuple[float, float], ...], ...]


def procedures_flown(flights: Sequence[Flight]) -> list[str]:
    """The procedures that were flown, the most flown first."""
    counts = Counter(
        str(flight.summary["procedure"])
        for flight in flights
        if flight.state == "done" and flight.summary.get("results")
    )
    return [name for name, _ in sorted(counts.items(), key=lambda entry: (-entry[1], entry[0]))]


def board_of(
    store: Store, flights: Sequence[Flight], procedure: str, shown: Sequence[str] | None
) -> Board | None:
    """The board of one procedure; ``None`` where no flight of it is stored. ``shown`` are the pilots that may be seen."""
    of_it = [
        flight
        for flight in flights
        if flight.result_key is not None
        and flight.summary.get("procedure") == procedure
        and (store.result(flight.result_key) / FLOWN).is_file()
    ]
    if not of_it:
        return None
    keys = tuple((flight.result_key or "", flight.pilot or UNNAMED) for flight in of_it)
    comparison, paths = _compared(store.folder, procedure, keys, None if shown is None else tuple(shown))
    return Board(procedure=procedure, comparison=comparison, flights=tuple(of_it), paths=paths)


@lru_cache(maxsize=16)
def _compared(
    folder: Path, procedure: str, keys: tuple[tuple[str, str], ...], shown: tuple[str, ...] | None
) -> tuple[Comparison, tuple[tuple[tuple[float, float], ...], ...]]:
    """The comparison of these results: it changes only with them."""
    store, flown, paths = Store(folder), [], []
    for number, (key, pilot) in enumerate(keys):
        told = json.loads(gzip.decompress((store.result(key) / FLOWN).read_bytes()))
        paths.append(tuple((east, north) for east, north in told["path"]))
        flown.append(
            Flown(
                flight=number,
                pilot=pilot,
                time=datetime.fromisoformat(told["time"]),
                measures=told["measures"],
                wind_speed_kt=told["wind_speed_kt"],
                items=tuple((rule, phase, result) for rule, phase, result in told["items"]),
            )
        )
    return compare(flown, procedure, shown=shown), tuple(paths)
