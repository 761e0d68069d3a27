"""A DME arc on the way in: how well its distance was kept, and the radial on which the turn inbound began.

Owns      ``arc_flown``: the part of the way in that lies on the published arc, and its measures.
Not here  phases (the arc lies before the attempt, or in its inbound leg), what is too far off (grading).
Source    ``arc`` in DEVELOPERS.md, Definitions. The margins that tell an arc from other flying: common practice.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.altitude import NO_TOLERANCE, Tolerance, breaks
from debrief.measures.moments import passing, read_at, turn_edge
from debrief.measures.over_phase import altitude_sure, spread_sure
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, range_of, spread, weights_s
from debrief.measures.stretches import stretches
from debrief.measures.turning import episodes
from debrief.measures.uncertainty import COVERAGE, position_angle_deg
from debrief.navigation.angles import difference_deg, unwrap_deg
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.arc import along_arc, way_round
from debrief.phases.model import StationView
from debrief.procedures.model import Arc, Phase
from debrief.result import ArcMeasures, LimitBreak

JOINED_NM = 1.0  # it is scored from the first moment within this
LEAST_S = 45.0
PAUSE_S = 30.0  # off the tangent for less than this it goes on
TURN_IN_DEG = 40.0
INTERCEPT_DEG = 60.0  # it ends within this of the inbound course
LONGEST_S = 2400.0


def arc_flown(scene: Scene) -> ArcMeasures | None:
    """Measure the arc; ``None`` where none is published, or none of it was flown or observed before the station."""
    arc = scene.procedure.arc
    view = None if arc is None else arc_view(scene, arc)
    if arc is None or view is None:
        return None
    weight_s, off_nm = weights_s(view.t_s, view.segment), view.dme_nm - arc.dme_nm
    # a wrong alignment turns the arc along itself: its distance stays
    off_sure = spread_sure(
        log_errors.position_nm(scene.flight, turning=True),
        view.t_s,
        off_nm,
        weight_s,
        reach=np.ones(len(view)),
        turned=np.zeros(len(view)),
        alignment_deg=0.0,
        edge_s=_edges_s(scene, arc, view),
    )
    kept = spread(view.t_s, off_nm, weight_s, sure=off_sure, time=scene.time)
    lead_deg, lead_sure_deg = _turn_in_radial_deg(scene, view)
    late_deg = None
    warnings: tuple[str, ...] = ()
    if lead_deg is None:
        warnings = (
            tr("Radial of the turn inbound not measured: no turn off the arc onto the course was seen."),
        )
    sure = {"turn_in_radial_deg": lead_sure_deg}
    if lead_deg is not None and arc.lead_radial_deg is not None:
        late_deg = way_round(arc) * float(difference_deg(lead_deg, arc.lead_radial_deg))
        sure["turn_in_late_deg"] = lead_sure_deg
    return ArcMeasures(
        start=scene.time(float(view.t_s[0])),
        end=scene.time(float(view.t_s[-1])),
        from_radial_deg=float(view.radial_deg[0]),
        to_radial_deg=float(view.radial_deg[-1]),
        off_nm=kept,
        turn_in_radial_deg=lead_deg,
        turn_in_late_deg=late_deg,
        altitude_ft=range_of(
            view.altitude_ft, weight_s, altitude_sure(scene.flight, view.altitude_ft, weight_s)
        ),
        altitude_breaks=arc_breaks(scene, arc, view),
        uncertainties=all_known(sure),
        warnings=warnings,
    )


def _edges_s(scene: Scene, arc: Arc, view: StationView) -> tuple[float, float]:
    """How sure the moments are between which it is scored, standard deviations: both are known to a step of the view.

    It begins as its distance is joined, or its tangent, and ends where the turn inbound does begin.
    """
    if len(view) < 2:
        return 0.0, 0.0
    step_s = (np.diff(view.t_s)[[0, -1]] / np.sqrt(3.0)).tolist()
    joining_nm_s = abs(float(view.dme_nm[1] - view.dme_nm[0])) / float(view.t_s[1] - view.t_s[0])
    position_nm = log_errors.one(log_errors.position_nm(scene.flight, turning=True))
    at_limit = abs(abs(float(view.dme_nm[0]) - arc.dme_nm) - JOINED_NM) < joining_nm_s + position_nm
    joined = passing(joining_nm_s, position_nm) if at_limit else turn_edge(scene.flight, float(view.t_s[0]))
    left = turn_edge(scene.flight, float(view.t_s[-1]))
    first_s, last_s = (one.rms_s if np.isfinite(one.rms_s) else 0.0 for one in (joined, left))
    return float(np.hypot(first_s, step_s[0])), float(np.hypot(last_s, step_s[1]))


def arc_seen_not_flown(scene: Scene) -> bool | None:
    """``False`` where the whole way in from beyond the published arc was observed; ``None`` where it was not.

    To be asked where no arc was found.
    """
    arc = scene.procedure.arc
    if arc is None:
        return None
    view, _ = _before_station(scene)
    beyond = np.flatnonzero(view.dme_nm >= arc.dme_nm)
    if not len(beyond):
        return None
    way_in = view.segment[beyond[-1] :]
    return None if (way_in != way_in[0]).any() else False


def why_no_arc(scene: Scene, *, by_arc: bool | None) -> tuple[str, ...]:
    """That a published arc was not flown, or not seen, in words; nothing where it was, or none is published."""
    arc = scene.procedure.arc
    if arc is None or by_arc:
        return ()
    told = (
        tr(
            "The published arc at {dme:.1f} DME was not flown: nothing is measured or judged of it.",
            dme=arc.dme_nm,
        )
        if by_arc is False
        else tr("The way in from the published arc at {dme:.1f} DME was not observed.", dme=arc.dme_nm)
    )
    return (told,)


def _before_station(scene: Scene) -> tuple[StationView, float]:
    """The way to the station (or to being established on final), after any earlier attempt, and its end [s]."""
    flight, attempt = scene.flight, scene.attempt
    final = attempt.last(Phase.FINAL)
    until_s = attempt.passages[0].t_s if attempt.passages else final.start_s if final else attempt.end_s
    if scene.procedure.station_on_aerodrome and final is not None:
        until_s = min(until_s, final.start_s)
    earlier = [a.end_s for a in flight.attempts if a.end_s <= attempt.start_s]
    from_s = max([*earlier, until_s - LONGEST_S, float(flight.view.t_s[0])])
    return flight.view.between(from_s, until_s), until_s


def arc_view(scene: Scene, arc: Arc) -> StationView | None:
    """The last stretch along the arc before the station (or being established on final), once a second."""
    view, until_s = _before_station(scene)
    if len(view) < 2:
        return None
    found = [
        s
        for s in stretches(view.t_s, along_arc(view, arc), view.segment, pause_s=PAUSE_S)
        if s.seconds >= LEAST_S
    ]
    if not found:
        return None
    part = view.where(found[-1].part)
    joined = np.flatnonzero(np.abs(part.dme_nm - arc.dme_nm) <= JOINED_NM)
    part = part.where(slice(int(joined[0]) if len(joined) else 0, None))
    turn_s = _turn_in_s(scene, part, until_s)
    return part if turn_s is None else part.where(part.t_s <= turn_s)


def arc_breaks(
    scene: Scene, arc: Arc, view: StationView, tolerance: Tolerance = NO_TOLERANCE
) -> tuple[LimitBreak, ...]:
    """Breaks of the arc's own altitude limits, in order of time."""
    if arc.altitude is None:
        return ()
    holds: NDArray[np.bool_] = np.ones(len(view), dtype=np.bool_)
    found: tuple[LimitBreak, ...] = ()
    if arc.altitude.low_ft is not None:
        found += breaks(scene, view, holds, arc.altitude.low_ft, "below", tolerance_ft=tolerance.below_ft)
    if arc.altitude.high_ft is not None:
        found += breaks(scene, view, holds, arc.altitude.high_ft, "above", tolerance_ft=tolerance.above_ft)
    return tuple(sorted(found, key=lambda one: one.start))


