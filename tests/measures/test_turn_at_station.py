"""The turn at the station, told from every other turn on the way to it. Flown by the second generator."""

from __future__ import annotations

import pytest

from debrief.pipeline import debrief
from debrief.procedures import load_procedure
from debrief.result import StationTurn
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import arriving, inbound_and_down, outbound, true_deg

LANTERN = load_procedure("lantern-vor-22")
OUTBOUND_DEG = true_deg(LANTERN, LANTERN.outbound_course_deg or 0.0)  # 33 true
ROLLING_IN_NM = 0.05  # the turn is commanded so much before its rate passes 1 deg/s


def reversed_and_down(plane: Aeroplane) -> None:
    """The 45/180 to the left, and the rest of the approach."""
    plane.turn_to(OUTBOUND_DEG - 45.0)
    plane.hold(60.0)
    plane.turn(180.0)
    inbound_and_down(plane, LANTERN)


def turn_of(plane: Aeroplane) -> StationTurn:
    (attempt,) = debrief(plane.log(LANTERN), LANTERN).attempts
    assert attempt.measures.turn is not None
    return attempt.measures.turn


def test_a_bend_of_the_arrival_is_no_turn_at_the_station():
    """Six miles out the arrival bends by 42 degrees towards the station, as the turn at the station will."""
    inward_deg = OUTBOUND_DEG - 65.0
    plane = Aeroplane(east_nm=4.0, north_nm=-5.8, heading_deg=inward_deg - 27.0, altitude_ft=3540.0)
    plane.hold(20.0)
    plane.turn(42.0)
    assert plane.distance_nm() > 5.0
    plane.follow(inward_deg, lambda: plane.along_nm(inward_deg) >= -0.4)
    plane.mark("station")
    outbound(plane, LANTERN, 4.8)
    reversed_and_down(plane)

    assert abs(turn_of(plane).lead_nm) < 1.0


def test_a_turn_so_early_that_the_station_falls_back_is_found():
    """Two miles short of the station, onto a track that draws away from it before the radial is joined."""
    from_deg = OUTBOUND_DEG + 180.0 - 95.0
    plane = arriving(LANTERN, from_deg=from_deg, tas_kt=105.0, wind=(0.0, 0.0), up_to_nm=1.9)
    begun_nm = plane.distance_nm()
    plane.turn_to(OUTBOUND_DEG + 35.0)
    plane.hold(30.0)
    plane.turn_to(OUTBOUND_DEG - 60.0)
    plane.hold_until(lambda: abs(plane.across_nm(OUTBOUND_DEG)) < 0.9)
    plane.mark("station")
    outbound(plane, LANTERN, 4.8)
    reversed_and_down(plane)

    assert turn_of(plane).lead_nm == pytest.approx(begun_nm - ROLLING_IN_NM, abs=0.05)


@pytest.mark.parametrize("by_deg", [-182.0, -210.0, 210.0])
def test_a_turn_the_long_way_round_is_as_large_as_it_was_flown(by_deg):
    """Overhead, away from the shorter side: it was no turn, and the needle was scored while it was being made."""
    from_deg = OUTBOUND_DEG - by_deg + 180.0
    plane = arriving(LANTERN, from_deg=from_deg, tas_kt=105.0, wind=(0.0, 0.0), up_to_nm=0.05)
    plane.mark("station")
    plane.turn(by_deg)
    outbound(plane, LANTERN, 6.8)
    reversed_and_down(plane)

    assert turn_of(plane).change_deg == pytest.approx(by_deg, abs=1.0)


def test_a_turn_right_behind_another_is_measured_from_the_track_between_them():
    """No straight flight between the turn to the station and the turn over it."""
    from_deg = OUTBOUND_DEG - 60.0 + 180.0
    plane = arriving(LANTERN, from_deg=from_deg, tas_kt=105.0, wind=(0.0, 0.0), up_to_nm=0.6)
    plane.turn(-80.0)
    plane.mark("station")
    plane.turn(140.0)
    outbound(plane, LANTERN, 6.8)
    reversed_and_down(plane)

    assert turn_of(plane).change_deg == pytest.approx(140.0, abs=5.0)


def test_the_track_before_the_turn_is_none_from_before_a_turn_to_the_other_side():
    """A correction to the left right before the turn to the right: the track was a mean of both sides of it."""
    from_deg = OUTBOUND_DEG - 60.0 + 180.0
    plane = arriving(LANTERN, from_deg=from_deg, tas_kt=105.0, wind=(0.0, 0.0), up_to_nm=0.6)
    plane.hold(4.0)
    plane.turn(-36.0)
    plane.hold(1.5)
    plane.mark("station")
    plane.turn(96.0)
    outbound(plane, LANTERN, 6.8)
    reversed_and_down(plane)

    assert turn_of(plane).change_deg == pytest.approx(96.0, abs=5.0)
