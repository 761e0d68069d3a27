"""Altitude against the limits of each leg: where they were passed, for how long, by how much.

Owns      which limit holds from when to when, and every stretch beyond one.
Not here  what the standard forgives (grading hands its tolerance in), the minimum and steps on final (``minimum``).
Source    When a limit is broken: DEVELOPERS.md, Definitions.

A limit holds within its phase only: the descent to the next leg's limit belongs to the next phase. Where a leg
begins on the far side of a limit that is still to be reached, nothing is broken before it was first reached:
above an upper limit (or an altitude to be held) after the leg before, below the altitude to come inbound with.
A limit that is never reached is broken all along the leg.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.measures.over_phase import altitude_sure
from debrief.measures.scene import Scene
from debrief.measures.statistics import known, weights_s
from debrief.measures.stretches import stretches
from debrief.measures.uncertainty import COVERAGE
from debrief.phases.model import Floats, Span, StationView
from debrief.procedures.model import Phase
from debrief.result import LimitBreak

#: Within this of a limit it counts as reached. Mark: common practice.
REACHED_WITHIN_FT = 100.0
_LEVEL_WITHIN_FT = 20.0
#: Breaks with less than this between them are one. [s]
MERGED_S = 3.0

Side = Literal["below", "above"]
What = Literal["altitude", "minimum_descent_altitude", "step_down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """How far a limit may be passed before it is a break. [ft]"""

    below_ft: float = 0.0
    above_ft: float = 0.0


NO_TOLERANCE = Tolerance()


def breaks(
    scene: Scene,
    view: StationView,
    holds: NDArray[np.bool_],
    limit_ft: float,
    side: Side,
    *,
    what: What = "altitude",
    tolerance_ft: float = 0.0,
) -> tuple[LimitBreak, ...]:
    """Every stretch in which a limit that ``holds`` was passed by more than the tolerance.

    Less than the smoothed altitude's own noise is no break. Ends lie where the limit with its tolerance is
    passed; ``depth_ft`` counts from the limit itself.
    """
    sign = 1.0 if side == "above" else -1.0
    excess_ft = np.where(holds, sign * (view.altitude_ft - limit_ft), np.nan)
    noise_ft = COVERAGE * scene.flight.noise.smoothed_altitude_ft
    least_ft = max(tolerance_ft, noise_ft if np.isfinite(noise_ft) else 0.0)
    found = []
    for stretch in stretches(view.t_s, excess_ft - tolerance_ft, view.segment, pause_s=MERGED_S):
        deepest = stretch.first + int(np.nanargmax(excess_ft[stretch.part]))
        if excess_ft[deepest] <= least_ft:
            continue
        found.append(
            LimitBreak(
                limit_ft=limit_ft,
                side=side,
                what=what,
                start=scene.time(stretch.start_s),
                end=scene.time(stretch.end_s),
                depth_ft=float(excess_ft[deepest]),
                deepest=scene.time(float(view.t_s[deepest])),
                depth_uncertainty_ft=known(
                    altitude_sure(
                        scene.flight,
                        sign * view.altitude_ft[stretch.part],
                        weights_s(view.t_s, view.segment)[stretch.part],
                    ).greatest
                ),
            )
        )
    return tuple(found)


def leg_breaks(scene: Scene, span: Span, tolerance: Tolerance = NO_TOLERANCE) -> tuple[LimitBreak, ...]:
    """Breaks of the leg's own altitude limits, in order of time; none on final (see ``minimum``)."""
    leg = scene.leg(span.phase)
    if leg is None or leg.altitude is None or span.phase is Phase.FINAL:
        return ()
    view = scene.over(span.start_s, span.end_s)
    found: list[LimitBreak] = []
    low_ft = lowest_allowed_ft(scene, span)
    if low_ft is not None:
        climbing_in = span.phase is Phase.INBOUND or leg.altitude.at_ft is not None
        holds = (
            _once_reached(view.altitude_ft, low_ft, "below", tolerance.below_ft)
            if climbing_in
            else _always(view)
        )
        found += breaks(scene, view, holds, low_ft, "below", tolerance_ft=tolerance.below_ft)
    if leg.altitude.high_ft is not None:
        high_ft = leg.altitude.high_ft
        holds = _once_reached(view.altitude_ft, high_ft, "above", tolerance.above_ft)
        found += breaks(scene, view, holds, high_ft, "above", tolerance_ft=tolerance.above_ft)
    return tuple(sorted(found, key=lambda broken: broken.start))


def lowest_allowed_ft(scene: Scene, span: Span) -> float | None:
    """The leg's lower limit; on a further circuit's outbound leg no higher than that of the reversal before it.

    Nobody climbs back to fly a racetrack once more. Mark: common practice.
    """
    leg, before_ft = scene.leg(span.phase), scene.procedure.low_ft(Phase.COURSE_REVERSAL)
    low_ft = leg.altitude.low_ft if leg is not None and leg.altitude is not None else None
    if span.phase is Phase.OUTBOUND and span.circuit > 0 and low_ft is not None and before_ft is not None:
        return min(low_ft, before_ft)
    return low_ft


def _always(view: StationView) -> NDArray[np.bool_]:
    return np.ones(len(view), dtype=np.bool_)


def _once_reached(altitude_ft: Floats, limit_ft: float, side: Side, tolerance_ft: float) -> NDArray[np.bool_]:
    """From the first moment on a limit's good side, or within the tolerance; all along where it is never reached.

    Levelling off within 100 ft on the far side reaches it too: from then on it counts.
    """
    sign = 1.0 if side == "above" else -1.0
    beyond_ft = sign * (altitude_ft - limit_ft)
    nearest_ft = float(np.nanmin(beyond_ft)) if np.isfinite(beyond_ft).any() else np.inf
    if nearest_ft > REACHED_WITHIN_FT:
        return np.ones(len(altitude_ft), dtype=np.bool_)
    levelled_ft = nearest_ft + _LEVEL_WITHIN_FT if nearest_ft > 0.0 else 0.0
    reached = beyond_ft <= max(levelled_ft, min(tolerance_ft, REACHED_WITHIN_FT))
    return np.arange(len(altitude_ft)) >= int(np.argmax(reached))
