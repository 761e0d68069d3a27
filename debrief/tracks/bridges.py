"""Stretches without reception that a program filled with a straight line.

Owns      telling such a line from an autopilot's in still air, and from a log resampled at large.
Not here  gaps without samples (``gaps``).

A bridge is at least 20 s of samples that lie on one straight line at one even speed, to the rounding of the
coordinates. So does an aircraft on autopilot in a simulator. What an aircraft cannot do is begin or end that line with a
corner: the velocity behind it, carried back through any turn to the line's end, differs from the line's own.
The corner must stand out from the rest of the log, for in a log that is itself interpolated every turn is a
polygon. Where a log is noisy throughout, a line too quiet for that noise is a bridge even without a corner.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.language import tr
from debrief.tracks.gaps import is_gap
from debrief.tracks.model import Floats
from debrief.tracks.points import Bools, Found, Ints, Points, no_reasons, runs_of
from debrief.tracks.words import clock, lasting, time_of_day

SHORTEST_S = 20.0
_FEWEST_INSIDE = 4
_BASE_S = 5.0  # a slow turn shows over this, where from sample to sample rounding hides it
_VELOCITY_S = 1.0
_MOVING_M_S = 15.0
_SLOWEST_M_S = 8.0  # of a bridge: the aircraft may have turned round meanwhile
_ROUNDINGS = 1.5  # each of three positions is off by half a step on each axis
_STAMP_S = 0.001
_GRAIN_M = 0.02
_EARTH_M = 6_371_000.0
_BOW = 1.2

_CORNER_M_S = 8.0  # 0.8 g for a second
_TURN_RATE = 0.068  # rad/s, 3.9 deg/s: a turn that fits between two samples is no corner
_CORNERS_AROUND = 2.0
_CORNER_PERCENTILE = 90.0
# a simulator's rate changed: same direction, a multiple of the speed
_RATES = np.array([2.0, 4.0, 8.0, 16.0])
_RATE_NEAR = 0.05
_SAME_DIRECTION = 0.05  # rad
_FASTER = 1.15  # a straight line is never longer than the flight it replaces

_NOISY_SHARE = 30.0  # percentile: the bridges must not be more of the log than this
_LEFT_SHARE = 0.2  # ... or so much straight flight must be left beside them
_STRAIGHT_DEG = 5.0  # between one slow step and the next: a turn at 1 deg/s
_FOURTH = 70 / 16  # variance of a fourth difference so scaled, in those of a position
_FEWEST_SCATTER = 12
_SMALLEST_SHARE = 1e-9
# that percentile, in standard deviations
_SCATTER = _FOURTH**0.5 * (-2 * np.log(1 - _NOISY_SHARE / 100)) ** 0.5
_NOISE_LEAST_M = 0.3
_SURELY_ROUNDINGS = 1.7  # more than the rounding of even motion can make
_NOISE_ROUNDINGS = 0.5  # rounding alone makes 0.3
_LOG_CHANCE = np.log(1e-8)
_STANDARD_RATE = 0.0524  # rad/s


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A straight, even stretch: its first and last point, and its velocity."""

    first: int
    last: int
    east_m_s: float
    north_m_s: float

    @property
    def speed_m_s(self) -> float:
        """Speed over the ground along the line. [m/s]"""
        return float(np.hypot(self.east_m_s, self.north_m_s))


def find_bridges(points: Points, breaks: dict[int, str]) -> Found:
    """Set aside the samples of bridges, the real ones at their ends excepted where they can be told.

    A receiver that repeats its positions repeats those of a bridge, too; one too slow for a flight keeps its repeats
    until here, and they are passed over.
    """
    every, everywhere = points, _segments(points, breaks)
    moved = _moved(points)
    points, segment = points.without(~moved), everywhere[moved]
    base = points.reach(_BASE_S)
    if len(points) < 2 * base + _FEWEST_INSIDE:
        return Found.nothing(every)
    lines = _lines(points, segment, base)
    if not lines:
        return Found.nothing(every)
    moving = points.local_speed_m_s > _MOVING_M_S
    beside = _straight_beside(points, moving, lines, base)
    among = (moving, beside) if beside.sum() >= _LEFT_SHARE * moving.sum() else (moving,)
    noise_m = max(_noise_m(points, segment, counts, stride) for counts in among for stride in {1, base})
    covered = sum(line.last - line.first for line in lines) / max(int(moving.sum()), 1)
    if noise_m < _SURELY_ROUNDINGS * points.rounding_m and covered > _NOISY_SHARE / 100:
        noise_m = 0.0  # the rounding of even motion can alternate like noise
    cornered = _between_corners(points, segment, lines)
    bridges = [line for line in lines if line in cornered or _too_quiet(points, line, noise_m)]
    here = np.flatnonzero(moved)
    reasons, spans = no_reasons(len(every)), list[tuple[int, int]]()
    for line in bridges:
        first = line.first + _goes_on(points, segment, line, -1)
        last = line.last - _goes_on(points, segment, line, 1)
        reasons[here[first] : here[last + 1] if last + 1 < len(here) else len(every)] = "bridged"
        spans.append((max(first - 1, 0), min(last + 1, len(points) - 1)))
    return Found(reasons=reasons, breaks=_breaks(every, reasons), warnings=_words(points, spans))


