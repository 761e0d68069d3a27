"""Positions that scatter by less than a good recorder makes them, and air that is calm for a while."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats
from tests.checkride.logs import aerobatics, strong, written
from tests.ensembles import GOOD, clean_flights

FLIGHTS = 5
QUIET = Sensor(position_noise_m=0.3, decimals=7)


def averaged(values: Floats, part: slice) -> Floats:
    """A part of a column, each value the mean of the nine around it."""
    mean = values.copy()
    mean[part] = np.convolve(values, np.ones(9) / 9.0, mode="same")[part]
    return mean


@pytest.mark.parametrize(("sensor", "decimals"), [(GOOD, 5), (QUIET, 7)])
def test_positions_smoothed_are_found_where_a_recorder_scatters_by_a_metre_and_less(
    sensor: Sensor, decimals: int
) -> None:
    found = []
    for number, case in enumerate(clean_flights(FLIGHTS, seed=43, sensor=GOOD)):
        track = record(case.flight, sensor, seed=number)
        start = int(np.searchsorted(track.t_s, (0.3 + 0.08 * number) * track.t_s[-1]))
        part = slice(start, start + 150)
        smoothed = replace(
            track,
            latitude_deg=np.round(averaged(track.latitude_deg, part), decimals),
            longitude_deg=np.round(averaged(track.longitude_deg, part), decimals),
        )
        found.append(any(words.startswith("smoothed") for words in strong(smoothed)))

        assert strong(track) == []

    assert sum(found) >= FLIGHTS - 1


@pytest.mark.parametrize("seed", range(4))
def test_calm_air_for_a_while_is_no_smoothing(seed: int) -> None:
    """A simulator writes what the air does to an aircraft, and nothing else: that differs from place to place."""
    random = np.random.default_rng(seed)
    t_s = np.arange(0.0, 1200.0, 1.0)
    kernel = np.exp(-0.5 * (np.arange(-6.0, 7.0) / 0.9) ** 2)
    shaken_m = np.convolve(random.normal(0.0, 3.0, len(t_s)), kernel / kernel.sum(), mode="same")
    shaken_m[500:650] *= 0.1
    latitude_deg = 48.0 + 55.0 * t_s / 111_195.0
    longitude_deg = 11.0 + (shaken_m + 150.0 * np.sin(t_s / 40.0)) / 111_195.0 / np.cos(np.radians(48.0))

    log = written(t_s, np.round(latitude_deg, 7), np.round(longitude_deg, 7), np.round(3000.0 - t_s))

    assert strong(log) == []


def test_noise_put_onto_a_turn_of_a_log_without_any_is_found() -> None:
    """Where a log was drawn out there are corners in a turn, some seconds apart; noise is in every sample."""
    random = np.random.default_rng(5)
    t_s = np.arange(0.0, 1200.0, 1.0)
    turning = ((t_s > 520.0) & (t_s < 600.0)) | ((t_s > 200.0) & (t_s < 280.0))
    way = np.radians(np.cumsum(np.where(turning, 2.0, 0.0)))
    north_m, east_m = 55.0 * np.cumsum(np.cos(way)), 55.0 * np.cumsum(np.sin(way))
    put_on = np.where((t_s > 500.0) & (t_s < 620.0), 5.0, 0.0)
    noise_m = put_on * random.standard_normal((2, len(t_s)))
    latitude_deg = 48.0 + (north_m + noise_m[0]) / 111_195.0
    longitude_deg = 11.0 + (east_m + noise_m[1]) / 111_195.0 / np.cos(np.radians(48.0))

    log = written(t_s, np.round(latitude_deg, 7), np.round(longitude_deg, 7), np.round(3000.0 - t_s))

    assert any(words.startswith("noise_changes") for words in strong(log))


@pytest.mark.parametrize("turn_deg", [0.0, 90.0])
def test_a_leg_along_a_parallel_or_a_meridian_in_coarse_steps_is_no_smoothing(turn_deg: float) -> None:
    """Steps of five metres, of no decimal: across such a leg nothing scatters, as the coordinate does not change."""
    t_s = np.arange(1400.0)
    course_deg = turn_deg + np.interp(t_s, [600.0, 640.0, 780.0, 820.0], [57.0, 90.0, 90.0, 127.0])
    speed_m_s = 80.0 + 6.0 * np.sin(t_s / 25.0)
    way_m = np.cumsum(
        speed_m_s * np.stack([np.sin(np.radians(course_deg)), np.cos(np.radians(course_deg))]), axis=1
    )
    way_m -= way_m[:, [700]]  # in the middle of a step
    noise_m = np.random.default_rng(3).normal(0.0, 0.3, way_m.shape)
    east_m, north_m = np.round((way_m + noise_m) / 5.0) * 5.0
    longitude_deg = 11.0 + east_m / 111_195.0 / np.cos(np.radians(48.0))
    log = written(t_s, 48.0 + north_m / 111_195.0, longitude_deg, np.round(6000.0 - 2.0 * t_s))

    assert strong(log) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 3.0, 5.0])
@pytest.mark.parametrize("noise_m", [0.3, 1.5])
def test_aerobatics_for_a_while_are_honest(interval_s: float, noise_m: float) -> None:
    """No cubic follows a steep turn through samples two seconds apart; from bank to bank a flight steps aside."""
    for seed in range(8):
        assert strong(aerobatics(interval_s, noise_m, seed)) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_a_scatter_put_onto_drawn_altitudes_is_found(interval_s: float) -> None:
    """Up to the end of the log, as from some minimum on."""
    sensor = Sensor(interval_s=interval_s, position_noise_m=1.0, decimals=6)
    found = []
    for number, case in enumerate(clean_flights(FLIGHTS, seed=43, sensor=GOOD)):
        track = record(case.flight, sensor, seed=number)
        drawn = track.t_s > 0.75 * track.t_s[-1]
        scatter_ft = np.random.default_rng(number).normal(0.0, 8.0, len(track))
        flags = strong(
            replace(track, altitude_ft=np.where(drawn, np.round(1500.0 + scatter_ft), track.altitude_ft))
        )
        found.append(any(words.startswith("noise_changes") for words in flags))

    assert sum(found) >= FLIGHTS - 1


@pytest.mark.parametrize("over_s", [3.0, 8.0])
def test_rough_air_in_a_part_is_honest(over_s: float) -> None:
    """It moves an aircraft by more the longer it acts."""
    for number, case in enumerate(clean_flights(FLIGHTS, seed=43, sensor=GOOD)):
        track = record(case.flight, Sensor(position_noise_m=1.0, decimals=6), seed=number)
        kernel = np.exp(-0.5 * (np.arange(-30.0, 31.0) / over_s) ** 2)
        gusts_ft = np.convolve(
            np.random.default_rng(number).normal(0.0, 1.0, len(track)), kernel, mode="same"
        )
        gusts_ft *= 12.0 * (track.t_s > 0.6 * track.t_s[-1]) / np.sqrt((kernel**2).sum())

        assert strong(replace(track, altitude_ft=np.round(track.altitude_ft + gusts_ft))) == []


def test_a_receiver_that_hears_fewer_satellites_is_honest() -> None:
    """Its positions scatter with its altitudes."""
    for number, case in enumerate(clean_flights(FLIGHTS, seed=43, sensor=GOOD)):
        track = record(case.flight, Sensor(position_noise_m=1.0, decimals=6), seed=number)
        draw = np.random.default_rng(number)
        few = track.t_s > 0.7 * track.t_s[-1]
        east, north, up_ft = draw.standard_normal((3, len(track))) * few
        worse = replace(
            track,
            latitude_deg=np.round(track.latitude_deg + north * 2.5 / 111_200.0, 6),
            longitude_deg=np.round(track.longitude_deg + east * 2.5 / 111_200.0, 6),
            altitude_ft=np.round(track.altitude_ft + 8.0 * up_ft),
        )

        assert not any("altitudes scatter" in words for words in strong(worse))
