"""Outbound legs flown weaving, and legs so short that two turns run into one or never lead far from the station."""

from __future__ import annotations

import math

import pytest

from debrief.phases.model import FoundAttempt
from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase, Procedure
from tests.phases.aeroplane import RATE_DEG_S, ROLL_S, Aeroplane
from tests.phases.pilots import WHOLE, arriving, inbound_and_down, level_of, out_deg, outbound, true_deg


def side_of(procedure: Procedure) -> float:
    assert procedure.reversal is not None
    return 1.0 if procedure.reversal.side == "right" else -1.0


def in_deg(procedure: Procedure) -> float:
    return true_deg(procedure, procedure.inbound_course_deg)


def only(plane: Aeroplane, procedure: Procedure, *, from_s: float = 0.0) -> FoundAttempt:
    (attempt,) = look(plane.log(procedure, from_s=from_s), procedure).attempts
    return attempt


@pytest.mark.parametrize("name", ["brandel-ndb-27", "pellarin-vor-17"])
def test_the_turn_off_that_also_ends_a_correction_the_other_way_is_the_first_turn(name):
    """Corrections to both sides, the last of them still flown where the 80 degrees begin: 115 are turned at once.

    The correction was taken for the turn off, because the next turn runs the other way and leaves the aircraft
    inbound.
    """
    procedure = load_procedure(name)
    side = side_of(procedure)
    plane = arriving(procedure, from_deg=out_deg(procedure) + 110.0, tas_kt=95.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 2.0)
    plane.turn(side * 35.0)
    for swing in range(5):
        plane.hold(6.0)
        plane.turn(side * (70.0 if swing % 2 else -70.0))
    plane.hold(6.0)
    off_s = plane.t_s
    plane.turn(side * (35.0 + 80.0))
    plane.turn(-side * 230.0)
    plane.turn_to(in_deg(procedure) - math.copysign(30.0, plane.across_nm(in_deg(procedure))))
    inbound_and_down(plane, procedure)

    attempt = only(plane, procedure)

    assert attempt.turn_off_s == pytest.approx(off_s, abs=3.0)
    assert [str(span.phase) for span in attempt.spans] == WHOLE


def test_a_correction_towards_the_radial_is_no_beginning_of_a_base_turn():
    """It runs the same way as the turn back, and is not ended when that begins."""
    procedure = load_procedure("kestrey-ndb-09")
    side = side_of(procedure)
    plane = arriving(procedure, from_deg=out_deg(procedure) + 180.0, tas_kt=100.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 2.0)
    plane.turn(-side * 30.0)
    plane.hold(60.0)
    plane.turn(side * 60.0)
    plane.hold(25.0)
    back_s = plane.t_s
    plane.turn_to(in_deg(procedure) - side * 30.0, "right" if side > 0.0 else "left")
    inbound_and_down(plane, procedure)

    assert only(plane, procedure).turn_off_s == pytest.approx(back_s, abs=3.0)


@pytest.mark.parametrize("name", ["marrow-vor-31", "dateline-ndb-35"])
def test_a_racetrack_of_one_turn_is_parted_where_it_points_outbound(name):
    """Round and round without a straight moment, in a wind that alone carries it out."""
    procedure = load_procedure(name)
    side, course_deg = side_of(procedure), in_deg(procedure)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=110.0, wind=(course_deg, 25.0))
    plane.to_ft = level_of(procedure, "outbound")
    began_s = plane.t_s
    plane.turn(side * 335.0)
    points_s = began_s + 180.0 / RATE_DEG_S + ROLL_S / 2.0  # along the wind, heading and track agree
    inbound_and_down(plane, procedure)

    attempt = only(plane, procedure)

    assert [str(span.phase) for span in attempt.spans][:4] == WHOLE[:4]
    assert attempt.turn_off_s == pytest.approx(points_s, abs=4.0)


