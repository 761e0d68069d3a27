"""The leg off the outbound course of a 45/180 or 80/260 that no turn parts from what came before.

Owns      ``begun_in_reversal``, ``straight_onto_the_leg_off``.
Not here  the turn off where there is one (``turn_off``), logs that begin later in the reversal (``partial``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.circuit import Circuit
from debrief.phases.finals import Reading
from debrief.phases.on_course import (
    OUTBOUND_TRACK_DEG,
    OUTBOUND_TRACK_WIDE_DEG,
    has_two_turns,
    outbound_mask,
)
from debrief.phases.turn_off import RETURNED_DEG, TURNED_BACK_DEG, off_course


def begun_in_reversal(reading: Reading, circuit: Circuit) -> Circuit:
    """A circuit with which the log begins (or goes on after a gap), on the leg off the outbound course.

    Its outbound leg is not in the log.
    So it is where the aircraft never flew along the outbound course, and the turn that ends that leg is the turn
    back.
    """
    if not _ends_in_the_turn_back(reading, circuit, RETURNED_DEG):
        return circuit
    return replace(
        circuit,
        outbound_end_s=circuit.outbound_start_s,
        reversal_start_s=circuit.outbound_start_s,
        turn_off_s=None,
    )


def straight_onto_the_leg_off(reading: Reading, circuit: Circuit) -> Circuit:
    """A circuit of which a late turn at the station led across the outbound course onto the leg off it.

    No turn parts the two: the reversal begins where the aircraft last flew outbound, or else crossed the radial.
    """
    if circuit.turn_off_s is None or not _ends_in_the_turn_back(reading, circuit, OUTBOUND_TRACK_DEG):
        return circuit
    leg = reading.view.between(circuit.outbound_start_s, circuit.turn_off_s)
    out = np.flatnonzero(outbound_mask(leg, reading.procedure, OUTBOUND_TRACK_WIDE_DEG))
    off_deg = np.abs(difference_deg(leg.radial_deg, reading.procedure.outbound_course_deg or 0.0))
    here_s = float(leg.t_s[out[-1] if len(out) else int(np.argmin(off_deg))])
    return replace(circuit, outbound_end_s=here_s, reversal_start_s=here_s, turn_off_s=here_s)


def _ends_in_the_turn_back(reading: Reading, circuit: Circuit, along_deg: float) -> bool:
    """Whether what was taken for the turn off is the turn back: the aircraft never flew along the course before."""
    procedure, off_s, course_deg = (
        reading.procedure,
        circuit.turn_off_s,
        reading.procedure.outbound_course_deg,
    )
    turn = next((t for t in reading.turns if t.start_s == off_s), None)
    if off_s is None or turn is None or course_deg is None or not has_two_turns(procedure):
        return False
    leg = reading.view.between(circuit.outbound_start_s, off_s)
    if not len(leg) or outbound_mask(leg, procedure, along_deg).any():
        return False
    return off_course(leg, course_deg, turn)[1] >= TURNED_BACK_DEG
