"""How far each step of a log is a step in position or a corner, told from what either leaves off smooth curves.

Owns      ``Joints``, ``joints_of``; ``filled``, of dropouts too short for a bridge.
Not here  any sign.

Each sample is held against a cubic through its four neighbours. A step leaves a pattern in the six samples about it, a
corner half-way between two samples another, at right angles to the first. A corner at a sample leaves both, as a step
half as large as the way that its change of velocity makes in an interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.checkride.signs.cubics import cubic, off_cubic
from debrief.checkride.signs.trace import Bools, Ints, Trace, runs
from debrief.tracks.middles import median_of
from debrief.tracks.model import Floats

SIDE = 5  # samples before the step, and after it, that the patterns are told from
_ABOUT = 6
_EVEN = 0.3
_LINE_M, _SCATTERS, _FEWEST_FILLED = 0.1, 3.0, 4


@dataclass(frozen=True, slots=True, eq=False)
class Joints:
    """Shape (steps,), and (2, steps) for east and north."""

    at: Ints  # the sample before each step
    valid: Bools  # in flight, with even stamps about it
    step_m: Floats
    corner_m: Floats  # change of the way in an interval
    change_m: Floats  # of the way in an interval, from the samples before the step to those after it
    explained: Floats  # share of the squares about it that the two make
    way: Floats  # unit vector, of both sides together


def joints_of(trace: Trace) -> Joints | None:
    """Those of every step with whole sides; ``None`` in a log too short for one."""
    if len(trace) < 2 * SIDE:
        return None
    at = np.arange(SIDE - 1, len(trace) - SIDE)
    weights, _ = trace.cubic
    off_m = np.stack([off_cubic(values, weights) for values in (trace.x_m, trace.y_m)])
    about = np.lib.stride_tricks.sliding_window_view(off_m, _ABOUT, axis=1)[
        :, at - SIDE + 1
    ]  # from ``at`` - 2 on
    of_step, of_corner = _patterns()
    step_m, corner_m = (about @ pattern / (pattern @ pattern) for pattern in (of_step, of_corner))
    left = about - step_m[..., None] * of_step - corner_m[..., None] * of_corner
    squares, left_over = (np.einsum("aki,aki->k", part, part) for part in (about, left))
    # of both sides, without the step between
    way = np.stack([v[at + 3] - v[at + 1] + v[at] - v[at - 2] for v in (trace.x_m, trace.y_m)])
    return Joints(
        at=at,
        valid=_valid(trace, at),
        step_m=step_m,
        corner_m=corner_m,
        change_m=_change_m(trace, at),
        explained=1.0 - left_over / np.maximum(squares, 1e-9),
        way=way / np.maximum(np.hypot(*way), 1e-6),
    )


def filled(trace: Trace) -> Bools:
    """Samples on a short straight line at one speed in a log that scatters: a program filled a dropout."""
    found: Bools = np.zeros(len(trace), dtype=np.bool_)
    bend_m = np.hypot(*(v[2:] - 2.0 * v[1:-1] + v[:-2] for v in (trace.x_m, trace.y_m)))
    tolerance_m = _LINE_M + 2.0 * trace.rounding_m
    if len(bend_m) and median_of(bend_m) > _SCATTERS * tolerance_m:
        for first, last in runs(bend_m < tolerance_m, _FEWEST_FILLED):
            found[first : last + 3] = True
    return found


def _change_m(trace: Trace, at: Ints) -> Floats:
    """By the mean steps of both sides, without those beside the step, carried on to its middle as they change."""
    place = np.stack([trace.x_m, trace.y_m])
    before = place[:, at - 1] - place[:, at - 2], place[:, at - 3] - place[:, at - 4]
    after = place[:, at + 3] - place[:, at + 2], place[:, at + 5] - place[:, at + 4]
    return np.asarray(2.0 * after[0] - after[1] - (2.0 * before[0] - before[1]))


def _valid(trace: Trace, at: Ints) -> Bools:
    first, last = at - SIDE + 1, at + SIDE
    uneven = np.abs(trace.step_s - trace.interval_s) > _EVEN * trace.interval_s
    odd = np.concatenate([[0], np.cumsum(uneven | trace.thinned)])
    whole = trace.whole(first, last, trace.standing | ~trace.flying)
    return np.asarray(whole & (odd[last] == odd[first]))


def _patterns() -> tuple[Floats, Floats]:
    """What a step of a metre leaves off cubics, and a corner of a metre an interval, both half-way between two samples."""
    off = np.arange(-4.0, 6.0) - 0.5
    weights, _ = cubic(off)
    return off_cubic(np.where(off > 0.0, 1.0, 0.0), weights), off_cubic(np.maximum(off, 0.0), weights)
