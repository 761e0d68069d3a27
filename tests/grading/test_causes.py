"""Causes before effects: each link with its evidence and without it, the chains, and the injected fault."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Literal, NamedTuple, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.grading.causes import Step, chains_of, explain, steps_between
from debrief.grading.evidence import Situation
from debrief.grading.links import LINKS
from debrief.grading.standard import RuleName
from debrief.measures.scene import scene_of
from debrief.pipeline import debrief
from debrief.result import Finding, Gate, Measures, Spread, Verdict
from tests.ensembles import FAULTS, Case, faulty_flights
from tests.grading import approach
from tests.measures import builders

BUILT = builders.whole_approach()
M = BUILT.marks
SEED = 6  # as in test_flights: each of these is flown once a process


def moment(at: str | float) -> datetime:
    """A mark of the built approach, a mark and seconds, or seconds."""
    if not isinstance(at, str):
        return builders.EPOCH + timedelta(seconds=at)
    name, _, seconds = at.partition(" + ")
    return builders.EPOCH + timedelta(seconds=M[name] + float(seconds or 0.0))


def finding(
    rule: str,
    phase: str,
    start: str | float,
    end: str | float | None = None,
    *,
    value: float | None = None,
    limit: float | None = None,
    unit: str | None = None,
    verdict: Verdict = "exceeded",
    number: int = 1,
) -> Finding:
    return Finding(
        number=number,
        rule=rule,
        phase=phase,
        start=moment(start),
        end=moment(end if end is not None else start),
        value=value,
        limit=limit,
        unit=unit,
        verdict=verdict,
        message=f"What {rule} says.",
        advice=f"What to do about {rule}.",
    )


def situation(case: Any = None) -> Situation:
    case = case if case is not None else approach.case()
    return Situation(scene=case.scene, measures=case.measures)


def spread(mean: float, most: float) -> Spread:
    return Spread(mean=mean, rms=abs(mean), max_abs=most, max_abs_time=moment("turn off"), uncertainty=0.1)


def gates(outside: Literal["rate", "course"]) -> dict[str, Any]:
    gate = Gate(
        height_ft=1000.0, time=moment("final + 20"), stable=False, reasons=("...",), outside=(outside,)
    )
    return {"final": {"gates": (gate,)}}


LEFT_OF_RADIAL = {"outbound": {"deviation_deg": spread(-9.5, 10.0), "turn_off_cross_track_nm": -0.9}}
RIGHT_OF_RADIAL = {"outbound": {"deviation_deg": spread(9.5, 10.0), "turn_off_cross_track_nm": 0.9}}
LATE = finding("turn_lead", "inbound", "turn + 40", value=-1.2, limit=-0.6, unit="NM")
EARLY = finding("turn_lead", "inbound", 100.0, value=1.2, limit=0.6, unit="NM")
MISSED = finding("station_missed", "inbound", "closest", value=2.4, limit=1.5, unit="NM")
MISSED_IN = finding("station_missed", "intermediate", "station", value=2.4, limit=1.5, unit="NM")
OFF_OUTBOUND = finding(
    "tracking", "outbound", "out of cone + 10", "turn off", value=9.5, limit=7.5, unit="deg"
)
OVERSHOOT = finding(
    "intercept_overshoot", "course_reversal", "onto course", "established", value=0.8, limit=0.4, unit="NM"
)
STEEP = finding("intercept_angle", "course_reversal", "onto course", value=75.0, limit=55.0, unit="deg")
NEVER = finding(
    "not_established", "course_reversal", "turn off", "into cone", value=8.5, limit=5.0, unit="deg"
)
TOO_FAR = finding(
    "reversal_distance", "course_reversal", "turn off", "established", value=10.6, limit=10.0, unit="NM"
)
FAST = finding(
    "reversal_speed", "course_reversal", "turn off", "established", value=240.0, limit=210.0, unit="kt"
)
LONG = finding("outbound_length", "outbound", "turn off", value=7.4, limit=6.7, unit="NM")
SHORT = finding("outbound_length", "outbound", "turn off", value=4.6, limit=5.3, unit="NM")
NO_REVERSAL = finding("reversal_missing", "course_reversal", "station", verdict="not flown")
OFF_INTERMEDIATE = finding("tracking", "intermediate", "established + 5", "into cone", value=9.0, limit=7.5)
AWAY = finding("reverse_sensing", "final", "final + 10", "final + 45", value=20.0, limit=8.0, unit="deg")
WOVEN = finding("weaving", "final", "final + 10", "final + 45", value=30.0, limit=20.0, unit="deg")
OFF_FINAL = finding("tracking", "final", "final + 20", "level", value=9.0, limit=7.5, unit="deg")
LOW_INBOUND = finding("altitude", "inbound", 60.0, "closest", value=3600.0, limit=3900.0, unit="ft")
LOW_OUTBOUND = finding(
    "altitude", "outbound", "out of cone", "turn off", value=3100.0, limit=3400.0, unit="ft"
)
LOW_ON_THE_WAY_IN = finding(
    "altitude", "course_reversal", "onto course + 2", "established", value=2400.0, limit=2700.0, unit="ft"
)
LOW_IN_THE_TURN = finding(
    "altitude", "course_reversal", "turn back", "onto course", value=2400.0, limit=2700.0, unit="ft"
)
LOW_INTERMEDIATE = finding(
    "altitude", "intermediate", "established", "into cone", value=2400.0, limit=2700.0, unit="ft"
)
BEFORE = finding("altitude_before_station", "inbound", 60.0, "closest", value=3600.0, limit=3900.0, unit="ft")
STEP = finding("step_down", "final", "final + 10", "final + 20", value=1500.0, limit=1700.0, unit="ft")
NEXT_STEP = finding("step_down", "final", "final + 25", "final + 35", value=900.0, limit=1100.0, unit="ft")
BELOW = finding("minimum_descent_altitude", "final", "level", "climb", value=800.0, limit=980.0, unit="ft")
SINKING = finding(
    "descent_rate", "final", "final + 30", "final + 40", value=1400.0, limit=1000.0, unit="ft/min"
)
UNSTABLE = finding("stabilised", "final", "final + 20", "climb")


class Chance(NamedTuple):
    """Two findings, the measures under which one explains the other, and those under which it does not."""

    cause: Finding
    effect: Finding
    with_evidence: dict[str, Any]
    without: dict[str, Any] | None  # None: the time or the certainty alone decides
    said: str


def turn(lead_nm: float, change_deg: float = -45.0) -> dict[str, Any]:
    return {"turn": {"lead_nm": lead_nm, "change_deg": change_deg}}


FAR = {"max_distance_nm": 10.6, "turn_start_distance_nm": 6.0}
CHANCES = (
    Chance(
        LATE,
        OFF_OUTBOUND,
        turn(-1.0) | RIGHT_OF_RADIAL,
        turn(-1.0) | LEFT_OF_RADIAL,
        "A turn begun 1.2 NM too late ends beside the outbound course, on the side where the leg then began (finding 2).",
    ),
    Chance(
        EARLY,
        OFF_OUTBOUND,
        turn(1.5) | LEFT_OF_RADIAL,
        turn(1.5) | RIGHT_OF_RADIAL,
        "A turn begun 1.2 NM too early ends beside the outbound course, on the side where the leg then began (finding 2).",
    ),
    Chance(
        MISSED,
        OFF_OUTBOUND,
        {},
        None,
        "With the station 2.4 NM aside, the outbound leg began beside its course (finding 2).",
    ),
    Chance(  # at 120 kt 1.2 NM are 36 s
        replace(EARLY, start=moment("closest + -45")),
        replace(BEFORE, start=moment("closest + -40")),
        {},
        None,
        "The descent to the next altitude began with the turn, and that was 1.2 NM too early (finding 2).",
    ),
    Chance(
        NEVER,
        MISSED_IN,
        {},
        None,
        "Not on the course on the way there, the aircraft passed 2.4 NM beside the station (finding 2).",
    ),
    Chance(
        OFF_INTERMEDIATE,
        MISSED_IN,
        {},
        None,
        "Not on the course on the way there, the aircraft passed 2.4 NM beside the station (finding 2).",
    ),
    Chance(
        OFF_OUTBOUND,
        OVERSHOOT,
        RIGHT_OF_RADIAL,
        LEFT_OF_RADIAL,
        "The offset outbound took 0.90 NM from the width of the reversal, and the turn in went through the course "
        "(finding 2).",
    ),
    Chance(
        WOVEN,
        OFF_FINAL,
        {},
        None,
        "One of the swings led beyond the tolerance of the course (finding 2).",
    ),
    Chance(
        WOVEN,
        UNSTABLE,
        gates("course"),
        gates("rate"),
        "In such swings the approach was not stabilised (finding 2).",
    ),
    Chance(
        OFF_OUTBOUND,
        STEEP,
        RIGHT_OF_RADIAL,
        LEFT_OF_RADIAL,
        "The offset outbound took 0.90 NM from the width of the reversal, and the course was met before the turn back "
        "was over (finding 2).",
    ),
    Chance(
        FAST,
        TOO_FAR,
        {"course_reversal": FAR},  # 4.6 NM x (1 - (200 / 240)^2) = 1.41 NM
        {"course_reversal": FAR | {"turn_start_distance_nm": 9.7}},  # 0.9 NM of it: 0.28 NM, of 0.6
        "At 240 kt the pattern takes 1.4 NM more than at 200 kt, and it went beyond its distance (finding 2).",
    ),
    Chance(
        LONG,
        TOO_FAR,
        {},
        None,
        "Begun 1.4 NM farther out than published, the reversal went beyond its distance (finding 2).",
    ),
    Chance(
        SHORT,
        NEVER,
        {},
        None,
        "The way back was 1.4 NM shorter for it, with that much less room to join the course (finding 2).",
    ),
    Chance(
        NO_REVERSAL,
        replace(BELOW, value=1100.0, limit=1080.0),
        {},
        None,
        "Without the reversal there was no room on the way in to turn onto the course and to lose height (finding 2).",
    ),
    Chance(
        OVERSHOOT,
        OFF_INTERMEDIATE,
        {},
        None,
        "The leg began on the far side of the course (finding 2).",
    ),
    Chance(
        NEVER,
        OFF_INTERMEDIATE,
        {},
        None,
        "Not on the course before, the aircraft was beside it on the next leg as well (finding 2).",
    ),
    Chance(
        OFF_INTERMEDIATE,
        OFF_FINAL,
        {},
        None,
        "The final began beside the course, as the leg before had ended (finding 2).",
    ),
    Chance(
        AWAY,
        OFF_FINAL,
        {},
        None,
        "Each turn away from the course led farther from it, beyond its tolerance (finding 2).",
    ),
    Chance(
        BEFORE,
        LOW_INBOUND,
        {},
        None,
        "It is the same descent that went through the minimum of the leg (finding 2).",
    ),
    Chance(
        LOW_INBOUND,
        replace(BEFORE, start=moment(90.0)),
        {},
        None,
        "The aircraft was low before the descent to the next leg was due (finding 2).",
    ),
    Chance(
        BEFORE,
        LOW_OUTBOUND,
        {},
        None,
        "The same descent went on through the minimum of the next leg (finding 2).",
    ),
    Chance(
        LOW_INBOUND,
        LOW_OUTBOUND,
        {},
        None,
        "Not corrected there, the altitude was low on the next leg as well (finding 2).",
    ),
    Chance(
        LOW_INTERMEDIATE,
        STEP,
        {},
        None,
        "From there the aircraft stayed too low, into the final (finding 2).",
    ),
    Chance(
        NEVER,
        SINKING,
        {"final": {"descent_start": moment("final + 25")}},
        {"final": {"descent_start": moment("final + 5")}},
        "The descent began 25 s into the final, and the rest of it was steep (finding 2).",
    ),
    Chance(
        STEP,
        NEXT_STEP,
        {},
        None,
        "The descent through the step went on through the next one (finding 2).",
    ),
    Chance(
        STEP,
        replace(BELOW, start=moment("final + 60")),
        {},
        None,
        "The descent through the step went on through the minimum (finding 2).",
    ),
    Chance(
        SINKING,
        replace(BELOW, start=moment("final + 50")),
        {},
        None,
        "At 1,400 ft/min there was no room left to level off, 20 s later (finding 2).",
    ),
    Chance(
        SINKING,
        replace(STEP, start=moment("final + 25")),  # it read "0 s later"
        {},
        None,
        "The aircraft went through the limit sinking at 1,400 ft/min (finding 2).",
    ),
    Chance(
        SINKING,
        UNSTABLE,
        gates("rate"),
        gates("course"),
        "With that rate the approach was not stabilised (finding 2).",
    ),
    Chance(
        OFF_FINAL,
        UNSTABLE,
        gates("course"),
        gates("rate"),
        "So far beside the course the approach was not stabilised (finding 2).",
    ),
)


def name_of(chance: Chance) -> str:
    return f"{chance.cause.rule} {chance.cause.value} to {chance.effect.rule} {chance.effect.phase}"


def said_of(cause: Finding, effect: Finding, at: Situation) -> list[str]:
    return [
        step.sentence for step in steps_between(at, [cause, replace(effect, number=2)]) if step.cause == 0
    ]


def changed(changes: dict[str, Any]) -> Situation:
    return situation(approach.case(measures=changes))


def test_a_later_step_does_not_explain_an_earlier_one() -> None:
    assert said_of(NEXT_STEP, STEP, situation(approach.case())) == []


@pytest.mark.parametrize(("aside_deg", "aside_nm"), [(30.0, "2.3"), (-45.0, "3.3")])
def test_passing_beside_the_station_comes_before_the_turn_there(aside_deg: float, aside_nm: str) -> None:
    """100 s out the station is 8 - 100 / 30 = 4.67 NM ahead; so many degrees of it are 2.33 and 3.30 NM aside."""
    at = situation(approach.case(measures=turn(4.67), clockwise=[(0.0, "turn", aside_deg)]))

    assert said_of(MISSED, EARLY, at) == [
        f"The aircraft was already {aside_nm} NM beside the station as the turn began, so no lead could fit (finding 2)."
    ]
    assert said_of(EARLY, MISSED, at) == []


def test_a_descent_long_before_the_station_is_not_the_early_turns() -> None:
    """60 s before it, where turning in place would have saved 36 and ten; 50 s before the turn; the turn late."""
    turned = replace(EARLY, start=moment("closest + -90"))
    at = situation(approach.case())

    assert said_of(turned, replace(BEFORE, start=moment("closest + -60")), at) == []
    assert said_of(turned, replace(BEFORE, start=moment("closest + -140")), at) == []
    assert said_of(replace(turned, value=-1.2), replace(BEFORE, start=moment("closest + -30")), at) == []


def test_turning_away_from_the_station_comes_before_missing_it() -> None:
    """Straight towards it until the turn begins: then the turn is why it was missed."""
    at = situation(approach.case(measures=turn(3.0)))

    assert said_of(EARLY, MISSED, at) == [
        "With the turn away begun 3.0 NM before it, the station was never reached (finding 2)."
    ]
    assert said_of(MISSED, EARLY, at) == []


@pytest.mark.parametrize("chance", CHANCES, ids=name_of)
def test_a_cause_is_told_with_its_evidence(chance: Chance) -> None:
    assert said_of(chance.cause, chance.effect, changed(chance.with_evidence)) == [chance.said]


@pytest.mark.parametrize("chance", [c for c in CHANCES if c.without is not None], ids=name_of)
def test_without_evidence_two_findings_stand_side_by_side(chance: Chance) -> None:
    assert said_of(chance.cause, chance.effect, changed(chance.without or {})) == []


@pytest.mark.parametrize("chance", CHANCES, ids=name_of)
def test_what_is_in_doubt_explains_nothing_that_is_certain(chance: Chance) -> None:
    doubtful = replace(chance.cause, verdict="marginal")
    at = changed(chance.with_evidence)

    assert said_of(doubtful, chance.effect, at) == []
    both = said_of(doubtful, replace(chance.effect, verdict="marginal"), at)
    assert both == [chance.said.replace("(finding 2)", "(finding 2, marginal)")]


@pytest.mark.parametrize("chance", [c for c in CHANCES if c.cause.rule != "station_missed"], ids=name_of)
def test_nothing_explains_what_came_before_it(chance: Chance) -> None:
    after = moment("end")
    late = replace(chance.cause, start=after, end=after)

    assert said_of(late, chance.effect, changed(chance.with_evidence)) == []


def test_a_longer_leg_does_not_explain_a_distance_that_it_is_far_too_short_for() -> None:
    little = replace(LONG, value=6.2)  # 0.2 NM of 0.6

    assert said_of(little, TOO_FAR, situation()) == []


def test_a_large_turn_explains_going_through_the_course() -> None:
    """1.80 NM of radius at 240 kt and 1.25 NM at 200 kt: v^2 / (g tan 25), by hand."""
    assert said_of(FAST, OVERSHOOT, situation()) == [
        "At 240 kt a turn has a radius of 1.8 NM, at 200 kt of 1.2 NM: it went through the course (finding 2)."
    ]
    assert said_of(FAST, replace(OVERSHOOT, value=2.0), situation()) == []


def test_a_steep_intercept_takes_more_room_than_one_of_45_degrees() -> None:
    """120 / (60 pi) = 0.637 NM of radius; less cos 75 more than cos 45: 0.29 NM."""
    said = said_of(STEEP, OVERSHOOT, situation())

    assert len(said) == 1
    assert said[0].startswith(
        "From 75 degrees the turn onto the course takes 0.29 NM more than from 45 degrees"
    )
    assert said_of(STEEP, replace(OVERSHOOT, value=1.2), situation()) == []


def test_a_descent_before_the_course_was_joined_follows_from_going_through_it() -> None:
    """Told first as a failure to level off, it hid that the turn had led through the course."""
    assert said_of(OVERSHOOT, LOW_ON_THE_WAY_IN, situation()) == [
        "Before it was back on the course the aircraft was let down below what holds there (finding 2)."
    ]
    assert said_of(OVERSHOOT, LOW_IN_THE_TURN, situation()) == []
    assert said_of(replace(OVERSHOOT, start=moment("established")), LOW_ON_THE_WAY_IN, situation()) == []


@pytest.mark.parametrize(("limit_ft_min", "one"), [(1000.0, True), (2000.0, False)])
def test_a_gate_passed_in_the_descent_that_was_steepest_before_it_follows_from_that(
    limit_ft_min: float, one: bool
) -> None:
    """Still at 1,170 ft/min between the two: told as two causes, it was one."""
    steepest = replace(SINKING, start=moment("final + 5"), end=moment("final + 15"), limit=limit_ft_min)
    gate = replace(UNSTABLE, start=moment("final + 40"))
    at = situation(approach.case(measures=gates("rate")))

    assert bool(said_of(steepest, gate, at)) is one


def test_a_short_leg_steepens_the_final_only_where_the_final_begins_with_it() -> None:
    on_aerodrome = builders.procedure(
        intermediate=None, final={"step_down": None, "missed_approach_point": None}
    )
    steep = replace(SINKING, number=2)

    assert said_of(SHORT, steep, situation()) == []
    assert said_of(SHORT, steep, situation(approach.case(on_aerodrome))) == [
        "The final was 1.4 NM shorter for it, with the same height to lose (finding 2)."
    ]


def test_going_through_the_course_and_never_joining_it_are_told_apart() -> None:
    """8.5 degrees all the way is one error; 16 degrees and then 8.5 is an overshoot that was corrected too late."""
    never = replace(NEVER, start=moment("onto course"))
    steady = situation(approach.case(clockwise=[("onto course", "station", 8.5)]))
    late = situation(
        approach.case(
            clockwise=[("onto course", "station", 8.5), ("established + 10", "established + 40", 7.5)]
        )
    )

    assert said_of(never, OVERSHOOT, steady) == [
        "The track stayed beside the course from the turn in, up to 0.80 NM from it (finding 2)."
    ]
    assert said_of(OVERSHOOT, never, steady) == []
    assert said_of(OVERSHOOT, never, late) == [
        "After going 0.80 NM through it, the course was not joined in what was left of the way (finding 2)."
    ]
    assert said_of(never, OVERSHOOT, late) == []


@pytest.mark.parametrize(
    ("bends", "cause_rule"),
    [
        ([("established + 10", "established + 40", 4.0)], "intercept_overshoot"),
        ([("established + 60", "station", 4.0)], "not_established"),
    ],
)
def test_coming_back_by_a_third_is_an_overshoot_and_going_out_is_none(
    bends: list[tuple[str, str, float]], cause_rule: str
) -> None:
    """12.5 degrees and then 8.5 is on its way back; 8.5 and then 12.5 is not."""
    never = replace(NEVER, start=moment("onto course"))
    flown = situation(approach.case(clockwise=[("onto course", "station", 8.5), *bends]))
    causes = [cause.rule for cause in (OVERSHOOT, never) if said_of(cause, never, flown)]
    causes += [never.rule for _ in said_of(never, OVERSHOOT, flown)]

    assert causes == [cause_rule]


@pytest.mark.parametrize(("cut_deg", "came_back"), [(22.0, True), (0.0, False)])
def test_flying_back_at_the_course_without_room_for_it_is_an_overshoot(
    cut_deg: float, came_back: bool
) -> None:
    """20 degrees beside it at 2.4 NM: 22 degrees of cut hold the needle where it is, up to the station."""
    plan = builders.procedure()
    inbound_true_deg = plan.true_deg(plan.inbound_course_deg)
    bearing = math.radians(inbound_true_deg + 200.0)
    path = builders.Path(
        2.4 * math.sin(bearing), 2.4 * math.cos(bearing), inbound_true_deg + cut_deg, 120.0, 2800.0
    ).straight(seconds=40.0)
    found = builders.attempt([("course_reversal", 0.0, 40.0)])
    flown = Situation(scene=scene_of(builders.flight(path, plan, found), found, None), measures=Measures())
    never = replace(NEVER, start=moment(0.0), end=moment(40.0))
    over = replace(OVERSHOOT, start=moment(0.0), end=moment(0.0))

    assert bool(said_of(over, never, flown)) == came_back
    assert bool(said_of(never, over, flown)) != came_back


def test_too_low_is_no_want_of_room() -> None:
    high = replace(BELOW, value=1100.0, limit=1080.0)

    assert said_of(NO_REVERSAL, BELOW, situation()) == []
    assert said_of(NO_REVERSAL, high, situation()) == [
        "Without the reversal there was no room on the way in to turn onto the course and to lose height (finding 2)."
    ]


@pytest.mark.parametrize(("published_ft", "high"), [(2800, False), (2000, True)])
def test_a_final_begun_as_low_as_published_is_not_steep_for_want_of_the_reversal(
    published_ft: int, high: bool
) -> None:
    """It begins at 2,500 to 2,800 ft; who had come down to the altitude before it had no height left to lose there."""
    at_or_above = {"altitude": {"at_or_above_ft": published_ft}}
    plan = builders.procedure(course_reversal=at_or_above, intermediate=at_or_above)

    said = said_of(NO_REVERSAL, replace(SINKING, number=2), situation(approach.case(plan)))

    assert bool(said) == high


def test_another_circuit_explains_nothing() -> None:
    spans = tuple(
        replace(span, circuit=1) if span.start_s >= M["turn off"] else span for span in BUILT.attempt.spans
    )
    second = situation(approach.case(attempt=replace(BUILT.attempt, spans=spans), measures=RIGHT_OF_RADIAL))

    assert said_of(OFF_OUTBOUND, OVERSHOOT, second) == []


# Chains


def explained(findings: list[Finding], **measures: Any) -> Any:
    case = approach.case(measures=measures)
    numbered = [replace(f, number=number) for number, f in enumerate(findings, start=1)]
    return explain(case.scene.flight, case.scene.attempt, case.measures, None, numbered)


def test_a_cause_is_told_with_the_chain_that_it_began() -> None:
    why = explained([OFF_OUTBOUND, BELOW, OVERSHOOT, LATE], **(turn(-1.0) | RIGHT_OF_RADIAL))

    assert [cause.rule for cause in why.causes] == ["minimum_descent_altitude", "turn_lead"]
    assert why.causes[1].leads_to == (0, 2)
    assert why.causes[1].start == LATE.start
    assert why.causes[1].message == (
        "What turn_lead says. A turn begun 1.2 NM too late ends beside the outbound course, on the side where the leg then began "
        "(finding 1). The offset outbound took 0.90 NM from the width of the reversal, and the turn in went through "
        "the course (finding 3)."
    )
    assert [practice.what for practice in why.practice] == [
        "Levelling off at the minimum",
        "The turn at the station",
    ]


def test_a_single_finding_is_its_own_cause() -> None:
    side = finding(
        "reversal_side", "course_reversal", "turn off", "established", value=1.8, limit=0.0, unit="NM"
    )
    why = explained([side])

    assert [(cause.rule, cause.message, cause.leads_to) for cause in why.causes] == [
        ("reversal_side", "What reversal_side says.", ())
    ]


def test_what_the_log_does_not_show_is_no_cause() -> None:
    hole = replace(finding("log_quality", "final", "final", "level"), verdict="marginal")

    assert explained([hole]).causes == ()
    assert explained([hole]).practice == ()
    assert explained([]).causes == ()


@st.composite
def graphs(draw: st.DrawFn) -> tuple[list[Finding], list[Step]]:
    """Findings, and steps that only lead from later indexes to earlier ones or the other way, without a ring."""
    count = draw(st.integers(1, 8))
    order = draw(st.permutations(range(count)))
    pairs = st.tuples(st.integers(0, count - 1), st.integers(0, count - 1))
    chosen = draw(st.lists(pairs, max_size=12))
    steps = [Step(order[a], order[b], "It followed.") for a, b in chosen if a < b]
    return [replace(BELOW, number=n + 1) for n in range(count)], steps


@given(graphs())
def test_every_finding_has_a_cause_and_of_equal_ones_the_graver_comes_first(
    graph: tuple[list[Finding], list[Step]],
) -> None:
    findings, steps = graph
    chains = chains_of(findings, steps)

    roots = [root for root, _ in chains]
    assert set(roots).isdisjoint({step.effect for step in steps})
    assert {index for root, effects in chains for index in (root, *effects)} == set(range(len(findings)))
    assert roots == sorted(roots)


def test_the_table_names_rules_that_exist() -> None:
    rules = set(get_args(RuleName))
    for link in LINKS:
        assert {link.cause, link.effect} <= rules - {"log_quality"}, link
        assert re.fullmatch(r"[A-Z].*\(finding \{finding\}\)\.", link.sentence), link.sentence


def test_every_sentence_of_the_table_is_said_here() -> None:
    """Each of the links, with the facts of its evidence; those of two rules that share one are told by one."""
    special = {
        "it went through the course",
        "more than from 45 degrees",
        "with the same height to lose",
        "up to {over} from it",
        "After going {over} through it",
        "Met at {angle}",
        "already {aside} beside the station",
        "With the turn away begun {lead}",
        "descended to the altitude of a later leg",
        "let down below what holds there",
    }
    heads = [re.split(r"\{", chance.said)[0] for chance in CHANCES]
    for link in LINKS:
        pattern = re.sub(r"\\\{\w+\\\}", ".+", re.escape(link.sentence))
        told = any(re.fullmatch(pattern, head) for head in heads)
        assert told or any(part in link.sentence for part in special), link.sentence


def test_a_steep_intercept_may_leave_the_course_unjoined() -> None:
    assert said_of(STEEP, NEVER, situation()) == [
        "Met at 75 degrees, the course was not joined in what was left of the way (finding 2)."
    ]


def test_a_missing_reversal_may_bring_the_way_in_down_to_a_later_leg() -> None:
    """A pilot who means to fly straight in descends on the inbound leg to the altitude of the legs that follow."""
    assert said_of(NO_REVERSAL, LOW_INBOUND, situation()) == [
        "Flown as the way in to the final, the inbound leg was descended to the altitude of a later leg (finding 2)."
    ]
    assert said_of(NO_REVERSAL, replace(LOW_INBOUND, value=1500.0), situation()) == []
    assert said_of(LOW_INBOUND, NO_REVERSAL, situation()) == []


def test_of_causes_side_by_side_the_earlier_comes_first() -> None:
    """A late turn at the station stood behind the overshoot that came of it, for no link's evidence held there."""
    causes = [cause.rule for cause in explained([OVERSHOOT, LATE]).causes]
    assert causes == ["turn_lead", "intercept_overshoot"]


