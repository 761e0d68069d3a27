"""Level turns against computed tables and the handbooks' figures; leads and their rule of thumb."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.navigation.turns import (
    bank_deg,
    lateral_lead_nm,
    lead_distance_nm,
    procedure_bank_deg,
    procedure_radius_nm,
    radius_from_rate_nm,
    radius_nm,
    rule_of_thumb_lead,
    rule_of_thumb_lead_nm,
    turn_rate_deg_s,
)
from tests.vectors import column, read_vectors

ROWS = read_vectors("turns.csv")
PRINTED_DEG = 0.5e-4
PRINTED_RATE = 0.5e-5
PRINTED_NM = 0.5e-6

speeds = st.floats(40.0, 350.0)


def test_bank_rate_and_radius_from_70_to_260_kt():
    """Computed from r = v^2 / (g tan bank) apart from this program; 25 deg or 3 deg/s: Doc 8168 Vol II, I-4-3, 3.6."""
    speed_kt = column(ROWS, "tas_kt")
    bank_used_deg = column(ROWS, "bank_used_deg")
    np.testing.assert_allclose(
        bank_deg(speed_kt, 3.0), column(ROWS, "bank_for_3deg_per_s_deg"), rtol=0, atol=PRINTED_DEG
    )
    np.testing.assert_allclose(procedure_bank_deg(speed_kt), bank_used_deg, rtol=0, atol=PRINTED_DEG)
    np.testing.assert_allclose(
        turn_rate_deg_s(speed_kt, bank_used_deg),
        column(ROWS, "rate_of_turn_deg_per_s"),
        rtol=0,
        atol=PRINTED_RATE * 3,
    )
    np.testing.assert_allclose(
        procedure_radius_nm(speed_kt), column(ROWS, "radius_nm"), rtol=0, atol=PRINTED_NM
    )


@pytest.mark.parametrize("change_deg", [10, 30, 45, 60, 90, 120])
def test_lead_for_a_change_of_course(change_deg):
    """Computed apart from this program: r tan(change / 2), ICAO Doc 8168 Vol II, III-3-8, 8.1.5.1.1. Mark: seen."""
    lead_nm = lead_distance_nm(column(ROWS, "tas_kt"), float(change_deg))

    np.testing.assert_allclose(lead_nm, column(ROWS, f"lead_{change_deg}_nm"), rtol=0, atol=PRINTED_NM)
    np.testing.assert_array_equal(lead_distance_nm(column(ROWS, "tas_kt"), -float(change_deg)), lead_nm)


def test_a_standard_rate_turn_takes_two_minutes():
    """Rate one: 360 deg in 2 min; so at 120 kt the circle is 4 NM round. Mark: memory (all handbooks)."""
    assert 2 * np.pi * radius_from_rate_nm(120.0, 3.0) == pytest.approx(4.0, abs=1e-9)


@pytest.mark.parametrize(
    ("formula", "ours"),
    [
        (lambda v, b: v**2 / (68_625 * np.tan(np.radians(b))), radius_nm),
        (lambda v, b: 3431 * np.tan(np.radians(b)) / (np.pi * v), turn_rate_deg_s),
    ],
    ids=["radius", "rate"],
)
def test_the_handbooks_constants(formula, ours):
    """3,431 tan b / (pi V), ICAO Doc 8168 Vol II (mark: seen, 2nd hand); v^2 / (68,625 tan b), computed."""
    for speed_kt in (70.0, 120.0, 180.0, 250.0):
        for bank in (10.0, 25.0, 45.0):
            assert ours(speed_kt, bank) == pytest.approx(formula(speed_kt, bank), rel=0.0005)


def test_above_170_kt_it_is_25_degrees_of_bank():
    """The speed at which 25 deg of bank turns 3 deg/s: 169.8 kt. Computed."""
    assert turn_rate_deg_s(169.8, 25.0) == pytest.approx(3.0, abs=0.001)
    assert procedure_bank_deg(169.0) < 25.0
    assert procedure_bank_deg(171.0) == 25.0


@pytest.mark.parametrize(
    ("speed_kt", "rule_deg"), [(90.0, 16.0), (120.0, 19.0), (150.0, 22.0), (180.0, 25.0)]
)
def test_bank_for_standard_rate_is_near_the_rule_of_thumb(speed_kt, rule_deg):
    """A tenth of the speed and seven more; within 2.2 deg from 90 to 180 kt. Mark: common practice."""
    assert bank_deg(speed_kt, 3.0) == pytest.approx(rule_deg, abs=2.2)


@given(speed_kt=speeds, bank=st.floats(-60.0, 60.0))
def test_bank_rate_and_radius_undo_each_other(speed_kt, bank):
    rate = turn_rate_deg_s(speed_kt, bank)

    assert bank_deg(speed_kt, rate) == pytest.approx(bank, abs=1e-9)
    if abs(bank) > 0.1:
        assert np.sign(rate) == np.sign(bank)
        assert radius_from_rate_nm(speed_kt, rate) == pytest.approx(radius_nm(speed_kt, bank), rel=1e-9)


@given(speed_kt=speeds, angle=st.floats(0.0, 180.0))
def test_the_turn_onto_a_course_ends_on_it(speed_kt, angle):
    """Fly the arc in small steps: beginning r (1 - cos) beside the course, it ends on the course."""
    headings = np.radians(np.linspace(angle, 0.0, 20_001))
    middle = (headings[1:] + headings[:-1]) / 2
    step_nm = procedure_radius_nm(speed_kt) * np.radians(angle) / 20_000
    assert np.sum(np.sin(middle)) * step_nm == pytest.approx(lateral_lead_nm(speed_kt, angle), abs=1e-6)


def test_the_rule_of_thumb_by_its_steps():
    """180 kt, 45 deg, half a mile above the station: 1.0 + 0.5 = 1.5; x 0.5; + 0.5 = 1.25. Mark: common practice."""
    steps = rule_of_thumb_lead(180.0, -45.0, 0.5 * 1852 / 0.3048)

    assert steps.speed_part_nm == pytest.approx(1.0)
    assert steps.margin_nm == 0.5
    assert steps.share_of_90_deg == 0.5
    assert steps.height_part_nm == pytest.approx(0.5)
    assert steps.lead_nm == pytest.approx(1.25)
    assert rule_of_thumb_lead_nm(180.0, 45.0, 0.5 * 1852 / 0.3048) == pytest.approx(1.25)
    assert rule_of_thumb_lead_nm(120.0, 90.0, -500.0) == pytest.approx(2 / 3 + 0.5)


def test_outside_their_domain():
    nan = float("nan")
    assert np.isnan(lead_distance_nm(120.0, 180.0))
    assert np.isnan(lead_distance_nm(120.0, 270.0))
    assert np.isnan(lead_distance_nm(nan, 90.0))
    assert np.isnan(radius_nm(120.0, 0.0))
    assert np.isnan(radius_nm(120.0, 90.0))
    assert np.isnan(radius_from_rate_nm(120.0, 0.0))
    assert np.isnan(turn_rate_deg_s(0.0, 25.0))
    assert np.isnan(turn_rate_deg_s(120.0, 90.0))
    assert np.isnan(bank_deg(nan, 3.0))
    assert lead_distance_nm(0.0, 90.0) == 0.0
    np.testing.assert_array_equal(
        np.isnan(radius_nm(np.array([120.0, nan]), np.array([25.0, 25.0]))), [False, True]
    )
