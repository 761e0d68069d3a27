"""The published missed approach, and holds, against simulated flights: course, turn, altitude, circuits, side."""

from __future__ import annotations

import re

import pytest

from debrief.grading import load_standard
from debrief.pipeline import debrief
from debrief.procedures import load_procedure
from debrief.procedures.model import AltitudeLimit, Hold, Procedure
from debrief.result import Attempt as Flown
from debrief.simulation import Attempt, Faults, FlightPlan, SimulatedFlight, Wind, fly
from debrief.simulation.sensor import Sensor, record
from tests.phases.pilots import arriving, inbound_and_down, outbound, true_deg

COURSE_DEG, ALTITUDE_FT, TURN_FT = 1.0, 30.0, 30.0
TARNWICK = load_procedure("tarnwick-vor-27")
WIND = Wind(from_true_deg=200.0, speed_kt=20.0)


def flown(attempt: Attempt, procedure=TARNWICK, bearing_deg: float = 20.0, after_s: float = 200.0) -> Flown:
    plan = FlightPlan(start_bearing_true_deg=bearing_deg, attempts=(attempt,), wind=WIND, after_s=after_s)
    result = debrief(record(fly(procedure, plan), Sensor(), 1), procedure, load_standard("instrument-rating"))
    assert len(result.attempts) == 1
    return result.attempts[0]


def items(attempt: Flown) -> dict[str, tuple[str, str]]:
    return {i.unit or "": (i.result, i.reason) for i in attempt.grade.items if i.rule == "missed_approach"}


def test_flown_as_published_it_is_measured_and_within() -> None:
    attempt = flown(Attempt(published_missed=True))

    missed = attempt.measures.missed_approach
    assert missed is not None
    assert missed.course_off_deg == pytest.approx(0.0, abs=COURSE_DEG)
    assert missed.turn == "right"
    assert missed.turn_altitude_ft == pytest.approx(1500.0, abs=TURN_FT)
    assert missed.level_altitude_ft == pytest.approx(3040.0, abs=ALTITUDE_FT)  # 40 ft above it, as planned
    assert {unit: items(attempt)[unit][0] for unit in ("deg", "ft")} == {
        "deg": "satisfactory",
        "ft": "satisfactory",
    }
    assert [f.rule for f in attempt.findings] == []


@pytest.mark.parametrize(
    ("off_deg", "verdict"), [(7.0, "satisfactory"), (-20.0, "unsatisfactory"), (40.0, "unsatisfactory")]
)
def test_a_track_off_the_course_is_measured_and_judged(off_deg: float, verdict: str) -> None:
    """Within 10 degrees: FAA-S-ACS-8C, IR.VI.C.S7. Mark: seen (2nd hand)."""
    attempt = flown(Attempt(published_missed=True, faults=Faults(missed_course_off_deg=off_deg)))

    missed = attempt.measures.missed_approach
    assert missed is not None
    assert missed.course_off_deg == pytest.approx(off_deg, abs=COURSE_DEG)
    assert items(attempt)["deg"][0] == verdict


@pytest.mark.parametrize(
    ("off_ft", "verdict"), [(-60.0, "satisfactory"), (-350.0, "unsatisfactory"), (400.0, "satisfactory")]
)
def test_an_altitude_not_reached_is_a_finding_and_one_above_a_minimum_is_none(
    off_ft: float, verdict: str
) -> None:
    attempt = flown(Attempt(published_missed=True, faults=Faults(missed_altitude_ft=off_ft)))

    missed = attempt.measures.missed_approach
    assert missed is not None
    assert missed.level_altitude_ft == pytest.approx(3040.0 + off_ft, abs=ALTITUDE_FT)
    assert items(attempt)["ft"][0] == verdict


def test_an_altitude_to_be_held_is_passed_upwards_too() -> None:
    missed = TARNWICK.missed_approach
    assert missed is not None
    at = missed.model_copy(update={"altitude": AltitudeLimit(at_ft=3000.0)})
    attempt = flown(
        Attempt(published_missed=True, faults=Faults(missed_altitude_ft=300.0)),
        TARNWICK.model_copy(update={"missed_approach": at}),
    )

    found = next(f for f in attempt.findings if f.rule == "missed_approach")
    assert "340 ft above the published 3,000 ft" in found.message


def turned_too_low() -> tuple[Procedure, SimulatedFlight]:
    """Turned at 1,500 ft, where the course is to be held up to 2,400 ft."""
    missed = TARNWICK.missed_approach
    assert missed is not None
    higher = TARNWICK.model_copy(update={"missed_approach": missed.model_copy(update={"turn_at_ft": 2400.0})})
    plan = FlightPlan(
        start_bearing_true_deg=20.0, attempts=(Attempt(published_missed=True),), wind=WIND, after_s=200.0
    )
    return higher, fly(TARNWICK, plan)


def test_a_turn_begun_far_too_low_leaves_the_course() -> None:
    higher, flight = turned_too_low()
    attempt = debrief(record(flight, Sensor(), 1), higher, load_standard()).attempts[0]

    assert attempt.measures.missed_approach is not None
    assert attempt.measures.missed_approach.turn_altitude_ft == pytest.approx(1500.0, abs=TURN_FT)
    assert items(attempt)["deg"][0] == "unsatisfactory"
    found = next(f for f in attempt.findings if f.rule == "missed_approach")
    assert "below the 2,400 ft up to which 270 is to be flown" in found.message
    assert "climb straight on to 2,400 ft before turning" in found.advice


