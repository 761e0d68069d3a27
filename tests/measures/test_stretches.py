"""Stretches in which a condition holds, with their ends between the moments."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.measures.stretches import stretches

A_MILLISECOND = 1e-3


def found(
    excess: list[float], segment: list[int] | None = None, pause_s: float = 0.0
) -> list[tuple[float, float]]:
    values = np.array(excess)
    level = np.zeros(len(values), dtype=np.int64) if segment is None else np.array(segment)
    return [
        (round(s.start_s, 9), round(s.end_s, 9))
        for s in stretches(np.arange(float(len(values))), values, level, pause_s=pause_s)
    ]


def test_ends_lie_where_the_line_passes_zero():
    assert found([-1, 1, 3, -1]) == [(0.5, 2.75)]


def test_a_stretch_at_the_edges_ends_on_the_moment():
    assert found([1, 1, -1, -1, 2]) == [(0.0, 1.5), (pytest.approx(3 + 1 / 3), 4.0)]


def test_a_single_moment_is_a_stretch():
    assert found([2.0]) == [(0.0, 0.0)]


def test_nothing_is_found_in_nothing():
    assert found([]) == []
    assert found([-1.0, np.nan, 0.0]) == []


def test_an_unknown_moment_ends_a_stretch_on_its_neighbour():
    assert found([-1, 1, np.nan, 1, -1]) == [(0.5, 1.0), (3.0, 3.5)]


def test_a_stretch_never_reaches_across_a_gap():
    assert found([1, 1, 1, 1], [0, 0, 1, 1]) == [(0.0, 1.0), (2.0, 3.0)]


def test_a_gap_keeps_stretches_apart_whatever_the_pause():
    assert found([1, 1, 1, 1], [0, 0, 1, 1], pause_s=100.0) == [(0.0, 1.0), (2.0, 3.0)]


def test_a_short_pause_joins_two_and_a_long_one_does_not():
    chatter = [1.0, -1.0, 1.0]  # below zero for one second

    assert found(chatter, pause_s=1.01) == [(0.0, 2.0)]
    assert found(chatter, pause_s=0.99) == [(0.0, 0.5), (1.5, 2.0)]


@given(st.lists(st.floats(-5, 5).filter(lambda x: abs(x) > 1e-3), min_size=1, max_size=40))
def test_they_agree_with_a_scan_at_a_thousandth_of_a_second(values):
    t_s = np.arange(float(len(values)))
    fine_s = np.linspace(0.0, t_s[-1], max(2, int(t_s[-1] * 1000) + 1))
    share = np.interp(fine_s, t_s, values) > 0

    covered = np.zeros(len(fine_s), dtype=bool)
    for stretch in stretches(t_s, np.array(values), np.zeros(len(values), dtype=np.int64)):
        covered |= (fine_s >= stretch.start_s - A_MILLISECOND) & (fine_s <= stretch.end_s + A_MILLISECOND)

    assert covered[share].all()
    assert np.mean(covered != share) <= 4e-3 * (len(values) + 1) / max(t_s[-1], 1.0)
