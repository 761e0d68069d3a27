"""Intervals that hold the truth in 95 of 100 cases, where an error is not a plain normal one.

Owns      ``half_width`` of an error with a known bias and a rounding beside its normal part, ``half_width_of`` one
          that any of some may be; what the greatest of
          many values picks out of their errors; how far errors average out.
Not here  which errors a log has (measures.log_errors), what they do to a measure (measures.uncertainty).
Source    JCGM 100:2008, 4.3.7 (rectangular distributions) and F.2.4.5 (a bias that was not corrected). Mark: memory.
          Plotting position of the greatest of n: G. Blom, Statistical Estimates and Transformed Beta-Variables
          (1958). Mark: memory.

The level is that of two standard deviations of a normal error, 95.45 %, so that ``half_width(s)`` is ``2 s``.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import erf, exp, hypot, inf, isfinite, log, pi, sqrt
from statistics import NormalDist

#: Of cases that the interval holds: two standard deviations of a normal error.
LEVEL = erf(sqrt(2.0))
_STEPS = 60
_HALVINGS = 14  # to a hundredth of a per cent
_CLOSE = 1e-9  # of a probability
_NORMAL = NormalDist()
_ONE_SIDED = _NORMAL.inv_cdf(LEVEL)
_ROOT_HALF, _DENSITY = sqrt(0.5), 1.0 / sqrt(2.0 * pi)


def half_width(normal: float, *, bias: float = 0.0, rectangular: float = 0.0) -> float:
    """Half-width of the interval about a value that holds the truth at ``LEVEL``.

    Parameters
    ----------
    normal : standard deviation of the normal part, any unit; 0 and more.
    bias : what is known to be wrong with the value but was not corrected, any sign.
    rectangular : half-width of a part that lies anywhere within it, as that of a rounding does.

    Returns
    -------
    ``nan`` where one of them is.

    >>> half_width(3.0)
    6.0
    >>> round(half_width(0.0, rectangular=0.5), 3), round(half_width(1.0, bias=10.0), 2)
    (0.477, 11.69)
    """
    bias = abs(bias)
    if not (isfinite(normal) and isfinite(bias) and isfinite(rectangular)):
        return float("nan") if normal != inf else inf
    if bias == 0.0 and rectangular < 0.05 * normal:
        return 2.0 * hypot(normal, rectangular / sqrt(3.0))
    if normal <= 1e-9 * rectangular or normal == 0.0:
        inside = bias <= (1.0 - LEVEL) * rectangular  # both ends of the interval lie within the rectangle
        return LEVEL * rectangular if inside else bias + (2.0 * LEVEL - 1.0) * rectangular
    # Newton's rule: beyond the bias the probability grows ever more slowly, so that no step leads past the width.
    width = max(
        hypot(2.0 * normal, LEVEL * rectangular),
        bias + hypot(_ONE_SIDED * normal, (2.0 * LEVEL - 1.0) * rectangular),
    )
    for _ in range(_STEPS):
        above, density_above = _below(width - bias, normal, rectangular)
        under, density_under = _below(-width - bias, normal, rectangular)
        missing = LEVEL - above + under
        if abs(missing) < _CLOSE:
            break
        width += missing / (density_above + density_under)
    return width


def half_width_of(errors: Sequence[float], normal: float) -> float:
    """Half-width of the interval that holds the truth at ``LEVEL``, where any of some errors is as likely as another.

    Parameters
    ----------
    errors : by how much the value is wrong at each of evenly spaced inputs, any sign.
    normal : standard deviation of a normal part beside them, same unit; what lies between two of them is added.

    Where a value does not follow an input in proportion, as a size that cannot go below nothing: not the slope times the
    input's width, but the distribution that the input gives the error.

    >>> round(half_width_of([0.0], 3.0), 2), round(half_width_of([-0.4, -0.2, 0.0, 0.2, 0.4], 0.0), 2)
    (6.0, 0.47)
    """
    apart = (max(errors) - min(errors)) / max(len(errors) - 1, 1)
    normal = hypot(normal, apart / sqrt(12.0))
    low, high = 0.0, max(map(abs, errors)) + 2.0 * normal
    if not isfinite(high) or not normal > 0.0:
        return high
    for _ in range(_HALVINGS):
        width = (low + high) / 2.0
        held = sum(
            erf((width - error) / normal * _ROOT_HALF) + erf((width + error) / normal * _ROOT_HALF)
            for error in errors
        )
        low, high = (width, high) if held < 2.0 * LEVEL * len(errors) else (low, width)
    return (low + high) / 2.0


def _below(value: float, normal: float, rectangular: float) -> tuple[float, float]:
    """Probability that a normal and a rectangular error add up to less than ``value``, and its density there."""
    if rectangular <= 1e-3 * normal:
        probability, density = _normal(value / normal)
        return probability, density / normal
    high, low = (value + rectangular) / normal, (value - rectangular) / normal
    below_high, density_high = _normal(high)
    below_low, density_low = _normal(low)
    # the integral of the normal distribution function up to z is z times itself, and the density
    area = high * below_high + density_high - low * below_low - density_low
    return normal * area / (2.0 * rectangular), (below_high - below_low) / (2.0 * rectangular)


def _normal(z: float) -> tuple[float, float]:
    """The normal distribution function and its density."""
    return 0.5 + 0.5 * erf(z * _ROOT_HALF), _DENSITY * exp(-0.5 * z * z)


def greatest_of(count: float) -> tuple[float, float]:
    """Mean and standard deviation of the greatest of so many standard normal errors; the count need not be whole.

    >>> [tuple(round(part, 2) for part in greatest_of(n)) for n in (1, 10)]
    [(0.0, 1.0), (1.55, 0.61)]
    """
    count = max(1.0, count)
    return _NORMAL.inv_cdf((count - 0.375) / (count + 0.25)), 1.0 / sqrt(1.0 + 0.75 * log(count))


def averaged(seconds: float, correlated_s: float) -> float:
    """Share of the variance that is left in a mean over some seconds, of an error that forgets itself so fast.

    >>> averaged(0.0, 60.0), averaged(100.0, inf), round(averaged(60.0, 60.0), 4)
    (1.0, 1.0, 0.7358)
    """
    if not isfinite(correlated_s) or seconds <= 0.0:
        return 1.0
    if correlated_s <= 0.0:
        return 0.0
    ratio = seconds / correlated_s
    if ratio < 1e-4:
        return 1.0
    return 2.0 / ratio * (1.0 - (1.0 - exp(-ratio)) / ratio)
