"""Times that no recorder writes: an odd but perfectly even interval, or a stretch at a pace of its own.

Owns      ``edited_times``.
Not here  what such times do to speeds (``motion``).

A recorder samples at a whole number of seconds, or so many times a second; or unevenly. Even to the millisecond at an
odd interval is what is left when all times are multiplied by a factor.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

import numpy as np

from debrief.checkride.model import Flag
from debrief.checkride.signs.scale import fewest_at
from debrief.checkride.signs.trace import METRES_PER_DEG, Trace, runs
from debrief.tracks.model import Floats

_EXACT_S = 0.0021  # stamps to the millisecond, two of them
_CLOCK = 5e-4  # fast or slow: more than any clock of a recorder
_EVEN_SHARE = 0.95
_STRETCH_SHARE = 0.5  # of the log at its usual interval, to tell a stretch with another
_SHORTEST, _SHORTEST_SPARSE = 15, 8  # samples of a stretch
_SHORTEST_S = 12.0
_WHOLE, _STRETCH, _WHOLE_SECONDS = 0.8, 0.85, 0.4
_SCALED = 0.7, 1.45  # a recorder that is set to another interval is set to one further off
_SCALED_USUAL = 0.65
_ASTRAY = 0.02  # of all steps: those that are neither usual nor of an even stretch
# a limit to the speed: samples, how alike the speeds of longer steps are on any Earth, and how seldom others are
_FEWEST_CAPPED, _ALIKE, _MOST_ALIKE, _CAPPED_SHARE, _CAPPED = 20, 0.005, 0.3, 0.9, 0.85
_USUAL_S = tuple(
    sorted(
        {
            *(1.0 / n for n in range(1, 101)),
            *(k / 10 for k in (3, 4, 6, 8)),
            0.75,
            *(k / 2 for k in range(1, 21)),
            *map(float, chain(range(1, 61), (90, 120, 180, 240, 300))),
        }
    )
)


def usual(interval_s: float) -> bool:
    """Whether recorders write at such an interval.

    >>> usual(1.0), usual(0.2), usual(1.07), usual(15.0)
    (True, True, False, True)
    """
    return any(
        abs(interval_s - known) <= max(min(_EXACT_S, 0.01 * known), _CLOCK * known) for known in _USUAL_S
    )


def stamp_signs(trace: Trace) -> Iterator[Flag]:
    """An odd even interval throughout, or in a part."""
    steps = np.round(trace.step_s, 3)
    mode_s = _mode(steps)
    same = np.abs(steps - mode_s) <= _EXACT_S
    if same.mean() >= _EVEN_SHARE and not usual(mode_s):
        yield Flag(
            sign="edited_times",
            strength=_WHOLE,
            evidence=(
                f"the samples are exactly {mode_s:.3f} s apart, {100 * same.mean():.0f} % of them: no recorder writes "
                "so evenly at such an interval"
            ),
        )
        return
    if same.mean() >= _STRETCH_SHARE:
        yield from _stretches(trace, steps, mode_s)
        yield from _capped(trace, mode_s)


def _capped(trace: Trace, mode_s: float) -> Iterator[Flag]:
    """Steps that were made as long as a limit to the speed asks for: all of them at that speed, and none above it."""
    moving = trace.flying[1:] & ~trace.gap & ~trace.bridged[1:] & ~trace.bridged[:-1]
    longer = moving & (trace.step_s - mode_s > _EXACT_S)
    if longer.sum() < _FEWEST_CAPPED:
        return
    latitude_deg, longitude_deg = (
        values[trace.index] for values in (trace.track.latitude_deg, trace.track.longitude_deg)
    )
    across = np.cos(np.radians(latitude_deg[1:]))  # of each step: of the whole log it is not alike enough
    way_deg = np.hypot(np.diff(latitude_deg), across * np.diff(longitude_deg))
    speed_m_s = METRES_PER_DEG * way_deg / trace.step_s
    limit_m_s = float(np.median(speed_m_s[longer]))
    alike = np.abs(speed_m_s / limit_m_s - 1.0) < _ALIKE
    others = moving & ~longer
    if (
        alike[longer].mean() > _CAPPED_SHARE
        and others.sum() >= _FEWEST_CAPPED
        and alike[others].mean() < _MOST_ALIKE
        and (speed_m_s[others] < (1.0 + _ALIKE) * limit_m_s).mean() > _CAPPED_SHARE
    ):
        first, last = np.flatnonzero(longer)[[0, -1]]
        yield Flag(
            sign="edited_times",
            strength=_CAPPED,
            evidence=(
                f"from {trace.when(int(first), int(last) + 1)} {int(longer.sum())} samples are later than the others' "
                f"{mode_s:g} s, each by as much as makes the speed {limit_m_s * 3.6 / 1.852:.1f} kt, and none is faster"
            ),
        )


def _mode(steps: Floats) -> float:
    values, counts = np.unique(steps, return_counts=True)
    best = values[int(np.argmax(counts))]
    near = np.abs(values - best) <= _EXACT_S
    return float(np.average(values[near], weights=counts[near]))


def _stretches(trace: Trace, steps: Floats, mode_s: float) -> Iterator[Flag]:
    """Parts whose steps are even, too, but at another, odd interval."""
    other = np.abs(steps - mode_s) > _EXACT_S
    even = np.concatenate([[False], np.abs(np.diff(steps)) <= _EXACT_S])
    even[:-1] |= even[1:]
    shortest = fewest_at(mode_s, _SHORTEST, _SHORTEST_SPARSE)
    stretches = [
        part
        for first, last in runs(other & even, shortest, bridge=1)
        for part in _of_one_pace(steps, first, last, shortest)
    ]
    astray = int((other & ~trace.gap & ~trace.thinned).sum()) - sum(
        int(other[first : last + 1].sum()) for first, last in stretches
    )
    even_else = astray <= _ASTRAY * len(steps)
    for first, last in stretches:
        inside = steps[first : last + 1]
        middle_s = float(np.median(inside))
        steady = bool(np.mean(np.abs(inside - middle_s) <= _EXACT_S) > _EVEN_SHARE)
        scaled = even_else and steady and _SCALED[0] < middle_s / mode_s < _SCALED[1]
        thinned = middle_s > 1.5 * mode_s and abs(middle_s / mode_s - round(middle_s / mode_s)) < _CLOCK
        if (
            (usual(middle_s) and not scaled)
            or thinned
            or trace.t_s[last + 1] - trace.t_s[first] < _SHORTEST_S
        ):
            continue
        yield Flag(
            sign="edited_times",
            strength=_SCALED_USUAL if usual(middle_s) else _STRETCH,
            evidence=(
                f"from {trace.when(first, last + 1)} the samples are {middle_s:.3f} s apart, elsewhere {mode_s:.3f} s: "
                f"as if time was multiplied by {middle_s / mode_s:.2f} there"
            ),
        )
    yield from _whole_seconds(trace, steps, mode_s)


def _of_one_pace(steps: Floats, first: int, last: int, shortest: int) -> list[tuple[int, int]]:
    """A stretch as it is where it has one interval, else its parts that have one each."""
    inside = steps[first : last + 1]
    if np.mean(np.abs(inside - np.median(inside)) <= _EXACT_S) > _EVEN_SHARE:
        return [(first, last)]
    goes_on = np.abs(np.diff(inside)) <= _EXACT_S
    parts = [(first + a, first + b + 1) for a, b in runs(goes_on, shortest - 1)]
    return parts or [(first, last)]


def _whole_seconds(trace: Trace, steps: Floats, mode_s: float) -> Iterator[Flag]:
    """The same where stamps are cut to whole seconds: longer steps come at a perfectly even beat in one part only."""
    if mode_s < 1.0 or not np.allclose(steps, np.round(steps), atol=_EXACT_S):
        return
    odd = np.flatnonzero((np.round(steps) != round(mode_s)) & ~trace.gap & ~trace.thinned)
    if len(odd) < 8:
        return
    beat = np.diff(odd)
    common = int(np.median(beat))
    steady = np.abs(beat - common) <= 1
    for first, last in runs(steady, 8):
        start, end = int(odd[first]), int(odd[last + 1])
        inside = ((odd >= start) & (odd <= end)).sum()
        if common < 2 or end - start > 0.8 * len(steps) or inside < 0.8 * len(odd):
            continue
        pace = float((trace.t_s[end] - trace.t_s[start]) / ((end - start) * mode_s))
        yield Flag(
            sign="edited_times",
            strength=0.6 if abs(pace - 1.0) > 0.08 else _WHOLE_SECONDS,
            evidence=(
                f"from {trace.when(start, end)} every {common}th step is of another length, and nowhere else: as if "
                f"time was multiplied by {pace:.2f} there"
            ),
        )
