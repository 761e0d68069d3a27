"""Course reversals in a wind: the published shapes in still air, and what must hold in any wind."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.planning.air import Air
from debrief.planning.pattern import ON_COURSE_NM, FlownReversal, fly_reversal
from debrief.planning.timing import outbound_timing, rule_seconds
from debrief.procedures import Procedure, bundled_procedures
from tests.planning.practice import air, procedure
from tests.strategies import bearings
from tests.vectors import read_vectors

HUNDREDTH_NM = 0.01
PRINTED_NM = 0.0005  # an arc drawn in steps of a degree
PRINTED_S = 0.01

REVERSALS = [procedure for procedure in bundled_procedures() if procedure.reversal is not None]
ROWS = read_vectors("reversal_patterns.csv")

every_reversal = pytest.mark.parametrize("planned", REVERSALS, ids=lambda planned: planned.file)


def fly(planned: Procedure, there: Air, *, allowed: bool = True) -> FlownReversal:
    flown = fly_reversal(planned, there, there, outbound_ft=0.0, allowed=allowed)
    assert flown is not None
    return flown


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.pattern}, {row.leg_s}, {row.tas_kt:g} kt")
def test_the_shapes_in_still_air(row, side: str) -> None:
    """45/180 and 80/260 in still air, instant roll; computed apart from this program."""
    reversal = {"leg_seconds": row.leg_s} if row.leg_s is not None else {}
    flown = fly(procedure(pattern=row.pattern, side=side, reversal=reversal), air(row.tas_kt), allowed=False)
    _, east_nm, north_nm = flown.lines[1]
    along = np.radians(20.0)
    out_nm = east_nm * np.sin(along) + north_nm * np.cos(along) - 2.0 * row.tas_kt / 60.0

    assert float(out_nm.max()) == pytest.approx(row.max_x_nm, abs=PRINTED_NM)
    assert flown.width_nm == pytest.approx(row.max_y_nm, abs=PRINTED_NM)
    if row.pattern == "45/180":
        assert flown.joining.how == "intercept"
        assert flown.joining.angle_deg == pytest.approx(45.0)
        assert flown.legs[-1].seconds == pytest.approx(row.intercept_straight_s, abs=PRINTED_S)
        assert flown.reversal_s == pytest.approx(row.total_s, abs=PRINTED_S)
        assert flown.joining.along_nm - 2.0 * row.tas_kt / 60.0 == pytest.approx(
            row.final_x_nm, abs=PRINTED_NM
        )
    else:
        assert flown.joining.how == "through"
        assert flown.joining.overshoot_nm == pytest.approx(-row.final_y_nm, abs=PRINTED_NM)


def test_a_base_turn_of_36_over_t_ends_on_the_course() -> None:
    """Angle between the tracks 36/T up to 170 kt, ICAO Doc 8168 Vol II, I-4-3. Mark: memory."""
    for minutes in (2.0, 3.0):
        planned = procedure(
            pattern="base turn", side="right", outbound_deg=20.0 - 36.0 / minutes, length={"minutes": minutes}
        )
        flown = fly(planned, air(120.0))

        assert flown.joining.how == "turn"
        assert flown.outbound_nm == pytest.approx(2.0 * minutes)


@every_reversal
def test_without_wind_there_is_nothing_to_allow_for(planned: Procedure) -> None:
    """But for the 80/260, which would run past the course: there the turn back waits."""
    still = air(110.0)
    allowed, published = fly(planned, still), fly(planned, still, allowed=False)

    if planned.reversal is not None and planned.reversal.pattern == "80/260":
        assert (allowed.joining.how, published.joining.how) == ("turn", "through")
        assert allowed.legs[0].seconds > published.legs[0].seconds == 0.0
        return
    assert allowed.joining.how == published.joining.how
    assert allowed.farthest_nm == pytest.approx(published.farthest_nm, abs=HUNDREDTH_NM)
    assert allowed.outbound_s == pytest.approx(published.outbound_s, abs=PRINTED_S)


@every_reversal
@given(from_deg=bearings(), wind_kt=st.floats(0.0, 35.0), speed_kt=st.floats(80.0, 200.0))
def test_every_plan_ends_on_the_inbound_course(
    planned: Procedure, from_deg: float, wind_kt: float, speed_kt: float
) -> None:
    there = air(speed_kt, from_deg, wind_kt)
    for allowed in (True, False):
        flown = fly(planned, there, allowed=allowed)
        _, east_nm, north_nm = flown.lines[-1]
        inbound = np.radians(planned.true_deg(planned.inbound_course_deg))
        beside_nm = float(east_nm[-1] * np.cos(inbound) - north_nm[-1] * np.sin(inbound))
        before_nm = float(-east_nm[-1] * np.sin(inbound) - north_nm[-1] * np.cos(inbound))

        assert abs(beside_nm) <= ON_COURSE_NM
        assert before_nm == pytest.approx(flown.joining.along_nm, abs=HUNDREDTH_NM)
        assert flown.farthest_nm >= flown.outbound_nm - HUNDREDTH_NM
        assert (flown.joining.overshoot_nm > 0.0) == (flown.joining.how == "through")


@given(
    pattern=st.sampled_from(["45/180", "80/260", "base turn", "racetrack"]),
    from_deg=bearings(),
    wind_kt=st.floats(0.0, 30.0),
    turned_deg=bearings(),
)
def test_a_scene_that_is_turned_round_is_the_same_plan(
    pattern: str, from_deg: float, wind_kt: float, turned_deg: float
) -> None:
    first = fly(_scene(pattern, "left", 0.0, 1.0), air(120.0, from_deg, wind_kt))
    turned = fly(_scene(pattern, "left", turned_deg, 1.0), air(120.0, from_deg + turned_deg, wind_kt))

    _assert_same(first, turned)


@given(
    pattern=st.sampled_from(["45/180", "80/260", "base turn", "racetrack"]),
    from_deg=bearings(),
    wind_kt=st.floats(0.0, 30.0),
    allowed=st.booleans(),
)
def test_a_mirrored_scene_is_the_mirrored_plan(
    pattern: str, from_deg: float, wind_kt: float, allowed: bool
) -> None:
    first = fly(_scene(pattern, "left", 0.0, 1.0), air(120.0, from_deg, wind_kt), allowed=allowed)
    mirrored = fly(_scene(pattern, "right", 0.0, -1.0), air(120.0, -from_deg, wind_kt), allowed=allowed)

    _assert_same(first, mirrored)
    for one, other in zip(first.legs, mirrored.legs, strict=True):
        assert (one.heading_true_deg + other.heading_true_deg + 180.0) % 360.0 == pytest.approx(
            180.0, abs=0.001
        )


def _scene(pattern: str, side: str, turned_deg: float, mirror: float) -> Procedure:
    """Outbound north; a base turn 18 deg off, on the far side of its turn. ``declination_deg`` turns the scene."""
    offset_deg = mirror * 18.0 if pattern == "base turn" else 0.0
    declination_deg = (turned_deg + 180.0) % 360.0 - 180.0
    return procedure(
        pattern=pattern,
        side=side,
        outbound_deg=offset_deg % 360.0,
        inbound_deg=180.0,
        reversal={"leg_seconds": 60},
        station={"declination_deg": declination_deg},
    )


def _assert_same(one: FlownReversal, other: FlownReversal) -> None:
    assert one.joining.how == other.joining.how
    for name in ("outbound_s", "reversal_s", "outbound_nm", "farthest_nm", "width_nm"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=0.001), name
    assert one.joining.along_nm == pytest.approx(other.joining.along_nm, abs=0.001)


@pytest.mark.parametrize(
    ("tas_kt", "headwind_kt", "exact_s", "rule_s"),
    [(120.0, 20.0, 72.0, 80.0), (120.0, -20.0, 51.4, 40.0), (150.0, 30.0, 75.0, 90.0)],
)
def test_a_minute_outbound_exactly_and_by_the_rule(
    tas_kt: float, headwind_kt: float, exact_s: float, rule_s: float
) -> None:
    """T x TAS/(TAS - h), computed apart from this program; a second a knot: common practice."""
    from_deg = 20.0 if headwind_kt > 0 else 200.0
    timing = outbound_timing(60.0, air(tas_kt, from_deg, abs(headwind_kt)), 20.0)

    assert timing.allowed_s == pytest.approx(exact_s, abs=0.05)
    assert timing.rule_s == pytest.approx(rule_s)
    assert timing.published_s == 60.0


def test_the_rule_never_gives_less_than_no_time() -> None:
    assert rule_seconds(60.0, -90.0) == 0.0


@given(from_deg=bearings(), wind_kt=st.floats(0.0, 40.0), minutes=st.floats(1.0, 3.0))
def test_a_timed_leg_covers_in_the_wind_what_it_covers_in_still_air(
    from_deg: float, wind_kt: float, minutes: float
) -> None:
    planned = procedure(length={"minutes": minutes})

    assert fly(planned, air(120.0, from_deg, wind_kt)).outbound_nm == pytest.approx(2.0 * minutes)


@given(from_deg=bearings(), wind_kt=st.floats(0.0, 25.0))
def test_a_racetrack_is_flown_so_that_the_turn_ends_on_the_course(from_deg: float, wind_kt: float) -> None:
    planned = procedure(pattern="racetrack", side="right", reversal={"leg_seconds": 60})

    assert fly(planned, air(120.0, from_deg, wind_kt)).joining.how == "turn"


@given(from_deg=bearings(), wind_kt=st.floats(0.0, 25.0))
def test_a_racetrack_ends_at_its_dme(from_deg: float, wind_kt: float) -> None:
    planned = procedure(pattern="racetrack", side="left", length={"dme_nm": 5.0})

    assert fly(planned, air(120.0, from_deg, wind_kt)).outbound_nm == pytest.approx(5.0)


def test_a_45_180_keeps_short_of_the_course_in_a_wind_towards_it() -> None:
    """A wind across the course carries the turn back past it; the leg away is made long enough."""
    planned = procedure(side="left", outbound_deg=0.0, inbound_deg=180.0, reversal={"leg_seconds": 60})
    towards = air(120.0, 270.0, 25.0)

    flown, published = fly(planned, towards), fly(planned, towards, allowed=False)
    assert (flown.joining.how, published.joining.how) == ("intercept", "through")
    assert flown.joining.angle_deg == pytest.approx(45.0)
    assert flown.legs[0].timing is not None
    assert flown.legs[0].timing.allowed_s > 75.0
    assert published.legs[0].seconds == pytest.approx(60.0)
    assert published.joining.overshoot_nm > 0.4


def test_an_80_degree_leg_waits_until_the_turn_ends_on_the_course() -> None:
    """Still air, 120 kt: the turn would end 0.2211 NM past the course, and 80 deg leads away 120 sin 80 kt."""
    flown = fly(procedure(pattern="80/260"), air(120.0))

    assert flown.legs[0].seconds == pytest.approx(
        0.2211 / (120.0 * np.sin(np.radians(80.0))) * 3600.0, abs=0.05
    )


def test_a_heading_that_hardly_closes_is_not_said_to_intercept() -> None:
    """Heading 30 deg off the course, with as much wind across as the heading closes: it stays where it is."""
    planned = procedure(
        pattern="base turn", side="right", outbound_deg=330.0, inbound_deg=180.0, length={"minutes": 3.0}
    )
    flown = fly(planned, air(120.0, 90.0, 59.9), allowed=False)

    assert flown.joining.how == "never"
    assert flown.joining.angle_deg is None
