"""What a gap may hide is not held against the flying: every rule beside one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from debrief.grading import judge
from debrief.phases.model import NotSeen
from debrief.procedures.model import Phase
from tests.grading.approach import assessed, case, outcomes
from tests.measures import builders

BUILT = builders.whole_approach()
M = BUILT.marks


def test_a_turn_of_the_reversal_may_lie_in_a_gap() -> None:
    straight: dict[str, Any] = {"measures": {"course_reversal": {"pattern": "straight turn"}}}
    gap = (M["turn off"] - 4.0, M["turn off"] + 16.0)

    assert assessed(case(**straight), "reversal_missing").outcome == "not flown"
    assert assessed(case(gaps=[gap], **straight), "reversal_missing").outcome == "not assessable"


@pytest.mark.parametrize(("gap_s", "outcome"), [(30.0, "not flown"), (90.0, "not assessable")])
def test_a_whole_reversal_takes_a_longer_gap_to_hide(gap_s: float, outcome: str) -> None:
    gone = (Phase.OUTBOUND, Phase.COURSE_REVERSAL, Phase.INTERMEDIATE)
    spans = tuple(span for span in BUILT.attempt.spans if span.phase not in gone)
    not_seen = tuple(NotSeen(phase=phase, why="not flown") for phase in gone)
    straight_in = case(
        attempt=replace(BUILT.attempt, spans=spans, not_seen=not_seen),
        gaps=[(M["turn off"], M["turn off"] + gap_s)],
    )

    assert outcomes(straight_in, "reversal_missing") == [outcome]


def test_an_outbound_leg_that_ends_in_a_gap_has_no_length() -> None:
    far = {"outbound": {"turn_off_dme_nm": 9.0}}
    gap = (M["turn off"] - 12.0, M["turn off"] - 1.0)

    assert outcomes(case(measures=far, gaps=[gap]), "outbound_length") == ["not assessable"]


def test_a_turn_that_begins_in_a_gap_has_no_lead() -> None:
    gap = (M["turn"] - 12.0, M["turn"] + 1.0)
    late = {"lead_nm": -1.5, "start": BUILT.flight.log.track.time_at(M["turn"] + 1.5)}

    assert outcomes(case(measures={"turn": late}), "turn_lead") == ["exceeded"]
    hidden = case(gaps=[gap])
    turn = case(measures={"turn": late}).measures.turn
    hidden = replace(hidden, measures=replace(hidden.measures, turn=turn))
    assert outcomes(hidden, "turn_lead") == ["not assessable"]


def test_a_climb_that_begins_in_a_gap_is_not_late() -> None:
    late = {"missed_approach": {"start_past_point_nm": 2.0}}
    gap = (M["climb"] - 15.0, M["climb"] - 1.0)

    assert assessed(case(measures=late, gaps=[gap]), "missed_approach", unit="NM").outcome == "not assessable"


@pytest.mark.parametrize(("left_s", "outcome"), [(30.0, "not assessable"), (100.0, "exceeded")])
def test_the_last_seconds_of_a_leg_behind_a_gap_may_be_the_next_leg(left_s: float, outcome: str) -> None:
    low = (M["turn off"] - left_s + 2.0, M["turn off"] - 2.0, -300.0)
    gap = (M["turn off"] - left_s - 15.0, M["turn off"] - left_s)
    judged = assessed(case(higher=[low], gaps=[gap]), "altitude", "outbound")

    assert judged.outcome == outcome


def test_on_the_course_though_the_finder_saw_no_beginning_of_it() -> None:
    """Where the moment of joining fell into a gap, being on the course afterwards is enough."""
    found = replace(BUILT.attempt, established_s=None)
    judged = assessed(case(attempt=found), "not_established")

    assert judged.outcome == "within"
    assert judged.value == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize(
    "start", ["turn", "out of cone", "turn off", "turn back", "on course", "into cone", "final"]
)
@pytest.mark.parametrize("gap_s", [15.0, 45.0])
def test_a_gap_anywhere_makes_no_fault_of_a_clean_flight(start: str, gap_s: float) -> None:
    """The descent of this path is too steep by itself; everything else on it is right."""
    here = case(gaps=[(M[start], M[start] + gap_s)])
    judged = judge(here.scene.flight, here.scene.attempt, here.measures, None, here.standard)
    failed = {f.rule for f in judged.findings if f.verdict != "marginal"}

    assert failed <= {"descent_rate", "stabilised"}
