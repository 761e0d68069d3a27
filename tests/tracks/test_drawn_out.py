"""Logs drawn out by straight lines are told, with the interval they were recorded at; no other log is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.conditioning import condition, sift
from debrief.tracks.drawn_out import drawn_out_s
from tests.doctoring import drawn_out
from tests.ensembles import BAD_SENSORS, GOOD, PERFECT, SENSORS, clean_flights

HONEST = {
    **SENSORS,
    **BAD_SENSORS,
    "perfect": PERFECT,
    "perfect, 0.2 s": replace(PERFECT, interval_s=0.2),
    "perfect, 5 s": replace(PERFECT, interval_s=5.0),
    "perfect, 5 decimals": replace(PERFECT, decimals=5),
    "perfect, ten a second, 5 decimals": replace(PERFECT, decimals=5, interval_s=0.1),
    "perfect, jittering": replace(PERFECT, stamp_jitter_s=0.3),
    "perfect, a third repeated": replace(PERFECT, repeat_share=0.33),
    "perfect, uneven": replace(PERFECT, interval_spread=0.5),
}


@pytest.mark.parametrize("step_s", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("recorded_s", [8.0, 10.0, 15.0])
def test_the_recorders_own_interval_is_found(recorded_s: float, step_s: float) -> None:
    for number, case in enumerate(clean_flights(3, seed=41, sensor=GOOD)):
        track = drawn_out(record(case.flight, Sensor(interval_s=recorded_s), seed=number), step_s)

        every_s = sift(track).drawn_out_s

        assert every_s == pytest.approx(recorded_s, abs=step_s / 2 + 1e-6), case.name


@pytest.mark.parametrize("name", HONEST)
def test_no_recorder_of_its_own_samples_is_taken_for_one(name: str) -> None:
    """On autopilot in still air most samples are on a straight line, too; a turn is not."""
    for number, case in enumerate(clean_flights(3, seed=41, sensor=GOOD)):
        assert drawn_out_s(sift(record(case.flight, HONEST[name], seed=number)).points) is None, case.name


def test_a_straight_flight_without_any_corner_is_not_told() -> None:
    case = next(clean_flights(1, seed=41, sensor=GOOD))
    track = record(case.flight, PERFECT, seed=0)
    straight = replace(
        track,
        latitude_deg=45.0 + 3e-4 * np.arange(len(track)),
        longitude_deg=np.full(len(track), 7.0),
    )

    assert drawn_out_s(sift(straight).points) is None


def test_it_is_said_in_the_remarks() -> None:
    case = next(clean_flights(1, seed=41, sensor=GOOD))
    track = drawn_out(record(case.flight, Sensor(interval_s=10.0), seed=0), 2.0)

    log = condition(track)

    assert log.drawn_out_s == 10.0
    (said,) = [words for words in log.warnings if "drew the log out" in words]
    assert "2.0 s apart" in said
    assert "some 10 s apart" in said


@pytest.mark.parametrize("step_s", [0.5, 1.0])
def test_the_samples_on_lines_between_uneven_reports_are_told(step_s: float) -> None:
    """Reports from 0.4 s to 7.6 s apart make corners too close together to stand alone."""
    for number, case in enumerate(clean_flights(3, seed=41, sensor=GOOD)):
        reports = record(case.flight, Sensor(interval_s=4.0, interval_spread=0.9), seed=number)
        log = condition(drawn_out(reports, step_s))

        assert log.on_lines is not None
        assert log.on_lines.mean() > 0.4, case.name
        assert step_s <= log.measured_interval_s < 8.0, case.name


@pytest.mark.parametrize("name", HONEST)
def test_no_sample_of_a_recorders_own_is_taken_for_one_on_a_line(name: str) -> None:
    for number, case in enumerate(clean_flights(3, seed=41, sensor=GOOD)):
        assert not sift(record(case.flight, HONEST[name], seed=number)).on_lines.any(), case.name
