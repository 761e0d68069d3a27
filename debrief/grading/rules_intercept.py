"""Rules on the intercept of the inbound course: its angle, and how far it went through.

Owns      how long an angle must be held to be an intercept, and the lead that an overshoot asks for.
Not here  measuring either (measures.intercept), being established (``rules_tracking``), the tolerances (the
          standard's file).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.way_back import due_by_s, stayed_beyond
from debrief.grading.words import degrees, heading, knots, nautical_miles
from debrief.language import tr
from debrief.measures.scene import Scene
from debrief.measures.turning import TURNING_DEG_S
from debrief.navigation.angles import difference_deg
from debrief.navigation.radials import FULL_SCALE_DEG
from debrief.navigation.turns import procedure_radius_nm
from debrief.procedures.model import Pattern, Phase
from debrief.result import Intercept

#: The angle of an intercept to advise. [deg] Mark: common practice.
_INTERCEPT_DEG = 45.0
#: An intercept is held for three samples, at least and at most so long. [s] Mark: common practice.
_HOLD_S = (3.0, 15.0)
_SAME_ANGLE_DEG = 2.0


def intercept_angle(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Angle at which the inbound course was flown at; a base turn ends at the course and is not judged."""
    intercept, reversal = case.measures.intercept, case.procedure.reversal
    if intercept is None or (reversal is not None and reversal.pattern is Pattern.BASE_TURN):
        return
    if case.scene.attempt.straight_in:
        return  # joined from wherever the aircraft came, or was led
    if intercept.angle_deg is None or intercept.angle_uncertainty_deg is None:
        return
    limit_deg = tolerance.limit("at_most")
    at_s = _moment_s(case, intercept.angle_time, intercept.time)
    sure_deg = intercept.angle_uncertainty_deg + _still_turning_deg(case, intercept.angle_deg)
    if sure_deg >= limit_deg:  # whatever angle was flown, this log would not show it
        why = tr("the angle is only sure to {sure}", sure=degrees(sure_deg))
        yield Assessment(
            tolerance=tolerance,
            outcome="not assessable",
            phase=Phase.COURSE_REVERSAL,
            limit=limit_deg,
            unit="deg",
            reason=why,
        )
        return
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(intercept.angle_deg - limit_deg, sure_deg),
        phase=Phase.COURSE_REVERSAL,
        value=intercept.angle_deg,
        limit=limit_deg,
        unit="deg",
        excess=intercept.angle_deg - limit_deg,
        uncertainty=sure_deg,
        start_s=at_s,
        end_s=at_s,
        at_s=at_s,
        facts={
            "value": degrees(intercept.angle_deg),
            "limit": degrees(limit_deg, exact=True),
            "course": heading(case.procedure.inbound_course_deg),
            "advised": degrees(_INTERCEPT_DEG),
            "steer": _steer(case, at_s),
            "sure": degrees(max(sure_deg, 0.5)),
        }
        | (case.place(at_s) if at_s is not None else {"at": tr("the intercept"), "where": tr("there")}),
    )


def _still_turning_deg(case: Case, angle_deg: float) -> float:
    """By how much the angle shrank in the seconds after it was read: part of the turn rather than a heading held.

    Between far samples a turn looks like straight pieces; an angle counts as far as it outlives three samples.
    """
    span = case.scene.span(Phase.COURSE_REVERSAL)
    if span is None:
        return 0.0
    hold_s = float(np.clip(3.0 * case.scene.flight.log.measured_interval_s, *_HOLD_S))
    view = case.every_second(span.start_s, span.end_s + hold_s)
    course_true_deg = case.procedure.true_deg(case.procedure.inbound_course_deg)
    off_deg = np.abs(difference_deg(view.ground_track_true_deg, course_true_deg))
    count = int(np.ceil(hold_s)) + 1
    if len(off_deg) <= count:
        return 0.0
    held_deg = sliding_window_view(off_deg, count).min(axis=1)
    here = np.abs(off_deg[: len(held_deg)] - angle_deg) <= _SAME_ANGLE_DEG
    here &= np.isfinite(held_deg)
    return max(0.0, angle_deg - float(held_deg[here].max())) if here.any() else 0.0


