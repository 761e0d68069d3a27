"""Positions the aircraft cannot have reached: single wild samples, and jumps after which the flight goes on.

Owns      wild positions (up to five in a row), wild altitudes by the same two tests, jumps that begin a segment.
Not here  missing or zero altitudes (``altitude``), positions that stand still (``repeats``).

Two tests. *Reach*: no step may be farther than the speed around it allows, with room for stamps that are off by
two seconds; a step out of reach that comes back is a wild sample, one that does not is a jump. *Fit*: one to
three samples in a row may not stand off the line between their neighbours by more than a turn, the log's own noise and
such stamps explain, while the neighbours fit without them. Across the line this is far stricter than along it,
where a late stamp shifts a good position by 60 m.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from debrief.language import tr
from debrief.navigation.units import METRES_PER_NM
from debrief.tracks.middles import spread
from debrief.tracks.model import Floats
from debrief.tracks.points import Bools, Found, Index, Ints, Points, no_reasons
from debrief.tracks.words import amount, moment

LONGEST_RUN = 5
LONGEST_EXCURSION_S = 30.0
_FITTED_RUN = 3
SHORTEST_PIECE = 5  # fewer samples between two jumps are no flight
SHORTEST_LOG = 20  # in shorter logs every piece is kept

_STAMP_S = 2.0  # two stamps, each off by a second
_ALONG_STAMP_S = 2.5  # three stamps in the fit
_FASTER = 1.5
_FASTER_M_S = 25.0
_NEAR_M = 100.0
_BACK_FASTER = 1.2  # coming back from a wild sample must look like ordinary flight

_TURN_RATE = 0.12  # rad/s: twice the standard rate, and a little
_MOST_LATERAL_M_S2 = 12.0
_LEAST_M_S2 = 2.0
_ALONG_M_S2 = 3.0
_NOISES = 8.0
_FIT_FLOOR_M = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """What the test of reach says about a row of samples."""

    wild: Bools
    piece: Ints  # counts up at each jump


def reached(
    count: int, step: Callable[[Index, Index], Bools], back: Callable[[Index, Index], Bools]
) -> Reached:
    """Walk along the samples; ``step(i, j)`` says whether j can follow i, ``back`` the same across wild samples."""
    wild, lost = np.zeros(count, dtype=bool), np.zeros(count, dtype=np.int64)
    broken = np.nonzero(~step(slice(0, count - 1), slice(1, count)))[0]
    if not len(broken):
        return Reached(wild=wild, piece=lost)
    targets = broken[:, None] + 1 + np.arange(1, LONGEST_RUN + 1)
    inside = targets < count
    ends = np.broadcast_to(broken[:, None], targets.shape)
    again = np.zeros(targets.shape, dtype=bool)
    again[inside] = back(ends[inside], targets[inside])
    skip = np.where(again.any(axis=1), again.argmax(axis=1) + 1, 0)
    taken = begun = 0
    for end, skipped in zip(broken.tolist(), skip.tolist(), strict=True):
        if end < taken:
            continue  # inside a run already taken out
        if 0 < skipped <= end + 1 - begun:  # else what stands before is the wild part
            taken = end + 1 + skipped
            wild[end + 1 : taken] = True
        else:
            lost[end + 1] = 1
            begun = end + 1
    return Reached(wild=wild, piece=np.cumsum(lost))


def without_excursions(walk: Reached, t_s: Floats, back: Callable[[Index, Index], Bools]) -> Reached:
    """Take out pieces of up to half a minute from which the flight comes back to where it was."""
    good = np.nonzero(~walk.wild)[0]
    first = np.nonzero(np.diff(walk.piece[good], prepend=-1) > 0)[0]
    if len(first) < 3:
        return walk
    begins, ends = good[first], good[np.append(first[1:], len(good)) - 1]
    wild, number = walk.wild.copy(), np.arange(int(walk.piece.max()) + 1)
    before, away = ends[0], False
    for k in range(1, len(begins)):
        if away:  # what follows an excursion goes on with the piece before it
            number[walk.piece[begins[k]]] = number[walk.piece[before]]
        away = (
            not away
            and k + 1 < len(begins)
            and t_s[begins[k + 1]] - t_s[before] <= LONGEST_EXCURSION_S
            and bool(back(np.array([before]), np.array([begins[k + 1]]))[0])
        )
        if away:
            wild[begins[k] : ends[k] + 1] = True
        else:
            before = ends[k]
    return Reached(wild=wild, piece=number[walk.piece])


def misfits(
    points: Points, piece: Ints, excess: Callable[[Index, Index, Index], Floats], *, longest_s: float
) -> Bools:
    """Mark runs of one to three samples that stand off while their neighbours agree.

    ``excess(before, at, after)`` is the distance of ``at`` from the line, in allowances: above 1 is too far.
    No line is drawn over more than ``longest_s`` for each step, or across a jump.
    """
    count = len(points)
    bad = np.zeros(count, dtype=bool)
    for run in range(1, min(_FITTED_RUN, count - 4) + 1):
        last = count - run - 2  # one past the last sample before a run; each run has two neighbours a side
        off = excess(slice(1, last), slice(2, last + 1), slice(run + 2, last + run + 1))
        before = np.nonzero(off > 1.0)[0] + 1
        after = before + run + 1
        together = (piece[before - 1] == piece[after + 1]) & (
            points.t_s[after] - points.t_s[before] < longest_s * (run + 1)
        )
        for k in range(2, run + 1):
            together[together] = excess(before[together], before[together] + k, after[together]) > 1.0
        before, after = before[together], after[together]
        fits = (excess(before - 1, before, after) <= 1.0) & (excess(before, after, after + 1) <= 1.0)
        for start in before[fits].tolist():
            if not bad[start : start + run + 2].any():
                bad[start + 1 : start + run + 1] = True
    return bad


def find_jumps(points: Points) -> Found:
    """Set aside wild positions, and begin a new segment behind each jump."""
    count = len(points)
    if count < 3:
        return Found.nothing(points)
    speed = points.local_speed_m_s

    def within(start: Index, end: Index, faster: float, faster_m_s: float) -> Bools:
        around = np.maximum(speed[start], speed[end])
        seconds = points.t_s[end] - points.t_s[start]
        allowed = (
            (faster * around + faster_m_s) * seconds + _STAMP_S * around + _NEAR_M + 2 * points.rounding_m
        )
        return points.distance_m(start, end) <= allowed

    def back(start: Index, end: Index) -> Bools:
        return within(start, end, _BACK_FASTER, 0.0)

    walk = reached(count, lambda i, j: within(i, j, _FASTER, _FASTER_M_S), back)
    walk = without_excursions(walk, points.t_s, back)
    reasons = no_reasons(count)
    reasons[walk.wild] = "spike"
    good = np.nonzero(~walk.wild)[0]
    rest = points.without(walk.wild)
    off = misfits(rest, walk.piece[good], _excess(rest), longest_s=4.0 * points.interval_s + _STAMP_S)
    reasons[good[off]] = "spike"

    used = reasons == ""
    sizes = np.bincount(walk.piece[used], minlength=int(walk.piece.max()) + 1)
    if count >= SHORTEST_LOG:
        reasons[used & (sizes < SHORTEST_PIECE)[walk.piece]] = "jump"
    return Found(
        reasons=reasons,
        breaks=_breaks(points, reasons, walk.piece),
        warnings=_words(points, reasons, walk.piece),
    )


def _excess(points: Points) -> Callable[[Index, Index, Index], Floats]:
    """How far a point stands off the line between two others, in what turns, noise and stamps explain."""
    speed, t_s = points.local_speed_m_s, points.t_s
    floor_m = _FIT_FLOOR_M + 2 * points.rounding_m

    def split(before: Index, at: Index, after: Index) -> tuple[Floats, Floats]:
        east, north = points.off_chord_m(before, at, after)
        to_east, to_north = points.offset_m(before, after)
        length = np.maximum(np.hypot(to_east, to_north), 1.0)
        return (east * to_east + north * to_north) / length, (east * to_north - north * to_east) / length

    before, at, after = (slice(k, len(points) - 2 + k) for k in range(3))
    along_noise_m, across_noise_m = (_NOISES * spread(values) for values in split(before, at, after))

    def excess(before: Index, at: Index, after: Index) -> Floats:
        result = np.hypot(*points.off_chord_m(before, at, after)) / floor_m
        far = result > 1.0  # few are: only these deserve the full test
        if not far.any():
            return result
        everything = np.arange(len(points))
        before, at, after = everything[before][far], everything[at][far], everything[after][far]
        room_s2 = 0.5 * (t_s[at] - t_s[before]) * (t_s[after] - t_s[at])
        lateral = np.minimum(_TURN_RATE * speed[at], _MOST_LATERAL_M_S2) + _LEAST_M_S2
        across_m = lateral * room_s2 + across_noise_m + floor_m
        along_m = _ALONG_M_S2 * room_s2 + _ALONG_STAMP_S * speed[at] + along_noise_m + floor_m
        along, across = split(before, at, after)
        result[far] = np.hypot(along / along_m, across / across_m)
        return result

    return excess


def _breaks(points: Points, reasons: np.ndarray, piece: Ints) -> dict[int, str]:
    good = np.nonzero(reasons == "")[0]
    behind = good[1:][np.diff(piece[good]) > 0]
    return {int(points.index[i]): "new segment" for i in behind}


def _words(points: Points, reasons: np.ndarray, piece: Ints) -> tuple[str, ...]:
    track, warnings = points.track, list[str]()
    wild = np.nonzero(reasons == "spike")[0]
    good = np.nonzero(reasons == "")[0]
    if len(wild) and len(good) > 1:
        after = np.clip(np.searchsorted(good, wild), 1, len(good) - 1)
        off_nm = np.hypot(*points.off_chord_m(good[after - 1], wild, good[after])) / METRES_PER_NM
        worst = int(np.argmax(off_nm))
        warnings.append(
            tr(
                "{positions} far off the flight, up to {off_nm:,.1f} NM at {when}: set aside.",
                positions=amount(len(wild), "position"),
                off_nm=off_nm[worst],
                when=moment(track, int(points.index[wild[worst]])),
            )
        )
    lost = np.nonzero(reasons == "jump")[0]
    if len(lost):
        warnings.append(
            tr(
                "{samples} out of reach of the rest of the flight, the first at {when}: set aside.",
                samples=amount(len(lost), "sample"),
                when=moment(track, int(points.index[lost[0]])),
            )
        )
    behind = np.nonzero(np.diff(piece[good]) > 0)[0]
    for k in behind[:SHORTEST_PIECE]:
        far_nm = float(points.distance_m(good[[k]], good[[k + 1]])[0]) / METRES_PER_NM
        warnings.append(
            tr(
                "The position jumps by {far_nm:,.1f} NM at {when}: what follows is taken as a separate "
                "stretch of flight.",
                far_nm=far_nm,
                when=moment(track, int(points.index[good[k + 1]])),
            )
        )
    more = len(behind) - SHORTEST_PIECE
    if more > 0:
        warnings.append(
            tr("The position jumps {count} times more after that.", count=more)
            if more > 1
            else tr("The position jumps once more after that.")
        )
    return tuple(warnings)
