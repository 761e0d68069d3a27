"""How often 95 % intervals hold, and how often pilots are called different who are not, in invented clubs.

``python -m tests.benchmarks.coverage`` runs 2,000 clubs of each kind; it takes some twenty minutes.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from debrief.comparison.comparing import compare
from debrief.comparison.model import Compared, Flown
from tests.comparison.clubs import FIRST_DAY, MEASURES, club, flown_club

CLUBS = 2000
_ONE = (Compared(name="leg.needle_deg", words="Needle", unit="°"),)


@dataclass(frozen=True)
class Coverage:
    """Shares of pilots whose true value lies in the interval."""

    spread: float
    level: float
    pilots: int


def coverage(
    law: str,
    *,
    clubs: int = CLUBS,
    seed: int = 1,
    between: float = 0.5,
    unlike: float = 0.3,
    flights: tuple[int, int] = (3, 30),
) -> Coverage:
    """Compare so many clubs, each on one measure, and count."""
    draw = np.random.default_rng(seed)
    spreads, levels = [], []
    for _ in range(clubs):
        made = club(draw, law=law, between=between, unlike=unlike, flights=flights)
        flown = [
            Flown(
                flight=100 * pilot + number,
                pilot=f"{pilot:02d}",
                time=FIRST_DAY,
                measures={_ONE[0].name: float(value)},
                wind_speed_kt=None,
                items=(),
            )
            for pilot, values in enumerate(made.values)
            for number, value in enumerate(values)
        ]
        found = compare(flown, "invented", measures=_ONE, deals=1)
        for row, level, spread in zip(found.measures[0].pilots, made.levels, made.spreads, strict=True):
            assert row.level_interval is not None
            assert row.spread_interval is not None
            spreads.append(row.spread_interval[0] <= spread <= row.spread_interval[1])
            levels.append(row.level_interval[0] <= level <= row.level_interval[1])
    return Coverage(float(np.mean(spreads)), float(np.mean(levels)), len(spreads))


def false_differences(
    *, clubs: int, seed: int = 1, deals: int = 199, levels: dict[str, float] | None = None
) -> float:
    """The share of reports that call anybody different who is not, on any measure.

    ``levels`` are those pilots', in standard deviations, who truly differ in level and in nothing else.
    """
    draw = np.random.default_rng(seed)
    false = 0
    for number in range(clubs):
        counts = draw.integers(3, 15, int(draw.integers(3, 9))).tolist()
        flown = flown_club(1_000_000 * seed + number, counts, levels=levels, wind=0.05, missing=0.05)
        found = compare(flown, "invented", measures=MEASURES, deals=deals, seed=number)
        false += any(
            row.differs not in (None, "level")
            or (row.differs is not None and row.pilot not in (levels or {}))
            for measure in found.measures
            for row in measure.pilots
        )
    return false / clubs


def main() -> None:
    """Print what the README of the figures asks for."""
    for law in ("normal", "rayleigh", "skewed"):
        found = coverage(law)
        sys.stdout.write(
            f"{law}: spread {100 * found.spread:.1f} %, level {100 * found.level:.1f} % of {found.pilots} pilots\n"
        )
    equal = coverage("normal", between=0.0, unlike=0.0)
    sys.stdout.write(f"equal pilots: spread {100 * equal.spread:.1f} %, level {100 * equal.level:.1f} %\n")
    sys.stdout.write(f"false differences: {100 * false_differences(clubs=CLUBS):.1f} % of reports\n")
    beside = false_differences(clubs=CLUBS, levels={"B": 2.5})
    sys.stdout.write(f"false differences beside a true one: {100 * beside:.1f} % of reports\n")


if __name__ == "__main__":
    main()
