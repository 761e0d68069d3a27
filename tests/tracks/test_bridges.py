"""Bridged stretches, against autopilots, resampled logs and jittering stamps. Whole texts."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.tracks.conditioning import condition
from tests.tracks.flights import APPROACH, CRUISE, HOLDING, Log, at_times, bridged, flown, recorded

TRUE = flown(APPROACH)
#: Reception holes over the turn at the station, over the reversal, over a small turn. [s]
HOLES = {"passage": (150, 240), "reversal": (330, 420), "short": (185, 225)}


def resampled(true: Log, mean_s: float, grid_s: float, noise_m: float, seed: int) -> Log:
    """Fixes at irregular times, drawn out to an even grid by straight lines."""
    random = np.random.default_rng(seed)
    t_s = np.concatenate(
        [[0.0], np.cumsum(random.uniform(0.2 * mean_s, 1.8 * mean_s, int(2 * true.t_s[-1] / mean_s)))]
    )
    t_s = t_s[t_s < true.t_s[-1]]
    fixes = at_times(true, t_s)
    grid = np.arange(0.0, t_s[-1], grid_s)
    noise = noise_m / 111_000 * random.standard_normal((2, len(t_s)))
    return at_times(true, grid).set(
        latitude_deg=np.round(np.interp(grid, t_s, fixes.latitude_deg + noise[0]), 6),
        longitude_deg=np.round(np.interp(grid, t_s, fixes.longitude_deg + noise[1]), 6),
    )


def found(log: Log) -> np.ndarray:
    return np.array([reason == "bridged" for reason in condition(log.track()).set_aside])


@pytest.mark.parametrize("hole", HOLES)
@pytest.mark.parametrize(
    ("interval_s", "noise_m", "jitter_s"),
    [
        (0.2, 0.0, 0.0),
        (1.0, 0.0, 0.0),
        (1.0, 2.0, 0.0),
        (1.0, 8.0, 0.0),
        (1.0, 3.0, 1.0),
        (2.0, 2.0, 0.0),
        (2.0, 3.0, 1.0),
        (5.0, 3.0, 1.0),
    ],
)
def test_a_bridge_is_found_and_nothing_else(hole, interval_s, noise_m, jitter_s):
    start, end = (round(t / interval_s) for t in HOLES[hole])
    log = bridged(recorded(TRUE, interval_s, noise_m=noise_m, jitter_s=jitter_s), start, end)

    bad = found(log)

    assert bad[start + 1 : end].all()
    bad[max(start - 3, 0) : end + 4] = False  # a sample may stand on the line by chance
    assert not bad.any()


@pytest.mark.parametrize("decimals", [5, 6])
def test_a_bridge_over_straight_flight_is_told_by_its_silence(decimals):
    log = recorded(flown(CRUISE), 1.0, noise_m=1.0, decimals=decimals)

    bad = found(bridged(log, 300, 420, decimals=decimals))

    assert bad[301:420].all()
    assert bad.sum() < 130


@pytest.mark.parametrize("mean_s", [3.0, 5.0])
@pytest.mark.parametrize("hole", ["passage", "reversal"])
def test_a_bridge_in_a_resampled_log(mean_s, hole):
    start, end = (t // 5 for t in HOLES[hole])
    log = bridged(resampled(TRUE, mean_s, 5.0, 8.0, seed=2), start, end)

    bad = found(log)

    assert bad[start + 1 : end].all()
    assert bad.sum() <= end - start + 2


def test_the_gap_and_the_words():
    conditioned = condition(bridged(recorded(TRUE, 1.0), 330, 420).track())

    assert [(gap.start_s, gap.end_s, gap.reason) for gap in conditioned.gaps] == [(330.0, 420.0, "bridged")]
    assert conditioned.warnings == (
        (
            "1 min 30 s from 10:05:30 to 10:07:00 UTC on one straight line at one exact speed, unlike the rest of the flight, as a "
            "program fills a hole in reception: left out."
        ),
    )


def test_the_words_for_two():
    log = bridged(bridged(recorded(TRUE, 1.0, noise_m=3.0), 150, 240), 330, 420)

    (words,) = condition(log.track()).warnings

    assert words.startswith("2 stretches, the longest 1 min 3")
    assert words.endswith(
        ", on one straight line at one exact speed, unlike the rest of the flight, as a program fills a hole in reception: "
        "left out."
    )


@pytest.mark.parametrize("legs", [APPROACH, HOLDING, CRUISE], ids=["approach", "holding", "cruise"])
@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 5.0, 15.0])
@pytest.mark.parametrize("decimals", [5, 6, 7, 12])
@pytest.mark.parametrize("latitude_deg", [5.0, 60.0])
def test_an_autopilot_in_still_air_is_no_bridge(legs, interval_s, decimals, latitude_deg):
    assert not found(recorded(flown(legs, latitude_deg=latitude_deg), interval_s, decimals=decimals)).any()


@pytest.mark.parametrize("legs", [APPROACH, HOLDING, CRUISE], ids=["approach", "holding", "cruise"])
@pytest.mark.parametrize(("mean_s", "grid_s"), [(3.0, 1.0), (3.0, 5.0), (5.0, 5.0), (8.0, 5.0)])
@pytest.mark.parametrize("noise_m", [0.0, 5.0])
def test_a_log_resampled_at_large_is_no_bridge(legs, mean_s, grid_s, noise_m):
    assert not found(resampled(flown(legs), mean_s, grid_s, noise_m, seed=1)).any()


@pytest.mark.parametrize("rate", [2.0, 4.0])
def test_a_simulation_rate_is_no_bridge(rate):
    """Ten minutes of a straight leg flown at a multiple of real time, in still air."""
    stamps = np.interp(
        np.arange(0.0, 1840.0), [0, 200, 800, 1840], [0, 200, 200 + 600 / rate, 1240 + 600 / rate]
    )
    log = at_times(flown(CRUISE), np.interp(np.arange(0.0, stamps[-1]), stamps, np.arange(0.0, 1840.0)))

    assert not found(log.set(t_s=np.arange(float(len(log.t_s))))).any()


def test_a_gap_or_a_jump_behind_a_straight_leg_is_no_corner():
    log = recorded(TRUE, 1.0)

    assert not found(log.pick(np.r_[0:340, 420:695])).any()
    assert not found(log.moved(slice(340, None), 40_000.0, 0.0)).any()


def test_bridges_that_are_more_than_a_third_of_a_noisy_log():
    """They are as quiet as ever against what is left of the straight flight."""
    log = bridged(bridged(recorded(TRUE, 1.0, noise_m=4.0, jitter_s=1.0), 150, 270), 330, 480)

    bad = found(log)

    assert bad[151:270].all()
    assert bad[331:480].all()
    assert bad.sum() < 280


def test_a_slow_bridge_whose_positions_are_repeated():
    """The aircraft turned round meanwhile, so the line is slower than any flight, and every third position is old."""
    log = recorded(TRUE, 1.0, noise_m=4.0)
    start, end = 330, 460
    latitude, longitude = log.latitude_deg.copy(), log.longitude_deg.copy()
    latitude[end:] += latitude[start] + 0.012 - latitude[end]
    longitude[end:] += longitude[start] - longitude[end]
    log = bridged(log.set(latitude_deg=latitude, longitude_deg=longitude), start, end)
    latitude, longitude = log.latitude_deg.copy(), log.longitude_deg.copy()
    stale = np.arange(start + 3, end - 2, 3)
    latitude[stale], longitude[stale] = latitude[stale - 1], longitude[stale - 1]

    bad = found(log.set(latitude_deg=latitude, longitude_deg=longitude))

    assert bad[start + 1 : end].all()
    assert bad.sum() < end - start + 6
