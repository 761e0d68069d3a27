"""What looks like an outbound leg: a downwind, led past the station to join the inbound course farther out; a departure.

Owns      ``flies_past``, ``flies_a_downwind``, ``flies_a_base_leg``, ``leaves_the_course``, ``departs``.
Not here  what else is no outbound leg (``circuit``, ``attempts``), holds (``holding``).
Source    DEVELOPERS.md, "Definitions": straight in. The margins: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.circuit import CIRCUIT_FT, TURN_ROUND_S, Circuit, in_the_circuit
from debrief.phases.ending import AWAY_DEG, AWAY_S, CLIMBING_FT_MIN
from debrief.phases.events import ABEAM_WITHIN_NM, MISSED_BEYOND_NM, At, Crossing, runs
from debrief.phases.finals import Reading
from debrief.phases.model import StationView, Turn
from debrief.phases.on_course import (
    OUTBOUND_SIDE_DEG,
    OUTBOUND_TRACK_WIDE_DEG,
    STEADY_DEG_S,
    has_two_turns,
    is_racetrack,
)
from debrief.phases.turn_off import FIRST_TURN_DEG
from debrief.procedures.model import Procedure

STRAIGHT_PAST_S = 30.0
#: A turn inbound does not stand still across the course, and an intercept leads to it more shallowly.
BASE_S = 15.0
#: Off the inbound course: across it, with the drift of a heading that does not allow for the wind.
BASE_DEG = (60.0, 120.0)
LEG_S = 30.0
#: On an outbound leg the aircraft comes down, or keeps its height but for a few hundred feet.
CLIMBED_FT = 1000.0
STILL_CLIMBED_FT = 300.0  # past the station, in the climb that began at the take-off
MOST = 0.9  # of the time
BESIDE_DEG = 10.0  # of the outbound radial, full scale of the needle: an outbound leg comes nearer


def flies_past(crossing: Crossing, at: At, course_deg: float) -> bool:
    """Whether the aircraft flies straight past the station, far from it, on the way to join the inbound course farther out.

    It is led downwind to it: who meant to cross the station turns there, or is nearer.
    """
    about = at(np.array([crossing.t_s - STRAIGHT_PAST_S, crossing.t_s, crossing.t_s + STRAIGHT_PAST_S]))
    off_deg = np.abs(difference_deg(about.ground_track_deg, course_deg))
    return crossing.distance_nm > ABEAM_WITHIN_NM and bool(np.all(off_deg <= OUTBOUND_TRACK_WIDE_DEG))


def flies_a_downwind(reading: Reading, first: Crossing | None, circuit: Circuit) -> bool:
    """Whether a leg that does not come from over the station is a downwind: a base leg follows, or it stays beside its radial.

    A racetrack's outbound leg lies on no radial, and a pattern of two turns tells itself from a downwind.
    """
    procedure, turned_s = reading.procedure, circuit.reversal_start_s
    two_turns = has_two_turns(procedure)
    if turned_s is None or (not two_turns and _turns_outbound_there(reading, first, circuit)):
        return False
    until_s = circuit.reversal_end_s if circuit.reversal_end_s is not None else circuit.end_s
    # flown on a wrong radial, the pattern tells itself all the same; on the other side of the station it is none
    shows_itself = two_turns and _turns_both_ways(reading.turns, turned_s, until_s)
    if shows_itself and not _beside_its_radial(reading, circuit, OUTBOUND_SIDE_DEG):
        return False
    if not is_racetrack(procedure) and _beside_its_radial(reading, circuit, BESIDE_DEG):
        return True
    return flies_a_base_leg(reading.view.between(turned_s, until_s), procedure)


def _turns_outbound_there(reading: Reading, first: Crossing | None, circuit: Circuit) -> bool:
    """Whether the aircraft crossed the station and turned outbound near it, not after miles another way."""
    if first is None or not first.in_cone:
        return False
    leg = reading.view.between(first.exit_s, circuit.outbound_end_s)
    off_deg = np.abs(difference_deg(leg.ground_track_deg, reading.procedure.outbound_course_deg or 0.0))
    outbound_nm = leg.distance_nm[off_deg <= OUTBOUND_TRACK_WIDE_DEG]
    return not len(outbound_nm) or bool(outbound_nm[0] <= ABEAM_WITHIN_NM)


def _beside_its_radial(reading: Reading, circuit: Circuit, beside_deg: float) -> bool:
    """Whether an outbound leg that was seen whole never comes so near the radial it is published on."""
    leg = reading.view.between(circuit.outbound_start_s, circuit.outbound_end_s)
    if len(leg) < LEG_S or leg.segment[0] != leg.segment[-1]:
        return False
    off_deg = np.abs(difference_deg(leg.radial_deg, reading.procedure.outbound_course_deg or 0.0))
    beside_nm = leg.distance_nm * np.sin(np.radians(np.minimum(off_deg, 90.0)))
    return bool(np.all((beside_nm > MISSED_BEYOND_NM) & (off_deg > beside_deg)))


def _turns_both_ways(turns: Sequence[Turn], start_s: float, end_s: float) -> bool:
    """Whether a turn the other way, no greater than an 80/260's, comes before the greatest one, as in it and a 45/180."""
    within = [turn for turn in turns if start_s - 1.0 <= turn.start_s < end_s]
    back = max(within, key=lambda turn: abs(turn.change_deg), default=None)
    return back is not None and any(
        turn.start_s < back.start_s
        and turn.change_deg * back.change_deg < 0.0
        and abs(turn.change_deg) <= FIRST_TURN_DEG
        for turn in within
    )


