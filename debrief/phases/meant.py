"""Whether what was found is an approach at all, or airwork, a hold or a flight past the station that looks like one.

Owns      ``means_the_station``, ``came_down_on_final``.
Not here  the shape of a reversal (``holding``, ``circuit``); what may precede an outbound leg (``attempts``).
Source    DEVELOPERS.md, "Definitions": what an attempt is.
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.circuit import (
    BEGUN_DESCENT_FT,
    CIRCUIT_FT,
    REVERSAL_NM,
    farthest_nm,
    turned_back,
)
from debrief.phases.finals import FINAL_DESCENT_FT, Reading, came_down_ft, ending_from, goes_straight_on
from debrief.phases.model import Floats, FoundAttempt, Span, StationView, Turn
from debrief.phases.on_course import (
    OUTBOUND_TRACK_WIDE_DEG,
    STEADY_DEG_S,
    has_two_turns,
    intercept_mask,
    is_racetrack,
)
from debrief.procedures.model import Phase, Procedure

ANOTHER_COURSE_DEG = 45.0
ON_RADIAL_DEG, ON_RADIAL_S = 10.0, 20.0  # full scale of the needle, and longer than it takes to cross it
CIRCLING_DEG, TWO_CIRCLES_DEG = 90.0, 700.0
CIRCLE_DEG = 300.0  # an 80/260 turns 260 degrees in one turn
BEYOND_NM, BESIDE_NM = 15.0, 2.0
SETTLED_S = 20.0
EARLY_TURN_S = 90.0  # before the station: some seconds along the inbound course, and half a turn
ELSEWHERE_NM = 5.0  # beyond the published limit; a reversal flown too far out, by a mile or three, is one
LEVEL_FINAL_S = 40.0  # without a descent from the station on, nobody is on final


def means_the_station(reading: Reading, found: FoundAttempt) -> bool:
    """Whether it met the procedure anywhere: came back to the course, came down, passed the station, flew the radial.

    Elsewhere, going out about in the right direction and turning round is no approach. What a gap hides may have.
    """
    if _circles_about(found):
        return False
    if came_down_on_final(reading, found):
        return True
    if _established(found):
        return not _goes_elsewhere(reading, found)
    if _flies_away(reading, found) or _crosses_at_its_height(reading, found):
        return False
    if not _goes_out_and_back(reading, found) or _left_at_its_height(reading, found):
        return False
    if found.ending in ("landing", "missed approach") and _came_down_ft(reading, found) >= FINAL_DESCENT_FT:
        return True
    if any(not passage.missed for passage in found.passages):
        return not _back_on_another_course(reading, found)
    if any(missing.why == "not observed" and missing.start_s is not None for missing in found.not_seen):
        return True
    course_deg, outbound = reading.procedure.outbound_course_deg, found.last(Phase.OUTBOUND)
    if course_deg is None or outbound is None or is_racetrack(reading.procedure):
        return False
    if found.ending == "end of log" and has_two_turns(reading.procedure) and _turns_back_the_other_way(found):
        return True  # begun before the log was, it shows its shape
    on_radial = np.abs(difference_deg(_flown(reading, outbound).radial_deg, course_deg)) <= ON_RADIAL_DEG
    return float(np.count_nonzero(on_radial)) >= ON_RADIAL_S


def _flown(reading: Reading, span: Span) -> StationView:
    return reading.view.between(span.start_s, span.end_s)


def _circles_about(found: FoundAttempt) -> bool:
    """Whether it turns round and round where it should fly along the inbound or the final course.

    Swings through the course are a bad approach, however many: a circle turns by right angles and more.
    """
    return any(
        sum(
            abs(turn.change_deg)
            for turn in found.turns
            if span.start_s <= turn.start_s < span.end_s and abs(turn.change_deg) >= CIRCLING_DEG
        )
        > TWO_CIRCLES_DEG
        for span in found.spans
        if span.phase in (Phase.INTERMEDIATE, Phase.FINAL)
    )


def _established(found: FoundAttempt) -> bool:
    """Whether it came to the inbound course to stay: a circle crosses it, and is along it for some seconds."""
    established_s = found.established_s
    return established_s is not None and not any(
        turn.start_s < established_s < turn.end_s and abs(turn.change_deg) > CIRCLE_DEG
        for turn in found.turns
    )


def came_down_on_final(reading: Reading, found: FoundAttempt) -> bool:
    """Whether its final was one: it came down, or ended no higher than a circuit; of an unknown altitude, whether it led on."""
    final = found.last(Phase.FINAL)
    if final is None:
        return False
    ending = ending_from(reading, final.start_s)
    height_ft = _flown(reading, final).altitude_ft
    highest_ft = float(np.nanmax(height_ft, initial=-np.inf))
    if np.isnan(ending.lowest_ft):
        return goes_straight_on(reading, final.start_s, ending)
    if ending.how == "landing" or not np.isfinite(highest_ft):
        return True
    low = ending.lowest_ft < reading.procedure.ground_ft + CIRCUIT_FT
    return low or highest_ft - ending.lowest_ft >= FINAL_DESCENT_FT


def _goes_elsewhere(reading: Reading, found: FoundAttempt) -> bool:
    """Whether it went so far out that no reversal was meant: a flight to somewhere along the radial, and back."""
    reversal = reading.procedure.reversal
    out_and_back = (Phase.OUTBOUND, Phase.COURSE_REVERSAL)
    flown = [_flown(reading, span) for span in found.spans if span.phase in out_and_back]
    limit_nm = ((reversal.within_nm if reversal is not None else None) or BEYOND_NM) + ELSEWHERE_NM
    return any(len(leg) and float(np.max(leg.distance_nm)) > limit_nm for leg in flown)


def _flies_away(reading: Reading, found: FoundAttempt) -> bool:
    """Whether the log ends in a reversal that had turned back, and left again without coming to station or course."""
    last = found.spans[-1]
    if last.phase is not Phase.COURSE_REVERSAL or found.ending != "end of log":
        return False
    part = _flown(reading, last)
    back = turned_back(part, reading.procedure)
    if back is None:
        return False
    away = part.closing_kt < 0.0
    nearing = np.flatnonzero(~away)
    return float(part.t_s[-1] - part.t_s[nearing[-1]]) >= SETTLED_S if len(nearing) else False


def _crosses_at_its_height(reading: Reading, found: FoundAttempt) -> bool:
    """Whether it passed the station again, never established, and flew on as high as it came: airwork beside it."""
    final = found.last(Phase.FINAL)
    if final is None or found.ending != "end of log" or final.end_s - final.start_s < LEVEL_FINAL_S:
        return False
    if not any(span.phase is Phase.COURSE_REVERSAL for span in found.spans):
        return False
    return _came_down_ft(reading, found) < BEGUN_DESCENT_FT


def _came_down_ft(reading: Reading, found: FoundAttempt) -> float:
    return came_down_ft(reading, found.spans[0].start_s, found.spans[-1].end_s)


def _left_at_its_height(reading: Reading, found: FoundAttempt) -> bool:
    """Whether it left, never established and never lower, and not after a reversal of two turns, which tells itself."""
    if found.ending != "broken off" or (has_two_turns(reading.procedure) and _turned_both_ways(found)):
        return False
    return _came_down_ft(reading, found) < BEGUN_DESCENT_FT


def _turned_both_ways(found: FoundAttempt) -> bool:
    """Whether the last reversal began with a turn the other way than the one back; so it may where no turn back is seen."""
    reversal = found.last(Phase.COURSE_REVERSAL)
    return reversal is None or not _turns_in(found, reversal) or _turns_back_the_other_way(found)


def _turns_back_the_other_way(found: FoundAttempt) -> bool:
    """Whether the last reversal shows a turn, and after it a greater one the other way."""
    reversal = found.last(Phase.COURSE_REVERSAL)
    turns = [] if reversal is None else _turns_in(found, reversal)
    back = max(turns, key=lambda turn: abs(turn.change_deg), default=None)
    return back is not None and any(
        turn.start_s < back.start_s and turn.change_deg * back.change_deg < 0.0 for turn in turns
    )


def _turns_in(found: FoundAttempt, span: Span) -> list[Turn]:
    """The turns of which it holds more than the end."""
    return [turn for turn in found.turns if span.start_s < turn.end_s - 1.0 and turn.start_s < span.end_s]


def _goes_out_and_back(reading: Reading, found: FoundAttempt) -> bool:
    """Whether what never came to the inbound course was an outbound leg and the turn back, as far as it was seen.

    It may have been a flight along another radial, a circle at airwork, or a way to somewhere else.
    """
    legs = [span for span in found.spans if span.phase is Phase.OUTBOUND]
    course_deg, reversal = reading.procedure.outbound_course_deg, reading.procedure.reversal
    if not legs or course_deg is None or reversal is None:
        return True
    # one for spacing may be flown by who has come from over the station, and down from there
    began = found.passages[:1] and not found.passages[0].missed and found.spans[0].phase is Phase.INBOUND
    spaced = bool(began) and _came_down_ft(reading, found) >= FINAL_DESCENT_FT
    circles = not spaced and any(
        abs(turn.change_deg) > CIRCLE_DEG and span.start_s <= turn.start_s <= span.end_s
        for turn in found.turns
        for span in found.spans
        if span.phase in (Phase.OUTBOUND, Phase.COURSE_REVERSAL)
    )
    flown = [_flown(reading, leg) for leg in legs]
    limit_nm = (reversal.within_nm or BEYOND_NM) + BESIDE_NM
    beyond = any(
        len(leg)
        and np.max(leg.distance_nm)
        > min(limit_nm, farthest_nm(reading.procedure, float(np.median(leg.groundspeed_kt)), REVERSAL_NM))
        for leg in flown
    )
    return not (
        circles or beyond or (_elsewhere(flown, reading.procedure) and not _ends_there(reading, found))
    )


def _ends_there(reading: Reading, found: FoundAttempt) -> bool:
    """Whether it passed the station and came back down to a landing or a climb away: then it flew on a wrong radial."""
    ended = found.ending in ("landing", "missed approach") and any(not each.missed for each in found.passages)
    return ended and _came_down_ft(reading, found) >= FINAL_DESCENT_FT


def _elsewhere(flown: list[StationView], procedure: Procedure) -> bool:
    """Whether the steady part of an outbound leg leads another way than the outbound course.

    Not where the aircraft flew back to its radial for longer: that was meant.
    """
    off_deg = np.abs(np.concatenate([_off_the_way_out_deg(leg, procedure) for leg in flown]))
    steady_s = sum(int(np.count_nonzero(np.abs(leg.turn_rate_deg_s) < STEADY_DEG_S)) for leg in flown)
    if not len(off_deg) > max(SETTLED_S, steady_s - len(off_deg)):
        return False
    return bool(np.median(off_deg) > OUTBOUND_TRACK_WIDE_DEG)


def _off_the_way_out_deg(leg: StationView, procedure: Procedure) -> Floats:
    """How far the steady ground track stands off the outbound course, but for an intercept of its radial. [deg]"""
    off_deg = difference_deg(leg.ground_track_deg, procedure.outbound_course_deg or 0.0)
    return np.asarray(off_deg[(np.abs(leg.turn_rate_deg_s) < STEADY_DEG_S) & ~intercept_mask(leg, procedure)])


def _back_on_another_course(reading: Reading, found: FoundAttempt) -> bool:
    """Whether the aircraft came back to the station, and went on, along another course than the inbound: a hold there."""
    reversal = found.last(Phase.COURSE_REVERSAL)
    if not is_racetrack(reading.procedure):
        return False  # a reversal of two turns tells itself from a hold
    back = [p for p in found.passages if reversal is not None and p.t_s > reversal.start_s]
    if not back or found.last(Phase.INTERMEDIATE) is not None:
        return False
    way = reading.view.between(back[-1].t_s - EARLY_TURN_S, back[-1].t_s)
    off_deg = np.abs(difference_deg(way.ground_track_deg, reading.procedure.inbound_course_deg))
    if off_deg[-1] <= ANOTHER_COURSE_DEG:
        return False
    # who turns outbound too early comes over the station in that turn
    steady = np.abs(way.turn_rate_deg_s) < STEADY_DEG_S
    came_along = np.count_nonzero(steady & (off_deg <= ANOTHER_COURSE_DEG) & (way.closing_kt > 0.0))
    return bool(came_along < SETTLED_S)
