"""The course reversal and the intercept at their limits."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from debrief.grading.sentences import message
from debrief.measures.least_airspeed import least_airspeed_kias
from debrief.phases.model import FoundAttempt, NotSeen
from debrief.procedures.model import Phase
from tests.grading.approach import assessed, case, outcomes, with_rule
from tests.measures import builders

BUILT = builders.whole_approach()


def test_an_angle_that_the_log_cannot_show_is_no_doubt_about_the_flying() -> None:
    """With a position every 59 s it was told as 61 degrees, marginal, "the log is only sure to 83.1 degrees"."""
    unsure = {"intercept": {"angle_deg": 61.0, "angle_uncertainty_deg": 83.0}}
    judged = assessed(case(measures=unsure), "intercept_angle")

    assert (judged.outcome, judged.value) == ("not assessable", None)
    assert judged.reason.startswith("the angle is only sure to ")


def test_the_published_pattern_flown() -> None:
    flown = case()

    judged = assessed(flown, "reversal_missing")
    assert (judged.outcome, judged.variant) == ("within", "flown")
    assert assessed(flown, "reversal_side").outcome == "within"


@pytest.mark.parametrize("pattern", ["80/260", "teardrop", None])
def test_another_shape_is_the_pilots_choice(pattern: str | None) -> None:
    """AIM 5-4-9 a.1: the point, the kind and the rate of the turn are the pilot's. Mark: seen."""
    judged = assessed(case(measures={"course_reversal": {"pattern": pattern}}), "reversal_missing")

    assert (judged.outcome, judged.variant) == (
        "within",
        "another",
    )  # and nobody is told the published one was flown


def test_a_turn_straight_back_is_no_reversal() -> None:
    judged = assessed(case(measures={"course_reversal": {"pattern": "straight turn"}}), "reversal_missing")

    assert (judged.outcome, judged.variant) == ("not flown", "straight")
    assert judged.facts["first"] == "003"  # 45 degrees left of radial 048


def _without_reversal(why: str) -> dict[str, FoundAttempt]:
    gone = (Phase.OUTBOUND, Phase.COURSE_REVERSAL, Phase.INTERMEDIATE)
    found = replace(
        BUILT.attempt,
        spans=tuple(span for span in BUILT.attempt.spans if span.phase not in gone),
        not_seen=tuple(NotSeen(phase=phase, why=why) for phase in gone),  # type: ignore[arg-type]
        turn_off_s=None,
    )
    return {"attempt": found}


def test_straight_in_where_a_reversal_is_published() -> None:
    judged = assessed(case(**_without_reversal("not flown")), "reversal_missing")

    assert (judged.outcome, judged.variant) == ("not flown", "left out")


def test_straight_in_without_crossing_the_station_is_told_from_where_the_course_was_joined() -> None:
    """It was told to have gone "from the station", 13 NM away from it, or by the crossing at the end of the final."""
    found = _without_reversal("not flown")["attempt"]
    final = found.last(Phase.FINAL)
    over_the_end = replace(BUILT.attempt.passages[0], t_s=final.end_s - 5.0)
    for passages in ((), (over_the_end,)):
        judged = assessed(case(attempt=replace(found, passages=passages)), "reversal_missing")

        assert (judged.outcome, judged.variant) == ("not flown", "left out, joined")
        assert judged.at_s == final.start_s
        assert "joined the inbound course at" in message(judged)


def test_a_reversal_in_a_gap_was_not_left_out() -> None:
    judged = assessed(case(**_without_reversal("not observed")), "reversal_missing")

    assert judged.outcome == "not assessable"


def test_the_wrong_side() -> None:
    judged = assessed(case(measures={"course_reversal": {"side": "right", "width_nm": 1.6}}), "reversal_side")

    assert judged.outcome == "exceeded"
    assert (judged.value, judged.limit, judged.unit) == (1.6, 0.0, "NM")
    assert (judged.facts["flown"], judged.facts["published"]) == ("right", "left")
    # the value in the table: 1.6 NM of what, otherwise
    assert "as far as 1.6 NM beside it" in message(judged)


@pytest.mark.parametrize(
    ("share", "outcome"), [(None, "exceeded"), (0.2, "exceeded"), (0.5, "not assessable")]
)
def test_nobody_is_failed_for_a_side_that_only_the_farther_excursion_tells(
    share: float | None, outcome: str
) -> None:
    flown = {"side": "right", "width_nm": 1.2, "other_side_share": share}

    assert outcomes(case(measures={"course_reversal": flown}), "reversal_side") == [outcome]


