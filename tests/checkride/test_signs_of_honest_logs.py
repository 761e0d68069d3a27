"""What honest flights and receivers do that looks like an edit: weightless flight, pauses, corrections, odd clocks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.checkride.model import TO_EXAMINER
from debrief.checkride.signs import signs_of
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.ensembles import GOOD, clean_flights

METRES_PER_DEG = 111_200.0


def logs(sensor: Sensor = GOOD, count: int = 4) -> list[Track]:
    return [
        record(case.flight, sensor, seed=number)
        for number, case in enumerate(clean_flights(count, seed=43, sensor=GOOD))
        if abs(case.procedure.station.longitude) < 179.0
    ]


def strong(track: Track) -> list[str]:
    return [f"{f.sign}: {f.evidence}" for f in signs_of(track, None, None) if f.strength >= TO_EXAMINER]


def only(track: Track, kept: np.ndarray) -> Track:
    names = ("t_s", "latitude_deg", "longitude_deg", "altitude_ft", "part", "line")
    return replace(track, **{name: getattr(track, name)[kept] for name in names}, columns={})


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
