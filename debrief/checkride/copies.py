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

from debrief.checkride.matching import Match, allowed_m, best_match
from debrief.checkride.model import Flag, Row
from debrief.checkride.shape import STEP_S, Shape
from debrief.tracks.model import Floats

Ints = NDArray[np.int64]
#: To half a metre on the Earth: enough for what is only worth comparing in full, in half the memory.
_Singles = NDArray[np.float32]
#: Of one flight: when its moments are, what each is recognised by, where it was around.
_Told = tuple[Floats, Floats, _Singles]

_AROUND_S = (-80.0, -40.0, 0.0, 40.0, 80.0)  # the moments that go into the index
# those by which a candidate is looked at before it is compared in full
_WIDE_S = np.arange(-140.0, 141.0, 10.0)
_PICKED = [int(np.flatnonzero(s == _WIDE_S)[0]) for s in _AROUND_S]
_SHARED = 22  # of the latter: so many in a row the shared stretch covers at least
_GRID_DEG = 0.03
_TURN_OVER_S = 40.0
_TURN_M = 220.0  # off the chord over that time
_EARTH_M = 6_371_000.0
_PLACE_RADIUS_M, _SHAPE_RADIUS_M = 130.0, 120.0
_LIKELY, _LIKELY_M = 1.6, 4.0  # what is allowed in the end, with some room: worth comparing in full
_MOST_LIKELY = 1_000_000  # pairs of moments; more there are only in folders of one flight many times
_ASKED_AT_ONCE = 10_000  # moments whose like is looked for together
_AT_ONCE = 50_000  # candidates looked at together
_MOST_TOLD = 5  # copies of one flight


@dataclass(frozen=True, slots=True)
class _Moments:
    """Recognisable moments of all flights."""

    flight: Ints
    at_s: Floats  # since the start of the flight's shape
    told: Floats  # what it is recognised by, one row a moment
    path: _Singles  # where it was around, (moments, times, axes); nan where unknown


def copies_among(rows: Sequence[Row], shapes: Sequence[Shape | None]) -> list[Row]:
    """The rows with a flag on both flights of each pair that share minutes of flight."""
    flags = copy_flags(rows, shapes)
    return [with_copies(row, flags.get(row.file, [])) for row in rows]


def copy_flags(rows: Sequence[Row], shapes: Sequence[Shape | None]) -> dict[str, list[Flag]]:
    """Those flags, by the file of the flight."""
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
    return {rows[number].file: found for number, found in flags.items()}


def with_copies(row: Row, found: Sequence[Flag]) -> Row:
    """A row with the flags of its copies."""
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
    for describe, radius, apart_m, rigid in (
        (_places, _PLACE_RADIUS_M, _places_apart_m, False),
        (_turns, _SHAPE_RADIUS_M, _shapes_apart_m, True),
    ):
        for first, second, offset_s in _alike(shapes, _all(shapes, describe), radius, apart_m):
            candidates.setdefault((first, second), []).append((offset_s, rigid))
    for (first, second), found in sorted(candidates.items()):
        match = best_match(shapes[first], shapes[second], found)
        if match is not None:
            yield first, second, match


def _all(shapes: Sequence[Shape], describe: Callable[[Shape], _Told]) -> _Moments:
    parts = [describe(shape) for shape in shapes]
    kept = [(number, *part) for number, part in enumerate(parts) if len(part[0])]
    if not kept:
        return _Moments(
            np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros((0, 1)), np.zeros((0, 1, 1), np.float32)
        )
    numbers, times, told, paths = zip(*kept, strict=True)
    flight = np.concatenate([np.full(len(t), n, dtype=np.int64) for n, t in zip(numbers, times, strict=True)])
    return _Moments(flight, np.concatenate(times), np.concatenate(told), np.concatenate(paths))


def _alike(
    shapes: Sequence[Shape], moments: _Moments, radius: float, apart_m: Callable[[_Singles, _Singles], Floats]
) -> Iterator[tuple[int, int, float]]:
    """Pairs of moments of two flights that are told alike, and stay likely; what one flight is ahead of the other."""
    if len(moments.flight) < 2:
        return
    noise_m, interval_s = (np.array([getattr(s, name) for s in shapes]) for name in ("noise_m", "interval_s"))
    likely = 0
    for some in _near(moments, radius):
        flights = moments.flight[some]
        allowed = allowed_m(noise_m[flights].T, interval_s[flights].T)
        found_m = apart_m(moments.path[some[:, 0]], moments.path[some[:, 1]])
        some = some[found_m < _LIKELY * allowed + _LIKELY_M]
        a, b = moments.flight[some[:, 0]], moments.flight[some[:, 1]]
        ahead = moments.at_s[some[:, 1]] - moments.at_s[some[:, 0]]
        for one, two, offset_s in zip(a.tolist(), b.tolist(), ahead.tolist(), strict=True):
            yield (one, two, offset_s) if one < two else (two, one, -offset_s)
        likely += len(some)
        if likely > _MOST_LIKELY:
            return


