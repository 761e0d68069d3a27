"""Bearings: the difference, the wrap, the mean."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.navigation.angles import difference_deg, unwrap_deg, wrap_360

ROUNDING_DEG = 1e-9

any_angle = st.floats(-100_000.0, 100_000.0)


@given(any_angle)
def test_a_wrapped_angle_points_the_same_way_and_lies_in_the_circle(angle_deg):
    wrapped = wrap_360(angle_deg)

    assert 0.0 <= wrapped < 360.0
    turns = (angle_deg - wrapped) / 360.0
    assert turns == pytest.approx(round(turns), abs=ROUNDING_DEG)


def test_a_hair_left_of_north_is_north_and_not_360():
    """The remainder of -1e-15 by 360 rounds to 360.0 itself."""
    assert wrap_360(-1e-15) == 0.0
    assert difference_deg(180.0 - 1e-15, 0.0) < 180.0


@given(any_angle, any_angle)
def test_a_difference_turns_one_bearing_into_the_other(a_deg, b_deg):
    turn = difference_deg(a_deg, b_deg)

    assert -180.0 <= turn < 180.0
    assert abs(difference_deg(b_deg + turn, a_deg)) < 1e-6


@pytest.mark.parametrize(
    ("a_deg", "b_deg", "turn_deg"),
    [
        (10, 350, 20),
        (350, 10, -20),
        (180, 0, -180),
        (0, 180, -180),
        (359.5, 0.5, -1),
        (90, 90, 0),
        (725, 0, 5),
    ],
)
def test_a_difference_takes_the_short_way_and_right_is_positive(a_deg, b_deg, turn_deg):
    assert difference_deg(a_deg, b_deg) == pytest.approx(turn_deg, abs=ROUNDING_DEG)


@pytest.mark.parametrize("function", [wrap_360, lambda a: difference_deg(a, 10.0)])
def test_what_is_not_a_number_stays_so_and_shapes_are_kept(function):
    angles = np.array([[370.0, np.nan], [np.inf, -10.0]])

    out = function(angles)

    assert out.shape == angles.shape
    assert np.isnan(out[0, 1])
    assert np.isnan(out[1, 0])
    assert np.isnan(function(float("nan")))


def test_unwrapping_takes_the_short_way_past_north_and_over_what_is_missing():
    angles = np.array([350.0, np.nan, 10.0, 170.0, 340.0])

    out = unwrap_deg(angles)

    np.testing.assert_array_equal(out, [350.0, np.nan, 370.0, 530.0, 700.0])
    np.testing.assert_array_equal(angles, [350.0, np.nan, 10.0, 170.0, 340.0])  # the argument is left alone