def _moved(points: Points) -> Bools:
    """The samples that do not repeat the position before them."""
    same = (np.diff(points.latitude_deg) == 0) & (np.diff(points.longitude_deg) == 0)
    return np.concatenate([[True], ~same]) if len(points) else np.ones(0, dtype=np.bool_)


def _between_corners(points: Points, segment: Ints, lines: list[_Line]) -> list[_Line]:
    """The lines that a corner makes bridges. A corner between two lines belongs to one of them."""
    stride = points.reach(_VELOCITY_S)
    usual_m_s = _CORNERS_AROUND * _usual_corner_m_s(points, segment, stride)
    corners = []
    for line in lines:
        least_m_s = max(_CORNER_M_S, usual_m_s, _TURN_RATE * points.interval_s * line.speed_m_s)
        corners.append([_corner_m_s(points, segment, line, way) > least_m_s for way in (-stride, stride)])
    for i in range(len(lines) - 1):
        if corners[i][1] and corners[i + 1][0] and lines[i + 1].first - lines[i].last <= 2 * stride:
            # the other end tells which is the bridge; else the slower, for a straight line is the shorter way
            left, right = corners[i][0], corners[i + 1][1]
            slower_left = lines[i].speed_m_s < lines[i + 1].speed_m_s
            loser = i if (right and not left) or (left == right and not slower_left) else i + 1
            if not (left and right):
                corners[loser][1 if loser == i else 0] = False
    return [line for line, ends in zip(lines, corners, strict=True) if any(ends)]


def _segments(points: Points, breaks: dict[int, str]) -> Ints:
    cut = np.concatenate([[False], is_gap(points)]) | np.isin(points.index, list(breaks))
    return np.cumsum(cut)


def _tolerance_m(points: Points, speed_m_s: Floats) -> Floats:
    return _ROUNDINGS * points.rounding_m + _STAMP_S * speed_m_s + _GRAIN_M


def _lines(points: Points, segment: Ints, base: int) -> list[_Line]:
    """Every stretch long enough that lies on a straight line at even speed."""
    count = len(points)
    before, at, after = (slice(k, count - 2 * base + k) for k in (0, base, 2 * base))
    off_m = np.hypot(*points.off_chord_m(before, at, after))
    speed = points.local_speed_m_s[at]
    straight = (off_m <= _tolerance_m(points, speed)) & (segment[before] == segment[after])
    straight &= points.net_speed_m_s[at] > _SLOWEST_M_S
    low, high = runs_of(straight)
    high += 2 * base
    long = (points.t_s[high] - points.t_s[low] >= SHORTEST_S) & (high - low > _FEWEST_INSIDE)
    lines = []
    for first, last in zip(low[long].tolist(), high[long].tolist(), strict=True):
        # noise may put some points beyond the true ends near the line, by chance
        tries = (_fitted(points, first, last, trims * base) for trims in (1, 2, 3))
        line = next((line for line in tries if line), None)
        if line and points.t_s[line.last] - points.t_s[line.first] >= SHORTEST_S:
            lines.append(line)
    return lines


