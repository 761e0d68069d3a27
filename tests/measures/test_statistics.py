"""Statistics in which every moment counts for as long as it lasts."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.measures.over_phase import RangeSure, SpreadSure
from debrief.measures.statistics import known, mean, mean_direction_deg, range_of, share, spread, weights_s

EPOCH = datetime(2026, 3, 14, tzinfo=UTC)


SURE = SpreadSure(one=0.2, mean=0.1, rms=0.3, max_abs=0.4)


def time(t_s: float) -> datetime:
    return EPOCH + timedelta(seconds=t_s)


def one(values: list[float]) -> np.ndarray:
    return np.zeros(len(values), dtype=np.int64)


def test_a_longer_step_counts_for_longer():
    t_s = np.array([0.0, 1.0, 11.0])

    assert weights_s(t_s, one([0, 0, 0])).tolist() == [0.5, 5.5, 5.0]


def test_a_gap_counts_for_nothing():
    t_s = np.array([0.0, 1.0, 100.0, 101.0])

    assert weights_s(t_s, np.array([0, 0, 1, 1])).tolist() == [0.5, 0.5, 0.5, 0.5]


def test_moments_that_all_stand_alone_count_alike():
    assert weights_s(np.array([5.0]), np.array([0])).tolist() == [1.0]
    assert weights_s(np.array([5.0, 50.0]), np.array([0, 1])).tolist() == [1.0, 1.0]


def test_the_mean_of_a_ramp_does_not_depend_on_where_it_is_sampled():
    t_s = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 2.0, 5.0, 10.0])

    assert mean(t_s * 3.0, weights_s(t_s, np.zeros(9, dtype=np.int64))) == pytest.approx(15.0, abs=1e-12)


def test_unknown_moments_do_not_count():
    weight = np.array([1.0, 1.0, 8.0])

    assert mean(np.array([1.0, 3.0, np.nan]), weight) == 2.0
    assert mean(np.array([np.nan]), np.ones(1)) is None
    assert mean(np.array([]), np.array([])) is None


def test_one_known_moment_of_no_length_is_the_mean():
    assert mean(np.array([7.0, np.nan, np.nan]), np.array([0.0, 1.0, 1.0])) == 7.0


def test_a_spread_keeps_the_sign_of_the_mean_and_not_of_the_greatest():
    t_s = np.arange(5.0)
    values = np.array([0.0, -1.0, -3.0, 1.0, 0.0])

    found = spread(t_s, values, weights_s(t_s, one([0] * 5)), sure=SURE, time=time)

    assert found is not None
    assert found.mean == pytest.approx(-0.75, abs=1e-12)
    assert found.rms == pytest.approx(np.sqrt(11 / 4), abs=1e-12)
    assert (found.max_abs, found.max_abs_time) == (3.0, time(2.0))
    assert (found.uncertainty, found.max_abs_uncertainty) == (0.2, 0.4)
    assert (found.mean_uncertainty, found.rms_uncertainty) == (0.1, 0.3)


def test_a_spread_of_nothing_known_is_none():
    assert spread(np.zeros(2), np.full(2, np.nan), np.ones(2), sure=SURE, time=time) is None


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=30))
def test_a_mirrored_quantity_has_a_mirrored_mean_and_the_same_size(values):
    t_s, weight = np.arange(float(len(values))), np.ones(len(values))
    here, there = (spread(t_s, sign * np.array(values), weight, sure=SURE, time=time) for sign in (1, -1))

    assert here is not None
    assert there is not None
    assert there.mean == pytest.approx(-here.mean, abs=1e-9)
    assert (there.rms, there.max_abs) == (here.rms, here.max_abs)
    assert abs(here.mean) <= here.rms + 1e-9 <= here.max_abs + 2e-9


def test_a_range_ignores_unknown_moments():
    sure = RangeSure(one=float("nan"), least=0.1, mean=0.2, greatest=0.3)
    found = range_of(np.array([np.nan, 2.0, 4.0]), np.ones(3), sure)

    assert found is not None
    assert (found.min, found.mean, found.max, found.uncertainty) == (2.0, 3.0, 4.0, None)
    assert (found.min_uncertainty, found.mean_uncertainty, found.max_uncertainty) == (0.1, 0.2, 0.3)


def test_the_share_counts_time_and_not_samples():
    holds, among = np.array([True, False, True]), np.array([True, True, False])

    assert share(holds, among, np.array([3.0, 1.0, 9.0])) == 0.75
    assert share(holds, np.zeros(3, dtype=bool), np.ones(3)) is None


def test_the_mean_direction_goes_the_short_way_round():
    assert mean_direction_deg(np.array([350.0, 20.0]), np.ones(2)) == pytest.approx(5.0, abs=1e-9)
    assert mean_direction_deg(np.array([0.0, 180.0]), np.ones(2)) is None
    assert mean_direction_deg(np.array([np.nan]), np.ones(1)) is None


def test_what_is_not_finite_is_not_known():
    assert known(float("nan")) is None
    assert known(np.float64("inf")) is None
    assert known(None) is None
    assert known(np.float64(2.5)) == 2.5
