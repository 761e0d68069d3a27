"""The circle of ground velocities: its centre is the wind, and how well the turns show it.

Owns      the fit (``fit_circle``) and the covariance of its centre.
Not here  which stretch of the flight is looked at, and whether the answer is of use (``wind``).
Imports   numpy.
Source    Ground velocities flown at one airspeed lie on a circle whose centre is the wind: D. Gray, Using GPS to
          accurately establish True Airspeed, 1998. Mark: seen (2nd hand). First guess: the circle fit of
          G. Taubin, IEEE Trans. Pattern Analysis 13 (1991) 1115-1138. Mark: memory. Weighing the sizes of the
          wander: restricted likelihood, H. D. Patterson and R. Thompson, Biometrika 58 (1971) 545-554.
          Mark: memory.

No pilot holds one airspeed. So the distance of a ground velocity from the wind is one airspeed plus a wander of
unknown size and length, seen through the noise of the log, a little short in turns (a smoother cuts corners),
in a wind that may change with height. Each of these is a covariance between two moments. For each size of the
wander the wind is then generalised least squares; the sizes are weighed by how probable they make the flight.
The covariance says what the turns cannot tell: whether the wind was different or the airspeed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# The wander of the airspeed: lengths and sizes (one sigma) that are weighed against each other. Mark: common practice (a
# few knots by hand, some seconds to a minute; next to nothing with an autopilot). Of a size whose order is not known
# each factor is as probable as the next: they lie evenly on a logarithmic scale, none favoured.
WANDER_S = np.array([8.0, 20.0, 60.0])
WANDER_KT = np.array([0.15, 0.5, 1.5, 5.0])
DRIFT_S = 150.0
DRIFT_KT = np.array([0.5, 2.5])

SHEAR_KT_FT = 3.0 / 1000.0  # how much the wind may change with height, one sigma, each axis
SHORT_IN_TURNS = 0.006  # share of the speed lost by smoothing in a standard-rate turn, one sigma
FIXES_APART = 1.5  # sample intervals: an even grid is often filled in between fixes farther apart
SHORT_PER_CHORD = 0.5  # of what straight lines between the samples would lose, one sigma
GUESSED_PER_CHORD = 2.0  # the same, for the error that is another one after each sample
STANDARD_RATE_DEG_S = 3.0
STEEPEST_RATES = 1.2  # standard rates; a rate beyond is noise
UNKNOWN_KT = 0.25  # what the model does not know of, one sigma, each axis

ROUNDS = 5
NO_STEP_KT = 1e-3
SETTLED_KT = 0.1
# What is left out before all else: so far off the circle, and no more than such a share of the points.
WILD_KT = 12.0
WILD_SIGMA = 5.0
WILD_SHARE = 0.25
WILD_ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Velocities:
    """Mean ground velocities of bins of a few seconds. All arrays have one entry a bin."""

    t_s: Floats
    ground_kt: Floats  # (n, 2), east and north
    turn_rate_deg_s: Floats
    height_ft: Floats  # above the height at which the wind is wanted; 0 where unknown
    shape: Floats  # the airspeed as a share of its mean, as far as it is known beforehand
    bin_s: float
    sample_interval_s: float  # of the raw log
    position_sigma_nm: float  # of the smoothed positions, each axis
    velocity_sigma_kt: float  # of the smoothed velocities, each axis

    def only(self, kept: NDArray[np.bool_]) -> Velocities:
        """The bins that ``kept`` picks."""
        return Velocities(
            t_s=self.t_s[kept],
            ground_kt=self.ground_kt[kept],
            turn_rate_deg_s=self.turn_rate_deg_s[kept],
            height_ft=self.height_ft[kept],
            shape=self.shape[kept],
            bin_s=self.bin_s,
            sample_interval_s=self.sample_interval_s,
            position_sigma_nm=self.position_sigma_nm,
            velocity_sigma_kt=self.velocity_sigma_kt,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Circle:
    """The wind as a vector (towards which it blows), and the covariance of its error."""

    towards_kt: Floats  # (2,), east and north
    covariance_kt2: Floats  # (2, 2)
    used: NDArray[np.bool_]  # bins that were not set aside as outliers


def taubin(points: Floats) -> tuple[Floats, float]:
    """Centre (2,) and radius of the circle through points (n, 2), by Taubin's fit.

    ``nan`` where the points lie on a line.

    >>> centre, radius = taubin(np.array([[3.0, 1.0], [1.0, 3.0], [-1.0, 1.0], [1.0, -1.0]]))
    >>> print(np.round(centre, 9), round(radius, 9))
    [1. 1.] 2.0
    """
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    square = x**2 + y**2
    mean_square = float(square.mean())
    if mean_square == 0.0:
        return np.full(2, np.nan), float("nan")
    scaled = (square - mean_square) / (2.0 * np.sqrt(mean_square))
    a, b, c = np.linalg.svd(np.column_stack([scaled, x, y]), full_matrices=False)[2][-1]
    a /= 2.0 * np.sqrt(mean_square)
    if abs(a) * np.sqrt(mean_square) < np.finfo(float).eps * np.hypot(b, c):
        return np.full(2, np.nan), float("nan")
    centre = middle - np.array([b, c]) / (2.0 * a)
    radius = float(np.sqrt(b**2 + c**2 + 4.0 * a**2 * mean_square) / (2.0 * abs(a)))
    return centre, radius


def fit_circle(velocities: Velocities) -> Circle | None:
    """Wind and covariance from ground velocities of a flight that turned; ``None`` where no circle fits them."""
    used = _roughly_on_a_circle(velocities.ground_kt)
    v = velocities.only(used)
    centre, speed_kt = taubin(v.ground_kt)
    if not np.isfinite(speed_kt):
        return None
    air = v.ground_kt - centre
    covariance = _covariances(v, air / np.hypot(*air.T)[:, None], speed_kt)
    factors, log_determinant = _factors(covariance)
    wind = np.repeat(centre[None, :], len(factors), axis=0)  # one for each size of the wander
    for _ in range(ROUNDS):
        air = v.ground_kt - wind[:, None, :]
        distance = np.hypot(air[..., 0], air[..., 1])[..., None]
        # distance(wind + step) = distance - direction . step = speed * shape: linear in step and speed
        shape = np.broadcast_to(v.shape[:, None], distance.shape)
        white = _whitened(factors, np.concatenate([air / distance, shape, distance], axis=2))
        white, sought = white[..., :3], white[..., 3:]
        across = np.swapaxes(white, 1, 2)
        normal = across @ white
        solution = np.linalg.solve(normal, across @ sought)
        step = solution[:, :2, 0]
        wind = wind + step
        if np.abs(step).max() < NO_STEP_KT:
            break
    misfit = np.square(sought - white @ solution).sum(axis=(1, 2))
    score = -0.5 * (log_determinant + np.linalg.slogdet(normal)[1] + misfit)
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    if not np.isfinite(wind).all() or weight @ np.hypot(*step.T) > SETTLED_KT:
        return None
    mean = weight @ wind
    spread = np.linalg.inv(normal)
    off = wind - mean
    total = np.einsum("h,hij->ij", weight, spread[:, :2, :2] + off[:, :, None] * off[:, None, :])
    total += UNKNOWN_KT**2 * np.eye(2)
    return Circle(towards_kt=mean, covariance_kt2=total, used=used)


def _roughly_on_a_circle(points: Floats) -> NDArray[np.bool_]:
    """All but points so far off that no wander of an airspeed explains them."""
    used = np.ones(len(points), dtype=bool)
    for _ in range(WILD_ROUNDS):
        centre, radius = taubin(points[used])
        off_kt = np.abs(np.hypot(*(points - centre).T) - radius)
        limit_kt = max(WILD_KT, WILD_SIGMA * 1.4826 * float(np.median(off_kt[used])))
        near = off_kt <= limit_kt
        if not np.isfinite(radius) or near.mean() < 1.0 - WILD_SHARE or (near == used).all():
            break
        used = near
    return used


def _covariances(v: Velocities, through_air: Floats, speed_kt: float) -> Floats:
    """Covariance of the distances from the wind, for each size of the wander. Shape (sizes, n, n)."""
    apart_s = np.abs(v.t_s[:, None] - v.t_s)
    turning = np.clip(v.turn_rate_deg_s / STANDARD_RATE_DEG_S, -STEEPEST_RATES, STEEPEST_RATES)
    chord_s = FIXES_APART * v.sample_interval_s
    chord_kt = speed_kt * np.radians(STANDARD_RATE_DEG_S * chord_s) ** 2 / 24.0 * turning**2
    short_kt = SHORT_IN_TURNS * speed_kt * turning**2 + SHORT_PER_CHORD * chord_kt
    shear_kt = SHEAR_KT_FT * v.height_ft
    common = _noise(v, apart_s) + np.outer(short_kt, short_kt)
    # between samples far apart the path in a turn is a guess, a new one after each sample
    guessed_kt = GUESSED_PER_CHORD * chord_kt
    common += np.outer(guessed_kt, guessed_kt) * np.exp(-((apart_s / chord_s) ** 2))
    common += (through_air @ through_air.T) * np.outer(shear_kt, shear_kt)
    common[np.diag_indices_from(common)] += UNKNOWN_KT**2
    # smooth wander (Matern, 3/2): an aircraft has mass, its speed has no corners
    scaled = np.sqrt(3.0) * apart_s / WANDER_S[:, None, None]
    wander = WANDER_KT[:, None, None, None] ** 2 * ((1.0 + scaled) * np.exp(-scaled))
    drift = DRIFT_KT[:, None, None] ** 2 * np.exp(-apart_s / DRIFT_S)
    every: Floats = common + wander[:, :, None] + drift
    return every.reshape(-1, *common.shape)


def _factors(covariance: Floats) -> tuple[list[Floats | None], Floats]:
    """Each covariance's Cholesky factor and the logarithm of its determinant; ``None`` and ``nan`` of one without.

    A covariance's own inverse would cost three times as much, and wake the linear algebra's other threads for it.
    """
    from scipy.linalg.lapack import dpotrf

    factors: list[Floats | None] = []
    log_determinant = np.full(len(covariance), np.nan)
    for number, matrix in enumerate(covariance):
        factor, failed = dpotrf(matrix, lower=1)
        factors.append(None if failed else factor)
        if not failed:
            log_determinant[number] = 2.0 * np.log(np.diagonal(factor)).sum()
    return factors, log_determinant


def _whitened(factors: list[Floats | None], columns: Floats) -> Floats:
    """The columns (sizes, n, k) with errors of size 1 that know nothing of each other; ``nan`` without a factor."""
    from scipy.linalg.lapack import dtrtrs

    white = np.full_like(columns, np.nan)
    for number, factor in enumerate(factors):
        if factor is not None:
            white[number] = dtrtrs(factor, columns[number], lower=1)[0]
    return white


def _noise(v: Velocities, apart_s: Floats) -> Floats:
    """Covariance of the bins' mean velocities: differences of smoothed positions, whose error does not grow."""
    position_kt_s = v.position_sigma_nm * 3600.0
    length_s = max(position_kt_s / v.velocity_sigma_kt, 0.5) if v.velocity_sigma_kt > 0 else 1.0

    def position(lag_s: Floats) -> Floats:
        kernel: Floats = position_kt_s**2 * np.exp(-0.5 * (lag_s / length_s) ** 2)
        return kernel

    difference = 2.0 * position(apart_s) - position(apart_s - v.bin_s) - position(apart_s + v.bin_s)
    covariance: Floats = difference / v.bin_s**2
    return covariance
