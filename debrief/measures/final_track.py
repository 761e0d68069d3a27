"""The way down the final course: where the final fix, the missed approach point and the runway lie on it.

Owns      the moments and distances that the measures of the final and of what follows share.
Not here  descent (``descent``), limits (``minimum``), gates (``gates``), the ending (``ending``).
"""

from __future__ import annotations

import numpy as np

from debrief.measures.landing_runway import circling_from_s, runway_of
from debrief.measures.scene import Scene
from debrief.measures.statistics import known
from debrief.measures.stretches import stretches
from debrief.navigation.angles import difference_deg
from debrief.navigation.radials import along_track_nm, ground_distance_nm
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.model import Floats, Passage, StationView
from debrief.procedures.geometry import final_course_true_deg, missed_approach_distance_nm, place_nm
from debrief.procedures.model import Extent, Phase, StepDown
from debrief.procedures.steps import past_radial_deg

# Down the centre line of a runway in sight. Mark: common practice.
CENTRE_LINE_NM, CENTRE_LINE_DEG = 0.1, 4.0
LINED_UP_DEG, AT_THE_LINE_DEG = 15.0, 30.0  # ground track off the runway's direction, on the line and at it
IN_SIGHT_ABOVE_FT = 500.0
OVER_THE_THRESHOLD_NM = 0.2  # nearer than this the directions say nothing


def along_nm(scene: Scene, view: StationView) -> Floats:
    """How far past abeam the station along the final course, before it negative. [NM]"""
    return along_track_nm(view.east_nm, view.north_nm, final_course_true_deg(scene.procedure))


def final_fix(scene: Scene) -> Passage | None:
    """The passage (or closest point) that the final begins with; ``None`` where it is flown to the station."""
    span = scene.span(Phase.FINAL)
    if span is None or scene.procedure.station_on_aerodrome:
        return None
    passage, reversal = scene.passage_before(span.start_s), scene.span(Phase.COURSE_REVERSAL)
    if passage is None or (reversal is not None and passage.t_s < reversal.start_s):
        return None  # the one before the reversal: the fix itself was not observed
    return passage


def missed_approach_point_s(scene: Scene) -> float | None:
    """When the missed approach point was passed, on final or climbing away; ``None`` where it was not.

    Where the procedure publishes none it is the station on the aerodrome, or abeam the threshold.
    """
    span, final = scene.span(Phase.FINAL), scene.procedure.final
    if span is None or final is None:
        return None
    after = scene.span(Phase.MISSED_APPROACH)
    end_s = span.end_s if after is None else after.end_s
    view, extent = scene.over(span.start_s, end_s), final.missed_approach_point
    if extent is None:
        point_nm = missed_approach_distance_nm(scene.procedure)
        if point_nm is None:
            return None
        passed = stretches(view.t_s, along_nm(scene, view) - point_nm, view.segment)
        return passed[0].start_s if passed else None
    return _reached_s(scene, view, extent, end_s)


def _reached_s(scene: Scene, view: StationView, extent: Extent, end_s: float) -> float | None:
    """When a DME distance or a time is reached on final; ``None`` where it is not by ``end_s``."""
    if extent.dme_nm is not None:
        return dme_reached_s(scene, view, extent.dme_nm)
    point_s = _timed_s(scene, extent)
    return point_s if point_s is not None and point_s <= end_s else None


def _timed_s(scene: Scene, extent: Extent | None) -> float | None:
    """When a time from the final fix is over; ``None`` without an observed fix."""
    fix = final_fix(scene)
    if fix is None or extent is None or extent.minutes is None:
        return None
    return fix.t_s + extent.minutes * SECONDS_PER_MINUTE


def by_eye_from_s(scene: Scene) -> float | None:
    """When the needle ceased to count on final: in the visual segment, or circling; ``None`` where it did not."""
    moments = [t_s for t_s in (visual_from_s(scene), circling_from_s(scene)) if t_s is not None]
    return min(moments, default=None)


def visual_from_s(scene: Scene) -> float | None:
    """When the visual segment began; ``None`` where the procedure has none, or it was not reached."""
    segment, span = scene.procedure.visual_segment, scene.span(Phase.FINAL)
    if segment is None or span is None:
        return None
    if segment.begins is None:
        return missed_approach_point_s(scene)
    return _reached_s(scene, scene.over(span.start_s, span.end_s), segment.begins, span.end_s)


