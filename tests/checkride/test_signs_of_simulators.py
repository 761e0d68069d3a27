"""Honest logs of simulators: what is moved, stepped or looped in them as no aircraft flies and no receiver writes it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.tracks.model import Floats, Track
from tests.checkride.logs import strong, written

METRES_PER_DEG = 111_195.0
LATITUDE_DEG = 47.0


def flown(t_s: Floats, course_deg: Floats, speed_kt: Floats, altitude_ft: Floats, wide: int = 1) -> Track:
    """A way by dead reckoning at those courses and speeds over the ground; of its steps every so many are written."""
    step_s = np.diff(t_s, prepend=t_s[0] - (t_s[1] - t_s[0]))
    way_m = speed_kt * 1852.0 / 3600.0 * step_s
    north_m, east_m = (np.cumsum(way_m * part(np.radians(course_deg))) for part in (np.cos, np.sin))
    across_m = METRES_PER_DEG * np.cos(np.radians(LATITUDE_DEG))
    return written(
        t_s[::wide],
        np.round(LATITUDE_DEG + north_m[::wide] / METRES_PER_DEG, 6),
        np.round(11.0 + east_m[::wide] / across_m, 6),
        np.round(altitude_ft[::wide]),
    )


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("over_s", [10.0, 30.0])
def test_an_aircraft_moved_to_where_its_flight_begins_is_honest(over_s: float, interval_s: float) -> None:
    """From its stand over some seconds, faster than any flies, and up to its altitude on the way."""
    t_s = np.arange(0.0, 900.0, interval_s)
    course_deg = np.interp(t_s, [300.0, 360.0, 600.0, 660.0], [40.0, 220.0, 220.0, 80.0])
    flight = flown(
        t_s, course_deg, np.full(len(t_s), 105.0), np.interp(t_s, [500.0, 700.0], [4000.0, 2500.0])
    )
    begins = 60.0 + over_s
    moved = np.clip((t_s - 60.0) / over_s, 0.0, 1.0)
    before = t_s < begins
    start = int(np.searchsorted(t_s, begins))
    latitude_deg, longitude_deg, altitude_ft = (
        np.where(before, stand + moved * (values[start] - stand), values)
        for stand, values in (
            (LATITUDE_DEG - 0.2, flight.latitude_deg),
            (11.1, flight.longitude_deg),
            (1500.0, flight.altitude_ft),
        )
    )

    assert strong(written(t_s, latitude_deg, longitude_deg, altitude_ft)) == []


@pytest.mark.parametrize("loop_s", [0.97, 0.98, 0.99])
def test_a_recorder_that_runs_a_little_faster_than_its_stamps_is_honest(loop_s: float) -> None:
    """Of two samples in one second it writes one: then the next is twice as far, at an even beat."""
    loops_s = np.arange(0.0, 1500.0, loop_s)
    course_deg = np.interp(loops_s, [400.0, 460.0, 900.0, 960.0], [40.0, 220.0, 220.0, 80.0])
    flight = flown(
        loops_s,
        course_deg,
        100.0 + 8.0 * np.sin(loops_s / 60.0),
        np.interp(loops_s, [500.0, 700.0], [4000.0, 2500.0]),
    )
    stamps_s = np.floor(loops_s)
    kept = np.diff(stamps_s, prepend=-1.0) > 0.0
    samples = (flight.latitude_deg, flight.longitude_deg, flight.altitude_ft)

    assert strong(written(stamps_s[kept], *(values[kept] for values in samples))) == []


def test_rolls_of_one_length_in_a_log_without_noise_are_honest() -> None:
    """An autopilot rolls in and out within the same seconds each time: that is no window of a moving average."""
    fine_s = np.arange(0.0, 1800.0, 0.1)
    turning = (fine_s % 120.0 > 40.0) & (fine_s % 120.0 < 58.0)
    bank = np.convolve(turning.astype(float), np.ones(41) / 41.0, mode="same")
    course_deg = np.cumsum(bank * 3.0 * 0.1 * np.sign(np.sin(fine_s / 200.0)))
    climb = (fine_s % 150.0 > 90.0) & (fine_s % 150.0 < 108.0)
    altitude_ft = 5000.0 - np.cumsum(np.convolve(climb.astype(float), np.ones(41) / 41.0, mode="same"))
    flight = flown(fine_s, course_deg, np.full(len(fine_s), 110.0), altitude_ft)
    exact = replace(
        flight,
        latitude_deg=LATITUDE_DEG + np.cumsum(np.cos(np.radians(course_deg))) * 5.66 / METRES_PER_DEG,
        longitude_deg=11.0
        + np.cumsum(np.sin(np.radians(course_deg)))
        * 5.66
        / METRES_PER_DEG
        / np.cos(np.radians(LATITUDE_DEG)),
        altitude_ft=altitude_ft,
    )
    samples = (exact.t_s, exact.latitude_deg, exact.longitude_deg, exact.altitude_ft)

    assert strong(written(*(values[::10] for values in samples))) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("step_kt", [7.0, 10.0, 22.0])
def test_a_wind_that_is_another_from_some_height_on_is_honest(step_kt: float, interval_s: float) -> None:
    """Sunk through and climbed through again, and sunk through once."""
    t_s = np.arange(0.0, 900.0, interval_s)
    for lowest_s in ((500.0, 540.0, 700.0), (500.0, 800.0, 890.0)):
        altitude_ft = np.interp(t_s, [300.0, *lowest_s], [4000.0, 2500.0, 2500.0, 4000.0])
        speed_kt = 95.0 + np.where(altitude_ft < 3300.0, step_kt, 0.0) + 2.0 * np.sin(t_s / 45.0)
        course_deg = np.interp(t_s, [100.0, 160.0], [40.0, 200.0])

        assert strong(flown(t_s, course_deg, speed_kt, altitude_ft)) == []


def test_a_ground_speed_at_its_highest_beside_whole_seconds_that_slip_is_honest() -> None:
    """An autothrottle holds it to the knot; over steps of 2 s and now and then 1 s positions scatter by more than it."""
    loops_s = np.arange(0.0, 1600.0, 1.96)
    speed_kt = np.round(np.interp(loops_s, [500.0, 530.0, 1000.0, 1030.0], [98.0, 84.0, 84.0, 98.0]))
    course_deg = np.interp(loops_s, [400.0, 460.0, 900.0, 960.0], [40.0, 220.0, 220.0, 80.0])
    flight = flown(loops_s, course_deg, speed_kt, np.interp(loops_s, [500.0, 700.0], [4000.0, 2500.0]))

    told = replace(flight, t_s=np.floor(loops_s), columns={"groundspeed_kt": speed_kt})

    assert strong(told) == []


def test_altitudes_that_wander_beside_an_exact_rate_of_climb_are_honest() -> None:
    """A receiver's altitude wanders by some 15 ft within a minute: of few samples that is as much as it ever does."""
    t_s = np.arange(0.0, 650.0, 5.0)
    for seed in range(40):
        draw = np.random.default_rng(seed)
        wander_ft = np.zeros(len(t_s))
        for k in range(1, len(t_s)):
            wander_ft[k] = 0.931 * wander_ft[k - 1] + draw.normal(0.0, 15.0 * (1.0 - 0.931**2) ** 0.5)
        altitude_ft = np.interp(t_s, [300.0, 420.0], [4700.0, 3700.0])
        flight = flown(t_s, np.full(len(t_s), 70.0), np.full(len(t_s), 100.0), altitude_ft + wander_ft)
        rate_ft_min = np.round(np.gradient(altitude_ft, t_s) * 60.0, 1)

        assert strong(replace(flight, columns={"vertical_speed_ft_min": rate_ft_min})) == []


