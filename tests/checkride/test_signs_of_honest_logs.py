"""What honest flights and receivers do that looks like an edit: weightless flight, pauses, corrections, odd clocks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import only, strong, written
from tests.ensembles import GOOD, clean_flights

METRES_PER_DEG = 111_200.0


def logs(sensor: Sensor = GOOD, count: int = 4) -> list[Track]:
    return [
        record(case.flight, sensor, seed=number)
        for number, case in enumerate(clean_flights(count, seed=43, sensor=GOOD))
        if abs(case.procedure.station.longitude) < 179.0
    ]


def parabolas(t_s: Floats, first_s: float) -> Floats:
    """Altitude above level flight: pulled up by 0.8 g, weightless from +6,000 to -6,000 ft/min, and out again. [ft]"""
    steepest, pull, fall = 100.0, 25.7, 32.2
    rate = np.zeros(len(t_s))
    for start in np.arange(first_s, t_s[-1] - 60.0, 90.0):
        up_s, over_s = steepest / pull, 2.0 * steepest / fall
        at = [start, start + up_s, start + up_s + over_s, start + 2.0 * up_s + over_s]
        rate += np.interp(t_s, at, [0.0, steepest, -steepest, 0.0])
    return np.concatenate([[0.0], np.cumsum((rate[1:] + rate[:-1]) / 2.0 * np.diff(t_s))])


@pytest.mark.parametrize("interval_s", [0.2, 0.5, 1.0, 2.0])
def test_a_weightless_flight_is_honest(interval_s: float) -> None:
    """From a pull to a push within a second: lines through some seconds miss each other there by over 100 ft."""
    for track in logs(Sensor(interval_s=interval_s)):
        altitude_ft = np.round(track.altitude_ft + 4000.0 + parabolas(track.t_s, 120.0))

        assert strong(replace(track, altitude_ft=altitude_ft)) == []


@pytest.mark.parametrize("share", [0.35, 0.6])
def test_a_receiver_that_gets_corrections_from_some_moment_on_is_honest(share: float) -> None:
    """Its scatter falls to a third, for good; an edited part lies between two others."""
    for number, track in enumerate(logs(Sensor(position_noise_m=0.0, decimals=6))):
        draw = np.random.default_rng(number)
        size_deg = np.where(track.t_s < share * track.t_s[-1], 3.0, 1.0) / METRES_PER_DEG
        latitude, longitude = (
            np.round(column + size_deg * draw.standard_normal(len(track)), 6)
            for column in (track.latitude_deg, track.longitude_deg)
        )

        assert strong(replace(track, latitude_deg=latitude, longitude_deg=longitude)) == []


def test_a_pause_in_which_the_stamps_go_on_is_honest() -> None:
    for number, track in enumerate(logs(Sensor(position_noise_m=0.0, position_wander_m=0.0))):
        at, long = 300 + 40 * number, 60
        shown = np.concatenate([np.arange(at), np.full(long, at), np.arange(at, len(track))])
        paused = only(track, shown)

        t_s = np.arange(len(paused), dtype=float)

        assert strong(replace(paused, t_s=t_s, line=t_s + 1.0)) == []


def test_a_clock_that_is_a_little_fast_is_honest() -> None:
    for track in logs(Sensor(interval_s=15.0)):
        assert strong(replace(track, t_s=np.round(track.t_s * 1.0002, 3))) == []


def test_every_fifth_sample_for_a_while_is_honest() -> None:
    for track in logs(Sensor(interval_s=15.0)):
        kept = (track.t_s < 300.0) | (track.t_s > 900.0) | (np.arange(len(track)) % 5 == 0)

        assert strong(only(track, np.flatnonzero(kept))) == []


def test_metres_by_a_factor_cut_short_are_honest() -> None:
    """High up, 3.28084 ft a metre is off the exact metre by more than digits are."""
    for track in logs():
        metres = np.round(track.altitude_ft * 0.3048 + np.linspace(500.0, 2500.0, len(track)))

        assert strong(replace(track, altitude_ft=metres * 3.28084)) == []


def test_a_receiver_that_coasts_along_is_honest() -> None:
    """It hears nothing in a turn, goes straight on for twelve seconds, and is right again at once."""
    for track in logs(Sensor(decimals=6)):
        way = np.unwrap(np.arctan2(np.gradient(track.longitude_deg), np.gradient(track.latitude_deg)))
        turned = np.abs(way[12:] - way[:-12])
        turned[:60], turned[-60:] = 0.0, 0.0
        at = int(np.argmax(turned))
        latitude, longitude = track.latitude_deg.copy(), track.longitude_deg.copy()
        for column in (latitude, longitude):
            rate = (column[at] - column[at - 4]) / 4.0
            column[at : at + 12] = column[at] + rate * np.arange(12)
        moved = replace(track, latitude_deg=np.round(latitude, 6), longitude_deg=np.round(longitude, 6))

        assert strong(moved) == []


@pytest.mark.parametrize("altitude_source", ["gps", "pressure"])
def test_a_dropout_bridged_in_all_columns_or_beside_a_pressure_altitude_is_honest(
    altitude_source: str,
) -> None:
    """A receiver loses all at once; the altimeter beside it goes on."""
    for track in logs(Sensor(decimals=6)):
        known = (track.t_s < 400.0) | (track.t_s > 470.0)
        names = ("latitude_deg", "longitude_deg", *(("altitude_ft",) if altitude_source == "gps" else ()))
        drawn = {
            name: np.round(np.interp(track.t_s, track.t_s[known], getattr(track, name)[known]), 6)
            for name in names
        }

        assert strong(replace(track, altitude_source=altitude_source, **drawn)) == []  # type: ignore[arg-type]


def test_a_leg_computed_in_round_numbers_is_honest() -> None:
    """Ten-thousandths of a degree a second for some minutes: no other recorder's digits."""
    for track in logs(Sensor(position_noise_m=0.0, position_wander_m=0.0)):
        latitude, longitude = track.latitude_deg.copy(), track.longitude_deg.copy()
        count = 200
        latitude = np.concatenate([np.round(latitude[0], 4) - 5e-4 * np.arange(count, 0, -1), latitude])
        longitude = np.concatenate([np.round(longitude[0], 4) - 2e-4 * np.arange(count, 0, -1), longitude])
        shown = np.concatenate([np.zeros(count, dtype=np.int64), np.arange(len(track))])
        longer = only(track, shown)
        longer = replace(
            longer,
            t_s=np.arange(len(longer), dtype=float),
            latitude_deg=np.round(latitude, 5),
            longitude_deg=np.round(longitude, 5),
        )

        assert [sign for sign in strong(longer) if "decimals" in sign] == []


