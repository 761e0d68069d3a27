"""Holding before the approach: circuits over the station that are no part of it.

Owns      ``is_hold``: whether an out-and-back is a hold and not the published reversal; ``holds_after_missed``.
Not here  a racetrack's own circuits, which are the reversal (``following``).
"""

from __future__ import annotations

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.circuit import Circuit, published_length_nm
from debrief.phases.finals import Reading, descends, ending_from
from debrief.phases.model import FoundAttempt, Turn
from debrief.phases.on_course import ESTABLISHED_DEG, has_two_turns, is_racetrack
from debrief.procedures.model import Pattern, Phase

TURN_BACK_DEG = 120.0  # one turn of more than this, and none the other way before it
FIRST_TURN_DEG = 30.0  # less is a correction, or the end of an offset entry ...
LEG_OFF_S = 25.0  # ... unless it leaves the outbound radial for a leg: that of a 45/180 is flown for a minute
AT_THE_STATION_S = 30.0
ON_RADIAL_S = 20.0  # so long on its radial ...
SHARE_OF_LENGTH = 0.6  # ... and so much of its length make it an outbound leg
#: Beside it, by twice full scale where the leg ends, it takes this much of a leg that is published for longer than any
#: hold's. Source: ICAO Doc 8168, holding: one minute, one and a half above 14,000 ft.
BESIDE_DEG, MOST_OF_LENGTH, LONGER_THAN_A_HOLD_S = 20.0, 0.85, 90.0


def is_hold(reading: Reading, circuit: Circuit) -> bool:
    """Whether this circuit, before another one, is a hold: it has not the shape of the published reversal.

    A 45/180 and an 80/260 begin with a turn the other way; the outbound leg of a base turn lies on its radial. A
    racetrack is a hold by nature: its circuits are all its own. Where a gap hides how it began nothing is known.
    """
    reversal = reading.procedure.reversal
    if reversal is None or reversal.pattern is None or circuit.turn_off_s is None:
        return False
    if has_two_turns(reading.procedure):
        return _turns_one_way(reading, circuit)
    return reversal.pattern is Pattern.BASE_TURN and not _on_its_radial(reading, circuit)


def holds_after_missed(reading: Reading, found: FoundAttempt) -> bool:
    """Whether what follows a missed approach is the published hold, flown where the racetrack lies, and no approach.

    It goes round and does not come down. Without a published hold it is another approach that was begun.
    """
    racetrack = is_racetrack(reading.procedure)
    if not racetrack or reading.procedure.hold is None or not reading.attempts:
        return False
    if reading.attempts[-1].ending != "missed approach":
        return False
    final = found.last(Phase.FINAL)
    return final is None or not descends(reading, final.start_s, ending_from(reading, final.start_s))


def _turns_one_way(reading: Reading, circuit: Circuit) -> bool:
    start_s, end_s = (
        circuit.turn_off_s or circuit.outbound_end_s,
        circuit.reversal_end_s or circuit.end_s,
    )
    # the turn off may be a part of a longer turn, which began before
    turns = [turn for turn in reading.turns if turn.start_s <= end_s and turn.end_s > start_s + 1.0]
    if not turns:
        return False
    # the first from there on that turns round: the next may be the one at the station again
    round_it = [
        turn for turn in turns if turn.start_s >= start_s - 1.0 and abs(turn.change_deg) >= TURN_BACK_DEG
    ]
    back = round_it[0] if round_it else max(turns, key=lambda turn: abs(turn.change_deg))
    way, on_radial = np.sign(back.change_deg), _on_its_radial(reading, circuit)
    before = [
        turn
        for turn in turns
        if turn.start_s < back.start_s
        and (-way * turn.change_deg >= FIRST_TURN_DEG or (on_radial and _onto_a_leg(turn, back, circuit)))
    ]
    return (
        abs(back.change_deg) >= TURN_BACK_DEG
        and not before
        and not _turned_out_the_other_way(reading, circuit, back)
    )


def _turned_out_the_other_way(reading: Reading, circuit: Circuit, back: Turn) -> bool:
    """Whether the half circle at the station was flown the other way than the one back: in a hold both run one way."""
    return any(
        abs(turn.start_s - circuit.outbound_start_s) <= AT_THE_STATION_S
        and abs(turn.change_deg) >= TURN_BACK_DEG
        and turn.change_deg * back.change_deg < 0.0
        for turn in reading.turns
    )


def _onto_a_leg(turn: Turn, back: Turn, circuit: Circuit) -> bool:
    """Whether a turn the other way than the one back leaves the outbound course for a leg, however shallow it is."""
    leads_off = turn.start_s == circuit.turn_off_s and turn.change_deg * back.change_deg < 0.0
    return leads_off and back.start_s - turn.end_s >= LEG_OFF_S


def _on_its_radial(reading: Reading, circuit: Circuit) -> bool:
    """Whether the outbound leg was flown on its radial and far enough."""
    view = reading.view.between(circuit.outbound_start_s, circuit.outbound_end_s)
    course_deg = reading.procedure.outbound_course_deg
    if not len(view) or course_deg is None:
        return True
    on_radial = np.abs(difference_deg(view.radial_deg, course_deg)) <= ESTABLISHED_DEG
    length_nm = published_length_nm(reading.procedure, float(np.median(view.groundspeed_kt)))
    share = float(view.distance_nm.max()) / length_nm if length_nm > 0.0 else np.inf
    long_s = length_nm / float(np.median(view.groundspeed_kt)) * SECONDS_PER_HOUR
    beside_deg = abs(float(difference_deg(view.radial_deg[-1], course_deg)))
    longer = share >= MOST_OF_LENGTH and long_s > LONGER_THAN_A_HOLD_S and beside_deg <= BESIDE_DEG
    return longer or (share >= SHARE_OF_LENGTH and float(np.count_nonzero(on_radial)) >= ON_RADIAL_S)
