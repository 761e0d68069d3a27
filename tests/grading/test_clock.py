"""Flights recorded at another simulation rate than 1: what goes by time is not judged."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from debrief.phases.pace import clock_doubt
from debrief.pipeline import debrief, look
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


@pytest.mark.parametrize("rate", [3.0, 4.0])
def test_without_a_ground_speed_turns_that_no_aircraft_flies_tell_of_another_rate(
    track: Track, rate: float
) -> None:
    """At three times the rate a turn of 3 deg/s and 25 degrees of bank takes nine times the tangent: 76 degrees."""
    attempt = only_attempt(replace(track, t_s=track.t_s / rate, columns={}))

    items = {item.rule: item.result for item in attempt.grade.items}
    assert attempt.grade.result == "not assessable"
    assert {rule: items[rule] for rule in BY_TIME} == dict.fromkeys(BY_TIME, "not assessable")
    assert items["minimum_descent_altitude"] == items["tracking"] == "satisfactory"
    assert attempt.wind is None
    assert attempt.warnings == ("No wind is given: by the log's times it was flown as no aircraft flies.",)
    (told,) = [finding.message for finding in attempt.findings if finding.rule == "log_quality"]
    assert "its clock probably runs fast" in told


@pytest.mark.parametrize("rate", [1.0, 1.5, 2.0])
def test_a_flight_that_may_have_been_flown_so_is_judged_as_flown(track: Track, rate: float) -> None:
    attempt = only_attempt(replace(track, t_s=track.t_s / rate, columns={}))

    assert not [finding for finding in attempt.findings if finding.rule == "log_quality"]
    assert not any("no aircraft flies" in warning for warning in attempt.warnings)


def test_a_ground_speed_that_agrees_speaks_for_the_clock(track: Track) -> None:
    fast = {"groundspeed_kt": track.columns["groundspeed_kt"] * 3.0}

    attempt = only_attempt(replace(track, t_s=track.t_s / 3.0, columns=fast))

    assert not [finding for finding in attempt.findings if finding.rule == "log_quality"]


@pytest.mark.parametrize(("every_s", "noise_m"), [(1.0, 25.0), (20.0, 8.0)])
def test_noise_and_corners_of_a_drawn_log_are_no_turns_of_their_own(every_s: float, noise_m: float) -> None:
    """Straight lines between positions 20 s apart, drawn onto an even second: their corners turn at once."""
    for seed in range(3):
        flight = fly(PROCEDURE, plan_for(PROCEDURE, random.Random(f"corners {seed}")))
        whole = record(flight, Sensor(position_noise_m=noise_m), seed=seed)
        kept_s = whole.t_s[:: int(every_s)]
        drawn = replace(
            whole,
            latitude_deg=np.interp(whole.t_s, kept_s, whole.latitude_deg[:: int(every_s)]),
            longitude_deg=np.interp(whole.t_s, kept_s, whole.longitude_deg[:: int(every_s)]),
        )
        seen = look(drawn, PROCEDURE)

        assert seen.attempts
        assert [clock_doubt(seen, found) for found in seen.attempts] == [None] * len(seen.attempts)
