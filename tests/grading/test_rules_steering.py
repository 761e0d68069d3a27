"""Steering by the needle held against its limits: advisory, and honest about what a log can show."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from debrief.grading.grade import grade
from debrief.grading.rules import assess
from debrief.result import NeedleChase, Steering, TurnAway, Weave
from tests.grading.approach import assessed, case
from tests.measures import builders

AT = builders.EPOCH + timedelta(seconds=builders.whole_approach().marks["final"] + 20.0)


def chase(swing_deg: float, sure_deg: float | None = 1.5, *, in_cone: bool = False) -> dict[str, Any]:
    found = NeedleChase(
        phase="station_passage" if in_cone else "final",
        start=AT,
        end=AT + timedelta(seconds=30),
        swing_deg=swing_deg,
        swings=2 if in_cone else 4,
        period_s=15.0,
        in_cone=in_cone,
    )
    return {"steering": Steering(chase=found, turn_uncertainty_deg=sure_deg)}


def away(turned_deg: float, sure_deg: float | None = 1.5) -> dict[str, Any]:
    found = TurnAway(
        phase="final",
        start=AT,
        end=AT + timedelta(seconds=40),
        side="right",
        turned_deg=turned_deg,
        deviation_before_deg=3.0,
        deviation_after_deg=9.0,
    )
    return {"steering": Steering(turn_away=found, turn_uncertainty_deg=sure_deg)}


@pytest.mark.parametrize(("swing_deg", "outcome"), [(5.9, "within"), (7.0, "marginal"), (7.6, "exceeded")])
@pytest.mark.parametrize("in_cone", [False, True])
def test_swings_of_more_than_6_degrees(swing_deg: float, outcome: str, in_cone: bool) -> None:
    found = assessed(case(measures=chase(swing_deg, in_cone=in_cone)), "needle_chasing")

    assert (found.outcome, found.limit) == (outcome, 6.0)


@pytest.mark.parametrize(("turned_deg", "outcome"), [(7.9, "within"), (9.0, "marginal"), (9.6, "exceeded")])
def test_a_turn_away_of_more_than_8_degrees(turned_deg: float, outcome: str) -> None:
    found = assessed(case(measures=away(turned_deg)), "reverse_sensing")

    assert (found.outcome, found.limit) == (outcome, 8.0)


def test_nothing_seen_in_a_log_that_would_not_show_it_is_not_assessable() -> None:
    blind = case(measures={"steering": Steering(turn_uncertainty_deg=7.0)})

    assert assessed(blind, "needle_chasing").outcome == "not assessable"
    assert "too uneven" in assessed(blind, "needle_chasing").reason
    assert assessed(blind, "reverse_sensing").outcome == "within"  # 8 degrees would show


@pytest.mark.parametrize(
    ("swing_deg", "outcome"),
    [(None, "within"), (5.9, "within"), (7.6, "marginal"), (12.0, "marginal"), (13.0, "exceeded")],
)
def test_swings_of_the_track_alone_exceed_only_what_no_wind_makes_of_them(swing_deg, outcome) -> None:
    """Of 12 degrees of track a wind of half the airspeed leaves the heading 6."""
    found = Steering(turn_uncertainty_deg=0.5) if swing_deg is None else chase(swing_deg, 0.5)["steering"]

    assert (
        assessed(case(measures={"steering": replace(found, by_track=True)}), "needle_chasing").outcome
        == outcome
    )


def test_the_reason_is_that_of_the_log() -> None:
    for why in ("a position every 6 s", "a position every 10 s"):
        found = assessed(case(measures={"steering": Steering(why=why)}), "needle_chasing")

        assert (found.outcome, found.reason) == ("not assessable", why)


def test_without_an_uncertainty_nothing_is_said_for_sure() -> None:
    assert assessed(case(measures=chase(20.0, None)), "needle_chasing").outcome == "not assessable"


def test_the_grade_does_not_depend_on_them() -> None:
    clean = grade(assess(case(measures={"steering": Steering(turn_uncertainty_deg=1.0)})))
    both = {"steering": Steering(turn_away=away(30.0)["steering"].turn_away, chase=chase(20.0)["steering"].chase,
                                 turn_uncertainty_deg=1.0)}  # fmt: skip
    unseen = {"steering": Steering(why="no heading")}

    for measures in (both, unseen):
        assert grade(assess(case(measures=measures))).result == clean.result


def woven(swing_deg: float, sure_deg: float | None = 1.5, *, later_s: float = 0.0) -> dict[str, Any]:
    found = Weave(
        phase="final",
        start=AT + timedelta(seconds=later_s),
        end=AT + timedelta(seconds=later_s + 80.0),
        swing_deg=swing_deg,
        swings=4,
        period_s=40.0,
        aside_nm=0.08,
    )
    return {"steering": Steering(why="the log has no heading", weave=found, weave_uncertainty_deg=sure_deg)}


@pytest.mark.parametrize(("swing_deg", "outcome"), [(19.9, "within"), (21.0, "marginal"), (21.6, "exceeded")])
def test_a_weave_of_more_than_20_degrees_needs_no_heading(swing_deg: float, outcome: str) -> None:
    found = assessed(case(measures=woven(swing_deg)), "weaving")

    assert (found.outcome, found.limit) == (outcome, 20.0)
    assert not found.tolerance.required


def test_a_log_that_would_not_show_a_weave_says_so() -> None:
    for blind in (
        Steering(weave_uncertainty_deg=25.0),
        Steering(weave_why="a position every 15 s"),
        Steering(),
    ):
        found = assessed(case(measures={"steering": blind}), "weaving")
        assert found.outcome == "not assessable"
        assert found.reason


def test_what_the_heading_shows_to_be_chasing_is_told_once() -> None:
    quick = chase(24.0)["steering"].chase
    here, elsewhere = (woven(24.0, later_s=later_s)["steering"] for later_s in (0.0, 60.0))

    for weave, told in ((here, False), (elsewhere, True)):
        both = {
            "steering": Steering(
                chase=quick, turn_uncertainty_deg=1.5, weave=weave.weave, weave_uncertainty_deg=1.5
            )
        }
        found = {a.rule for a in assess(case(measures=both)) if a.is_finding}
        assert "needle_chasing" in found
        assert ("weaving" in found) == told
