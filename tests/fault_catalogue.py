"""Each fault a simulated pilot can make, with its size drawn, where the procedure offers it."""

from __future__ import annotations

import random
from collections.abc import Callable

from debrief.procedures import Procedure
from debrief.procedures.model import Pattern
from debrief.simulation import Faults

Change = Callable[[Procedure, random.Random], Faults | None]


def _minimum_fault(procedure: Procedure, draw: random.Random) -> Faults:
    return Faults(below_minimum_ft=draw.uniform(150.0, 300.0))


def _reversal_is(procedure: Procedure, *patterns: Pattern) -> bool:
    return procedure.reversal is not None and procedure.reversal.pattern in patterns


TURNS_BACK = (Pattern.PROCEDURE_TURN_45_180, Pattern.PROCEDURE_TURN_80_260)
NOT_RACETRACK = (*TURNS_BACK, Pattern.BASE_TURN)

#: Each fault alone, with its size drawn; ``None`` where the procedure does not offer it.
FAULTS: dict[str, Change] = {
    "wrong side": lambda p, d: Faults(wrong_side=True) if _reversal_is(p, *TURNS_BACK) else None,
    "no reversal": lambda p, d: Faults(no_reversal=True) if _reversal_is(p, *TURNS_BACK) else None,
    "low on a leg": lambda p, d: _low_on_a_leg(p, d),
    "down before the station": lambda p, d: (
        Faults(down_before_station_nm=d.uniform(2.5, 4.0)) if p.reversal is not None else None
    ),
    "below the minimum": _minimum_fault,
    "below a step": lambda p, d: (
        Faults(below_step_ft=d.uniform(180.0, 300.0), final_rate_ft_min=950.0)
        if p.final is not None and p.final.step_down
        else None
    ),
    "late turn at the station": lambda p, d: (
        Faults(turn_late_nm=d.uniform(0.9, 1.6)) if _reversal_is(p, *NOT_RACETRACK) else None
    ),
    "early turn at the station": lambda p, d: (
        Faults(turn_late_nm=-d.uniform(0.9, 1.3)) if _reversal_is(p, *NOT_RACETRACK) else None
    ),
    "off the radial outbound": lambda p, d: (
        Faults(outbound_offset_deg=d.choice([-1, 1]) * d.uniform(9.5, 13.0))
        if _reversal_is(p, *NOT_RACETRACK)
        else None
    ),
    "off the course on final": lambda p, d: Faults(final_offset_deg=d.choice([-1, 1]) * d.uniform(9.5, 12.0)),
    "outbound too long": lambda p, d: _outbound_length(p, 1, d),
    "outbound too short": lambda p, d: _outbound_length(p, -1, d),
    "too far": lambda p, d: (
        Faults(reversal_beyond_nm=d.uniform(0.8, 2.0)) if p.reversal is not None else None
    ),
    "too fast": lambda p, d: (
        Faults(reversal_faster_kt=d.uniform(25.0, 40.0)) if p.reversal is not None else None
    ),
    "overshoot": lambda p, d: Faults(overshoot_nm=d.uniform(0.7, 1.1)) if p.reversal is not None else None,
    "steep intercept": lambda p, d: (
        Faults(intercept_angle_deg=d.uniform(70.0, 80.0)) if _reversal_is(p, *TURNS_BACK) else None
    ),
    "never established": lambda p, d: (
        Faults(inbound_offset_deg=d.uniform(8.0, 10.0))
        if p.reversal is not None and p.has_intermediate
        else None
    ),
    "station missed": lambda p, d: (
        Faults(station_missed_nm=d.uniform(2.0, 3.0)) if p.reversal is not None else None
    ),
    "steep descent": lambda p, d: Faults(final_rate_ft_min=d.uniform(1250.0, 1500.0)),
    "late climb away": lambda p, d: (
        Faults(missed_approach_late_nm=d.uniform(0.9, 1.5))
        if p.final is not None and p.final.missed_approach_point is not None and p.has_intermediate
        else None
    ),
    "chasing the needle": lambda p, d: Faults(chase_needle_deg=d.uniform(6.0, 8.0)),
    "weaving on final": lambda p, d: Faults(weave_deg=d.uniform(15.0, 20.0)),
    "chasing in the cone": lambda p, d: (
        Faults(chase_in_cone_deg=d.uniform(11.0, 14.0))
        if p.reversal is not None and p.has_intermediate
        else None
    ),
    "needle read the wrong way round": lambda p, d: Faults(needle_reversed_deg=d.uniform(18.0, 28.0)),
}

#: Faults that only a log with a heading can be relied on to show: the wind is not always found.
BY_HEADING = frozenset({"chasing the needle", "chasing in the cone", "needle read the wrong way round"})


def _low_on_a_leg(procedure: Procedure, draw: random.Random) -> Faults | None:
    legs = [
        leg.phase
        for leg in procedure.leg
        if leg.phase in ("inbound", "outbound", "course_reversal", "intermediate")
        and leg.altitude is not None
        and leg.altitude.low_ft is not None
    ]
    return Faults(lower_ft={draw.choice(legs): draw.uniform(280.0, 450.0)}) if legs else None


def _outbound_length(procedure: Procedure, way: int, draw: random.Random) -> Faults | None:
    outbound = procedure.outbound
    if outbound is None or outbound.length is None:
        return None
    if outbound.length.dme_nm is not None:
        return Faults(outbound_longer_nm=way * draw.uniform(1.1, 1.7))
    return Faults(outbound_longer_s=way * draw.uniform(32.0, 45.0))
