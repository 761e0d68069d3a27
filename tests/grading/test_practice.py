"""What to practise: each exercise whole, with this flight's numbers, worked by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any, NamedTuple, get_args

import pytest

from debrief.grading.evidence import Situation
from debrief.grading.exercises import EXERCISES
from debrief.grading.findings import findings
from debrief.grading.practice import practice
from debrief.grading.rules import assess
from debrief.grading.standard import RuleName
from debrief.procedures.model import Procedure
from debrief.result import CirclingMeasures, Finding, Gate, Practice, Range, Wind
from tests.grading import approach
from tests.measures import builders
from tests.measures.plan import INBOUND_TRUE_DEG, THRESHOLD_NM, place

TIMED = builders.procedure(outbound={"length": {"minutes": 2.5}})
PUBLISHED_MISSED = builders.procedure(missed_approach={"altitude": {"at_or_above_ft": 3000}})
BY_ARC = builders.procedure(arc={"dme_nm": 10.0, "direction": "clockwise"})
ON_AERODROME = builders.procedure(final={"missed_approach_point": {"minutes": 2.2}})
HIGHEST = builders.procedure(inbound={"altitude": {"at_or_below_ft": 4100}})
FAR_END = place(THRESHOLD_NM + 0.9, INBOUND_TRUE_DEG)
CIRCLING = builders.procedure(
    circling={
        "altitude": {"at_or_above_ft": 1300},
        "side": "left",
        "runway": {
            "ident": "04",
            "latitude": FAR_END[0],
            "longitude": FAR_END[1],
            "elevation_ft": 200.0,
            "course_true_deg": 37.0,
        },
    }
)
CIRCLED = CirclingMeasures(
    start=builders.EPOCH,
    runway="04",
    minimum_ft=1300.0,
    side="right",
    farthest_aside_nm=1.1,
    farthest_nm=2.0,
    lowest_altitude_ft=1100.0,
    base_turn=builders.EPOCH,
    base_turn_altitude_ft=1100.0,
    lined_up=None,
    lined_up_before_threshold_nm=None,
    lined_up_height_ft=None,
)
#: From the right of the outbound course, 037 true, 30 kt; 120 kt over the ground are 123.7 kt through the air, and
#: asin(30 / 123.7) = 14.0 deg.
FROM_THE_RIGHT = Wind(
    from_true_deg=127.0, speed_kt=30.0, speed_uncertainty_kt=1.0, tas_kt=120.0, method="by hand"
)


IN_THE_TURN_BACK = builders.EPOCH + timedelta(seconds=builders.whole_approach().marks["turn back"] + 30.0)


class Asked(NamedTuple):
    """A finding by its rule, phase, value, limit and unit; the flight; and what the exercise must say."""

    variant: str
    finding: tuple[str, str, float | None, float | None, str | None]
    exercise: str
    aim: str
    measures: dict[str, Any] = {}  # noqa: RUF012 (never changed)
    plan: Procedure | None = None
    wind: Wind | None = None
    until: str | None = None  # the mark of the flight up to which it lasted, from the turn onto the course on


ASKED = (
    Asked(
        "low",
        ("altitude", "outbound", 3300.0, 3400.0, "ft"),
        "Fly the outbound leg three times: set 3,550 ft beforehand",
        "Within 50 ft of 3,550 ft, and never below 3,500 ft.",
    ),
    Asked(
        "early",
        ("altitude", "course_reversal", 2500.0, 2700.0, "ft"),
        "Fly the way back in three times at 2,800 ft: say aloud that the needle is within half its scale",
        "Within 50 ft of 2,850 ft until established.",
        until="established",
    ),
    Asked(
        "high",
        ("altitude", "inbound", 4300.0, 4200.0, "ft"),
        "be level at 4,050 ft in its first half.",
        "Within 50 ft of 4,050 ft from the middle of the leg on.",
        plan=HIGHEST,
    ),
    Asked(
        "",
        ("altitude_before_station", "intermediate", 2500.0, 2700.0, "ft"),
        "Fly three station passages at 2,800 ft: wait until the needle has swung",
        "Within 50 ft of 2,800 ft at each passage.",
    ),
    Asked(
        "low",
        ("minimum_descent_altitude", "final", 800.0, 980.0, "ft"),
        "Fly three descents to 980 ft: begin to level off 120 ft above it",
        "Lowest altitude between 980 ft and 1,030 ft.",
        {"final": {"max_descent_rate_ft_min": 1200.0}},
    ),
    Asked(
        "high",
        ("minimum_descent_altitude", "final", 1200.0, 1080.0, "ft"),
        "Fly level at 980 ft three times",
        "Between 980 ft and 1,030 ft for the whole minute.",
    ),
    Asked(
        "circling",
        ("minimum_descent_altitude", "final", 1100.0, 1300.0, "ft"),
        "Fly three circuits at 1,300 ft to the runway circled to",
        "Between 1,300 ft and 1,400 ft up to each base turn.",
        {"circling": CIRCLED},
        plan=CIRCLING,
    ),
    Asked(
        "side",
        ("minimum_descent_altitude", "final", None, None, None),
        "Brief three circling approaches aloud, with the side of the runway, and fly each at 1,300 ft on that side.",
        "Every circuit on the left side of runway 04.",
        {"circling": CIRCLED},
        plan=CIRCLING,
    ),
    Asked(
        "",
        ("step_down", "final", 1500.0, 1700.0, "ft"),
        "say the step before it: 1,700 ft until 2.0 DME. Level off at 1,750 ft and wait there until then.",
        "Never below 1,700 ft before 2.0 DME.",
    ),
    Asked(
        "",
        ("tracking", "outbound", 9.0, 7.5, "deg"),
        "Fly the 048 radial three times for three minutes: correct by 10 degrees",
        "Within 4 degrees of the centre for the whole three minutes.",
    ),
    Asked(
        "wind",
        ("tracking", "outbound", 9.0, 7.5, "deg"),
        "begin on heading 062, which allows for the wind",
        "Within 4 degrees of the centre for the whole three minutes.",
        wind=FROM_THE_RIGHT,
    ),
    Asked(
        "",
        ("not_established", "course_reversal", 8.5, 5.0, "deg"),
        "Fly three intercepts of the 228 course at 45 degrees",
        "Within 5 degrees at the latest 60 s after the needle begins to move.",
    ),
    Asked(
        "",
        ("station_missed", "inbound", 2.4, 1.5, "NM"),
        "Fly three passages of the station from 10 NM out",
        "Closest point within 0.50 NM of the station each time.",
    ),
    Asked(
        "lead",
        ("turn_lead", "inbound", 0.9, 0.6, "NM"),
        "three times at 120 kt with a change of 45 degrees: begin it 8 s before the passage.",
        "Begun within 0.30 NM of the right place, 0.26 NM before the station.",
        {"turn": {"exact_lead_nm": 0.264, "groundspeed_kt": 120.0, "change_deg": -45.0}},
    ),
    Asked(
        "overhead",
        ("turn_lead", "inbound", -0.9, -0.6, "NM"),
        "with a change of 130 degrees: set the next course beforehand",
        "Begun no later than 0.30 NM past the station.",
        {"turn": {"exact_lead_nm": 1.4, "change_deg": -130.0}},
    ),
    Asked(
        "distance",
        ("outbound_length", "outbound", 7.4, 6.7, "NM"),
        "have the first heading of the reversal ready at 5.5 DME, and turn at 6.0.",
        "The turn begun within 0.35 NM of 6.0 DME.",
    ),
    Asked(
        "time",
        ("outbound_length", "outbound", 190.0, 170.0, "s"),
        "say each half minute, and turn at 2:30.",
        "The turn begun within 10 s of 2:30.",
        plan=TIMED,
    ),
    Asked(
        "",
        ("reversal_missing", "course_reversal", None, None, None),
        "Draw the 45/180 and say its headings and times",
        "All of its turns flown in three of three.",
    ),
    Asked(
        "",
        ("reversal_side", "course_reversal", 1.8, 0.0, "NM"),
        "say the side and the first heading aloud, left and 003.",
        "Three of three to the left, with the first heading within 5 degrees of 003.",
    ),
    Asked(
        "",
        ("reversal_distance", "course_reversal", 10.6, 10.0, "NM"),
        "slowed down before the station, and say the distance from it at each turn.",
        "Farthest point within 9.5 NM of the station; 10.0 NM is the limit.",
        {"course_reversal": {"turn_start_distance_nm": None}},
    ),
    Asked(
        "turn by",
        ("reversal_distance", "course_reversal", 10.6, 10.0, "NM"),
        "with its first turn begun no farther than 4.9 NM from the station.",  # 9.5 - (10.6 - 6.0)
        "Farthest point within 9.5 NM of the station; 10.0 NM is the limit.",
        {"course_reversal": {"turn_start_distance_nm": 6.0}},
    ),
    Asked(
        "",
        ("reversal_speed", "course_reversal", 240.0, 210.0, "kt"),
        "Slow down to 190 kt indicated in level flight three times",
        "Within 5 kt of 190 kt indicated from the station until established inbound.",
    ),
    Asked(
        "",
        ("weaving", "final", 30.0, 20.0, "deg"),
        "three times from half a mile aside",
        "Swings of the track of less than 10 degrees once the needle is inside half its scale.",
    ),
    Asked(
        "",
        ("intercept_angle", "course_reversal", 75.0, 55.0, "deg"),
        "roll out on a track of 183 or 273, 45 degrees from the course",
        "The course met at 30 to 45 degrees.",
    ),
    Asked(
        "lead",
        ("intercept_overshoot", "course_reversal", 0.8, 0.4, "NM"),
        # 0.637 NM x (1 - cos 45)
        "Fly the turn onto the 228 course three times at 120 kt from 45 degrees: begin it 0.19 NM before the course",
        "No more than 0.20 NM through the course.",
    ),
    Asked(
        "turning",
        ("intercept_overshoot", "course_reversal", 0.8, 0.4, "NM"),
        # twice 0.637 NM
        "before the turn back say how far the 228 course is and that the turn takes 1.3 NM at 120 kt",
        "No more than 0.20 NM through the course.",
        {"intercept": {"crossed": IN_THE_TURN_BACK, "angle_time": None}},
    ),
    Asked(
        "",
        ("descent_rate", "final", 1400.0, 1000.0, "ft/min"),
        # 100 kt x 101.27 ft/min for each knot x tan 3: 530.7
        "Fly the final three times at 100 kt: set 530 ft/min as the descent begins",
        "Between 380 ft/min and 680 ft/min down to the minimum.",
        {"final": {"required_angle_deg": 3.0, "groundspeed_kt": Range(min=95.0, mean=100.0, max=105.0)}},
    ),
    Asked(
        "slower",
        ("descent_rate", "final", 1400.0, 1000.0, "ft/min"),
        # 180 kt on 3 deg take 955.3; 800 are left at 150.7 kt
        "three times at 151 kt over the ground, slowed down before it: a path of 3 degrees then takes 800 ft/min.",
        "Between 650 ft/min and 950 ft/min down to the minimum.",
        {"final": {"required_angle_deg": 3.0, "groundspeed_kt": Range(min=170.0, mean=180.0, max=190.0)}},
    ),
    Asked(
        "",
        ("stabilised", "final", None, None, None),
        "at 500 ft above the runway say rate, course and speed aloud",
        "All of them inside their limits from 500 ft down.",
        {
            "final": {
                "gates": (
                    Gate(height_ft=1000.0, time=builders.EPOCH, stable=True, reasons=()),
                    Gate(height_ft=500.0, time=builders.EPOCH, stable=False, reasons=("sinking",)),
                )
            }
        },
    ),
    Asked(
        "late",
        ("missed_approach", "missed_approach", 0.9, 0.5, "NM"),
        "at 4.6 DME say the decision aloud",
        "The climb begun within 0.25 NM past that point.",
    ),
    Asked(
        "late",
        ("missed_approach", "missed_approach", 0.9, 0.5, "NM"),
        "at 2:12 from the final fix say the decision aloud",
        "The climb begun within 0.25 NM past that point.",
        plan=ON_AERODROME,
    ),
    Asked(
        "climb",
        ("missed_approach", "missed_approach", 300.0, 500.0, "ft/min"),
        "full power and the pitch for 500 ft/min within 5 s",
        "500 ft/min or more over the first minute.",
    ),
    Asked(
        "",
        ("reverse_sensing", "final", 20.0, 8.0, "deg"),
        "Fly the 228 course three times from 3 degrees beside it",
        "The first turn towards the needle in three of three, and the needle back within 1 degree.",
    ),
    Asked(
        "",
        ("needle_chasing", "final", 14.0, 6.0, "deg"),
        "Fly the 228 course three times for three minutes with the clock",
        "No more than three corrections a minute, and none beyond 5 degrees.",
    ),
    Asked(
        "cone",
        ("needle_chasing", "station_passage", 14.0, 6.0, "deg"),
        "Fly three station passages: note the heading that keeps the needle still a mile before",
        "Within 3 degrees of that heading all through the cone.",
    ),
    Asked(
        "path",
        ("missed_approach", "missed_approach", 22.0, 10.0, "deg"),
        "before three finals: course 228, then the turn, then 3,000 ft",
        "The course within 5 degrees, and level within 50 ft of 3,000 ft.",
        plan=PUBLISHED_MISSED,
    ),
    Asked(
        "",
        ("arc", "inbound", 1.6, 1.0, "NM"),
        "Fly 60 degrees of the arc of 10.0 DME three times",
        "Within 0.5 NM of 10.0 DME, at its altitude, all the way.",
        plan=BY_ARC,
    ),
)
LEFT = ("altitude", "left")  # hangs on the altitude flown: see its own test
TOO_NEAR = ("descent_rate", "steep")  # hangs on where the final began: see test_path_advised
NO_POSITION = ("intercept_overshoot", "")  # where nothing was observed at that moment: see its own test


def made(asked: Asked, *, at_s: float | None = None) -> tuple[Situation, Finding]:
    rule, phase, value, limit, unit = asked.finding
    case = approach.case(asked.plan, measures=asked.measures, wind=asked.wind)
    marks = builders.whole_approach().marks
    begin = "turn back" if asked.until is None else "onto course"
    moment = case.scene.time(marks[begin] if at_s is None else at_s)
    finding = Finding(
        number=1,
        rule=rule,
        phase=phase,
        start=moment,
        end=moment if asked.until is None else case.scene.time(marks[asked.until]),
        value=value,
        limit=limit,
        unit=unit,
        verdict="exceeded",
        message="What was found.",
        advice="What to do.",
    )
    return Situation(scene=case.scene, measures=case.measures), finding


def asked_of(asked: Asked) -> Practice:
    at, finding = made(asked)
    return practice(at, [finding])[0]


def name_of(asked: Asked) -> str:
    return f"{asked.finding[0]}, {asked.variant or 'plain'}, {'changed' if asked.plan else 'as built'}"


@pytest.mark.parametrize("asked", ASKED, ids=name_of)
def test_the_exercise_has_this_flights_numbers(asked: Asked) -> None:
    said = asked_of(asked)

    assert asked.exercise in said.exercise
    assert said.aim == asked.aim


@pytest.mark.parametrize("asked", ASKED, ids=name_of)
@pytest.mark.parametrize("verdict", ["exceeded", "marginal", "not flown"])
def test_every_text_is_whole_and_speaks_of_the_flying(asked: Asked, verdict: Any) -> None:
    at, finding = made(asked)
    said = practice(at, [replace(finding, verdict=verdict)])[0]

    assert not said.what.endswith(".")
    for text in (said.what + ".", said.exercise, said.aim):
        assert re.fullmatch(r"[A-Z0-9].*[.]", text), text
        assert not re.search(r"None|nan|inf\b|unknown|[{}]|  | [.,;:]|\.\.", text), text
        assert not re.search(r"\b(you|your|pilot|student|poor|bad|careless)\b", text, re.IGNORECASE), text
    assert re.search(r"\d|three|left|right", said.aim), said.aim
    assert re.search(r"\d|three", said.exercise), said.exercise


def test_who_left_a_leg_for_the_next_ones_altitude_practises_keeping_it() -> None:
    off_s = builders.whole_approach().marks["turn off"]
    flown = approach.case(higher=[(off_s - 8.0, off_s + 60.0, -300.0)])
    low = next(f for f in findings(flown, assess(flown)) if f.rule == "altitude")

    said = practice(Situation(scene=flown.scene, measures=flown.measures), [low])[0]

    assert said.what == "Keeping 3,500 ft to the end of the outbound leg"
    assert said.exercise.startswith(
        "Fly the outbound leg three times at 3,500 ft: say beforehand what ends it"
    )
    assert said.aim == "Within 50 ft of 3,550 ft to the end of the leg."


def test_every_exercise_is_given_here_and_every_rule_has_one() -> None:
    given = {(asked.finding[0], asked.variant) for asked in ASKED} | {NO_POSITION, LEFT, TOO_NEAR}

    assert given == set(EXERCISES)
    assert {rule for rule, _ in EXERCISES} == set(get_args(RuleName)) - {"log_quality"}


def test_where_the_speed_was_not_observed_the_needle_tells_when_to_turn() -> None:
    overshoot = next(asked for asked in ASKED if asked.finding[0] == "intercept_overshoot")
    at, finding = made(overshoot, at_s=-5000.0)

    said = practice(at, [finding])[0]
    assert "begin it as the needle leaves its stop" in said.exercise
    assert said.aim == "No more than 0.20 NM through the course."


def test_three_at_most_in_the_order_of_the_causes_and_none_twice() -> None:
    rules = ["reversal_speed", "altitude", "step_down", "station_missed"]
    chosen = [next(made(asked) for asked in ASKED if asked.finding[0] == rule) for rule in rules]
    at = chosen[0][0]
    findings = [replace(finding, number=number) for number, (_, finding) in enumerate(chosen, start=1)]

    said = practice(at, [findings[0], findings[1], findings[1], findings[2], findings[3]])

    assert [entry.what for entry in said] == [
        "The speed for the reversal",
        "Levelling off on the outbound leg",
        "The step-down on final",
    ]
    assert [entry.finding for entry in said] == [finding.number for finding in findings[:3]]


@pytest.mark.parametrize("kind", ["VOR/DME", "NDB/DME"])
def test_by_a_pointer_the_exercise_speaks_of_bearings(kind: str) -> None:
    overshoot = next(asked for asked in ASKED if asked.finding[0] == "intercept_overshoot" and not asked.plan)
    station = builders.procedure().station.model_copy(update={"kind": kind})
    plan = builders.procedure().model_copy(update={"station": station})

    said = asked_of(overshoot._replace(plan=plan)).exercise

    assert ("needle" in said, "bearing" in said) == ((True, False) if kind == "VOR/DME" else (False, True))
