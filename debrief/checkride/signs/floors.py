"""One altitude below which a log does not go, met to the last digit again and again, where its altitudes scatter.

Owns      ``altitude_disagrees`` of altitudes that were held up to a floor, in logs of some seconds' interval.
Not here  denser logs, whose runs of one altitude say the same (``noise``).

Who flies by hand, or is measured by a receiver, comes to the same altitude now and then, and below it as well. How
often two neighbours would stand there by chance follows from how much the log scatters in level flight.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.cubics import off_cubic
from debrief.checkride.signs.scale import SPARSE_S
from debrief.checkride.signs.trace import Trace
from debrief.tracks.middles import spread

_LONGEST_INTERVAL_S = 6.0  # at longer ones an aircraft's own motion looks like noise
_LEAST_FT = 1.6  # of what a pilot's own ups and downs leave at such intervals, twice
_ROUNDING = 12.0**-0.5  # its standard deviation, in steps
_NOISY = 1.6  # so far the noise must stand out of it
_LEVEL_FT_S = 4.0
_FEWEST_LEVEL, _FEWEST_HELD = 40, 5  # samples
_LOG_CHANCE = -16.0
_ELSEWHERE = 2.0  # so many times as often as chance has it may neighbours be the same at other altitudes
_APART_S = 60.0
_NEAR = 3.0  # standard deviations
_STRENGTH = 0.7


def floor_signs(trace: Trace) -> Iterator[Flag]:
    """The altitude that a log stands at most often, if it is its lowest there and chance does not explain it."""
    if not SPARSE_S < trace.interval_s <= _LONGEST_INTERVAL_S or len(trace) < _FEWEST_LEVEL:
        return
    altitude_ft = trace.altitude_ft
    known = np.isfinite(altitude_ft) & trace.flying & ~trace.bridged
    if known.mean() < 0.5:
        return
    rate_ft_s = np.abs(altitude_ft[4:] - altitude_ft[:-4]) / (trace.t_s[4:] - trace.t_s[:-4])
    gap = np.convolve(trace.gap, np.ones(4), mode="valid") > 0.5
    with np.errstate(invalid="ignore"):
        level = known[2:-2] & (rate_ft_s < _LEVEL_FT_S) & ~gap
    same = known[1:] & known[:-1] & (np.diff(altitude_ft) == 0.0) & ~trace.gap
    if level.sum() < _FEWEST_LEVEL or same.sum() < _FEWEST_HELD:
        return
    values, counts = np.unique(altitude_ft[1:][same], return_counts=True)
    floor_ft = float(values[int(np.argmax(counts))])
    elsewhere = level & (altitude_ft[2:-2] != floor_ft)
    if elsewhere.sum() < _FEWEST_LEVEL:
        return
    weights, size = trace.cubic
    noise_ft = spread(np.where(elsewhere, off_cubic(altitude_ft, weights) / size, np.nan))
    step_ft = max(trace.altitude_step_ft, 0.1)
    if noise_ft <= max(_LEAST_FT, _NOISY * _ROUNDING * step_ft):
        return
    chance = min(1.0, step_ft / (2.0 * np.sqrt(np.pi) * noise_ft))  # of two of the same mean to fall together
    others = same[1:-2] & elsewhere
    if others.sum() > _ELSEWHERE * chance * elsewhere.sum() + 3.0:
        return
    near = known & (np.abs(altitude_ft - floor_ft) <= _NEAR * noise_ft)
    held = np.flatnonzero(same & (altitude_ft[1:] == floor_ft))
    held = max(np.split(held, np.flatnonzero(np.diff(trace.t_s[held]) > _APART_S) + 1), key=len)
    first, last = int(held[0]), int(held[-1]) + 1
    if (known & (altitude_ft < floor_ft))[max(first - 1, 0) : last + 2].any():
        return
    number, pairs = len(held), int((near[1:] & near[:-1]).sum())
    if number >= _FEWEST_HELD and _log_chance(number, pairs, chance) < _LOG_CHANCE:
        yield Flag(
            sign="altitude_disagrees",
            strength=_STRENGTH,
            evidence=(
                f"from {trace.when(first, last)} the altitude stands at {floor_ft:.0f} ft to the last digit in "
                f"{number} pairs of neighbours, and never below, in a log whose altitudes scatter by {noise_ft:.1f} ft"
            ),
        )


def _log_chance(number: int, of: int, chance: float) -> float:
    """Logarithm of a bound on the chance of so many (Chernoff, binomial), 0 where they are no more than usual."""
    share = min(number / max(of, 1), 1.0 - 1e-9)
    if share <= chance:
        return 0.0
    return float(
        -of * (share * np.log(share / chance) + (1.0 - share) * np.log((1.0 - share) / (1.0 - chance)))
    )
