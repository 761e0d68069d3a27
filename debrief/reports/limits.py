"""The published altitudes as lines in the pictures: from when to when each holds.

Owns      ``limit_stretches``.
Not here  whether one was broken (measures), what that means (grading).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.phases.model import StationView
from debrief.procedures.model import AltitudeLimit, Phase, Procedure, StepDown
from debrief.procedures.steps import past_radial_deg
from debrief.reports.scene import Scene


@dataclass(frozen=True, slots=True)
class LimitStretch:
    """A published altitude, and the stretch of the flight in which it holds."""

    phase: Phase
    start_s: float
    end_s: float
    altitude_ft: float
    forbidden_below: bool  # else above


def _step_reached(procedure: Procedure, step: StepDown, path: StationView) -> NDArray[np.bool_]:
    if step.until_radial is not None:
        return past_radial_deg(procedure, step.until_radial, path.east_nm, path.north_nm) > 0.0
    until_nm = step.until_dme_nm or 0.0
    return path.dme_nm < until_nm if procedure.station_on_aerodrome else path.dme_nm > until_nm


def _on_the_arc(scene: Scene, start_s: float, end_s: float, leg: AltitudeLimit | None) -> list[LimitStretch]:
    """The limits of an inbound leg up to the end of the arc flown on it: the leg's before the arc, then the arc's."""
    arc, flown = scene.flight.procedure.arc, scene.attempt.measures.arc
    if arc is None or arc.altitude is None or flown is None:
        return []
    joined_s = min(max(scene.seconds(flown.start), start_s), end_s)
    left_s = min(max(scene.seconds(flown.end), start_s), end_s)
    parts = ((start_s, joined_s, leg), (joined_s, left_s, arc.altitude))
    return [
        LimitStretch(Phase.INBOUND, from_s, to_s, altitude_ft, forbidden_below=below)
        for from_s, to_s, limit in parts
        if limit is not None and to_s > from_s
        for altitude_ft, below in ((limit.low_ft, True), (limit.high_ft, False))
        if altitude_ft is not None
    ]


def limit_stretches(scene: Scene) -> tuple[LimitStretch, ...]:
    """The limits along an attempt, in order of time; a step-down holds until its distance is reached."""
    found: list[LimitStretch] = []
    for span, path in scene.paths:
        leg = scene.flight.leg_in_force(scene.found, span.phase)
        if leg is None:
            continue
        start_s = span.start_s
        if span.phase == Phase.INBOUND:
            on_arc = _on_the_arc(scene, span.start_s, span.end_s, leg.altitude)
            found += on_arc
            start_s = max((stretch.end_s for stretch in on_arc), default=start_s)
        for step in leg.step_down:
            beyond = _step_reached(scene.flight.procedure, step, path)
            reached = np.flatnonzero(beyond)
            until_s = float(path.t_s[reached[0]]) if len(reached) else span.end_s
            if until_s > start_s:
                found.append(
                    LimitStretch(span.phase, start_s, until_s, step.at_or_above_ft, forbidden_below=True)
                )
                start_s = until_s
        low_ft = leg.altitude.low_ft if leg.altitude is not None else None
        high_ft = leg.altitude.high_ft if leg.altitude is not None else None
        end_s, circled = span.end_s, scene.attempt.measures.circling if span.phase == Phase.FINAL else None
        if circled is not None and circled.minimum_ft is not None:
            low_ft = circled.minimum_ft
            end_s = end_s if circled.base_turn is None else scene.seconds(circled.base_turn)
        if low_ft is not None and end_s > start_s:
            found.append(LimitStretch(span.phase, start_s, end_s, low_ft, forbidden_below=True))
        if high_ft is not None:
            high_from_s = start_s if span.phase == Phase.INBOUND else span.start_s
            found.append(LimitStretch(span.phase, high_from_s, span.end_s, high_ft, forbidden_below=False))
    return tuple(found)
