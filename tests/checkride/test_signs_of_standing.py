"""Columns that stand while their flight goes on, climbs that nobody flies, paths that were computed; honest ones beside."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import strong, written
from tests.ensembles import GOOD, clean_flights

COLUMNS = ("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min")
FLIGHTS = 6


def logs(interval_s: float, columns: tuple[str, ...] = COLUMNS) -> list[Track]:
    sensor = Sensor(interval_s=interval_s, columns=columns)
    return [
        record(case.flight, sensor, seed=number)
        for number, case in enumerate(clean_flights(FLIGHTS, seed=53, sensor=GOOD))
    ]


def weaving(interval_s: float, seed: int) -> Track:
    """A flight by hand, 2.5 degrees to either side of its course, with its columns. Its speed changes all the time."""
    draw = np.random.default_rng(seed)
    t_s = np.arange(0.0, 1500.0, interval_s)
    way = np.radians(80.0 + 2.5 * np.sin(t_s / 12.0 + draw.uniform(0.0, 6.0)))
    speed = 55.0 + 3.0 * np.sin(t_s / 33.0)
    north, east = (
        np.concatenate([[0.0], np.cumsum(speed * part)[:-1] * interval_s])
        for part in (np.cos(way), np.sin(way))
    )
    noise_m = draw.normal(0.0, 1.0, (2, len(t_s)))
    track = written(
        t_s,
        np.round(48.0 + (north + noise_m[0]) / 111_195.0, 6),
        np.round(11.0 + (east + noise_m[1]) / 111_195.0 / np.cos(np.radians(48.0)), 6),
        np.round(3000.0 + 100.0 * np.sin(t_s / 60.0)),
    )
    columns = {
        "groundspeed_kt": np.round(speed * 3600.0 / 1852.0, 1),
        "ground_track_true_deg": np.round(np.degrees(way), 1),
    }
    return replace(track, columns=columns)


def stands(track: Track, name: str, start_s: float, end_s: float) -> Track:
    """A column at one value for a while."""
    inside = (track.t_s >= start_s) & (track.t_s < end_s)
    values = np.where(inside, track.columns[name][np.argmax(inside)], track.columns[name])
    return replace(track, columns=dict(track.columns) | {name: values})


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
@pytest.mark.parametrize("seed", range(3))
def test_a_track_typed_over_a_leg_is_found(seed: int, interval_s: float) -> None:
    track = weaving(interval_s, seed)

    assert any(
        words.startswith("speed_disagrees") for words in strong(stands(track, COLUMNS[1], 600.0, 760.0))
    )
    assert strong(track) == []


@pytest.mark.parametrize("seed", range(3))
def test_columns_that_were_not_received_are_honest(seed: int) -> None:
    """Both of them stand, as they come in one message."""
    track = stands(stands(weaving(1.0, seed), COLUMNS[1], 600.0, 640.0), COLUMNS[0], 600.0, 640.0)

    assert not any("track stands at" in words for words in strong(track))


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
def test_a_rate_of_climb_held_to_a_least_one_is_found(interval_s: float) -> None:
    found = []
    for track in logs(interval_s):
        rate = track.columns["vertical_speed_ft_min"]
        least = float(np.quantile(rate, 0.1)) + 250.0
        held = replace(
            track, columns=dict(track.columns) | {"vertical_speed_ft_min": np.maximum(rate, least)}
        )
        found.append(any("rate of climb" in words for words in strong(held)))

        assert strong(track) == []

    assert sum(found) >= len(found) - 1


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
def test_a_climb_at_no_cost_is_found(interval_s: float) -> None:
    for track in logs(interval_s, ()):
        lift_ft = 130.0 * np.clip(track.t_s - 0.5 * track.t_s[-1], 0.0, 60.0)

        assert any(
            "does not pay" in words
            for words in strong(replace(track, altitude_ft=track.altitude_ft + lift_ft))
        )


def legs(corners_m: list[tuple[float, float]], interval_s: float) -> tuple[Floats, Floats]:
    """East and north from corner to corner at 60 m/s."""
    ends = np.array(corners_m)
    at_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ends, axis=0).T))])
    way_m = np.arange(0.0, at_m[-1], 60.0 * interval_s)
    return np.interp(way_m, at_m, ends[:, 0]), np.interp(way_m, at_m, ends[:, 1])


@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_a_path_from_corner_to_corner_at_one_speed_is_found(interval_s: float) -> None:
    east, north = legs(
        [(0.0, 0.0), (9000.0, 0.0), (12000.0, 6000.0), (9000.0, 12000.0), (-9000.0, 12000.0)], interval_s
    )
    t_s = np.arange(len(east)) * interval_s
    computed = written(
        t_s,
        np.round(48.0 + north / 111_195.0, 7),
        np.round(11.0 + east / 74_500.0, 7),
        np.round(5000.0 - 5.0 * t_s),
    )

    assert any("into another direction" in words for words in strong(computed))
