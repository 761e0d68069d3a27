"""The limits on final: the minimum descent altitude and the step-downs, and the descent that may pass them.

Owns      breaks of both, and whether a descent through the minimum is one to land.
Not here  the limits of the other legs (``altitude``), levelling off (``descent``), the tolerances (grading).
Source    "Descending through the minimum altitude to a landing on a stable path with the runway ahead is no
          bust": DEVELOPERS.md, Definitions. What "stable" is taken to mean here: common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from debrief.language import tr
from debrief.measures.altitude import NO_TOLERANCE, Tolerance, breaks
from debrief.measures.base_turn import base_turn_s
from debrief.measures.final_track import by_eye_from_s, missed_approach_point_s, step_reached_s, to_threshold
from debrief.measures.landing_runway import circling_from_s, runway_of
from debrief.measures.scene import Scene
from debrief.measures.stretches import stretches
from debrief.navigation.angles import difference_deg
from debrief.navigation.descent import angle_deg
from debrief.phases.model import Floats, StationView
from debrief.procedures.alignment import runway_off_deg
from debrief.procedures.model import Phase
from debrief.result import LimitBreak

# A path from the minimum to the runway. Mark: common practice.
RUNWAY_AHEAD_DEG = 30.0  # the threshold, off the ground track where the minimum is passed
PATH_DEG = (1.5, 7.0)  # from where the minimum is passed to the threshold
CLIMBING_BACK_FT = 50.0  # once below, no more than this
LEVEL_FT_MIN = -150.0  # a sink slower than this ...
LEVEL_S = (
    15.0  # ... for this long is level flight below the minimum; the wander of a satellite altitude is shorter
)
FLARE_FT = 150.0  # not looked for nearer the runway than this
AT_RUNWAY_FT = 200.0  # so low above it and so near it the runway was reached, landing or not
AT_RUNWAY_NM = 1.5
CLOSE_NM = 0.5  # nearer than this the direction and the angle of the threshold say nothing


@dataclass(frozen=True, slots=True)
class VisualDescent:
    """The descent from the minimum to the runway, from ``start_s`` on; ``why`` in plain words where assumed."""

    start_s: float
    why: str = ""


def minimum_ft(scene: Scene) -> float | None:
    """The minimum in force on this final: its own, or after circling that of circling; ``None`` for none. [ft]"""
    return scene.procedure.minimum_ft(circled=circling_from_s(scene) is not None)


@lru_cache(maxsize=1)  # asked by many a measure and rule of the same attempt
def visual_descent(scene: Scene) -> VisualDescent | None:
    """The last descent through the minimum where it leads to the runway on a stable path, else ``None``.

    Where no runway is given, the place where the aircraft landed stands for it.

    Where the aircraft levelled off below the minimum, the descent that counts begins after that.
    """
    span, low_ft = scene.span(Phase.FINAL), minimum_ft(scene)
    if span is None or low_ft is None:
        return None
    view = scene.over(span.start_s, span.end_s)
    view = view.where(np.isfinite(view.altitude_ft))
    ground_ft = _ground_ft(scene, view)
    if ground_ft is None:
        return None
    below = stretches(view.t_s, low_ft - view.altitude_ft, view.segment)
    if not below or below[-1].last < len(view) - 2:  # never below, or above again before the end
        return None
    first = len(below) - 1
    while first > 0 and below[first - 1].last + 1 == below[first].first:
        first -= 1  # below it on both sides of a gap
    under = view.where(slice(below[first].first, None))
    start_s = below[first].start_s
    level_ft_min = np.where(
        under.altitude_ft > ground_ft + FLARE_FT, under.vertical_speed_ft_min - LEVEL_FT_MIN, -1.0
    )
    level = [s for s in stretches(under.t_s, level_ft_min, under.segment) if s.seconds >= LEVEL_S]
    if level:
        start_s = level[-1].end_s
        under = under.where(under.t_s >= start_s)
    if len(under) == 0 or not _leads_to_runway(scene, under, ground_ft):
        return None
    if _at_runway(scene, under, ground_ft):
        return VisualDescent(start_s)
    if scene.attempt.ending in ("end of log", "gap"):
        return VisualDescent(
            start_s, tr("The log ends below the minimum on a stable path to the runway: taken as a landing.")
        )
    return None


def _ground_ft(scene: Scene, view: StationView) -> float | None:
    """Elevation of the runway; where none is given, of the place where the aircraft landed. [ft]"""
    runway = runway_of(scene)
    if runway is not None:
        return runway.elevation_ft
    return float(view.altitude_ft[-1]) if scene.attempt.ending == "landing" and len(view) else None


def _to_landing(under: StationView) -> tuple[Floats, Floats]:
    """Distance [NM] and true bearing [deg] of the place where the view ends."""
    east_nm, north_nm = under.east_nm[-1] - under.east_nm, under.north_nm[-1] - under.north_nm
    return np.hypot(east_nm, north_nm), np.degrees(np.arctan2(east_nm, north_nm)) % 360.0


def _leads_to_runway(scene: Scene, under: StationView, runway_elevation_ft: float) -> bool:
    distance_nm, bearing_true_deg = to_threshold(scene, under) or _to_landing(under)
    off_deg = abs(float(difference_deg(bearing_true_deg[0], under.ground_track_true_deg[0])))
    ahead_deg = RUNWAY_AHEAD_DEG
    # the course leads past it, by as much as the runway lies off
    if scene.procedure.visual_segment is not None:
        ahead_deg += abs(runway_off_deg(scene.procedure) or 0.0)
    if circling_from_s(scene) is not None:  # it turns onto the runway while it descends
        ahead_deg = 180.0
    if float(distance_nm[0]) > CLOSE_NM and off_deg > ahead_deg:
        return False
    # A long landing is no steep path: where it touched down, the way flown there counts.
    landed = scene.attempt.ending == "landing"
    to_go_nm = max(float(distance_nm[0]), _way_nm(under) if landed else 0.0)
    # and what the log read there, which shares its error
    grounds_ft = (runway_elevation_ft, float(under.altitude_ft[-1])) if landed else (runway_elevation_ft,)
    paths_deg = [
        float(angle_deg(float(under.altitude_ft[0]) - ground_ft, to_go_nm)) for ground_ft in grounds_ft
    ]
    stable = any(PATH_DEG[0] <= path_deg <= PATH_DEG[1] for path_deg in paths_deg)
    if not stable and float(distance_nm[0]) > CLOSE_NM:
        return False
    climbed_ft = under.altitude_ft - np.minimum.accumulate(under.altitude_ft)
    return bool(np.max(climbed_ft) <= CLIMBING_BACK_FT)


def _way_nm(view: StationView) -> float:
    return float(np.hypot(np.diff(view.east_nm), np.diff(view.north_nm)).sum())


def _at_runway(scene: Scene, under: StationView, runway_elevation_ft: float) -> bool:
    if scene.attempt.ending == "landing":
        return True
    ahead = to_threshold(scene, under)
    near = ahead is not None and float(np.min(ahead[0])) <= AT_RUNWAY_NM
    return near and float(np.min(under.altitude_ft)) <= runway_elevation_ft + AT_RUNWAY_FT


@lru_cache(maxsize=1)
def judged_until_s(scene: Scene) -> float | None:
    """The moment after which nothing of the final is judged by the needle: the runway is in sight, or past.

    The missed approach point, the visual segment, or the descent from the minimum to the runway, whichever comes
    first; ``None`` where the final was not flown.
    """
    span = scene.span(Phase.FINAL)
    if span is None:
        return None
    descent, points_s = visual_descent(scene), (missed_approach_point_s(scene), by_eye_from_s(scene))
    moments = [span.end_s, *(point_s for point_s in points_s if point_s is not None)]
    if descent is not None:
        moments.append(descent.start_s)
    return min(moments)


def final_breaks(scene: Scene, tolerance: Tolerance = NO_TOLERANCE) -> tuple[LimitBreak, ...]:
    """Breaks of the minimum and of each step-down, in order of time.

    The minimum holds until a stable descent to the runway begins (without a runway at the latest until the missed
    approach point), that of circling until the base turn; a step from the final fix until what ends it is first reached.
    """
    span, final = scene.span(Phase.FINAL), scene.procedure.final
    if span is None or final is None:
        return ()
    view = scene.over(span.start_s, span.end_s)
    if len(view) == 0:
        return ()
    descent = visual_descent(scene)
    until_s = np.inf if descent is None else descent.start_s
    found: list[LimitBreak] = []
    for step in final.step_down:
        reached_s = step_reached_s(scene, view, step)
        holds = view.t_s < (np.inf if reached_s is None else reached_s)
        found += breaks(
            scene,
            view,
            holds,
            step.at_or_above_ft,
            "below",
            what="step_down",
            tolerance_ft=tolerance.below_ft,
        )
    low_ft, base_s = minimum_ft(scene), base_turn_s(scene)
    if circling_from_s(scene) is not None:
        until_s = np.inf if base_s is None else base_s
    if low_ft is not None:
        point_s = missed_approach_point_s(scene) if scene.procedure.runway is None else None
        holds = view.t_s <= min(until_s, np.inf if point_s is None else point_s)
        found += breaks(
            scene,
            view,
            holds,
            low_ft,
            "below",
            what="minimum_descent_altitude",
            tolerance_ft=tolerance.below_ft,
        )
    return tuple(sorted(found, key=lambda broken: broken.start))
