"""The arrival against simulated flights: its angle, straight in where allowed, and the entry into a racetrack."""

from __future__ import annotations

import math

import pytest

from debrief.grading import load_standard
from debrief.navigation.angles import difference_deg
from debrief.pipeline import debrief
from debrief.procedures import Procedure, load_procedure
from debrief.procedures.model import Phase
from debrief.result import Attempt as FlownAttempt
from debrief.simulation import Attempt, Faults, FlightPlan, Wind, fly
from debrief.simulation.sensor import Sensor, record
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import arriving, inbound_and_down, level_of, true_deg
from tests.truth import truth_of

TRACK_DEG = 1.5  # a track kept by hand in a wind
WIND = Wind(from_true_deg=200.0, speed_kt=18.0)


def allowing(name: str, when_straight_in_deg: float | None) -> Procedure:
    """A bundled procedure with another limit for going straight in."""
    procedure = load_procedure(name)
    legs = tuple(
        leg.model_copy(update={"when_straight_in_deg": when_straight_in_deg})
        if leg.phase == "course_reversal"
        else leg
        for leg in procedure.leg
    )
    return procedure.model_copy(update={"leg": legs})


def flown(
    procedure: Procedure, off_deg: float, attempt: Attempt, wind: Wind = WIND, distance_nm: float = 12.0
) -> FlownAttempt:
    """The first attempt of a flight that arrives that far off the inbound course, with its phases checked."""
    track_deg = procedure.true_deg(procedure.inbound_course_deg) + off_deg
    plan = FlightPlan(
        start_bearing_true_deg=(track_deg + 180.0) % 360.0,
        start_distance_nm=distance_nm,
        arrival_course_true_deg=track_deg % 360.0,
        wind=wind,
        attempts=(attempt,),
    )
    flight = fly(procedure, plan)
    found = debrief(record(flight, Sensor(), 1), procedure, load_standard()).attempts[0]
    truth = truth_of(flight, procedure).attempts[0]
    assert [span.phase for span in found.phases] == [name for name, _, _ in truth.phases]
    return found


def verdict(attempt: FlownAttempt, rule: str) -> str:
    return next((f.verdict for f in attempt.findings if f.rule == rule), "none")


@pytest.mark.parametrize("off_deg", [-180.0, -120.0, -45.0, 45.0, 90.0, 135.0])
def test_the_angle_of_arrival_is_the_one_that_was_flown(off_deg):
    attempt = flown(load_procedure("lantern-vor-22"), off_deg, Attempt())

    arrival = attempt.measures.arrival
    assert arrival is not None
    assert difference_deg(arrival.off_inbound_course_deg, off_deg) == pytest.approx(0.0, abs=TRACK_DEG)
    assert not arrival.straight_in


@pytest.mark.parametrize("off_deg", [-25.0, 20.0])
def test_straight_in_from_where_it_is_allowed_is_no_fault_and_said_to_be_well(off_deg):
    attempt = flown(load_procedure("marrow-vor-31"), off_deg, Attempt(straight_in=True))

    assert attempt.measures.arrival is not None
    assert attempt.measures.arrival.straight_in
    assert verdict(attempt, "reversal_missing") == "none"
    assert [i.result for i in attempt.grade.items if i.rule == "reversal_missing"] == ["satisfactory"]
    assert any("straight in, as is allowed" in sentence for sentence in attempt.went_well)


def without_an_inbound_leg(name: str) -> Procedure:
    """A bundled procedure that publishes nothing for the way to the station."""
    published = load_procedure(name)
    legs = tuple(leg for leg in published.leg if leg.phase != "inbound")
    return published.model_copy(update={"leg": legs})


def test_straight_in_nothing_is_said_to_be_missing_where_the_way_to_the_station_is_not_published():
    """A chart may give nothing before the station: the log, which shows it all, was told to have a gap there."""
    attempt = flown(without_an_inbound_leg("marrow-vor-31"), 20.0, Attempt(straight_in=True))

    assert {missing.why for missing in attempt.not_seen} == {"not flown"}
    assert verdict(attempt, "log_quality") == "none"
    assert "not assessable" not in [item.result for item in attempt.grade.items if item.required]


@pytest.mark.parametrize(("early_nm", "expected"), [(0.0, "none"), (2.0, "exceeded")])
def test_straight_in_the_minimum_of_the_way_back_in_holds_up_to_the_station(early_nm: float, expected: str):
    """Nothing is published before the station: going down to the final's minimum before it was judged by nobody."""
    published = load_procedure("marrow-vor-31")
    back_in = published.leg_of("intermediate")
    assert back_in is not None
    way_in = back_in.model_copy(update={"phase": "inbound", "course_deg": None})
    others = tuple(leg for leg in published.leg if leg.phase != "inbound")
    course_deg = published.true_deg(published.inbound_course_deg)
    plan = FlightPlan(
        start_bearing_true_deg=(course_deg + 180.0) % 360.0,
        start_distance_nm=12.0,
        attempts=(Attempt(straight_in=True, faults=Faults(down_before_station_nm=early_nm)),),
    )
    flight = fly(published.model_copy(update={"leg": (way_in, *others)}), plan)

    unpublished = published.model_copy(update={"leg": others})
    attempt = debrief(record(flight, Sensor(), 1), unpublished, load_standard()).attempts[0]

    assert verdict(attempt, "altitude_before_station") == expected
    if early_nm:
        assert f"below {published.low_ft('intermediate'):,.0f} ft" in attempt.findings[0].message


