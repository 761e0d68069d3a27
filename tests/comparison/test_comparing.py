"""A comparison as a whole: who is shown, who is judged, what is left out."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from debrief.comparison.catalogue import CATALOGUE
from debrief.comparison.comparing import compare
from debrief.comparison.hard import clustered_share, what_is_hard
from tests.comparison.clubs import MEASURES, flown_club

FOUR_DIGITS = 0.00006


def compared(flown, **more):
    return compare(flown, "invented", measures=MEASURES, deals=49, **more)


def test_fewer_than_three_flights_are_shown_and_not_judged():
    found = compared(flown_club(1, [6, 2, 1]))
    two = found.measures[0].pilots[1]

    assert (two.pilot, two.flights) == ("B", 2)
    assert two.level == two.mean is not None
    assert [two.level_interval, two.spread, two.spread_interval, two.differs, two.sd] == [None] * 5
    assert len(found.measures[0].values) == 9


def test_pilots_stand_by_name_and_those_asked_for_only():
    flown = flown_club(2, [5, 5, 5])
    found = compared(flown, shown=["C", "A"])

    assert found.pilots == ("A", "C")
    assert found.club_pilots == 3
    assert [row.pilot for row in found.measures[0].pilots] == ["A", "C"]
    assert found.measures[0].club == compared(flown).measures[0].club


def test_the_same_flights_give_the_same_comparison_in_any_order():
    flown = flown_club(3, [7, 5, 9], missing=0.1)

    assert compared(flown) == compared(flown[::-1])


def test_a_measure_that_hardly_anybody_has_is_left_out():
    flown = flown_club(4, [8, 8])
    poor = [
        dataclasses.replace(
            f, measures={k: v for k, v in f.measures.items() if k != MEASURES[0].name or n < 2}
        )
        for n, f in enumerate(flown)
    ]

    assert [m.measure.name for m in compared(poor).measures] == [m.name for m in MEASURES[1:]]


def test_one_flight_alone_is_no_comparison_and_no_mistake():
    found = compared(flown_club(5, [1]))

    assert found.measures[0].pilots[0].level is not None
    assert found.measures[0].club.spread is None


def test_a_value_that_never_changes_has_no_spread():
    flown = [dataclasses.replace(f, measures={MEASURES[0].name: 2.0}) for f in flown_club(6, [5, 5])]
    row = compared(flown).measures[0].pilots[0]

    assert (row.level, row.spread, row.differs) == (2.0, None, None)


def test_levels_are_within_their_intervals_and_spreads_too():
    found = compared(flown_club(7, [4, 9, 20, 3], levels={"D": 4.0}, spreads={"A": 3.0}, wind=0.1))

    for measure in found.measures:
        for row in measure.pilots:
            assert row.level_interval[0] <= row.level <= row.level_interval[1]
            assert 0.0 < row.spread_interval[0] <= row.spread <= row.spread_interval[1]
            assert np.isfinite([row.level_interval, row.spread_interval]).all()


def test_what_is_compared_is_named_by_its_path_in_the_result_file():
    """Against the result of a real debrief: a misspelt path would quietly compare nothing."""
    from debrief.logbook.record import flat_measures
    from tests.logbook.conftest import entry_of

    known = set()
    for name in ("lantern-clean.gpx", "lantern-wrong-side.gpx"):
        known |= dict(flat_measures(entry_of(name).result.attempts[0].measures)).keys()
    quillow = entry_of("quillow-overshoot.gpx", "quillow-ndb-18").result.attempts[0].measures
    known |= dict(flat_measures(quillow)).keys()

    assert not {measure.name for measure in CATALOGUE} - known


@pytest.mark.parametrize(
    ("missed", "flights", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_a_share_has_wilsons_interval(missed: int, flights: int, low: float, high: float):
    """R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3; mark: memory. And statsmodels."""
    found = clustered_share(np.array([float(flights)]), np.array([float(missed)]))

    assert found == pytest.approx((low, high), abs=FOUR_DIGITS)
    assert found == pytest.approx(proportion_confint(missed, flights, method="wilson"), abs=1e-6)


def test_flights_of_one_pilot_count_less_where_they_are_alike():
    """Ten missed of forty: all by one pilot of four, or spread over all."""
    alike = clustered_share(np.full(4, 10.0), np.array([10.0, 0.0, 0.0, 0.0]))
    spread = clustered_share(np.full(4, 10.0), np.array([3.0, 2.0, 3.0, 2.0]))

    assert alike[1] - alike[0] > 1.8 * (spread[1] - spread[0])


def test_what_is_hard_counts_a_flight_once_and_leaves_out_what_could_not_be_judged():
    flown = flown_club(8, [3, 3])
    items = [
        (("tracking", "final", "marginal"), ("tracking", "final", "unsatisfactory")),
        (("tracking", "final", "satisfactory"),),
        (("tracking", "final", "not assessable"),),
        (("tracking", "final", "satisfactory"), ("altitude", "final", "satisfactory")),
        (("tracking", "final", "marginal"),),
        (),
    ]
    flown = [dataclasses.replace(f, items=i) for f, i in zip(flown, items, strict=True)]
    (hard,) = what_is_hard(flown)

    assert (hard.rule, hard.phase, hard.flights, hard.missed, hard.pilots) == ("tracking", "final", 4, 2, 2)
