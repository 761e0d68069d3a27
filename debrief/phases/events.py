"""Closest points of the station that may be passages of it, between samples or in a gap.

Owns      finding them on the one-second grid and refining each between samples; which belong to one crossing.
Not here  turns (``turns``), which crossings are visits (``visits``) or belong to an approach (``attempts``).
Source    What each event is: DEVELOPERS.md, "Definitions".
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.angles import difference_deg
from debrief.phases.model import Floats, Passage, StationView

At = Callable[[Floats], StationView]
Mask = NDArray[np.bool_]

MISSED_BEYOND_NM = 1.5  # a closest point farther out than this and outside the cone is no passage
WEAK_PASSAGE_NM = 4.0  # farther out nobody meant to cross the station; a reversal has closest points, too
TURNED_WITHIN_NM = 1.5  # two visits to the cone with no more than a turn between them are one passage
NEARER_NM = 0.5  # a swing of the distance within a turn; nobody comes back to a station by so little
ABEAM_WITHIN_NM = 3.0  # turning at the station one passes abeam of it again, and no farther away than this
TURNED_WITHIN_S = 180.0  # a half circle the long way round, and the way back over the station
SHORT_OUT_NM = 1.2  # a minute out at 100 kt against 30 kt
SHORTEST_OUT_NM = 0.7  # a minute at 40 kt
OUT_OR_BACK_DEG, SHORT_BACK_DEG = 60.0, 30.0
OUT_S = 12.0
LONGEST_HIDING_S = 600.0  # what a gap hides can be told where it is one thing; in more time it may be any
ROUND_DEG = 300.0  # a racetrack's circuit, less what its first turn was shorter by ...
ROUND_S = 110.0  # ... which at the standard rate takes longer than any turn at the station
LONG_WAY_DEG = 345.0  # a turn may lead so far round; a whole circle is flown to come back
ROUND_ABOUT = 2.0  # times the way between a gap's ends: nobody flies straight on so slowly
REFINE_STEPS = 51  # 0.02 s on the one-second grid
TAXI_KT = 35.0
LANDS_IN_S = 60.0  # from flying over the station to rest, at the soonest
SLOW_FLIGHT_KT = 20.0  # 60 kt of airspeed against 40 kt of wind
SLOW_FLIGHT_CONE_NM = 0.15  # 800 to 1,100 ft above the station


def runs(mask: Mask, segment: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Stretches ``[first, last + 1)`` in which ``mask`` holds without a break and without a gap."""
    if not mask.any():
        return []
    change = np.flatnonzero((np.diff(mask.astype(np.int8)) != 0) | (np.diff(segment) != 0)) + 1
    edges = np.concatenate([[0], change, [len(mask)]])
    return [(int(a), int(b)) for a, b in pairwise(edges) if mask[a]]


def first_moment(at: At, before_s: float, after_s: float, holds: Callable[[StationView], Mask]) -> float:
    """The first moment in ``[before_s, after_s]`` at which ``holds``; ``after_s`` where it never does."""
    return first_moments(at, [(before_s, after_s)], holds)[0]


