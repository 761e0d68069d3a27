"""What the club tells about one pilot: the spread of levels and of spreads among pilots.

Owns      the mixed model's parts: levels drawn from a normal distribution (REML), variances drawn from a scaled
          inverse chi-square one (moments), both with an own variance for each pilot; excess kurtosis within pilots.
Not here  intervals (``intervals``), who differs (``differences``).
Source    REML: H. D. Patterson, R. Thompson, Biometrika 58 (1971) 545-554; partial pooling: N. M. Laird, J. H. Ware,
          Biometrics 38 (1982) 963-974; variances: G. K. Smyth, Statistical Applications in Genetics and Molecular
          Biology 3 (2004) 3, section 6.2. Mark of all three: memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PRIOR_DF_A_PILOT = 2.0  # at most: how alike spreads are is known no better than so many pilots can tell
_STEPS = 60
_KURTOSIS_FLIGHTS = 15.0  # so many flights within pilots, and their kurtosis counts half
_KURTOSIS_SEEN = 0.5  # of the excess there is, a handful of flights shows about half (tests/benchmarks)
_MOST_KURTOSIS = 8.0


@dataclass(frozen=True, slots=True)
class Levels:
    """The distribution that the pilots' levels come from."""

    mean: float
    sd: float
    mean_se: float  # standard error of ``mean``


@dataclass(frozen=True, slots=True)
class Variances:
    """The distribution that the pilots' variances come from: ``df * scale / chi-square(df)``."""

    scale: float
    df: float


def pooled_levels(means: Floats, variances: Floats) -> Levels | None:
    """Restricted maximum likelihood for means with variances of their own.

    Parameters
    ----------
    means : (p,), each pilot's mean.
    variances : (p,), of these means, > 0.

    Returns
    -------
    ``None`` for fewer than two pilots.
    """
    if len(means) < 2:
        return None
    widest = max(float(np.var(means, ddof=1)), 1e-300)
    # the likelihood over a fine grid: no iteration that may fail, and zero is a point like any other
    between = np.concatenate([[0.0], np.geomspace(1e-4, 20.0, _STEPS) * widest])
    for _ in range(3):
        best = int(np.argmax(_restricted_likelihood(means, variances, between)))
        low, high = between[max(best - 1, 0)], between[min(best + 1, len(between) - 1)]
        between = np.linspace(low, high, _STEPS)
    tau2 = float(between[np.argmax(_restricted_likelihood(means, variances, between))])
    weights = 1.0 / (variances + tau2)
    mean = float(weights @ means / weights.sum())
    return Levels(mean, tau2**0.5, float(weights.sum() ** -0.5))


def _restricted_likelihood(means: Floats, variances: Floats, between: Floats) -> Floats:
    weights = 1.0 / (variances[None, :] + between[:, None])
    total = weights.sum(axis=1)
    mean = weights @ means / total
    off = (weights * (means[None, :] - mean[:, None]) ** 2).sum(axis=1)
    likelihood: Floats = 0.5 * (np.log(weights).sum(axis=1) - np.log(total) - off)
    return likelihood


def pooled_variances(variances: Floats, df: Floats) -> Variances | None:
    """The distribution of variances, from estimates with so many degrees of freedom.

    Parameters
    ----------
    variances : (p,), > 0.
    df : (p,), > 0.

    Returns
    -------
    ``None`` for fewer than two pilots.
    """
    from scipy.special import digamma, polygamma

    if len(variances) < 2:
        return None
    noise = polygamma(1, df / 2)
    level = np.log(variances) - digamma(df / 2) + np.log(df / 2)
    weights = 1.0 / noise
    mean = float(weights @ level / weights.sum())
    # the weighted sum of squares, less what noise alone would make it
    spare = weights.sum() - (weights**2).sum() / weights.sum()
    excess = float((weights * (level - mean) ** 2).sum() - (len(level) - 1)) / spare
    most = PRIOR_DF_A_PILOT * len(variances)
    prior_df = min(2.0 * _trigamma_inverse(excess), most) if excess > 0.0 else most
    scale = float(np.exp(mean + digamma(prior_df / 2) - np.log(prior_df / 2)))
    return Variances(scale, prior_df)


def _trigamma_inverse(value: float) -> float:
    """The x for which trigamma(x) is the value, by Newton's steps (Smyth 2004, appendix)."""
    from scipy.special import polygamma

    x = 0.5 + 1.0 / value
    for _ in range(50):
        slope = polygamma(1, x)
        step = slope * (1.0 - slope / value) / polygamma(2, x)
        x += float(step)
        if abs(step) < 1e-8 * x:
            break
    return float(x)


def excess_kurtosis(values: list[Floats]) -> float:
    """Excess kurtosis within pilots, 0 for normal flights; drawn towards 0 where there are few, never below it.

    Parameters
    ----------
    values : each pilot's flights.

    Notes
    -----
    The fourth k-statistic of each pilot against the square of the variance, the pilots' scales evened out; doubled,
    for so few flights cannot show the far ones.
    Source: M. G. Kendall, A. Stuart, The Advanced Theory of Statistics 1, 12.10 (k-statistics). Mark: memory.
    """
    fourth, square, flights = 0.0, 0.0, 0
    for own in values:
        n = len(own)
        if n < 4 or not own.var() > 0.0:
            continue
        off = own - own.mean()
        m2, m4 = float((off**2).mean()), float((off**4).mean())
        k4 = n**2 * ((n + 1) * m4 - 3 * (n - 1) * m2**2) / ((n - 1) * (n - 2) * (n - 3))
        k2 = m2 * n / (n - 1)
        fourth += n * k4 / k2**2
        square += n * (n - 1) / (n + 1)
        flights += n - 1
    if not flights:
        return 0.0
    found = fourth / square / _KURTOSIS_SEEN * flights / (flights + _KURTOSIS_FLIGHTS)
    return float(np.clip(found, 0.0, _MOST_KURTOSIS))


def effective_df(flights: Floats, kurtosis: float, share_kept: float = 1.0) -> Floats:
    """Degrees of freedom of the variance of so many flights: fewer where they stray farther than normal ones.

    Source: matching the variance of a sample variance, kurtosis / n + 2 / (n - 1), to chi-square's; G. E. P. Box,
    Biometrika 40 (1953) 318-335. Mark: memory.
    """
    df: Floats = share_kept * 2.0 / (2.0 / (flights - 1.0) + kurtosis / flights)
    return df
