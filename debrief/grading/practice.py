"""What to practise: for each of the first causes one exercise, with this flight's own numbers in it.

Owns      the numbers that an exercise asks for, and which of its variants is due.
Not here  the words (``exercises``), which finding is a cause (``causes``).
Source    The formulas are those of the measures and of ``navigation``; the aims are common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from debrief.grading.evidence import Situation, begun_on_the_way_in, is_low, left_too_early, published_length
from debrief.grading.exercises import EXERCISES, POINTER_EXERCISES
from debrief.grading.needle_scale import by_pointer
from debrief.grading.path_advised import join_before_nm, path_advised
from debrief.grading.rules_final import MARGIN_SHARE
from debrief.grading.rules_intercept import crossed_turning
from debrief.grading.rules_reversal import aimed_within_nm
from debrief.grading.words import (
    course_name,
    degrees,
    dme,
    feet,
    feet_a_minute,
    heading,
    knots,
    minutes,
    nautical_miles,
    pattern_name,
    phase_name,
    seconds,
    side_name,
    until_of,
)
from debrief.language import tr
from debrief.measures.tracking import scored_course_deg
from debrief.navigation.descent import descent_rate_ft_min
from debrief.navigation.turns import lateral_lead_nm, procedure_radius_nm
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.navigation.wind import heading_and_airspeed, wind_correction_deg
from debrief.procedures.geometry import FIRST_TURN_DEG
from debrief.procedures.model import Leg, Phase
from debrief.result import Finding, Practice

MOST_PRACTISED = 3
_CUSHION_FT = 50.0
_LEVEL_OFF_SHARE = 0.1  # of the rate of descent
_HALF = 0.5
_STATION_SHARE = 1.0 / 3.0
OVERHEAD_FROM_DEG = 110.0  # a change of course from which a turn begun overhead is as good
_READY_NM = 0.5
_SLOWER_KT = 10.0
_INTERCEPT_DEG = 45.0
_AROUND_FT_MIN = 150.0

Facts = tuple[str, dict[str, str]]  # the variant, and its quantities


def practice(at: Situation, causes: Sequence[Finding]) -> tuple[Practice, ...]:
    """One exercise a cause, the first cause's first, and three at most.

    Each of another rule before a second one of the same; what two causes ask alike is asked once.
    """
    chosen: dict[tuple[str, str], Practice] = {}
    for finding in (*_first_of_each_rule(causes), *causes):
        variant, facts = _FACTS[finding.rule](at, finding)
        words = EXERCISES[finding.rule, variant]
        if by_pointer(at.scene.procedure, finding.phase):
            words = POINTER_EXERCISES.get((finding.rule, variant), words)
        what, exercise, aim = (tr(text, **facts) for text in words)
        asked = Practice(what=what, exercise=exercise, aim=aim, finding=finding.number)
        chosen.setdefault((finding.rule, variant), asked)
    kept = list(chosen.values())[:MOST_PRACTISED]
    numbers = [finding.number for finding in causes]
    return tuple(sorted(kept, key=lambda asked: numbers.index(asked.finding or 0)))


def _first_of_each_rule(causes: Sequence[Finding]) -> list[Finding]:
    first: dict[str, Finding] = {}
    for finding in causes:
        first.setdefault(finding.rule, finding)
    return list(first.values())


def _leg(at: Situation, finding: Finding) -> Leg | None:
    return at.scene.leg(Phase(finding.phase)) if finding.phase is not None else None


def _limit(finding: Finding) -> float:
    return finding.limit if finding.limit is not None else float("nan")


def _altitude(at: Situation, finding: Finding) -> Facts:
    leg = _leg(at, finding)
    limits = leg.altitude if leg is not None else None
    low = is_low(finding)
    published_ft = (limits.low_ft if low else limits.high_ft) if limits is not None else None
    if published_ft is None:
        published_ft = _limit(finding)
    early = low and finding.phase == Phase.COURSE_REVERSAL and begun_on_the_way_in(at, finding)
    left = low and not early and left_too_early(at, finding)
    return "early" if early else "left" if left else "low" if low else "high", {
        "leg": phase_name(finding.phase or Phase.INBOUND),
        "published": feet(published_ft, exact=True),
        "target": feet(published_ft + (_CUSHION_FT if low else -_CUSHION_FT)),
    }


def _before_station(at: Situation, finding: Finding) -> Facts:
    return "", _altitude(at, finding)[1]


def _minimum(at: Situation, finding: Finding) -> Facts:
    circling = at.scene.procedure.circling
    if circling is not None and at.measures.circling is not None:
        low_ft = circling.altitude.low_ft or 0.0
        return "circling" if finding.value is not None else "side", {
            "published": feet(low_ft, exact=True),
            "ceiling": feet(low_ft + 2.0 * _CUSHION_FT),
            "side": side_name(circling.side or at.measures.circling.side),
            "runway": circling.runway.ident,
        }
    final, published_ft = at.measures.final, at.scene.procedure.low_ft(Phase.FINAL)
    if published_ft is None:
        published_ft = _limit(finding)
    rate_ft_min = (final.max_descent_rate_ft_min if final is not None else None) or 0.0
    return "low" if is_low(finding) else "high", {
        "published": feet(published_ft, exact=True),
        "ceiling": feet(published_ft + _CUSHION_FT),
        "lead": feet(max(_LEVEL_OFF_SHARE * rate_ft_min, _CUSHION_FT)),
    }


def _step_down(at: Situation, finding: Finding) -> Facts:
    leg, limit_ft = at.scene.procedure.final, _limit(finding)
    steps = leg.step_down if leg is not None else ()
    step = min(steps, key=lambda s: abs(s.at_or_above_ft - limit_ft), default=None)
    published_ft = step.at_or_above_ft if step is not None else limit_ft
    return "", {
        "published": feet(published_ft, exact=True),
        "target": feet(published_ft + _CUSHION_FT),
        "until": until_of(step) if step is not None else tr("the next step"),
    }


def _tracking(at: Situation, finding: Finding) -> Facts:
    phase, procedure, wind = Phase(finding.phase or Phase.FINAL), at.scene.procedure, at.scene.wind
    course_deg = scored_course_deg(procedure, phase)
    if course_deg is None:
        course_deg = procedure.inbound_course_deg
    half = _HALF * _limit(finding)
    facts = {
        "course": course_name(course_deg, phase, ndb=at.scene.procedure.station.is_ndb),
        "half": nautical_miles(half) if finding.unit == "NM" else degrees(half, nearest=0.5),
    }
    span = at.scene.span(phase)
    if wind is None or span is None:
        return "", facts
    # the leg's own airspeed, not that of the turns: a final is flown slower
    leg = at.scene.over(span.start_s, span.end_s)
    _, airspeeds_kt = heading_and_airspeed(
        leg.ground_track_true_deg, leg.groundspeed_kt, wind.from_true_deg, wind.speed_kt
    )
    tas_kt = float(np.median(airspeeds_kt)) if len(leg) else float("nan")
    correction_deg = wind_correction_deg(
        procedure.true_deg(course_deg), tas_kt, wind.from_true_deg, wind.speed_kt
    )
    if not abs(correction_deg) >= 1.0:
        return "", facts
    return "wind", facts | {"heading": heading(course_deg + correction_deg)}


def _inbound_course(at: Situation) -> dict[str, str]:
    return {"course": course_name(at.scene.procedure.inbound_course_deg, Phase.INTERMEDIATE, ndb=False)}


def _not_established(at: Situation, finding: Finding) -> Facts:
    return "", _inbound_course(at) | {"limit": degrees(_limit(finding), exact=True)}


def _reverse_sensing(at: Situation, finding: Finding) -> Facts:
    return "", _course_of(at, finding)


def _needle_chasing(at: Situation, finding: Finding) -> Facts:
    cone = finding.phase == Phase.STATION_PASSAGE
    return ("cone", {}) if cone else ("", _course_of(at, finding))


def _weaving(at: Situation, finding: Finding) -> Facts:
    return "", _course_of(at, finding) | {"half": degrees(_HALF * _limit(finding), nearest=1.0)}


def _course_of(at: Situation, finding: Finding) -> dict[str, str]:
    phase = Phase(finding.phase or Phase.FINAL)
    course_deg = scored_course_deg(at.scene.procedure, phase)
    if course_deg is None:
        return _inbound_course(at)
    return {"course": course_name(course_deg, phase, ndb=at.scene.procedure.station.is_ndb)}


def _station_missed(_: Situation, finding: Finding) -> Facts:
    return "", {"aim": nautical_miles(_STATION_SHARE * _limit(finding))}


def _turn_lead(at: Situation, finding: Finding) -> Facts:
    turn, half = at.measures.turn, nautical_miles(_HALF * abs(_limit(finding)))
    change_deg = abs(turn.change_deg) if turn is not None else float("nan")
    speed_kt = turn.groundspeed_kt if turn is not None else float("nan")
    lead_nm = turn.exact_lead_nm if turn is not None and turn.exact_lead_nm is not None else 0.0
    facts = {"half": half, "change": degrees(change_deg, nearest=1.0), "speed": knots(speed_kt)}
    late = finding.value is not None and finding.value < 0
    if not (lead_nm > 0 and speed_kt > 0) or (late and change_deg >= OVERHEAD_FROM_DEG):
        return "overhead", facts
    lead_s = lead_nm / speed_kt * SECONDS_PER_HOUR
    return "lead", facts | {"lead": nautical_miles(lead_nm), "seconds": seconds(lead_s)}


def _outbound_length(at: Situation, finding: Finding) -> Facts:
    published, limit = published_length(at, finding), _limit(finding)
    half = _HALF * abs(limit - published)
    if finding.unit == "NM":
        ready_nm = max(published - _READY_NM, 0.0)
        return "distance", {"published": dme(published), "ready": dme(ready_nm), "half": nautical_miles(half)}
    return "time", {"published": minutes(published), "half": seconds(half)}


def _reversal_missing(at: Situation, _: Finding) -> Facts:
    leg = at.scene.procedure.reversal
    return "", {
        "pattern": pattern_name(leg.pattern.value)
        if leg is not None and leg.pattern is not None
        else tr("published")
    }


def _reversal_side(at: Situation, _: Finding) -> Facts:
    procedure = at.scene.procedure
    leg, course_deg = procedure.reversal, procedure.outbound_course_deg
    side = leg.side if leg is not None else None
    first_deg = course_deg if course_deg is not None else procedure.inbound_course_deg + 180.0
    turn_deg = FIRST_TURN_DEG.get(leg.pattern, 0.0) if leg is not None and leg.pattern is not None else 0.0
    said = side_name(side) if side is not None else tr("published side")
    return "", {"side": said, "first": heading(first_deg + (turn_deg if side == "right" else -turn_deg))}


def _reversal_distance(at: Situation, finding: Finding) -> Facts:
    leg, flown = at.scene.procedure.reversal, at.measures.course_reversal
    published_nm = (leg.within_nm if leg is not None else None) or _limit(finding)
    inside_nm = aimed_within_nm(published_nm)
    facts = {"published": nautical_miles(published_nm, exact=True), "inside": nautical_miles(inside_nm)}
    begun_nm = flown.turn_start_distance_nm if flown is not None else None
    if begun_nm is None or finding.value is None:
        return "", facts
    turn_by_nm = inside_nm - (finding.value - begun_nm)
    return ("turn by", facts | {"turn_by": nautical_miles(turn_by_nm)}) if turn_by_nm > 0 else ("", facts)


def _reversal_speed(at: Situation, finding: Finding) -> Facts:
    leg = at.scene.procedure.reversal
    published_kias = (leg.max_speed_kias if leg is not None else None) or _limit(finding)
    return "", {"target": tr("{speed} indicated", speed=knots(published_kias - _SLOWER_KT))}


def _intercept_angle(at: Situation, _: Finding) -> Facts:
    course_deg = at.scene.procedure.inbound_course_deg
    return "", {"left": heading(course_deg - _INTERCEPT_DEG), "right": heading(course_deg + _INTERCEPT_DEG)}


def _intercept_overshoot(at: Situation, finding: Finding) -> Facts:
    facts = _inbound_course(at) | {"half": nautical_miles(_HALF * _limit(finding))}
    if finding.start is None:
        return "", facts
    speed_kt = float(at.scene.at(at.t_s(finding.start)).groundspeed_kt[0])
    if not (np.isfinite(speed_kt) and speed_kt > 0):
        return "", facts
    intercept = at.measures.intercept
    if intercept is not None and crossed_turning(at.scene, intercept):
        room_nm = 2.0 * float(procedure_radius_nm(speed_kt))
        return "turning", facts | {"speed": knots(speed_kt), "room": nautical_miles(room_nm)}
    return "lead", facts | {
        "speed": knots(speed_kt),
        "angle": degrees(_INTERCEPT_DEG),
        "lead": nautical_miles(float(lateral_lead_nm(speed_kt, _INTERCEPT_DEG))),
    }


def _descent_rate(at: Situation, finding: Finding) -> Facts:
    """The rate that the path takes at the mean speed; slower, where that is not well within the limit."""
    final, limit_ft_min = at.measures.final, _limit(finding)
    speeds = final.groundspeed_kt if final is not None else None
    speed_kt = speeds.mean if speeds is not None else float("nan")
    path_deg, path = path_advised(at.scene, final)
    far_nm = join_before_nm(at.scene, path_deg)
    if far_nm is not None:
        return "steep", {"far": nautical_miles(far_nm), "path": path}
    needed_ft_min = float(descent_rate_ft_min(speed_kt, path_deg))
    variant = ""
    if needed_ft_min > MARGIN_SHARE * limit_ft_min:
        variant = "slower"
        speed_kt *= MARGIN_SHARE * limit_ft_min / needed_ft_min
        needed_ft_min = MARGIN_SHARE * limit_ft_min
    return variant, {
        "speed": knots(speed_kt),
        "path": path,
        "needed": feet_a_minute(needed_ft_min),
        "least": feet_a_minute(needed_ft_min - _AROUND_FT_MIN),
        "most": feet_a_minute(needed_ft_min + _AROUND_FT_MIN),
    }


def _stabilised(at: Situation, _: Finding) -> Facts:
    final = at.measures.final
    failed = [gate.height_ft for gate in final.gates if gate.stable is False] if final is not None else []
    return "", {"gate": feet(max(failed, default=1000.0))}


def _missed_approach(at: Situation, finding: Finding) -> Facts:
    if finding.unit == "ft/min":
        return "climb", {"limit": feet_a_minute(_limit(finding), exact=True)}
    published, course_deg = at.scene.procedure.missed_approach, at.scene.procedure.missed_approach_course_deg
    if finding.unit != "NM" and published is not None and course_deg is not None:
        limits = published.altitude
        altitude_ft = limits.low_ft if limits.low_ft is not None else limits.high_ft
        return "path", {"course": heading(course_deg), "altitude": feet(altitude_ft or 0.0)}
    leg = at.scene.procedure.final
    extent = leg.missed_approach_point if leg is not None else None
    point = tr("the missed approach point")
    if extent is not None and extent.dme_nm is not None:
        point = tr("{dme} DME", dme=dme(extent.dme_nm))
    elif extent is not None and extent.minutes is not None:
        point = tr("{minutes} from the final fix", minutes=minutes(extent.minutes * SECONDS_PER_MINUTE))
    return "late", {"point": point, "half": nautical_miles(_HALF * _limit(finding))}


def _arc(at: Situation, _: Finding) -> Facts:
    arc = at.scene.procedure.arc
    return "", {"published": dme(arc.dme_nm if arc is not None else float("nan"))}


_FACTS: dict[str, Callable[[Situation, Finding], Facts]] = {
    "altitude": _altitude,
    "altitude_before_station": _before_station,
    "minimum_descent_altitude": _minimum,
    "step_down": _step_down,
    "tracking": _tracking,
    "not_established": _not_established,
    "reverse_sensing": _reverse_sensing,
    "needle_chasing": _needle_chasing,
    "weaving": _weaving,
    "station_missed": _station_missed,
    "turn_lead": _turn_lead,
    "outbound_length": _outbound_length,
    "reversal_missing": _reversal_missing,
    "reversal_side": _reversal_side,
    "reversal_distance": _reversal_distance,
    "reversal_speed": _reversal_speed,
    "intercept_angle": _intercept_angle,
    "intercept_overshoot": _intercept_overshoot,
    "arc": _arc,
    "descent_rate": _descent_rate,
    "stabilised": _stabilised,
    "missed_approach": _missed_approach,
}
