"""Distances and bearings against Karney's published set and geographiclib; the station's plane against both."""

import subprocess
import sys

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import example, given
from hypothesis import strategies as st

from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import StationPlane, direct, inverse
from debrief.navigation.radials import along_track_nm, cross_track_nm, radial_deg
from debrief.navigation.units import METRES_PER_NM
from tests.strategies import AWKWARD_PLACES, bearings, places, planes
from tests.vectors import column, read_vectors

ONE_METRE_NM = 1.0 / METRES_PER_NM
ONE_MILLIMETRE_NM = 0.001 / METRES_PER_NM
ARC_SECOND_DEG = 1.0 / 3600.0
ONE_MILLIMETRE_DEG = 1e-8  # of latitude
WGS84 = Geodesic.WGS84


@pytest.mark.parametrize(
    "row", read_vectors("geodtest_reference.csv"), ids=lambda row: f"{row.lat1_deg} {row.lon1_deg}"
)
def test_geodesics_agree_with_karney(row):
    """C. F. F. Karney, GeodTest, doi:10.5281/zenodo.32156, 20 rows as shipped in geographiclib 2.1. Mark: seen."""
    distance_nm, bearing_true_deg = inverse(row.lat1_deg, row.lon1_deg, row.lat2_deg, row.lon2_deg)
    latitude_deg, longitude_deg = direct(
        row.lat1_deg, row.lon1_deg, row.azi1_deg, row.distance_m / METRES_PER_NM
    )

    assert distance_nm == pytest.approx(row.distance_m / METRES_PER_NM, abs=ONE_MILLIMETRE_NM)
    assert abs(difference_deg(bearing_true_deg, row.azi1_deg)) < ARC_SECOND_DEG / 1000
    assert latitude_deg == pytest.approx(row.lat2_deg, abs=ONE_MILLIMETRE_DEG)
    assert abs(difference_deg(longitude_deg, row.lon2_deg)) < ONE_MILLIMETRE_DEG * 10
    assert -180.0 <= longitude_deg < 180.0


@pytest.mark.parametrize("row", read_vectors("geodesic_inverse.csv"), ids=lambda row: row.note)
def test_distance_and_bearing_between_two_points(row):
    """Computed with geographiclib 2.1: antimeridian, both poles, nearly antipodal, a hundred-thousandth degree."""
    distance_nm, bearing_true_deg = inverse(row.lat1_deg, row.lon1_deg, row.lat2_deg, row.lon2_deg)

    assert distance_nm == pytest.approx(row.distance_nm, abs=ONE_MILLIMETRE_NM)
    assert abs(difference_deg(bearing_true_deg, row.azi1_deg)) < ARC_SECOND_DEG / 1000


def test_points_on_radials():
    """Computed with geographiclib 2.1: 60 points from six stations, all at once."""
    rows = read_vectors("geodesic_direct_radials.csv")

    latitude_deg, longitude_deg = direct(
        column(rows, "lat_deg"),
        column(rows, "lon_deg"),
        column(rows, "true_radial_deg"),
        column(rows, "distance_nm"),
    )

    np.testing.assert_allclose(latitude_deg, column(rows, "lat2_deg"), rtol=0, atol=ONE_MILLIMETRE_DEG)
    np.testing.assert_allclose(
        difference_deg(longitude_deg, column(rows, "lon2_deg")), 0, atol=ONE_MILLIMETRE_DEG
    )


