"""Altitude rules at their limits: 100 ft on a leg, nothing below a minimum, a log sure to 40 ft."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.grading.findings import went_well
from debrief.grading.rules import assess
from debrief.grading.sentences import advice, item_name, message
from debrief.grading.words import clock
from tests.grading.approach import assessed, case, outcomes, with_rule
from tests.measures import builders

BUILT = builders.whole_approach()
#: Above the limit, beyond it by less than the log's 40 ft, and by more.
AT_THE_LIMIT = [(-99.0, "within"), (-101.0, "marginal"), (-139.0, "marginal"), (-141.0, "exceeded")]
AT_A_MINIMUM = [(5.0, "within"), (-5.0, "marginal"), (-39.0, "marginal"), (-41.0, "exceeded")]


@pytest.mark.parametrize(("lower_ft", "outcome"), AT_THE_LIMIT)
def test_a_leg_may_be_a_hundred_feet_low(lower_ft: float, outcome: str) -> None:
    judged = assessed(case(higher=[("turn off - 40", "turn off - 20", lower_ft)]), "altitude", "outbound")

    assert judged.outcome == outcome
    assert judged.value == pytest.approx(3500.0 + lower_ft, abs=1.0)
    assert judged.limit == 3400.0
    assert judged.uncertainty == pytest.approx(40.0, abs=0.01)


def test_a_bust_lasts_from_passing_the_tolerance_until_back_within_it() -> None:
    judged = assessed(case(higher=[("turn off - 40", "turn off - 20", -200.0)]), "altitude", "outbound")
    off_s = builders.whole_approach().marks["turn off"]

    # The ramps take 4 s each for 200 ft: half of each is beyond 100 ft.
    assert judged.start_s == pytest.approx(off_s - 42.0, abs=0.1)
    assert judged.end_s == pytest.approx(off_s - 18.0, abs=0.1)


@pytest.mark.parametrize(
    ("begin", "end", "variant"),
    [
        ("onto course - 5", "established + 30", "early"),
        ("onto course - 5", "onto course", "low"),  # corrected before the course was joined
        ("turn back + 5", "established + 30", "low"),  # low already on the way out
        ("turn back + 30", "established + 30", "low"),  # level between the two minima, and on
    ],
)
def test_the_next_legs_descent_begun_before_the_course_is_joined_is_told_as_that(
    begin: str, end: str, variant: str
) -> None:
    """The pilot of such a descent had levelled off well, and was told to level off."""
    judged = assessed(case(higher=[(begin, end, -350.0)]), "altitude", "course_reversal")

    assert (judged.outcome, judged.variant) == ("exceeded", variant)
    assert ("before the 228 course was joined" in message(judged)) is (variant == "early")


def test_a_reversal_flown_too_low_and_left_too_early_is_told_as_both() -> None:
    """The pilot was told to level off, and nothing of the descent that began before the course was joined."""
    low, early = ("turn off + 5", "established + 40", -250.0), ("onto course - 5", "established + 30", -600.0)

    lower = builders.procedure(intermediate={"altitude": {"at_or_above_ft": 1800}})

    judged = assessed(case(lower, higher=[low, early]), "altitude", "course_reversal")

    assert (judged.outcome, judged.variant) == ("exceeded", "low and early")
    assert "was flown at 2,550 ft" in message(judged)
    assert judged.value == pytest.approx(1950.0, abs=5.0)
    assert advice(judged) == (
        "Level off at 2,850 ft, a little above the minimum, and start down from there only once established on the 228 "
        "course."
    )


@pytest.mark.parametrize(("before_s", "variant"), [(8.0, "left"), (60.0, "low")])
def test_who_left_a_leg_for_the_next_ones_altitude_is_not_told_to_level_off(
    before_s: float, variant: str
) -> None:
    """Who levels off between the two minima is."""
    judged = assessed(
        case(higher=[(f"turn off - {before_s:g}", "turn off + 60", -300.0)]), "altitude", "outbound"
    )

    assert (judged.outcome, judged.variant) == ("exceeded", variant)
    assert ("Level off" in advice(judged)) is (variant == "low")
    assert ("Hold 3,500 ft until the turn off" in advice(judged)) is (variant == "left")


def test_a_dip_of_three_seconds_is_none() -> None:
    assert (
        assessed(case(higher=[("turn off - 30", "turn off - 30", -250.0)]), "altitude", "outbound").outcome
        == "exceeded"
    )
    held = with_rule("altitude", held_s=10.0)
    dip = case(higher=[("turn off - 30", "turn off - 30", -250.0)], standard=held)
    judged = assessed(dip, "altitude", "outbound")
    assert judged.outcome == "within"
    # no value stands beside a limit that it breaks, and nobody is praised for it
    assert (judged.value, judged.excess) == (None, None)
    assert "too briefly" in judged.reason
    assert not went_well([judged])


@pytest.mark.parametrize(
    ("higher_ft", "outcome"), [(99.0, "within"), (139.0, "marginal"), (141.0, "exceeded")]
)
def test_an_altitude_to_be_held_has_two_sides(higher_ft: float, outcome: str) -> None:
    plan = builders.procedure(intermediate={"altitude": {"at_ft": 2800}})
    judged = assessed(
        case(plan, higher=[("on course + 20", "on course + 60", higher_ft)]), "altitude", "intermediate"
    )

    assert judged.outcome == outcome
    if outcome != "within":
        assert judged.limit == 2900.0
        assert judged.variant == "high"


def test_several_busts_of_one_leg_are_one_finding_told_by_the_worst() -> None:
    judged = assessed(
        case(
            higher=[
                ("turn off - 60", "turn off - 50", -180.0),
                ("turn off - 30", "turn off - 20", -260.0),
            ]
        ),
        "altitude",
        "outbound",
    )

    assert judged.times == 2
    assert judged.value == pytest.approx(3240.0, abs=1.0)


@pytest.mark.parametrize(("sure_s", "outcome"), [(0.5, "exceeded"), (6.0, "marginal")])
def test_a_descent_begun_about_as_the_course_is_joined_is_as_sure_as_that_moment(
    sure_s: float, outcome: str
) -> None:
    """With a position every 20 s the moment is known to 6 s: a pilot failed who did not at one a second."""
    going_down = [(f"established {n:+d}".replace("+", "+ ").replace("-", "- "), "established + 40", -37.5)
                  for n in range(-8, 7, 2)]  # fmt: skip
    judged = assessed(
        case(higher=going_down, measures={"intercept": {"uncertainties": {"established": sure_s}}}),
        "altitude",
        "course_reversal",
    )

    assert (judged.outcome, judged.variant) == (outcome, "early")


def test_each_limit_holds_in_its_own_leg_only() -> None:
    """At the end of the outbound leg 3,500 ft holds, right after the turn off it 2,800 ft."""
    dip = case(higher=[("turn off + 10", "turn off + 30", -200.0)])

    assert "exceeded" not in outcomes(dip, "altitude")


@pytest.mark.parametrize(
    ("lower_ft", "outcome"), [(-90.0, "within"), (-120.0, "marginal"), (-300.0, "exceeded")]
)
def test_down_before_the_final_fix(lower_ft: float, outcome: str) -> None:
    """Begun before the edge of the cone, the whole of it lost there."""
    going_down = [("into cone - 8", "final", lower_ft)]
    judged = assessed(case(higher=going_down), "altitude_before_station", "intermediate")

    assert judged.outcome == outcome


def test_a_descent_begun_before_the_station_is_no_low_leg() -> None:
    plan = builders.procedure()
    station_s = builders.whole_approach(plan).marks["into cone"]
    early = case(higher=[(station_s - 20.0 + 2.0 * n, station_s, -40.0) for n in range(1, 11)])

    assert assessed(early, "altitude_before_station", "intermediate").outcome == "exceeded"
    leg = assessed(early, "altitude", "intermediate")
    assert leg.outcome == "within"
    assert "no fault" not in leg.reason  # beside the finding that says it was one
    assert "judged with the altitude kept up to there" in leg.reason


def test_a_descent_begun_in_the_cone_is_told_and_not_praised() -> None:
    """235 ft low at the passage, all of it lost in the cone: in doubt, for nobody sees the passage to the second."""
    judged = assessed(
        case(higher=[("station - 4", "final", -235.0)]), "altitude_before_station", "intermediate"
    )

    assert (judged.outcome, judged.variant) == ("marginal", "over")
    assert judged.value == pytest.approx(2565.0, abs=1.0)
    assert not went_well([judged])


def test_up_to_the_passage_the_altitude_is_that_of_the_passage() -> None:
    judged = assessed(
        case(higher=[("station - 4", "final", -60.0)]), "altitude_before_station", "intermediate"
    )

    assert judged.outcome == "within"
    assert judged.value == pytest.approx(2740.0, abs=1.0)


def test_a_leg_flown_too_low_is_no_early_descent() -> None:
    low = case(higher=[("on course + 10", "station", -300.0)])

    assert assessed(low, "altitude", "intermediate").outcome == "exceeded"
    assert outcomes(low, "altitude_before_station") == ["within"]  # that of the inbound leg


def test_who_was_low_on_the_leg_left_for_the_next_only_with_the_descent() -> None:
    """Both findings began as the altitude fell below the limit: the descent explained what went on before it."""
    cone_s = builders.whole_approach(builders.procedure()).marks["into cone"]
    descent = [(cone_s - 20.0 + 2.0 * n, cone_s, -40.0) for n in range(1, 11)]
    low = case(higher=[("established + 60", "final", -180.0), *descent])
    leg = assessed(low, "altitude", "intermediate")
    before = assessed(low, "altitude_before_station", "intermediate")

    assert leg.outcome == before.outcome == "exceeded"
    assert leg.start_s is not None
    assert before.start_s is not None
    assert before.start_s - leg.start_s > 60.0
    assert before.end_s is not None
    assert before.end_s - before.start_s < 60.0


def test_far_out_and_down_to_the_next_altitude_breaks_both_rules() -> None:
    """Down from 2,800 to the 1,700 of the first step, five miles before the station."""
    both = case(higher=[("on course + 15", "station", -1080.0)])

    assert assessed(both, "altitude_before_station", "intermediate").outcome == "exceeded"
    assert assessed(both, "altitude", "intermediate").outcome == "exceeded"


@pytest.mark.parametrize(("lower_ft", "outcome"), AT_A_MINIMUM)
def test_nothing_is_allowed_below_the_minimum(lower_ft: float, outcome: str) -> None:
    bends = [("final", "climb", 5.0), ("level + 8", "level + 18", lower_ft - 5.0)]
    judged = assessed(case(higher=bends), "minimum_descent_altitude")

    assert judged.outcome == outcome
    assert judged.value == pytest.approx(980.0 + min(lower_ft, 5.0), abs=1.0)
    assert judged.limit == 980.0


@pytest.mark.parametrize(
    ("higher_ft", "outcome"), [(94.0, "within"), (134.0, "marginal"), (136.0, "exceeded")]
)
def test_once_at_the_minimum_it_is_held(higher_ft: float, outcome: str) -> None:
    """Level at 980 ft, 5 ft above the minimum; 100 ft above it are allowed."""
    plan = builders.procedure(
        final={"altitude": {"at_or_above_ft": 975}, "missed_approach_point": {"dme_nm": 4.4}}
    )
    judged = assessed(
        case(plan, higher=[("level + 10", "level + 16", higher_ft)]), "minimum_descent_altitude"
    )

    assert judged.outcome == outcome


@pytest.mark.parametrize(("low_ft", "outcome"), [(-2.0, "within"), (39.0, "marginal"), (41.0, "exceeded")])
def test_a_step_holds_until_its_distance(low_ft: float, outcome: str) -> None:
    """Level at 980 ft from 3.6 NM on: a step to 4.2 DME is put that much above it."""
    step = {"until_dme_nm": 4.2, "at_or_above_ft": 980.0 + low_ft}
    plan = builders.procedure(final={"altitude": {"at_or_above_ft": 900}, "step_down": [step]})
    judged = assessed(case(plan), "step_down")

    assert judged.outcome == outcome
    assert judged.limit == 980.0 + low_ft
    assert judged.value == pytest.approx(980.0)


@pytest.mark.parametrize(("rule", "minimum_ft"), [("step_down", 900.0), ("minimum_descent_altitude", 970.0)])
def test_a_limit_passed_for_a_moment_has_no_margin(rule: str, minimum_ft: float) -> None:
    """Met, as it is told, and with a margin below 0, by which the table of a folder says that a limit was passed."""
    steps = [{"until_dme_nm": 4.2, "at_or_above_ft": 970.0}] if rule == "step_down" else None
    plan = builders.procedure(final={"altitude": {"at_or_above_ft": minimum_ft}, "step_down": steps})
    judged = assessed(case(plan, higher=[("level + 10", "level + 11", -13.0)], sure_ft=1.0), rule)

    assert (judged.outcome, judged.value, judged.excess) == ("within", None, None)
    assert judged.reason == "below it too briefly to count"


def test_without_an_altitude_nothing_is_said_about_it() -> None:
    blind = case(no_altitude=[(-1.0, 1e6)])

    assert {*outcomes(blind, "altitude"), *outcomes(blind, "minimum_descent_altitude")} == {"not assessable"}


def test_an_altitude_sure_to_a_thousand_feet_is_not_judged() -> None:
    """Pressure altitude without its setting, for example."""
    vague = assessed(case(sure_ft=1000.0), "altitude", "outbound")

    assert vague.outcome == "not assessable"
    assert vague.reason == "the log's altitude is only sure to 1,000 ft"


def test_where_and_when_stand_in_the_facts() -> None:
    judged = assessed(case(higher=[("turn off - 40", "turn off - 20", -300.0)]), "altitude", "outbound")
    assert judged.at_s is not None
    moment = case().scene.time(judged.at_s)

    assert judged.facts["at"] == clock(moment)
    assert judged.facts["where"].endswith(" DME")


def test_the_climb_away_is_no_rise_above_the_minimum() -> None:
    """Level 96 ft above it, where 100 are allowed; the missed approach begins 50 ft higher, by its definition."""
    found = builders.whole_approach().attempt
    climb_s = found.spans[-1].start_s + 50.0 / (2000.0 / 150.0)
    spans = (
        *found.spans[:-2],
        replace(found.spans[-2], end_s=climb_s),
        replace(found.spans[-1], start_s=climb_s),
    )
    plan = builders.procedure(
        final={"altitude": {"at_or_above_ft": 884}, "missed_approach_point": {"dme_nm": 5.0}}
    )
    judged = case(
        plan,
        attempt=replace(found, spans=spans),
        sure_ft=5.0,
        standard=with_rule("minimum_descent_altitude", held_s=2.0),
    )

    assert set(outcomes(judged, "minimum_descent_altitude")) == {"within"}


def test_each_of_two_broken_steps_is_named() -> None:
    """Level at 980 ft from 3.6 NM on: a step to 4.2 DME is broken by 200 ft, one to 3.9 DME by 100 ft."""
    steps = [
        {"until_dme_nm": 3.9, "at_or_above_ft": 1180.0},
        {"until_dme_nm": 4.2, "at_or_above_ft": 1080.0},
    ]
    plan = builders.procedure(final={"altitude": {"at_or_above_ft": 900}, "step_down": steps})
    broken = [a for a in assess(case(plan)) if a.rule == "step_down"]

    assert [item_name(a) for a in broken] == ["Step-down to 3.9 DME", "Step-down to 4.2 DME"]
    assert [a.outcome for a in broken] == ["exceeded", "exceeded"]
    assert [a.times for a in broken] == [1, 1]
    assert all(f"until {until} DME" in message(a) for a, until in zip(broken, ("3.9", "4.2"), strict=True))


def _sinking(from_s: float, to_s: float) -> list[tuple[str | float, str | float, float]]:
    """600 ft/min from a moment on, by ramps of 4 s one after another, and level from the other on."""
    starts = [from_s + 4.0 * n for n in range(int((to_s - from_s) // 4.0))]
    return [(start_s + 4.0, "end", -40.0) for start_s in starts]


@pytest.mark.parametrize("before_edge_s", [-40.0, -20.0, -13.0, -8.0])
def test_a_descent_begun_outside_the_cone_is_judged_by_the_passage(before_edge_s: float) -> None:
    """Sure to 40 ft: wherever the tolerance is passed, outside the cone or in it, even just at its edge."""
    marks = builders.whole_approach().marks
    early = case(higher=_sinking(marks["into cone"] + before_edge_s, marks["station"] + 2.0), sure_ft=40.0)
    judged = assessed(early, "altitude_before_station", "intermediate")
    passage_ft = float(early.scene.at(marks["station"]).altitude_ft[0])

    assert passage_ft < 2800.0 - 140.0
    assert judged.outcome == "exceeded"
    assert judged.value == pytest.approx(passage_ft, abs=2.0)
    begun = [early.scene.time(marks["into cone"] + before_edge_s + more_s) for more_s in (-1.0, 0.0, 1.0)]
    assert judged.facts["began_at"] in map(clock, begun)


def test_one_begun_at_the_edge_of_the_cone_stays_in_doubt() -> None:
    marks = builders.whole_approach().marks
    judged = assessed(
        case(higher=_sinking(marks["into cone"] - 2.0, marks["station"] + 2.0)),
        "altitude_before_station",
        "intermediate",
    )

    assert (judged.outcome, judged.variant) == ("marginal", "over")


def test_a_descent_that_goes_on_from_far_above_the_limit_has_left_nothing_outside_the_cone() -> None:
    """Down from 300 ft above it, as it may be, and through it in the cone."""
    marks = builders.whole_approach().marks
    start_s = marks["into cone"] - 24.0
    higher = [("established", "end", 300.0), *_sinking(start_s, marks["station"] + 25.0)]
    judged = assessed(case(higher=higher), "altitude_before_station", "intermediate")

    assert judged.outcome in ("within", "marginal")


@pytest.mark.parametrize(("higher_ft", "praised"), [(-40.0, False), (30.0, True)])
def test_what_is_allowed_but_below_what_is_published_is_no_praise(higher_ft: float, praised: bool) -> None:
    """That an altitude never fell below 5,060 ft, with 5,100 ft published, stood under what went well."""
    whole = ("out of cone", "turn off")
    judged = assessed(case(higher=[(*whole, higher_ft)]), "altitude", "outbound")

    assert judged.outcome == "within"
    assert bool(went_well([judged])) == praised
