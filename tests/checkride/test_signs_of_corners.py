"""Corners where an edited part joins the rest, and what honest logs have that looks like one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import only, strong, written
from tests.ensembles import GOOD, clean_flights

METRES_PER_DEG = 111_200.0
FLIGHTS = 5


def logs(interval_s: float) -> list[Track]:
    return [
        record(case.flight, Sensor(interval_s=interval_s), seed=number)
        for number, case in enumerate(clean_flights(FLIGHTS, seed=47, sensor=GOOD))
    ]


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


Turn = tuple[float, float]  # when it begins, and how long its bank is held [s]


def banked(
    turns: list[Turn], bank_deg: float, interval_s: float, roll_s: float = 1.0
) -> tuple[Floats, Floats, Floats]:
    """Turns to either side by turns, in still air at 110 kt: times, and metres east and north."""
    t_s = np.arange(0.0, 900.0, interval_s)
    fine_s = np.arange(0.0, 900.0, 0.05)
    rate = np.zeros(len(fine_s))
    for number, (start_s, long_s) in enumerate(turns):
        at = [start_s, start_s + roll_s, start_s + long_s, start_s + long_s + roll_s]
        rate += (-1) ** number * np.interp(fine_s, at, [0.0, 1.0, 1.0, 0.0])
    speed_m_s = 110.0 * 1852.0 / 3600.0
    way = np.cumsum(rate * 9.80665 * np.tan(np.radians(bank_deg)) / speed_m_s) * 0.05
    x_m, y_m = (np.interp(t_s, fine_s, np.cumsum(speed_m_s * part(way)) * 0.05) for part in (np.sin, np.cos))
    return t_s, x_m, y_m


def received(t_s: Floats, x_m: Floats, y_m: Floats) -> Track:
    """As a receiver that scatters by a metre writes them, at one altitude."""
    draw = np.random.default_rng(3)
    zeros = np.zeros(len(t_s))
    blank = written(t_s, zeros + 48.0, zeros + 11.0, zeros + 4000.0)
    return placed(blank, x_m + draw.normal(0.0, 1.0, len(t_s)), y_m + draw.normal(0.0, 1.0, len(t_s)))


@pytest.mark.parametrize("interval_s", [0.2, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("bank_deg", [45.0, 60.0])
def test_steep_turns_are_honest(bank_deg: float, interval_s: float) -> None:
    """Rolled into within a second, at 110 kt: 10 and 17 degrees a second."""
    turns = [(100.0 * k, (30.0, 10.0, 20.0)[k % 3]) for k in range(1, 9)]

    assert strong(received(*banked(turns, bank_deg, interval_s))) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
def test_two_short_turns_at_60_degrees_of_bank_are_honest(interval_s: float) -> None:
    """By some 30 degrees in two seconds, between straight legs: in few samples no more than a corner at one speed."""
    turns = [(300.0, 1.4), (600.0, 1.4)]

    assert strong(received(*banked(turns, 60.0, interval_s, roll_s=0.6))) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_a_way_that_turns_as_much_from_one_sample_to_the_next_is_found(interval_s: float) -> None:
    """By 30 degrees and back: a leg that was drawn anew. Banked, that takes two seconds, and shows in the steps beside."""
    t_s = np.arange(0.0, 900.0, interval_s)
    way = np.radians(np.where((t_s >= 300.0) & (t_s < 500.0), 30.0, 0.0))
    x_m, y_m = (np.cumsum(56.6 * interval_s * part(way)) for part in (np.sin, np.cos))

    assert any("a corner that no bank flies" in sign for sign in strong(received(t_s, x_m, y_m)))


@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_a_speed_that_changes_at_once_in_a_turn_is_found(interval_s: float) -> None:
    """From one sample on the flight goes on two fifths faster, in a turn as on a leg."""
    t_s, x_m, y_m = banked([(300.0, 60.0)], 20.0, interval_s)
    of_s = np.where(t_s < 330.0, t_s, 330.0 + 1.4 * (t_s - 330.0))
    kept = of_s < t_s[-1]

    flown = [np.interp(of_s[kept], t_s, values) for values in (x_m, y_m)]

    assert any("no engine or brake" in sign for sign in strong(received(t_s[kept], *flown)))


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
        faster = replace(only(track, np.arange(len(of_s))), t_s=fine[: len(of_s)])

        assert not [sign for sign in strong(placed(faster, x_m, y_m)) if "corner" in sign]
