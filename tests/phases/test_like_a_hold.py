"""Reversals flown so that they look like a hold, and holds flown so that they look like the reversal."""

from __future__ import annotations

import pytest

from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase, Procedure
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import (
    WHOLE,
    arriving,
    home_to,
    inbound_and_down,
    level_of,
    out_deg,
    outbound,
    procedure_turn,
    true_deg,
)

NO_WIND = (0.0, 0.0)
KESTREY = load_procedure("kestrey-ndb-09")
LANTERN = load_procedure("lantern-vor-22")


def phases(plane: Aeroplane, procedure: Procedure) -> list[list[str]]:
    flight = look(plane.log(procedure), procedure)
    return [[str(span.phase) for span in attempt.spans] for attempt in flight.attempts]


@pytest.mark.parametrize(("out_nm", "found"), [(6.0, True), (2.2, False)])
def test_a_base_turn_beside_its_radial_and_as_long_as_published_is_no_hold(out_nm, found):
    """Turned a mile too early onto the outbound heading, and not steered to the radial; the log ends level, on the way back.

    Three minutes are published, which no hold's leg lasts; one of a minute there is a hold's.
    """
    plane = arriving(KESTREY, from_deg=out_deg(KESTREY) + 150.0, tas_kt=110.0, wind=NO_WIND, up_to_nm=1.3)
    plane.turn_to(out_deg(KESTREY))
    plane.hold_until(lambda: plane.distance_nm() >= out_nm)
    plane.turn_to(true_deg(KESTREY, KESTREY.inbound_course_deg) - 20.0, "right")
    plane.hold(20.0)

    attempts = phases(plane, KESTREY)
    assert [attempt[0] for attempt in attempts] == ["inbound"] * found
    assert all("course_reversal" in attempt for attempt in attempts)


def test_one_turn_round_and_a_final_are_an_approach_though_a_downwind_follows():
    """The downwind after its missed approach is no further circuit, with which the first would be a hold."""
    course_deg = true_deg(LANTERN, LANTERN.inbound_course_deg)
    plane = arriving(LANTERN, from_deg=250.0, tas_kt=105.0, wind=NO_WIND)
    outbound(plane, LANTERN, 4.8)
    plane.turn_to(course_deg - 30.0, "left")
    inbound_and_down(plane, LANTERN)
    plane.turn(90.0)
    plane.hold(60.0)
    plane.turn_to(course_deg + 180.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -7.0)
    plane.turn(90.0)
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -2.0)

    assert phases(plane, LANTERN) == [WHOLE]


@pytest.mark.parametrize(("down_ft", "count"), [(160.0, 1), (600.0, 2)])
def test_a_hold_after_a_missed_approach_that_wanders_in_height_is_no_second_one(down_ft, count):
    """Over the station again, out, round in one turn, and back along the course, where the log ends."""
    flown = procedure_turn("lantern-vor-22", from_deg=250.0)
    plane, course_deg = flown.plane, true_deg(LANTERN, LANTERN.inbound_course_deg)
    plane.to_ft = plane.altitude_ft + 1500.0
    plane.turn(180.0)
    home_to(plane, 0.2)
    plane.follow(course_deg + 180.0, lambda: plane.along_nm(course_deg) <= -3.5)
    plane.to_ft = plane.altitude_ft - down_ft
    plane.turn_to(course_deg, "left")
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -1.5)

    assert len(phases(plane, LANTERN)) == count


def test_holds_along_the_radial_that_wander_in_height_are_before_the_approach():
    """Two of two minutes out along the base turn's radial, and the base turn itself: its way in begins after them."""
    course_deg = true_deg(KESTREY, KESTREY.inbound_course_deg)
    plane = arriving(KESTREY, from_deg=out_deg(KESTREY) + 120.0, tas_kt=100.0, wind=NO_WIND)
    for down_ft in (160.0, 180.0):
        plane.turn_to(out_deg(KESTREY))
        plane.follow(out_deg(KESTREY), lambda: plane.distance_nm() >= 3.6)
        plane.to_ft = 3040.0 - down_ft
        plane.turn_to(course_deg, "right")
        plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -0.05)
        plane.mark("held")
    outbound(plane, KESTREY, 6.0)
    plane.turn_to(course_deg - 25.0, "right")
    inbound_and_down(plane, KESTREY)

    flight = look(plane.log(KESTREY), KESTREY)
    (found,) = flight.attempts
    assert [str(span.phase) for span in found.spans].count("outbound") == 1
    assert found.start_s > plane.marks["held"] - 200.0


