"""The result of a debrief: the model of the JSON file (``"format": 1``) and of every report.

Owns      frozen dataclasses, data only. A number that could not be measured is ``None``; the reason stands in
          the nearest ``warnings`` or finding.
Not here  how anything is measured, judged, drawn or written.

Times are UTC. Every ``..._uncertainty...`` is the half-width of the 95 % interval. Signs and definitions:
DEVELOPERS.md, "Definitions".
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import pandas as pd

#: Half-widths at 95 % of the measures of a block that have no key of their own for it, by the measure's name and in
#: its unit (moments in seconds).
Uncertainties = dict[str, float]

Verdict = Literal["exceeded", "marginal", "not flown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GapInfo:
    """A stretch in which nothing was observed."""

    start: datetime
    end: datetime
    seconds: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackInfo:
    """The log, and what its quality allows."""

    file: str
    sha256: str
    samples: int
    samples_used: int
    start: datetime
    end: datetime
    median_interval_s: float
    gaps: tuple[GapInfo, ...]
    altitude_source: str
    altitude_uncertainty_ft: float
    altitude_correction: str | None  # what was applied because the user asked for it
    altitude_offset_ft: float | None  # measured at a landing: log less runway; not applied
    altitude_left_ft: float | None = None  # what of it is left after the correction asked for: reads too high
    position_noise_nm: float  # one raw position, one axis, half-width at 95 %
    altitude_noise_ft: float  # one raw altitude, half-width at 95 %
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """How well one procedure fits the flight, 0 (not at all) to 1."""

    name: str
    file: str
    fit: float
    attempts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedureInfo:
    """The procedure the flight was held against."""

    name: str
    file: str
    sha256: str
    chosen: Literal["given", "best fit"] = "given"
    fit: float | None = None  # of the chosen one, 0..1; only where it was chosen by its fit
    candidates: tuple[Candidate, ...] = ()  # the others that were tried, best first


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardInfo:
    """The tolerance standard the flight was judged by."""

    name: str
    source: str
    file: str = ""
    sha256: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseSpan:
    """A phase, from its beginning to its end."""

    phase: str
    start: datetime
    end: datetime
    circuit: int = 0

    @property
    def duration_s(self) -> float:
        """How long it lasted. [s]"""
        return (self.end - self.start).total_seconds()


@dataclass(frozen=True, slots=True, kw_only=True)
class NotSeenInfo:
    """A phase that fell into a gap ("not observed") or was left out ("not flown")."""

    phase: str
    why: Literal["not observed", "not flown"]
    start: datetime | None = None
    end: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationPassage:
    """The closest point of approach to the station."""

    time: datetime
    distance_nm: float
    altitude_ft: float | None
    groundspeed_kt: float
    ground_track_true_deg: float
    missed: bool = False
    time_uncertainty_s: float | None = None
    uncertainties: Uncertainties = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnInfo:
    """A turn of at least 30 degrees within the attempt."""

    start: datetime
    end: datetime
    direction: Literal["left", "right"]
    degrees: float  # size of the change of ground track
    mean_rate_deg_s: float
    mean_groundspeed_kt: float
    uncertainties: Uncertainties = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wind:
    """The wind that the flight's own ground velocities show (or heading and airspeed, where logged)."""

    from_true_deg: float
    speed_kt: float
    speed_uncertainty_kt: float
    tas_kt: float | None  # true airspeed in the turns it was found from
    method: str
    from_uncertainty_deg: float | None = None  # 180 where the wind is too light to come from anywhere
    tas_uncertainty_kt: float | None = None


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
    change_deg: float  # ground track in to outbound course, right positive
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


