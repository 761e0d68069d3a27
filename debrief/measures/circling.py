"""Circling to another runway: where the course was left, on which side, how low up to the base turn, and lining up.

Owns      ``circling_measures``.
Not here  which runway it led to (``landing_runway``), the base turn (``base_turn``), the minimum (``minimum``).
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.base_turn import base_turn_s
from debrief.measures.landing_runway import circling_from_s, runway_of
from debrief.measures.lined_up import lined_up_s, lined_up_sure
from debrief.measures.moments import Moment, turn_edge
from debrief.measures.over_phase import EndsMove, altitude_sure, range_sure
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, known, weights_s
from debrief.measures.turning import TURNING_DEG_S
from debrief.measures.uncertainty import COVERAGE, altitude_at_ft, ground_track_deg
from debrief.navigation.radials import along_track_nm, cross_track_nm
from debrief.phases.model import Floats, StationView
from debrief.procedures.geometry import place_nm
from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import Phase, Runway
from debrief.result import CirclingMeasures


def circling_measures(scene: Scene) -> CirclingMeasures | None:
    """Measure the circling; ``None`` where none was flown."""
    circling, start_s = scene.procedure.circling, circling_from_s(scene)
    span, runway = scene.span(Phase.FINAL), runway_of(scene)
    if circling is None or start_s is None or span is None or runway is None:
        return None
    why: list[str] = []
    base_s = base_turn_s(scene)
    if base_s is None:
        why.append(tr("Base turn not measured: no turn onto the runway was seen."))
    view = scene.over(start_s, span.end_s if base_s is None else base_s)
    across_nm, along_nm = _about(scene, runway, view)
    lowest_ft = known(np.min(view.altitude_ft, initial=np.inf, where=np.isfinite(view.altitude_ft)))
    # the way to that side may lead over the other: what counts is where the base turn begins
    right = (
        bool(across_nm[-1] > 0.0)
        if base_s is not None
        else bool(across_nm[np.argmax(np.abs(across_nm))] > 0.0)
    )
    lined_s, why_not = lined_up_s(scene, runway, start_s, span.end_s)
    if why_not:
        why.append(why_not)
    before_nm = height_ft = None
    sure = _sure(scene, view, across_nm if right else -across_nm, np.hypot(across_nm, along_nm), base_s)
    if lined_s is not None:
        there = scene.at(lined_s)
        before_nm = known(-_about(scene, runway, there)[1][0])
        height_ft = known(there.altitude_ft[0] - runway.elevation_ft)
        sure |= lined_up_sure(scene, runway, lined_s)
    return CirclingMeasures(
        start=scene.time(start_s),
        runway=runway.ident,
        minimum_ft=circling.altitude.low_ft,
        side="right" if right else "left",
        farthest_aside_nm=float(across_nm.max() if right else -across_nm.min()),
        farthest_nm=float(np.hypot(across_nm, along_nm).max()),
        lowest_altitude_ft=lowest_ft,
        base_turn=None if base_s is None else scene.time(base_s),
        base_turn_altitude_ft=None if base_s is None else known(scene.at(base_s).altitude_ft[0]),
        lined_up=None if lined_s is None else scene.time(lined_s),
        lined_up_before_threshold_nm=before_nm,
        lined_up_height_ft=height_ft,
        uncertainties=all_known(sure),
        warnings=tuple(why),
    )


def _sure(
    scene: Scene, view: StationView, aside_nm: Floats, away_nm: Floats, base_s: float | None
) -> dict[str, float | None]:
    """Half-widths at 95 % of the beginning, the farthest, the lowest, and of the base turn with its altitude.

    Where the farthest lies at one end of that part, it is as unsure as the moment of that end makes it.
    """
    flight = scene.flight
    parts, weight_s = log_errors.position_nm(flight, turning=True), weights_s(view.t_s, view.segment)
    base = Moment(0.0) if base_s is None else turn_edge(flight, base_s)
    left = _left_course(scene, view)
    ends = (left, base)

    def farthest_nm(values_nm: Floats) -> float:
        most = int(np.argmax(values_nm))
        if len(values_nm) < 2 or most not in (0, len(values_nm) - 1):
            return range_sure(parts, values_nm, weight_s).greatest
        inner, end = (1, ends[0]) if most == 0 else (most - 1, ends[1])
        step_s = abs(float(view.t_s[most] - view.t_s[inner]))
        drawing_nm_s = abs(float(values_nm[most] - values_nm[inner])) / step_s
        return range_sure(
            parts,
            values_nm,
            weight_s,
            bias=drawing_nm_s * end.bias_s,
            rectangular=drawing_nm_s * step_s if most == 0 else 0.0,  # leaving the course is known to a step
            ends=EndsMove(greatest=drawing_nm_s * end.sd_s),
        ).greatest

    sure: dict[str, float | None] = {
        "start": left.half_width_s,
        "farthest_aside_nm": farthest_nm(aside_nm),
        "farthest_nm": farthest_nm(away_nm),
        "lowest_altitude_ft": altitude_sure(flight, view.altitude_ft, weight_s).least,
    }
    if base_s is not None:
        sinking_ft_min = float(scene.at(base_s).vertical_speed_ft_min[0])
        sure["base_turn"] = base.half_width_s
        sure["base_turn_altitude_ft"] = altitude_at_ft(flight, base.half_width_s / COVERAGE, sinking_ft_min)
    return sure


def _left_course(scene: Scene, view: StationView) -> Moment:
    """The error of leaving the final course: the track's there, and the course's, over the rate of the turn."""
    procedure = scene.procedure
    rate_deg_s = max(abs(float(view.turn_rate_deg_s[0])), TURNING_DEG_S)
    track_deg = ground_track_deg(scene.flight, float(view.groundspeed_kt[0])) / COVERAGE
    alignment_deg = procedure.station.alignment_within_deg if guidance_of(procedure) is None else 0.0
    return Moment(track_deg / rate_deg_s, turned_s=alignment_deg / rate_deg_s)


def _about(scene: Scene, runway: Runway, view: StationView) -> tuple[Floats, Floats]:
    """Right of the runway's centre line, and past its threshold, in the direction of landing. [NM]"""
    east_nm, north_nm = place_nm(scene.procedure, runway)
    return (
        cross_track_nm(view.east_nm - east_nm, view.north_nm - north_nm, runway.course_true_deg),
        along_track_nm(view.east_nm - east_nm, view.north_nm - north_nm, runway.course_true_deg),
    )
