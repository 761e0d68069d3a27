"""What is to be flown: the wind, the speeds, the way the pilot works, and the errors asked of the pilot.

Owns      ``FlightPlan`` and its parts, plain data with units in the names.
Not here  flying it (``pilot``, ``flight``), the recorder that logs it (``sensor``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Literal

Ending = Literal["missed approach", "landing", "log ends"]
Instead = Literal["transit", "airwork", "circuits"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wind:
    """The wind at ``reference_ft``, how it changes with height, and its gusts.

    Direction is where it comes from, from true north. Above the reference it veers (turns clockwise) by
    ``veer_deg_per_1000_ft`` and grows by ``shear_kt_per_1000_ft``; its speed never falls under zero. Gusts
    are the standard deviation of each horizontal component, smooth over a few seconds.
    """

    from_true_deg: float = 0.0
    speed_kt: float = 0.0
    reference_ft: float = 2000.0
    veer_deg_per_1000_ft: float = 0.0
    shear_kt_per_1000_ft: float = 0.0
    gust_kt: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """Errors for the pilot to make; each stands alone, and nothing is wrong by default.

    A size says how far beyond the procedure the pilot goes, not what a log will show to the last digit.
    """

    turn_late_nm: float = 0.0  # turn at the station begun this far after the exact lead; negative: early
    outbound_offset_deg: float = 0.0  # tracks a radial this far beside the published one; + right of course
    outbound_longer_nm: float = 0.0  # DME-limited outbound: beyond (negative: short of) the published DME
    outbound_longer_s: float = 0.0  # timed outbound: longer (negative: shorter) than published
    wrong_side: bool = False
    no_reversal: bool = False  # turns straight back onto the inbound course
    reversal_beyond_nm: float = 0.0  # flies on until this far outside the published limit
    reversal_faster_kt: float = 0.0  # indicated, above the published maximum
    overshoot_nm: float = 0.0  # crosses the inbound course and goes about this far beyond
    intercept_angle_deg: float | None = None  # instead of 45
    inbound_offset_deg: float = (
        0.0  # tracks inbound beyond the course by this: never established from about 6
    )
    final_offset_deg: float = 0.0  # from the final fix, or once established where there is none; + right
    final_aside_nm: float = 0.0  # flies the final this far beside its course; + right
    chase_needle_deg: float = 0.0  # on final: steers this far to whichever side the needle stands, at once
    chase_in_cone_deg: float = (
        0.0  # the same over the station, between intermediate and final, and only there
    )
    weave_deg: float = (
        0.0  # on final: turns this far to the other side of the course each time it was crossed
    )
    needle_reversed_deg: float = (
        0.0  # on final: a small deviation is corrected by this much to the wrong side
    )
    station_missed_nm: float = 0.0  # passes the station at this distance, on the side of the next course
    lower_ft: Mapping[str, float] = field(default_factory=dict)  # phase: flown this far below its minimum
    down_before_station_nm: float = 0.0  # leaves for the next leg's altitude this far before the station
    below_minimum_ft: float = 0.0  # levels this far below the minimum descent altitude
    below_step_ft: float = 0.0  # goes this far below each step-down, but not below the minimum
    final_rate_ft_min: float | None = None  # instead of a rate that suits the path
    missed_approach_late_nm: float = 0.0  # climbs this far after the missed approach point
    landing_long_nm: float = 0.0
    arc_off_nm: float = 0.0  # flies the arc this far outside (negative: inside) its distance
    arc_turn_late_deg: float = 0.0  # turns inbound this far past the lead radial; negative: before it
    circling_low_ft: float = 0.0  # circles this far below the circling minimum
    base_turn_late_s: float = 0.0  # descends from it this long before the base turn
    missed_course_off_deg: float = 0.0  # climbs away on a track this far off the published course; + right
    missed_altitude_ft: float = 0.0  # levels this far above (negative: below) the published altitude

    def __post_init__(self) -> None:
        object.__setattr__(self, "lower_ft", MappingProxyType(dict(self.lower_ft)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One approach: how it is flown, and how it ends."""

    ending: Ending = "missed approach"
    straight_in: bool = False  # leaves out outbound and reversal, though published
    circuits: int = 1  # racetrack only
    entry: Literal["direct", "offset", "parallel"] = "direct"  # racetrack only
    via_arc: bool = False  # by the published arc, straight in
    hold_before: int = 0  # circuits of the published hold, before the approach
    circle: Literal["left", "right"] | None = None  # on that side of the runway circled to; with a landing
    published_missed: bool = False  # the missed approach as published, back to the station
    hold_after: int = 0  # circuits of the published hold, after it
    faults: Faults = Faults()


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightPlan:
    """A whole flight: from where, at which speeds, in which wind, and what is flown.

    The flight starts airborne ``start_distance_nm`` from the station on the true bearing
    ``start_bearing_true_deg`` and joins ``arrival_course_true_deg`` to the station (straight there where
    it is ``None``). ``instead`` replaces the approaches: an overflight ("transit"), turns and altitude
    changes away from the course ("airwork"), or circuits at the aerodrome ("circuits", needs a runway).
    """

    epoch: datetime = datetime(2026, 3, 14, 18, 30, tzinfo=UTC)
    start_bearing_true_deg: float = 0.0
    start_distance_nm: float = 10.0
    start_heading_true_deg: float | None = None  # towards the station where None
    start_altitude_ft: float | None = None  # the inbound leg's where None
    arrival_course_true_deg: float | None = None
    cruise_kias: float = 120.0  # to the station
    slow_down_nm: float = 3.0  # so far before the station the approach speed is taken up; 0: past it
    lead_nm: float | None = (
        None  # before the station, where a turn there begins; the pilot's own reckoning where None
    )
    approach_kias: float = 110.0  # outbound, reversal and back to the station
    final_kias: float = 95.0
    down_the_path: bool = False  # the final from its fix at its angle; else past the cone, at a suitable rate
    climb_ft_min: float = 800.0
    descent_ft_min: float = 600.0
    altitude_margin_ft: float = 40.0  # flown above each published minimum
    intercept_angle_deg: float = 45.0
    bank_limit_deg: float = 25.0
    wind: Wind = Wind()
    wander_deg: float = 0.0  # standard deviation of a slow unsteadiness in heading
    wander_ft: float = 0.0  # the same in altitude
    attempts: tuple[Attempt, ...] = (Attempt(),)
    instead: Instead | None = None
    instead_minutes: float = 12.0
    after_s: float = 60.0  # flown on (or stood still) after the last attempt
    seed: int = 0  # of gusts and unsteadiness

    def __post_init__(self) -> None:
        if self.epoch.tzinfo is None:
            raise ValueError("FlightPlan.epoch needs a time zone (UTC)")
