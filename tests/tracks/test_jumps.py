"""Wild positions and jumps. Whole texts."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.tracks.conditioning import condition
from tests.tracks.flights import APPROACH, HOLDING, flown, recorded

TRUE = flown(APPROACH)
NAMES = {"approach": TRUE, "holding": flown(HOLDING)}
FEET_1000_M = 304.8
MILE_M = 1852.0


@pytest.mark.parametrize("flight", NAMES)
@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("noise_m", [0.0, 5.0])
@pytest.mark.parametrize("far_m", [3 * FEET_1000_M, 2 * MILE_M, 60 * MILE_M])
def test_single_wild_samples_are_found_exactly(flight, interval_s, noise_m, far_m):
    log = recorded(NAMES[flight], interval_s, noise_m=noise_m)
    wild = np.sort(np.random.default_rng(4).choice(np.arange(4, len(log.t_s) - 4, 4), 6, replace=False))

    conditioned = condition(log.moved(wild, far_m * 0.6, -far_m * 0.8).track())

    assert [i for i, reason in enumerate(conditioned.set_aside) if reason == "spike"] == wild.tolist()
    assert conditioned.set_aside.count("") == len(log.t_s) - 6


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0])
def test_a_thousand_feet_to_the_side_is_seen(interval_s):
    log = recorded(TRUE, interval_s, noise_m=3.0).moved(
        np.array([100]), -0.766 * FEET_1000_M, 0.643 * FEET_1000_M
    )

    assert condition(log.track()).set_aside[100] == "spike"


@pytest.mark.parametrize("interval_s", [1.0, 5.0, 15.0])
def test_miles_off_is_seen_at_any_interval(interval_s):
    log = recorded(TRUE, interval_s).moved(np.array([20]), 3 * MILE_M, 0.0)

    assert [i for i, reason in enumerate(condition(log.track()).set_aside) if reason] == [20]


@pytest.mark.parametrize("run", [2, 3, 4, 5])
@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0])
def test_short_runs_are_found(run, interval_s):
    log = recorded(TRUE, interval_s, noise_m=3.0).moved(slice(200, 200 + run), 5000.0, 5000.0)

    conditioned = condition(log.track())

    assert [i for i, reason in enumerate(conditioned.set_aside) if reason] == list(range(200, 200 + run))
    assert "new segment" not in [gap.reason for gap in conditioned.gaps]


def test_the_words_for_wild_positions():
    log = (
        recorded(TRUE, 1.0)
        .moved(np.array([100, 200]), 2 * MILE_M, 0.0)
        .moved(np.array([300]), 0.0, 5 * MILE_M)
    )

    assert condition(log.track()).warnings == (
        "3 positions far off the flight, up to 5.0 NM at 10:05:00 UTC (line 302): set aside.",
    )


@pytest.mark.parametrize(("at", "word"), [(0, "10:00:00 UTC (line 2)"), (-1, "10:11:34 UTC (line 696)")])
def test_a_wild_first_or_last_sample(at, word):
    conditioned = condition(recorded(TRUE, 1.0, noise_m=2.0).moved(np.array([at]), 5000.0, 0.0).track())

    assert conditioned.set_aside.count("") == 694
    assert conditioned.gaps == ()
    assert conditioned.warnings == (
        f"1 sample out of reach of the rest of the flight, the first at {word}: set aside.",
    )


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0])
@pytest.mark.parametrize("noise_m", [0.0, 5.0])
@pytest.mark.parametrize("far_nm", [2.0, 30.0])
def test_a_jump_begins_a_segment(interval_s, noise_m, far_nm):
    log = recorded(TRUE, interval_s, noise_m=noise_m)
    middle = len(log.t_s) // 2

    conditioned = condition(log.moved(slice(middle, None), far_nm * MILE_M, 0.0).track())

    assert set(conditioned.set_aside) == {""}
    assert [gap.reason for gap in conditioned.gaps] == ["new segment"]
    assert conditioned.gaps[0].end_s == pytest.approx(log.t_s[middle], abs=1e-9)
    assert conditioned.segment.tolist() == [0] * middle + [1] * (len(log.t_s) - middle)


def test_the_words_for_a_jump():
    log = recorded(TRUE, 1.0).moved(slice(300, None), 0.0, -20 * MILE_M)

    assert condition(log.track()).warnings == (
        "The position jumps by 20.0 NM at 10:05:00 UTC (line 302): what follows is taken as a separate stretch of flight.",
    )


def test_dragging_the_aircraft_across_the_map():
    log = recorded(TRUE, 1.0)
    for k in range(8):
        log = log.moved(slice(300 + k, None), 9000.0, 0.0)

    conditioned = condition(log.track())

    assert [i for i, reason in enumerate(conditioned.set_aside) if reason] == list(range(300, 307))
    assert [(gap.start_s, gap.end_s, gap.reason) for gap in conditioned.gaps] == [
        (299.0, 307.0, "new segment")
    ]


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0])
def test_half_a_minute_miles_away_and_back_is_wild(interval_s):
    log = recorded(TRUE, interval_s, noise_m=3.0)
    away = slice(round(300 / interval_s), round(320 / interval_s))

    conditioned = condition(log.moved(away, 9000.0, 0.0).track())

    assert set(conditioned.set_aside[away]) == {"spike"}
    assert conditioned.set_aside.count("spike") == away.stop - away.start
    assert [gap.reason for gap in conditioned.gaps] == ["no samples"]


def test_an_aircraft_put_back_twice_keeps_all_its_flight():
    log = (
        recorded(TRUE, 1.0, noise_m=3.0)
        .moved(slice(300, None), 9000.0, 0.0)
        .moved(slice(320, None), 9000.0, 0.0)
    )

    conditioned = condition(log.track())

    assert set(conditioned.set_aside) == {""}
    assert [gap.reason for gap in conditioned.gaps] == ["new segment", "new segment"]


@pytest.mark.parametrize("seen_s", [10.0, 20.0, 40.0])
def test_some_samples_in_the_air_before_a_hole_and_a_long_stand_are_a_flight(seen_s):
    """Most of the log stands on the apron: by its speed no sample before the hole could follow the one before it."""
    log = recorded(
        flown(((160.0, 0, 90, -500), (30, 0, 30, 0), (60, 0, 12, 0), (1800, 0, 0, 0))), 5.0, noise_m=2.0
    )

    conditioned = condition(log.pick((log.t_s <= seen_s) | (log.t_s >= 250.0)).track())

    assert "jump" not in conditioned.set_aside
    assert "spike" not in conditioned.set_aside
