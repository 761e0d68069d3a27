"""A flight on its way into a logbook: read and debriefed, with all that is needed to do it again.

Owns      ``Reading`` (how the log was to be read), ``Entry``, ``measure_log``.
Not here  storing it (``adding``), which logs there are (the command line, ``watching``).
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from debrief.choice import debrief_best
from debrief.errors import Place, TrackError
from debrief.grading import Standard
from debrief.pipeline import AltitudeCorrection, debrief
from debrief.procedures import Procedure
from debrief.result import Result
from debrief.tracks.readers import read_track


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How a log is to be read, where it does not say so itself: the options of ``debrief report``."""

    columns: Mapping[str, str] = field(default_factory=dict)
    date: dt.date | None = None
    altitude_unit: Literal["ft", "m"] | None = None
    format: str | None = None
    qnh_hpa: float | None = None
    altitude_offset_ft: float = 0.0

    @property
    def altitude(self) -> AltitudeCorrection:
        """What is to be done to the log's altitude."""
        return AltitudeCorrection(qnh_hpa=self.qnh_hpa, offset_ft=self.altitude_offset_ft)

    def stored(self) -> dict[str, Any]:
        """As the logbook keeps it."""
        return {
            "columns": dict(self.columns),
            "date": self.date.isoformat() if self.date is not None else None,
            "altitude_unit": self.altitude_unit,
            "format": self.format,
            "qnh_hpa": self.qnh_hpa,
            "altitude_offset_ft": self.altitude_offset_ft,
        }

    @classmethod
    def of_stored(cls, kept: Mapping[str, Any]) -> Reading:
        """From what the logbook keeps."""
        date = kept.get("date")
        return cls(
            columns=dict(kept.get("columns") or {}),
            date=dt.date.fromisoformat(date) if date else None,
            altitude_unit=kept.get("altitude_unit"),
            format=kept.get("format"),
            qnh_hpa=kept.get("qnh_hpa"),
            altitude_offset_ft=float(kept.get("altitude_offset_ft") or 0.0),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A debriefed flight and what it was made from."""

    content: bytes  # the original log
    result: Result  # with its ``flight``
    procedure: Procedure
    standard: Standard
    reading: Reading


def measure_log(
    path: Path,
    *,
    procedures: Sequence[Procedure],
    standard: Standard,
    reading: Reading | None = None,
) -> Entry:
    """Read and debrief a log.

    Parameters
    ----------
    path : the log, as ``read_track`` takes it.
    procedures : the one that was flown; of several the best fitting is taken.

    Raises
    ------
    TrackError
        Where it cannot be read or used, or was written to meanwhile.
    """
    reading = reading or Reading()
    content = _content(path)
    track = read_track(
        path,
        columns=reading.columns or None,
        date=reading.date,
        altitude_unit=reading.altitude_unit,
        format=reading.format,
    )
    if len(procedures) == 1:
        result = debrief(track, procedures[0], standard, altitude=reading.altitude)
    else:
        result = debrief_best(track, procedures, standard, altitude=reading.altitude)
    if _content(path) != content or hashlib.sha256(content).hexdigest() != result.track.sha256:
        raise TrackError(
            "it changed while it was read",
            where=Place(path=path),
            remedy="Wait until it is written, then add it again.",
        )
    return Entry(
        content=content,
        result=result,
        procedure=result.flight.procedure,
        standard=standard,
        reading=reading,
    )


def _content(path: Path) -> bytes:
    try:
        if path.exists() and not path.is_file():  # a pipe would never end; the reader says what it is
            return b""
        return path.read_bytes()
    except FileNotFoundError:
        return b""  # the reader says it in its own words
    except (OSError, ValueError) as error:
        raise TrackError(
            f"it cannot be read: {getattr(error, 'strerror', None) or error}",
            where=Place(path=path),
            remedy="Check the name and who may read it.",
        ) from error
