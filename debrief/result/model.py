"""A whole debrief: its attempts, the same flown without error, and what people said."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from debrief.result.events import NotSeenInfo, PhaseSpan, Shown, StationPassage, TurnInfo, Wind
from debrief.result.inputs import ProcedureInfo, StandardInfo, TrackInfo
from debrief.result.judged import Cause, Finding, Grade, Practice
from debrief.result.measures import Measures

if TYPE_CHECKING:
    import pandas as pd


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
