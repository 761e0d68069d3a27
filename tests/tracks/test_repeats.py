"""Repeated positions and pauses. Whole texts."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.tracks.conditioning import condition
from tests.tracks.flights import APPROACH, Log, at_times, flown, recorded

TRUE = flown(APPROACH)


def held(log: Log, stale: np.ndarray) -> Log:
    index = np.maximum.accumulate(np.where(stale, 0, np.arange(len(stale))))
    return log.set(latitude_deg=log.latitude_deg[index], longitude_deg=log.longitude_deg[index])


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0])
@pytest.mark.parametrize(("noise_m", "jitter_s"), [(0.0, 0.0), (5.0, 0.0), (5.0, 0.9)])
def test_a_third_repeated_is_found_exactly(interval_s, noise_m, jitter_s):
    log = recorded(TRUE, interval_s, noise_m=noise_m, jitter_s=min(jitter_s, interval_s), decimals=7)
    stale = np.random.default_rng(2).random(len(log.t_s)) < 1 / 3
    stale[[0, -1]] = False

    conditioned = condition(held(log, stale).track())

    assert [reason == "repeated position" for reason in conditioned.set_aside] == stale.tolist()
    assert "jump" not in conditioned.set_aside


def test_the_words_for_repeats():
    log = recorded(TRUE, 1.0, noise_m=2.0)
    stale = np.zeros(len(log.t_s), dtype=bool)
    stale[[50, 100, 101, 102, 300]] = True

    assert condition(held(log, stale).track()).warnings == (
        (
            "5 samples (1 %) in motion repeat the position before them, the first at 10:00:50 UTC (line 52), the longest for 3.0 s at "
            "10:01:39 UTC: the receiver had no new one. They are set aside."
        ),
    )


def test_a_slow_receiver_in_a_fast_log():
    log = recorded(TRUE, 0.1, noise_m=2.0)
    stale = np.arange(len(log.t_s)) % 10 != 0

    conditioned = condition(held(log, stale).track())

    assert conditioned.median_interval_s == pytest.approx(1.0, abs=1e-6)
    assert len(conditioned.order) == len(log.t_s) // 10


def test_a_receiver_stuck_for_long_makes_a_gap():
    log = recorded(TRUE, 1.0, noise_m=2.0)
    stale = np.zeros(len(log.t_s), dtype=bool)
    stale[331:370] = True

    conditioned = condition(held(log, stale).track())

    assert [(gap.start_s, gap.end_s, gap.reason) for gap in conditioned.gaps] == [(330.0, 370.0, "stuck")]


@pytest.mark.parametrize("noise_m", [0.0, 3.0])
def test_a_hole_filled_backwards_is_no_pause(noise_m):
    """As surveillance data come, resampled to seconds: the next position stands in for those that were not heard."""
    log = recorded(TRUE, 1.0, noise_m=noise_m)
    missing = np.zeros(len(log.t_s), dtype=bool)
    for first, count in ((100, 3), (200, 4), (310, 5), (450, 3)):
        missing[first : first + count] = True
    index = np.minimum.accumulate(np.where(missing, len(missing), np.arange(len(missing)))[::-1])[::-1]

    conditioned = condition(
        log.set(latitude_deg=log.latitude_deg[index], longitude_deg=log.longitude_deg[index]).track()
    )

    assert [reason == "repeated position" for reason in conditioned.set_aside] == missing.tolist()
    assert conditioned.gaps == ()
    assert conditioned.warnings == (
        (
            "Set aside: 15 samples (2 %) in motion at the position of the next one, the first at 10:01:40 UTC (line 102), as where "
            "a hole is filled backwards."
        ),
    )


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0])
@pytest.mark.parametrize("noise_m", [0.0, 3.0])
def test_a_pause_is_no_flight_time(interval_s, noise_m):
    log = recorded(TRUE, interval_s, noise_m=noise_m)
    middle, pause = len(log.t_s) // 2, round(60 / interval_s)
    index = np.r_[0:middle, np.full(pause, middle), middle : len(log.t_s)]
    log = log.pick(index)
    log = log.set(t_s=np.arange(len(index)) * interval_s)

    conditioned = condition(log.track())

    assert conditioned.set_aside.count("paused") == pause
    assert [gap.reason for gap in conditioned.gaps] == ["stuck"]
    assert conditioned.gaps[0].seconds == pytest.approx(60.0 + interval_s, abs=0.01)
    assert len(conditioned.warnings) == 1


def test_the_words_for_a_pause():
    log = recorded(TRUE, 1.0).pick(np.r_[0:300, np.full(60, 300), 300:695])

    assert condition(log.set(t_s=np.arange(755.0)).track()).warnings == (
        "The position stands still for 1 min in flight from 10:05:00 UTC (line 302), as in a pause: that time is left out.",
    )


def test_the_words_for_several_pauses():
    log = recorded(TRUE, 1.0).pick(np.r_[0:300, np.full(60, 300), 300:500, np.full(20, 500), 500:695])

    assert condition(log.set(t_s=np.arange(775.0)).track()).warnings[0] == (
        "The position stands still 2 times in flight, as in a pause, the longest for 1 min from 10:05:00 UTC (line 302): that "
        "time is left out."
    )


def test_a_log_that_ends_paused():
    log = recorded(TRUE, 1.0).pick(np.r_[0:300, np.full(60, 300)])

    conditioned = condition(log.set(t_s=np.arange(360.0)).track())

    assert conditioned.set_aside[301:] == ("paused",) * 59


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0, 15.0])
def test_a_full_stop_and_take_off_is_no_pause(interval_s):
    legs = (
        (120, 0, 90, -300),
        (15, 0, 45, 0),
        (15, 0, 10, 0),
        (90, 0, 0, 0),
        (20, 0, 30, 0),
        (120, 0, 80, 500),
    )

    conditioned = condition(recorded(flown(legs), interval_s).track())

    assert set(conditioned.set_aside) == {""}


def test_rounding_to_four_decimals_at_five_hertz_is_no_repeat():
    """12 m a sample in steps of 11 m: some neighbours are equal, and none is stale."""
    conditioned = condition(recorded(TRUE, 0.2, decimals=4).track())

    assert set(conditioned.set_aside) == {""}


def test_noise_that_makes_neighbours_equal_by_chance_is_no_repeat():
    log = recorded(TRUE, 0.1, noise_m=3.0, decimals=5)
    assert ((np.diff(log.latitude_deg) == 0) & (np.diff(log.longitude_deg) == 0)).any()

    assert set(condition(log.track()).set_aside) == {""}


def test_a_simulator_that_keeps_its_clock_in_a_pause():
    log = at_times(TRUE, np.arange(0.0, 690.0))
    t_s = log.t_s.copy()
    t_s[300:] += 240.0

    assert condition(log.set(t_s=t_s).track()).warnings == (
        "Nothing usable for 4 min 1 s from 10:04:59 to 10:09:00 UTC; nothing is measured there.",
        (
            "At 10:04:59 UTC the clock runs on by 4 min 1 s while the position goes on almost where it was: the simulator was paused, "
            "or the aircraft circled unseen."
        ),
    )
