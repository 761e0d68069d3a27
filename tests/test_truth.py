"""The judge is judged: the truth about flights so plain that every answer can be worked out by hand."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from debrief.procedures import load_procedure
from debrief.simulation import Attempt, FlightPlan, SimulatedFlight
from debrief.simulation.flight import Event
from tests.ensembles import clean_flights, faulty_flights, is_clean
from tests.truth import truth_of
from tests.truth_view import View

LANTERN = load_procedure("lantern-vor-22")
FT_PER_NM = 1852.0 / 0.3048
STEP_S = 0.1
A_SAMPLE_S = 0.1
A_METRE_NM = 1.0 / 1852.0


def _flight(
    minutes: float,
    place: Callable[[float], tuple[float, float]],
    altitude_ft: Callable[[float], float],
    events: tuple[Event, ...] = (),
) -> SimulatedFlight:
    """A flight along any path: ``place`` gives true bearing and distance from the station at a time."""
    station = LANTERN.station
    t_s = np.round(np.arange(0.0, minutes * 60.0 + STEP_S / 2, STEP_S), 3)
    spots = [
        Geodesic.WGS84.Direct(station.latitude, station.longitude, bearing, distance_nm * 1852.0)
        for bearing, distance_nm in map(place, t_s)
    ]
    latitude = np.array([spot["lat2"] for spot in spots])
    longitude = np.array([spot["lon2"] for spot in spots])
    steps = [
        Geodesic.WGS84.Inverse(latitude[i], longitude[i], latitude[i + 1], longitude[i + 1])
        for i in range(len(t_s) - 1)
    ]
    track = np.array([step["azi1"] for step in steps] + [steps[-1]["azi1"]]) % 360.0
    speed = np.array([step["s12"] for step in steps] + [steps[-1]["s12"]]) / 1852.0 / STEP_S * 3600.0
    altitude = np.array([altitude_ft(t) for t in t_s])
    nothing = np.zeros(len(t_s))
    return SimulatedFlight(
        plan=FlightPlan(attempts=(Attempt(),)),
        procedure=LANTERN,
        epoch=FlightPlan().epoch,
        events=events,
        t_s=t_s,
        latitude_deg=latitude,
        longitude_deg=longitude,
        altitude_ft=altitude,
        heading_true_deg=track,
        airspeed_kias=speed,
        airspeed_ktas=speed,
        groundspeed_kt=speed,
        ground_track_true_deg=track,
        bank_deg=nothing,
        vertical_speed_ft_min=np.gradient(altitude, STEP_S) * 60.0,
        wind_from_true_deg=nothing,
        wind_speed_kt=nothing,
        on_ground=np.zeros(len(t_s), dtype=bool),
    )


def _past_at(distance_nm: float, speed_kt: float, closest_s: float) -> Callable[[float], tuple[float, float]]:
    """Straight northward, the station on the left at that distance."""

    def place(t_s: float) -> tuple[float, float]:
        north_nm = speed_kt * (t_s - closest_s) / 3600.0
        return math.degrees(math.atan2(distance_nm, north_nm)), math.hypot(distance_nm, north_nm)

    return place


def test_a_straight_pass_over_the_cone():
    """Height 6,076.1 ft is one mile: the VOR's cone is tan 50 = 1.1918 NM wide there."""
    height_ft = FT_PER_NM
    flight = _flight(8, _past_at(0.5, 120.0, 243.21), lambda t: LANTERN.station.elevation_ft + height_ft)
    passage = View(flight, LANTERN).passage(0.0, 480.0)
    half_chord_s = math.sqrt(math.tan(math.radians(50.0)) ** 2 - 0.5**2) / 120.0 * 3600.0

    assert passage is not None
    assert passage.time_s == pytest.approx(243.21, abs=0.01)
    assert passage.distance_nm == pytest.approx(0.5, abs=A_METRE_NM)
    assert passage.begin_s == pytest.approx(243.21 - half_chord_s, abs=0.01)
    assert passage.end_s == pytest.approx(243.21 + half_chord_s, abs=0.01)
    assert passage.groundspeed_kt == pytest.approx(120.0, abs=0.01)
    assert not passage.missed


