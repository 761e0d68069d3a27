"""Every rule by its name, and an attempt held against all of a standard.

Owns      the registry, and ``assess``: one assessment for each rule, phase and unit.
Not here  the rules themselves (``rules_...``), what they add up to (``grade``), their words (``sentences``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

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


def assess(case: Case) -> tuple[Assessment, ...]:
    """Hold the attempt against each rule of the standard, in the order of its file."""
    return worst_of(
        assessment
        for tolerance in case.standard.rule
        for assessment in RULES[tolerance.rule](case, tolerance)
    )
