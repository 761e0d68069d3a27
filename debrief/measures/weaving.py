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

import numpy as np

from debrief.language import tr
from debrief.measures import uncertainty
from debrief.measures.scene import Scene
from debrief.measures.stretches import stretches
from debrief.measures.swings import greatest_row, swing_sure_deg
from debrief.measures.tracking import off_course, scored_course_deg
from debrief.navigation.angles import unwrap_deg
from debrief.phases.model import Floats, Span, StationView
from debrief.procedures.guidance import guidance_in
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
    return greatest, swing_sure_deg(scene.flight, [leg for _, leg in legs], period_s), ""


def _weave(scene: Scene, span: Span, view: StationView) -> Weave | None:
    course_deg = scored_course_deg(scene.procedure, span.phase)
    if course_deg is None or len(view) < 2:
        return None
    track_deg = unwrap_deg(view.ground_track_true_deg)
    across_nm, _ = off_course(scene.procedure, span.phase, course_deg, view)
    by_station = guidance_in(scene.procedure, span.phase) is None
    alignment_deg = scene.procedure.station.alignment_within_deg if by_station else 0.0
    row = greatest_row(
        view.t_s,
        track_deg,
        count=SWINGS,
        least_deg=_LEAST_DEG,
        size_deg=lambda first, last: abs(float(track_deg[last] - track_deg[first])),
        together=lambda begins_s, _, ends_s: ends_s - begins_s < PERIOD_S,
        counts=lambda first, last: _through(scene, view, track_deg, (across_nm, alignment_deg), first, last),
    )
    if row is None:
        return None
    return Weave(
        phase=span.phase.value,
        start=scene.time(row.start_s),
        end=scene.time(row.end_s),
        swing_deg=row.swing_deg,
        swings=row.swings,
        period_s=row.period_s,
        aside_nm=float(np.abs(across_nm[row.first : row.last + 1]).max()),
    )


def _through(
    scene: Scene, view: StationView, track_deg: Floats, course: tuple[Floats, float], first: int, last: int
) -> bool:
    """Whether a swing lies on the side that it turns back from, as far as the positions can tell.

    ``course``: how far right of it each moment lies [NM], and how far it may be turned about the station [deg].
    """
    across_nm, alignment_deg = course
    part = slice(first, last + 1)
    side = -1.0 if track_deg[last] > track_deg[first] else 1.0  # right of the course it turns back left
    farthest = first + int(np.argmax(side * across_nm[part]))
    turned_nm = np.radians(alignment_deg) * float(view.distance_nm[farthest])
    sure_nm = uncertainty.position_nm(scene.flight) + turned_nm
    return bool(side * across_nm[farthest] > -sure_nm)
