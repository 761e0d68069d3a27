"""All measures of one attempt.

Owns      which measure belongs to which phase, and the order in which they are taken.
Not here  any of them (the other modules of this package).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.language import tr
from debrief.measures.arc import arc_flown, arc_seen_not_flown, why_no_arc
from debrief.measures.arrival import arrival, why_not_arrived
from debrief.measures.circling import circling_measures
from debrief.measures.descent import Descent, descent
from debrief.measures.ending import landing_measures, missed_measures
from debrief.measures.final_track import missed_approach_point_s
from debrief.measures.gates import GateLimits, gate_sure, gates
from debrief.measures.holding import hold_after, hold_before
from debrief.measures.intercept import intercept
from debrief.measures.legs import LegFields, leg_fields, with_reasons
from debrief.measures.minimum import visual_descent
from debrief.measures.missed import after_view
from debrief.measures.moments import altitude_passing_ft
from debrief.measures.outbound import outbound_measures
from debrief.measures.reversal import reversal_measures
from debrief.measures.scene import Scene, scene_of
from debrief.measures.station import station_turn
from debrief.measures.statistics import known
from debrief.measures.steering import steering
from debrief.measures.visual import visual_measures
from debrief.phases.model import Flight, FoundAttempt, Span
from debrief.procedures.model import Phase
from debrief.result import (
    Circuit,
    FinalMeasures,
    Gate,
    Intercept,
    LegMeasures,
    Measures,
    Wind,
)


def measure(
    flight: Flight,
    attempt: FoundAttempt,
    wind: Wind | None,
    *,
    gate_limits: GateLimits | None = None,
    statistics: bool = True,
) -> Measures:
    """Measure one attempt.

    Parameters
    ----------
    flight : the flight the attempt was found in.
    attempt : one of ``flight.attempts``.
    wind : the wind of the attempt, where it is known: airspeed, drift and bank then come from it where they
        are not logged.
    gate_limits : the standard's stabilised gates; without them none are looked at.
    statistics : also what no rule asks for, the means, ranges and spreads over phases other than the outbound.

    Returns
    -------
    By phase; ``None`` where a phase was not flown or not observed. A number that could not be measured is
    ``None``, with the reason in the ``warnings`` of its phase.
    """
    scene = scene_of(flight, attempt, wind)
    last = _circuit(scene, scene.last_circuit, statistics)

    def fields(span: Span) -> LegFields:
        return leg_fields(scene, span, statistics=statistics)

    def leg(phase: Phase) -> LegMeasures | None:
        span = scene.span(phase)
        return None if span is None else LegMeasures(**fields(span))

    turn, why_no_turn = station_turn(scene, statistics=statistics)
    outbound, inbound = last.outbound, leg(Phase.INBOUND)
    if why_no_turn and outbound is not None:
        outbound = replace(outbound, warnings=(*outbound.warnings, why_no_turn))
    elif why_no_turn and inbound is not None:
        inbound = replace(inbound, warnings=(*inbound.warnings, why_no_turn))
    arc = arc_flown(scene)
    by_arc = True if arc is not None else arc_seen_not_flown(scene)
    arrived = arrival(scene, turn, by_arc=by_arc)
    if inbound is not None:
        more = (*why_not_arrived(scene, arrived), *why_no_arc(scene, by_arc=by_arc))
        inbound = replace(inbound, warnings=(*inbound.warnings, *more))
    missed, landing = scene.span(Phase.MISSED_APPROACH), scene.span(Phase.LANDING)
    return Measures(
        inbound=inbound,
        station_passage=leg(Phase.STATION_PASSAGE),
        outbound=outbound,
        course_reversal=last.course_reversal,
        intermediate=last.intermediate,
        final=_final(scene, gate_limits, statistics),
        missed_approach=None if missed is None else missed_measures(scene, missed, fields(missed)),
        landing=None if landing is None else landing_measures(scene, landing, fields(landing)),
        turn=turn,
        intercept=last.intercept or _straight_in_intercept(scene, statistics),
        arrival=arrived,
        arc=arc,
        visual_segment=visual_measures(scene),
        circling=circling_measures(scene),
        hold_before=hold_before(scene),
        hold_after=None if missed is None else hold_after(scene, after_view(scene, missed.start_s)),
        steering=steering(scene),
        earlier_circuits=tuple(_circuit(scene, number, statistics) for number in range(scene.last_circuit)),
    )


def _circuit(scene: Scene, number: int, statistics: bool) -> Circuit:
    """Outbound, reversal, intercept and intermediate of one circuit."""
    outbound = scene.span(Phase.OUTBOUND, number)
    reversal = scene.span(Phase.COURSE_REVERSAL, number)
    intermediate = scene.span(Phase.INTERMEDIATE, number)
    return Circuit(
        outbound=None
        if outbound is None
        else outbound_measures(scene, outbound, leg_fields(scene, outbound, every_half_width=statistics)),
        course_reversal=(
            None
            if reversal is None
            else reversal_measures(
                scene, reversal, leg_fields(scene, reversal, statistics=statistics), statistics=statistics
            )
        ),
        intermediate=(
            None
            if intermediate is None
            else LegMeasures(**leg_fields(scene, intermediate, statistics=statistics))
        ),
        intercept=None if reversal is None else _intercept(scene, reversal, number, statistics),
    )


def _intercept(scene: Scene, reversal: Span, circuit: int, statistics: bool) -> Intercept:
    after = scene.span(Phase.INTERMEDIATE, circuit)
    last = circuit == scene.last_circuit
    if after is None and last and scene.procedure.station_on_aerodrome:
        after = scene.span(Phase.FINAL)
    established_s = scene.attempt.established_s if last else None
    if established_s is None and after is not None and after.phase is Phase.INTERMEDIATE:
        established_s = after.start_s
    end_s = reversal.end_s if after is None else after.end_s
    return intercept(scene, reversal.start_s, established_s, end_s, statistics=statistics)


def _straight_in_intercept(scene: Scene, statistics: bool) -> Intercept | None:
    """That of a straight-in approach to a station on the aerodrome, from inbound onto the final course."""
    inbound, final, established_s = (
        scene.span(Phase.INBOUND),
        scene.span(Phase.FINAL),
        scene.attempt.established_s,
    )
    if inbound is None or final is None or established_s is None or established_s > final.start_s + 1.0:
        return None
    if abs(established_s - inbound.end_s) > 1.0 or scene.span(Phase.COURSE_REVERSAL) is not None:
        return None
    return intercept(scene, inbound.start_s, established_s, final.end_s, statistics=statistics)


def _final(scene: Scene, gate_limits: GateLimits | None, statistics: bool) -> FinalMeasures | None:
    span = scene.span(Phase.FINAL)
    if span is None:
        return None
    leg: LegFields = leg_fields(scene, span, statistics=statistics)
    view = scene.over(span.start_s, span.end_s)
    flown: Descent = descent(scene, statistics=statistics)
    leg["descent_angle_deg"] = flown.angle_deg  # it may have begun before the final
    why = list(flown.why)
    lowest_ft = lowest_s = None
    if np.isfinite(view.altitude_ft).any():
        lowest = int(np.nanargmin(view.altitude_ft))
        lowest_ft, lowest_s = float(view.altitude_ft[lowest]), float(view.t_s[lowest])
    sure = dict(flown.sure)
    if leg["altitude_ft"] is not None:
        sure["lowest_altitude_ft"] = leg["altitude_ft"].min_uncertainty
    point_s = missed_approach_point_s(scene)
    if point_s is not None:
        sure["altitude_at_missed_approach_point_ft"] = altitude_passing_ft(scene.flight, scene.at(point_s))
    if point_s is None:
        why.append(tr("The missed approach point was not reached, or cannot be told."))
    visual = visual_descent(scene)
    if visual is not None:
        why.append(visual.why)
    passed: tuple[Gate, ...] = ()
    if gate_limits is not None:
        passed, why_no_gates = gates(scene, gate_limits)
        why.append(why_no_gates)
    if statistics:
        passed = tuple(replace(gate, uncertainties=gate_sure(scene, gate)) for gate in passed)
    return FinalMeasures(
        **with_reasons(leg, why, sure),
        lowest_altitude_ft=lowest_ft,
        lowest_time=None if lowest_s is None else scene.time(lowest_s),
        descent_start=None if flown.start_s is None else scene.time(flown.start_s),
        descent_start_distance_nm=flown.start_along_nm,
        required_angle_deg=flown.required_angle_deg,
        max_descent_rate_ft_min=flown.max_rate_ft_min,
        max_descent_rate_time=None if flown.max_rate_s is None else scene.time(flown.max_rate_s),
        max_descent_rate_uncertainty_ft_min=flown.max_rate_uncertainty_ft_min,
        level_off=None if flown.level_off_s is None else scene.time(flown.level_off_s),
        level_off_altitude_ft=flown.level_off_altitude_ft,
        altitude_at_missed_approach_point_ft=(
            None if point_s is None else known(scene.at(point_s).altitude_ft[0])
        ),
        missed_approach_point=None if point_s is None else scene.time(point_s),
        gates=passed,
    )
