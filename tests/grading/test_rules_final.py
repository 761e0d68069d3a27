"""Final, missed approach and the log itself."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from debrief.grading.sentences import advice, message
from debrief.phases.model import NotSeen
from debrief.procedures.model import Phase
from tests.grading.approach import assessed, case, outcomes, with_rule
from tests.measures import builders

BUILT = builders.whole_approach()
MARKS = BUILT.marks
#: The path goes down 1,820 ft between the cone and 3.6 NM at 120 kt.
RATE_FT_MIN = (2800.0 - 980.0) / (4.4 - 0.8 - builders.cone_nm(2800.0)) * 2.0
#: An altitude that wanders by 15 ft (one standard deviation, over a minute) differs by 0.554 of it after 10 s: 49.9
#: ft/min. The rate is steady for so many times 5 s (after which such differences forget themselves) between the cone and
#: the minimum that the greatest of them lies 1.91 of that too high, give or take 0.54 (greatest of 22: Blom's formula).
WANDER_FT = 15.0
ONE_RATE_FT_MIN = WANDER_FT * math.sqrt(2.0 * (1.0 - math.exp(-1.0 / 6.0))) * 6.0
RATE_SURE_FT_MIN = (1.91 + 1.69 * 0.54) * ONE_RATE_FT_MIN


@pytest.mark.parametrize(
    ("limit_ft_min", "outcome"),
    [
        (RATE_FT_MIN + 5.0, "within"),
        (RATE_FT_MIN - 0.9 * RATE_SURE_FT_MIN, "marginal"),
        (RATE_FT_MIN - 1.1 * RATE_SURE_FT_MIN, "exceeded"),
    ],
)
def test_the_descent_rate(limit_ft_min: float, outcome: str) -> None:
    standard = with_rule("descent_rate", at_most=limit_ft_min)
    judged = assessed(case(standard=standard, wander_ft=WANDER_FT), "descent_rate")

    assert judged.outcome == outcome
    assert judged.value == pytest.approx(RATE_FT_MIN, abs=3.0)
    assert judged.uncertainty == pytest.approx(RATE_SURE_FT_MIN, rel=0.05)


def test_nobody_is_told_to_sink_faster_than_the_limit() -> None:
    """At 120 kt the path of the approach takes over 600 ft/min; 300 would need less than half that speed."""
    judged = assessed(case(standard=with_rule("descent_rate", at_most=300.0)), "descent_rate")

    needed = float(judged.facts["needed"].removesuffix(" ft/min"))
    slower = float(judged.facts["slower"].removesuffix(" kt"))
    assert judged.variant == "slower"
    assert needed > 300.0
    assert slower * needed / 120.0 == pytest.approx(0.8 * 300.0, rel=0.02)


def test_a_rate_needs_an_altitude() -> None:
    assert outcomes(case(no_altitude=[(-1.0, 1e6)]), "descent_rate") == ["not assessable"]


def test_a_doubtful_altitude_still_shows_a_rate() -> None:
    """A wrong pressure setting shifts every altitude and no rate."""
    judged = assessed(case(sure_ft=1000.0), "descent_rate")

    assert judged.value == pytest.approx(RATE_FT_MIN, abs=3.0)
    assert judged.outcome != "not assessable"


@pytest.mark.parametrize(
    ("limit_ft_min", "outcome"),
    [
        (RATE_FT_MIN + 10.0, "within"),
        (RATE_FT_MIN - 0.9 * RATE_SURE_FT_MIN, "marginal"),
        (RATE_FT_MIN - 1.1 * RATE_SURE_FT_MIN, "exceeded"),
    ],
)
def test_the_gate_at_a_thousand_feet(limit_ft_min: float, outcome: str) -> None:
    """1,214 ft is 1,000 ft above the runway, passed on the way down to 980."""
    standard = with_rule("descent_rate")
    gates = standard.gates.model_copy(update={"descent_rate_ft_min": limit_ft_min})
    standard = standard.model_copy(update={"gates": gates})
    judged = assessed(case(standard=standard, wander_ft=WANDER_FT), "stabilised")

    assert judged.outcome == outcome


@pytest.mark.parametrize(("sure_ft", "outcome"), [(20.0, "exceeded"), (600.0, "marginal")])
def test_what_may_have_lain_above_the_gate_is_not_held_against_the_pilot(
    sure_ft: float, outcome: str
) -> None:
    """The needle goes out while the aircraft is level 766 ft above the runway, by an altitude sure to so much."""
    standard = with_rule("descent_rate")
    gates = standard.gates.model_copy(update={"descent_rate_ft_min": 2000.0})
    standard = standard.model_copy(update={"gates": gates})
    beside = case(clockwise=[("level", "climb", 11.5)], standard=standard, sure_ft=sure_ft)

    assert assessed(beside, "stabilised").outcome == outcome


@pytest.mark.parametrize(("off_deg", "outcome"), [(9.5, "within"), (11.5, "exceeded")])
def test_a_needle_at_its_stop_is_not_stable(off_deg: float, outcome: str) -> None:
    """Beside the course from the gate on, level at the minimum before the missed approach point."""
    standard = with_rule("descent_rate")
    gates = standard.gates.model_copy(update={"descent_rate_ft_min": 2000.0})
    standard = standard.model_copy(update={"gates": gates})
    beside = case(clockwise=[("level", "climb", off_deg)], standard=standard)
    judged = assessed(beside, "stabilised")

    assert judged.outcome == outcome
    if outcome == "exceeded":
        assert "off the course (limit 10°)" in message(judged)
        assert "fly the missed approach at once" in advice(judged)
        assert "fly the missed approach at once" in advice(assessed(beside, "tracking", "final"))


@pytest.mark.parametrize(
    ("past_nm", "outcome"), [(-0.2, "within"), (0.49, "within"), (0.52, "marginal"), (0.6, "exceeded")]
)
def test_where_the_climb_away_begins(past_nm: float, outcome: str) -> None:
    """0.5 NM past the point are allowed; at 120 kt the moment is sure to about 0.04 NM."""
    judged = assessed(
        case(measures={"missed_approach": {"start_past_point_nm": past_nm}}), "missed_approach", unit="NM"
    )

    assert judged.outcome == outcome
    assert (judged.value, judged.limit) == (past_nm, 0.5)


def test_without_a_published_point_no_climb_is_late() -> None:
    plan = builders.procedure(final={"missed_approach_point": None})
    late = {"missed_approach": {"start_past_point_nm": 3.0}}

    assert outcomes(case(plan, measures=late), "missed_approach") == ["within"]  # the climb itself


def test_with_the_station_on_the_aerodrome_the_climb_begins_over_it() -> None:
    plan = builders.procedure(intermediate=None, final={"step_down": None, "missed_approach_point": None})
    late = case(plan, measures={"missed_approach": {"start_past_point_nm": 1.5}})
    judged = assessed(late, "missed_approach", unit="NM")

    assert judged.outcome == "exceeded"
    assert "1.5 NM past the missed approach point" in message(judged)


#: The path climbs 2,000 ft in 150 s.
CLIMB_FT_MIN = 800.0


@pytest.mark.parametrize(
    ("limit_ft_min", "outcome"),
    [(CLIMB_FT_MIN - 5.0, "within"), (CLIMB_FT_MIN + 25.0, "marginal"), (CLIMB_FT_MIN + 32.0, "exceeded")],
)
def test_how_fast_the_climb_is(limit_ft_min: float, outcome: str) -> None:
    """1,000 ft in 75 s: 15 ft (one standard deviation) wander by 17.9 ft over so long, 14.3 ft/min, twice 28.6."""
    fast = with_rule("missed_approach", "ft/min", at_least=limit_ft_min)
    judged = assessed(case(standard=fast, wander_ft=WANDER_FT), "missed_approach", unit="ft/min")

    assert judged.outcome == outcome
    assert judged.value == pytest.approx(CLIMB_FT_MIN, abs=2.0)


def test_level_flight_before_the_climb_does_not_slow_it() -> None:
    """Noise may put the beginning of the climb 20 s too early: less climb in the mean, and no fault."""
    begun_s = MARKS["climb"] - 20.0
    spans = tuple(
        replace(span, end_s=begun_s)
        if span.phase is Phase.FINAL
        else replace(span, start_s=begun_s)
        if span.phase is Phase.MISSED_APPROACH
        else span
        for span in BUILT.attempt.spans
    )
    fast = with_rule("missed_approach", "ft/min", at_least=750.0)
    early = case(attempt=replace(BUILT.attempt, spans=spans), standard=fast)
    assert early.measures.missed_approach is not None
    assert (early.measures.missed_approach.climb_rate_ft_min or 0.0) < 650.0

    assert assessed(early, "missed_approach", unit="ft/min").outcome == "within"


def test_a_climb_of_which_ten_seconds_are_seen_is_not_averaged() -> None:
    spans = tuple(
        replace(span, end_s=span.start_s + 10.0) if span.phase is Phase.MISSED_APPROACH else span
        for span in BUILT.attempt.spans
    )
    short = case(attempt=replace(BUILT.attempt, spans=spans))

    assert "exceeded" not in outcomes(short, "missed_approach")


def test_a_whole_log_has_nothing_to_say_of_itself() -> None:
    assert outcomes(case(), "log_quality") == []


def test_a_gap_is_the_logs_fault_and_never_a_failure() -> None:
    start_s = MARKS["out of cone"] + 10.0
    judged = assessed(case(gaps=[(start_s, start_s + 40.0)]), "log_quality", "outbound")

    assert (judged.outcome, judged.variant) == ("marginal", "gap")
    assert judged.value == pytest.approx(40.0)
    assert judged.facts["value"] == "40 s"


def test_nine_seconds_missing_are_no_matter() -> None:
    start_s = MARKS["out of cone"] + 10.0

    assert outcomes(case(gaps=[(start_s, start_s + 9.0)]), "log_quality") == []


def test_a_phase_that_fell_into_a_gap_is_named() -> None:
    hidden = NotSeen(phase=Phase.INTERMEDIATE, why="not observed", start_s=500.0, end_s=640.0)
    spans = tuple(span for span in BUILT.attempt.spans if span.phase is not Phase.INTERMEDIATE)
    judged = assessed(
        case(attempt=replace(BUILT.attempt, spans=spans, not_seen=(hidden,))), "log_quality", "intermediate"
    )

    assert (judged.variant, judged.value) == ("phase", 140.0)


def test_no_altitude_is_said_once() -> None:
    assert outcomes(case(no_altitude=[(-1.0, 1e6)]), "log_quality") == ["marginal"]


def test_a_position_every_thirty_seconds_judges_no_leg() -> None:
    sparse = case()
    log = replace(sparse.scene.flight.log, median_interval_s=30.0)
    flight = replace(sparse.scene.flight, log=log)
    sparse = replace(sparse, scene=replace(sparse.scene, flight=flight))

    assert assessed(sparse, "log_quality").variant == "sparse"
    assert set(outcomes(sparse, "tracking")) == {"not assessable"}


def test_the_advised_rate_is_that_of_the_finals_mean_speed() -> None:
    """As in the exercise. By the speed at the steepest moment one page asked for 430 ft/min at 85 kt and 420 at 82."""
    final = case().measures.final
    assert final is not None
    assert final.groundspeed_kt is not None
    slower = replace(final.groundspeed_kt, mean=90.0)
    judged = assessed(case(measures={"final": {"groundspeed_kt": slower}}), "descent_rate")

    # a path of 3.0 degrees falls 318.4 ft in a mile
    assert (judged.facts["speed"], judged.facts["needed"]) == ("90 kt", "480 ft/min")
