"""One attempt as the pictures need it: the result beside the arrays it was found in.

Owns      ``Scene``: clock times against the arrays' seconds, the path flown in each phase, which course holds.
Not here  drawing (``plan``, ``profile``, ``strips``), measuring (measures): nothing here is a number for a reader.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from debrief.language import tr
from debrief.measures.minimum import judged_until_s
from debrief.measures.scene import scene_of
from debrief.measures.tracking import needle_deg
from debrief.navigation.geodesy import StationPlane
from debrief.navigation.radials import FULL_SCALE_DEG, deflection
from debrief.phases.model import Flight, FoundAttempt, Passage, Span, StationView
from debrief.procedures.guidance import guidance_in
from debrief.procedures.model import Phase
from debrief.reports.words import elapsed
from debrief.result import Attempt, Finding

Floats = NDArray[np.float64]

_STEP_S = 1.0
ROLLED_OUT_KT = 10.0  # slower, the ground track says nothing
ABOUT_THE_LOG = "log_quality"  # the rule on what a log does not allow to be judged
_BEFORE_PASSAGE = frozenset({Phase.INBOUND, Phase.STATION_PASSAGE})


@dataclass(frozen=True)
class Scene:
    """An attempt of a result, and the same attempt in the flight behind it."""

    flight: Flight
    attempt: Attempt
    found: FoundAttempt

    def seconds(self, time: datetime) -> float:
        """A time in the arrays' seconds."""
        return (time - self.flight.log.track.epoch).total_seconds()

    @cached_property
    def _first_passage(self) -> Passage | None:
        """The passage that the outbound leg follows; ``None`` where it was not observed."""
        begun = [span.start_s for span in self.found.spans if span.phase not in _BEFORE_PASSAGE]
        return next((entry for entry in self.found.passages if not begun or entry.t_s <= begun[0]), None)

    @cached_property
    def zero_s(self) -> float:
        """What elapsed times count from: the first station passage, or the attempt's beginning without one."""
        return self.found.start_s if self._first_passage is None else self._first_passage.t_s

    @property
    def zero_name(self) -> str:
        """What ``zero_s`` is, in words."""
        if self._first_passage is None:
            return tr("the beginning of the attempt")
        return (
            tr("the closest point to the station")
            if self._first_passage.missed
            else tr("the first station passage")
        )

    def elapsed(self, t_s: float) -> str:
        """Minutes and seconds since ``zero_s``."""
        return elapsed(t_s - self.zero_s)

    def path(self, start_s: float, end_s: float) -> StationView:
        """The view each second from ``start_s`` to ``end_s``, both included; ``nan`` inside gaps."""
        inside = np.arange(np.ceil(start_s / _STEP_S), np.floor(end_s / _STEP_S) + 1) * _STEP_S
        return self.flight.at(np.unique(np.concatenate([[start_s], inside, [end_s]])))

    @cached_property
    def paths(self) -> tuple[tuple[Span, StationView], ...]:
        """Every phase with its path."""
        return tuple((span, self.path(span.start_s, span.end_s)) for span in self.found.spans)

    @cached_property
    def arc(self) -> StationView | None:
        """The path of the arc flown on the way in, to where ``inbound`` begins; ``None`` where none was."""
        flown = self.attempt.measures.arc
        if flown is None or not self.seconds(flown.start) < self.found.start_s:
            return None
        return self.path(self.seconds(flown.start), self.found.start_s)

    @cached_property
    def errorless(self) -> Scene | None:
        """The errorless flight of this approach, ``None`` where there is none. Its times are its own."""
        reference = self.attempt.reference
        if reference is None or reference.flight is None:
            return None
        return Scene(flight=reference.flight, attempt=self.attempt, found=reference.flight.attempts[0])

    @cached_property
    def approach(self) -> StationView:
        """The path of the attempt without its missed approach."""
        ends = [span.end_s for span in self.found.spans if span.phase != Phase.MISSED_APPROACH]
        return self.path(self.found.start_s, max(ends, default=self.found.end_s))

    @cached_property
    def whole(self) -> StationView:
        """The path of the whole attempt."""
        return self.path(self.found.start_s, self.found.end_s)

    @property
    def flown_outside(self) -> bool:
        """Whether the log shows where the aircraft was before the attempt, or after it."""
        t_s, more_s = self.flight.view.t_s, 2.0 * _STEP_S
        return bool(t_s[0] < self.found.start_s - more_s or t_s[-1] > self.found.end_s + more_s)

    @cached_property
    def gaps(self) -> tuple[tuple[float, float], ...]:
        """The stretches of the attempt in which nothing was observed [s]."""
        start_s, end_s = self.found.start_s, self.found.end_s
        return tuple(
            (max(gap.start_s, start_s), min(gap.end_s, end_s))
            for gap in self.flight.log.gaps
            if gap.end_s > start_s and gap.start_s < end_s
        )

    def course_deg(self, phase: Phase) -> float | None:
        """The course a needle would be set to in that phase, magnetic; ``None`` where none is published."""
        procedure = self.flight.procedure
        if phase == Phase.OUTBOUND:
            return procedure.outbound.radial_deg if procedure.outbound is not None else None
        if phase in (Phase.COURSE_REVERSAL, Phase.INTERMEDIATE):
            return procedure.inbound_course_deg
        if phase == Phase.FINAL:
            return procedure.final.course_deg if procedure.final is not None else None
        return None

    def needle(self, span: Span, path: StationView) -> Floats:
        """The needle along a path, -1..1 (the aircraft's side); ``nan`` in the cone, by eye and without a course."""
        course_deg = self.course_deg(span.phase)
        if course_deg is None:
            return np.full(len(path), np.nan)
        off_deg, read = needle_deg(self.flight.procedure, span.phase, course_deg, path)
        read &= path.t_s <= self.by_needle_until_s(span)
        return np.where(read, deflection(off_deg), np.nan)

    def full_scale(self, phase: str) -> float:
        """Full scale of the needle in that phase, in the unit of its tolerance: degrees, or NM by satellite."""
        guidance = guidance_in(self.flight.procedure, phase)
        return FULL_SCALE_DEG if guidance is None else guidance.full_scale

    def by_needle_until_s(self, span: Span) -> float:
        """The end of a phase, or of its part before the visual segment or the circling. [s]"""
        measures = self.attempt.measures
        by_eye = [part.start for part in (measures.visual_segment, measures.circling) if part is not None]
        if span.phase != Phase.FINAL:
            return span.end_s
        return min([span.end_s, *(self.seconds(start) for start in by_eye)])

    def scored_until_s(self, span: Span) -> float:
        """The end of that part of a phase in which the standard's limit on the needle counts. [s]"""
        until_s = self.by_needle_until_s(span)
        judged_s = judged_until_s(scene_of(self.flight, self.found, None))
        return until_s if span.phase != Phase.FINAL or judged_s is None else min(until_s, judged_s)

    def moment_of(self, finding: Finding) -> float | None:
        """The moment at which a finding's number stands: that of its place, else the middle of its span. [s]

        ``None`` where it has neither, and for what a log does not show, which happened nowhere.
        """
        if finding.rule == ABOUT_THE_LOG:
            return None
        start_s = self.found.start_s if finding.start is None else self.seconds(finding.start)
        end_s = start_s if finding.end is None else self.seconds(finding.end)
        if finding.latitude_deg is None or finding.longitude_deg is None:
            return None if finding.start is None else (start_s + end_s) / 2.0
        path = self.path(start_s, end_s if finding.start is not None else self.found.end_s)
        station = self.flight.procedure.station
        plane = StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)
        east_nm, north_nm = plane.to_plane(finding.latitude_deg, finding.longitude_deg)
        away_nm = np.hypot(path.east_nm - east_nm, path.north_nm - north_nm)
        return float(path.t_s[np.nanargmin(away_nm)]) if np.isfinite(away_nm).any() else None


def scenes(flight: Flight, attempts: tuple[Attempt, ...]) -> tuple[Scene, ...]:
    """The scene of each attempt, in order."""
    return tuple(
        Scene(flight=flight, attempt=attempt, found=found)
        for attempt, found in zip(attempts, flight.attempts, strict=True)
    )
