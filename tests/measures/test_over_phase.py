"""How sure a range is where the ends of its phase are not, against drawn ends; and what a smoother leaves unsure."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from debrief.measures import log_errors
from debrief.measures.log_errors import Part
from debrief.measures.over_phase import STILL, ends_move, range_sure, spread_sure
from tests.measures.builders import whole_approach

if TYPE_CHECKING:
    from debrief.phases.model import StationView

BUILT = whole_approach()

T_S = np.arange(0.0, 301.0)
#: A speed that is held, and lost from 150 s on as on a runway.
BRAKING_KT = 60.0 - np.clip(T_S - 150.0, 0.0, 40.0) * 1.5
DRAWN = 1500
PER_CENT = 0.01


def test_along_a_slope_an_extreme_moves_with_its_end():
    (found,) = ends_move(T_S, [2.0 * T_S], (10.0, 90.0), (0.5, 0.0))

    assert found.least == pytest.approx(2.0 * 0.5, abs=1e-9)
    assert found.greatest == 0.0
    # the first value lies 80 below the mean
    assert found.mean == pytest.approx(0.5 * 80.0 / 80.0, rel=PER_CENT)


@pytest.mark.parametrize("begins_s", [140.0, 150.0, 160.0])
def test_a_range_moves_as_with_drawn_ends(begins_s):
    """A landing whose touchdown is known to 2 s: its mean and greatest speed over and over, with other moments."""
    draw, sd_s, end_s = np.random.default_rng(3), 2.0, 200.0
    fine_s = np.arange(0.0, 300.0, 0.1)
    speed_kt = np.interp(fine_s, T_S, BRAKING_KT)
    runs = [speed_kt[(fine_s >= t_s) & (fine_s <= end_s)] for t_s in draw.normal(begins_s, sd_s, DRAWN)]
    greatest, mean = (np.array([float(of(run)) for run in runs]) for of in (np.max, np.mean))

    (found,) = ends_move(T_S, [BRAKING_KT], (begins_s, end_s), (sd_s, 0.0))

    off_kt = greatest - np.interp(begins_s, T_S, BRAKING_KT)
    assert found.greatest == pytest.approx(np.sqrt(np.mean(off_kt**2)), abs=0.15)
    assert found.mean == pytest.approx(np.std(mean), rel=0.08)
    assert found.least == 0.0


def test_known_ends_move_nothing():
    unknown = np.full(len(T_S), np.nan)

    assert ends_move(T_S, [BRAKING_KT], (140.0, 200.0), (0.0, 0.0)) == [STILL]
    assert ends_move(T_S, [unknown], (140.0, 200.0), (1.0, 1.0)) == [STILL]


def test_an_extreme_at_the_end_of_a_log_is_less_sure_than_one_within_it():
    parts = (Part(1.0, 3.0),)
    weight_s = np.ones(100)
    worse = np.where(np.arange(100) < 3, 4.0, 1.0)
    rising, falling = np.linspace(0.0, 90.0, 100), np.linspace(90.0, 0.0, 100)

    assert range_sure(parts, rising, weight_s, worse=worse).greatest < 3.5
    assert range_sure(parts, falling, weight_s, worse=worse).greatest == pytest.approx(2.0 * 4.0, abs=0.5)


@pytest.mark.parametrize("aside_nm", [0.0, 0.004, 0.012, 0.05])
def test_sizes_off_a_course_are_unsure_as_with_drawn_alignments(aside_nm):
    """A weave beside a radial, on it and far beside: its rms and its greatest, were the station turned by what may be.

    Where it is on the radial the slope at the value is nothing, and yet the true size may be another.
    """
    draw, alignment_deg = np.random.default_rng(4), 0.5
    across_nm = aside_nm + 0.006 * np.sin(T_S / 12.0)
    turned = np.radians(np.linspace(1.0, 3.0, len(T_S)))
    weight_s = np.ones(len(T_S))
    parts = (Part(0.0003, 5.0),)

    sure = spread_sure(
        parts, T_S, across_nm, weight_s, reach=np.ones(len(T_S)), turned=turned, alignment_deg=alignment_deg
    )

    true_nm = across_nm - draw.uniform(-alignment_deg, alignment_deg, (4000, 1)) * turned
    for half_width, size in (
        (sure.rms, lambda values: np.sqrt(np.mean(values**2, axis=-1))),
        (sure.max_abs, lambda values: np.abs(values).max(axis=-1)),
    ):
        off_nm = np.abs(size(across_nm) - size(true_nm))
        assert half_width == pytest.approx(float(np.quantile(off_nm, 0.9545)), rel=0.07)


@pytest.mark.parametrize("turned_deg", [0.0, 270.0])
def test_a_mean_ground_speed_is_wrong_as_with_drawn_positions(turned_deg):
    """Positions along a straight way, and along one that turns, wrong over and over by errors that last and that do not."""
    flight, rng = BUILT.flight, np.random.default_rng(8)
    track_rad = np.radians(turned_deg * np.clip(T_S[:-1] - 100.0, 0.0, 90.0) / 90.0)
    step_nm = np.stack([np.sin(track_rad), np.cos(track_rad)]) * 120.0 / 3600.0
    east_nm, north_nm = np.cumsum(step_nm, axis=1)
    where = {"t_s": T_S[1:], "east_nm": east_nm, "north_nm": north_nm, "segment": np.zeros(300, dtype=int)}
    view = cast("StationView", SimpleNamespace(**where))
    errors_nm = np.zeros((2, DRAWN, 300))
    for part in log_errors.position_nm(flight, turning=True):
        fresh = rng.standard_normal((2, DRAWN, 300))
        keep = np.exp(-1.0 / part.lasts_s)
        fresh[:, :, 1:] *= np.sqrt(1.0 - keep**2)
        for second in range(1, 300):
            fresh[:, :, second] += keep * fresh[:, :, second - 1]
        errors_nm += part.sd * fresh
    ahead = step_nm[:, None, 1:] / np.hypot(*step_nm[:, None, 1:])
    way_nm = (ahead * np.diff(errors_nm, axis=2)).sum(axis=(0, 2))

    expected_kt = float(np.std(way_nm)) / 299.0 * 3600.0
    assert log_errors.mean_groundspeed_kt(flight, view) == pytest.approx(expected_kt, rel=0.06)


def test_shares_of_the_noise_and_the_ends_of_a_log_as_a_dense_solve_has_them():
    """Positions with noise of size 1, third differences as white jerks make them: the most probable path, solved whole.

    With the corner of its response at 0.15 of a sample the continuous figures must come out.
    """
    count, corner = 241, 0.15
    third = np.diff(np.eye(count), n=3, axis=0)
    posterior = np.linalg.inv(np.eye(count) + third.T @ third / corner**6)
    noise_alone = posterior @ posterior.T
    middle, last = np.zeros((2, count))
    middle[[119, 121]] = -0.5, 0.5
    last[[-3, -2, -1]] = 0.5, -2.0, 1.5  # the slope at the last of three points on a parabola
    bend = np.zeros(count)
    bend[[119, 120, 121]] = 1.0, -2.0, 1.0

    def sd(of: np.ndarray, along: np.ndarray) -> float:
        return float(np.sqrt(along @ of @ along))

    assert sd(noise_alone, middle) / sd(posterior, middle) == pytest.approx(
        log_errors._NOISE_ALONE[1], rel=0.03
    )
    assert sd(noise_alone, bend) / sd(posterior, bend) == pytest.approx(log_errors._NOISE_ALONE[2], rel=0.05)
    assert sd(posterior, last) / sd(posterior, middle) == pytest.approx(log_errors._RATE_AT_END, rel=0.05)
