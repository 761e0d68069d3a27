"""Rules on final: the minimum descent altitude and the step-downs.

Owns      nothing below them, and not too far above the minimum once there.
Not here  finding the breaks, landings told apart (measures.minimum), the tolerances (the standard's file).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from debrief.grading.altitude_breaks import (
    CUSHION_FT,
    allowed,
    as_sure_as_the_log,
    counts,
    of_break,
    unseen_altitude,
)
from debrief.grading.assessment import Assessment
from debrief.grading.case import Case
from debrief.grading.standard import Source, Tolerance
from debrief.grading.words import feet, nautical_miles, side_name, until_of
from debrief.language import mark, tr
from debrief.measures.final_track import step_reached_s
from debrief.measures.minimum import final_breaks, judged_until_s, minimum_ft, visual_descent
from debrief.measures.stretches import stretches
from debrief.phases.model import Span, StationView
from debrief.procedures.model import Leg, Phase
from debrief.result import LimitBreak

#: A level-off begins this much above its altitude for each ft/min of descent. Mark: common practice.
_LEVEL_OFF_SHARE = 0.1
_CLIMBING_FT_MIN = 150.0
_AT_ITS_START_S = 1.0
_BRIEFLY = mark("below it too briefly to count")
#: The side to circle on is no standard's: the procedure publishes it.
_AS_PUBLISHED = Source(title="the published procedure is flown as drawn", mark="common practice")


def minimum_descent_altitude(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """The minimum on final: nothing below it, and once there not too far above until the point to go around."""
    leg, span = case.procedure.final, case.scene.span(Phase.FINAL)
    if leg is None or leg.altitude is None or leg.altitude.low_ft is None:
        return
    unseen = unseen_altitude(case, tolerance, Phase.FINAL)
    if unseen is not None:
        yield unseen
    elif span is not None:
        yield from _wrong_side(case, tolerance)
        low_ft = minimum_ft(case.scene)
        if low_ft is not None:
            yield from as_sure_as_the_log(case, _minimum(case, tolerance, span, low_ft))


def _minimum(case: Case, tolerance: Tolerance, span: Span, low_ft: float) -> Iterator[Assessment]:
    broken = [b for b in _final(case, tolerance) if b.what == "minimum_descent_altitude"]
    for a_break in broken:
        yield _low_on_final(case, tolerance, a_break, "low" if case.measures.circling is None else "circling")
    yield from _above_minimum(case, tolerance, low_ft)
    final = case.measures.final
    if not broken and final is not None and final.lowest_altitude_ft is not None:
        lowest_ft = final.lowest_altitude_ft
        landed = lowest_ft < low_ft  # legally below it, on the way to the runway or for a moment
        why = (
            tr(_BRIEFLY)
            if _dipped(case, tolerance, span, low_ft)
            else tr("below it only on the way to the runway")
        )
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
            facts={"value": feet(lowest_ft), "published": feet(low_ft, exact=True)},
            reason=why if landed else "",
        )


def _dipped(case: Case, tolerance: Tolerance, span: Span, low_ft: float) -> bool:
    """Below the minimum before the descent to the runway began, if for a moment only."""
    descent = visual_descent(case.scene)
    view = case.scene.over(span.start_s, span.end_s if descent is None else descent.start_s)
    dipped = bool(np.any(view.altitude_ft < low_ft - (tolerance.below or 0.0)))
    return dipped and case.measures.circling is None


def _wrong_side(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Circling on the side of the runway on which its minimum does not hold."""
    published, flown = case.procedure.circling, case.measures.circling
    if published is None or published.side is None or flown is None or flown.runway != published.runway.ident:
        return
    start_s = case.t_s(flown.start)
    end_s = start_s if flown.base_turn is None else case.t_s(flown.base_turn)
    if case.gap_between(start_s, end_s, case.standard.assessable.hides_turn_s):
        return  # where it flew meanwhile is not known
    yield Assessment(
        tolerance=tolerance.model_copy(update={"source": _AS_PUBLISHED}),
        outcome="within" if flown.side == published.side else "exceeded",
        phase=Phase.FINAL,
        variant="side",
        kind=tr("Side of circling"),
        start_s=start_s,
        end_s=end_s,
        at_s=start_s,
        facts={
            "flown": side_name(flown.side),
            "published": side_name(published.side),
            "runway": published.runway.ident,
            "aside": nautical_miles(flown.farthest_aside_nm),
        }
        | case.place(start_s),
    )


