"""Smooth motion from noisy samples: a penalised cubic spline that knows the noise.

Owns      ``fit`` (samples of one unbroken stretch -> ``Spline``) and the noise it estimates on the way.
Not here  what a stretch is (``gaps``), projection, anything a pilot would name.
Source    P. H. C. Eilers and B. D. Marx, Flexible smoothing with B-splines and penalties, Statistical
          Science 11 (1996) 89-121. Mark: memory. The penalty is the integral of the squared jerk, which for
          a uniform cubic spline is exactly the sum of squared third differences of its coefficients.

The spline is the most probable motion of a body whose acceleration is a random walk (jerk is white noise of
density ``jerk_density``) seen through white noise: what a constant-acceleration Kalman smoother computes, in
one banded solve. It answers at any moment, with velocity and acceleration, and never leaves its stretch.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg.lapack import dpbsv

from debrief.tracks.middles import MAD_TO_SIGMA, median_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

HUBER_CUT = 4.0  # residuals beyond so many sigma lose weight
FITS = 3  # the noise and the weights settle within three
ACCELERATION_SIGMA = 4.0  # a weak prior that keeps two or three samples from running away [unit/s^2]
BLOCK = 4096  # moments
#: Values of the four cubic B-splines that overlap an interval, as polynomials in its fraction u (0..1):
#: rows are powers of u, columns the splines.
BASIS = np.array([[1, 4, 1, 0], [-3, 0, 3, 0], [3, -6, 3, 0], [-1, 3, -3, 1]]) / 6.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Spline:
    """A uniform cubic spline over one unbroken stretch.

    ``coefficients`` has shape (number of intervals + 3, dimensions). ``sigma`` is the noise of one sample on one axis
    (one standard deviation), and ``rate_hz`` the smoother's corner frequency over 2 pi times 2 pi, see ``spread``.
    """

    start_s: float
    end_s: float
    step_s: float
    coefficients: Floats
    sigma: float
    corner_rad_s: float
    interval_s: float

    def __call__(self, t_s: Floats, derivative: int = 0) -> Floats:
        """Value (or its first, second derivative by time) at ``t_s``, shape (n, dimensions); no check of range."""
        value: Floats = self.motion(t_s, derivative + 1)[derivative].T
        return value

    def motion(self, t_s: Floats, count: int) -> Floats:
        """Value and derivatives by time, ``count`` (1 to 3) in all, shape (count, dimensions, n).

        One look for all of them: most looks are at a few moments, where finding the interval is the greater work.
        A long log is looked at in blocks, whose workings stay in the processor's cache.
        """
        if len(t_s) <= BLOCK:
            return self._block(t_s, count)
        blocks = [self._block(t_s[first : first + BLOCK], count) for first in range(0, len(t_s), BLOCK)]
        return np.concatenate(blocks, axis=2)

    def _block(self, t_s: Floats, count: int) -> Floats:
        position = (np.minimum(np.maximum(t_s, self.start_s), self.end_s) - self.start_s) / self.step_s
        index = np.minimum(position.astype(np.int64), len(self.coefficients) - 4)
        u = position - index
        c0, c1, c2, c3 = self._powers_of_fraction.take(index, axis=2)  # three times as fast as by brackets
        value: Floats = np.empty((count, *c0.shape))
        value[0] = ((c3 * u + c2) * u + c1) * u + c0
        if count > 1:
            value[1] = ((3.0 * c3 * u + 2.0 * c2) * u + c1) / self.step_s
        if count > 2:
            value[2] = (6.0 * c3 * u + 2.0 * c2) / self.step_s**2
        return value

    @cached_property
    def _powers_of_fraction(self) -> Floats:
        """Each interval as a polynomial in its fraction, shape (4 powers, dimensions, intervals)."""
        overlapping = np.lib.stride_tricks.sliding_window_view(self.coefficients.T, 4, axis=1)
        return np.ascontiguousarray(np.moveaxis(overlapping @ BASIS.T, -1, 0))

    def spread(self, derivative: int = 0) -> float:
        """Standard deviation of the smoothed value (0) or of its rate of change (1), one axis.

        Posterior of the model above for evenly spaced samples: variance = sigma^2 dt / pi times the integral of
        w^(2 d) / (1 + (w/w0)^6), that is sigma^2 dt w0 / 3 and sigma^2 dt w0^3 / 6; never more than the sample's.
        """
        if derivative == 0:
            return self.sigma * float(np.sqrt(min(1.0, self.interval_s * self.corner_rad_s / 3.0)))
        corner = min(self.corner_rad_s, np.pi / self.interval_s)
        return self.sigma * float(np.sqrt(self.interval_s * corner**3 / 6.0))


def _cubic(u: Floats) -> Floats:
    """The powers of ``u``, 0 to 3, shape (n, 4)."""
    return np.stack([np.ones(len(u)), u, u**2, u**3], axis=1)


def fit(t_s: Floats, values: Floats, *, jerk_density: float, floor: float, quantum: float = 0.0) -> Spline:
    """Fit one unbroken stretch.

    Parameters
    ----------
    t_s : array (n,), strictly increasing, n >= 2. [s]
    values : array (n, dimensions), finite; the axes share one noise.
    jerk_density : spectral density of the jerk. [unit^2/s^5]
    floor : smallest standard deviation believed of one sample. [unit]
    quantum : step in which the values were recorded, 0 where continuous. [unit]

    Returns
    -------
    Spline
    """
    step_s = float(np.clip(median_of(np.diff(t_s)), 1.0, 3.0))
    interval_s = float(t_s[-1] - t_s[0]) / (len(t_s) - 1)  # uneven samples tell as much as so many even ones
    count = max(1, int(np.ceil((t_s[-1] - t_s[0]) / step_s)))
    step_s = (t_s[-1] - t_s[0]) / count
    position = (t_s - t_s[0]) / step_s
    index = np.minimum(position.astype(np.int64), count - 1)
    basis = np.ascontiguousarray((_cubic(position - index) @ BASIS).T)
    reached = index + np.arange(4)[:, None]  # the four coefficients that each sample lies on
    axes = np.ascontiguousarray(values.T)
    penalty = _penalty(count + 3, step_s)
    sigma = max(floor, _first_sigma(t_s, values), quantum / np.sqrt(12.0))
    weights = np.ones(len(t_s))
    for _ in range(FITS):
        corner = (jerk_density / (sigma**2 * interval_s)) ** (1 / 6)
        smoothing = sigma**2 * np.array([1 / jerk_density, 1 / ACCELERATION_SIGMA**2])
        coefficients = _solve(reached, basis, weights, axes, penalty, smoothing)
        residual = axes - np.einsum("kn,dkn->dn", basis, np.take(coefficients.T, reached, axis=1))
        size = np.sqrt(np.mean(residual**2, axis=0))
        free = max(0.1, 1.0 - interval_s * corner / 3.0)
        sigma = max(floor, float(np.sqrt(trimmed_mean_square(size, floor) / free)), quantum / np.sqrt(12.0))
        weights = np.minimum(1.0, HUBER_CUT * sigma / np.maximum(size, 1e-9)) ** 2
    return Spline(
        start_s=float(t_s[0]),
        end_s=float(t_s[-1]),
        step_s=step_s,
        coefficients=coefficients,
        sigma=sigma,
        corner_rad_s=float(corner),
        interval_s=interval_s,
    )


def trimmed_mean_square(size: Floats, floor: float = 0.0) -> float:
    """Mean square of errors without the wild ones, that is beyond four sigma, ``floor`` the least sigma believed.

    Rather than a median, which would not see that many recorders jitter now and then, not always.
    """
    kept = size[size <= HUBER_CUT * max(MAD_TO_SIGMA * median_of(size), floor)]
    return float(np.mean(kept**2))


def _first_sigma(t_s: Floats, values: Floats) -> float:
    """Noise from how far each sample lies off the line between its neighbours; turns are a minority."""
    if len(t_s) < 5:
        return 0.0
    share = ((t_s[1:-1] - t_s[:-2]) / (t_s[2:] - t_s[:-2]))[:, None]
    off = values[1:-1] - (values[:-2] * (1 - share) + values[2:] * share)
    size = np.sqrt(np.mean(off**2 / (1 + share**2 + (1 - share) ** 2), axis=1))
    return MAD_TO_SIGMA * median_of(size)


def _penalty(size: int, step_s: float) -> tuple[Floats, Floats]:
    """Lower bands (4, size) of the jerk's and of the acceleration's integral."""
    bands = []
    for order, scale in ((3, step_s**-5), (2, step_s**-3)):
        difference = np.array([1.0])
        for _ in range(order):
            difference = np.convolve(difference, [1.0, -1.0])
        band = np.zeros((4, size))
        rows = size - order
        for a in range(order + 1):
            for b in range(a, order + 1):
                band[b - a, a : a + rows] += scale * difference[a] * difference[b]
        bands.append(band)
    return bands[0], bands[1]


def _solve(
    reached: NDArray[np.int64],
    basis: Floats,
    weights: Floats,
    axes: Floats,
    penalty: tuple[Floats, Floats],
    smoothing: Floats,
) -> Floats:
    """Coefficients (size, dimensions) from ``basis`` at ``reached`` (4, n) and the values ``axes`` (dimensions, n)."""
    size = penalty[0].shape[1]
    band = smoothing[0] * penalty[0] + smoothing[1] * penalty[1]
    weighted = weights * basis
    for a in range(4):
        for b in range(a, 4):
            band[b - a] += np.bincount(reached[a], weighted[a] * basis[b], size)
    every = reached.ravel()
    right = [np.bincount(every, (weighted * values).ravel(), size) for values in axes]
    # scipy's solveh_banded calls the same routine, and takes longer to get there than a short stretch takes
    solution: Floats
    _, solution, failed = dpbsv(band, np.array(right).T, lower=True, overwrite_ab=True)
    if failed:
        raise np.linalg.LinAlgError(f"the smoother's matrix is not positive definite ({failed})")
    return solution
