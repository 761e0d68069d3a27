"""The station, the turn there and the outbound leg, at their limits."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from debrief.grading.sentences import advice
from debrief.phases.model import NotSeen
from debrief.procedures.model import Phase
from debrief.result import StationTurn, Wind
from tests.grading.approach import QUIET, assessed, case, outcomes
from tests.measures import builders
from tests.measures.plan import OUTBOUND_TRUE_DEG

BUILT = builders.whole_approach()


@pytest.mark.parametrize(
    ("distance_nm", "outcome"), [(1.49, "within"), (1.515, "marginal"), (1.53, "exceeded")]
)
def test_a_station_passed_abeam(distance_nm: float, outcome: str) -> None:
    """Never in the cone; positions are sure to 0.02 NM."""
    first, second = BUILT.attempt.passages
    abeam = builders.passage(first.t_s, distance_nm)
    judged = assessed(
        case(attempt=replace(BUILT.attempt, passages=(abeam, second))), "station_missed", "inbound"
    )

    assert judged.outcome == outcome
    assert (judged.value, judged.limit) == (distance_nm, 1.5)


def test_in_the_cone_the_station_is_passed_however_wide_the_cone() -> None:
    first, second = BUILT.attempt.passages
    high = replace(first, distance_nm=1.8)
    judged = assessed(
        case(attempt=replace(BUILT.attempt, passages=(high, second))), "station_missed", "inbound"
    )

    assert judged.outcome == "within"


@pytest.mark.parametrize(("distance_nm", "variant"), [(0.0, "overhead"), (0.04, "overhead"), (0.06, "")])
def test_nearer_than_anybody_tells_is_overhead(distance_nm: float, variant: str) -> None:
    first, second = BUILT.attempt.passages
    over = replace(first, distance_nm=distance_nm)
    judged = assessed(
        case(attempt=replace(BUILT.attempt, passages=(over, second))), "station_missed", "inbound"
    )

    assert (judged.outcome, judged.variant) == ("within", variant)


def test_a_passage_in_a_gap_was_not_missed() -> None:
    hidden = NotSeen(phase=Phase.STATION_PASSAGE, why="not observed", start_s=200.0, end_s=260.0)
    found = replace(BUILT.attempt, passages=(), not_seen=(hidden,))

    assert outcomes(case(attempt=found), "station_missed") == ["not assessable"]


def _turn(lead_nm: float, change_deg: float = -45.0, exact_nm: float | None = 0.25) -> StationTurn:
    return StationTurn(
        start=builders.EPOCH,
        change_deg=change_deg,
        lead_nm=lead_nm,
        lead_uncertainty_nm=0.05,
        lead_dme_nm=0.8,
        exact_lead_nm=exact_nm,
        rule_of_thumb_nm=1.2,
        groundspeed_kt=120.0,
    )


@pytest.mark.parametrize(
    ("lead_nm", "outcome", "variant"),
    [
        (0.84, "within", "early"),
        (0.88, "marginal", "early"),
        (0.95, "exceeded", "early"),
        (-0.34, "within", "late"),
        (-0.38, "marginal", "late"),
        (-0.45, "exceeded", "late"),
    ],
)
def test_the_turn_at_the_station(lead_nm: float, outcome: str, variant: str) -> None:
    """The exact lead is 0.25 NM, 0.6 NM either side of it are allowed, and the lead is sure to 0.05 NM."""
    judged = assessed(case(measures={"turn": _turn(lead_nm)}), "turn_lead")

    assert (judged.outcome, judged.variant) == (outcome, variant)
    assert judged.value == pytest.approx(lead_nm - 0.25)


@pytest.mark.parametrize(
    ("lead_nm", "outcome"), [(1.0, "within"), (0.0, "within"), (-0.5, "within"), (-0.7, "exceeded")]
)
def test_a_large_turn_may_begin_overhead_too(lead_nm: float, outcome: str) -> None:
    """130 degrees: the exact lead of 1.4 NM is as right as turning overhead, and 0.6 NM past it is too late."""
    turn = _turn(lead_nm, change_deg=130.0, exact_nm=1.37)

    assert assessed(case(measures={"turn": turn}), "turn_lead").outcome == outcome


@pytest.mark.parametrize(
    ("lead_nm", "outcome"),
    [(2.8, "within"), (0.0, "within"), (-0.5, "within"), (-0.7, "exceeded"), (3.1, "exceeded")],
)
def test_straight_back_there_is_no_exact_lead_and_it_is_turned_overhead(lead_nm: float, outcome: str) -> None:
    """At 120 kt the lead of 150 degrees, the last that is given, is 0.637 tan 75 deg = 2.38 NM."""
    turn = _turn(lead_nm, change_deg=180.0, exact_nm=None)

    assert outcomes(case(measures={"turn": turn}), "turn_lead") == [outcome]


@pytest.mark.parametrize(
    ("dme_nm", "outcome", "variant"),
    [
        (6.69, "within", "far"),
        (6.72, "marginal", "far"),
        (6.80, "exceeded", "far"),
        (5.31, "within", "near"),
        (5.28, "marginal", "near"),
        (5.20, "exceeded", "near"),
    ],
)
def test_where_the_outbound_leg_ends_by_dme(dme_nm: float, outcome: str, variant: str) -> None:
    """6 DME published, 0.7 allowed; at 120 kt a turn's beginning is sure to about 0.04 NM."""
    judged = assessed(case(measures={"outbound": {"turn_off_dme_nm": dme_nm}}), "outbound_length", unit="NM")

    assert (judged.outcome, judged.variant) == (outcome, variant)
    assert judged.value == dme_nm


