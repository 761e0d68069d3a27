"""Which procedure was flown: the best fitting of several.

Owns      ``choose``: one flight looked at from the station of each procedure near it, and the fit of each.
Not here  anything that judges the pilot: a poor approach still fits the procedure it was meant to be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from debrief.errors import Place, ProcedureError, TrackError, refuse_other
from debrief.grading import Standard
from debrief.language import tr
from debrief.measures.legs import leg_fields, leg_tracking
from debrief.measures.reversal import reversal_measures
from debrief.measures.scene import scene_of
from debrief.phases.model import Flight, FoundAttempt
from debrief.phases.station_view import SWAPPED, WINDOW_NM, nearest_of, seems_swapped
from debrief.pipeline import AS_LOGGED, AltitudeCorrection, debrief_flight, look
from debrief.procedures.model import Phase, Procedure
from debrief.result import Candidate, ProcedureInfo, Result
from debrief.tracks.conditioning import sift
from debrief.tracks.model import Track

FOLLOWED_DEG = 10.0  # full scale: at this root mean square a leg counts a third
LEAST_FIT = 0.35  # below it nothing says that this procedure was flown
NEAR_MINIMUM_FT = 800.0  # this far above the minimum at its lowest an approach counts a third


def choose(
    track: Track, procedures: Sequence[Procedure], altitude: AltitudeCorrection = AS_LOGGED
) -> tuple[Flight, ProcedureInfo]:
    """The flight held against the procedure that fits it best.

    Returns
    -------
    The flight, and how the procedure was chosen. Where no approach of any procedure was found, the nearest station's
    procedure is taken, its fit is 0 and the flight's ``no_attempt_reason`` says so.

    Raises
    ------
    TrackError
        Where the track comes near none of the stations.
    """
    refuse_other(track, Track, TrackError, "the track", "Give what read_track gives.")
    remedy = "Give a list of what load_procedure gives."
    refuse_other(procedures, (list, tuple), ProcedureError, "what there is to choose from", remedy)
    for procedure in procedures:
        refuse_other(procedure, Procedure, ProcedureError, "one of the procedures", remedy)
    near = sorted(((nearest_of(track, p), i) for i, p in enumerate(procedures)))
    if not near:
        raise TrackError(
            "there is no procedure to choose from", where=Place(path=track.file), needs="procedure"
        )
    if near[0][0] > WINDOW_NM:
        nearest = procedures[near[0][1]]
        raise TrackError(
            f"no known procedure lies within {WINDOW_NM:.0f} NM of this track; the nearest station, "
            f"{nearest.station.ident} of {nearest.name!r}, is {near[0][0]:,.0f} NM away",
            where=Place(path=track.file),
            remedy=SWAPPED
            if any(seems_swapped(track, procedure) for procedure in procedures)
            else "Give the procedure that was flown with --procedure, or a folder of them with --procedures.",
            needs="procedure",
        )
    sifted = sift(track)
    looks = [look(sifted, procedures[i], altitude) for distance, i in near if distance <= WINDOW_NM]
    fits = [round(fit(flight), 3) for flight in looks]
    order = sorted(range(len(looks)), key=lambda k: -fits[k])
    best = looks[order[0]]
    candidates = tuple(
        Candidate(
            name=looks[k].procedure.name,
            file=looks[k].procedure.file,
            fit=fits[k],
            attempts=len(looks[k].attempts),
        )
        for k in order
    )
    if fits[order[0]] < LEAST_FIT:
        best = replace(best, attempts=(), no_attempt_reason=_none_fits(best, fits[order[0]], len(looks)))
    procedure = best.procedure
    return best, ProcedureInfo(
        name=procedure.name,
        file=procedure.file,
        sha256=procedure.sha256,
        chosen="best fit",
        fit=fits[order[0]],
        candidates=candidates[1:],
    )


def debrief_best(
    track: Track,
    procedures: Sequence[Procedure],
    standard: Standard | str = "instrument-rating",
    *,
    altitude: AltitudeCorrection = AS_LOGGED,
    verdicts_only: bool = False,
) -> Result:
    """Debrief one log against the procedure that fits it best, see ``choose`` and ``debrief``."""
    flight, info = choose(track, procedures, altitude)
    return debrief_flight(
        flight, standard, altitude=altitude, procedure_info=info, verdicts_only=verdicts_only
    )


def _none_fits(best: Flight, fit_found: float, tried: int) -> str:
    name, percent = best.procedure.name, 100 * fit_found
    if tried > 1 and round(percent) == 0:  # then none is the best
        return tr(
            "No approach was found: the flight does not fit any of the {count} procedures near it.",
            count=tried,
        )
    if tried == 1:
        return tr(
            "No approach was found: the flight does not fit the one procedure near it ({name!r} fits {fit:.0f} %).",
            name=name,
            fit=percent,
        )
    return tr(
        "No approach was found: the flight does not fit any of the {count} procedures near it (the best, {name!r}, fits "
        "{fit:.0f} %).",
        count=tried,
        name=name,
        fit=percent,
    )


def fit(flight: Flight) -> float:
    """How well the best attempt fits the flight's procedure, 0 to 1.

    The mean of: the share of legs flown; how closely each leg's course was followed; the published pattern and
    side; coming down to the minimum. Zero without an attempt.
    """
    return max((_fit(flight, attempt) for attempt in flight.attempts), default=0.0)


def _fit(flight: Flight, attempt: FoundAttempt) -> float:
    procedure, scene = flight.procedure, scene_of(flight, attempt, None)
    flown = {span.phase for span in attempt.spans}
    expected = [Phase(leg.phase) for leg in procedure.leg]
    parts = [sum(phase in flown for phase in expected) / len(expected)]
    legs = [scene.span(phase) for phase in (Phase.OUTBOUND, Phase.INTERMEDIATE, Phase.FINAL)]
    spreads = [leg_tracking(scene, span).deviation_deg for span in legs if span is not None]
    off_deg = [spread.rms for spread in spreads if spread is not None]
    parts.append(float(np.mean(np.exp(-np.square(off_deg) / FOLLOWED_DEG**2))) if off_deg else 0.0)
    span = scene.span(Phase.COURSE_REVERSAL)
    if span is not None and procedure.reversal is not None:
        reversal = reversal_measures(scene, span, leg_fields(scene, span, statistics=False))
        patterns = (reversal.pattern, *reversal.pattern_may_be)
        same = (procedure.reversal.pattern in patterns, reversal.side == procedure.reversal.side)
        parts.append(sum(same) / len(same))
    parts.append(_came_down(flight, attempt))
    return float(np.mean(parts)) * min(1.0, parts[0] + parts[1])


def _came_down(flight: Flight, attempt: FoundAttempt) -> float:
    """1 at the minimum, less the farther from it the lowest altitude on final lies."""
    leg, span = flight.procedure.final, attempt.last(Phase.FINAL)
    if leg is None or leg.altitude is None or leg.altitude.low_ft is None or span is None:
        return 0.5
    altitude = flight.view.between(span.start_s, span.end_s).altitude_ft
    if not np.isfinite(altitude).any():
        return 0.5
    above = float(np.nanmin(altitude)) - leg.altitude.low_ft
    return float(np.exp(-((max(above, 0.0) / NEAR_MINIMUM_FT) ** 2)))
