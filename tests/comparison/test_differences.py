"""Who differs: found where it is so, and hardly ever where it is not, over a whole report."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.comparison.comparing import compare
from debrief.comparison.conditions import adjusted, unexplained
from debrief.comparison.differences import (
    _apart,
    _dealt,
    _levels,
    _median_of_others,
    _spreads,
    difference_probabilities,
    stepped_down,
    trend_probabilities,
)
from tests.benchmarks.coverage import false_differences
from tests.comparison.clubs import MEASURES, flown_club


def differing(found):
    return {(row.pilot, row.differs) for measure in found.measures for row in measure.pilots if row.differs}


def test_equal_pilots_are_hardly_ever_called_different():
    """Asked: at most 5 % of reports. Of 60, up to 7 are within three standard errors; all 2,000 in tests/benchmarks."""
    assert false_differences(clubs=60, seed=4, deals=99) * 60 <= 7.5


def test_a_pilot_whose_level_differs_is_found_and_the_others_left_alone():
    """The odd one is in what the others are held against; 16 reports name others no more often than chance may."""
    wrong = 0
    for seed in range(16):
        flown = flown_club(200 + seed, [10] * 6, levels={"B": 3.0})
        found = differing(compare(flown, "invented", measures=MEASURES, deals=99, seed=seed))
        assert ("B", "level") in found or ("B", "both") in found
        wrong += any(pilot != "B" for pilot, _ in found)

    assert wrong <= 3  # 5 % of 16 and three standard errors


def test_one_who_truly_differs_makes_nobody_else_differ():
    """Of three, one far off moves the median of two; 60 reports name others no more often than chance may."""
    assert false_differences(clubs=60, seed=6, deals=99, levels={"B": 2.5}) * 60 <= 7.5


def test_of_three_the_one_with_few_flights_is_left_out_though_others_are_farther_off():
    """By hand: A and C stand at 0 with 40 flights each, B at 3 with 3. A's mean is the surer, B the odd one."""
    draw = np.random.default_rng(8)
    own = np.repeat([0, 1, 2], [40, 3, 40])
    values = draw.normal(size=83)
    for pilot, level in enumerate((0.0, 3.0, 0.0)):
        values[own == pilot] += level - values[own == pilot].mean()

    assert _apart(_levels, values, own, 3).tolist() == [1]
    assert _apart(_levels, np.where(own == 1, np.nan, values), own, 3).tolist() == [0, 2]  # of two, both
    found = difference_probabilities(values[:, None], own, 3, deals=199)
    assert (found[0, :, 0] <= 0.05).tolist() == [False, True, False]


def test_pilots_of_many_levels_are_held_against_all_of_them():
    """Forty pilots a little apart: leaving out one after the other must not leave a handful to differ from."""
    draw = np.random.default_rng(12)
    own = np.repeat(np.arange(40), 8)
    values = draw.normal(size=320) + np.linspace(-1.0, 1.0, 40)[own]
    found = difference_probabilities(values[:, None], own, 40, deals=199)
    named = np.flatnonzero(found[0, :, 0] <= 0.05)

    assert not set(named) & set(range(12, 28))  # nobody in the middle of them
    everybody = values.reshape(40, 8).mean(axis=1) - np.median(values.reshape(40, 8).mean(axis=1))
    assert (np.abs(everybody[named]) > 0.7).all()


def test_a_pilot_whose_spread_differs_is_found_and_the_level_left_alone():
    found = compare(
        flown_club(2, [14, 14, 14, 14], spreads={"C": 5.0}), "invented", measures=MEASURES, deals=199
    )

    assert differing(found) == {("C", "spread")}


def test_odd_spread_of_one_makes_no_false_level_of_others():
    """Dealing mixes the odd pilot's flights into everybody's; in 40 reports that names nobody else twice."""
    wrong = 0
    for seed in range(40):
        flown = flown_club(100 + seed, [6, 6, 6, 6, 6], spreads={"A": 4.0})
        found = compare(flown, "invented", measures=MEASURES, deals=99, seed=seed)
        wrong += any(
            row.differs in ("level", "both") or (row.pilot != "A" and row.differs)
            for measure in found.measures
            for row in measure.pilots
        )

    assert wrong <= 6  # 5 % of 40 and three standard errors


def test_the_median_of_the_others_leaves_the_own_value_out():
    draw = np.random.default_rng(2)
    values = draw.normal(size=(7, 5))
    values[2, 1] = values[3, 1] = values[0, 4] = np.nan
    values[1:, 3] = np.nan
    found = _median_of_others(values)

    for column in range(5):
        for row in range(7):
            others = np.delete(values[:, column], row)
            if np.isfinite(values[row, column]) and np.isfinite(others).any():
                assert found[row, column] == pytest.approx(float(np.nanmedian(others)))
    assert np.isnan(found[0, 3])


