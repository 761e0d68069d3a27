"""Phases of flights made by a second generator that shares nothing with ``debrief.simulation``.

The figures asked are those of ``test_attempts``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from debrief.phases.model import Flight
from debrief.pipeline import look
from debrief.procedures import load_procedure
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import (
    WHOLE,
    Exact,
    Flown,
    Span,
    arriving,
    base_turn,
    down_to_the_minimum,
    eighty_and_back,
    inbound_and_down,
    level_of,
    outbound,
    procedure_turn,
    racetrack,
    true_deg,
)

RIGHT, MEDIAN_S, PERCENTILE_95_S, PASSAGE_S = 0.995, 1.0, 5.0, 0.3

MAKERS: dict[str, Callable[[], Flown]] = {
    "45/180 in still air": lambda: procedure_turn("lantern-vor-22", from_deg=250.0),
    "45/180 in 30 kt": lambda: procedure_turn("ember-vor-17", from_deg=120.0, wind=(60.0, 30.0)),
    "45/180 by heading in a crosswind of 38 kt": lambda: procedure_turn(
        "lantern-vor-22", from_deg=170.0, tas_kt=95.0, wind=(303.0, 38.0), by_heading=True, away_s=150.0
    ),
    "45/180 at 70 kt against 40 kt": lambda: procedure_turn(
        "lantern-vor-22", from_deg=213.0, tas_kt=70.0, wind=(210.0, 40.0)
    ),
    "80/260 in 15 kt": lambda: eighty_and_back("quillow-ndb-18", from_deg=140.0, wind=(250.0, 15.0)),
    "80/260 in still air": lambda: eighty_and_back("brandel-ndb-27", from_deg=240.0),
    "80/260 with a closest point in its first turn": lambda: eighty_and_back(
        "brandel-ndb-27", from_deg=240.0, nm=4.8, first_deg=108.0
    ),
    "base turn in 12 kt": lambda: base_turn("kestrey-ndb-09", from_deg=110.0, wind=(200.0, 12.0)),
    "racetrack in 10 kt": lambda: racetrack("marrow-vor-31", from_deg=120.0, wind=(210.0, 10.0)),
}
LOGS = {"1 Hz": (1.0, 0.0), "5 s": (5.0, 0.0), "1 Hz, 8 m": (1.0, 8.0)}


@cache
def flown(name: str) -> Flown:
    return MAKERS[name]()


@cache
def read(name: str, recorder: str) -> Flight:
    interval_s, noise_m = LOGS[recorder]
    case = flown(name)
    return look(case.plane.log(case.procedure, interval_s, noise_m), case.procedure)


def found(name: str, recorder: str) -> list[Span]:
    return [
        (str(s.phase), s.start_s, s.end_s) for attempt in read(name, recorder).attempts for s in attempt.spans
    ]


@pytest.mark.parametrize("recorder", list(LOGS))
@pytest.mark.parametrize("name", list(MAKERS))
def test_the_phases_are_those_that_were_flown(name, recorder):
    assert [span[0] for span in found(name, recorder)] == [span[0] for span in flown(name).phases]


@pytest.mark.parametrize("recorder", list(LOGS))
def test_seconds_are_in_the_right_phase(recorder):
    wrong = total = 0
    for name in MAKERS:
        t_s = np.arange(0.0, flown(name).plane.t_s, 0.5)
        labels = []
        for spans in (found(name, recorder), flown(name).phases):
            label = np.full(len(t_s), "", dtype=object)
            for phase, start_s, end_s in spans:
                label[(t_s >= start_s) & (t_s < end_s)] = phase
            labels.append(label)
        wrong, total = wrong + int(np.sum(labels[0] != labels[1])), total + len(t_s)

    assert 1.0 - wrong / total >= RIGHT


@pytest.mark.parametrize("recorder", list(LOGS))
def test_boundaries_are_near_the_truth(recorder):
    errors_s = np.array(
        [
            max(0.0, abs(ours[1] - true[1]) - LOGS[recorder][0])
            for name in MAKERS
            for ours, true in zip(found(name, recorder), flown(name).phases, strict=True)
        ]
    )

    assert np.median(errors_s) <= MEDIAN_S
    assert np.percentile(errors_s, 95) <= PERCENTILE_95_S


def test_passages_at_one_hertz_are_within_a_third_of_a_second():
    for name in MAKERS:
        final_s = next(span[1] for span in flown(name).phases if span[0] == "final")
        passages_s = [p.t_s for a in read(name, "1 Hz").attempts for p in a.passages if p.t_s < final_s]
        assert passages_s == pytest.approx(flown(name).passages_s, abs=PASSAGE_S), name


def test_a_crosswind_leaves_less_than_thirty_degrees_of_a_turn_of_45():
    """The turn off by heading, as the ground sees it: the case that a limit of 30 degrees passed over."""
    case = flown("45/180 by heading in a crosswind of 38 kt")
    exact = Exact(case.plane, case.procedure)
    before, after = case.plane.marks["turn off"] - 2.0, case.plane.marks["turn off"] + 40.0
    change_deg = np.interp(after, exact.t_s, exact.track_deg) - np.interp(before, exact.t_s, exact.track_deg)

    assert 15.0 < abs(change_deg) < 30.0


def test_half_an_hour_of_other_flying_is_no_reversal():
    """Out along the radial, round and round there, never on the inbound course, and over the station at last."""
    procedure = load_procedure("lantern-vor-22")
    plane = arriving(procedure, from_deg=250.0, tas_kt=105.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 6.0)
    course_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane.turn_to(course_deg + 180.0 + 35.0)
    plane.hold(20.0)
    plane.turn(90.0)
    for _ in range(14):
        plane.hold(90.0)
        plane.turn(60.0)
    for _ in range(2):  # the turn itself moves the aeroplane
        plane.turn_to(float(np.degrees(np.arctan2(-plane.east_nm, -plane.north_nm))))
    to_station_deg = float(np.degrees(np.arctan2(-plane.east_nm, -plane.north_nm)))
    plane.follow(to_station_deg, lambda: plane.distance_nm() < 0.4)
    plane.hold(60.0)

    flight = look(plane.log(procedure, 1.0, 0.0), procedure)

    assert [s for a in flight.attempts for s in a.spans if s.end_s - s.start_s > 1200.0] == []


def test_weaving_along_the_outbound_course_is_no_turn_off():
    """45 degrees to either side of it, and never along it: the turn off is the last of these turns."""
    procedure = load_procedure("lantern-vor-22")
    assert procedure.reversal is not None
    side = 1.0 if procedure.reversal.side == "right" else -1.0
    plane = arriving(procedure, from_deg=200.0, tas_kt=95.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 2.8)
    plane.turn(side * 45.0)
    for way in (-side, side, -side, side):
        plane.hold(4.0)
        turned_s = plane.t_s
        plane.turn(way * 90.0)
    plane.hold(60.0)
    plane.turn(-side * 180.0)
    inbound_and_down(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert attempt.turn_off_s == pytest.approx(turned_s, abs=3.0)


@pytest.mark.parametrize("name", ["marrow-vor-31", "dateline-ndb-35"])
def test_a_racetrack_within_a_mile_or_so_of_the_station_is_one(name):
    """Twenty seconds outbound at 80 kt: never farther than 1.2 NM, and no wide turn at the station."""
    procedure = load_procedure(name)
    assert procedure.reversal is not None
    way = procedure.reversal.side or "right"
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=80.0, wind=(0.0, 0.0))
    plane.turn_to(course_deg + 180.0, way)
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold(20.0)
    back_s = plane.t_s
    plane.turn_to(course_deg - (20.0 if way == "right" else -20.0), way)
    inbound_and_down(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert [str(s.phase) for s in attempt.spans] == WHOLE
    assert attempt.turn_off_s == pytest.approx(back_s, abs=2.0)


def test_a_turn_at_the_station_drawn_out_by_the_wind_still_ends_the_passage():
    """A mile past the station, round with a crosswind of 34 kt, and back past its side before the radial is joined.

    It took more than three minutes until the aircraft flew along the outbound course, and what came before had no
    phase.
    """
    procedure = load_procedure("lantern-vor-22")
    course_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(
        procedure, from_deg=course_deg, tas_kt=135.0, wind=(course_deg + 72.0, 34.0), up_to_nm=-1.2
    )
    plane.turn_to(plane.heading_for(course_deg + 36.0), "right")
    plane.hold_until(lambda: plane.across_nm(course_deg) > -0.4)
    plane.turn_to(plane.heading_for(course_deg))

    plane.to_ft = level_of(procedure, "outbound")
    plane.follow(course_deg, lambda: plane.distance_nm() >= 5.0)
    away_deg = (
        course_deg - 45.0 if procedure.reversal and procedure.reversal.side == "left" else course_deg + 45.0
    )
    plane.mark("turn off")
    plane.turn_to(plane.heading_for(away_deg))
    plane.hold(60.0)
    plane.turn(180.0 if away_deg < course_deg else -180.0)
    inbound_and_down(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert [str(s.phase) for s in attempt.spans[:3]] == ["inbound", "station_passage", "outbound"]
    assert attempt.spans[2].start_s == attempt.spans[1].end_s


@pytest.mark.parametrize("off_deg", [0.0, 22.0])
@pytest.mark.parametrize(("name", "nm"), [("lantern-vor-22", 11.0), ("marrow-vor-31", 11.5)])
def test_a_log_that_begins_on_the_course_beyond_the_reversal_is_a_straight_in_arrival(name, nm, off_deg):
    """No reversal flown within its limits leaves an aircraft so far out, at the altitude to arrive at.

    It was taken for the leg after a reversal that the log had missed (turning onto the course in its first seconds,
    for the end of that reversal), and nothing was said of flying straight in.
    """
    procedure = load_procedure(name)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(
        procedure, from_deg=course_deg + 180.0, nm=nm, tas_kt=110.0, wind=(0.0, 0.0), up_to_nm=nm
    )
    plane.heading_deg += off_deg
    plane.turn(-off_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
    down_to_the_minimum(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert attempt.straight_in
    assert [str(s.phase) for s in attempt.spans] == ["inbound", "station_passage", "final", "missed_approach"]


def test_straight_in_to_the_aerodrome_from_the_first_sample_on_leaves_the_reversal_out():
    """Established beyond the reversal's reach as the log begins: only the way in may lie before it.

    Outbound leg and reversal counted as not recorded, and nothing was said of flying straight in.
    """
    procedure = load_procedure("sallow-vor-13")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(
        procedure, from_deg=course_deg + 180.0, nm=15.0, tas_kt=110.0, wind=(0.0, 0.0), up_to_nm=6.0
    )
    down_to_the_minimum(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert attempt.straight_in
    assert {missing.phase: missing.why for missing in attempt.not_seen} == {
        "inbound": "not observed",
        "outbound": "not flown",
        "course_reversal": "not flown",
    }


@pytest.mark.parametrize("off_deg", [28.0, -28.0])
def test_a_log_that_begins_with_a_small_turn_and_then_flies_the_reversal_begins_inbound(off_deg):
    """The last of a turn towards the station, beside the inbound course: no turn back from an unseen reversal."""
    procedure = load_procedure("lantern-vor-22")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    case = procedure_turn("lantern-vor-22", from_deg=course_deg + 177.0)
    plane = case.plane
    turned = Aeroplane(
        east_nm=0.0,
        north_nm=0.0,
        heading_deg=course_deg - 3.0 + off_deg,
        altitude_ft=plane.flown[0][3],
        tas_kt=105.0,
    )
    turned.turn(-off_deg)
    end_s, east_nm, north_nm, _ = (*turned.flown[-1][:3], 0.0)
    before = [
        (
            t_s - end_s - 0.2,
            east - east_nm + plane.flown[0][1],
            north - north_nm + plane.flown[0][2],
            altitude,
        )
        for t_s, east, north, altitude in turned.flown
        if t_s > 4.0
    ]
    plane.flown[:0] = before
    log = plane.log(procedure, from_s=before[0][0])

    (attempt,) = look(log, procedure).attempts

    assert [str(s.phase) for s in attempt.spans] == [span[0] for span in case.phases]


def test_a_turn_back_in_pieces_is_no_weaving():
    """Its first piece ends beside the outbound course, as weaving along it does; the next goes on at once."""
    procedure = load_procedure("lantern-vor-22")
    assert procedure.reversal is not None
    side = 1.0 if procedure.reversal.side == "right" else -1.0
    plane = arriving(procedure, from_deg=200.0, tas_kt=95.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 4.8)
    off_s = plane.t_s
    plane.turn(side * 45.0)
    plane.hold(20.0)
    for piece_deg in (75.0, 60.0, 70.0):
        plane.turn(-side * piece_deg)
        plane.hold(6.0)
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.turn_to(course_deg - math.copysign(30.0, plane.across_nm(course_deg)))
    inbound_and_down(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert attempt.turn_off_s == pytest.approx(off_s, abs=3.0)


def test_weaving_all_along_the_final_is_a_bad_approach_and_no_circling_about():
    """Twelve swings of 70 degrees turn by more than two circles, and yet lead along the course and down."""
    procedure = load_procedure("kestrey-ndb-09")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=110.0, tas_kt=100.0, wind=(0.0, 0.0))
    outbound(plane, procedure, 8.0)
    plane.turn_to(plane.heading_for(course_deg - 35.0), "right")
    plane.to_ft = level_of(procedure, "final")
    for number in range(12):
        plane.turn(-70.0 if number % 2 else 70.0)
    plane.turn_to(course_deg)
    down_to_the_minimum(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert attempt.ending == "missed approach"