@pytest.mark.parametrize(("distance_nm", "missed"), [(1.4, False), (1.6, True)])
def test_outside_the_cone_a_passage_is_its_closest_point_and_may_be_missed(distance_nm, missed):
    flight = _flight(6, _past_at(distance_nm, 120.0, 180.0), lambda t: LANTERN.station.elevation_ft + 2000.0)
    passage = View(flight, LANTERN).passage(0.0, 360.0)

    assert passage is not None
    assert passage.begin_s == passage.end_s == passage.time_s
    assert passage.missed is missed


def test_high_enough_over_a_far_pass_is_in_the_cone():
    flight = _flight(6, _past_at(2.0, 120.0, 180.0), lambda t: LANTERN.station.elevation_ft + 12_000.0)
    passage = View(flight, LANTERN).passage(0.0, 360.0)

    assert passage is not None
    assert passage.in_cone  # 1.97 NM up is 2.35 NM of cone
    assert not passage.missed


def test_established_needs_needle_and_track_for_ten_seconds():
    """Flying along the inbound course with an offset that falls at 3 degrees a minute through 5 degrees."""
    course_true_deg = LANTERN.true_deg(LANTERN.inbound_course_deg)

    def place(t_s: float) -> tuple[float, float]:
        off_deg = 8.0 - 3.0 * t_s / 60.0  # right of the course: towards the smaller radial when inbound
        return (course_true_deg + 180.0 - off_deg) % 360.0, 12.0 - 120.0 * t_s / 3600.0

    view = View(_flight(4, place, lambda t: 2500.0), LANTERN)

    assert view.deviation_to_deg(LANTERN.inbound_course_deg)[0] == pytest.approx(8.0, abs=1e-6)
    assert view.established_s(0.0, 240.0) == pytest.approx(60.0, abs=A_SAMPLE_S)
    assert view.established_s(0.0, 65.0) is None  # not ten seconds yet


def test_cross_track_and_deviation_are_positive_on_the_right():
    """Away from the station right is the larger radial, towards it the smaller one."""
    view = View(_flight(1, lambda t: (100.0, 5.0 + t / 60.0), lambda t: 3000.0), LANTERN)
    radial_deg = 100.0 + 11.0  # declination 11 W

    assert view.radial_deg[0] == pytest.approx(radial_deg, abs=1e-6)
    assert view.deviation_from_deg(radial_deg - 4.0)[0] == pytest.approx(4.0, abs=1e-6)
    assert view.deviation_to_deg(radial_deg - 4.0 + 180.0)[0] == pytest.approx(-4.0, abs=1e-6)
    assert view.across_nm(90.0)[0] == pytest.approx(5.0 * math.sin(math.radians(10.0)), abs=A_METRE_NM)
    assert view.across_nm(270.0)[0] == pytest.approx(-5.0 * math.sin(math.radians(10.0)), abs=A_METRE_NM)


def _turning(rate_deg_s: np.ndarray) -> Callable[[float], tuple[float, float]]:
    """From two miles north of the station, northward at 120 kt, with that rate of turn a step."""
    track_rad = np.radians(np.concatenate([[0.0], np.cumsum(rate_deg_s) * STEP_S]))
    north = 2.0 + np.cumsum(np.cos(track_rad)) * 120.0 / 3600.0 * STEP_S
    east = np.cumsum(np.sin(track_rad)) * 120.0 / 3600.0 * STEP_S

    def place(t_s: float) -> tuple[float, float]:
        i = round(t_s / STEP_S)
        return math.degrees(math.atan2(east[i], north[i])), math.hypot(east[i], north[i])

    return place


