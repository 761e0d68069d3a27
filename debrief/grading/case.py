"""One attempt ready to be judged: its scene and measures, the standard, and what of it was seen.

Owns      ``Case``, and whether a phase can be judged, was not flown, or was not seen.
Not here  any rule (``rules``), any sentence beyond why something was not seen (``words``).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from debrief.grading.standard import Standard
from debrief.grading.words import clock, dme, feet, nautical_miles
from debrief.language import mark, tr
from debrief.measures import uncertainty
from debrief.measures.scene import Scene
from debrief.phases.model import Span, StationView
from debrief.phases.pace import ClockDoubt, clock_doubt
from debrief.procedures.model import Phase, Procedure
from debrief.result import Measures

_REPEATED = (Phase.OUTBOUND, Phase.COURSE_REVERSAL, Phase.INTERMEDIATE)
#: A moment so close to a gap may really lie in it. [s]
_EDGE_S = 2.0
NO_ALTITUDE = mark("the log has no altitude")
_CUT_SHORT = mark(
    {
        "end of log": "the log ends before it",
        "gap": "the log has a gap from there on",
        "broken off": "the approach was broken off before it",
    }
)


class Standing(NamedTuple):
    """What is known of a phase, with the reason where it cannot be judged."""

    state: Literal["seen", "not flown", "not seen", "not due"]
    reason: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """What every rule is given."""

    scene: Scene
    measures: Measures
    standard: Standard

    @property
    def procedure(self) -> Procedure:
        """What was to be flown."""
        return self.scene.procedure

    def t_s(self, time: datetime) -> float:
        """Seconds since the track's epoch of a date. [s]"""
        return (time - self.scene.flight.log.track.epoch).total_seconds()

    def leg_spans(self, phase: Phase) -> tuple[Span, ...]:
        """Every flown leg of that phase: one a circuit where a racetrack repeats it."""
        circuits: tuple[int | None, ...] = (None,)
        if phase in _REPEATED:
            flown = {span.circuit for span in self.scene.attempt.spans_of(phase)}
            circuits = tuple(sorted(flown))
        spans = (self.scene.span(phase, circuit) for circuit in circuits)
        return tuple(span for span in spans if span is not None)

    def every_second(self, start_s: float, end_s: float) -> StationView:
        """The view once a second from ``start_s``, ``nan`` where nothing was observed."""
        return self.scene.flight.at(np.arange(start_s, end_s + 1e-6))

    def standing(self, phase: Phase) -> Standing:
        """Whether the phase can be judged; "not due" where nothing was to be flown, or it ended otherwise."""
        attempt = self.scene.attempt
        hidden = any(seen.phase == phase and seen.why == "not observed" for seen in attempt.not_seen)
        spans = self.leg_spans(phase)
        if not spans:
            if hidden:
                return Standing("not seen", tr("it lies in a gap of the log"))
            if any(seen.phase == phase and seen.why == "not flown" for seen in attempt.not_seen):
                return Standing("not flown")
            if phase is Phase.MISSED_APPROACH or self.procedure.leg_of(phase) is None:
                return Standing("not due")
            reason = _CUT_SHORT.get(attempt.ending)
            return Standing("not seen", tr(reason)) if reason else Standing("not due")
        span = spans[-1]
        observed = self.observed_share(span.start_s, span.end_s)
        if observed < self.standard.assessable.observed_share:
            return Standing("not seen", tr("only {share:.0f} % of it was recorded", share=100 * observed))
        interval_s = self.scene.flight.log.median_interval_s
        if self.too_sparse:
            return Standing(
                "not seen", tr("the log has only one position every {interval:.0f} s", interval=interval_s)
            )
        return Standing("seen")

    @cached_property
    def clock_doubt(self) -> ClockDoubt | None:
        """What speaks against the log's clock in this attempt; ``None`` where nothing does."""
        return clock_doubt(self.scene.flight, self.scene.attempt)

    @property
    def too_sparse(self) -> bool:
        """Whether the log has too few samples to judge the legs: what happened lies between them."""
        return self.scene.flight.log.median_interval_s > self.standard.assessable.longest_interval_s

    def observed_share(self, start_s: float, end_s: float) -> float:
        """How much of a span lies outside gaps, 0 to 1."""
        if not end_s > start_s:
            return 1.0
        return 1.0 - self.scene.gap_s(start_s, end_s) / (end_s - start_s)

    def gap_between(self, start_s: float, end_s: float, at_least_s: float) -> bool:
        """Whether a gap of that length and more lies in a span or touches it."""
        return any(
            gap.seconds >= at_least_s and gap.end_s >= start_s - _EDGE_S and gap.start_s <= end_s + _EDGE_S
            for gap in self.scene.flight.log.gaps
        )

    def altitude_uncertainty_ft(self) -> float:
        """Of one altitude, half-width at 95 %. [ft]"""
        return uncertainty.altitude_ft(self.scene.flight)

    def has_altitude(self) -> bool:
        """Whether the log has an altitude at all."""
        log = self.scene.flight.log
        return bool(np.isfinite(log.altitude_ft[log.altitude_used]).any())

    def altitude_doubt(self) -> str:
        """Why an altitude can be shown to be wrong, but not to be right; empty where it can be either."""
        sure_ft = self.altitude_uncertainty_ft()
        if not np.isfinite(sure_ft):
            return tr("nothing is known of the log's altitude")
        if sure_ft > self.standard.assessable.altitude_uncertainty_ft:
            return tr("the log's altitude is only sure to {sure}", sure=feet(sure_ft))
        return ""

    def position_uncertainty_nm(self) -> float:
        """Of one position across any axis, half-width at 95 %. [NM]"""
        return uncertainty.position_nm(self.scene.flight)

    def place(self, t_s: float) -> dict[str, str]:
        """When and where a moment was, for a sentence."""
        view = self.scene.at(t_s)
        when = clock(self.scene.time(t_s))
        if self.procedure.station.has_dme and np.isfinite(view.dme_nm[0]):
            return {"at": when, "where": tr("{dme} DME", dme=dme(float(view.dme_nm[0])))}
        distance_nm = float(view.distance_nm[0])
        if not np.isfinite(distance_nm):
            return {"at": when, "where": tr("an unrecorded place")}
        return {"at": when, "where": tr("{distance} from the station", distance=nautical_miles(distance_nm))}