MomentName = Literal[
    "turn at the station",
    "station passage",
    "turn off",
    "needle alive",
    "established",
    "second passage",
    "minimum",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What the instruments showed at one moment that matters, as an ideal receiver would have it.

    The course is that which should have been selected: at the turn at the station already that of the leg to
    come, at the turn off still the outbound one.
    """

    moment: MomentName
    time: datetime | None  # None where it was not flown or not observed: ``why``
    phase: str | None
    altitude_ft: float | None = None
    distance_nm: float | None = None  # over the ground
    dme_nm: float | None = None  # None too where the station has no DME
    course_deg: float | None = None  # magnetic
    deviation_deg: float | None = None  # the aircraft's side; None in the cone
    deflection: float | None = None  # -1..1, the aircraft's side: a needle stands on the other
    full_scale: float | None = None  # of the needle, in ``full_scale_unit``
    full_scale_unit: Literal["deg", "NM"] | None = None
    to_from: Literal["TO", "FROM"] | None = None  # None: blank
    cone: bool | None = None
    bearing_deg: float | None = None  # to the station, magnetic by its alignment
    relative_bearing_deg: float | None = None  # of the station from the nose, clockwise; needs a heading
    heading_mag_deg: float | None = None  # logged, or from the wind
    why: str = ""  # why it is missing, or what stands for it
    heading_why: str = ""  # why the heading is not known


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyFigures:
    """What is compared between a flight and the same approach flown without error, by the same measures."""

    lead_nm: float | None = None  # as ``StationTurn.lead_nm``
    outbound_time_s: float | None = None  # from the closest point to the turn off
    outbound_heading_mag_deg: float | None = None
    turn_off_dme_nm: float | None = None
    reversal_width_nm: float | None = None
    reversal_max_distance_nm: float | None = None
    intercept_angle_deg: float | None = None
    established_distance_nm: float | None = None
    final_heading_mag_deg: float | None = None
    descent_start_distance_nm: float | None = None
    descent_angle_deg: float | None = None
    descent_rate_ft_min: float | None = None  # of that angle at the mean ground speed of the final, positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """The same approach flown without error at this pilot's speeds, in the wind that was measured.

    ``flight`` holds the arrays behind it (``debrief.phases.model.Flight``, of one attempt), and is not written.
    """

    flown: KeyFigures
    errorless: KeyFigures
    possible: bool  # False where the flown speeds break a limit however well they are flown
    why: str  # in plain words, where not possible; else ""
    method: str  # the speeds and the wind it was flown with
    inbound_kias: float  # at the station, too
    approach_kias: float  # outbound and reversal
    final_kias: float
    wind_from_true_deg: float | None  # None: still air, for want of a measured wind
    wind_speed_kt: float | None
    flight: Any = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One rule held against the flight, where it was not met."""

    number: int  # stands in the pictures too
    rule: str
    phase: str | None
    start: datetime | None
    end: datetime | None
    value: float | None
    limit: float | None
    unit: str | None
    verdict: Verdict
    message: str  # one sentence a pilot understands
    advice: str  # one sentence: what to do next time
    why: str = ""  # one sentence: why it matters
    uncertainty: float | None = None  # of ``value``, half-width at 95 %
    source: str = ""  # of the limit
    latitude_deg: float | None = None  # where, for the pictures
    longitude_deg: float | None = None
    kind: str = ""  # in words, where the rule asks for several: which step, the side of circling


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeItem:
    """One thing the standard asks for."""

    item: str
    result: Literal["satisfactory", "marginal", "unsatisfactory", "not assessable"]
    value: float | None
    limit: float | None
    unit: str | None
    margin: float | None  # limit less value, in the unit; negative where passed
    source: str
    reason: str = ""
    rule: str = ""  # of those that findings name
    phase: str | None = None  # where the rule is held against one
    required: bool = True  # whether the result depends on it
    may_be_unseen: bool = False  # whether the others still decide where the log cannot show it
    weight: float = 1.0
    worth: float | None = None  # share of the weight that it earns, 0..1; None where it could not be seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """The standard's items, and what they add up to."""

    result: Literal["satisfactory", "unsatisfactory", "not assessable"]
    items: tuple[GradeItem, ...]
    reason: str = ""
    share: float | None = None  # of the weights that was earned, where the standard weighs
    pass_share: float | None = None  # that it asks for


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """A finding that no other explains, and what followed from it."""

    rule: str
    phase: str | None
    start: datetime | None
    message: str  # what was found, then each step that followed, in whole sentences
    leads_to: tuple[int, ...] = ()  # indexes (from 0) into the attempt's findings


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """One thing to practise."""

    what: str
    exercise: str  # one sentence or two, with numbers
    aim: str  # the number to aim at
    finding: int | None = None  # the number of the finding that it is for


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One approach flown in the log."""

    number: int
    phases: tuple[PhaseSpan, ...]
    not_seen: tuple[NotSeenInfo, ...]
    ending: str
    station_passages: tuple[StationPassage, ...]
    turns: tuple[TurnInfo, ...]
    wind: Wind | None
    measures: Measures
    findings: tuple[Finding, ...]
    grade: Grade
    went_well: tuple[str, ...] = ()  # plain sentences, with numbers
    causes: tuple[Cause, ...] = ()  # the first cause first
    practice: tuple[Practice, ...] = ()  # three at most, in the order of the causes
    warnings: tuple[str, ...] = ()
    shown: tuple[Shown, ...] = ()  # the moments that matter, in the procedure's order
    reference: Reference | None = None  # None where too little was flown, or with a reason in ``warnings``


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """What people said about the flight, in their own words; "" where nothing was said. Lines end in a line break."""

    pilot: str = ""
    aircraft: str = ""
    planned: str = ""
    note: str = ""  # the pilot's
    instructor_remarks: str = ""
    file: str = ""  # the sidecar they stand in, where there is one


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A debrief. ``flight`` holds the arrays behind it (``debrief.phases.model.Flight``), and is not written."""

    format: Literal[1] = 1
    program: str
    language: str = "en"  # of its sentences, ISO 639
    track: TrackInfo
    procedure: ProcedureInfo
    standard: StandardInfo
    attempts: tuple[Attempt, ...]
    warnings: tuple[str, ...] = ()  # "no approach found", with the reason, among others
    notes: Notes | None = None  # None where nothing was said
    flight: Any = field(default=None, compare=False, repr=False)

    def samples(self) -> pd.DataFrame:
        """One row a raw sample, in order of time: the columns of DEVELOPERS.md, "Samples"."""
        from debrief.tables import samples_table  # pandas: only when asked

        return samples_table(self)

    def findings(self) -> pd.DataFrame:
        """One row a finding, over all attempts."""
        from debrief.tables import findings_table

        return findings_table(self)

    def _repr_html_(self) -> str:
        from debrief.tables import result_html

        return result_html(self)
