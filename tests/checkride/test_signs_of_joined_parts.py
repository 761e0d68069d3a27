"""Parts joined with a step aside of some metres or a corner, in logs that are smooth; what honest logs show of the kind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import strong, written
from tests.ensembles import GOOD, Case, clean_flights

FLIGHTS = 6
PER_DEG_M = 111_195.0


def smooth(interval_s: float) -> Sensor:
    """A simulator's log."""
    return Sensor(
        interval_s=interval_s,
        position_noise_m=0.0,
        position_wander_m=0.0,
        altitude_noise_ft=0.0,
        altitude_wander_ft=0.0,
        decimals=7,
    )


def cases(seed: int) -> list[Case]:
    found = clean_flights(FLIGHTS, seed=seed, sensor=GOOD)
    return [case for case in found if abs(case.procedure.station.longitude) < 179.0]


def places_m(track: Track) -> tuple[Floats, Floats]:
    """East and north of the first sample."""
    scale = PER_DEG_M * np.cos(np.radians(track.latitude_deg[0]))
    return (track.longitude_deg - track.longitude_deg[0]) * scale, (
        track.latitude_deg - track.latitude_deg[0]
    ) * PER_DEG_M


def moved(track: Track, east_m: Floats, north_m: Floats) -> Track:
    """The same by so much."""
    scale = PER_DEG_M * np.cos(np.radians(track.latitude_deg[0]))
    return replace(
        track,
        longitude_deg=np.round(track.longitude_deg + east_m / scale, 7),
        latitude_deg=np.round(track.latitude_deg + north_m / PER_DEG_M, 7),
    )


def final_s(case: Case) -> tuple[float, float]:
    span = case.truth.attempts[-1].span("final")
    assert span is not None
    return span


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
def test_a_final_set_some_metres_aside_at_once_is_found_in_a_smooth_log(interval_s: float) -> None:
    found = []
    for number, case in enumerate(cases(61)):
        track = record(case.flight, smooth(interval_s), seed=number)
        start_s, end_s = final_s(case)
        course = np.radians(case.procedure.true_deg(case.procedure.inbound_course_deg))
        off_m = 25.0 * ((track.t_s > start_s + 25.0) & (track.t_s < end_s - 25.0))

        assert strong(track) == []
        signs = strong(moved(track, off_m * np.cos(course), -off_m * np.sin(course)))
        found.append(any("aside from one sample" in sign for sign in signs))

    assert sum(found) >= len(found) - 1


def test_seconds_cut_out_of_a_turn_are_found_by_the_corner_that_is_left() -> None:
    """Times closed, and what follows moved to where the turn broke off: another direction from one sample to the next."""
    found = []
    for number, case in enumerate(cases(67)):
        track = record(case.flight, smooth(1.0), seed=number)
        east_m, north_m = places_m(track)
        way = np.unwrap(np.arctan2(np.diff(east_m), np.diff(north_m)))
        k = int(np.argmax(np.abs(way[12:-20] - way[4:-28]))) + 4  # where it turns most in eight seconds
        kept = np.delete(np.arange(len(track)), np.arange(k + 1, k + 5))
        after = kept > k
        closed = []
        for part in (east_m, north_m):
            moved_m = part[kept]
            moved_m[after] += 2.0 * part[k] - part[k - 1] - part[k + 5]
            closed.append(moved_m)
        scale = PER_DEG_M * np.cos(np.radians(track.latitude_deg[0]))
        log = written(
            np.arange(float(len(kept))),
            np.round(track.latitude_deg[0] + closed[1] / PER_DEG_M, 7),
            np.round(track.longitude_deg[0] + closed[0] / scale, 7),
            track.altitude_ft[kept],
        )
        found.append(any(sign.startswith("impossible_motion") for sign in strong(log)))

    assert sum(found) >= len(found) - 1


