"""Order: sorting, doubled samples, shared stamps, clocks set back. Whole texts."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.tracks.conditioning import condition
from tests.tracks.flights import APPROACH, Log, flown, recorded

TRUE = flown(APPROACH)
LOG = recorded(TRUE, 1.0, noise_m=2.0)
COUNT = len(LOG.t_s)


def joined(first: Log, second: Log) -> Log:
    names = (
        "t_s",
        "latitude_deg",
        "longitude_deg",
        "altitude_ft",
        "groundspeed_kt",
        "track_true_deg",
        "climb_ft_min",
    )
    return Log(**{name: np.concatenate([getattr(first, name), getattr(second, name)]) for name in names})


def test_samples_out_of_order_are_sorted_and_said():
    conditioned = condition(LOG.pick(np.r_[0:100, 101, 100, 102:COUNT]).track())

    assert conditioned.order.tolist() == [*range(100), 101, 100, *range(102, COUNT)]
    assert conditioned.warnings == (
        "1 sample out of order in time, the first at 10:01:40 UTC (line 103); all samples are used in order of time.",
    )


def test_points_are_called_points():
    conditioned = condition(LOG.pick(np.r_[0:100, 101, 100, 102:COUNT]).track(line_counts="point"))

    assert "10:01:40 UTC (point 103)" in conditioned.warnings[0]


def test_a_file_that_runs_backwards_is_turned():
    conditioned = condition(LOG.pick(slice(None, None, -1)).track())

    assert conditioned.order.tolist() == list(range(COUNT - 1, -1, -1))
    assert conditioned.warnings == (
        "The file runs backwards in time; its samples are used in order of time.",
    )


def test_doubled_samples_are_used_once():
    conditioned = condition(LOG.pick(np.sort(np.r_[0:COUNT, 5:15])).track())

    assert conditioned.set_aside.count("doubled") == 10
    assert conditioned.warnings == (
        "10 samples doubled (time and position of another), the first at 10:00:05 UTC (line 8); one of each is used.",
    )


def test_a_doubled_section_is_used_once():
    conditioned = condition(LOG.pick(np.r_[0:300, 260:COUNT]).track())

    assert conditioned.set_aside.count("doubled") == 40
    assert len(conditioned.order) == COUNT
    assert conditioned.gaps == ()


@pytest.mark.parametrize("a_second", [2, 5, 10])
def test_the_first_of_each_second_gives_the_right_speed(a_second):
    log = recorded(TRUE, 1.0 / a_second, noise_m=0.3)
    log = log.set(t_s=np.floor(log.t_s + 0.5 / a_second))

    conditioned = condition(log.track())

    others = len(log.t_s) - len(np.unique(log.t_s))
    assert conditioned.set_aside.count("same second") == others
    assert conditioned.warnings == (
        (
            f"Times are whole seconds, with about {a_second:.1f} samples a second: the first of each second is used, the other "
            f"{others:,} samples are set aside; times may be off by a second."
        ),
    )
    used = conditioned.order
    steps_m = np.hypot(np.diff(log.latitude_deg[used]) * 111_200, np.diff(log.longitude_deg[used]) * 75_900)
    assert np.abs(steps_m[:150] / (120 * 1852 / 3600) - 1).max() < 0.05


def test_of_two_samples_on_one_stamp_the_fitting_one_is_used():
    """The first of the two is miles off."""
    log = LOG.pick(np.sort(np.r_[0:COUNT, 200])).moved(np.array([200]), 4000.0, 0.0)

    conditioned = condition(log.track())

    assert conditioned.set_aside[200] == "same time"
    assert conditioned.set_aside[201] == ""
    assert conditioned.warnings == (
        "1 time shared by samples at different places, the first at 10:03:20 UTC; the one that fits its neighbours is used.",
    )


def test_of_two_recordings_in_one_file_the_first_is_used():
    conditioned = condition(joined(LOG, recorded(TRUE, 1.0, noise_m=2.0, seed=9)).track())

    assert conditioned.order.tolist() == list(range(COUNT))
    assert conditioned.warnings[-1] == (
        f"The file records the same time twice, the second time from 10:00:00 UTC (line {COUNT + 2}), at places slightly "
        f"different: the first recording is used, {COUNT} samples of the other are set aside."
    )


def test_a_clock_set_back_leaves_the_longer_stretch():
    t_s = LOG.t_s.copy()
    t_s[400:] -= 100.0

    conditioned = condition(LOG.set(t_s=t_s).track())

    assert [i for i, reason in enumerate(conditioned.set_aside) if reason] == list(range(400, 500))
    assert set(conditioned.set_aside) == {"", "clock set back"}
    assert conditioned.warnings[0] == (
        "The clock goes back by 99 s at 10:05:00 UTC (line 402), and two stretches claim the same time at different places: the "
        "shorter, 100 samples from 10:05:00 UTC (line 402), is set aside."
    )


@pytest.mark.parametrize("off_s", [3600.0, -3600.0])
def test_one_stamp_out_of_place_costs_one_sample(off_s):
    t_s = LOG.t_s.copy()
    t_s[350] += off_s

    conditioned = condition(LOG.set(t_s=t_s).track())

    assert [i for i, reason in enumerate(conditioned.set_aside) if reason] == [350]


@pytest.mark.parametrize("missing", [np.nan, 0.0])
def test_samples_without_a_position_are_set_aside(missing):
    latitude, longitude = LOG.latitude_deg.copy(), LOG.longitude_deg.copy()
    latitude[10:15] = longitude[10:15] = missing

    conditioned = condition(LOG.set(latitude_deg=latitude, longitude_deg=longitude).track())

    assert conditioned.set_aside[10:15] == ("no position",) * 5
    assert conditioned.warnings == (
        "5 samples without a usable position or time, the first at 10:00:10 UTC (line 12): set aside.",
    )