def lined_up_from_s(scene: Scene) -> float | None:
    """Since when an aircraft that lands has flown at the runway's centre line, and down it, near the minimum.

    A course over a station on the aerodrome leads beside the runway, and a mile before it the centre line may lie
    10 degrees off the course: who flies down it has the runway in sight. ``None`` without a landing, and with the
    station elsewhere, from where the runway lies ahead.
    """
    runway, span, final = scene.procedure.runway, scene.span(Phase.FINAL), scene.procedure.final
    if runway is None or span is None or not scene.procedure.station_on_aerodrome:
        return None
    if scene.attempt.ending != "landing":
        return None
    if final is None or final.altitude is None or final.altitude.low_ft is None:
        return None
    view = scene.over(span.start_s, span.end_s)
    ahead = to_threshold(scene, view)
    if ahead is None or len(view) == 0:
        return None
    off = np.radians(difference_deg(ahead[1], runway.course_true_deg))
    to_go_nm, right_of_it_nm = ahead[0] * np.cos(off), -ahead[0] * np.sin(off)
    on_line = np.abs(right_of_it_nm) <= np.maximum(
        CENTRE_LINE_NM, to_go_nm * np.tan(np.radians(CENTRE_LINE_DEG))
    )
    turned_deg = difference_deg(view.ground_track_true_deg, runway.course_true_deg)
    down_it = on_line & (np.abs(turned_deg) <= LINED_UP_DEG)
    at_it = (np.sign(right_of_it_nm) * turned_deg < 0) & (np.abs(turned_deg) <= AT_THE_LINE_DEG)
    near = ~(view.altitude_ft > final.altitude.low_ft + IN_SIGHT_ABOVE_FT)
    not_yet = np.flatnonzero(~(((down_it | at_it) & near) | (to_go_nm <= OVER_THE_THRESHOLD_NM)))
    first = int(not_yet[-1]) + 1 if len(not_yet) else 0
    return float(view.t_s[first]) if first < len(view) else None


def dme_reached_s(scene: Scene, view: StationView, dme_nm: float) -> float | None:
    """When a DME distance is first reached on final: from below flying from the station, from above to it.

    Flying to the station a distance less than the height is never read: it is reached at the closest point.
    """
    sign = -1.0 if scene.procedure.station_on_aerodrome else 1.0
    excess_nm = sign * (view.dme_nm - dme_nm)
    reached = stretches(view.t_s, excess_nm, view.segment)
    if reached:
        return reached[0].start_s
    if sign > 0 or not np.isfinite(view.dme_nm).any():
        return None
    lowest = int(np.nanargmin(view.dme_nm))
    return float(view.t_s[lowest]) if lowest < len(view) - 1 else None


def step_reached_s(scene: Scene, view: StationView, step: StepDown) -> float | None:
    """When the end of a step-down is first reached on final: its DME distance, or its crossing radial."""
    if step.until_radial is None:
        return dme_reached_s(scene, view, step.until_dme_nm or 0.0)
    past_deg = past_radial_deg(scene.procedure, step.until_radial, view.east_nm, view.north_nm)
    reached = stretches(view.t_s, past_deg, view.segment)
    return reached[0].start_s if reached else None


def missed_approach_point_along_nm(scene: Scene) -> float | None:
    """Where the missed approach point lies along the final course, past the station positive. [NM]

    Of a timed one: where the aircraft was then, or would have been at its speed.
    """
    span, final = scene.span(Phase.FINAL), scene.procedure.final
    if span is None or final is None:
        return None
    extent, last = final.missed_approach_point, scene.at(span.end_s)
    if extent is None:
        return missed_approach_distance_nm(scene.procedure)
    if extent.dme_nm is not None:
        reached_s = missed_approach_point_s(scene)
        at = last if reached_s is None else scene.at(reached_s)
        height_ft = float(at.altitude_ft[0]) - scene.procedure.station.elevation_ft
        if not np.isfinite(height_ft):
            height_ft = 0.0  # some hundredths of a mile, at the heights of a minimum
        ground_nm = known(ground_distance_nm(extent.dme_nm, height_ft)) or 0.0
        return -ground_nm if scene.procedure.station_on_aerodrome else ground_nm
    point_s = _timed_s(scene, extent)
    if point_s is None:
        return None
    if point_s <= span.end_s:
        return known(along_nm(scene, scene.at(point_s))[0])
    ahead_nm = (point_s - span.end_s) * float(last.groundspeed_kt[0]) / SECONDS_PER_HOUR
    return known(along_nm(scene, last)[0] + ahead_nm)


def to_threshold(scene: Scene, view: StationView) -> tuple[Floats, Floats] | None:
    """Distance [NM] and true bearing [deg] of the threshold from the aircraft; ``None`` without a runway.

    That of the runway which the approach led to: after circling another one.
    """
    runway = runway_of(scene)
    if runway is None:
        return None
    threshold = place_nm(scene.procedure, runway)
    east_nm, north_nm = threshold[0] - view.east_nm, threshold[1] - view.north_nm
    return np.hypot(east_nm, north_nm), np.degrees(np.arctan2(east_nm, north_nm)) % 360.0