def test_what_keeps_clear_of_terrain_comes_before_what_was_earlier() -> None:
    causes = [cause.rule for cause in explained([LATE, BELOW]).causes]
    assert causes == ["minimum_descent_altitude", "turn_lead"]


# Whole flights

#: The rules that a fault may be named by, by hand: what the pilot did, not what came of it.
ANSWERS = {
    "wrong side": {"reversal_side"},
    "no reversal": {"reversal_missing"},
    "low on a leg": {"altitude", "altitude_before_station"},  # low until the passage is both
    "down before the station": {"altitude_before_station"},
    "below the minimum": {"minimum_descent_altitude"},
    "below a step": {"step_down"},
    "late turn at the station": {"turn_lead"},
    "early turn at the station": {"turn_lead"},
    "off the radial outbound": {"tracking"},
    "off the course on final": {"tracking"},
    "outbound too long": {"outbound_length"},
    "outbound too short": {"outbound_length"},
    "too far": {"reversal_distance", "outbound_length"},  # flown on outbound until the pattern is too far out
    "too fast": {"reversal_speed"},
    "overshoot": {"intercept_overshoot"},
    "steep intercept": {"intercept_angle"},
    "never established": {"not_established"},
    "station missed": {"station_missed"},
    "steep descent": {"descent_rate"},
    "late climb away": {"missed_approach"},
    "chasing the needle": {"needle_chasing"},
    "weaving on final": {"weaving"},
    "chasing in the cone": {"needle_chasing"},
    "needle read the wrong way round": {"reverse_sensing"},
}


