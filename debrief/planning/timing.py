"""Legs flown by the clock: what is published, what the wind makes of it, and the rule of thumb.

Owns      ``Timing``.
Not here  the formula (``navigation.timing``), a reversal's legs whose time follows from the pattern (``pattern``).
"""

from __future__ import annotations

from dataclasses import dataclass

from debrief.navigation.timing import outbound_seconds
from debrief.navigation.units import SECONDS_PER_MINUTE
from debrief.planning.air import Air


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """A leg flown by the clock. [s]"""

    published_s: float
    allowed_s: float  # exact, with the wind allowed for
    rule_s: float  # by the rule of thumb: a second a knot of headwind, for each minute. Mark: common practice


def outbound_timing(still_air_s: float, air: Air, course_true_deg: float) -> Timing:
    """The time that covers, on a course kept in the wind, the distance of ``still_air_s`` in still air.

    What slows the aircraft along the course is the headwind and the crab; both are in it.
    """
    slowed_kt = air.true_airspeed_kt - air.groundspeed_kt(course_true_deg)
    return Timing(
        published_s=still_air_s,
        allowed_s=float(outbound_seconds(still_air_s, air.true_airspeed_kt, slowed_kt)),
        rule_s=rule_seconds(still_air_s, air.headwind_kt(course_true_deg)),
    )


def rule_seconds(still_air_s: float, headwind_kt: float) -> float:
    """Rule of thumb for a timed leg: a second more for each knot of headwind, in each minute. [s]

    Never less than none. Mark: common practice.

    >>> rule_seconds(60.0, 20.0), rule_seconds(60.0, -20.0), rule_seconds(120.0, 10.0)
    (80.0, 40.0, 140.0)
    """
    return max(still_air_s + headwind_kt * still_air_s / SECONDS_PER_MINUTE, 0.0)
