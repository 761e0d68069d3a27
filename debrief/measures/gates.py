"""The stabilised gates: the aircraft at given heights above the runway on final, and below.

Owns      ``GateLimits`` (handed in by the standard) and what was outside them.
Not here  the numbers of a standard (grading), the descent as a whole (``descent``).
Source    The elements of a stabilised approach that a track can show: Flight Safety Foundation, ALAR Tool Kit,
          Briefing Note 7.1. Mark: seen (2nd hand).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.measures.descent import greatest_rate_ft_min, rates_over
from debrief.measures.landing_runway import runway_of
from debrief.measures.minimum import judged_until_s
from debrief.measures.moments import over_limit
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known
from debrief.measures.stretches import Stretch, stretches
from debrief.measures.tracking import needle_deg, needle_sure_deg, scored_course_deg
from debrief.measures.uncertainty import COVERAGE, altitude_ft, ground_track_deg, groundspeed_kt
from debrief.navigation.angles import difference_deg
from debrief.phases.model import Floats, StationView
from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import Phase
from debrief.result import Gate
from debrief.tracks.altitude import LANDED_FT

#: Below this height above the runway the flare begins, and nothing is looked at. Mark: common practice.
FLARE_FT = 100.0


GateLimit = Literal["rate", "course", "track", "speed"]
Indices = NDArray[np.intp]


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


def gates(scene: Scene, limits: GateLimits, *, surely: bool = False) -> tuple[tuple[Gate, ...], str]:
    """The gates passed on final, highest first, and the reason where none can be told.

    ``surely``: outside a limit is only what is so by more than its half-width at 95 %, and so far below the gate that
    the altitude's own half-width leaves no doubt. Of a rate over some seconds their end lies so far below.
    """
    span, runway = scene.span(Phase.FINAL), runway_of(scene)
    if span is None or runway is None:
        return (), "" if span is None else tr("Stabilised gates not looked at: the procedure has no runway.")
    part = scene.part(span.start_s, span.end_s)
    view, kias = scene.view.where(part), scene.air.kias[part]
    height_ft = view.altitude_ft - runway.elevation_ft
    if not np.isfinite(height_ft).any():
        return (), tr("Stabilised gates not looked at: the log has no altitude on the final.")
    doubt_ft = altitude_ft(scene.flight) if surely else 0.0
    found = []
    for gate_ft in sorted(limits.heights_ft, reverse=True):
        below = _last_below(view, height_ft, gate_ft)
        if below is None:
            continue
        inside = (view.t_s >= below.start_s) & (height_ft > FLARE_FT) & (height_ft <= gate_ft)
        outside = _outside(
            scene,
            (view.where(inside), kias[inside], height_ft[inside] <= gate_ft - doubt_ft),
            limits,
            surely=surely,
        )
        found.append(
            Gate(
                height_ft=gate_ft,
                time=scene.time(below.start_s),
                stable=None if not inside.any() else not outside,
                reasons=tuple(outside.values()),
                outside=tuple(outside),
            )
        )
    return tuple(found), ""


def gate_sure(scene: Scene, gate: Gate) -> dict[str, float]:
    """Half-width at 95 % of when a height was passed: the altitude's, and how well the runway's own is known. [s]

    That moment is looked for again to either side: a descent that levels off there takes long over few feet.
    """
    span, runway = scene.span(Phase.FINAL), runway_of(scene)
    if span is None or runway is None:
        return {}
    view = scene.over(span.start_s, span.end_s)
    height_ft = view.altitude_ft - runway.elevation_ft

    def passed_s(gate_ft: float) -> float | None:
        below = _last_below(view, height_ft, gate_ft)
        return None if below is None else below.start_s

    wrong_ft = float(np.hypot(altitude_ft(scene.flight), LANDED_FT)) / COVERAGE
    return all_known({"time": COVERAGE * over_limit(passed_s, gate.height_ft, wrong_ft, least=-np.inf)})


def _last_below(view: StationView, height_ft: Floats, gate_ft: float) -> Stretch | None:
    """The last stretch below a gate; ``None`` of one never so low, or already lower where the final began."""
    below = stretches(view.t_s, gate_ft - height_ft, view.segment)
    return below[-1] if below and below[-1].first > 0 else None


@dataclass(frozen=True, slots=True)
class _Worst:
    """What lay farthest beyond a limit, allowing for what the log leaves unsure: its value and half-width at 95 %."""

    value: float
    sure: float
    limit: float

    def beyond(self, *, surely: bool) -> bool:
        """Whether it is outside the limit at all, or surely so."""
        return self.value - (self.sure if surely else 0.0) > self.limit

    def told(self, step: float, share: float = 1.0) -> dict[str, float]:
        """Value, half-width and limit, for a sentence, times ``share``; no half-width reads as none."""
        return {
            "value": _beyond(share * self.value, step),
            "sure": max(float(np.round(share * self.sure / step)) * step, step),
            "limit": share * self.limit,
        }


def _outside(
    scene: Scene, below: tuple[StationView, Floats, NDArray[np.bool_]], limits: GateLimits, *, surely: bool
) -> dict[GateLimit, str]:
    """What was outside the limits, by name and in plain words: below the gate, with airspeed, and where surely so."""
    found: dict[GateLimit, tuple[_Worst, str]] = {}
    whole, kias, deep = below
    if (sinking := _sinking(scene, whole, deep, limits)) is not None:
        words = tr("sinking at {value:,.0f} ± {sure:,.0f} ft/min (limit {limit:,.0f})", **sinking.told(10.0))
        found["rate"] = (sinking, words)
    view, kias = whole.where(deep), kias[deep]
    by_needle_s = judged_until_s(scene)
    guided = view.where(view.t_s <= (np.inf if by_needle_s is None else by_needle_s))
    if (aside := _off_the_course(scene, guided, limits)) is not None:
        found["course"] = (aside, _aside_words(scene, aside))
    if (across := _across_the_course(scene, guided, limits)) is not None:
        words = tr(
            "ground track {value:.0f} ± {sure:.0f}° off the course (limit {limit:g}°)", **across.told(1.0)
        )
        found["track"] = (across, words)
    if limits.max_speed_change_kt is not None and len(view):
        by_airspeed = np.isfinite(kias).any()
        speed_kt = kias if by_airspeed else view.groundspeed_kt
        change_kt = float(np.nanmax(speed_kt) - np.nanmin(speed_kt))
        changed = _Worst(change_kt, 2.0 * groundspeed_kt(scene.flight), limits.max_speed_change_kt)
        words = tr(
            "airspeed changed by {value:.0f} ± {sure:.0f} kt (limit {limit:g})"
            if by_airspeed
            else "ground speed changed by {value:.0f} ± {sure:.0f} kt (limit {limit:g})",
            **changed.told(1.0),
        )
        found["speed"] = (changed, words)
    return {name: words for name, (worst, words) in found.items() if worst.beyond(surely=surely)}


def _sinking(scene: Scene, view: StationView, deep: NDArray[np.bool_], limits: GateLimits) -> _Worst | None:
    rate, middle_s = rates_over(view, limits.sink_over_s)
    if len(view):
        ends_deep = np.interp(2.0 * middle_s - view.t_s, view.t_s, deep.astype(np.float64)) > 0.5
        rate = np.where(ends_deep, rate, np.nan)
    if limits.max_sink_ft_min is None or not np.isfinite(rate).any():
        return None
    span = scene.span(Phase.FINAL)  # as that of the whole final, which it often is
    final = view if span is None else scene.over(span.start_s, span.end_s)
    sure_ft_min = greatest_rate_ft_min(scene.flight, final, limits.sink_over_s)
    return _Worst(float(np.nanmax(rate)), sure_ft_min, limits.max_sink_ft_min)


def _off_the_course(scene: Scene, view: StationView, limits: GateLimits) -> _Worst | None:
    """By the needle, in degrees of a station's."""
    course_deg = scored_course_deg(scene.procedure, Phase.FINAL)
    if course_deg is None or limits.max_deviation_deg is None or not len(view):
        return None
    needle, read = needle_deg(scene.procedure, Phase.FINAL, course_deg, view)
    guidance = guidance_of(scene.procedure)
    if guidance is None:
        read &= view.distance_nm >= limits.not_within_nm
    seen = view.where(read)
    return _worst(
        np.abs(needle[read]),
        lambda picked: needle_sure_deg(scene.flight, guidance, seen.where(picked)),
        limits.max_deviation_deg,
    )