def test_a_side_that_could_not_be_told_is_not_wrong() -> None:
    assert outcomes(case(measures={"course_reversal": {"side": None}}), "reversal_side") == ["not assessable"]


@pytest.mark.parametrize(("within", "outcome"), [(0.01, "within"), (-0.01, "marginal"), (-0.05, "exceeded")])
def test_the_farthest_point(within: float, outcome: str) -> None:
    """The farthest point of the path, by a scan of its exact positions; the limit is put beside it."""
    t_s = np.arange(BUILT.marks["turn off"], BUILT.marks["established"], 0.05)
    at = BUILT.path.at(t_s)
    farthest_nm = float(np.hypot(at["east"], at["north"]).max())
    plan = builders.procedure(course_reversal={"within_nm": farthest_nm + within})
    judged = assessed(case(plan), "reversal_distance")

    assert judged.outcome == outcome
    assert judged.value == pytest.approx(farthest_nm, abs=0.002)


def test_the_advice_keeps_the_margin_that_the_exercise_asks_for() -> None:
    """Half a mile inside the limit, as the exercise says: the two named different distances to begin the turn at."""
    at = BUILT.path.at(np.arange(BUILT.marks["turn off"], BUILT.marks["established"], 0.05))
    farthest_nm = float(np.hypot(at["east"], at["north"]).max())
    judged = assessed(
        case(builders.procedure(course_reversal={"within_nm": farthest_nm - 0.5})), "reversal_distance"
    )
    begun_nm = BUILT.path.distance_nm(BUILT.marks["turn off"])

    assert judged.variant == "turn by"
    assert float(judged.facts["turn_by"].split()[0]) == pytest.approx(begun_nm - 1.0, abs=0.06)


@pytest.mark.parametrize(("kias", "outcome"), [(209.0, "within"), (213.0, "marginal"), (216.0, "exceeded")])
def test_ten_knots_over_the_published_speed_are_allowed(kias: float, outcome: str) -> None:
    speed = {"max_airspeed_kias": kias, "max_airspeed_uncertainty_kt": 5.0}
    judged = assessed(case(measures={"course_reversal": speed}), "reversal_speed")

    assert judged.outcome == outcome
    assert (judged.value, judged.limit) == (kias, 210.0)


def test_without_wind_and_airspeed_a_plausible_speed_is_not_judged() -> None:
    """Flown at 120 kt each way: the airspeed was at least about that, and the limit is far above it."""
    assert outcomes(case(), "reversal_speed") == ["not assessable"]


def test_without_wind_a_speed_that_no_wind_explains_is_found() -> None:
    """120 kt over the ground each way is 120 kt true or more, about 115 indicated at 3,000 ft."""
    plan = builders.procedure(course_reversal={"max_speed_kias": 90})
    judged = assessed(case(plan), "reversal_speed")

    assert (judged.outcome, judged.variant) == ("exceeded", "at least")
    assert judged.value == pytest.approx(115.0, abs=2.0)


def test_half_the_difference_of_two_ground_speeds_bounds_the_airspeed() -> None:
    """Ground speed 120 kt in every direction; only a straight part shows nothing."""
    scene = case().scene
    turning = least_airspeed_kias(scene, BUILT.marks["turn back"], BUILT.marks["turn back"] + 60.0)
    straight = least_airspeed_kias(scene, BUILT.marks["turn off"] - 40.0, BUILT.marks["turn off"] - 20.0)

    assert turning is not None
    assert straight is not None
    assert turning[0] == pytest.approx(115.0, abs=2.0)
    assert straight[0] == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize(("limit_deg", "outcome"), [(45.1, "within"), (43.5, "marginal"), (42.5, "exceeded")])
def test_the_intercept_angle(limit_deg: float, outcome: str) -> None:
    """The path meets the course at 45 degrees, for 7 s."""
    angle = {"angle_deg": 45.0, "angle_uncertainty_deg": 2.0}
    steep = with_rule("intercept_angle", at_most=limit_deg)
    judged = assessed(case(measures={"intercept": angle}, standard=steep), "intercept_angle")

    assert judged.outcome == outcome
    assert (judged.value, judged.limit) == (45.0, limit_deg)
    assert judged.uncertainty == pytest.approx(2.0, abs=0.1)


