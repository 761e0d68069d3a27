"""Approaches flown straight in, without outbound leg and reversal.

Owns      ``straight_in``.
Not here  logs that begin in the middle of an approach (``partial``), those with an outbound leg (``attempts``, ``following``).
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.circuit import in_the_circuit
from debrief.phases.draft import Draft
from debrief.phases.ending import Ending
from debrief.phases.events import Crossing, first_moment, runs
from debrief.phases.finals import (
    FINAL_LOOK_S,
    FINAL_TRACK_DEG,
    Reading,
    descends,
    ending_from,
    final_course_deg,
    is_final,
)
from debrief.phases.following import below_the_reversal, stretch_after
from debrief.phases.model import FoundAttempt, StationView
from debrief.phases.on_course import (
    ESTABLISHED_DEG,
    ESTABLISHED_S,
    ESTABLISHED_TRACK_DEG,
    INBOUND_TRACK_DEG,
    established_mask,
)
from debrief.phases.partial import ALONG_DEG, STRAIGHT_IN_FROM_NM, flown_over, turns_back_late
from debrief.procedures.checks import station_to_threshold
from debrief.procedures.model import Phase, Procedure

BEGUN_FROM_NM = 1.5  # a log that begins on a final as long as this is hardly one of circuits
STRAIGHT_IN_S = 30.0
BEYOND_CIRCUITS_NM = 6.0  # no circuit of the aerodrome goes so far out. Mark: common practice
MEANT_WITHIN_NM = 3.0
MEANT_BELOW_FT = 700.0
ARRIVAL_TRACK_DEG = 75.0  # off the inbound course; from farther round the reversal is what is flown
NEAR_MINIMUM_FT = 400.0
LONGEST_FINAL_NM = 10.0  # where neither runway nor missed approach point tell. Mark: common practice
PAST_NM, PASSING_BY_FT = 3.0, 1000.0
GIVEN_UP_FT = 2000.0  # above the minimum: who climbs or turns away there has hardly begun


def straight_in(reading: Reading, number: int, first: Crossing | None, done_s: float) -> FoundAttempt | None:
    """An approach without outbound and reversal."""
    procedure = reading.procedure
    draft = Draft(reading, done_s, straight_in=True)
    if not procedure.station_on_aerodrome:
        if (
            first is None
            or (first.missed and not _meant_to_cross(reading, first))
            or not (procedure.reversal is None or _arrives_on_course(reading, first))
            or not is_final(reading, first)
        ):
            return None
        ending = ending_from(reading, first.exit_s)
        if ending.how == "end of log" and not descends(reading, first.exit_s, ending):
            return None
        if turns_back_late(reading, number, ending) or _passes_by(reading, first.exit_s, ending):
            return None
        draft.inbound(first.entry_s)
        draft.passage(first)
        draft.end(first.exit_s, ending)
        return draft.found()
    return _straight_in_at_aerodrome(reading, number, done_s, draft)


def _passes_by(reading: Reading, start_s: float, ending: Ending) -> bool:
    """Whether an aircraft that flies on along the final course stays far above the minimum, as in cruise or on its way down.

    It does so until it is miles past where a final leads, or until it climbs or turns away.
    """
    procedure = reading.procedure
    minimum_ft, threshold = procedure.low_ft(Phase.FINAL), station_to_threshold(procedure)
    if minimum_ft is None:
        return False
    point = procedure.final.missed_approach_point if procedure.final is not None else None
    reach_nm = max(
        0.0 if threshold is None else threshold[0],
        0.0 if point is None or point.dme_nm is None else point.dme_nm,
    )
    way = reading.view.between(start_s, ending.final_end_s)
    nearest = int(np.argmin(way.distance_nm)) if len(way) else 0
    beyond = np.arange(len(way)) > nearest
    past = np.flatnonzero(beyond & (way.distance_nm > (reach_nm or LONGEST_FINAL_NM) + PAST_NM))
    height_ft = way.altitude_ft[: past[0]] if len(past) else way.altitude_ft
    lowest_ft = np.fmin.reduce(height_ft, initial=np.inf)
    if len(past) and np.isinf(lowest_ft):  # of an unknown altitude: who turned away before has climbed away
        off_deg = difference_deg(way.ground_track_deg[past[0]], procedure.inbound_course_deg)
        return abs(float(off_deg)) <= FINAL_TRACK_DEG
    if len(past):
        return bool(lowest_ft > minimum_ft + PASSING_BY_FT)
    gone = ending.how in ("broken off", "missed approach")
    return gone and bool(np.inf > lowest_ft > minimum_ft + GIVEN_UP_FT)


def _meant_to_cross(reading: Reading, crossing: Crossing) -> bool:
    """Whether a station passed too far off was still meant: straight in, near it, at the altitude to cross it.

    Where a reversal is published, only a final that leads all the way down tells that.
    """
    procedure = reading.procedure
    if crossing.distance_nm > MEANT_WITHIN_NM:
        return False
    if procedure.reversal is not None and not _comes_down_to_the_minimum(reading, crossing):
        return False
    low_ft = procedure.low_ft(Phase.INBOUND)
    altitude_ft = float(reading.at(np.array([crossing.t_s])).altitude_ft[0])
    return low_ft is None or not altitude_ft < low_ft - MEANT_BELOW_FT


def _comes_down_to_the_minimum(reading: Reading, crossing: Crossing) -> bool:
    """Whether the aircraft joins the final course beyond the station, and comes down it to about the minimum."""
    minimum_ft, course_deg = reading.procedure.low_ft(Phase.FINAL), final_course_deg(reading.procedure)
    ending = ending_from(reading, crossing.exit_s)
    way = reading.view.between(crossing.exit_s, ending.final_end_s)
    if minimum_ft is None or not len(way) or not ending.lowest_ft <= minimum_ft + NEAR_MINIMUM_FT:
        return False
    off_deg = np.abs(difference_deg(way.ground_track_deg, course_deg))
    beside_deg = np.abs(difference_deg(way.radial_deg, course_deg))
    on_course = (off_deg <= ESTABLISHED_TRACK_DEG) & (beside_deg <= ESTABLISHED_DEG)
    return float(np.count_nonzero(on_course)) >= FINAL_LOOK_S and bool(on_course[-1])


def _arrives_on_course(reading: Reading, crossing: Crossing) -> bool:
    before = reading.view.between(crossing.entry_s - FINAL_LOOK_S / 2, crossing.entry_s)
    if not len(before):
        return False
    off = np.abs(difference_deg(before.ground_track_deg, reading.procedure.inbound_course_deg))
    allowed_deg = reading.procedure.reversal.when_straight_in_deg if reading.procedure.reversal else None
    return bool(np.median(off) <= max(ARRIVAL_TRACK_DEG, allowed_deg or 0.0))


def _straight_in_at_aerodrome(
    reading: Reading, number: int, done_s: float, draft: Draft
) -> FoundAttempt | None:
    procedure, view = reading.procedure, reading.view
    start_s, end_s = stretch_after(reading, number, done_s)
    minimum_ft = procedure.low_ft(Phase.FINAL)
    part = view.between(start_s, end_s)
    for a, on_course_s in _stays_on_course(part, procedure):
        if on_course_s < STRAIGHT_IN_S:
            continue
        arrives_s, established_s, least_nm = _joined(reading, part, a)
        if part.distance_nm[a] < least_nm:
            continue
        ending = ending_from(reading, established_s)
        flown = view.between(arrives_s, ending.final_end_s)
        near = bool(np.max(flown.distance_nm) < BEYOND_CIRCUITS_NM)
        if established_s > view.t_s[0] and near and in_the_circuit(flown.altitude_ft, procedure):
            continue  # a circuit of the aerodrome
        still_on_it = ending.how == "end of log" and view.closing_kt[-1] > 0.0
        low = minimum_ft is None or still_on_it or not ending.lowest_ft > minimum_ft + NEAR_MINIMUM_FT
        low |= below_the_reversal(reading, ending.lowest_ft)
        if not low or not descends(reading, established_s, ending) or flown_over(reading, number, ending):
            continue
        if _passes_by(reading, established_s, ending):
            continue
        draft.inbound(arrives_s)
        draft.end(established_s, ending)
        draft.established_s = established_s if start_s < established_s == arrives_s else None
        return draft.found()
    return None


def _stays_on_course(part: StationView, procedure: Procedure) -> list[tuple[int, float]]:
    """Where the course is first established, and for how long it is held in all, of each flight along it, back and forth across it."""
    held: list[tuple[int, float]] = []
    ended = 0
    for a, b in runs(established_mask(part, procedure), part.segment):
        seconds = float(part.t_s[b - 1] - part.t_s[a])
        if seconds < ESTABLISHED_S - 1.0:
            continue
        off_deg = np.abs(difference_deg(part.ground_track_deg[ended:a], procedure.inbound_course_deg))
        # a gap with the aircraft on the course at both its edges parts nothing
        at_its_edges = a == ended + 1
        same = part.segment[ended] == part.segment[a] or at_its_edges
        if held and same and np.all(off_deg <= INBOUND_TRACK_DEG):
            held[-1] = held[-1][0], held[-1][1] + seconds
        else:
            held.append((a, seconds))
        ended = b - 1
    return held


def _joined(reading: Reading, part: StationView, a: int) -> tuple[float, float, float]:
    """When the aircraft is last seen on its way to the course and first on it, and how far out that is at least.

    A gap may hide how far out it was; where the log begins on the course only a circuit's short final is left out.
    """
    first_s = float(part.t_s[a])
    if not a:
        return first_s, first_s, BEGUN_FROM_NM if first_s == reading.view.t_s[0] else STRAIGHT_IN_FROM_NM
    before_s = float(part.t_s[a - 1])
    if part.segment[a - 1] != part.segment[a]:
        return before_s, first_s, 0.0
    joined_s = first_moment(reading.at, before_s, first_s, lambda v: established_mask(v, reading.procedure))
    return joined_s, joined_s, 0.0 if _comes_along(reading, part.where(slice(0, a))) else STRAIGHT_IN_FROM_NM


def _comes_along(reading: Reading, way: StationView) -> bool:
    """Whether the aircraft came along the course, beside it, from as far out as a straight-in approach does."""
    off_deg = np.abs(difference_deg(way.ground_track_deg, reading.procedure.inbound_course_deg))
    stretches = runs(off_deg <= ALONG_DEG, way.segment)
    if not stretches or stretches[-1][1] < len(way):
        return False
    return bool(way.distance_nm[stretches[-1][0]] >= STRAIGHT_IN_FROM_NM)