@pytest.mark.parametrize(
    "row", read_vectors("cross_track.csv"), ids=lambda row: f"{row.station} {row.deviation_outbound_deg:.1f}"
)
def test_the_plane_gives_the_cross_track_of_the_geodesic(row):
    """Computed with geographiclib 2.1 by moving the foot of the perpendicular, checked by minimising."""
    plane = StationPlane(latitude_deg=row.stn_lat_deg, longitude_deg=row.stn_lon_deg)

    east_nm, north_nm = plane.to_plane(row.lat_deg, row.lon_deg)

    assert np.hypot(east_nm, north_nm) == pytest.approx(row.distance_nm, abs=ONE_MILLIMETRE_NM)
    radial = radial_deg(east_nm, north_nm, row.declination_deg)
    assert abs(difference_deg(radial, row.radial_of_point_mag_deg)) < ARC_SECOND_DEG
    outbound = cross_track_nm(east_nm, north_nm, row.radial_true_deg)
    assert outbound == pytest.approx(row.xtk_outbound_nm, abs=0.03 * ONE_METRE_NM)
    inbound = cross_track_nm(east_nm, north_nm, row.radial_true_deg + 180.0)
    assert inbound == pytest.approx(row.xtk_inbound_nm, abs=0.03 * ONE_METRE_NM)
    assert (outbound - row.xtk_outbound_nm) / ONE_METRE_NM == pytest.approx(
        row.plane_minus_geodesic_m, abs=0.001
    )
    along = along_track_nm(east_nm, north_nm, row.radial_true_deg)
    assert along == pytest.approx(row.along_outbound_nm, abs=0.3 * ONE_METRE_NM)
    assert along_track_nm(east_nm, north_nm, row.radial_true_deg + 180.0) == pytest.approx(-along)


@given(plane=planes(), bearing_deg=bearings(), distance_nm=st.floats(0.05, 60.0))
def test_the_plane_is_exact_along_radials(plane, bearing_deg, distance_nm):
    """geographiclib as the second opinion: the same point, by another program."""
    there = WGS84.Direct(plane.latitude_deg, plane.longitude_deg, bearing_deg, distance_nm * METRES_PER_NM)

    east_nm, north_nm = plane.to_plane(there["lat2"], there["lon2"])

    assert np.hypot(east_nm, north_nm) == pytest.approx(distance_nm, abs=ONE_MILLIMETRE_NM)
    across_nm = cross_track_nm(east_nm, north_nm, bearing_deg)
    assert across_nm == pytest.approx(0.0, abs=ONE_MILLIMETRE_NM)


@given(plane=planes(), east_nm=st.floats(-60.0, 60.0), north_nm=st.floats(-60.0, 60.0))
@example(plane=StationPlane(latitude_deg=52.0, longitude_deg=-179.999), east_nm=-30.0, north_nm=0.0)
def test_a_point_survives_the_round_trip(plane, east_nm, north_nm):
    latitude_deg, longitude_deg = plane.to_geographic(east_nm, north_nm)
    back = plane.to_plane(latitude_deg, longitude_deg)

    assert -180.0 <= longitude_deg < 180.0
    assert back == pytest.approx((east_nm, north_nm), abs=ONE_MILLIMETRE_NM)


@pytest.mark.parametrize(("within_nm", "error_m"), [(15.0, 0.1), (30.0, 1.0)])
@pytest.mark.parametrize("place", AWKWARD_PLACES, ids=str)
def test_distances_off_the_centre_are_as_good_as_said(place, within_nm, error_m):
    """Between two points that are both off the centre, against geographiclib."""
    plane = StationPlane(latitude_deg=place[0], longitude_deg=place[1])
    bearings_deg = np.arange(0.0, 360.0, 20.0)
    points = [(within_nm * np.sin(np.radians(b)), within_nm * np.cos(np.radians(b))) for b in bearings_deg]
    worst_m = 0.0
    for one in points[:4]:
        for other in points:
            lat_1, lon_1 = plane.to_geographic(*one)
            lat_2, lon_2 = plane.to_geographic(*other)
            geodesic_m = WGS84.Inverse(lat_1, lon_1, lat_2, lon_2)["s12"]
            plane_m = np.hypot(one[0] - other[0], one[1] - other[1]) * METRES_PER_NM
            worst_m = max(worst_m, abs(geodesic_m - plane_m))

    assert worst_m < error_m


