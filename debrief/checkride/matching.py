"""Two shapes compared in full: how long the two flights are the same, to within what their recorders scatter.

Owns      ``best_match`` and what it takes to call a stretch shared.
Not here  which pairs are worth comparing (``copies``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from debrief.checkride.shape import STEP_S, Shape
from debrief.tracks.model import Floats

_SHARED_S = 220.0  # five minutes, less what smoothing and cropping take from both ends
_APART_M = 45.0
_ALIKE_M = 4.0  # root mean square, besides noise and sampling
_NOISE_LEFT = 0.33  # of each sample's noise after smoothing, at an interval of two seconds and less
_SAMPLED_S = 2.0
_CORNERS_M_S2 = 0.16  # a turn cut straight between samples, in metres for each second squared
_MOST_M = 26.0
_TURNED_DEG, _TURNED_RIGID_DEG = 50.0, 150.0  # in the shared stretch, for it to mean anything
_STRAIGHT_M, _STRAIGHT_FT = 5.0, 30.0  # instead: so alike where it does not turn
_LONG_STRAIGHT_S = 480.0  # and for so long, where one of them was moved
_ALTITUDE_FT = 80.0  # beyond it the altitudes are of two flights, or one was edited
_FEWEST = 40  # entries to go by
_HOLE = 5  # entries that may be apart within a stretch
_LONG_S = 900.0
_METRES_PER_DEG = 111_195.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """What two flights share."""

    seconds: float
    apart_m: float  # root mean square
    apart_ft: float | None
    offset_s: float  # by which the second log's clock is ahead
    moved: str  # "", "mirrored" or "moved elsewhere"
    strength: float
    equal: bool = False

    @classmethod
    def of_equal_files(cls) -> Match:
        """Two files of the same bytes."""
        return cls(seconds=0.0, apart_m=0.0, apart_ft=None, offset_s=0.0, moved="", strength=1.0, equal=True)

    def words(self, ahead_s: float) -> str:
        """The evidence, for one of the two; ``ahead_s`` is by how much the other's clock is ahead."""
        if self.equal:
            return "the two files are the same, byte for byte"
        if abs(ahead_s) < 1.5:
            when = "at the same time"
        else:
            way = "later" if ahead_s > 0 else "earlier"
            when = f"{_lasting(abs(ahead_s))} {way} in the other"
        high = f" and {self.apart_ft:.0f} ft in altitude" if self.apart_ft is not None else ""
        moved = f", {self.moved}" if self.moved else ""
        return f"{self.seconds / 60:.1f} minutes are the same flight{moved}, {when}: {self.apart_m:.0f} m apart{high}"


def _lasting(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.0f} s"
    if seconds < 7200:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h" if seconds < 172_800 else f"{seconds / 86_400:.0f} days"


def best_match(first: Shape, second: Shape, offsets: Sequence[tuple[float, bool]]) -> Match | None:
    """The longest stretch that the two share; ``None`` where it is too short to mean anything.

    ``offsets`` are candidates: by how much the second shape's time is ahead of the first's, and whether one of the two
    may have been moved or mirrored.
    """
    best: Match | None = None
    tried: set[tuple[int, bool]] = set()
    for offset_s, rigid in sorted(offsets, key=lambda found: found[1]):
        key = round(offset_s / (2 * STEP_S)), rigid
        if tried & {key, (key[0] - 1, rigid), (key[0] + 1, rigid)}:
            continue
        tried.add(key)
        match = _compared(first, second, offset_s, rigid=rigid)
        if match is not None and (best is None or match.strength > best.strength):
            best = match
    return best


def _compared(first: Shape, second: Shape, offset_s: float, *, rigid: bool) -> Match | None:
    time_s: Floats = np.arange(len(first), dtype=np.float64) * STEP_S
    here = np.stack([first.x_m, first.y_m])
    there = np.stack(_placed(second, first))
    moved = ""
    stretch: tuple[int, int] | None = None
    for attempt in range(3):
        other = _at(there, time_s + offset_s)
        if rigid:
            fitted = _fitted(here, other, stretch)
            if fitted is None:
                return None
            other, moved = fitted
        off = other - here
        stretch = _longest(np.hypot(*off), _APART_M * (3.0 if attempt == 0 else 1.0))
        if stretch is None or stretch[1] - stretch[0] < _FEWEST:
            return None
        span = slice(stretch[0], stretch[1] + 1)
        speed = np.gradient(other[:, span], STEP_S, axis=1)
        known = np.isfinite(off[:, span]).all(axis=0) & np.isfinite(speed).all(axis=0)
        moving = float((speed[:, known] ** 2).sum())
        if moving == 0.0:
            return None
        offset_s -= float((off[:, span][:, known] * speed[:, known]).sum()) / moving
    other = _at(there, time_s + offset_s)
    if rigid:
        fitted = _fitted(here, other, stretch)
        if fitted is None:
            return None
        other, moved = fitted
    return _judged(first, second, time_s, here, other, offset_s, moved)


def allowed_m(noise_m: Floats, interval_s: Floats) -> Floats:
    """How far apart two logs of one flight may be, root mean square, by the noise and the interval of each.

    The first axis holds the two logs.
    """
    corners_m = _CORNERS_M_S2 * (interval_s**2).sum(axis=0)
    return np.asarray(np.minimum(_ALIKE_M + 1.4 * _left_m(noise_m, interval_s) + corners_m, _MOST_M))


