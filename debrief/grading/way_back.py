"""The way back to the inbound course: what it was to be joined before, and whether it was flown back to from beyond it.

Owns      ``due_by_s``, ``came_back`` and ``stayed_beyond``.
Not here  the intercept's numbers (measures), the rules on it (``rules_intercept``, ``rules_tracking``).
"""

from __future__ import annotations

import numpy as np

from debrief.measures.scene import Scene
from debrief.measures.tracking import off_course
from debrief.navigation.angles import difference_deg
from debrief.phases.model import Floats, FoundAttempt
from debrief.procedures.model import Phase

# Mark: common practice.
_CAME_BACK = 1.25  # greatest deviation over the least after it
_INBOUND_DEG = 45.0  # flown back at the course, or along it
_CUT_BACK_DEG, _CUT_BACK_S = 15.0, 10.0  # flown back at it by so much, for so long
_BACK_ON_IT_DEG = 0.5  # a needle that stands farther on the other side has crossed the course again
_EVERY_S = 1.0


def due_by_s(attempt: FoundAttempt, start_s: float) -> float | None:
    """What the course was to be joined before: the passage, or how it ended; ``None`` where it was not got so far."""
    passage = next((p for p in attempt.passages if p.t_s > start_s + 1.0), None)
    if passage is not None:
        return passage.entry_s
    final = attempt.last(Phase.FINAL)
    if final is not None:
        return final.end_s
    ended = attempt.last(Phase.LANDING) or attempt.last(Phase.MISSED_APPROACH)
    return None if ended is None else ended.start_s


def came_back(scene: Scene, start_s: float, end_s: float) -> bool:
    """Whether the aircraft flew back at the inbound course after it had crossed it last.

    That shows in its track, or in the needle, which came in by so much.
    """
    beside_deg, off_deg = _inbound(scene, start_s, end_s)
    crossed = np.flatnonzero(np.sign(beside_deg[:-1]) != np.sign(beside_deg[1:])) + 1
    last_side = slice(crossed[-1] if len(crossed) else 0, None)
    return _came_in(beside_deg[last_side], off_deg[last_side])


def stayed_beyond(scene: Scene, crossed_s: float, end_s: float) -> bool:
    """Whether the aircraft, once through the inbound course, was seen on its far side and never to fly back at it."""
    beside_deg, off_deg = _inbound(scene, crossed_s, end_s)
    if not len(beside_deg):
        return False
    crossed_back = beside_deg.min() < -_BACK_ON_IT_DEG and beside_deg.max() > _BACK_ON_IT_DEG
    return not crossed_back and not _came_in(beside_deg, off_deg)


def _inbound(scene: Scene, start_s: float, end_s: float) -> tuple[Floats, Floats]:
    """Where the aircraft flew at the course or along it: needle, right of course positive; track off the course."""
    view = scene.flight.at(np.arange(start_s, end_s + 1e-6, _EVERY_S))
    course_deg = scene.procedure.inbound_course_deg
    _, beside_deg = off_course(scene.procedure, Phase.INTERMEDIATE, course_deg, view)
    off_deg: Floats = difference_deg(view.ground_track_true_deg, scene.procedure.true_deg(course_deg))
    inbound = (np.abs(off_deg) <= _INBOUND_DEG) & ~view.in_cone & np.isfinite(beside_deg)
    return beside_deg[inbound], off_deg[inbound]


def _came_in(beside_deg: Floats, off_deg: Floats) -> bool:
    if not len(beside_deg):
        return False
    size_deg, cut_deg = np.abs(beside_deg), -np.sign(beside_deg) * off_deg
    came_in = size_deg.max() >= _CAME_BACK * size_deg[int(np.argmax(size_deg)) :].min()
    return bool(came_in or _EVERY_S * np.count_nonzero(cut_deg >= _CUT_BACK_DEG) >= _CUT_BACK_S)