@pytest.mark.parametrize("limit_deg", [None, 30.0])
def test_straight_in_from_farther_round_leaves_the_reversal_out(limit_deg):
    attempt = flown(allowing("marrow-vor-31", limit_deg), 55.0, Attempt(straight_in=True))

    found = next(f for f in attempt.findings if f.rule == "reversal_missing")
    assert found.verdict == "not flown"
    if limit_deg is not None:
        assert (found.limit, found.unit) == (30.0, "deg")
        assert found.value == pytest.approx(55.0, abs=4.0)  # it turns towards the course over the station
        assert "within 30 degrees of the inbound course" in found.message


def test_an_arrival_too_near_the_limit_to_call_is_marginal():
    seen = flown(allowing("marrow-vor-31", 60.0), 35.0, Attempt(straight_in=True)).measures.arrival
    assert seen is not None
    just_under = abs(seen.off_inbound_course_deg) - 0.5 * seen.uncertainty_deg

    attempt = flown(allowing("marrow-vor-31", just_under), 35.0, Attempt(straight_in=True))

    assert verdict(attempt, "reversal_missing") == "marginal"


def test_the_reversal_may_be_flown_where_it_may_be_left_out():
    attempt = flown(load_procedure("marrow-vor-31"), 20.0, Attempt())

    assert verdict(attempt, "reversal_missing") == "none"
    assert attempt.measures.course_reversal is not None


def test_straight_in_to_a_station_on_the_aerodrome_is_judged_by_where_the_way_in_begins():
    attempt = flown(load_procedure("sallow-vor-13"), 12.0, Attempt(straight_in=True), distance_nm=14.0)

    assert verdict(attempt, "reversal_missing") == "none"
    assert attempt.measures.arrival is not None
    assert attempt.measures.arrival.straight_in
    assert attempt.measures.arrival.off_inbound_course_deg == pytest.approx(12.0, abs=TRACK_DEG)


# The sectors of a racetrack with right turns, inbound 308: outbound 128, offset 058 to 128, parallel 128 to 238.
ENTRIES = [("direct", -20.0), ("direct", 60.0), ("direct", 100.0), ("offset", 155.0), ("offset", 120.0),
           ("parallel", -78.0), ("parallel", -115.0), ("parallel", -150.0), ("parallel", -172.0)]  # fmt: skip


@pytest.mark.parametrize(("entry", "off_deg"), ENTRIES)
@pytest.mark.parametrize("circuits", [1, 2])
def test_the_entry_into_a_racetrack_is_recognised_and_no_fault(entry, off_deg, circuits):
    attempt = flown(load_procedure("marrow-vor-31"), off_deg, Attempt(entry=entry, circuits=circuits))

    arrival = attempt.measures.arrival
    assert arrival is not None
    assert arrival.entry_by_sector == entry
    assert arrival.entry == entry
    assert [f.rule for f in attempt.findings if f.verdict == "exceeded"] == []
    assert len(attempt.measures.earlier_circuits) == circuits - 1


@pytest.mark.parametrize(("entry", "off_deg"), [("parallel", -150.0), ("offset", 155.0)])
@pytest.mark.parametrize(("shorter_s", "expected"), [(0.0, "none"), (55.0, "none"), (110.0, "exceeded")])
def test_an_entry_straight_out_may_be_timed_by_the_leg_alone(entry, off_deg, shorter_s, expected):
    """2:30 from the beacon has a turn right round in it, which only a direct entry makes; the leg itself takes 1:30."""
    faults = Faults(outbound_longer_s=-shorter_s)

    attempt = flown(load_procedure("dateline-ndb-35"), off_deg, Attempt(entry=entry, faults=faults))

    assert verdict(attempt, "outbound_length") == expected
    if expected == "exceeded":
        (found,) = (f for f in attempt.findings if f.rule == "outbound_length")
        assert "shorter than the published 1:30" in found.message
        assert any("turn at 1:30" in asked.exercise for asked in attempt.practice)


def test_turns_to_the_wrong_side_are_no_parallel_entry():
    attempt = flown(load_procedure("marrow-vor-31"), 20.0, Attempt(faults=Faults(wrong_side=True)))

    assert attempt.measures.arrival is not None
    assert attempt.measures.arrival.entry != "parallel"
    assert verdict(attempt, "reversal_side") == "exceeded"