def _turn_in_s(scene: Scene, part: StationView, until_s: float) -> float | None:
    """When the turn off the arc, onto the inbound course, begins; ``None`` where none was seen."""
    after = scene.flight.view.between(float(part.t_s[0]), until_s)
    course_deg = scene.procedure.true_deg(scene.procedure.inbound_course_deg)
    track_deg = unwrap_deg(after.ground_track_true_deg)
    for turn in episodes(after, TURN_IN_DEG):
        before_deg = float(np.interp(turn.start_s, after.t_s, track_deg))
        left_deg = abs(float(difference_deg(before_deg + turn.change_deg, course_deg)))
        if left_deg < min(abs(float(difference_deg(before_deg, course_deg))), INTERCEPT_DEG):
            return turn.start_s
    return None


def _turn_in_radial_deg(scene: Scene, view: StationView) -> tuple[float | None, float | None]:
    """The radial on which the turn inbound began, and its half-width at 95 %. [deg magnetic]"""
    attempt = scene.attempt
    until_s = attempt.passages[0].t_s if attempt.passages else attempt.end_s
    turn_s = _turn_in_s(scene, view, until_s)
    if turn_s is None:
        return None, None
    at = scene.at(turn_s)
    radial_deg, distance_nm = float(at.radial_deg[0]), float(at.distance_nm[0])
    if not (np.isfinite(radial_deg) and distance_nm > 0.0):
        return None, None
    off_rad = np.radians(float(at.ground_track_deg[0]) - radial_deg)
    along_nm_s = float(at.groundspeed_kt[0]) / SECONDS_PER_HOUR * abs(float(np.sin(off_rad)))
    sure_deg = read_at(
        turn_edge(scene.flight, turn_s),
        float(np.degrees(along_nm_s / distance_nm)),
        position_angle_deg(scene.flight, distance_nm) / COVERAGE,
        scene.procedure.station.alignment_within_deg,
    )
    return radial_deg, sure_deg
