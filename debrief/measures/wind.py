"""The wind of an approach, from its own ground velocities, or from heading and airspeed where logged.

Owns      ``estimate_wind``: the stretch that is looked at, the choice of method, and whether it is of use.
Not here  the circle itself (``wind_circle``), the triangle (navigation.wind), finding turns (phases).
Imports   numpy, navigation and measures.wind_circle.

An estimate without its uncertainty would be a made-up value, and one that is too uncertain is of no use: then
the reason is given instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.measures.wind_circle import UNKNOWN_KT, Velocities, fit_circle
from debrief.navigation.angles import FULL_CIRCLE_DEG, wrap_360
from debrief.navigation.intervals import LEVEL
from debrief.navigation.wind import speed_and_direction

Floats = NDArray[np.float64]

#: Less heading change than this carries no wind: the centre of a short arc may lie anywhere.
SMALLEST_ARC_DEG = 90.0
#: An estimate with a wider 95 % interval is not given.
WIDEST_USEFUL_KT = 3.0

BIN_S = 5.0
FEWEST_BINS = 8
BEFORE_FOCUS_S = 180.0
AFTER_FOCUS_S = 60.0
LONGEST_WINDOW_S = 420.0
#: What is tried besides, where the whole stretch leaves more doubt than this.
CERTAIN_KT = 2.0
MARGINS_S = (45.0, 15.0)
SLOWEST_KT = 30.0

# A change of speed on a straight leg, by so much within so long, ends the stretch: another airspeed begins.
RAMP_S = 20.0
RAMP_KT = 8.0
STRAIGHT_DEG = 10.0
TURNING_DEG_S = 1.0

# Heading and airspeed as logged: errors that stay the same, one sigma, and of a single bin. Mark: common practice.
AIRSPEED_SCALE_SIGMA = 0.015
HEADING_SIGMA_DEG = 0.7
LAG_SIGMA_S = 0.5
GUST_S = 20.0
LEAST_GUST_KT = 0.7

#: Standard normal errors, one of each of as many equally likely ranges, spread so that their mean square is 1.
_EVENLY_LIKELY = np.array([NormalDist().inv_cdf((number + 0.5) / 64.0) for number in range(64)])
_EVENLY_LIKELY /= _EVENLY_LIKELY.std()

TOP_OF_LAPSE_FT = 145_442.0
DENSITY_EXPONENT = -2.128  # of the true airspeed at one indicated airspeed, standard atmosphere


@dataclass(frozen=True, slots=True, kw_only=True)
class WindEstimate:
    """The wind at the height of the turns it was found from. Uncertainties are half-widths at 95 %."""

    from_true_deg: float
    speed_kt: float
    from_uncertainty_deg: float
    speed_uncertainty_kt: float
    vector_uncertainty_kt: float  # the true wind vector lies within this of the given one
    tas_kt: float  # mean true airspeed of the stretch
    tas_uncertainty_kt: float
    arc_deg: float  # directions through the air that were flown, of 360
    method: str  # in plain words
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NoWind:
    """Why no wind is given, in plain words."""

    reason: str


def estimate_wind(
    *,
    t_s: Floats,
    velocity_east_kt: Floats,
    velocity_north_kt: Floats,
    turn_rate_deg_s: Floats,
    altitude_ft: Floats,
    position_sigma_nm: float,
    velocity_sigma_kt: float,
    sample_interval_s: float = 1.0,
    focus_s: tuple[float, float] | None = None,
    heading_true_deg: Floats | None = None,
    airspeed_ktas: Floats | None = None,
) -> WindEstimate | NoWind:
    """Estimate the wind of one approach.

    Parameters
    ----------
    t_s : array (n,), increasing, about a second apart; gaps allowed. [s]
    velocity_east_kt, velocity_north_kt : arrays (n,), smoothed ground velocity, true north; ``nan`` where not
        observed. [kt]
    turn_rate_deg_s : array (n,), of the ground track, right positive. [deg/s]
    altitude_ft : array (n,), ``nan`` where unknown. [ft]
    position_sigma_nm, velocity_sigma_kt : one standard deviation of the smoothed position and velocity, each
        axis. [NM, kt]
    sample_interval_s : of the raw log. [s]
    focus_s : from the first turn of the reversal to established; ``None``: where the flight turned most. [s]
    heading_true_deg, airspeed_ktas : arrays (n,) where logged, ``nan`` where a sample has none. [deg, kt]

    Returns
    -------
    WindEstimate, or NoWind where less than 90 degrees were turned and no heading was logged, or where the 95 %
    interval is wider than 3 kt.

    Notes
    -----
    The interval holds the change of airspeed that the flight shows, the log's noise, what a smoother loses in
    turns, and 3 kt of change in 1,000 ft of height. A wind that changes in between is not in it.
    """
    velocity_kt = np.column_stack([velocity_east_kt, velocity_north_kt])
    airspeed_ktas = np.full(len(t_s), np.nan) if airspeed_ktas is None else airspeed_ktas
    heading_true_deg = np.full(len(t_s), np.nan) if heading_true_deg is None else heading_true_deg
    seen = np.isfinite(t_s) & (np.nan_to_num(np.hypot(*velocity_kt.T)) > SLOWEST_KT)
    if seen.any():
        focus_s = _narrowed(t_s[seen], turn_rate_deg_s[seen], focus_s)
        start_s, end_s = _window(t_s[seen], turn_rate_deg_s[seen], focus_s)
        seen &= (t_s >= start_s) & (t_s <= end_s)
    if focus_s is None and seen.any():
        focus_s = _turning(t_s[seen], turn_rate_deg_s[seen])
    if focus_s is not None and seen.any():
        start_s, end_s = _one_speed(t_s[seen], velocity_kt[seen], turn_rate_deg_s[seen], focus_s)
        seen &= (t_s >= start_s) & (t_s <= end_s)
    if seen.sum() * _step_s(t_s[seen]) < FEWEST_BINS * BIN_S:
        return NoWind(reason=tr("too little of the turns was observed to find the wind"))

    bin_of = np.unique(np.floor((t_s[seen] - t_s[seen][0]) / BIN_S), return_inverse=True)[1]
    velocities = _velocities(
        bin_of,
        t_s[seen],
        velocity_kt[seen],
        turn_rate_deg_s[seen],
        altitude_ft[seen],
        airspeed_ktas[seen],
        focus_s=focus_s,
        sample_interval_s=sample_interval_s,
        position_sigma_nm=position_sigma_nm,
        velocity_sigma_kt=velocity_sigma_kt,
    )
    by_turns = _by_turns(velocities, focus_s)
    by_heading = _by_heading(velocities, bin_of, heading_true_deg[seen], airspeed_ktas[seen])
    return _better(by_turns, by_heading)


def _step_s(t_s: Floats) -> float:
    return float(min(np.median(np.diff(t_s)), BIN_S)) if len(t_s) > 1 else 0.0


def _window(t_s: Floats, turn_rate_deg_s: Floats, focus_s: tuple[float, float] | None) -> tuple[float, float]:
    """The stretch that is looked at: about the reversal, or the seven minutes in which most was turned."""
    if focus_s is not None:
        return focus_s[0] - BEFORE_FOCUS_S, focus_s[1] + AFTER_FOCUS_S
    return _most_turned(t_s, turn_rate_deg_s)


def _narrowed(
    t_s: Floats, turn_rate_deg_s: Floats, focus_s: tuple[float, float] | None
) -> tuple[float, float] | None:
    """The reversal, or the seven minutes of a longer one in which most was turned: an hour has no one wind."""
    if focus_s is None or focus_s[1] - focus_s[0] <= LONGEST_WINDOW_S:
        return focus_s
    inside = (t_s >= focus_s[0]) & (t_s <= focus_s[1])
    return _most_turned(t_s[inside], turn_rate_deg_s[inside]) if inside.any() else focus_s


def _most_turned(t_s: Floats, turn_rate_deg_s: Floats) -> tuple[float, float]:
    turned_deg = np.concatenate([[0.0], np.cumsum(_turned_deg(t_s, turn_rate_deg_s))])
    after = np.searchsorted(t_s, t_s + LONGEST_WINDOW_S, side="right")
    first = int(np.argmax(turned_deg[after] - turned_deg[:-1]))
    return float(t_s[first]), float(t_s[first] + LONGEST_WINDOW_S)


def _turning(t_s: Floats, turn_rate_deg_s: Floats) -> tuple[float, float] | None:
    """From the first turn of a stretch to its last; ``None`` where it is straight."""
    turning_s = t_s[np.abs(np.nan_to_num(turn_rate_deg_s)) > TURNING_DEG_S]
    return (float(turning_s[0]), float(turning_s[-1])) if turning_s.size else None


def _turned_deg(t_s: Floats, turn_rate_deg_s: Floats) -> Floats:
    """Size of the turn made since the sample before; nothing is known of one inside a gap."""
    turned: Floats = np.abs(np.nan_to_num(turn_rate_deg_s)) * np.minimum(np.diff(t_s, prepend=t_s[0]), BIN_S)
    return turned


def _one_speed(
    t_s: Floats, velocity_kt: Floats, turn_rate_deg_s: Floats, focus_s: tuple[float, float]
) -> tuple[float, float]:
    """The stretch about the reversal in which the speed was not changed on a straight leg."""
    speed_kt = np.hypot(*velocity_kt.T)
    turned_deg = np.cumsum(_turned_deg(t_s, turn_rate_deg_s))
    half_s = RAMP_S / 2.0
    change_kt, change_deg = (
        np.interp(t_s + half_s, t_s, values) - np.interp(t_s - half_s, t_s, values)
        for values in (speed_kt, turned_deg)
    )
    ramp_s = t_s[(np.abs(change_kt) > RAMP_KT) & (change_deg < STRAIGHT_DEG)]
    before, after = ramp_s[ramp_s < focus_s[0]], ramp_s[ramp_s > focus_s[1]]
    # the change began before it was large enough to be seen, and went on after
    start_s = min(before[-1] + RAMP_S, focus_s[0]) if before.size else -np.inf
    end_s = max(after[0] - RAMP_S, focus_s[1]) if after.size else np.inf
    return float(start_s), float(end_s)


def _means(bin_of: NDArray[np.int64], values: Floats) -> Floats:
    """Mean of each bin over the samples that have a value; ``nan`` where none has."""
    known = np.isfinite(values)
    size = int(bin_of[-1]) + 1
    count = np.bincount(bin_of[known], minlength=size)
    total = np.bincount(bin_of[known], values[known], minlength=size)
    means: Floats = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return means


def _velocities(
    bin_of: NDArray[np.int64],
    t_s: Floats,
    velocity_kt: Floats,
    turn_rate_deg_s: Floats,
    altitude_ft: Floats,
    airspeed_ktas: Floats,
    *,
    focus_s: tuple[float, float] | None,
    sample_interval_s: float,
    position_sigma_nm: float,
    velocity_sigma_kt: float,
) -> Velocities:
    middle_s = _means(bin_of, t_s)
    rate = np.nan_to_num(_means(bin_of, turn_rate_deg_s))
    # the mean over an arc is a little short of the speed along it
    half_rad = np.radians(np.abs(rate)) * BIN_S / 2.0
    longer = 1.0 / np.sinc(half_rad / np.pi)
    altitude = _means(bin_of, altitude_ft)
    airspeed = _means(bin_of, airspeed_ktas)
    height_ft = np.zeros_like(altitude)
    shape = np.ones_like(altitude)
    if np.isfinite(altitude).all():
        inside = np.ones(len(middle_s), dtype=bool)
        if focus_s is not None:
            inside = (middle_s >= focus_s[0]) & (middle_s <= focus_s[1])
        height_ft = altitude - altitude[inside if inside.any() else slice(None)].mean()
        # at one indicated airspeed the true airspeed grows as the air gets thinner
        shape = (1.0 - altitude / TOP_OF_LAPSE_FT) ** DENSITY_EXPONENT
    if np.isfinite(airspeed).all() and (airspeed > SLOWEST_KT).all():
        shape = airspeed
    return Velocities(
        t_s=middle_s,
        ground_kt=np.column_stack([_means(bin_of, axis) for axis in velocity_kt.T]) * longer[:, None],
        turn_rate_deg_s=rate,
        height_ft=height_ft,
        shape=shape / shape.mean(),
        bin_s=BIN_S,
        sample_interval_s=sample_interval_s,
        position_sigma_nm=position_sigma_nm,
        velocity_sigma_kt=velocity_sigma_kt,
    )


def _by_turns(velocities: Velocities, focus_s: tuple[float, float] | None) -> WindEstimate | NoWind:
    """The circle of the whole stretch, or, where that is more certain, of the turns with less about them.

    More straight flight tells more about how the airspeed wandered, unless another speed was flown there.
    """
    found = _circle_of(velocities)
    if focus_s is None or isinstance(found, NoWind):
        return found
    for margin_s in MARGINS_S:
        if found.vector_uncertainty_kt <= CERTAIN_KT:
            break
        near = (velocities.t_s >= focus_s[0] - margin_s) & (velocities.t_s <= focus_s[1] + margin_s)
        closer = _circle_of(velocities.only(near)) if near.sum() >= FEWEST_BINS else found
        if isinstance(closer, WindEstimate) and closer.vector_uncertainty_kt < found.vector_uncertainty_kt:
            found = closer
    return found


def _circle_of(velocities: Velocities) -> WindEstimate | NoWind:
    arc_deg = _arc_deg(velocities.ground_kt)
    if arc_deg < SMALLEST_ARC_DEG:
        return NoWind(
            reason=tr(
                "the ground track turned through {arc:.0f}° only; the wind shows in the ground "
                "speeds from {least:.0f}° on",
                arc=arc_deg,
                least=SMALLEST_ARC_DEG,
            )
        )
    try:
        circle = fit_circle(velocities)
    except np.linalg.LinAlgError:  # velocities so few or so alike that they leave the wind open
        circle = None
    if circle is None:
        return NoWind(reason=tr("no wind explains the ground speeds in the turns"))
    kept = velocities.only(circle.used)
    return _estimate(circle.towards_kt, circle.covariance_kt2, kept, tr("ground speeds in the turns"))


def _by_heading(
    velocities: Velocities, bin_of: NDArray[np.int64], heading_true_deg: Floats, airspeed_ktas: Floats
) -> WindEstimate | NoWind:
    """The triangle of each bin, with an error of the compass and of the airspeed that stays the same.

    Ground = wind + airspeed (1 + k) along (heading + b): least squares in wind, k and b, the last two held near
    0 by what such instruments are good for; a flight that turned tells them by itself.
    """
    airspeed = _means(bin_of, airspeed_ktas)
    heading_rad = np.radians(heading_true_deg)
    ahead = np.column_stack([_means(bin_of, np.sin(heading_rad)), _means(bin_of, np.cos(heading_rad))])
    whole = np.isfinite(airspeed) & (airspeed > SLOWEST_KT) & np.isfinite(ahead).all(axis=1)
    if whole.sum() < FEWEST_BINS:
        return NoWind(reason=tr("the log has no heading and true airspeed"))
    v = velocities.only(whole)
    ahead = ahead[whole] / np.hypot(*ahead[whole].T)[:, None]
    air_kt = airspeed[whole, None] * ahead
    beside_kt = np.column_stack([air_kt[:, 1], -air_kt[:, 0]])
    one = np.ones(len(air_kt))
    design = np.stack(
        [np.column_stack([one, 0 * one]), np.column_stack([0 * one, one]), air_kt, beside_kt], axis=2
    )  # (n, 2, 4)
    right = v.ground_kt - air_kt
    prior = np.diag([0.0, 0.0, AIRSPEED_SCALE_SIGMA**-2, np.radians(HEADING_SIGMA_DEG) ** -2])
    lag_kt = np.radians(np.abs(v.turn_rate_deg_s)) * airspeed[whole] * LAG_SIGMA_S
    gusts = np.exp(-np.abs(v.t_s[:, None] - v.t_s) / GUST_S)
    size_kt = LEAST_GUST_KT
    for _ in range(3):
        inverse = np.linalg.inv(size_kt**2 * gusts + np.diag(lag_kt**2 + v.velocity_sigma_kt**2))
        normal = prior + np.einsum("nak,nm,mal->kl", design, inverse, design)
        solution = np.linalg.solve(normal, np.einsum("nak,nm,ma->k", design, inverse, right))
        residual = right - design @ solution
        size_kt = max(LEAST_GUST_KT, 1.4826 * float(np.median(np.abs(residual))))
    covariance = np.linalg.inv(normal)[:2, :2] + UNKNOWN_KT**2 * np.eye(2)
    return _estimate(
        solution[:2], covariance, v, tr("logged heading and true airspeed against the ground velocity")
    )


def _estimate(
    towards_kt: Floats, covariance_kt2: Floats, v: Velocities, method: str
) -> WindEstimate | NoWind:
    air = v.ground_kt - towards_kt
    arc_deg = _arc_deg(air)
    tas_kt = np.hypot(*air.T)
    mean_direction = (air / tas_kt[:, None]).mean(axis=0)
    tas_variance = mean_direction @ covariance_kt2 @ mean_direction + UNKNOWN_KT**2
    speed_kt, blows_to_deg = speed_and_direction(float(towards_kt[0]), float(towards_kt[1]))
    return WindEstimate(
        from_true_deg=float(wrap_360(blows_to_deg + 180.0)),
        from_uncertainty_deg=_direction_sure_deg(towards_kt, covariance_kt2),
        speed_kt=float(speed_kt),
        speed_uncertainty_kt=_speed_sure_kt(towards_kt, covariance_kt2),
        vector_uncertainty_kt=radius_95(covariance_kt2),
        tas_kt=float(tas_kt.mean()),
        tas_uncertainty_kt=float(1.96 * np.sqrt(tas_variance)),
        arc_deg=arc_deg,
        method=method,
        start_s=float(v.t_s[0]),
        end_s=float(v.t_s[-1]),
    )


def _speed_sure_kt(towards_kt: Floats, covariance_kt2: Floats) -> float:
    """Half-width at 95 % of the wind's speed: its vector's error along it; in a light wind across it counts as well.

    The length of each vector that may be the true one, evenly likely along both axes of the ellipse of errors.
    """
    variances, axes = np.linalg.eigh(covariance_kt2)
    along_kt, across_kt = np.sqrt(np.maximum(variances, 0.0))[:, None] * _EVENLY_LIKELY
    errors_kt = axes @ np.stack(np.meshgrid(along_kt, across_kt)).reshape(2, -1)
    longer_kt = np.hypot(*(towards_kt[:, None] + errors_kt)) - np.hypot(*towards_kt)
    return float(np.quantile(np.abs(longer_kt), LEVEL))


def _direction_sure_deg(towards_kt: Floats, covariance_kt2: Floats) -> float:
    """Half-width at 95 % of the wind's direction: its vector's across itself; any, where that is as long as the wind."""
    speed_kt = float(np.hypot(*towards_kt))
    if not speed_kt > 0.0:
        return 180.0
    across = np.array([towards_kt[1], -towards_kt[0]]) / speed_kt
    across_kt = 2.0 * float(np.sqrt(across @ covariance_kt2 @ across))
    return float(np.degrees(np.arcsin(across_kt / speed_kt))) if across_kt < speed_kt else 180.0


def _better(by_turns: WindEstimate | NoWind, by_heading: WindEstimate | NoWind) -> WindEstimate | NoWind:
    """The more certain of the two, where it is certain enough."""
    found = [e for e in (by_turns, by_heading) if isinstance(e, WindEstimate)]
    if not found:
        return by_turns
    best = min(found, key=lambda estimate: estimate.vector_uncertainty_kt)
    if best.vector_uncertainty_kt > WIDEST_USEFUL_KT:
        if isinstance(by_turns, NoWind):
            return by_turns
        return NoWind(
            reason=tr(
                "the wind could be found to ±{sure:.1f} kt only: the airspeed changed "
                "too much for the turns that were flown",
                sure=best.vector_uncertainty_kt,
            )
        )
    return best


def _arc_deg(velocity_kt: Floats) -> float:
    """The directions flown, of 360: all but the widest gap between them."""
    ordered = np.sort(speed_and_direction(velocity_kt[:, 0], velocity_kt[:, 1])[1])
    return float(FULL_CIRCLE_DEG - np.max(np.diff(ordered, append=ordered[0] + FULL_CIRCLE_DEG)))


def radius_95(covariance: Floats) -> float:
    """Radius of the circle that holds 95 % of a plane normal error, whatever its shape.

    Along the ellipse's angle the error's size is of a Rayleigh law; the circle is found by halving.

    >>> print(f"{radius_95(np.eye(2)):.3f} {radius_95(np.diag([1.0, 0.0])):.2f}")
    2.448 1.96
    """
    small, large = np.maximum(np.linalg.eigvalsh(covariance), 1e-12)
    angle = (np.arange(256) + 0.5) * np.pi / 256
    variance = large * np.cos(angle) ** 2 + small * np.sin(angle) ** 2
    low, high = 0.0, 3.0 * float(np.sqrt(large))
    for _ in range(24):
        middle = (low + high) / 2.0
        if np.mean(np.exp(-(middle**2) / (2.0 * variance))) > 0.05:
            low = middle
        else:
            high = middle
    return high
