"""Rules on tracking: the needle on each leg, and being established inbound.

Owns      which part of a leg is scored: not the cone, not a gap, not the turn onto the course.
Not here  the deviation itself (measures.tracking), the tolerances (the standard's file).
Source    Judged by the needle, as an examiner does: DEVELOPERS.md, Definitions.

What counts is where the aircraft was, as an ideal receiver would have shown it. A real receiver and the
station's alignment may add some degrees either way; nobody knows them afterwards, so they are not in the verdict.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.needle_scale import NeedleScale, inbound_scale, scale_of
from debrief.grading.standard import Joining, Tolerance
from debrief.grading.way_back import due_by_s
from debrief.grading.words import (
    course_name,
    degrees,
    in_phase,
    nautical_miles,
    seconds,
    side_of,
)
from debrief.language import tr
from debrief.measures.final_track import lined_up_from_s
from debrief.measures.minimum import judged_until_s
from debrief.measures.stretches import stretches
from debrief.measures.tracking import needle_deg, scored_course_deg
from debrief.navigation.angles import difference_deg
from debrief.navigation.radials import FULL_SCALE_DEG
from debrief.navigation.turns import STANDARD_RATE_DEG_S
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.model import Floats, Span, StationView
from debrief.phases.turns import TURNING_DEG_S
from debrief.procedures.model import Phase

#: Steered towards a course to come back to it: twice the deviation, between these. [deg]
#: Mark: common practice.
_CORRECTION_DEG = (10.0, 30.0)
#: The same by a localiser or a satellite course, whose needle is several times as fine.
_FINE_CORRECTION_DEG = (5.0, 10.0)
_AS_CLOSE_DEG = 0.1
_CLOSE_NM = 1.0  # to the station: there a degree is a hundred feet and less. Mark: common practice.
#: A radial is flown along where the bearing moves no more than this for so long, out to the turn off: a track beside
#: the published one, or slowly coming back to it, would show as more. Mark: common practice.
_SAME_RADIAL_DEG, _SAME_RADIAL_S, _TO_THE_TURN_S = 2.0, 60.0, 5.0


@dataclass(frozen=True, slots=True, eq=False)
class _Needle:
    """A leg by the needle: ``deviation`` is ``nan`` wherever it is not scored."""

    view: StationView
    deviation: Floats


def tracking(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Deviation on each leg that has a course, held beyond the tolerance."""
    for name in tolerance.phases:
        phase = Phase(name)
        course_deg = scored_course_deg(case.procedure, phase)
        if course_deg is None or case.procedure.leg_of(phase) is None:
            continue
        standing = case.standing(phase)
        if standing.state == "not seen":
            yield Assessment(
                tolerance=tolerance, outcome="not assessable", phase=phase, unit="deg", reason=standing.reason
            )
        if standing.state == "seen":
            for span in case.leg_spans(phase):
                yield from _leg(case, tolerance, span, course_deg)


def _leg(case: Case, tolerance: Tolerance, span: Span, course_deg: float) -> Iterator[Assessment]:
    limit_deg, scale = tolerance.limit_deg, scale_of(case, span.phase)
    needle = _needle(case, span, course_deg, limit_deg)
    view, size_deg = needle.view, np.abs(needle.deviation)
    if not np.isfinite(size_deg).any():
        return
    found = False
    for stretch in stretches(view.t_s, size_deg - limit_deg, view.segment):
        if stretch.seconds < tolerance.held_s:
            continue
        found = True
        inside = slice(stretch.first, stretch.last + 1)
        sure_deg = scale.sure_deg(case, view.where(inside))
        beyond_deg = size_deg[inside] - sure_deg - limit_deg
        surely_held = any(
            sure.seconds >= tolerance.held_s
            for sure in stretches(view.t_s[inside], beyond_deg, view.segment[inside])
        )
        worst = stretch.first + int(np.argmax(beyond_deg))
        told = _assessed(
            case,
            tolerance,
            span,
            course_deg,
            (stretch.start_s, stretch.end_s, float(view.t_s[worst])),
            float(needle.deviation[worst]),
            held=surely_held,
        )
        if span.phase is Phase.INTERMEDIATE and float(view.distance_nm[inside].max()) <= _CLOSE_NM:
            told = replace(told, variant="close")
        ndb = case.procedure.station.is_ndb
        yield _of_another_radial(told, span, course_deg, view.t_s[inside], needle.deviation[inside], ndb=ndb)
    if not found:
        held_deg = _held(size_deg, tolerance.held_s)
        worst = int(np.nanargmax(held_deg))
        at_s = float(view.t_s[worst])
        yield _assessed(
            case,
            tolerance,
            span,
            course_deg,
            (span.start_s, span.end_s, at_s),
            float(np.copysign(held_deg[worst], needle.deviation[worst])),
            within=True,
        )