@pytest.mark.parametrize("over_s", [2.0, 4.0])
def test_a_log_smoothed_as_a_whole_is_honest(over_s: float) -> None:
    """Beyond its ends there is nothing to average with: the first and last samples crowd together."""
    for track in logs(Sensor(position_noise_m=3.0, decimals=6)):
        wide = round(3.0 * over_s)
        weights = np.exp(-0.5 * (np.arange(-wide, wide + 1) / over_s) ** 2)
        flying = only(track, np.arange(round(0.05 * len(track)), round(0.6 * len(track))))
        latitude, longitude = (
            np.round(np.convolve(np.pad(column, wide, mode="symmetric"), weights / weights.sum(), "valid"), 6)
            for column in (flying.latitude_deg, flying.longitude_deg)
        )

        assert strong(replace(flying, latitude_deg=latitude, longitude_deg=longitude)) == []


def legs(
    t_s: Floats, turn_deg_s: Floats, pace: Floats, speed_m_s: float = 55.0, sink_ft_s: float = 0.0
) -> Track:
    """Flown in still air by these rates of turn; at a pace of 2 the simulator's clock runs twice as fast."""
    lapse_s = np.diff(t_s, prepend=t_s[0]) * pace
    way = np.radians(np.cumsum(turn_deg_s * lapse_s))
    north_m, east_m = (np.cumsum(speed_m_s * part(way) * lapse_s) for part in (np.cos, np.sin))
    return written(
        t_s,
        np.round(48.0 + north_m / METRES_PER_DEG, 6),
        np.round(11.0 + east_m / METRES_PER_DEG / np.cos(np.radians(48.0)), 6),
        np.round(6000.0 - np.cumsum(sink_ft_s * lapse_s)),
    )


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("pace", [2.0, 4.0])
def test_a_simulators_clock_set_to_another_rate_in_a_turn_is_honest(pace: float, interval_s: float) -> None:
    """Turning at 3 degrees a second, it turns at 12 then: with four times gravity and more."""
    t_s = np.arange(0.0, 600.0, interval_s)
    faster = (t_s > 300.0) & (t_s < 340.0)

    track = legs(
        t_s, np.where(t_s > 280.0, 3.1, 0.0), np.where(faster, pace, 1.0), speed_m_s=70.0, sink_ft_s=8.0
    )

    assert strong(track) == []


