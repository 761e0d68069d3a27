"""Findings in order, with their places; the grade; what went well."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pyproj import Geod

from debrief.grading import judge, load_standard
from debrief.grading.assessment import Assessment, Outcome, guarded, worst_of
from debrief.grading.findings import findings, went_well
from debrief.grading.grade import grade
from debrief.grading.rules import assess
from debrief.grading.standard import Tolerance
from debrief.measures import measure
from tests.grading.approach import case
from tests.measures import builders
from tests.measures.plan import OUTBOUND_TRUE_DEG, place

METRE = 1.0
RULES = {t.rule: t for t in load_standard().rule}


def made(rule: str, outcome: Outcome, excess: float | None = 0.0, **more: object) -> Assessment:
    tolerance: Tolerance = RULES[rule]  # type: ignore[index]
    facts = dict.fromkeys(
        ["In", "value", "depth", "published", "allowed", "at", "where", "sure", "target", "course", "limit",
         "lead", "steer", "advised", "side", "aside", "seconds", "turn", "correction", "distance"],
        "so",
    )  # fmt: skip
    variant = {"altitude": "low", "minimum_descent_altitude": "low"}.get(rule, "")
    return Assessment(
        tolerance=tolerance,
        outcome=outcome,
        excess=excess,
        facts=facts,
        variant=variant,
        **more,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(
    ("excess", "outcome"),
    [(-5.0, "within"), (0.0, "within"), (0.1, "marginal"), (10.0, "marginal"), (10.1, "exceeded")],
)
def test_rejection_is_guarded_by_the_uncertainty(excess: float, outcome: str) -> None:
    """JCGM 106:2012, guarded rejection with the half-width as guard band. Mark: seen."""
    assert guarded(excess, 10.0) == outcome


def test_nothing_is_said_of_what_is_not_known() -> None:
    assert guarded(float("nan"), 10.0) == "not assessable"
    assert guarded(5.0, float("nan")) == "not assessable"


def test_one_rule_of_one_phase_is_told_once_by_its_worst() -> None:
    several = [
        made("altitude", "marginal", 20.0, phase="outbound"),
        made("altitude", "exceeded", 150.0, phase="outbound"),
        made("altitude", "within", -20.0, phase="outbound"),
        made("altitude", "exceeded", 90.0, phase="inbound"),
    ]
    outbound, inbound = worst_of(several)

    assert (outbound.excess, outbound.times) == (150.0, 2)
    assert (inbound.excess, inbound.times) == (90.0, 1)


def test_the_worst_comes_first_and_doubts_after_failures() -> None:
    here = case()
    order = findings(
        here,
        [
            made("intercept_angle", "exceeded", 1.0),
            made("minimum_descent_altitude", "marginal", 30.0),
            made("altitude", "exceeded", 40.0, phase="inbound"),
            made("altitude", "exceeded", 300.0, phase="outbound"),
            made("minimum_descent_altitude", "exceeded", 60.0),
        ],
    )

    assert [f.number for f in order] == [1, 2, 3, 4, 5]
    assert [(f.rule, f.phase) for f in order] == [
        ("altitude", "outbound"),
        ("minimum_descent_altitude", None),
        ("altitude", "inbound"),
        ("intercept_angle", None),
        ("minimum_descent_altitude", None),
    ]


def test_of_equals_the_earlier_comes_first() -> None:
    later = made("altitude", "exceeded", 100.0, phase="outbound", start_s=200.0, at_s=200.0)
    earlier = made("altitude", "exceeded", 100.0, phase="inbound", start_s=100.0, at_s=100.0)

    assert [f.phase for f in findings(case(), [later, earlier])] == ["inbound", "outbound"]


def test_a_finding_stands_where_it_was_worst() -> None:
    """The middle of a bust on the outbound radial, by a geodesic from the station."""
    here = case(higher=[("turn off - 40", "turn off - 20", -300.0)])
    (found,) = [f for f in findings(here, assess(here)) if f.rule == "altitude"]
    assert found.start is not None
    assert found.end is not None
    assessed = next(a for a in assess(here) if a.rule == "altitude" and a.is_finding)
    assert assessed.at_s is not None
    distance_nm = builders.whole_approach().path.distance_nm(assessed.at_s)
    latitude, longitude = place(distance_nm, OUTBOUND_TRUE_DEG)
    _, _, metres = Geod(ellps="WGS84").inv(longitude, latitude, found.longitude_deg, found.latitude_deg)

    assert metres < METRE
    assert found.source == "FAA-S-ACS-8C, IR.VI.A.S9 [seen (2nd hand)]"
    assert (found.value, found.limit) == (pytest.approx(3200.0, abs=1.0), 3400.0)


def test_a_finding_in_a_gap_has_no_place() -> None:
    start_s = builders.whole_approach().marks["out of cone"] + 10.0
    here = case(gaps=[(start_s, start_s + 40.0)])
    (found,) = [f for f in findings(here, assess(here)) if f.rule == "log_quality"]

    assert (found.latitude_deg, found.longitude_deg) == (None, None)
    assert found.verdict == "marginal"


def test_a_required_item_beyond_its_limit_is_unsatisfactory() -> None:
    graded = grade([made("altitude", "exceeded", 50.0, phase="outbound"), made("tracking", "within", -3.0)])

    assert graded.result == "unsatisfactory"
    assert graded.reason == "Outside the standard: altitude, outbound leg."
    assert graded.items[0].result == "unsatisfactory"
    assert graded.items[0].margin == -50.0


def test_items_of_a_reason_stand_apart_though_their_names_hold_commas() -> None:
    graded = grade(
        [
            made("altitude", "exceeded", 50.0, phase="outbound"),
            made("tracking", "exceeded", 2.0, phase="final"),
        ]
    )

    assert graded.reason == "Outside the standard: altitude, outbound leg; tracking, final."


@pytest.mark.parametrize(
    ("praised", "belying", "leg", "said"),
    [
        ("tracking", "weaving", "final", False),  # "kept within 2.7 degrees" beside swings of 38
        ("tracking", "weaving", "outbound", True),  # another leg's
        ("tracking", "descent_rate", "final", True),
        (
            "intercept_overshoot",
            "not_established",
            "final",
            False,
        ),  # "only 0.24 NM through" what was never joined
        ("reversal_distance", "reversal_missing", "final", False),  # of another one than was published
    ],
)
def test_no_praise_stands_beside_what_belies_it(praised: str, belying: str, leg: str, *, said: bool) -> None:
    every = [made(praised, "within", -3.0, phase="final"), made(belying, "exceeded", 5.0, phase=leg)]

    assert bool(went_well(every)) == said


def test_what_was_not_flown_is_unsatisfactory() -> None:
    assert grade([made("reversal_missing", "not flown", None)]).result == "unsatisfactory"


def test_an_advisory_item_does_not_decide() -> None:
    graded = grade([made("intercept_angle", "exceeded", 5.0), made("tracking", "within", -3.0)])

    assert graded.result == "satisfactory"
    assert graded.reason == "Within the standard; to improve: intercept angle."
    assert graded.items[0].reason == "advisory: the result does not depend on it"


def test_a_marginal_item_is_named() -> None:
    graded = grade([made("altitude", "marginal", 5.0, phase="inbound"), made("tracking", "within", -3.0)])

    assert graded.result == "satisfactory"
    assert graded.reason == (
        "Within the standard as far as the log can tell; marginal: altitude, inbound leg."
    )


def test_a_required_item_not_seen_leaves_the_whole_open() -> None:
    unseen = made("minimum_descent_altitude", "not assessable", None, reason="it lies in a gap of the log")
    graded = grade([unseen, made("tracking", "within", -3.0)])

    assert graded.result == "not assessable"
    assert graded.reason == "Minimum descent altitude could not be judged: it lies in a gap of the log."


def test_what_failed_outweighs_what_was_not_seen() -> None:
    unseen = made("minimum_descent_altitude", "not assessable", None)

    assert grade([unseen, made("tracking", "exceeded", 3.0)]).result == "unsatisfactory"


def test_a_speed_that_cannot_be_known_leaves_nothing_open() -> None:
    unseen = made("reversal_speed", "not assessable", None, reason="no wind")

    assert grade([unseen, made("tracking", "within", -3.0)]).result == "satisfactory"


def test_the_log_is_no_item() -> None:
    assert (
        grade([made("log_quality", "marginal", 30.0), made("tracking", "within", -1.0)]).items[0].rule
        == "tracking"
    )


def test_nothing_judged_is_not_assessable() -> None:
    assert grade([]).result == "not assessable"


def test_what_went_well_was_surely_within() -> None:
    near = made("altitude", "within", -5.0, phase="outbound", uncertainty=40.0)
    safe = made("tracking", "within", -5.0, uncertainty=0.2)

    assert len(went_well([near, safe])) == 1


@pytest.mark.parametrize(
    ("first_nm", "second_nm", "praised"),
    [(0.3, 0.1, True), (1.45, 0.0, False), (0.0, 1.45, False), (2.2, 0.0, False)],
)
def test_the_station_was_crossed_well_only_where_it_was_so_each_time(
    first_nm: float, second_nm: float, praised: bool
) -> None:
    """One page said that the station was missed by 2.2 NM and that it was crossed overhead, which was later."""
    passages = [
        made(
            "station_missed",
            "within" if distance_nm <= 1.5 else "exceeded",
            distance_nm - 1.5,
            value=distance_nm,
            limit=1.5,
            uncertainty=0.02,
        )
        for distance_nm in (first_nm, second_nm)
    ]

    assert bool(went_well(passages)) == praised


def test_what_went_well_says_at_most_four_things_each_of_another_rule() -> None:
    said = went_well(assess(case()))

    assert len(said) == 4
    assert len(set(said)) == 4


def test_a_log_too_sparse_to_judge_the_legs_praises_nothing() -> None:
    """A position every 25 s, and page one said "went well: the station was crossed overhead"."""
    whole = case()
    log = replace(whole.scene.flight.log, median_interval_s=25.0)
    flight = replace(whole.scene.flight, log=log)
    attempt, measures = whole.scene.attempt, whole.measures

    dense = judge(whole.scene.flight, attempt, measures, None, whole.standard)
    sparse = judge(flight, attempt, measures, None, whole.standard)

    assert dense.went_well
    assert sparse.went_well == ()
    assert sparse.grade.reason.endswith(
        " items could not be judged: the log has only one position every 25 s."
    )


def test_judging_joins_all_three() -> None:
    here = case(higher=[("turn off - 40", "turn off - 20", -300.0)])
    judged = judge(here.scene.flight, here.scene.attempt, here.measures, None, here.standard)

    assert judged.grade.result == "unsatisfactory"
    assert "altitude" in {finding.rule for finding in judged.findings}
    assert judged.went_well


def test_with_times_moved_nothing_changes() -> None:
    """The same flight on another day: every number of every finding stays."""
    here = case(higher=[("turn off - 40", "turn off - 20", -300.0)])
    track = here.scene.flight.log.track
    moved_track = replace(track, epoch=track.epoch.replace(year=2031))
    flight = replace(here.scene.flight, log=replace(here.scene.flight.log, track=moved_track))
    first = judge(here.scene.flight, here.scene.attempt, here.measures, None, here.standard)
    measures = measure(flight, here.scene.attempt, None, gate_limits=here.standard.gate_limits)
    second = judge(flight, here.scene.attempt, measures, None, here.standard)

    assert [(f.rule, f.verdict, f.value) for f in first.findings] == [
        (f.rule, f.verdict, f.value) for f in second.findings
    ]


@pytest.mark.parametrize(("above_ft", "said"), [(60.0, True), (170.0, False)])
def test_a_minimum_that_was_never_come_down_to_is_no_praise(above_ft: float, *, said: bool) -> None:
    assert bool(went_well([made("minimum_descent_altitude", "within", -above_ft, phase="final")])) == said