def step_down(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Each step on final, from the final fix until its distance is reached."""
    leg, span = case.procedure.final, case.scene.span(Phase.FINAL)
    if leg is None or not leg.step_down:
        return
    unseen = unseen_altitude(case, tolerance, Phase.FINAL)
    if unseen is not None:
        yield unseen
    elif span is not None:
        yield from as_sure_as_the_log(case, _steps(case, tolerance, span, leg))


def _steps(case: Case, tolerance: Tolerance, span: Span, leg: Leg) -> Iterator[Assessment]:
    broken = [b for b in _final(case, tolerance) if b.what == "step_down"]
    view = case.scene.over(span.start_s, span.end_s)
    for step in leg.step_down:
        until = {"until": until_of(step)}
        kind = tr("Step-down to {until}", **until) if len(leg.step_down) > 1 else ""
        of_step = [b for b in broken if b.limit_ft == step.at_or_above_ft]
        for a_break in of_step:
            yield replace(_low_on_final(case, tolerance, a_break, "", until), kind=kind)
        reached_s = step_reached_s(case.scene, view, step)
        before = view.t_s <= (np.inf if reached_s is None else reached_s)
        known_ft = view.altitude_ft[before & np.isfinite(view.altitude_ft)]
        if of_step or len(known_ft) == 0:
            continue
        lowest_ft, limit_ft = float(known_ft.min()), step.at_or_above_ft - (tolerance.below or 0.0)
        briefly = lowest_ft < limit_ft
        yield Assessment(
            tolerance=tolerance,
            outcome="within",
            phase=Phase.FINAL,
            kind=kind,
            value=None if briefly else lowest_ft,
            limit=limit_ft,
            unit="ft",
            excess=None if briefly else limit_ft - lowest_ft,
            reason=tr(_BRIEFLY) if briefly else "",
            uncertainty=case.altitude_uncertainty_ft(),
            start_s=span.start_s,
            end_s=span.end_s,
            facts={"value": feet(lowest_ft), "published": feet(step.at_or_above_ft, exact=True)} | until,
        )


def _final(case: Case, tolerance: Tolerance) -> list[LimitBreak]:
    return [b for b in final_breaks(case.scene, allowed(tolerance)) if counts(b, tolerance)]


def _low_on_final(
    case: Case,
    tolerance: Tolerance,
    a_break: LimitBreak,
    variant: str,
    more: dict[str, str] | None = None,
) -> Assessment:
    final = case.measures.final
    rate_ft_min = final.max_descent_rate_ft_min if final is not None else None
    lead_ft = max(_LEVEL_OFF_SHARE * (rate_ft_min or 0.0), CUSHION_FT)
    facts = {"lead": feet(lead_ft), "target": feet(a_break.limit_ft + CUSHION_FT)} | (more or {})
    return of_break(case, tolerance, Phase.FINAL, a_break, variant, facts)


def _above_minimum(case: Case, tolerance: Tolerance, low_ft: float) -> Iterator[Assessment]:
    """Once levelled off at the minimum: too far above it before the runway is in sight or the point is reached."""
    final, until_s = case.measures.final, judged_until_s(case.scene)
    if tolerance.above is None or final is None or final.level_off is None or until_s is None:
        return
    view = _before_the_climb(case, case.scene.over(case.t_s(final.level_off), until_s))
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
            depth_uncertainty_ft=case.altitude_uncertainty_ft(),
        )
        yield of_break(case, tolerance, Phase.FINAL, a_break, "high", {})


def _before_the_climb(case: Case, view: StationView) -> StationView:
    """Up to where a climb away sets in: the missed approach begins 50 ft higher, which may lie above the limit."""
    missed = case.scene.attempt.last(Phase.MISSED_APPROACH)
    if missed is None or len(view) == 0 or view.t_s[-1] < missed.start_s - _AT_ITS_START_S:
        return view
    level = np.flatnonzero(view.vertical_speed_ft_min < _CLIMBING_FT_MIN)
    return view.where(slice(0, int(level[-1]) + 1 if len(level) else 0))