def approach(interval_s: float) -> Track:
    """Of an autopilot that holds everything, with its exact columns: straight legs, one speed on each, level or steady."""
    t_s = np.arange(0.0, 800.0, interval_s)
    course_deg = np.interp(t_s, [200.0, 260.0, 340.0, 400.0], [40.0, 220.0, 220.0, 400.0]) % 360.0
    speed_kt = np.interp(t_s, [400.0, 430.0], [120.0, 95.0])
    altitude_ft = np.interp(t_s, [250.0, 310.0, 480.0, 640.0], [4000.0, 3200.0, 3200.0, 1900.0])
    return replace(
        flown(t_s, course_deg, speed_kt, altitude_ft),
        columns={
            "groundspeed_kt": np.round(speed_kt, 1),
            "ground_track_true_deg": np.round(course_deg, 1) % 360.0,
            "vertical_speed_ft_min": np.round(np.gradient(altitude_ft, t_s) * 60.0),
        },
    )


INTERVALS_S = pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])


@INTERVALS_S
def test_a_flight_that_holds_everything_is_honest(interval_s: float) -> None:
    assert strong(approach(interval_s)) == []


@INTERVALS_S
def test_a_part_moved_or_lifted_in_a_flight_that_holds_everything_is_found(interval_s: float) -> None:
    """Its columns stand because the flight is steady, to the log's end too, and straight lines are no dropout's."""
    track = approach(interval_s)
    tapered = np.interp(track.t_s, [500.0, 520.0, 660.0, 680.0], [0.0, 1.0, 1.0, 0.0])
    moved = replace(track, longitude_deg=track.longitude_deg + np.round(tapered * 0.0035, 6))
    lifted = replace(track, altitude_ft=track.altitude_ft + np.round(tapered * 120.0))

    assert any(sign.startswith("speed_disagrees") for sign in strong(moved))
    assert any(sign.startswith("altitude_disagrees") for sign in strong(lifted))


