"""Rules on the course reversal and the intercept that it ends with.

Owns      which pattern flown still is the published one.
Not here  recognising a pattern (measures.reversal), the intercept's angle (measures), the tolerances (the
          standard's file).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import degrees, heading, knots, nautical_miles
from debrief.measures.least_airspeed import least_airspeed_kias
from debrief.measures.reversal import STRAIGHT_TURN
from debrief.navigation.radials import FULL_SCALE_DEG
from debrief.navigation.turns import procedure_radius_nm
from debrief.procedures.model import Leg, Pattern, Phase
from debrief.result import ReversalMeasures

#: The angle of an intercept to advise. [deg] Mark: common practice.
_INTERCEPT_DEG = 45.0
_FIRST_TURN_DEG = {Pattern.PROCEDURE_TURN_45_180: 45.0, Pattern.PROCEDURE_TURN_80_260: 80.0}


def _seen(case: Case, tolerance: Tolerance) -> tuple[Leg | None, ReversalMeasures | None, Assessment | None]:
    """The published and the flown reversal; beside them what is to be said where it was not seen."""
    leg, standing = case.procedure.reversal, case.standing(Phase.COURSE_REVERSAL)
    if leg is not None and standing.state == "not seen":
        return leg, None, _not_assessable(tolerance, standing.reason)
    seen = standing.state == "seen"
    return leg, case.measures.course_reversal if seen else None, None


def _not_assessable(tolerance: Tolerance, reason: str) -> Assessment:
    return Assessment(
        tolerance=tolerance,
        outcome="not assessable",
        phase=Phase.COURSE_REVERSAL,
        unit=tolerance.unit,
        reason=reason,
    )


def reversal_missing(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """No reversal where one is published: straight in, or turned straight back onto the course.

    Which of the shapes is flown is the pilot's choice unless the pattern is drawn (AIM 5-4-9 a.1; mark: seen);
    a base turn is one turn by nature.
    """
    leg, flown, unseen = _seen(case, tolerance)
    if unseen is not None:
        yield unseen
    if leg is None or leg.pattern is None or unseen is not None:
        return
    attempt, facts = case.scene.attempt, {"pattern": f"{leg.pattern.value} course reversal"}
    left_out = case.standing(Phase.COURSE_REVERSAL).state == "not flown" or attempt.straight_in
    if left_out:
        at_s = attempt.passages[0].t_s if attempt.passages else attempt.start_s
        yield Assessment(
            tolerance=tolerance,
            outcome="not flown",
            phase=Phase.COURSE_REVERSAL,
            variant="left out",
            start_s=at_s,
            end_s=at_s,
            at_s=at_s,
            facts=facts | case.place(at_s),
        )
        return
    span = case.scene.span(Phase.COURSE_REVERSAL)
    if flown is None or span is None:
        return
    straight = flown.pattern == STRAIGHT_TURN
    yield Assessment(
        tolerance=tolerance,
        outcome="not flown" if straight else "within",
        phase=Phase.COURSE_REVERSAL,
        variant="straight" if straight else "flown",
        start_s=span.start_s,
        end_s=span.end_s,
        at_s=span.start_s,
        facts=facts | case.place(span.start_s) | _first_heading(case, leg),
    )


def _first_heading(case: Case, leg: Leg) -> dict[str, str]:
    """The course of the pattern's first turn: off the outbound course to the published side."""
    course_deg, turn_deg = (
        case.procedure.outbound_course_deg,
        _FIRST_TURN_DEG.get(leg.pattern or Pattern.RACETRACK),
    )
    if course_deg is None:
        return {}
    side = 1.0 if leg.side == "right" else -1.0
    return {"first": heading(course_deg + side * turn_deg) if turn_deg else heading(course_deg)}