TIMED = builders.procedure(outbound={"length": {"minutes": 2.5}})


@pytest.mark.parametrize(
    ("flown_s", "outcome", "variant"),
    [
        (169.5, "within", "long"),
        (170.5, "marginal", "long"),
        (175.0, "exceeded", "long"),
        (130.5, "within", "short"),
        (129.5, "marginal", "short"),
        (125.0, "exceeded", "short"),
    ],
)
def test_where_it_ends_by_time(flown_s: float, outcome: str, variant: str) -> None:
    """2:30 published, 20 s allowed; the times of passage and turn are sure to a second or so."""
    judged = assessed(
        case(TIMED, measures={"outbound": {"time_from_passage_s": flown_s}}), "outbound_length", unit="s"
    )

    assert (judged.outcome, judged.variant) == (outcome, variant)
    assert judged.value == flown_s


def _headwind() -> Wind:
    """25 kt against 100 kt: 150 s x 100 / 75 = 200 s cover the same ground."""
    return Wind(
        from_true_deg=OUTBOUND_TRUE_DEG,
        speed_kt=25.0,
        speed_uncertainty_kt=1.0,
        tas_kt=100.0,
        method="by hand",
    )


@pytest.mark.parametrize(
    ("flown_s", "decides"), [(200.0, False), (209.0, False), (215.0, True), (175.0, True)]
)
def test_a_time_corrected_for_the_wind_is_said_and_does_not_decide(flown_s: float, decides: bool) -> None:
    flown = {"outbound": {"time_from_passage_s": flown_s}}
    judged = assessed(case(TIMED, measures=flown, wind=_headwind()), "outbound_length")

    assert judged.outcome == "exceeded"
    assert judged.tolerance.required is decides
    assert (judged.variant == "otherwise") is not decides


@pytest.mark.parametrize(("flown_s", "variant"), [(240.0, "long, in a wind"), (120.0, "short, in a wind")])
def test_in_a_known_wind_the_advice_is_the_time_corrected_for_it(flown_s: float, variant: str) -> None:
    """2:30 published, 3:20 in this wind; told was the published time, and to add a second for each knot."""
    flown = {"outbound": {"time_from_passage_s": flown_s}}
    windy = assessed(case(TIMED, measures=flown, wind=_headwind()), "outbound_length")
    calm = assessed(case(TIMED, measures=flown, wind=replace(_headwind(), speed_kt=1.0)), "outbound_length")

    assert windy.variant == variant
    assert "3:20" in advice(windy)
    assert calm.variant == variant.removesuffix(", in a wind")
    assert "each knot" in advice(calm)