def test_a_turn_begins_where_its_rate_passes_one_degree_a_second():
    """A rate that grows by 0.2 deg/s each second from 100 s: 1 deg/s at 105 s; then 3 deg/s; then straight."""
    rate_deg_s = np.zeros(3000)
    rate_deg_s[1000:1150] = np.arange(150) * 0.02
    rate_deg_s[1150:1650] = 3.0

    turns = View(_flight(5.0, _turning(rate_deg_s), lambda t: 3000.0), LANTERN).turns

    assert len(turns) == 1
    start_s, end_s, change_deg = turns[0]
    assert start_s == pytest.approx(105.0, abs=2 * A_SAMPLE_S)
    assert end_s == pytest.approx(165.0, abs=2 * A_SAMPLE_S)
    assert change_deg == pytest.approx(20.0 + 150.0, abs=0.6)  # the 2.5 degrees before 1 deg/s are not in it


@pytest.mark.parametrize(("seconds", "turns"), [(24, 0), (26, 1)])
def test_a_bend_of_less_than_thirty_degrees_is_no_turn(seconds, turns):
    """At 1.2 deg/s 24 s are 28.8 degrees and 26 s are 31.2."""
    rate_deg_s = np.zeros(1200)
    rate_deg_s[600 : 600 + 10 * seconds] = 1.2

    assert len(View(_flight(2.0, _turning(rate_deg_s), lambda t: 3000.0), LANTERN).turns) == turns


def test_the_missed_approach_begins_where_the_climb_leaves_the_lowest_for_good():
    """Level at 700 ft with a sink to 680 at 400 s; the climb of 600 ft/min from 500 s passes 730 ft at 503 s."""

    def altitude_ft(t_s: float) -> float:
        level = 700.0 - 20.0 * math.exp(-(((t_s - 400.0) / 10.0) ** 2))
        return max(level, 700.0 + 10.0 * (t_s - 500.0)) if t_s > 450.0 else max(level, 3000.0 - 10.0 * t_s)

    course_true_deg = LANTERN.true_deg(LANTERN.inbound_course_deg)

    def place(t_s: float) -> tuple[float, float]:
        along_nm = (t_s - 200.0) * 100.0 / 3600.0
        return (course_true_deg + (180.0 if along_nm < 0 else 0.0)) % 360.0, abs(along_nm)

    events = (Event(0.0, "inbound", 0), Event(210.0, "final", 0))
    flight = _flight(11, place, altitude_ft, events)
    phases = {
        phase: (start_s, end_s) for phase, start_s, end_s in truth_of(flight, LANTERN).attempts[0].phases
    }

    assert phases["missed_approach"][0] == pytest.approx(503.0, abs=A_SAMPLE_S)
    assert phases["missed_approach"][1] == pytest.approx(598.0, abs=A_SAMPLE_S)  # 1,680 ft
    assert phases["final"][1] == phases["missed_approach"][0]


def test_shifting_moves_every_time_and_no_other_number():
    case = next(clean_flights(1, seed=4))
    moved = case.truth.shifted(1000.0)
    one, two = case.truth.attempts[0], moved.attempts[0]

    assert [b - a for (_, a, _), (_, b, _) in zip(one.phases, two.phases, strict=True)] == pytest.approx(
        [1000.0] * len(one.phases)
    )
    assert two.passages[0].time_s - one.passages[0].time_s == pytest.approx(1000.0)
    assert two.measures["turn"]["lead_nm"] == one.measures["turn"]["lead_nm"]
    assert two.measures["intercept"]["established_s"] - one.measures["intercept"][
        "established_s"
    ] == pytest.approx(1000.0)


def test_cropping_cuts_phases_and_drops_what_is_no_attempt_any_more():
    case = next(clean_flights(1, seed=4))
    attempt = case.truth.attempts[0]
    outbound = attempt.span("outbound")
    assert outbound is not None
    middle_s = sum(outbound) / 2

    late = case.truth.cropped(middle_s, 1e9).attempts[0]
    assert late.phases[0] == ("outbound", middle_s, outbound[1])
    assert case.truth.cropped(-1e9, middle_s).attempts[0].phases[-1] == ("outbound", outbound[0], middle_s)
    assert case.truth.cropped(-1e9, outbound[0] - 1.0).attempts == ()