def reversal_side(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """The side flown against the side published; nothing where it was not told, or the turn was straight back."""
    leg, flown, unseen = _seen(case, tolerance)
    span = case.scene.span(Phase.COURSE_REVERSAL)
    if unseen is not None:
        yield unseen
        return
    if leg is None or leg.side is None or flown is None or span is None:
        return
    if flown.side is None:
        yield _not_assessable(tolerance, "the side could not be told from the turns")
        return
    wrong = flown.side != leg.side
    width_nm = flown.width_nm
    variant = "turns" if leg.pattern in (Pattern.RACETRACK, Pattern.BASE_TURN) else "side"
    yield Assessment(
        tolerance=tolerance,
        outcome="exceeded" if wrong else "within",
        phase=Phase.COURSE_REVERSAL,
        variant=variant,
        value=width_nm if wrong else None,
        limit=0.0 if wrong and width_nm is not None else None,
        unit="NM" if wrong and width_nm is not None else None,
        excess=width_nm if wrong else None,
        uncertainty=case.position_uncertainty_nm() if wrong else None,
        start_s=span.start_s,
        end_s=span.end_s,
        at_s=(span.start_s + span.end_s) / 2.0,
        facts={"flown": flown.side, "published": leg.side} | _first_heading(case, leg),
    )


def reversal_distance(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Farthest distance from the station, from the passage to the end of the reversal."""
    leg, flown, unseen = _seen(case, tolerance)
    if leg is not None and leg.within_nm is not None and unseen is not None:
        yield unseen
    span = case.scene.span(Phase.COURSE_REVERSAL)
    if leg is None or leg.within_nm is None or flown is None or span is None or unseen is not None:
        return
    outbound = case.scene.span(Phase.OUTBOUND)
    view = case.scene.over(span.start_s if outbound is None else outbound.start_s, span.end_s)
    if len(view) == 0:
        return
    farthest = int(np.argmax(view.distance_nm))
    at_s, far_nm = float(view.t_s[farthest]), float(view.distance_nm[farthest])
    limit_nm, sure_nm = leg.within_nm + tolerance.limit("above"), case.position_uncertainty_nm()
    begun_nm = flown.turn_start_distance_nm
    turn_by_nm = leg.within_nm - (far_nm - begun_nm) if begun_nm is not None else None
    usable = turn_by_nm is not None and turn_by_nm > 0
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(far_nm - limit_nm, sure_nm),
        phase=Phase.COURSE_REVERSAL,
        variant="turn by" if usable else "",
        value=far_nm,
        limit=limit_nm,
        unit="NM",
        excess=far_nm - limit_nm,
        uncertainty=sure_nm,
        start_s=span.start_s,
        end_s=span.end_s,
        at_s=at_s,
        facts={
            "value": nautical_miles(far_nm),
            "over": nautical_miles(far_nm - leg.within_nm),
            "published": nautical_miles(leg.within_nm),
            "sure": nautical_miles(sure_nm),
        }
        | ({"turn_by": nautical_miles(turn_by_nm)} if turn_by_nm is not None else {})
        | case.place(at_s),
    )


def reversal_speed(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Greatest indicated airspeed in the reversal, measured or from ground speed and wind."""
    leg, flown, unseen = _seen(case, tolerance)
    if leg is not None and leg.max_speed_kias is not None and unseen is not None:
        yield unseen
    span = case.scene.span(Phase.COURSE_REVERSAL)
    if leg is None or leg.max_speed_kias is None or flown is None or span is None or unseen is not None:
        return
    limit_kias = leg.max_speed_kias + tolerance.limit("above")
    speed_kias, sure_kt = flown.max_airspeed_kias, flown.max_airspeed_uncertainty_kt
    least = None if speed_kias is not None else least_airspeed_kias(case.scene, span.start_s, span.end_s)
    if least is not None and least[0] > limit_kias:
        speed_kias, sure_kt = least
    if speed_kias is None or sure_kt is None:
        yield _not_assessable(tolerance, "the log has no airspeed, and the wind could not be found from it")
        return
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(speed_kias - limit_kias, sure_kt),
        phase=Phase.COURSE_REVERSAL,
        variant="at least" if least is not None else "",
        value=speed_kias,
        limit=limit_kias,
        unit="kt",
        excess=speed_kias - limit_kias,
        uncertainty=sure_kt,
        start_s=span.start_s,
        end_s=span.end_s,
        at_s=span.start_s,
        facts={
            "value": knots(speed_kias),
            "over": knots(speed_kias - leg.max_speed_kias),
            "published": knots(leg.max_speed_kias),
            "allowed": knots(tolerance.limit("above")),
            "target": knots(leg.max_speed_kias - 10.0),
            "sure": knots(sure_kt),
        },
    )


def intercept_angle(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Angle at which the inbound course was flown at; a base turn ends at the course and is not judged."""
    intercept, reversal = case.measures.intercept, case.procedure.reversal
    if intercept is None or (reversal is not None and reversal.pattern is Pattern.BASE_TURN):
        return
    if intercept.angle_deg is None or intercept.angle_uncertainty_deg is None:
        return
    limit_deg = tolerance.limit("at_most")
    at_s = case.t_s(intercept.time) if intercept.time is not None else _end_of_reversal_s(case)
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(intercept.angle_deg - limit_deg, intercept.angle_uncertainty_deg),
        phase=Phase.COURSE_REVERSAL,
        value=intercept.angle_deg,
        limit=limit_deg,
        unit="deg",
        excess=intercept.angle_deg - limit_deg,
        uncertainty=intercept.angle_uncertainty_deg,
        start_s=at_s,
        end_s=at_s,
        at_s=at_s,
        facts={
            "value": degrees(intercept.angle_deg),
            "limit": degrees(limit_deg),
            "course": heading(case.procedure.inbound_course_deg),
            "advised": degrees(_INTERCEPT_DEG),
            "steer": _steer(case, at_s),
            "sure": degrees(max(intercept.angle_uncertainty_deg, 0.5)),
        }
        | (case.place(at_s) if at_s is not None else {"at": "the intercept", "where": "there"}),
    )


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
    limit_nm, over_nm = tolerance.limit("at_most"), intercept.overshoot_nm
    at_s = case.t_s(intercept.time) if intercept.time is not None else _end_of_reversal_s(case)
    lead = _lead_of_turn_in(case, at_s, intercept.angle_deg)
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(over_nm - limit_nm, intercept.overshoot_uncertainty_nm),
        phase=Phase.COURSE_REVERSAL,
        variant="none" if over_nm == 0 else "lead" if lead else "",
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
            "limit": nautical_miles(limit_nm),
            "course": heading(case.procedure.inbound_course_deg),
            "sure": nautical_miles(intercept.overshoot_uncertainty_nm),
        }
        | lead,
    )


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
