"""A part whose columns are the differences of its own positions and altitudes, in a log where they are measured.

Owns      ``spliced`` of such a part.
Not here  columns that disagree with the positions (``columns``, ``drifted``).

Who moves a part, and knows that its speeds would tell, makes them anew from what was moved: then a ground speed is the
way from sample to sample over the time, to its last digit. A receiver measures speed by other means than position, and
what scatters in the one is not in the other. That difference is a scatter: a simulator's exact speed leaves the one of
another Earth, or of a chord, by what is the same for many samples, and is by it the same to the digit on some courses and
not on others.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.received import LONGEST_INTERVAL_S
from debrief.checkride.signs.scale import SPARSE_S
from debrief.checkride.signs.trace import METRES_PER_DEG, Bools, Trace, runs, step_of
from debrief.tracks.model import Floats

_BLOCK, _BLOCK_SPARSE, _FEWEST_BLOCKS = 8, 4, 10  # samples of a block
# of a block that is computed; of the others in the middle, and of nine in ten of them
_ALL, _FEW, _MOST, _OTHERS = 0.95, 0.45, 0.7, 0.9
_LASTING_S, _LASTING = 15.0, 2  # blocks
_LOG_CHANCE = -12.0  # of so many in a row, by the share of the others
_MOST_COMPUTED = 0.6  # of the log
_ROUNDED, _OF_SPEED = 0.55, 0.004  # of a step; Earths of other radii
_LIVELY = 0.3  # of what the others change by from sample to sample
_STRENGTH = 0.75
_KT = 3.6 / 1.852


def computed_signs(trace: Trace) -> Iterator[Flag]:
    """The longest part of ground speeds, or else of rates of climb, that are differences."""
    if trace.interval_s > LONGEST_INTERVAL_S or len(trace) < _FEWEST_BLOCKS * _BLOCK_SPARSE:
        return
    if trace.flown_steeply:  # differences then are no speeds, but on straight parts
        return
    for name, words, made in (
        ("groundspeed_kt", "ground speed is the way from sample to sample", _speeds_kt),
        (
            "vertical_speed_ft_min",
            "rate of climb is the change of altitude from sample to sample",
            _rates_ft_min,
        ),
    ):
        column = trace.column(name)
        if column is None:
            continue
        tolerance = np.full(len(trace), _ROUNDED * step_of(column))
        if name == "groundspeed_kt":
            tolerance += _OF_SPEED * np.abs(column)
        spans = [span for computed in made(trace) for span in _parts(trace, column, computed, tolerance)]
        if spans:
            first, last = max(spans, key=lambda span: span[1] - span[0])
            yield Flag(
                sign="spliced",
                strength=_STRENGTH,
                evidence=(
                    f"from {trace.when(first, last)} the {words} over the time, to the last digit; elsewhere the log's was "
                    "measured, and is not"
                ),
            )
            return


def _differences(trace: Trace, values: Floats) -> Iterator[Floats]:
    """Over the step before, the step after, and both. [1/s]"""
    step = np.diff(values) / trace.step_s
    yield np.append(np.nan, step)
    yield np.append(step, np.nan)
    yield np.gradient(values, trace.t_s)


def _speeds_kt(trace: Trace) -> Iterator[Floats]:
    track = trace.track
    latitude, longitude = (
        track.latitude_deg[trace.index],
        np.unwrap(track.longitude_deg[trace.index], period=360.0),
    )
    across = np.cos(np.radians(latitude))
    for north, east in zip(_differences(trace, latitude), _differences(trace, longitude), strict=True):
        yield np.hypot(north, east * across) * METRES_PER_DEG * _KT


def _rates_ft_min(trace: Trace) -> Iterator[Floats]:
    for rate in _differences(trace, trace.altitude_ft):
        yield rate * 60.0


def _parts(trace: Trace, column: Floats, computed: Floats, tolerance: Floats) -> Iterator[tuple[int, int]]:
    """Runs of blocks in which nearly all values are the computed ones, in a log whose other blocks have few of them."""
    with np.errstate(invalid="ignore"):
        known = np.isfinite(column + computed) & trace.flying & ~trace.bridged & ~trace.drawn
        same: Bools = known & (np.abs(column - computed) <= tolerance)
    wide = _BLOCK if trace.interval_s <= SPARSE_S else _BLOCK_SPARSE
    count = len(trace) // wide
    blocks, whole = (part[: count * wide].reshape(count, wide) for part in (same, known))
    told = whole.sum(axis=1) > wide / 2
    share = blocks.sum(axis=1) / np.maximum(whole.sum(axis=1), 1)
    of_all = told & (share >= _ALL)
    # those beside a part are computed for some samples
    edge = np.convolve(of_all, np.ones(3), mode="same") > 0.5
    others = share[told & ~edge]
    if not of_all.any() or of_all.sum() > _MOST_COMPUTED * told.sum() or len(others) < _FEWEST_BLOCKS:
        return
    scattered = _within_of_their_mean(column - computed, known, tolerance, wide)[told & ~edge]
    others = np.maximum(others, scattered)
    if np.median(others) > _FEW or np.quantile(others, _OTHERS) > _MOST:
        return
    beside = np.repeat(told & ~edge, wide)[1:] & np.isfinite(np.diff(column))[: count * wide - 1]
    change = np.abs(np.diff(column))
    # a rate that hardly changes is the difference of what it leads to by itself
    least = max(_LIVELY * float(np.median(change[: count * wide - 1][beside])), float(np.median(tolerance)))
    for first, last in runs(of_all, _LASTING):
        start, end = first * wide, (last + 1) * wide - 1
        if trace.t_s[end] - trace.t_s[start] < _LASTING_S:
            continue
        log_chance = (end - start + 1) * np.log(max(float(others.mean()), 1e-3))
        lively = float(np.nanmedian(change[start:end])) > least
        if lively and log_chance < _LOG_CHANCE and not trace.gap[start:end].any():
            yield start, end


def _within_of_their_mean(off: Floats, known: Bools, tolerance: Floats, wide: int) -> Floats:
    """Of each block the share of samples that are no more than the tolerance off as the others of the block are."""
    count = len(off) // wide
    there: Bools = known[: count * wide].reshape(count, wide)
    off, tolerance = (part[: count * wide].reshape(count, wide) for part in (off, tolerance))
    number = np.maximum(there.sum(axis=1), 1)
    mean = np.where(there, off, 0.0).sum(axis=1) / number
    return np.asarray((there & (np.abs(off - mean[:, None]) <= tolerance)).sum(axis=1) / number)
