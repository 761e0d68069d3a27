"""Holding before the approach: its circuits belong to no attempt, whatever way they turn and wherever they lie."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.phases.circuit import Circuit
from debrief.phases.finals import Reading
from debrief.phases.holding import is_hold
from debrief.phases.model import Turn
from debrief.pipeline import look
from debrief.procedures import Procedure, load_procedure
from debrief.procedures.model import AltitudeLimit, Hold, MissedApproach, Phase
from debrief.simulation import Attempt, FlightPlan, SimulatedFlight, Wind, fly
from debrief.simulation.sensor import Sensor, record
from tests.truth import truth_of

#: The way in begins in the last turn of the hold, in which the distance hardly changes; the other phases begin sharply.
INBOUND_S, OTHERS_S = 25.0, 3.0


def holding(name: str, off_deg: float, side: str, altitude_ft: float | None = None) -> Procedure:
    """A bundled procedure with a hold whose course lies that far from the inbound course."""
    procedure = load_procedure(name)
    hold = {"course_deg": (procedure.inbound_course_deg + off_deg) % 360.0, "side": side}
    if altitude_ft is not None:
        hold["altitude"] = {"at_or_above_ft": altitude_ft}
    return procedure.model_copy(update={"hold": Hold.model_validate(hold)})


def held(
    procedure: Procedure, circuits: int, bearing_true_deg: float, wind_kt: float = 15.0
) -> SimulatedFlight:
    return fly(
        procedure,
        FlightPlan(
            start_bearing_true_deg=bearing_true_deg,
            attempts=(Attempt(hold_before=circuits),),
            wind=Wind(from_true_deg=200.0, speed_kt=wind_kt),
        ),
    )


@pytest.mark.parametrize("name", ["lantern-vor-22", "sallow-vor-13", "quillow-ndb-18", "frosthelm-vor-04"])
@pytest.mark.parametrize(
    ("off_deg", "side"), [(0.0, "right"), (0.0, "left"), (100.0, "left"), (180.0, "right")]
)
def test_circuits_of_a_hold_are_before_the_attempt(name: str, off_deg: float, side: str) -> None:
    procedure = holding(name, off_deg, side)
    flight = held(procedure, 2, 20.0)

    found = look(record(flight, Sensor(), 1), procedure).attempts

    (truth,) = truth_of(flight, procedure).attempts
    assert len(found) == 1
    assert [span.phase for span in found[0].spans] == [name for name, _, _ in truth.phases]
    late_s = [
        span.start_s - start_s for span, (_, start_s, _) in zip(found[0].spans, truth.phases, strict=True)
    ]
    assert abs(late_s[0]) < INBOUND_S
    assert np.abs(late_s[1:]).max() < OTHERS_S


@pytest.mark.parametrize("bearing_true_deg", [100.0, 190.0, 280.0])
def test_each_entry_into_the_hold_leaves_the_approach_alone(bearing_true_deg: float) -> None:
    procedure = holding("lantern-vor-22", 0.0, "right")
    flight = held(procedure, 3, bearing_true_deg)

    (found,) = look(record(flight, Sensor(), 1), procedure).attempts

    assert [span.phase for span in found.spans] == [
        n for n, _, _ in truth_of(flight, procedure).attempts[0].phases
    ]
    last_hold_s = [event.t_s for event in flight.events if event.what == "hold"][-1]
    assert found.start_s > last_hold_s


def test_a_racetrack_that_is_flown_as_a_hold_is_its_own_circuits() -> None:
    """They are published: each is judged."""
    procedure = load_procedure("marrow-vor-31")
    flight = fly(procedure, FlightPlan(start_bearing_true_deg=90.0, attempts=(Attempt(circuits=3),)))

    (found,) = look(record(flight, Sensor(), 1), procedure).attempts

    assert {span.circuit for span in found.spans_of(Phase.OUTBOUND)} == {0, 1, 2}


def test_a_hold_without_a_published_one_cannot_be_flown() -> None:
    with pytest.raises(ValueError, match="no hold"):
        held(load_procedure("lantern-vor-22"), 1, 20.0)


@pytest.mark.parametrize("again", [False, True])
def test_a_hold_after_a_missed_approach_on_a_racetrack_is_no_second_approach(again: bool) -> None:
    """It goes round where the racetrack lies, and does not come down; an approach that follows does."""
    published = load_procedure("marrow-vor-31")
    procedure = published.model_copy(
        update={
            "hold": Hold(course_deg=308.0, side="right", altitude=AltitudeLimit(at_or_above_ft=2500.0)),
            "missed_approach": MissedApproach(
                turn="right", turn_at_ft=1000.0, altitude=AltitudeLimit(at_or_above_ft=2500.0)
            ),
        }
    )
    attempts = (Attempt(published_missed=True, hold_after=2), *([Attempt()] if again else []))
    flight = fly(procedure, FlightPlan(start_bearing_true_deg=90.0, attempts=attempts, after_s=150.0))

    found = look(record(flight, Sensor(), 1), procedure).attempts

    assert len(found) == len(attempts)
    assert all(Phase.MISSED_APPROACH in [span.phase for span in attempt.spans] for attempt in found)


@pytest.mark.parametrize(("turn_off_s", "hold"), [(200.0, True), (None, False)])
def test_one_turn_back_is_a_hold_only_where_the_turn_off_was_seen(
    turn_off_s: float | None, hold: bool
) -> None:
    """A gap may hide the turn the other way with which a 45/180 begins."""
    procedure = load_procedure("lantern-vor-22")
    flight = look(record(held(holding("lantern-vor-22", 0.0, "right"), 1, 20.0), Sensor(), 1), procedure)
    reading = Reading(
        view=flight.view,
        at=flight.at,
        procedure=procedure,
        crossings=[],
        turns=[Turn(start_s=210.0, end_s=270.0, change_deg=180.0)],
        ground=None,
        on_ground=None,
        circle=None,
    )
    circuit = Circuit(
        outbound_start_s=100.0,
        outbound_end_s=200.0,
        reversal_start_s=205.0,
        turn_off_s=turn_off_s,
        reversal_end_s=265.0,
        established_s=265.0,
        inbound_start_s=265.0,
        end_s=400.0,
    )

    assert is_hold(reading, circuit) is hold
