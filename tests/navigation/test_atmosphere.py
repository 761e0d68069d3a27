"""Altimetry and airspeeds in the standard atmosphere."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.navigation.atmosphere import (
    altimeter_offset_ft,
    calibrated_airspeed_kt,
    indicated_altitude_ft,
    isa_temperature_c,
    pressure_altitude_ft,
    pressure_hpa,
    true_airspeed_kt,
)
from tests.vectors import column, read_vectors

PRINTED_FT = 0.02  # the table's exponent is rounded in its fifth figure
PRINTED_HPA = 0.00006
PRINTED_KT = 0.00006


def test_the_altimeter_at_eight_settings_and_six_heights():
    """ICAO Doc 7488; the table's pressures agree with ambiance 1.3.1 to 0.01 hPa."""
    rows = read_vectors("altimeter.csv")
    altitude, qnh = column(rows, "pressure_altitude_ft"), column(rows, "qnh_hpa")
    indicated = column(rows, "indicated_altitude_ft")

    np.testing.assert_allclose(
        pressure_hpa(altitude), column(rows, "static_pressure_hpa"), rtol=0, atol=PRINTED_HPA
    )
    np.testing.assert_allclose(indicated_altitude_ft(altitude, qnh), indicated, rtol=0, atol=PRINTED_FT)


@pytest.mark.parametrize(
    ("qnh", "offset_ft"),
    [(980, -920.4), (990, -640.9), (1000, -363.8), (1020, 183.9), (1030, 454.4), (1040, 722.9)],
)
def test_the_offset_of_a_setting(qnh, offset_ft):
    """What to add to pressure altitude, printed to a tenth. Computed apart from this program."""
    assert altimeter_offset_ft(float(qnh)) == pytest.approx(offset_ft, abs=0.06)


def test_the_standard_atmosphere_at_sea_level_and_at_its_top():
    """ICAO Doc 7488: 15 deg C and 1,013.25 hPa; -56.5 deg C and 226.32 hPa at 11 km. Mark: memory."""
    top_ft = 11_000 / 0.3048
    assert isa_temperature_c(0.0) == pytest.approx(15.0)
    assert pressure_hpa(0.0) == pytest.approx(1013.25)
    assert isa_temperature_c(top_ft) == pytest.approx(-56.5, abs=1e-9)
    assert pressure_hpa(top_ft) == pytest.approx(226.32, abs=0.01)
    assert isa_temperature_c(1000.0) == pytest.approx(15.0 - 1.9812, abs=1e-9)


@given(st.floats(-2000.0, 36_000.0))
def test_pressure_and_its_altitude_undo_each_other(altitude_ft):
    assert pressure_altitude_ft(pressure_hpa(altitude_ft)) == pytest.approx(altitude_ft, abs=1e-6)


def test_true_airspeed_of_56_cases():
    """Isentropic relation, computed apart from this program; pressures checked with ambiance 1.3.1."""
    rows = read_vectors("airspeed.csv")
    calibrated, true = column(rows, "cas_kt"), column(rows, "tas_kt")
    altitude, temperature = column(rows, "pressure_altitude_ft"), column(rows, "static_temperature_c")

    np.testing.assert_allclose(
        true_airspeed_kt(calibrated, altitude, temperature), true, rtol=0, atol=PRINTED_KT
    )
    np.testing.assert_allclose(
        calibrated_airspeed_kt(true, altitude, temperature), calibrated, rtol=0, atol=PRINTED_KT
    )


@pytest.mark.parametrize(
    ("altitude_ft", "groundspeed_kt"), [(0, 200), (2000, 205.8), (3000, 208.8), (5000, 215.0), (8000, 224.7)]
)
def test_200_knots_indicated_as_a_ground_speed_in_still_air(altitude_ft, groundspeed_kt):
    """Printed to a tenth, computed apart from this program."""
    temperature = isa_temperature_c(float(altitude_ft))

    assert true_airspeed_kt(200.0, float(altitude_ft), temperature) == pytest.approx(groundspeed_kt, abs=0.06)


def test_outside_their_domain():
    assert np.isnan(pressure_hpa(40_000.0))
    assert np.isnan(pressure_altitude_ft(200.0))
    assert np.isnan(isa_temperature_c(40_000.0))
    assert np.isnan(indicated_altitude_ft(3000.0, 0.0))
    assert np.isnan(true_airspeed_kt(-1.0, 0.0, 15.0))
    assert np.isnan(true_airspeed_kt(900.0, 0.0, 15.0))
    assert np.isnan(true_airspeed_kt(120.0, 40_000.0, -56.5))
    assert np.isnan(true_airspeed_kt(120.0, 0.0, -300.0))
    assert np.isnan(calibrated_airspeed_kt(float("nan"), 0.0, 15.0))
    assert np.isnan(calibrated_airspeed_kt(-5.0, 0.0, 15.0))
