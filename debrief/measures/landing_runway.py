"""Which runway an approach led to: the final's own, or by circling another one.

Owns      ``circling_from_s`` and ``runway_of``.
Not here  what was flown while circling (``circling``), where an approach ended (phases).
Source    The margins: common practice.
"""

from __future__ import annotations

import numpy as np

from debrief.measures.scene import Scene
from debrief.measures.stretches import stretches
from debrief.measures.tracking import off_course, scored_course_deg
from debrief.navigation.angles import difference_deg
from debrief.navigation.radials import cross_track_nm
from debrief.phases.model import Floats, StationView
from debrief.procedures.alignment import runway_off_deg
from debrief.procedures.geometry import final_course_true_deg, place_nm
from debrief.procedures.model import Phase, Runway

LEFT_COURSE_DEG = 30.0  # the track this far off the final course for ...
LEFT_COURSE_S = 15.0  # ... so long: the course was left
LEFT_MORE_DEG = 20.0  # and by this much more than a landing straight in takes
BEGUN_DEG = 10.0  # it begins with the turn there
BACK_WITHIN_NM = 0.25  # so near the course and along it again, without having turned ...
TURNED_ROUND_DEG = 90.0  # ... by more than this, it was not left to circle
LINED_UP_ONE_DEG, LINED_UP_ONE_NM = 10.0, 0.1  # weigh alike, telling which runway was landed on


def circling_from_s(scene: Scene) -> float | None:
    """When the final course was left to circle; ``None`` where the procedure has no circling, or none was flown."""
    span = scene.span(Phase.FINAL)
    if scene.procedure.circling is None or span is None:
        return None
    view = scene.over(span.start_s, span.end_s)
    off_deg = np.abs(difference_deg(view.ground_track_true_deg, final_course_true_deg(scene.procedure)))
    along = np.flatnonzero(off_deg <= BEGUN_DEG)
    if not len(along):
        return None
    view, off_deg = view.where(slice(int(along[0]), None)), off_deg[along[0] :]
    least_deg = max(LEFT_COURSE_DEG, abs(runway_off_deg(scene.procedure) or 0.0) + LEFT_MORE_DEG)
    on_it = (off_deg <= BEGUN_DEG) & (np.abs(_across_nm(scene, view)) <= BACK_WITHIN_NM)
    for left in stretches(view.t_s, off_deg - least_deg, view.segment):
        back = np.flatnonzero(on_it[left.last :])
        until = left.last + int(back[0]) if len(back) else len(view)
        wandered = len(back) > 0 and float(off_deg[left.first : until].max()) <= TURNED_ROUND_DEG
        if left.seconds >= LEFT_COURSE_S and not wandered:
            last = int(np.flatnonzero(off_deg[: left.first + 1] <= BEGUN_DEG)[-1])
            if view.segment[last] != view.segment[last + 1]:
                return float(view.t_s[last])
            return float(np.interp(BEGUN_DEG, off_deg[last : last + 2], view.t_s[last : last + 2]))
    return None


def _across_nm(scene: Scene, view: StationView) -> Floats:
    """How far beside the final course. [NM]"""
    course_deg = scored_course_deg(scene.procedure, Phase.FINAL)
    return off_course(scene.procedure, Phase.FINAL, course_deg or 0.0, view)[0]


def runway_of(scene: Scene) -> Runway | None:
    """The runway that the approach led to: after circling the one landed on, else the one circled to."""
    circling, own = scene.procedure.circling, scene.procedure.runway
    if circling is None or circling_from_s(scene) is None:
        return own
    span = scene.span(Phase.FINAL)
    if own is None or span is None or scene.attempt.ending != "landing":
        return circling.runway
    at = scene.at(span.end_s)

    def off(runway: Runway) -> float:
        east_nm, north_nm = place_nm(scene.procedure, runway)
        across_nm = cross_track_nm(at.east_nm[0] - east_nm, at.north_nm[0] - north_nm, runway.course_true_deg)
        turned_deg = difference_deg(at.ground_track_true_deg[0], runway.course_true_deg)
        return abs(float(turned_deg)) / LINED_UP_ONE_DEG + abs(float(across_nm)) / LINED_UP_ONE_NM

    return min((own, circling.runway), key=off)
