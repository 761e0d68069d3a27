"""Whether the log's clock can be right: its own ground speed, and what its turns and speeds would ask of an aircraft.

Owns      ``clock_doubt`` of one attempt.
Not here  the ground speed held against the positions (``tracks.clock``), what is not judged for it (grading).
Source    the limits: common practice. Procedures are flown at 25 or 30 degrees of bank (ICAO Doc 8168 Vol I; mark:
          seen), and no aircraft flies a final faster than 250 kt; twice that bank through a quarter of a circle, or
          400 kt down a final, is a simulation rate of 3 and more. Less cannot be told from a hurried pilot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.language import tr
from debrief.navigation.turns import bank_deg
from debrief.phases.model import Flight, FoundAttempt
from debrief.procedures.model import Phase

STEEPEST_DEG = 60.0
TURNED_DEG = 90.0  # at that bank or more, in one reversal
FASTEST_KT = 400.0  # in the mean over a final
_LEAST_SPEED_KT = 100.0  # slower than this a jump of the positions looks like a turn
_LONGEST_STEP_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockDoubt:
    """Why times of an attempt cannot be trusted: one of these is known."""

    pace: float | None = None  # how many times as fast the positions move as the log's own ground speed says
    bank_deg: float | None = None  # that the reversal's turns would take
    speed_kt: float | None = None  # over the ground, with that bank or down the final


def clock_words(doubt: ClockDoubt) -> str:
    """The reason for which nothing is judged by time, within a sentence."""
    if doubt.pace is not None:
        return tr("the log's clock and its ground speed do not agree")
    return tr("by the log's times it was flown as no aircraft flies")


def clock_doubt(flight: Flight, found: FoundAttempt) -> ClockDoubt | None:
    """What speaks against the log's clock in an attempt; ``None`` where nothing does.

    A ground speed in the log that agrees with its positions speaks for it.
    """
    pace = flight.log.pace_in(found.start_s, found.end_s)
    if pace is not None:
        return ClockDoubt(pace=pace)
    if "groundspeed_kt" in flight.log.track.columns and "groundspeed_kt" not in flight.log.doubtful_columns:
        return None
    for span in found.spans_of(Phase.COURSE_REVERSAL):
        view = flight.view.between(span.start_s, span.end_s)
        if len(view) < 2:
            continue
        bank = np.abs(bank_deg(view.groundspeed_kt, view.turn_rate_deg_s))
        steep = (bank > STEEPEST_DEG) & (view.groundspeed_kt > _LEAST_SPEED_KT)
        step_s = np.minimum(np.gradient(view.t_s), _LONGEST_STEP_S)
        if float(np.sum((np.abs(view.turn_rate_deg_s) * step_s)[steep])) >= TURNED_DEG:
            speed_kt = float(np.median(view.groundspeed_kt[steep]))
            return ClockDoubt(bank_deg=float(np.median(bank[steep])), speed_kt=speed_kt)
    final = found.last(Phase.FINAL)
    if final is None:
        return None
    speeds_kt = flight.view.between(final.start_s, final.end_s).groundspeed_kt
    mean_kt = float(np.mean(speeds_kt)) if len(speeds_kt) else 0.0
    return ClockDoubt(speed_kt=mean_kt) if mean_kt > FASTEST_KT else None
