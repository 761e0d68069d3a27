"""Weaving along a course: swings of the ground track from one side of it to the other, by the positions alone.

Owns      the greatest size of such swings in a row, and how sure a log is of it.
Not here  how much is too much (grading), swings of the heading quicker than a needle can answer (``steering``).
Source    How many swings make a weave, and how slow they may be: common practice. What a log hides is geometry.

A swing is a turn of the track one way between two turns the other way. In a weave through the course each swing lies
about the side to which the one before it led: turning back left it stands farthest right. Corrections that die out are
none: what counts is the size that each of the swings had, the last as well as the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from debrief.language import tr
from debrief.measures import uncertainty
from debrief.measures.scene import Scene
from debrief.measures.statistics import known
from debrief.measures.stretches import stretches
from debrief.measures.swings import longest_run, turning_points
from debrief.measures.tracking import scored_course_deg
from debrief.navigation.angles import unwrap_deg
from debrief.navigation.radials import cross_track_nm
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.model import Floats, Span, StationView
from debrief.result import Weave

#: Positions farther apart than this show no weave but the slowest. [s]
COARSEST_S = 10.0

# Mark: common practice.
SWINGS = 4  # twice there and twice back
PERIOD_S = 90.0  # there and back again in less: slower, it is the drift of any flight
_LEAST_DEG = 4.0  # below this, swings are the unsteadiness of any flight
_SURE_PERIOD_S = 40.0  # of the weave whose size a log is asked for where none was found


def weaving(scene: Scene, legs: Sequence[tuple[Span, StationView]]) -> tuple[Weave | None, float | None, str]:
    """The greatest weave on any leg, the half-width of its swings at 95 % [deg], and why neither can be told."""
    interval_s = scene.flight.log.measured_interval_s
    if interval_s > COARSEST_S:
        why = tr(
            "with a position every {interval} s the log cannot show a weave along the course",
            interval=f"{interval_s:.0f}",
        )
        return None, None, why
    found = [
        weave
        for span, leg in legs
        for part in stretches(leg.t_s, np.ones(len(leg)), leg.segment)
        if (weave := _weave(scene, span, leg.where(part.part))) is not None
    ]
    greatest = max(found, key=lambda weave: weave.swing_deg, default=None)
    period_s = _SURE_PERIOD_S if greatest is None else greatest.period_s
    return greatest, _sure_deg(scene, [leg for _, leg in legs], period_s), ""


def _weave(scene: Scene, span: Span, view: StationView) -> Weave | None:
    course_deg = scored_course_deg(scene.procedure, span.phase)
    if course_deg is None or len(view) < 2:
        return None
    track_deg = unwrap_deg(view.ground_track_true_deg)
    across_nm = cross_track_nm(view.east_nm, view.north_nm, scene.procedure.true_deg(course_deg))
    sizes = _sizes(track_deg, turning_points(track_deg, _LEAST_DEG))
    for least_deg in sorted((size for size in sizes if size >= _LEAST_DEG), reverse=True):
        points = turning_points(track_deg, least_deg)
        good = [
            size >= least_deg and _through(scene, view, track_deg, across_nm, swing)
            for size, swing in zip(_sizes(track_deg, points), pairwise(points), strict=True)
        ]
        t_s = view.t_s[points]
        counts = [
            bool(good[at] and good[at + 1] and t_s[at + 2] - t_s[at] < PERIOD_S)
            for at in range(len(good) - 1)
        ]
        first, length = longest_run(counts)
        if length + 1 < SWINGS:
            continue
        last = first + length + 1
        woven = slice(points[first], points[last] + 1)
        return Weave(
            phase=span.phase.value,
            start=scene.time(float(t_s[first])),
            end=scene.time(float(t_s[last])),
            swing_deg=float(least_deg),
            swings=last - first,
            period_s=float(2.0 * (t_s[last] - t_s[first]) / (last - first)),
            aside_nm=float(np.abs(across_nm[woven]).max()),
        )
    return None


def _sizes(track_deg: Floats, points: list[int]) -> list[float]:
    return [abs(float(track_deg[last] - track_deg[first])) for first, last in pairwise(points)]


def _through(
    scene: Scene, view: StationView, track_deg: Floats, across_nm: Floats, swing: tuple[int, int]
) -> bool:
    """Whether a swing lies on the side that it turns back from, as far as the positions can tell."""
    first, last = swing
    part = slice(first, last + 1)
    side = -1.0 if track_deg[last] > track_deg[first] else 1.0  # right of the course it turns back left
    farthest = first + int(np.argmax(side * across_nm[part]))
    turned_rad = np.radians(scene.procedure.station.alignment_within_deg)
    sure_nm = uncertainty.position_nm(scene.flight) + turned_rad * float(view.distance_nm[farthest])
    return bool(side * across_nm[farthest] > -sure_nm)


def _sure_deg(scene: Scene, views: Sequence[StationView], period_s: float) -> float | None:
    """Of one swing, half-width at 95 %: two tracks, or a weave of that period which the positions' noise would make."""
    speeds_kt = np.concatenate([view.groundspeed_kt for view in views]) if views else np.empty(0)
    if not np.isfinite(speeds_kt).any():
        return None
    speed_kt = float(np.nanmean(speeds_kt))
    two_tracks_deg = np.sqrt(2.0) * uncertainty.ground_track_deg(scene.flight, speed_kt)
    wave_nm = speed_kt * period_s / SECONDS_PER_HOUR
    noise_nm = uncertainty.COVERAGE * scene.flight.noise.position_nm
    hidden_deg = 2.0 * np.degrees(np.arctan(2.0 * np.pi * noise_nm / wave_nm)) if wave_nm > 0 else np.nan
    return known(max(two_tracks_deg, hidden_deg))