def test_a_turn_begun_far_too_low_is_told_where_no_course_is_left_to_measure() -> None:
    """Cut off in the turn: the altitude at which it began is known, the track after it is not."""
    higher, flight = turned_too_low()
    whole = debrief(record(flight, Sensor(), 1), higher, load_standard()).attempts[0]
    turn = next(t for t in whole.turns if t.start > whole.phases[-1].start)
    first_s = (turn.start - whole.phases[0].start).total_seconds()
    cut = flight.cropped(0.0, first_s + 35.0)

    attempt = debrief(record(cut, Sensor(), 1), higher, load_standard()).attempts[0]

    found = [f.message for f in attempt.findings if f.rule == "missed_approach"]
    assert [message.endswith("below the 2,400 ft up to which 270 is to be flown.") for message in found] == [
        True
    ]


def test_a_turn_the_other_way_is_a_finding() -> None:
    missed = TARNWICK.missed_approach
    assert missed is not None
    other = TARNWICK.model_copy(update={"missed_approach": missed.model_copy(update={"turn": "left"})})
    plan = FlightPlan(
        start_bearing_true_deg=20.0, attempts=(Attempt(published_missed=True),), wind=WIND, after_s=200.0
    )
    track = record(fly(TARNWICK, plan), Sensor(), 1)

    attempt = debrief(track, other, load_standard()).attempts[0]

    assert any(
        "turn after 270 went right; it is published to the left" in f.message for f in attempt.findings
    )


def test_a_log_that_ends_in_the_climb_does_not_say_that_the_altitude_was_missed() -> None:
    plan = FlightPlan(start_bearing_true_deg=20.0, attempts=(Attempt(published_missed=True),), wind=WIND)
    flight = fly(TARNWICK, plan)
    climb_s = next(e.t_s for e in flight.events if e.what == "climb away")
    early = flight.cropped(0.0, climb_s + 60.0)

    attempt = debrief(record(early, Sensor(), 1), TARNWICK, load_standard()).attempts[0]

    assert items(attempt)["ft"] == ("not assessable", "no level flight was seen after the climb")
    assert items(attempt)["deg"][0] == "satisfactory"
    missed = attempt.measures.missed_approach
    assert missed is not None
    said = next(why for why in missed.warnings if "no level flight was seen after the climb" in why)
    assert re.search(
        r"up to [\d,]+0 ft\.$", said
    )  # known to 50 ft: to the foot it was told, unlike all others


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("circuits", [1, 3])
def test_a_hold_before_and_one_after_are_counted(side: str, circuits: int) -> None:
    hold = Hold.model_validate(
        {"course_deg": 270.0, "side": side, "altitude": {"at_or_above_ft": 3000}, "length": {"minutes": 1.0}}
    )
    procedure = TARNWICK.model_copy(update={"hold": hold})

    measures = flown(
        Attempt(hold_before=circuits, published_missed=True, hold_after=circuits), procedure, bearing_deg=95.0
    ).measures

    for found in (measures.hold_before, measures.hold_after):
        assert found is not None
        assert (found.circuits, found.side) == (circuits, side)
        assert 2.0 < found.farthest_nm < 4.5
        assert found.altitude_ft is not None
        assert found.altitude_ft.min == pytest.approx(3040.0, abs=150.0)


@pytest.mark.parametrize(("way", "wind_from_deg"), [("left", 181.0), ("right", 351.0)])
def test_a_hold_blown_through_its_course_is_on_the_side_of_its_turns(way: str, wind_from_deg: float) -> None:
    """Out by the heading alone, and blown across the inbound course: most of it lies on the other side."""
    hold = Hold.model_validate({"course_deg": 270.0, "side": way, "altitude": {"at_or_above_ft": 3000}})
    course_deg = true_deg(TARNWICK, 270.0)
    plane = arriving(TARNWICK, from_deg=course_deg - 180.0, tas_kt=100.0, wind=(wind_from_deg, 30.0))
    for _ in range(2):
        plane.turn_to(course_deg - 180.0, way)
        plane.hold(75.0)
        plane.turn_to(course_deg + (45.0 if way == "right" else -45.0), way)
        plane.join(course_deg)
        plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
    outbound(plane, TARNWICK, 4.8)
    plane.turn(45.0)
    plane.hold(60.0)
    plane.turn(-180.0)
    inbound_and_down(plane, TARNWICK)
    procedure = TARNWICK.model_copy(update={"hold": hold})

    found = debrief(plane.log(procedure), procedure, load_standard()).attempts[0].measures.hold_before

    assert found is not None
    assert found.side == way


def test_where_no_hold_was_flown_there_is_none() -> None:
    measures = flown(Attempt(published_missed=True)).measures

    assert measures.hold_before is None
    assert measures.hold_after is None


@pytest.mark.parametrize(("below_ft", "broken"), [(0.0, False), (200.0, True)])
def test_a_step_holds_until_the_crossing_radial(below_ft: float, broken: bool) -> None:
    """The truth looks from the other station by geodesics."""
    plan = FlightPlan(
        start_bearing_true_deg=20.0, attempts=(Attempt(faults=Faults(below_step_ft=below_ft)),), wind=WIND
    )
    flight = fly(TARNWICK, plan)
    from tests.truth import truth_of

    (truth,) = truth_of(flight, TARNWICK).attempts
    attempt = debrief(record(flight, Sensor(), 1), TARNWICK, load_standard()).attempts[0]

    final = attempt.measures.final
    assert final is not None
    steps = [b for b in final.altitude_breaks if b.what == "step_down"]
    assert bool(steps) == broken == ("step_down" in truth.breaches)
    if broken:
        assert steps[0].depth_ft == pytest.approx(truth.breaches["step_down"], abs=15.0)
        assert "until radial 196 of MWX" in next(f.message for f in attempt.findings if f.rule == "step_down")
