"""The visual segment: where the pilot left the needle, and where the aircraft was lined up with the runway.

Owns      ``visual_measures``.
Not here  where the segment begins (``final_track``), what lined up means (``lined_up``), circling (``circling``).
"""

from __future__ import annotations

from debrief.measures import log_errors
from debrief.measures.final_track import to_threshold, visual_from_s
from debrief.measures.landing_runway import circling_from_s
from debrief.measures.lined_up import lined_up_s, lined_up_sure
from debrief.measures.moments import altitude_passing_ft
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, known
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import along_track_nm
from debrief.procedures.geometry import threshold_nm
from debrief.procedures.model import Phase
from debrief.result import VisualMeasures


def visual_measures(scene: Scene) -> VisualMeasures | None:
    """Measure the visual segment; ``None`` where there is none, it was not reached, or the aircraft circled."""
    start_s, span, runway = visual_from_s(scene), scene.span(Phase.FINAL), scene.procedure.runway
    threshold = threshold_nm(scene.procedure)
    if start_s is None or span is None or runway is None or threshold is None or start_s > span.end_s:
        return None
    if circling_from_s(scene) is not None:
        return None
    at = scene.at(start_s)
    ahead = to_threshold(scene, at)
    lined_s, why = lined_up_s(scene, runway, start_s, span.end_s)
    before_nm = height_ft = None
    sure: dict[str, float | None] = {"altitude_ft": altitude_passing_ft(scene.flight, at)}
    if ahead is not None:
        # where it begins is told by the position too: of the way from there only what changes meanwhile is wrong
        sure["to_threshold_nm"] = half_width(log_errors.changing(log_errors.position_nm(scene.flight)))
    if lined_s is not None:
        there = scene.at(lined_s)
        east_nm, north_nm = there.east_nm[0] - threshold[0], there.north_nm[0] - threshold[1]
        before_nm = known(-along_track_nm(east_nm, north_nm, runway.course_true_deg))
        height_ft = known(there.altitude_ft[0] - runway.elevation_ft)
        sure |= lined_up_sure(scene, runway, lined_s)
    return VisualMeasures(
        start=scene.time(start_s),
        altitude_ft=known(at.altitude_ft[0]),
        to_threshold_nm=None if ahead is None else known(ahead[0][0]),
        lined_up=None if lined_s is None else scene.time(lined_s),
        lined_up_before_threshold_nm=before_nm,
        lined_up_height_ft=height_ft,
        uncertainties=all_known(sure),
        warnings=(why,) if why else (),
    )
