"""Whole simulated flights: nothing is ``exceeded`` on a clean one, and every fault is found."""

from __future__ import annotations

import pytest

from debrief.pipeline import debrief
from tests.ensembles import FAULTS, Case, clean_flights, faulty_flights

CLEAN = 10  # one a procedure, each with another recorder
SEED = 6


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
