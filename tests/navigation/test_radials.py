"""Radial, deviation, needle, flag, cross-track, cone and slant range."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from debrief.navigation.angles import difference_deg
from debrief.navigation.radials import (
    along_track_nm,
    cone_radius_nm,
    cross_track_nm,
    deflection,
    deviation_deg,
    dme_nm,
    ground_distance_nm,
    radial_deg,
    to_from,
)
from tests.strategies import bearings
from tests.vectors import column, read_vectors

ROUNDING_DEG = 1e-9
ROUNDING_NM = 1e-9
PRINTED_NM = 0.5e-6  # dme_slant.csv prints six places
PRINTED_RADIUS_NM = 0.5e-5

miles = st.floats(-40.0, 40.0)


def _names(row):
    return f"course {row.selected_course_deg:.0f} radial {row.radial_deg:g} heading {row.heading_deg:.0f}"


@pytest.mark.parametrize("row", read_vectors("needle.csv"), ids=_names)
def test_the_needle_and_the_flag(row):
    """An ideal indicator, by geometry; ours is blank near abeam, as a receiver is, where the table still shows one.

    Full scale 10 deg: FAA-H-8083-15, navigation chapter. Mark: seen (2nd hand).
    """
    if row.flag == "indeterminate":
        assert to_from(row.radial_deg, row.selected_course_deg) == ""
        return
    near_abeam = abs(row.deviation_deg) > 85.0
    deviation = deviation_deg(row.radial_deg, row.selected_course_deg, inbound=row.flag == "TO")

    assert to_from(row.radial_deg, row.selected_course_deg) == ("" if near_abeam else row.flag)
    assert deviation == pytest.approx(row.deviation_deg, abs=ROUNDING_DEG)
    assert deflection(deviation) == pytest.approx(row.deflection, abs=ROUNDING_DEG)


def test_the_flag_of_many_samples_is_blank_about_abeam_and_where_unknown():
    radials = np.array([48.0, 132.9, 133.1, 138.0, 142.9, 143.1, 228.0, 318.0, np.nan])

    flags = to_from(radials, 48.0)

    assert flags.tolist() == ["FROM", "FROM", "", "", "", "TO", "TO", "", ""]


@given(east_nm=miles, north_nm=miles, course_deg=bearings(), declination_deg=st.floats(-40.0, 40.0))
def test_deviation_and_cross_track_tell_the_same_side_both_ways(
    east_nm, north_nm, course_deg, declination_deg
):
    """Both equal asin(cross-track / distance): right of the course in the direction of flight."""
    distance_nm = np.hypot(east_nm, north_nm)
    assume(distance_nm > 0.01)
    radial = radial_deg(east_nm, north_nm, declination_deg)
    for inbound in (False, True):
        deviation = deviation_deg(radial, course_deg, inbound=inbound)
        across_nm = cross_track_nm(east_nm, north_nm, course_deg + declination_deg)
        along_nm = along_track_nm(east_nm, north_nm, course_deg + declination_deg)

        assert -180.0 <= deviation < 180.0
        assert distance_nm * np.sin(np.radians(deviation)) == pytest.approx(across_nm, abs=ROUNDING_NM)
        ahead_nm = -along_nm if inbound else along_nm
        assert distance_nm * np.cos(np.radians(deviation)) == pytest.approx(ahead_nm, abs=ROUNDING_NM)


@pytest.mark.parametrize(
    ("east_nm", "north_nm", "course_true_deg", "across_nm", "along_nm"),
    [
        (1, 5, 0, 1, 5),
        (1, 5, 180, -1, -5),
        (1, 5, 90, -5, 1),
        (-2, 0, 270, 0, 2),
        (0, -3, 45, 2.1213203, -2.1213203),
    ],
)
def test_right_of_the_course_flown_is_positive_and_past_the_station_too(
    east_nm, north_nm, course_true_deg, across_nm, along_nm
):
    assert cross_track_nm(east_nm, north_nm, course_true_deg) == pytest.approx(across_nm, abs=1e-7)
    assert along_track_nm(east_nm, north_nm, course_true_deg) == pytest.approx(along_nm, abs=1e-7)


@given(east_nm=miles, north_nm=miles, course_deg=bearings())
def test_flying_the_other_way_changes_both_signs(east_nm, north_nm, course_deg):
    there = cross_track_nm(east_nm, north_nm, course_deg), along_track_nm(east_nm, north_nm, course_deg)
    back = (
        cross_track_nm(east_nm, north_nm, course_deg + 180.0),
        along_track_nm(east_nm, north_nm, course_deg + 180.0),
    )

    assert back == pytest.approx((-there[0], -there[1]), abs=ROUNDING_NM)


@given(east_nm=st.floats(0.1, 30.0), north_nm=miles, course_deg=bearings())
def test_a_mirrored_flight_has_the_opposite_deviation(east_nm, north_nm, course_deg):
    radial = radial_deg(east_nm, north_nm, 0.0)
    mirrored = radial_deg(-east_nm, north_nm, 0.0)
    for inbound in (False, True):
        here = deviation_deg(radial, course_deg, inbound=inbound)
        there = deviation_deg(mirrored, 360.0 - course_deg, inbound=inbound)
        assume(abs(here) < 179.9)
        assert there == pytest.approx(-here, abs=1e-6)


def test_the_station_itself_lies_on_no_radial():
    assert np.isnan(radial_deg(0.0, 0.0, 5.0))
    np.testing.assert_array_equal(
        np.isnan(radial_deg(np.array([0.0, 1.0, np.nan]), np.array([-0.0, 0.0, 1.0]), 5.0)),
        [True, False, True],
    )


def test_a_radial_is_counted_from_the_stations_own_north():
    """East declination lowers a radial: at the true bearing 037 of a station aligned 11 west one is on 048."""
    east_nm, north_nm = 5 * np.sin(np.radians(37.0)), 5 * np.cos(np.radians(37.0))

    assert radial_deg(east_nm, north_nm, -11.0) == pytest.approx(48.0, abs=ROUNDING_DEG)
    assert radial_deg(east_nm, north_nm, 11.0) == pytest.approx(26.0, abs=ROUNDING_DEG)
    assert radial_deg(0.0, 1.0, 11.0) == pytest.approx(349.0, abs=ROUNDING_DEG)


def test_each_sample_may_fly_its_own_way_on_its_own_course():
    radials = np.array([50.0, 50.0, 41.0])
    courses = np.array([48.0, 228.0, 228.0])

    out = deviation_deg(radials, courses, inbound=np.array([False, True, True]))

    np.testing.assert_allclose(out, [2.0, -2.0, 7.0], atol=ROUNDING_DEG)


def test_cones_and_slant_range():
    """Half-angles 50 and 40 deg: ICAO Doc 8168 Vol I, I-2-2, 2.4.4. Mark: seen. Slant range: AIM 1-1-7 b."""
    rows = read_vectors("dme_slant.csv")
    height_ft, ground_nm = column(rows, "height_above_station_ft"), column(rows, "ground_distance_nm")
    slant_nm = column(rows, "slant_range_nm")

    np.testing.assert_allclose(dme_nm(ground_nm, height_ft), slant_nm, rtol=0, atol=PRINTED_NM)
    np.testing.assert_allclose(
        cone_radius_nm(height_ft, 50.0), column(rows, "vor_cone_radius_nm"), rtol=0, atol=PRINTED_RADIUS_NM
    )
    np.testing.assert_allclose(
        cone_radius_nm(height_ft, 40.0), column(rows, "ndb_cone_radius_nm"), rtol=0, atol=PRINTED_RADIUS_NM
    )


def test_a_mile_up_the_distance_read_overhead_is_one():
    """AIM 1-1-7 b: 6,076 ft overhead reads 1.0. Mark: seen."""
    assert dme_nm(0.0, 6076.0) == pytest.approx(1.0, abs=0.0001)


@given(ground_nm=st.floats(0.1, 40.0), height_ft=st.floats(-1000.0, 15000.0))
def test_the_ground_distance_of_a_reading_undoes_it(ground_nm, height_ft):
    assert ground_distance_nm(dme_nm(ground_nm, height_ft), height_ft) == pytest.approx(ground_nm, abs=1e-6)


def test_outside_their_domain():
    assert np.isnan(ground_distance_nm(0.5, 6076.0))
    assert cone_radius_nm(-200.0, 50.0) == 0.0
    assert np.isnan(cone_radius_nm(float("nan"), 50.0))
    assert np.isnan(deviation_deg(float("nan"), 48.0, inbound=True))
    assert np.isnan(deflection(float("nan")))
    assert difference_deg(deviation_deg(228.0, 48.0, inbound=False), 180.0) == 0.0
