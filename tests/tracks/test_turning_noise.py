"""Scatter across turns: of circles with known noise, and of ones drawn by straight lines between uneven reports."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import BSpline

from debrief.tracks import turning_noise
from debrief.tracks.smoothing import fit
from debrief.tracks.turning_noise import turning_noise_m

JERK = 0.3
SPEED_M_S, RATE_RAD_S = 60.0, np.radians(3.0)


def circle(t_s: np.ndarray) -> np.ndarray:
    radius_m = SPEED_M_S / RATE_RAD_S
    return radius_m * np.column_stack([np.cos(RATE_RAD_S * t_s), -np.sin(RATE_RAD_S * t_s)])


def scatter_m(t_s: np.ndarray, metres: np.ndarray) -> float:
    spline = fit(t_s, metres, jerk_density=JERK, floor=0.2)
    return turning_noise_m([(t_s, metres, spline)], JERK)


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("noise_m", [3.0, 8.0])
def test_the_noise_of_a_circle_is_found(interval_s: float, noise_m: float) -> None:
    draw = np.random.default_rng(4)
    t_s = np.cumsum(draw.uniform(0.7, 1.3, 600)) * interval_s
    found = scatter_m(t_s, circle(t_s) + draw.normal(0.0, noise_m, (600, 2)))

    assert found == pytest.approx(noise_m, rel=0.15)


def test_a_circle_without_noise_has_none() -> None:
    t_s = np.arange(0.0, 300.0, 5.0)

    assert scatter_m(t_s, circle(t_s)) == 0.0  # what little there is the jerk explains


def test_lines_between_uneven_reports_cut_a_circle() -> None:
    draw = np.random.default_rng(8)
    reports_s = np.cumsum(draw.choice([2.0, 5.0, 11.0], 80))
    places = circle(reports_s)
    t_s = np.arange(5.0, reports_s[-1], 5.0)
    drawn = np.column_stack([np.interp(t_s, reports_s, axis) for axis in places.T])
    cut_m = np.hypot(*(drawn - circle(t_s)).T)

    assert scatter_m(t_s, drawn) > np.median(cut_m)


def test_a_turn_that_stands_still_on_each_line_is_one_all_the_same() -> None:
    """Reports every 9 to 16 s on a grid of 5 s: on some of its samples the smoothed rate is near zero."""
    draw = np.random.default_rng(3)
    reports_s = np.cumsum(draw.uniform(9.0, 16.0, 40))
    t_s = np.arange(np.ceil(reports_s[0]), reports_s[-1], 5.0)
    drawn = np.column_stack([np.interp(t_s, reports_s, axis) for axis in circle(reports_s).T])

    assert scatter_m(t_s, drawn) > 5.0


def test_straight_flight_tells_nothing_of_turns() -> None:
    t_s = np.arange(0.0, 300.0)
    draw = np.random.default_rng(4)

    assert scatter_m(t_s, np.column_stack([60.0 * t_s, 0.0 * t_s]) + draw.normal(0.0, 3.0, (300, 2))) == 0.0


def test_the_share_of_the_jerk_is_the_integral_of_the_squared_b_spline() -> None:
    spline = BSpline.basis_element([0.0, 1.0, 2.0, 3.0])

    whole = sum(quad(lambda u: spline(u) ** 2, first, first + 1.0)[0] for first in (0.0, 1.0, 2.0))
    assert whole == pytest.approx(turning_noise._JERK_SHARE)
