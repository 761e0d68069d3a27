"""Turning points of an angle, by their definition."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from debrief.measures.swings import turning_points

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