def _across_the_course(scene: Scene, view: StationView, limits: GateLimits) -> _Worst | None:
    """By the ground track."""
    if scored_course_deg(scene.procedure, Phase.FINAL) is None or limits.max_track_off_deg is None:
        return None
    off_deg = np.abs(difference_deg(view.ground_track_true_deg, scene.procedure.final_course_true_deg))
    return _worst(
        off_deg,
        lambda picked: np.array(
            [ground_track_deg(scene.flight, float(speed_kt)) for speed_kt in view.groundspeed_kt[picked]]
        ),
        limits.max_track_off_deg,
    )


def _worst(values: Floats, sure_of: Callable[[Indices], Floats], limit: float) -> _Worst | None:
    """Of the values beyond a limit the most surely so; how sure each is takes long, and is asked of no other."""
    beyond = np.flatnonzero(values > limit)
    if not len(beyond):
        return None
    sure = sure_of(beyond)
    at = int(np.argmax(values[beyond] - np.where(np.isfinite(sure), sure, np.inf)))
    return _Worst(float(values[beyond[at]]), float(sure[at]), limit)


def _aside_words(scene: Scene, aside: _Worst) -> str:
    """How far off, in the unit of the final's needle."""
    guidance = guidance_of(scene.procedure)
    if guidance is not None and guidance.unit == "NM":
        return tr(
            "{value:.2f} ± {sure:.2f} NM off the course (limit {limit:.2f} NM)",
            **aside.told(0.01, guidance.limit(1.0)),
        )
    said = aside.told(0.1, 1.0 if guidance is None else guidance.limit(1.0))
    return tr(
        "{value:.1f} ± {sure:.1f}° off the course (limit {limit:g}°)",
        **said | {"limit": round(said["limit"], 1)},
    )


def _beyond(value: float, step: float) -> float:
    """What lies beyond a limit in whole steps, rounded up: it never reads as the limit itself."""
    return float(np.ceil(value / step - 1e-6) * step)
