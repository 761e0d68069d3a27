"""Invented clubs whose true levels and spreads are known, drawn from a seed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from debrief.comparison.model import Compared, Flown

MEASURES = tuple(
    Compared(name=f"leg{number}.needle_deg", words=f"Needle {number}", unit="°") for number in range(6)
)
FIRST_DAY = datetime(2026, 1, 1, 18, tzinfo=UTC)


def standard_values(draw: np.random.Generator, law: str, count: int) -> NDArray[np.float64]:
    """Values of mean 0 and standard deviation 1, from a law with or without far ones."""
    if law == "normal":
        return draw.normal(size=count)
    if law == "rayleigh":  # the size of an error that is normal both ways
        return (draw.rayleigh(size=count) - np.sqrt(np.pi / 2)) / np.sqrt(2 - np.pi / 2)
    if law == "skewed":  # excess kurtosis 1.5
        return (draw.gamma(4.0, size=count) - 4.0) / 2.0
    raise ValueError(law)


@dataclass(frozen=True)
class Club:
    """Flights, and the truth behind them."""

    values: tuple[NDArray[np.float64], ...]  # each pilot's
    levels: NDArray[np.float64]
    spreads: NDArray[np.float64]


def club(
    draw: np.random.Generator,
    *,
    law: str = "normal",
    pilots: tuple[int, int] = (3, 12),
    flights: tuple[int, int] = (3, 30),
    between: float = 0.5,
    unlike: float = 0.3,
) -> Club:
    """A club of that many pilots with that many flights each; ``unlike`` is of the logarithm of spreads."""
    count = int(draw.integers(pilots[0], pilots[1] + 1))
    levels, spreads = draw.normal(0.0, between, count), np.exp(draw.normal(0.0, unlike, count))
    values = tuple(
        level + spread * standard_values(draw, law, int(draw.integers(flights[0], flights[1] + 1)))
        for level, spread in zip(levels, spreads, strict=True)
    )
    return Club(values, levels, spreads)


def flown_club(
    seed: int,
    counts: list[int],
    *,
    levels: dict[str, float] | None = None,
    spreads: dict[str, float] | None = None,
    slopes: dict[str, float] | None = None,
    wind: float = 0.0,
    missing: float = 0.0,
) -> list[Flown]:
    """Flights of pilots A, B, C ... on six measures that hang together; equal but for what is given.

    ``levels`` and ``spreads`` are in standard deviations, ``slopes`` in those a month; ``wind`` a knot's effect.
    """
    draw = np.random.default_rng(seed)
    flights: list[Flown] = []
    for name, count in zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", counts, strict=False):
        days = np.sort(draw.uniform(0, 180, count))
        for day in days:
            knots = float(draw.uniform(2, 25))
            common = draw.normal()
            off = 0.6 * common + 0.8 * draw.normal(size=len(MEASURES))
            values = 5.0 + (levels or {}).get(name, 0.0) + (spreads or {}).get(name, 1.0) * off
            values = values + wind * knots + (slopes or {}).get(name, 0.0) * day / 30.0
            flights.append(
                Flown(
                    flight=len(flights) + 1,
                    pilot=name,
                    time=FIRST_DAY + timedelta(days=float(day)),
                    measures={
                        measure.name: float(value)
                        for measure, value in zip(MEASURES, values, strict=True)
                        if draw.random() >= missing
                    },
                    wind_speed_kt=knots,
                    items=(("tracking", "final", "marginal" if off[0] > 1.0 else "satisfactory"),),
                )
            )
    return flights