@pytest.mark.parametrize("interval_s", [1.0, 2.0])
def test_a_steep_turn_to_one_side_and_then_the_other_is_honest(interval_s: float) -> None:
    """From 45 degrees of bank to 45 degrees within a second: lines through both sides miss each other."""
    t_s = np.arange(0.0, 600.0, 0.1)
    turn = np.interp(t_s, [300.0, 300.5, 306.0, 306.8, 312.0, 312.5], [0.0, 10.2, 10.2, -10.2, -10.2, 0.0])
    flown = legs(t_s, turn + np.where(t_s > 400.0, 7.0, 0.0), np.ones(len(t_s)))

    assert strong(only(flown, np.arange(0, len(t_s), round(10.0 * interval_s)))) == []


def test_a_position_that_was_not_renewed_beside_a_missing_sample_is_honest() -> None:
    """Two seconds apart: a step of 180 m too little, and then one too much."""
    t_s = np.arange(0.0, 900.0, 2.0)
    track = legs(t_s, np.where(t_s > 700.0, 3.1, 0.0), np.ones(len(t_s)), speed_m_s=90.0)
    scatter_deg = np.random.default_rng(4).normal(0.0, 2.0, (2, len(t_s))) / METRES_PER_DEG
    latitude, longitude = track.latitude_deg + scatter_deg[0], track.longitude_deg + scatter_deg[1]
    latitude[200], longitude[200] = latitude[199], longitude[199]

    stale = replace(track, latitude_deg=latitude, longitude_deg=longitude)

    assert strong(only(stale, np.delete(np.arange(len(t_s)), 199))) == []


def test_a_rate_of_climb_beside_altitudes_in_steps_of_100_ft_is_honest() -> None:
    t_s = np.arange(0.0, 900.0, 0.5)
    track = legs(t_s, np.zeros(len(t_s)), np.ones(len(t_s)))
    rate = np.where((t_s > 200.0) & (t_s < 500.0), -706.0, 0.0)
    altitude = 8000.0 + np.cumsum(rate / 60.0) * 0.5
    noise = np.random.default_rng(1).normal(0.0, 10.0, len(t_s))

    track = replace(
        track,
        altitude_ft=np.round((altitude + noise) / 100.0) * 100.0,
        columns={"vertical_speed_ft_min": rate},
    )

    assert strong(track) == []


def test_of_a_log_heard_in_bursts_nothing_is_said() -> None:
    """Eight seconds of every forty: no stretch is long enough to be held against another."""
    for track in logs(count=2):
        assert strong(only(track, np.flatnonzero(np.arange(len(track)) % 40 < 8))) == []


def test_altitudes_with_late_stamps_in_a_steep_climb_are_honest() -> None:
    """5,000 ft/min in steps of 25 ft: from some moment on each altitude is a second older, or no longer."""
    t_s = np.arange(900.0)
    for number in range(5):
        draw = np.random.default_rng(number)
        late_s = np.where(t_s < 450.0, 1.1, 0.0) + draw.uniform(0.0, 0.2, len(t_s))
        climbed_s = np.clip(t_s - late_s - 300.0, 0.0, 240.0)
        altitude_ft = np.round((4000.0 + 5000.0 / 60.0 * climbed_s) / 25.0) * 25.0
        log = written(t_s, 48.0 + 1.2e-3 * t_s, np.full(len(t_s), 11.0), altitude_ft)

        assert strong(log) == []