def _near(moments: _Moments, radius: float) -> Iterator[Ints]:
    """Pairs of moments of two flights that are told alike, each pair once, shape (n, 2), n bounded.

    Among thousands of flights of one procedure there are millions: all at once they would fill the memory.
    """
    from scipy.spatial import cKDTree

    tree = cKDTree(moments.told, balanced_tree=False, compact_nodes=False)
    for start in range(0, len(moments.told), _ASKED_AT_ONCE):
        asked = moments.told[start : start + _ASKED_AT_ONCE]
        found = np.asarray(tree.query_ball_point(asked, radius, return_sorted=True), dtype=object)
        counts = [len(others) for others in found]
        first = np.repeat(np.arange(start, start + len(asked)), counts)
        second = np.concatenate(found).astype(np.int64)
        new = (second > first) & (moments.flight[first] != moments.flight[second])
        pairs = np.column_stack([first[new], second[new]])
        for at_pair in range(0, len(pairs), _AT_ONCE):
            yield pairs[at_pair : at_pair + _AT_ONCE]


def _places_apart_m(a: _Singles, b: _Singles) -> Floats:
    """How far apart two paths are for some minutes, once the clock of one is set by the other; root mean square."""
    off = b - a
    speed = np.gradient(a, _WIDE_S, axis=1)
    # the eighty seconds that both are known to have
    core = slice(len(_WIDE_S) // 2 - 8, len(_WIDE_S) // 2 + 9)
    along = (off[:, core] * speed[:, core]).sum(axis=(1, 2))
    moving = np.maximum((speed[:, core] ** 2).sum(axis=(1, 2)), 1e-6)
    off = off - (along / moving)[:, None, None] * speed
    square = (off**2).sum(axis=2)
    total = np.cumsum(np.nan_to_num(square, nan=1e12), axis=1)
    total = np.concatenate([np.zeros((len(total), 1)), total], axis=1)
    mean = (total[:, _SHARED:] - total[:, :-_SHARED]) / _SHARED
    return np.asarray(np.sqrt(mean.min(axis=1)))


def _shapes_apart_m(a: _Singles, b: _Singles) -> Floats:
    """What is left between two paths after one was moved, turned and perhaps mirrored onto the other."""
    core = slice(len(_WIDE_S) // 2 - 8, len(_WIDE_S) // 2 + 9)
    one, two = (path[:, core, 0] + 1j * path[:, core, 1] for path in (a, b))
    one, two = one - one.mean(axis=1, keepdims=True), two - two.mean(axis=1, keepdims=True)
    size = (np.abs(one) ** 2).sum(axis=1) + (np.abs(two) ** 2).sum(axis=1)
    best = np.maximum(np.abs((one * two.conj()).sum(axis=1)), np.abs((one * two).sum(axis=1)))
    return np.asarray(np.sqrt(np.maximum(size - 2.0 * best, 0.0) / one.shape[1]))


def at(values: Floats, t_s: Floats) -> Floats:
    """A column of a shape between its entries; ``nan`` beyond them."""
    return np.interp(t_s, np.arange(len(values)) * STEP_S, values, left=np.nan, right=np.nan)


def _places(shape: Shape) -> _Told:
    """Where the flight crosses the lines of a grid on the Earth, and where it was in the time around."""
    latitude = shape.latitude_deg + shape.y_m / 111_195.0
    longitude = shape.longitude_deg + shape.x_m / (111_195.0 * np.cos(np.radians(shape.middle_deg)))
    times = np.concatenate([_crossings(latitude / _GRID_DEG), _crossings(longitude / _GRID_DEG)])
    around = times[:, None] + _WIDE_S
    phi, lam = np.radians(at(latitude, around)), np.radians(at(longitude, around))
    path = _EARTH_M * np.stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=2)
    told = path[:, _PICKED].reshape(len(times), -1)
    known = np.isfinite(told).all(axis=1)
    return times[known], told[known], path[known].astype(np.float32)


def _crossings(lines: Floats) -> Floats:
    """When a column passes a whole number. [s]"""
    with np.errstate(invalid="ignore"):
        below = np.floor(lines)
        passed = np.flatnonzero(np.abs(np.diff(below)) == 1.0)
    line = np.maximum(below[passed], below[passed + 1])
    share = (line - lines[passed]) / (lines[passed + 1] - lines[passed])
    return np.asarray((passed + share) * STEP_S)


def _turns(shape: Shape) -> _Told:
    """Where the flight turns hardest, and its shape around: distances, which no moving or mirroring changes."""
    steps = round(_TURN_OVER_S / STEP_S)
    x, y = shape.x_m, shape.y_m
    if len(x) < 4 * steps:
        return np.zeros(0), np.zeros((0, 1)), np.zeros((0, 1, 1), np.float32)
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
    around = times[:, None] + _WIDE_S
    path = np.stack([at(x, around), at(y, around)], axis=2)
    first, second = np.triu_indices(len(_PICKED), 1)
    picked = path[:, _PICKED]
    told = np.hypot(*np.moveaxis(picked[:, first] - picked[:, second], 2, 0))
    known = np.isfinite(told).all(axis=1)
    return times[known], told[known], path[known].astype(np.float32)
