"""One attempt, laid out for measuring: its view with the phase boundaries on it, its airspeed and heading.

Owns      ``Scene`` and how it is cut into phases; dense looks between the moments of the grid.
Not here  any measure (the other modules), finding phases (phases).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from debrief.measures.air import Air, air_along
from debrief.phases.model import Flight, Floats, FoundAttempt, Passage, Span, StationView
from debrief.procedures.model import Leg, Phase, Procedure
from debrief.result import Wind

#: A look between two moments of the grid is this fine. [s]
DENSE_S = 0.05
#: Moments nearer than this are the same. [s]
SAME_MOMENT_S = 2e-5
#: The attempt's view begins this much earlier: a turn or a descent may begin before its phase does.
BEFORE_S = 30.0
#: So near the station the view has a moment every 0.2 s.
NEAR_STATION_NM = 1.0
NEAR_STATION_S = 0.2

_REPEATED = (Phase.OUTBOUND, Phase.COURSE_REVERSAL, Phase.INTERMEDIATE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """What every measure is given. ``view`` and ``air`` have one entry a moment, none inside gaps."""

    flight: Flight
    attempt: FoundAttempt
    wind: Wind | None
    view: StationView
    air: Air
    _moments: dict[float, StationView] = field(default_factory=dict)  # that were looked at

    @property
    def procedure(self) -> Procedure:
        """What was to be flown."""
        return self.flight.procedure

    def leg(self, phase: Phase) -> Leg | None:
        """The leg whose altitude holds in a phase of this attempt."""
        return self.flight.leg_in_force(self.attempt, phase)

    def time(self, t_s: float) -> datetime:
        """The date of a moment, UTC."""
        return self.flight.log.track.time_at(t_s)

    def part(self, start_s: float, end_s: float) -> slice:
        """The entries of ``view`` and ``air`` from ``start_s`` to ``end_s``, both included."""
        t_s = self.view.t_s
        first = int(np.searchsorted(t_s, start_s - SAME_MOMENT_S, side="left"))
        return slice(first, int(np.searchsorted(t_s, end_s + SAME_MOMENT_S, side="right")))

    def over(self, start_s: float, end_s: float) -> StationView:
        """The view from ``start_s`` to ``end_s``, both included."""
        return self.view.where(self.part(start_s, end_s))

    def at(self, t_s: float) -> StationView:
        """The view at one moment: arrays of one entry, ``nan`` where nothing was observed."""
        if t_s not in self._moments:
            self._moments[t_s] = self._look(t_s)
        return self._moments[t_s]

    def _look(self, t_s: float) -> StationView:
        there = int(np.searchsorted(self.view.t_s, t_s - SAME_MOMENT_S))
        if there < len(self.view) and self.view.t_s[there] <= t_s + SAME_MOMENT_S:
            return self.view.where(slice(there, there + 1))
        return self.flight.at(np.array([t_s]))

    def dense(self, start_s: float, end_s: float) -> StationView:
        """The view every 0.05 s; unobserved moments left out."""
        count = max(2, round((end_s - start_s) / DENSE_S) + 1)
        view = self.flight.at(np.linspace(start_s, end_s, count))
        return view.where(view.segment >= 0)

    def gap_s(self, start_s: float, end_s: float) -> float:
        """How much of a span fell into gaps. [s]"""
        return sum(
            max(0.0, min(gap.end_s, end_s) - max(gap.start_s, start_s)) for gap in self.flight.log.gaps
        )

    @property
    def last_circuit(self) -> int:
        """The number of the circuit that led to the final."""
        return max((span.circuit for span in self.attempt.spans if span.phase in _REPEATED), default=0)

    def span(self, phase: Phase, circuit: int | None = None) -> Span | None:
        """The span of a phase; of a phase that a racetrack repeats, that of the circuit (the last by default).

        Of the other phases the first. A phase that the finder cut at a gap is put together again.
        """
        number = self.last_circuit if circuit is None else circuit
        spans = [
            span
            for span in self.attempt.spans
            if span.phase == phase and (phase not in _REPEATED or span.circuit == number)
        ]
        if not spans:
            return None
        if phase is Phase.STATION_PASSAGE:
            return spans[0]
        return Span(phase=phase, start_s=spans[0].start_s, end_s=spans[-1].end_s, circuit=spans[0].circuit)

    def turns_off(self, outbound: Span) -> bool:
        """Whether an outbound leg ends with the turn off its course, and not with the log or a gap."""
        reversals = self.attempt.spans_of(Phase.COURSE_REVERSAL)
        return any(
            back.circuit == outbound.circuit and abs(back.start_s - outbound.end_s) < 1.0
            for back in reversals
        )

    def passage_before(self, t_s: float) -> Passage | None:
        """The last passage, or closest point of a missed station, not later than a moment."""
        slack_s = 1.0  # a boundary and the passage it lies on may differ in the last digits
        return next((p for p in reversed(self.attempt.passages) if p.t_s <= t_s + slack_s), None)


@lru_cache(maxsize=1)
def scene_of(flight: Flight, attempt: FoundAttempt, wind: Wind | None) -> Scene:
    """Lay out one attempt; asked again for the same one, as by what measures, judges and explains it, the same."""
    grid_s = flight.view.t_s
    edges_s = np.array(
        [edge for span in attempt.spans for edge in (span.start_s, span.end_s)]
        + [passage.t_s for passage in attempt.passages]
    )
    inside = (grid_s > attempt.start_s - BEFORE_S) & (grid_s < attempt.end_s)
    inside_s = np.concatenate([grid_s[inside], _near_station_s(flight.view, inside)])
    # a boundary that all but falls on a moment of the grid would be a step of no length
    moments_s = np.unique(np.round(np.concatenate([inside_s, edges_s]), 5))
    view = flight.at(moments_s)
    view = view.where(view.segment >= 0)
    return Scene(
        flight=flight, attempt=attempt, wind=wind, view=view, air=air_along(flight, attempt, view, wind)
    )


def _near_station_s(view: StationView, inside: NDArray[np.bool_]) -> Floats:
    """More moments where the aircraft is near the station: there a radial turns by degrees in a second."""
    near = np.flatnonzero(inside & (view.distance_nm < NEAR_STATION_NM))
    near = near[near + 1 < len(view)]
    near = near[view.segment[near] == view.segment[near + 1]]
    steps_s = np.arange(NEAR_STATION_S, 1.0, NEAR_STATION_S)
    between_s: Floats = view.t_s[near, None] + steps_s * (view.t_s[near + 1] - view.t_s[near])[:, None]
    return between_s.ravel()
