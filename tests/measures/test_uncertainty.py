"""The budgets: each part by hand, and the published table of angles behind a position."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from debrief.measures import uncertainty
from tests.measures.builders import NOISE, whole_approach

BUILT = whole_approach()


def with_position_m(metres: float):
    """The flight whose whole position uncertainty is so many metres (half-width at 95 %)."""
    log = replace(BUILT.flight.log, position_uncertainty_nm=metres / 1852.0)
    return replace(BUILT.flight, log=log, noise=replace(NOISE, smoothed_position_nm=0.0))


@pytest.mark.parametrize(
    ("metres", "distance_nm", "angle_deg"),
    [
        (5, 0.25, 0.62), (5, 1, 0.15), (5, 10, 0.02),
        (8, 0.25, 0.99), (8, 0.5, 0.49), (8, 2, 0.12),
        (15, 0.25, 1.86), (15, 0.5, 0.93), (15, 5, 0.09),
    ],
)  # fmt: skip
def test_the_angle_of_a_position_at_the_station(metres, distance_nm, angle_deg):
    """u(angle) = u(cross-track) / distance, worked by hand to two decimals."""
    assert uncertainty.angle_at_station_deg(with_position_m(metres), distance_nm) == pytest.approx(
        angle_deg, abs=0.006
    )


def test_the_angle_at_the_station_itself_is_anything():
    assert uncertainty.angle_at_station_deg(BUILT.flight, 0.0) == 180.0
    assert uncertainty.angle_at_station_deg(BUILT.flight, float("nan")) == 180.0


def test_noise_and_bias_add_as_squares():
    # two standard deviations of 0.0005 NM, and a bias of 0.003 NM
    assert uncertainty.position_nm(BUILT.flight) == pytest.approx(math.hypot(0.001, 0.003), abs=1e-9)
    # two standard deviations of 1 ft, and a bias of 20 ft
    assert uncertainty.altitude_ft(BUILT.flight) == pytest.approx(math.hypot(2.0, 20.0), abs=1e-9)


def test_a_track_is_the_less_sure_the_slower_the_flight():
    # 0.4 kt across 120 kt
    assert uncertainty.ground_track_deg(BUILT.flight, 120.0) == pytest.approx(0.191, abs=0.001)
    assert uncertainty.ground_track_deg(BUILT.flight, 0.0) == 180.0


def test_the_bias_of_an_altitude_cancels_in_a_rate():
    # two ends of 2 ft each over 10 s: 2 * sqrt(2) / 10 s
    assert uncertainty.rate_over_ft_min(BUILT.flight, 10.0) == pytest.approx(16.97, abs=0.01)
    # over one second the smoothed vertical speed knows better
    assert uncertainty.rate_over_ft_min(BUILT.flight, 1.0) == pytest.approx(30.0, abs=0.01)


def test_the_greatest_rate_picks_out_the_wander_of_a_satellite_altitude():
    # of 13 m (42.65 ft), in 10 s the share sqrt(2 (1 - e^(-10/60))) = 0.554: 23.6 ft, 141.8 ft/min
    assert uncertainty.greatest_rate_ft_min(BUILT.flight, 10.0) == pytest.approx(
        math.hypot(16.97, 141.8), abs=0.1
    )


def test_the_time_of_a_passage_is_a_position_over_a_speed():
    position_s = math.hypot(0.001, 0.003) / 120.0 * 3600.0

    assert uncertainty.closest_point_s(BUILT.flight, 0.0, 120.0) == pytest.approx(position_s, abs=1e-6)
    # abeam at 3 NM a track wrong by 0.19 deg moves it by 3 * 0.4 / 120 NM
    slip_s = 3.0 * 0.4 / 120.0 / 120.0 * 3600.0
    assert uncertainty.closest_point_s(BUILT.flight, 3.0, 120.0) == pytest.approx(
        math.hypot(position_s, slip_s), abs=1e-4
    )
    assert math.isnan(uncertainty.closest_point_s(BUILT.flight, 0.0, 0.0))


def test_a_lead_is_as_sure_as_the_moment_of_the_turn():
    # one second and half an interval of one second, at 120 kt
    turn_nm = math.hypot(1.0, 0.5) * 120.0 / 3600.0

    assert uncertainty.lead_nm(BUILT.flight, 120.0) == pytest.approx(
        math.hypot(turn_nm, math.hypot(0.001, 0.003)), abs=1e-6
    )


def test_an_airspeed_from_the_wind_carries_the_wind_and_the_temperature():
    # 10 K of 288 K move a true airspeed of 200 kt by half of 3.47 %
    assert uncertainty.airspeed_from_wind_kt(BUILT.flight, 2.0, 200.0) == pytest.approx(
        math.sqrt(0.4**2 + 2.0**2 + 3.470**2), abs=0.01
    )
