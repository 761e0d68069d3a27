"""What was measured, by phase and by event."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

#: Half-widths at 95 % of the measures of a block that have no key of their own for it, by the measure's name and in
#: its unit (moments in seconds).
Uncertainties = dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A signed quantity over a phase: mean with sign, root mean square, greatest size and when."""

    mean: float
    rms: float
    max_abs: float
    max_abs_time: datetime
    uncertainty: float  # of one value where it is greatest, half-width at 95 %, as those below
    mean_uncertainty: float | None = None
    rms_uncertainty: float | None = None
    max_abs_uncertainty: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A quantity over a phase."""

    min: float
    mean: float
    max: float
    uncertainty: float | None = None  # of one value, half-width at 95 %, as those below
    min_uncertainty: float | None = None
    mean_uncertainty: float | None = None
    max_uncertainty: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitBreak:
    """A stretch in which an altitude limit was passed (by anything at all; the standard decides what counts)."""

    limit_ft: float
    side: Literal["below", "above"]
    what: Literal["altitude", "minimum_descent_altitude", "step_down"]
    start: datetime
    end: datetime
    depth_ft: float  # greatest, positive
    deepest: datetime
    depth_uncertainty_ft: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LegMeasures:
    """What is measured on every phase."""

    duration_s: float
    observed_s: float  # of that, outside gaps
    track_length_nm: float
    cross_track_nm: Spread | None = None  # of the leg's course; None where it has none
    deviation_deg: Spread | None = None  # outside the cone
    within_half_scale: float | None = None  # share of time outside the cone, 0..1
    altitude_ft: Range | None = None
    groundspeed_kt: Range | None = None
    airspeed_kias: Range | None = None  # measured, or from ground speed and wind (see ``airspeed_from``)
    airspeed_from: str | None = None
    vertical_speed_ft_min: Range | None = None
    descent_angle_deg: float | None = None  # over the ground, of the descending parts; None without any
    drift_deg: float | None = None  # mean ground track less heading, right positive; needs wind or heading
    altitude_breaks: tuple[LimitBreak, ...] = ()
    warnings: tuple[str, ...] = ()
    uncertainties: Uncertainties = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutboundMeasures(LegMeasures):
    """The outbound leg, besides."""

    time_from_passage_s: float | None = None  # closest point to the turn off
    turn_off_dme_nm: float | None = None  # slant range at the turn off (geometry, DME or not)
    turn_off_distance_nm: float | None = None
    turn_off_cross_track_nm: float | None = None  # beside the leg's course there, right positive
    heading_mag_deg: float | None = None  # mean, where logged or from the wind


@dataclass(frozen=True, slots=True, kw_only=True)
class ReversalMeasures(LegMeasures):
    """The course reversal, besides."""

    side: Literal["left", "right"] | None = None
    other_side_share: float | None = (
        None  # how far to the other side, where only the farther one tells the side
    )
    pattern: str | None = None  # as published, "teardrop", "straight turn", or None where not recognised
    pattern_may_be: tuple[str, ...] = ()  # where the log does not tell which of them
    max_distance_nm: float | None = None
    turn_start_dme_nm: float | None = None
    turn_start_distance_nm: float | None = None
    width_nm: float | None = None  # farthest to the side of the outbound course
    entry_groundspeed_kt: float | None = None
    entry_airspeed_kias: float | None = None
    max_airspeed_kias: float | None = None
    max_airspeed_uncertainty_kt: float | None = None
    leg_seconds: float | None = None  # start of the first turn to the start of the turn back
    turn_rate_deg_s: float | None = None  # mean of the turn back
    bank_deg: float | None = None  # that this rate implies at that speed


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """The aircraft at one height above the runway on final."""

    height_ft: float
    time: datetime
    stable: bool | None
    reasons: tuple[str, ...]  # what was outside the limits there or below, in words
    outside: tuple[Literal["rate", "course", "track", "speed"], ...] = ()  # the same, by name
    uncertainties: Uncertainties = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalMeasures(LegMeasures):
    """The final, besides."""

    lowest_altitude_ft: float | None = None
    lowest_time: datetime | None = None
    descent_start: datetime | None = None  # from the final fix (or the last level part)
    descent_start_distance_nm: float | None = None  # along the course, after the station; negative before it
    required_angle_deg: float | None = None  # published, or from the distances and altitudes
    max_descent_rate_ft_min: float | None = None  # over 10 s, positive down
    max_descent_rate_time: datetime | None = None
    max_descent_rate_uncertainty_ft_min: float | None = None
    level_off: datetime | None = None  # first at the minimum and level
    level_off_altitude_ft: float | None = None
    altitude_at_missed_approach_point_ft: float | None = None
    missed_approach_point: datetime | None = None  # passing it
    gates: tuple[Gate, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MissedMeasures(LegMeasures):
    """The missed approach, besides."""

    start_past_point_nm: float | None = None  # along the final course; negative before the point
    climb_rate_ft_min: float | None = None  # mean over the phase
    course_off_deg: float | None = None  # mean ground track less the published course, right positive
    course_uncertainty_deg: float | None = None
    turn: Literal["left", "right"] | None = None  # the first of 30 degrees and more
    turn_altitude_ft: float | None = None  # where it began
    level_altitude_ft: float | None = None  # mean of the highest level flight that followed
    level_from: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LandingMeasures(LegMeasures):
    """The landing, besides."""

    touchdown: datetime | None = None
    touchdown_past_threshold_nm: float | None = None
    logged_altitude_offset_ft: float | None = None  # log less runway elevation, on the ground


@dataclass(frozen=True, slots=True, kw_only=True)
class StationTurn:
    """The turn at the station onto the outbound course."""

    start: datetime
    change_deg: float  # ground track in to outbound course the way it was turned, right positive
    lead_nm: float  # over the ground; negative after passing the station
    lead_uncertainty_nm: float
    lead_dme_nm: float | None  # slant range at that moment; needs an altitude
    exact_lead_nm: float | None  # None where the turn is made over the station (more than 150 deg)
    rule_of_thumb_nm: float | None  # needs an altitude; None where the exact lead is
    groundspeed_kt: float
    uncertainties: Uncertainties = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Intercept:
    """The moment the needle came alive, and what followed."""

    time: datetime | None
    angle_deg: float | None
    angle_uncertainty_deg: float | None
    overshoot_nm: float | None
    overshoot_uncertainty_nm: float | None
    established: datetime | None
    angle_time: datetime | None = None  # the moment at which the angle was read
    crossed: datetime | None = None  # going through the course to the far side; None where it did not
    established_distance_nm: float | None = None
    seconds_to_established: float | None = None  # from ``time``
    warnings: tuple[str, ...] = ()
    uncertainties: Uncertainties = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """How the aircraft came to the station, and what it did there."""

    track_true_deg: float  # over the ground, before the turn at the station (or onto the inbound course)
    off_inbound_course_deg: float  # that track less the inbound course, right positive, -180..180
    uncertainty_deg: float  # of both
    straight_in: bool  # whether outbound and reversal were left out
    entry: Literal["direct", "offset", "parallel"] | None = None  # into a racetrack
    entry_by_sector: Literal["direct", "offset", "parallel"] | None = None  # that this track leads to
    by_arc: bool | None = None  # whether the published arc was flown; None where none is, or it was not seen


@dataclass(frozen=True, slots=True, kw_only=True)
class ArcMeasures:
    """A DME arc on the way in."""

    start: datetime  # joined
    end: datetime  # where the turn inbound begins
    from_radial_deg: float  # magnetic
    to_radial_deg: float
    off_nm: Spread | None  # DME distance less the published, outside positive
    turn_in_radial_deg: float | None  # where the turn inbound began; None where it was not seen
    turn_in_late_deg: float | None  # past the published lead radial, in the direction flown
    altitude_ft: Range | None
    altitude_breaks: tuple[LimitBreak, ...] = ()
    uncertainties: Uncertainties = field(default_factory=dict)
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class VisualMeasures:
    """The visual segment of a final whose course does not run along the runway."""

    start: datetime  # where it begins as published
    altitude_ft: float | None
    to_threshold_nm: float | None  # straight
    lined_up: datetime | None  # on the runway's centre line and along it, from then on down to the runway
    lined_up_before_threshold_nm: float | None  # past it negative
    lined_up_height_ft: float | None  # above the threshold
    uncertainties: Uncertainties = field(default_factory=dict)
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CirclingMeasures:
    """Circling from the final course to a runway."""

    start: datetime  # the final course was left
    runway: str  # that it led to
    minimum_ft: float | None  # published for circling
    side: Literal["left", "right"]  # of the runway's centre line as landed, on which the base turn began
    farthest_aside_nm: float  # on that side of the line, up to the base turn
    farthest_nm: float  # from the threshold, up to the base turn
    lowest_altitude_ft: float | None  # up to the base turn
    base_turn: datetime | None  # began
    base_turn_altitude_ft: float | None
    lined_up: datetime | None  # on the runway's centre line and along it, from then on down to the runway
    lined_up_before_threshold_nm: float | None  # past it negative
    lined_up_height_ft: float | None  # above the threshold
    uncertainties: Uncertainties = field(default_factory=dict)
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldMeasures:
    """A hold over the station, outside the attempt: before it, or after its missed approach."""

    circuits: int
    side: Literal["left", "right"]  # of the turns
    inbound_s: float | None  # mean time along the inbound course
    farthest_nm: float
    altitude_ft: Range | None
    uncertainties: Uncertainties = field(default_factory=dict)
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnAway:
    """A turn away from the course while the needle stood to one side, after which it went on out."""

    phase: str
    start: datetime
    end: datetime  # where the needle stood farthest out
    side: Literal["left", "right"]  # of the course, on which the aircraft was and to which it turned
    turned_deg: float  # beyond flying along the course, by heading and track both
    deviation_before_deg: float
    deviation_after_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedleChase:
    """Swings of heading and track from side to side, quicker than a needle can answer."""

    phase: str
    start: datetime
    end: datetime
    swing_deg: float  # each of them at least
    swings: int
    period_s: float  # mean, there and back
    in_cone: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Weave:
    """Swings of the ground track from one side of the course to the other, by the positions alone."""

    phase: str
    start: datetime
    end: datetime
    swing_deg: float  # each of them at least
    swings: int
    period_s: float  # mean, there and back
    aside_nm: float  # the farthest from the course


@dataclass(frozen=True, slots=True, kw_only=True)
class Steering:
    """How the needle was followed, over all legs with a course: the greatest of each kind, ``None`` for none."""

    turn_away: TurnAway | None = None
    chase: NeedleChase | None = None
    turn_uncertainty_deg: float | None = None  # of one turn or swing
    by_track: bool = False  # no heading is known: turns and swings are those of the track, and may be greater
    why: str = ""  # why neither can be told
    weave: Weave | None = None
    weave_uncertainty_deg: float | None = None  # of one swing of the track
    weave_why: str = ""  # why it cannot be told


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """An earlier circuit of a racetrack, before the one that led to the final."""

    outbound: OutboundMeasures | None
    course_reversal: ReversalMeasures | None
    intermediate: LegMeasures | None = None
    intercept: Intercept | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """By phase; ``None`` where a phase was not flown or not observed (absent in the file)."""

    inbound: LegMeasures | None = None
    station_passage: LegMeasures | None = None
    outbound: OutboundMeasures | None = None
    course_reversal: ReversalMeasures | None = None
    intermediate: LegMeasures | None = None
    final: FinalMeasures | None = None
    missed_approach: MissedMeasures | None = None
    landing: LandingMeasures | None = None
    turn: StationTurn | None = None
    intercept: Intercept | None = None
    steering: Steering | None = None
    arrival: Arrival | None = None
    arc: ArcMeasures | None = None
    visual_segment: VisualMeasures | None = None
    circling: CirclingMeasures | None = None
    hold_before: HoldMeasures | None = None
    hold_after: HoldMeasures | None = None
    earlier_circuits: tuple[Circuit, ...] = ()

    @property
    def circuits(self) -> int:
        """How often the reversal was flown round, the last time included."""
        return len(self.earlier_circuits) + 1
