"""Rules on the final and the missed approach: descent rate, the stabilised gates, going around.

Owns      the verdict on gates whose measures have several reasons.
Not here  the minimum and the steps (``rules_altitude``), tracking (``rules_tracking``), measuring (measures).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.grading.assessment import Assessment, Outcome, guarded
from debrief.grading.case import NO_ALTITUDE, Case
from debrief.grading.path_advised import join_before_nm, path_advised
from debrief.grading.rules_missed import missed_altitude, missed_course
from debrief.grading.standard import Tolerance
from debrief.grading.words import (
    dme,
    feet,
    feet_a_minute,
    feet_a_minute_sure,
    knots,
    minutes,
    nautical_miles,
    sentence_list,
)
from debrief.language import tr
from debrief.measures.climb import climb_rate_sure_ft_min
from debrief.measures.descent import RATE_OVER_S
from debrief.measures.gates import gates
from debrief.navigation.descent import descent_rate_ft_min
from debrief.navigation.radials import FULL_SCALE_DEG
from debrief.navigation.units import SECONDS_PER_MINUTE
from debrief.phases.model import Span
from debrief.procedures.model import Phase
from debrief.result import MissedMeasures

MARGIN_SHARE = 0.8  # of a greatest rate: what to plan with
_CLIMBING_FT = 100.0
_ALREADY_CLIMBING_S = 10.0  # the lowest altitude so soon behind a gap may be one of the climb


def _final_unseen(case: Case, tolerance: Tolerance) -> Assessment | None:
    standing = case.standing(Phase.FINAL)
    reason = standing.reason if standing.state == "not seen" else ""
    if standing.state == "seen" and not case.has_altitude():
        reason = tr(NO_ALTITUDE)
    if not reason:
        return None
    return Assessment(
        tolerance=tolerance, outcome="not assessable", phase=Phase.FINAL, unit=tolerance.unit, reason=reason
    )


def descent_rate(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Greatest rate of descent on final, over 10 s."""
    unseen, final = _final_unseen(case, tolerance), case.measures.final
    if unseen is not None:
        yield unseen
        return
    if final is None or final.max_descent_rate_ft_min is None or final.max_descent_rate_time is None:
        return
    rate_ft_min, limit_ft_min = final.max_descent_rate_ft_min, tolerance.limit("at_most")
    sure_ft_min = final.max_descent_rate_uncertainty_ft_min or 0.0
    at_s = case.t_s(final.max_descent_rate_time)
    # the mean, as the exercise has it: two speeds and two rates for one final would be a riddle
    speeds_kt = final.groundspeed_kt
    speed_kt = speeds_kt.mean if speeds_kt is not None else float(case.scene.at(at_s).groundspeed_kt[0])
    path_deg, path = path_advised(case.scene, final)
    needed_ft_min = float(descent_rate_ft_min(speed_kt, path_deg))
    outcome = guarded(rate_ft_min - limit_ft_min, sure_ft_min)
    far_nm = join_before_nm(case.scene, path_deg) if outcome == "exceeded" else None
    too_fast = outcome == "exceeded" and far_nm is None and needed_ft_min > limit_ft_min
    yield Assessment(
        tolerance=tolerance,
        outcome=outcome,
        phase=Phase.FINAL,
        variant="steep" if far_nm is not None else "slower" if too_fast else "",
        value=rate_ft_min,
        limit=limit_ft_min,
        unit="ft/min",
        excess=rate_ft_min - limit_ft_min,
        uncertainty=sure_ft_min,
        start_s=at_s - RATE_OVER_S / 2.0,
        end_s=at_s + RATE_OVER_S / 2.0,
        at_s=at_s,
        facts={
            "value": feet_a_minute(rate_ft_min),
            "limit": feet_a_minute(limit_ft_min, exact=True),
            "speed": knots(speed_kt),
            "path": path,
            "needed": feet_a_minute(needed_ft_min),
            "sure": feet_a_minute_sure(sure_ft_min),
        }
        | ({"slower": knots(MARGIN_SHARE * speed_kt * limit_ft_min / needed_ft_min)} if too_fast else {})
        | ({} if far_nm is None else {"far": nautical_miles(far_nm)})
        | case.place(at_s),
    )