def flies_a_base_leg(part: StationView, procedure: Procedure) -> bool:
    """Whether the aircraft flies straight at the inbound course, across it, for some seconds, as before a vectored final."""
    off_deg = difference_deg(part.ground_track_deg, procedure.inbound_course_deg)
    course_rad = np.radians(difference_deg(part.radial_deg, procedure.inbound_course_deg))
    right_nm = part.distance_nm * np.sin(course_rad)
    across = (np.abs(off_deg) >= BASE_DEG[0]) & (np.abs(off_deg) <= BASE_DEG[1])
    towards = off_deg * right_nm < 0.0
    steady = np.abs(part.turn_rate_deg_s) < STEADY_DEG_S
    return any(
        part.t_s[b - 1] - part.t_s[a] >= BASE_S for a, b in runs(across & towards & steady, part.segment)
    )


def leaves_the_course(part: StationView, procedure: Procedure) -> bool:
    """Whether an aircraft on its way along the inbound course turns away from it, for longer than a turn swings through."""
    off_deg = np.abs(difference_deg(part.ground_track_deg, procedure.inbound_course_deg))
    return any(part.t_s[b - 1] - part.t_s[a] >= AWAY_S for a, b in runs(off_deg > AWAY_DEG, part.segment))


def departs(reading: Reading, first: Crossing | None, circuit: Circuit) -> bool:
    """Whether the aircraft comes over the station from a take-off, and climbs on what looks like an outbound leg.

    After a missed approach it may come over the station as low, on its way out again.
    """
    if first is None or first.hidden:
        return False
    last = reading.attempts[-1] if reading.attempts else None
    if last is not None and last.ending != "landing" and first.entry_s - last.end_s < TURN_ROUND_S:
        return False
    over = reading.view.between(first.entry_s, first.exit_s + 1.0).altitude_ft
    out = reading.view.between(circuit.outbound_start_s, circuit.outbound_end_s).altitude_ft
    climbs_ft = np.fmax.reduce(out, initial=-np.inf) - np.fmin.reduce(over, initial=np.inf)
    if in_the_circuit(over, reading.procedure):
        return bool(climbs_ft >= CLIMBED_FT)
    return bool(climbs_ft >= STILL_CLIMBED_FT) and _climbs_from_the_ground(
        reading, -np.inf if last is None else last.end_s, first.entry_s
    )


def _climbs_from_the_ground(reading: Reading, from_s: float, until_s: float) -> bool:
    """Whether the aircraft has climbed without a pause since it was last no higher than a circuit of the aerodrome."""
    way = reading.view.between(from_s, until_s)
    low = np.flatnonzero(way.altitude_ft <= reading.procedure.ground_ft + CIRCUIT_FT)
    climb_ft_min = way.vertical_speed_ft_min[int(low[-1]) + 1 :] if len(low) else way.altitude_ft[:0]
    return bool(len(climb_ft_min)) and bool(np.mean(climb_ft_min > CLIMBING_FT_MIN) >= MOST)
