"""How long a racetrack's outbound leg was flown: from what it is timed, and how sure that moment is.

Owns      that moment (``leg_from``).
Not here  the leg's end, the start of the turn inbound (phases), limits (grading).
Source    From abeam the station, or from the outbound heading where that comes later: ICAO Doc 8168 Vol I, I-4-3
          (mark: memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from debrief.measures import log_errors
from debrief.measures.moments import Moment, closest_point, passing, turn_end
from debrief.measures.outbound import outbound_true_deg
from debrief.measures.pattern import OFFSET_DEG
from debrief.measures.scene import Scene
from debrief.measures.turning import Episode, episodes
from debrief.navigation.angles import difference_deg, unwrap_deg
from debrief.navigation.radials import along_track_nm, cross_track_nm
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.model import Span
from debrief.phases.turns import SHALLOW_TURN_DEG
from debrief.procedures.model import Phase

_TURN_S = 60.0  # a turn right round at the standard rate takes no longer


@dataclass(frozen=True, slots=True)
class From:
    """What a racetrack's outbound leg is timed from, and how sure that moment is."""

    t_s: float
    moment: Callable[[], Moment]


def leg_from(scene: Scene, span: Span) -> From | None:
    """From when a racetrack's outbound leg is timed; ``None`` where passing the station was not observed.

    The 30 degrees of an offset entry are a part of the leg, and so is the turn from there to the outbound course.
    """
    outbound = scene.span(Phase.OUTBOUND, span.circuit)
    passage = scene.passage_before(span.start_s)
    if outbound is None or passage is None:
        return None
    flight = scene.flight
    inbound_true_deg = scene.procedure.true_deg(scene.procedure.inbound_course_deg)
    view = scene.over(passage.t_s, outbound.end_s)
    speed_kt = float(scene.at(passage.t_s).groundspeed_kt[0])
    found = [From(passage.t_s, lambda: closest_point(flight, passage.distance_nm, speed_kt))]
    onto = _turns_onto_outbound(scene, passage.t_s, outbound.end_s)
    if onto:
        found.append(From(onto[0].end_s, lambda: turn_end(flight, onto[0].end_s)))
    along_nm = along_track_nm(view.east_nm, view.north_nm, inbound_true_deg)
    before = np.flatnonzero((along_nm[:-1] > 0) & (along_nm[1:] <= 0))  # of passing abeam on the way out
    if len(before):
        last = before[-1]
        abeam_s = float(np.interp(0.0, -along_nm[last : last + 2], view.t_s[last : last + 2]))
        found.append(From(abeam_s, lambda: _abeam(scene, abeam_s, inbound_true_deg)))
    return max(found, key=lambda one: one.t_s)


def _abeam(scene: Scene, t_s: float, course_true_deg: float) -> Moment:
    """The error of passing abeam the station: the position's, and that of the course that it is abeam of."""
    at = scene.at(t_s)
    across_nm = float(cross_track_nm(at.east_nm, at.north_nm, course_true_deg)[0])
    turned_nm = across_nm * float(np.radians(scene.procedure.station.alignment_within_deg))
    position_nm = log_errors.one(log_errors.position_nm(scene.flight))
    return passing(-float(at.groundspeed_kt[0]) / SECONDS_PER_HOUR, position_nm, turned_nm)


def _turns_onto_outbound(scene: Scene, passage_s: float, until_s: float) -> list[Episode]:
    """The turns that end after the passage and begin on a track that is no outbound one yet, in order."""
    view = scene.over(passage_s - _TURN_S, until_s)
    return [
        turn
        for turn in episodes(view, SHALLOW_TURN_DEG)
        if passage_s < turn.end_s < until_s - 1.0
        and abs(
            difference_deg(
                np.interp(turn.start_s, view.t_s, unwrap_deg(view.ground_track_true_deg)),
                outbound_true_deg(scene),
            )
        )
        > OFFSET_DEG[1]
    ]