def _moment_s(case: Case, *moments: datetime | None) -> float | None:
    """The first of some moments that is known, else the end of the reversal."""
    known = next((moment for moment in moments if moment is not None), None)
    return case.t_s(known) if known is not None else _end_of_reversal_s(case)


def _end_of_reversal_s(case: Case) -> float | None:
    span = case.scene.span(Phase.COURSE_REVERSAL)
    return span.end_s if span is not None else None


def _steer(case: Case, at_s: float | None) -> str:
    """The track that meets the inbound course at the advised angle, from the side the aircraft is on."""
    course_deg = case.procedure.inbound_course_deg
    if at_s is None:
        return heading(course_deg)
    off_deg = float(case.scene.at(at_s).ground_track_deg[0]) - course_deg
    sign = 1.0 if (off_deg + 180.0) % 360.0 - 180.0 >= 0 else -1.0
    return heading(course_deg + sign * _INTERCEPT_DEG)


def intercept_overshoot(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Greatest cross-track on the far side of the inbound course before it settled."""
    intercept = case.measures.intercept
    if intercept is None or intercept.overshoot_nm is None or intercept.overshoot_uncertainty_nm is None:
        return
    if case.scene.attempt.straight_in:
        return  # what is left of it once on final counts there
    limit_nm, over_nm = tolerance.limit("at_most"), intercept.overshoot_nm
    at_s = _moment_s(case, intercept.crossed, intercept.time)
    turning = crossed_turning(case.scene, intercept)
    lead = {} if turning else _lead_of_turn_in(case, at_s, intercept.angle_deg)
    variant = "turning" if turning else "lead" if lead else ""
    if over_nm > limit_nm and at_s is not None:
        until_s = due_by_s(case.scene.attempt, at_s)
        until_s = case.scene.attempt.end_s if until_s is None else until_s
        variant = "beside" if stayed_beyond(case.scene, at_s, until_s) else variant
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(over_nm - limit_nm, intercept.overshoot_uncertainty_nm),
        phase=Phase.COURSE_REVERSAL,
        variant="none" if over_nm == 0 else variant,
        value=over_nm,
        limit=limit_nm,
        unit="NM",
        excess=over_nm - limit_nm,
        uncertainty=intercept.overshoot_uncertainty_nm,
        start_s=at_s,
        end_s=case.t_s(intercept.established) if intercept.established is not None else at_s,
        at_s=at_s,
        facts={
            "value": nautical_miles(over_nm),
            "limit": nautical_miles(limit_nm, exact=True),
            "course": heading(case.procedure.inbound_course_deg),
            "sure": nautical_miles(intercept.overshoot_uncertainty_nm),
        }
        | lead,
    )


def crossed_turning(scene: Scene, intercept: Intercept) -> bool:
    """Whether the turn back itself led through the course: no steady track before it, from which to lead a turn."""
    if intercept.crossed is None:
        return False
    before = intercept.angle_time is not None and intercept.angle_time < intercept.crossed
    crossed_s = (intercept.crossed - scene.flight.log.track.epoch).total_seconds()
    return not before and abs(float(scene.at(crossed_s).turn_rate_deg_s[0])) > TURNING_DEG_S


def _lead_of_turn_in(case: Case, at_s: float | None, angle_deg: float | None) -> dict[str, str]:
    """How far off the course the turn onto it begins: r (1 - cos angle), and the needle there."""
    if at_s is None or angle_deg is None:
        return {}
    view = case.scene.at(at_s)
    speed_kt, distance_nm = float(view.groundspeed_kt[0]), float(view.distance_nm[0])
    if not (np.isfinite(speed_kt) and distance_nm > 0):
        return {}
    lead_nm = float(procedure_radius_nm(speed_kt)) * (1.0 - float(np.cos(np.radians(min(angle_deg, 90.0)))))
    needle_deg = float(np.degrees(np.arcsin(min(lead_nm / distance_nm, 1.0))))
    if needle_deg >= FULL_SCALE_DEG:
        return {}  # so near the station the needle gives no warning
    return {
        "speed": knots(speed_kt),
        "angle": degrees(angle_deg, nearest=1.0),
        "lead": nautical_miles(lead_nm),
        "needle": degrees(max(needle_deg, 1.0), nearest=1.0),
    }
