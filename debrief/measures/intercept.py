"""The intercept of the inbound course: when the needle came alive, the angle, the overshoot, established.

Owns      those moments and numbers for one reversal (or the way in of a straight-in approach).
Not here  finding where the aircraft is established (phases), limits (grading).
Source    ``intercept`` in DEVELOPERS.md, Definitions.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.language import mark, tr
from debrief.measures import log_errors, uncertainty
from debrief.measures.joining import established, needle_alive
from debrief.measures.moments import EARLY_PER_S, between, over_limit, read_at, turn_rate_sd_deg_s
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, known, weights_s
from debrief.measures.stretches import stretches
from debrief.measures.turning import TURNING_DEG_S
from debrief.navigation.angles import difference_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import FULL_SCALE_DEG, cross_track_nm, deviation_deg
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.model import Floats, StationView
from debrief.procedures.guidance import guidance_in, guidance_of
from debrief.procedures.model import Pattern, Phase
from debrief.result import Intercept

#: Flying inbound: the ground track within this of the course. Source: DEVELOPERS.md, Definitions.
INBOUND_WITHIN_DEG = 90.0
#: Out of the turn: below 1 deg/s for so long. Source: the same.
STEADY_S = 3.0

# Settled after an overshoot (or without one). Mark: common practice.
SETTLED_TRACK_DEG = 5.0
SETTLED_DEVIATION_DEG = 2.5  # a quarter of full scale
SETTLED_S = 10.0
# A track this near the least one has not begun to turn away. Mark: common practice.
STILL_DEG = 1.0
_STRAIGHT_ONTO_IT = mark("Intercept angle not measured: the turn ran straight onto the course.")
_CORNERS_CUT = mark(
    "Intercept angle not measured: the log cuts the corners of turns, and where this one ended cannot be told."
)
_NOT_OBSERVED = mark("Intercept not measured: the turn inbound was not flown or not observed.")


class _Approach:
    """The way to the inbound course, moment by moment: needle, track off the course, cross-track."""

    def __init__(self, scene: Scene, view: StationView) -> None:
        course_deg = scene.procedure.inbound_course_deg
        course_true_deg = scene.procedure.true_deg(course_deg)
        self.view = view
        self.deviation_deg = np.abs(deviation_deg(view.radial_deg, course_deg, inbound=True))
        self.track_off_deg: Floats = difference_deg(view.ground_track_true_deg, course_true_deg)
        self.across_nm = cross_track_nm(view.east_nm, view.north_nm, course_true_deg)
        guidance = None if scene.procedure.has_intermediate else guidance_of(scene.procedure)
        if guidance is not None:  # the course joined is the final's own, and so is its needle
            self.deviation_deg = np.abs(guidance.as_station_deg(view.east_nm, view.north_nm))
            self.track_off_deg = difference_deg(view.ground_track_true_deg, guidance.course_true_deg)
            self.across_nm = guidance.across_nm(view.east_nm, view.north_nm)
        self.inbound: NDArray[np.bool_] = np.abs(self.track_off_deg) < INBOUND_WITHIN_DEG

    def turned_in_before(self, established_s: float) -> None:
        """Count as inbound only what comes after the last turn inbound before the aircraft is established.

        A wind along the course may push the leg across it, between the turns of an 80/260, within 90 degrees.
        """
        outbound = np.flatnonzero(~self.inbound & (self.view.t_s < established_s))
        if len(outbound):
            self.inbound[: outbound[-1]] = False


def intercept(
    scene: Scene,
    start_s: float,
    established_s: float | None,
    leg_end_s: float,
    *,
    statistics: bool = True,
) -> Intercept:
    """Measure the intercept that began after ``start_s`` (the reversal's start).

    ``established_s`` is ``None`` where the aircraft never was; ``leg_end_s`` is where the inbound course ends
    (the station, or the end of the final). Without ``statistics`` only the half-widths that a rule asks for.
    """
    reasons: list[str] = []
    way = _Approach(scene, scene.over(start_s, leg_end_s))
    if len(way.view) < 2 or not way.inbound.any():
        return Intercept(
            time=None,
            angle_deg=None,
            angle_uncertainty_deg=None,
            overshoot_nm=None,
            overshoot_uncertainty_nm=None,
            established=None if established_s is None else scene.time(established_s),
            warnings=(tr(_NOT_OBSERVED),),
        )
    until_s = leg_end_s if established_s is None else established_s
    if established_s is not None:
        way.turned_in_before(established_s)
    alive_s = _needle_alive_s(scene, way, until_s)
    hidden = _comes_alive_in_a_gap(way, until_s if alive_s is None else alive_s)
    if hidden:
        alive_s = None
    angle_s, ending_turn = (None, False) if hidden else _angle_moment(scene, way, alive_s, until_s)
    angle = angle_uncertainty = None
    if hidden:
        reasons.append(tr(_NOT_OBSERVED))
    elif alive_s is None:
        reasons.append(
            tr("The pointer was never more than 10 degrees off the course on the way in.")
            if scene.procedure.station.is_ndb and guidance_in(scene.procedure, Phase.COURSE_REVERSAL) is None
            else tr("The needle was never at full scale on the way in.")
        )
    if angle_s is None and not hidden:
        reasons.append(tr(_CORNERS_CUT if scene.flight.noise.cuts_corners else _STRAIGHT_ONTO_IT))
    if angle_s is not None:
        at = scene.at(angle_s)
        angle = abs(float(_Approach(scene, at).track_off_deg[0]))
        angle_uncertainty = _angle_sure_deg(scene, way, alive_s, until_s, at, ending_turn)
    overshoot, crossed_s = _overshoot_nm(way, established_s, _turns_of(scene))
    at_established = None if established_s is None else scene.at(established_s)
    sure = _moments_sure(scene, alive_s, established_s) if statistics else {}
    if statistics and established_s is not None and not hidden and "established" not in sure:
        reasons.append(
            tr(
                "How sure being established is cannot be told: neither needle nor track was at its limit there."
            )
        )
    return Intercept(
        time=None if alive_s is None else scene.time(alive_s),
        angle_deg=angle,
        angle_uncertainty_deg=angle_uncertainty,
        overshoot_nm=overshoot,
        overshoot_uncertainty_nm=known(_overshoot_sure_nm(scene, way, overshoot)),
        established=None if established_s is None else scene.time(established_s),
        angle_time=None if angle_s is None else scene.time(angle_s),
        crossed=None if crossed_s is None else scene.time(crossed_s),
        established_distance_nm=None if at_established is None else known(at_established.distance_nm[0]),
        seconds_to_established=(
            None if established_s is None or alive_s is None else established_s - alive_s
        ),
        warnings=tuple(reasons),
        uncertainties=sure,
    )


def _moments_sure(scene: Scene, alive_s: float | None, established_s: float | None) -> dict[str, float]:
    """Half-widths at 95 % of both moments, of the time between them, and of where the aircraft was established."""
    alive = None if alive_s is None else needle_alive(scene, alive_s)
    joined = None if established_s is None else established(scene, established_s)
    sure: dict[str, float | None] = {}
    if alive is not None:
        sure["time"] = alive.half_width_s
    if joined is not None and established_s is not None:
        closing_kt = float(scene.at(established_s).closing_kt[0])
        position_nm = log_errors.one(log_errors.position_nm(scene.flight, turning=True))
        sure["established"] = joined.half_width_s
        sure["established_distance_nm"] = read_at(joined, closing_kt / SECONDS_PER_HOUR, position_nm)
    if alive is not None and joined is not None:
        sure["seconds_to_established"] = between(alive, joined)
    return all_known(sure)


def _angle_sure_deg(
    scene: Scene, way: _Approach, alive_s: float | None, until_s: float, at: StationView, ending: bool
) -> float:
    """Half-width at 95 % of the angle: the ground track's, the station's, and that of the moment at which it is read.

    Which moment that is goes by a rate of turn of 1 deg/s. So it is looked for again where the rate may truly be that:
    as a turn ends at once it moves the angle little, in one that goes on at about 1 deg/s much.
    """
    flight, speed_kt, at_s = scene.flight, float(at.groundspeed_kt[0]), float(at.t_s[0])
    track_deg = uncertainty.ground_track_deg(flight, speed_kt, at_s) / uncertainty.COVERAGE
    wrong_deg_s = turn_rate_sd_deg_s(flight, speed_kt, at_s)

    def angle_deg(limit_deg_s: float) -> float | None:
        moment_s, _ = _angle_moment(scene, way, alive_s, until_s, limit_deg_s)
        return None if moment_s is None else abs(float(_Approach(scene, scene.at(moment_s)).track_off_deg[0]))

    # no limit below its error: or the noise of a heading held would pass for a turn
    moment_deg = over_limit(angle_deg, TURNING_DEG_S, wrong_deg_s, least=wrong_deg_s)
    late_deg = TURNING_DEG_S * EARLY_PER_S * log_errors.smoothed_over_s(flight) ** 2 if ending else 0.0
    return half_width(
        float(np.hypot(track_deg, moment_deg)),
        bias=late_deg,
        rectangular=scene.procedure.station.alignment_within_deg,
    )


def _overshoot_sure_nm(scene: Scene, way: _Approach, overshoot_nm: float) -> float:
    """Half-width at 95 %: the position's, the station's alignment where it was greatest, what errors pick out."""
    view = way.view
    there = int(np.argmin(np.abs(np.abs(way.across_nm) - overshoot_nm)))
    turned_nm = float(np.radians(scene.procedure.station.alignment_within_deg) * view.distance_nm[there])
    parts = log_errors.position_nm(scene.flight, turning=True)
    near = np.abs(np.abs(way.across_nm) - overshoot_nm) < log_errors.NEAR * log_errors.changing(parts)
    near &= way.inbound
    picked, normal = log_errors.greatest(parts, float(weights_s(view.t_s, view.segment)[near].sum()))
    return half_width(normal, bias=picked, rectangular=turned_nm)


def _comes_alive_in_a_gap(way: _Approach, until_s: float) -> bool:
    """Whether the aircraft flies inbound with the needle alive behind a gap before ``until_s``, and not before it."""
    view = way.view
    alive = way.inbound & (way.deviation_deg < FULL_SCALE_DEG)
    breaks = (np.diff(view.segment) != 0) & (view.t_s[1:] <= until_s + 1.0)
    return bool(np.any(breaks & alive[1:] & ~alive[:-1]))


def _needle_alive_s(scene: Scene, way: _Approach, until_s: float) -> float | None:
    """When the needle first comes off full scale while the aircraft flies inbound, not after ``until_s``."""
    view = way.view
    off = way.deviation_deg < FULL_SCALE_DEG
    comes_off = off[1:] & ~off[:-1] & (np.diff(view.segment) == 0) & way.inbound[1:]
    for index in np.flatnonzero(comes_off & (view.t_s[:-1] <= until_s)):
        fine = _Approach(scene, scene.dense(float(view.t_s[index]), float(view.t_s[index + 1])))
        alive = stretches(fine.view.t_s, FULL_SCALE_DEG - fine.deviation_deg, fine.view.segment)
        if not alive:
            continue
        moment_s = alive[0].start_s
        if fine.inbound[alive[0].first]:
            return moment_s
    return None


def _angle_moment(
    scene: Scene,
    way: _Approach,
    alive_s: float | None,
    until_s: float,
    limit_deg_s: float = TURNING_DEG_S,
) -> tuple[float | None, bool]:
    """When the angle is read, and whether that is as the turn ends. [s]

    As the needle comes alive; where the aircraft then still turns, or the needle never was at full scale, at
    the first moment (flying inbound) from which the rate stays below 1 deg/s for 3 s.
    """
    view, log = way.view, scene.flight.log
    corners_cut = scene.flight.noise.cuts_corners
    if (
        alive_s is not None
        and not corners_cut
        and abs(float(scene.at(alive_s).turn_rate_deg_s[0])) <= limit_deg_s
    ):
        return alive_s, False
    from_s = float(view.t_s[int(np.argmax(way.inbound))]) if alive_s is None else alive_s
    # on the straight line that cuts a corner a turn stands still, for as long as no position was measured
    least_s = STEADY_S + (2.0 * log.measured_interval_s if corners_cut else 0.0)
    steady = limit_deg_s - np.abs(view.turn_rate_deg_s)
    for stretch in stretches(view.t_s, np.where(way.inbound, steady, np.nan), view.segment):
        start_s = max(stretch.start_s, from_s)
        long_enough = stretch.seconds >= least_s and stretch.end_s - start_s >= STEADY_S
        if long_enough and start_s < until_s:
            return start_s, start_s > from_s or alive_s is None
    return None, False


def _turns_of(scene: Scene) -> float:
    """To which side a published racetrack turns, right 1 and left -1; 0 of another pattern."""
    leg = scene.procedure.reversal
    if leg is None or leg.pattern is not Pattern.RACETRACK or leg.side is None:
        return 0.0
    return 1.0 if leg.side == "right" else -1.0


def _overshoot_nm(
    way: _Approach, established_s: float | None, racetrack: float
) -> tuple[float, float | None]:
    """Greatest cross-track on the far side before the aircraft settles, and when it got there; 0 where it did not.

    The far side is opposite to that of the reversal; after a parallel entry, whose turn back leads through the
    racetrack's own side onto the course, opposite to that. The aircraft has settled once it flies along the course
    (track within 5 deg, needle within a quarter of full scale) for 10 s; the peak of a flat overshoot lies within
    these. It ends where the aircraft is back at the course, and where, established, it turns away again: what
    follows was not carried through by the turn in.
    """
    view = way.view
    first = int(np.argmax(way.inbound))
    before_nm = way.across_nm[: first + 1]
    track_deg = view.ground_track_true_deg[: first + 1]
    turned_deg = float(np.sum(difference_deg(track_deg[1:], track_deg[:-1])))
    if turned_deg * racetrack < 0:  # a parallel entry
        came_from = racetrack
        first += int(np.argmax(racetrack * way.across_nm[first:] > 0))
    else:
        came_from = np.sign(before_nm[int(np.argmax(np.abs(before_nm)))])
    after = slice(first, None)
    far_nm = -came_from * way.across_nm[after]
    along = np.minimum(
        SETTLED_TRACK_DEG - np.abs(way.track_off_deg[after]),
        SETTLED_DEVIATION_DEG - way.deviation_deg[after],
    )
    t_s, segment = view.t_s[after], view.segment[after]
    settled_s = next(
        (s.start_s for s in stretches(t_s, along, segment) if s.seconds >= SETTLED_S), float(t_s[-1])
    )
    crossed = stretches(t_s, far_nm, segment)
    if not crossed or crossed[0].start_s > settled_s + SETTLED_S:
        return 0.0, None
    until_s = min(settled_s + SETTLED_S, crossed[0].end_s)
    if established_s is not None:
        until_s = min(until_s, _turns_away_s(t_s, -came_from * way.track_off_deg[after], established_s))
    beyond = (t_s >= crossed[0].start_s) & (t_s <= until_s)
    return (float(np.max(far_nm[beyond])), crossed[0].start_s) if beyond.any() else (0.0, None)


def _turns_away_s(t_s: Floats, outward_deg: Floats, established_s: float) -> float:
    """When the established aircraft begins to turn farther to the far side than it already flew. [s]

    ``outward_deg`` is the track off the course, positive to the far side. Infinite where it never does.
    """
    on = np.flatnonzero((t_s >= established_s) & np.isfinite(outward_deg))
    more_deg = outward_deg[on] - np.minimum.accumulate(outward_deg[on])
    away = np.flatnonzero(more_deg > SETTLED_TRACK_DEG)
    if not len(away):
        return np.inf
    return float(t_s[on][np.flatnonzero(more_deg[: away[0]] < STILL_DEG)[-1]])
