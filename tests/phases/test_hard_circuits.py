"""Circuits that pilots fly badly or fast, and that were once read as something else. By both generators."""

from __future__ import annotations

import pytest

from debrief import debrief
from debrief.phases.model import Flight
from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from tests.ensembles import faulty_flight
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import WHOLE, arriving, inbound_and_down, level_of, true_deg


def racetrack_out_and_back(plane: Aeroplane, name: str, *, out_nm: float) -> None:
    """Round to the outbound track with the racetrack's turns, out, and round to 20 degrees off the course in."""
    procedure = load_procedure(name)
    assert procedure.reversal is not None
    way = procedure.reversal.side or "right"
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    side = 1.0 if way == "right" else -1.0
    plane.turn_to(plane.heading_for(course_deg + 180.0), way)
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold_until(lambda: plane.distance_nm() >= out_nm)
    plane.turn_to(plane.heading_for(course_deg - side * 20.0), way)


def back_to_the_station(plane: Aeroplane, name: str) -> None:
    procedure = load_procedure(name)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)


def phases_of(flight: Flight) -> list[list[str]]:
    return [[str(span.phase) for span in attempt.spans] for attempt in flight.attempts]


def test_a_fast_racetrack_abeam_of_the_station_passes_it_once():
    """At 200 kt, drifting off, the second outbound leg came abeam of the station 3.2 NM beside it.

    That closest point was taken for a station that was missed: it cut the flight into two approaches, the second
    below the altitude for arriving.
    """
    name = "marrow-vor-31"
    procedure = load_procedure(name)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    side = 1.0 if procedure.reversal.side == "right" else -1.0
    plane = arriving(
        procedure, from_deg=course_deg + 180.0, nm=10.0, tas_kt=215.0, wind=(course_deg - side * 90.0, 40.0)
    )
    racetrack_out_and_back(plane, name, out_nm=6.0)
    back_to_the_station(plane, name)
    racetrack_out_and_back(plane, name, out_nm=6.0)
    inbound_and_down(plane, procedure)

    circuit = ["outbound", "course_reversal", "intermediate", "station_passage"]
    assert phases_of(look(plane.log(procedure), procedure)) == [
        ["inbound", "station_passage", *circuit, *circuit, "final", "missed_approach"]
    ]


def test_a_late_turn_that_never_settles_outbound_is_no_turn_off():
    """A turn begun a mile past the station led across the radial and straight into the leg off the course.

    It was taken for the turn off the outbound course, so that the leg was too short and the late turn unseen.
    """
    procedure = load_procedure("sallow-vor-13")
    course_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=course_deg - 70.0 + 180.0, tas_kt=90.0, wind=(0.0, 0.0))
    plane.hold_until(lambda: plane.along_nm(course_deg - 70.0) >= 1.1)
    turns_s = plane.t_s
    plane.turn_to(course_deg + 42.0)
    plane.to_ft = level_of(procedure, "course_reversal")
    plane.hold(130.0)
    plane.turn(-180.0)
    inbound_and_down(plane, procedure)
    track = plane.log(procedure)

    attempt = look(track, procedure).attempts[0]
    reversal = attempt.last(Phase.COURSE_REVERSAL)
    assert reversal is not None
    assert reversal.start_s > turns_s + 30.0
    measured = debrief(track, procedure).attempts[0]
    assert measured.measures.turn is not None
    assert measured.measures.turn.lead_nm == pytest.approx(-1.1, abs=0.05)
    assert {f.rule for f in measured.findings} & {"reversal_side", "reversal_missing"} == set()


@pytest.mark.parametrize(
    ("seed", "number"),
    [
        pytest.param(77, 40, id="before two circuits of a racetrack"),
        pytest.param(201, 178, id="and turned the long way round"),
    ],
)
def test_a_station_missed_is_told_and_no_altitude(seed, number):
    """Each was read from a later closest point on, where the aircraft had long begun its descent.

    So it was told to have come down before the station, and not that it had missed it.
    """
    case = faulty_flight(seed, number, fault="station missed")
    found = look(case.track, case.procedure)
    attempt = debrief(case.track, case.procedure).attempts[0]

    assert phases_of(found)[0] == [phase[0] for phase in case.truth.attempts[0].phases]
    assert found.attempts[0].passages[0].missed
    rules = {finding.rule for finding in attempt.findings}
    assert "station_missed" in rules
    assert not rules & {"altitude", "altitude_before_station"}


@pytest.mark.parametrize("first_deg", [105.0, 112.0])
def test_a_turn_that_comes_nearer_for_some_seconds_is_no_missed_station(first_deg):
    """An 80/260 of which the first turn is carried too far comes nearer before it turns back, 3.5 NM from the station.

    That closest point was taken for a station that was missed, and the outbound leg before it for none.
    """
    procedure = load_procedure("quillow-ndb-18")
    out_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=out_deg + 120.0, tas_kt=120.0, wind=(0.0, 0.0))
    plane.turn_to(out_deg)
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold_until(lambda: plane.distance_nm() >= 2.9)
    plane.turn(first_deg)
    plane.turn_to(true_deg(procedure, procedure.inbound_course_deg) + 25.0, "left")
    inbound_and_down(plane, procedure)

    assert phases_of(look(plane.log(procedure), procedure)) == [WHOLE]
