"""Reversals of slow aircraft that never lead far from the station, and turns at it that lead over it again."""

from __future__ import annotations

import math

import numpy as np
import pytest

from debrief.phases.model import FoundAttempt
from debrief.pipeline import debrief, look
from debrief.procedures import load_procedure
from debrief.procedures.model import Extent, Pattern, Phase, Procedure
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import (
    WHOLE,
    arriving,
    down_to_the_minimum,
    home_to,
    inbound_and_down,
    inbound_at,
    level_of,
    out_deg,
    outbound,
    true_deg,
    with_a_racetrack,
)


def base_turn_of_a_minute() -> Procedure:
    """Its outbound radial lies 28 degrees left of the reciprocal; the turn back leads to the right."""
    published = load_procedure("lantern-vor-22")
    radial_deg = (published.inbound_course_deg + 180.0 - 28.0) % 360.0
    changes = {
        "outbound": {"radial_deg": radial_deg, "length": Extent(minutes=1.0)},
        "course_reversal": {"pattern": Pattern.BASE_TURN, "side": "right", "leg_seconds": None},
    }
    legs = tuple(leg.model_copy(update=changes.get(leg.phase, {})) for leg in published.leg)
    return published.model_copy(update={"leg": legs})


def only(plane: Aeroplane, procedure: Procedure) -> FoundAttempt:
    (attempt,) = look(plane.log(procedure), procedure).attempts
    return attempt


def four_miles_out_and_back(plane: Aeroplane, procedure: Procedure) -> None:
    """Along the outbound course, round a 45/180 on its left, and in and down."""
    course_deg = out_deg(procedure)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 4.0)
    plane.to_ft = level_of(procedure, "course_reversal")
    plane.turn_to(course_deg - 45.0)
    plane.hold(60.0)
    plane.turn(180.0)
    inbound_and_down(plane, procedure)


def slow_base_turn(out_s: float, *, wind_kt: float) -> tuple[Aeroplane, Procedure]:
    """At 75 kt, the wind blowing back to the station."""
    procedure = base_turn_of_a_minute()
    course_deg, in_deg = out_deg(procedure), true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=75.0, wind=(course_deg, wind_kt))
    plane.to_ft = level_of(procedure, "outbound")
    plane.follow(course_deg, lambda: plane.t_s >= plane.marks["station"] + out_s)
    plane.mark("turn off")
    plane.to_ft = level_of(procedure, "course_reversal")
    plane.turn_to(plane.heading_for(in_deg), "right")
    plane.to_ft = level_of(procedure, "intermediate")
    plane.follow(in_deg, lambda: plane.along_nm(in_deg) >= 0.0)
    plane.mark("back at the station")
    down_to_the_minimum(plane, procedure)
    return plane, procedure


def test_most_of_a_minute_out_at_75_knots_is_an_outbound_leg():
    """It never was farther than 1.5 NM away; the whole approach was taken for a circuit of the aerodrome."""
    plane, procedure = slow_base_turn(50.0, wind_kt=0.0)

    attempt = only(plane, procedure)

    assert [str(span.phase) for span in attempt.spans if span.phase != "intermediate"] == [
        phase for phase in WHOLE if phase != "intermediate"
    ]
    assert attempt.turn_off_s == pytest.approx(plane.marks["turn off"], abs=4.0)


def test_two_passages_with_a_short_leg_between_them_are_two():
    """The cone was left by half a mile only, but the aircraft flew out and came back along the inbound course.

    The two visits were taken for one passage, so that the approach had no reversal.
    """
    plane, procedure = slow_base_turn(60.0, wind_kt=10.0)

    attempt = only(plane, procedure)

    assert len([passage for passage in attempt.passages if not passage.missed]) == 2
    assert attempt.ending == "missed approach"


