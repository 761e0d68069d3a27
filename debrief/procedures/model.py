"""What was to be flown: the procedure, as its file says it and as plain geometry.

Owns      the model of a procedure file (``format = 1``) and what follows from it (``course_deg`` both ways).
Not here  reading TOML and wording its errors (``toml_reader``), contradictions between keys (``checks``), drawing,
          anything about a track.
Source    The keys and their meaning: DEVELOPERS.md, "Procedure file".

Radials and courses are magnetic degrees as published; ``..._true_deg`` is from true north. A radial or course
becomes true with the station's own declination (its alignment), never with today's variation.
"""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from debrief.navigation.angles import difference_deg
from debrief.procedures import checks

# Strict: a number in quotes or a ``true`` is a slip of the pen, not a number. ``nan`` and ``inf`` are refused.
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Bearing = Annotated[Number, Field(ge=0, le=360)]
Latitude = Annotated[Number, Field(ge=-90, le=90)]
Longitude = Annotated[Number, Field(ge=-180, le=180)]
Elevation = Annotated[Number, Field(ge=-1500, le=20000)]
Altitude = Annotated[Number, Field(ge=-1500, le=60000)]

_SAME_DEG = 1e-6
ON_AERODROME_NM = 2.0  # a station this close to the threshold stands on the aerodrome


class Phase(StrEnum):
    """The phases of an approach, by the names used in files."""

    INBOUND = "inbound"
    STATION_PASSAGE = "station_passage"
    OUTBOUND = "outbound"
    COURSE_REVERSAL = "course_reversal"
    INTERMEDIATE = "intermediate"
    FINAL = "final"
    MISSED_APPROACH = "missed_approach"
    LANDING = "landing"


class Pattern(StrEnum):
    """The shapes a course reversal is published in."""

    PROCEDURE_TURN_45_180 = "45/180"
    PROCEDURE_TURN_80_260 = "80/260"
    BASE_TURN = "base turn"
    RACETRACK = "racetrack"


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class Station(_Model):
    """The aid that gives course guidance."""

    ident: str = Field(min_length=1, max_length=8)
    kind: Literal["VOR", "VOR/DME", "NDB", "NDB/DME"]
    latitude: Latitude
    longitude: Longitude
    elevation_ft: Elevation
    declination_deg: Number = Field(ge=-180, le=180)

    @property
    def has_dme(self) -> bool:
        """Whether the pilot could read a distance."""
        return self.kind.endswith("/DME")

    @property
    def is_ndb(self) -> bool:
        """Whether guidance is a bearing needle rather than a course needle."""
        return self.kind.startswith("NDB")

    @property
    def alignment_within_deg(self) -> float:
        """How far the alignment may lie from the declination: half of the last figure given, degrees or tenths."""
        whole = abs(self.declination_deg - round(self.declination_deg)) < _SAME_DEG
        return 0.5 if whole else 0.05

    @property
    def cone_half_angle_deg(self) -> float:
        """Half-angle of the cone of ambiguity from the vertical: 50 (VOR), 40 (NDB).

        Source: ICAO Doc 8168 Vol I, I-2-2, 2.4.4. Mark: seen.
        """
        return 40.0 if self.is_ndb else 50.0


class Runway(_Model):
    """The landing runway, by its threshold."""

    ident: str = Field(min_length=1, max_length=4)
    latitude: Latitude
    longitude: Longitude
    elevation_ft: Elevation
    course_true_deg: Bearing


