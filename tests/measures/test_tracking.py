"""Cross-track and deviation against the course of a leg."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.measures import measure
from debrief.measures.tracking import off_course, scored_course_deg
from debrief.procedures.model import Phase
from tests.measures.builders import Path, attempt, cone_nm, flight, passage, whole_approach
from tests.measures.plan import INBOUND_TRUE_DEG, OUTBOUND_TRUE_DEG, procedure

STRAIGHT_IN = procedure(outbound=None, course_reversal=None, intermediate=None)
A_METRE_NM = 1 / 1852
A_HUNDREDTH_DEG = 0.01


def offset_path(course_true_deg: float, right_nm: float, along_nm: float, length_nm: float) -> Path:
    """A line parallel to a course, ``right_nm`` to its right, beginning ``along_nm`` past the station."""
    course = math.radians(course_true_deg)
    return Path(
        along_nm * math.sin(course) + right_nm * math.cos(course),
        along_nm * math.cos(course) - right_nm * math.sin(course),
        course_true_deg,
        120.0,
        2800.0,
    ).straight(length_nm)


def leg_of(phase: str, path: Path):
    found = attempt([(phase, 0.0, path.now_s)])
    return getattr(measure(flight(path, procedure(), found), found, None), phase)


def test_right_of_the_outbound_radial_is_positive():
    leg = leg_of("outbound", offset_path(OUTBOUND_TRUE_DEG, 0.3, 1.0, 5.0))

    assert leg.cross_track_nm.mean == pytest.approx(0.3, abs=A_METRE_NM)
    assert leg.cross_track_nm.rms == pytest.approx(0.3, abs=A_METRE_NM)
    assert leg.deviation_deg.max_abs == pytest.approx(math.degrees(math.atan(0.3 / 1.0)), abs=A_HUNDREDTH_DEG)
    assert leg.deviation_deg.mean > 0


def test_right_of_the_inbound_course_is_positive_too():
    leg = leg_of("intermediate", offset_path(INBOUND_TRUE_DEG, 0.3, -8.0, 6.0))

    assert leg.cross_track_nm.mean == pytest.approx(0.3, abs=A_METRE_NM)
    assert leg.deviation_deg.mean > 0
    assert leg.deviation_deg.max_abs == pytest.approx(math.degrees(math.atan(0.3 / 2.0)), abs=A_HUNDREDTH_DEG)


def test_the_mean_deviation_is_that_of_the_integral():
    """Of atan(0.3 / s) over s from 1 to 6 NM: [s atan(c/s) + c/2 ln(s^2 + c^2)] / 5."""

    def integral(s: float) -> float:
        return s * math.atan(0.3 / s) + 0.15 * math.log(s * s + 0.09)

    leg = leg_of("outbound", offset_path(OUTBOUND_TRUE_DEG, 0.3, 1.0, 5.0))

    assert leg.deviation_deg.mean == pytest.approx(
        math.degrees(integral(6.0) - integral(1.0)) / 5.0, abs=A_HUNDREDTH_DEG
    )


def test_a_final_is_scored_on_either_side_of_the_station():
    """On an aerodrome with its own station: flown to it, and over it."""
    before, after = (offset_path(INBOUND_TRUE_DEG, -0.2, along, 1.5) for along in (-3.0, 1.0))

    for path in (before, after):
        leg = leg_of("final", path)
        assert leg.cross_track_nm.mean == pytest.approx(-0.2, abs=A_METRE_NM)
        assert leg.deviation_deg.mean < 0
        assert leg.deviation_deg.max_abs < 15.0


def test_flying_outbound_on_the_wrong_side_of_the_station_is_no_small_deviation():
    """Two miles before the station and flying away is 180 degrees off the radial, not on it."""
    path = offset_path(OUTBOUND_TRUE_DEG, 0.0, -2.0, 1.0)
    view = flight(path, procedure(), attempt([("outbound", 0.0, path.now_s)])).view

    _, deviation = off_course(procedure(), Phase.OUTBOUND, 48.0, view)

    assert np.abs(deviation) == pytest.approx(180.0, abs=A_HUNDREDTH_DEG)


def test_the_cone_is_not_scored():
    path = offset_path(OUTBOUND_TRUE_DEG, 0.1, 0.0, 3.0)
    leg = leg_of("outbound", path)
    edge_nm = math.sqrt(cone_nm(2800.0) ** 2 - 0.1**2)

    # at the edge of the cone, to one step of 0.2 s; not over the station, where it would be 90 degrees
    assert leg.deviation_deg.max_abs == pytest.approx(math.degrees(math.atan(0.1 / edge_nm)), abs=0.17)
    assert leg.cross_track_nm.max_abs == pytest.approx(0.1, abs=A_METRE_NM)


def test_a_leg_within_the_cone_has_no_deviation_and_says_why():
    leg = leg_of("outbound", offset_path(OUTBOUND_TRUE_DEG, 0.0, 0.05, 0.2))

    assert leg.deviation_deg is None
    assert leg.within_half_scale is None
    assert "cone" in " ".join(leg.warnings)
    assert leg.cross_track_nm.max_abs == pytest.approx(0.0, abs=A_METRE_NM)


def test_half_scale_is_a_share_of_the_time():
    """0.35 NM beside the radial is 5 degrees at 4 NM: from 2 to 6 NM out, half the time."""
    aside_nm = 4.0 * math.tan(math.radians(5.0))
    leg = leg_of("outbound", offset_path(OUTBOUND_TRUE_DEG, aside_nm, 2.0, 4.0))

    assert leg.within_half_scale == pytest.approx(0.5, abs=0.01)


def test_what_has_no_course_is_not_scored():
    built = whole_approach()
    measures = measure(built.flight, built.attempt, None)

    for leg in (
        measures.inbound,
        measures.station_passage,
        measures.course_reversal,
        measures.missed_approach,
    ):
        assert leg.cross_track_nm is None
        assert leg.deviation_deg is None


def test_a_racetrack_has_no_outbound_radial():
    racetrack = procedure(
        outbound={"radial_deg": None, "course_deg": 48},
        course_reversal={"pattern": "racetrack", "side": "right"},
    )

    assert scored_course_deg(racetrack, Phase.OUTBOUND) is None
    assert scored_course_deg(racetrack, Phase.INTERMEDIATE) == 228
    assert scored_course_deg(STRAIGHT_IN, Phase.OUTBOUND) is None


@given(right_nm=st.floats(-1.5, 1.5), slant_deg=st.floats(-20, 20))
def test_a_mirrored_flight_has_mirrored_deviations(right_nm, slant_deg):
    sides = []
    for sign in (1.0, -1.0):
        path = offset_path(OUTBOUND_TRUE_DEG, sign * right_nm, 1.5, 0.0)
        path.track_deg += sign * slant_deg
        path.straight(3.0)
        sides.append(leg_of("outbound", path))

    assert sides[1].cross_track_nm.mean == pytest.approx(-sides[0].cross_track_nm.mean, abs=A_METRE_NM)
    assert sides[1].deviation_deg.mean == pytest.approx(-sides[0].deviation_deg.mean, abs=A_HUNDREDTH_DEG)
    assert sides[1].cross_track_nm.max_abs == pytest.approx(sides[0].cross_track_nm.max_abs, abs=A_METRE_NM)


def test_an_ndb_is_scored_by_its_bearing_and_its_narrower_cone():
    ndb = procedure(station={"kind": "NDB/DME"})
    path = offset_path(OUTBOUND_TRUE_DEG, 0.1, 0.0, 3.0)
    found = attempt([("outbound", 0.0, path.now_s)], passages=[passage(0.0)])
    leg = measure(flight(path, ndb, found), found, None).outbound
    radius_nm = (2800.0 - 300.0) / 6076.115 * math.tan(math.radians(40.0))

    assert leg is not None
    assert leg.deviation_deg is not None
    assert leg.deviation_deg.max_abs == pytest.approx(math.degrees(math.asin(0.1 / radius_nm)), abs=0.25)
