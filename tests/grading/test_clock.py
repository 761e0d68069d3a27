"""Flights recorded at another simulation rate than 1: what goes by time is not judged."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from debrief.pipeline import debrief
from debrief.procedures import load_procedure
from debrief.reference import with_references
from debrief.result import Attempt
from debrief.simulation import fly
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Track
from tests.ensembles import plan_for

PROCEDURE = load_procedure("lantern-vor-22")
BY_TIME = ("descent_rate", "stabilised", "reversal_speed", "turn_lead")


@pytest.fixture(scope="module")
def track() -> Track:
    flight = fly(PROCEDURE, replace(plan_for(PROCEDURE, random.Random("clock")), start_distance_nm=30.0))
    return record(flight, Sensor(columns=("groundspeed_kt",)), seed=1)


def only_attempt(track: Track) -> Attempt:
    (attempt,) = debrief(track, PROCEDURE).attempts
    return attempt


@pytest.mark.parametrize("rate", [0.5, 2.0, 4.0])
def test_at_another_rate_nothing_that_goes_by_time_is_judged(track: Track, rate: float) -> None:
    attempt = only_attempt(replace(track, t_s=track.t_s / rate))

    items = {item.rule: item.result for item in attempt.grade.items}
    assert attempt.grade.result == "not assessable"
    assert {rule: items[rule] for rule in BY_TIME} == dict.fromkeys(BY_TIME, "not assessable")
    assert items["minimum_descent_altitude"] == items["tracking"] == "satisfactory"
    assert [finding.rule for finding in attempt.findings] == ["log_quality"]
    assert attempt.wind is None
    assert attempt.warnings == ("No wind is given: the log's clock and its ground speed do not agree.",)


def test_a_rate_used_on_the_way_is_nothing_to_the_approach(track: Track) -> None:
    """Four times as fast for the first minutes, before the approach begins."""
    begun_s = (only_attempt(track).phases[0].start - track.time_at(0.0)).total_seconds()
    t_s = track.t_s
    faster = replace(
        track, t_s=np.where(t_s < begun_s - 60.0, (t_s - begun_s + 60.0) / 4.0, t_s - begun_s + 60.0)
    )

    assert only_attempt(faster).grade.result == only_attempt(track).grade.result == "satisfactory"


def test_at_another_rate_no_flight_without_error_is_flown_at_its_speeds(track: Track) -> None:
    result = debrief(replace(track, t_s=track.t_s / 2.0), PROCEDURE)

    (attempt,) = with_references(result).attempts

    assert attempt.reference is None
    assert attempt.warnings[-1] == (
        "No flight without error stands beside it: the pilot's speeds are not known."
    )


def test_a_speed_in_another_unit_says_nothing_of_the_clock(track: Track) -> None:
    metric = replace(track, columns={"groundspeed_kt": track.columns["groundspeed_kt"] * 1.852})

    assert only_attempt(metric).grade.result == "satisfactory"