def test_a_late_turn_the_long_way_round_that_leads_over_the_station_again_is_no_second_passage():
    """Turned outbound 1.3 NM past the station, so that the way to the radial led over the station once more.

    The approach was made to begin with that second visit, and the way in to the first one had no phase.
    """
    procedure = load_procedure("lantern-vor-22")
    course_deg = out_deg(procedure)
    plane = arriving(procedure, from_deg=course_deg + 10.0, tas_kt=110.0, wind=(0.0, 0.0))
    plane.hold_until(lambda: plane.distance_nm() >= 1.3)
    plane.turn(-170.0)
    plane.turn_to(math.degrees(math.atan2(-plane.east_nm, -plane.north_nm)))
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold_until(lambda: plane.distance_nm() < 0.4)
    four_miles_out_and_back(plane, procedure)

    attempt = only(plane, procedure)

    assert [str(span.phase) for span in attempt.spans] == WHOLE
    assert attempt.passages[0].t_s == pytest.approx(plane.marks["station"], abs=5.0)


@pytest.mark.parametrize("turned_deg", [270.0, -290.0])
def test_passing_abeam_on_the_way_out_after_the_long_way_round_is_no_second_passage(turned_deg):
    """From overhead nearly all the way round, over two minutes, and past the station half a mile beside it.

    That second closest point was taken for the passage, and all before it, with the station crossed overhead, had no
    phase: so much of a turn counted as a circuit flown.
    """
    procedure = load_procedure("lantern-vor-22")
    course_deg = out_deg(procedure)
    plane = arriving(
        procedure, from_deg=course_deg - turned_deg + 180.0, tas_kt=110.0, wind=(course_deg, 12.0)
    )
    plane.turn(turned_deg)
    plane.mark("turned")
    plane.to_ft = level_of(procedure, "outbound")
    four_miles_out_and_back(plane, procedure)

    attempt = only(plane, procedure)

    assert plane.marks["turned"] - plane.marks["station"] > 85.0
    assert [str(span.phase) for span in attempt.spans] == WHOLE
    assert attempt.passages[0].t_s == pytest.approx(plane.marks["station"], abs=5.0)
    assert attempt.passages[0].distance_nm < 0.05


def test_a_straight_in_final_that_is_joined_late_comes_from_as_far_as_any():
    """Beside the course for 7 NM, and established 2 NM from the station: no circuit of the aerodrome comes like that."""
    procedure = load_procedure("sallow-vor-13")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(
        procedure, from_deg=course_deg + 180.0 - 9.0, nm=9.0, tas_kt=100.0, wind=(0.0, 0.0), up_to_nm=5.0
    )
    plane.to_ft = level_of(procedure, "course_reversal")
    plane.follow(course_deg - 9.0, lambda: plane.distance_nm() <= 2.9)
    plane.turn(-10.0)
    plane.hold(20.0)
    plane.to_ft, plane.climb_ft_min = level_of(procedure, "final"), 900.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -0.2)
    plane.to_ft = plane.altitude_ft + 1500.0
    plane.follow(course_deg, lambda: plane.altitude_ft == plane.to_ft)
    plane.hold(20.0)

    attempt = only(plane, procedure)

    assert [str(span.phase) for span in attempt.spans] == ["inbound", "final", "missed_approach"]
    final = attempt.last(Phase.FINAL)
    assert final is not None
    assert look(plane.log(procedure), procedure).at(np.array([final.start_s])).distance_nm[0] < 2.9


def test_circuits_along_the_radial_of_a_base_turn_at_one_height_are_a_hold():
    """Twice round, and then down: the hold was taken for the first two circuits of the approach."""
    procedure = base_turn_of_a_minute()
    course_deg, in_deg = out_deg(procedure), true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=100.0, wind=(0.0, 0.0))
    for _ in range(2):
        plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 2.2)
        plane.turn_to(in_deg, "right")
        held_s = plane.t_s
        plane.follow(in_deg, lambda: plane.along_nm(in_deg) >= 0.0)
        plane.mark("station")
        plane.turn_to(course_deg, "right")
    plane.to_ft = level_of(procedure, "outbound")
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 2.2)
    plane.to_ft = level_of(procedure, "course_reversal")
    plane.turn_to(in_deg, "right")
    plane.to_ft = level_of(procedure, "intermediate")
    plane.follow(in_deg, lambda: plane.along_nm(in_deg) >= 0.0)
    down_to_the_minimum(plane, procedure)

    attempt = only(plane, procedure)

    flown = [str(span.phase) for span in attempt.spans if span.phase is not Phase.INTERMEDIATE]
    assert flown == [phase for phase in WHOLE if phase != "intermediate"]
    assert attempt.start_s >= held_s - 60.0
    assert attempt.passages[0].t_s == pytest.approx(plane.marks["station"], abs=3.0)


