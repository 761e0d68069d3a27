"""Gaps of minutes after which only the end of an approach is seen: what was flown before and after it has its phases."""

from __future__ import annotations

import math

import pytest

from debrief.phases.model import FoundAttempt
from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from tests.phases.pilots import (
    MAKERS,
    Flown,
    arriving,
    base_turn,
    down_to_the_minimum,
    inbound_and_down,
    inbound_at,
    level_of,
    outbound,
    racetrack,
    true_deg,
)


def moment(case: Flown, phase: str, *, end: bool = False) -> float:
    span = [span for span in case.phases if span[0] == phase][-1]
    return span[2 if end else 1]


def attempts(case: Flown, gap_s: tuple[float, float]) -> tuple[FoundAttempt, ...]:
    return look(case.plane.log(case.procedure, gap_s=gap_s), case.procedure).attempts


def seen(attempt: FoundAttempt) -> list[str]:
    return [str(span.phase) for span in attempt.spans]


@pytest.mark.parametrize("name", ["45/180", "80/260", "base turn"])
def test_from_before_the_station_to_the_final(name):
    """Nobody sees a straight-in approach in it: it came from elsewhere, and had the time for the reversal."""
    case = MAKERS[name]()
    gap_s = (moment(case, "inbound", end=True) - 30.0, moment(case, "final") + 30.0)
    if gap_s[1] - gap_s[0] > 590.0:
        gap_s = (gap_s[1] - 590.0, gap_s[1])
    (attempt,) = attempts(case, gap_s)

    assert seen(attempt)[-2:] == ["final", "missed_approach"]
    assert seen(attempt)[0] == "inbound"
    assert not attempt.straight_in
    missing = {each.phase for each in attempt.not_seen if each.why == "not observed"}
    assert missing & {Phase.OUTBOUND, Phase.COURSE_REVERSAL}


def test_from_the_outbound_leg_to_the_climb_away():
    """What is seen after it climbs, past the aerodrome and below where a missed approach ends."""
    case = base_turn("kestrey-ndb-09", from_deg=110.0)
    gap_s = (moment(case, "outbound", end=True) - 40.0, moment(case, "missed_approach") + 10.0)
    (attempt,) = attempts(case, gap_s)

    assert seen(attempt) == ["inbound", "station_passage", "outbound", "missed_approach"]


def test_from_the_outbound_leg_to_nothing():
    """The aircraft is seen again far away, and high: the approach ends with the gap."""
    case = base_turn("kestrey-ndb-09", from_deg=110.0)
    case.plane.to_ft = 6000.0
    case.plane.hold(400.0)
    last_s = case.plane.t_s
    gap_s = (moment(case, "outbound", end=True) - 40.0, last_s - 40.0)
    found = attempts(case, gap_s if gap_s[1] - gap_s[0] < 600.0 else (gap_s[0], gap_s[0] + 590.0))

    assert seen(found[0])[:3] == ["inbound", "station_passage", "outbound"]
    assert found[0].end_s <= gap_s[0] + 1.0 or found[0].ending != "gap"


def test_the_passage_itself_in_a_short_gap_and_abeam_of_it_in_the_turn_after():
    """In a racetrack the wind drifts the aircraft past abeam of the station again: no passage of its own."""
    case = racetrack("marrow-vor-31", from_deg=120.0, wind=(220.0, 25.0))
    begins_s, ends_s = moment(case, "inbound", end=True), moment(case, "outbound")
    (attempt,) = attempts(case, (begins_s + 2.0, ends_s + 6.0))

    assert seen(attempt)[:3] == ["inbound", "station_passage", "outbound"]
    assert attempt.spans[0].end_s == pytest.approx(begins_s, abs=2.0)


def test_abeam_of_the_station_in_a_gap_in_the_turn_at_it_is_no_second_passage():
    """Half a circle after the passage that was seen, a crosswind drifts the aircraft back beside the station."""
    procedure = load_procedure("lantern-vor-22")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(
        procedure, from_deg=course_deg + 180.0, tas_kt=150.0, wind=((course_deg + 90.0) % 360.0, 25.0)
    )
    passage_s = plane.t_s
    plane.hold(20.0)
    plane.turn(180.0)
    begins_s = plane.t_s - 8.0
    outbound(plane, procedure, 5.0)
    plane.turn(-45.0)
    plane.hold(60.0)
    plane.turn(180.0)
    inbound_and_down(plane, procedure)

    (attempt,) = look(plane.log(procedure, gap_s=(begins_s, begins_s + 45.0)), procedure).attempts

    assert seen(attempt)[:4] == ["inbound", "station_passage", "outbound", "course_reversal"]
    assert attempt.passages[0].t_s == pytest.approx(passage_s, abs=3.0)
    assert attempt.spans[2].start_s == pytest.approx(attempt.passages[0].exit_s)