def test_what_a_log_ends_too_early_to_show_has_not_begun():
    """Two seconds after being established nobody can say "for at least 10 s"; nor is two seconds of bank a turn."""
    case = next(clean_flights(1, seed=4))
    attempt = case.truth.attempts[0]
    reversal = attempt.span("course_reversal")
    assert reversal is not None

    def last_phase(end_s: float) -> tuple[str, float, float]:
        return case.truth.cropped(-1e9, end_s).attempts[0].phases[-1]

    begins_s, established_s = reversal
    assert last_phase(begins_s + 2.0)[0] == "outbound"
    assert last_phase(begins_s + 30.0) == ("course_reversal", begins_s, begins_s + 30.0)
    assert last_phase(established_s + 2.0) == ("course_reversal", begins_s, established_s + 2.0)
    assert last_phase(established_s + 12.0)[0] in ("intermediate", "final")


def test_phases_follow_one_another_without_holes():
    for case in clean_flights(10, seed=1):
        (attempt,) = case.truth.attempts
        for (_, _, end_s), (_, start_s, _) in zip(attempt.phases, attempt.phases[1:], strict=False):
            assert start_s == end_s, case.name
        assert all(start_s <= end_s for _, start_s, end_s in attempt.phases), case.name


def test_clean_cases_are_clean_and_faulty_ones_show_their_fault():
    assert all(is_clean(case.truth) for case in clean_flights(5, seed=2))
    assert all(case.truth.attempts[0].expected for case in faulty_flights(4, seed=2))


def test_the_same_seed_draws_the_same_cases():
    one, two = list(clean_flights(2, seed=3)), list(clean_flights(2, seed=3))

    assert [case.name for case in one] == [case.name for case in two]
    assert np.array_equal(one[1].track.latitude_deg, two[1].track.latitude_deg)


@pytest.mark.parametrize(("before_deg_s", "rate_deg_s", "begins_s"), [(0.0, 1.25, 420.0), (1.5, 3.0, 420.0)])
def test_a_turn_off_that_is_small_or_comes_out_of_another_begins_when_it_is_flown(
    before_deg_s, rate_deg_s, begins_s
):
    """Asked for at 420 s: 25 degrees at 1.25 deg/s, or 60 at 3 out of a turn that has lasted since 400 s."""
    rates_deg_s = np.zeros(9000)
    rates_deg_s[4000:4200] = before_deg_s
    rates_deg_s[4200:4400] = rate_deg_s
    rates_deg_s[4800:5600] = -3.0
    out_deg = LANTERN.true_deg(LANTERN.outbound_course_deg)
    track_rad = np.radians(out_deg + np.concatenate([[0.0], np.cumsum(rates_deg_s) * STEP_S]))
    north = -6.0 * math.cos(math.radians(out_deg)) + np.cumsum(np.cos(track_rad)) * 120.0 / 3600.0 * STEP_S
    east = -6.0 * math.sin(math.radians(out_deg)) + np.cumsum(np.sin(track_rad)) * 120.0 / 3600.0 * STEP_S

    def place(t_s: float) -> tuple[float, float]:
        i = round(t_s / STEP_S)
        return math.degrees(math.atan2(east[i], north[i])), math.hypot(east[i], north[i])

    events = (
        Event(0.0, "inbound", 0),
        Event(420.0, "reversal", 0),
        Event(480.0, "inbound turn", 0),
        Event(600.0, "final", 0),
    )
    flight = _flight(15, place, lambda t: 3000.0, events)

    span = truth_of(flight, LANTERN).attempts[0].span("course_reversal")

    assert span is not None
    assert span[0] == pytest.approx(begins_s, abs=2 * A_SAMPLE_S)
