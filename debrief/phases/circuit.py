"""Outbound, reversal, established: reading one stretch between two passages of the station.

Owns      ``read_circuit``: whether a stretch holds an outbound leg and a course reversal, and where they turn.
Not here  the turn off between the two (``turn_off``), what is outbound, inbound and established (``on_course``),
          passages and endings (``events``, ``ending``), joining stretches to attempts (``attempts``).
Source    DEVELOPERS.md, "Definitions": course reversal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.begun import at_its_altitude, turns_outbound
from debrief.phases.events import (
    ABEAM_WITHIN_NM,
    MISSED_BEYOND_NM,
    ROUND_DEG,
    SHORTEST_OUT_NM,
    At,
    Mask,
    runs,
    went_round,
)
from debrief.phases.model import Floats, StationView, Turn
from debrief.phases.on_course import (
    INBOUND_TRACK_DEG,
    OUTBOUND_TRACK_DEG,
    OUTBOUND_TRACK_WIDE_DEG,
    STEADY_DEG_S,
    find_established,
    has_two_turns,
    inbound_mask,
    intercept_mask,
    is_racetrack,
    offset_mask,
    outbound_mask,
)
from debrief.phases.turn_off import find_turn_off
from debrief.phases.turns import TURN_AT_LEAST_DEG, TURNING_DEG_S
from debrief.procedures.model import Procedure

OUTBOUND_AT_LEAST_S = 12.0
ELSEWHERE_S = 30.0  # so long steady, 40 degrees or more off the outbound course, is a leg of its own
INBOUND_AT_LEAST_S = 5.0
SHORT_SHARE = 0.2  # of the published outbound distance, or less than a minute at 40 kt: no leg
TOO_LOW_FT = 900.0
CIRCUIT_FT = 1500.0  # above the aerodrome: no circuit is flown higher. Mark: common practice
BELOW_ALL_FT = 400.0  # more than a wrong altimeter setting, or a descent begun too early
TURN_ROUND_S = 180.0  # from the station to steady outbound, a turn of 180 degrees and an intercept included
WITHIN_NM = 15.0
FARTHEST_NM = 30.0  # what goes beyond is no reversal flown too far out, but a flight to somewhere else
LONGEST_REVERSAL_S = 900.0  # as it was observed
#: In a reversal: an 80/260 turns 340 degrees, one circle for spacing is 360, and a quarter is a pilot's corrections.
MOST_TURNED_DEG = 790.0
TURNS_ON_S = 90.0  # past the station: half a circle at two thirds of the standard rate
BEGUN_S = 15.0
BEGUN_UNTIL_S = 600.0
BEGUN_FROM_S = 60.0  # before the stretch: over the station some aircraft are on their way down already
BEGUN_DESCENT_FT = 100.0
AIRBORNE_KT = 45.0
AIRBORNE_FT = 400.0  # above the aerodrome: more than an altimeter's error
BEGUN_WITHIN_DEG = 15.0
BEGUN_BEYOND_NM = 1.5  # and not yet turned off: at 100 kt, a minute more than half as long again
LONG_SHARE = 1.5  # of the published outbound length
REVERSAL_NM = 3.0  # beyond the outbound leg: a minute at 45 degrees and the turn back. Mark: common practice


Beginning = Literal["passage", "log", "attempt"]  # of a stretch; "attempt": the end of another one


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """One outbound and its reversal. Times in seconds; ``None`` where it lies in a gap or was not reached."""

    outbound_start_s: float
    outbound_end_s: float  # last moment seen outbound: the turn off, or the edge of the gap that hides it
    reversal_start_s: float | None  # first moment seen in the reversal
    turn_off_s: float | None  # the turn off itself, where observed
    # established, or the edge of the gap that hides it, or the end of the stretch
    reversal_end_s: float | None
    established_s: float | None  # observed
    inbound_start_s: float | None  # first moment seen established, after a gap that hid it
    end_s: float  # of the stretch read
    over_station: bool = False  # the turn back led over the station or beside it, and was ended beyond
    into_gap: bool = False  # a gap, in which it ends, hides the way on


def published_length_nm(procedure: Procedure, groundspeed_kt: float) -> float:
    """How far out the published outbound leg goes, at this speed where it is timed."""
    leg = procedure.outbound
    if leg is None or leg.length is None:
        return 0.0
    if leg.length.dme_nm is not None:
        return leg.length.dme_nm
    return (leg.length.minutes or 0.0) / 60.0 * groundspeed_kt


def farthest_nm(procedure: Procedure, groundspeed_kt: float, beyond_nm: float) -> float:
    """How far out an outbound leg goes that is flown half as long again as published, and so much on; ``inf`` unknown."""
    length_nm = published_length_nm(procedure, groundspeed_kt)
    if not length_nm and is_racetrack(procedure) and procedure.reversal is not None:
        length_nm = (procedure.reversal.leg_seconds or 0.0) / SECONDS_PER_HOUR * groundspeed_kt
    return LONG_SHARE * length_nm + beyond_nm if length_nm > 0.0 else float("inf")


def read_circuit(
    view: StationView,
    at: At,
    procedure: Procedure,
    turns: Sequence[Turn],
    start_s: float,
    end_s: float,
    *,
    log_ends: bool,
    begins: Beginning,
) -> Circuit | None:
    """Read the stretch between two passages (or the edges of the log) as outbound leg and reversal.

    Parameters
    ----------
    turns : all turns of the flight of 15 degrees and more, in order.
    begins : what the stretch begins with.
    log_ends : whether the log ends with this stretch, so that what was only begun counts.

    Returns
    -------
    ``None`` where the stretch holds no such thing: an overflight, a circuit of the aerodrome, a departure.
    """
    part = view.between(start_s, end_s)
    if len(part) < OUTBOUND_AT_LEAST_S or procedure.outbound_course_deg is None:
        return None
    tries = (
        outbound_mask(part, procedure, OUTBOUND_TRACK_DEG),
        outbound_mask(part, procedure, OUTBOUND_TRACK_WIDE_DEG),
        offset_mask(part, procedure),
        outbound_mask(part, procedure, INBOUND_TRACK_DEG, steady=False),  # never settled on the way out
    )
    out = next((mask for mask in tries if np.count_nonzero(mask) >= OUTBOUND_AT_LEAST_S), None)
    if out is not None and out is tries[-1] and not has_two_turns(procedure):
        elsewhere = part.where(out & ~intercept_mask(part, procedure))
        if _settled_s(elsewhere) > ELSEWHERE_S:
            return None  # it settled on another course
    over_station = False
    if is_racetrack(procedure) and not procedure.station_on_aerodrome and not log_ends:
        abeam = out if out is not None else _along_the_way_out(part, procedure)
        if out is None or turned_back(part, procedure) is None:
            over_station = _turns_back_over_station(view, procedure, part, abeam)
        out = abeam if over_station else out
    if out is None:
        arriving = view.between(start_s - BEGUN_FROM_S, start_s)
        turning = log_ends and begins == "passage" and turns_outbound(arriving, part, procedure)
        return _only_begun(start_s, end_s) if turning and not _too_low(part.altitude_ft, procedure) else None
    if _taxiing(part.where(out), procedure):
        return None
    first_out = int(np.argmax(out))
    back = turned_back(part, procedure, first_out)
    if over_station and back is None:
        back = len(part) - 1
    if _too_low(part.altitude_ft[:back][out[:back]], procedure):
        return None  # a circuit of the aerodrome
    speed_kt = float(np.median(part.groundspeed_kt[out]))
    needed_nm = max(SHORTEST_OUT_NM, SHORT_SHARE * published_length_nm(procedure, speed_kt))
    outbound_start_s = _outbound_start(part, procedure, first_out, start_s, begins)
    if back is None:
        arriving = view.between(start_s - BEGUN_FROM_S, start_s)
        begun = _begun(
            part, procedure, turns, out, start_s, end_s, needed_nm, arriving.altitude_ft, log_ends=log_ends
        )
        if begun is None and log_ends and begins == "passage" and turns_outbound(arriving, part, procedure):
            begun = _only_begun(start_s, float(part.t_s[-1]))
        return begun and replace(begun, outbound_start_s=outbound_start_s)
    if not needed_nm <= float(np.max(part.distance_nm[: back + 1])) <= FARTHEST_NM:
        return None
    last_out = int(np.flatnonzero(out[: back + 1])[-1])
    from_station = begins == "passage" or float(part.distance_nm[0]) < MISSED_BEYOND_NM
    outbound_end_s, reversal_start_s, turn_off_s = find_turn_off(
        part, procedure, turns, outbound_start_s, last_out, back, from_station=from_station
    )
    established = find_established(view, at, procedure, reversal_start_s, end_s)
    reversal = part.between(float(part.t_s[last_out]), established[1] if established else end_s)
    if np.count_nonzero(reversal.groundspeed_kt > AIRBORNE_KT) > LONGEST_REVERSAL_S:
        return None  # it flew elsewhere, and came back one day
    if _roams(reversal):
        return None
    return Circuit(
        outbound_start_s=outbound_start_s,
        outbound_end_s=outbound_end_s,
        reversal_start_s=reversal_start_s,
        turn_off_s=turn_off_s,
        reversal_end_s=established[0] if established else end_s,
        established_s=established[1] if established and established[0] == established[1] else None,
        inbound_start_s=established[1] if established else None,
        end_s=end_s,
        over_station=over_station,
    )


def _settled_s(part: StationView) -> float:
    """How long the aircraft flies without turning; an entry of the grid is a second."""
    return float(np.count_nonzero(np.abs(part.turn_rate_deg_s) < STEADY_DEG_S))


def _along_the_way_out(part: StationView, procedure: Procedure) -> Mask:
    """Moments along the outbound course, still before the station where the wind has blown the turn at it so far."""
    off_deg = difference_deg(part.ground_track_deg, procedure.outbound_course_deg or 0.0)
    mask: Mask = np.abs(off_deg) <= OUTBOUND_TRACK_DEG
    return mask


def _turns_back_over_station(view: StationView, procedure: Procedure, part: StationView, out: Mask) -> bool:
    """Whether a racetrack's turn inbound is still flown where the stretch ends at the station, and ends inbound.

    A short outbound leg against the wind is blown back so far that the aircraft comes over the station, or abeam of
    it, before it has turned round. With the station on the aerodrome no final begins like that.
    """
    if np.count_nonzero(out) < OUTBOUND_AT_LEAST_S:
        return False
    last_out_s, end_s = float(part.t_s[np.flatnonzero(out)[-1]]), float(part.t_s[-1])
    turn = view.between(last_out_s, end_s + TURNS_ON_S)
    off_deg = np.abs(difference_deg(turn.ground_track_deg, procedure.inbound_course_deg))
    inbound = next(
        (
            a
            for a, b in runs(off_deg <= INBOUND_TRACK_DEG, turn.segment)
            if turn.t_s[b - 1] - turn.t_s[a] >= INBOUND_AT_LEAST_S
        ),
        None,
    )
    if not inbound or turn.segment[inbound] != turn.segment[0]:
        return False
    track_deg = turn.ground_track_deg[: inbound + 1]
    turned_deg = abs(float(np.sum(difference_deg(track_deg[1:], track_deg[:-1]))))
    return turned_deg < ROUND_DEG and turned_deg >= TURNING_DEG_S * float(turn.t_s[inbound] - turn.t_s[0])


def _roams(reversal: StationView) -> bool:
    """Whether the aircraft circles about, as at airwork, rather than turn back to the inbound course."""
    turning = np.abs(reversal.turn_rate_deg_s)  # a second each
    return bool(np.sum(turning[turning > TURNING_DEG_S]) > MOST_TURNED_DEG)


def _taxiing(part: StationView, procedure: Procedure) -> bool:
    """Whether the aircraft moves on the ground: slowly, and not high above it, for a headwind leaves little speed."""
    if float(np.median(part.groundspeed_kt)) >= AIRBORNE_KT:
        return False
    known = part.altitude_ft[np.isfinite(part.altitude_ft)]
    return not len(known) or float(np.median(known)) < procedure.ground_ft + AIRBORNE_FT


def in_the_circuit(altitude_ft: Floats, procedure: Procedure) -> bool:
    """Whether the aircraft never was above the height of a circuit of the aerodrome, where far more is published."""
    lowest_ft = _lowest_published_ft(procedure)
    known = altitude_ft[np.isfinite(altitude_ft)]
    if lowest_ft is None or not len(known):
        return False
    return float(np.max(known)) < min(procedure.ground_ft + CIRCUIT_FT, lowest_ft - BELOW_ALL_FT)


def _too_low(altitude_ft: Floats, procedure: Procedure) -> bool:
    """Whether an outbound leg is so far below all that is published for it that it was none."""
    lowest_ft = _lowest_published_ft(procedure)
    known = altitude_ft[np.isfinite(altitude_ft)]
    far_below = lowest_ft is not None and len(known) > 0 and np.median(known) < lowest_ft - TOO_LOW_FT
    return bool(far_below) or in_the_circuit(known, procedure)


def _lowest_published_ft(procedure: Procedure) -> float | None:
    """The lowest altitude published for the way out and back, or for the way in where there is none of these."""
    out_and_back = [leg for leg in procedure.leg if leg.phase in ("outbound", "course_reversal")]
    limits = [leg.altitude.low_ft for leg in out_and_back or procedure.leg[:1] if leg.altitude is not None]
    return min((low for low in limits if low is not None), default=None)


def turned_back(part: StationView, procedure: Procedure, after: int = -1) -> int | None:
    """Index, beyond ``after``, at which the aircraft has turned back inbound; ``None`` where it never has."""
    back = inbound_mask(part, procedure)
    back[: after + 1] = False
    for a, b in runs(back, part.segment):
        if part.t_s[b - 1] - part.t_s[a] >= INBOUND_AT_LEAST_S:
            return a
    return None


def _outbound_start(
    part: StationView, procedure: Procedure, first_out: int, start_s: float, begins: Beginning
) -> float:
    """The stretch's start; where that lies long before, the moment the aircraft began to fly outbound.

    Not where it came from the station and did no more than turn round there: a turn begun a mile too late, or
    drawn out by the wind, takes longer than any time one could set for it. After another attempt, always.
    """
    course = procedure.outbound_course_deg or 0.0
    away = (np.abs(difference_deg(part.ground_track_deg, course)) <= 90.0) & (part.closing_kt < 0)
    inward = np.flatnonzero(~away[:first_out])
    soon = begins != "attempt" and part.t_s[first_out] - start_s < TURN_ROUND_S
    if not len(inward) or soon:
        return start_s
    before = part.where(slice(0, int(inward[-1]) + 1))
    if begins == "passage" and np.max(before.distance_nm) < ABEAM_WITHIN_NM and not went_round(before):
        return start_s
    return float(part.t_s[inward[-1] + 1])


def _begun(
    part: StationView,
    procedure: Procedure,
    turns: Sequence[Turn],
    out: Mask,
    start_s: float,
    end_s: float,
    needed_nm: float,
    arriving_ft: Floats,
    *,
    log_ends: bool,
) -> Circuit | None:
    """An outbound leg with which the log ends, perhaps with the reversal begun.

    It was turned onto at the station, or came down from the altitude of arriving there; a short one both.
    """
    last_out = int(np.flatnonzero(out)[-1])
    limit = procedure.reversal.within_nm if procedure.reversal and procedure.reversal.within_nm else WITHIN_NM
    along = np.abs(difference_deg(part.radial_deg, procedure.outbound_course_deg or 0.0)) <= BEGUN_WITHIN_DEG
    if is_racetrack(procedure):
        along[:] = True
    if not log_ends or part.distance_nm[-1] > limit or part.t_s[-1] - start_s > BEGUN_UNTIL_S:
        return None
    off_s = _left_for_the_leg_off(part, procedure, turns, start_s, last_out)
    turns = [turn for turn in turns if abs(turn.change_deg) >= TURN_AT_LEAST_DEG]
    if off_s is None:
        after_s = part.t_s[last_out] - 2.0
        off_s = next((turn.start_s for turn in turns if after_s <= turn.start_s <= end_s), None)
    turned = any(abs(turn.start_s - start_s) < TURN_ROUND_S / 2 for turn in turns if turn.start_s != off_s)
    from_ft = float(np.fmax.reduce(arriving_ft, initial=part.altitude_ft[0]))
    descends = from_ft - part.altitude_ft[-1] >= BEGUN_DESCENT_FT and at_its_altitude(from_ft, procedure)
    short = np.count_nonzero(out & along) < BEGUN_S and float(np.max(part.distance_nm)) < needed_nm
    if short and not (turned and descends):
        return None
    speed_kt = float(np.median(part.groundspeed_kt[out]))
    if off_s is None and part.distance_nm[-1] > farthest_nm(procedure, speed_kt, BEGUN_BEYOND_NM):
        return None  # it flies away
    if off_s is None and not turned and not descends:
        return None  # flying straight and level over the station is no approach
    last_s = float(part.t_s[-1])
    return Circuit(
        outbound_start_s=start_s,
        outbound_end_s=last_s if off_s is None else off_s,
        reversal_start_s=off_s,
        turn_off_s=off_s,
        reversal_end_s=None if off_s is None else last_s,
        established_s=None,
        inbound_start_s=None,
        end_s=last_s,
    )


def _only_begun(start_s: float, end_s: float) -> Circuit:
    """An outbound leg with which the log ends, not yet turned off."""
    return Circuit(
        outbound_start_s=start_s,
        outbound_end_s=end_s,
        reversal_start_s=None,
        turn_off_s=None,
        reversal_end_s=None,
        established_s=None,
        inbound_start_s=None,
        end_s=end_s,
    )


def _left_for_the_leg_off(
    part: StationView, procedure: Procedure, turns: Sequence[Turn], start_s: float, last_out: int
) -> float | None:
    """When the aircraft left its radial for the leg off it, on which the log ends (or soon after); ``None`` if never.

    That leg points outbound, too. One that leads back to the radial is an intercept.
    """
    if not has_two_turns(procedure) or intercept_mask(part, procedure)[-1]:
        return None
    _, _, off_s = find_turn_off(part, procedure, turns, start_s, last_out, len(part) - 1, from_station=True)
    off = next((turn for turn in turns if turn.start_s == off_s), None)
    return None if off is None else off.start_s
