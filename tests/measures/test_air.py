"""Airspeed, heading and drift: which source is used, and what it gives."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.measures import measure
from debrief.measures.air import FROM_TRUE_AIRSPEED, FROM_WIND, LOGGED, logged
from debrief.result import Wind
from tests.measures.builders import whole_approach

CALM = Wind(from_true_deg=0.0, speed_kt=0.0, speed_uncertainty_kt=1.0, tas_kt=120.0, method="test")


def inbound(wind: Wind | None = None, **log):
    built = whole_approach(**log)
    leg = measure(built.flight, built.attempt, wind).inbound
    assert leg is not None
    return leg


def test_logged_indicated_airspeed_is_taken_as_it_is():
    leg = inbound(CALM, columns={"airspeed_kias": 111.0})

    assert leg.airspeed_from == LOGGED
    assert (leg.airspeed_kias.min, leg.airspeed_kias.max) == (111.0, 111.0)
    assert leg.airspeed_kias.uncertainty == 2.0


def test_logged_true_airspeed_is_reduced_by_the_thinner_air():
    """At 4,000 ft in standard air the density is 0.8881 of that at sea level: 120 kt true are 113.1 kt indicated.

    ISO 2533 table, density at 4,000 ft. Mark: memory.
    """
    leg = inbound(columns={"airspeed_ktas": 120.0})

    assert leg.airspeed_from == FROM_TRUE_AIRSPEED
    assert leg.airspeed_kias.mean == pytest.approx(120.0 * 0.8881**0.5, abs=0.2)


def test_ground_speed_and_wind_give_airspeed_with_their_uncertainty():
    """120 kt over the ground with 20 kt on the nose are 140 kt true."""
    headwind = Wind(from_true_deg=82.0, speed_kt=20.0, speed_uncertainty_kt=3.0, tas_kt=None, method="test")
    leg = inbound(headwind)

    assert leg.airspeed_from == FROM_WIND
    assert leg.airspeed_kias.mean == pytest.approx(140.0 * 0.8881**0.5, abs=0.3)
    assert leg.airspeed_kias.uncertainty > 3.0
    assert leg.drift_deg == pytest.approx(0.0, abs=0.01)


def test_without_any_source_there_is_none_and_a_reason():
    leg = inbound()

    assert (leg.airspeed_kias, leg.airspeed_from, leg.drift_deg) == (None, None, None)
    assert "Airspeed not known: the log has no airspeed, and the wind is not known." in leg.warnings
    assert "Drift not known: the log has no heading, and the wind is not known." in leg.warnings


def test_without_altitude_a_true_airspeed_says_nothing_of_the_indicated():
    leg = inbound(columns={"airspeed_ktas": 120.0}, no_altitude=[(-1.0, 1e4)])

    assert leg.airspeed_kias is None
    assert any("no altitude, which the airspeed depends on" in text for text in leg.warnings)


def test_drift_is_track_less_heading():
    path = whole_approach().path
    heading = path.at(np.arange(0.0, path.now_s))["track"] - 6.0
    leg = inbound(columns={"heading_true_deg": heading})

    assert leg.drift_deg == pytest.approx(6.0, abs=0.001)


def test_a_heading_that_contradicts_the_track_is_not_used():
    leg = inbound(columns={"heading_true_deg": 302.0})

    assert leg.drift_deg is None
    assert any("does not agree with its positions" in text for text in leg.warnings)


def test_with_a_wind_it_is_not_missed():
    leg = inbound(CALM, columns={"heading_true_deg": 302.0})

    assert leg.drift_deg == pytest.approx(0.0, abs=0.001)


def test_a_column_is_not_joined_across_its_own_holes():
    built = whole_approach()
    count = len(built.flight.log.track)
    holes = np.full(count, 100.0)
    holes[50:90] = np.nan
    log = whole_approach(columns={"airspeed_kias": holes}).flight.log
    values = logged(log, "airspeed_kias", np.array([40.5, 70.0, 100.5, -60.0]))

    assert values is not None
    assert values[[0, 2]].tolist() == [100.0, 100.0]
    assert np.isnan(values[[1, 3]]).all()
    assert logged(log, "airspeed_ktas", np.array([40.5])) is None


def test_a_single_wild_airspeed_counts_for_nothing():
    count = len(whole_approach().flight.log.track)
    spiked = np.full(count, 110.0)
    spiked[[40, 100]] = [400.0, 0.0]
    leg = inbound(columns={"airspeed_kias": spiked})

    assert (leg.airspeed_kias.min, leg.airspeed_kias.max) == (110.0, 110.0)


def test_a_bearing_is_read_the_short_way_round_north():
    built = whole_approach()
    count = len(built.flight.log.track)
    headings = np.where(np.arange(count) <= 10, 358.0, 4.0)
    log = whole_approach(columns={"heading_true_deg": headings}).flight.log
    between = logged(log, "heading_true_deg", np.array([10.5]), bearing=True)

    assert between is not None
    assert float(between[0]) == pytest.approx(1.0, abs=1e-6)