def test_abeam_of_the_station_in_a_gap_on_the_way_out_is_no_second_passage():
    """Carried past the station by 35 kt in the turn, and back abeam of it against them only three minutes later."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(
        procedure, from_deg=course_deg + 180.0, tas_kt=90.0, wind=((course_deg + 180.0) % 360.0, 35.0)
    )
    passage_s = plane.t_s
    plane.hold(25.0)
    plane.turn(180.0)
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold_until(lambda: plane.along_nm(course_deg) <= 0.0)
    abeam_s = plane.t_s
    plane.hold(120.0)
    plane.turn(150.0)
    inbound_and_down(plane, procedure)

    (attempt,) = look(plane.log(procedure, gap_s=(abeam_s - 30.0, abeam_s + 35.0)), procedure).attempts

    assert abeam_s + 35.0 - passage_s > 180.0
    assert seen(attempt)[:4] == ["inbound", "station_passage", "outbound", "course_reversal"]
    assert attempt.passages[0].t_s == pytest.approx(passage_s, abs=3.0)


def test_a_gap_over_a_station_that_is_flown_over_hides_no_approach():
    """Seen again it flies on, at its height."""
    procedure = load_procedure("lantern-vor-22")
    plane = arriving(procedure, from_deg=20.0, nm=12.0, tas_kt=110.0, wind=(0.0, 0.0))
    over_s = plane.t_s
    plane.turn_to(true_deg(procedure, procedure.inbound_course_deg))
    plane.hold(500.0)

    found = look(plane.log(procedure, gap_s=(over_s - 60.0, over_s + 120.0)), procedure).attempts

    assert found == ()


def test_from_just_before_the_station_to_just_before_it_again():
    """A whole circuit of a station on the aerodrome lies in the gap; the end of the final is seen after it."""
    case = base_turn("kestrey-ndb-09", from_deg=110.0)
    final_s = moment(case, "final", end=True)
    (attempt,) = attempts(case, (moment(case, "station_passage") - 15.0, final_s - 12.0))

    assert seen(attempt)[0] == "inbound"
    assert seen(attempt)[-2:] == ["final", "missed_approach"]
    assert {each.phase for each in attempt.not_seen} >= {Phase.OUTBOUND, Phase.COURSE_REVERSAL}


def test_a_gap_in_the_reversal_after_which_the_aircraft_comes_from_far_away_ends_the_approach():
    """Seen again it takes six minutes to the station, on the way to another approach: no turn back does."""
    procedure = load_procedure("kestrey-ndb-09")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    out_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=110.0, tas_kt=95.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 5.0)
    plane.turn_to(course_deg - 60.0, "right")
    gap_s = plane.t_s
    plane.turn_to(out_deg + 60.0)
    plane.hold(240.0)
    resumes_s = plane.t_s
    plane.hold(30.0)
    plane.turn(160.0)
    back_deg = (math.degrees(math.atan2(plane.east_nm, plane.north_nm)) + 180.0) % 360.0
    plane.turn_to(back_deg)
    plane.follow(back_deg, lambda: plane.along_nm(back_deg) >= 0.0)
    assert plane.t_s - resumes_s > 310.0
    plane.turn_to(out_deg)
    plane.hold(100.0)

    found = look(plane.log(procedure, gap_s=(gap_s, resumes_s)), procedure).attempts

    assert seen(found[0])[-1] == "course_reversal"
    assert found[0].end_s == pytest.approx(gap_s, abs=2.0)


@pytest.mark.parametrize("gap_s", [40.0, 90.0])
def test_a_gap_on_the_course_soon_after_it_was_joined_leaves_the_final_its_beginning(gap_s):
    """Straight in to the beacon of the aerodrome, 15 seconds on the course before the gap, and on it after."""
    procedure = load_procedure("kestrey-ndb-09")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(11.0, course_deg, beside_deg=15.0, cut_deg=30.0, altitude_ft=3040.0)
    plane.join(course_deg)
    down_to_the_minimum(plane, procedure)
    (whole,) = look(plane.log(procedure), procedure).attempts
    final = whole.last(Phase.FINAL)
    assert final is not None
    begin_s = final.start_s + 15.0

    (attempt,) = look(plane.log(procedure, gap_s=(begin_s, begin_s + gap_s)), procedure).attempts

    assert [str(span.phase) for span in attempt.spans] == ["inbound", "final", "missed_approach"]
    assert attempt.spans[1].start_s == pytest.approx(final.start_s, abs=2.0)


@pytest.mark.parametrize("above_ft", [900.0, 2500.0])
def test_a_gap_on_the_way_round_the_aerodrome_by_eye_hides_no_approach(above_ft):
    """Along the downwind at the height of a circuit, past the station in a gap, and on the short final after it."""
    procedure = load_procedure("lantern-vor-22")
    assert procedure.runway is not None
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(
        6.0,
        course_deg + 180.0,
        beside_deg=9.0,
        cut_deg=0.0,
        altitude_ft=procedure.runway.elevation_ft + above_ft,
    )
    plane.hold_until(lambda: plane.along_nm(course_deg) <= 1.0)
    begins_s = plane.t_s
    plane.hold(20.0)
    plane.turn(-180.0)
    plane.turn_to(course_deg - math.copysign(30.0, plane.across_nm(course_deg)))
    plane.join(course_deg)
    plane.to_ft = procedure.runway.elevation_ft + 10.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 2.0)
    resumes_s = plane.t_s
    plane.follow(course_deg, lambda: plane.altitude_ft == plane.to_ft)
    while plane.tas_kt > 10.0:
        plane.tas_kt -= 0.8
        plane.step()
    plane.hold(40.0)

    found = look(plane.log(procedure, gap_s=(begins_s, resumes_s)), procedure).attempts

    assert [seen(attempt)[0] for attempt in found] == ["inbound"] * (above_ft > 1500.0)
