"""The whole card: headings in both frames, airspeeds, descents, and the limits that would be broken."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import PlanError
from debrief.planning.card import Card, plan_card
from debrief.planning.conditions import Conditions
from debrief.planning.limits import Broken
from debrief.procedures import Procedure, bundled_procedures, load_procedure
from tests.planning.practice import WHEN, card, procedure
from tests.strategies import bearings

PRINTED_KT = 0.005
ONE_TENTH_DEG = 0.1


def rules(made: Card) -> list[str]:
    return [broken.rule for broken in made.broken]


def only(made: Card, rule: str) -> Broken:
    (found,) = [broken for broken in made.broken if broken.rule == rule]
    return found


def test_true_airspeed_is_that_of_the_standard_atmosphere_at_the_legs_altitude() -> None:
    """120 kt calibrated at 3,000 ft, ISA: 125.38 kt. Computed apart from this program."""
    outbound = card(procedure()).legs[0]

    assert (outbound.name, outbound.true_airspeed_kt) == ("Outbound", pytest.approx(125.38, abs=PRINTED_KT))


def test_headings_by_the_compass_and_by_the_station() -> None:
    """The course is true by the station's alignment; the heading magnetic by today's variation. Signs: east positive."""
    made = card(load_procedure("frosthelm-vor-04"), wind=(140.0, 18.0))
    outbound = made.legs[0]
    declination_deg = made.procedure.station.declination_deg
    tas_kt, course_true_deg = outbound.true_airspeed_kt, 232.0 + declination_deg
    correction_deg = math.degrees(math.asin(18.0 / tas_kt * math.sin(math.radians(140.0 - course_true_deg))))

    assert outbound.track_true_deg == pytest.approx(course_true_deg)
    assert outbound.correction_deg == pytest.approx(correction_deg)
    assert outbound.heading_true_deg == pytest.approx(course_true_deg + correction_deg)
    assert made.by_station_deg(outbound.heading_true_deg) == pytest.approx(232.0 + correction_deg)
    assert made.variation_deg is not None
    assert made.variation_deg == pytest.approx(-1.9, abs=0.5)  # the alignment, -4.5, is years old
    assert made.magnetic_deg(outbound.heading_true_deg) == pytest.approx(
        course_true_deg + correction_deg - made.variation_deg
    )


def test_where_the_variation_is_not_known_headings_are_the_stations() -> None:
    planned = load_procedure("lantern-vor-22")
    far_ahead = Conditions(
        speed_kias=120.0,
        final_speed_kias=120.0,
        wind_from_true_deg=0.0,
        wind_speed_kt=0.0,
        when=datetime(2040, 1, 1, tzinfo=UTC),
    )
    made = plan_card(planned, far_ahead)

    assert made.variation_deg is None
    assert made.magnetic_deg(made.legs[0].heading_true_deg) == pytest.approx(44.0)


def test_the_legs_in_the_order_flown() -> None:
    names = [leg.name for leg in card(load_procedure("lantern-vor-22"), arrival_deg=300.0).legs]

    assert names == [
        "Inbound",
        "Outbound",
        "Away at 45°",
        "Intercept",
        "Intermediate",
        "Final",
    ]


def test_the_final_has_its_own_speed() -> None:
    made = card(load_procedure("lantern-vor-22"), 120.0, final_kias=90.0)

    assert made.legs[-1].true_airspeed_kt < 95.0 < 119.0 < made.legs[-2].true_airspeed_kt


def test_descents_are_the_least_that_do() -> None:
    """2 minutes outbound and 600 ft to lose: 300 ft/min. Arithmetic."""
    made = card(procedure(altitudes_ft=(3600.0, 3000.0, 3000.0, 2000.0)))
    outbound = made.legs[0]

    assert (outbound.descent_ft, outbound.seconds) == (600.0, pytest.approx(120.0))
    assert outbound.descent_ft_min == pytest.approx(300.0)
    assert (made.reversal_ft, made.reversal_ft_min) == (0.0, None)


def test_a_descent_in_the_reversal_has_the_reversals_time() -> None:
    made = card(procedure(altitudes_ft=(3000.0, 3000.0, 2300.0, 2000.0)))

    assert made.reversal is not None
    assert made.reversal_ft_min == pytest.approx(700.0 / (made.reversal.reversal_s / 60.0))


def test_a_leg_without_an_altitude_is_flown_at_its_neighbours() -> None:
    planned = procedure()
    bare = planned.model_copy(
        update={
            "leg": tuple(
                leg if leg.phase in ("inbound", "final") else leg.model_copy(update={"altitude": None})
                for leg in planned.leg
            )
        }
    )
    made = card(bare)

    assert made.legs[0].true_airspeed_kt == pytest.approx(125.38, abs=PRINTED_KT)
    assert made.final is not None
    assert made.final.start_ft == 3000.0


# Limits


def test_nothing_is_broken_by_a_plan_that_keeps_everything() -> None:
    assert card(load_procedure("lantern-vor-22"), 110.0).broken == ()


def test_the_published_speed_of_the_reversal() -> None:
    assert only(card(load_procedure("lantern-vor-22"), 205.0), "reversal_speed") == Broken(
        rule="reversal_speed", value=205.0, limit=200.0, unit="kt"
    )
    assert "reversal_speed" not in rules(card(load_procedure("lantern-vor-22"), 200.0))


def test_where_no_speed_is_published_it_is_200_kt() -> None:
    """AIM 5-4-9 a.3: not above 200 KIAS. Mark: seen."""
    assert only(card(procedure(), 201.0), "reversal_speed").published is False
    assert "reversal_speed" not in rules(card(procedure(), 200.0))


def test_the_distance_limit_in_this_wind() -> None:
    """45/180 at 200 kt from 4.7 NM stays just within 10 NM in still air; 30 kt from behind carries it out. Computed."""
    planned = procedure(
        length={"dme_nm": 4.7},
        reversal={"within_nm": 10, "leg_seconds": 75},
        altitudes_ft=(100.0, 100.0, 100.0, 100.0),
        final={"altitude": {"at_or_above_ft": 100.0}},
    )

    assert "reversal_distance" not in rules(card(planned, 195.0))
    broken = only(card(planned, 195.0, (200.0, 30.0)), "reversal_distance")
    assert broken.limit == 10.0
    assert broken.value > 10.0


def test_a_thousand_feet_a_minute() -> None:
    """3 degrees at 180 kt are 955 ft/min, at 200 kt 1,061. Computed apart from this program."""
    planned = load_procedure("lantern-vor-22")

    assert "descent_rate" not in rules(card(planned, 180.0, final_kias=170.0))
    broken = only(card(planned, 180.0, (33.0, 25.0), final_kias=180.0), "descent_rate")
    assert (broken.leg, broken.limit, broken.unit) == ("final", 1000.0, "ft/min")
    assert broken.value > 1000.0


def test_a_short_outbound_leg_and_far_to_go_down() -> None:
    """1,500 ft in the minute outbound."""
    planned = procedure(length={"minutes": 1.0}, altitudes_ft=(4500.0, 3000.0, 3000.0, 2000.0))

    broken = only(card(planned), "descent_rate")
    assert (broken.leg, broken.value) == ("outbound", pytest.approx(1500.0))


def test_a_step_above_the_path() -> None:
    final = {
        "missed_approach_point": {"dme_nm": 5.0},
        "step_down": [{"until_dme_nm": 3.0, "at_or_above_ft": 1600}],
    }

    broken = only(card(procedure(final=final)), "step_down")
    assert (broken.leg, broken.limit) == ("3.0 DME", 1600.0)
    assert broken.value == pytest.approx(2000.0 - 3.0 / 5.0 * 1300.0, abs=10.0)


def test_a_final_that_is_joined_so_late_that_it_is_too_steep() -> None:
    """From 2,000 ft to 50 ft over the threshold, joined 3.8 NM before it. At most 3.77: FAA Order 8260.3. Mark: seen (2nd
    hand).
    """
    planned = load_procedure("kestrey-ndb-09")

    assert "descent_angle" not in rules(card(planned, 120.0))
    broken = only(card(planned, 100.0, (180.0, 25.0)), "descent_angle")
    assert (broken.limit, broken.unit, broken.published) == (3.77, "deg", False)
    assert broken.value > 5.0


def test_a_published_angle_is_no_fault_however_steep() -> None:
    final = {"missed_approach_point": {"dme_nm": 3.0}, "descent_angle_deg": 4.5}
    runway = {
        "ident": "20",
        "latitude": 46.953,
        "longitude": -31.024,
        "elevation_ft": 300,
        "course_true_deg": 200,
    }

    planned = procedure(final=final, runway=runway, altitudes_ft=(3000.0, 3000.0, 3000.0, 1700.0))

    made = card(planned)
    assert made.final is not None
    assert made.final.angle_deg == pytest.approx(4.5)
    assert "descent_angle" not in rules(made)


def test_a_turn_far_past_the_course() -> None:
    """More than 0.4 NM. Mark: common practice."""
    broken = only(card(load_procedure("kestrey-ndb-09"), 100.0, (180.0, 25.0)), "intercept_overshoot")

    assert broken.limit == 0.4
    assert broken.value == pytest.approx(0.46, abs=0.03)


def test_no_room_before_the_station() -> None:
    """Half a minute outbound and 55 kt from ahead of it: the pattern ends past the station."""
    planned = procedure(
        pattern="80/260",
        length={"minutes": 0.1},
        outbound_deg=0.0,
        inbound_deg=180.0,
        altitudes_ft=(2000.0,) * 4,
    )

    assert "reversal_room" in rules(card(planned, 115.0, (0.0, 57.0)))


def test_a_dme_that_is_never_read_so_high() -> None:
    """5,000 ft above it a DME never reads less than 0.82 NM."""
    planned = procedure(length={"dme_nm": 0.5}, altitudes_ft=(5000.0, 5000.0, 5000.0, 2000.0))

    assert only(card(planned), "outbound_length").limit == 0.5


def test_more_wind_than_half_the_airspeed_is_refused() -> None:
    with pytest.raises(PlanError) as caught:
        card(procedure(), 100.0, (300.0, 46.0), final_kias=90.0)

    assert str(caught.value) == (
        "a wind of 46 kt is more than half of 90 kt indicated. No card is made for it: give a higher speed, or less wind."
    )


@given(
    planned=st.sampled_from(bundled_procedures()),
    from_deg=bearings(),
    share=st.floats(0.0, 0.5),
    speed_kt=st.floats(60.0, 250.0),
)
def test_every_bundled_procedure_has_a_card_in_any_wind(
    planned: Procedure, from_deg: float, share: float, speed_kt: float
) -> None:
    made = plan_card(
        planned,
        Conditions(
            speed_kias=speed_kt,
            final_speed_kias=speed_kt,
            wind_from_true_deg=from_deg,
            wind_speed_kt=share * speed_kt,
            when=WHEN,
        ),
    )

    for leg in made.legs:
        assert 0.0 < leg.groundspeed_kt < leg.true_airspeed_kt + share * speed_kt + PRINTED_KT
        assert abs(leg.correction_deg) <= 30.0 + ONE_TENTH_DEG
        assert leg.seconds is None or leg.seconds >= 0.0
    if made.reversal is not None and made.as_published is not None:
        assert math.isfinite(made.reversal.farthest_nm + made.as_published.farthest_nm)