class AltitudeLimit(_Model):
    """One published altitude restriction; exactly one key is given."""

    at_or_above_ft: Altitude | None = None
    at_or_below_ft: Altitude | None = None
    at_ft: Altitude | None = None
    between_ft: tuple[Altitude, Altitude] | None = None

    @model_validator(mode="after")
    def _exactly_one(self) -> AltitudeLimit:
        given = [name for name in type(self).model_fields if getattr(self, name) is not None]
        if len(given) != 1:
            raise ValueError(
                f"takes exactly one of at_or_above_ft, at_or_below_ft, at_ft, between_ft; {len(given)} given"
            )
        if self.between_ft is not None and self.between_ft[0] >= self.between_ft[1]:
            raise ValueError("between_ft takes [low, high] with low below high")
        return self

    @property
    def low_ft(self) -> float | None:
        """The lowest altitude allowed, ``None`` where there is none."""
        if self.at_ft is not None:
            return self.at_ft
        return self.between_ft[0] if self.between_ft is not None else self.at_or_above_ft

    @property
    def high_ft(self) -> float | None:
        """The highest altitude allowed, ``None`` where there is none."""
        if self.at_ft is not None:
            return self.at_ft
        return self.between_ft[1] if self.between_ft is not None else self.at_or_below_ft


class Extent(_Model):
    """How far or how long: ``dme_nm`` (slant range) or ``minutes`` from the closest point, exactly one."""

    dme_nm: Number | None = Field(default=None, gt=0, le=60)
    minutes: Number | None = Field(default=None, gt=0, le=30)

    @model_validator(mode="after")
    def _exactly_one(self) -> Extent:
        if (self.dme_nm is None) == (self.minutes is None):
            given = "none" if self.dme_nm is None else "both"
            raise ValueError(f"takes exactly one of dme_nm, minutes; {given} given")
        return self


class CrossingRadial(_Model):
    """A radial (or bearing from an NDB) of another station, which crosses the final course."""

    station: str = Field(min_length=1, max_length=8)  # its ident, as in ``other_station``
    radial_deg: Bearing


class StepDown(_Model):
    """A minimum on final that holds from the final fix until a DME distance or a crossing radial is reached."""

    until_dme_nm: Number | None = Field(default=None, gt=0, le=60)
    until_radial: CrossingRadial | None = None
    at_or_above_ft: Altitude

    @model_validator(mode="after")
    def _exactly_one(self) -> StepDown:
        if (self.until_dme_nm is None) == (self.until_radial is None):
            given = "none" if self.until_dme_nm is None else "both"
            raise ValueError(f"takes exactly one of until_dme_nm, until_radial; {given} given")
        return self


class OtherStation(_Model):
    """A station beside the one that gives course guidance, whose radials cross the course."""

    ident: str = Field(min_length=1, max_length=8)
    latitude: Latitude
    longitude: Longitude
    declination_deg: Number = Field(ge=-180, le=180)


class Leg(_Model):
    """One leg, in the order flown. Which keys are allowed depends on ``phase`` (see ``checks``)."""

    phase: Literal["inbound", "outbound", "course_reversal", "intermediate", "final"]
    altitude: AltitudeLimit | None = None
    radial_deg: Bearing | None = None  # outbound
    course_deg: Bearing | None = None  # outbound of a racetrack, intermediate, final
    length: Extent | None = None  # outbound
    pattern: Pattern | None = None  # course_reversal
    side: Literal["left", "right"] | None = None  # course_reversal
    within_nm: Number | None = Field(default=None, gt=0, le=60)  # course_reversal
    leg_seconds: Number | None = Field(default=None, ge=0, le=600)  # course_reversal
    max_speed_kias: Number | None = Field(default=None, gt=0, le=500)  # course_reversal
    when_straight_in_deg: Number | None = Field(default=None, gt=0, le=90)  # course_reversal
    step_down: tuple[StepDown, ...] = ()  # final
    missed_approach_point: Extent | None = None  # final
    descent_angle_deg: Number | None = Field(default=None, gt=0, le=10)  # final


class Hold(_Model):
    """A holding pattern over the station, before the approach or after a missed approach."""

    course_deg: Bearing  # inbound to the station
    side: Literal["left", "right"]  # of its turns
    length: Extent | None = None  # of its outbound leg; 1 minute where none is given
    altitude: AltitudeLimit | None = None
    max_speed_kias: Number | None = Field(default=None, gt=0, le=500)


