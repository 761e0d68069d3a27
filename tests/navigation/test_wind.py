"""The wind triangle both ways."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from debrief.navigation.angles import difference_deg
from debrief.navigation.wind import (
    drift_deg,
    groundspeed_on_course_kt,
    heading_and_airspeed,
    headwind_and_crosswind_kt,
    track_and_groundspeed,
    wind_correction_deg,
)
from tests.strategies import bearings
from tests.vectors import column, read_vectors

ROWS = read_vectors("wind_triangle.csv")
PRINTED_KT = 1e-6
PRINTED_DEG = 1e-6


def test_track_ground_speed_and_drift():
    """Ten triangles computed apart from this program."""
    track, groundspeed = track_and_groundspeed(
        column(ROWS, "heading_deg"),
        column(ROWS, "tas_kt"),
        column(ROWS, "wind_from_deg"),
        column(ROWS, "wind_speed_kt"),
    )

    np.testing.assert_allclose(groundspeed, column(ROWS, "groundspeed_kt"), rtol=0, atol=PRINTED_KT)
    np.testing.assert_allclose(difference_deg(track, column(ROWS, "track_deg")), 0, atol=PRINTED_DEG)
    np.testing.assert_allclose(
        drift_deg(track, column(ROWS, "heading_deg")), column(ROWS, "drift_deg"), rtol=0, atol=PRINTED_DEG
    )


@pytest.mark.parametrize(
    ("heading", "tas", "track", "groundspeed", "wind_from", "wind_kt"),
    [
        (228, 170, 235, 158, 172.386, 23.333),
        (48, 120, 40, 131, 166.076, 20.663),
        (350, 100, 5, 104, 259.029, 26.921),
        (360, 180, 357.5, 201, 157.152, 22.580),
    ],
)
def test_heading_and_airspeed_of_a_track_in_a_wind(heading, tas, track, groundspeed, wind_from, wind_kt):
    """Computed apart from this program; the wind printed to three places."""
    ours_deg, ours_kt = heading_and_airspeed(
        float(track), float(groundspeed), float(wind_from), float(wind_kt)
    )

    assert difference_deg(ours_deg, float(heading)) == pytest.approx(0.0, abs=0.0006)
    assert ours_kt == pytest.approx(tas, abs=0.0011)


@pytest.mark.parametrize(
    ("course", "tas", "wind_from", "wind_kt", "correction", "groundspeed", "rule"),
    [(228, 120, 270, 25, 8.013, 100.25, 8.36), (48, 170, 340, 30, -9.417, 156.47, -9.82)],
)
def test_wind_correction(course, tas, wind_from, wind_kt, correction, groundspeed, rule):
    """Computed apart from this program; the rule 60 W / TAS x sin(angle) comes close. Mark: common practice."""
    ours = wind_correction_deg(float(course), float(tas), float(wind_from), float(wind_kt))

    assert ours == pytest.approx(correction, abs=0.001)
    assert groundspeed_on_course_kt(
        float(course), float(tas), float(wind_from), float(wind_kt)
    ) == pytest.approx(groundspeed, abs=0.006)
    assert ours == pytest.approx(rule, abs=0.45)


@given(heading=bearings(), tas=st.floats(50.0, 300.0), wind_from=bearings(), wind_kt=st.floats(0.0, 60.0))
def test_the_triangle_closes(heading, tas, wind_from, wind_kt):
    assume(wind_kt < 0.9 * tas)
    track, groundspeed = track_and_groundspeed(heading, tas, wind_from, wind_kt)
    back_heading, back_tas = heading_and_airspeed(track, groundspeed, wind_from, wind_kt)

    assert abs(difference_deg(back_heading, heading)) < 1e-6
    assert back_tas == pytest.approx(tas, abs=1e-6)


@given(course=bearings(), tas=st.floats(50.0, 300.0), wind_from=bearings(), wind_kt=st.floats(0.0, 45.0))
def test_the_corrected_heading_makes_the_course_good(course, tas, wind_from, wind_kt):
    correction = wind_correction_deg(course, tas, wind_from, wind_kt)
    track, groundspeed = track_and_groundspeed(course + correction, tas, wind_from, wind_kt)

    assert abs(difference_deg(track, course)) < 1e-6
    assert groundspeed == pytest.approx(groundspeed_on_course_kt(course, tas, wind_from, wind_kt), abs=1e-6)


def test_headwind_and_wind_from_the_right_are_positive():
    assert headwind_and_crosswind_kt(0.0, 0.0, 20.0) == pytest.approx((20.0, 0.0))
    assert headwind_and_crosswind_kt(0.0, 90.0, 20.0) == pytest.approx((0.0, 20.0))
    assert headwind_and_crosswind_kt(350.0, 170.0, 20.0) == pytest.approx((-20.0, 0.0))


def test_a_course_that_cannot_be_held():
    assert np.isnan(wind_correction_deg(0.0, 40.0, 90.0, 40.0))
    assert np.isnan(wind_correction_deg(0.0, 0.0, 0.0, 10.0))
    assert np.isnan(groundspeed_on_course_kt(0.0, 40.0, 90.0, 50.0))
    assert groundspeed_on_course_kt(0.0, 40.0, 0.0, 50.0) == pytest.approx(-10.0)
    np.testing.assert_array_equal(
        np.isnan(wind_correction_deg(np.array([0.0, 0.0, np.nan]), np.array([90.0, 30.0, 90.0]), 90.0, 40.0)),
        [False, True, True],
    )