def test_a_level_circuit_whose_turn_back_a_gap_hides_is_a_hold_where_another_one_follows():
    """Nothing shows that it had not the two turns of a 45/180: it was taken for the beginning of the approach."""
    procedure = load_procedure("lantern-vor-22")
    course_deg, in_deg = out_deg(procedure), true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=in_deg + 180.0, tas_kt=100.0, wind=(0.0, 0.0))
    plane.turn(180.0)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 3.5)
    turns_s = plane.t_s
    plane.turn(180.0)
    plane.follow(in_deg, lambda: plane.along_nm(in_deg) >= 0.0)
    plane.mark("station")
    outbound(plane, procedure, 5.0)
    plane.turn_to(course_deg - 45.0)
    plane.hold(60.0)
    plane.turn(180.0)
    inbound_and_down(plane, procedure)
    log = plane.log(procedure, gap_s=(turns_s + 15.0, turns_s + 75.0))

    (attempt,) = look(log, procedure).attempts

    assert [str(span.phase) for span in attempt.spans] == WHOLE
    assert attempt.passages[0].t_s == pytest.approx(plane.marks["station"], abs=3.0)


def test_a_log_that_begins_flying_outbound_and_comes_back_as_high_as_it_was_is_on_its_way_to_the_approach():
    """It turned round, came to the station at the altitude to arrive at, and only then flew the racetrack."""
    procedure = load_procedure("marrow-vor-31")
    in_deg, way = true_deg(procedure, procedure.inbound_course_deg), "right"
    plane = Aeroplane(
        east_nm=4.0 * math.sin(math.radians(in_deg + 180.0)),
        north_nm=4.0 * math.cos(math.radians(in_deg + 180.0)),
        heading_deg=in_deg + 180.0,
        altitude_ft=2540.0,
        tas_kt=110.0,
    )
    plane.hold(60.0)
    plane.turn_to(in_deg, way)
    plane.follow(in_deg, lambda: plane.along_nm(in_deg) >= 0.0)
    plane.mark("station")
    plane.turn_to(in_deg + 180.0, way)
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold_until(lambda: plane.distance_nm() >= 5.0)
    plane.turn_to(in_deg - 25.0, way)
    inbound_and_down(plane, procedure)

    attempt = only(plane, procedure)

    assert [str(span.phase) for span in attempt.spans] == WHOLE
    assert attempt.passages[0].t_s == pytest.approx(plane.marks["station"], abs=3.0)


def climbs_away_and_turns_back() -> tuple[Aeroplane, Procedure]:
    """A racetrack's approach to a beacon on the aerodrome, and back beside the beacon along the outbound course."""
    procedure = with_a_racetrack(load_procedure("kestrey-ndb-09"))
    in_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=in_deg + 180.0, tas_kt=100.0, wind=(0.0, 0.0))
    plane.turn_to(in_deg + 180.0, "right")
    plane.hold(120.0)
    plane.turn_to(in_deg - 25.0, "right")
    plane.join(in_deg)
    plane.to_ft = level_of(procedure, "final")
    plane.follow(in_deg, lambda: plane.along_nm(in_deg) >= -0.3)
    plane.climb_ft_min, plane.to_ft = 1800.0, 3040.0
    plane.follow(in_deg, lambda: plane.along_nm(in_deg) >= 1.0)
    plane.turn_to(in_deg + 180.0, "right")
    plane.hold_until(lambda: plane.along_nm(in_deg) <= 0.0)
    plane.mark("abeam")
    plane.climb_ft_min, plane.to_ft = 600.0, 2040.0
    return plane, procedure


