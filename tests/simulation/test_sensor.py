"""Recorders: each fault of a log is there, has its size, and is alone."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.procedures import load_procedure
from debrief.simulation import Attempt, FlightPlan, Wind, fly
from debrief.simulation.sensor import Sensor, record
from tests.ensembles import PERFECT, SENSORS

METRES_PER_DEGREE = 111_195.0


@pytest.fixture(scope="module")
def flight():
    plan = FlightPlan(wind=Wind(from_true_deg=250.0, speed_kt=15.0), attempts=(Attempt(ending="landing"),))
    return fly(load_procedure("lantern-vor-22"), plan)


def _sensor(**changes: object) -> Sensor:
    """A perfect recorder but for what is asked."""
    from dataclasses import replace

    return replace(PERFECT, **changes)


def test_a_perfect_recorder_tells_the_truth(flight):
    track = record(flight, PERFECT)

    assert track.epoch == flight.epoch
    assert track.t_s[1] == 1.0
    assert np.array_equal(track.latitude_deg, flight.latitude_deg[::10][: len(track)])
    assert np.allclose(track.altitude_ft, flight.altitude_ft[::10][: len(track)], atol=1e-9)


def test_the_same_seed_is_the_same_log(flight):
    assert np.array_equal(record(flight, seed=3).latitude_deg, record(flight, seed=3).latitude_deg)
    assert not np.array_equal(record(flight, seed=3).latitude_deg, record(flight, seed=4).latitude_deg)


def test_fresh_and_slow_noise_have_their_sizes(flight):
    fresh = record(flight, _sensor(position_noise_m=6.0)).latitude_deg - record(flight, PERFECT).latitude_deg
    slow = record(flight, _sensor(position_wander_m=6.0)).latitude_deg - record(flight, PERFECT).latitude_deg
    fresh_m, slow_m = fresh * METRES_PER_DEGREE, slow * METRES_PER_DEGREE

    assert np.std(fresh_m) == pytest.approx(6.0, abs=0.6)
    assert np.std(np.diff(fresh_m)) == pytest.approx(6.0 * np.sqrt(2), abs=0.8)
    assert 2.0 < np.std(slow_m) < 10.0
    assert np.std(np.diff(slow_m)) < 1.5  # it creeps


def test_rounding(flight):
    track = record(flight, _sensor(decimals=4, altitude_step_ft=25.0))

    assert np.allclose(track.latitude_deg * 1e4, np.round(track.latitude_deg * 1e4), atol=1e-6)
    assert np.all(track.altitude_ft % 25.0 == 0.0)


def test_stamps_cut_to_whole_seconds(flight):
    track = record(flight, _sensor(interval_s=1.7, whole_second_stamps=True))

    assert np.all(track.t_s == np.round(track.t_s))
    assert set(np.diff(track.t_s)) == {1.0, 2.0}


def test_jittering_stamps_make_the_raw_speed_jump_and_leave_its_mean(flight):
    track = record(flight, _sensor(stamp_jitter_s=0.5))
    north_nm = np.diff(track.latitude_deg) * 60.0
    east_nm = np.diff(track.longitude_deg) * 60.0 * np.cos(np.radians(track.latitude_deg[1:]))
    speed_kt = np.hypot(north_nm, east_nm)[:600] * 3600.0

    assert np.std(speed_kt) > 40.0
    assert np.mean(speed_kt) == pytest.approx(np.mean(flight.groundspeed_kt[:6000]), rel=0.1)


def test_repeated_positions(flight):
    track = record(flight, _sensor(repeat_share=0.33))
    flying = track.t_s < 900.0
    same = np.diff(track.latitude_deg[flying]) == 0.0

    assert np.mean(same) == pytest.approx(0.33, abs=0.05)
    assert np.all(np.diff(track.t_s) == 1.0)


def test_a_gap_has_no_samples_and_a_bridge_is_straight(flight):
    gap = record(flight, _sensor(gaps=((300.0, 380.0),)))
    bridge = record(flight, _sensor(bridged=((300.0, 380.0),)))
    inside = (bridge.t_s >= 300.0) & (bridge.t_s <= 380.0)

    assert not np.any((gap.t_s >= 300.0) & (gap.t_s <= 380.0))
    assert np.sum(inside) == 81
    assert np.max(np.abs(np.diff(bridge.latitude_deg[inside], 2))) < 1e-12
    assert np.array_equal(bridge.latitude_deg[~inside], gap.latitude_deg)


def test_a_grid_of_straight_lines(flight):
    track = record(flight, _sensor(interval_s=12.0, interval_spread=0.3, grid_s=5.0))
    bends = np.abs(np.diff(track.latitude_deg, 2))

    assert set(np.diff(track.t_s)) == {5.0}
    assert 0.2 < np.mean(bends < 1e-12) < 0.8  # many samples lie on the line between their neighbours


def test_spikes_are_single_samples_far_off(flight):
    clean, spiked = record(flight, PERFECT), record(flight, _sensor(position_spikes=3, altitude_spikes=4))
    off_nm = np.abs(spiked.latitude_deg - clean.latitude_deg) * 60.0
    off_ft = np.abs(spiked.altitude_ft - clean.altitude_ft)

    assert np.sum(off_nm > 0) == 3
    assert np.min(off_nm[off_nm > 0]) > 2.9
    assert np.sum(off_ft > 0) == 4
    assert np.min(off_ft[off_ft > 0]) >= 2000.0


def test_altitude_faults(flight):
    truth = record(flight, PERFECT)
    ground = record(flight, _sensor(columns=("on_ground",))).columns["on_ground"] > 0
    zero = record(flight, _sensor(zero_on_ground=True))
    metres = record(flight, _sensor(feet_as_metres=True))
    pressure = record(flight, _sensor(altitude_source="pressure", qnh_hpa=1003.25))

    assert np.all(zero.altitude_ft[ground] == 0.0)
    assert np.array_equal(zero.altitude_ft[~ground], truth.altitude_ft[~ground])
    assert np.allclose(metres.altitude_ft * 0.3048, truth.altitude_ft)
    assert np.allclose(pressure.altitude_ft - truth.altitude_ft, 273.0, atol=0.5)  # low pressure reads high


def test_doubled_and_swapped_samples(flight):
    track = record(flight, _sensor(doubled_share=0.1, swapped_share=0.02))
    step_s = np.diff(track.t_s)

    assert np.mean(step_s == 0.0) == pytest.approx(0.09, abs=0.03)
    assert np.any(step_s < 0.0)


def test_a_clock_that_runs_fast(flight):
    track = record(flight, _sensor(clock_rate=1.25))

    assert track.t_s[-1] == pytest.approx(1.25 * flight.t_s[-1], abs=1.5)


def test_columns_are_what_was_flown(flight):
    columns = ("groundspeed_kt", "ground_track_true_deg", "heading_true_deg", "heading_mag_deg", "airspeed_kias",
               "airspeed_ktas", "pressure_altitude_ft", "vertical_speed_ft_min", "on_ground")  # fmt: skip
    track = record(flight, _sensor(columns=columns, speed_noise_kt=0.0, direction_noise_deg=0.0))
    shown = flight.groundspeed_kt[::10][: len(track)]

    assert np.max(np.abs(track.columns["groundspeed_kt"] - shown)) <= 0.05 + 1e-9
    assert set(track.columns) == set(columns)
    east_deg = (track.columns["heading_true_deg"] - track.columns["heading_mag_deg"] + 180.0) % 360.0 - 180.0
    assert np.max(np.abs(east_deg - east_deg[0])) < 0.2  # one variation for the whole flight
    assert -12.0 < east_deg[0] < -8.0  # near 47 N 31 W in 2026 it is about ten degrees west


def test_the_antimeridian_is_crossed_with_rounded_longitudes():
    plan = FlightPlan(start_bearing_true_deg=100.0, start_distance_nm=8.0)
    track = record(fly(load_procedure("dateline-ndb-35"), plan), SENSORS["4 decimals"])

    assert np.all((track.longitude_deg >= -180.0) & (track.longitude_deg < 180.0))
    assert np.any(track.longitude_deg > 179.0)
    assert np.any(track.longitude_deg < -179.0)


def test_gaps_that_leave_nothing_are_refused(flight):
    with pytest.raises(ValueError, match="the gaps leave no sample"):
        record(flight, Sensor(gaps=((-1.0, 1e6),)))
