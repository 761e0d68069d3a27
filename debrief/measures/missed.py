"""The published missed approach: the course climbed on, the turn away, the altitude levelled at.

Owns      what is measured from the start of the climb on, past the end of the phase too: until the next attempt.
Not here  where the climb began and its rate (``ending``), the hold that follows (``holding``).
Source    ``missed_approach`` in DEVELOPERS.md, Definitions. The margins: common practice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from debrief.language import figure, tr
from debrief.measures import log_errors, uncertainty
from debrief.measures.landing_runway import circling_from_s
from debrief.measures.moments import turn_edge
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, mean_direction_deg, weights_s
from debrief.measures.stretches import stretches
from debrief.measures.turning import TURNING_DEG_S, Episode, episodes
from debrief.navigation.angles import difference_deg
from debrief.navigation.intervals import half_width
from debrief.phases.model import Span, StationView

LONGEST_S = 1200.0  # what comes later belongs to another flight
SETTLING_S = 10.0  # of the climb, before its track counts
COURSE_S = 120.0  # no longer than this is the first course looked at
LEAST_COURSE_S = 8.0
TURN_DEG = 30.0
LEVEL_FT_MIN = 200.0
LEVEL_S = 30.0
CLIMBED_FT = 300.0  # above the lowest: level there is no climb yet
TOO_LOW_FT = 100.0  # below the published altitude of the turn: a turn begun there is another one


@dataclass(frozen=True, slots=True, kw_only=True)
class MissedPath:
    """What was flown of a published missed approach; ``None`` where it was not seen, with the reason in ``why``."""

    course_off_deg: float | None = None
    course_uncertainty_deg: float | None = None
    turn: Literal["left", "right"] | None = None
    turn_altitude_ft: float | None = None
    level_altitude_ft: float | None = None
    level_s: float | None = None  # when the level flight begins
    # half-widths at 95 %, by the measure's name
    sure: Mapping[str, float | None] = field(default_factory=dict)
    why: tuple[str, ...] = ()


def after_view(scene: Scene, start_s: float) -> StationView:
    """The view once a second from a moment until the next attempt begins, or 20 minutes later."""
    flight = scene.flight
    later = [a.start_s for a in flight.attempts if a.start_s > scene.attempt.end_s - 1.0]
    last_s = float(flight.view.t_s[-1]) if len(flight.view) else start_s
    end_s = min([*later, start_s + LONGEST_S, last_s])
    view = flight.at(np.arange(start_s, end_s + 1e-6))
    return view.where(view.segment >= 0)


def missed_path(scene: Scene, span: Span) -> MissedPath:
    """Measure the missed approach against what is published; nothing where nothing is."""
    missed, course_deg = scene.procedure.missed_approach, scene.procedure.missed_approach_course_deg
    if missed is None or course_deg is None:
        return MissedPath()
    view = after_view(scene, span.start_s)
    if len(view) < LEAST_COURSE_S:
        return MissedPath(why=(tr("Missed approach not measured: the log ends where the climb begins."),))
    away = [turn for turn in episodes(view, TURN_DEG) if turn.start_s > span.start_s]
    first = away[0] if away else None
    from_s, until_s = _course_flown(view, span.start_s, away, missed.turn_at_ft)
    circled = circling_from_s(scene) is not None
    course, why = _course(scene, view, (from_s, until_s), course_deg)
    if circled:  # back to the final course, from anywhere
        course, why = None, tr("Course of the missed approach not measured: the climb began while circling.")
    level, why_not_level = _level(view)
    sure: dict[str, float | None] = {}
    if level is not None:
        sure["level_altitude_ft"] = uncertainty.mean_altitude_ft(scene.flight, level[2])
    turn_ft, why_no_turn = None, ""
    if first is None and missed.turn is not None:
        why_no_turn = tr("Turn of the missed approach not measured: no turn of 30° and more was seen.")
    if first is not None and missed.turn is not None:
        turn_ft = float(np.interp(first.start_s, view.t_s, view.altitude_ft))
        edge = turn_edge(scene.flight, first.start_s)
        climb_ft_min = float(np.interp(first.start_s, view.t_s, view.vertical_speed_ft_min))
        sure["turn_altitude_ft"] = uncertainty.altitude_at_ft(
            scene.flight, edge.half_width_s / uncertainty.COVERAGE, climb_ft_min
        )
    return MissedPath(
        course_off_deg=None if course is None else course[0],
        course_uncertainty_deg=None if course is None else known(course[1]),
        turn=_way(away, until_s),
        turn_altitude_ft=turn_ft,
        level_altitude_ft=None if level is None else level[1],
        level_s=None if level is None else level[0],
        sure=sure,
        why=tuple(reason for reason in (why, why_no_turn, why_not_level) if reason),
    )


def _course_flown(
    view: StationView, start_s: float, away: Sequence[Episode], turn_at_ft: float | None
) -> tuple[float, float]:
    """From when until when the first course is flown: once the climb has settled, up to the turn that is due.

    A turn begun far below the published altitude leaves the course: what was flown from its end on counts.
    """
    from_s, due_s = start_s + SETTLING_S, np.inf
    for turn in away:
        begun_ft = float(np.interp(turn.start_s, view.t_s, view.altitude_ft))
        if turn_at_ft is None or not begun_ft < turn_at_ft - TOO_LOW_FT:
            due_s = turn.start_s
            break
    if away and away[0].start_s < due_s:
        from_s = away[0].end_s
    return from_s, min(from_s - SETTLING_S + COURSE_S, due_s)


def _way(away: Sequence[Episode], due_s: float) -> Literal["left", "right"] | None:
    """The way of the turn that was due; of the first where none was flown then."""
    if not away:
        return None
    turn = next((turn for turn in away if turn.start_s >= due_s), away[0])
    return "right" if turn.change_deg > 0 else "left"


def _course(
    scene: Scene, view: StationView, flown_s: tuple[float, float], course_deg: float
) -> tuple[tuple[float, float] | None, str]:
    """Mean ground track of the first part of the climb less the published course, right positive; its half-width. [deg]"""
    part = view.where((view.t_s >= flown_s[0]) & (view.t_s <= flown_s[1]))
    part = part.where(np.abs(part.turn_rate_deg_s) < TURNING_DEG_S)
    if len(part) < LEAST_COURSE_S:
        return None, tr(
            "Course of the missed approach not measured: too little was flown on it before the turn."
        )
    track_deg = mean_direction_deg(part.ground_track_true_deg, weights_s(part.t_s, part.segment))
    if track_deg is None:
        return None, tr("Course of the missed approach not measured: the ground track has no mean direction.")
    speed_kt = float(np.median(part.groundspeed_kt))
    velocity_kt = log_errors.mean(log_errors.velocity_kt(scene.flight), float(part.t_s[-1] - part.t_s[0]))
    sure_deg = half_width(
        float(np.degrees(velocity_kt / speed_kt)) if speed_kt > 0 else np.nan,
        rectangular=scene.procedure.station.alignment_within_deg,
    )
    return (float(difference_deg(track_deg, scene.procedure.true_deg(course_deg))), sure_deg), ""


def _level(view: StationView) -> tuple[tuple[float, float, float] | None, str]:
    """The highest level flight after the climb: when it begins, its mean altitude, how long it lasts [s, ft, s]."""
    seen = view.where(np.isfinite(view.altitude_ft))
    if len(seen) == 0:
        return None, tr("Altitude of the missed approach not measured: the log has none there.")
    climbed = seen.altitude_ft > np.minimum.accumulate(seen.altitude_ft) + CLIMBED_FT
    steady = np.where(climbed, LEVEL_FT_MIN - np.abs(seen.vertical_speed_ft_min), -1.0)
    found = [s for s in stretches(seen.t_s, steady, seen.segment) if s.seconds >= LEVEL_S]
    if not found:
        return None, (
            tr(
                "Altitude of the missed approach not measured: no level flight was seen after the climb, which went "
                "up to {highest} ft.",
                highest=figure(round(float(seen.altitude_ft.max()), -1), ",.0f"),
            )
        )
    means = [(float(seen.t_s[s.first]), float(np.mean(seen.altitude_ft[s.part])), s.seconds) for s in found]
    return max(means, key=lambda one: one[1]), ""
