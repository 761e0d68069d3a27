"""The smoother against a slow and obvious twin, and against the noise it claims to know."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import BSpline

from debrief.tracks.smoothing import ACCELERATION_SIGMA, fit

JERK_DENSITY = 0.3
ONE_MM = 0.001


def turning_flight(seconds: float = 300.0) -> tuple[np.ndarray, np.ndarray]:
    """Straight, a rate-one turn with a roll of 3.6 s at either end, straight; metres, every tenth of a second."""
    t_s = np.arange(0.0, seconds, 0.1)
    rate = np.interp(t_s, [0, 100, 103.6, 160, 163.6, seconds], [0, 0, 3, 3, 0, 0])
    track = np.radians(np.cumsum(rate) * 0.1)
    return t_s, np.cumsum(55.0 * np.column_stack([np.sin(track), np.cos(track)]), axis=0) * 0.1


def sampled(
    rng: np.random.Generator, interval_s: float, noise_m: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    t_s, path = turning_flight()
    moments = np.arange(rng.uniform(0, interval_s), 299.0, interval_s)
    exact = np.column_stack([np.interp(moments, t_s, path[:, axis]) for axis in range(2)])
    return moments, exact, exact + rng.normal(0, noise_m, exact.shape)


def test_agrees_with_a_dense_solution_by_another_library():
    """The same penalised least squares, its jerk integrated numerically over scipy's own B-splines."""
    rng = np.random.default_rng(3)
    t_s = np.sort(rng.uniform(0, 20, 24))
    values = np.column_stack([np.sin(t_s / 3) * 50, t_s**1.5]) + rng.normal(0, 2.0, (24, 2))

    ours = fit(t_s, values, jerk_density=JERK_DENSITY, floor=0.2)

    knots = ours.start_s + ours.step_s * np.arange(-3, len(ours.coefficients) + 1)
    splines = [
        BSpline.basis_element(knots[i : i + 5], extrapolate=False) for i in range(len(ours.coefficients))
    ]
    basis = np.nan_to_num(np.column_stack([s(np.clip(t_s, t_s[0], t_s[-1] - 1e-9)) for s in splines]))
    edges = ours.start_s + ours.step_s * np.arange(len(ours.coefficients) - 2)

    def integral(a: int, b: int, order: int) -> float:
        product = lambda t: float(  # noqa: E731
            np.nan_to_num(splines[a](t, nu=order)) * np.nan_to_num(splines[b](t, nu=order))
        )
        return sum(quad(product, low, high)[0] for low, high in itertools.pairwise(edges))

    size = len(splines)
    jerk = np.array(
        [[integral(a, b, 3) if abs(a - b) < 4 else 0.0 for b in range(size)] for a in range(size)]
    )
    # the weak prior on the acceleration is a sum over the knots, by definition
    second = np.diff(np.eye(size), 2, axis=0) / ours.step_s**2
    residual = values - ours(t_s)
    weight = np.minimum(1.0, 4.0 * ours.sigma / np.sqrt(np.mean(residual**2, axis=1))) ** 2
    weighted = basis * weight[:, None]
    normal = basis.T @ weighted + ours.sigma**2 * (
        jerk / JERK_DENSITY + second.T @ second * ours.step_s / ACCELERATION_SIGMA**2
    )
    dense = np.linalg.solve(normal, weighted.T @ values)

    # the last fit used the noise of the fit before it, which has settled by then
    assert basis @ dense == pytest.approx(ours(t_s), abs=0.05)


def test_a_constant_acceleration_comes_back_exactly_where_the_prior_is_weak():
    t_s = np.arange(0.0, 60.0, 1.0)
    straight = np.column_stack([3.0 + 55.0 * t_s, -20.0 * t_s])

    spline = fit(t_s, straight, jerk_density=JERK_DENSITY, floor=0.2)

    assert spline(t_s) == pytest.approx(straight, abs=ONE_MM)
    assert spline(t_s, 1)[:, 0] == pytest.approx(np.full(60, 55.0), abs=ONE_MM)
    assert np.abs(spline(t_s, 2)).max() < ONE_MM


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("noise_m", [3.0, 8.0, 20.0])
def test_it_learns_the_noise_of_one_sample(interval_s, noise_m):
    rng = np.random.default_rng(5)
    learned = []
    for _ in range(5):
        moments, _, noisy = sampled(rng, interval_s, noise_m)
        learned.append(fit(moments, noisy, jerk_density=JERK_DENSITY, floor=0.2).sigma)

    assert np.mean(learned) == pytest.approx(noise_m, rel=0.15)


@pytest.mark.parametrize(
    ("interval_s", "noise_m"), [(0.2, 8.0), (1.0, 3.0), (1.0, 8.0), (2.0, 8.0), (5.0, 20.0)]
)
def test_its_claimed_spread_is_honest(interval_s, noise_m):
    """Smoothed error over the whole flight, turn included, against the claimed standard deviation."""
    rng = np.random.default_rng(6)
    ratios = []
    for _ in range(8):
        moments, exact, noisy = sampled(rng, interval_s, noise_m)
        spline = fit(moments, noisy, jerk_density=JERK_DENSITY, floor=0.2)
        error = (spline(moments) - exact)[5:-5]
        ratios.append(np.mean(error**2) / spline.spread() ** 2)

    assert 0.6 < np.sqrt(np.mean(ratios)) < 1.25


def test_one_wild_sample_moves_nothing_else():
    moments, exact, noisy = sampled(np.random.default_rng(7), 1.0, 1.0)
    clean = fit(moments, noisy, jerk_density=JERK_DENSITY, floor=0.2)
    noisy = noisy.copy()
    noisy[150] += [300.0, -200.0]

    spline = fit(moments, noisy, jerk_density=JERK_DENSITY, floor=0.2)

    assert np.abs(spline(moments) - exact)[100:140].max() < 5.0
    assert spline.sigma == pytest.approx(clean.sigma, rel=0.2)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_a_handful_of_samples_gives_a_finite_line(count):
    t_s = np.arange(count) * 1.0

    spline = fit(t_s, np.column_stack([t_s * 50.0, t_s * 0.0]), jerk_density=JERK_DENSITY, floor=0.2)

    assert spline(t_s)[:, 0] == pytest.approx(t_s * 50.0, abs=0.01)


def test_steps_of_a_coarse_recorder_count_as_noise():
    t_s = np.arange(0.0, 200.0, 1.0)
    metres = np.round((900.0 - 3.5 * t_s) / 7.62) * 7.62

    spline = fit(t_s, metres[:, None], jerk_density=0.03, floor=0.15, quantum=7.62)

    assert spline.sigma >= 7.62 / np.sqrt(12.0)
    assert spline(t_s, 1)[20:-20, 0] == pytest.approx(np.full(160, -3.5), abs=0.4)
