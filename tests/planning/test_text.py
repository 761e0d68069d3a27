"""The card in words: every number with its unit, the rule of thumb with its steps, the caution at the end."""

from __future__ import annotations

import re

import pytest

from debrief.planning.card import Card
from debrief.planning.text import COLUMNS, card_text
from debrief.planning.words import CAUTION, clock, correction
from debrief.procedures import Procedure, bundled_procedures, load_procedure
from debrief.procedures.model import FinalGuidance
from tests.planning.practice import WHEN, card, procedure

WINDS = ((0.0, 0.0), (270.0, 20.0), (20.0, 35.0))


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("planned", bundled_procedures(), ids=lambda planned: planned.file)
@pytest.mark.parametrize("wind", WINDS, ids=str)
def test_a_card_is_whole_and_no_wider_than_a_terminal(planned: Procedure, wind: tuple[float, float]) -> None:
    for arrival_deg in (None, 75.0):
        text = card_text([card(planned, 120.0, wind, arrival_deg=arrival_deg)])

        assert max(len(line) for line in text.splitlines()) <= COLUMNS
        assert "nan" not in text
        assert "None" not in text
        assert "−0" not in text
        assert flat(text).endswith(CAUTION)


def test_the_rule_of_thumb_with_its_steps() -> None:
    """180 kt, 45 deg, half a mile above the station: 1.25 NM. Mark: common practice.

    At the sea's level indicated and true airspeed are the same: the station lies half a mile below it.
    """
    planned = procedure(station={"elevation_ft": -1500.0}, altitudes_ft=(1538.0, 1538.0, 1538.0, 1538.0))
    text = flat(card_text([card(planned, 180.0, arrival_deg=335.0)]))

    assert "Arriving on 335°: turn right 45° onto 020°. Height above the station 3,038 ft, 0.50 NM." in text
    assert (
        "For want of a ground speed, at the 180 kt indicated: 180/60 × 1/3 = 1.00; + 1/2 = 1.50; × 45/90 = 0.75; "
        "+ height 0.50 = 1.25 NM on the DME."
    ) in text


def test_the_steps_stand_in_the_table_too_where_the_arrival_is_not_known() -> None:
    planned = procedure(altitudes_ft=(3038.0, 3038.0, 3038.0, 2000.0))
    text = flat(card_text([card(planned, 180.0)]))

    assert "180/60 × 1/3 = 1.00; + 1/2 = 1.50; × 45/90 = 0.75; + height 0.50 = 1.25 NM on the DME." in text


def test_what_the_card_is_for() -> None:
    lantern = load_procedure("lantern-vor-22")
    text = flat(card_text([card(lantern, 120.0, (270.0, 20.0), final_kias=95.0)]))

    assert "120 kt indicated, 95 kt on the final; wind from 270° true, 20 kt at every altitude." in text
    # World Magnetic Model 2025 there and then: 9.95 W. Computed (pygeomag 1.1)
    assert (
        f"by the station's alignment, 11.0° W; headings by the variation of {WHEN:%Y-%m-%d}, 10.0° W" in text
    )
    assert "Heading by station" in text  # more than a degree apart
    assert "still air" in flat(card_text([card(lantern)]))


def test_headings_are_shown_once_where_both_frames_agree() -> None:
    brandel = load_procedure("brandel-ndb-27")  # aligned at 10.0 W, the variation is 10.0 W

    assert "by station" not in card_text([card(brandel)])


def test_broken_limits_are_told_one_by_one() -> None:
    made = card(load_procedure("lantern-vor-22"), 210.0, (200.0, 30.0))
    text = card_text([made])

    assert "LIMITS WOULD BE BROKEN" in text
    assert "Speed: 210 kt indicated is above the 200 kt published for the reversal." in text
    assert "Distance: the reversal reaches 1" in text
    assert "every limit is kept" not in text


def test_timed_legs_tell_the_exact_time_and_the_rule() -> None:
    """Outbound against 20 kt at 120 kt true (sea level): 2:24 exactly and 2:40 by the rule. Computed apart from this."""
    sea = (0.0, 0.0, 0.0, 0.0)
    planned = procedure(
        station={"elevation_ft": -200.0},
        altitudes_ft=sea,
        outbound_deg=0.0,
        inbound_deg=180.0,
        final={"altitude": {"at_or_above_ft": -100.0}},
    )
    text = flat(card_text([card(planned, 120.0, (0.0, 20.0))]))

    assert (
        "Outbound: fly 2:24, which is the published 2:00 of still air in this wind; by the rule of thumb, a second a knot "
        "in each minute (common practice), 2:40."
    ) in text


def reached_nm(made: Card) -> float:
    assert made.reversal is not None
    return made.reversal.farthest_nm


def test_a_racetrack_shows_three_times_the_inbound_correction() -> None:
    """8 deg left inbound: 24 deg right outbound. AIM 5-3-8. Mark: seen."""
    planned = procedure(
        pattern="racetrack",
        side="right",
        outbound_deg=180.0,
        inbound_deg=0.0,
        reversal={"leg_seconds": 60},
        station={"elevation_ft": -200.0},
        altitudes_ft=(0.0, 0.0, 0.0, 0.0),
        final={"altitude": {"at_or_above_ft": -100.0}},
    )
    made = card(planned, 120.0, (270.0, 16.7))  # asin(16.7 / 120) = 8.0
    inbound = next(leg for leg in made.legs if leg.phase == "intermediate")
    tripled = round(made.magnetic_deg(180.0 + 24.0))

    assert inbound.correction_deg == pytest.approx(-8.0, abs=0.01)
    assert f"three times the inbound correction (AIM 5-3-8) would be {tripled}°." in flat(card_text([made]))