def test_a_wrong_way_racetrack_whose_turn_back_runs_through_the_course_is_no_parallel_entry():
    """Turned round at the station against the racetrack's turns, and drawn towards the course on the way out.

    The turn back reaches farther to the holding side than to the other, as that of a parallel entry does; but no such
    entry begins with a turn of 170 degrees.
    """
    attempt, _ = round_from_overhead(-40.0, -1.0, offset_s=60.0)

    assert attempt.measures.arrival is not None
    assert attempt.measures.arrival.entry != "parallel"
    assert verdict(attempt, "reversal_side") == "exceeded"


def test_an_arrival_that_was_not_recorded_has_no_angle():
    procedure = load_procedure("marrow-vor-31")
    flight = fly(procedure, FlightPlan(start_bearing_true_deg=300.0, start_distance_nm=9.0))
    outbound_s = next(
        start for name, start, _ in truth_of(flight, procedure).attempts[0].phases if name == "outbound"
    )
    later = flight.cropped(outbound_s + 5.0, float(flight.t_s[-1]))

    attempt = debrief(record(later, Sensor(), 1), procedure, load_standard()).attempts[0]

    assert attempt.measures.arrival is None
    assert Phase.INBOUND not in [span.phase for span in attempt.phases]


def round_from_overhead(
    off_deg: float, way: float, *, offset_s: float = 0.0, back_deg: float = 230.0
) -> tuple[FlownAttempt, dict[str, float]]:
    """Into Marrow's racetrack (turns to the right) by a turn begun over the station; back by a turn of that ``way``."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(
        procedure, from_deg=course_deg + off_deg + 180.0, tas_kt=125.0, wind=(0.0, 0.0), up_to_nm=0.0
    )
    plane.to_ft = level_of(procedure, "outbound")
    if offset_s:
        plane.turn_to(course_deg + 150.0)
        plane.hold(offset_s)
    plane.turn_to(course_deg + 180.0)
    plane.hold_until(lambda: plane.distance_nm() >= 4.8)
    plane.mark("turn inbound")
    plane.turn(way * back_deg)
    inbound_and_down(plane, procedure)
    return debrief(plane.log(procedure), procedure, load_standard()).attempts[0], plane.marks


@pytest.mark.parametrize(("off_deg", "back_deg"), [(-82.0, 230.0), (-82.0, 196.0), (-68.0, 196.0)])
def test_a_parallel_entry_turned_overhead_is_one_though_it_swings_wide(off_deg, back_deg):
    """98 degrees at the station, begun overhead, lead a turn's radius to the other side before the turn back.

    It was called a racetrack flown to the wrong side, and its turn at the station too late: but no outbound radial
    is to be joined in a racetrack, and its entries begin over the station. The turn back may hardly reach the
    holding side; and within 5 degrees of the edge of its sector either entry is right.
    """
    attempt, _ = round_from_overhead(off_deg, -1.0, back_deg=back_deg)

    assert attempt.measures.arrival is not None
    assert attempt.measures.arrival.entry == "parallel"
    assert attempt.measures.turn is not None
    assert attempt.measures.turn.lead_nm - (attempt.measures.turn.exact_lead_nm or 0.0) < -0.7
    assert (verdict(attempt, "reversal_side"), verdict(attempt, "turn_lead")) == ("none", "none")


def test_the_thirty_degrees_of_an_offset_entry_are_a_part_of_its_outbound_leg():
    """The leg was timed from the turn that ends them, and a minute of 30 degrees made it a minute too short."""
    attempt, marks = round_from_overhead(160.0, 1.0, offset_s=95.0, back_deg=150.0)

    flown = attempt.measures.course_reversal
    assert flown is not None
    assert flown.leg_seconds == pytest.approx(marks["turn inbound"] - marks["station"], abs=3.0)


def test_the_leg_of_a_direct_entry_is_timed_from_abeam_however_the_station_was_passed():
    """A tenth of a mile to the left of it, the closest point lies abeam already; that was taken for the passing."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    track = math.radians(course_deg - 40.0)
    plane = Aeroplane(
        east_nm=-8.0 * math.sin(track) - 0.1 * math.cos(track),
        north_nm=-8.0 * math.cos(track) + 0.1 * math.sin(track),
        heading_deg=course_deg - 40.0,
        altitude_ft=2600.0,
        tas_kt=110.0,
    )
    plane.hold_until(lambda: plane.along_nm(course_deg - 40.0) >= 0.3)
    plane.turn_to(course_deg + 180.0, "right")
    plane.hold_until(lambda: plane.along_nm(course_deg) <= 0.0)
    abeam_s = plane.t_s
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold_until(lambda: plane.distance_nm() >= 4.8)
    turned_s = plane.t_s
    plane.turn(90.0)
    inbound_and_down(plane, procedure)

    flown = debrief(plane.log(procedure), procedure, load_standard()).attempts[0].measures.course_reversal

    assert flown is not None
    assert flown.leg_seconds == pytest.approx(turned_s - abeam_s, abs=3.0)
