"""Turns: those of an attempt, and every shorter one in a view.

Owns      episodes of turning, their direction, size and rate.
Not here  the turn at the station (``station``), the turns of the reversal by name (``reversal``).
Source    Where a turn begins and ends: DEVELOPERS.md, Definitions.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from debrief.measures import log_errors
from debrief.measures.moments import Moment, turn_edges, turn_rate_sure
from debrief.measures.statistics import all_known, mean, weights_s
from debrief.measures.stretches import stretches
from debrief.navigation.angles import unwrap_deg
from debrief.navigation.intervals import half_width
from debrief.phases.model import Flight, FoundAttempt, StationView
from debrief.result import TurnInfo

#: A turn begins and ends where its rate passes this. Source: DEVELOPERS.md, Definitions.
TURNING_DEG_S = 1.0
#: A pause shorter than this is the same turn: a gust held it up. [s]
PAUSE_S = 3.0


@dataclass(frozen=True, slots=True)
class Episode:
    """Turning one way at more than 1 deg/s; ``change_deg`` of the ground track, right positive."""

    start_s: float
    end_s: float
    change_deg: float

    @property
    def seconds(self) -> float:
        """How long it took. [s]"""
        return self.end_s - self.start_s


def episodes(view: StationView, least_deg: float, pause_s: float = PAUSE_S) -> list[Episode]:
    """Every turn of ``least_deg`` and more in a view, in order of time."""
    track_deg = unwrap_deg(view.ground_track_true_deg)
    found = []
    for way in (1.0, -1.0):
        for turn in stretches(
            view.t_s, way * view.turn_rate_deg_s - TURNING_DEG_S, view.segment, pause_s=pause_s
        ):
            change_deg = float(np.diff(np.interp([turn.start_s, turn.end_s], view.t_s, track_deg))[0])
            if way * change_deg >= least_deg:
                found.append(Episode(turn.start_s, turn.end_s, change_deg))
    return sorted(found, key=lambda turn: turn.start_s)


def turns(flight: Flight, attempt: FoundAttempt, *, sure: bool = True) -> tuple[TurnInfo, ...]:
    """The turns of at least 30 degrees within an attempt, in order of time; with their half-widths where asked."""
    time = flight.log.track.time_at
    edges = (
        turn_edges(flight, [t_s for turn in attempt.turns for t_s in (turn.start_s, turn.end_s)])
        if sure
        else []
    )
    infos = []
    for number, turn in enumerate(attempt.turns):
        seconds = turn.end_s - turn.start_s
        view = flight.view.between(turn.start_s, turn.end_s)
        speed_kt = mean(view.groundspeed_kt, weights_s(view.t_s, view.segment))
        direction: Literal["left", "right"] = "right" if turn.change_deg > 0 else "left"
        info = TurnInfo(
            start=time(turn.start_s),
            end=time(turn.end_s),
            direction=direction,
            degrees=abs(turn.change_deg),
            mean_rate_deg_s=abs(turn.change_deg) / seconds if seconds > 0 else float("nan"),
            mean_groundspeed_kt=float("nan") if speed_kt is None else speed_kt,
        )
        if sure and speed_kt and seconds > 0:
            begins, ends = edges[2 * number : 2 * number + 2]
            edges_kt = (float(view.groundspeed_kt[0]), float(view.groundspeed_kt[-1]))
            info = replace(info, uncertainties=_sure(flight, info, seconds, edges_kt, begins, ends))
        infos.append(info)
    return tuple(infos)


def _sure(
    flight: Flight,
    turn: TurnInfo,
    seconds: float,
    edges_kt: tuple[float, float],
    begins: Moment,
    ends: Moment,
) -> dict[str, float]:
    """Half-widths at 95 % of a turn's size, mean rate and mean ground speed.

    Where it begins and ends it turns at 1 deg/s, and flies as fast as it does there: so much is added by each second
    that it seems longer.
    """
    velocity_kt = log_errors.velocity_kt(flight)
    track_deg = np.degrees(np.sqrt(2.0) * log_errors.changing(velocity_kt) / turn.mean_groundspeed_kt)
    edges_deg = TURNING_DEG_S * np.hypot(begins.sd_s, ends.sd_s)
    moved_kt_s = (np.array(edges_kt) - turn.mean_groundspeed_kt) / seconds
    rate_deg_s, rate_bias_deg_s = turn_rate_sure(turn.mean_rate_deg_s, seconds, begins, ends)
    return all_known(
        {
            "degrees": half_width(
                float(np.hypot(track_deg, edges_deg)), bias=TURNING_DEG_S * (begins.bias_s + ends.bias_s)
            ),
            "mean_rate_deg_s": half_width(rate_deg_s, bias=rate_bias_deg_s),
            "mean_groundspeed_kt": half_width(
                float(
                    np.hypot(
                        log_errors.mean(velocity_kt, seconds),
                        np.hypot(*moved_kt_s * (begins.sd_s, ends.sd_s)),
                    )
                ),
                bias=float(moved_kt_s @ (begins.bias_s, ends.bias_s)),
            ),
        }
    )
