"""Approaches flown badly, too low, too high or from elsewhere: they are approaches all the same, and have their phases."""

from __future__ import annotations

import math

import pytest

from debrief.phases.model import FoundAttempt
from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import arriving, inbound_at, level_of, outbound, true_deg

KESTREY = load_procedure("kestrey-ndb-09")
SALLOW = load_procedure("sallow-vor-13")
LANTERN = load_procedure("lantern-vor-22")
NO_WIND = (0.0, 0.0)
TWO_SECONDS = 2.0


def attempts(plane: Aeroplane, procedure=KESTREY, from_s: float = 0.0) -> tuple[FoundAttempt, ...]:
    return look(plane.log(procedure, from_s=from_s), procedure).attempts


def seen(attempt: FoundAttempt) -> list[str]:
    return [str(span.phase) for span in attempt.spans]


def climb_away(plane: Aeroplane) -> float:
    away_s, plane.to_ft = plane.t_s, plane.altitude_ft + 1500.0
    plane.hold(200.0)
    return away_s


def test_an_outbound_leg_far_off_its_radial_is_one_where_the_aircraft_comes_back_down_to_the_aerodrome():
    """46 degrees off, and back without ever meeting the course; it climbs away at the minimum."""
    out_deg = true_deg(SALLOW, SALLOW.outbound_course_deg or 0.0)
    plane = arriving(SALLOW, from_deg=out_deg + 180.0, tas_kt=110.0, wind=NO_WIND)
    plane.turn_to(out_deg - 46.0)
    plane.to_ft = level_of(SALLOW, "outbound")
    plane.hold(120.0)
    plane.turn(45.0)
    plane.hold(50.0)
    plane.turn(-180.0)
    plane.to_ft = level_of(SALLOW, "final")
    plane.turn_to(plane.heading_deg)
    plane.hold_until(lambda: plane.altitude_ft == plane.to_ft or plane.distance_nm() < 1.0)
    away_s = climb_away(plane)

    (found,) = attempts(plane, SALLOW)

    assert seen(found)[:4] == ["inbound", "station_passage", "outbound", "course_reversal"]
    assert seen(found)[-1] == "missed_approach"
    assert found.spans[-1].start_s == pytest.approx(away_s + 5.0, abs=3 * TWO_SECONDS)


def test_a_climb_away_over_the_aerodrome_ends_a_reversal_from_which_nobody_came_down():
    """At 2,000 ft, as published for the base turn: half a mile beside the course all the way, and away at the beacon."""
    course_deg = true_deg(KESTREY, KESTREY.inbound_course_deg)
    plane = arriving(KESTREY, from_deg=110.0, tas_kt=95.0, wind=NO_WIND)
    outbound(plane, KESTREY, 5.5)
    plane.turn_to(course_deg - 35.0, "right")
    plane.hold_until(lambda: -plane.across_nm(course_deg) >= 0.9)
    plane.turn_to(course_deg)
    plane.hold_until(lambda: plane.along_nm(course_deg) >= -0.5)
    away_s = climb_away(plane)

    (found,) = attempts(plane)

    assert seen(found)[-2:] == ["course_reversal", "missed_approach"]
    assert found.spans[-1].start_s == pytest.approx(away_s + 5.0, abs=2 * TWO_SECONDS)


def test_a_base_turn_begun_much_too_soon_is_no_hold_where_it_leads_down_to_the_minimum():
    """Turned back at half the length of the outbound leg, through the course, and away at the minimum."""
    course_deg = true_deg(KESTREY, KESTREY.inbound_course_deg)
    plane = arriving(KESTREY, from_deg=110.0, tas_kt=95.0, wind=NO_WIND)
    outbound(plane, KESTREY, 2.3)
    plane.climb_ft_min = 1300.0
    plane.turn_to(course_deg + 35.0, "right")
    plane.to_ft = level_of(KESTREY, "final")
    plane.hold_until(lambda: plane.distance_nm() < 0.7 or plane.altitude_ft == plane.to_ft)
    climb_away(plane)
    plane.turn_to(plane.heading_deg + 180.0)
    plane.follow(plane.heading_deg, lambda: plane.distance_nm() < 0.2)
    plane.turn_to(true_deg(KESTREY, KESTREY.outbound_course_deg or 0.0))
    plane.hold(100.0)
    plane.turn(-200.0)
    plane.hold(30.0)

    found = attempts(plane)

    assert seen(found[0])[:4] == ["inbound", "station_passage", "outbound", "course_reversal"]
    assert "missed_approach" in seen(found[0])


