"""How sure the ends of phases are, worked out by hand: 120 kt, an altitude sure to 40 ft, positions without an error."""

from __future__ import annotations

import math

import pytest

from tests.grading.approach import case
from tests.measures import builders

#: 40 ft are two standard deviations; the cone of a VOR opens by 50 degrees from the vertical, 120 kt are 1/30 NM/s.
RADIUS_SD_NM = 20.0 / (1852.0 / 0.3048) * math.tan(math.radians(50.0))
EDGE_SD_S = RADIUS_SD_NM * 30.0


def sure(phase: str) -> dict[str, float]:
    leg = getattr(case(sure_nm=0.0).measures, phase)
    return leg.uncertainties


def test_a_wider_cone_is_entered_earlier_and_left_later() -> None:
    assert sure("station_passage")["duration_s"] == pytest.approx(2.0 * 2.0 * EDGE_SD_S, rel=0.01)
    assert sure("station_passage")["track_length_nm"] == pytest.approx(2.0 * 2.0 * RADIUS_SD_NM, rel=0.01)


def test_a_leg_from_the_cone_to_a_turn_is_as_sure_as_both() -> None:
    """Without noise the turn's beginning is sure, but for the smoother's own time."""
    assert sure("outbound")["duration_s"] >= 2.0 * EDGE_SD_S
    assert sure("outbound")["duration_s"] == pytest.approx(2.0 * EDGE_SD_S, abs=0.3)


def test_where_an_end_cannot_be_told_the_reason_is_given() -> None:
    """The log begins on the way in: since when the aircraft had closed on the station nobody knows."""
    inbound = case(sure_nm=0.0).measures.inbound

    assert inbound is not None
    assert inbound.uncertainties.keys().isdisjoint({"duration_s", "track_length_nm"})
    assert (
        "How sure its duration and distance are cannot be told: one end of it is that of the log, or of a gap."
        in inbound.warnings
    )


def test_what_is_wrong_with_every_altitude_alike_does_not_move_a_climb() -> None:
    """It runs from 50 to 1,000 ft above the lowest altitude of the same log: 40 ft more of all three change nothing."""
    assert sure("missed_approach")["duration_s"] == pytest.approx(0.0, abs=0.05)


def test_the_pattern_of_the_builder_is_a_45_180() -> None:
    """So that the leg's time stands between two turns that begin alike: their early beginnings cancel."""
    assert builders.procedure().reversal.pattern == "45/180"
    assert sure("course_reversal")["leg_seconds"] < 0.5
