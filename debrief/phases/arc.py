"""The published DME arc on the way in: whether the aircraft flies along it, and where it turns off.

Owns      ``along_arc`` and ``turn_off_arc_s``.
Not here  how well it is flown (measures.arc).
Source    ``arc`` in DEVELOPERS.md, Definitions. The margins that tell an arc from other flying: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.events import TURN_AT_LEAST_DEG, At
from debrief.phases.model import Floats, StationView, Turn
from debrief.procedures.model import Arc

NEAR_NM = 2.5  # farther off its distance no arc is flown
ALONG_DEG = 40.0  # the ground track off the tangent


def way_round(arc: Arc) -> float:
    """1 clockwise, -1 anticlockwise."""
    return 1.0 if arc.direction == "clockwise" else -1.0


def along_arc(view: StationView, arc: Arc) -> Floats:
    """Positive along the arc, by moments: near its distance and along its tangent."""
    off_tangent_deg = np.abs(difference_deg(view.ground_track_deg, view.radial_deg + way_round(arc) * 90.0))
    near = NEAR_NM - np.abs(view.dme_nm - arc.dme_nm)
    return np.asarray(np.minimum(near, (ALONG_DEG - off_tangent_deg) / ALONG_DEG), dtype=np.float64)


def turn_off_arc_s(arc: Arc, turns: Sequence[Turn], at: At, until_s: float) -> float | None:
    """When the last turn of 30 degrees and more before a moment begins on the arc; ``None`` where none does. [s]"""
    for turn in reversed(turns):
        great = turn.start_s < until_s and abs(turn.change_deg) >= TURN_AT_LEAST_DEG
        if great and along_arc(at(np.array([turn.start_s])), arc)[0] > 0.0:
            return turn.start_s
    return None
