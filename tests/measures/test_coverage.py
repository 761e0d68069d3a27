"""The 95 % intervals hold the truth in 93 to 97 % of cases, over simulated flights and recorders; see ``coverage``.

About 180 recordings of 18 flights, all drawn from one seed. Of so few one measure alone cannot tell 95 % from 93: each
must be one that intervals of 93 to 97 % could well give (binomial, one time in a thousand at most). On the mean over all
measures 93 to 97 % is asked as it stands; intervals a fifth narrower or a quarter wider than stated miss it.
"""

from __future__ import annotations

from functools import cache

import pytest
from scipy.stats import binom

from tests.measures.coverage import Held, errors, pooled, share_held

LEAST, MOST = 0.93, 0.97
ONE_IN_A_THOUSAND = 0.001
JUDGED = (
    "altitude_at_missed_approach_point_ft",
    "altitude_ft.max",
    "altitude_ft.mean",
    "altitude_ft.min",
    "bank_deg",
    "climb_rate_ft_min",
    "cross_track_nm.max_abs",
    "cross_track_nm.mean",
    "cross_track_nm.rms",
    "deviation_deg.max_abs",
    "deviation_deg.mean",
    "deviation_deg.rms",
    "drift_deg",
    "duration_s",
    "intercept.angle_deg",
    "leg_seconds",
    "level_off_altitude_ft",
    "max_airspeed_kias",
    "max_descent_rate_ft_min",
    "max_distance_nm",
    "overshoot_nm",
    "passage.distance_nm",
    "passage.time_s",
    "start_past_point_nm",
    "time_from_passage_s",
    "track_length_nm",
    "turn.lead_nm",
    "turn_rate_deg_s",
    "turn_off_dme_nm",
    "width_nm",
    "wind.from_true_deg",
)


@cache
def found() -> tuple[Held, ...]:
    return tuple(errors(clean=10, faulty=8, recordings=10))


def test_every_judged_measure_is_there_often_enough():
    shares = share_held(found())

    assert set(shares) == set(JUDGED)
    assert all(count >= 50 for _, count in shares.values())


@pytest.mark.parametrize("measure", JUDGED)
def test_the_interval_of_each_measure_holds_the_truth(measure):
    share, count = share_held(found())[measure]
    fewest = binom.ppf(ONE_IN_A_THOUSAND, count, LEAST) / count
    most = binom.ppf(1.0 - ONE_IN_A_THOUSAND, count, MOST) / count

    assert fewest <= share <= most


def test_on_the_whole_the_intervals_hold_the_truth_in_93_to_97_of_100():
    assert LEAST <= pooled(share_held(found())) <= MOST


@pytest.mark.parametrize("scale", [0.8, 1.25])
def test_intervals_of_another_width_would_not(scale):
    """That the test can fail: a fifth narrower holds in too few cases, a quarter wider in too many."""
    assert not LEAST <= pooled(share_held(found(), scale)) <= MOST
