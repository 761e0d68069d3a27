"""What a map shows of a result: the track in pieces, one a phase, the findings' places, the procedure's lines.

Owns      ``Flown``: which samples belong to which piece, names, where a finding stands, what the lines are.
Not here  any file format.

A piece ends with the first sample of the next, so that lines meet on a map; a reader of ours takes such a sample for
one. A gap parts two pieces for good.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from debrief.errors import DebriefError
from debrief.measures.samples import phase_at
from debrief.navigation.geodesy import StationPlane
from debrief.phases.model import Flight
from debrief.procedures.geometry import Mark, marks, outline
from debrief.procedures.model import Procedure
from debrief.reports.scene import Scene, scenes
from debrief.reports.style import CAUTION, NOMINAL_LOOK, OUTSIDE_LOOK, PHASE_LOOKS, Look
from debrief.reports.words import phase_name, rule_name
from debrief.result import Finding, Result

Floats = NDArray[np.float64]

_DECIMALS = 7  # of degrees: a centimetre
_RUNWAY_LOOK = Look("Runway", "#1a1a1a", (), 4.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """Samples in order of time, of one phase of one attempt, without a gap."""

    phase: str  # "" outside any attempt
    attempt: int  # from 1; 0 outside any
    name: str
    look: Look
    time: NDArray[np.datetime64]  # UTC, milliseconds
    latitude_deg: Floats  # rounded as it is written
    longitude_deg: Floats  # the same, -180 <= longitude < 180
    altitude_ft: Floats  # with the corrections that were asked for; ``nan`` where it was set aside

    @property
    def stamps(self) -> list[str]:
        """The times as ISO 8601, UTC."""
        return [f"{text}Z" for text in np.datetime_as_string(self.time, unit="ms").tolist()]

    @property
    def moments(self) -> list[datetime]:
        """The times, UTC."""
        naive: list[datetime] = self.time.astype("datetime64[us]").tolist()
        return [moment.replace(tzinfo=UTC) for moment in naive]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingPlace:
    """A finding and where on the map it stands."""

    attempt: int
    finding: Finding
    name: str
    latitude_deg: float | None  # ``None``: it stands nowhere
    longitude_deg: float | None
    altitude_ft: float | None
    time: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line of the procedure, in the direction of flight."""

    name: str
    look: Look
    latitude_deg: Floats
    longitude_deg: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A point of the procedure."""

    name: str
    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flown:
    """Everything that a file for a map holds."""

    title: str
    about: str  # what it is and the caution, in sentences
    program: str
    start: datetime
    attempts: tuple[str, ...]  # each one's name and result
    pieces: tuple[Piece, ...]  # in order of time
    findings: tuple[FindingPlace, ...]
    lines: tuple[Line, ...]
    points: tuple[Point, ...]


def flown(result: Result) -> Flown:
    """What is to be drawn of a result. Raises ``DebriefError`` for one without its flight."""
    flight = result.flight
    if not isinstance(flight, Flight):
        raise DebriefError(
            "this result holds no samples: it was read from a file",
            remedy="Debrief the track again to get them.",
        )
    several = len(result.attempts) > 1
    plane = _plane(flight.procedure)
    left = len(flight.log.track) - len(flight.log.order)
    about = f"Flown track by phase, as debriefed against {result.procedure.name} by {result.standard.name}. "
    if left:
        about += f"{left:,} of {len(flight.log.track):,} samples were set aside and are not drawn. "
    findings = tuple(
        _place(scene, finding, plane, several=several)
        for scene in scenes(flight, result.attempts)
        for finding in scene.attempt.findings
    )
    nowhere = [place.name for place in findings if place.latitude_deg is None]
    if nowhere:
        about += f"Findings without a place on the map: {'; '.join(nowhere)}. "
    return Flown(
        title=f"{result.track.file}: {result.procedure.name}",
        about=about + CAUTION,
        program=result.program,
        start=result.track.start,
        attempts=tuple(f"Attempt {attempt.number}: {attempt.grade.result}" for attempt in result.attempts),
        pieces=_pieces(flight, several=several),
        findings=findings,
        lines=tuple(
            Line(
                name=f"Procedure: {phase_name(line.name).lower()}",
                look=_RUNWAY_LOOK if line.name == "runway" else NOMINAL_LOOK,
                **_geographic(plane, line.east_nm, line.north_nm),
            )
            for line in outline(flight.procedure)
        ),
        points=tuple(_point(flight.procedure, mark, plane) for mark in marks(flight.procedure)),
    )


def _plane(procedure: Procedure) -> StationPlane:
    station = procedure.station
    return StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)


def _geographic(plane: StationPlane, east_nm: Floats, north_nm: Floats) -> dict[str, Floats]:
    latitude, longitude = plane.to_geographic(east_nm, north_nm)
    return {"latitude_deg": np.round(latitude, _DECIMALS), "longitude_deg": _rounded_longitude(longitude)}


def _rounded_longitude(longitude_deg: Floats) -> Floats:
    """Rounded, and still below 180 degrees: GPX has no longitude of 180."""
    rounded = np.round(longitude_deg, _DECIMALS)
    return np.where(rounded >= 180.0, rounded - 360.0, rounded)


# The track


def _pieces(flight: Flight, *, several: bool) -> tuple[Piece, ...]:
    """The used samples cut where the phase, the attempt or the segment changes."""
    log, track = flight.log, flight.log.track
    t_s = log.t_s
    phase, attempt = phase_at(flight, t_s)
    epoch = np.datetime64(track.epoch.replace(tzinfo=None), "ms")
    exact_ms = track.epoch.microsecond % 1000 / 1000.0 + t_s * 1000.0
    time = epoch + np.round(exact_ms).astype("timedelta64[ms]")
    latitude = np.round(track.latitude_deg[log.order], _DECIMALS)
    longitude = _rounded_longitude(track.longitude_deg[log.order])
    altitude_ft = np.where(log.altitude_used, log.altitude_ft, np.nan)
    new = (phase[1:] != phase[:-1]) | (np.diff(attempt) != 0) | (np.diff(log.segment) != 0)
    starts = [0, *(np.nonzero(new)[0] + 1).tolist()]
    pieces = []
    for start, end in zip(starts, [*starts[1:], len(t_s)], strict=True):
        goes_on = end < len(t_s) and log.segment[end] == log.segment[end - 1]
        there = slice(start, end + 1 if goes_on else end)
        name, number = str(phase[start]), int(attempt[start])
        pieces.append(
            Piece(
                phase=name,
                attempt=number,
                name=_name(name, number, several=several),
                look=PHASE_LOOKS.get(name, OUTSIDE_LOOK),
                time=time[there],
                latitude_deg=latitude[there],
                longitude_deg=longitude[there],
                altitude_ft=altitude_ft[there],
            )
        )
    return tuple(pieces)


def _name(phase: str, attempt: int, *, several: bool) -> str:
    look = PHASE_LOOKS.get(phase, OUTSIDE_LOOK)
    return f"Attempt {attempt}: {look.name.lower()}" if several and attempt else look.name


# Findings and the procedure


def _place(scene: Scene, finding: Finding, plane: StationPlane, *, several: bool) -> FindingPlace:
    moment_s = scene.moment_of(finding)
    where: tuple[float | None, float | None, float | None] = (None, None, None)
    if moment_s is not None:
        view = scene.flight.at(np.array([moment_s]))
        spot = _geographic(plane, view.east_nm, view.north_nm)
        latitude, longitude = float(spot["latitude_deg"][0]), float(spot["longitude_deg"][0])
        altitude_ft = float(view.altitude_ft[0])
        if np.isfinite(latitude):
            where = (latitude, longitude, altitude_ft if np.isfinite(altitude_ft) else None)
    number = f"{scene.attempt.number}.{finding.number}" if several else f"{finding.number}"
    return FindingPlace(
        attempt=scene.attempt.number,
        finding=finding,
        name=f"{number} {rule_name(finding.rule)}: {finding.verdict}",
        latitude_deg=where[0],
        longitude_deg=where[1],
        altitude_ft=where[2],
        time=scene.flight.log.track.time_at(moment_s) if moment_s is not None else finding.start,
    )


def _point(procedure: Procedure, mark: Mark, plane: StationPlane) -> Point:
    spot = _geographic(plane, np.array([mark.east_nm]), np.array([mark.north_nm]))
    name = {
        "station": f"{procedure.station.ident} {procedure.station.kind}",
        "step_down": "Step-down",
        "missed_approach_point": "Missed approach point",
        "threshold": f"Threshold {procedure.runway.ident}" if procedure.runway is not None else "Threshold",
    }[mark.name]
    if mark.dme_nm is not None:
        name += f", {mark.dme_nm:.1f} DME"
    if mark.altitude_ft is not None:
        name += f", {mark.altitude_ft:,.0f} ft"
    return Point(
        name=name, latitude_deg=float(spot["latitude_deg"][0]), longitude_deg=float(spot["longitude_deg"][0])
    )
