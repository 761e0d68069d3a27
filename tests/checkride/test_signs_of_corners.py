"""Corners where an edited part joins the rest, and what honest logs have that looks like one."""

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
FLIGHTS = 5


def logs(interval_s: float) -> list[Track]:
    return [
        record(case.flight, Sensor(interval_s=interval_s), seed=number)
        for number, case in enumerate(clean_flights(FLIGHTS, seed=47, sensor=GOOD))
    ]


def strong(track: Track) -> list[str]:
    return [f"{f.sign}: {f.evidence}" for f in signs_of(track, None, None) if f.strength >= TO_EXAMINER]


def placed(track: Track, x_m: Floats, y_m: Floats) -> Track:
    across = METRES_PER_DEG * np.cos(np.radians(track.latitude_deg[0]))
    return replace(
        track,
        latitude_deg=np.round(track.latitude_deg[0] + y_m / METRES_PER_DEG, 5),
        longitude_deg=np.round(track.longitude_deg[0] + x_m / across, 5),
    )


def in_metres(track: Track) -> tuple[Floats, Floats]:
    across = METRES_PER_DEG * np.cos(np.radians(track.latitude_deg[0]))
    return (
        (track.longitude_deg - track.longitude_deg[0]) * across,
        (track.latitude_deg - track.latitude_deg[0]) * METRES_PER_DEG,
    )


def sharpest_turn(track: Track, over_s: float) -> slice:
    """The part of so many seconds in which the flight turns most."""
    x_m, y_m = in_metres(track)
    step = round(10.0 / float(np.median(np.diff(track.t_s))))
    way = np.unwrap(np.arctan2(x_m[step:] - x_m[:-step], y_m[step:] - y_m[:-step]))
    wide = round(over_s / 10.0) * step
    at = np.arange(6 * step, len(way) - wide - 6 * step)
    first = int(at[np.argmax(np.abs(way[at + wide] - way[at]))])
    return slice(first, first + wide)


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
def test_a_turn_mirrored_between_its_ends_is_found(interval_s: float) -> None:
    """Flown to the other side than it was: position and speed fit, the way does not."""
    found = []
    for track in logs(interval_s):
        part = sharpest_turn(track, 60.0)
        x_m, y_m = in_metres(track)
        x, y = x_m[part] - x_m[part.start], y_m[part] - y_m[part.start]
        along = np.array([x[-1], y[-1]]) / np.hypot(x[-1], y[-1])
        off = x * along[1] - y * along[0]
        x_m[part] -= 2.0 * off * along[1]
        y_m[part] += 2.0 * off * along[0]
        signs = strong(placed(track, x_m, y_m))
        found.append(any("a corner that no bank flies" in sign for sign in signs))

    assert sum(found) >= len(found) - 1


@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_a_part_moved_aside_over_fifteen_seconds_is_found(interval_s: float) -> None:
    found = []
    for track in logs(interval_s):
        share = np.clip(np.minimum(track.t_s - 350.0, 500.0 - track.t_s) / 15.0, 0.0, 1.0)
        latitude = np.round(track.latitude_deg + share * 600.0 / METRES_PER_DEG, 5)
        found.append(bool(strong(replace(track, latitude_deg=latitude))))

    assert sum(found) >= len(found) - 1


@pytest.mark.parametrize("interval_s", [0.2, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("bank_deg", [45.0, 60.0])
def test_steep_turns_are_honest(bank_deg: float, interval_s: float) -> None:
    """Rolled into within a second, at 110 kt: 10 and 17 degrees a second."""
    t_s = np.arange(0.0, 900.0, interval_s)
    fine_s = np.arange(0.0, 900.0, 0.05)
    rate = np.zeros(len(fine_s))
    for number, start_s in enumerate(range(100, 850, 100)):
        long_s = (10.0, 20.0, 30.0)[number % 3]
        at = [start_s, start_s + 1.0, start_s + long_s, start_s + long_s + 1.0]
        rate += (-1) ** number * np.interp(fine_s, at, [0.0, 1.0, 1.0, 0.0])
    speed_m_s = 110.0 * 1852.0 / 3600.0
    way = np.cumsum(rate * 9.80665 * np.tan(np.radians(bank_deg)) / speed_m_s) * 0.05
    x_m, y_m = (np.interp(t_s, fine_s, np.cumsum(speed_m_s * part(way)) * 0.05) for part in (np.sin, np.cos))
    draw = np.random.default_rng(3)
    track = _only(logs(1.0)[0], np.zeros(len(t_s), dtype=np.int64))
    track = replace(track, t_s=t_s, line=np.arange(1.0, len(t_s) + 1), altitude_ft=np.full(len(t_s), 4000.0))

    flown = placed(track, x_m + draw.normal(0.0, 1.0, len(t_s)), y_m + draw.normal(0.0, 1.0, len(t_s)))

    assert strong(flown) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_a_receiver_that_is_off_for_some_seconds_is_honest(interval_s: float) -> None:
    """By up to 40 m within three seconds, and back: an echo of its signal, not a part that was moved."""
    for number, track in enumerate(logs(interval_s)):
        off = 40.0 * np.exp(-(((track.t_s - 300.0 - 20.0 * number) / 2.0) ** 2)) / METRES_PER_DEG
        latitude = np.round(track.latitude_deg + off, 5)

        assert strong(replace(track, latitude_deg=latitude)) == []


def test_a_simulator_set_to_another_pace_on_a_leg_makes_no_corner() -> None:
    for track in logs(1.0):
        fine = np.arange(0.0, track.t_s[-1], 1.0)
        of_s = np.where(fine < 200.0, fine, 200.0 + 2.0 * (fine - 200.0))
        of_s = of_s[of_s < track.t_s[-1]]
        x_m, y_m = (np.interp(of_s, track.t_s, values) for values in in_metres(track))
        faster = replace(_only(track, np.arange(len(of_s))), t_s=fine[: len(of_s)])

        assert not [sign for sign in strong(placed(faster, x_m, y_m)) if "corner" in sign]


def _only(track: Track, kept: np.ndarray) -> Track:
    names = ("t_s", "latitude_deg", "longitude_deg", "altitude_ft", "part", "line")
    return replace(track, **{name: getattr(track, name)[kept] for name in names}, columns={})
