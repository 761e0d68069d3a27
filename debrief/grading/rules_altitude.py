"""Rules on altitude before the final: the legs' limits, and descending before the station.

Owns      which break of a limit falls under which rule.
Not here  finding the breaks (measures.altitude), the final (``rules_minimum``), the tolerances (the
          standard's file).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import numpy as np

from debrief.grading.altitude_breaks import (
    CUSHION_FT,
    LEVEL_FT_MIN,
    TO_THE_END_S,
    allowed,
    as_sure_as_the_log,
    counts,
    left_before_joined,
    left_for_next,
    left_from_below,
    next_low_ft,
    of_break,
    unseen_altitude,
)
from debrief.grading.assessment import Assessment
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import feet, heading, in_phase
from debrief.language import tr
from debrief.measures import altitude as limits
from debrief.measures.tracking import HALF_SCALE_DEG, off_course
from debrief.navigation.angles import difference_deg
from debrief.phases.model import Span
from debrief.procedures.model import Leg, Phase
from debrief.result import LimitBreak

#: A leg that goes on for so long behind a gap is still the leg from before it. [s]
_SURELY_SAME_LEG_S = 90.0


def altitude(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Altitude against each leg's limits; what is left of the station's own rule is not counted twice."""
    for name in tolerance.phases:
        phase = Phase(name)
        leg = case.scene.leg(phase)
        if leg is None or leg.altitude is None:
            continue
        unseen = unseen_altitude(case, tolerance, phase)
        if unseen is not None:
            yield unseen
        else:
            for span in case.leg_spans(phase):
                yield from as_sure_as_the_log(case, _leg(case, tolerance, span, leg))


def _leg(case: Case, tolerance: Tolerance, span: Span, leg: Leg) -> Iterator[Assessment]:
    broken = [
        a_break
        for a_break in _breaks(case, span, tolerance)
        if not (
            _told_before_station(case, span, a_break)
            or _on_the_way_down(case, span, a_break)
            or _once_inbound(case, span, a_break)
        )
    ]
    for a_break in broken:
        if _behind_gap(case, span, a_break):
            yield _doubtful(tolerance, span)
        else:
            yield _broken(case, tolerance, span.phase, _nearest(case, span, a_break))
    if not broken:
        yield from _kept(case, tolerance, span, leg)


