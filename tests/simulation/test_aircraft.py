"""The aircraft against the physics of a level turn and the wind triangle."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from debrief.simulation.aircraft import Air, Aircraft, standard_bank_deg, true_airspeed_kt
from debrief.simulation.guidance import Helm, within_180_deg
from debrief.simulation.plan import Wind
from tests.vectors import read_vectors

STEP_S = 0.1


def _aircraft(wind: Wind | None = None, airspeed_kias: float = 120.0) -> Aircraft:
    return Aircraft(
        air=Air(wind or Wind(), 0),
        east_nm=0.0,
        north_nm=0.0,
        altitude_ft=0.0,
        heading_deg=0.0,
        airspeed_kias=airspeed_kias,
    )


@pytest.mark.parametrize("row", read_vectors("turns.csv"), ids=lambda row: f"{row.tas_kt:.0f} kt")
def test_a_turn_has_the_bank_rate_and_radius_of_a_coordinated_one(row):
    """Level coordinated turn, the lesser of standard rate and 25 degrees; computed in the vectors file."""
    aircraft = _aircraft(airspeed_kias=row.tas_kt)  # at sea level true is indicated
    helm = Helm(aircraft, 25.0)

    assert standard_bank_deg(row.tas_kt) == pytest.approx(row.bank_for_3deg_per_s_deg, abs=0.001)
    assert helm.bank_now_deg() == pytest.approx(row.bank_used_deg, abs=0.001)
    assert helm.turn_rate_deg_s() == pytest.approx(row.rate_of_turn_deg_per_s, abs=0.0001)
    assert helm.radius_nm() == pytest.approx(row.radius_nm, abs=0.0001)


def test_a_circle_in_still_air_closes_with_the_radius_of_the_formula():
    aircraft = _aircraft()
    bank_deg = standard_bank_deg(120.0)
    while aircraft.bank_deg < bank_deg:
        aircraft.step(STEP_S, bank_deg, 0.0, 120.0)
    start = (aircraft.east_nm, aircraft.north_nm)
    widest_nm = 0.0
    for _ in range(1200):  # 360 degrees at 3 deg/s
        aircraft.step(STEP_S, bank_deg, 0.0, 120.0)
        widest_nm = max(widest_nm, math.hypot(aircraft.east_nm - start[0], aircraft.north_nm - start[1]))

    assert math.hypot(aircraft.east_nm - start[0], aircraft.north_nm - start[1]) < 0.001
    assert widest_nm == pytest.approx(2 * 120.0 / (60.0 * math.pi), abs=0.001)  # a two-minute circle


def test_a_circle_in_wind_ends_where_the_wind_carried_it():
    aircraft = _aircraft(Wind(from_true_deg=270.0, speed_kt=30.0))
    bank_deg = standard_bank_deg(120.0)
    while aircraft.bank_deg < bank_deg:
        aircraft.step(STEP_S, bank_deg, 0.0, 120.0)
    start = (aircraft.east_nm, aircraft.north_nm)
    for _ in range(1200):
        aircraft.step(STEP_S, bank_deg, 0.0, 120.0)

    assert aircraft.east_nm - start[0] == pytest.approx(30.0 * 120.0 / 3600.0, abs=0.001)
    assert aircraft.north_nm - start[1] == pytest.approx(0.0, abs=0.001)


@pytest.mark.parametrize("row", read_vectors("wind_triangle.csv"))
def test_the_wind_triangle(row):
    """Ground velocity = air velocity less the wind it comes from; computed in the vectors file."""
    wind = Wind(from_true_deg=row.wind_from_deg, speed_kt=row.wind_speed_kt)
    aircraft = _aircraft(wind, row.tas_kt)
    aircraft.point(row.heading_deg)
    helm = Helm(aircraft, 25.0)

    assert aircraft.groundspeed_kt == pytest.approx(row.groundspeed_kt, abs=0.001)
    assert within_180_deg(aircraft.ground_track_deg - row.track_deg) == pytest.approx(0.0, abs=0.001)
    assert within_180_deg(helm.heading_for(row.track_deg) - row.heading_deg) == pytest.approx(0.0, abs=0.001)
    assert helm.groundspeed_on(row.track_deg) == pytest.approx(row.groundspeed_kt, abs=0.001)


def test_roll_climb_and_speed_take_their_time():
    aircraft = _aircraft()
    aircraft.step(1.0, 20.0, 1000.0, 150.0)

    assert aircraft.bank_deg == pytest.approx(5.0)  # 5 degrees a second
    assert aircraft.rate_ft_min == pytest.approx(100.0)
    assert aircraft.airspeed_kias == pytest.approx(120.8)


def test_true_airspeed_grows_by_two_percent_a_thousand_feet():
    """Rule of thumb. Mark: common practice."""
    assert true_airspeed_kt(100.0, 0.0) == pytest.approx(100.0)
    assert true_airspeed_kt(100.0, 5000.0) == pytest.approx(108.0, abs=1.5)


def test_wind_veers_and_grows_with_height():
    air = Air(
        Wind(
            from_true_deg=180.0,
            speed_kt=20.0,
            reference_ft=2000.0,
            veer_deg_per_1000_ft=45.0,
            shear_kt_per_1000_ft=5.0,
        ),
        0,
    )
    east_kt, north_kt = air.steady(4000.0)

    assert (east_kt, north_kt) == pytest.approx((30.0, 0.0), abs=1e-9)  # from 270, 30 kt


def test_gusts_have_the_size_asked_for_and_no_corners():
    air = Air(Wind(gust_kt=4.0), 5)
    gusts = [air.gust(STEP_S)[0] for _ in range(200_000)]
    mean = sum(gusts) / len(gusts)
    size_kt = math.sqrt(sum((gust - mean) ** 2 for gust in gusts) / len(gusts))
    steepest = max(abs(b - a) for a, b in pairwise(gusts))

    assert size_kt == pytest.approx(4.0, abs=0.5)
    assert steepest < 0.6  # kt within 0.1 s
