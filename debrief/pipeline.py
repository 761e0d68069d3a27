"""The one expression: ``debrief(read_track(path), load_procedure(path), standard)``.

Owns      joining conditioning, phases, measures and grading to a ``Result``.
Not here  reading or writing files, choosing a procedure (``choice``), any formula.
"""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Real

import numpy as np

from debrief import __version__
from debrief.errors import Place, ProcedureError, TrackError, refuse_other
from debrief.grading import Standard, judge, load_standard
from debrief.grading.causes import explain
from debrief.language import spoken, tr
from debrief.measures import measure, passages, turns
from debrief.measures.air import air_along
from debrief.measures.shown import shown
from debrief.measures.wind import NoWind, estimate_wind
from debrief.phases.attempts import find_attempts
from debrief.phases.model import Flight, FoundAttempt
from debrief.phases.pace import clock_doubt, clock_words
from debrief.phases.station_view import WINDOW_NM, nearest_nm, observe
from debrief.procedures.model import Phase, Procedure
from debrief.result import (
    Attempt,
    GapInfo,
    NotSeenInfo,
    PhaseSpan,
    ProcedureInfo,
    Result,
    TrackInfo,
    Wind,
)
from debrief.tracks.conditioning import Sifted, condition
from debrief.tracks.landing import RunwayPlace
from debrief.tracks.model import Conditioned, Track

TWO_SIGMA = 2.0
LOWEST_QNH_HPA, HIGHEST_QNH_HPA = 850.0, 1100.0  # beyond the records at sea level, 870 and 1085; mark: memory
MOST_OFFSET_FT = 5000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AltitudeCorrection:
    """What the user asked to be done to the log's altitude; nothing by default."""

    qnh_hpa: float | None = None  # LOWEST_QNH_HPA to HIGHEST_QNH_HPA, else TrackError
    offset_ft: float = 0.0  # at most MOST_OFFSET_FT either way, else TrackError

    def __post_init__(self) -> None:
        qnh_hpa = self.qnh_hpa
        for value, what in (
            (0.0 if qnh_hpa is None else qnh_hpa, "a QNH"),
            (self.offset_ft, "an altitude offset"),
        ):
            refuse_other(value, Real, TrackError, what, "Give a number.")
        if qnh_hpa is not None and not LOWEST_QNH_HPA <= qnh_hpa <= HIGHEST_QNH_HPA:
            raise TrackError(
                f"a QNH of {qnh_hpa:g} hPa is out of range",
                remedy=f"Give hectopascals, {LOWEST_QNH_HPA:.0f} to {HIGHEST_QNH_HPA:.0f}: "
                "29.92 inches of mercury are 1013.25.",
            )
        if not abs(self.offset_ft) <= MOST_OFFSET_FT:
            raise TrackError(
                f"an altitude offset of {self.offset_ft:g} ft is out of range",
                remedy=f"Give feet, {-MOST_OFFSET_FT:.0f} to {MOST_OFFSET_FT:.0f}.",
            )

    def __str__(self) -> str:
        said = []
        if self.qnh_hpa is not None:
            said.append(tr("corrected from 1013.25 hPa to QNH {qnh:g} hPa", qnh=self.qnh_hpa))
        if self.offset_ft:
            said.append(tr("{offset:+g} ft added", offset=self.offset_ft))
        return "; ".join(said)


AS_LOGGED = AltitudeCorrection()