def test_two_flights_are_never_judged():
    probabilities = difference_probabilities(
        np.array([[0.0], [0.1], [0.0], [0.1], [0.05], [90.0], [91.0]]), np.array([0, 0, 0, 0, 0, 1, 1]), 2
    )

    assert np.isnan(probabilities[:, 1]).all()


def test_one_pilot_alone_differs_from_nobody():
    assert np.isnan(difference_probabilities(np.arange(8.0)[:, None], np.zeros(8, dtype=int), 1)).all()


def test_it_does_not_matter_in_which_unit_or_order_flights_come():
    draw = np.random.default_rng(3)
    values, pilot = draw.normal(size=(30, 3)), np.repeat([0, 1, 2], 10)
    one = difference_probabilities(values, pilot, 3, deals=99)
    other = difference_probabilities(1852.0 * values + 7.0, pilot, 3, deals=99)

    assert one == pytest.approx(other)


@pytest.mark.parametrize("kind", [_levels, _spreads])
def test_deals_worked_out_together_are_those_worked_out_one_by_one(monkeypatch, kind):
    draw = np.random.default_rng(12)
    own = np.repeat(np.arange(6), [4, 7, 3, 9, 1, 5])
    rows = draw.normal(size=(len(own), 5))
    rows[draw.random(rows.shape) < 0.2] = np.nan
    who = np.array([True, True, True, True, True, False])
    together = _dealt(kind, rows, own, who, seed=3, deals=50)
    monkeypatch.setattr("debrief.comparison.differences._CELLS_TOGETHER", 1)
    by_one = _dealt(kind, rows, own, who, seed=3, deals=50)

    np.testing.assert_array_equal(together[0], by_one[0])
    np.testing.assert_array_equal(together[1], by_one[1])


def test_stepping_down_is_what_a_slow_loop_does():
    """The twin: for each statistic, from the greatest down, the greatest of it and all lesser ones of each deal."""
    draw = np.random.default_rng(11)
    seen, dealt = draw.normal(1.0, 1.5, 5), draw.normal(size=(300, 5))
    every = np.vstack([seen, dealt])
    scaled = (every - every.mean(axis=0)) / every.std(axis=0)
    order = sorted(range(5), key=lambda k: -scaled[0, k])
    wanted, so_far = {}, 0.0
    for place, k in enumerate(order):
        reached = sum(row[order[place:]].max() >= scaled[0, k] for row in scaled[1:])
        so_far = max(so_far, (1 + reached) / 301)
        wanted[k] = so_far

    assert stepped_down(seen, dealt) == pytest.approx([wanted[k] for k in range(5)])


def test_who_gets_better_is_found_and_who_does_not_is_not():
    flown = flown_club(5, [16, 16, 4], slopes={"A": -0.9})
    found = compare(flown, "invented", measures=MEASURES, deals=199)
    trends = {(row.pilot, row.trend.beyond_chance) for m in found.measures for row in m.pilots if row.trend}

    assert ("A", True) in trends
    assert ("B", True) not in trends
    assert all(row.trend is None for m in found.measures for row in m.pilots if row.pilot == "C")


def test_a_trend_needs_flights_on_more_than_one_day():
    values = np.arange(8.0)[:, None]

    assert np.isnan(trend_probabilities(values, np.zeros(8, dtype=int), 1, np.zeros(8), least=6)).all()


def test_wind_is_taken_out_by_what_it_does_within_pilots():
    """A knot adds 0.3; one pilot always flies in strong wind, and is 2 better for all that."""
    draw = np.random.default_rng(9)
    pilot = np.repeat([0, 1], 20)
    knots = draw.uniform(0, 10, 40) + 15.0 * pilot
    values = 0.3 * knots - 2.0 * pilot + draw.normal(0, 0.1, 40)
    free = adjusted(values, pilot, np.column_stack([knots, np.full(40, np.nan)]))

    assert free.used == (0,)
    gap = free.values[pilot == 1].mean() - free.values[pilot == 0].mean()
    assert gap == pytest.approx(-2.0, abs=0.3)
    assert free.share_kept == pytest.approx(37 / 38)


def test_what_never_changes_within_pilots_is_not_taken_out():
    pilot = np.repeat([0, 1], 20)
    free = adjusted(np.arange(40.0), pilot, (100.0 + 20.0 * pilot)[:, None])

    assert free.used == ()
    assert (free.values == np.arange(40.0)).all()


def test_few_flights_are_left_as_they_were_flown():
    free = adjusted(np.arange(9.0), np.repeat([0, 1, 2], 3), np.arange(9.0)[:, None])

    assert free.used == ()


def test_what_conditions_could_explain_is_no_difference():
    pilot = np.repeat([0.0, 1.0], 15)
    speed = 100.0 + 30.0 * pilot

    left = unexplained(5.0 + 0.1 * speed, speed[:, None])

    assert left == pytest.approx(np.zeros(30), abs=1e-9)
