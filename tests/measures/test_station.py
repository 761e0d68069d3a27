"""At the station: the passage, and the turn onto the outbound course with its lead."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.measures import measure, passages
from tests.measures.builders import EPOCH, LEAD_NM, RADIUS_NM, Path, attempt, flight, passage, whole_approach
from tests.measures.plan import OUTBOUND_TRUE_DEG, procedure

ONE_SECOND_NM = 120.0 / 3600.0
HALF_DEG = 0.5


def towards(
    track_deg: float, distance_nm: float, aside_nm: float = 0.0, groundspeed_kt: float = 120.0
) -> Path:
    """On a track that passes the station at ``aside_nm`` (the station on the left), so far before abeam it."""
    track = math.radians(track_deg)
    return Path(
        -distance_nm * math.sin(track) + aside_nm * math.cos(track),
        -distance_nm * math.cos(track) - aside_nm * math.sin(track),
        track_deg,
        groundspeed_kt,
        4000.0,
    )


def turn_of(path: Path, closest_s: float, distance_nm: float = 0.0, plan=None):
    out_s = closest_s + 20.0
    found = attempt(
        [("inbound", 0.0, closest_s), ("outbound", out_s, path.now_s)],
        passages=[passage(closest_s, distance_nm)],
    )
    measures = measure(flight(path, plan or procedure(), found), found, None)
    return measures.turn, measures


def test_a_passage_tells_where_how_high_and_how_fast():
    built = whole_approach()
    first, second = passages(built.flight, built.attempt)

    assert (first.time - EPOCH).total_seconds() == pytest.approx(built.marks["closest"], abs=0.001)
    # inside the turn, off its corner by r (1 / cos 22.5 - 1)
    assert first.distance_nm == pytest.approx(RADIUS_NM * (1 / math.cos(math.radians(22.5)) - 1), abs=1e-6)
    assert (first.altitude_ft, first.groundspeed_kt) == (pytest.approx(4000.0), pytest.approx(120.0))
    assert first.ground_track_true_deg == pytest.approx(82.0 - 22.5, abs=0.01)
    assert second.ground_track_true_deg == pytest.approx(217.0, abs=0.01)
    assert first.missed is False
    assert first.time_uncertainty_s == pytest.approx(0.095, abs=0.001)  # 0.00316 NM at 120 kt


def test_the_lead_of_an_exact_turn_is_the_exact_lead():
    built = whole_approach()
    turn = measure(built.flight, built.attempt, None).turn

    assert turn is not None
    assert turn.change_deg == pytest.approx(-45.0, abs=HALF_DEG)  # to the left
    assert turn.lead_nm == pytest.approx(LEAD_NM, abs=ONE_SECOND_NM)
    assert turn.exact_lead_nm == pytest.approx(LEAD_NM, abs=0.003)
    # the slant over 3,700 ft
    assert turn.lead_dme_nm == pytest.approx(math.hypot(LEAD_NM, 3700.0 / 6076.115), abs=ONE_SECOND_NM)
    # (120/60/3 + 0.5) x 45/90 + 0.609: by hand
    assert turn.rule_of_thumb_nm == pytest.approx(1.192, abs=0.01)


@pytest.mark.parametrize("change_deg", [-120.0, -70.0, -30.0, 30.0, 70.0, 120.0])
@pytest.mark.parametrize("before_nm", [1.0, 0.4, -0.5])
def test_lead_and_change_for_turns_of_any_size_and_moment(change_deg, before_nm):
    """Begun ``before_nm`` of the station, late where negative; out on a line beside the radial."""
    path = towards(OUTBOUND_TRUE_DEG - change_deg, 6.0)
    path.straight(6.0 - before_nm).mark("turn").turn(change_deg).straight(4.0)
    turn, _ = turn_of(path, 180.0)

    assert turn is not None
    assert turn.change_deg == pytest.approx(change_deg, abs=HALF_DEG)
    assert turn.lead_nm == pytest.approx(before_nm, abs=ONE_SECOND_NM)
    assert (turn.start - EPOCH).total_seconds() == pytest.approx(path.marks["turn"], abs=1.0)


def test_a_late_turn_goes_beyond_the_course_to_come_back_to_it():
    path = (
        towards(OUTBOUND_TRUE_DEG - 45.0, 6.0)
        .straight(7.0)
        .turn(80.0)
        .straight(0.8)
        .turn(-35.0)
        .straight(3.0)
    )
    turn, _ = turn_of(path, 180.0)

    assert turn is not None
    assert turn.lead_nm == pytest.approx(-1.0, abs=ONE_SECOND_NM)
    assert turn.change_deg == pytest.approx(45.0, abs=HALF_DEG)


def test_a_turn_towards_the_station_is_not_the_turn_at_it():
    """Five miles out 40 degrees right to fly at the station, then at it 45 degrees right onto the radial."""
    arrival_deg = OUTBOUND_TRUE_DEG - 45.0
    back = towards(arrival_deg, 5.0)
    first = math.radians(arrival_deg - 40.0)
    path = Path(
        back.east_nm - 3.0 * math.sin(first),
        back.north_nm - 3.0 * math.cos(first),
        arrival_deg - 40.0,
        120.0,
        4000.0,
    )
    path.straight(3.0).turn(40.0).straight(4.6 - RADIUS_NM / 2).mark("turn").turn(45.0).straight(4.0)
    turn, _ = turn_of(path, path.marks["turn"] + 8.0)

    assert turn is not None
    assert (turn.start - EPOCH).total_seconds() == pytest.approx(path.marks["turn"], abs=1.0)


def test_a_correction_flown_back_is_not_the_turn():
    path = towards(OUTBOUND_TRUE_DEG - 30.0, 6.0)
    path.straight(1.0).turn(15.0).straight(0.5).turn(-30.0).straight(0.5).turn(15.0).straight(3.0)
    path.mark("turn").turn(30.0).straight(3.0)
    turn, _ = turn_of(path, path.marks["turn"] + 10.0)

    assert turn is not None
    assert (turn.start - EPOCH).total_seconds() == pytest.approx(path.marks["turn"], abs=1.0)


def test_a_premature_turn_onto_the_course_counts_though_it_was_flown_back():
    """Onto the outbound course 1.4 NM before the station, back towards it, and at it once more."""
    path = towards(OUTBOUND_TRUE_DEG - 25.0, 6.0).straight(4.6).mark("turn").turn(25.0)
    path.straight(0.1).turn(-45.0).straight(0.8).turn(45.0).straight(3.0)
    turn, _ = turn_of(path, 185.0)

    assert turn is not None
    assert turn.lead_nm == pytest.approx(1.4, abs=ONE_SECOND_NM)


def test_hardly_a_change_of_course_is_no_turn_and_needs_no_reason():
    turn, measures = turn_of(
        towards(OUTBOUND_TRUE_DEG - 8.0, 6.0).straight(6.0).turn(8.0).straight(4.0), 180.0
    )

    assert turn is None
    assert not any("Turn at the station" in text for text in measures.outbound.warnings)


def test_drifting_round_without_a_turn_gives_no_lead_and_says_so():
    path = towards(OUTBOUND_TRUE_DEG - 40.0, 6.0).straight(5.0).turn(40.0, rate_deg_s=0.5).straight(4.0)
    turn, measures = turn_of(path, 185.0)

    assert turn is None
    assert any("no distinct turn" in text for text in measures.outbound.warnings)


def test_turning_straight_back_has_no_exact_lead():
    path = towards(OUTBOUND_TRUE_DEG + 180.0, 6.0).straight(6.0).turn(180.0).straight(4.0)
    turn, _ = turn_of(path, 180.0)

    assert turn is not None
    assert abs(turn.change_deg) == pytest.approx(180.0, abs=HALF_DEG)
    assert (turn.exact_lead_nm, turn.rule_of_thumb_nm) == (None, None)


@pytest.mark.parametrize(
    ("change_deg", "given"), [(125.0, True), (145.0, True), (155.0, False), (167.0, False)]
)
def test_a_large_change_is_turned_over_the_station_and_has_no_lead(change_deg, given):
    """r tan(change / 2) grows to 5.6 NM at 167 degrees and 430 NM near 180: printed, it was no advice."""
    path = towards(OUTBOUND_TRUE_DEG + change_deg, 6.0).straight(6.0).turn(-change_deg).straight(4.0)
    turn, measures = turn_of(path, 180.0)

    assert turn is not None
    assert (turn.exact_lead_nm is not None, turn.rule_of_thumb_nm is not None) == (given, given)
    assert any("more than 150° is turned over" in text for text in measures.outbound.warnings) is not given


def test_a_missed_station_still_has_its_turn():
    """Abeam at 2 NM, 45 degrees of turn a mile later: sqrt(2^2 + 1^2) past it."""
    path = towards(OUTBOUND_TRUE_DEG - 45.0, 6.0, aside_nm=2.0).straight(7.0).turn(45.0).straight(3.0)
    turn, _ = turn_of(path, 180.0, distance_nm=2.0)

    assert turn is not None
    assert turn.lead_nm == pytest.approx(-math.hypot(2.0, 1.0), abs=ONE_SECOND_NM)


def test_without_altitude_the_lead_is_known_and_its_slant_is_not():
    built = whole_approach(no_altitude=[(-1.0, 1e4)])
    measures = measure(built.flight, built.attempt, None)

    assert measures.turn is not None
    assert measures.turn.lead_nm == pytest.approx(LEAD_NM, abs=ONE_SECOND_NM)
    assert (measures.turn.lead_dme_nm, measures.turn.rule_of_thumb_nm) == (None, None)
    assert measures.outbound is not None
    assert any("both need an altitude" in text for text in measures.outbound.warnings)


def test_a_straight_in_approach_has_no_turn():
    plan = procedure(outbound=None, course_reversal=None, intermediate=None)
    path = towards(217.0, 6.0).straight(9.0)
    found = attempt([("inbound", 0.0, 170.0), ("final", 190.0, path.now_s)], passages=[passage(180.0)])
    measures = measure(flight(path, plan, found), found, None)

    assert measures.turn is None
    assert measures.inbound is not None
    assert not any("Turn" in text for text in measures.inbound.warnings)


@given(change_deg=st.floats(25, 110), before_nm=st.floats(-0.8, 1.2), groundspeed_kt=st.floats(80, 180))
def test_a_mirrored_turn_is_the_same_to_the_other_side(change_deg, before_nm, groundspeed_kt):
    leads, changes = [], []
    for sign in (1.0, -1.0):
        path = towards(OUTBOUND_TRUE_DEG - sign * change_deg, 6.0, groundspeed_kt=groundspeed_kt)
        path.straight(6.0 - before_nm).turn(sign * change_deg).straight(4.0)
        turn, _ = turn_of(path, 6.0 / groundspeed_kt * 3600.0)
        assert turn is not None
        leads.append(turn.lead_nm)
        changes.append(turn.change_deg)

    assert leads[0] == pytest.approx(leads[1], abs=1e-6)
    assert changes[0] == pytest.approx(-changes[1], abs=1e-6)