@pytest.mark.parametrize("interval_s", [0.2, 0.5, 1.0])
@pytest.mark.parametrize("rate", [2.0, 4.0])
def test_a_clock_at_another_rate_is_honest_in_a_log_that_scatters(rate: float, interval_s: float) -> None:
    """From sample to sample no speed is steady by itself, over some seconds it is."""
    noisy = Sensor(interval_s=0.2, position_noise_m=0.0, position_wander_m=0.0, decimals=7)
    for number, track in enumerate(logs(noisy)):
        draw = np.random.default_rng(number)
        lapse_s = 0.2 / np.where((track.t_s > 200.0) & (track.t_s < 330.0 + 20.0 * number), rate, 1.0)
        shown_s = np.concatenate([[0.0], np.cumsum(lapse_s[:-1])])
        t_s = np.arange(0.0, shown_s[-1], interval_s)
        latitude, longitude, altitude_ft = (
            np.interp(t_s, shown_s, column)
            for column in (track.latitude_deg, track.longitude_deg, track.altitude_ft)
        )
        scatter_deg = 3.0 / METRES_PER_DEG * draw.standard_normal((2, len(t_s)))
        log = written(
            t_s,
            np.round(latitude + scatter_deg[0], 6),
            np.round(longitude + scatter_deg[1], 6),
            np.round(altitude_ft),
        )

        assert strong(log) == []


def test_a_transponders_altitudes_at_a_whole_hundred_for_long_are_honest() -> None:
    """Held at 34,000 ft in steps of 25 ft: most of the log stands on hundreds, by no step of its own."""
    t_s = np.arange(0.0, 1800.0, 10.0)
    altitude_ft = np.maximum(34_000.0, 35_000.0 - 10.0 * t_s)  # a hundred feet from sample to sample
    altitude_ft[60:80] = 34_025.0
    altitude_ft[80:90] = 33_975.0

    assert strong(written(t_s, 48.0 + 2.2e-3 * t_s, np.full(len(t_s), 11.0), altitude_ft)) == []


def test_a_stamp_late_by_seconds_in_a_sparse_log_of_a_fast_flight_is_honest() -> None:
    """At 250 m/s three seconds are 750 m: a third of the way from sample to sample."""
    t_s = np.arange(0.0, 1800.0, 10.0)
    late_s = np.where(t_s < 900.0, 3.0, 0.0)
    latitude = np.round(48.0 + 250.0 * (t_s - late_s) / METRES_PER_DEG, 7)

    assert strong(written(t_s, latitude, np.full(len(t_s), 11.0), np.full(len(t_s), 34_000.0))) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_the_descent_of_who_dropped_parachutists_is_honest(interval_s: float) -> None:
    """Down at 6,500 ft/min and 140 kt with the propeller for a brake, and a climb before it."""
    t_s = np.arange(0.0, 1500.0, interval_s)
    straight = np.ones(len(t_s))
    turns_deg_s = np.where((t_s > 850.0) & (t_s < 1000.0), 2.4, 0.0)
    track = legs(t_s, turns_deg_s, straight, speed_m_s=72.0)
    altitude_ft = np.interp(
        t_s, [0.0, 800.0, 860.0, 975.0, 1500.0], [800.0, 13_500.0, 13_500.0, 1_100.0, 900.0]
    )
    random = np.random.default_rng(4)
    track = replace(
        track,
        latitude_deg=track.latitude_deg + random.normal(0.0, 2e-5, len(t_s)),
        longitude_deg=track.longitude_deg + random.normal(0.0, 2e-5, len(t_s)),
        altitude_ft=np.round(altitude_ft + random.normal(0.0, 6.0, len(t_s))),
    )

    assert strong(track) == []
