"""The outline of a procedure, held against the pattern table and plain trigonometry."""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.procedures import Procedure, load_procedure
from debrief.procedures.geometry import (
    Mark,
    Polyline,
    marks,
    missed_approach_distance_nm,
    outline,
    threshold_along_nm,
    threshold_nm,
)
from tests.vectors import read_vectors

ONE_METRE_NM = 1.0 / 1852.0
ONE_ARC_STEP_NM = 0.002  # an arc drawn in 3-degree steps stays this close to the circle at 240 kt


def procedure(
    pattern: str,
    side: str = "right",
    *,
    length: dict[str, float] | None = None,
    leg_seconds: float | None = 60.0,
    inbound_deg: float = 270.0,
    offset_deg: float = 0.0,
    declination_deg: float = 0.0,
    on_aerodrome: bool = False,
) -> Procedure:
    """At sea level and with no altitude on the outbound leg, so that a DME reads the ground distance."""
    outbound_deg = (inbound_deg + 180.0 + offset_deg) % 360.0
    legs: list[dict[str, object]] = [
        {
            "phase": "outbound",
            "course_deg" if pattern == "racetrack" else "radial_deg": outbound_deg,
            "length": length or {"dme_nm": 5.0},
        },
        {"phase": "course_reversal", "pattern": pattern, "side": side, "leg_seconds": leg_seconds},
        {"phase": "intermediate", "course_deg": inbound_deg},
        {"phase": "final", "course_deg": inbound_deg, "altitude": {"at_or_above_ft": 300.0}},
    ]
    if on_aerodrome:
        del legs[2]
    return Procedure.model_validate(
        {
            "format": 1,
            "name": "Practice",
            "station": {
                "ident": "QXQ",
                "kind": "VOR/DME",
                "latitude": 10.0,
                "longitude": 20.0,
                "elevation_ft": 0.0,
                "declination_deg": declination_deg,
            },
            "leg": legs,
        }
    )


def line(lines: tuple[Polyline, ...], name: str) -> Polyline:
    return next(line for line in lines if line.name == name)


def turned(line: Polyline, clockwise_deg: float) -> np.ndarray:
    angle = np.radians(clockwise_deg)
    return np.array(
        [
            line.east_nm * np.cos(angle) + line.north_nm * np.sin(angle),
            line.north_nm * np.cos(angle) - line.east_nm * np.sin(angle),
        ]
    )


@pytest.mark.parametrize(
    "row", read_vectors("reversal_patterns.csv"), ids=lambda row: f"{row.pattern} {row.tas_kt:g} {row.leg_s}"
)
def test_procedure_turns_agree_with_the_table(row: SimpleNamespace) -> None:
    """The shape of 45/180 and 80/260 in still air, computed step by step elsewhere (the table says how)."""
    # outbound due east, so that x is along it and y, to its right, points south
    lines = outline(procedure(row.pattern, leg_seconds=row.leg_s), speed_kt=row.tas_kt)
    reversal = line(lines, "course_reversal")
    along_nm, right_nm = reversal.east_nm - 5.0, -reversal.north_nm

    assert along_nm.max() == pytest.approx(row.max_x_nm, abs=ONE_ARC_STEP_NM)
    assert right_nm.max() == pytest.approx(row.max_y_nm, abs=ONE_ARC_STEP_NM)
    # the table ends with the last arc; a line that ends beside the course is then closed onto it
    last = -1 if row.final_y_nm == 0 else -2
    assert along_nm[last] == pytest.approx(row.final_x_nm, abs=ONE_METRE_NM)
    assert right_nm[last] == pytest.approx(row.final_y_nm, abs=ONE_METRE_NM)
    assert right_nm[-1] == pytest.approx(0.0, abs=ONE_METRE_NM)


@pytest.mark.parametrize("pattern", ["45/180", "80/260", "racetrack"])
def test_the_other_side_is_the_mirror_image(pattern: str) -> None:
    right, left = (outline(procedure(pattern, side)) for side in ("right", "left"))

    for one, other in zip(right, left, strict=True):
        assert one.east_nm == pytest.approx(other.east_nm, abs=ONE_METRE_NM)
        assert one.north_nm == pytest.approx(-other.north_nm, abs=ONE_METRE_NM)


@pytest.mark.parametrize("pattern", ["45/180", "80/260"])
def test_a_procedure_turn_lies_on_its_side_of_the_outbound_course(pattern: str) -> None:
    reversal = line(outline(procedure(pattern, "right")), "course_reversal")

    assert reversal.north_nm.min() < -1.0  # outbound is east: its right is south