@pytest.mark.parametrize("name", ["marrow-vor-31", "dateline-ndb-35"])
def test_a_short_racetrack_that_comes_back_abeam_of_the_station_passes_it_twice(name):
    """Never 2 NM from the station, and 0.8 NM beside it on the way back: a passage, and not one abeam outbound.

    Without it the reversal ran on to the climb away, and the altitude in it fell to that of the minimum.
    """
    procedure = load_procedure(name)
    side, course_deg = side_of(procedure), in_deg(procedure)
    plane = arriving(procedure, from_deg=course_deg + side * 90.0, tas_kt=105.0, wind=(0.0, 0.0))
    plane.to_ft = level_of(procedure, "outbound")
    plane.turn_to(course_deg + 180.0)
    plane.hold(22.0)
    plane.turn(side * 195.0)
    plane.to_ft = level_of(procedure, "intermediate")
    plane.hold_until(lambda: plane.along_nm(course_deg) >= 0.3)
    plane.turn_to(course_deg - math.copysign(30.0, plane.across_nm(course_deg)))
    inbound_and_down(plane, procedure)

    attempt = only(plane, procedure)

    assert [passage.missed for passage in attempt.passages] == [False, False]
    assert [str(span.phase) for span in attempt.spans][:4] == WHOLE[:4]
    assert [str(span.phase) for span in attempt.spans][-3:] == WHOLE[-3:]


@pytest.mark.parametrize("name", ["marrow-vor-31", "dateline-ndb-35"])
def test_a_mile_out_against_the_wind_and_back_beside_the_station_passes_it_twice(name):
    """At 72 kt, 25 of them lost to the wind, and half a mile beside it on the way back, outside the cone."""
    procedure = load_procedure(name)
    side, course_deg = side_of(procedure), in_deg(procedure)
    plane = arriving(procedure, from_deg=course_deg, tas_kt=72.0, wind=(course_deg + 180.0, 25.0))
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold(55.0)
    plane.turn(side * 180.0)
    back_s = plane.t_s
    plane.to_ft = level_of(procedure, "intermediate")
    plane.hold_until(lambda: plane.along_nm(course_deg) >= 0.0)
    plane.mark("abeam")
    plane.turn_to(course_deg - math.copysign(30.0, plane.across_nm(course_deg)))
    inbound_and_down(plane, procedure)
    farthest_nm = max(
        math.hypot(*state[1:3]) for state in plane.flown if plane.marks["station"] < state[0] <= back_s
    )

    attempt = only(plane, procedure)

    assert 0.7 < farthest_nm < 1.2
    assert [str(span.phase) for span in attempt.spans][-3:] == WHOLE[-3:]
    assert attempt.passages[-1].t_s == pytest.approx(plane.marks["abeam"], abs=3.0)


@pytest.mark.parametrize("name", ["pellarin-vor-17", "brandel-ndb-27"])
def test_a_circle_for_spacing_in_an_80_260_carried_too_far_is_still_a_reversal(name):
    """Its turns and the circle are more than 700 degrees in all."""
    procedure = load_procedure(name)
    side = side_of(procedure)
    plane = arriving(procedure, from_deg=out_deg(procedure) + 180.0, tas_kt=100.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 3.5)
    off_s = plane.t_s
    plane.turn(side * 110.0)
    plane.turn(-side * 240.0)
    plane.turn(side * 360.0)
    plane.turn_to(in_deg(procedure) - math.copysign(30.0, plane.across_nm(in_deg(procedure))))
    inbound_and_down(plane, procedure)

    attempt = only(plane, procedure)

    assert attempt.turn_off_s == pytest.approx(off_s, abs=3.0)
    assert [str(span.phase) for span in attempt.spans] == WHOLE


def test_a_log_that_begins_over_the_station_has_no_passage_in_the_turn_off():
    """The first turn of an 80/260, carried too far close to the station, comes nearer to it for some seconds."""
    procedure = load_procedure("brandel-ndb-27")
    side = side_of(procedure)
    plane = arriving(
        procedure, from_deg=out_deg(procedure) - side * 100.0 + 180.0, tas_kt=100.0, wind=(0.0, 0.0)
    )
    begins_s = plane.t_s
    plane.turn_to(out_deg(procedure))
    plane.turn(side * 110.0)
    plane.turn(-side * 290.0)
    plane.turn_to(in_deg(procedure) - math.copysign(30.0, plane.across_nm(in_deg(procedure))))
    inbound_and_down(plane, procedure)

    attempt = only(plane, procedure, from_s=begins_s + 8.0)

    assert len(attempt.passages) == 1


