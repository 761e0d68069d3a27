"""Which limits a plan would break: the procedure's own, and a sound rate of descent.

Owns      ``broken_limits``.
Not here  judging a flight (grading), the words (``words``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from debrief.planning.final import FinalPlan
from debrief.planning.legs import LegPlan
from debrief.planning.pattern import FlownReversal
from debrief.procedures.model import Procedure

#: A descent above this rate counts as broken. Source, for the final: ALAR Tool Kit, Briefing Note 7.1. Mark: seen
#: (2nd hand). For the other legs: common practice.
MOST_DESCENT_FT_MIN = 1000.0

#: The speed of a reversal whose file gives no limit. Source: AIM 5-4-9 a.3. Mark: seen.
MOST_SPEED_KIAS = 200.0

#: The steepest final a procedure is designed with, and what is left of a fair intercept where it is flown past the
#: course. Source: FAA Order 8260.3. Mark: seen (2nd hand); the overshoot: common practice.
MOST_DESCENT_DEG = 3.77
MOST_OVERSHOOT_NM = 0.4

_ROUNDING_FT = 1.0  # a path through the very altitude of a step keeps it
ROUNDING_NM = 0.005  # what the card's hundredths cannot show is no limit broken

Rule = Literal[
    "reversal_speed",
    "reversal_distance",
    "reversal_room",
    "intercept_overshoot",
    "outbound_length",
    "descent_rate",
    "descent_angle",
    "step_down",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A limit that this speed and wind would break."""

    rule: Rule
    value: float
    limit: float
    unit: str
    leg: str = ""  # its name, in lower case
    published: bool = True  # False: the limit is not the procedure's own


def broken_limits(
    procedure: Procedure,
    speed_kias: float,
    legs: Sequence[LegPlan],
    reversal: FlownReversal | None,
    reversal_ft_min: float | None,
    final: FinalPlan | None,
) -> tuple[Broken, ...]:
    """Every limit that would be broken, in the order flown; none where all are kept."""
    found: list[Broken] = []
    if procedure.reversal is not None and reversal is not None:
        found += _reversal(procedure, speed_kias, reversal)
    rates = [(leg.name.lower(), leg.descent_ft_min) for leg in legs]
    if reversal_ft_min is not None:
        rates.insert(-1, ("reversal", reversal_ft_min))
    for name, rate_ft_min in rates:
        if rate_ft_min is not None and rate_ft_min > MOST_DESCENT_FT_MIN:
            found.append(
                Broken(
                    rule="descent_rate",
                    value=rate_ft_min,
                    limit=MOST_DESCENT_FT_MIN,
                    unit="ft/min",
                    leg=name,
                    published=False,
                )
            )
    # a published angle is no fault of the plan, however steep
    angle_deg = None if final is None or final.angle_published else final.angle_deg
    if angle_deg is not None and angle_deg > MOST_DESCENT_DEG:
        found.append(
            Broken(
                rule="descent_angle",
                value=angle_deg,
                limit=MOST_DESCENT_DEG,
                unit="deg",
                published=False,
            )
        )
    for step in final.steps if final is not None else ():
        if step.path_ft < step.minimum_ft - _ROUNDING_FT:
            found.append(
                Broken(
                    rule="step_down",
                    value=step.path_ft,
                    limit=step.minimum_ft,
                    unit="ft",
                    leg=step.until,
                )
            )
    return tuple(found)


def _reversal(procedure: Procedure, speed_kias: float, flown: FlownReversal) -> Iterator[Broken]:
    leg, outbound = procedure.reversal, procedure.outbound
    if leg is None or outbound is None:
        return
    most_kias = leg.max_speed_kias if leg.max_speed_kias is not None else MOST_SPEED_KIAS
    if speed_kias > most_kias:
        yield Broken(
            rule="reversal_speed",
            value=speed_kias,
            limit=most_kias,
            unit="kt",
            published=leg.max_speed_kias is not None,
        )
    dme_nm = outbound.length.dme_nm if outbound.length is not None else None
    if dme_nm is not None and flown.outbound_nm == 0.0:
        yield Broken(rule="outbound_length", value=0.0, limit=dme_nm, unit="NM")
    if leg.within_nm is not None and flown.farthest_nm > leg.within_nm + ROUNDING_NM:
        yield Broken(rule="reversal_distance", value=flown.farthest_nm, limit=leg.within_nm, unit="NM")
    if flown.joining.along_nm <= 0.0:
        yield Broken(
            rule="reversal_room", value=flown.joining.along_nm, limit=0.0, unit="NM", published=False
        )
    elif flown.joining.overshoot_nm > MOST_OVERSHOOT_NM:
        yield Broken(
            rule="intercept_overshoot",
            value=flown.joining.overshoot_nm,
            limit=MOST_OVERSHOOT_NM,
            unit="NM",
            published=False,
        )
