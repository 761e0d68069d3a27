"""Parts moved aside at once where ground speed stands in the log; what repeats itself, and late stamps: honest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Track
from tests.checkride.logs import strong, written
from tests.ensembles import GOOD, clean_flights

COLUMNS = ("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min")


def test_a_part_moved_aside_at_once_is_found_in_a_dense_log_with_its_ground_speed() -> None:
    """The conditioning takes some samples beside the step for wild, by that speed: they are no gap."""
    sensor = Sensor(interval_s=0.5, decimals=6, columns=COLUMNS)
    for number, case in enumerate(clean_flights(4, seed=71, sensor=GOOD)):
        track = record(case.flight, sensor, seed=number)
        attempt = case.truth.attempts[-1]
        start_s, end_s = attempt.span("final")
        middle_s = (start_s + end_s) / 2.0
        inside = np.abs(track.t_s - middle_s) < 30.0
        moved = replace(track, latitude_deg=np.where(inside, track.latitude_deg + 0.0036, track.latitude_deg))

        assert any(words.startswith("spliced") for words in strong(moved))
        assert strong(track) == []


def test_altitudes_with_early_and_late_stamps_in_a_climb_are_honest() -> None:
    """Positions scatter along the track all the time by them, altitudes in climbs alone."""
    for seed in range(3):
        draw = np.random.default_rng(seed)
        t_s = np.arange(0.0, 1800.0, 2.0)
        at_s = t_s + draw.normal(0.0, 0.3, len(t_s))
        climb_ft = 25.0 * (np.clip(at_s, 800.0, 940.0) - 800.0)
        track = written(
            t_s,
            np.full(len(t_s), 48.0) + draw.normal(0.0, 1e-5, len(t_s)),
            11.0 + 60.0 * at_s / 111_195.0 / np.cos(np.radians(48.0)),
            np.round(3000.0 + 30.0 * np.sin(at_s / 60.0) + climb_ft + draw.normal(0.0, 2.5, len(t_s))),
        )

        assert not any("from sample to sample" in words for words in strong(track))


def test_legs_that_a_simulator_without_noise_begins_twice_alike_are_honest() -> None:
    """Getting slower at the same rate on the same course, by the same steps to the last digit, at another place."""
    t_s = np.arange(0.0, 1500.0)
    leg = [(t_s >= start_s) & (t_s < start_s + 24.0) for start_s in (300.0, 1000.0)]
    way, speed_m_s = np.radians(40.0 + t_s / 9.0), 60.0 + 3.0 * np.sin(t_s / 70.0)
    for inside in leg:
        way[inside] = np.radians(75.0)
        speed_m_s[inside] = 60.0 + 4.0 * np.exp(-np.arange(24.0) / 9.0)
    steps = np.stack([np.cos(way), np.sin(way) / np.cos(np.radians(48.0))]) * speed_m_s / 111_195.0
    steps = np.where(leg[0] | leg[1], np.round(steps, 7), steps)
    latitude_deg, longitude_deg = (
        np.round(start + np.cumsum(part), 7) for start, part in zip((48.0, 11.0), steps, strict=True)
    )
    track = written(t_s, latitude_deg, longitude_deg, np.round(3000.0 + 30.0 * np.sin(t_s / 90.0)))

    assert not any("come again" in words for words in strong(track))


@pytest.mark.parametrize(
    ("interval_s", "back_m"),
    [(0.5, -450.0), (0.5, 600.0), (1.0, 600.0), (2.0, -450.0), (2.0, 600.0), (5.0, 600.0)],
)
def test_a_step_in_the_middle_of_a_turn_is_found(interval_s: float, back_m: float) -> None:
    """Backwards, so that the flight seems slow across it, or forwards; and joined again on a leg where none steps."""
    t_s = np.arange(0.0, 1500.0, interval_s)
    way = np.radians(80.0 + 2.5 * np.clip(t_s - 700.0, 0.0, 144.0))
    draw = np.random.default_rng(3)
    moved_m = back_m * np.clip((t_s - 300.0) / 300.0, 0.0, 1.0) * (t_s < 770.0)
    east, north = (
        np.cumsum(55.0 * interval_s * part) + draw.normal(0.0, 1.0, len(t_s))
        for part in (np.sin(way), np.cos(way))
    )
    altitude_ft = np.round(3000.0 + 20.0 * np.sin(t_s / 50.0))

    def log(along_m: np.ndarray) -> Track:
        course = np.radians(80.0 + 2.5 * 70.0)
        return written(
            t_s,
            np.round(48.0 + (north + along_m * np.cos(course)) / 111_195.0, 6),
            np.round(11.0 + (east + along_m * np.sin(course)) / 111_195.0 / np.cos(np.radians(48.0)), 6),
            altitude_ft,
        )

    assert any(words.startswith("spliced") for words in strong(log(moved_m)))
    assert strong(log(0.0 * moved_m)) == []