def look(track: Track | Sifted, procedure: Procedure, altitude: AltitudeCorrection = AS_LOGGED) -> Flight:
    """Condition the log, see it from the station, and find the attempts: everything before measuring.

    A track that is held against several procedures is sifted once, before.

    Raises
    ------
    TrackError
        Where the log has too few usable samples, or never comes within 100 NM of the station.
    """
    refuse_other(track, (Track, Sifted), TrackError, "the track", "Give what read_track gives.")
    refuse_other(procedure, Procedure, ProcedureError, "the procedure", "Give what load_procedure gives.")
    refuse_other(
        altitude, AltitudeCorrection, TrackError, "the altitude's correction", "Give an AltitudeCorrection."
    )
    runway = procedure.runway
    place = None
    if runway is not None:
        place = RunwayPlace(
            latitude_deg=runway.latitude,
            longitude_deg=runway.longitude,
            elevation_ft=runway.elevation_ft,
            course_true_deg=runway.course_true_deg,
        )
    log = condition(
        track,
        qnh_hpa=altitude.qnh_hpa,
        altitude_offset_ft=altitude.offset_ft,
        runway=place,
    )
    view, at, noise = observe(log, procedure)
    attempts = find_attempts(view, at, procedure, log)
    return Flight(
        log=log,
        procedure=procedure,
        view=view,
        at=at,
        noise=noise,
        attempts=attempts,
        no_attempt_reason="" if attempts else _why_none(log, procedure, len(view)),
    )


def _why_none(log: Conditioned, procedure: Procedure, seen: int) -> str:
    nearest = nearest_nm(log, procedure)
    ident = procedure.station.ident
    if not seen:
        return tr(
            "No approach was found: the track never comes within {window:.0f} NM of station {ident} "
            "(nearest point {nearest:.1f} NM).",
            window=WINDOW_NM,
            ident=ident,
            nearest=nearest,
        )
    return tr(
        "No approach was found: the track comes within {nearest:.1f} NM of station {ident}, but "
        "holds neither an outbound leg with its reversal nor a descent on the final course.",
        nearest=nearest,
        ident=ident,
    )


def debrief(
    track: Track,
    procedure: Procedure,
    standard: Standard | str = "instrument-rating",
    *,
    altitude: AltitudeCorrection = AS_LOGGED,
    verdicts_only: bool = False,
) -> Result:
    """Debrief one log against one procedure.

    Parameters
    ----------
    track : as ``read_track`` gives it.
    procedure : as ``load_procedure`` gives it.
    standard : as ``load_standard`` gives it, or the name of a bundled one.
    altitude : corrections of the log's altitude, only where asked for.
    verdicts_only : leave out what no verdict needs, the statistics of most phases and what the pilot saw. Findings,
        grade and causes are the same.

    Returns
    -------
    Result
        With one ``Attempt`` for each approach flown; none, and a warning that says why, where none was found.

    Raises
    ------
    TrackError, StandardError
        See ``look`` and ``load_standard``.
    """
    flight = look(track, procedure, altitude)
    return debrief_flight(flight, standard, altitude=altitude, verdicts_only=verdicts_only)


def debrief_flight(
    flight: Flight,
    standard: Standard | str,
    *,
    altitude: AltitudeCorrection = AS_LOGGED,
    procedure_info: ProcedureInfo | None = None,
    verdicts_only: bool = False,
) -> Result:
    """Debrief a flight already looked at, see ``debrief``."""
    rules = standard if isinstance(standard, Standard) else load_standard(standard)
    procedure = flight.procedure
    return Result(
        program=f"debrief {__version__}",
        language=spoken(),
        track=_track_info(flight, altitude),
        procedure=procedure_info
        or ProcedureInfo(name=procedure.name, file=procedure.file, sha256=procedure.sha256),
        standard=rules.info(),
        attempts=tuple(
            _attempt(flight, found, rules, number, verdicts_only)
            for number, found in enumerate(flight.attempts, start=1)
        ),
        warnings=(flight.no_attempt_reason,) if flight.no_attempt_reason else (),
        flight=flight,
    )


