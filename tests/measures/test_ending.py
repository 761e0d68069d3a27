"""The missed approach and the landing."""

from __future__ import annotations

import math

import numpy as np
import pytest

from debrief.measures import measure
from tests.measures.builders import EPOCH, Path, attempt, flight, passage
from tests.measures.plan import INBOUND_TRUE_DEG, RUNWAY_FT, THRESHOLD_NM, procedure

FIVE_METRES_NM = 5 / 1852


def on_final(along_nm: float, altitude_ft: float) -> Path:
    course = math.radians(INBOUND_TRUE_DEG)
    return Path(along_nm * math.sin(course), along_nm * math.cos(course), INBOUND_TRUE_DEG, 90.0, altitude_ft)


def measured(path: Path, spans, ending: str, plan=None, **log):
    found = attempt(spans, passages=[passage(-60.0)], ending=ending)
    return measure(flight(path, plan or procedure(), found, **log), found, None)


def go_round(length_nm: float, plan=None, **log):
    path = on_final(2.5, 1000.0).straight(length_nm).mark("climb").straight(seconds=100, to_ft=2000.0)
    climb_s = path.marks["climb"]
    return measured(
        path,
        [("final", 0.0, climb_s), ("missed_approach", climb_s, path.now_s)],
        "missed approach",
        plan,
        **log,
    ).missed_approach


@pytest.mark.parametrize("past_nm", [-0.8, 0.0, 0.7])
def test_where_the_climb_begins_past_the_published_dme(past_nm):
    """4.6 DME at 700 ft above the station is 4.5986 NM from it."""
    missed = go_round(4.5986 - 2.5 + past_nm)

    assert missed is not None
    assert missed.start_past_point_nm == pytest.approx(past_nm, abs=FIVE_METRES_NM)
    assert missed.climb_rate_ft_min == pytest.approx(600.0, abs=0.5)


def test_level_flight_just_below_the_altitude_that_ends_the_climb_is_none_of_it():
    """980 ft in 98 s and level for a minute after: flown 20 ft higher, the phase had ended with the climb."""
    path = on_final(2.5, 1000.0).straight(2.0).mark("climb").straight(seconds=98.0, to_ft=1980.0)
    path.straight(seconds=60.0)
    climb_s = path.marks["climb"]
    missed = measured(
        path, [("final", 0.0, climb_s), ("missed_approach", climb_s, path.now_s)], "missed approach"
    ).missed_approach

    assert missed is not None
    assert missed.climb_rate_ft_min == pytest.approx(600.0, abs=1.0)


def test_a_climb_that_begins_slowly_is_less_sure():
    """From 50 to 1,000 ft above the lowest in 10 s at 300 ft/min less 5 s, and 92.5 s at 600: 584.6 ft/min.

    The lowest, the first and the last altitude are wrong by 1 ft each, no two of them alike; the first moment by
    (lowest - first) / 300 and the last by (lowest - last) / 600 minutes: of 97.5 s, and of the rate, that is
    sqrt(0.974^2 + 1.949^2 + 0.974^2) = 2.386 ft over 97.5 s, 1.47 ft/min.
    """
    path = on_final(2.5, 1000.0).straight(2.0).straight(seconds=15, to_ft=1075.0).mark("climb", -5.0)
    path.straight(seconds=92.5, to_ft=2000.0)
    climb_s = path.marks["climb"]
    missed = measured(
        path,
        [("final", 0.0, climb_s), ("missed_approach", climb_s, path.now_s)],
        "missed approach",
    ).missed_approach

    assert missed is not None
    assert missed.climb_rate_ft_min == pytest.approx(584.6, abs=0.1)
    assert missed.uncertainties["climb_rate_ft_min"] == pytest.approx(2.0 * 1.47, rel=0.03)


@pytest.mark.parametrize("length_nm", [1.2, 3.2])
def test_where_it_begins_past_a_timed_point(length_nm):
    """Two minutes after the station, which was passed a minute before: at 90 kt 1.5 NM on."""
    missed = go_round(length_nm, procedure(final={"missed_approach_point": {"minutes": 2.0}}))

    assert missed is not None
    assert missed.start_past_point_nm == pytest.approx(length_nm - 1.5, abs=FIVE_METRES_NM)


