"""Turning points of an angle, by their definition."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from debrief.measures.swings import greatest_row, turning_points

ANGLES = st.lists(st.floats(-40.0, 40.0) | st.integers(-20, 20).map(float), max_size=40).map(np.array)
LEAST = st.floats(0.5, 20.0)


@given(ANGLES, LEAST)
def test_each_swing_is_great_enough_and_runs_between_extremes(angle_deg, least_deg):
    points = turning_points(angle_deg, least_deg)

    assert points == sorted(points)
    for number, (first, last) in enumerate(pairwise(points)):
        between = angle_deg[first : last + 1]
        assert abs(angle_deg[last] - angle_deg[first]) >= least_deg
        assert {between.min(), between.max()} == {angle_deg[first], angle_deg[last]}
        if number > 0:
            assert (angle_deg[last] - angle_deg[first]) * (
                angle_deg[first] - angle_deg[points[number - 1]]
            ) < 0


@given(ANGLES, LEAST)
def test_an_angle_has_turning_points_where_it_ranges_that_far(angle_deg, least_deg):
    ranges = len(angle_deg) > 0 and bool(angle_deg.max() - angle_deg.min() >= least_deg)

    assert bool(turning_points(angle_deg, least_deg)) == ranges


def test_values_that_stay_the_same_change_nothing():
    angle_deg = np.array([0.0, 0.0, 5.0, 5.0, 5.0, 0.0, 0.0])

    assert turning_points(angle_deg, 4.0) == [0, 2, 5]


def test_a_swing_a_little_smaller_than_the_others_is_counted_with_them():
    """Ten swings of 30 s there and back, two of them 1 degree smaller: six of twice the time were said."""
    sizes_deg = [35.0, 35.0, 35.0, 35.0, 34.0, 35.0, 35.0, 35.0, 34.0, 35.0]
    extremes = np.cumsum([0.0, *(size * (-1.0) ** n for n, size in enumerate(sizes_deg))])
    t_s = np.arange(0.0, 151.0)
    angle_deg = np.interp(t_s, 15.0 * np.arange(11), extremes)

    row = greatest_row(
        t_s,
        angle_deg,
        count=4,
        least_deg=4.0,
        size_deg=lambda first, last: abs(float(angle_deg[last] - angle_deg[first])),
        together=lambda begins_s, _, ends_s: ends_s - begins_s < 90.0,
    )

    assert row is not None
    assert row.swing_deg == 35.0
    assert (row.swings, row.period_s) == (10, 30.0)
