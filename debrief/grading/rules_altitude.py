"""Rules on altitude: the legs' limits, descending before the station, the minimum and the step-downs.

Owns      which break of a limit falls under which rule.
Not here  finding the breaks (measures.altitude, measures.minimum), the tolerances (the standard's file).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import feet, in_phase, nautical_miles
from debrief.measures import altitude as limits
from debrief.measures.final_track import dme_reached_s
from debrief.measures.minimum import final_breaks, judged_until_s
from debrief.measures.stretches import stretches
from debrief.phases.model import Span
from debrief.procedures.model import Leg, Phase
from debrief.result import LimitBreak

#: Slower than this is level flight: tells a leg flown too low from a descent begun too early. [ft/min]
_LEVEL_FT_MIN = 200.0
#: A break that ends this close to the end of its leg was not mended there. [s]
_TO_THE_END_S = 2.0
#: A level-off begins this much above its altitude for each ft/min of descent. Mark: common practice.
_LEVEL_OFF_SHARE = 0.1
#: Flown above a minimum by who takes it for a floor. [ft] Mark: common practice.
_CUSHION_FT = 50.0


def altitude(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Altitude against each leg's limits; what is left of the station's own rule is not counted twice."""
    for name in tolerance.phases:
        phase = Phase(name)
        leg = case.procedure.leg_of(phase)
        if leg is None or leg.altitude is None:
            continue
        unseen = _unseen(case, tolerance, phase)
        if unseen is not None:
            yield unseen
            continue
        for span in case.leg_spans(phase):
            broken = [
                a_break
                for a_break in _breaks(case, span, tolerance)
                if not _told_before_station(case, span, a_break)
            ]
            for a_break in broken:
                yield _broken(case, tolerance, phase, a_break)
            if not broken:
                yield from _kept(case, tolerance, span, leg)


