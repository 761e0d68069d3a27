"""Where a crossing radial ends a step-down, against an independent geodesic."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from debrief.procedures import load_procedure
from debrief.procedures.model import CrossingRadial, OtherStation, StepDown
from debrief.procedures.steps import crossing_along_nm, past_radial_deg, step_dme_nm

METRES_PER_NM = 1852.0
FEET_PER_NM = METRES_PER_NM / 0.3048
TEN_METRES_NM = 0.005
TARNWICK = load_procedure("tarnwick-vor-27")
COURSE_TRUE_DEG = 259.0  # 270 by the station's alignment of 11 west


@given(
    along_nm=st.floats(0.5, 8.0),
    bearing_deg=st.floats(40.0, 140.0),
    away_nm=st.floats(3.0, 25.0),
    left=st.booleans(),
)
def test_a_radial_drawn_through_a_point_of_the_course_crosses_there(
    along_nm: float, bearing_deg: float, away_nm: float, left: bool
) -> None:
    """The point lies on the course by geodesics, the other station anywhere to the side of it."""
    station, declination_deg = TARNWICK.station, 7.0
    point = Geodesic.WGS84.Direct(
        station.latitude, station.longitude, COURSE_TRUE_DEG, along_nm * METRES_PER_NM
    )
    towards = COURSE_TRUE_DEG + (-bearing_deg if left else bearing_deg)
    there = Geodesic.WGS84.Direct(point["lat2"], point["lon2"], towards, away_nm * METRES_PER_NM)
    back = Geodesic.WGS84.Inverse(there["lat2"], there["lon2"], point["lat2"], point["lon2"])
    other = OtherStation(
        ident="ABC", latitude=there["lat2"], longitude=there["lon2"], declination_deg=declination_deg
    )
    procedure = TARNWICK.model_copy(update={"other_station": (other,)})
    crossing = CrossingRadial(station="ABC", radial_deg=(back["azi1"] - declination_deg) % 360.0)

    assert crossing_along_nm(procedure, crossing) == pytest.approx(along_nm, abs=TEN_METRES_NM)

    course = np.radians(COURSE_TRUE_DEG)
    places_nm = np.array([along_nm - 0.3, along_nm + 0.3])
    past = past_radial_deg(procedure, crossing, places_nm * np.sin(course), places_nm * np.cos(course))
    assert past[0] < 0.0 < past[1]


def test_the_dme_of_a_crossing_is_its_slant_range() -> None:
    crossing = CrossingRadial(station="MWX", radial_deg=196.0)
    along_nm = crossing_along_nm(TARNWICK, crossing)
    assert along_nm is not None
    height_nm = (950.0 - TARNWICK.station.elevation_ft) / FEET_PER_NM

    assert step_dme_nm(TARNWICK, StepDown(until_radial=crossing, at_or_above_ft=950.0)) == pytest.approx(
        np.hypot(along_nm, height_nm), abs=TEN_METRES_NM
    )


def test_a_radial_that_never_crosses_has_no_place() -> None:
    assert crossing_along_nm(TARNWICK, CrossingRadial(station="MWX", radial_deg=16.0)) is None
