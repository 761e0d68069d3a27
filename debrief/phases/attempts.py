"""From the flight seen by the station to the approaches flown in it.

Owns      ``find_attempts``: passages, circuits and endings joined to attempts, by the order of the legs.
Not here  the events themselves (``events``, ``turns``, ``visits``, ``circuit``, ``ending``), any measure or judgement.
Source    DEVELOPERS.md, "Definitions": phases, and what an attempt is.

The log is cut at the passages of the station. A stretch between two passages is read as an outbound leg with
its reversal, as a final, or as nothing; an attempt is a row of such readings in the order of the legs.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import StationPlane
from debrief.phases.begun import BELOW_FT
from debrief.phases.circuit import BEGUN_DESCENT_FT, TURN_ROUND_S, Circuit
from debrief.phases.draft import Draft
from debrief.phases.ending import Circle, Ground
from debrief.phases.events import At, Crossing
from debrief.phases.finals import (
    FINAL_DESCENT_FT,
    FINAL_LOOK_S,
    Reading,
    came_down_ft,
    descends,
    ending_from,
    is_final,
)
from debrief.phases.following import (
    circuit_after,
    circuit_again,
    ending_at_aerodrome,
    follow,
    stretch_after,
)
from debrief.phases.holding import holds_after_missed, is_hold
from debrief.phases.led_past import departs, flies_a_downwind
from debrief.phases.leg_off import begun_in_reversal, straight_onto_the_leg_off
from debrief.phases.meant import means_the_station
from debrief.phases.model import Floats, FoundAttempt, StationView
from debrief.phases.on_course import has_two_turns, is_racetrack
from debrief.phases.partial import (
    beyond_the_reversal,
    hidden_on_the_way,
    late_beginning,
    resumed_in_reversal,
)
from debrief.phases.straight_in import straight_in
from debrief.phases.turns import turns
from debrief.phases.visits import looked_for_anew, visits
from debrief.procedures.model import Phase, Procedure, Runway
from debrief.tracks.model import Conditioned

LOG_BEGINS_S = 30.0
NEAR_STATION_NM = 3.0
BESIDE_RADIAL_NM, BESIDE_RACETRACK_NM, BESIDE_SHARE = 1.0, 5.0, 0.4  # tan 22 degrees: twice full scale
#: Of the speed: the half circle at the station, at the standard rate.
ACROSS_A_TURN_H = 2.0 / math.radians(3.0) / 3600.0
FASTEST_KT = 180.0
LONGEST_ABSENCE_S = 3600.0  # a simulator may be paused for a while in the middle of an approach


def find_attempts(
    view: StationView, at: At, procedure: Procedure, log: Conditioned
) -> tuple[FoundAttempt, ...]:
    """Every approach flown in the log, in order of time; empty where there is none.

    None reaches over an hour without a sample: what comes behind it is another flight.
    """
    cuts = np.flatnonzero(np.diff(view.t_s) > LONGEST_ABSENCE_S) + 1
    edges = [0, *cuts.tolist(), len(view)]
    return tuple(
        attempt
        for a, b in pairwise(edges)
        for attempt in _attempts_in(view.where(slice(a, b)), at, procedure, log)
    )


def _attempts_in(
    view: StationView, at: At, procedure: Procedure, log: Conditioned
) -> tuple[FoundAttempt, ...]:
    if len(view) < 2:
        return ()
    turned = turns(view, at)
    reading = Reading(
        view=view,
        at=at,
        procedure=procedure,
        crossings=visits(view, at, procedure, turned),
        turns=turned,
        ground=None if procedure.runway is None else _ground(procedure, procedure.runway, log),
        on_ground=_on_ground(view, log),
        circle=_circle(procedure, log),
    )
    done_s = -np.inf
    number = -1
    while number < len(reading.crossings):
        attempt = _attempt_from(reading, number, done_s)
        if attempt is None:
            number += 1
            continue
        reading.attempts.append(attempt)
        done_s = attempt.end_s
        reading.crossings = looked_for_anew(reading, done_s)
        number = max(number + 1, sum(c.entry_s < done_s for c in reading.crossings) - 1)
    return tuple(reading.attempts)


def _circle(procedure: Procedure, log: Conditioned) -> Circle | None:
    circling = procedure.circling
    if circling is None or circling.altitude.low_ft is None:
        return None
    return Circle(ground=_ground(procedure, circling.runway, log), minimum_ft=circling.altitude.low_ft)


def _ground(procedure: Procedure, runway: Runway, log: Conditioned) -> Ground:
    plane = StationPlane(latitude_deg=procedure.station.latitude, longitude_deg=procedure.station.longitude)
    east, north = plane.to_plane(np.array([runway.latitude]), np.array([runway.longitude]))
    return Ground(
        east_nm=float(east[0]),
        north_nm=float(north[0]),
        course_true_deg=runway.course_true_deg,
        elevation_ft=runway.elevation_ft,
        within_ft=log.altitude_uncertainty_ft,
        zeros_s=log.t_s[~log.altitude_used & (log.track.altitude_ft[log.order] == 0.0)],
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


def _attempt_from(reading: Reading, number: int, done_s: float) -> FoundAttempt | None:
    """The attempt whose first passage is crossing ``number``, ``None`` where none begins there."""
    start_s, end_s = stretch_after(reading, number, done_s)
    first = reading.crossings[number] if number >= 0 and reading.crossings[number].exit_s >= done_s else None
    if end_s <= start_s:
        return hidden_on_the_way(reading, first, done_s)
    circuit = circuit_after(reading, number, done_s) or resumed_in_reversal(reading, number, done_s)
    if (
        circuit is None
        or not _may_come_from_station(reading, number, circuit)
        or flies_a_downwind(reading, first, circuit)
        or departs(reading, first, circuit)
    ):
        return (
            late_beginning(reading, number, done_s)
            or straight_in(reading, number, first, done_s)
            or hidden_on_the_way(reading, first, done_s)
        )
    if _leads_to_the_real_one(reading, number, first, circuit):
        return None
    if (
        circuit.reversal_start_s is None
        and not circuit.into_gap
        and _only_comes_back(reading, first, number, circuit)
    ):
        return None
    if first is None and number >= 0 and circuit.inbound_start_s is None:
        return None  # round to the runway by eye after another approach: neither over the station nor onto the course
    holds = is_hold(reading, circuit) or _goes_round_at_one_height(reading, number, circuit)
    if holds and not _leads_down(reading, number + 1, circuit):
        return None
    if first is None or first.hidden:
        circuit = begun_in_reversal(reading, circuit)
    else:
        circuit = straight_onto_the_leg_off(reading, circuit)
    draft = Draft(reading, done_s)
    draft.begin(first, circuit)
    found = follow(reading, draft, circuit, number)
    if found is not None and holds_after_missed(reading, found):
        return None
    return found if found is not None and means_the_station(reading, found) else None


def _may_come_from_station(reading: Reading, number: int, circuit: Circuit) -> bool:
    """Whether the station was passed before an outbound leg, or may have been.

    Before the log's beginning, or in a gap (a bridge that nobody recognised, where the leg begins near the station).
    Flying along the outbound course later, and somewhere else, is no outbound leg.
    """
    view, start_s = reading.view, circuit.outbound_start_s
    if start_s - float(view.t_s[0]) < LOG_BEGINS_S:
        return number >= 0 or (_near_the_way_out(reading, start_s) and not beyond_the_reversal(reading))
    if number >= 0 and start_s - reading.crossings[number].exit_s < TURN_ROUND_S:
        return True
    round_it = view.between(start_s - TURN_ROUND_S, start_s + TURN_ROUND_S)
    near = reading.at(np.array([start_s])).distance_nm[0] <= NEAR_STATION_NM
    return bool(near) or bool(np.any(np.diff(round_it.segment) != 0))


def _near_the_way_out(reading: Reading, t_s: float) -> bool:
    """Whether an aircraft with which the log begins may have come from the station along the outbound course."""
    here, course_deg = reading.at(np.array([t_s])), reading.procedure.outbound_course_deg or 0.0
    off_rad = np.radians(float(difference_deg(here.radial_deg[0], course_deg)))
    distance_nm = float(here.distance_nm[0])
    circle_nm = ACROSS_A_TURN_H * min(float(here.groundspeed_kt[0]), FASTEST_KT)
    beside_nm = BESIDE_RACETRACK_NM if is_racetrack(reading.procedure) else BESIDE_RADIAL_NM + circle_nm
    abeam = distance_nm * np.cos(off_rad) > -NEAR_STATION_NM
    return bool(abeam and abs(np.sin(off_rad)) * distance_nm <= max(beside_nm, BESIDE_SHARE * distance_nm))


def _only_comes_back(reading: Reading, first: Crossing | None, number: int, circuit: Circuit) -> bool:
    """Whether an outbound leg with which the log ends may as well be a hold's, or lead anywhere, after another approach.

    Not over the station again, or after a missed approach at one height from there on, nothing tells it from these.
    """
    if first is None:
        return number >= 0
    missed = bool(reading.attempts) and reading.attempts[-1].ending == "missed approach"
    return missed and came_down_ft(reading, first.entry_s, circuit.end_s) < BEGUN_DESCENT_FT


def _goes_round_at_one_height(reading: Reading, number: int, circuit: Circuit) -> bool:
    """Whether this is one of several circuits, of which none tells itself from a hold, and did not come down.

    A hold whose outbound leg lies near the radial of a base turn has its shape, and a gap may hide that of two turns.
    A racetrack is flown more than once by nature.
    """
    if is_racetrack(reading.procedure):
        return False
    seen = reading.view.between(circuit.outbound_start_s, circuit.end_s)
    hidden = len(seen) > 0 and bool(seen.segment[0] != seen.segment[-1])
    if has_two_turns(reading.procedure) and not hidden:
        return False  # it shows its shape
    following = number + 1
    if following >= len(reading.crossings) or _came_down_ft(reading, circuit) >= FINAL_DESCENT_FT:
        return False
    if not reading.procedure.station_on_aerodrome and is_final(reading, reading.crossings[following]):
        return False
    before = number > 0 and circuit_after(reading, number - 1) is not None
    return before or circuit_again(reading, following, None) is not None


def _came_down_ft(reading: Reading, circuit: Circuit) -> float:
    return came_down_ft(reading, circuit.outbound_start_s, circuit.end_s)


def _leads_down(reading: Reading, following: int, circuit: Circuit) -> bool:
    """Whether what comes after a circuit is a final and no further circuit; the end of the log may hide it.

    Where it does, the aircraft came down on the way out and back: round and round at one height is a hold.
    """
    ending = ending_at_aerodrome(reading, circuit) if reading.procedure.station_on_aerodrome else None
    if ending is not None and circuit.inbound_start_s is None:
        return circuit_again(reading, following, ending) is None
    crossing = reading.crossings[following] if following < len(reading.crossings) else None
    on_final = crossing is not None and ending is None and is_final(reading, crossing)
    if not on_final and circuit_again(reading, following, ending) is not None:
        return False
    if crossing is None or float(reading.view.t_s[-1]) - crossing.exit_s < FINAL_LOOK_S:
        return (
            np.inf > _came_down_ft(reading, circuit) >= FINAL_DESCENT_FT
        )  # an unknown altitude tells nothing
    if reading.procedure.station_on_aerodrome:
        start_s = circuit.inbound_start_s if circuit.inbound_start_s is not None else crossing.exit_s
    elif not is_final(reading, crossing):
        return False
    else:
        start_s = crossing.exit_s
    way_down = ending_from(reading, start_s)
    if way_down.how == "broken off" and way_down.lowest_ft > (
        reading.procedure.low_ft(Phase.OUTBOUND) or np.inf
    ):
        return False  # it left the course again no lower than a hold is flown
    return descends(reading, start_s, way_down)


def _leads_to_the_real_one(reading: Reading, number: int, first: Crossing | None, circuit: Circuit) -> bool:
    """Whether this circuit, begun without a passage, is only a way to the passage before the approach itself.

    A log that begins on an outbound leg has no passage either; who flew that came down on it or on the way back.
    """
    following = number + 1
    if first is not None and not first.missed and not _abeam_after_another(reading, first):
        return False
    begins = first is None and circuit.outbound_start_s - float(reading.view.t_s[0]) < LOG_BEGINS_S
    if begins and _came_down_ft(reading, circuit) >= BEGUN_DESCENT_FT:
        return False
    if following >= len(reading.crossings) or reading.crossings[following].missed:
        return False
    if _below_arrivals(reading, reading.crossings[following]):
        return False
    return circuit_after(reading, following) is not None


def _abeam_after_another(reading: Reading, first: Crossing) -> bool:
    """Whether an aircraft that has just climbed away, and turns round, comes by beside the station rather than over it."""
    if first.in_cone or first.hidden or not reading.attempts:
        return False
    return first.entry_s - reading.attempts[-1].end_s < TURN_ROUND_S


def _below_arrivals(reading: Reading, crossing: Crossing) -> bool:
    """Whether the aircraft came to the station below what is published for arriving there: it has begun before."""
    low_ft = reading.procedure.low_ft(Phase.INBOUND)
    altitude_ft = float(reading.at(np.array([crossing.entry_s])).altitude_ft[0])
    return low_ft is not None and altitude_ft < low_ft - BELOW_FT