def altitude_before_station(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Descended before the station: a break that lasts to the passage, on the way to the next leg's altitude."""
    for name in tolerance.phases:
        phase = Phase(name)
        leg = case.procedure.leg_of(phase)
        if leg is None or leg.altitude is None or leg.altitude.low_ft is None:
            continue
        unseen = _unseen(case, tolerance, phase)
        if unseen is not None:
            yield unseen
            continue
        for span in case.leg_spans(phase):
            early = [b for b in _breaks(case, span, tolerance) if _is_before_station(case, span, b)]
            for a_break in early:
                yield _early(case, tolerance, phase, a_break)
            last = case.scene.at(span.end_s)
            last_ft = float(last.altitude_ft[0])
            if not early and np.isfinite(last_ft):
                low_ft = leg.altitude.low_ft
                yield Assessment(
                    tolerance=tolerance,
                    outcome="within",
                    phase=phase,
                    value=last_ft,
                    limit=low_ft - (tolerance.below or 0.0),
                    unit="ft",
                    excess=low_ft - (tolerance.below or 0.0) - last_ft,
                    uncertainty=case.altitude_uncertainty_ft(),
                    start_s=span.start_s,
                    end_s=span.end_s,
                    at_s=span.end_s,
                    facts={"value": feet(last_ft), "published": feet(low_ft), "before": _before(phase)},
                )


def minimum_descent_altitude(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """The minimum on final: nothing below it, and once there not too far above until the point to go around."""
    leg = case.procedure.final
    if leg is None or leg.altitude is None or leg.altitude.low_ft is None:
        return
    unseen = _unseen(case, tolerance, Phase.FINAL)
    span = case.scene.span(Phase.FINAL)
    if unseen is not None or span is None:
        if unseen is not None:
            yield unseen
        return
    broken = [b for b in _final(case, tolerance) if b.what == "minimum_descent_altitude"]
    for a_break in broken:
        yield _low_on_final(case, tolerance, a_break, "low")
    yield from _above_minimum(case, tolerance, leg.altitude.low_ft)
    final = case.measures.final
    if not broken and final is not None and final.lowest_altitude_ft is not None:
        lowest_ft, low_ft = final.lowest_altitude_ft, leg.altitude.low_ft
        landed = lowest_ft < low_ft  # legally below it, on the way to the runway
        yield Assessment(
            tolerance=tolerance,
            outcome="within",
            phase=Phase.FINAL,
            variant="landed" if landed else "low",
            value=None if landed else lowest_ft,
            limit=low_ft - (tolerance.below or 0.0),
            unit="ft",
            excess=None if landed else low_ft - (tolerance.below or 0.0) - lowest_ft,
            uncertainty=case.altitude_uncertainty_ft(),
            start_s=span.start_s,
            end_s=span.end_s,
            facts={"value": feet(lowest_ft), "published": feet(low_ft)},
        )


def step_down(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Each step on final, from the final fix until its distance is reached."""
    leg = case.procedure.final
    if leg is None or not leg.step_down:
        return
    unseen = _unseen(case, tolerance, Phase.FINAL)
    span = case.scene.span(Phase.FINAL)
    if unseen is not None or span is None:
        if unseen is not None:
            yield unseen
        return
    broken = [b for b in _final(case, tolerance) if b.what == "step_down"]
    view = case.scene.over(span.start_s, span.end_s)
    for step in leg.step_down:
        until = {"until": nautical_miles(step.until_dme_nm).replace(" NM", "")}
        of_step = [b for b in broken if b.limit_ft == step.at_or_above_ft]
        for a_break in of_step:
            yield _low_on_final(case, tolerance, a_break, "", until)
        reached_s = dme_reached_s(case.scene, view, step.until_dme_nm)
        before = view.t_s <= (np.inf if reached_s is None else reached_s)
        known_ft = view.altitude_ft[before & np.isfinite(view.altitude_ft)]
        if of_step or len(known_ft) == 0:
            continue
        lowest_ft, limit_ft = float(known_ft.min()), step.at_or_above_ft - (tolerance.below or 0.0)
        yield Assessment(
            tolerance=tolerance,
            outcome="within",
            phase=Phase.FINAL,
            value=lowest_ft,
            limit=limit_ft,
            unit="ft",
            excess=limit_ft - lowest_ft,
            uncertainty=case.altitude_uncertainty_ft(),
            start_s=span.start_s,
            end_s=span.end_s,
            facts={"value": feet(lowest_ft), "published": feet(step.at_or_above_ft)} | until,
        )


def _unseen(case: Case, tolerance: Tolerance, phase: Phase) -> Assessment | None:
    """Not assessable, with the reason; ``None`` where the phase was seen (or was not to be flown)."""
    standing = case.standing(phase)
    reason = standing.reason if standing.state == "not seen" else ""
    if standing.state == "seen":
        reason = case.altitude_reason()
    if not reason:
        return None
    return Assessment(
        tolerance=tolerance, outcome="not assessable", phase=phase, unit=tolerance.unit, reason=reason
    )


def _long_enough(a_break: LimitBreak, tolerance: Tolerance) -> bool:
    return (a_break.end - a_break.start).total_seconds() >= tolerance.held_s


def _allowed(tolerance: Tolerance) -> limits.Tolerance:
    # A side without a tolerance in the standard is not judged at all: no break is that deep.
    below_ft = tolerance.below if tolerance.below is not None else np.inf
    above_ft = tolerance.above if tolerance.above is not None else np.inf
    return limits.Tolerance(below_ft=below_ft, above_ft=above_ft)


def _breaks(case: Case, span: Span, tolerance: Tolerance) -> list[LimitBreak]:
    return [b for b in limits.leg_breaks(case.scene, span, _allowed(tolerance)) if _long_enough(b, tolerance)]


def _final(case: Case, tolerance: Tolerance) -> list[LimitBreak]:
    return [b for b in final_breaks(case.scene, _allowed(tolerance)) if _long_enough(b, tolerance)]


def _is_before_station(case: Case, span: Span, a_break: LimitBreak) -> bool:
    """Whether a break is a descent begun before the station, and not a leg flown too low.

    It lasts to the passage, and there the aircraft is still going down or already at the next leg's altitude.
    """
    if a_break.side != "below" or span.phase not in (Phase.INBOUND, Phase.INTERMEDIATE):
        return False
    if case.t_s(a_break.end) < span.end_s - _TO_THE_END_S:
        return False
    last = case.scene.over(span.end_s - 10.0, span.end_s)
    if len(last) == 0:
        return False
    if float(np.nanmean(last.vertical_speed_ft_min)) < -_LEVEL_FT_MIN:
        return True
    next_ft = _next_low_ft(case, span.phase)
    tolerance_ft = abs(a_break.limit_ft - next_ft) / 3.0 if next_ft is not None else 0.0
    return next_ft is not None and abs(float(last.altitude_ft[-1]) - next_ft) <= tolerance_ft


def _told_before_station(case: Case, span: Span, a_break: LimitBreak) -> bool:
    """Whether the standard's rule on descending before the station says all there is to say about a break.

    Not where it began far from the station: then the leg itself was flown too low.
    """
    if not _is_before_station(case, span, a_break):
        return False
    began_nm = float(case.scene.at(case.t_s(a_break.start)).distance_nm[0])
    return any(
        t.rule == "altitude_before_station" and span.phase in t.phases and began_nm <= t.within_nm
        for t in case.standard.rule
    )


def _next_low_ft(case: Case, phase: Phase) -> float | None:
    """The lowest altitude of the leg after the station; on final that of the first step."""
    if phase is Phase.INBOUND and case.procedure.outbound is not None:
        limit = case.procedure.outbound.altitude
        return limit.low_ft if limit is not None else None
    final = case.procedure.final
    if final is None:
        return None
    if final.step_down:
        return final.step_down[0].at_or_above_ft
    return final.altitude.low_ft if final.altitude is not None else None


def _before(phase: Phase) -> str:
    return "the station" if phase is Phase.INBOUND else "the final fix"


def _measured(
    case: Case, tolerance: Tolerance, phase: Phase, a_break: LimitBreak, variant: str, facts: dict[str, str]
) -> Assessment:
    """A break as an assessment: the altitude reached against the limit with its tolerance."""
    below = a_break.side == "below"
    allowed_ft = (tolerance.below if below else tolerance.above) or 0.0
    sign = -1.0 if below else 1.0
    excess_ft, sure_ft = a_break.depth_ft - allowed_ft, case.altitude_uncertainty_ft()
    at_s = case.t_s(a_break.deepest)
    value_ft = a_break.limit_ft + sign * a_break.depth_ft
    return Assessment(
        tolerance=tolerance,
        outcome=guarded(excess_ft, sure_ft),
        phase=phase,
        variant=variant,
        value=value_ft,
        limit=a_break.limit_ft + sign * allowed_ft,
        unit="ft",
        excess=excess_ft,
        uncertainty=sure_ft,
        start_s=case.t_s(a_break.start),
        end_s=case.t_s(a_break.end),
        at_s=at_s,
        facts={
            "value": feet(value_ft),
            "depth": feet(a_break.depth_ft),
            "published": feet(a_break.limit_ft),
            "allowed": feet(allowed_ft),
            "sure": feet(sure_ft),
        }
        | case.place(at_s)
        | facts,
    )


def _broken(case: Case, tolerance: Tolerance, phase: Phase, a_break: LimitBreak) -> Assessment:
    low = a_break.side == "below"
    target_ft = a_break.limit_ft + (_CUSHION_FT if low else 0.0)
    facts = {"In": in_phase(phase), "target": feet(target_ft)}
    return _measured(case, tolerance, phase, a_break, "low" if low else "high", facts)


def _early(case: Case, tolerance: Tolerance, phase: Phase, a_break: LimitBreak) -> Assessment:
    began = case.place(case.t_s(a_break.start))
    facts = {"before": _before(phase), "began": began["where"], "began_at": began["at"]}
    facts["passed"] = (
        "the needle has swung past the wing tip"
        if case.procedure.station.is_ndb
        else "the flag has changed from TO to FROM"
    )
    return _measured(case, tolerance, phase, a_break, "", facts)


def _low_on_final(
    case: Case,
    tolerance: Tolerance,
    a_break: LimitBreak,
    variant: str,
    more: dict[str, str] | None = None,
) -> Assessment:
    final = case.measures.final
    rate_ft_min = final.max_descent_rate_ft_min if final is not None else None
    lead_ft = max(_LEVEL_OFF_SHARE * (rate_ft_min or 0.0), _CUSHION_FT)
    facts = {"lead": feet(lead_ft), "target": feet(a_break.limit_ft + _CUSHION_FT)} | (more or {})
    return _measured(case, tolerance, Phase.FINAL, a_break, variant, facts)


def _above_minimum(case: Case, tolerance: Tolerance, low_ft: float) -> Iterator[Assessment]:
    """Once levelled off at the minimum: too far above it before the runway is in sight or the point is reached."""
    final, until_s = case.measures.final, judged_until_s(case.scene)
    if tolerance.above is None or final is None or final.level_off is None or until_s is None:
        return
    view = case.scene.over(case.t_s(final.level_off), until_s)
    excess_ft = view.altitude_ft - low_ft - tolerance.above
    for stretch in stretches(view.t_s, excess_ft, view.segment):
        if stretch.seconds < tolerance.held_s:
            continue
        highest = stretch.first + int(np.nanargmax(excess_ft[stretch.part]))
        a_break = LimitBreak(
            limit_ft=low_ft,
            side="above",
            what="minimum_descent_altitude",
            start=case.scene.time(stretch.start_s),
            end=case.scene.time(stretch.end_s),
            depth_ft=float(view.altitude_ft[highest]) - low_ft,
            deepest=case.scene.time(float(view.t_s[highest])),
        )
        yield _measured(case, tolerance, Phase.FINAL, a_break, "high", {})


def _kept(case: Case, tolerance: Tolerance, span: Span, leg: Leg) -> Iterator[Assessment]:
    """A leg flown within its limits: the side on which it came nearer to one."""
    view = case.scene.over(span.start_s, span.end_s)
    known_ft = view.altitude_ft[np.isfinite(view.altitude_ft)]
    if len(known_ft) == 0 or leg.altitude is None:
        return
    sure_ft = case.altitude_uncertainty_ft()
    low_ft, high_ft = leg.altitude.low_ft, leg.altitude.high_ft
    if low_ft is not None and tolerance.below is not None:
        value_ft, limit_ft, variant, published_ft = (
            float(known_ft.min()), low_ft - tolerance.below, "low", low_ft,
        )  # fmt: skip
        excess_ft = limit_ft - value_ft
    elif high_ft is not None and tolerance.above is not None:
        # The leg before may have been higher: where it ended is what counts.
        value_ft, limit_ft, variant, published_ft = (
            float(known_ft[-1]), high_ft + tolerance.above, "high", high_ft,
        )  # fmt: skip
        excess_ft = value_ft - limit_ft
    else:
        return
    yield Assessment(
        tolerance=tolerance,
        outcome="within",
        phase=span.phase,
        variant=variant,
        value=value_ft,
        limit=limit_ft,
        unit="ft",
        excess=min(excess_ft, 0.0),
        uncertainty=sure_ft,
        start_s=span.start_s,
        end_s=span.end_s,
        facts={
            "In": in_phase(span.phase),
            "value": feet(value_ft),
            "published": feet(published_ft),
        },
    )