def _left_m(noise_m: Floats, interval_s: Floats) -> Floats:
    """What smoothing leaves of the noise of two logs, in their difference."""
    each = _NOISE_LEFT * noise_m * np.sqrt(np.maximum(interval_s / _SAMPLED_S, 1.0))
    return np.asarray(np.hypot(each[0], each[1]))


def _judged(
    first: Shape, second: Shape, time_s: Floats, here: Floats, other: Floats, offset_s: float, moved: str
) -> Match | None:
    off = np.hypot(*(other - here))
    stretch = _longest(off, _APART_M)
    if stretch is None:
        return None
    span = slice(stretch[0], stretch[1] + 1)
    seconds = (stretch[1] - stretch[0]) * STEP_S
    apart_m = float(np.sqrt(np.nanmean(off[span] ** 2)))
    high = np.interp(
        time_s + offset_s, np.arange(len(second)) * STEP_S, second.altitude_ft, left=np.nan, right=np.nan
    )
    climb = (high - first.altitude_ft)[span]
    apart_ft = float(np.sqrt(np.nanmean(climb**2))) if np.isfinite(climb).any() else None
    noise = np.array([first.noise_m, second.noise_m])
    interval = np.array([first.interval_s, second.interval_s])
    allowed, left_m = float(allowed_m(noise, interval)), float(_left_m(noise, interval))
    turned = _turned_deg(here[:, span])
    if seconds < _SHARED_S or apart_m > allowed:
        return None
    same_height = apart_ft is not None and apart_ft <= _ALTITUDE_FT
    very_alike = apart_m <= _STRAIGHT_M + left_m and apart_ft is not None and apart_ft <= _STRAIGHT_FT
    if moved:
        if not same_height or not (
            turned >= _TURNED_RIGID_DEG or (very_alike and seconds >= _LONG_STRAIGHT_S)
        ):
            return None
    elif turned < _TURNED_DEG and not very_alike:
        return None
    strength = 0.7 + 0.25 * min(1.0, (seconds - _SHARED_S) / (_LONG_S - _SHARED_S))
    if not same_height:
        strength -= 0.1
    return Match(
        seconds=seconds,
        apart_m=apart_m,
        apart_ft=apart_ft,
        offset_s=offset_s + second.start_s - first.start_s,
        moved=moved,
        strength=round(strength, 2),
    )


def _placed(shape: Shape, on: Shape) -> tuple[Floats, Floats]:
    """East and north of ``on``'s origin, with its scale of longitude."""
    east_deg = (shape.longitude_deg - on.longitude_deg + 180.0) % 360.0 - 180.0
    own, its = (np.cos(np.radians(s.middle_deg)) for s in (shape, on))
    return (
        (shape.x_m / own + east_deg * _METRES_PER_DEG) * its,
        shape.y_m + (shape.latitude_deg - on.latitude_deg) * _METRES_PER_DEG,
    )


def _at(places: Floats, t_s: Floats) -> Floats:
    grid = np.arange(places.shape[1]) * STEP_S
    return np.stack([np.interp(t_s, grid, row, left=np.nan, right=np.nan) for row in places])


def _fitted(here: Floats, other: Floats, stretch: tuple[int, int] | None) -> tuple[Floats, str] | None:
    """``other`` turned, shifted and perhaps mirrored so that it lies on ``here``; and what was done to it."""
    known = np.isfinite(here).all(axis=0) & np.isfinite(other).all(axis=0)
    if stretch is not None:
        inside = np.zeros_like(known)
        inside[stretch[0] : stretch[1] + 1] = True
        known &= inside
    if known.sum() < _FEWEST:
        return None
    best: tuple[float, Floats, str] | None = None
    a = here[0] + 1j * here[1]
    for mirrored in (False, True):
        b = other[0] + 1j * other[1]
        b = b.conj() if mirrored else b
        chosen = known
        for _ in range(4):  # what does not fit is left out, and the rest fitted again
            centre_a, centre_b = a[chosen].mean(), b[chosen].mean()
            turn = ((a[chosen] - centre_a) * (b[chosen] - centre_b).conj()).sum()
            if abs(turn) == 0.0:
                break
            placed = (b - centre_b) * turn / abs(turn) + centre_a
            off = np.abs(placed - a)
            limit = max(_APART_M, 1.5 * float(np.median(off[chosen])))
            closer = known & (off < limit)
            if closer.sum() < _FEWEST or (closer == chosen).all():
                break
            chosen = closer
        good = float((known & (off < _APART_M)).sum())
        if best is None or good > best[0]:
            best = good, np.stack([placed.real, placed.imag]), "mirrored" if mirrored else "moved elsewhere"
    return None if best is None else (best[1], best[2])


def _longest(apart_m: Floats, most_m: float) -> tuple[int, int] | None:
    """First and last entry of the longest stretch within a distance, short holes allowed."""
    near = np.flatnonzero(apart_m < most_m)
    if not len(near):
        return None
    cut = np.flatnonzero(np.diff(near) > _HOLE)
    first = near[np.concatenate([[0], cut + 1])]
    last = near[np.concatenate([cut, [len(near) - 1]])]
    k = int(np.argmax(last - first))
    return int(first[k]), int(last[k])


def _turned_deg(places: Floats) -> float:
    """All turns of a stretch added up, either way; what noise alone makes is not counted."""
    every = places[:, ::5]
    step = np.diff(every, axis=1)
    heading = np.unwrap(np.arctan2(step[0], step[1])[np.isfinite(step).all(axis=0)])
    turn = np.abs(np.degrees(np.diff(heading)))
    return float(turn[turn > 4.0].sum())
