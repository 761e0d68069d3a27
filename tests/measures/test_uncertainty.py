"""The budgets: each part by hand, and the published table of angles behind a position."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from debrief.measures import moments, uncertainty
from debrief.tracks.model import AltitudeErrors, PositionErrors
from tests.measures.builders import NOISE, whole_approach

BUILT = whole_approach()


def with_position_m(metres: float):
    """The flight whose whole position uncertainty is so many metres (half-width at 95 %)."""
    log = replace(BUILT.flight.log, position_errors=PositionErrors(constant_nm=metres / 2.0 / 1852.0))
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
    assert uncertainty.position_angle_deg(with_position_m(metres), distance_nm) == pytest.approx(
        angle_deg, abs=0.006
    )


def test_the_angle_at_the_station_itself_is_anything():
    assert uncertainty.angle_at_station_deg(BUILT.flight, 0.0) == 180.0
    assert uncertainty.angle_at_station_deg(BUILT.flight, float("nan")) == 180.0


def test_noise_and_bias_add_as_squares():
    # two standard deviations of 0.0005 NM, and a bias of 0.003 NM
    assert uncertainty.position_nm(BUILT.flight) == pytest.approx(math.hypot(0.001, 0.003), abs=1e-9)
    # two standard deviations of 1 ft, and a bias of 20 ft
    assert uncertainty.altitude_ft(BUILT.flight) == pytest.approx(math.hypot(2.0, 20.0), abs=1e-4)


def test_a_track_is_the_less_sure_the_slower_the_flight():
    # 0.4 kt across 120 kt, and some hundredths that lie unseen between samples a second apart
    assert uncertainty.ground_track_deg(BUILT.flight, 120.0) == pytest.approx(0.191, abs=0.003)
    assert uncertainty.ground_track_deg(BUILT.flight, 0.0) == 180.0


def test_the_bias_of_an_altitude_cancels_in_a_rate():
    # two ends of 2 ft each over 10 s: 2 * sqrt(2) / 10 s; a smoothed error lasts 3.9 s, and 8 % of it are left after 10
    assert uncertainty.greatest_rate_ft_min(BUILT.flight, 10.0, 0.0) == pytest.approx(
        16.97 * math.sqrt(1.0 - math.exp(-10.0 / 3.9)), abs=0.02
    )
    # over one second the smoothed vertical speed knows no better than twice 15 ft/min
    assert uncertainty.greatest_rate_ft_min(BUILT.flight, 1.0, 0.0) <= 31.0


def with_wander_ft(wander_ft: float):
    """The flight whose altitude wanders by so much (one standard deviation) and is not biased."""
    errors = AltitudeErrors(constant_ft=0.0, wander_ft=wander_ft)
    return replace(BUILT.flight, log=replace(BUILT.flight.log, altitude_errors=errors))


def test_the_greatest_rate_picks_out_the_wander_of_a_satellite_altitude():
    # 15 ft differ after 10 s by the share sqrt(2 (1 - e^(-10/60))) = 0.554: 49.9 ft/min, beside 8.15 of the noise
    one = math.hypot(49.9, 8.15)
    assert uncertainty.greatest_rate_ft_min(with_wander_ft(15.0), 10.0, 0.0) == pytest.approx(
        2.0 * one, rel=0.01
    )
    # the greatest of eleven independent ones lies 1.59 of them higher, give or take 0.58 (published tables of order
    # statistics); mark: memory
    assert uncertainty.greatest_rate_ft_min(with_wander_ft(15.0), 10.0, 50.0) == pytest.approx(
        (1.59 + 1.69 * 0.58) * one, rel=0.03
    )


def test_the_time_of_a_passage_is_a_position_over_a_speed():
    position_s = math.hypot(0.001, 0.003) / 120.0 * 3600.0

    assert moments.closest_point(BUILT.flight, 0.0, 120.0).half_width_s == pytest.approx(position_s, abs=1e-6)
    # abeam at 3 NM a track wrong by 0.19 deg moves it by 3 * 0.4 / 120 NM
    slip_s = 3.0 * 0.4 / 120.0 / 120.0 * 3600.0
    assert moments.closest_point(BUILT.flight, 3.0, 120.0).half_width_s == pytest.approx(
        math.hypot(position_s, slip_s), abs=5e-3
    )
    assert math.isnan(moments.closest_point(BUILT.flight, 0.0, 0.0).half_width_s)


def test_a_turn_is_as_sure_as_its_rate_over_how_fast_it_rolls():
    """Of a log at 1 Hz with 3.7 m of noise the smoother's corner is (0.3 / 3.7^2)^(1/6) = 0.529 rad/s.

    Noise alone leaves 0.408 * 3.7 * sqrt(0.529^5 / 3) = 0.177 m/s2 across 61.7 m/s, 0.165 deg/s.
    """
    sure = moments.turn_edge(BUILT.flight, BUILT.marks["turn off"])
    view = BUILT.flight.at(np.array([BUILT.marks["turn off"] - 1.0, BUILT.marks["turn off"] + 1.0]))
    roll_deg_s2 = abs(float(np.diff(view.turn_rate_deg_s)[0])) / 2.0

    assert sure.sd_s == pytest.approx(0.165 / roll_deg_s2, rel=0.03)
    assert sure.bias_s == pytest.approx(0.11 / 0.529**2, rel=0.01)


def test_a_heading_from_the_wind_is_unsure_by_the_wind_across_over_the_airspeed():
    # 2 kt of its speed are two standard deviations along any axis; 1,500 ft higher the wind may be another by 4.5 kt (95 %)
    assert uncertainty.heading_from_wind_deg(2.0, 0.0, 100.0) == pytest.approx(
        math.degrees(2.0 / 100.0), rel=1e-3
    )
    assert uncertainty.heading_from_wind_deg(2.0, -1500.0, 100.0) == pytest.approx(
        math.degrees(math.hypot(2.0, 4.5) / 100.0), rel=1e-3
    )


@pytest.mark.parametrize(("slope", "expected"), [(2.0, 2.0 * 0.3), (0.0, 0.0)])
def test_a_value_that_hangs_on_a_limit_moves_with_it(slope, expected):
    """Along a straight line the quadrature gives the error itself, times the slope."""
    found = moments.over_limit(lambda limit: 5.0 + slope * limit, 10.0, 0.3, least=0.0)

    assert found == pytest.approx(expected, abs=1e-9)


def test_where_a_value_jumps_the_interval_holds_both():
    assert 2.0 * moments.over_limit(lambda limit: 14.0 if limit > 10.2 else 0.0, 10.0, 0.3, least=0.0) >= 14.0
    assert moments.over_limit(lambda limit: None, 10.0, 0.3, least=0.0) == 0.0


def test_an_airspeed_from_the_wind_carries_the_wind_and_the_temperature():
    # gusts of 0.7 kt; 10 K of 288 K move a true airspeed of 200 kt by half of 3.47 %
    assert uncertainty.airspeed_from_wind_kt(BUILT.flight, 2.0, 200.0) == pytest.approx(
        math.sqrt(0.5 * 0.4**2 + (2.0 * 0.7) ** 2 + 2.0**2 + 3.470**2),
        abs=0.02,
    )
