"""Finals of logs without altitudes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from debrief.pipeline import look
from debrief.procedures import Procedure, load_procedure
from debrief.tracks.model import Track
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import (
    arriving,
    base_turn,
    down_to_the_minimum,
    inbound_and_down,
    out_deg,
    procedure_turn,
    true_deg,
)

NO_WIND = (0.0, 0.0)


def unheard(plane: Aeroplane, procedure: Procedure) -> Track:
    """A log that holds no altitude."""
    track = plane.log(procedure)
    return replace(track, altitude_ft=np.full(len(track.t_s), np.nan))


def phases(plane: Aeroplane, procedure: Procedure) -> list[list[str]]:
    attempts = look(unheard(plane, procedure), procedure).attempts
    return [[str(span.phase) for span in attempt.spans] for attempt in attempts]


def over_the_threshold_s(plane: Aeroplane, procedure: Procedure) -> float:
    runway = procedure.runway
    assert runway is not None
    track = plane.log(procedure)
    course = math.radians(runway.course_true_deg)
    along = math.cos(course) * (track.latitude_deg - runway.latitude) + math.sin(course) * (
        track.longitude_deg - runway.longitude
    ) * math.cos(math.radians(runway.latitude))
    return float(track.t_s[np.flatnonzero(along > 0.0)[0]])


def round_a_hold(plane: Aeroplane, procedure: Procedure, *, past_s: float) -> None:
    """Once round on the inbound course, turned outbound so late after the station, and back over it."""
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.hold(past_s)
    plane.turn(180.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -2.0)
    plane.turn_to(course_deg - math.copysign(30.0, plane.across_nm(course_deg)), "right")
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)


def test_without_altitudes_a_final_ends_over_the_threshold():
    """The aircraft flies on along the runway and away; nothing tells when it climbed."""
    flown = base_turn("kestrey-ndb-09", from_deg=110.0)
    track = flown.plane.log(flown.procedure)
    track = replace(track, altitude_ft=np.full(len(track.t_s), np.nan))

    (found,) = look(track, flown.procedure).attempts

    final_s = next(start_s for phase, start_s, _ in flown.phases if phase == "final")
    runway = flown.procedure.runway
    assert runway is not None
    past = np.cos(np.radians(runway.course_true_deg)) * (track.latitude_deg - runway.latitude) + np.sin(
        np.radians(runway.course_true_deg)
    ) * (track.longitude_deg - runway.longitude) * np.cos(np.radians(runway.latitude))
    over_s = float(track.t_s[np.flatnonzero((past > 0.0) & (track.t_s > final_s))[0]])
    assert str(found.spans[-1].phase) == "final"
    assert found.spans[-1].end_s == pytest.approx(over_s, abs=2.0)
    assert found.ending == "broken off"


@pytest.mark.parametrize("turns_deg", [80.0, 170.0])
def test_without_altitudes_a_final_straight_in_is_told_by_its_leading_on(turns_deg):
    """Over the station along the course, past the runway, and round; the log ends soon after, or the aircraft flies by."""
    procedure = load_procedure("marrow-vor-31")
    from_deg = true_deg(procedure, procedure.inbound_course_deg) + 180.0
    plane = arriving(procedure, from_deg=from_deg, nm=14.0, tas_kt=110.0, wind=NO_WIND)
    down_to_the_minimum(plane, procedure)
    plane.flown = [
        state for state in plane.flown if state[0] < plane.marks["station"] or math.hypot(*state[1:3]) < 5.0
    ]
    plane.t_s, plane.east_nm, plane.north_nm, plane.altitude_ft = plane.flown[-1]
    plane.turn(turns_deg)
    plane.hold(60.0)

    (attempt,) = look(unheard(plane, procedure), procedure).attempts
    assert [str(span.phase) for span in attempt.spans] == ["inbound", "station_passage", "final"]
    assert attempt.end_s == pytest.approx(over_the_threshold_s(plane, procedure), abs=2.0)


@pytest.mark.parametrize("past_s", [3.0, 22.0])
def test_without_altitudes_a_hold_has_no_final(past_s):
    """It passes the station along the inbound course, and turns there, or half a minute too late."""
    procedure = load_procedure("lantern-vor-22")
    plane = arriving(procedure, from_deg=out_deg(procedure), tas_kt=100.0, wind=NO_WIND)
    round_a_hold(plane, procedure, past_s=past_s)
    round_a_hold(plane, procedure, past_s=past_s)

    assert phases(plane, procedure) == []


def test_without_altitudes_an_aircraft_led_round_after_the_final_flies_no_further_circuit():
    """Straight on from the station for minutes, and back along a downwind miles beside it: the approach had ended."""
    flown = procedure_turn("sallow-vor-13", from_deg=330.0)
    plane, course_deg = flown.plane, true_deg(flown.procedure, flown.procedure.inbound_course_deg)
    plane.turn(90.0)
    plane.hold(150.0)
    plane.turn(90.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -6.0)
    plane.turn(90.0)
    plane.hold_until(lambda: plane.across_nm(course_deg) <= 1.5)
    plane.turn_to(course_deg - 30.0)
    inbound_and_down(plane, flown.procedure)

    assert phases(plane, flown.procedure) == [
        ["inbound", "station_passage", "outbound", "course_reversal", "final"],
        ["inbound", "final"],
    ]


def test_without_altitudes_one_turn_round_is_an_approach_where_a_final_leads_on():
    """Where two turns are published it may else be a hold."""
    procedure = load_procedure("lantern-vor-22")
    plane = arriving(procedure, from_deg=250.0, tas_kt=105.0, wind=NO_WIND)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.turn_to(plane.heading_for(out_deg(procedure)))
    plane.hold_until(lambda: plane.distance_nm() >= 4.8)
    plane.turn_to(course_deg - 30.0, "left")
    inbound_and_down(plane, procedure)

    assert [each[:5] for each in phases(plane, procedure)] == [
        ["inbound", "station_passage", "outbound", "course_reversal", "intermediate"]
    ]