def altitude_before_station(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Descended before the station: a break that lasts to the passage, on the way to the next leg's altitude."""
    for name in tolerance.phases:
        phase = Phase(name)
        leg = case.scene.leg(phase)
        if leg is None or leg.altitude is None or leg.altitude.low_ft is None:
            continue
        unseen = unseen_altitude(case, tolerance, phase)
        if unseen is not None:
            yield unseen
        else:
            for span in case.leg_spans(phase):
                found = _up_to_station(case, tolerance, span, leg.altitude.low_ft)
                yield from as_sure_as_the_log(case, found)


def _up_to_station(case: Case, tolerance: Tolerance, span: Span, low_ft: float) -> Iterator[Assessment]:
    passage_s = _passage_s(case, span)
    on_leg = _breaks(case, span, tolerance)
    early = {b.start for b in on_leg if _is_before_station(case, span, b)}
    told = {b.start for b in on_leg} - early  # by the leg's own rule
    below = [b for b in _to_the_passage(case, tolerance, span, passage_s) if b.start not in told]
    for a_break in below:
        if a_break.start in early and _behind_gap(case, span, a_break):
            yield _doubtful(tolerance, span)
        elif a_break.start in early or _left_s(case, tolerance, span, a_break) is not None:
            yield _early(case, tolerance, span, a_break)
        else:
            yield _over(case, tolerance, span, a_break)
    last_ft, limit_ft = float(case.scene.at(passage_s).altitude_ft[0]), low_ft - tolerance.limit("below")
    if below or not last_ft >= limit_ft:  # lower without an early descent: the leg's own rule says so
        return
    yield Assessment(
        tolerance=tolerance,
        outcome="within",
        phase=span.phase,
        value=last_ft,
        limit=limit_ft,
        unit="ft",
        excess=limit_ft - last_ft,
        uncertainty=case.altitude_uncertainty_ft(),
        start_s=span.start_s,
        end_s=passage_s,
        at_s=passage_s,
        facts={"value": feet(last_ft), "published": feet(low_ft, exact=True), "before": _before(span.phase)},
    )


def _passage_s(case: Case, span: Span) -> float:
    """The passage that a leg to the station ends with, beyond the edge of its cone; the leg's end without one."""
    passages = case.scene.attempt.passages
    ahead = [p.t_s for p in passages if not p.missed and abs(p.entry_s - span.end_s) < TO_THE_END_S]
    return max(ahead[0], span.end_s) if ahead else span.end_s


def _to_the_passage(case: Case, tolerance: Tolerance, span: Span, passage_s: float) -> tuple[LimitBreak, ...]:
    """Breaks that last beyond the edge of the cone, where the leg ends: its limit holds up to the passage itself."""
    whole = _breaks(case, replace(span, end_s=passage_s), tolerance)
    return tuple(b for b in whole if b.side == "below" and case.t_s(b.end) >= span.end_s - TO_THE_END_S)


def _left_s(case: Case, tolerance: Tolerance, span: Span, a_break: LimitBreak) -> float | None:
    """When the descent that ends in a break left the altitude to be held, surely outside the cone; else ``None``.

    It was left from no higher than the limit allows to be missed, so that nothing was left to lose before the
    station, and never paused up to the cone's edge, where more was lost than the log's altitude is in doubt.
    """
    view = case.every_second(span.start_s, span.end_s)
    level = np.nonzero(~(view.vertical_speed_ft_min < -LEVEL_FT_MIN))[0]
    if len(level) == 0 or a_break.depth_uncertainty_ft is None:
        return None
    left_ft, edge_ft = float(view.altitude_ft[level[-1]]), float(case.scene.at(span.end_s).altitude_ft[0])
    at_the_limit = left_ft - a_break.limit_ft <= tolerance.limit("below")
    surely_left = left_ft - edge_ft > a_break.depth_uncertainty_ft
    return float(view.t_s[level[-1]]) if at_the_limit and surely_left else None


def _breaks(case: Case, span: Span, tolerance: Tolerance) -> list[LimitBreak]:
    return [b for b in limits.leg_breaks(case.scene, span, allowed(tolerance)) if counts(b, tolerance)]


def _is_before_station(case: Case, span: Span, a_break: LimitBreak) -> bool:
    """Whether a break is a descent begun before the station, and not a leg flown too low.

    It lasts to the passage, and there the aircraft is still going down or already at the next leg's altitude.
    """
    if a_break.side != "below" or span.phase not in (Phase.INBOUND, Phase.INTERMEDIATE):
        return False
    if case.t_s(a_break.end) < span.end_s - TO_THE_END_S:
        return False
    last = case.scene.over(span.end_s - 10.0, span.end_s)
    if len(last) == 0:
        return False
    if float(np.nanmean(last.vertical_speed_ft_min)) < -LEVEL_FT_MIN:
        return True
    next_ft = next_low_ft(case.scene, span.phase)
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


def _ends_lowest(case: Case, span: Span) -> bool:
    """Whether a leg to the station is lowest at its end, where the rule on descending before the station has its say."""
    rules = [t for t in case.standard.rule if t.rule == "altitude_before_station" and span.phase in t.phases]
    view = case.scene.over(span.start_s, span.end_s)
    lowest_s = float(view.t_s[int(np.nanargmin(view.altitude_ft))])
    return bool(rules) and lowest_s >= span.end_s - TO_THE_END_S


def _never_down(case: Case, span: Span, a_break: LimitBreak) -> bool:
    """Whether an upper limit was not reached from the first moment of the leg to its last."""
    return (
        a_break.side == "above"
        and case.t_s(a_break.start) <= span.start_s + TO_THE_END_S
        and case.t_s(a_break.end) >= span.end_s - TO_THE_END_S
    )


def _on_the_way_down(case: Case, span: Span, a_break: LimitBreak) -> bool:
    """Whether an upper limit was not reached because the leg was too short for a descent that never paused."""
    sinking_ft_min = -case.scene.over(span.start_s, span.end_s).vertical_speed_ft_min
    return _never_down(case, span, a_break) and bool(np.nanmedian(sinking_ft_min) > LEVEL_FT_MIN)


def _nearest(case: Case, span: Span, a_break: LimitBreak) -> LimitBreak:
    """A limit that was never reached is missed by the nearest that it came, not by where the leg began."""
    if not _never_down(case, span, a_break):
        return a_break
    view = case.scene.over(span.start_s, span.end_s)
    lowest = int(np.nanargmin(view.altitude_ft))
    return replace(
        a_break,
        depth_ft=float(view.altitude_ft[lowest]) - a_break.limit_ft,
        deepest=case.scene.time(float(view.t_s[lowest])),
    )


def _once_inbound(case: Case, span: Span, a_break: LimitBreak) -> bool:
    """Whether a reversal's limit was left only when the aircraft had been on the inbound course already.

    On it and along it, but not for long enough to count as established (the next leg's limit holds from then
    on): a descent begun there breaks nothing that matters, and a tenth of a second may decide between the two.
    """
    if span.phase is not Phase.COURSE_REVERSAL or a_break.side != "below":
        return False
    course_deg = case.procedure.inbound_course_deg
    view = case.every_second(span.start_s, case.t_s(a_break.start))
    _, deviation = off_course(case.procedure, Phase.INTERMEDIATE, course_deg, view)
    off_deg = difference_deg(view.ground_track_true_deg, case.procedure.true_deg(course_deg))
    along = np.abs(off_deg) <= case.standard.joining.track_within_deg
    return bool(np.any(along & (np.abs(deviation) <= HALF_SCALE_DEG)))


def _behind_gap(case: Case, span: Span, a_break: LimitBreak) -> bool:
    """Whether a break lies in what is left of a leg behind a gap: the next leg may have begun in it."""
    started_s = case.t_s(a_break.start)
    # what the approach was before it, the gap may hide as well
    first = span.start_s == case.scene.attempt.start_s
    before_s = _SURELY_SAME_LEG_S if first else TO_THE_END_S
    return any(
        gap.seconds >= case.standard.assessable.hides_turn_s
        and span.start_s - before_s <= gap.end_s <= started_s + TO_THE_END_S
        and span.end_s - gap.end_s < _SURELY_SAME_LEG_S
        for gap in case.scene.flight.log.gaps
    )


def _doubtful(tolerance: Tolerance, span: Span) -> Assessment:
    return Assessment(
        tolerance=tolerance,
        outcome="not assessable",
        phase=span.phase,
        unit="ft",
        reason=tr("which leg it was cannot be told behind a gap of the log"),
    )


def _before(phase: Phase) -> str:
    return tr("the station") if phase is Phase.INBOUND else tr("the final fix")


def _broken(case: Case, tolerance: Tolerance, phase: Phase, a_break: LimitBreak) -> Assessment:
    low = a_break.side == "below"
    target_ft = a_break.limit_ft + (CUSHION_FT if low else 0.0)
    facts = {"In": in_phase(phase), "target": feet(target_ft)}
    begun_s, ended_s = case.t_s(a_break.start), case.t_s(a_break.end)
    if phase is Phase.COURSE_REVERSAL and low and left_before_joined(case.scene, begun_s, ended_s):
        began = case.place(begun_s)
        facts |= {"course": heading(case.procedure.inbound_course_deg)}
        facts |= {"began": began["where"], "began_at": began["at"]}
        return of_break(case, tolerance, phase, _as_sure_as_established(case, a_break), "early", facts)
    from_below = (
        left_from_below(case.scene, begun_s, ended_s) if phase is Phase.COURSE_REVERSAL and low else None
    )
    if from_below is not None:
        began = case.place(from_below[0])
        facts |= {"course": heading(case.procedure.inbound_course_deg), "held": feet(from_below[1])}
        facts |= {"began": began["where"], "began_at": began["at"]}
        return of_break(case, tolerance, phase, a_break, "low and early", facts)
    if low and left_for_next(case.scene, phase, begun_s, ended_s):
        return of_break(case, tolerance, phase, a_break, "left", facts | {"until": _until(case, phase)})
    return of_break(case, tolerance, phase, a_break, "low" if low else "high", facts)


def _until(case: Case, phase: Phase) -> str:
    """What a leg's minimum is to be held for."""
    return tr("the turn off the outbound course has begun") if phase is Phase.OUTBOUND else _passed(case)


def _as_sure_as_established(case: Case, a_break: LimitBreak) -> LimitBreak:
    """The same with what was lost in the seconds that the moment of being established is in doubt by.

    A descent begun as the course is joined: with a position every 20 s nobody can tell which of the two came first.
    """
    intercept, sure_ft = case.measures.intercept, a_break.depth_uncertainty_ft
    unsure_s = None if intercept is None else intercept.uncertainties.get("established")
    if unsure_s is None or sure_ft is None:
        return a_break
    end_s = case.t_s(a_break.end)
    view = case.scene.over(max(end_s - unsure_s, case.t_s(a_break.start)), end_s)
    if len(view) < 2 or a_break.deepest < a_break.end - timedelta(seconds=TO_THE_END_S):
        return a_break
    lost_ft = max(0.0, float(view.altitude_ft[0] - view.altitude_ft[-1]))
    return replace(a_break, depth_uncertainty_ft=float(np.hypot(sure_ft, lost_ft)))


def _over(case: Case, tolerance: Tolerance, span: Span, a_break: LimitBreak) -> Assessment:
    """In the cone a pilot sees the passage come, but not to the second: what was lost there is the doubt."""
    entered_ft = float(case.scene.at(span.end_s).altitude_ft[0])
    lost_ft = max(0.0, entered_ft - (a_break.limit_ft - a_break.depth_ft))
    sure_ft = a_break.depth_uncertainty_ft
    doubtful = None if sure_ft is None else float(np.hypot(sure_ft, lost_ft))
    begun = replace(a_break, depth_uncertainty_ft=doubtful)
    facts = {"before": _before(span.phase), "began_at": case.place(case.t_s(a_break.start))["at"]}
    return of_break(case, tolerance, span.phase, begun, "over", facts | {"passed": _passed(case)})


def _passed(case: Case) -> str:
    if case.procedure.station.is_ndb:
        return tr("the pointer has swung past the wing tip")
    return tr("the flag has changed from TO to FROM")


def _early(case: Case, tolerance: Tolerance, span: Span, a_break: LimitBreak) -> Assessment:
    left_s = _left_s(case, tolerance, span, a_break)
    began = case.place(case.t_s(a_break.start) if left_s is None else left_s)
    facts = {"before": _before(span.phase), "began": began["where"], "began_at": began["at"]}
    told = of_break(case, tolerance, span.phase, a_break, "", facts | {"passed": _passed(case)})
    if left_s is None or told.start_s is None or left_s <= told.start_s:
        return told
    return replace(told, start_s=left_s)  # low before, which the leg's own rule tells


def _kept(case: Case, tolerance: Tolerance, span: Span, leg: Leg) -> Iterator[Assessment]:
    """A leg flown within its limits: its lowest altitude, or where it has an upper limit only, its last.

    Without a value where that lies beyond the limit for a reason that is no fault (too short, or once inbound).
    """
    view = case.scene.over(span.start_s, span.end_s)
    known_ft = view.altitude_ft[np.isfinite(view.altitude_ft)]
    if len(known_ft) == 0 or leg.altitude is None:
        return
    low_ft, high_ft = limits.lowest_allowed_ft(case.scene, span), leg.altitude.high_ft
    if low_ft is not None and tolerance.below is not None:
        variant, published_ft, value_ft = "low", low_ft, float(known_ft.min())
        limit_ft = low_ft - tolerance.below
        excess_ft = limit_ft - value_ft
    elif high_ft is not None and tolerance.above is not None:
        variant, published_ft, value_ft = "high", high_ft, float(known_ft[-1])
        limit_ft = high_ft + tolerance.above
        excess_ft = value_ft - limit_ft
    else:
        return
    judged = Assessment(
        tolerance=tolerance,
        outcome="within",
        phase=span.phase,
        variant=variant,
        limit=limit_ft,
        unit="ft",
        uncertainty=case.altitude_uncertainty_ft(),
        start_s=span.start_s,
        end_s=span.end_s,
    )
    if excess_ft > 0.0:
        why = (
            tr(
                "below the limit only in the descent at its end, which is judged with the altitude kept up to there"
            )
            if variant == "low" and _ends_lowest(case, span)
            else tr(
                "beyond the limit only where that is no fault: too briefly, or on the way to or from another altitude"
            )
        )
        yield replace(judged, reason=why)
        return
    facts = {"In": in_phase(span.phase), "value": feet(value_ft), "published": feet(published_ft, exact=True)}
    yield replace(judged, value=value_ft, excess=excess_ft, facts=facts)
