"""What the replay draws from: every sample as the pilot saw it, the procedure on the ground, phases and findings.

Owns      ``replay_data``: plain lists, rounded to what a screen can show, missing values as null.
Not here  measuring (``measures.samples`` gives every number), drawing (``static/replay*.js``).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from debrief.language import tr
from debrief.measures.samples import samples
from debrief.navigation.geodesy import StationPlane
from debrief.navigation.radials import FULL_SCALE_DEG
from debrief.phases.model import Flight
from debrief.procedures.geometry import marks, outline
from debrief.procedures.model import Procedure
from debrief.reports.limits import limit_stretches
from debrief.reports.scene import Scene
from debrief.reports.style import PHASE_LOOKS, REFERENCE_LOOK
from debrief.reports.words import grade_name, phase_name
from debrief.result import Result

_GHOST_STEP_S = 2.0


def replay_data(result: Result, scenes: Sequence[Scene]) -> dict[str, Any] | None:
    """The data of the replay, ``None`` for a result without its flight.

    Times count in seconds from the first sample, east and north in NM from the station.
    """
    flight = result.flight
    if not isinstance(flight, Flight):
        return None
    rows = samples(flight)
    procedure, track = flight.procedure, flight.log.track
    plane = StationPlane(latitude_deg=procedure.station.latitude, longitude_deg=procedure.station.longitude)
    used = rows.used & np.isfinite(rows.t_s)
    east, north = plane.to_plane(rows.latitude_deg[used], rows.longitude_deg[used])
    t_s = rows.t_s[used]
    zero_s = float(t_s[0]) if len(t_s) else 0.0
    heading, heading_is = _heading(flight, rows.row[used])
    gaps = [(gap.start_s, gap.end_s) for gap in flight.log.gaps]
    return {
        "file": result.track.file,
        "procedure": _procedure(procedure),
        "begins": track.time_at(zero_s).isoformat(),
        "heading_is": heading_is,
        "full_scale_deg": FULL_SCALE_DEG,
        "looks": {
            name: {
                "name": look.name,
                "colour": look.colour,
                "dashes": look.dashes,
                "width": look.width_pt,
            }
            for name, look in (*PHASE_LOOKS.items(), ("reference", REFERENCE_LOOK))
        },
        "samples": {
            "t": _list(t_s - zero_s, 2),
            "east": _list(east, 4),
            "north": _list(north, 4),
            "altitude": _list(rows.altitude_ft[used], 0),
            "groundspeed": _list(rows.groundspeed_kt[used], 1),
            "vertical": _list(rows.vertical_speed_ft_min[used], 0),
            "track": _list(rows.ground_track_true_deg[used] - procedure.station.declination_deg, 1),
            "heading": _list(heading, 1),
            "dme": _list(rows.dme_nm[used], 2),
            "needle": _list(rows.deflection[used], 3),
            "course": _list(rows.course_deg[used], 1),
            "flag": [str(flag)[:1] for flag in rows.to_from[used].tolist()],
            "cone": rows.cone[used].astype(int).tolist(),
        },
        "gaps": [[_round(a - zero_s, 2), _round(b - zero_s, 2)] for a, b in gaps],
        "attempts": [_attempt(scene, zero_s) for scene in scenes],
    }


def _attempt(scene: Scene, zero_s: float) -> dict[str, Any]:
    return {
        "number": scene.attempt.number,
        "result": scene.attempt.grade.result,
        "result_is": grade_name(scene.attempt.grade.result),
        "start": _round(scene.found.start_s - zero_s, 2),
        "end": _round(scene.found.end_s - zero_s, 2),
        "passage": _round(scene.zero_s - zero_s, 2),
        "passage_is": scene.zero_name,
        "phases": [
            {
                "phase": str(span.phase),
                "name": phase_name(span.phase),
                "start": _round(span.start_s - zero_s, 2),
                "end": _round(span.end_s - zero_s, 2),
            }
            for span in scene.found.spans
        ],
        "findings": [
            {
                "number": finding.number,
                "verdict": finding.verdict,
                "message": finding.message,
                "at": None if (at := scene.moment_of(finding)) is None else _round(at - zero_s, 2),
            }
            for finding in scene.attempt.findings
        ],
        "limits": [
            {
                "start": _round(limit.start_s - zero_s, 2),
                "end": _round(limit.end_s - zero_s, 2),
                "ft": limit.altitude_ft,
                "below": limit.forbidden_below,
            }
            for limit in limit_stretches(scene)
        ],
        "errorless": _errorless(scene),
    }


def _errorless(scene: Scene) -> dict[str, Any] | None:
    """The errorless flight, its times counted from its own first station passage."""
    ghost = scene.errorless
    if ghost is None:
        return None
    path = ghost.path(ghost.found.start_s, ghost.found.end_s)
    every = max(int(_GHOST_STEP_S), 1)
    return {
        "t": _list((path.t_s - ghost.zero_s)[::every], 2),
        "east": _list(path.east_nm[::every], 4),
        "north": _list(path.north_nm[::every], 4),
        "altitude": _list(path.altitude_ft[::every], 0),
    }


def _procedure(procedure: Procedure) -> dict[str, Any]:
    station, runway = procedure.station, procedure.runway
    return {
        "name": procedure.name,
        "ident": station.ident,
        "kind": station.kind,
        "ndb": station.is_ndb,
        "latitude": station.latitude,
        "longitude": station.longitude,
        "declination": station.declination_deg,
        "elevation": station.elevation_ft,
        "runway": None if runway is None else runway.ident,
        "lines": [
            {"name": line.name, "east": _list(line.east_nm, 4), "north": _list(line.north_nm, 4)}
            for line in outline(procedure)
        ],
        "marks": [
            {
                "name": mark.name,
                "east": _round(mark.east_nm, 4),
                "north": _round(mark.north_nm, 4),
                "until": mark.until,
                "ft": mark.altitude_ft,
            }
            for mark in marks(procedure)
        ],
        "radials": [
            {"deg": deg, "true": procedure.true_deg(deg), "name": name}
            for deg, name in (
                (procedure.outbound.radial_deg if procedure.outbound is not None else None, "outbound"),
                ((procedure.inbound_course_deg + 180.0) % 360.0, "inbound"),
            )
            if deg is not None
        ],
    }


def _heading(flight: Flight, row: Any) -> tuple[Any, str]:
    """The heading as logged, magnetic by the station's alignment, and what it is, in words; all missing without one."""
    columns = flight.log.track.columns
    declination = flight.procedure.station.declination_deg
    if "heading_mag_deg" in columns and "heading_mag_deg" not in flight.log.doubtful_columns:
        return columns["heading_mag_deg"][row], tr("heading as logged, magnetic")
    if "heading_true_deg" in columns and "heading_true_deg" not in flight.log.doubtful_columns:
        return (columns["heading_true_deg"][row] - declination) % 360.0, (
            tr("heading as logged, less the station's declination")
        )
    return np.full(len(row), np.nan), tr("the log has no heading: the ground track is shown, magnetic")


def _list(values: ArrayLike, decimals: int) -> list[float | int | None]:
    array = np.round(np.asarray(values, dtype=np.float64), decimals)
    if decimals == 0:
        return [int(value) if np.isfinite(value) else None for value in array.tolist()]
    return [value if np.isfinite(value) else None for value in array.tolist()]


def _round(value: float, decimals: int) -> float:
    return round(float(value), decimals)
