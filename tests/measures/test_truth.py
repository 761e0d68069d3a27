"""Measures against the truth about simulated flights, which share no code with the analysis.

The asked figures: cross-track rms and greatest within 0.005 NM beyond the log's own noise, the intercept's angle
within a degree. Only flights whose phases were found in full are compared; that they are is the phases' own test.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cache

import numpy as np
import pytest

from debrief import debrief
from debrief.measures import measure
from debrief.phases.model import Flight
from debrief.pipeline import look
from debrief.result import Measures, Wind
from tests.ensembles import BAD_SENSORS, GOOD, PERFECT, Case, clean_flights, faulty_flights

FLIGHTS = 8
FT_PER_NM = 1852.0 / 0.3048
BEYOND_NOISE_NM = 0.005
ONE_DEGREE = 1.0


class Compared:
    """One flight measured, and its truth."""

    def __init__(self, case: Case, flight: Flight) -> None:
        self.name = case.name
        self.flight = flight
        self.truth = case.truth.attempts[-1]
        self.found = self.flight.attempts[-1]
        self.measures: Measures = measure(self.flight, self.found, _wind(case))

    def value(self, path: str) -> float | str | None:
        """A measure by its path in the result, moments as seconds of the log."""
        thing: object = self.measures
        for name in path.split("."):
            thing = None if thing is None else getattr(thing, name)
        return thing  # type: ignore[return-value]  # the paths below lead to numbers and texts

    def same_phases(self) -> bool:
        return [s.phase.value for s in self.found.spans] == [name for name, _, _ in self.truth.phases]


def _wind(case: Case) -> Wind:
    return Wind(
        from_true_deg=case.truth.wind_from_true_deg,
        speed_kt=case.truth.wind_speed_kt,
        speed_uncertainty_kt=2.0,
        tas_kt=None,
        method="the simulation's",
    )


def _compared(cases: Iterable[Case]) -> tuple[Compared, ...]:
    found = []
    for case in cases:
        flight = look(case.track, case.procedure)
        if flight.attempts:
            compared = Compared(case, flight)
            if compared.same_phases():
                found.append(compared)
    return tuple(found)


@cache
def perfect() -> tuple[Compared, ...]:
    return _compared(clean_flights(FLIGHTS, sensor=PERFECT))


@cache
def logged() -> tuple[Compared, ...]:
    return _compared(clean_flights(FLIGHTS, sensor=GOOD))


@cache
def faulty() -> tuple[Compared, ...]:
    return _compared(faulty_flights(FLIGHTS))


def errors(flights: tuple[Compared, ...], path: str, truth_path: str = "") -> dict[str, float]:
    """Measured less true, by flight, wherever both are there."""
    phase, _, name = (truth_path or path).partition(".")
    found = {}
    for flight in flights:
        true, value = flight.truth.measures.get(phase, {}).get(name), flight.value(path)
        if isinstance(true, float) and isinstance(value, float):
            found[flight.name] = value - true
    return found


def worst(found: dict[str, float]) -> float:
    return max(abs(error) for error in found.values())


def _noise_nm(flight: Flight) -> float:
    """Of one raw position, and of the edge of the cone that a raw altitude tells (h tan 50): two sigma."""
    cone_nm = flight.noise.altitude_ft * math.tan(math.radians(50.0)) / FT_PER_NM
    return 2.0 * math.hypot(flight.noise.position_nm, cone_nm)


def test_most_flights_are_compared():
    assert len(perfect()) >= 0.7 * FLIGHTS
    assert len(logged()) >= 0.7 * FLIGHTS
    assert len(faulty()) >= 0.7 * FLIGHTS


@pytest.mark.parametrize("phase", ["outbound", "intermediate", "final"])
@pytest.mark.parametrize("what", ["rms", "max_abs"])
def test_cross_track_to_five_thousandths_of_a_mile_beyond_the_noise(phase, what):
    path = f"{phase}.cross_track_nm.{what}"
    exact = errors(perfect(), path)

    assert len(exact) >= 4
    assert worst(exact) < BEYOND_NOISE_NM
    for flights in (logged(), faulty()):
        for name, error in errors(flights, path).items():
            flight = next(f for f in flights if f.name == name)
            assert abs(error) < BEYOND_NOISE_NM + _noise_nm(flight.flight), name


@pytest.mark.parametrize("phase", ["outbound", "intermediate", "final"])
def test_deviation_of_an_exact_log(phase):
    """To a tenth of a degree in the mean square; the greatest lies near the cone, where a degree is 10 m."""
    assert worst(errors(perfect(), f"{phase}.deviation_deg.rms")) < 0.1
    greatest = errors(perfect(), f"{phase}.deviation_deg.max_abs")
    assert float(np.median(np.abs(list(greatest.values())))) < 0.1


def test_the_intercept_angle_to_a_degree():
    path = "intercept.angle_deg"
    exact, found = errors(perfect(), path), errors(logged(), path) | errors(faulty(), path)

    assert len(exact) >= 2
    assert worst(exact) < ONE_DEGREE
    assert len(found) >= 4
    assert np.percentile(np.abs(list(found.values())), 90) < ONE_DEGREE


def test_where_a_log_cuts_the_corners_of_turns_an_angle_is_as_sure_as_it_says_or_not_told():
    """On a grid drawn between uneven reports a turn stands still on each line: that is not where it ends."""
    sensor = BAD_SENSORS["5 s grid of straight lines"]
    told, silent, wrong = 0, 0, []
    cases = [*clean_flights(8, seed=71, sensor=sensor), *faulty_flights(16, seed=71, sensor=sensor)]
    for case in cases:
        met = debrief(case.track, case.procedure).attempts[-1].measures.intercept
        true_deg = case.truth.attempts[-1].measures.get("intercept", {}).get("angle_deg")
        if met is None or met.angle_deg is None or met.angle_uncertainty_deg is None:
            silent += 1
            assert met is None or any("Intercept" in reason for reason in met.warnings)
            continue
        told += 1
        if not isinstance(true_deg, float) or abs(met.angle_deg - true_deg) > met.angle_uncertainty_deg:
            wrong.append(case.name)

    assert told >= 5
    assert silent >= 5
    assert len(wrong) <= 1, wrong


def test_the_overshoot():
    assert worst(errors(perfect(), "intercept.overshoot_nm")) < 0.012
    assert worst(errors(faulty(), "intercept.overshoot_nm")) < 0.02


def test_the_lead_at_the_station_within_its_stated_uncertainty():
    for flights in (perfect(), logged()):
        found = errors(flights, "turn.lead_nm")
        assert len(found) >= 3
        for name, error in found.items():
            turn = next(f for f in flights if f.name == name).measures.turn
            assert turn is not None
            assert abs(error) < turn.lead_uncertainty_nm, name


def test_the_exact_lead_is_that_of_the_speed_and_the_change():
    assert worst(errors(perfect(), "turn.exact_lead_nm")) < 0.02


@pytest.mark.parametrize("name", ["side", "pattern"])
def test_side_and_pattern(name):
    for flight in (*perfect(), *logged()):
        true = flight.truth.measures.get("course_reversal", {}).get(name)
        if true is not None:
            assert flight.value(f"course_reversal.{name}") == true, flight.name


def test_outbound_length_by_distance_and_by_time():
    assert worst(errors(perfect(), "outbound.turn_off_dme_nm", "course_reversal.turn_start_dme_nm")) < 0.01
    assert worst(errors(perfect(), "outbound.time_from_passage_s", "course_reversal.outbound_seconds")) < 0.3
    assert worst(errors(logged(), "outbound.time_from_passage_s", "course_reversal.outbound_seconds")) < 2.0


@pytest.mark.parametrize("phase", ["inbound", "outbound", "course_reversal", "final"])
@pytest.mark.parametrize("bound", ["min", "mean", "max"])
def test_altitude_and_ground_speed(phase, bound):
    assert worst(errors(perfect(), f"{phase}.altitude_ft.{bound}")) < 3.0
    assert worst(errors(perfect(), f"{phase}.groundspeed_kt.{bound}")) < 2.0


def test_altitudes_lie_within_their_stated_uncertainty():
    """95 % of them, as it is stated; of so few flights nine in ten are asked."""
    within = []
    for phase in ("inbound", "outbound", "course_reversal", "final"):
        for bound in ("min", "mean", "max"):
            for name, error in errors(logged(), f"{phase}.altitude_ft.{bound}").items():
                leg = getattr(next(f for f in logged() if f.name == name).measures, phase)
                within.append(abs(error) < leg.altitude_ft.uncertainty)

    assert len(within) > 40
    assert np.mean(within) >= 0.9


def test_airspeed_from_ground_speed_and_wind():
    """The wind given is the mean of the flight's; gusts and shear remain."""
    assert worst(errors(perfect(), "course_reversal.airspeed_kias.mean")) < 5.0


def test_the_descent():
    assert worst(errors(perfect(), "final.max_descent_rate_ft_min", "final.descent_rate_10_s_ft_min")) < 10.0
    assert worst(errors(perfect(), "final.lowest_altitude_ft", "final.lowest_ft")) < 3.0