def _of_another_radial(
    told: Assessment, span: Span, course_deg: float, t_s: Floats, deviation_deg: Floats, *, ndb: bool
) -> Assessment:
    """The same where another radial was flown along, out to the turn: no correction was late, none was begun."""
    last = t_s >= t_s[-1] - _SAME_RADIAL_S
    steady_deg = float(np.median(deviation_deg[last]))
    long_enough = t_s[-1] - t_s[0] >= _SAME_RADIAL_S and t_s[-1] >= span.end_s - _TO_THE_TURN_S
    still = float(np.ptp(deviation_deg[last])) <= _SAME_RADIAL_DEG
    if span.phase is not Phase.OUTBOUND or not (long_enough and still):
        return told
    flown = {
        "flown": course_name(course_deg + steady_deg, span.phase, ndb=ndb),
        "steady": degrees(abs(steady_deg), nearest=1.0),
    }
    return replace(told, variant="another", facts={**told.facts, **flown})


def _assessed(
    case: Case,
    tolerance: Tolerance,
    span: Span,
    course_deg: float,
    when: tuple[float, float, float],
    deviation: float,
    *,
    within: bool = False,
    held: bool = True,
) -> Assessment:
    """``held``: whether it was beyond the limit for long enough by more than the log's uncertainty."""
    start_s, end_s, at_s = when
    limit_deg, size_deg, scale = tolerance.limit_deg, abs(deviation), scale_of(case, span.phase)
    there = case.scene.at(at_s)
    sure_deg = float(scale.sure_deg(case, there)[0])
    excess_deg = min(size_deg - limit_deg, 0.0) if within else size_deg - limit_deg
    if not held:  # a hair less, and it would have been too brief to count
        sure_deg = max(sure_deg, excess_deg)
    low, high = _CORRECTION_DEG if scale.guidance is None else _FINE_CORRECTION_DEG
    back_deg = 2.0 * scale.of(size_deg) if scale.unit == "deg" else high
    return Assessment(
        tolerance=scale.tolerance(tolerance),
        outcome="within" if within else guarded(excess_deg, sure_deg),
        phase=span.phase,
        variant="lost" if span.phase is Phase.FINAL and size_deg >= FULL_SCALE_DEG else "",
        value=scale.of(size_deg),
        limit=scale.of(limit_deg),
        unit=scale.unit,
        excess=scale.of(excess_deg),
        uncertainty=scale.of(sure_deg),
        start_s=start_s,
        end_s=end_s,
        at_s=at_s,
        facts={
            "In": in_phase(span.phase),
            "value": scale.value_words(size_deg, limit_deg),
            "limit": scale.words(limit_deg),
            "course": course_name(course_deg, span.phase, ndb=case.procedure.station.is_ndb),
            "side": side_of(deviation),
            "turn": side_of(-deviation),
            "seconds": seconds(end_s - start_s),
            "aside": _aside(scale, there, size_deg),
            "correction": degrees(float(np.clip(back_deg, low, high)), nearest=5.0),
            "sure": scale.finely(sure_deg),
        }
        | case.place(at_s),
    )


def _aside(scale: NeedleScale, there: StationView, size_deg: float) -> str:
    """How far beside the course; where its needle tells that already, how much of its scale."""
    guidance = scale.guidance
    if guidance is None:
        return nautical_miles(float(there.distance_nm[0]) * float(np.sin(np.radians(min(size_deg, 90.0)))))
    if guidance.unit == "NM":
        return tr("full scale is {full_scale}", full_scale=nautical_miles(guidance.full_scale))
    return nautical_miles(float(np.abs(guidance.across_nm(there.east_nm, there.north_nm))[0]))


