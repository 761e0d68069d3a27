"""Rules on the course reversal: the pattern, its side, how far and how fast.

Owns      which pattern flown still is the published one.
Not here  recognising a pattern (measures.reversal), the intercept it ends with (``rules_intercept``), the
          tolerances (the standard's file).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import degrees, heading, knots, nautical_miles, pattern_name, side_name
from debrief.language import mark, tr
from debrief.measures.least_airspeed import least_airspeed_kias
from debrief.measures.pattern import STRAIGHT_TURN
from debrief.procedures.geometry import FIRST_TURN_DEG
from debrief.procedures.model import Leg, Pattern, Phase
from debrief.result import ReversalMeasures

_INSIDE_NM = 0.5
#: Flown to both sides, where no turn tells which was meant: the farther one alone is no proof. Mark: common practice.
_BOTH_SIDES = 0.25
#: A reversal may lie so long before what was found of an approach. [s]
_JUST_BEFORE_S = 300.0
_BEGUN_UNSEEN = mark("its beginning was not observed")


def _seen(case: Case, tolerance: Tolerance) -> tuple[Leg | None, ReversalMeasures | None, Assessment | None]:
    """The published and the flown reversal; beside them what is to be said where it was not seen."""
    leg, standing = case.procedure.reversal, case.standing(Phase.COURSE_REVERSAL)
    if leg is not None and standing.state == "not seen":
        return leg, None, _not_assessable(tolerance, standing.reason)
    seen = standing.state == "seen"
    return leg, case.measures.course_reversal if seen else None, None


def _begun_unseen(flown: ReversalMeasures) -> bool:
    """Whether the reversal began before the log did, or in a gap: its first turn may have been any."""
    return flown.turn_start_distance_nm is None


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
    attempt, facts = (
        case.scene.attempt,
        {"pattern": tr("{pattern} course reversal", pattern=pattern_name(leg.pattern.value))},
    )
    left_out = case.standing(Phase.COURSE_REVERSAL).state == "not flown" or attempt.straight_in
    if left_out:
        final = attempt.last(Phase.FINAL)
        until_s = final.start_s if final is not None else attempt.end_s
        over_station = next((p.t_s for p in attempt.passages if p.t_s <= until_s), None)
        at_s = until_s if over_station is None else over_station
        if case.gap_between(
            attempt.start_s - _JUST_BEFORE_S, until_s, case.standard.assessable.hides_reversal_s
        ):
            yield _not_assessable(tolerance, tr("it may lie in a gap of the log"))
            return
        if case.measures.arc is not None:
            return  # by the arc, which leads onto the inbound course
        if leg.when_straight_in_deg is not None:
            variant = "straight in" if over_station is not None else "straight in, joined"
            yield _straight_in(case, tolerance, leg.when_straight_in_deg, at_s, variant, facts)
            return
        yield Assessment(
            tolerance=tolerance,
            outcome="not flown",
            phase=Phase.COURSE_REVERSAL,
            variant="left out" if over_station is not None else "left out, joined",
            start_s=at_s,
            end_s=at_s,
            at_s=at_s,
            facts=facts | case.place(at_s),
        )
        return
    span = case.scene.span(Phase.COURSE_REVERSAL)
    if flown is None or span is None:
        return
    if _begun_unseen(flown):
        yield _not_assessable(tolerance, tr(_BEGUN_UNSEEN))
        return
    straight = flown.pattern == STRAIGHT_TURN
    outbound = case.scene.span(Phase.OUTBOUND)
    from_s = span.start_s if outbound is None else outbound.start_s
    if straight and case.gap_between(from_s, span.end_s, case.standard.assessable.hides_turn_s):
        yield _not_assessable(tolerance, tr("a turn of it may lie in a gap of the log"))
        return
    yield Assessment(
        tolerance=tolerance,
        outcome="not flown" if straight else "within",
        phase=Phase.COURSE_REVERSAL,
        variant="straight" if straight else "flown" if flown.pattern == leg.pattern.value else "another",
        start_s=span.start_s,
        end_s=span.end_s,
        at_s=span.start_s,
        facts=facts | case.place(span.start_s) | _first_heading(case, leg),
    )


def _straight_in(
    case: Case, tolerance: Tolerance, limit_deg: float, at_s: float, variant: str, facts: dict[str, str]
) -> Assessment:
    """The reversal left out where the procedure allows that: the arrival's angle against the limit."""
    arrival = case.measures.arrival
    if arrival is None:
        return _not_assessable(
            tolerance, tr("the arrival was not recorded, and it decides whether one is needed")
        )
    off_deg = abs(arrival.off_inbound_course_deg)
    outcome = guarded(off_deg - limit_deg, arrival.uncertainty_deg)
    return Assessment(
        tolerance=tolerance,
        outcome="not flown" if outcome == "exceeded" else outcome,
        phase=Phase.COURSE_REVERSAL,
        variant=variant,
        value=off_deg,
        limit=limit_deg,
        unit="deg",
        excess=off_deg - limit_deg,
        uncertainty=arrival.uncertainty_deg,
        start_s=at_s,
        end_s=at_s,
        at_s=at_s,
        facts=facts
        | case.place(at_s)
        | {
            "value": degrees(off_deg),
            "published": degrees(limit_deg, exact=True),
            "over": degrees(off_deg - limit_deg),
            "sure": degrees(arrival.uncertainty_deg),
        },
    )