def first_moments(
    at: At, windows_s: Sequence[tuple[float, float]], holds: Callable[[StationView], Mask]
) -> list[float]:
    """The same for many windows in one look, of ``REFINE_STEPS`` moments each."""
    if not windows_s:
        return []
    moments = [np.linspace(before_s, after_s, REFINE_STEPS) for before_s, after_s in windows_s]
    true = holds(at(np.concatenate(moments))).reshape(-1, REFINE_STEPS)
    return [
        float(of[np.argmax(row)]) if row.any() else after_s
        for (_, after_s), of, row in zip(windows_s, moments, true, strict=True)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A closest point that may be a station passage; ``hidden`` where it lies in a gap."""

    t_s: float
    distance_nm: float
    entry_s: float
    exit_s: float
    in_cone: bool
    hidden: bool = False
    out_and_back: bool = False  # the gap that hides it hides the leg before it, too
    comes_again: bool = (
        False  # the gap lasts so long that the aircraft flies at the station again where it ends
    )

    @property
    def missed(self) -> bool:
        """Too far for a passage."""
        return not self.in_cone and not self.hidden and self.distance_nm > MISSED_BEYOND_NM

    def passage(self) -> Passage:
        """As it is handed on."""
        return Passage(
            t_s=self.t_s,
            distance_nm=self.distance_nm,
            entry_s=self.entry_s,
            exit_s=self.exit_s,
            missed=self.missed,
        )


def crossings(view: StationView, at: At, courses_deg: tuple[float, float] | None = None) -> list[Crossing]:
    """Closest points within 4 NM, in order, those of one cone or with little between them taken as one.

    Parameters
    ----------
    courses_deg : outbound and inbound course of the reversal, where there is one.
    """
    turned = (view.closing_kt[:-1] > 0) & (view.closing_kt[1:] <= 0) & (np.diff(view.segment) == 0)
    found = [
        _crossing(view, at, int(i))
        for i in np.flatnonzero(turned)
        if view.distance_nm[i] <= WEAK_PASSAGE_NM and _airborne(view, int(i))
    ]
    found += _hidden_crossings(view, at, courses_deg)
    found.sort(key=lambda c: c.t_s)
    kept: list[Crossing] = []
    for crossing in found:
        if (
            not crossing.in_cone
            and (crossing.missed or not kept)
            and not crossing.hidden
            and _hardly_nearer(view, kept[-1] if kept else None, crossing)
        ):
            continue
        if kept and not _apart(view, kept[-1], crossing, courses_deg):
            if _better(crossing, kept[-1]):
                kept[-1] = crossing
            continue
        kept.append(crossing)
    return kept


def _airborne(view: StationView, i: int) -> bool:
    """Whether the aircraft flies: fast enough, or against a wind so far above the station that its cone is wide."""
    slowly = view.groundspeed_kt[i] > SLOW_FLIGHT_KT and view.cone_radius_nm[i] > SLOW_FLIGHT_CONE_NM
    return bool(view.groundspeed_kt[i] > TAXI_KT or slowly)


def _crossing(view: StationView, at: At, i: int) -> Crossing:
    t_s = first_moment(at, view.t_s[i], view.t_s[i + 1], lambda v: v.closing_kt <= 0)
    here = at(np.array([t_s]))
    in_cone = bool(here.in_cone[0])
    entry_s = _cone_entry(view, at, i, t_s) if in_cone else t_s
    exit_s = _cone_exit(view, at, i, t_s) if in_cone else t_s
    return Crossing(
        t_s=t_s, distance_nm=float(here.distance_nm[0]), entry_s=entry_s, exit_s=exit_s, in_cone=in_cone
    )


def _cone_entry(view: StationView, at: At, i: int, inside_s: float) -> float:
    """Entering the cone in which the aircraft is at ``inside_s``, or the edge of the gap that hides it."""
    same = view.segment == view.segment[i]
    outside = np.flatnonzero(~view.in_cone & same & (view.t_s < inside_s))
    if not len(outside):
        return float(view.t_s[same][0])
    last_s = float(view.t_s[outside[-1]])
    return first_moment(at, last_s, min(last_s + 1.0, inside_s), lambda v: v.in_cone)


def _cone_exit(view: StationView, at: At, i: int, inside_s: float) -> float:
    """Leaving the cone, see ``_cone_entry``."""
    same = view.segment == view.segment[i]
    outside = np.flatnonzero(~view.in_cone & same & (view.t_s > inside_s))
    if not len(outside):
        return float(view.t_s[same][-1])
    first_s = float(view.t_s[outside[0]])
    return first_moment(at, max(first_s - 1.0, inside_s), first_s, lambda v: ~v.in_cone)


def _hidden_crossings(view: StationView, at: At, courses_deg: tuple[float, float] | None) -> list[Crossing]:
    """Gaps that must hold a passage: flying at the station before, away from it after, and time to cross."""
    found = []
    for i in np.flatnonzero(np.diff(view.segment) != 0).tolist():
        j = i + 1
        seconds = view.t_s[j] - view.t_s[i]
        reach_nm = seconds / 3600.0 * max(view.groundspeed_kt[i], view.groundspeed_kt[j])
        span_nm = view.distance_nm[i] + view.distance_nm[j]
        passing_nm = [_passing_distance_nm(view, i), _passing_distance_nm(view, j)]
        side: int | None = None
        at_rest = view.groundspeed_kt[j] < TAXI_KT <= view.groundspeed_kt[i] and seconds >= LANDS_IN_S
        if view.closing_kt[i] > 0 and (view.closing_kt[j] < 0 or at_rest):
            crosses = span_nm <= 1.5 * reach_nm + 1.0
            miss_nm = passing_nm[0] if at_rest else min(passing_nm)
        else:
            more = courses_deg is not None and seconds <= LONGEST_HIDING_S and span_nm <= reach_nm
            round_it = seconds >= ROUND_S and ROUND_ABOUT * span_nm <= reach_nm
            side = (
                _hides_more(view, i, *courses_deg, round_it=round_it)
                if more and courses_deg is not None
                else None
            )
            # so near it before the gap, and flying at it, the aircraft passed it, wherever it is seen again
            at_it = more and view.closing_kt[i] > 0.0 and view.distance_nm[i] <= MISSED_BEYOND_NM
            crosses, miss_nm = side is not None or at_it, passing_nm[side or 0]
        comes_again = bool(view.closing_kt[j] > 0.0 and side is None and seconds >= ROUND_S)
        if crosses and miss_nm <= MISSED_BEYOND_NM:
            share = view.distance_nm[i] / span_nm if span_nm else 0.5
            found.append(
                Crossing(
                    t_s=float(view.t_s[i] + share * seconds),
                    distance_nm=float(miss_nm),
                    entry_s=_cone_entry(view, at, i, view.t_s[i]) if view.in_cone[i] else float(view.t_s[i]),
                    exit_s=_cone_exit(view, at, j, view.t_s[j])
                    if view.in_cone[j] and not comes_again
                    else float(view.t_s[j]),
                    in_cone=bool(view.in_cone[i] or view.in_cone[j]),
                    hidden=True,
                    out_and_back=side == 1,
                    comes_again=comes_again,
                )
            )
    return found


def _hides_more(
    view: StationView, i: int, outbound_deg: float, inbound_deg: float, *, round_it: bool
) -> int | None:
    """Whether a gap after entry ``i`` hides a passage with the reversal before it, or the outbound leg after it.

    Returns
    -------
    0 where the aircraft flew at the station before the gap, and comes back to it from the outbound side after it, no
    nearer; 1 where it flew outbound before (or still turned there at the station, and had far more time than the way
    takes: ``round_it``), and is on its way along the inbound course beyond the station after it; else ``None``. That it
    had the time for it is asked elsewhere.
    """
    j = i + 1
    beside_deg = np.abs(difference_deg(view.radial_deg[[i, j]], outbound_deg))
    along_deg = np.abs(difference_deg(view.ground_track_deg[[i, j]], inbound_deg))
    at_it, from_it = view.closing_kt[[i, j]] > 0.0, view.closing_kt[[i, j]] < 0.0
    if at_it[0] and at_it[1] and beside_deg[1] <= OUT_OR_BACK_DEG and view.distance_nm[j] >= SHORT_OUT_NM:
        return 0
    back = from_it[1] and along_deg[1] <= OUT_OR_BACK_DEG and beside_deg[1] > 180.0 - OUT_OR_BACK_DEG
    goes_out = from_it[0] and beside_deg[0] <= OUT_OR_BACK_DEG
    if (goes_out or (round_it and view.distance_nm[i] <= ABEAM_WITHIN_NM)) and along_deg[0] > 90.0 and back:
        return 1
    return None


def _passing_distance_nm(view: StationView, i: int) -> float:
    """How far off the station the aircraft passes if it flies straight through moment ``i``."""
    angle = np.arccos(np.clip(view.closing_kt[i] / max(view.groundspeed_kt[i], 1.0), -1, 1))
    return float(view.distance_nm[i] * np.sin(angle))


def _better(new: Crossing, old: Crossing) -> bool:
    """Of two closest points of one crossing: in the cone before outside it, the first visit, else the nearer."""
    if new.in_cone and old.in_cone:
        return new.entry_s <= old.exit_s and new.distance_nm < old.distance_nm
    return (not new.in_cone, new.distance_nm) < (not old.in_cone, old.distance_nm)


def _apart(
    view: StationView, one: Crossing, other: Crossing, courses_deg: tuple[float, float] | None
) -> bool:
    """Whether two closest points are two crossings: not one wobbling one, nor a crossing and a pass abeam."""
    between = view.between(one.t_s, other.t_s)
    farthest = float(np.max(between.distance_nm, initial=0.0))
    # one moment of a passage that a gap hides is much like any other: what was seen after it tells
    seen_on = one.hidden and not (other.hidden or other.in_cone) and one.exit_s - one.entry_s < ROUND_S
    if (one.hidden or other.hidden) and not seen_on:
        round_it = (
            farthest >= TURNED_WITHIN_NM or went_round(between) or other.out_and_back or one.comes_again
        )
        return other.entry_s >= one.exit_s and round_it and not _only_turns(view, one, other, courses_deg)
    if one.in_cone and other.in_cone:
        round_it = farthest >= TURNED_WITHIN_NM or went_round(between) or _hides_a_circuit(between)
        out_and_back = courses_deg is not None and _out_and_back(between, *courses_deg, SHORTEST_OUT_NM)
        turns_outbound = courses_deg is not None and _turns_outbound(between, courses_deg[0])
        return other.entry_s > one.exit_s and (round_it or out_and_back) and not turns_outbound
    if farthest >= ABEAM_WITHIN_NM:
        return True
    if went_round(between):
        return not (one.in_cone and courses_deg is not None and _turns_outbound(between, courses_deg[0]))
    if courses_deg is None or other.missed:
        return False
    # a short leg from over the station is one where the aircraft comes back along the course
    along = abs(float(difference_deg(between.ground_track_deg[-1], courses_deg[1]))) <= SHORT_BACK_DEG
    least_nm = SHORTEST_OUT_NM if one.in_cone and along else SHORT_OUT_NM
    return _out_and_back(between, *courses_deg, least_nm)


def _only_turns(
    view: StationView, one: Crossing, other: Crossing, courses_deg: tuple[float, float] | None
) -> bool:
    """Whether a gap that may hide a second passage lies in the turn at the station, or abeam of it on the way out.

    The passage before it was seen.
    """
    if courses_deg is None or one.hidden or not one.in_cone or other.out_and_back or other.comes_again:
        return False
    between = view.between(one.t_s, other.exit_s)
    near = float(np.max(between.distance_nm)) < ABEAM_WITHIN_NM
    return not other.in_cone and near and _ends_outbound(between, courses_deg[0])


def _out_and_back(between: StationView, outbound_deg: float, inbound_deg: float, least_nm: float) -> bool:
    """Whether the aircraft flew out between two closest points and was flying back at the second, however near.

    A pass abeam after the turn at the station is flown outbound, or still in that turn.
    """
    if float(np.max(between.distance_nm, initial=0.0)) < least_nm:
        return False
    out = np.abs(difference_deg(between.ground_track_deg, outbound_deg)) <= OUT_OR_BACK_DEG
    back = np.abs(difference_deg(between.ground_track_deg[-1], inbound_deg)) <= OUT_OR_BACK_DEG
    return bool(back) and float(np.count_nonzero(out & (between.closing_kt < 0))) >= OUT_S


def _turns_outbound(between: StationView, outbound_deg: float) -> bool:
    """Whether the aircraft did no more than turn to the outbound course, and so came to the station again.

    It may have turned late, wide or the long way round.
    """
    soon = len(between) > 0 and between.t_s[-1] - between.t_s[0] <= TURNED_WITHIN_S
    return bool(soon) and _ends_outbound(between, outbound_deg)


def _ends_outbound(between: StationView, outbound_deg: float) -> bool:
    """Whether a stretch with no whole circle in it, and no gap that would hide one, ends along the outbound course."""
    if abs(_turned_deg(between)) >= LONG_WAY_DEG or _hides_a_circuit(between):
        return False
    return abs(float(difference_deg(between.ground_track_deg[-1], outbound_deg))) <= OUT_OR_BACK_DEG


def _hardly_nearer(view: StationView, last: Crossing | None, missed: Crossing) -> bool:
    """Whether a closest point outside the cone is a swing in a turn, of an aircraft that did not come back to it.

    The turns of an 80/260 come nearer for some seconds where the first was carried too far.
    """
    from_s = last.t_s if last is not None else float(view.t_s[0])
    farthest_nm = float(np.max(view.between(from_s, missed.t_s).distance_nm, initial=0.0))
    return farthest_nm - missed.distance_nm < NEARER_NM


def went_round(between: StationView) -> bool:
    """Whether the aircraft flew a whole circuit, however small a racetrack, and did not only turn."""
    if len(between) < ROUND_S:
        return False
    return abs(_turned_deg(between)) >= ROUND_DEG


def _turned_deg(between: StationView) -> float:
    return float(np.sum(difference_deg(between.ground_track_deg[1:], between.ground_track_deg[:-1])))


def _hides_a_circuit(between: StationView) -> bool:
    """Whether a gap lasts so long that no turn fills it: the aircraft came back to the station from a leg away."""
    return bool(len(between)) and float(np.max(np.diff(between.t_s), initial=0.0)) >= ROUND_S
