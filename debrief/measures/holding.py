"""Holding over the station, before the approach or after a missed approach: how often, which way, how long, how high.

Owns      ``hold_in``: the circuits of a hold in what was flown outside an attempt.
Not here  a racetrack that is the course reversal (``reversal``), telling a hold from an approach (phases).
Source    ``hold`` in DEVELOPERS.md, Definitions. The margins: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.moments import Moment, closest_point, passing
from debrief.measures.over_phase import altitude_sure, range_sure
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, range_of, weights_s
from debrief.measures.turning import episodes
from debrief.measures.uncertainty import COVERAGE, ground_track_deg
from debrief.navigation.angles import difference_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import cross_track_nm
from debrief.phases.events import crossings
from debrief.phases.model import Floats, StationView
from debrief.procedures.model import Hold
from debrief.result import HoldMeasures

LONGEST_CIRCUIT_S = 720.0
FARTHEST_NM = 15.0
BACK_DEG = 120.0
LEAST_OUTBOUND_S = 30.0
INBOUND_TRACK_DEG = 20.0
ALL_ROUND_DEG = 270.0


def hold_before(scene: Scene) -> HoldMeasures | None:
    """The hold that led to the attempt; ``None`` where none is published or was flown."""
    hold, flight, attempt = scene.procedure.hold, scene.flight, scene.attempt
    if hold is None or not attempt.passages or not len(flight.view):
        return None
    earlier = [a.end_s for a in flight.attempts if a.end_s < attempt.start_s]
    first_s = max([*earlier, float(flight.view.t_s[0])])
    return _hold_in(scene, hold, first_s, attempt.passages[0].t_s + 1.0)


def hold_after(scene: Scene, view: StationView) -> HoldMeasures | None:
    """The hold after a missed approach, in what was flown until the next attempt."""
    hold = scene.procedure.hold
    if hold is None or len(view) == 0:
        return None
    return _hold_in(scene, hold, float(view.t_s[0]), float(view.t_s[-1]))


def _hold_in(scene: Scene, hold: Hold, start_s: float, end_s: float) -> HoldMeasures | None:
    """Circuits between crossings of the station that follow each other, each with a turn back."""
    view = scene.flight.view.between(start_s, end_s)
    if len(view) < 2:
        return None
    times_s = [crossing.t_s for crossing in crossings(view, scene.flight.at) if not crossing.missed]
    parts = [(b, view.between(a, b)) for a, b in pairwise(times_s) if b - a <= LONGEST_CIRCUIT_S]
    rounds = [(passed_s, part) for passed_s, part in parts if _has_turn_back(part)]
    if not rounds:
        return None
    legs = [_inbound_leg(scene, hold, part, passed_s) for passed_s, part in rounds]
    inbound = [leg for leg in legs if leg is not None]
    whole = view.between(float(rounds[0][1].t_s[0]), float(rounds[-1][1].t_s[-1]))
    weight_s = weights_s(whole.t_s, whole.segment)
    return HoldMeasures(
        circuits=len(rounds),
        side=_turned([part for _, part in rounds]) or _side(scene, hold, whole),
        inbound_s=float(np.mean([seconds for seconds, _ in inbound])) if inbound else None,
        farthest_nm=float(whole.distance_nm.max()),
        altitude_ft=range_of(
            whole.altitude_ft, weight_s, altitude_sure(scene.flight, whole.altitude_ft, weight_s)
        ),
        uncertainties=all_known(_sure(scene, whole, weight_s, [began for _, began in inbound])),
        warnings=()
        if inbound
        else (
            tr("Inbound leg of the hold not measured: no circuit was flown along its course to the station."),
        ),
    )


def _sure(
    scene: Scene, view: StationView, weight_s: Floats, began: Sequence[Moment]
) -> dict[str, float | None]:
    """Half-widths at 95 % of the farthest distance and of the mean time inbound, of legs that began at such moments."""
    flight = scene.flight
    parts = log_errors.position_nm(flight, turning=True)
    sure: dict[str, float | None] = {"farthest_nm": range_sure(parts, view.distance_nm, weight_s).greatest}
    if began:
        passed = closest_point(flight, 0.0, float(np.median(view.groundspeed_kt)))
        each_s = np.hypot([one.sd_s for one in began], passed.sd_s)
        turned_s = abs(float(np.mean([one.turned_s for one in began])))  # the same way in each circuit
        sure["inbound_s"] = half_width(
            float(np.sqrt(np.sum(np.square(each_s)))) / len(began), rectangular=turned_s
        )
    return sure


def _turned(rounds: Sequence[StationView]) -> Literal["left", "right"] | None:
    """The way of the turns of its circuits; ``None`` where none was turned all the way round, as in an entry.

    A wind across the course may push a circuit through to the other side of it.
    """
    turned_deg = [
        float(np.sum(difference_deg(r[1:], r[:-1]))) for r in (p.ground_track_true_deg for p in rounds)
    ]
    whole_deg = sum(by_deg for by_deg in turned_deg if abs(by_deg) > ALL_ROUND_DEG)
    return None if whole_deg == 0.0 else "right" if whole_deg > 0.0 else "left"


def _side(scene: Scene, hold: Hold, view: StationView) -> Literal["left", "right"]:
    """The side of the inbound course on which it lies: that of its turns, a parallel entry's turn back left out."""
    across_nm = cross_track_nm(view.east_nm, view.north_nm, scene.procedure.true_deg(hold.course_deg))
    return "right" if float(np.max(across_nm)) > -float(np.min(across_nm)) else "left"


def _has_turn_back(part: StationView) -> bool:
    """Whether a circuit goes out and turns back to the station."""
    if len(part) < 2 or float(part.distance_nm.max()) > FARTHEST_NM:
        return False
    # the turn onto the outbound course may still go on at the beginning
    later = part.where(part.t_s > part.t_s[0] + LEAST_OUTBOUND_S)
    return bool(episodes(later, BACK_DEG))


def _inbound_leg(scene: Scene, hold: Hold, part: StationView, passed_s: float) -> tuple[float, Moment] | None:
    """How long the inbound leg of a circuit was: along its course, up to the station [s]; how sure its beginning is."""
    flight = scene.flight
    track_off_deg = difference_deg(part.ground_track_true_deg, scene.procedure.true_deg(hold.course_deg))
    beside = np.flatnonzero(np.abs(track_off_deg) > INBOUND_TRACK_DEG)
    if not len(beside) or beside[-1] == len(part) - 1:
        return None
    last = slice(int(beside[-1]), int(beside[-1]) + 2)
    t_s, off_deg = part.t_s[last], np.abs(track_off_deg[last])
    begins_s = float(np.interp(-INBOUND_TRACK_DEG, -off_deg, t_s))
    rate_deg_s = float(np.diff(track_off_deg[last])[0] / np.diff(t_s)[0])
    track_deg = ground_track_deg(flight, float(part.groundspeed_kt[beside[-1]])) / COVERAGE
    turned_deg = -scene.procedure.station.alignment_within_deg
    return passed_s - begins_s, passing(rate_deg_s, track_deg, turned_deg)
