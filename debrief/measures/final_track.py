"""The way down the final course: where the final fix, the missed approach point and the runway lie on it.

Owns      the moments and distances that the measures of the final and of what follows share.
Not here  descent (``descent``), limits (``minimum``), gates (``gates``), the ending (``ending``).
"""

from __future__ import annotations

import numpy as np

from debrief.measures.scene import Scene
from debrief.measures.stretches import stretches
from debrief.navigation.geodesy import StationPlane
from debrief.navigation.radials import along_track_nm, ground_distance_nm
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.phases.model import Floats, Passage, StationView
from debrief.procedures.model import Phase, Runway


def final_true_deg(scene: Scene) -> float:
    """The final course from true north. [deg]"""
    final = scene.procedure.final
    if final is None or final.course_deg is None:
        raise ValueError("a checked procedure has a final course")
    return scene.procedure.true_deg(final.course_deg)


def along_nm(scene: Scene, view: StationView) -> Floats:
    """How far past abeam the station along the final course, before it negative. [NM]"""
    return along_track_nm(view.east_nm, view.north_nm, final_true_deg(scene))


def final_fix(scene: Scene) -> Passage | None:
    """The passage (or closest point) that the final begins with; ``None`` where it is flown to the station."""
    span = scene.span(Phase.FINAL)
    if span is None:
        return None
    passage = scene.passage_before(span.start_s)
    reversal = scene.span(Phase.COURSE_REVERSAL)
    if passage is None or (reversal is not None and passage.t_s < reversal.start_s):
        return None
    return passage


def flown_from_station(scene: Scene) -> bool:
    """Whether the final leads away from the station: it begins at the final fix, or past abeam."""
    if final_fix(scene) is not None:
        return True
    span = scene.span(Phase.FINAL)
    if span is None:
        return scene.procedure.has_intermediate
    view = scene.over(span.start_s, span.end_s)
    return bool(len(view)) and float(along_nm(scene, view)[0]) > 0.0


def missed_approach_point_s(scene: Scene) -> float | None:
    """When the missed approach point was passed, on final or climbing away; ``None`` where it was not."""
    span, final = scene.span(Phase.FINAL), scene.procedure.final
    if span is None or final is None or final.missed_approach_point is None:
        return None
    after = scene.span(Phase.MISSED_APPROACH)
    end_s = span.end_s if after is None else after.end_s
    extent = final.missed_approach_point
    if extent.minutes is not None:
        fix = final_fix(scene)
        if fix is None:
            return None
        point_s = fix.t_s + extent.minutes * SECONDS_PER_MINUTE
        return point_s if point_s <= end_s else None
    assert extent.dme_nm is not None
    return dme_reached_s(scene, scene.over(span.start_s, end_s), extent.dme_nm)


def dme_reached_s(scene: Scene, view: StationView, dme_nm: float) -> float | None:
    """When a DME distance is first reached on final: from below flying from the station, from above to it.

    Flying to the station a distance less than the height is never read: it is reached at the closest point.
    """
    sign = 1.0 if flown_from_station(scene) else -1.0
    excess_nm = sign * (view.dme_nm - dme_nm)
    reached = stretches(view.t_s, excess_nm, view.segment)
    if reached:
        return reached[0].start_s
    if sign > 0 or not np.isfinite(view.dme_nm).any():
        return None
    lowest = int(np.nanargmin(view.dme_nm))
    return float(view.t_s[lowest]) if lowest < len(view) - 1 else None


def missed_approach_point_along_nm(scene: Scene) -> float | None:
    """Where the missed approach point lies along the final course, past the station positive. [NM]

    Of a timed one: where the aircraft was then, or would have been at its speed.
    """
    span, final = scene.span(Phase.FINAL), scene.procedure.final
    if span is None or final is None or final.missed_approach_point is None:
        return None
    extent, last = final.missed_approach_point, scene.at(span.end_s)
    if extent.dme_nm is not None:
        reached_s = missed_approach_point_s(scene)
        at = last if reached_s is None else scene.at(reached_s)
        height_ft = float(at.altitude_ft[0]) - scene.procedure.station.elevation_ft
        ground_nm = float(ground_distance_nm(extent.dme_nm, height_ft))
        if not np.isfinite(ground_nm):
            ground_nm = extent.dme_nm if not np.isfinite(height_ft) else 0.0
        return ground_nm if flown_from_station(scene) else -ground_nm
    fix = final_fix(scene)
    if fix is None or extent.minutes is None:
        return None
    point_s = fix.t_s + extent.minutes * SECONDS_PER_MINUTE
    if point_s <= span.end_s:
        at = scene.at(point_s)
        return float(along_nm(scene, at)[0]) if at.segment[0] >= 0 else None
    ahead_nm = (point_s - span.end_s) * float(last.groundspeed_kt[0]) / SECONDS_PER_HOUR
    reached_nm = float(along_nm(scene, last)[0]) + ahead_nm
    return reached_nm if np.isfinite(reached_nm) else None


def threshold_nm(scene: Scene) -> tuple[float, float] | None:
    """The runway's threshold in the station's plane, east and north. [NM]"""
    runway: Runway | None = scene.procedure.runway
    if runway is None:
        return None
    station = scene.procedure.station
    plane = StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)
    east_nm, north_nm = plane.to_plane(runway.latitude, runway.longitude)
    return float(east_nm), float(north_nm)


def to_threshold(scene: Scene, view: StationView) -> tuple[Floats, Floats] | None:
    """Distance [NM] and true bearing [deg] of the threshold from the aircraft; ``None`` without a runway."""
    threshold = threshold_nm(scene)
    if threshold is None:
        return None
    east_nm, north_nm = threshold[0] - view.east_nm, threshold[1] - view.north_nm
    return np.hypot(east_nm, north_nm), np.degrees(np.arctan2(east_nm, north_nm)) % 360.0
