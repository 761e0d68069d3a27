"""A part whose altitudes jump about from sample to sample, in a log whose positions do not and whose others do not.

Owns      ``noise_changes`` of altitudes.
Not here  parts that are too quiet, and positions (``noise``).

Who draws an altitude and puts a scatter onto it draws each sample by itself. A receiver that hears fewer satellites
scatters in position as well; what rough air does to an aircraft is less over half the time, and not the same.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.cubics import along_across, cubic, off_cubic
from debrief.checkride.signs.received import LONGEST_INTERVAL_S
from debrief.checkride.signs.scale import SPARSE_S, strength_of
from debrief.checkride.signs.trace import Bools, Trace, runs
from debrief.tracks.middles import MAD_TO_SIGMA, median_of, spread
from debrief.tracks.model import Floats

_BLOCK, _BLOCK_SPARSE, _FEWEST_BLOCKS = 12, 8, 8  # samples of a block
_LASTING_S, _LASTING = 20.0, 2  # blocks
# of the log's median block: each but so many of the part, and all of it
_RISES, _BRIDGED, _ROUGH = 1.5, 2, 2.0
_OTHERS, _OTHERS_ROUGH = 0.9, 0.7  # nine in ten of the others stay below so much of the part
# samples, each of which has four others in it; of so rough a part by chance
_INDEPENDENT, _LOG_CHANCE = 0.4, -16.0
_LEAST_FT, _STEPS, _MOST_FT = 2.0, 1.2, 30.0  # more is a receiver's failing
_MOST = 0.5  # of the log
_POSITIONS, _LEAST_M = 1.5, 0.5  # of the usual, that positions may scatter by in the part
_TWICE = 1.6  # of the scatter, that there is over twice the time
_CLIMB = 8  # samples
_MOST_STRENGTH = 0.8


def restless_signs(trace: Trace) -> Iterator[Flag]:
    """The longest such part."""
    altitude_ft = trace.altitude_ft
    wide = _BLOCK if trace.interval_s <= SPARSE_S else _BLOCK_SPARSE
    if trace.interval_s > LONGEST_INTERVAL_S or len(trace) < _FEWEST_BLOCKS * wide + 4:
        return
    weights, size = trace.cubic
    usable = _usable(trace)
    off_ft = np.where(usable, off_cubic(altitude_ft, weights) / size, np.nan)
    blocks = _blocks(off_ft, wide)
    known = np.isfinite(blocks)
    if known.sum() < _FEWEST_BLOCKS:
        return
    usual_ft = median_of(blocks[known])
    limit_ft = max(_ROUGH * usual_ft, _LEAST_FT, _STEPS * trace.altitude_step_ft)
    with np.errstate(invalid="ignore"):
        rough = np.asarray(known & (blocks > _RISES / _ROUGH * limit_ft))
    found = [
        (first, last)
        for first, last in runs(rough, _LASTING, bridge=_BRIDGED)
        if trace.t_s[(last + 1) * wide + 1] - trace.t_s[first * wide + 2] >= _LASTING_S
    ]
    if not found or rough.sum() > _MOST * known.sum():
        return
    first, last = max(found, key=lambda span: span[1] - span[0])
    level_ft = median_of(blocks[first : last + 1][known[first : last + 1]])
    others = known.copy()
    others[max(first - 1, 0) : last + 2] = False
    if others.sum() < _FEWEST_BLOCKS / 2 or np.quantile(blocks[others], _OTHERS) > _OTHERS_ROUGH * level_ft:
        return
    start, end = first * wide + 2, (last + 1) * wide + 1
    if _positions_too(trace, usable, wide, (first, last)) or not _at_once(trace, start, end):
        return
    # of so few samples a median is a chance value, and one wild sample makes a mean of squares
    squares_ft2 = off_ft[first * wide : (last + 1) * wide] ** 2
    surely_ft = min(level_ft, float(np.sqrt(np.nanmean(squares_ft2))))
    usual_ft = float(np.hypot(usual_ft, _late_ft(trace, usable, start, end)))
    limit_ft = max(limit_ft, _ROUGH * usual_ft)
    share = max(surely_ft / max(usual_ft, 1e-3), 1.0) ** 2
    # Chernoff, chi-squared
    log_chance = -_INDEPENDENT * (end - start + 1) / 2.0 * (share - 1.0 - np.log(share))
    if not limit_ft < level_ft < _MOST_FT or log_chance > _LOG_CHANCE:
        return
    yield Flag(
        sign="noise_changes",
        strength=min(strength_of(level_ft / limit_ft), _MOST_STRENGTH),
        evidence=(
            f"from {trace.when(start, end)} altitudes scatter by {level_ft:.1f} ft from sample to sample, elsewhere by "
            f"{usual_ft:.1f} ft; positions scatter as elsewhere"
        ),
    )


def _usable(trace: Trace) -> Bools:
    hindered = trace.hindered | np.append(trace.gap, False) | np.append(False, trace.gap)
    count = np.concatenate([[0], np.cumsum(hindered)])
    return np.asarray(count[5:] == count[:-5])


def _blocks(off: Floats, wide: int) -> Floats:
    """Robust standard deviation of each block about zero; nan where much of it is unknown."""
    count = len(off) // wide
    sizes = np.abs(off[: count * wide].reshape(count, wide))
    sizes[np.isnan(sizes).sum(axis=1) > wide / 4] = np.nan
    # nan sorts last: a median of those known, near enough
    middle = np.sort(sizes, axis=1)[:, wide // 2]
    return np.asarray(MAD_TO_SIGMA * middle)


def _positions_too(trace: Trace, usable: Bools, wide: int, part: tuple[int, int]) -> bool:
    """Whether positions scatter more in that part, too."""
    weights, size = trace.cubic
    off_m = np.hypot(*(off_cubic(values, weights) / size for values in (trace.x_m, trace.y_m)))
    blocks = _blocks(np.where(usable, off_m, np.nan), wide)
    inside = np.zeros(len(blocks), dtype=np.bool_)
    inside[part[0] : part[1] + 1] = True
    known = np.isfinite(blocks)
    if not (known & inside).any() or not (known & ~inside).any():
        return True
    usual_m = median_of(blocks[known & ~inside])
    return median_of(blocks[known & inside]) > max(_POSITIONS * usual_m, _LEAST_M)


def _late_ft(trace: Trace, usable: Bools, start: int, end: int) -> float:
    """What stamps that are early or late make of the part's climb. They move positions along the track, not across."""
    weights, size = trace.cubic
    along, across = along_across(trace.x_m, trace.y_m, weights)
    scatter_m = [spread(np.where(usable, part / size, np.nan)) for part in (along, across)]
    late_s = np.sqrt(max(scatter_m[0] ** 2 - scatter_m[1] ** 2, 0.0)) / max(median_of(trace.speed_m_s), 1.0)
    rate_ft_s = np.abs(np.diff(trace.altitude_ft[start : end + 1 : _CLIMB])) / np.diff(
        trace.t_s[start : end + 1 : _CLIMB]
    )
    return float(late_s * np.nanmedian(rate_ft_s)) if np.isfinite(rate_ft_s).any() else 0.0


def _at_once(trace: Trace, start: int, end: int) -> bool:
    """Whether a part scatters as much from sample to sample as over twice the time: no aircraft moves so."""
    scatter = []
    for step in (1, 2):
        t_s, altitude_ft = (values[start : end + 1 : step] for values in (trace.t_s, trace.altitude_ft))
        if len(t_s) < 8:
            return False
        weights, size = cubic(t_s)
        off = np.abs(off_cubic(altitude_ft, weights) / size)
        scatter.append(float(np.nanmedian(off)) if np.isfinite(off).any() else np.inf)
    return scatter[1] < _TWICE * scatter[0]
