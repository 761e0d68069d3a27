"""The base turn: where circling turns onto the runway, and the descent from its minimum may begin.

Owns      ``base_turn_s``.
Not here  whether an aircraft circled, and to which runway (``landing_runway``).
Source    DEVELOPERS.md, Definitions. The margins: common practice.
"""

from __future__ import annotations

import numpy as np

from debrief.measures.landing_runway import circling_from_s, runway_of
from debrief.measures.scene import Scene
from debrief.measures.turning import episodes
from debrief.navigation.angles import difference_deg
from debrief.procedures.model import Phase

DOWNWIND_DEG = 150.0  # so far off the landing direction the track leads downwind
BEGUN_DEG = 10.0  # a turn off the downwind leg, which a climb away may cut short
BASE_TURN_DEG = 30.0  # a turn onto the runway, where no downwind leg was flown
ENDS_WITHIN_DEG = 30.0  # of the landing direction, where no downwind leg was flown


def base_turn_s(scene: Scene) -> float | None:
    """When the turn onto the runway began: off the downwind leg, else the last turn that ends along the runway."""
    start_s, span, runway = circling_from_s(scene), scene.span(Phase.FINAL), runway_of(scene)
    if start_s is None or span is None or runway is None:
        return None
    view = scene.over(start_s, span.end_s)
    off_deg = np.abs(difference_deg(view.ground_track_true_deg, runway.course_true_deg))
    found = episodes(view, BEGUN_DEG)
    if not len(view):
        return None
    downwind = np.flatnonzero(off_deg > DOWNWIND_DEG)
    if len(downwind):
        left_s = float(view.t_s[downwind[-1]])
        turn = next((t for t in found if t.start_s <= left_s + 1.0 and t.end_s > left_s), None)
        if turn is not None:
            return turn.start_s
        return left_s if off_deg[-1] <= ENDS_WITHIN_DEG else None
    if off_deg[-1] > ENDS_WITHIN_DEG:
        return None  # never turned onto it
    ending = [t for t in found if abs(t.change_deg) >= BASE_TURN_DEG]
    ending = [t for t in ending if np.interp(t.end_s, view.t_s, off_deg) <= ENDS_WITHIN_DEG]
    return ending[-1].start_s if ending else None
