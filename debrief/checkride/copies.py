"""The same flight sent in more than once: shifted in time, cropped, resampled, mirrored, with noise added.

Owns      ``copies_among``: which flights of a folder share minutes of flight, and the flags for both.
Not here  the shapes that are compared (``shape``), a part that stands twice in one log (``signs.repeats``).

Two pilots who fly one procedure at one speed fly much the same ground. They never are, for minutes, in the same places
at the same moments to within the noise of their recorders. So it goes in two steps: moments at which a flight is easily
recognised (where it crosses a line of a grid on the Earth; where it turns hardest) are put into an index by where the
flight was, or how it was shaped, in the eighty seconds around; what agrees there is compared in full.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from debrief.checkride.matching import Match, best_match
from debrief.checkride.model import Flag, Row
from debrief.checkride.shape import STEP_S, Shape
from debrief.tracks.model import Floats

Ints = NDArray[np.int64]

_AROUND_S = (-80.0, -40.0, 0.0, 40.0, 80.0)
_GRID_DEG = 0.03
_TURN_OVER_S = 40.0
_TURN_M = 220.0  # off the chord over that time
_EARTH_M = 6_371_000.0
_PLACE_RADIUS_M, _SHAPE_RADIUS_M = 130.0, 120.0
_MOST_PAIRS = 4_000_000  # candidates looked at; more there are only in folders of one flight many times
_MOST_TOLD = 5  # copies of one flight


@dataclass(frozen=True, slots=True)
class _Moments:
    """Recognisable moments of all flights."""

    flight: Ints
    at_s: Floats  # since the start of the flight's shape
    told: Floats  # what it is recognised by, one row a moment


def copies_among(rows: Sequence[Row], shapes: Sequence[Shape | None]) -> list[Row]:
    """The rows with a flag on both flights of each pair that share minutes of flight."""
    flags: dict[int, list[Flag]] = {}
    for first, second, match in _pairs(rows, shapes):
        for here, there, ahead in ((first, second, match.offset_s), (second, first, -match.offset_s)):
            flags.setdefault(here, []).append(
                Flag(
                    sign="copy",
                    strength=match.strength,
                    evidence=match.words(ahead),
                    other=rows[there].file,
                )
            )
    return [_with_copies(row, flags.get(number, [])) for number, row in enumerate(rows)]


def _with_copies(row: Row, found: list[Flag]) -> Row:
    if not found:
        return row
    told = sorted(found, key=lambda flag: (-flag.strength, flag.other or ""))
    flags = sorted([*row.flags, *told[:_MOST_TOLD]], key=lambda flag: (-flag.strength, flag.sign))
    return replace(row, flags=tuple(flags))


def _pairs(rows: Sequence[Row], shapes: Sequence[Shape | None]) -> Iterator[tuple[int, int, Match]]:
    same: dict[str, int] = {}
    done: set[tuple[int, int]] = set()
    distinct: list[int] = []
    for number, row in enumerate(rows):
        if row.sha256 and row.sha256 in same:
            first = same[row.sha256]
            done.add((first, number))
            yield first, number, Match.of_equal_files()
            continue
        if row.sha256:
            same[row.sha256] = number
        if shapes[number] is not None:
            distinct.append(number)
    kept = [shapes[number] for number in distinct]
    known = [shape for shape in kept if shape is not None]
    for first, second, match in matches_among(known):
        yield distinct[first], distinct[second], match


def matches_among(shapes: Sequence[Shape]) -> Iterator[tuple[int, int, Match]]:
    """Every pair of flights that share minutes of flight, by their numbers, the smaller first."""
    candidates: dict[tuple[int, int], list[tuple[float, bool]]] = {}
    for moments, radius, rigid in (
        (_all(shapes, _places), _PLACE_RADIUS_M, False),
        (_all(shapes, _turns), _SHAPE_RADIUS_M, True),
    ):
        for first, second, offset_s in _alike(moments, radius):
            candidates.setdefault((first, second), []).append((offset_s, rigid))
    for (first, second), found in sorted(candidates.items()):
        match = best_match(shapes[first], shapes[second], found)
        if match is not None:
            yield first, second, match


def _all(shapes: Sequence[Shape], describe: Callable[[Shape], tuple[Floats, Floats]]) -> _Moments:
    parts = [describe(shape) for shape in shapes]
    flight = np.concatenate(
        [np.full(len(at), number) for number, (at, _) in enumerate(parts)] or [np.zeros(0)]
    )
    width = next((told.shape[1] for _, told in parts if told.ndim == 2 and len(told)), 1)
    told = [told for _, told in parts if len(told)]
    return _Moments(
        flight=flight.astype(np.int64),
        at_s=np.concatenate([at for at, _ in parts] or [np.zeros(0)]),
        told=np.concatenate(told) if told else np.zeros((0, width)),
    )


def _alike(moments: _Moments, radius: float) -> Iterator[tuple[int, int, float]]:
    """Pairs of moments of two flights that are told alike; what one flight is ahead of the other."""
    if len(moments.flight) < 2:
        return
    from scipy.spatial import cKDTree

    tree = cKDTree(moments.told, balanced_tree=False, compact_nodes=False)
    pairs = tree.query_pairs(radius, output_type="ndarray")[:_MOST_PAIRS]
    a, b = moments.flight[pairs[:, 0]], moments.flight[pairs[:, 1]]
    offset = moments.at_s[pairs[:, 1]] - moments.at_s[pairs[:, 0]]
    swap = a > b
    first, second = np.where(swap, b, a), np.where(swap, a, b)
    offset = np.where(swap, -offset, offset)
    other = first != second
    keys = np.stack([first[other], second[other], np.round(offset[other] / STEP_S).astype(np.int64)], axis=1)
    for one, two, steps in np.unique(keys, axis=0).tolist():
        yield one, two, steps * STEP_S


def at(values: Floats, t_s: Floats) -> Floats:
    """A column of a shape between its entries; ``nan`` beyond them."""
    return np.interp(t_s, np.arange(len(values)) * STEP_S, values, left=np.nan, right=np.nan)


def _places(shape: Shape) -> tuple[Floats, Floats]:
    """Where the flight crosses the lines of a grid on the Earth, and where it was in the time around."""
    latitude = shape.latitude_deg + shape.y_m / 111_195.0
    longitude = shape.longitude_deg + shape.x_m / (111_195.0 * np.cos(np.radians(shape.middle_deg)))
    times = np.concatenate([_crossings(latitude / _GRID_DEG), _crossings(longitude / _GRID_DEG)])
    around = times[:, None] + np.array(_AROUND_S)
    phi, lam = np.radians(at(latitude, around)), np.radians(at(longitude, around))
    told = _EARTH_M * np.concatenate(
        [np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=1
    )
    known = np.isfinite(told).all(axis=1)
    return times[known], told[known]


def _crossings(lines: Floats) -> Floats:
    """When a column passes a whole number. [s]"""
    with np.errstate(invalid="ignore"):
        below = np.floor(lines)
        passed = np.flatnonzero(np.abs(np.diff(below)) == 1.0)
    line = np.maximum(below[passed], below[passed + 1])
    share = (line - lines[passed]) / (lines[passed + 1] - lines[passed])
    return np.asarray((passed + share) * STEP_S)


def _turns(shape: Shape) -> tuple[Floats, Floats]:
    """Where the flight turns hardest, and its shape around: distances, which no moving or mirroring changes."""
    steps = round(_TURN_OVER_S / STEP_S)
    x, y = shape.x_m, shape.y_m
    if len(x) < 4 * steps:
        return np.zeros(0), np.zeros((0, 1))
    off = np.hypot(
        x[steps:-steps] - (x[: -2 * steps] + x[2 * steps :]) / 2,
        y[steps:-steps] - (y[: -2 * steps] + y[2 * steps :]) / 2,
    )
    off = np.nan_to_num(off)
    reach = round(14.0 / STEP_S)
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(off, reach), 2 * reach + 1)
    peak = np.flatnonzero((off >= windows.max(axis=1)) & (off > _TURN_M))
    peak = peak[(peak > 0) & (peak < len(off) - 1)]
    curve = off[peak - 1] - 2 * off[peak] + off[peak + 1]
    share = np.where(curve < 0, (off[peak - 1] - off[peak + 1]) / np.where(curve < 0, 2 * curve, 1.0), 0.0)
    times = (peak + steps + np.clip(share, -1.0, 1.0)) * STEP_S
    around = times[:, None] + np.array(_AROUND_S)
    px, py = at(x, around), at(y, around)
    first, second = np.triu_indices(len(_AROUND_S), 1)
    told = np.hypot(px[:, first] - px[:, second], py[:, first] - py[:, second])
    known = np.isfinite(told).all(axis=1)
    return times[known], told[known]