@INTERVALS_S
def test_a_ground_speed_typed_or_scaled_over_a_third_of_a_steady_flight_is_found(interval_s: float) -> None:
    track = approach(interval_s)
    final = (track.t_s > 450.0) & (track.t_s < 700.0)
    speed_kt = track.columns["groundspeed_kt"]
    for edited in (np.where(final, 80.0, speed_kt), np.where(final, np.round(0.86 * speed_kt, 1), speed_kt)):
        told = replace(track, columns=dict(track.columns) | {"groundspeed_kt": edited})

        assert any(sign.startswith("speed_disagrees") for sign in strong(told))


@INTERVALS_S
def test_a_ground_speed_that_is_not_received_while_the_flight_slows_down_is_honest(interval_s: float) -> None:
    """It stands at what it was, which came by a step as its values are renewed every few seconds."""
    track = approach(interval_s)
    wide = max(1, round(4.0 / interval_s))
    renewed = np.arange(len(track)) // wide * wide
    speed_kt = track.columns["groundspeed_kt"]
    lost = (track.t_s > 402.0) & (track.t_s < 460.0)
    last = speed_kt[np.flatnonzero(lost)[0]]
    told = np.where(lost, last, np.round(speed_kt[renewed]))

    assert strong(replace(track, columns=dict(track.columns) | {"groundspeed_kt": told})) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
def test_a_simulators_clock_at_four_times_its_rate_in_a_steep_turn_is_honest(interval_s: float) -> None:
    t_s = np.arange(0.0, 900.0, interval_s)
    rate = np.where((t_s > 430.0) & (t_s < 460.0), 4.0, 1.0)
    turn_deg_s = np.where((t_s > 400.0) & (t_s < 470.0), 3.0, 0.0)
    course_deg = 40.0 + np.cumsum(rate * turn_deg_s) * interval_s
    flight = flown(t_s, course_deg, 140.0 * rate, np.interp(t_s, [500.0, 700.0], [4000.0, 2500.0]))

    assert not any("times gravity" in sign for sign in strong(flight))


def test_a_leg_pressed_together_in_whole_seconds_is_found() -> None:
    """There samples are left out at an even beat, too, but on that leg alone."""
    t_s = np.arange(0.0, 900.0, 1.0)
    course_deg = np.interp(t_s, [300.0, 360.0, 600.0, 660.0], [40.0, 220.0, 220.0, 80.0])
    flight = flown(
        t_s, course_deg, np.full(len(t_s), 100.0), np.interp(t_s, [500.0, 700.0], [4000.0, 2500.0])
    )
    leg = (t_s > 380.0) & (t_s < 500.0)
    stamps_s = np.floor(np.cumsum(np.where(leg, 0.8, 1.0)))
    kept = np.diff(stamps_s, prepend=-1.0) > 0.0
    samples = (flight.latitude_deg, flight.longitude_deg, flight.altitude_ft)

    assert strong(written(stamps_s[kept], *(values[kept] for values in samples))) != []
