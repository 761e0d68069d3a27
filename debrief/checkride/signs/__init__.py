"""Signs that a log may have been edited, each with its evidence and a strength. Never a verdict of cheating.

Owns      ``signs_of``: every sign of one log, the strongest of each kind.
Not here  copies among several logs (``copies``), what is odd about honest sensors (``tracks.conditioning``).

Real recorders do strange things: they repeat positions, bridge dropouts with straight lines, resample, jitter, step by
25 ft, write a wild sample now and then. None of that reaches the strength at which a flag goes to the examiner.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from debrief.checkride.model import Flag
from debrief.checkride.signs.aside import aside_signs
from debrief.checkride.signs.averaged import averaged_signs
from debrief.checkride.signs.columns import column_signs
from debrief.checkride.signs.computed import computed_signs
from debrief.checkride.signs.corners import corner_signs
from debrief.checkride.signs.digits import digit_signs
from debrief.checkride.signs.drifted import drift_signs
from debrief.checkride.signs.floors import floor_signs
from debrief.checkride.signs.habits import habit_of
from debrief.checkride.signs.integrated import integrated_signs
from debrief.checkride.signs.joined import joint_signs
from debrief.checkride.signs.lifted import lifted_signs
from debrief.checkride.signs.motion import motion_signs
from debrief.checkride.signs.noise import noise_signs
from debrief.checkride.signs.paced import pace_signs
from debrief.checkride.signs.renumbered import renumbered_signs
from debrief.checkride.signs.repeats import repeat_signs
from debrief.checkride.signs.restless import restless_signs
from debrief.checkride.signs.rounded import rounded_signs
from debrief.checkride.signs.shifted import shifted_signs
from debrief.checkride.signs.stamps import stamp_signs
from debrief.checkride.signs.standing import standing_signs
from debrief.checkride.signs.steep import steep_signs
from debrief.checkride.signs.trace import Trace, trace_of
from debrief.checkride.signs.typed import typed_signs
from debrief.checkride.signs.whole import whole_signs
from debrief.errors import TrackError
from debrief.phases.model import Flight
from debrief.procedures import Procedure
from debrief.tracks.conditioning import condition
from debrief.tracks.model import Conditioned, Track

_HABIT = 0.4


def signs_of(track: Track, flight: Flight | None, procedure: Procedure | None) -> tuple[Flag, ...]:
    """Every sign of one log, the strongest of each kind, strongest first.

    ``flight`` is the debriefed flight, whose log was conditioned; ``None`` where it could not be made: then the log is
    conditioned here, and of one that cannot be no step and no part counts.
    """
    found = list(_older_than(track, procedure))
    log = flight.log if flight is not None else _log_of(track)
    trace = trace_of(track, log)
    if trace is not None:
        found += list(_looked_at(trace, log))
        if log is not None and log.drawn_out_s is None:
            found += [*typed_signs(trace), *whole_signs(trace), *renumbered_signs(trace)]
    strongest: dict[str, Flag] = {}
    for flag in found:
        before = strongest.get(flag.sign)
        if before is None or flag.strength > before.strength:
            strongest[flag.sign] = flag
    return tuple(sorted(strongest.values(), key=lambda flag: (-flag.strength, flag.sign)))


def _log_of(track: Track) -> Conditioned | None:
    try:
        return condition(track)
    except TrackError:
        return None


def _looked_at(trace: Trace, log: Conditioned | None) -> Iterator[Flag]:
    yield from stamp_signs(trace)
    yield from repeat_signs(trace)
    habit: str | None = None  # looked for where there is a flag that it may explain
    for flag in _of_character(trace):
        if flag.strength > _HABIT and habit is None:
            habit = habit_of(trace, log)
        if flag.strength > _HABIT and habit:
            yield replace(flag, strength=_HABIT, evidence=f"{flag.evidence}; but {habit}")
        else:
            yield flag


def _of_character(trace: Trace) -> Iterator[Flag]:
    """Signs that a part does not fit the rest, which say nothing where no part fits another."""
    yield from digit_signs(trace)
    yield from motion_signs(trace)
    yield from joint_signs(trace)
    yield from corner_signs(trace)
    yield from noise_signs(trace)
    yield from restless_signs(trace)
    yield from floor_signs(trace)
    yield from column_signs(trace)
    yield from computed_signs(trace)
    yield from drift_signs(trace)
    yield from shifted_signs(trace)
    yield from integrated_signs(trace)
    yield from lifted_signs(trace)
    yield from aside_signs(trace)
    yield from pace_signs(trace)
    yield from steep_signs(trace)
    yield from standing_signs(trace)
    yield from averaged_signs(trace)
    yield from rounded_signs(trace)


def _older_than(track: Track, procedure: Procedure | None) -> Iterator[Flag]:
    if procedure is None or procedure.issued is None:
        return
    recorded = track.time_at(0.0).date()
    if recorded < procedure.issued:
        yield Flag(
            sign="before_procedure",
            strength=1.0,
            evidence=f"recorded on {recorded:%Y-%m-%d}, before the procedure was issued ({procedure.issued:%Y-%m-%d})",
        )