def test_a_first_turn_that_the_turn_at_the_station_runs_into_is_one_and_the_pattern_no_hold():
    """An 80/260 begun at once, at one height, in a log that ends before the station: two turns, not one turn round."""
    procedure = load_procedure("brandel-ndb-27")
    side = side_of(procedure)
    plane = arriving(
        procedure, from_deg=out_deg(procedure) - side * 100.0 + 180.0, tas_kt=130.0, wind=(0.0, 0.0)
    )
    began_s = plane.t_s
    plane.turn(side * 180.0)
    plane.turn(-side * 290.0)
    plane.turn_to(in_deg(procedure) - math.copysign(30.0, plane.across_nm(in_deg(procedure))))
    ends_s = plane.t_s + 15.0
    inbound_and_down(plane, procedure)

    (attempt,) = look(plane.log(procedure, gap_s=(ends_s, 1e6)), procedure).attempts

    assert attempt.turn_off_s == pytest.approx(began_s + 100.0 / RATE_DEG_S + ROLL_S / 2.0, abs=4.0)


def test_a_turn_back_with_which_the_log_begins_is_not_parted_where_it_points_outbound():
    """The second turn of an 80/260 passes the outbound course too; only the turn at the station is parted there."""
    procedure = load_procedure("brandel-ndb-27")
    side = side_of(procedure)
    plane = arriving(procedure, from_deg=out_deg(procedure) + 180.0, tas_kt=100.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 4.0)
    plane.turn(side * 80.0)
    begins_s = plane.t_s + 4.0
    plane.turn(-side * 230.0)
    inbound_and_down(plane, procedure)

    attempt = only(plane, procedure, from_s=begins_s)

    assert str(attempt.spans[0].phase) == "course_reversal"


def test_a_base_turn_in_pieces_begun_beside_its_radial_begins_with_the_first():
    """Its first piece leads towards the radial, as a correction does; the next goes on at once."""
    procedure = load_procedure("kestrey-ndb-09")
    side = side_of(procedure)
    plane = arriving(procedure, from_deg=out_deg(procedure) + 180.0, tas_kt=100.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 2.0)
    plane.turn(-side * 20.0)
    plane.hold(70.0)
    plane.turn(side * 20.0)
    plane.hold(15.0)
    back_s = plane.t_s
    plane.turn(side * 45.0)
    plane.hold(4.0)
    plane.turn_to(in_deg(procedure) - side * 30.0, "right" if side > 0.0 else "left")
    inbound_and_down(plane, procedure)

    assert only(plane, procedure).turn_off_s == pytest.approx(back_s, abs=3.0)


@pytest.mark.parametrize("gap", [True, False])
def test_a_correction_that_leads_into_a_gap_is_no_turn_off(gap):
    """From beside the station 24 degrees towards the radial, which is reached where a gap hides the turn off it."""
    procedure = load_procedure("lantern-vor-22")
    out, side = out_deg(procedure), side_of(procedure)
    plane = arriving(procedure, from_deg=out + 180.0 - side * 90.0, tas_kt=100.0, wind=(0.0, 0.0))
    plane.to_ft = level_of(procedure, "outbound")
    plane.turn_to(out)
    plane.hold(25.0)
    plane.turn(math.copysign(24.0, -plane.across_nm(out)))
    plane.hold_until(lambda: abs(plane.across_nm(out)) <= 0.15)
    plane.turn_to(out)
    off_s = plane.t_s
    plane.turn_to(out + side * 45.0)
    plane.hold(60.0)
    resumes_s = plane.t_s
    plane.turn(-side * 180.0)
    inbound_and_down(plane, procedure)

    gap_s = (off_s - 12.0, resumes_s + 2.0) if gap else (0.0, 0.0)
    (attempt,) = look(plane.log(procedure, gap_s=gap_s), procedure).attempts

    outbound_leg = attempt.spans_of(Phase.OUTBOUND)[0]
    assert outbound_leg.end_s == pytest.approx(gap_s[0] if gap else off_s, abs=4.0)
