"""The legs one by one: altitude, true airspeed, heading, ground speed, distance, time, descent.

Owns      ``LegPlan``, the rows of the card, and ``Airs``: which altitude and air each leg is flown in.
Not here  the reversal's path (``pattern``), the final's (``final``).
Source    True airspeed: the standard atmosphere (``navigation.atmosphere``), the indicated speed taken for calibrated
          and the altitude for pressure altitude. Headings: the wind triangle (``navigation.wind``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from debrief.errors import PlanError
from debrief.navigation.angles import difference_deg, wrap_360
from debrief.navigation.atmosphere import isa_temperature_c, true_airspeed_kt
from debrief.navigation.timing import leg_seconds
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.planning.air import Air
from debrief.planning.conditions import Conditions
from debrief.planning.final import FinalPlan
from debrief.planning.pattern import FlownReversal, StraightLeg
from debrief.planning.timing import Timing, outbound_timing
from debrief.procedures.model import AltitudeLimit, Leg, Pattern, Procedure

#: A wind of more than this share of the airspeed is nothing a card can plan for.
MOST_WIND_SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class LegPlan:
    """A row of the card: a leg that is flown straight."""

    phase: str
    name: str
    course_deg: float | None  # magnetic, by the station's alignment; None where only a heading is flown
    altitude: AltitudeLimit | None
    true_airspeed_kt: float
    heading_true_deg: float
    track_true_deg: float
    correction_deg: float  # heading less course, right positive
    groundspeed_kt: float
    distance_nm: float | None  # over the ground
    seconds: float | None
    timing: Timing | None  # of a leg flown by the clock
    descent_ft: float  # to lose on it; 0 where none
    descent_ft_min: float | None  # the least rate that does


class Airs:
    """The altitude flown on each leg, and the air there: the true airspeed of the indicated one by the ISA."""

    def __init__(self, procedure: Procedure, conditions: Conditions) -> None:
        self.procedure, self.conditions = procedure, conditions
        slowest_kt = min(conditions.speed_kias, conditions.final_speed_kias)
        if conditions.wind_speed_kt > MOST_WIND_SHARE * slowest_kt:
            raise PlanError(
                f"a wind of {conditions.wind_speed_kt:g} kt is more than half of {slowest_kt:g} kt indicated",
                remedy="No card is made for it: give a higher speed, or less wind.",
            )

    def altitude_ft(self, phase: str) -> float:
        """The lowest altitude allowed on a leg, else its highest, else that of the leg before or after it.

        The station's elevation where the file gives no altitude at all.
        """
        own = flown_ft(self.procedure.leg_of(phase))
        if own is not None:
            return own
        phases = [leg.phase for leg in self.procedure.leg]
        at = phases.index(phase) if phase in phases else 0
        before, after = self.procedure.leg[:at], self.procedure.leg[at:]
        known = [flown_ft(leg) for leg in (*reversed(before), *after)]
        return next((ft for ft in known if ft is not None), self.procedure.station.elevation_ft)

    def of(self, phase: str) -> Air:
        """The air on a leg; on the final half-way down it."""
        altitude_ft, speed_kias = self.altitude_ft(phase), self.conditions.speed_kias
        if phase == "final":
            speed_kias = self.conditions.final_speed_kias
            altitude_ft = (altitude_ft + max(self.before_final_ft() or altitude_ft, altitude_ft)) / 2.0
        temperature_c = isa_temperature_c(altitude_ft)
        return Air(
            true_airspeed_kt=float(true_airspeed_kt(speed_kias, altitude_ft, temperature_c)),
            wind_from_true_deg=self.conditions.wind_from_true_deg,
            wind_speed_kt=self.conditions.wind_speed_kt,
        )

    def before_final_ft(self) -> float | None:
        """The lowest altitude where the final begins: that of the last leg before it which gives one."""
        known = [flown_ft(leg) for leg in self.procedure.leg if leg.phase != "final"]
        return next((ft for ft in reversed(known) if ft is not None), None)


def flown_ft(leg: Leg | None) -> float | None:
    """The altitude flown on a leg: the lowest allowed, else the highest; ``None`` where none is published."""
    if leg is None or leg.altitude is None:
        return None
    return leg.altitude.low_ft if leg.altitude.low_ft is not None else leg.altitude.high_ft


def leg_plans(
    procedure: Procedure, airs: Airs, reversal: FlownReversal | None, final: FinalPlan | None
) -> tuple[LegPlan, ...]:
    """The rows of the card, in the order flown; ``inbound`` only where the arrival course is known."""
    return tuple(_rows(procedure, airs, reversal, final))


def _rows(
    procedure: Procedure, airs: Airs, reversal: FlownReversal | None, final: FinalPlan | None
) -> Iterator[LegPlan]:
    arrival = airs.conditions.arrival_course_deg
    inbound = procedure.leg_of("inbound")
    if arrival is not None:
        yield _course_leg(airs, "inbound", "Inbound", arrival, inbound)
    if reversal is not None:
        yield from _reversal_legs(procedure, airs, reversal)
    intermediate = procedure.leg_of("intermediate")
    if intermediate is not None and intermediate.course_deg is not None and reversal is not None:
        yield _course_leg(
            airs,
            "intermediate",
            "Intermediate",
            intermediate.course_deg,
            intermediate,
            distance_nm=max(reversal.joining.along_nm, 0.0),
            from_ft=airs.altitude_ft("course_reversal"),
        )
    leg = procedure.final
    if leg is not None and leg.course_deg is not None and final is not None:
        distance_nm = None
        if final.start_nm is not None and final.end_nm is not None:
            distance_nm = max(final.end_nm - final.start_nm, 0.0)
        descent_ft = max((final.start_ft or 0.0) - (final.minimum_ft or 0.0), 0.0)
        yield replace(
            _course_leg(airs, "final", "Final", leg.course_deg, leg, distance_nm=distance_nm),
            descent_ft=descent_ft if final.start_ft is not None and final.minimum_ft is not None else 0.0,
            descent_ft_min=final.rate_ft_min,
        )


def _course_leg(
    airs: Airs,
    phase: str,
    name: str,
    course_deg: float,
    leg: Leg | None,
    *,
    distance_nm: float | None = None,
    timing: Timing | None = None,
    from_ft: float | None = None,
) -> LegPlan:
    """A leg on which a course is kept."""
    air, course_true_deg = airs.of(phase), airs.procedure.true_deg(course_deg)
    groundspeed_kt = air.groundspeed_kt(course_true_deg)
    seconds = None if distance_nm is None else float(leg_seconds(distance_nm, groundspeed_kt))
    descent_ft = max(from_ft - airs.altitude_ft(phase), 0.0) if from_ft is not None else 0.0
    return LegPlan(
        phase=phase,
        name=name,
        course_deg=float(wrap_360(course_deg)),
        altitude=leg.altitude if leg is not None else None,
        true_airspeed_kt=air.true_airspeed_kt,
        heading_true_deg=air.heading_true_deg(course_true_deg),
        track_true_deg=float(wrap_360(course_true_deg)),
        correction_deg=air.correction_deg(course_true_deg),
        groundspeed_kt=groundspeed_kt,
        distance_nm=distance_nm,
        seconds=seconds,
        timing=timing,
        descent_ft=descent_ft,
        descent_ft_min=least_rate_ft_min(descent_ft, seconds),
    )


def _reversal_legs(procedure: Procedure, airs: Airs, reversal: FlownReversal) -> Iterator[LegPlan]:
    """The outbound leg, then the straight legs of the pattern."""
    outbound, leg = procedure.outbound, procedure.reversal
    if outbound is None or leg is None:
        return
    straight = list(reversal.legs)
    from_ft = airs.altitude_ft("inbound")
    if leg.pattern is Pattern.RACETRACK:
        first = straight.pop(0)
        descent_ft = max(from_ft - airs.altitude_ft("outbound"), 0.0)
        yield replace(
            _heading_leg(airs, "outbound", "Outbound", first, outbound.altitude),
            course_deg=outbound.course_deg,
            descent_ft=descent_ft,
            descent_ft_min=least_rate_ft_min(
                descent_ft, reversal.outbound_s
            ),  # the turn at the station included
        )
    elif outbound.radial_deg is not None:
        timing = None
        if outbound.length is not None and outbound.length.minutes is not None:
            course_true_deg = procedure.true_deg(outbound.radial_deg)
            seconds = outbound.length.minutes * SECONDS_PER_MINUTE
            timing = outbound_timing(seconds, airs.of("outbound"), course_true_deg)
        yield _course_leg(
            airs,
            "outbound",
            "Outbound",
            outbound.radial_deg,
            outbound,
            distance_nm=reversal.outbound_nm,
            timing=timing,
            from_ft=from_ft,
        )
    for flown in straight:
        yield _heading_leg(airs, "course_reversal", flown.name.capitalize(), flown, leg.altitude)


def _heading_leg(
    airs: Airs, phase: str, name: str, flown: StraightLeg, altitude: AltitudeLimit | None
) -> LegPlan:
    """A leg on which a heading is held."""
    air = airs.of(phase)
    return LegPlan(
        phase=phase,
        name=name,
        course_deg=None,
        altitude=altitude,
        true_airspeed_kt=air.true_airspeed_kt,
        heading_true_deg=flown.heading_true_deg,
        track_true_deg=flown.track_true_deg,
        correction_deg=float(difference_deg(flown.heading_true_deg, flown.track_true_deg)),
        groundspeed_kt=flown.groundspeed_kt,
        distance_nm=flown.groundspeed_kt * flown.seconds / SECONDS_PER_HOUR,
        seconds=flown.seconds,
        timing=flown.timing,
        descent_ft=0.0,
        descent_ft_min=None,
    )


def least_rate_ft_min(descent_ft: float, seconds: float | None) -> float | None:
    """The least rate of descent that loses a height in a time. [ft/min down] ``None`` without a height or a time.

    >>> least_rate_ft_min(512.0, 120.0), least_rate_ft_min(0.0, 60.0)
    (256.0, None)
    """
    if descent_ft <= 0.0 or seconds is None or seconds <= 0.0:
        return None
    return descent_ft / (seconds / SECONDS_PER_MINUTE)
