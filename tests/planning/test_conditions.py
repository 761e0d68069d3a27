"""Speeds, winds and courses as people type them, and one clear line for what cannot be read."""

from __future__ import annotations

import pytest

from debrief.errors import PlanError
from debrief.planning.conditions import read_course, read_speed, read_speeds, read_wind


@pytest.mark.parametrize(
    ("text", "speeds_kt"),
    [
        ("120", (120.0,)),
        (" 97.5 ", (97.5,)),
        ("160-190", (160.0, 170.0, 180.0, 190.0)),
        ("155–178", (155.0, 165.0, 175.0, 178.0)),
        ("90-140", (90.0, 100.0, 110.0, 120.0, 130.0, 140.0)),
    ],
)
def test_a_speed_or_a_range_in_steps_of_ten_with_both_ends(text: str, speeds_kt: tuple[float, ...]) -> None:
    assert read_speeds(text) == speeds_kt


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (
            "fast",
            'the speed "fast" cannot be read. Give knots indicated, such as 120, or a range such as 160-190.',
        ),
        ("", 'the speed "" cannot be read. Give knots indicated, such as 120, or a range such as 160-190.'),
        (
            "-120",
            'the speed "-120" cannot be read. Give knots indicated, such as 120, or a range such as 160-190.',
        ),
        (
            "nan",
            'the speed "nan" cannot be read. Give knots indicated, such as 120, or a range such as 160-190.',
        ),
        ("39", "no approach is flown at 39 kt. Give an indicated airspeed of 40 to 400 kt."),
        ("120-401", "no approach is flown at 401 kt. Give an indicated airspeed of 40 to 400 kt."),
        (
            "190-160",
            "the range of speeds 190-160 does not run upwards. Give the lower speed first, such as 160-190.",
        ),
        ("100-200", "the range of speeds 100-200 is too wide for one card. Give one of 50 kt at most."),
    ],
)
def test_what_is_no_speed_is_told_in_a_line(text: str, line: str) -> None:
    with pytest.raises(PlanError) as caught:
        read_speeds(text)

    assert str(caught.value) == line


def test_the_final_has_one_speed() -> None:
    assert read_speed("95") == 95.0
    with pytest.raises(PlanError, match=r'^"90-100" is a range\. Give one speed here, in knots indicated\.$'):
        read_speed("90-100")


@pytest.mark.parametrize(
    ("text", "wind"),
    [("240/18", (240.0, 18.0)), ("360/5.5", (0.0, 5.5)), ("000/0", (0.0, 0.0)), ("90 / 12 kt", (90.0, 12.0))],
)
def test_where_the_wind_comes_from_and_its_knots(text: str, wind: tuple[float, float]) -> None:
    assert read_wind(text) == wind


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("240", 'the wind "240" cannot be read.'),
        ("18/240/3", 'the wind "18/240/3" cannot be read.'),
        ("٢٤٠/18", 'the wind "٢٤٠/18" cannot be read.'),
        ("361/10", "no wind comes from 361 degrees."),
        ("240/200", "nobody flies an approach in a wind of 200 kt."),
        ("x" * 300, f'the wind "{"x" * 23}…" cannot be read.'),
    ],
)
def test_what_is_no_wind_is_told_in_a_line(text: str, what: str) -> None:
    with pytest.raises(PlanError) as caught:
        read_wind(text)

    assert str(caught.value) == f"{what} Give where it comes from, in degrees true, and its knots: 240/18."


def test_an_arrival_course() -> None:
    assert (read_course("078"), read_course("360"), read_course("12.5")) == (78.0, 0.0, 12.5)
    for text in ("north", "361", "-10", ""):
        with pytest.raises(PlanError) as caught:
            read_course(text)
        assert str(caught.value) == (
            f'the arrival course "{text}" cannot be read. Give the magnetic course flown to the station, 0 to 360: 078.'
        )
