"""The turn at the station: exact leads, the rule of thumb, entries into a racetrack."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.planning.lead import CHANGES_DEG, drifted_lead_nm, first_course_deg, lead_from, leads
from debrief.procedures.entries import entry
from tests.planning.practice import air, procedure
from tests.strategies import bearings
from tests.vectors import read_vectors

PRINTED_NM = 0.000005
HALF_A_MILE_FT = 3038.06
HUNDREDTH_NM = 0.005


def test_the_rule_of_thumb_at_180_kt_a_change_of_45_and_half_a_mile_above_the_station() -> None:
    """(180/60 x 1/3 + 1/2) x 45/90 + 0.5 = 1.25 NM on the DME. Mark: common practice."""
    found = lead_from(procedure(), air(180.0), 335.0, speed_kias=180.0, height_ft=HALF_A_MILE_FT)

    assert found is not None
    assert (found.change_deg, found.side) == (45.0, "right")
    assert found.rule.lead_nm == pytest.approx(1.25, abs=HUNDREDTH_NM)
    assert (found.rule.speed_part_nm, found.rule.margin_nm, found.rule.share_of_90_deg) == pytest.approx(
        (1.0, 0.5, 0.5)
    )
    assert found.rule.height_part_nm == pytest.approx(0.5, abs=HUNDREDTH_NM)
    # the exact fly-by lead for the same turn: 0.419 NM over the ground, 0.653 NM slant. Computed.
    assert found.exact_nm == pytest.approx(0.419, abs=0.0005)
    assert found.exact_dme_nm == pytest.approx(0.653, abs=0.0005)


@pytest.mark.parametrize("row", read_vectors("turns.csv"), ids=str)
def test_the_table_of_changes_in_still_air(row) -> None:
    """r tan(change/2), ICAO Doc 8168 Vol II, III-3-8, 8.1.5.1.1. Mark: seen. Computed apart from this program."""
    table = leads(procedure(), air(row.tas_kt), speed_kias=row.tas_kt, height_ft=0.0)

    assert [round(lead.change_deg) for lead in table] == [change for change in CHANGES_DEG for _ in "rl"]
    assert [lead.side for lead in table] == ["right", "left"] * len(CHANGES_DEG)
    for lead in table:
        if round(lead.change_deg) in (30, 45, 60, 90, 120):
            expected_nm = getattr(row, f"lead_{round(lead.change_deg)}_nm")
            assert lead.exact_nm == pytest.approx(expected_nm, abs=PRINTED_NM)
            assert lead.drifted_nm == pytest.approx(expected_nm, abs=PRINTED_NM)


@given(
    arrival_deg=bearings(),
    change_deg=st.floats(5.0, 120.0),
    from_deg=bearings(),
    wind_kt=st.floats(0.0, 30.0),
)
def test_a_turn_begun_at_the_drifted_lead_ends_on_the_next_course(
    arrival_deg: float, change_deg: float, from_deg: float, wind_kt: float
) -> None:
    import math

    there, next_deg = air(120.0, from_deg, wind_kt), arrival_deg + change_deg
    lead_nm = drifted_lead_nm(there, arrival_deg, next_deg)
    assert lead_nm is not None
    turn = there.turn(there.heading_true_deg(arrival_deg), there.heading_true_deg(next_deg), 1)
    arrival, onto = math.radians(arrival_deg), math.radians(next_deg)
    east_nm = -lead_nm * math.sin(arrival) + turn.east_nm
    north_nm = -lead_nm * math.cos(arrival) + turn.north_nm

    assert east_nm * math.cos(onto) - north_nm * math.sin(onto) == pytest.approx(0.0, abs=1e-9)


def test_courses_that_cross_nowhere_near_have_no_lead() -> None:
    assert drifted_lead_nm(air(120.0), 10.0, 10.5) is None
    assert drifted_lead_nm(air(120.0), 10.0, 180.0) is None
    steep = lead_from(procedure(), air(120.0), 190.0, speed_kias=120.0, height_ft=1000.0)
    assert steep is not None
    assert (round(steep.change_deg), steep.exact_nm, steep.exact_dme_nm, steep.drifted_nm) == (
        170,
        None,
        None,
        None,
    )


@pytest.mark.parametrize(
    ("arrival_deg", "name", "first_deg", "change_deg", "side"),
    [
        (150.0, "offset", 150.0, 0.0, "right"),
        (110.0, "offset", 150.0, 40.0, "right"),
        (179.0, "offset", 150.0, 29.0, "left"),
        (181.0, "parallel", 180.0, 1.0, "left"),
        (289.0, "parallel", 180.0, 109.0, "left"),
        (291.0, "direct", 180.0, 249.0, "right"),
        (0.0, "direct", 180.0, 180.0, "right"),
        (109.0, "direct", 180.0, 71.0, "right"),
    ],
)
def test_how_a_racetrack_with_right_turns_is_entered(
    arrival_deg: float, name: str, first_deg: float, change_deg: float, side: str
) -> None:
    """Inbound 360: offset from 110 to 180, parallel from 180 to 290, else direct. Doc 8168 Vol I. Mark: memory."""
    planned = procedure(
        pattern="racetrack", side="right", outbound_deg=180.0, inbound_deg=0.0, reversal={"leg_seconds": 60}
    )
    found = lead_from(planned, air(120.0), arrival_deg, speed_kias=120.0, height_ft=0.0)

    assert entry(planned, arrival_deg) == name
    assert first_course_deg(planned, arrival_deg) == first_deg
    assert found is not None
    assert (found.change_deg, found.side) == (pytest.approx(change_deg), side)


@given(arrival_deg=bearings())
def test_left_turns_mirror_right_ones(arrival_deg: float) -> None:
    right, left = (
        procedure(
            pattern="racetrack", side=side, outbound_deg=180.0, inbound_deg=0.0, reversal={"leg_seconds": 60}
        )
        for side in ("right", "left")
    )

    assert entry(right, arrival_deg) == entry(left, (360.0 - arrival_deg) % 360.0)


def test_where_no_turn_is_made_at_the_station_there_is_no_lead() -> None:
    straight = procedure(pattern=None, on_aerodrome=True, runway=RUNWAY)

    assert first_course_deg(straight, 150.0) is None
    assert lead_from(straight, air(120.0), 150.0, speed_kias=120.0, height_ft=1000.0) is None
    assert leads(straight, air(120.0), speed_kias=120.0, height_ft=1000.0) == ()


def test_straight_in_over_a_final_fix_it_is_the_turn_onto_the_final() -> None:
    planned = procedure(pattern=None)
    found = lead_from(planned, air(120.0), 170.0, speed_kias=120.0, height_ft=1000.0)

    assert found is not None
    assert (found.change_deg, found.side) == (30.0, "right")


RUNWAY = {"ident": "20", "latitude": 47.005, "longitude": -31.0, "elevation_ft": 10, "course_true_deg": 200}
