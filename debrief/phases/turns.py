"""Turns: from the rate passing 1 deg/s until it falls below for good.

Owns      finding them on the one-second grid and refining both ends between samples.
Not here  which of them belong to an approach (``attempts``), how large a turn is as it is measured (measures).
Source    What a turn is: DEVELOPERS.md, "Definitions".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.phases.events import REFINE_STEPS, At, first_moments, runs
from debrief.phases.model import StationView, Turn

TURNING_DEG_S = 1.0
TURN_AT_LEAST_DEG = 30.0
#: Turning the nose by 45 degrees, in a crosswind of 45 % of the airspeed, changes the track by 20 degrees,
#: of which rolling in and out take some at less than 1 deg/s.
SHALLOW_TURN_DEG = 15.0
TURN_PAUSE_S = 5.0  # a turn that eases for less than this is still the same turn


def turns(view: StationView, at: At) -> list[Turn]:
    """Turns of at least 15 degrees, in order: from the rate passing 1 deg/s until it falls below for good."""
    rough: list[_RoughTurn] = []
    for sign in (1.0, -1.0):
        quick = sign * view.turn_rate_deg_s > TURNING_DEG_S
        pieces = runs(np.nan_to_num(quick).astype(bool), view.segment)
        merged: list[tuple[int, int]] = []
        for a, b in pieces:
            if merged and view.segment[a] == view.segment[merged[-1][1] - 1]:
                pause = view.t_s[a] - view.t_s[merged[-1][1] - 1]
                eased = sign * view.turn_rate_deg_s[merged[-1][1] : a]
                if pause <= TURN_PAUSE_S and np.all(eased > -TURNING_DEG_S):
                    merged[-1] = (merged[-1][0], b)
                    continue
            merged.append((a, b))
        rough += [turn for a, b in merged if (turn := _rough_turn(view, a, b, sign)) is not None]
    signs = np.repeat([turn.sign for turn in rough], REFINE_STEPS)
    starts_s = first_moments(
        at, [turn.starts_s for turn in rough], lambda v: signs * v.turn_rate_deg_s > TURNING_DEG_S
    )
    ends_s = first_moments(
        at, [turn.ends_s for turn in rough], lambda v: signs * v.turn_rate_deg_s <= TURNING_DEG_S
    )
    found = [
        Turn(start_s=start_s, end_s=end_s, change_deg=turn.change_deg)
        for turn, start_s, end_s in zip(rough, starts_s, ends_s, strict=True)
    ]
    return sorted(found, key=lambda turn: turn.start_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class _RoughTurn:
    """A turn known to the moments of the grid: between which two it starts, and between which two it ends."""

    sign: float
    change_deg: float
    starts_s: tuple[float, float]
    ends_s: tuple[float, float]


def _rough_turn(view: StationView, a: int, b: int, sign: float) -> _RoughTurn | None:
    low = max(a - 1, 0) if a and view.segment[a - 1] == view.segment[a] else a
    high = min(b, len(view) - 1) if b < len(view) and view.segment[b] == view.segment[b - 1] else b - 1
    track = view.ground_track_deg[low : high + 1]
    change = float(np.sum(difference_deg(track[1:], track[:-1])))
    if abs(change) < SHALLOW_TURN_DEG:
        return None
    return _RoughTurn(
        sign=sign,
        change_deg=change,
        starts_s=(view.t_s[low], view.t_s[a]),
        ends_s=(view.t_s[b - 1], view.t_s[high]),
    )