def test_a_downwind_far_beside_the_station_is_no_outbound_leg():
    """Led past it to join the inbound course farther out, at one height: a straight-in approach."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(9.0, course_deg + 180.0, beside_deg=0.0, cut_deg=0.0, altitude_ft=2600.0)
    plane.turn_to(course_deg + 180.0 - 40.0)
    plane.hold_until(lambda: abs(plane.across_nm(course_deg)) >= 3.2)
    plane.turn_to(course_deg + 180.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -6.0)
    side = 1.0 if plane.across_nm(course_deg) < 0.0 else -1.0
    plane.turn(side * -90.0)
    plane.hold(10.0)
    plane.turn_to(course_deg + side * 40.0)
    plane.to_ft = level_of(procedure, "intermediate")
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 1.0)
    plane.to_ft = level_of(procedure, "final")
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 3.8)
    climb_away(plane)

    (found,) = attempts(plane, procedure)

    assert seen(found) == ["inbound", "station_passage", "final", "missed_approach"]
    assert found.straight_in


def straight_in(altitude_ft: float, to_ft: float, *, weaves: bool = False) -> tuple[Aeroplane, float]:
    """From 14 NM onto the final course of Kestrey, 12 NM out, and down it to a height; when it was first joined."""
    course_deg = true_deg(KESTREY, KESTREY.inbound_course_deg)
    plane = inbound_at(14.0, course_deg, beside_deg=15.0, cut_deg=40.0, altitude_ft=altitude_ft)
    plane.join(course_deg)
    joined_s = plane.t_s
    if weaves:
        plane.hold(8.0)
        plane.turn(30.0)
        plane.hold(70.0)
        plane.turn(-60.0)
        plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -4.5)
    plane.to_ft = to_ft
    plane.climb_ft_min = 900.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -0.2)
    climb_away(plane)
    return plane, joined_s


def test_a_straight_in_approach_may_be_flown_low_from_far_out():
    """At 1,435 ft above the aerodrome from 14 NM on: no circuit goes so far."""
    plane, joined_s = straight_in(1480.0, 590.0)

    (found,) = attempts(plane)

    assert seen(found) == ["inbound", "final", "missed_approach"]
    assert found.spans[1].start_s == pytest.approx(joined_s, abs=20.0)


def test_a_straight_in_approach_given_up_well_above_the_minimum_came_down_all_the_same():
    """From 3,000 ft to 1,400, and away over the beacon; the minimum is 540."""
    plane, _ = straight_in(3000.0, 1400.0)

    (found,) = attempts(plane)

    assert seen(found) == ["inbound", "final", "missed_approach"]


def test_the_final_course_is_established_where_it_was_first_joined_though_not_for_long():
    """Held for some twenty seconds, left by a turn of 30 degrees, and joined again."""
    plane, joined_s = straight_in(3000.0, 590.0, weaves=True)

    (found,) = attempts(plane)

    assert seen(found) == ["inbound", "final", "missed_approach"]
    assert found.spans[1].start_s < joined_s + 10.0


def test_a_log_may_begin_in_a_reversal_that_never_meets_the_course_of_a_station_on_the_aerodrome():
    course_deg = true_deg(SALLOW, SALLOW.inbound_course_deg)
    plane = inbound_at(5.5, course_deg, beside_deg=-14.0, cut_deg=-150.0, altitude_ft=1900.0)
    plane.turn_to(course_deg, "right")
    plane.to_ft = level_of(SALLOW, "final")
    plane.hold_until(lambda: plane.along_nm(course_deg) >= -0.5)
    climb_away(plane)

    (found,) = attempts(plane, SALLOW)

    assert seen(found)[0] == "course_reversal"
    assert seen(found)[-1] == "missed_approach"


def test_an_outbound_leg_with_which_a_log_ends_after_a_missed_approach_may_be_a_hold():
    """Back over the beacon and round, at one height."""
    plane, _ = straight_in(3000.0, 590.0)
    out_deg = true_deg(KESTREY, KESTREY.outbound_course_deg or 0.0)
    plane.to_ft = 3040.0
    plane.hold(150.0)
    plane.turn(180.0)
    plane.follow(plane.heading_deg, lambda: plane.distance_nm() < 0.15)
    plane.turn_to(out_deg + 5.0)
    plane.hold(35.0)

    found = attempts(plane)

    assert [seen(attempt)[-1] for attempt in found] == ["missed_approach"]


def test_a_log_may_end_on_the_way_back_to_a_radial_and_across_it():
    """Turned late at the station, and back to the radial at 47 degrees for most of the time; then the leg off begins."""
    out_deg = true_deg(LANTERN, LANTERN.outbound_course_deg or 0.0)
    plane = arriving(LANTERN, from_deg=out_deg + 75.0, tas_kt=85.0, wind=NO_WIND)
    plane.to_ft = level_of(LANTERN, "outbound")
    plane.hold(25.0)
    plane.turn_to(out_deg + 47.0, "right")
    plane.hold_until(lambda: plane.across_nm(out_deg) >= 0.45)

    (found,) = attempts(plane, LANTERN)

    assert seen(found)[:3] == ["inbound", "station_passage", "outbound"]
    assert found.last(Phase.FINAL) is None


def test_what_is_flown_after_a_missed_approach_makes_no_hold_of_a_poor_outbound_leg():
    """A base turn off its radial and cut short, down the final to the minimum; then out along the outbound course again."""
    course_deg = true_deg(KESTREY, KESTREY.inbound_course_deg)
    out_deg = true_deg(KESTREY, KESTREY.outbound_course_deg or 0.0)
    plane = arriving(KESTREY, from_deg=110.0, tas_kt=95.0, wind=NO_WIND)
    plane.turn_to(out_deg + 22.0)
    plane.to_ft = level_of(KESTREY, "outbound")
    plane.hold(150.0)
    plane.turn_to(course_deg + 50.0, "right")
    plane.join(course_deg)
    plane.to_ft, plane.climb_ft_min = level_of(KESTREY, "final"), 900.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -0.3)
    plane.to_ft = plane.altitude_ft + 1500.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.4)
    plane.turn_to(out_deg)
    plane.hold(150.0)

    found = attempts(plane)

    assert seen(found[0])[:3] == ["inbound", "station_passage", "outbound"]
    assert seen(found[0])[-2:] == ["final", "missed_approach"]


def test_a_final_that_begins_low_has_little_to_come_down_by():
    """Past the station at 30 degrees to the course, 200 ft above the minimum, and down to it; never established before."""
    course_deg = true_deg(LANTERN, LANTERN.inbound_course_deg)
    final = LANTERN.leg_of("final")
    assert final is not None
    assert final.altitude is not None
    low_ft = final.altitude.low_ft or 0.0
    plane = arriving(LANTERN, from_deg=250.0, tas_kt=105.0, wind=NO_WIND)
    outbound(plane, LANTERN, 5.0)
    plane.turn(-45.0)
    plane.hold(60.0)
    plane.to_ft, plane.climb_ft_min = low_ft + 240.0, 1200.0
    plane.turn(180.0)
    plane.turn_to(course_deg)
    plane.hold_until(lambda: plane.along_nm(course_deg) >= -1.8)
    side = math.copysign(1.0, plane.across_nm(course_deg))
    plane.turn_to(course_deg - side * 30.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) >= 0.0)
    assert abs(plane.across_nm(course_deg)) < 1.4
    plane.to_ft = low_ft + 40.0
    plane.hold(40.0)
    plane.turn_to(course_deg)
    plane.hold_until(lambda: plane.along_nm(course_deg) >= 3.5)
    climb_away(plane)

    (found,) = attempts(plane, LANTERN)

    assert seen(found)[-2:] == ["final", "missed_approach"]


def test_a_circuit_by_eye_after_a_missed_approach_is_no_other_approach():
    """Out along the downwind at 1,900 ft from the climb away on, and round to the runway without meeting the course."""
    course_deg = true_deg(KESTREY, KESTREY.inbound_course_deg)
    plane = inbound_at(14.0, course_deg, beside_deg=15.0, cut_deg=40.0, altitude_ft=3000.0)
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -4.5)
    plane.to_ft, plane.climb_ft_min = 620.0, 1200.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -0.4)
    plane.to_ft = 1900.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.2)
    plane.turn_to(course_deg + 180.0, "left")
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -4.5)
    plane.turn_to(course_deg + 30.0, "left")
    plane.to_ft, plane.climb_ft_min = 46.0, 900.0
    plane.hold_until(lambda: plane.distance_nm() < 1.2 or plane.altitude_ft == plane.to_ft)
    plane.hold_until(lambda: plane.altitude_ft == plane.to_ft)
    while plane.tas_kt > 3.0:
        plane.tas_kt -= 0.8
        plane.step()
    plane.hold(40.0)

    found = attempts(plane)

    assert [seen(attempt)[-1] for attempt in found] == ["missed_approach"]
