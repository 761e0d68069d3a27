"""The published DME arc on the way in: whether the aircraft flies along it, and where it turns off.

Owns      ``along_arc`` and ``turn_off_arc_s``.
Not here  how well it is flown (measures.arc).
Source    ``arc`` in DEVELOPERS.md, Definitions. The margins that tell an arc from other flying: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.model import Floats, StationView, Turn
from debrief.phases.turns import TURN_AT_LEAST_DEG
from debrief.procedures.model import Arc

NEAR_NM = 2.5  # farther off its distance no arc is flown
ALONG_DEG = 40.0  # the ground track off the tangent
LOOK_BACK_S = 600.0
#: A leg of some miles past the station at that distance sweeps as much of its radials, but turns with none.
SWEPT_DEG, TURNS_WITH_IT = 10.0, 0.5


def way_round(arc: Arc) -> float:
    """1 clockwise, -1 anticlockwise."""
    return 1.0 if arc.direction == "clockwise" else -1.0


def along_arc(view: StationView, arc: Arc) -> Floats:
    """Positive along the arc, by moments: near its distance and along its tangent."""
    off_tangent_deg = np.abs(difference_deg(view.ground_track_deg, view.radial_deg + way_round(arc) * 90.0))
    near = NEAR_NM - np.abs(view.dme_nm - arc.dme_nm)
    return np.asarray(np.minimum(near, (ALONG_DEG - off_tangent_deg) / ALONG_DEG), dtype=np.float64)


def turn_off_arc_s(arc: Arc, turns: Sequence[Turn], view: StationView, until_s: float) -> float | None:
    """When the last turn of 30 degrees and more before a moment begins on the arc; ``None`` where none does. [s]"""
    great = [turn for turn in turns if turn.start_s < until_s and abs(turn.change_deg) >= TURN_AT_LEAST_DEG]
    for number in range(len(great) - 1, -1, -1):
        off_s = great[number].start_s
        from_s = max(great[number - 1].end_s if number else -np.inf, off_s - LOOK_BACK_S)
        if _follows(view.between(from_s, off_s), arc):
            return off_s
    return None


def _follows(way: StationView, arc: Arc) -> bool:
    """Whether the aircraft ends a way along the arc, its track turning with the radial; that of a straight leg does not."""
    off_it = np.flatnonzero(along_arc(way, arc) <= 0.0)
    on_it = way.where(slice(int(off_it[-1]) + 1 if len(off_it) else 0, None))
    if not len(on_it):
        return False
    swept_deg, turned_deg = (
        way_round(arc) * float(np.sum(difference_deg(angle_deg[1:], angle_deg[:-1])))
        for angle_deg in (on_it.radial_deg, on_it.ground_track_deg)
    )
    return swept_deg >= SWEPT_DEG and turned_deg >= TURNS_WITH_IT * swept_deg