def test_a_racetrack_turns_to_its_side() -> None:
    """Arriving westbound and turning right: the outbound leg lies north, two radii away."""
    lines = outline(procedure("racetrack", "right"), speed_kt=120.0)
    outbound, reversal = line(lines, "outbound"), line(lines, "course_reversal")
    width_nm = 2.0 * 0.6366  # the circle of 120 kt at 3 deg/s

    assert outbound.north_nm[-1] == pytest.approx(width_nm, abs=ONE_METRE_NM)
    assert np.hypot(outbound.east_nm[-1], outbound.north_nm[-1]) == pytest.approx(5.0, abs=ONE_METRE_NM)
    assert reversal.north_nm[-1] == pytest.approx(0.0, abs=ONE_METRE_NM)
    assert reversal.east_nm[-1] == pytest.approx(outbound.east_nm[-1], abs=ONE_METRE_NM)
    assert reversal.east_nm.max() == pytest.approx(outbound.east_nm[-1] + 0.6366, abs=ONE_ARC_STEP_NM)


def test_a_racetrack_by_the_clock_goes_on_from_abeam_the_station() -> None:
    lines = outline(procedure("racetrack", length={"minutes": 2.5}, leg_seconds=90.0), speed_kt=120.0)

    assert line(lines, "outbound").east_nm[-1] == pytest.approx(3.0, abs=ONE_METRE_NM)


def test_the_minutes_of_a_racetrack_hold_its_turn() -> None:
    """From the station, 2.5 min at 120 kt: one minute of turn and 1.5 min straight."""
    lines = outline(procedure("racetrack", length={"minutes": 2.5}, leg_seconds=None), speed_kt=120.0)

    assert line(lines, "outbound").east_nm[-1] == pytest.approx(3.0, abs=ONE_METRE_NM)


def test_a_base_turn_is_one_arc_that_touches_both_tracks() -> None:
    lines = outline(procedure("base turn", "right", offset_deg=-20.0))
    outbound, reversal = line(lines, "outbound"), line(lines, "course_reversal")
    bearing_deg = np.degrees(np.arctan2(outbound.east_nm[-1], outbound.north_nm[-1]))
    radius_nm = 5.0 * np.tan(np.radians(10.0))
    # it ends westbound on the inbound course, turning right: the centre lies north of that point
    from_centre_nm = np.hypot(reversal.east_nm - 5.0, reversal.north_nm - radius_nm)

    assert bearing_deg == pytest.approx(70.0)
    assert from_centre_nm == pytest.approx(radius_nm, abs=ONE_METRE_NM)
    assert (reversal.east_nm[-1], reversal.north_nm[-1]) == pytest.approx((5.0, 0.0), abs=ONE_METRE_NM)


@given(
    pattern=st.sampled_from(["45/180", "80/260", "base turn", "racetrack"]),
    side=st.sampled_from(["left", "right"]),
    inbound_deg=st.floats(0.0, 359.0),
    declination_deg=st.floats(-40.0, 40.0),
    speed_kt=st.floats(60.0, 250.0),
)
def test_another_direction_only_turns_the_drawing(
    pattern: str, side: str, inbound_deg: float, declination_deg: float, speed_kt: float
) -> None:
    offset_deg = {"left": 15.0, "right": -15.0}[side] if pattern == "base turn" else 0.0
    towards_west = outline(procedure(pattern, side, offset_deg=offset_deg), speed_kt)
    elsewhere = outline(
        procedure(
            pattern, side, offset_deg=offset_deg, inbound_deg=inbound_deg, declination_deg=declination_deg
        ),
        speed_kt,
    )

    for one, other in zip(towards_west, elsewhere, strict=True):
        assert one.name == other.name
        assert turned(one, inbound_deg + declination_deg - 270.0) == pytest.approx(
            np.array([other.east_nm, other.north_nm]), abs=ONE_METRE_NM
        )


@given(
    pattern=st.sampled_from(["45/180", "80/260", "base turn", "racetrack"]),
    side=st.sampled_from(["left", "right"]),
    on_aerodrome=st.booleans(),
    minutes=st.floats(1.0, 4.0),
    speed_kt=st.floats(60.0, 250.0),
)
def test_each_line_begins_where_the_one_before_ended(
    pattern: str, side: str, on_aerodrome: bool, minutes: float, speed_kt: float
) -> None:
    offset_deg = {"left": 15.0, "right": -15.0}[side] if pattern == "base turn" else 0.0
    flown = outline(
        procedure(
            pattern, side, offset_deg=offset_deg, length={"minutes": minutes}, on_aerodrome=on_aerodrome
        ),
        speed_kt,
    )

    names = ["outbound", "course_reversal", *([] if on_aerodrome else ["intermediate"]), "final"]
    assert [line.name for line in flown] == names
    for one, after in pairwise(flown):
        assert (
            np.hypot(after.east_nm[0] - one.east_nm[-1], after.north_nm[0] - one.north_nm[-1]) < ONE_METRE_NM
        )
    assert all(np.isfinite(line.east_nm).all() and np.isfinite(line.north_nm).all() for line in flown)


