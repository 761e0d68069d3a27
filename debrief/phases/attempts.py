"""From the flight seen by the station to the approaches flown in it.

Owns      ``find_attempts``: passages, circuits and endings joined to attempts, by the order of the legs.
Not here  the events themselves (``events``, ``circuit``, ``ending``), any measure or judgement.
Source    DEVELOPERS.md, "Definitions": phases, and what an attempt is.

The log is cut at the passages of the station. A stretch between two passages is read as an outbound leg with
its reversal, as a final, or as nothing; an attempt is a row of such readings in the order of the legs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import StationPlane
from debrief.phases.circuit import Circuit, established_mask, find_established, read_circuit
from debrief.phases.ending import Ending, Ground, find_ending
from debrief.phases.events import TURNING_DEG_S, At, Crossing, crossings, first_moment, runs, turns
from debrief.phases.model import Floats, FoundAttempt, NotSeen, Span, StationView, Turn
from debrief.procedures.model import Phase, Procedure
from debrief.tracks.model import Conditioned

INBOUND_WITHIN_NM = 30.0
FINAL_TRACK_DEG = 45.0
FINAL_LOOK_S = 60.0
FINAL_DESCENT_FT = 250.0
STRAIGHT_IN_FROM_NM = 3.0  # nearer, it is a circuit of the aerodrome
NEAR_MINIMUM_FT = 400.0
CLOSING_PAUSE_NM = 0.02  # distance lost again within this is noise, not a new beginning


@dataclass(slots=True)
class _Reader:
    """What every step of the reading needs."""

    view: StationView
    at: At
    procedure: Procedure
    crossings: list[Crossing]
    turns: list[Turn]
    ground: Ground | None
    on_ground: Floats | None
    attempts: list[FoundAttempt] = field(default_factory=list)


def find_attempts(
    view: StationView, at: At, procedure: Procedure, log: Conditioned
) -> tuple[FoundAttempt, ...]:
    """Every approach flown in the log, in order of time; empty where there is none."""
    if len(view) < 2:
        return ()
    reader = _Reader(
        view=view,
        at=at,
        procedure=procedure,
        crossings=crossings(view, at),
        turns=turns(view, at),
        ground=_ground(procedure, log),
        on_ground=_on_ground(view, log),
    )
    done_s = -np.inf
    number = -1
    while number < len(reader.crossings):
        attempt = _attempt_from(reader, number, done_s)
        if attempt is None:
            number += 1
            continue
        reader.attempts.append(attempt)
        done_s = attempt.end_s
        number = max(number + 1, sum(c.entry_s < done_s for c in reader.crossings) - 1)
    return tuple(reader.attempts)


def _ground(procedure: Procedure, log: Conditioned) -> Ground | None:
    runway = procedure.runway
    if runway is None:
        return None
    plane = StationPlane(latitude_deg=procedure.station.latitude, longitude_deg=procedure.station.longitude)
    east, north = plane.to_plane(np.array([runway.latitude]), np.array([runway.longitude]))
    return Ground(
        east_nm=float(east[0]),
        north_nm=float(north[0]),
        course_true_deg=runway.course_true_deg,
        elevation_ft=runway.elevation_ft,
        within_ft=log.altitude_uncertainty_ft,
    )


def _on_ground(view: StationView, log: Conditioned) -> Floats | None:
    flags = log.track.columns.get("on_ground")
    if flags is None:
        return None
    used = flags[log.order]
    known = np.isfinite(used)
    if not known.any():
        return None
    index = np.clip(np.searchsorted(log.t_s[known], view.t_s, side="right") - 1, 0, None)
    return np.asarray(used[known][index])


def _edges(reader: _Reader, number: int, done_s: float) -> tuple[float, float]:
    """The stretch after crossing ``number`` (-1: before the first), not before ``done_s``."""
    start_s = reader.crossings[number].exit_s if number >= 0 else float(reader.view.t_s[0])
    following = number + 1
    last_s = float(reader.view.t_s[-1])
    end_s = reader.crossings[following].entry_s if following < len(reader.crossings) else last_s
    return max(start_s, done_s), end_s


def _attempt_from(reader: _Reader, number: int, done_s: float) -> FoundAttempt | None:
    """The attempt whose first passage is crossing ``number``, ``None`` where none begins there."""
    start_s, end_s = _edges(reader, number, done_s)
    if end_s <= start_s:
        return None
    first = reader.crossings[number] if number >= 0 and reader.crossings[number].exit_s >= done_s else None
    circuit = _read(reader, number, start_s, end_s)
    if circuit is None:
        return _late_beginning(reader, number, done_s) or _straight_in(reader, number, first, done_s)
    draft = _Draft(reader, done_s)
    draft.begin(first, circuit)
    return _follow(reader, draft, circuit, number)


def _follow(reader: _Reader, draft: _Draft, circuit: Circuit, number: int) -> FoundAttempt | None:
    """From an outbound leg and its reversal on, through further circuits, to the end of the attempt."""
    while True:
        following = reader.crossings[number + 1] if number + 1 < len(reader.crossings) else None
        if not reader.procedure.has_intermediate:
            ending = _ending(reader, circuit.inbound_start_s) if circuit.inbound_start_s is not None else None
            again = _again(reader, number + 1, ending)
            if again is None or following is None:
                draft.finish_at_aerodrome(circuit, ending)
                break
        elif following is None:
            draft.finish_before_station(circuit)
            break
        else:
            again = None if _is_final(reader, following) else _again(reader, number + 1, None)
            if again is None:
                draft.finish_after_station(circuit, following)
                break
        draft.next_circuit(circuit, following, again)
        number, circuit = number + 1, again
    return draft.found()


def _read(reader: _Reader, number: int, start_s: float, end_s: float) -> Circuit | None:
    return read_circuit(
        reader.view,
        reader.at,
        reader.procedure,
        reader.turns,
        start_s,
        end_s,
        log_ends=number + 1 >= len(reader.crossings),
    )


def _again(reader: _Reader, number: int, ending: Ending | None) -> Circuit | None:
    """A further circuit after crossing ``number``, unless the approach has ended before."""
    if number >= len(reader.crossings):
        return None
    crossing = reader.crossings[number]
    if ending is not None and ending.how != "end of log" and ending.final_end_s < crossing.exit_s + FINAL_LOOK_S:
        return None
    if ending is not None and _near_minimum(reader, ending, crossing.exit_s):
        return None
    start_s, end_s = _edges(reader, number, -np.inf)
    return _read(reader, number, start_s, end_s)


def _near_minimum(reader: _Reader, ending: Ending, before_s: float) -> bool:
    leg = reader.procedure.final
    if leg is None or leg.altitude is None or leg.altitude.low_ft is None:
        return False
    lowest = reader.view.between(before_s - FINAL_LOOK_S, before_s).altitude_ft
    return bool(len(lowest) and np.nanmin(lowest, initial=np.inf) < leg.altitude.low_ft + NEAR_MINIMUM_FT / 2)


def _final_course(procedure: Procedure) -> float:
    leg = procedure.final
    return leg.course_deg if leg is not None and leg.course_deg is not None else procedure.inbound_course_deg


def _ending(reader: _Reader, start_s: float) -> Ending:
    return find_ending(
        reader.view, reader.at, start_s, _final_course(reader.procedure), reader.ground, reader.on_ground
    )


def _is_final(reader: _Reader, crossing: Crossing) -> bool:
    """Whether the aircraft goes on along the final course after this passage, and comes down."""
    after = reader.view.between(crossing.exit_s, crossing.exit_s + FINAL_LOOK_S)
    if not len(after):
        return False
    off = np.abs(difference_deg(after.ground_track_deg, _final_course(reader.procedure)))
    if float(np.median(off)) > FINAL_TRACK_DEG:
        return False
    ending = _ending(reader, crossing.exit_s)
    here = after.altitude_ft[0]
    if np.isnan(here) or np.isnan(ending.lowest_ft):
        return True
    return bool(here - ending.lowest_ft >= FINAL_DESCENT_FT) or ending.how == "end of log"


def _late_beginning(reader: _Reader, number: int, done_s: float) -> FoundAttempt | None:
    """An approach that the log joins in the reversal, established, or on final."""
    if number >= 0 or reader.attempts:
        return None
    view, procedure = reader.view, reader.procedure
    start_s = float(view.t_s[0])
    if view.groundspeed_kt[0] < AIRBORNE_KT or start_s > LOG_START_S:
        return None
    following = reader.crossings[0] if reader.crossings else None
    end_s = following.entry_s if following is not None else float(view.t_s[-1])
    limit_nm = (procedure.reversal.within_nm if procedure.reversal else None) or 10.0
    established = find_established(view, reader.at, procedure, start_s, end_s)
    if view.closing_kt[0] < 0 and (established is None or established[1] - start_s > TURN_ROUND_S):
        return _late_final(reader, start_s)
    if established is None or view.distance_nm[0] > limit_nm + 2.0 or established[1] - start_s > TURN_ROUND_S:
        return None
    on_course = bool(established_mask(view.where(slice(0, 1)), procedure)[0])
    if not on_course and not _turning_back(view, procedure, established[0]):
        return None
    circuit = Circuit(
        outbound_start_s=start_s,
        outbound_end_s=start_s,
        reversal_start_s=start_s,
        turn_off_s=None,
        reversal_end_s=established[0],
        established_s=established[1] if not on_course and established[0] == established[1] else None,
        inbound_start_s=established[1],
        end_s=end_s,
    )
    if procedure.has_intermediate and (following is None or following.missed):
        return None
    draft = _Draft(reader, done_s)
    if not on_course:
        draft.add(Phase.COURSE_REVERSAL, start_s, established[0])
    draft.established_s = circuit.established_s
    found = _follow(reader, draft, circuit, number)
    if found is None or not {Phase.FINAL, Phase.OUTBOUND} & {span.phase for span in found.spans}:
        return None  # it only crossed the station along the course
    return found


def _turning_back(view: StationView, procedure: Procedure, until_s: float) -> bool:
    """Whether the log begins in a turn back to the inbound course, or on the leg before it."""
    part = view.between(float(view.t_s[0]), until_s)
    off = np.abs(difference_deg(part.ground_track_deg, procedure.inbound_course_deg))
    turning = np.abs(part.turn_rate_deg_s[:START_TURN_S]) > TURNING_DEG_S
    return bool(len(off)) and bool(off[0] > 90.0 or (turning.any() and off[0] > START_OFF_DEG))


AIRBORNE_KT = 50.0
LOG_START_S = 60.0
TURN_ROUND_S = 240.0
START_TURN_S = 5  # entries of the grid
START_OFF_DEG = 8.0


def _late_final(reader: _Reader, start_s: float) -> FoundAttempt | None:
    """A log that begins on final, past the station."""
    procedure, view = reader.procedure, reader.view
    if not procedure.has_intermediate or len(view) < FINAL_LOOK_S:
        return None
    look = view.between(start_s, start_s + FINAL_LOOK_S)
    off = np.abs(difference_deg(look.ground_track_deg, _final_course(procedure)))
    beside = np.abs(difference_deg(look.radial_deg, _final_course(procedure)))
    if np.median(off) > LATE_OFF_DEG or np.median(beside) > LATE_OFF_DEG or look.distance_nm[0] > LATE_WITHIN_NM:
        return None
    ending = _ending(reader, start_s)
    if not look.altitude_ft[0] - ending.lowest_ft >= FINAL_DESCENT_FT:
        return None
    draft = _Draft(reader, -np.inf)
    draft.end(start_s, ending)
    return draft.found()


LATE_OFF_DEG = 20.0
LATE_WITHIN_NM = 8.0


def _straight_in(reader: _Reader, number: int, first: Crossing | None, done_s: float) -> FoundAttempt | None:
    """An approach without outbound and reversal."""
    procedure = reader.procedure
    draft = _Draft(reader, done_s, straight_in=True)
    if procedure.has_intermediate:
        if first is None or first.missed or not _arrives_on_course(reader, first) or not _is_final(reader, first):
            return None
        ending = _ending(reader, first.exit_s)
        if ending.how == "end of log" and not _descends(reader, first.exit_s, ending):
            return None
        draft.inbound(first.entry_s)
        draft.passage(first)
        draft.end(first.exit_s, ending)
        return draft.found()
    return _straight_in_at_aerodrome(reader, number, done_s, draft)


def _arrives_on_course(reader: _Reader, crossing: Crossing) -> bool:
    before = reader.view.between(crossing.entry_s - FINAL_LOOK_S / 2, crossing.entry_s)
    if not len(before):
        return False
    off = np.abs(difference_deg(before.ground_track_deg, reader.procedure.inbound_course_deg))
    return bool(np.median(off) <= FINAL_TRACK_DEG)


def _descends(reader: _Reader, start_s: float, ending: Ending) -> bool:
    after = reader.view.between(start_s, ending.end_s).altitude_ft
    return bool(len(after) and np.nanmax(after, initial=-np.inf) - ending.lowest_ft >= FINAL_DESCENT_FT)


def _straight_in_at_aerodrome(reader: _Reader, number: int, done_s: float, draft: _Draft) -> FoundAttempt | None:
    procedure, view = reader.procedure, reader.view
    start_s, end_s = _edges(reader, number, done_s)
    leg = procedure.final
    minimum_ft = leg.altitude.low_ft if leg is not None and leg.altitude is not None else None
    part = view.between(start_s, end_s)
    for a, b in runs(established_mask(part, procedure), part.segment):
        if part.t_s[b - 1] - part.t_s[a] < 30.0 or part.distance_nm[a] < STRAIGHT_IN_FROM_NM:
            continue
        established_s = float(part.t_s[a])
        if a and part.segment[a - 1] == part.segment[a]:
            established_s = first_moment(
                reader.at, part.t_s[a - 1], part.t_s[a], lambda v: established_mask(v, procedure)
            )
        ending = _ending(reader, established_s)
        low = minimum_ft is None or not ending.lowest_ft > minimum_ft + NEAR_MINIMUM_FT
        if not low or not _descends(reader, established_s, ending):
            continue
        draft.inbound(established_s)
        draft.end(established_s, ending)
        return draft.found()
    return None


class _Draft:
    """An attempt being put together, phase by phase, in order of time."""

    def __init__(self, reader: _Reader, done_s: float, *, straight_in: bool = False) -> None:
        self.reader = reader
        self.done_s = done_s
        self.straight_in = straight_in
        self.spans: list[Span] = []
        self.passages: list[Crossing] = []
        self.not_seen: list[NotSeen] = []
        self.circuit_number = 0
        self.turn_off_s: float | None = None
        self.established_s: float | None = None
        self.how = "end of log"

    def add(self, phase: Phase, start_s: float, end_s: float) -> None:
        if end_s >= start_s:
            self.spans.append(Span(phase=phase, start_s=start_s, end_s=end_s, circuit=self.circuit_number))

    def inbound(self, until_s: float) -> None:
        start_s = max(_inbound_start(self.reader, until_s), self.done_s)
        if start_s < until_s:
            self.add(Phase.INBOUND, start_s, until_s)

    def passage(self, crossing: Crossing) -> None:
        if crossing.hidden:
            if crossing.in_cone:
                self.add(Phase.STATION_PASSAGE, crossing.entry_s, crossing.exit_s)
            self.not_seen.append(
                NotSeen(
                    phase=Phase.STATION_PASSAGE,
                    why="not observed",
                    start_s=crossing.entry_s,
                    end_s=crossing.exit_s,
                )
            )
            return
        self.passages.append(crossing)
        if not crossing.missed:
            self.add(Phase.STATION_PASSAGE, crossing.entry_s, crossing.exit_s)

    def begin(self, first: Crossing | None, circuit: Circuit) -> None:
        if first is not None:
            self.inbound(first.entry_s)
            self.passage(first)
        self.out_and_back(circuit)

    def out_and_back(self, circuit: Circuit) -> None:
        self.add(Phase.OUTBOUND, circuit.outbound_start_s, circuit.outbound_end_s)
        self.turn_off_s = circuit.turn_off_s
        self.established_s = circuit.established_s
        if circuit.reversal_start_s is not None and circuit.reversal_end_s is not None:
            if circuit.reversal_start_s <= circuit.reversal_end_s:
                self.add(Phase.COURSE_REVERSAL, circuit.reversal_start_s, circuit.reversal_end_s)
            else:
                self.not_seen.append(
                    NotSeen(
                        phase=Phase.COURSE_REVERSAL,
                        why="not observed",
                        start_s=circuit.reversal_end_s,
                        end_s=circuit.reversal_start_s,
                    )
                )

    def back_to_station(self, circuit: Circuit, until_s: float) -> None:
        if circuit.inbound_start_s is not None:
            self.add(Phase.INTERMEDIATE, circuit.inbound_start_s, until_s)

    def next_circuit(self, circuit: Circuit, crossing: Crossing, again: Circuit) -> None:
        self.back_to_station(circuit, crossing.entry_s)
        self.passage(crossing)
        self.circuit_number += 1
        self.out_and_back(again)

    def finish_before_station(self, circuit: Circuit) -> None:
        if circuit.inbound_start_s is not None:
            self.back_to_station(circuit, circuit.end_s)

    def finish_after_station(self, circuit: Circuit, crossing: Crossing) -> None:
        self.back_to_station(circuit, crossing.entry_s)
        self.passage(crossing)
        if _is_final(self.reader, crossing) or _follows_final(self.reader, crossing):
            self.end(crossing.exit_s, _ending(self.reader, crossing.exit_s))
        elif crossing.exit_s >= self.reader.view.t_s[-1] - 1.0:
            self.how = "end of log"
        else:
            self.how = "broken off"

    def finish_at_aerodrome(self, circuit: Circuit, ending: Ending | None) -> None:
        if ending is not None and circuit.inbound_start_s is not None:
            self.end(circuit.inbound_start_s, ending)
        elif circuit.end_s < self.reader.view.t_s[-1] - 1.0:
            self.how = "broken off"

    def end(self, start_s: float, ending: Ending) -> None:
        self.add(Phase.FINAL, start_s, ending.final_end_s)
        self.how = ending.how
        if ending.how == "missed approach":
            self.add(Phase.MISSED_APPROACH, ending.final_end_s, ending.end_s)
        elif ending.how == "landing" and ending.end_s > ending.final_end_s:
            self.add(Phase.LANDING, ending.final_end_s, ending.end_s)

    def found(self) -> FoundAttempt | None:
        if not self.spans:
            return None
        start_s, end_s = self.spans[0].start_s, self.spans[-1].end_s
        flown = {span.phase for span in self.spans} | {missing.phase for missing in self.not_seen}
        for leg in self.reader.procedure.leg:
            if Phase(leg.phase) not in flown:
                self.not_seen.append(NotSeen(phase=Phase(leg.phase), why=self._why_missing(leg.phase)))
        return FoundAttempt(
            spans=tuple(self.spans),
            passages=tuple(c.passage() for c in self.passages),
            turns=tuple(t for t in self.reader.turns if start_s <= t.start_s <= end_s),
            not_seen=tuple(self.not_seen),
            turn_off_s=self.turn_off_s,
            established_s=self.established_s,
            ending=self.how,  # type: ignore[arg-type]  # one of Ending.how
            straight_in=self.straight_in,
        )

    def _why_missing(self, phase: str) -> str:
        """Left out by the pilot, or outside the log: before its beginning, after its end."""
        order = [leg.phase for leg in self.reader.procedure.leg]
        seen = [order.index(s.phase) for s in self.spans if s.phase in order]
        place = order.index(phase)
        if seen and place < min(seen) and self.spans[0].start_s <= self.reader.view.t_s[0] + 1.0:
            return "not observed"
        if seen and place > max(seen) and self.how == "end of log":
            return "not observed"
        return "not flown"


def _follows_final(reader: _Reader, crossing: Crossing) -> bool:
    after = reader.view.between(crossing.exit_s, crossing.exit_s + FINAL_LOOK_S)
    if not len(after):
        return False
    off = np.abs(difference_deg(after.ground_track_deg, _final_course(reader.procedure)))
    return bool(np.median(off) <= FINAL_TRACK_DEG / 2)


def _inbound_start(reader: _Reader, until_s: float) -> float:
    """The last time before ``until_s`` at which the aircraft begins to close and goes on closing, within 30 NM."""
    view = reader.view
    before = view.where((view.t_s <= until_s + 1e-6))
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
            reader.at,
            before.t_s[at_edge],
            before.t_s[at_edge + 1],
            lambda v: v.distance_nm <= INBOUND_WITHIN_NM,
        )
    return float(before.t_s[first])
