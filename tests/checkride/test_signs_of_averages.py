"""Whole logs put through a moving average or a moving polynomial, and receivers that filter by themselves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import strong
from tests.ensembles import GOOD, clean_flights

FLIGHTS = 5
FINE = Sensor(position_noise_m=1.0, decimals=7, altitude_step_ft=0.1)


def averaged(values: Floats, wide: int) -> Floats:
    padded = np.pad(values, wide // 2, mode="edge")
    return np.convolve(padded, np.ones(wide) / wide, mode="valid")


def fitted(values: Floats, wide: int) -> Floats:
    """The middle of a parabola through so many samples around each."""
    from scipy.signal import savgol_filter

    return np.asarray(savgol_filter(values, wide, 2))


def forgetting(values: Floats, wide: int) -> Floats:
    """Each sample a share of the one before: what a receiver does that filters what it hears."""
    from scipy.signal import lfilter

    keep = 1.0 - 3.0 / wide
    off = values - values[0]
    return np.asarray(values[0] + lfilter([1.0 - keep], [1.0, -keep], off))


def through(track: Track, smooth: Callable[[Floats, int], Floats], wide: int) -> Track:
    return replace(
        track,
        latitude_deg=np.round(smooth(track.latitude_deg, wide), 7),
        longitude_deg=np.round(smooth(track.longitude_deg, wide), 7),
        altitude_ft=np.round(smooth(track.altitude_ft, wide), 1),
    )


def logs(interval_s: float) -> list[Track]:
    return [
        record(case.flight, replace(FINE, interval_s=interval_s), seed=number)
        for number, case in enumerate(clean_flights(FLIGHTS + 1, seed=47, sensor=GOOD))
        if abs(case.procedure.station.longitude) < 179.0  # means over the antimeridian are nowhere
    ][:FLIGHTS]


@pytest.mark.parametrize(("smooth", "wide"), [(averaged, 11), (averaged, 21), (fitted, 21)])
@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_a_log_averaged_as_a_whole_is_found(
    smooth: Callable[[Floats, int], Floats], wide: int, interval_s: float
) -> None:
    found = [strong(through(log, smooth, round(wide / interval_s) | 1)) for log in logs(interval_s)]

    assert sum(any("averaged over" in words for words in one) for one in found) >= FLIGHTS - 1


def test_it_says_over_how_long() -> None:
    found = [words for log in logs(1.0) for words in strong(through(log, averaged, 15))]

    assert any("goes out again 15 s later" in words for words in found)


@pytest.mark.parametrize("interval_s", [0.2, 0.5, 1.0, 2.0])
def test_a_log_as_it_was_recorded_is_honest(interval_s: float) -> None:
    assert [strong(log) for log in logs(interval_s)] == [[]] * FLIGHTS


@pytest.mark.parametrize("wide", [6, 12, 20])
def test_a_receiver_that_filters_is_honest(wide: int) -> None:
    assert [strong(through(log, forgetting, wide)) for log in logs(1.0)] == [[]] * FLIGHTS


@pytest.mark.parametrize("wide", [3, 5])
def test_a_mean_of_a_few_samples_is_honest(wide: int) -> None:
    """Some recorders write the mean of a few."""
    assert [strong(through(log, averaged, wide)) for log in logs(1.0)] == [[]] * FLIGHTS


def with_track(
    interval_s: float, smooth: Callable[[Floats, int], Floats] | None, over_s: float
) -> list[list[str]]:
    """What is found where positions of five decimals were smoothed, beside the track that was received with them."""
    sensor = Sensor(interval_s=interval_s, columns=("groundspeed_kt", "ground_track_true_deg"))
    found = []
    for number, case in enumerate(clean_flights(FLIGHTS + 1, seed=47, sensor=GOOD)):
        if abs(case.procedure.station.longitude) < 179.0:
            log = record(case.flight, sensor, seed=number)
            if smooth is not None:
                wide = round(over_s / interval_s) | 1
                log = replace(
                    log,
                    latitude_deg=np.round(smooth(log.latitude_deg, wide), 5),
                    longitude_deg=np.round(smooth(log.longitude_deg, wide), 5),
                )
            found.append(strong(log))
    return found


@pytest.mark.parametrize(
    ("interval_s", "over_s"), [(0.5, 13.0), (1.0, 13.0), (2.0, 13.0), (0.5, 21.0), (2.0, 21.0), (5.0, 21.0)]
)
def test_positions_that_turn_before_the_track_does_and_after_it_are_found(
    interval_s: float, over_s: float
) -> None:
    found = with_track(interval_s, averaged, over_s)

    assert sum(any("begin to turn before" in words for words in one) for one in found) >= FLIGHTS - 2


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_positions_beside_their_own_track_are_honest(interval_s: float) -> None:
    assert with_track(interval_s, None, 0.0) == [[]] * FLIGHTS


@pytest.mark.parametrize("over_s", [6.0, 10.0])
def test_positions_that_a_receiver_filters_beside_its_track_are_honest(over_s: float) -> None:
    """They are late at the beginning of a turn as at its end."""
    found = with_track(1.0, forgetting, over_s)

    assert [[words for words in one if words.startswith("smoothed")] for one in found] == [[]] * FLIGHTS
