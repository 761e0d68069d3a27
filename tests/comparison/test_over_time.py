"""One pilot over time, against published charts and a reference implementation."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower

from debrief.comparison.over_time import control_chart, slope_per_month, smallest_change

#: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, flow rates of ten batches. Mark: memory.
BATCHES = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
LAST_PRINTED_DIGIT = 0.00011


def test_the_chart_of_the_handbook_comes_out():
    """Centre 50.81, mean range 1.8778, limits 45.8159 and 55.8041, as printed there. Mark: memory."""
    chart = control_chart(BATCHES)

    assert chart is not None
    assert chart.centre == pytest.approx(50.81, abs=LAST_PRINTED_DIGIT)
    assert chart.mean_range == pytest.approx(1.8778, abs=LAST_PRINTED_DIGIT)
    assert (chart.low, chart.high) == pytest.approx((45.8159, 55.8041), abs=LAST_PRINTED_DIGIT)
    assert (chart.outside, chart.runs, chart.jumps) == ((), (), ())


def test_the_constants_are_those_of_normal_values():
    """d2 = 1.128 and D4 = 3.267 for ranges of two: 2 / sqrt(pi), and 1 + 3 sqrt(1 - 2 / pi) / (2 / sqrt(pi)) ..."""
    mean_range = 2.0 / np.sqrt(np.pi)
    range_sd = np.sqrt(2.0 - 4.0 / np.pi)
    chart = control_chart(np.array([0.0, 1.0, 0.0, 1.0]))

    assert chart is not None
    assert chart.high - chart.centre == pytest.approx(3.0 / mean_range, rel=5e-4)
    assert chart.range_high == pytest.approx(1.0 + 3.0 * range_sd / mean_range, rel=5e-4)


def test_an_odd_flight_a_jump_and_a_run_are_seen():
    quiet = np.array([0.1, -0.1, 0.2, -0.2, 0.1, -0.1, 0.15, -0.1])
    odd = control_chart(np.append(quiet, 3.0))
    run = control_chart(np.concatenate([quiet - 2.0, np.full(9, 0.5)]))

    assert odd is not None
    assert run is not None
    assert (odd.outside, odd.jumps) == ((8,), (8,))
    assert run.runs[:2] == (7, 15)  # the eighth of each half
    assert control_chart(BATCHES[:2]) is None


@pytest.mark.parametrize(("each", "standardised"), [(3, 3.07), (5, 2.02), (10, 1.32), (20, 0.91)])
def test_the_smallest_change_is_that_of_the_noncentral_t(each: int, standardised: float):
    """80 % power, two-sided 5 %, so many flights before and after: computed with scipy 1.17.1, and by statsmodels."""
    found = smallest_change(2 * each, 1.0, 2.0 * each - 2.0)

    assert found == pytest.approx(standardised, abs=0.006)
    reference = TTestIndPower().solve_power(nobs1=each, alpha=0.05, power=0.8, ratio=1.0)
    assert found == pytest.approx(float(reference), rel=1e-3)


def test_three_flights_show_no_change_however_great():
    assert smallest_change(3, 1.0, 2.0) is None


def test_a_slope_is_found_with_its_interval():
    """Against ordinary least squares as numpy solves it."""
    draw = np.random.default_rng(3)
    days = np.sort(draw.uniform(0, 200, 25))
    values = 4.0 - 0.02 * days + draw.normal(0, 0.5, 25)
    found = slope_per_month(days, values)

    assert found is not None
    (by_day, _), covariance = np.polyfit(days, values, 1, cov="unscaled")
    assert found[0] == pytest.approx(30.0 * by_day)
    assert found[1][0] < -0.6 < found[1][1]
    off = values - np.polyval(np.polyfit(days, values, 1), days)
    se = 30.0 * np.sqrt(covariance[0, 0] * (off @ off) / 23)
    assert found[1][1] - found[0] == pytest.approx(2.0687 * se, rel=1e-4)  # t, 23 degrees of freedom
    assert slope_per_month(days[:5], values[:5]) is None
    assert slope_per_month(np.zeros(8), values[:8]) is None
