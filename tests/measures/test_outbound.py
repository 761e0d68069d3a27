"""The outbound leg: timing from the closest point, distance at the turn off."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from debrief.measures import measure
from debrief.result import Wind
from tests.measures.builders import LEAD_NM, RADIUS_NM, attempt, flight, whole_approach
from tests.measures.plan import procedure


def test_time_from_the_closest_point_and_distance_at_the_turn_off():
    built = whole_approach()
    leg = measure(built.flight, built.attempt, None).outbound

    # half of the 45 degree arc, then from the lead to 6 NM along the radial, at 120 kt
    arc_nm = RADIUS_NM * math.radians(22.5)
    assert leg is not None
    assert leg.time_from_passage_s == pytest.approx((arc_nm + 6.0 - LEAD_NM) * 30.0, abs=0.01)
    assert leg.turn_off_distance_nm == pytest.approx(6.0, abs=0.001)
    # 3,200 ft above the station
    assert leg.turn_off_dme_nm == pytest.approx(math.hypot(6.0, 3200.0 / 6076.115), abs=0.001)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_how_far_beside_its_radial_it_was_left(side: float):
    """The same flight by a radial that lies 5 degrees to the other side: 6 NM out, sin(5 degrees) of that."""
    built = whole_approach()
    turned = procedure(outbound={"radial_deg": 48.0 - 5.0 * side})
    leg = measure(flight(built.path, turned, built.attempt), built.attempt, None).outbound

    assert leg is not None
    assert leg.turn_off_cross_track_nm == pytest.approx(side * 6.0 * math.sin(math.radians(5.0)), abs=0.001)
    # the station's radials are known to half of their last figure
    aligned_nm = 6.0 * math.radians(turned.station.alignment_within_deg)
    assert 0.9 * aligned_nm < leg.uncertainties["turn_off_cross_track_nm"] < aligned_nm + 0.1


def test_without_altitude_the_distance_is_known_and_the_dme_is_not():
    built = whole_approach(no_altitude=[(-1.0, 1e4)])
    leg = measure(built.flight, built.attempt, None).outbound

    assert leg is not None
    assert leg.turn_off_distance_nm == pytest.approx(6.0, abs=0.001)
    assert leg.turn_off_dme_nm is None
    assert any("slant range needs an altitude" in text for text in leg.warnings)


def test_a_leg_that_the_log_ends_on_has_no_length():
    built = whole_approach()
    found = attempt(
        [("outbound", built.marks["out of cone"], built.marks["turn off"] - 30.0)], ending="end of log"
    )
    leg = measure(flight(built.path, procedure(), found), found, None).outbound

    assert leg is not None
    assert leg.time_from_passage_s is None
    assert leg.turn_off_dme_nm is None
    assert any("turn off the outbound course was not flown or not observed" in text for text in leg.warnings)


def test_an_unobserved_passage_leaves_the_time_open():
    built = whole_approach()
    found = replace(built.attempt, passages=())
    leg = measure(flight(built.path, procedure(), found), found, None).outbound

    assert leg is not None
    assert leg.time_from_passage_s is None
    assert leg.turn_off_distance_nm == pytest.approx(6.0, abs=0.001)
    assert any("passing it was not observed" in text for text in leg.warnings)


def test_the_heading_is_magnetic_by_todays_variation_and_not_by_the_station():
    built = whole_approach(columns={"heading_mag_deg": 51.5})
    leg = measure(built.flight, built.attempt, None).outbound

    assert leg is not None
    assert leg.heading_mag_deg == pytest.approx(51.5, abs=0.001)


def test_a_heading_from_the_wind_allows_for_it():
    """Track 037 true at 120 kt with 20 kt from the right: wind from 127, heading 9.5 degrees to its right."""
    built = whole_approach()
    wind = Wind(from_true_deg=127.0, speed_kt=20.0, speed_uncertainty_kt=2.0, tas_kt=None, method="test")
    leg = measure(built.flight, built.attempt, wind).outbound

    assert leg is not None
    assert leg.drift_deg == pytest.approx(-math.degrees(math.atan(20.0 / 120.0)), abs=0.01)


def test_a_leg_never_flown_along_its_course_has_no_heading_and_says_so():
    """The leg is flown 037 true; published is a radial 25 degrees from it."""
    built = whole_approach(columns={"heading_mag_deg": 51.5})
    leg = procedure().outbound
    assert leg is not None
    assert leg.radial_deg is not None
    plan = procedure(outbound={"radial_deg": leg.radial_deg + 25.0})
    measured = measure(
        flight(built.path, plan, built.attempt, columns={"heading_mag_deg": 51.5}), built.attempt, None
    )

    assert measured.outbound is not None
    assert measured.outbound.heading_mag_deg is None
    assert any("never flown steadily along its course" in text for text in measured.outbound.warnings)
