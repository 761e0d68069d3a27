"""Legs made longer or shorter in time, with even stamps, and flights that do change their speed."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import strong, written
from tests.ensembles import GOOD, clean_flights

FLIGHTS = 5
SIMULATOR = Sensor(
    position_noise_m=0.0, position_wander_m=0.0, decimals=7, altitude_noise_ft=0.0, altitude_wander_ft=0.0
)
T_S = np.arange(0.0, 1200.0, 1.0)


def at_another_pace(track: Track, start_s: float, end_s: float, factor: float) -> Track:
    """Time multiplied in between, and everything sampled anew where the stamps were."""
    t_s = track.t_s.copy()
    part = (t_s >= start_s) & (t_s < end_s)
    t_s[part] = start_s + (t_s[part] - start_s) * factor
    t_s[track.t_s >= end_s] += (end_s - start_s) * (factor - 1.0)
    anew_s = np.arange(0.0, t_s[-1], 1.0)
    latitude, longitude, altitude = (
        np.interp(anew_s, t_s, column)
        for column in (track.latitude_deg, track.longitude_deg, track.altitude_ft)
    )
    return written(anew_s, np.round(latitude, 7), np.round(longitude, 7), np.round(altitude))


def flown(speed_m_s: Floats) -> Track:
    latitude_deg = 48.0 + np.cumsum(speed_m_s) / 111_195.0
    return written(T_S, np.round(latitude_deg, 7), np.full(len(T_S), 11.0), np.round(3000.0 - T_S))


@pytest.mark.parametrize("factor", [0.86, 1.16])
def test_a_leg_at_another_pace_is_found_where_it_was_sampled_anew(factor: float) -> None:
    found = []
    for number, case in enumerate(clean_flights(FLIGHTS, seed=47, sensor=GOOD)):
        track = record(case.flight, SIMULATOR, seed=number)
        start_s = (0.35 + 0.06 * number) * track.t_s[-1]
        words = strong(at_another_pace(track, start_s, start_s + 80.0, factor))
        found.append(any("from one sample to the next" in text for text in words))

        assert strong(track) == []

    assert sum(found) >= FLIGHTS - 1


@pytest.mark.parametrize("change_s", [4.0, 8.0])
def test_power_taken_off_and_given_again_is_honest(change_s: float) -> None:
    """By 8 m/s within four seconds, two tenths of gravity: more than a light aircraft's engine makes."""
    share = np.clip(np.minimum(T_S - 500.0, 640.0 - T_S) / change_s, 0.0, 1.0)

    assert strong(flown(58.0 - 8.0 * share)) == []


@pytest.mark.parametrize("pace", [0.5, 2.0])
def test_a_simulator_at_another_rate_for_a_while_is_honest(pace: float) -> None:
    assert strong(flown(np.where((T_S > 500.0) & (T_S < 640.0), 58.0 * pace, 58.0))) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_stamps_moved_to_keep_a_limit_of_speed_are_found(interval_s: float) -> None:
    for number, case in enumerate(clean_flights(FLIGHTS, seed=47, sensor=GOOD)):
        track = record(case.flight, Sensor(interval_s=interval_s), seed=number)
        across = np.cos(np.radians(track.latitude_deg[0]))
        way_deg = np.hypot(np.diff(track.latitude_deg), across * np.diff(track.longitude_deg))
        limit_deg_s = np.quantile(way_deg / np.diff(track.t_s), 0.8)
        steps_s = np.maximum(np.diff(track.t_s), way_deg / limit_deg_s)
        t_s = np.round(np.concatenate([[0.0], np.cumsum(steps_s)]), 3)
        moved = written(t_s, track.latitude_deg, track.longitude_deg, track.altitude_ft)

        assert any(words.startswith("edited_times") for words in strong(moved)), case.name


def test_one_speed_with_stamps_now_and_then_late_is_honest() -> None:
    """A simulator in still air, whose recorder is slow at times: there is no limit, where nothing is slower."""
    late_s = np.random.default_rng(3).exponential(0.2, len(T_S)) * (np.sin(T_S / 50.0) > 0.5)
    t_s = T_S + np.round(np.minimum(late_s, 0.9), 3)
    latitude_deg = 48.0 + 58.0 * t_s / 111_195.0

    log = written(t_s, np.round(latitude_deg, 7), np.full(len(t_s), 11.0), np.round(3000.0 - t_s))

    assert strong(log) == []