def test_a_dme_distance_is_drawn_over_the_ground(lantern: Procedure) -> None:
    """2,800 ft at the lowest, the antenna at 310 ft: 5.0 on the DME is sqrt(25 - 0.4098²) over the ground."""
    outbound = line(outline(lantern), "outbound")

    assert np.hypot(outbound.east_nm[-1], outbound.north_nm[-1]) == pytest.approx(4.98318, abs=ONE_METRE_NM)


def test_minutes_to_the_missed_approach_point_become_a_distance(dateline: Procedure) -> None:
    """1.8 minutes at 100 kt."""
    assert missed_approach_distance_nm(dateline, speed_kt=100.0) == pytest.approx(3.0)


def test_the_marks_stand_on_the_final_course(lantern: Procedure, frosthelm: Procedure) -> None:
    """Away from the station where it lies before the aerodrome, towards it where it stands on it."""

    def along_course_nm(mark: Mark, course_true_deg: float) -> float:
        course = np.radians(course_true_deg)
        assert abs(mark.east_nm * np.cos(course) - mark.north_nm * np.sin(course)) < ONE_METRE_NM
        return float(mark.east_nm * np.sin(course) + mark.north_nm * np.cos(course))

    station, step, missed, threshold = marks(lantern)
    assert [m.name for m in (station, step, missed, threshold)] == [
        "station",
        "step_down",
        "missed_approach_point",
        "threshold",
    ]
    # 1,100 ft, antenna 310 ft: sqrt(4 - 0.1300²); 620 ft: sqrt(4.6² - 0.0510²)
    assert along_course_nm(step, 213.0) == pytest.approx(1.99577, abs=ONE_METRE_NM)
    assert along_course_nm(missed, 213.0) == pytest.approx(4.59972, abs=ONE_METRE_NM)
    assert (step.altitude_ft, missed.altitude_ft) == (1100.0, 620.0)

    _, step, missed, _ = marks(frosthelm)
    assert along_course_nm(step, 35.5) == pytest.approx(-2.99701, abs=ONE_METRE_NM)
    assert along_course_nm(missed, 35.5) == pytest.approx(-0.79667, abs=ONE_METRE_NM)


def test_without_a_runway_the_end_of_the_final_is_unknown_and_still_drawn() -> None:
    plain = procedure("45/180")

    assert missed_approach_distance_nm(plain) is None
    assert [mark.name for mark in marks(plain)] == ["station"]
    final = line(outline(plain), "final")
    assert final.east_nm[-1] == pytest.approx(-8.0)


def test_the_visual_segment_leads_over_the_crossing_of_both_lines_to_the_threshold() -> None:
    """4.2 NM out on the course, and 0.9 NM before the threshold on the centre line: laid out so."""
    ulvering = load_procedure("ulvering-vor-24")
    lines = outline(ulvering)
    final, by_eye = line(lines, "final"), line(lines, "visual_segment")

    ends = [float(np.hypot(e, n)) for e, n in zip(by_eye.east_nm, by_eye.north_nm, strict=True)]
    assert float(np.hypot(final.east_nm[-1], final.north_nm[-1])) == pytest.approx(3.4, abs=0.01)
    assert ends[0] == pytest.approx(3.4, abs=0.01)
    assert ends[1] == pytest.approx(4.2, abs=0.01)
    last_nm = float(np.hypot(*(axis[2] - axis[1] for axis in (by_eye.east_nm, by_eye.north_nm))))
    assert last_nm == pytest.approx(0.9, abs=0.01)
    assert threshold_along_nm(ulvering) == pytest.approx(3.4 + 0.8 + 0.9, abs=0.02)


def test_a_course_that_passes_the_runway_by_is_left_halfway() -> None:
    """The runway 0.4 NM beside the course and parallel to it: nothing crosses."""
    ulvering = load_procedure("ulvering-vor-24")
    runway = ulvering.runway
    assert runway is not None
    beside = ulvering.model_copy(update={"runway": runway.model_copy(update={"course_true_deg": 250.0})})
    by_eye = line(outline(beside), "visual_segment")

    to_go_nm = float(np.hypot(*(axis[2] - axis[1] for axis in (by_eye.east_nm, by_eye.north_nm))))
    threshold = threshold_nm(beside)
    assert threshold is not None
    course = np.radians(250.0)
    ahead_nm = threshold[0] * np.sin(course) + threshold[1] * np.cos(course)
    assert to_go_nm == pytest.approx((ahead_nm - 3.4) / 2.0, abs=0.01)
    assert (by_eye.east_nm[-1], by_eye.north_nm[-1]) == pytest.approx(threshold)
