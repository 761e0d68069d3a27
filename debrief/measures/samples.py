"""Every raw sample with what the pilot saw there: the columns of "Samples", as plain arrays.

Owns      which phase, attempt and course a sample belongs to.
Not here  what the instruments read (``instruments``), tables and files (debrief.tables, reports), the smoothed
          view itself (phases).
Source    The columns: DEVELOPERS.md, "Samples".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.measures.air import air_along
from debrief.measures.final_track import by_eye_from_s
from debrief.measures.instruments import (
    Texts,
    course_to_select,
    flown_to_station,
    readings,
    relative_bearing_deg,
)
from debrief.measures.scene import scene_of
from debrief.phases.model import Flight, Floats, FoundAttempt, Span, StationView
from debrief.procedures.guidance import guidance_in
from debrief.procedures.model import Phase
from debrief.result import Wind


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
    bearing_deg: Floats  # to the station, magnetic by its alignment
    relative_bearing_deg: Floats  # of the station from the nose, 0..360; in attempts whose heading is known


def samples(flight: Flight, winds: Sequence[Wind | None] = ()) -> Samples:
    """The raw samples of a flight, each with the smoothed view at its moment.

    ``winds`` are those of the attempts: where the log has no heading, it comes from them.
    """
    log, track, procedure = flight.log, flight.log.track, flight.procedure
    row = np.argsort(track.t_s, kind="stable")
    t_s = track.t_s[row]
    view = flight.at(t_s)
    used = np.zeros(len(track), dtype=np.bool_)
    used[log.order] = True
    course_deg, inbound, phase, attempt = _selected(flight, view)
    guided = np.zeros(len(view), dtype=np.bool_)
    for name in (Phase.FINAL, Phase.COURSE_REVERSAL):
        if guidance_in(procedure, name) is not None:
            guided |= phase == name.value
    read = readings(procedure, view, course_deg, inbound, guided)
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
        cross_track_nm=read.cross_track_nm,
        deviation_deg=read.deviation_deg,
        deflection=read.deflection,
        to_from=read.to_from,
        dme_nm=read.dme_nm,
        cone=view.in_cone,
        used=used[row],
        bearing_deg=read.bearing_deg,
        relative_bearing_deg=_relative_bearing_deg(flight, view, winds),
    )


def _relative_bearing_deg(flight: Flight, view: StationView, winds: Sequence[Wind | None]) -> Floats:
    """That of each attempt by its own heading; ``nan`` outside any."""
    bearing_deg = np.full(len(view), np.nan)
    for number, found in enumerate(flight.attempts):
        first = int(np.searchsorted(view.t_s, found.start_s))
        there = slice(first, int(np.searchsorted(view.t_s, found.end_s, side="right")))
        part, wind = view.where(there), winds[number] if number < len(winds) else None
        if len(part):
            air = air_along(flight, found, part, wind)
            bearing_deg[there] = relative_bearing_deg(flight.procedure, part, air)
    return bearing_deg


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
            if span.phase is Phase.FINAL and flight.procedure.leaves_the_needle:
                there = _by_needle(there, by_eye_from_s(scene_of(flight, found, None)), view)
            course_deg[there] = course
            part = view.where(there)
            inbound[there] = flown_to_station(flight.procedure, span.phase, course, part)
    return course_deg, inbound, phase, attempt


def _by_needle(there: slice, by_eye_s: float | None, view: StationView) -> slice:
    """The moments of a final before its visual segment, where no course is selected any more."""
    if by_eye_s is None:
        return there
    return slice(there.start, max(there.start, min(there.stop, int(np.searchsorted(view.t_s, by_eye_s)))))


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
