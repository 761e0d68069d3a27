"""What the club tells: against a published example, a reference implementation, and clubs whose truth is known."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from debrief.comparison.pooling import effective_df, excess_kurtosis, pooled_levels, pooled_variances
from tests.comparison.clubs import club, standard_values

#: Yields of dyestuff from six batches, O. L. Davies, Statistical Methods in Research and Production (1947), table 6.1,
#: as in G. E. P. Box, G. C. Tiao, Bayesian Inference in Statistical Analysis (1973), table 5.1.2. Mark: memory.
DYESTUFF = np.array(
    [
        [1545, 1440, 1440, 1520, 1580],
        [1540, 1555, 1490, 1560, 1495],
        [1595, 1550, 1605, 1510, 1560],
        [1445, 1440, 1595, 1465, 1545],
        [1595, 1630, 1515, 1635, 1625],
        [1520, 1455, 1450, 1480, 1445],
    ],
    dtype=np.float64,
)


def test_the_levels_of_the_dyestuff_come_out():
    """Between batches 42.00, mean 1527.5 with a standard error of 19.38, as restricted maximum likelihood gives it.

    Source: D. Bates, lme4: Mixed-effects modeling with R (2010), 1.3. Mark: memory.
    """
    within = DYESTUFF.var(axis=1, ddof=1).mean()
    found = pooled_levels(DYESTUFF.mean(axis=1), np.full(6, within / 5))

    assert found is not None
    assert found.mean == pytest.approx(1527.5)
    assert found.sd == pytest.approx(42.00, abs=0.005)
    assert found.mean_se == pytest.approx(19.38, abs=0.005)


def test_levels_agree_with_a_reference_implementation():
    """statsmodels' MixedLM on unequal numbers of flights; it estimates the common variance, which we are given."""
    draw = np.random.default_rng(5)
    counts = np.array([4, 7, 12, 5, 20, 9, 3])
    pilot = np.repeat(np.arange(7), counts)
    values = 10.0 + draw.normal(0, 2, 7)[pilot] + draw.normal(0, 1.5, len(pilot))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = MixedLM(values, np.ones((len(values), 1)), groups=pilot).fit(reml=True)

    means = np.array([values[pilot == number].mean() for number in range(7)])
    found = pooled_levels(means, fit.scale / counts)

    assert found is not None
    assert found.mean == pytest.approx(float(fit.params[0]), rel=1e-5)
    assert found.sd**2 == pytest.approx(float(np.asarray(fit.cov_re)[0, 0]), rel=1e-3)
    assert found.mean_se == pytest.approx(float(fit.bse[0]), rel=1e-3)


def test_equal_levels_are_found_equal():
    found = pooled_levels(np.array([1.0, 1.01, 0.99, 1.0]), np.full(4, 0.25))

    assert found is not None
    assert found.sd == pytest.approx(0.0, abs=0.01)
    assert pooled_levels(np.array([1.0]), np.array([1.0])) is None


def test_the_law_of_variances_is_found_again():
    """4,000 pilots whose variances come from 9 degrees of freedom about 2.5."""
    draw = np.random.default_rng(8)
    true = 9.0 * 2.5 / draw.chisquare(9.0, 4000)
    df = draw.integers(2, 30, 4000).astype(np.float64)
    found = pooled_variances(true * draw.chisquare(df) / df, df)

    assert found is not None
    assert found.df == pytest.approx(9.0, rel=0.1)
    assert found.scale == pytest.approx(2.5, rel=0.03)


def test_no_more_is_believed_of_spreads_than_so_many_pilots_can_tell():
    found = pooled_variances(np.full(3, 2.0), np.full(3, 5.0))

    assert found is not None
    assert found.df == 6.0
    assert pooled_variances(np.array([2.0]), np.array([5.0])) is None


def test_kurtosis_is_none_for_normal_flights_and_seen_in_skewed_ones():
    """200 pilots of 30 flights: a gamma law of shape 4 has an excess of 1.5."""
    draw = np.random.default_rng(4)
    normal = excess_kurtosis([standard_values(draw, "normal", 30) for _ in range(200)])
    skewed = excess_kurtosis([3.0 * standard_values(draw, "skewed", 30) for _ in range(200)])

    assert normal < 0.3
    assert 1.0 < skewed < 3.0
    assert excess_kurtosis([np.array([1.0, 2.0, 3.0])]) == 0.0


def test_degrees_of_freedom_are_the_flights_less_one_where_all_is_normal():
    flights = np.array([3.0, 10.0, 30.0])

    assert effective_df(flights, 0.0) == pytest.approx([2.0, 9.0, 29.0])
    assert (effective_df(flights, 1.5) < [2.0, 9.0, 29.0]).all()


def test_the_variance_of_a_variance_is_what_the_degrees_of_freedom_say():
    """Skewed flights, ten at a time: the spread of their variances against chi-square's with fewer degrees."""
    draw = np.random.default_rng(6)
    variances = np.array([standard_values(draw, "skewed", 10).var(ddof=1) for _ in range(20000)])

    assert 2.0 / variances.var() == pytest.approx(float(effective_df(np.array([10.0]), 1.5)[0]), rel=0.06)


def test_the_invented_clubs_are_what_they_say():
    draw = np.random.default_rng(1)
    made = club(draw, pilots=(400, 400), flights=(30, 30), law="rayleigh")

    ratios = [values.std(ddof=1) / spread for values, spread in zip(made.values, made.spreads, strict=True)]
    assert float(np.mean(np.square(ratios))) == pytest.approx(1.0, abs=0.03)