def _needle(case: Case, span: Span, course_deg: float, limit_deg: float) -> _Needle:
    """The part of a leg on which the needle is scored."""
    until_s = span.end_s
    if span.phase is Phase.FINAL:
        sight_s = judged_until_s(case.scene)
        until_s = until_s if sight_s is None else min(until_s, sight_s)
    view = case.every_second(span.start_s, until_s)
    joining = case.standard.joining
    deviation, scored = needle_deg(case.procedure, span.phase, course_deg, view)
    course_true_deg, guidance = case.procedure.true_deg(course_deg), scale_of(case, span.phase).guidance
    if guidance is None:
        scored &= view.distance_nm >= joining.not_within_nm
    else:
        course_true_deg = guidance.course_true_deg
    turn_s, turning_s = _station_turn_s(case, span)
    from_s = max(span.start_s, turn_s)
    room_from_s = max(from_s, turn_s + turning_s)
    off_deg = np.asarray(difference_deg(view.ground_track_true_deg, course_true_deg))
    on_it = (np.abs(deviation) <= limit_deg) & (np.abs(off_deg) <= joining.track_within_deg)
    settle_from_s = from_s
    if np.isfinite(turn_s):
        steady = np.abs(view.turn_rate_deg_s) < TURNING_DEG_S
        on_it &= steady
        rolled_out = steady & (view.t_s >= room_from_s)
        settle_from_s = float(view.t_s[np.argmax(rolled_out)]) if rolled_out.any() else room_from_s
    scored &= _joined(view, deviation, off_deg, on_it, joining, settle_from_s, room_from_s)
    lined_up_s = lined_up_from_s(case.scene) if span.phase is Phase.FINAL else None
    if lined_up_s is not None:
        scored &= (view.t_s < lined_up_s) | (np.abs(deviation) <= limit_deg)
    return _Needle(view, np.where(scored, deviation, np.nan))


def _station_turn_s(case: Case, span: Span) -> tuple[float, float]:
    """When the turn at the station began, before the outbound leg that it leads to, and how long it takes.

    At the standard rate; long ago where there is none. Turning late is told by its own rule, and not once more by
    the needle; and a turn of 200 degrees leaves the aircraft two miles beside a radial that it then is to join.
    """
    turn, first = case.measures.turn, case.scene.attempt.spans_of(Phase.OUTBOUND)
    if turn is None or not first or span.start_s != first[0].start_s:
        return -np.inf, 0.0
    return min(case.t_s(turn.start), span.end_s), abs(turn.change_deg) / STANDARD_RATE_DEG_S


def _joined(
    view: StationView,
    deviation: Floats,
    off_deg: Floats,
    on_it: NDArray[np.bool_],
    joining: Joining,
    settle_from_s: float,
    room_from_s: float,
) -> NDArray[np.bool_]:
    """Where the course is joined, or ought to be.

    Joined: from the first moment ``on_it``, within the tolerance and flying along the course (after the turn at the
    station no longer turning: it sweeps through both before it ends a little beside the course). Before that a moment
    is free while there is room (counted from ``room_from_s``) and the aircraft turns, or flies at the course; up to
    the first seconds after ``settle_from_s`` in any case (after the turn at the station: rolled out beside the course,
    a pilot looks at the needle before turning to it), and all the time while it flies at the course too steeply to
    fly along it: blown far to the side in a turn right round, a pilot can do no more.
    """
    if len(view) == 0:
        return np.zeros(0, dtype=np.bool_)
    joined = np.maximum.accumulate(on_it)
    turning = np.abs(view.turn_rate_deg_s) >= TURNING_DEG_S
    joining_s = view.t_s - room_from_s
    step_s = np.where(joining_s > 0, np.diff(view.t_s, prepend=view.t_s[0]), 0.0)
    flown_nm = np.cumsum(view.groundspeed_kt * step_s) / SECONDS_PER_HOUR
    room = (joining_s <= joining.room_s) & (flown_nm <= joining.room_nm)
    towards_deg = -np.sign(deviation) * off_deg
    joining_now = turning | (towards_deg >= joining.closing_by_deg)
    free = room & (joining_now | (view.t_s - settle_from_s <= joining.settle_s))
    free |= towards_deg > joining.track_within_deg
    result: NDArray[np.bool_] = joined | ~free
    return result


def _held(size: Floats, held_s: float) -> Floats:
    """For each second the least size in the time ``held_s`` up to it, so that the largest was held so long."""
    count = int(np.ceil(held_s)) + 1
    if len(size) <= count:
        return size
    least = np.concatenate([np.full(count - 1, np.nan), sliding_window_view(size, count).min(axis=1)])
    return least if np.isfinite(least).any() else size