@pytest.fixture(scope="module")
def faulty() -> list[Case]:
    return list(faulty_flights(len(FAULTS), SEED))


@pytest.mark.parametrize("number", range(len(FAULTS)), ids=list(FAULTS))
def test_the_injected_fault_is_the_first_cause(faulty: list[Case], number: int) -> None:
    case = faulty[number]
    attempt = debrief(case.track, case.procedure).attempts[-1]

    assert attempt.causes[0].rule in ANSWERS[case.fault], (case.name, attempt.causes[0].message)
    assert attempt.causes[0].message.startswith(
        next(f.message for f in attempt.findings if f.rule == attempt.causes[0].rule)
    )
    assert 1 <= len(attempt.practice) <= 3


def test_what_decides_the_result_is_told_before_what_is_advisory_only() -> None:
    """A steep intercept, on which the result did not depend, took the place on page one of a failed final."""
    case = approach.case()
    found = [replace(f, number=number) for number, f in enumerate((STEEP, OFF_FINAL, SINKING), start=1)]

    def rules(**given: Any) -> list[str]:
        why = explain(case.scene.flight, case.scene.attempt, case.measures, None, found, **given)
        return [cause.rule for cause in why.causes]

    assert rules()[0] == "intercept_angle"  # the earlier, where all decide
    assert rules(advisory={("intercept_angle", "deg")})[-1] == "intercept_angle"
