"""Whole simulated flights: nothing is ``exceeded`` on a clean one, and every fault is found."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from debrief.pipeline import debrief
from debrief.procedures import bundled_procedures, load_procedure
from debrief.simulation import Attempt, Faults, FlightPlan, fly
from debrief.simulation.sensor import record
from tests.ensembles import (
    BAD_SENSORS,
    FAULTS,
    GOOD_WITH_HEADING,
    SENSORS,
    Case,
    clean_flights,
    faulty_flights,
    plan_for,
)

CLEAN = 10  # one a procedure, each with another recorder
SEED = 6
STEERING = {"needle_chasing", "reverse_sensing", "weaving"}


def _found(case: Case) -> set[str]:
    result = debrief(case.track, case.procedure)
    return {f.rule for attempt in result.attempts for f in attempt.findings if f.verdict != "marginal"}


@pytest.fixture(scope="module")
def clean() -> list[Case]:
    return list(clean_flights(CLEAN, SEED))


@pytest.fixture(scope="module")
def faulty() -> list[Case]:
    return list(faulty_flights(len(FAULTS), SEED))


@pytest.mark.parametrize("number", range(CLEAN))
def test_a_clean_flight_has_no_finding_beyond_doubt(clean: list[Case], number: int) -> None:
    assert _found(clean[number]) == set(), clean[number].name


@pytest.mark.parametrize("number", range(len(FAULTS)), ids=list(FAULTS))
def test_each_fault_is_found(faulty: list[Case], number: int) -> None:
    case = faulty[number]

    assert case.truth.attempts[-1].expected <= _found(case), case.name


@pytest.mark.parametrize("seed", [1, 2])
def test_a_clean_flight_in_turbulence_is_no_needle_chase(seed: int) -> None:
    """Gusts of 6 kt and a hand that wanders by 3 degrees, slower than 20 s: blown about, but not chasing."""
    draw = random.Random(seed)
    for procedure in bundled_procedures():
        plan = plan_for(procedure, draw)
        rough = replace(plan, wander_deg=3.0, wind=replace(plan.wind, gust_kt=6.0))
        track = record(fly(procedure, rough), GOOD_WITH_HEADING, seed)
        for attempt in debrief(track, procedure).attempts:
            found = [f.message for f in attempt.findings if f.rule in STEERING]
            assert found == [], procedure.name


@pytest.mark.parametrize("number", range(CLEAN))
def test_steering_by_the_needle_is_not_doubted_on_a_clean_flight(clean: list[Case], number: int) -> None:
    case = clean[number]
    for attempt in debrief(case.track, case.procedure).attempts:
        assert not STEERING & {f.rule for f in attempt.findings}, case.name


@pytest.mark.parametrize("sensor", ["0.2 s", "2 s", "5 s", "10 s", "noisy", "a third repeated", "spikes"])
def test_s_turns_are_found_without_a_heading_by_recorders_of_each_kind(sensor: str) -> None:
    """15 degrees to either side of the course, again and again: swings of 30, and 20 are the most."""
    procedure = load_procedure("lantern-vor-22")
    plan = plan_for(procedure, random.Random(SEED))
    attempt = replace(plan.attempts[0], faults=Faults(weave_deg=15.0), ending="missed approach")
    track = record(fly(procedure, replace(plan, attempts=(attempt,))), (SENSORS | BAD_SENSORS)[sensor], SEED)
    findings = debrief(track, procedure).attempts[-1].findings

    assert [f.verdict for f in findings if f.rule == "weaving"] == ["exceeded"]


@pytest.mark.parametrize("aside_nm", [0.0, 1.2])
def test_whoever_passes_beside_the_station_is_not_early_for_being_far_from_it(aside_nm: float) -> None:
    """At right angles to the radial, 1.2 NM beside the station and on its side: the lead counts along the track."""
    procedure = load_procedure("lantern-vor-22")
    track_deg = (procedure.true_deg(procedure.outbound_course_deg or 0.0) + 90.0) % 360.0
    plan = FlightPlan(
        start_bearing_true_deg=(track_deg + 180.0) % 360.0,
        start_distance_nm=10.0,
        arrival_course_true_deg=track_deg,
        attempts=(Attempt(faults=Faults(station_missed_nm=aside_nm)),),
    )

    attempt = debrief(record(fly(procedure, plan), SENSORS["good"], SEED), procedure).attempts[0]

    (lead,) = [item for item in attempt.grade.items if item.rule == "turn_lead"]
    assert lead.result == "satisfactory"
    assert lead.value == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize(
    ("name", "below_ft", "verdicts"),
    [
        ("lantern-vor-22", 0.0, []),
        ("frosthelm-vor-04", 0.0, []),
        ("kestrey-ndb-09", 0.0, []),
        ("lantern-vor-22", 220.0, ["exceeded"]),  # level there before the descent to land
    ],
)
def test_without_a_runway_the_place_of_the_landing_stands_for_it(
    name: str, below_ft: float, verdicts: list[str]
) -> None:
    """Every landing was a bust of the minimum by all of its height where the file gives no runway."""
    published = load_procedure(name)
    attempt = Attempt(ending="landing", faults=Faults(below_minimum_ft=below_ft))
    flight = fly(published, FlightPlan(start_bearing_true_deg=150.0, attempts=(attempt,)))
    bare = published.model_copy(update={"runway": None})

    (found,) = debrief(record(flight, SENSORS["good"], SEED), bare).attempts

    assert found.ending == "landing"
    assert [f.verdict for f in found.findings if f.rule == "minimum_descent_altitude"] == verdicts
