"""From an outbound leg on: further circuits, and the end of the attempt.

Owns      the stretches between passages, and ``follow``.
Not here  approaches that begin otherwise (``partial``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.phases.after_gap import gaps_after, seen_again
from debrief.phases.circuit import BEGUN_DESCENT_FT, BEGUN_UNTIL_S, Circuit, read_circuit, turned_back
from debrief.phases.draft import Draft
from debrief.phases.ending import Ending
from debrief.phases.finals import (
    FINAL_DESCENT_FT,
    FINAL_LOOK_S,
    Reading,
    came_down_ft,
    descends,
    ending_from,
    goes_straight_on,
    is_final,
    lands_there,
)
from debrief.phases.model import FoundAttempt
from debrief.phases.on_course import find_established
from debrief.procedures.model import Phase

NEAR_MINIMUM_FT = (
    200.0  # lower than this above the minimum over the station, the approach has come to its end
)
BACK_WITHIN_S = 300.0  # from the turn back to the station: 5 NM at 60 kt over the ground
OVER_THE_AERODROME_NM = 3.0  # who comes back so near and climbs away there was too high to go on


def stretch_after(reading: Reading, number: int, done_s: float) -> tuple[float, float]:
    """The stretch after crossing ``number`` (-1: before the first), not before ``done_s``."""
    start_s = reading.crossings[number].exit_s if number >= 0 else float(reading.view.t_s[0])
    following = number + 1
    last_s = float(reading.view.t_s[-1])
    end_s = reading.crossings[following].entry_s if following < len(reading.crossings) else last_s
    return max(start_s, done_s), end_s


def follow(reading: Reading, draft: Draft, circuit: Circuit, number: int) -> FoundAttempt | None:
    """From an outbound leg and its reversal on, through further circuits, to the end of the attempt."""
    while True:
        if circuit.into_gap:
            draft.finish_in_gap(circuit)
            break
        following = reading.crossings[number + 1] if number + 1 < len(reading.crossings) else None
        if reading.procedure.station_on_aerodrome:
            ending = ending_at_aerodrome(reading, circuit)
            again = circuit_again(reading, number + 1, ending)
            if again is None or following is None:
                draft.finish_at_aerodrome(circuit, ending)
                break
        elif following is None:
            ending = ending_never_established(reading, circuit)
            if ending is not None:
                draft.finish_never_established(ending)
            else:
                draft.finish_before_station(circuit)
            break
        else:
            again = None if is_final(reading, following) else circuit_again(reading, number + 1, None)
            if again is None:
                draft.finish_after_station(circuit, following)
                break
        draft.next_circuit(circuit, following, again)
        number, circuit = number + 1, again
    return draft.found()


def ending_at_aerodrome(reading: Reading, circuit: Circuit) -> Ending | None:
    """How the approach ends once it is established; never established, only where it landed or climbed away.

    The way down to that is looked for from where the aircraft has turned back.
    """
    if circuit.inbound_start_s is not None:
        return ending_from(reading, circuit.inbound_start_s)
    return ending_never_established(reading, circuit)


def ending_never_established(reading: Reading, circuit: Circuit) -> Ending | None:
    """Where an aircraft that was never established landed or climbed away, with no passage before it."""
    if circuit.inbound_start_s is not None or circuit.reversal_start_s is None:
        return None
    view = reading.view.between(circuit.reversal_start_s, circuit.end_s)
    back = turned_back(view, reading.procedure)
    if back is None:
        return None
    ending = ending_from(reading, float(view.t_s[back]))
    low = _near_minimum_ft(reading, ending.lowest_ft) or below_the_reversal(reading, ending.lowest_ft)
    away_nm = float(reading.at(np.array([ending.final_end_s])).distance_nm[0])
    low |= reading.procedure.station_on_aerodrome and away_nm <= OVER_THE_AERODROME_NM
    return ending if low and (ending.how == "missed approach" or lands_there(reading, ending)) else None


def below_the_reversal(reading: Reading, lowest_ft: float) -> bool:
    """Whether it came so far below what is published for the reversal that it was on its way down the final."""
    low_ft = reading.procedure.low_ft(Phase.COURSE_REVERSAL)
    return low_ft is not None and lowest_ft < low_ft - FINAL_DESCENT_FT


def circuit_after(reading: Reading, number: int, done_s: float = -np.inf) -> Circuit | None:
    """The circuit flown after crossing ``number`` (not before ``done_s``), ``None`` where there is none."""
    start_s, end_s = stretch_after(reading, number, done_s)
    circuit = read_circuit(
        reading.view,
        reading.at,
        reading.procedure,
        reading.turns,
        start_s,
        end_s,
        log_ends=number + 1 >= len(reading.crossings) or _into_a_gap(reading, number + 1),
        begins="attempt" if done_s >= start_s else "passage" if number >= 0 else "log",
    )
    circuit = circuit or _begun_before_a_gap(reading, number, start_s, end_s)
    circuit = (
        _until_the_gap(reading, number, circuit)
        if circuit
        else _into_any_gap(reading, number, start_s, end_s)
    )
    if circuit is not None and circuit.over_station and not _leads_on(reading, number + 1):
        return None
    return circuit


def _into_a_gap(reading: Reading, following: int) -> bool:
    """Whether a gap hides the next passage, and a final is seen after it: then it may hide the reversal, too."""
    crossing = reading.crossings[following]
    return crossing.hidden and is_final(reading, crossing)


def _begun_before_a_gap(reading: Reading, number: int, start_s: float, end_s: float) -> Circuit | None:
    """A circuit begun after crossing ``number`` of which a gap hides the turn back, where the next passage leads on."""
    following = number + 1
    if not 0 < following < len(reading.crossings):
        return None
    part = reading.view.between(start_s, end_s)
    for i in np.flatnonzero(np.diff(part.segment) != 0):
        gap_s, resumes_s = float(part.t_s[i]), float(part.t_s[i + 1])
        begun = _begun_until(reading, start_s, gap_s)
        if begun is not None and _leads_on(reading, following):
            return _gone_on(reading, begun, resumes_s, end_s)
    return None


def _into_any_gap(reading: Reading, number: int, start_s: float, end_s: float) -> Circuit | None:
    """A circuit begun after crossing ``number`` of which a long gap hides the way on: there the approach ends, as a log may."""
    for gap_s, _ in gaps_after(reading, start_s, end_s)[:1] if number >= 0 else []:
        begun = _begun_until(reading, start_s, gap_s)
        if begun is not None and _plainly_begun(reading, number, begun, gap_s):
            return replace(begun, end_s=gap_s, into_gap=True)
    return None


def _begun_until(reading: Reading, start_s: float, gap_s: float) -> Circuit | None:
    """A circuit begun at the station and cut by a gap, read as a log that ends there."""
    view, at, procedure, turns = reading.view, reading.at, reading.procedure, reading.turns
    return read_circuit(view, at, procedure, turns, start_s, gap_s, log_ends=True, begins="passage")


def _plainly_begun(reading: Reading, number: int, begun: Circuit, gap_s: float) -> bool:
    """Whether a leg that leads into a gap comes from the station, not long ago, and comes down."""
    lately = gap_s - begun.outbound_start_s <= BEGUN_UNTIL_S and not reading.crossings[number].missed
    return lately and came_down_ft(reading, reading.crossings[number].entry_s, gap_s) >= BEGUN_DESCENT_FT


def _until_the_gap(reading: Reading, number: int, circuit: Circuit) -> Circuit:
    """A circuit as far as the gap after which the aircraft does not come back to the station any more, or has been there."""
    following = reading.crossings[number + 1] if number + 1 < len(reading.crossings) else None
    over_the_aerodrome = reading.procedure.station_on_aerodrome and following is not None and following.hidden
    if (
        circuit.inbound_start_s is not None
        or (following is None and circuit.reversal_start_s is None)
        or ending_never_established(reading, circuit) is not None
    ):
        return circuit
    from_s = circuit.outbound_end_s if circuit.reversal_start_s is None else circuit.reversal_start_s
    for gap_s, resumes_s in gaps_after(reading, from_s, circuit.end_s)[:1]:
        away = following is None and reading.at(np.array([resumes_s])).closing_kt[0] < 0.0
        later = circuit.reversal_start_s is not None and circuit.end_s - resumes_s > BACK_WITHIN_S
        on = (following is None or over_the_aerodrome) and seen_again(reading, gap_s, resumes_s) is not None
        if away or later or on:
            until_s = None if circuit.reversal_start_s is None else gap_s
            return replace(circuit, reversal_end_s=until_s, end_s=gap_s, into_gap=True)
    return circuit


def _gone_on(reading: Reading, begun: Circuit, resumes_s: float, end_s: float) -> Circuit:
    """A circuit seen up to a gap, with what is seen of its reversal and of the way back after that."""
    established = find_established(reading.view, reading.at, reading.procedure, resumes_s, end_s)
    until_s = established[0] if established is not None else end_s
    return replace(
        begun,
        reversal_start_s=resumes_s if begun.reversal_start_s is None else begun.reversal_start_s,
        reversal_end_s=until_s if until_s > resumes_s else begun.end_s,
        established_s=until_s if established is not None and until_s > resumes_s else None,
        inbound_start_s=established[1] if established is not None else None,
        end_s=end_s,
    )


def _leads_on(reading: Reading, following: int) -> bool:
    """Whether a final that comes down, or a further circuit, follows a turn back that led over the station."""
    crossing = reading.crossings[following]
    if not is_final(reading, crossing):
        return circuit_again(reading, following, None) is not None
    ending = ending_from(reading, crossing.exit_s)
    return ending.how != "end of log" or descends(reading, crossing.exit_s, ending)


def circuit_again(reading: Reading, number: int, ending: Ending | None) -> Circuit | None:
    """A further circuit after crossing ``number``, unless the approach has ended before."""
    if number >= len(reading.crossings):
        return None
    crossing = reading.crossings[number]
    if (
        ending is not None
        and ending.how in ("landing", "missed approach")
        and ending.final_end_s < crossing.exit_s + FINAL_LOOK_S
    ):
        return None
    if ending is not None and _near_minimum(reading, crossing.exit_s):
        return None
    if ending is not None and np.isnan(ending.lowest_ft) and goes_straight_on(reading, crossing.t_s, ending):
        return None
    return circuit_after(reading, number)


def _near_minimum(reading: Reading, before_s: float) -> bool:
    lowest = reading.view.between(before_s - FINAL_LOOK_S, before_s).altitude_ft
    return bool(len(lowest)) and _near_minimum_ft(reading, float(np.nanmin(lowest, initial=np.inf)))


def _near_minimum_ft(reading: Reading, lowest_ft: float) -> bool:
    leg = reading.procedure.final
    if leg is None or leg.altitude is None or leg.altitude.low_ft is None:
        return False
    return lowest_ft < leg.altitude.low_ft + NEAR_MINIMUM_FT
