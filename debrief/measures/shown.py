"""What the pilot saw at the moments that matter: the turn at the station, passages, the turn off, the way back in.

Owns      which moments an approach has, when each was, and why one is missing.
Not here  the readings (``instruments``), the events themselves (phases, the other measures), pictures (reports).
Source    ``shown``: DEVELOPERS.md, "Result file".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from debrief.language import mark, tr
from debrief.measures.air import air_along
from debrief.measures.instruments import course_to_select, flown_to_station, readings, relative_bearing_deg
from debrief.measures.intercept import INBOUND_WITHIN_DEG
from debrief.measures.statistics import known
from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.radials import FULL_SCALE_DEG, deviation_deg
from debrief.phases.model import Flight, Floats, FoundAttempt, Span
from debrief.procedures.guidance import guidance_in
from debrief.procedures.model import Phase
from debrief.result import Measures, MomentName, Shown, Wind

#: A boundary and the event it was taken from may differ in the last digits. [s]
_SAME_S = 1.0
_NEVER_AT_STOP = mark("the needle was never at its stop on the way in: this is where it stood farthest out")
_NO_WAY_IN = mark("the way back in was not flown or not observed")
_NO_HEADING_THERE = mark("the log has no heading there")
_IN_A_GAP = mark("it lies in a gap of the log")
_FLAGS: dict[str, Literal["TO", "FROM"]] = {"TO": "TO", "FROM": "FROM"}
_ENDED = {
    "end of log": "the log ends before it",
    "gap": "the log has a gap from there on",
    "broken off": "the approach was broken off before it",
}


@dataclass(frozen=True, slots=True)
class _Moment:
    """One moment: when, and the span whose course counts then; or why it is missing."""

    name: MomentName
    t_s: float | None = None
    span: Span | None = None
    why: str = ""


def shown(flight: Flight, attempt: FoundAttempt, measures: Measures, wind: Wind | None) -> tuple[Shown, ...]:
    """The instruments at each moment of the last circuit, as they came; the missing ones in the procedure's place.

    ``measures`` are those of the attempt; ``wind`` gives the heading where the log has none.
    """
    moments = _as_they_came(list(_moments(flight, attempt, measures)))
    when_s = np.array([np.nan if moment.t_s is None else moment.t_s for moment in moments])
    there = np.isfinite(when_s)
    view = flight.at(np.where(there, when_s, attempt.start_s))
    there &= view.segment >= 0
    course_deg, inbound = np.full(len(moments), np.nan), np.zeros(len(moments), dtype=np.bool_)
    for number, moment in enumerate(moments):
        if there[number] and moment.span is not None and not _by_eye(measures, flight, moment):
            selected_deg = course_to_select(flight.procedure, attempt, moment.span)
            if selected_deg is not None:
                one = view.where(slice(number, number + 1))
                course_deg[number] = selected_deg
                inbound[number] = flown_to_station(flight.procedure, moment.span.phase, selected_deg, one)[0]
    needles = [None if m.span is None else guidance_in(flight.procedure, m.span.phase) for m in moments]
    guided = np.array([needle is not None for needle in needles], dtype=np.bool_)
    read = readings(flight.procedure, view, course_deg, inbound, guided)
    air = air_along(flight, attempt, view, wind)
    relative_deg = relative_bearing_deg(flight.procedure, view, air)
    heading_deg: Floats = wrap_360(air.heading_true_deg - air.variation_deg)
    found = []
    for i, moment in enumerate(moments):
        if not there[i] or moment.t_s is None:
            why = moment.why if moment.t_s is None else tr(_IN_A_GAP)
            found.append(Shown(moment=moment.name, time=None, phase=None, why=why))
            continue
        found.append(
            Shown(
                moment=moment.name,
                time=flight.log.track.time_at(moment.t_s),
                phase=_phase_at(attempt, moment.t_s),
                altitude_ft=known(view.altitude_ft[i]),
                distance_nm=known(view.distance_nm[i]),
                dme_nm=known(read.dme_nm[i]),
                course_deg=known(course_deg[i]),
                deviation_deg=known(read.deviation_deg[i]),
                deflection=known(read.deflection[i]),
                full_scale=FULL_SCALE_DEG if (needle := needles[i]) is None else needle.full_scale,
                full_scale_unit="deg" if needle is None else needle.unit,
                to_from=_FLAGS.get(str(read.to_from[i])),
                cone=bool(view.in_cone[i]),
                bearing_deg=known(read.bearing_deg[i]),
                relative_bearing_deg=known(relative_deg[i]),
                heading_mag_deg=known(heading_deg[i]),
                why=tr(_NEVER_AT_STOP) if moment.why == _NEVER_AT_STOP else "",
                heading_why="" if np.isfinite(relative_deg[i]) else air.heading_why or tr(_NO_HEADING_THERE),
            )
        )
    return tuple(found)


def _by_eye(measures: Measures, flight: Flight, moment: _Moment) -> bool:
    """Whether no course was selected any more: in the visual segment, or circling."""
    begun = [part.start for part in (measures.visual_segment, measures.circling) if part is not None]
    return moment.t_s is not None and any(moment.t_s >= _seconds(flight, start) for start in begun)


def _as_they_came(moments: list[_Moment]) -> list[_Moment]:
    """In order of time, each missing one where the procedure has it: a late turn comes after the passage."""
    timed = iter(sorted((m for m in moments if m.t_s is not None), key=lambda m: m.t_s or 0.0))
    return [moment if moment.t_s is None else next(timed) for moment in moments]


def _phase_at(attempt: FoundAttempt, t_s: float) -> str | None:
    """The phase of a moment; at a boundary the one that begins."""
    spans = [span for span in attempt.spans if span.start_s <= t_s <= span.end_s]
    return spans[-1].phase.value if spans else None


def _moments(flight: Flight, attempt: FoundAttempt, measures: Measures) -> Iterator[_Moment]:
    procedure = flight.procedure
    if procedure.outbound is not None and not attempt.straight_in:
        yield from _out_and_back(flight, attempt, measures)
    elif procedure.station_on_aerodrome:
        yield from _back_in(flight, attempt, measures)
    else:
        yield _passage("station passage", attempt, attempt.passages[0].t_s if attempt.passages else None)
    yield _minimum(flight, attempt, measures)


def _out_and_back(flight: Flight, attempt: FoundAttempt, measures: Measures) -> Iterator[_Moment]:
    first = next(iter(attempt.spans_of(Phase.OUTBOUND)), None)
    turn = measures.turn
    passage = next((p for p in attempt.passages if p.t_s <= _begins_s(attempt)), None)
    yield _Moment(
        "turn at the station",
        None if turn is None else _seconds(flight, turn.start),
        first,
        ("" if turn is not None else _missing(attempt, Phase.OUTBOUND))
        or ("" if passage is not None else _missing(attempt, Phase.STATION_PASSAGE))
        or tr("no turn that can be told from a correction was flown there"),
    )
    yield _passage("station passage", attempt, None if passage is None else passage.t_s)
    yield _Moment(
        "turn off",
        attempt.turn_off_s,
        attempt.last(Phase.OUTBOUND),
        _missing(attempt, Phase.COURSE_REVERSAL) or tr("the turn off the outbound course was not seen"),
    )
    yield from _back_in(flight, attempt, measures)
    if flight.procedure.has_intermediate:
        back = attempt.last(Phase.COURSE_REVERSAL) or attempt.last(Phase.OUTBOUND)
        second = [p for p in attempt.passages if back is not None and p.t_s > back.start_s + _SAME_S]
        yield _passage("second passage", attempt, second[-1].t_s if second else None)


def _begins_s(attempt: FoundAttempt) -> float:
    """When the first passage is over at the latest: where the outbound leg (or what came instead) begins. [s]"""
    before = (Phase.INBOUND, Phase.STATION_PASSAGE)
    after = next((span.start_s for span in attempt.spans if span.phase not in before), attempt.end_s)
    return after + _SAME_S


def _back_in(flight: Flight, attempt: FoundAttempt, measures: Measures) -> Iterator[_Moment]:
    span = (
        attempt.last(Phase.COURSE_REVERSAL) or attempt.last(Phase.INTERMEDIATE) or attempt.last(Phase.FINAL)
    )
    cut = "" if attempt.straight_in else _missing(attempt, Phase.COURSE_REVERSAL)
    alive = None if measures.intercept is None else measures.intercept.time
    alive_s, why = None, ""
    if alive is not None:
        alive_s = _seconds(flight, alive)
    elif span is not None and measures.intercept is not None:
        until_s = span.end_s if attempt.established_s is None else attempt.established_s
        from_s = attempt.start_s if attempt.straight_in else span.start_s
        alive_s, why = _farthest_out_s(flight, from_s, until_s), _NEVER_AT_STOP
    yield _Moment("needle alive", alive_s, span, why if alive_s is not None else cut or tr(_NO_WAY_IN))
    yield _Moment(
        "established", attempt.established_s, span, cut or tr("the inbound course was never joined")
    )


def _farthest_out_s(flight: Flight, start_s: float, until_s: float) -> float | None:
    """Where the needle stood farthest out while the aircraft flew inbound, before it was established. [s]"""
    procedure = flight.procedure
    course_deg = procedure.inbound_course_deg
    view = flight.view.between(start_s, until_s)
    off_deg = np.abs(difference_deg(view.ground_track_true_deg, procedure.true_deg(course_deg)))
    deviation = np.abs(deviation_deg(view.radial_deg, course_deg, inbound=True))
    out = np.where((off_deg < INBOUND_WITHIN_DEG) & ~view.in_cone, deviation, -np.inf)
    return float(view.t_s[int(np.argmax(out))]) if np.isfinite(out).any() else None


def _passage(name: MomentName, attempt: FoundAttempt, t_s: float | None) -> _Moment:
    if t_s is None:
        why = _missing(attempt, Phase.STATION_PASSAGE) or tr("the station was not passed within the log")
        return _Moment(name, why=why)
    span = next(
        (s for s in attempt.spans if s.start_s <= t_s < s.end_s),
        next((s for s in attempt.spans if s.start_s >= t_s - _SAME_S), None),
    )
    if span is not None and span.phase is Phase.INBOUND:  # a missed station: the leg that follows counts
        span = next((s for s in attempt.spans if s.start_s >= t_s - _SAME_S), None)
    return _Moment(name, t_s, span)


def _minimum(flight: Flight, attempt: FoundAttempt, measures: Measures) -> _Moment:
    """Levelling off at the minimum; else coming down through it; else the lowest point of the final."""
    span, final = attempt.last(Phase.FINAL), measures.final
    if span is None or final is None:
        return _Moment("minimum", why=_missing(attempt, Phase.FINAL) or tr("no final was flown"))
    if final.level_off is not None:
        return _Moment("minimum", _seconds(flight, final.level_off), span)
    if final.lowest_time is None:
        return _Moment("minimum", why=tr("the log has no altitude there"))
    low_ft = flight.procedure.minimum_ft(circled=measures.circling is not None)
    lowest_s = _seconds(flight, final.lowest_time)
    if low_ft is not None:
        grid = flight.view.between(span.start_s, lowest_s)
        below = np.flatnonzero(grid.altitude_ft <= low_ft)
        if len(below):
            return _Moment("minimum", float(grid.t_s[below[0]]), span)
    return _Moment("minimum", lowest_s, span)


def _seconds(flight: Flight, time: datetime) -> float:
    return (time - flight.log.track.epoch).total_seconds()


def _missing(attempt: FoundAttempt, phase: Phase) -> str:
    """Why a phase is not there; empty where it is."""
    for entry in attempt.not_seen:
        if entry.phase == phase:
            return tr(_IN_A_GAP) if entry.why == "not observed" else tr("it was not flown")
    if attempt.last(phase) is None:
        return _ENDED.get(attempt.ending, "")
    return ""