def test_an_angle_read_in_the_turn_is_no_intercept() -> None:
    """80 degrees off the course the path is turning by 3 deg/s: 3 s later it is down to 71."""
    angle = {"angle_deg": 80.0, "angle_uncertainty_deg": 2.0}
    judged = assessed(case(measures={"intercept": angle}), "intercept_angle")

    assert judged.uncertainty == pytest.approx(2.0 + 9.0, abs=2.5)


def test_a_base_turn_ends_at_the_course_and_has_no_angle() -> None:
    plan = builders.procedure(
        outbound={"radial_deg": 60}, course_reversal={"pattern": "base turn", "leg_seconds": None}
    )
    steep = {"angle_deg": 80.0, "angle_uncertainty_deg": 2.0}

    assert outcomes(case(plan, measures={"intercept": steep}), "intercept_angle") == []


@pytest.mark.parametrize(
    ("over_nm", "outcome"), [(0.0, "within"), (0.39, "within"), (0.42, "marginal"), (0.46, "exceeded")]
)
def test_the_overshoot(over_nm: float, outcome: str) -> None:
    over = {"overshoot_nm": over_nm, "overshoot_uncertainty_nm": 0.05}
    judged = assessed(case(measures={"intercept": over}), "intercept_overshoot")

    assert judged.outcome == outcome
    assert (judged.value, judged.limit) == (over_nm, 0.4)


@pytest.mark.parametrize(
    ("crossed", "read", "variant"),
    [
        ("in the turn back", None, "turning"),
        ("in the turn back", "after", "turning"),
        ("in the turn back", "before", "lead"),
        ("on the way in", "after", "lead"),
    ],
)
def test_a_turn_back_that_leads_through_the_course_has_no_lead_to_advise(
    crossed: str, read: str | None, variant: str
) -> None:
    """Carried through in the turn of an 80/260, a mile of it was put down to the small angle of the way back."""
    marks = builders.whole_approach().marks
    at = {"in the turn back": marks["turn back"] + 30.0, "on the way in": marks["onto course"] - 3.0}[crossed]
    moment = builders.EPOCH + timedelta(seconds=at)
    read_at = {None: None, "after": moment + timedelta(seconds=60), "before": moment - timedelta(seconds=60)}[
        read
    ]
    over = {"overshoot_nm": 1.0, "overshoot_uncertainty_nm": 0.05, "crossed": moment}
    angle = {"angle_deg": None if read is None else 27.0, "angle_time": read_at}

    judged = assessed(case(measures={"intercept": over | angle}), "intercept_overshoot")

    assert judged.variant == variant


@pytest.mark.parametrize(
    ("bends", "stayed"),
    [
        ([("onto course", "station", 8.5)], True),
        ([("onto course", "established + 60", 8.5)], False),  # back on the course before the station
        (
            [("onto course", "established + 60", 8.5), ("established + 60", "station", -8.5)],
            False,
        ),  # and through it
        ([("onto course", "station", 8.5), ("established + 10", "established + 40", 7.5)], False),  # half way
    ],
)
def test_who_never_came_back_is_not_told_to_have_come_back(
    bends: list[tuple[str, str, float]], stayed: bool
) -> None:
    """Through the course and beside it up to the station: "before it came back" stood in the report."""
    onto = builders.EPOCH + timedelta(seconds=builders.whole_approach().marks["onto course"])
    over = {"overshoot_nm": 0.8, "overshoot_uncertainty_nm": 0.05, "crossed": onto}
    judged = assessed(case(clockwise=bends, measures={"intercept": over}), "intercept_overshoot")

    assert judged.outcome == "exceeded"
    assert ("stayed beside it" in message(judged)) == stayed
    assert ("before it came back" in message(judged)) != stayed
    assert judged.facts["value"] in message(judged)


def test_an_unmeasured_intercept_is_passed_over() -> None:
    unknown = {"angle_deg": None, "overshoot_nm": None}

    assert outcomes(case(measures={"intercept": unknown}), "intercept_angle") == []
    assert outcomes(case(measures={"intercept": unknown}), "intercept_overshoot") == []


def test_a_turn_straight_back_has_no_side_to_be_wrong() -> None:
    back = {"pattern": "straight turn", "side": "right"}

    assert outcomes(case(measures={"course_reversal": back}), "reversal_side") == []
