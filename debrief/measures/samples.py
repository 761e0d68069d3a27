"""Every raw sample with what the pilot saw there: the columns of "Samples", as plain arrays.

Owns      which phase, attempt and course a sample belongs to; needle, flag and distance at its moment.
Not here  tables and files (debrief.tables, reports), the smoothed view itself (phases).
Source    The columns: DEVELOPERS.md, "Samples".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.radials import (
    along_track_nm,
    cross_track_nm,
    deflection,
    deviation_deg,
    to_from,
)
from debrief.phases.model import Flight, Floats, FoundAttempt, Span, StationView
from debrief.procedures.model import Phase, Procedure

Texts = NDArray[np.str_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """One entry a raw sample, in order of time (that of the file among equals); ``nan`` or "" where not known."""

    row: NDArray[np.int64]  # of the raw track
    t_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    altitude_ft: Floats  # as logged, with the correction that was asked for
    phase: Texts
    attempt: NDArray[np.int64]  # from 1; 0 outside any
    groundspeed_kt: Floats  # from here on smoothed
    ground_track_true_deg: Floats
    vertical_speed_ft_min: Floats
    turn_rate_deg_s: Floats
    course_deg: Floats  # that should have been selected, magnetic
    cross_track_nm: Floats
    deviation_deg: Floats
    deflection: Floats
    to_from: Texts
    dme_nm: Floats  # where the station has a DME
    cone: NDArray[np.bool_]
    used: NDArray[np.bool_]


def samples(flight: Flight) -> Samples:
    """The raw samples of a flight, each with the smoothed view at its moment."""
    log, track, procedure = flight.log, flight.log.track, flight.procedure
    row = np.argsort(track.t_s, kind="stable")
    t_s = track.t_s[row]
    view = flight.at(t_s)
    used = np.zeros(len(track), dtype=np.bool_)
    used[log.order] = True
    course_deg, inbound, phase, attempt = _selected(flight, view)
    deviation = deviation_deg(view.radial_deg, course_deg, inbound=inbound)
    deviation = np.where(view.in_cone, np.nan, deviation)
    flag = to_from(view.radial_deg, course_deg)
    return Samples(
        row=row,
        t_s=t_s,
        latitude_deg=track.latitude_deg[row],
        longitude_deg=track.longitude_deg[row],
        altitude_ft=_altitude_ft(flight)[row],
        phase=phase,
        attempt=attempt,
        groundspeed_kt=view.groundspeed_kt,
        ground_track_true_deg=view.ground_track_true_deg,
        vertical_speed_ft_min=view.vertical_speed_ft_min,
        turn_rate_deg_s=view.turn_rate_deg_s,
        course_deg=course_deg,
        cross_track_nm=cross_track_nm(
            view.east_nm, view.north_nm, course_deg + procedure.station.declination_deg
        ),
        deviation_deg=deviation,
        deflection=deflection(deviation),
        to_from=np.where(view.in_cone, "", flag),
        dme_nm=view.dme_nm if procedure.station.has_dme else np.full(len(t_s), np.nan),
        cone=view.in_cone,
        used=used[row],
    )


def _altitude_ft(flight: Flight) -> Floats:
    """Raw altitudes with the correction that the used ones got (a shift of all, or none)."""
    log, raw_ft = flight.log, flight.log.track.altitude_ft
    shift_ft = log.altitude_ft - raw_ft[log.order]
    shift_ft = shift_ft[np.isfinite(shift_ft)]
    corrected_ft: Floats = raw_ft + (float(np.median(shift_ft)) if len(shift_ft) else 0.0)
    corrected_ft[log.order] = log.altitude_ft
    return corrected_ft


def _selected(
    flight: Flight, view: StationView
) -> tuple[Floats, NDArray[np.bool_], Texts, NDArray[np.int64]]:
    """Course to select, whether it is flown to the station, phase and attempt of each moment."""
    count = len(view)
    course_deg = np.full(count, np.nan)
    inbound = np.zeros(count, dtype=np.bool_)
    phase, attempt = phase_at(flight, view.t_s)
    for found in flight.attempts:
        for span in found.spans:
            there = _within(found, span, view.t_s)
            course = course_to_select(flight.procedure, found, span)
            if course is None:
                continue
            course_deg[there] = course
            part = view.where(there)
            inbound[there] = _flown_to_station(flight.procedure, span, course, part)
    return course_deg, inbound, phase, attempt


def phase_at(flight: Flight, t_s: Floats) -> tuple[Texts, NDArray[np.int64]]:
    """The phase ("" outside any) and the attempt (from 1; 0 outside any) of moments in order of time."""
    phase = np.full(len(t_s), "", dtype="<U15")
    attempt = np.zeros(len(t_s), dtype=np.int64)
    for number, found in enumerate(flight.attempts, start=1):
        for span in found.spans:
            there = _within(found, span, t_s)
            phase[there], attempt[there] = span.phase.value, number
    return phase, attempt


def _within(attempt: FoundAttempt, span: Span, t_s: Floats) -> slice:
    """Which moments lie in a span: its end is the next one's beginning, but the attempt's end is its own."""
    start = int(np.searchsorted(t_s, span.start_s))
    end = int(np.searchsorted(t_s, span.end_s, side="right" if span is attempt.spans[-1] else "left"))
    return slice(start, end)


def course_to_select(procedure: Procedure, attempt: FoundAttempt, span: Span) -> float | None:
    """The course that should be selected in a phase, magnetic; ``None`` inbound, where none is published.

    From the turn off the outbound course on (on a racetrack from the station outbound) that is the course back
    in; during a passage the course of the leg that follows.
    """
    final_deg = procedure.final.course_deg if procedure.final is not None else None
    if span.phase is Phase.INBOUND:
        return None
    if span.phase is Phase.STATION_PASSAGE:
        after = next((s for s in attempt.spans if s.start_s >= span.end_s and s is not span), None)
        if after is None or after.phase is Phase.STATION_PASSAGE:
            return final_deg
        return course_to_select(procedure, attempt, after)
    if span.phase is Phase.OUTBOUND and procedure.outbound is not None:
        radial_deg = procedure.outbound.radial_deg
        return radial_deg if radial_deg is not None else procedure.inbound_course_deg
    if span.phase in (Phase.COURSE_REVERSAL, Phase.INTERMEDIATE):
        return procedure.inbound_course_deg
    return final_deg


def _flown_to_station(
    procedure: Procedure, span: Span, course_deg: float, view: StationView
) -> NDArray[np.bool_]:
    """Whether the selected course leads to the station from where the aircraft is (it does, on its near side)."""
    if span.phase is Phase.OUTBOUND and procedure.outbound is not None:
        racetrack = procedure.outbound.radial_deg is None
        return np.full(len(view), racetrack)
    if span.phase in (Phase.COURSE_REVERSAL, Phase.INTERMEDIATE):
        return np.ones(len(view), dtype=np.bool_)
    return along_track_nm(view.east_nm, view.north_nm, procedure.true_deg(course_deg)) < 0
