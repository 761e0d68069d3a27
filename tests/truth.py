"""The truth about a simulated flight, by plain scans of its exact samples.

The judge of the phase finder and of the measures, so it shares no code with them: distances and bearings come
from pyproj's geodesic routines, everything else from numpy on the samples every 0.1 s. It knows what the pilot
meant (``flight.events``), which a debrief cannot: it never has to guess which turn was which.

Definitions: DEVELOPERS.md, Definitions. Times are the flight's; ``Truth.shifted`` moves them to a log's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from pyproj import Geod

from debrief.procedures.model import Procedure
from debrief.simulation.flight import SimulatedFlight
from debrief.simulation.plan import Attempt
from tests.truth_measures import TIMES, measures_of
from tests.truth_rules import breaches_of, close_calls_of, expected_of, readings_of
from tests.truth_view import Passage, View

Span = tuple[str, float, float]

WITHIN_NM = 30.0
AWAY_S = 20.0  # from a crossing in the hold until it is behind


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptTruth:
    phases: tuple[Span, ...]
    passages: tuple[Passage, ...]  # missed ones left out
    measures: Mapping[str, Mapping[str, float | str | None]]
    #: Rule: how far beyond its limit the flight went, in the rule's unit. Limits: the defaults of the definitions.
    breaches: Mapping[str, float]
    close_calls: frozenset[str]  # rules near their limit or beyond it
    expected: frozenset[str]  # rules that must be found, for the faults the plan asked for

    def span(self, phase: str) -> tuple[float, float] | None:
        return next(((start_s, end_s) for name, start_s, end_s in self.phases if name == phase), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    attempts: tuple[AttemptTruth, ...]
    wind_from_true_deg: float  # vector mean over the flight in the air
    wind_speed_kt: float
    flight: SimulatedFlight = field(repr=False)

    def shifted(self, seconds: float) -> Truth:
        """The same with ``seconds`` added to every time."""
        return replace(self, attempts=tuple(_shifted(attempt, seconds) for attempt in self.attempts))

    def cropped(self, start_s: float, end_s: float) -> Truth:
        """What can be known from a log of only that span: phases cut, attempts that are none any more left out.

        Measures are those of the whole flight: only those of phases that lie wholly within still hold.
        """
        attempts = []
        for attempt in self.attempts:
            phases = _until_it_shows(
                tuple(
                    (name, max(begin_s, start_s), min(finish_s, end_s))
                    for name, begin_s, finish_s in attempt.phases
                    if finish_s > start_s and begin_s < end_s
                ),
                end_s,
            )
            passages = tuple(p for p in attempt.passages if start_s <= p.time_s <= end_s)
            flown = {name for name, _, _ in phases}
            if flown & {"outbound", "course_reversal", "final"}:
                attempts.append(replace(attempt, phases=phases, passages=passages))
        return replace(self, attempts=tuple(attempts))


#: How long a reversal, or being established, must last before the log's end to be more than a beginning of it: a turn
#: at standard rate needs as long for its 30 degrees, "established" means 10 s.
SHOWS_AFTER_S = {"course_reversal": 11.0, "intermediate": 10.0, "final": 10.0}


def _until_it_shows(phases: tuple[Span, ...], end_s: float) -> tuple[Span, ...]:
    """Without a last phase that the end of the log leaves too short to meet its definition."""
    if len(phases) < 2 or phases[-1][2] < end_s:
        return phases
    (before, begin_s, _), (last, last_begin_s, finish_s) = phases[-2:]
    if before not in ("outbound", "course_reversal") or finish_s - last_begin_s >= SHOWS_AFTER_S.get(
        last, 0.0
    ):
        return phases
    return (*phases[:-2], (before, begin_s, finish_s))


def _shifted(attempt: AttemptTruth, seconds: float) -> AttemptTruth:
    measures = {
        phase: {
            name: value + seconds if isinstance(value, float) and name in TIMES else value
            for name, value in values.items()
        }
        for phase, values in attempt.measures.items()
    }
    return replace(
        attempt,
        phases=tuple((name, a + seconds, b + seconds) for name, a, b in attempt.phases),
        passages=tuple(
            replace(p, time_s=p.time_s + seconds, begin_s=p.begin_s + seconds, end_s=p.end_s + seconds)
            for p in attempt.passages
        ),
        measures=measures,
    )


def truth_of(flight: SimulatedFlight, procedure: Procedure) -> Truth:
    """The truth about every attempt of a flight that was not cropped."""
    view = View(flight, procedure)
    attempts: list[AttemptTruth] = []
    planned = flight.plan.attempts if flight.plan.instead is None else ()
    for number, attempt in enumerate(planned):
        begin = [event.t_s for event in flight.events if event.attempt == number]
        later = [event.t_s for event in flight.events if event.attempt > number and event.what == "inbound"]
        if begin:
            end_s = later[0] if later else float(flight.t_s[-1])
            # The turn back to the station, after the attempt before, may already close on it.
            ended = bool(attempts) and bool(attempts[-1].phases)
            begin_s = attempts[-1].phases[-1][2] if ended else begin[0]
            # After a hold the way in begins with its last turn to the station.
            held = [e.t_s for e in flight.events if e.what == "hold" and e.t_s <= begin[0]]
            begin_s = max(begin_s, held[-1] + AWAY_S) if attempt.hold_before else begin_s
            attempts.append(_attempt_truth(view, attempt, number, begin_s, end_s))
    air = ~flight.on_ground
    towards = np.radians(flight.wind_from_true_deg[air] + 180.0)
    east = float(np.mean(flight.wind_speed_kt[air] * np.sin(towards))) if air.any() else math.nan
    north = float(np.mean(flight.wind_speed_kt[air] * np.cos(towards))) if air.any() else math.nan
    return Truth(
        attempts=tuple(attempts),
        wind_from_true_deg=math.degrees(math.atan2(-east, -north)) % 360.0,
        wind_speed_kt=math.hypot(east, north),
        flight=flight,
    )


def _attempt_truth(view: View, attempt: Attempt, number: int, begin_s: float, end_s: float) -> AttemptTruth:
    phases, passages, closest = _phases(view, attempt, number, begin_s, end_s)
    measures = measures_of(view, attempt, phases, closest)
    readings = readings_of(view, attempt, phases, measures)
    breaches = breaches_of(readings)
    return AttemptTruth(
        phases=tuple(phases),
        passages=passages,
        measures=measures,
        breaches=breaches,
        close_calls=close_calls_of(readings),
        expected=expected_of(attempt, breaches),
    )


def _phases(
    view: View, attempt: Attempt, number: int, begin_s: float, end_s: float
) -> tuple[list[Span], tuple[Passage, ...], list[Passage]]:
    """The phases in order, the passages, and every closest point (missed stations as well), in order."""
    events = [event for event in view.flight.events if event.attempt == number]

    def times(what: str) -> list[float]:
        return [event.t_s for event in events if event.what == what]

    procedure = view.procedure
    reversal = procedure.reversal
    final_s = times("final")[0] if times("final") else end_s
    turned = times("reversal")
    phases: list[Span] = []
    closest: list[Passage] = []

    def pass_station(from_s: float, until_s: float) -> Passage | None:
        passage = view.passage(from_s, until_s)
        if passage is not None:
            closest.append(passage)
        return passage

    if not turned:  # straight in
        inbound_from = begin_s
        last_s = _last_of_final(view, final_s, end_s)
        if procedure.has_intermediate or (reversal is None and _passes_fix(view)):
            passage = pass_station(begin_s, last_s)
            if passage is None:
                return [], (), []
            phases.append(("inbound", _closing_from(view, passage.time_s, inbound_from), _begin(passage)))
            if not passage.missed:
                phases.append(("station_passage", passage.begin_s, passage.end_s))
            now_s = _end(passage)
        else:
            established_s = view.established_s(begin_s, last_s)
            if established_s is None:
                return [], (), []
            phases.append(("inbound", _closing_from(view, established_s, inbound_from), established_s))
            now_s = established_s
            pass_station(established_s, end_s)
        phases += _final_and_after(view, now_s, end_s)
        return phases, tuple(p for p in closest if not p.missed), closest

    first = pass_station(begin_s, turned[0])
    if first is None:
        raise AssertionError("the flight has no closest point before its reversal")
    phases.append(("inbound", _closing_from(view, first.time_s, begin_s), _begin(first)))
    if not first.missed:
        phases.append(("station_passage", first.begin_s, first.end_s))
    now_s = _end(first)
    inbound_turns = times("inbound turn")
    for circuit, turn_asked_s in enumerate(turned):
        turn = view.turn_from(turn_asked_s, turn_asked_s + 30.0)
        off_s = turn[0] if turn is not None else view.turning_s(turn_asked_s)
        phases.append(("outbound", now_s, off_s))
        last_circuit = circuit + 1 == len(turned)
        horizon_s = _last_of_final(view, final_s, end_s) if last_circuit else turned[circuit + 1]
        passage = pass_station(inbound_turns[circuit], horizon_s)
        before_s = passage.begin_s if passage is not None else horizon_s
        if last_circuit and not procedure.has_intermediate:
            established_s = view.established_s(off_s, before_s)
            phases.append(("course_reversal", off_s, before_s if established_s is None else established_s))
            if established_s is not None:
                phases += _final_and_after(view, established_s, end_s)
            continue
        if passage is None:
            raise AssertionError("the flight does not come back to the station")
        established_s = view.established_s(off_s, before_s)
        if established_s is None:
            phases.append(("course_reversal", off_s, _begin(passage)))
        else:
            phases.append(("course_reversal", off_s, established_s))
            phases.append(("intermediate", established_s, _begin(passage)))
        if not passage.missed:
            phases.append(("station_passage", passage.begin_s, passage.end_s))
        now_s = _end(passage)
        if last_circuit:
            phases += _final_and_after(view, now_s, end_s)
    return phases, tuple(p for p in closest if not p.missed), closest


def _passes_fix(view: View) -> bool:
    """Whether a straight-in's missed approach point lies beyond the station."""
    runway, station = view.procedure.runway, view.procedure.station
    if runway is None:
        return True
    _, _, metres = Geod(ellps="WGS84").inv(
        station.longitude, station.latitude, runway.longitude, runway.latitude
    )
    return float(metres) / 1852.0 > 2.0


