"""A turn at the station begun late by an aircraft that arrives nearly along the inbound course."""

from __future__ import annotations

import pytest

from debrief.pipeline import debrief
from debrief.procedures import load_procedure
from debrief.simulation import Attempt, Faults, FlightPlan, Wind, fly
from debrief.simulation.sensor import Sensor, record


@pytest.mark.parametrize("name", ["marrow-vor-31", "dateline-ndb-35"])
@pytest.mark.parametrize("late_nm", [1.5, 2.5])
@pytest.mark.parametrize("off_course_deg", [-10.0, 0.0])
def test_one_that_turns_back_late_has_flown_one_approach(
    name: str, late_nm: float, off_course_deg: float
) -> None:
    """What it flew past the station, on the way down to the outbound leg's altitude, was taken for a final."""
    procedure = load_procedure(name)
    course_deg = procedure.true_deg(procedure.inbound_course_deg)
    plan = FlightPlan(
        start_bearing_true_deg=(course_deg + 180.0 + off_course_deg) % 360.0, start_distance_nm=9.0,
        wind=Wind(from_true_deg=200.0, speed_kt=12.0), wander_deg=0.8,
        attempts=(Attempt(faults=Faults(turn_late_nm=late_nm)),),
    )  # fmt: skip
    found = debrief(record(fly(procedure, plan), Sensor(), 5), procedure)

    assert [attempt.ending for attempt in found.attempts] == ["missed approach"]
    flown = [span.phase for span in found.attempts[0].phases]
    assert flown.count("final") == 1
    assert flown.index("outbound") < flown.index("course_reversal") < flown.index("final")


def test_a_final_that_came_down_and_was_left_is_an_approach_of_its_own() -> None:
    """Straight in and down to the minimum, then away: whatever follows is the next one."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = procedure.true_deg(procedure.inbound_course_deg)
    plan = FlightPlan(
        start_bearing_true_deg=(course_deg + 180.0) % 360.0, start_distance_nm=9.0,
        attempts=(Attempt(straight_in=True), Attempt(ending="landing")),
    )  # fmt: skip
    found = debrief(record(fly(procedure, plan), Sensor(), 5), procedure)

    assert len(found.attempts) == 2