def test_to_a_station_on_the_aerodrome_the_point_lies_before_it():
    plan = procedure(
        intermediate=None,
        runway={"latitude": 46.995, "longitude": -31.005},
        final={"missed_approach_point": {"dme_nm": 0.6}, "step_down": None},
    )
    path = on_final(-3.0, 900.0).straight(2.8).mark("climb").straight(seconds=100, to_ft=1900.0)
    climb_s = path.marks["climb"]
    missed = measured(
        path, [("final", 0.0, climb_s), ("missed_approach", climb_s, path.now_s)], "missed approach", plan
    ).missed_approach

    # 0.6 DME at 600 ft above the station: 0.592 NM before it; the climb began 0.2 NM before it
    assert missed is not None
    assert missed.start_past_point_nm == pytest.approx(0.592 - 0.2, abs=FIVE_METRES_NM)


def test_a_missed_approach_without_altitude_keeps_its_place():
    missed = go_round(1.6, no_altitude=[(-1.0, 1e4)])

    assert missed is not None
    assert missed.climb_rate_ft_min is None
    assert missed.start_past_point_nm == pytest.approx(-0.5, abs=0.01)
    assert any("Climb rate not measured" in text for text in missed.warnings)


def landing(past_nm: float, on_ground_ft: float, plan=None, **log):
    path = on_final(3.0, 900.0).straight(THRESHOLD_NM - 3.0 + past_nm, to_ft=on_ground_ft).mark("down")
    path.speed(50.0).straight(seconds=20)
    down_s = path.marks["down"]
    return measured(
        path, [("final", 0.0, down_s), ("landing", down_s, path.now_s)], "landing", plan, **log
    ).landing


def test_where_the_aircraft_touched_down_and_what_the_log_read_there():
    found = landing(0.25, RUNWAY_FT + 35.0)

    assert found is not None
    assert found.touchdown_past_threshold_nm == pytest.approx(0.25, abs=FIVE_METRES_NM)
    assert found.logged_altitude_offset_ft == pytest.approx(35.0, abs=0.1)
    assert found.touchdown is not None
    assert (found.touchdown - EPOCH).total_seconds() == pytest.approx(
        (THRESHOLD_NM - 3.0 + 0.25) * 40.0, abs=0.01
    )
    assert found.airspeed_kias is None
    assert not any("Airspeed" in text for text in found.warnings)


def test_a_landing_elsewhere_measures_nothing_of_this_runway():
    found = landing(4.0, RUNWAY_FT)

    assert found is not None
    assert (found.touchdown_past_threshold_nm, found.logged_altitude_offset_ft) == (None, None)
    assert any("made elsewhere" in text for text in found.warnings)


def test_without_a_runway_there_is_no_touchdown_point():
    found = landing(0.2, RUNWAY_FT, procedure(runway=None))

    assert found is not None
    assert found.touchdown_past_threshold_nm is None
    assert any("procedure has no runway" in text for text in found.warnings)


def test_without_altitude_on_the_ground_there_is_no_offset():
    found = landing(0.2, RUNWAY_FT, no_altitude=[(10.0, 1e4)])

    assert found is not None
    assert found.logged_altitude_offset_ft is None
    assert found.touchdown_past_threshold_nm == pytest.approx(0.2, abs=FIVE_METRES_NM)


def test_a_touchdown_told_by_a_flag_lies_anywhere_since_the_sample_before():
    """It is always late, by up to the interval, here of a second: 95 % of these reach so far back."""
    found = landing(0.25, RUNWAY_FT, columns={"on_ground": 0.0})
    late_s = np.random.default_rng(1).uniform(0.0, 1.0, 20_000)

    assert found is not None
    assert np.mean(late_s <= found.uncertainties["touchdown"]) == pytest.approx(0.9545, abs=0.005)
