"""What went into a debrief: the log, the procedure, the standard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal


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
