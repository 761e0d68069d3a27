"""Feet written as metres, or metres as feet.

Owns      finding it out, by what else the log knows: a landing, a pressure altitude, a vertical speed.
Not here  correcting it (``altitude`` does, when asked).

At a landing a wrong altimeter setting may give the same altitude; so the slope of the descent must agree as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.language import tr
from debrief.navigation.units import METRES_PER_FT, SECONDS_PER_MINUTE
from debrief.tracks.landing import OnRunway, RunwayPlace
from debrief.tracks.model import Floats
from debrief.tracks.points import FEET_PER_METRE, Bools, Points

_OFF_FT = 60.0
_RATIO_NEAR = 0.07
_FEWEST = 5
_CLIMBING_FT_MIN = 300.0
_HEIGHTS_FT = 300.0
_RATE_OVER_S = 20.0
_CLIMB_S = 60.0  # of climb or descent in all
_RATES_AGREE = 0.25  # of their median, half of all rates
_HIGHEST_FT = 60_000.0
_FLAT_DEG, _STEEP_DEG = 1.5, 6.5
_SLOPES_DEG = (1.8, 6.0)
_LEVEL_DEG = 0.4
_DESCENT_S = 150.0
_ALL_STEEP_DEG, _ALL_FLAT_DEG = 9.0, 1.1
_MOVING_M_S = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedUp:
    """Feet and metres mixed up: what to say, and what the altitudes should be multiplied by."""

    words: str
    factor: float


def mixed_up(
    points: Points, altitude_ft: Floats, used: Bools, landed: OnRunway | None, runway: RunwayPlace | None
) -> MixedUp | None:
    """Find altitudes that are metres taken as feet (or the reverse), by the strongest evidence there is."""
    too_high = _too_high_for_metres(altitude_ft, used)
    evidence: list[tuple[float, str]] = []
    columns = points.track.columns
    if landed and runway and abs(landed.altitude_ft - runway.elevation_ft) > _OFF_FT:
        # a wrong altimeter setting could look the same: the slope of the descent must agree
        slope = landed.slope_deg
        ratio = landed.altitude_ft / runway.elevation_ft if runway.elevation_ft else 0.0
        if slope is not None and _fits(slope, ratio):
            because = tr(
                "on the runway, at {elevation_ft:.0f} ft, the log shows {altitude_ft:.0f} and its "
                "descent there is {slope:.1f} degrees steep",
                elevation_ft=runway.elevation_ft,
                altitude_ft=landed.altitude_ft,
                slope=slope,
            )
            evidence.append((ratio, because))
    if "pressure_altitude_ft" in columns:
        ratio = _ratio_of_heights(altitude_ft, used, columns["pressure_altitude_ft"][points.index])
        evidence.append(
            (ratio, tr("they change {ratio:.2f} times as much as the log's pressure altitude", ratio=ratio))
        )
    if "vertical_speed_ft_min" in columns:
        ratio = _ratio_of_rates(points, altitude_ft, used, columns["vertical_speed_ft_min"][points.index])
        evidence.append(
            (ratio, tr("they change {ratio:.2f} times as fast as the log's vertical speed says", ratio=ratio))
        )
    for value, because in evidence:
        if abs(value * FEET_PER_METRE - 1) < _RATIO_NEAR and not too_high:
            words = tr(
                "The altitudes are metres taken as feet: {because}. Run again with --units-altitude m.",
                because=because,
            )
            return MixedUp(words=words, factor=FEET_PER_METRE)
        if abs(value / FEET_PER_METRE - 1) < _RATIO_NEAR:
            words = tr(
                "The altitudes are feet taken as metres: {because}. Run again with --units-altitude ft.",
                because=because,
            )
            return MixedUp(words=words, factor=METRES_PER_FT)
    return None


def slope_words(points: Points, altitude_ft: Floats, used: Bools) -> tuple[str, ...]:
    """Say where all descents together look like feet for metres; that alone is no proof."""
    half = points.reach(_RATE_OVER_S)
    at = np.arange(half, len(points) - half)
    at = at[used[at - half] & used[at + half] & (points.net_speed_m_s[at] > _MOVING_M_S)]
    fallen_m = (altitude_ft[at - half] - altitude_ft[at + half]) * METRES_PER_FT
    slopes_deg = np.degrees(np.arctan2(fallen_m, points.distance_m(at - half, at + half)))
    down = slopes_deg[slopes_deg > _LEVEL_DEG]
    if len(down) * points.interval_s < _DESCENT_S or np.ptp(altitude_ft[used]) < _HEIGHTS_FT:
        return ()
    steep_deg, steepest_deg = np.percentile(down, [75, 95])
    words = ""
    if steep_deg > _ALL_STEEP_DEG:
        words = tr(
            "Descents are {steep_deg:.0f} degrees steep: the altitudes may be feet taken as metres. "
            "If so, run again with --units-altitude ft.",
            steep_deg=steep_deg,
        )
    elif steepest_deg < _ALL_FLAT_DEG and not _too_high_for_metres(altitude_ft, used):
        words = tr(
            "No descent is steeper than {steepest_deg:.1f} degrees: the altitudes may be metres "
            "taken as feet. If so, run again with --units-altitude m.",
            steepest_deg=steepest_deg,
        )
    return (words,) if words else ()


def _too_high_for_metres(altitude_ft: Floats, used: Bools) -> bool:
    """Whether the altitudes, were they metres, would be higher than such aircraft fly."""
    return bool(used.any() and altitude_ft[used].max() * FEET_PER_METRE > _HIGHEST_FT)


def _fits(slope_deg: float, ratio: float) -> bool:
    low, high = _SLOPES_DEG
    if ratio < 1:
        return slope_deg < _FLAT_DEG and low < slope_deg * FEET_PER_METRE < high
    return slope_deg > _STEEP_DEG and low < slope_deg / FEET_PER_METRE < high


def _ratio_of_heights(altitude_ft: Floats, used: Bools, column: Floats) -> float:
    both = used & np.isfinite(column)
    if both.sum() < _FEWEST or np.ptp(column[both]) < _HEIGHTS_FT:
        return float("nan")
    low, high = np.percentile(column[both], [10, 90])
    change = np.percentile(altitude_ft[both], [10, 90])
    return float((change[1] - change[0]) / (high - low)) if high > low else float("nan")


def _ratio_of_rates(points: Points, altitude_ft: Floats, used: Bools, column: Floats) -> float:
    """``nan`` where little was climbed, or where the rates do not agree on a ratio."""
    half = points.reach(_RATE_OVER_S / 2)
    at = np.arange(half, len(points) - half)
    total, told = (np.pad(np.cumsum(of), (1, 0)) for of in (np.nan_to_num(column), np.isfinite(column)))
    count = told[at + half + 1] - told[at - half]
    said_ft_min = (total[at + half + 1] - total[at - half]) / np.maximum(count, 1)
    climbing = used[at - half] & used[at + half] & (count > half) & (np.abs(said_ft_min) > _CLIMBING_FT_MIN)
    at, said_ft_min = at[climbing], said_ft_min[climbing]
    if len(at) < _FEWEST or len(at) * points.interval_s < _CLIMB_S:
        return float("nan")
    seconds = points.t_s[at + half] - points.t_s[at - half]
    rate_ft_min = (altitude_ft[at + half] - altitude_ft[at - half]) / seconds * SECONDS_PER_MINUTE
    low, ratio, high = np.percentile(rate_ft_min / said_ft_min, [25, 50, 75])
    return float(ratio) if high - low < 2.0 * _RATES_AGREE * abs(ratio) else float("nan")
