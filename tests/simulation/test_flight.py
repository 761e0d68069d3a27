"""Whole flights: the physics hold at every step, the pilot keeps to the procedure, faults are what they say."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from pyproj import Geod

from debrief.procedures import bundled_procedures, load_procedure
from debrief.simulation import Attempt, Faults, FlightPlan, SimulatedFlight, Wind, fly
from tests.truth import AttemptTruth, truth_of

PROCEDURES = bundled_procedures()
#: Rules that no other follows from: such a fault breaks its own rule and none besides.
ALONE = {
    "reversal_side", "reversal_missing", "intercept_overshoot", "intercept_angle", "minimum_descent_altitude",
    "descent_rate", "missed_approach",
}  # fmt: skip
WINDY = Wind(from_true_deg=300.0, speed_kt=28.0, veer_deg_per_1000_ft=3.0)


def _plan(name: str, **changes: object) -> FlightPlan:
    procedure = load_procedure(name)
    first_deg = procedure.outbound_course_deg
    course_deg = procedure.true_deg(first_deg if first_deg is not None else procedure.inbound_course_deg)
    plan = FlightPlan(
        start_bearing_true_deg=(course_deg + 180.0 - (50.0 if first_deg is not None else 10.0)) % 360.0,
        start_distance_nm=6.0 if first_deg is not None else 10.0,
        approach_kias=105.0,
        wind=WINDY,
        after_s=20.0,
    )
    return replace(plan, **changes)


def _flown(name: str, **changes: object) -> SimulatedFlight:
    return fly(load_procedure(name), _plan(name, **changes))


def _truth(name: str, faults: Faults, **changes: object) -> AttemptTruth:
    attempt = Attempt(faults=faults, **changes)
    flight = _flown(name, attempts=(attempt,))
    return truth_of(flight, flight.procedure).attempts[0]


@cache
def _landed(name: str) -> SimulatedFlight:
    return _flown(name, attempts=(Attempt(ending="landing"),))


@cache
def _clean(name: str) -> AttemptTruth:
    return _truth(name, Faults())


def _names(procedures: tuple) -> list[str]:
    return [procedure.file.removesuffix(".toml") for procedure in procedures]


@pytest.mark.parametrize("name", ["lantern-vor-22", "frosthelm-vor-04", "dateline-ndb-35", "ember-vor-17"])
def test_positions_move_as_speed_and_track_say(name):
    """Step by step against the ellipsoid: at 69 N, across the antimeridian, in the south."""
    flight = _landed(name)
    azimuth, _, metres = Geod(ellps="WGS84").inv(
        flight.longitude_deg[:-1], flight.latitude_deg[:-1], flight.longitude_deg[1:], flight.latitude_deg[1:]
    )
    mean_kt = (flight.groundspeed_kt[:-1] + flight.groundspeed_kt[1:]) / 2
    flown_kt = np.asarray(metres) / 1852.0 / 0.1 * 3600.0
    moving = mean_kt > 20.0
    track_deg = np.degrees(np.unwrap(np.radians(flight.ground_track_true_deg)))
    mean_deg = (track_deg[:-1] + track_deg[1:]) / 2
    off_deg = (np.asarray(azimuth) - mean_deg + 180.0) % 360.0 - 180.0

    assert np.max(np.abs(flown_kt - mean_kt)[moving]) < 0.1
    assert np.max(np.abs(off_deg)[moving]) < 0.1


@pytest.mark.parametrize("name", _names(PROCEDURES))
def test_the_aircraft_is_not_thrown_about(name):
    flight = _landed(name)
    air = ~flight.on_ground[1:]

    assert np.max(np.abs(flight.bank_deg)) <= 25.0
    assert np.max(np.abs(np.diff(flight.bank_deg))[air]) <= 0.5 + 1e-9  # 5 degrees a second
    assert np.max(np.abs(np.diff(flight.altitude_ft)) * 600.0) < 1500.0
    assert np.max(np.abs(np.diff(flight.groundspeed_kt))) < 1.0


@pytest.mark.parametrize("name", _names(PROCEDURES))
def test_the_good_pilot_breaks_no_rule(name):
    attempt = _clean(name)

    assert attempt.breaches == {}
    final = attempt.measures["final"]
    assert final["deviation_deg.rms"] < 2.0


@pytest.mark.parametrize("direction_deg", [20, 110, 200, 290])
def test_the_good_pilot_keeps_the_course_in_forty_knots(direction_deg):
    flight = _flown("lantern-vor-22", wind=Wind(from_true_deg=direction_deg, speed_kt=40.0))
    attempt = truth_of(flight, flight.procedure).attempts[0]

    assert attempt.breaches == {}
    assert attempt.measures["final"]["cross_track_nm.max_abs"] < 0.05
    assert attempt.measures["intermediate"]["cross_track_nm.rms"] < 0.12


def test_the_same_plan_is_the_same_flight():
    plan = {"wander_deg": 1.0, "wander_ft": 10.0, "wind": replace(WINDY, gust_kt=2.0)}
    one, two = _flown("lantern-vor-22", **plan), _flown("lantern-vor-22", **plan)
    other = _flown("lantern-vor-22", **plan, seed=1)

    assert np.array_equal(one.latitude_deg, two.latitude_deg)
    assert np.array_equal(one.altitude_ft, two.altitude_ft)
    assert not np.array_equal(one.latitude_deg[: len(other)], other.latitude_deg[: len(one)])


@pytest.mark.parametrize(
    ("name", "faults", "rule"),
    [
        ("lantern-vor-22", Faults(wrong_side=True), "reversal_side"),
        ("brandel-ndb-27", Faults(wrong_side=True), "reversal_side"),
        ("lantern-vor-22", Faults(no_reversal=True), "reversal_missing"),
        ("lantern-vor-22", Faults(turn_late_nm=1.2), "turn_lead"),
        ("lantern-vor-22", Faults(turn_late_nm=-1.0), "turn_lead"),
        ("lantern-vor-22", Faults(outbound_offset_deg=11.0), "tracking"),
        ("lantern-vor-22", Faults(outbound_offset_deg=-11.0), "tracking"),
        ("lantern-vor-22", Faults(final_offset_deg=10.0), "tracking"),
        ("lantern-vor-22", Faults(outbound_longer_nm=1.3), "outbound_length"),
        ("quillow-ndb-18", Faults(outbound_longer_s=40.0), "outbound_length"),
        ("quillow-ndb-18", Faults(outbound_longer_s=-40.0), "outbound_length"),
        ("lantern-vor-22", Faults(reversal_beyond_nm=1.0), "reversal_distance"),
        ("kestrey-ndb-09", Faults(reversal_faster_kt=30.0), "reversal_speed"),
        ("lantern-vor-22", Faults(overshoot_nm=0.8), "intercept_overshoot"),
        ("marrow-vor-31", Faults(overshoot_nm=0.8), "intercept_overshoot"),
        ("ember-vor-17", Faults(intercept_angle_deg=75.0), "intercept_angle"),
        ("lantern-vor-22", Faults(inbound_offset_deg=8.5), "not_established"),
        ("lantern-vor-22", Faults(station_missed_nm=2.2), "station_missed"),
        ("lantern-vor-22", Faults(lower_ft={"inbound": 300.0}), "altitude"),
        ("lantern-vor-22", Faults(lower_ft={"outbound": 300.0}), "altitude"),
        ("lantern-vor-22", Faults(lower_ft={"course_reversal": 300.0}), "altitude"),
        ("lantern-vor-22", Faults(lower_ft={"intermediate": 300.0}), "altitude"),
        ("lantern-vor-22", Faults(down_before_station_nm=3.0), "altitude_before_station"),
        ("lantern-vor-22", Faults(below_minimum_ft=200.0), "minimum_descent_altitude"),
        ("ember-vor-17", Faults(below_step_ft=350.0, final_rate_ft_min=950.0), "step_down"),
        ("lantern-vor-22", Faults(final_rate_ft_min=1350.0), "descent_rate"),
        ("lantern-vor-22", Faults(missed_approach_late_nm=1.1), "missed_approach"),
    ],
    ids=lambda value: value if isinstance(value, str) else None,
)
def test_a_fault_breaks_the_rule_it_is_meant_to_break(name, faults, rule):
    attempt = _truth(name, faults)

    assert rule in attempt.expected
    assert rule not in _clean(name).breaches
    if rule in ALONE:
        assert set(attempt.breaches) == {rule}


def test_a_size_is_about_the_size_asked_for():
    overshoot = _truth("lantern-vor-22", Faults(overshoot_nm=0.8)).measures["intercept"]["overshoot_nm"]
    turn = _truth("lantern-vor-22", Faults(turn_late_nm=1.2)).measures["turn"]
    clean = _clean("lantern-vor-22").measures["turn"]
    offset = _truth("lantern-vor-22", Faults(outbound_offset_deg=9.0)).measures["outbound"]

    assert overshoot == pytest.approx(0.8, abs=0.15)
    assert turn["lead_nm"] == pytest.approx(clean["lead_nm"] - 1.2, abs=0.1)
    assert offset["deviation_deg.mean"] == pytest.approx(9.0, abs=1.5)  # + is right of the course


def test_several_attempts_in_one_flight():
    flight = _flown("sallow-vor-13", attempts=(Attempt(), Attempt(ending="landing")))
    attempts = truth_of(flight, flight.procedure).attempts

    assert [attempt.phases[-1][0] for attempt in attempts] == ["missed_approach", "landing"]
    assert attempts[0].phases[-1][2] <= attempts[1].phases[0][1]


def test_a_racetrack_twice_round_has_two_circuits():
    flight = _flown("marrow-vor-31", attempts=(Attempt(circuits=2),))
    attempt = truth_of(flight, flight.procedure).attempts[0]

    assert [phase for phase, _, _ in attempt.phases] == [
        "inbound", "station_passage", "outbound", "course_reversal", "intermediate",
        "station_passage", "outbound", "course_reversal", "intermediate",
        "station_passage", "final", "missed_approach",
    ]  # fmt: skip
    assert attempt.breaches == {}


def test_the_offset_entry_of_a_racetrack_begins_thirty_degrees_into_the_holding_side():
    direct = _flown("marrow-vor-31", attempts=(Attempt(),))
    offset = _flown("marrow-vor-31", attempts=(Attempt(entry="offset"),))

    assert offset.events[1].what == "turn at the station"
    assert not np.array_equal(direct.bank_deg[:3000], offset.bank_deg[:3000])
    assert truth_of(offset, offset.procedure).attempts[0].breaches == {}


def test_a_published_reversal_can_be_left_out():
    course_deg = load_procedure("lantern-vor-22").true_deg(224)
    flight = _flown(
        "lantern-vor-22",
        start_bearing_true_deg=(course_deg + 180.0) % 360.0,
        attempts=(Attempt(straight_in=True),),
    )
    attempt = truth_of(flight, flight.procedure).attempts[0]

    assert [phase for phase, _, _ in attempt.phases] == [
        "inbound",
        "station_passage",
        "final",
        "missed_approach",
    ]


@pytest.mark.parametrize("instead", ["transit", "airwork", "circuits"])
def test_flights_without_an_approach_have_no_attempt(instead):
    flight = _flown("lantern-vor-22", instead=instead, start_distance_nm=14.0)

    assert truth_of(flight, flight.procedure).attempts == ()
    assert flight.t_s[-1] >= 11 * 60


def test_circuits_take_off_and_land_again():
    flight = _flown("lantern-vor-22", instead="circuits", wind=Wind(from_true_deg=240.0, speed_kt=12.0))
    touchdowns = np.flatnonzero(np.diff(flight.on_ground.astype(int)) == 1)

    assert flight.on_ground[0]
    assert flight.on_ground[-1]
    assert len(touchdowns) >= 2
    assert flight.altitude_ft.max() == pytest.approx(182 + 1000, abs=60)


def test_landing_long_touches_down_farther_along():
    normal = _landed("lantern-vor-22")
    long = _flown("lantern-vor-22", attempts=(Attempt(ending="landing", faults=Faults(landing_long_nm=0.4)),))
    runway = normal.procedure.runway

    def beyond_nm(flight: SimulatedFlight) -> float:
        at = int(np.argmax(flight.on_ground))
        _, _, metres = Geod(ellps="WGS84").inv(
            runway.longitude, runway.latitude, flight.longitude_deg[at], flight.latitude_deg[at]
        )
        return metres / 1852.0

    assert beyond_nm(normal) < 0.4
    assert beyond_nm(long) == pytest.approx(beyond_nm(normal) + 0.4, abs=0.1)


def test_what_the_procedure_lacks_is_refused():
    lantern = load_procedure("lantern-vor-22")
    without_runway = lantern.model_copy(update={"runway": None})

    with pytest.raises(ValueError, match="has no runway to fly circuits at"):
        fly(without_runway, FlightPlan(instead="circuits"))


def test_a_cropped_flight_keeps_its_times():
    flight = _flown("lantern-vor-22")
    part = flight.cropped(100.0, 200.0)

    assert (part.t_s[0], part.t_s[-1]) == (100.0, 200.0)
    assert len(part) == 1001
    assert part.latitude_deg[0] == flight.latitude_deg[1000]
