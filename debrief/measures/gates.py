"""The stabilised gates: the aircraft at given heights above the runway on final, and below.

Owns      ``GateLimits`` (handed in by the standard) and what was outside them.
Not here  the numbers of a standard (grading), the descent as a whole (``descent``).
Source    The elements of a stabilised approach that a track can show: Flight Safety Foundation, ALAR Tool Kit,
          Briefing Note 7.1. Mark: seen (2nd hand).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from debrief.language import tr
from debrief.measures.descent import rates_over
from debrief.measures.landing_runway import runway_of
from debrief.measures.minimum import judged_until_s
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known
from debrief.measures.stretches import stretches
from debrief.measures.tracking import needle_deg, scored_course_deg
from debrief.measures.uncertainty import altitude_ft
from debrief.navigation.angles import difference_deg
from debrief.navigation.units import SECONDS_PER_MINUTE
from debrief.phases.model import StationView
from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import Phase
from debrief.result import Gate

#: Below this height above the runway the flare begins, and nothing is looked at. Mark: common practice.
FLARE_FT = 100.0


GateLimit = Literal["rate", "course", "track", "speed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GateLimits:
    """What a standard asks for at its gates; ``None`` where it asks for nothing."""

    heights_ft: tuple[float, ...]  # above the runway
    max_sink_ft_min: float | None = None
    sink_over_s: float = 5.0  # a rate counts when it lasts
    max_deviation_deg: float | None = None
    not_within_nm: float = 0.0  # of the station, where the needle swings with every few metres
    max_track_off_deg: float | None = None  # ground track, from the final course
    max_speed_change_kt: float | None = None  # greatest less least from the gate down


def gates(scene: Scene, limits: GateLimits) -> tuple[tuple[Gate, ...], str]:
    """The gates passed on final, highest first, and the reason where none can be told."""
    span, runway = scene.span(Phase.FINAL), runway_of(scene)
    if span is None or runway is None:
        return (), "" if span is None else tr("Stabilised gates not looked at: the procedure has no runway.")
    part = scene.part(span.start_s, span.end_s)
    view, kias = scene.view.where(part), scene.air.kias[part]
    height_ft = view.altitude_ft - runway.elevation_ft
    if not np.isfinite(height_ft).any():
        return (), tr("Stabilised gates not looked at: the log has no altitude on the final.")
    found = []
    for gate_ft in sorted(limits.heights_ft, reverse=True):
        below = stretches(view.t_s, gate_ft - height_ft, view.segment)
        if not below or below[-1].first == 0:  # never so low, or already lower where the final began
            continue
        inside = (view.t_s >= below[-1].start_s) & (height_ft > FLARE_FT) & (height_ft <= gate_ft)
        outside = _outside(scene, view.where(inside), kias[inside], limits)
        found.append(
            Gate(
                height_ft=gate_ft,
                time=scene.time(below[-1].start_s),
                stable=None if not inside.any() else not outside,
                reasons=tuple(outside.values()),
                outside=tuple(outside),
            )
        )
    return tuple(found), ""


def gate_sure(scene: Scene, gate: Gate) -> dict[str, float]:
    """Half-width at 95 % of when a height was passed: that of the altitude, over how fast it is lost there. [s]"""
    at = scene.at((gate.time - scene.flight.log.track.epoch).total_seconds())
    sinking_ft_s = abs(float(at.vertical_speed_ft_min[0])) / SECONDS_PER_MINUTE
    sure_s = altitude_ft(scene.flight) / sinking_ft_s if sinking_ft_s > 0.0 else np.nan
    return all_known({"time": sure_s})


def _outside(scene: Scene, view: StationView, kias: np.ndarray, limits: GateLimits) -> dict[GateLimit, str]:
    """What was outside the limits in a view, by name and in plain words."""
    outside: dict[GateLimit, str] = {}
    if limits.max_sink_ft_min is not None:
        rate, _ = rates_over(view, limits.sink_over_s)
        if np.isfinite(rate).any() and np.nanmax(rate) > limits.max_sink_ft_min:
            outside["rate"] = tr(
                "sinking at {rate:,.0f} ft/min (limit {limit:,.0f})",
                rate=_beyond(np.nanmax(rate), 10.0),
                limit=limits.max_sink_ft_min,
            )
    by_needle_s = judged_until_s(scene)
    guided = view.where(view.t_s <= (np.inf if by_needle_s is None else by_needle_s))
    course_deg = scored_course_deg(scene.procedure, Phase.FINAL)
    if course_deg is not None and len(guided):
        needle, read = needle_deg(scene.procedure, Phase.FINAL, course_deg, guided)
        if guidance_of(scene.procedure) is None:
            read &= guided.distance_nm >= limits.not_within_nm
        scored = np.abs(needle[read])
        if limits.max_deviation_deg is not None and len(scored) and scored.max() > limits.max_deviation_deg:
            outside["course"] = _off_the_course(scene, float(scored.max()), limits.max_deviation_deg)
        course_true_deg = scene.procedure.final_course_true_deg
        off_deg = float(np.nanmax(np.abs(difference_deg(guided.ground_track_true_deg, course_true_deg))))
        if limits.max_track_off_deg is not None and off_deg > limits.max_track_off_deg:
            outside["track"] = tr(
                "ground track {angle:.0f}° off the course (limit {limit:g}°)",
                angle=_beyond(off_deg, 1.0),
                limit=limits.max_track_off_deg,
            )
    if limits.max_speed_change_kt is not None and len(view):
        by_airspeed = np.isfinite(kias).any()
        speed_kt = kias if by_airspeed else view.groundspeed_kt
        change_kt = float(np.nanmax(speed_kt) - np.nanmin(speed_kt))
        if change_kt > limits.max_speed_change_kt:
            outside["speed"] = tr(
                "airspeed changed by {change:.0f} kt (limit {limit:g})"
                if by_airspeed
                else "ground speed changed by {change:.0f} kt (limit {limit:g})",
                change=_beyond(change_kt, 1.0),
                limit=limits.max_speed_change_kt,
            )
    return outside


def _off_the_course(scene: Scene, station_deg: float, limit_deg: float) -> str:
    """How far off, in the unit of the final's needle; both are in degrees of a station's."""
    guidance = guidance_of(scene.procedure)
    if guidance is None:
        return tr(
            "{angle:.1f}° off the course (limit {limit:g}°)", angle=_beyond(station_deg, 0.1), limit=limit_deg
        )
    off, limit = guidance.limit(station_deg), guidance.limit(limit_deg)
    if guidance.unit == "deg":
        return tr(
            "{angle:.1f}° off the course (limit {limit:g}°)", angle=_beyond(off, 0.1), limit=round(limit, 1)
        )
    return tr(
        "{distance:.2f} NM off the course (limit {limit:.2f} NM)", distance=_beyond(off, 0.01), limit=limit
    )


def _beyond(value: float, step: float) -> float:
    """What lies beyond a limit in whole steps, rounded up: it never reads as the limit itself."""
    return float(np.ceil(value / step - 1e-6) * step)