def stabilised(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """The standard's gates: outside its limits below one, and by more than the log's own doubt."""
    unseen, span = _final_unseen(case, tolerance), case.scene.span(Phase.FINAL)
    final = case.measures.final
    if unseen is not None or span is None or final is None:
        if unseen is not None:
            yield unseen
        return
    limits = case.standard.gate_limits
    found = final.gates  # measured by the same limits
    surely = (
        gates(case.scene, limits, surely=True)[0] if any(gate.stable is False for gate in found) else found
    )
    off_scale = limits.max_deviation_deg is not None and limits.max_deviation_deg >= FULL_SCALE_DEG
    for gate, surely_gate in zip(found, surely, strict=True):
        if gate.stable is None:
            continue
        at_s = case.t_s(gate.time)
        unstable: Outcome = "exceeded" if surely_gate.stable is False else "marginal"
        yield Assessment(
            tolerance=tolerance,
            outcome="within" if gate.stable else unstable,
            phase=Phase.FINAL,
            variant="lost" if off_scale and "course" in gate.outside else "",
            start_s=at_s,
            end_s=span.end_s,
            at_s=at_s,
            facts={
                "gate": feet(gate.height_ft),
                "what": sentence_list(gate.reasons),
            }
            | case.place(at_s),
        )


def missed_approach(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Where the climb away begins against the missed approach point; its rate.

    Without a published point it is the station on the aerodrome; elsewhere nothing says where to climb.
    """
    standing, missed = case.standing(Phase.MISSED_APPROACH), case.measures.missed_approach
    if standing.state == "not seen":
        yield Assessment(
            tolerance=tolerance,
            outcome="not assessable",
            phase=Phase.MISSED_APPROACH,
            unit=tolerance.unit,
            reason=standing.reason,
        )
    span = case.scene.span(Phase.MISSED_APPROACH)
    if standing.state != "seen" or missed is None or span is None:
        return
    final = case.procedure.final
    published = final is not None and final.missed_approach_point is not None
    if tolerance.unit == "NM" and (published or case.procedure.station_on_aerodrome):
        yield _begun(case, tolerance, span, missed)
    if tolerance.unit == "ft/min" and missed.climb_rate_ft_min is not None:
        yield from _climbed(case, tolerance, span, missed.climb_rate_ft_min)
    if tolerance.unit == "deg":
        yield from missed_course(case, tolerance, span, missed)
    if tolerance.unit == "ft":
        yield from missed_altitude(case, tolerance, span, missed)


def _begun(case: Case, tolerance: Tolerance, span: Span, missed: MissedMeasures) -> Assessment:
    past_nm = missed.start_past_point_nm
    hidden = case.gap_between(
        span.start_s - _ALREADY_CLIMBING_S, span.start_s, case.standard.assessable.hides_turn_s
    )
    if past_nm is None or hidden:
        return Assessment(
            tolerance=tolerance,
            outcome="not assessable",
            phase=Phase.MISSED_APPROACH,
            unit="NM",
            reason=tr("its beginning lies in a gap of the log")
            if hidden
            else tr("the missed approach point is not known"),
        )
    limit_nm, sure_nm = tolerance.limit("above"), missed.uncertainties.get("start_past_point_nm", np.nan)
    return Assessment(
        tolerance=tolerance,
        outcome=guarded(past_nm - limit_nm, sure_nm),
        phase=Phase.MISSED_APPROACH,
        variant="late",
        value=past_nm,
        limit=limit_nm,
        unit="NM",
        excess=past_nm - limit_nm,
        uncertainty=sure_nm,
        start_s=span.start_s,
        end_s=span.end_s,
        at_s=span.start_s,
        facts={
            "value": nautical_miles(abs(past_nm)),
            "past": tr("past") if past_nm > 0 else tr("before"),
            "limit": nautical_miles(limit_nm, exact=True),
            "point": _point(case),
            "sure": nautical_miles(sure_nm),
        }
        | case.place(span.start_s),
    )


def _point(case: Case) -> str:
    """The missed approach point, as a pilot briefs it."""
    final = case.procedure.final
    extent = final.missed_approach_point if final is not None else None
    if extent is not None and extent.dme_nm is not None:
        return tr("{dme} DME", dme=dme(extent.dme_nm))
    if extent is not None and extent.minutes is not None:
        return tr("{minutes} from the final fix", minutes=minutes(extent.minutes * SECONDS_PER_MINUTE))
    return tr("the station")


def _climbed(case: Case, tolerance: Tolerance, span: Span, rate_ft_min: float) -> Iterator[Assessment]:
    if span.end_s - span.start_s < case.standard.assessable.climb_s or rate_ft_min <= 0.0:
        return  # too short to tell, or given up again: no climb to average
    limit_ft_min = tolerance.limit("at_least")
    rate_ft_min, from_s = max((rate_ft_min, span.start_s), _established_climb(case, span))
    sure_ft_min = climb_rate_sure_ft_min(case.scene, span, from_s)
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(limit_ft_min - rate_ft_min, sure_ft_min),
        phase=Phase.MISSED_APPROACH,
        variant="climb",
        value=rate_ft_min,
        limit=limit_ft_min,
        unit="ft/min",
        excess=limit_ft_min - rate_ft_min,
        uncertainty=sure_ft_min,
        start_s=span.start_s,
        end_s=span.end_s,
        at_s=span.start_s,
        facts={
            "value": feet_a_minute(rate_ft_min),
            "limit": feet_a_minute(limit_ft_min, exact=True),
            "sure": feet_a_minute_sure(sure_ft_min),
        }
        | case.place(span.start_s),
    )


def _established_climb(case: Case, span: Span) -> tuple[float, float]:
    """Mean rate once 100 ft up, and since when: a noisy altitude may put the climb's beginning into level flight. [ft/min, s]

    Minus infinity where too little of the climb is left to tell.
    """
    view = case.scene.over(span.start_s, span.end_s)
    view = view.where(np.isfinite(view.altitude_ft))
    if len(view) == 0:
        return -np.inf, span.start_s
    low = np.flatnonzero(view.altitude_ft < view.altitude_ft[0] + _CLIMBING_FT)
    first = int(low[-1]) if len(low) else 0
    first_s = float(view.t_s[first])
    seconds = float(view.t_s[-1]) - first_s
    if seconds < case.standard.assessable.climb_s:
        return -np.inf, first_s
    return float(view.altitude_ft[-1] - view.altitude_ft[first]) / seconds * SECONDS_PER_MINUTE, first_s