def _first_heading(case: Case, leg: Leg) -> dict[str, str]:
    """The course of the pattern's first turn: off the outbound course to the published side."""
    course_deg, turn_deg = (
        case.procedure.outbound_course_deg,
        FIRST_TURN_DEG.get(leg.pattern or Pattern.RACETRACK),
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
    if leg is None or leg.side is None or flown is None or span is None or flown.pattern == STRAIGHT_TURN:
        return
    if flown.side is None:
        untold = (
            tr(_BEGUN_UNSEEN) if _begun_unseen(flown) else tr("the side could not be told from the turns")
        )
        yield _not_assessable(tolerance, untold)
        return
    if case.measures.arrival is not None and case.measures.arrival.entry == "parallel" and span.circuit == 0:
        # the turn inbound of a parallel entry goes the other way, through the holding side
        yield Assessment(
            tolerance=tolerance,
            outcome="within",
            phase=Phase.COURSE_REVERSAL,
            variant="parallel",
            start_s=span.start_s,
            end_s=span.end_s,
            facts={"published": side_name(leg.side)},
        )
        return
    wrong = flown.side != leg.side
    if wrong and (flown.other_side_share or 0.0) >= _BOTH_SIDES:
        yield _not_assessable(tolerance, tr("the side could not be told from the turns"))
        return
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
        facts={
            "flown": side_name(flown.side),
            "published": side_name(leg.side),
            "aside": tr("an unknown distance") if width_nm is None else nautical_miles(width_nm),
        }
        | _first_heading(case, leg),
    )


def aimed_within_nm(published_nm: float) -> float:
    """What is aimed at to stay within a published distance: half a mile inside it, and no less than half of it."""
    return max(published_nm - _INSIDE_NM, published_nm / 2.0)


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
    limit_nm = leg.within_nm + tolerance.limit("above")
    sure_nm = flown.uncertainties.get("max_distance_nm", case.position_uncertainty_nm())
    begun_nm = flown.turn_start_distance_nm
    aim_nm = aimed_within_nm(leg.within_nm)
    turn_by_nm = aim_nm - (far_nm - begun_nm) if begun_nm is not None else None
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
            "published": nautical_miles(leg.within_nm, exact=True),
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
        yield _not_assessable(
            tolerance, tr("the log has no airspeed, and the wind could not be found from it")
        )
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