class Arc(_Model):
    """A DME arc round the station on the way in, left at a lead radial for the inbound course."""

    dme_nm: Number = Field(gt=2, le=60)
    direction: Literal["clockwise", "anticlockwise"]  # seen from above: clockwise to higher radials
    lead_radial_deg: Bearing | None = None  # where the turn inbound begins
    altitude: AltitudeLimit | None = None


class MissedApproach(_Model):
    """What is flown from the missed approach point on: a course, perhaps a turn back to the station, an altitude."""

    course_deg: Bearing | None = None  # the final course where none is given
    turn: Literal["left", "right"] | None = None  # afterwards, back to the station
    turn_at_ft: Altitude | None = None  # the turn begins no lower
    altitude: AltitudeLimit


class VisualSegment(_Model):
    """The last part of a final whose course does not run along the runway: flown by eye, not by the needle."""

    begins: Extent | None = None  # the missed approach point where none is given


class Circling(_Model):
    """Landing on another runway than the final's: by eye, round the aerodrome, above a minimum of its own."""

    altitude: AltitudeLimit
    runway: Runway
    side: Literal["left", "right"] | None = None  # of its centre line, landing: the only one allowed


class Antenna(_Model):
    """Where a localiser stands: so far past the threshold along the runway, or at a place."""

    past_threshold_ft: Number | None = Field(default=None, gt=0, le=30000)
    latitude: Latitude | None = None
    longitude: Longitude | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Antenna:
        at = (self.latitude is not None, self.longitude is not None)
        if at[0] != at[1] or at[0] == (self.past_threshold_ft is not None):
            raise ValueError("takes past_threshold_ft, or latitude and longitude")
        return self


class FinalGuidance(_Model):
    """What the final is flown by, where that is not the station."""

    kind: Literal["localiser", "satellite"]
    antenna: Antenna | None = None  # of a localiser
    full_scale_deg: Number | None = Field(default=None, ge=0.5, le=3)  # of a localiser, to each side
    full_scale_nm: Number | None = Field(default=None, ge=0.05, le=2)  # of a satellite course, to each side
    course_true_deg: Bearing | None = None  # by the station's alignment where none is given


