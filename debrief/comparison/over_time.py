"""One pilot over time: control limits, trend, and the smallest change that would have shown.

Owns      the individuals and moving-range chart, the slope with its interval, the smallest detectable change.
Not here  whether a trend is beyond chance over a whole report (``differences``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.comparison.model import Interval

Floats = NDArray[np.float64]

#: Mean range of two normal values in standard deviations; upper limit of a range in mean ranges.
#: Source: W. A. Shewhart; ISO 7870-2; NIST/SEMATECH e-Handbook, 6.3.2.2. Mark: memory (d2 and D4 for two).
MEAN_RANGE_OF_TWO = 1.128
RANGE_LIMIT = 3.267
LEAST_TREND_FLIGHTS = 6
RUN = 8  # so many in a row on one side are a signal. Source: Western Electric handbook. Mark: memory (run rule).
POWER = 0.8
ALPHA = 0.05
DAYS_A_MONTH = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlChart:
    """Individuals and moving ranges: where one pilot's flights lie if nothing changes."""

    centre: float
    low: float
    high: float
    mean_range: float
    range_high: float
    outside: tuple[int, ...]  # flights beyond the limits, by their place from 0
    runs: tuple[int, ...]  # flights that complete or continue a run on one side
    jumps: tuple[int, ...]  # flights whose moving range (to the one before) is beyond its limit


def control_chart(values: Floats) -> ControlChart | None:
    """The chart of flights in order of time; ``None`` for fewer than three."""
    if len(values) < 3:
        return None
    ranges = np.abs(np.diff(values))
    centre, mean_range = float(values.mean()), float(ranges.mean())
    reach = 3.0 * mean_range / MEAN_RANGE_OF_TWO
    side = np.sign(values - centre)
    lengths, length = [], 0
    for number, here in enumerate(side):
        length = length + 1 if number and here == side[number - 1] and here != 0.0 else 1
        lengths.append(length)
    return ControlChart(
        centre=centre,
        low=centre - reach,
        high=centre + reach,
        mean_range=mean_range,
        range_high=RANGE_LIMIT * mean_range,
        outside=tuple(np.flatnonzero(np.abs(values - centre) > reach).tolist()),
        runs=tuple(number for number, length in enumerate(lengths) if length >= RUN),
        jumps=tuple((np.flatnonzero(ranges > RANGE_LIMIT * mean_range) + 1).tolist()),
    )


def slope_per_month(days: Floats, values: Floats) -> tuple[float, Interval] | None:
    """Change of a measure in 30 days with its 95 % interval, by least squares.

    ``None`` for fewer than six flights, or all on one day.
    """
    from scipy.special import stdtrit

    if len(values) < LEAST_TREND_FLIGHTS or not np.ptp(days) > 0.0:
        return None
    months = (days - days.mean()) / DAYS_A_MONTH
    spread = float(months @ months)
    slope = float(months @ values) / spread
    off = values - values.mean() - slope * months
    df = len(values) - 2
    half = float(stdtrit(df, 1.0 - ALPHA / 2)) * float(np.sqrt(off @ off / df / spread))
    return slope, (slope - half, slope + half)


def smallest_change(flights: int, sd: float, df: float) -> float | None:
    """The change between the earlier and the later half of so many flights that would have shown, four times of five.

    Two-sided at 5 %, power 80 %, by the non-central t distribution. ``None`` for fewer than four flights.
    Source: J. Cohen, Statistical Power Analysis for the Behavioral Sciences (1988), 2.3. Mark: memory (the section).
    """
    from scipy.special import nctdtrinc, stdtrit

    early, late = flights // 2, flights - flights // 2
    if early < 2:
        return None
    critical = float(stdtrit(df, 1.0 - ALPHA / 2))
    shift = float(nctdtrinc(df, 1.0 - POWER, critical))
    return shift * sd * float(np.sqrt(1.0 / early + 1.0 / late))