def test_a_leg_whose_end_was_not_seen_has_no_length() -> None:
    unknown = {"outbound": {"turn_off_dme_nm": None, "time_from_passage_s": None}}

    assert outcomes(case(measures=unknown), "outbound_length") == []


@pytest.mark.parametrize(
    ("interval_s", "cuts_corners", "more_s"),
    [(1.0, False, 0.3), (5.0, False, 1.5), (5.0, True, 5.0), (10.0, False, 5.0), (15.0, False, 5.0)],
)
def test_only_a_log_that_may_cut_corners_hides_a_turn_off_for_an_interval(
    interval_s: float, cuts_corners: bool, more_s: float
) -> None:
    """The turn's beginning is otherwise as sure as its samples: one of every five seconds is no log of straight lines."""
    judged = case(measures={"outbound": {"turn_off_dme_nm": 5.0, "uncertainties": {"turn_off_dme_nm": 0.0}}})
    flight = judged.scene.flight
    flight = replace(
        flight,
        log=replace(flight.log, median_interval_s=interval_s),
        noise=replace(flight.noise, worse_in_turns=2.0 if cuts_corners else 1.0),
    )
    found = assessed(
        replace(judged, scene=replace(judged.scene, flight=flight)), "outbound_length", unit="NM"
    )

    turn_off = judged.scene.span(Phase.COURSE_REVERSAL)
    assert turn_off is not None
    speed_kt = float(judged.scene.at(turn_off.start_s).groundspeed_kt[0])
    assert found.uncertainty == pytest.approx(more_s * speed_kt / 3600.0)


@pytest.mark.parametrize(
    ("lead_nm", "change_deg", "outcome"),
    [(0.2, 112.0, "within"), (0.2, 109.5, "marginal"), (0.2, 100.0, "exceeded"), (-0.7, 109.5, "exceeded")],
)
def test_a_change_of_course_a_hair_below_that_for_overhead_fails_nobody_who_turned_there(
    lead_nm: float, change_deg: float, outcome: str
) -> None:
    """From 110 degrees on overhead is as good as a lead of 1 NM; the track is sure to a degree and a half."""
    unsure = {
        "noise": replace(QUIET, position_nm=0.005, smoothed_position_nm=0.003, smoothed_groundspeed_kt=4.0)
    }
    turn = _turn(lead_nm, change_deg=change_deg, exact_nm=1.0)

    assert assessed(case(measures={"turn": turn}, **unsure), "turn_lead").outcome == outcome


def test_an_unsteady_track_before_the_turn_makes_the_exact_lead_unsure() -> None:
    """Counted from a track that had just turned by 12 degrees, the change of course is no surer than that."""
    approach = case(measures={"turn": _turn(1.2, change_deg=-90.0, exact_nm=0.55)})
    turn = approach.measures.turn
    assert turn is not None
    # the builder's own turn at the station: over its last seconds before a moment in it the track changes
    turning_s = BUILT.attempt.turns[0].start_s + 6.0
    unsteady = replace(turn, start=builders.EPOCH + timedelta(seconds=turning_s))
    steady = replace(turn, start=builders.EPOCH + timedelta(seconds=turning_s - 30.0))

    sure_nm = [
        assessed(replace(approach, measures=replace(approach.measures, turn=begun)), "turn_lead").uncertainty
        for begun in (steady, unsteady)
    ]

    assert sure_nm[0] is not None
    assert sure_nm[1] is not None
    # 6 s at 3 deg/s: the lead of 90 degrees grows by 0.64 NM / cos^2 45 / 2 a radian
    assert sure_nm[1] > sure_nm[0] + 0.03