def not_established(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Never established inbound, though the aircraft came back as far as the station or the minimum."""
    attempt, scale = case.scene.attempt, inbound_scale(case)
    limit = scale.of(tolerance.limit_deg)
    back = attempt.last(Phase.COURSE_REVERSAL)
    if back is None and not (case.procedure.station_on_aerodrome and attempt.straight_in):
        return  # straight in over the final fix: the course begins there; or not come so far
    if attempt.established_s is not None:
        distance_nm = float(case.scene.at(attempt.established_s).distance_nm[0])
        yield Assessment(
            tolerance=tolerance,
            outcome="within",
            limit=limit,
            unit=scale.unit,
            start_s=attempt.established_s,
            at_s=attempt.established_s,
            facts={"distance": nautical_miles(distance_nm)} if np.isfinite(distance_nm) else {},
        )
        return
    start_s = back.start_s if back is not None else attempt.start_s
    end_s = due_by_s(attempt, start_s)
    if end_s is None:
        return
    if case.observed_share(start_s, end_s) < case.standard.assessable.observed_share:
        yield Assessment(
            tolerance=tolerance,
            outcome="not assessable",
            unit="deg",
            reason=tr("the way back to the inbound course lies in a gap of the log"),
        )
        return
    yield _never(case, tolerance, start_s, end_s)


def _never(case: Case, tolerance: Tolerance, start_s: float, end_s: float) -> Assessment:
    """The closest that the aircraft came to being established, as the least deviation held long enough."""
    course_deg = case.procedure.inbound_course_deg
    view = case.every_second(start_s, end_s)
    scale = inbound_scale(case)
    course_true_deg = case.procedure.true_deg(course_deg)
    if scale.guidance is None:
        deviation, read = needle_deg(case.procedure, Phase.INTERMEDIATE, course_deg, view)
    else:
        deviation, read = needle_deg(case.procedure, Phase.FINAL, course_deg, view)
        course_true_deg = scale.guidance.course_true_deg
    off_deg = difference_deg(view.ground_track_true_deg, course_true_deg)
    along = (np.abs(off_deg) <= case.standard.joining.track_within_deg) & read
    size_deg = np.where(along & np.isfinite(deviation), np.abs(deviation), np.inf)
    count = int(np.ceil(tolerance.held_s)) + 1
    best_deg, middle = np.inf, 0
    if len(size_deg) > count:
        greatest = sliding_window_view(size_deg, count).max(axis=1)
        # Of several as close, the first: farthest out, where the angle is known best.
        best_deg = float(np.min(greatest))
        middle = int(np.argmax(greatest <= best_deg + _AS_CLOSE_DEG)) + count // 2
    facts = {
        "course": course_name(course_deg, Phase.INTERMEDIATE, ndb=False),
        "limit": scale.words(tolerance.limit_deg),
    }
    facts |= {"held": seconds(tolerance.held_s)} | case.place(end_s)
    if not np.isfinite(best_deg):
        return Assessment(
            tolerance=tolerance,
            outcome="exceeded",
            phase=Phase.COURSE_REVERSAL,
            variant="far",
            limit=scale.of(tolerance.limit_deg),
            unit=scale.unit,
            start_s=start_s,
            end_s=end_s,
            at_s=end_s,
            facts=facts,
        )
    at_s, distance_nm = float(view.t_s[middle]), float(view.distance_nm[middle])
    sure_deg = float(scale.sure_deg(case, view.where(slice(middle, middle + 1)))[0])
    return Assessment(
        tolerance=scale.tolerance(tolerance),
        outcome=guarded(best_deg - tolerance.limit_deg, sure_deg),
        phase=Phase.COURSE_REVERSAL,
        value=scale.of(best_deg),
        limit=scale.of(tolerance.limit_deg),
        unit=scale.unit,
        excess=scale.of(best_deg - tolerance.limit_deg),
        uncertainty=scale.of(sure_deg),
        start_s=start_s,
        end_s=end_s,
        at_s=at_s,
        facts=facts
        | {
            "value": scale.never_words(best_deg, tolerance.limit_deg),
            "distance": nautical_miles(distance_nm),
            "sure": scale.finely(sure_deg),
        },
    )