@pytest.mark.parametrize(
    ("interval_s", "seed"), [(0.5, 71), (1.0, 85), (1.0, 88), (2.0, 80), (2.0, 81), (2.0, 90)]
)
def test_wild_samples_and_steps_of_a_receiver_are_honest(interval_s: float, seed: int) -> None:
    """Single samples tens of metres off; a solution that is some metres off for a minute, from one sample on."""
    for number, case in enumerate(cases(seed)):
        draw = np.random.default_rng(number)
        track = record(case.flight, Sensor(interval_s=interval_s, decimals=7), seed=number)
        start_s = draw.uniform(100.0, track.t_s[-1] - 100.0)
        east_m = draw.uniform(3.0, 12.0) * ((track.t_s > start_s) & (track.t_s < start_s + 50.0))
        north_m = np.zeros(len(track))
        at = draw.integers(20, len(track) - 20, 3)
        east_m[at] += draw.normal(0.0, 60.0, 3)
        north_m[at] += draw.normal(0.0, 60.0, 3)

        assert strong(moved(track, east_m, north_m)) == []


@pytest.mark.parametrize("seed", [3, 4])
def test_a_receiver_that_scatters_more_for_a_while_flies_at_no_other_pace(seed: int) -> None:
    """At both ends of such a part the first speeds are off by what it scatters."""
    for number, case in enumerate(cases(83)):
        draw = np.random.default_rng([seed, number])
        track = record(case.flight, Sensor(interval_s=0.5, decimals=7), seed=number)
        start_s = draw.uniform(100.0, track.t_s[-1] - 100.0)
        part = (track.t_s > start_s) & (track.t_s < start_s + 25.0)
        off_m = draw.normal(0.0, 6.0, (2, len(track))) * part

        assert not any("as if time" in sign for sign in strong(moved(track, *off_m)))


@pytest.mark.parametrize("size_m", [60.0, 200.0])
def test_a_single_wild_sample_is_no_move_that_the_columns_do_not_know(size_m: float) -> None:
    columns = ("groundspeed_kt", "ground_track_true_deg")
    for number, case in enumerate(cases(89)):
        track = record(case.flight, Sensor(decimals=7, columns=columns), seed=number)
        draw = np.random.default_rng(number)
        east_m = np.zeros(len(track))
        east_m[draw.integers(100, len(track) - 100, 5)] = size_m

        assert strong(moved(track, east_m, np.zeros(len(track)))) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_a_dropout_in_a_turn_that_a_program_filled_is_honest(interval_s: float) -> None:
    """Of seconds only: too short for what the conditioning calls a bridge."""
    for number, case in enumerate(cases(73)):
        track = record(case.flight, Sensor(interval_s=interval_s, decimals=7), seed=number)
        span = case.truth.attempts[-1].span("course_reversal")
        if span is None:
            continue
        middle_s = (span[0] + span[1]) / 2.0
        known = np.abs(track.t_s - middle_s) > 7.0
        filled = [
            np.interp(track.t_s, track.t_s[known], column[known])
            for column in (track.latitude_deg, track.longitude_deg, track.altitude_ft)
        ]

        log = replace(track, latitude_deg=filled[0], longitude_deg=filled[1], altitude_ft=np.round(filled[2]))
        assert not any(sign.startswith("impossible_motion") for sign in strong(log))


@pytest.mark.parametrize("rate", [0.5, 2.0, 4.0])
def test_a_simulators_clock_set_to_another_rate_makes_no_corner(rate: float) -> None:
    for number, case in enumerate(cases(79)):
        track = record(case.flight, smooth(1.0), seed=number)
        passed_s = np.arange(0.0, track.t_s[-1])
        inside = (passed_s > 200.0) & (passed_s < 260.0)
        flown_s = np.cumsum(np.where(inside, rate, 1.0))
        flown_s = flown_s[flown_s < track.t_s[-1]]

        columns = (track.latitude_deg, track.longitude_deg, track.altitude_ft)
        latitude_deg, longitude_deg, altitude_ft = (
            np.interp(flown_s, track.t_s, column) for column in columns
        )
        log = written(
            np.arange(float(len(flown_s))),
            np.round(latitude_deg, 7),
            np.round(longitude_deg, 7),
            np.round(altitude_ft),
        )
        assert strong(log) == []
