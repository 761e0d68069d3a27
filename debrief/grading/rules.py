"""Every rule by its name, and an attempt held against all of a standard.

Owns      the registry, and ``assess``: one assessment for each rule, phase and unit.
Not here  the rules themselves (``rules_...``), what they add up to (``grade``), their words (``sentences``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from debrief.grading.assessment import Assessment, worst_of
from debrief.grading.case import Case
from debrief.grading.rules_altitude import altitude, altitude_before_station
from debrief.grading.rules_arc import arc
from debrief.grading.rules_final import descent_rate, missed_approach, stabilised
from debrief.grading.rules_intercept import intercept_angle, intercept_overshoot
from debrief.grading.rules_log import log_quality
from debrief.grading.rules_minimum import minimum_descent_altitude, step_down
from debrief.grading.rules_outbound import outbound_length, station_missed, turn_lead
from debrief.grading.rules_reversal import (
    reversal_distance,
    reversal_missing,
    reversal_side,
    reversal_speed,
)
from debrief.grading.rules_steering import needle_chasing, reverse_sensing, weaving
from debrief.grading.rules_tracking import not_established, tracking
from debrief.grading.standard import Tolerance
from debrief.phases.pace import clock_words

Rule = Callable[[Case, Tolerance], Iterator[Assessment]]

RULES: dict[str, Rule] = {
    rule.__name__: rule
    for rule in (
        altitude,
        altitude_before_station,
        minimum_descent_altitude,
        step_down,
        tracking,
        not_established,
        reverse_sensing,
        needle_chasing,
        weaving,
        station_missed,
        turn_lead,
        outbound_length,
        reversal_missing,
        reversal_side,
        reversal_distance,
        reversal_speed,
        intercept_angle,
        intercept_overshoot,
        arc,
        descent_rate,
        stabilised,
        missed_approach,
        log_quality,
    )
}


#: Rules and units that go by time, speeds or rates.
_TIMED_RULES: Final = ("turn_lead", "stabilised", "reverse_sensing", "needle_chasing", "weaving")
_TIMED_UNITS: Final = ("s", "kt", "ft/min")


def assess(case: Case) -> tuple[Assessment, ...]:
    """Hold the attempt against each rule of the standard, in the order of its file."""
    return worst_of(
        _as_sure_as_the_clock(case, assessment)
        for tolerance in case.standard.rule
        for assessment in RULES[tolerance.rule](case, tolerance)
    )


def _as_sure_as_the_clock(case: Case, assessment: Assessment) -> Assessment:
    """The same, or not assessable where it goes by a time that something speaks against (see ``phases.pace``)."""
    doubt = case.clock_doubt
    if doubt is None:
        return assessment
    timed = assessment.rule in _TIMED_RULES or assessment.tolerance.unit in _TIMED_UNITS
    attempt = case.scene.attempt
    start_s = attempt.start_s if assessment.start_s is None else assessment.start_s
    end_s = attempt.end_s if assessment.end_s is None else assessment.end_s
    judged = assessment.outcome in ("within", "marginal", "exceeded") and assessment.rule != "log_quality"
    here = doubt.pace is None or case.scene.flight.log.pace_in(start_s, end_s) is not None
    if not (timed and judged and here):
        return assessment
    return Assessment(
        tolerance=assessment.tolerance,
        outcome="not assessable",
        phase=assessment.phase,
        kind=assessment.kind,
        reason=clock_words(doubt),
    )