def test_a_racetracks_entry() -> None:
    planned = procedure(
        pattern="racetrack", side="right", outbound_deg=180.0, inbound_deg=0.0, reversal={"leg_seconds": 60}
    )

    assert "from 110° to 180° offset (teardrop), from 180° to 290° parallel" in flat(
        card_text([card(planned)])
    )
    assert "Arriving on 120°: offset (teardrop) entry into the racetrack, turn right 30° to 150°." in flat(
        card_text([card(planned, arrival_deg=120.0)])
    )


def test_a_range_of_speeds_is_a_row_each_and_the_fastest_in_full() -> None:
    lantern = load_procedure("lantern-vor-22")
    cards = [card(lantern, speed, (20.0, 30.0)) for speed in (160.0, 170.0, 180.0, 190.0)]
    lines = card_text(cards).splitlines()

    assert lines[1].startswith("190 kt indicated")
    assert "The rest of the card is for 190 kt, the fastest of them." in lines
    at = next(number for number, line in enumerate(lines) if line.startswith("IAS"))
    assert [line.split()[0] for line in lines[at + 1 : at + 5]] == ["160", "170", "180", "190"]
    assert "BY SPEED" not in card_text(cards[:1])


def test_a_racetracks_time_out_is_that_of_its_straight_leg_in_both_tables() -> None:
    """As a pilot times it: from abeam the station, the turn over it left out."""
    marrow = load_procedure("marrow-vor-31")
    lines = card_text([card(marrow, speed, (240.0, 38.0)) for speed in (150.0, 160.0)]).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("IAS"))
    leg = next(line for line in lines if line.startswith("Outbound"))
    heads, row = re.split(r"  +", lines[at]), re.split(r"  +", lines[at + 2])

    assert row[heads.index("Time out")] in leg


@pytest.mark.parametrize(("beyond_nm", "said"), [(0.004, "0.00 NM to spare"), (0.03, "0.03 NM too far")])
def test_a_distance_is_too_far_only_by_what_the_card_can_show(beyond_nm: float, said: str) -> None:
    planned = procedure(pattern="80/260", side="left")
    reach_nm = reached_nm(card(planned))
    made = card(procedure(pattern="80/260", side="left", reversal={"within_nm": reach_nm - beyond_nm}))

    assert said in flat(card_text([made]))
    assert any(broken.rule == "reversal_distance" for broken in made.broken) == ("too far" in said)


def test_a_station_without_dme_says_that_the_rule_needs_one() -> None:
    text = flat(card_text([card(load_procedure("quillow-ndb-18"), arrival_deg=300.0)]))

    assert "The rule gives a DME reading, which this station does not have." in text
    assert "where the DME reads" not in text


def test_times_and_corrections_are_rounded_as_they_are_flown() -> None:
    assert (clock(59.6), clock(60.4), clock(0.2)) == ("1:00", "1:00", "0:00")
    assert (correction(-0.4), correction(0.6)) == ("0°", "1° R")


@pytest.mark.parametrize(
    ("offset_deg", "sentence"),
    [
        (
            0.0,
            (
                "From 3.4 DME by eye to runway 24, 22° to the left of the course; the course crosses its centre line 0.9 NM "
                "before the threshold."
            ),
        ),
        (22.0, "From 3.4 DME by eye to runway 24, straight ahead."),
    ],
)
def test_where_the_needle_is_left_for_the_runway(offset_deg: float, sentence: str) -> None:
    """22 degrees and 0.9 NM: so the invented example was laid out."""
    ulvering = load_procedure("ulvering-vor-24")
    runway = ulvering.runway
    assert runway is not None
    turned = runway.model_copy(update={"course_true_deg": runway.course_true_deg + offset_deg})
    text = flat(card_text([card(ulvering.model_copy(update={"runway": turned}), 120.0)]))

    assert sentence in text
    assert "Over the threshold" in text


@pytest.mark.parametrize(
    ("side", "end"),
    [
        (None, "until the base turn."),
        ("left", "until the base turn, only on its left side as landed."),
        ("right", "until the base turn, only on its right side as landed."),
    ],
)
def test_the_circling_minimum_stands_on_the_card(side: str | None, end: str) -> None:
    pellarin = load_procedure("pellarin-vor-17")
    circling = pellarin.circling
    assert circling is not None
    planned = pellarin.model_copy(update={"circling": circling.model_copy(update={"side": side})})

    assert f"Circling to runway 35: not below 820 ft {end}" in flat(card_text([card(planned, 120.0)]))


def test_the_scale_of_a_final_that_the_station_does_not_guide_stands_on_the_card() -> None:
    dunmarrow = load_procedure("dunmarrow-localiser-09")
    by_satellite = dunmarrow.model_copy(update={"final_guidance": FinalGuidance(kind="satellite")})

    assert (
        "The final is flown by a localiser: full scale 2.8° to each side, established within 1.4°."
        in flat(card_text([card(dunmarrow, 120.0)]))
    )
    assert (
        "The final is a satellite course: full scale 0.30 NM to each side, established within 0.15 NM."
        in flat(card_text([card(by_satellite, 120.0)]))
    )