@pytest.mark.parametrize("circuits", [2, 3])
def test_a_racetrack_turned_outbound_before_the_station_is_one(circuits):
    """Back along the inbound course, never established, and turned a mile early, so that the turn leads over the station.

    The log ends on the last way out.
    """
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=90.0, wind=NO_WIND)
    for _ in range(circuits):
        plane.turn_to(course_deg + 165.0, "right")
        plane.to_ft = 2040.0
        plane.hold_until(lambda: plane.along_nm(course_deg) <= -4.5)
        plane.turn_to(course_deg, "right")
        home_to(plane, 1.0)
    plane.turn_to(course_deg + 180.0, "right")
    plane.hold(10.0)

    (found,) = phases(plane, procedure)
    assert found.count("outbound") >= circuits


def hold_at(plane: Aeroplane, course_deg: float, circuits: int) -> None:
    """Right turns at the station, a minute out, and home to it again."""
    for _ in range(circuits):
        plane.turn_to(course_deg + 180.0, "right")
        plane.hold(60.0)
        plane.turn_to(course_deg - 20.0, "right")
        home_to(plane, 0.1)


@pytest.mark.parametrize("circuits", [2, 3])
def test_a_hold_before_a_base_turn_that_never_gets_established_is_none_of_it(circuits):
    """Round the beacon of the aerodrome on another course, before an approach that ends in a climb away over it."""
    procedure = load_procedure("kestrey-ndb-09")
    in_deg, out = true_deg(procedure, procedure.inbound_course_deg), out_deg(procedure)
    plane = arriving(procedure, from_deg=in_deg + 140.0, tas_kt=105.0, wind=(0.0, 0.0))
    plane.to_ft = level_of(procedure, "outbound")
    hold_at(plane, in_deg - 40.0, circuits)
    station_s = plane.t_s
    plane.turn_to(out)
    plane.to_ft = level_of(procedure, "outbound")
    plane.follow(out, lambda: plane.distance_nm() >= 6.0)
    plane.turn_to(in_deg - 45.0, "right")
    plane.hold_until(lambda: plane.across_nm(in_deg) <= -1.0)
    home_to(plane, 0.3)
    plane.to_ft = plane.altitude_ft + 1500.0
    plane.turn_to(in_deg)
    plane.hold(180.0)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert len(attempt.spans_of(Phase.OUTBOUND)) == 1
    assert attempt.passages[0].t_s == pytest.approx(station_s, abs=6.0)


@pytest.mark.parametrize("at_station_deg", [180.0, -180.0])
def test_half_circles_the_one_way_at_the_station_and_the_other_way_out_there_are_no_hold(at_station_deg):
    """A 45/180 whose first turn is one of 20 degrees, beside its radial; the log ends level, on the way back.

    Round the same way as back it may be a hold on the inbound course, and a correction on its outbound leg.
    """
    plane = arriving(LANTERN, from_deg=out_deg(LANTERN), tas_kt=105.0, wind=NO_WIND)
    plane.turn(at_station_deg)
    plane.hold(45.0)
    plane.turn(20.0)
    plane.hold(60.0)
    plane.turn(-200.0)
    plane.hold(20.0)

    attempts = phases(plane, LANTERN)

    assert [attempt[:4] for attempt in attempts] == [WHOLE[:4]] * (at_station_deg > 0.0)


def test_the_turn_at_the_station_after_a_hold_is_not_the_turn_back_of_a_reversal():
    """Round a hold to the right, and at the station the long way round to the left: two turns, and no 80/260 of its own."""
    procedure = load_procedure("brandel-ndb-27")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=100.0, wind=NO_WIND)
    plane.turn(200.0)
    plane.hold(70.0)
    plane.turn(120.0)
    plane.turn(10.0)
    home_to(plane, 0.42)
    held_s = plane.t_s
    plane.turn(-170.0)
    outbound(plane, procedure, 3.5)
    plane.turn(-80.0)
    plane.turn(230.0)
    inbound_and_down(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert [str(span.phase) for span in attempt.spans] == WHOLE
    assert attempt.passages[0].t_s == pytest.approx(held_s, abs=20.0)


def test_a_turn_round_past_the_station_and_away_is_no_reversal():
    """Over the station, turned round to the right abeam of it, and off again to lose height, 400 ft, somewhere else."""
    procedure = load_procedure("brandel-ndb-27")
    plane = arriving(procedure, from_deg=out_deg(procedure) + 180.0, tas_kt=100.0, wind=NO_WIND)
    plane.hold(20.0)
    plane.turn(150.0)
    plane.hold(45.0)
    plane.to_ft = plane.altitude_ft - 400.0
    plane.hold(20.0)
    plane.turn(-100.0)
    plane.hold(200.0)

    assert phases(plane, procedure) == []