def _fitted(points: Points, first: int, last: int, trim: int) -> _Line | None:
    """The line along the points ``first`` to ``last`` where all lie on it, ``trim`` at its ends excepted."""
    trim = min(trim, (last - first) // 5)
    start, end, near = first + trim, last - trim, np.arange(first, last + 1)
    off_m = np.array(points.off_chord_m(np.full_like(near, start), near, np.full_like(near, end)))
    east, north = (float(v[0]) for v in points.offset_m(np.array([start]), np.array([end])))
    length_m, seconds = float(np.hypot(east, north)), float(points.t_s[end] - points.t_s[start])
    # even over the ground instead of in degrees, the line bows out by so much at most
    share = (points.t_s[near] - points.t_s[start]) / seconds
    shape, inner = 4.0 * share * (1.0 - share), slice(trim, len(near) - trim)
    most_m = _BOW * length_m**2 / (8 * _EARTH_M) * abs(np.tan(np.radians(points.latitude_deg[start])))
    bow_m = off_m[:, inner] @ shape[inner] / (shape[inner] @ shape[inner])
    bow_m *= min(1.0, most_m / max(float(np.hypot(*bow_m)), 1e-9))
    off_m -= bow_m[:, None] * shape
    on = np.hypot(*off_m) <= _tolerance_m(points, np.full(len(near), length_m / seconds))
    if not on[inner].all():
        return None
    # the ends may stand on the line by chance: they are taken as far as they do without a break
    more_left = int(np.minimum.accumulate(on[:trim][::-1]).sum())
    more_right = int(np.minimum.accumulate(on[len(near) - trim :]).sum())
    return _Line(
        first=start - more_left, last=end + more_right, east_m_s=east / seconds, north_m_s=north / seconds
    )


def _scatter_m(points: Points, first: int, last: int, stride: int) -> Floats:
    """Fourth differences of the positions over ``stride`` samples, centred on ``first`` to ``last``. [m]"""
    at = [slice(first + k * stride, last + 1 + k * stride) for k in (-2, -1, 0, 1, 2)]
    off = [points.off_chord_m(at[k - 1], at[k], at[k + 1]) for k in (1, 2, 3)]
    return np.hypot(*(off[1][axis] - (off[0][axis] + off[2][axis]) / 2 for axis in (0, 1)))


def _straight_beside(points: Points, moving: Bools, lines: list[_Line], base: int) -> Bools:
    """The moving samples on none of the lines, and in no turn: what turns do to a resampled log is no noise."""
    at = np.arange(base, len(points) - base)
    (before_e, before_n), (after_e, after_n) = points.offset_m(at - base, at), points.offset_m(at, at + base)
    across, along = before_e * after_n - before_n * after_e, before_e * after_e + before_n * after_n
    beside = np.zeros(len(points), dtype=np.bool_)
    beside[at] = np.abs(np.arctan2(across, along)) < np.radians(_STRAIGHT_DEG)
    for line in lines:
        beside[line.first : line.last + 1] = False
    return beside & moving


def _noise_m(points: Points, segment: Ints, counts: Bools, stride: int) -> float:
    """Standard deviation, each axis, of the positions in all but the quietest part of the flight; 0 where unknown.

    ``counts`` picks the samples looked at, all of them moving.

    Found from fourth differences over ``stride`` samples; where turns could explain them (a turn at standard rate
    leaves v omega^3 T^4), nothing is known.
    """
    first, last = 2 * stride, len(points) - 1 - 2 * stride
    if last < first:
        return 0.0
    speed = points.local_speed_m_s[first : last + 1]
    counts = counts[first : last + 1] & (segment[: last + 1 - first] == segment[4 * stride :])
    if not counts.any():
        return 0.0
    scatter_m = _scatter_m(points, first, last, stride)[counts]
    quiet_m = float(np.percentile(scatter_m, _NOISY_SHARE))
    seconds = stride * points.interval_s
    turning_m = (_STANDARD_RATE * seconds) ** 3 * seconds * float(speed[counts].max())
    return quiet_m / _SCATTER if quiet_m > turning_m else 0.0


def _too_quiet(points: Points, line: _Line, noise_m: float) -> bool:
    """Whether noise of that size would hardly ever leave every point of the line so close to it."""
    if noise_m < max(_NOISE_LEAST_M, _NOISE_ROUNDINGS * points.rounding_m):
        return False
    count = line.last - line.first - 1
    tolerance_m = float(_tolerance_m(points, np.array([line.speed_m_s]))[0])
    near = -np.expm1(-((tolerance_m / noise_m) ** 2) / 2.0)  # chance of one point: two axes, normal
    if count * np.log(near) < _LOG_CHANCE:
        return True
    if count < _FEWEST_SCATTER:
        return False
    # chance of a sum of squares so small; of three fourth differences in a row one is independent
    share = float(np.mean(_scatter_m(points, line.first + 2, line.last - 2, 1) ** 2)) / (
        2 * _FOURTH * noise_m**2
    )
    share = max(share, _SMALLEST_SHARE)
    return bool(share < 1.0 and -count / 3 * (share - 1.0 - np.log(share)) < _LOG_CHANCE)


def _velocity(points: Points, segment: Ints, start: Ints, end: Ints) -> tuple[Floats, Floats]:
    """East and north over each step; ``nan`` outside the log and across a break. [m/s]"""
    final = len(points) - 1
    known = (np.minimum(start, end) >= 0) & (np.maximum(start, end) <= final)
    start, end = np.clip(start, 0, final), np.clip(end, 0, final)
    known &= segment[start] == segment[end]
    east, north = points.offset_m(start, end)
    with np.errstate(invalid="ignore", divide="ignore"):
        seconds = np.where(known, points.t_s[end] - points.t_s[start], np.nan)
        return east / seconds, north / seconds


def _outside(points: Points, segment: Ints, at: Ints, stride: int) -> tuple[Floats, Floats]:
    """The velocity beyond ``at``, carried back to it three ways (first axis), the first step left out.

    The first step is left out because a corner may fall inside it. A turn may have begun anywhere in it.
    """
    near_e, near_n = _velocity(points, segment, at + stride, at + 2 * stride)
    far_e, far_n = _velocity(points, segment, at + 2 * stride, at + 3 * stride)
    here, there = np.clip(at, 0, len(points) - 1), np.clip(at + stride, 0, len(points) - 1)
    near_e = np.where(segment[here] == segment[there], near_e, np.nan)
    back = np.array([0.5, 1.0, 1.5])[:, None]
    return near_e - back * (far_e - near_e), near_n - back * (far_n - near_n)


def _usual_corner_m_s(points: Points, segment: Ints, stride: int) -> float:
    """How sharp the corners are that this log has in its turns, the sharpest few left out. [m/s]"""
    at = np.arange(0, len(points), max(1, stride // 2))
    corners = []
    for way in (stride, -stride):
        into_e, into_n = _velocity(points, segment, at - way, at)
        out_e, out_n = _outside(points, segment, at, way)
        corners.append(np.hypot(out_e - into_e, out_n - into_n).min(axis=0))
    both = np.concatenate(corners)
    base = points.reach(_BASE_S)
    before, after = np.maximum(at - base, 0), np.minimum(at + base, len(points) - 1)
    with np.errstate(invalid="ignore", divide="ignore"):
        off_m = np.hypot(*points.off_chord_m(before, at, after))
    turning = (off_m > _tolerance_m(points, points.local_speed_m_s[at])) & (
        points.net_speed_m_s[at] > _MOVING_M_S
    )
    counts = np.tile(turning, 2) & np.isfinite(both)
    return float(np.percentile(both[counts], _CORNER_PERCENTILE)) if counts.any() else 0.0


def _corner_m_s(points: Points, segment: Ints, line: _Line, way: int) -> float:
    """How sharply the velocity changes at one end of the line; 0 where nothing is seen beyond it. [m/s]"""
    at = np.array([line.last if way > 0 else line.first])
    out_e, out_n = (v[:, 0] for v in _outside(points, segment, at, way))
    if not np.isfinite(out_e).all():
        return 0.0
    change = np.hypot(out_e - line.east_m_s, out_n - line.north_m_s)
    out, along = float(np.hypot(out_e[1], out_n[1])), line.speed_m_s
    turned = np.arctan2(
        out_e[1] * line.north_m_s - out_n[1] * line.east_m_s,
        out_e[1] * line.east_m_s + out_n[1] * line.north_m_s,
    )
    ratio = max(out, along, 1e-9) / max(min(out, along), 1e-9)
    new_rate = abs(turned) < _SAME_DIRECTION and bool((np.abs(_RATES / ratio - 1.0) < _RATE_NEAR).any())
    if new_rate or along > _FASTER * out:
        return 0.0
    return float(change.min())


def _goes_on(points: Points, segment: Ints, line: _Line, way: int) -> int:
    """1 where the line's end itself is a real sample: the flight leads to it without a corner; else 0."""
    end = np.array([line.last if way > 0 else line.first])
    into_e, into_n = _velocity(points, segment, end, end + way)
    before_e, before_n = _velocity(points, segment, end + way, end + 2 * way)
    change = float(np.hypot(into_e - before_e, into_n - before_n)[0])
    to_line = float(np.hypot(into_e - line.east_m_s, into_n - line.north_m_s)[0])
    return int(change < to_line / 2)  # nan compares false: the end of the log is no real sample


def _breaks(points: Points, reasons: np.ndarray) -> dict[int, str]:
    _, last = runs_of(np.asarray(reasons == "bridged"))
    return {int(points.index[i + 1]): "bridged" for i in last if i + 1 < len(points)}


def _words(points: Points, spans: list[tuple[int, int]]) -> tuple[str, ...]:
    if not spans:
        return ()
    track = points.track

    def shown(span: tuple[int, int]) -> str:
        start_s, end_s = float(points.t_s[span[0]]), float(points.t_s[span[1]])
        return tr(
            "{time} from {when} to {then}",
            time=lasting(end_s - start_s),
            when=time_of_day(track, start_s),
            then=clock(track, end_s),
        )

    if len(spans) == 1:
        one = tr(
            "{stretch} on one straight line at one exact speed, unlike the rest of the flight, as a program fills a hole "
            "in reception: left out.",
            stretch=shown(spans[0]),
        )
        return (one,)
    longest = max(spans, key=lambda span: points.t_s[span[1]] - points.t_s[span[0]])
    many = tr(
        "{count} stretches, the longest {stretch}, on one straight line at one exact speed, unlike the rest of the "
        "flight, as a program fills a hole in reception: left out.",
        count=len(spans),
        stretch=shown(longest),
    )
    return (many,)
