"""Samples that a program put between a recorder's own are set aside; of a recorder's own none is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.conditioning import condition
from tests.doctoring import drawn_out
from tests.ensembles import GOOD, clean_flights
from tests.tracks.test_drawn_out import HONEST


@pytest.mark.parametrize("decimals", [5, 7])
@pytest.mark.parametrize(
    ("recorded_s", "step_s"), [(1.0, 0.5), (1.0, 0.2), (2.0, 1.0), (5.0, 2.5), (5.0, 1.0)]
)
def test_a_log_that_was_filled_in_is_the_log_it_was(recorded_s: float, step_s: float, decimals: int) -> None:
    for number, case in enumerate(clean_flights(2, seed=41, sensor=GOOD)):
        sensor = Sensor(interval_s=recorded_s, position_noise_m=3.0, decimals=decimals, altitude_step_ft=25.0)
        measured = record(case.flight, sensor, seed=number)
        before, filled = condition(measured), condition(drawn_out(measured, step_s))

        assert filled.median_interval_s == before.median_interval_s == recorded_s, case.name
        assert np.isin(before.t_s[:-1], filled.t_s).all()
        assert np.isin(filled.t_s[:-1], before.t_s).all()  # behind the last of its own there is no line
        assert filled.altitude_errors == before.altitude_errors
        assert set(filled.set_aside) == {"", "drawn between"}
        (said,) = [
            words for words in filled.warnings if "fill a log in" in words or "drew the log out" in words
        ]
        assert f"{recorded_s:.1f} s apart" in said or f"some {recorded_s:.0f} s apart" in said


@pytest.mark.parametrize("name", HONEST)
def test_no_sample_of_a_recorders_own_is_set_aside(name: str) -> None:
    for number, case in enumerate(clean_flights(3, seed=41, sensor=GOOD)):
        log = condition(record(case.flight, HONEST[name], seed=number))

        assert "drawn between" not in log.set_aside, case.name


def test_altitudes_that_were_measured_between_are_kept() -> None:
    """A recorder that knows its height more often than its place: those samples say something."""
    case = next(clean_flights(1, seed=41, sensor=GOOD))
    filled = drawn_out(record(case.flight, Sensor(position_noise_m=3.0), seed=0), 0.5)
    noise_ft = 20.0 * np.random.default_rng(0).standard_normal(len(filled))

    log = condition(replace(filled, altitude_ft=filled.altitude_ft + noise_ft))

    assert "drawn between" not in log.set_aside
