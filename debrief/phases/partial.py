"""Approaches without a beginning: the log starts in the middle of one, or a gap hides how it began.

Owns      ``late_beginning``, ``resumed_in_reversal``, ``hidden_on_the_way``.
Not here  approaches flown straight in (``straight_in``), those with an outbound leg (``attempts``, ``following``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.after_gap import gaps_after, seen_again
from debrief.phases.circuit import REVERSAL_NM, Circuit, farthest_nm, in_the_circuit
from debrief.phases.draft import Draft
from debrief.phases.ending import Ending
from debrief.phases.events import (
    ABEAM_WITHIN_NM,
    LONGEST_HIDING_S,
    OUT_OR_BACK_DEG,
    ROUND_ABOUT,
    ROUND_S,
    SHORT_OUT_NM,
    TAXI_KT,
    Crossing,
)
from debrief.phases.finals import (
    FINAL_DESCENT_FT,
    FINAL_LOOK_S,
    Reading,
    came_down_ft,
    descends,
    ending_from,
    final_course_deg,
    is_final,
    lands_there,
)
from debrief.phases.following import (
    BACK_WITHIN_S,
    circuit_after,
    circuit_again,
    ending_never_established,
    follow,
    stretch_after,
)
from debrief.phases.led_past import flies_a_base_leg, leaves_the_course
from debrief.phases.meant import came_down_on_final
from debrief.phases.model import FoundAttempt, StationView
from debrief.phases.on_course import (
    ESTABLISHED_S,
    established_mask,
    find_established,
    is_racetrack,
)
from debrief.phases.turns import TURN_AT_LEAST_DEG, TURNING_DEG_S
from debrief.procedures.model import Phase, Procedure

STRAIGHT_IN_FROM_NM = 3.0  # nearer, it is a circuit of the aerodrome
ALONG_DEG = 45.0
LOG_START_S = 60.0
TURN_ROUND_S = 240.0
START_TURN_S = 5  # entries of the grid
START_OFF_DEG = 8.0
BELOW_ARRIVAL_FT = 300.0
HIDDEN_AFTER_S = 90.0  # of a gap after the passage: a turn at the station, and not yet a leg to tell
KEPT_UP_FT = 200.0  # so little below the altitude of the outbound leg no final has been descended yet
STILL_AT_IT_S = 150.0  # from the passage, no leg yet settled: a half circle, and a long intercept
LATE_OFF_DEG = 20.0
LATE_WITHIN_NM = 8.0
AT_THE_MINIMUM_S, WITHIN_MINIMUM_FT = 20.0, 200.0
LATE_DESCENT_FT = 100.0  # where a landing or a climb away shows that it was a final


def late_beginning(reading: Reading, number: int, done_s: float) -> FoundAttempt | None:
    """An approach that the log joins in the reversal, established, or on final."""
    if number >= 0 or reading.attempts:
        return None
    view, procedure = reading.view, reading.procedure
    start_s = float(view.t_s[0])
    if view.groundspeed_kt[0] < TAXI_KT or start_s > LOG_START_S:
        return None
    following = reading.crossings[0] if reading.crossings else None
    end_s = following.entry_s if following is not None else float(view.t_s[-1])
    limit_nm = (procedure.reversal.within_nm if procedure.reversal else None) or 10.0
    established = find_established(view, reading.at, procedure, start_s, end_s)
    if view.closing_kt[0] < 0 and (established is None or established[1] - start_s > TURN_ROUND_S):
        late = _late_final(reading, start_s)
        return late or (
            _never_established(reading, following, limit_nm, done_s) if established is None else None
        )
    if procedure.reversal is None:
        return None  # straight in: the way to the course is the way to the station
    if established is None:
        return _never_established(reading, following, limit_nm, done_s)
    if view.distance_nm[0] > limit_nm + 2.0 or established[1] - start_s > TURN_ROUND_S:
        return None
    if leaves_the_course(view.between(established[1], end_s), procedure):
        return None  # it came along the course by chance, and was led round to it
    on_course = bool(established_mask(view.where(slice(0, 1)), procedure)[0])
    arriving = not _turning_back(view, procedure, established[0]) and not _below_arrival(view, procedure)
    circling = in_the_circuit(view.between(start_s, established[0]).altitude_ft, procedure)
    if not on_course and (arriving or circling):
        return None
    if flies_a_base_leg(view.between(start_s, established[0]), procedure):
        return None  # led to the course from the side
    comes_round = _off_inbound_deg(view, procedure) > (TURN_AT_LEAST_DEG if is_racetrack(procedure) else 90.0)
    if not comes_round and beyond_the_reversal(reading) and not _below_arrival(view, procedure):
        return None  # a straight-in arrival
    straight_on = not comes_round and not _below_arrival(view, procedure)
    if straight_on and following is not None and _flies_the_reversal(reading, following):
        return None  # arriving along the course, or turning onto it from the side
    circuit = _from_the_turn_back(start_s, established, end_s)
    if on_course:
        circuit = replace(circuit, established_s=None)
    if not procedure.station_on_aerodrome and (following is None or following.missed):
        return None
    draft = Draft(reading, done_s)
    if not on_course:
        draft.add(Phase.COURSE_REVERSAL, start_s, established[0])
    draft.established_s = circuit.established_s
    if on_course and procedure.station_on_aerodrome:
        ending = ending_from(reading, established[1])
        if not view.altitude_ft[0] - ending.lowest_ft >= LATE_DESCENT_FT and ending.how == "missed approach":
            return None  # a take-off along the course
    found = follow(reading, draft, circuit, number)
    if found is None or not {Phase.FINAL, Phase.OUTBOUND} & {span.phase for span in found.spans}:
        return None  # it only crossed the station along the course
    if found.last(Phase.FINAL) and found.ending != "end of log" and not came_down_on_final(reading, found):
        return None  # airwork that happened to be along the course
    return found


def _never_established(
    reading: Reading, following: Crossing | None, limit_nm: float, done_s: float
) -> FoundAttempt | None:
    """A log that begins in a reversal which leads to the station, and a final, without getting established.

    That it has been at the station before shows in its turn round, or in its height.
    """
    view, procedure = reading.view, reading.procedure
    start_s, course_deg = float(view.t_s[0]), procedure.outbound_course_deg
    if procedure.reversal is None or course_deg is None:
        return None
    beside_deg = abs(float(difference_deg(view.radial_deg[0], course_deg)))
    comes_back = _off_inbound_deg(view, procedure) > 90.0 or _below_arrival(view, procedure)
    if not comes_back or beside_deg > OUT_OR_BACK_DEG or view.distance_nm[0] > limit_nm + 2.0:
        return None
    if procedure.station_on_aerodrome:
        return _never_established_at_aerodrome(reading, following, start_s, done_s)
    circuit = _never_established_from(reading, following, start_s)
    if circuit is None or in_the_circuit(view.between(start_s, circuit.end_s).altitude_ft, procedure):
        return None
    draft = Draft(reading, done_s)
    draft.add(Phase.COURSE_REVERSAL, start_s, circuit.end_s)
    found = follow(reading, draft, circuit, -1)
    return found if found is not None and came_down_on_final(reading, found) else None


def _never_established_at_aerodrome(
    reading: Reading, following: Crossing | None, start_s: float, done_s: float
) -> FoundAttempt | None:
    """A log that begins in a reversal which leads back to the aerodrome, down to a landing or a climb away there."""
    until_s = following.exit_s if following is not None else float(reading.view.t_s[-1])
    way = reading.view.between(start_s, until_s)
    if in_the_circuit(way.altitude_ft, reading.procedure) or until_s - start_s > BACK_WITHIN_S:
        return None
    circuit = replace(
        _from_the_turn_back(start_s, (until_s, until_s), until_s), established_s=None, inbound_start_s=None
    )
    ending = ending_never_established(reading, circuit)
    if ending is None or not came_down_ft(reading, start_s, ending.final_end_s) >= FINAL_DESCENT_FT:
        return None
    draft = Draft(reading, done_s)
    draft.add(Phase.COURSE_REVERSAL, start_s, until_s)
    draft.finish_never_established(ending)
    return draft.found()


def _never_established_from(reading: Reading, following: Crossing | None, start_s: float) -> Circuit | None:
    """The turn back in which the aircraft is first seen, where it leads over the station soon, and onto a final."""
    if following is None or following.missed or following.hidden or not is_final(reading, following):
        return None
    until_s = following.entry_s
    if until_s - start_s > BACK_WITHIN_S:
        return None
    circuit = _from_the_turn_back(start_s, (until_s, until_s), until_s)
    return replace(circuit, established_s=None, inbound_start_s=None)


def resumed_in_reversal(reading: Reading, number: int, done_s: float) -> Circuit | None:
    """The circuit of which a gap hides the turn off and the outbound leg, and the log goes on in the turn back.

    The gap may hide the passage before them, or begin soon after it.
    """
    if number < 0:
        return None
    start_s, end_s = stretch_after(reading, number, done_s)
    following = reading.crossings[number + 1] if number + 1 < len(reading.crossings) else None
    if following is not None and following.out_and_back and end_s - start_s < HIDDEN_AFTER_S:
        return _all_in_the_gap(reading, start_s, following) if is_final(reading, following) else None
    if reading.crossings[number].hidden:
        gap_s, resumes_s = start_s, start_s
    else:
        gap = _gap_after_the_passage(reading, number, start_s, end_s)
        if gap is None:
            return None
        gap_s, resumes_s = gap
    established = find_established(reading.view, reading.at, reading.procedure, resumes_s, end_s)
    if established is None:
        circuit = _never_established_from(reading, following, resumes_s)
    elif established[1] - resumes_s <= TURN_ROUND_S:
        circuit = _from_the_turn_back(resumes_s, established, end_s)
    else:
        circuit = None
    if circuit is None or circuit.reversal_end_s is None:
        return None
    back = reading.view.between(resumes_s, circuit.reversal_end_s)
    since_station_ft = reading.view.between(start_s, circuit.reversal_end_s).altitude_ft
    if _near_the_aerodrome(reading, back) and in_the_circuit(since_station_ft, reading.procedure):
        return None
    circuit = replace(circuit, outbound_start_s=start_s, outbound_end_s=gap_s)
    if gap_s < resumes_s and len(back) < START_TURN_S and established is not None:  # seen again on the course
        circuit = replace(circuit, reversal_end_s=gap_s, established_s=None)
    return circuit


def _all_in_the_gap(reading: Reading, start_s: float, hidden: Crossing) -> Circuit:
    """A circuit of which only the turn at the station was seen: a gap hides the rest, and the passage after it."""
    on_final_s = hidden.exit_s if reading.procedure.station_on_aerodrome else None
    return Circuit(
        outbound_start_s=start_s,
        outbound_end_s=hidden.entry_s,
        reversal_start_s=on_final_s,
        turn_off_s=None,
        reversal_end_s=None if on_final_s is None else hidden.entry_s,
        established_s=None,
        inbound_start_s=on_final_s,
        end_s=hidden.entry_s,
    )


def _near_the_aerodrome(reading: Reading, part: StationView) -> bool:
    """Whether the aircraft is at first so near the runway, or else the station, that it may fly a circuit there."""
    place = reading.ground
    east_nm, north_nm = (0.0, 0.0) if place is None else (place.east_nm, place.north_nm)
    away_nm = np.hypot(part.east_nm[:1] - east_nm, part.north_nm[:1] - north_nm)
    return bool(np.any(away_nm < STRAIGHT_IN_FROM_NM))


def _gap_after_the_passage(
    reading: Reading, number: int, start_s: float, end_s: float
) -> tuple[float, float] | None:
    """A gap that begins in the turn at the station and ends on the way back to it, with the time for both legs."""
    part = reading.view.between(start_s, end_s)
    cuts = np.flatnonzero(np.diff(part.segment) != 0)
    course_deg = reading.procedure.outbound_course_deg
    if not len(cuts) or course_deg is None:
        return None
    i, j = int(cuts[0]), int(cuts[0]) + 1
    gap_s, resumes_s = float(part.t_s[i]), float(part.t_s[j])
    reach_nm = (
        (resumes_s - gap_s) / SECONDS_PER_HOUR * float(max(part.groundspeed_kt[i], part.groundspeed_kt[j]))
    )
    farther_nm = float(part.distance_nm[j] - part.distance_nm[i])
    on_its_side = abs(float(difference_deg(part.radial_deg[j], course_deg))) <= OUT_OR_BACK_DEG
    comes_back = part.closing_kt[j] > 0.0 or abs(part.turn_rate_deg_s[j]) > TURNING_DEG_S
    possible = resumes_s - gap_s <= LONGEST_HIDING_S and reach_nm >= farther_nm
    if not (possible and on_its_side and comes_back):
        return None
    if farther_nm >= SHORT_OUT_NM and gap_s - start_s < HIDDEN_AFTER_S:
        return gap_s, resumes_s
    if gap_s - start_s > STILL_AT_IT_S or np.max(part.distance_nm[: i + 1]) > ABEAM_WITHIN_NM:
        return None
    away_nm = float(np.hypot(part.east_nm[j] - part.east_nm[i], part.north_nm[j] - part.north_nm[i]))
    went_round = resumes_s - gap_s >= ROUND_S and reach_nm >= ROUND_ABOUT * away_nm
    return (gap_s, resumes_s) if went_round and _only_a_final_follows(reading, number, resumes_s) else None


def _only_a_final_follows(reading: Reading, number: int, resumes_s: float) -> bool:
    """Whether the aircraft, seen again along the inbound course, comes down on the final from there, and begins no circuit.

    What a gap hid may else have been a hold's; a racetrack's circuits are all its own.
    """
    following = number + 1
    here = reading.view.between(resumes_s, resumes_s + ESTABLISHED_S)
    off_deg = np.abs(difference_deg(here.ground_track_deg, reading.procedure.inbound_course_deg))
    if not np.all(off_deg <= OUT_OR_BACK_DEG):
        return False
    if is_racetrack(reading.procedure) and circuit_again(reading, following, None) is not None:
        return True
    if not reading.procedure.station_on_aerodrome:
        return following < len(reading.crossings) and is_final(reading, reading.crossings[following])
    ending = ending_from(reading, resumes_s)
    return descends(reading, resumes_s, ending) and not flown_over(reading, number, ending)


def _from_the_turn_back(start_s: float, established: tuple[float, float], end_s: float) -> Circuit:
    """A circuit of which nothing before the turn back was seen."""
    return Circuit(
        outbound_start_s=start_s,
        outbound_end_s=start_s,
        reversal_start_s=start_s,
        turn_off_s=None,
        reversal_end_s=established[0],
        established_s=established[1] if established[0] == established[1] else None,
        inbound_start_s=established[1],
        end_s=end_s,
    )


def _flies_the_reversal(reading: Reading, following: Crossing) -> bool:
    """Whether the aircraft flies outbound after this crossing, and no final."""
    if resumed_in_reversal(reading, 0, -np.inf) is not None:
        return True
    if not reading.procedure.station_on_aerodrome:
        ending = ending_from(reading, following.exit_s)
        return not is_final(reading, following) or turns_back_late(reading, 0, ending)
    return circuit_after(reading, 0) is not None


def beyond_the_reversal(reading: Reading) -> bool:
    """Whether the log begins farther out than the published reversal goes.

    That is the distance published for it, or where its outbound leg ends if it is flown half as long again.
    """
    view, procedure = reading.view, reading.procedure
    reversal, distance_nm = procedure.reversal, float(view.distance_nm[0])
    if reversal is None:
        return False
    beyond_leg = distance_nm > farthest_nm(procedure, float(view.groundspeed_kt[0]), REVERSAL_NM)
    return beyond_leg or distance_nm > (reversal.within_nm or np.inf)


def _off_inbound_deg(view: StationView, procedure: Procedure) -> float:
    """How far the ground track stands off the inbound course where the log begins. [deg]"""
    return float(abs(difference_deg(view.ground_track_deg[0], procedure.inbound_course_deg)))


def _turning_back(view: StationView, procedure: Procedure, until_s: float) -> bool:
    """Whether the log begins in a turn back to the inbound course, or on the leg before it."""
    part = view.between(float(view.t_s[0]), until_s)
    off = np.abs(difference_deg(part.ground_track_deg, procedure.inbound_course_deg))
    turning = np.abs(part.turn_rate_deg_s[:START_TURN_S]) > TURNING_DEG_S
    return bool(len(off)) and bool(off[0] > 90.0 or (turning.any() and off[0] > START_OFF_DEG))


def _below_arrival(view: StationView, procedure: Procedure) -> bool:
    """Whether the log begins so far below the altitude to arrive at that the station was crossed before."""
    low_ft = procedure.low_ft(Phase.INBOUND)
    return low_ft is not None and bool(view.altitude_ft[0] < low_ft - BELOW_ARRIVAL_FT)


def _late_final(reading: Reading, start_s: float) -> FoundAttempt | None:
    """A log that begins on final, past the station."""
    procedure, view = reading.procedure, reading.view
    if procedure.station_on_aerodrome or len(view) < FINAL_LOOK_S:
        return None
    look = view.between(start_s, start_s + FINAL_LOOK_S)
    off = np.abs(difference_deg(look.ground_track_deg, final_course_deg(procedure)))
    beside = np.abs(difference_deg(look.radial_deg, final_course_deg(procedure)))
    ending = ending_from(reading, start_s)
    down = lands_there(reading, ending) and look.altitude_ft[0] - ending.lowest_ft >= FINAL_DESCENT_FT
    # down to the runway from higher than a circuit, the final may have been off its course before
    off_its_course = np.median(off) > LATE_OFF_DEG or np.median(beside) > LATE_OFF_DEG
    excused = down and np.median(off) <= ALONG_DEG and not in_the_circuit(look.altitude_ft, procedure)
    if (off_its_course and not excused) or look.distance_nm[0] > LATE_WITHIN_NM:
        return None
    descent_ft = FINAL_DESCENT_FT if ending.how == "end of log" else LATE_DESCENT_FT
    if not look.altitude_ft[0] - ending.lowest_ft >= descent_ft and not _level_at_the_minimum(
        view.between(start_s, ending.final_end_s), procedure, ending
    ):
        return None
    draft = Draft(reading, -np.inf)
    draft.end(start_s, ending)
    return draft.found()


def _level_at_the_minimum(final: StationView, procedure: Procedure, ending: Ending) -> bool:
    """Whether a final that the log joins is the last of one: along the minimum for some time, up to the climb away."""
    minimum_ft = procedure.low_ft(Phase.FINAL)
    if minimum_ft is None or ending.how != "missed approach" or len(final) < AT_THE_MINIMUM_S:
        return False
    return bool(np.max(np.abs(final.altitude_ft - minimum_ft)) <= WITHIN_MINIMUM_FT)


def hidden_on_the_way(reading: Reading, first: Crossing | None, done_s: float) -> FoundAttempt | None:
    """An approach of which a gap, begun on the way to the station, hides all up to its final, the landing or the climb away."""
    if first is None or not first.hidden or first.entry_s <= done_s or reading.procedure.reversal is None:
        return None
    gap = next(iter(gaps_after(reading, first.entry_s, first.exit_s)), None)
    if gap is None or (ending := seen_again(reading, *gap)) is None:
        return None
    before_ft = reading.view.between(max(done_s, gap[0] - FINAL_LOOK_S), gap[0]).altitude_ft
    if in_the_circuit(before_ft, reading.procedure):
        return None  # round the aerodrome by eye
    if ending.how == "missed approach" and ending.final_end_s <= gap[1]:
        return None  # between a flight to the station and a climb anything may have been flown
    draft = Draft(reading, done_s)
    draft.inbound(first.entry_s)
    draft.passage(first)
    for leg in (Phase.OUTBOUND, Phase.COURSE_REVERSAL):
        draft.hidden(leg, first)
    draft.end(gap[1], ending)
    return draft.found()


def turns_back_late(reading: Reading, number: int, ending: Ending) -> bool:
    """Whether an aircraft that overflew the station along the final course turned back to it for the reversal.

    It never came lower than the outbound leg allows: that descent is the way to that leg's altitude, and no final.
    """
    low_ft = reading.procedure.low_ft(Phase.OUTBOUND)
    if ending.how != "broken off" or low_ft is None or not ending.lowest_ft >= low_ft - KEPT_UP_FT:
        return False
    later = (number, number + 1)  # abeam of the station, or over it again
    return any(n < len(reading.crossings) and circuit_after(reading, n) is not None for n in later)


def flown_over(reading: Reading, number: int, ending: Ending) -> bool:
    """Whether the aircraft crosses the station before this ending, to fly the reversal."""
    following = number + 1
    if following >= len(reading.crossings) or reading.crossings[following].exit_s >= ending.final_end_s:
        return False
    over_ft = float(reading.at(np.array([reading.crossings[following].entry_s])).altitude_ft[0])
    low_ft = reading.procedure.low_ft(Phase.OUTBOUND)
    if low_ft is not None and over_ft < low_ft - FINAL_DESCENT_FT:
        return False  # down on the final already: what it flies outbound after it is another approach
    hidden = resumed_in_reversal(reading, following, -np.inf)
    return hidden is not None or circuit_after(reading, following) is not None