def _begin(passage: Passage) -> float:
    return passage.time_s if passage.missed else passage.begin_s


def _end(passage: Passage) -> float:
    return passage.time_s if passage.missed else passage.end_s


def _closing_from(view: View, until_s: float, not_before_s: float) -> float:
    """The last moment before ``until_s`` from which the distance only falls, within 30 NM."""
    number, first = view.index(until_s) - 1, view.index(not_before_s)
    while number > first and view.distance_nm[number - 1] > view.distance_nm[number]:
        if view.distance_nm[number - 1] > WITHIN_NM:
            break
        number -= 1
    return float(view.t_s[number])


def _touchdown_s(view: View, from_s: float, until_s: float) -> float | None:
    first, last = view.index(from_s), view.index(until_s)
    ground = np.flatnonzero(view.flight.on_ground[first : last + 1])
    return float(view.t_s[first + ground[0]]) if len(ground) else None


def _climb_away(view: View, from_s: float, until_s: float) -> tuple[float, float] | None:
    """Where the missed approach begins and ends."""
    first, last = view.index(from_s), view.index(until_s)
    altitude = view.flight.altitude_ft[first : last + 1]
    lowest = np.minimum.accumulate(altitude)
    climbed = np.flatnonzero(altitude >= lowest + 300.0)
    if not len(climbed):
        return None
    sure = int(climbed[0])
    low = float(lowest[sure])
    near = int(np.flatnonzero(altitude[:sure] <= low + 50.0)[-1])
    start_s = view.crossing_s(view.flight.altitude_ft - (low + 50.0), first + near)
    high = np.flatnonzero(altitude[sure:] >= low + 1000.0)
    if not len(high):
        return start_s, float(view.t_s[last])
    return start_s, view.crossing_s(view.flight.altitude_ft - (low + 1000.0), first + sure + int(high[0]) - 1)


def _final_and_after(view: View, from_s: float, until_s: float) -> list[Span]:
    touchdown_s = _touchdown_s(view, from_s, until_s)
    if touchdown_s is not None:
        return [("final", from_s, touchdown_s), ("landing", touchdown_s, until_s)]
    away = _climb_away(view, from_s, until_s)
    if away is not None:
        return [("final", from_s, away[0]), ("missed_approach", *away)]
    return [("final", from_s, until_s)]


def _last_of_final(view: View, final_s: float, end_s: float) -> float:
    """When the way back to the station is over at the latest: touchdown, the climb away, the end."""
    touchdown_s = _touchdown_s(view, final_s, end_s)
    if touchdown_s is not None:
        return touchdown_s
    away = _climb_away(view, final_s, end_s)
    return away[1] if away is not None else end_s