def _attempt(
    flight: Flight, found: FoundAttempt, standard: Standard, number: int, verdicts_only: bool
) -> Attempt:
    time = flight.log.track.time_at
    wind, why_no_wind = find_wind(flight, found)
    measures = measure(flight, found, wind, gate_limits=standard.gate_limits, statistics=not verdicts_only)
    judged = judge(flight, found, measures, wind, standard)
    needed = {(item.rule, item.unit) for item in judged.grade.items if item.required}
    advisory = {(item.rule, item.unit) for item in judged.grade.items} - needed
    why = explain(flight, found, measures, wind, judged.findings, advisory=advisory)
    return Attempt(
        number=number,
        phases=tuple(
            PhaseSpan(phase=s.phase.value, start=time(s.start_s), end=time(s.end_s), circuit=s.circuit)
            for s in found.spans
        ),
        not_seen=tuple(
            NotSeenInfo(
                phase=missing.phase.value,
                why=missing.why,
                start=None if missing.start_s is None else time(missing.start_s),
                end=None if missing.end_s is None else time(missing.end_s),
            )
            for missing in found.not_seen
        ),
        ending=found.ending,
        station_passages=passages(flight, found),
        turns=turns(flight, found, sure=not verdicts_only),
        wind=wind,
        measures=measures,
        findings=judged.findings,
        grade=judged.grade,
        went_well=judged.went_well,
        causes=why.causes,
        practice=why.practice,
        warnings=() if wind is not None else (tr("No wind is given: {why}.", why=why_no_wind),),
        shown=() if verdicts_only else shown(flight, found, measures, wind),
    )


def find_wind(flight: Flight, found: FoundAttempt) -> tuple[Wind | None, str]:
    """The wind of one attempt, or ``None`` and the reason in plain words."""
    view = flight.view.between(found.start_s, found.end_s)
    if not len(view):
        return None, tr("nothing of the attempt was observed")
    doubt = clock_doubt(flight, found)
    if doubt is not None:
        return None, clock_words(doubt)
    reversal = found.last(Phase.COURSE_REVERSAL)
    air = air_along(flight, found, view, None)
    track_true = np.radians(view.ground_track_true_deg)
    estimate = estimate_wind(
        t_s=view.t_s,
        velocity_east_kt=view.groundspeed_kt * np.sin(track_true),
        velocity_north_kt=view.groundspeed_kt * np.cos(track_true),
        turn_rate_deg_s=view.turn_rate_deg_s,
        altitude_ft=view.altitude_ft,
        position_sigma_nm=flight.noise.smoothed_position_nm,
        velocity_sigma_kt=flight.noise.smoothed_groundspeed_kt,
        sample_interval_s=flight.log.measured_interval_s,
        focus_s=(reversal.start_s, reversal.end_s) if reversal is not None else None,
        heading_true_deg=air.heading_true_deg,
        airspeed_ktas=air.ktas,
    )
    if isinstance(estimate, NoWind):
        return None, estimate.reason
    return Wind(
        from_true_deg=estimate.from_true_deg,
        speed_kt=estimate.speed_kt,
        speed_uncertainty_kt=estimate.speed_uncertainty_kt,
        tas_kt=estimate.tas_kt,
        method=estimate.method,
        from_uncertainty_deg=estimate.from_uncertainty_deg,
        tas_uncertainty_kt=estimate.tas_uncertainty_kt,
    ), ""


def _track_info(flight: Flight, altitude: AltitudeCorrection) -> TrackInfo:
    log, noise = flight.log, flight.noise
    track = log.track
    used_s = log.t_s
    if not len(used_s):
        raise TrackError("it holds no usable sample", where=Place(path=track.file))
    return TrackInfo(
        file=track.file,
        sha256=track.sha256,
        samples=len(track),
        samples_used=len(used_s),
        start=track.time_at(float(used_s[0])),
        end=track.time_at(float(used_s[-1])),
        median_interval_s=log.median_interval_s,
        gaps=tuple(
            GapInfo(
                start=track.time_at(gap.start_s),
                end=track.time_at(gap.end_s),
                seconds=gap.seconds,
                reason=gap.reason,
            )
            for gap in log.gaps
        ),
        altitude_source=log.altitude_source,
        altitude_uncertainty_ft=log.altitude_uncertainty_ft,
        altitude_correction=str(altitude) or None,
        altitude_offset_ft=log.altitude_offset_ft,
        altitude_left_ft=log.altitude_left_ft,
        position_noise_nm=TWO_SIGMA * noise.position_nm,
        altitude_noise_ft=TWO_SIGMA * noise.altitude_ft,
        warnings=track.notes + log.warnings,
    )