class Procedure(_Model):
    """A procedure with a course reversal (or none), held by one station."""

    format: Literal[1]
    name: str = Field(min_length=1, max_length=120)
    note: str = ""
    issued: date | None = None
    station: Station
    runway: Runway | None = None
    leg: tuple[Leg, ...] = Field(min_length=1)
    other_station: tuple[OtherStation, ...] = ()
    arc: Arc | None = None
    final_guidance: FinalGuidance | None = None
    visual_segment: VisualSegment | None = None
    circling: Circling | None = None
    missed_approach: MissedApproach | None = None
    hold: Hold | None = None

    # filled by the reader, not by the file
    file: str = Field(default="", exclude=True)
    sha256: str = Field(default="", exclude=True)

    @model_validator(mode="after")
    def _keys_agree(self) -> Procedure:
        """Refuse a file whose keys contradict each other, and fill in a base turn's ``side``."""
        problems = checks.problems(self)
        if problems:
            raise PydanticCustomError("procedure", "{what}", {"what": problems[0].what, "problems": problems})
        self._complete_base_turn()
        return self

    def _complete_base_turn(self) -> None:
        """A base turn is flown towards its inbound course: its two directions give the side."""
        course_deg, reversal = self.outbound_course_deg, self.reversal
        if reversal is None or reversal.side is not None or course_deg is None:
            return
        towards_left = difference_deg(course_deg, self.inbound_course_deg + 180.0) > 0
        side = "left" if towards_left else "right"
        legs = tuple(leg.model_copy(update={"side": side}) if leg is reversal else leg for leg in self.leg)
        object.__setattr__(self, "leg", legs)

    def leg_of(self, phase: str) -> Leg | None:
        """The leg of that phase, ``None`` where the procedure has none."""
        return next((leg for leg in self.leg if leg.phase == phase), None)

    def leg_in_force(self, phase: str, *, straight_in: bool) -> Leg | None:
        """The leg whose altitude holds in a phase: that of the phase.

        Straight in, where nothing is published for the way to the station, that of the way back in: it is flown there.
        """
        instead = phase == Phase.INBOUND and straight_in
        return self.leg_of(phase) or (self.leg_of(Phase.INTERMEDIATE) if instead else None)

    def low_ft(self, phase: str) -> float | None:
        """The lowest altitude published for a phase, ``None`` where none is. [ft]"""
        leg = self.leg_of(phase)
        return None if leg is None or leg.altitude is None else leg.altitude.low_ft

    def minimum_ft(self, *, circled: bool) -> float | None:
        """The minimum in force on a final: its own, or where the aircraft circled that of circling. [ft]"""
        return (
            self.circling.altitude.low_ft if circled and self.circling is not None else self.low_ft("final")
        )

    @property
    def ground_ft(self) -> float:
        """Elevation of the aerodrome: of the threshold, where a runway is given, else of the station."""
        return (self.runway or self.station).elevation_ft

    @property
    def outbound(self) -> Leg | None:
        """The outbound leg."""
        return self.leg_of("outbound")

    @property
    def reversal(self) -> Leg | None:
        """The course reversal."""
        return self.leg_of("course_reversal")

    @property
    def final(self) -> Leg | None:
        """The final leg."""
        return self.leg_of("final")

    @property
    def has_intermediate(self) -> bool:
        """False where the station lies on the aerodrome and final begins when established."""
        return self.leg_of("intermediate") is not None

    @property
    def station_on_aerodrome(self) -> bool:
        """Whether the final is flown towards the station (on the aerodrome) and not away from it.

        With a reversal the legs say so: no ``intermediate``. Straight in, the threshold lies within 2 NM.
        """
        if self.reversal is not None:
            return not self.has_intermediate
        threshold = checks.station_to_threshold(self)
        return threshold is not None and threshold[0] <= ON_AERODROME_NM

    @property
    def inbound_course_deg(self) -> float:
        """The course flown back in after the reversal, magnetic. [deg]"""
        leg = self.leg_of("intermediate") or self.final
        if leg is None or leg.course_deg is None:
            raise ValueError("a checked procedure has a final course")
        return leg.course_deg

    @property
    def outbound_course_deg(self) -> float | None:
        """The course flown outbound (the radial, or the racetrack's outbound course), magnetic. [deg]"""
        leg = self.outbound
        if leg is None:
            return None
        return leg.radial_deg if leg.radial_deg is not None else leg.course_deg

    @property
    def final_course_true_deg(self) -> float:
        """The course of the final from true north: as given with its guidance, else by the station. [deg]"""
        guidance, final = self.final_guidance, self.final
        if guidance is not None and guidance.course_true_deg is not None:
            return guidance.course_true_deg
        if final is None or final.course_deg is None:
            raise ValueError("a checked procedure has a final course")
        return self.true_deg(final.course_deg)

    @property
    def leaves_the_needle(self) -> bool:
        """Whether the end of a final may be flown by eye: in a visual segment, or circling."""
        return self.visual_segment is not None or self.circling is not None

    @property
    def missed_approach_course_deg(self) -> float | None:
        """The course first flown in the published missed approach, magnetic; ``None`` where none is published."""
        missed, final = self.missed_approach, self.final
        if missed is None or final is None:
            return None
        return missed.course_deg if missed.course_deg is not None else final.course_deg

    def true_deg(self, magnetic_deg: float) -> float:
        """A published course or radial from true north, by the station's alignment. [deg, 0..360)"""
        return (magnetic_deg + self.station.declination_deg) % 360.0