def test_a_closest_point_soon_after_a_missed_approach_is_a_passage_of_its_own():
    """Within the turn that a pass abeam may follow a passage by; but that passage was the climb away's."""
    plane, procedure = climbs_away_and_turns_back()
    in_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.hold_until(lambda: plane.along_nm(in_deg) <= -5.0)
    plane.turn_to(in_deg - 25.0, "right")
    inbound_and_down(plane, procedure)

    attempts = look(plane.log(procedure), procedure).attempts

    assert [str(span.phase) for span in attempts[1].spans][:3] == ["inbound", "station_passage", "outbound"]
    assert attempts[1].passages[0].t_s == pytest.approx(plane.marks["abeam"], abs=3.0)


def test_a_way_out_and_back_to_begin_again_over_the_station_is_no_circuit_of_the_racetrack():
    """Beside the beacon and out for a minute, to come back over it, and only then out and round to the final."""
    plane, procedure = climbs_away_and_turns_back()
    in_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.to_ft = 3040.0
    plane.hold(60.0)
    plane.turn_to(in_deg - 25.0, "right")
    home_to(plane, 0.05)
    station_s = plane.t_s
    plane.turn_to(in_deg + 180.0, "right")
    plane.to_ft = 2040.0
    plane.hold(120.0)
    plane.turn_to(in_deg - 25.0, "right")
    inbound_and_down(plane, procedure)

    attempts = look(plane.log(procedure), procedure).attempts

    assert len(attempts[1].spans_of(Phase.OUTBOUND)) == 1
    assert attempts[1].passages[0].t_s == pytest.approx(station_s, abs=4.0)


def test_a_circle_for_spacing_in_the_turn_back_is_no_crossing_of_the_station():
    """The turn back is carried on all the way round once, and comes within a mile of the station in it."""
    procedure = base_turn_of_a_minute()
    course_deg = out_deg(procedure)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=75.0, wind=(0.0, 0.0))
    plane.to_ft = level_of(procedure, "outbound")
    plane.follow(course_deg, lambda: plane.t_s >= plane.marks["station"] + 60.0)
    off_s = plane.t_s
    plane.turn(360.0 + 205.0)
    home_to(plane, 0.05)
    down_to_the_minimum(plane, procedure)

    attempt = only(plane, procedure)

    assert len(attempt.passages) == 2
    assert attempt.turn_off_s == pytest.approx(off_s, abs=4.0)


@pytest.mark.parametrize("cut_deg", [-35.0, 35.0])
def test_straight_in_to_the_aerodrome_the_course_is_joined_and_so_are_needle_and_angle_seen(cut_deg):
    """The moment was not handed on: the report told that the joining "was not flown", and measured no intercept."""
    procedure = load_procedure("kestrey-ndb-09")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    beside_deg = math.copysign(30.0, cut_deg)
    plane = inbound_at(
        14.0,
        course_deg,
        beside_deg=beside_deg,
        cut_deg=cut_deg,
        altitude_ft=(level_of(procedure, "inbound") or 0.0),
    )
    plane.join(course_deg)
    plane.mark("joined")
    plane.to_ft = level_of(procedure, "final")
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -0.3)
    track = plane.log(procedure)

    (attempt,) = look(track, procedure).attempts
    (told,) = debrief(track, procedure).attempts

    assert [str(span.phase) for span in attempt.spans] == ["inbound", "final"]
    assert attempt.established_s == attempt.spans[1].start_s
    assert attempt.established_s == pytest.approx(plane.marks["joined"], abs=10.0)
    assert told.measures.intercept is not None
    assert told.measures.intercept.angle_deg == pytest.approx(abs(cut_deg), abs=1.0)
    shown = {entry.moment: entry for entry in told.shown}
    assert shown["needle alive"].time < shown["established"].time
    assert {finding.rule for finding in told.findings} == {"reversal_missing"}
    assert "joined the inbound course" in told.findings[0].message