@given(here=places(), bearing_deg=bearings(), distance_nm=st.floats(0.0, 3000.0))
def test_direct_and_inverse_undo_each_other(here, bearing_deg, distance_nm):
    latitude_deg, longitude_deg = direct(*here, bearing_deg, distance_nm)
    back_nm, _ = inverse(*here, latitude_deg, longitude_deg)

    assert back_nm == pytest.approx(distance_nm, abs=ONE_MILLIMETRE_NM)


def test_a_position_that_is_none_on_earth_gives_nan_and_the_others_stand():
    plane = StationPlane(latitude_deg=70.0, longitude_deg=179.99)
    latitude_deg = np.array([70.1, np.nan, 91.0, 70.1, -90.0])
    longitude_deg = np.array([-179.99, 0.0, 0.0, np.inf, 500.0])

    east_nm, north_nm = plane.to_plane(latitude_deg, longitude_deg)

    np.testing.assert_array_equal(np.isnan(east_nm), [False, True, True, True, False])
    np.testing.assert_array_equal(np.isnan(north_nm), [False, True, True, True, False])
    assert east_nm[0] == pytest.approx(0.41, abs=0.01)  # 0.02 degrees of longitude at 70 north, eastward
    assert all(np.isnan(inverse(0.0, 0.0, -90.001, 0.0)))
    assert all(np.isnan(direct(0.0, 0.0, float("nan"), 1.0)))
    assert all(np.isnan(direct(0.0, 0.0, 0.0, float("inf"))))


def test_arrays_keep_their_shape_and_arguments_are_left_alone():
    plane = StationPlane(latitude_deg=-17.75, longitude_deg=179.98)
    latitude_deg, longitude_deg = np.full((2, 3), -17.7), np.full((2, 3), -179.9)

    east_nm, north_nm = plane.to_plane(latitude_deg, longitude_deg)
    empty_east_nm, _ = plane.to_plane(np.array([]), np.array([]))

    assert east_nm.shape == north_nm.shape == (2, 3)
    assert empty_east_nm.shape == (0,)
    assert (latitude_deg == -17.7).all()
    assert (longitude_deg == -179.9).all()
    assert np.ndim(plane.to_plane(-17.7, -179.9)[0]) == 0
    assert inverse(np.array([0.0, 1.0]), 0.0, np.array([[0.0], [1.0]]), 1.0)[0].shape == (2, 2)


def test_the_station_itself_is_the_centre():
    plane = StationPlane(latitude_deg=47.1234, longitude_deg=-31.2345)

    assert plane.to_plane(47.1234, -31.2345) == pytest.approx((0.0, 0.0), abs=ONE_MILLIMETRE_NM)


def test_importing_the_module_does_not_import_pyproj():
    code = "import sys, debrief.navigation.geodesy; sys.exit('pyproj' in sys.modules)"

    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@given(plane=planes(), bearings_deg=st.lists(bearings(), min_size=40, max_size=40), seed=st.integers(0, 999))
def test_the_nearest_of_many_positions_is_the_least_of_all_distances(plane, bearings_deg, seed):
    """Within a thousandth of one another, on all sides: what a sphere alone would not tell apart."""
    distance_nm = 1000.0 * np.random.default_rng(seed).uniform(1.0, 1.001, len(bearings_deg))
    latitude_deg, longitude_deg = direct(
        plane.latitude_deg, plane.longitude_deg, np.array(bearings_deg), distance_nm
    )

    assert plane.nearest_nm(latitude_deg, longitude_deg) == pytest.approx(
        distance_nm.min(), abs=ONE_MILLIMETRE_NM
    )


def test_a_position_that_is_none_on_earth_has_no_nearest():
    plane = StationPlane(latitude_deg=70.0, longitude_deg=179.99)

    assert plane.nearest_nm(np.array([70.0]), np.array([179.99])) == pytest.approx(0.0, abs=ONE_MILLIMETRE_NM)
    for latitude_deg, longitude_deg in ((np.nan, 0.0), (91.0, 0.0), (70.1, np.inf)):
        nearest_nm = plane.nearest_nm(np.array([70.1, latitude_deg]), np.array([-179.99, longitude_deg]))
        assert np.isnan(nearest_nm)
