"""An attempt being put together, phase by phase, in order of time.

Owns      ``Draft``, and where ``inbound`` begins.
Not here  deciding what was flown (``following``, ``partial``).
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from debrief.phases.after_gap import seen_again
from debrief.phases.arc import turn_off_arc_s
from debrief.phases.circuit import Circuit
from debrief.phases.ending import Ending
from debrief.phases.events import Crossing, first_moment
from debrief.phases.finals import Reading, ending_from, follows_final, is_final
from debrief.phases.model import FoundAttempt, NotSeen, Span
from debrief.phases.turns import TURN_AT_LEAST_DEG
from debrief.procedures.model import Phase

INBOUND_WITHIN_NM = 30.0
CLOSING_PAUSE_NM = 0.02  # distance lost again within this is noise, not a new beginning


class Draft:
    """An attempt being put together, phase by phase, in order of time."""

    def __init__(self, reading: Reading, done_s: float, *, straight_in: bool = False) -> None:
        self.reading = reading
        self.done_s = done_s
        self.straight_in = straight_in
        self.spans: list[Span] = []
        self.passages: list[Crossing] = []
        self.not_seen: list[NotSeen] = []
        self.circuit_number = 0
        self.turn_off_s: float | None = None
        self.established_s: float | None = None
        self.how: Literal["landing", "missed approach", "end of log", "broken off", "gap"] = "end of log"

    def add(self, phase: Phase, start_s: float, end_s: float) -> None:
        """Add a phase of the present circuit."""
        if end_s > start_s or (phase is Phase.STATION_PASSAGE and end_s == start_s):
            self.spans.append(Span(phase=phase, start_s=start_s, end_s=end_s, circuit=self.circuit_number))

    def inbound(self, until_s: float) -> None:
        """Add the way to the station, from where the aircraft began to close on it or turned off the arc."""
        start_s = max(inbound_start_s(self.reading, until_s), self.done_s)
        arc = self.reading.procedure.arc
        off_s = None if arc is None else turn_off_arc_s(arc, self.reading.turns, self.reading.view, until_s)
        # on it the aircraft does not come to the station, though it drifts a little nearer
        if off_s is not None:
            start_s = max(start_s, off_s)
        if start_s < until_s:
            self.add(Phase.INBOUND, start_s, until_s)

    def passage(self, crossing: Crossing) -> None:
        """Add a passage; one that lies in a gap is not observed, and a missed station has no phase."""
        if crossing.hidden:
            if crossing.in_cone:
                self.add(Phase.STATION_PASSAGE, crossing.entry_s, crossing.exit_s)
            self.hidden(Phase.STATION_PASSAGE, crossing)
            return
        self.passages.append(crossing)
        if not crossing.missed:
            self.add(Phase.STATION_PASSAGE, crossing.entry_s, crossing.exit_s)

    def _not_observed(self, phase: Phase, start_s: float, end_s: float) -> None:
        self.not_seen.append(NotSeen(phase=phase, why="not observed", start_s=start_s, end_s=end_s))

    def hidden(self, phase: Phase, crossing: Crossing) -> None:
        """Note a phase that lies in the gap which hides a passage."""
        self._not_observed(phase, crossing.entry_s, crossing.exit_s)

    def _hidden_outbound(self, first: Crossing, circuit: Circuit) -> None:
        """Note an outbound leg that lies in the gap which hides the passage, or which begins with its end."""
        if first.hidden:
            self.hidden(Phase.OUTBOUND, first)
        elif circuit.reversal_start_s is not None and circuit.reversal_start_s > circuit.outbound_end_s:
            self._not_observed(Phase.OUTBOUND, circuit.outbound_end_s, circuit.reversal_start_s)

    def begin(self, first: Crossing | None, circuit: Circuit) -> None:
        """Begin with a passage (where the log holds it) and the circuit after it."""
        if first is not None:
            self.inbound(first.entry_s)
            self.passage(first)
            if circuit.outbound_end_s <= circuit.outbound_start_s:
                self._hidden_outbound(first, circuit)
        self.out_and_back(circuit)

    def out_and_back(self, circuit: Circuit) -> None:
        """Add an outbound leg and its reversal."""
        self.add(Phase.OUTBOUND, circuit.outbound_start_s, circuit.outbound_end_s)
        self.turn_off_s = circuit.turn_off_s
        self.established_s = circuit.established_s
        if circuit.reversal_start_s is not None and circuit.reversal_end_s is not None:
            if circuit.reversal_start_s <= circuit.reversal_end_s:
                self.add(Phase.COURSE_REVERSAL, circuit.reversal_start_s, circuit.reversal_end_s)
            else:
                self._not_observed(Phase.COURSE_REVERSAL, circuit.reversal_end_s, circuit.reversal_start_s)

    def back_to_station(self, circuit: Circuit, until_s: float) -> None:
        """Add the established part; without a reversal in the procedure it is the way to the station."""
        if circuit.inbound_start_s is not None:
            phase = Phase.INTERMEDIATE if self.reading.procedure.reversal is not None else Phase.INBOUND
            self.add(phase, circuit.inbound_start_s, until_s)

    def next_circuit(self, circuit: Circuit, crossing: Crossing, again: Circuit) -> None:
        """Add the way back to the station and a further circuit."""
        self.back_to_station(circuit, crossing.entry_s)
        self.passage(crossing)
        self.circuit_number += 1
        self.out_and_back(again)

    def finish_before_station(self, circuit: Circuit) -> None:
        """End with the stretch: the log ends before the station is passed again."""
        if circuit.inbound_start_s is not None:
            self.back_to_station(circuit, circuit.end_s)

    def finish_after_station(self, circuit: Circuit, crossing: Crossing) -> None:
        """End with the final after the second passage, where one was flown."""
        self.back_to_station(circuit, crossing.entry_s)
        if crossing.hidden and circuit.reversal_start_s is None:
            self.hidden(Phase.COURSE_REVERSAL, crossing)
        self.passage(crossing)
        if is_final(self.reading, crossing) or follows_final(self.reading, crossing):
            self.end(crossing.exit_s, ending_from(self.reading, crossing.exit_s))
        elif crossing.exit_s >= self.reading.view.t_s[-1] - 1.0:
            self.how = "end of log"
        else:
            self.how = "broken off"

    def finish_in_gap(self, circuit: Circuit) -> None:
        """End with a gap, or with the final, the landing or the climb away that is seen after it."""
        view = self.reading.view
        resumes_s = float(view.t_s[np.searchsorted(view.t_s, circuit.end_s, side="right")])
        if circuit.reversal_start_s is None:
            self._not_observed(Phase.COURSE_REVERSAL, circuit.end_s, resumes_s)
        if not self.reading.procedure.station_on_aerodrome:
            self._not_observed(Phase.STATION_PASSAGE, circuit.end_s, resumes_s)
        ending = seen_again(self.reading, circuit.end_s, resumes_s)
        if ending is None:
            self.how = "gap"
            return
        if ending.final_end_s <= resumes_s:
            self._not_observed(Phase.FINAL, circuit.end_s, resumes_s)
        self.end(resumes_s, ending)

    def finish_at_aerodrome(self, circuit: Circuit, ending: Ending | None) -> None:
        """End with the final that begins when established; without it, with the landing or the climb away."""
        if ending is None:
            if circuit.end_s < self.reading.view.t_s[-1] - 1.0:
                self.how = "gap" if self._into_a_gap(circuit.end_s) else "broken off"
        elif circuit.inbound_start_s is not None:
            self.end(circuit.inbound_start_s, ending)
        else:
            self.finish_never_established(ending)

    def _into_a_gap(self, t_s: float) -> bool:
        """Whether a gap begins at a moment."""
        return any(crossing.hidden and crossing.entry_s == t_s for crossing in self.reading.crossings)

    def finish_never_established(self, ending: Ending) -> None:
        """End a reversal, which no passage and no final follows, with the landing or the climb away."""
        last = self.spans.pop()
        self.add(last.phase, last.start_s, ending.final_end_s)
        self.end(ending.final_end_s, ending)

    def end(self, start_s: float, ending: Ending) -> None:
        """Add the final and what follows it."""
        self.add(Phase.FINAL, start_s, ending.final_end_s)
        self.how = ending.how
        if ending.how == "missed approach":
            self.add(Phase.MISSED_APPROACH, ending.final_end_s, ending.end_s)
        elif ending.how == "landing" and ending.end_s > ending.final_end_s:
            self.add(Phase.LANDING, ending.final_end_s, ending.end_s)

    def found(self) -> FoundAttempt | None:
        """The attempt as it is handed on; ``None`` where nothing of it was flown."""
        if not self.spans:
            return None
        start_s, end_s = self.spans[0].start_s, self.spans[-1].end_s
        flown = {span.phase for span in self.spans} | {missing.phase for missing in self.not_seen}
        for leg in self.reading.procedure.leg:
            if Phase(leg.phase) not in flown:
                self.not_seen.append(NotSeen(phase=Phase(leg.phase), why=self._why_missing(leg.phase)))
        return FoundAttempt(
            spans=tuple(self.spans),
            passages=tuple(
                c.passage() for c in sorted(self.passages + self._later(end_s), key=lambda c: c.t_s)
            ),
            turns=tuple(
                turn
                for turn in self.reading.turns
                if start_s <= turn.start_s <= end_s and abs(turn.change_deg) >= TURN_AT_LEAST_DEG
            ),
            not_seen=tuple(self.not_seen),
            turn_off_s=self.turn_off_s,
            established_s=self.established_s,
            ending=self.how,
            straight_in=self.straight_in,
        )

    def _later(self, end_s: float) -> list[Crossing]:
        """Crossings of a station on the aerodrome during the final or after it: passages without a phase."""
        if not self.reading.procedure.station_on_aerodrome:
            return []
        begin_s = next((span.start_s for span in reversed(self.spans) if span.phase is Phase.FINAL), end_s)
        end_s = next((span.start_s for span in self.spans if span.phase is Phase.LANDING), end_s)
        known = [crossing.t_s for crossing in self.passages]
        return [
            crossing
            for crossing in self.reading.crossings
            if begin_s < crossing.t_s <= end_s
            and crossing.t_s not in known
            and not (crossing.hidden or crossing.missed)
        ]

    def _why_missing(self, phase: str) -> Literal["not observed", "not flown"]:
        """Left out by the pilot, or outside the log: before its beginning, after its end."""
        order: list[str] = [leg.phase for leg in self.reading.procedure.leg]
        seen = [order.index(s.phase) for s in self.spans if s.phase in order]
        place = order.index(phase)
        begun = self.spans[0]
        as_the_log = begun.start_s <= self.reading.view.t_s[0] + 1.0
        # whoever was seen on the way to the station flew, or left out, all that comes after it, published or not
        before = seen and place < min(seen) and as_the_log and begun.phase is not Phase.INBOUND
        left_out = self.straight_in and phase in (Phase.OUTBOUND, Phase.COURSE_REVERSAL)
        hidden = {missing.phase for missing in self.not_seen if missing.start_s is not None}
        if phase == Phase.INTERMEDIATE and {Phase.COURSE_REVERSAL, Phase.STATION_PASSAGE} <= hidden:
            return "not observed"  # one gap from the reversal to the passage
        if before and not left_out:
            return "not observed"
        if seen and place > max(seen) and self.how in ("end of log", "gap"):
            return "not observed"
        return "not flown"


def inbound_start_s(reading: Reading, until_s: float) -> float:
    """The last time before ``until_s`` at which the aircraft begins to close and goes on closing, within 30 NM."""
    view = reading.view
    before = view.where(view.t_s <= until_s + 1e-6)
    if not len(before):
        return until_s
    distance = before.distance_nm
    # going back in time the distance grows; where it falls again by more than noise, closing began after that
    highest = np.maximum.accumulate(distance[::-1])[::-1]
    falls = np.flatnonzero(highest - distance > CLOSING_PAUSE_NM)
    first = int(falls[-1]) + 1 if len(falls) else 0
    first += int(np.argmax(distance[first:]))
    beyond = np.flatnonzero(distance[first:] > INBOUND_WITHIN_NM)
    if len(beyond):
        at_edge = first + int(beyond[-1])
        if at_edge + 1 >= len(before):
            return until_s
        return first_moment(
            reading.at,
            before.t_s[at_edge],
            before.t_s[at_edge + 1],
            lambda v: v.distance_nm <= INBOUND_WITHIN_NM,
        )
    return float(before.t_s[first])
