"""Altitudes against the rate of climb of their own log, where a receiver scatters; what instruments make of it beside."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.checkride.model import TO_EXAMINER
from debrief.checkride.signs.shifted import shifted_signs
from debrief.checkride.signs.trace import trace_of
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import strong
from tests.ensembles import GOOD, clean_flights

COLUMNS = ("vertical_speed_ft_min",)
FLIGHTS = 6


def logs(interval_s: float, noise_ft: float, wander_ft: float) -> list[Track]:
    sensor = Sensor(
        interval_s=interval_s, columns=COLUMNS, altitude_noise_ft=noise_ft, altitude_wander_ft=wander_ft
    )
    return [
        record(case.flight, sensor, seed=number)
        for number, case in enumerate(clean_flights(FLIGHTS, seed=83, sensor=GOOD))
    ]


def with_altitudes(track: Track, altitude_ft: Floats) -> Track:
    return replace(track, altitude_ft=np.round(altitude_ft))


def low_part(track: Track) -> tuple[float, float]:
    """From when to when the lowest altitudes of the log's flight last, 150 s at most."""
    flown = slice(len(track) // 3, len(track) * 9 // 10)
    lowest_s = float(track.t_s[flown][int(np.argmin(track.altitude_ft[flown]))])
    return lowest_s - 75.0, lowest_s + 75.0


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_a_lift_through_a_descent_is_found_in_a_log_that_scatters(interval_s: float) -> None:
    """The share by which a rate may be off is what the log's own climbs show, and the edit is no noise of its own."""
    found = []
    for track in logs(interval_s, 6.0, 10.0):
        start_s, end_s = low_part(track)
        eased = np.clip(np.minimum(track.t_s - start_s, end_s - track.t_s) / 20.0 + 1.0, 0.0, 1.0)
        lifted = with_altitudes(track, track.altitude_ft + 65.0 * (1.0 - np.cos(np.pi * eased)))
        found.append(any(words.startswith("altitude_disagrees") for words in strong(lifted)))
        assert strong(track) == []

    assert sum(found) >= FLIGHTS - 1


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 5.0])
@pytest.mark.parametrize("shift_s", [-35.0, 20.0, 30.0])
def test_altitudes_shifted_in_time_are_found_by_the_rate_of_climb(shift_s: float, interval_s: float) -> None:
    found = []
    for track in logs(interval_s, 3.0, 8.0):
        shifted = np.interp(track.t_s - shift_s, track.t_s, track.altitude_ft)
        trace = trace_of(with_altitudes(track, shifted), None)
        assert trace is not None
        found += [flag.strength >= TO_EXAMINER for flag in shifted_signs(trace)]

    assert sum(found) >= FLIGHTS - 1


@pytest.mark.parametrize("late_s", [3.0, 8.0])
def test_a_late_vertical_speed_indicator_is_honest(late_s: float) -> None:
    for track in logs(1.0, 3.0, 8.0):
        rate = track.columns["vertical_speed_ft_min"]
        late = np.interp(track.t_s - late_s, track.t_s, rate)

        assert strong(replace(track, columns={"vertical_speed_ft_min": late})) == []


@pytest.mark.parametrize("scale", [0.88, 1.1])
def test_a_rate_of_climb_off_by_a_share_is_honest(scale: float) -> None:
    """Cold air, or warm: height goes otherwise than pressure has it."""
    for track in logs(1.0, 3.0, 8.0):
        rate = track.columns["vertical_speed_ft_min"] * scale

        assert strong(replace(track, columns={"vertical_speed_ft_min": rate})) == []
