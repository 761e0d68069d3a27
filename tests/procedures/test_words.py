"""The briefing: the whole text of one procedure, and that no published figure is left out of any."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.procedures import Procedure, bundled_procedures, load_procedure
from debrief.procedures.model import AltitudeLimit, Extent, FinalGuidance, VisualSegment
from debrief.procedures.words import CAUTION, describe, limit_words, three_figures, time_words

every_procedure = pytest.mark.parametrize("procedure", bundled_procedures(), ids=lambda p: Path(p.file).stem)


def test_a_procedure_is_briefed_leg_by_leg(lantern: Procedure) -> None:
    """Rates: 318 ft a mile at 3 degrees; 637 ft/min at 120 kt, said as 640. Handbook table. Mark: seen."""
    assert describe(lantern).split("\n\n") == [
        "Lantern VOR/DME runway 22. Invented for practice. Not for navigation.",
        (
            "Station: LQN, a VOR/DME at 47.1842 N 31.1766 W, elevation 310 ft. "
            "Its zero radial points 11.0 degrees west of true north."
        ),
        (
            "Runway: 22, threshold elevation 182 ft, 5.0 NM from the station on radial 224. "
            "The runway points 213 degrees true."
        ),
        "Inbound: fly to LQN, from anywhere, at or above 3,500 ft.",
        "Outbound: from LQN on radial 044 to 5.0 DME, at or above 2,800 ft.",
        (
            "Course reversal: 45/180 on the left side of the outbound course: turn left 45 degrees to 359, fly that leg "
            "for 1 minute, then turn right 180 degrees to 179 and intercept 224 inbound. "
            "Stay within 10 NM of the station, not above 200 kt indicated, at or above 2,300 ft."
        ),
        "Intermediate: established on 224, inbound to LQN, at or above 1,800 ft.",
        (
            "Final: from LQN on 224. Not below 1,100 ft until 2.0 DME. "
            "The minimum descent altitude is 620 ft, 438 ft above the threshold. The missed approach point is at 4.6 DME. "
            "The descent angle is 3.0 degrees: 318 ft a mile, 640 ft/min at 120 kt over the ground."
        ),
        (
            "For simulator flying and training only. Not for navigation: the published procedure, its current chart and "
            "the clearance given prevail."
        ),
    ]


def paragraph(name: str, begins: str) -> str:
    text = describe(load_procedure(name))
    return next(part for part in text.split("\n\n") if part.startswith(begins))


@pytest.mark.parametrize(
    ("name", "text"),
    [
        (
            "quillow-ndb-18",
            (
                "Course reversal: 80/260 on the right side of the outbound course: turn right 80 degrees to 084, then at "
                "once turn left 260 degrees and intercept 184 inbound. Stay within 10 NM of the station, not above 140 kt "
                "indicated, at or above 2,000 ft."
            ),
        ),
        (
            "kestrey-ndb-09",
            (
                "Course reversal: base turn: turn right to intercept 093 inbound. Stay within 10 NM of the station, not "
                "above 140 kt indicated, at or above 2,000 ft."
            ),
        ),
        (
            "dateline-ndb-35",
            (
                "Outbound: over DQ, turn right to 172 and fly beside the inbound course for 1 minute 30 seconds, until "
                "2 minutes 30 seconds after the station, at or above 1,800 ft."
            ),
        ),
        (
            "kestrey-ndb-09",
            (
                "Final: established on 093, towards KQ. The minimum descent altitude is 540 ft, 494 ft above the "
                "threshold. The missed approach point is KQ."
            ),
        ),
        (
            "kestrey-ndb-09",
            "Outbound: from KQ on bearing 261 for 3 minutes from the station, at or above 2,000 ft.",
        ),
        ("quillow-ndb-18", "Intermediate: established on 184, inbound to QLW, at 1,500 ft."),
        (
            "dateline-ndb-35",
            (
                "Station: DQ, an NDB at 33.1964 N 179.9850 E, elevation 60 ft. "
                "Its zero bearing points 5.5 degrees east of true north."
            ),
        ),
    ],
)
def test_each_shape_has_its_words(name: str, text: str) -> None:
    assert paragraph(name, text.split(":")[0]) == text


@every_procedure
def test_every_altitude_is_said(procedure: Procedure) -> None:
    text = describe(procedure)
    limits = [leg.altitude for leg in procedure.leg if leg.altitude is not None]
    altitudes_ft = [ft for limit in limits for ft in (limit.low_ft, limit.high_ft) if ft is not None]
    altitudes_ft += [step.at_or_above_ft for leg in procedure.leg for step in leg.step_down]

    assert len(altitudes_ft) >= len(procedure.leg)
    assert [ft for ft in altitudes_ft if f"{ft:,.0f}" not in text] == []


@every_procedure
def test_a_leg_is_a_paragraph_and_the_caution_comes_last(procedure: Procedure) -> None:
    paragraphs = describe(procedure).split("\n\n")
    keys = ("arc", "final_guidance", "visual_segment", "circling", "missed_approach", "hold")
    beside = sum(getattr(procedure, key) is not None for key in keys)

    assert len(paragraphs) == 3 + len(procedure.leg) + beside + 1
    assert paragraphs[-1] == CAUTION
    assert all(paragraph.endswith(".") and "  " not in paragraph for paragraph in paragraphs)


def test_without_a_runway_the_briefing_says_what_that_means(lantern: Procedure) -> None:
    text = describe(lantern.model_copy(update={"runway": None}))

    assert "Runway: none given. Nothing is measured past the missed approach point." in text
    assert "The minimum descent altitude is 620 ft. " in text


@pytest.mark.parametrize(
    ("direction_deg", "words"),
    [(0, "360"), (360, "360"), (-1, "359"), (4, "004"), (44.5, "044.5"), (359.99, "360")],
)
def test_a_direction_has_three_figures(direction_deg: float, words: str) -> None:
    assert three_figures(direction_deg) == words


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        ({"at_or_above_ft": 3500}, "at or above 3,500 ft"),
        ({"at_or_below_ft": 900}, "at or below 900 ft"),
        ({"at_ft": 2000}, "at 2,000 ft"),
        ({"between_ft": (2000, 3000)}, "between 2,000 and 3,000 ft"),
    ],
)
def test_each_kind_of_limit_has_its_words(limit: dict[str, object], words: str) -> None:
    assert limit_words(AltitudeLimit.model_validate(limit)) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (45, "45 seconds"),
        (60, "1 minute"),
        (75, "1 minute 15 seconds"),
        (61, "1 minute 1 second"),
        (120, "2 minutes"),
        (108, "1 minute 48 seconds"),
    ],
)
def test_a_time_is_said_in_minutes_and_seconds(seconds: float, words: str) -> None:
    assert time_words(seconds) == words


def test_where_the_reversal_may_be_left_out_is_said() -> None:
    words = describe(load_procedure("marrow-vor-31"))

    assert "It may be left out on arriving within 30 degrees of the course of 308." in words


def test_a_crossing_radial_the_missed_approach_and_the_hold_are_said() -> None:
    words = describe(load_procedure("tarnwick-vor-27"))

    assert "Not below 950 ft until radial 196 of MWX." in words
    assert (
        "Missed approach: climb on 270, then, no lower than 1,500 ft, turn right back to TWK and hold; climb to "
        "3,000 ft or above." in words
    )
    assert "Hold: over TWK, inbound on 270, turns to the right, outbound for 1 minute." in words


def test_where_the_runway_is_flown_to_by_eye_is_said() -> None:
    words = describe(load_procedure("ulvering-vor-24"))

    assert (
        "Visual segment: from 3.4 DME fly by eye to runway 24, which points 22 degrees to the left of 262; the course "
        "crosses its centre line 0.9 NM before the threshold." in words
    )


@pytest.mark.parametrize(
    ("begins", "words"),
    [
        (None, "from the missed approach point fly by eye to runway 22"),
        (Extent(minutes=2.0), "from 2 minutes after LQN fly by eye to runway 22"),
    ],
)
def test_where_it_begins_is_said(begins: Extent | None, words: str, lantern: Procedure) -> None:
    segment = VisualSegment(begins=begins)

    assert words in describe(lantern.model_copy(update={"visual_segment": segment}))


def test_circling_is_said_with_its_minimum_and_its_side() -> None:
    pellarin = load_procedure("pellarin-vor-17")
    circling = pellarin.circling
    assert circling is not None

    assert (
        "Circling: to runway 35, only on its right side as landed, so with turns to the right, not below 820 ft, 750 ft "
        "above its threshold, until the base turn. It points 344 degrees true." in describe(pellarin)
    )
    either = pellarin.model_copy(update={"circling": circling.model_copy(update={"side": None})})
    assert "Circling: to runway 35, not below 820 ft" in describe(either)


def test_what_the_final_is_flown_by_is_said() -> None:
    dunmarrow = load_procedure("dunmarrow-localiser-09")

    assert (
        "Guidance on final: a localiser 7,200 ft past the threshold, 078 degrees true. Full scale of the needle is 2.8 "
        "degrees to each side." in describe(dunmarrow)
    )
    by_satellite = dunmarrow.model_copy(update={"final_guidance": FinalGuidance(kind="satellite")})
    assert (
        "Guidance on final: a satellite course to the threshold, 078 degrees true. Full scale of the needle is 0.30 NM "
        "to each side." in describe(by_satellite)
    )
