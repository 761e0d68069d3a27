"""Positions stamped when they came in: the speed along the way is the aircraft's again, the way itself untouched."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.tracks.late_stamps import lateness_m, retimed
from debrief.tracks.smoothing import Spline, fit

Floats = np.ndarray
M_S, KT = 60.0, 3600.0 / 1852.0


def flown(t_s: Floats) -> Floats:
    """Two minutes straight, a standard turn by 180 degrees, and straight again, at one speed. [m]"""
    rate = np.radians(3.0)
    turned = np.clip((t_s - 120.0) * rate, 0.0, np.pi)
    along = np.minimum(t_s, 120.0) * M_S - np.maximum(t_s - 180.0, 0.0) * M_S
    radius = M_S / rate
    return np.column_stack([along + radius * np.sin(turned), radius * (1.0 - np.cos(turned))])


def smoothed(t_s: Floats, metres: Floats) -> Spline:
    return fit(t_s, metres, jerk_density=0.3, floor=0.2)


@pytest.fixture(params=[1.0, 5.0])
def late(request: pytest.FixtureRequest) -> tuple[Floats, Floats]:
    """Stamps early and late by a second or so, on an even grid drawn between every other one, with 2 m of noise."""
    draw = np.random.default_rng(4)
    t_s = np.arange(0.0, 400.0, request.param)
    heard = np.sort(t_s[::2] + draw.normal(0.0, 0.8, len(t_s[::2])))
    places = flown(heard) + draw.normal(0.0, 2.0, (len(heard), 2))
    return t_s, np.column_stack([np.interp(t_s, t_s[::2], axis) for axis in places.T])


def test_late_positions_move_at_the_speed_that_was_flown(late: tuple[Floats, Floats]) -> None:
    t_s, metres = late
    inside = t_s[(t_s > 20.0) & (t_s < 380.0)]
    first = smoothed(t_s, metres)

    late_m = lateness_m([(t_s, metres, first)])
    steady, way = retimed(t_s, metres, first, late_m)

    off_kt = [(np.hypot(*spline(inside, 1).T) - M_S) * KT for spline in (first, smoothed(t_s, steady))]
    assert late_m > 5.0
    assert np.std(off_kt[1]) < 0.7 * np.std(off_kt[0])
    assert np.std(off_kt[1]) < 2.0 * way.spread(1) * KT


def test_stamps_off_by_half_their_interval_leave_the_speed_as_sure_as_stated() -> None:
    """Some samples then lie behind the one before: that is no way flown there and back."""
    draw = np.random.default_rng(9)
    t_s = np.arange(0.0, 400.0)
    metres = flown(t_s + draw.normal(0.0, 0.5, len(t_s))) + draw.normal(0.0, 2.0, (len(t_s), 2))
    first = smoothed(t_s, metres)

    steady, way = retimed(t_s, metres, first, lateness_m([(t_s, metres, first)]))

    straight = t_s[((t_s > 20.0) & (t_s < 110.0)) | ((t_s > 190.0) & (t_s < 380.0))]
    off_kt = (np.hypot(*smoothed(t_s, steady)(straight, 1).T) - M_S) * KT
    assert np.sqrt(np.mean(off_kt**2)) < 1.25 * way.spread(1) * KT


def test_the_way_itself_is_left_alone(late: tuple[Floats, Floats]) -> None:
    t_s, metres = late

    first = smoothed(t_s, metres)
    steady, _ = retimed(t_s, metres, first, lateness_m([(t_s, metres, first)]))

    dense = flown(np.arange(-5.0, 405.0, 0.05))
    off_m = [np.min(np.hypot(*(dense - place).T)) for place in steady]
    before_m = [np.min(np.hypot(*(dense - place).T)) for place in metres]
    assert np.sqrt(np.mean(np.square(off_m))) < np.sqrt(np.mean(np.square(before_m))) + 1.0


@pytest.mark.parametrize("noise_m", [0.5, 8.0, 30.0])
def test_noise_in_all_directions_is_no_lateness(noise_m: float) -> None:
    draw = np.random.default_rng(5)
    t_s = np.arange(0.0, 400.0)
    metres = flown(t_s) + draw.normal(0.0, noise_m, (len(t_s), 2))

    assert lateness_m([(t_s, metres, smoothed(t_s, metres))]) == 0.0


def test_of_a_few_samples_nothing_is_told() -> None:
    t_s = np.arange(0.0, 20.0)
    metres = flown(t_s + np.random.default_rng(6).normal(0.0, 1.0, 20))

    assert lateness_m([(t_s, metres, smoothed(t_s, metres))]) == 0.0
