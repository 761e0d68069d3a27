"""The reference flight: the same approach without error, at this pilot's speeds in the wind that was measured.

Owns      its figures beside the pilot's, and whether those speeds allow the procedure at all.
Not here  what it flies (``reference_plan``), flying it (``simulation``), measuring (``measures``), drawing (reports).

The errorless flight is recorded without noise and then looked at and measured as a log is: each of its figures
has the definition of the pilot's.
"""

from __future__ import annotations

from dataclasses import replace

from debrief.language import tr
from debrief.measures import measure
from debrief.measures.outbound import heading_mag_deg
from debrief.measures.scene import Scene, scene_of
from debrief.navigation.atmosphere import isa_temperature_c, true_airspeed_kt
from debrief.navigation.descent import descent_rate_ft_min
from debrief.navigation.units import SECONDS_PER_MINUTE
from debrief.phases.attempts import find_attempts
from debrief.phases.model import Flight, FoundAttempt
from debrief.phases.pace import clock_doubt
from debrief.phases.station_view import observe
from debrief.procedures.model import Phase, Procedure
from debrief.reference_plan import STEP_S, Speeds, Start, plan_of, speeds_of, start_of
from debrief.result import KeyFigures, Measures, Reference, Result, Wind
from debrief.simulation import FlightDoesNotEndError, fly
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.conditioning import condition
from debrief.tracks.model import Track

LONGEST_S = 45 * SECONDS_PER_MINUTE
STRONGEST_WIND_SHARE = (
    0.6  # of the true airspeed: beyond it no course is kept, and no leg timed, with any use
)
HIGH_AT_THE_POINT_FT = 100.0


_PERFECT = Sensor(
    interval_s=1.0,
    position_noise_m=0.0,
    position_wander_m=0.0,
    decimals=None,
    altitude_source="indicated",
    altitude_noise_ft=0.0,
    altitude_wander_ft=0.0,
    altitude_step_ft=None,
    columns=("heading_true_deg", "airspeed_kias"),
    speed_noise_kt=0.0,
    direction_noise_deg=0.0,
)


def with_references(result: Result) -> Result:
    """Put an errorless flight beside each attempt of a result that still has its arrays (``Result.flight``).

    A step of its own, for what shows flights: where only verdicts are wanted it would double the work.

    Returns
    -------
    The result with ``Attempt.reference`` filled where it was not, or the reason added to ``Attempt.warnings``.
    """
    flight = result.flight
    assert flight is not None
    beside = []
    for attempt, found in zip(result.attempts, flight.attempts, strict=True):
        if attempt.reference is not None:
            beside.append(attempt)
            continue
        reference, why_not = reference_flight(flight, found, attempt.measures, attempt.wind)
        new = () if not why_not or why_not in attempt.warnings else (why_not,)
        beside.append(replace(attempt, reference=reference, warnings=(*attempt.warnings, *new)))
    return replace(result, attempts=tuple(beside))


def reference_flight(
    flight: Flight, found: FoundAttempt, measures: Measures, wind: Wind | None
) -> tuple[Reference | None, str]:
    """Fly one attempt again, without error.

    Parameters
    ----------
    flight, found, measures : the attempt as it was flown.
    wind : the wind measured in it; ``None``: its ground speeds are then flown in still air.

    Returns
    -------
    The reference and "", or ``None`` and the reason in plain words. Where too little was flown for anything to
    stand beside it (neither outbound and reversal, nor a final) there is no reason either.
    """
    reversal_flown = found.last(Phase.OUTBOUND) is not None and found.last(Phase.COURSE_REVERSAL) is not None
    if not reversal_flown and found.last(Phase.FINAL) is None:
        return None, ""
    procedure = flight.procedure
    speeds = speeds_of(procedure, found, measures, wind)
    # by a clock that something speaks against no speed is the pilot's
    if speeds is None or clock_doubt(flight, found) is not None:
        return None, tr("No flight without error stands beside it: the pilot's speeds are not known.")
    slowest_ktas = float(true_airspeed_kt(min(speeds.approach, speeds.inbound), 0.0, isa_temperature_c(0.0)))
    if wind is not None and wind.speed_kt > STRONGEST_WIND_SHARE * slowest_ktas:
        return None, (
            tr(
                "No flight without error stands beside it: a wind of {wind:.0f} kt leaves a slow aircraft ({slowest:.0f} kt) no "
                "course to keep.",
                wind=wind.speed_kt,
                slowest=slowest_ktas,
            )
        )
    straight_in = found.straight_in or procedure.outbound is None or procedure.reversal is None
    start = start_of(flight, found, straight_in=straight_in, arc=measures.arc)
    plan = plan_of(flight, found, speeds, wind, start, straight_in=straight_in, circled=measures.circling)
    try:
        simulated = fly(procedure, plan, step_s=STEP_S, longest_s=LONGEST_S)
    except FlightDoesNotEndError as error:
        return None, tr("No flight without error stands beside it: {error}.", error=error)
    again = _looked_at(procedure, record(simulated, _PERFECT))
    if not again.attempts:
        return None, tr(
            "No flight without error stands beside it: at these speeds it makes no whole approach."
        )
    best = max(again.attempts, key=lambda attempt: len(attempt.spans))
    measured = measure(again, best, wind)
    figures = _figures(scene_of(again, best, wind), measured)
    if not start.observed:
        figures = replace(figures, lead_nm=None)
    if wind is None:  # in still air a heading says nothing on the one to fly
        figures = replace(figures, outbound_heading_mag_deg=None, final_heading_mag_deg=None)
    why = _impossible(procedure, measures, measured, wind, straight_in=straight_in)
    return Reference(
        flown=_figures(scene_of(flight, found, wind), measures),
        errorless=figures,
        possible=not why,
        why=" ".join(why),
        method=_method(speeds, wind, start, straight_in=straight_in),
        inbound_kias=speeds.inbound,
        approach_kias=speeds.approach,
        final_kias=speeds.final,
        wind_from_true_deg=None if wind is None else wind.from_true_deg,
        wind_speed_kt=None if wind is None else wind.speed_kt,
        flight=replace(again, attempts=(best,)),
    ), ""


def _looked_at(procedure: Procedure, track: Track) -> Flight:
    """The recorded reference, seen from the station as any log is."""
    log = condition(track)
    view, at, noise = observe(log, procedure)
    attempts = find_attempts(view, at, procedure, log)
    return Flight(
        log=log, procedure=procedure, view=view, at=at, noise=noise, attempts=attempts, no_attempt_reason=""
    )


def _figures(scene: Scene, measures: Measures) -> KeyFigures:
    """The figures to compare, of a measured attempt."""
    outbound, reversal, final = measures.outbound, measures.course_reversal, measures.final
    intercept, turn = measures.intercept, measures.turn
    span = scene.span(Phase.FINAL)
    rate_ft_min = None
    if final is not None and final.descent_angle_deg is not None and final.groundspeed_kt is not None:
        rate_ft_min = float(descent_rate_ft_min(final.groundspeed_kt.mean, final.descent_angle_deg))
    return KeyFigures(
        lead_nm=None if turn is None else turn.lead_nm,
        outbound_time_s=None if outbound is None else outbound.time_from_passage_s,
        outbound_heading_mag_deg=None if outbound is None else outbound.heading_mag_deg,
        turn_off_dme_nm=None if outbound is None else outbound.turn_off_dme_nm,
        reversal_width_nm=None if reversal is None else reversal.width_nm,
        reversal_max_distance_nm=None if reversal is None else reversal.max_distance_nm,
        intercept_angle_deg=None if intercept is None else intercept.angle_deg,
        established_distance_nm=None if intercept is None else intercept.established_distance_nm,
        final_heading_mag_deg=None if span is None else heading_mag_deg(scene, span),
        descent_start_distance_nm=None if final is None else final.descent_start_distance_nm,
        descent_angle_deg=None if final is None else final.descent_angle_deg,
        descent_rate_ft_min=rate_ft_min,
    )


def _impossible(
    procedure: Procedure, flown: Measures, errorless: Measures, wind: Wind | None, *, straight_in: bool
) -> list[str]:
    """What these speeds break however well they are flown; one sentence each."""
    said: list[str] = []
    leg = None if straight_in else procedure.reversal
    around, pilots = errorless.course_reversal, flown.course_reversal
    if leg is not None and around is not None:
        farthest_nm = around.max_distance_nm
        if leg.within_nm is not None and farthest_nm is not None and farthest_nm > leg.within_nm:
            said.append(
                tr(
                    "{At} the reversal reaches {farthest_nm:.1f} NM from the station even "
                    "without error; it is to stay within {within_nm:g} NM. Fly it more slowly.",
                    At=_at(wind),
                    farthest_nm=farthest_nm,
                    within_nm=leg.within_nm,
                )
            )
    if leg is not None and leg.max_speed_kias is not None and wind is not None and pilots is not None:
        speed = pilots.airspeed_kias
        if speed is not None and speed.mean - (speed.uncertainty or 0.0) > leg.max_speed_kias:
            said.append(
                tr(
                    "The reversal was flown at {mean:.0f} kt indicated in the mean; at most "
                    "{max_speed_kias:g} kt are published for it.",
                    mean=speed.mean,
                    max_speed_kias=leg.max_speed_kias,
                )
            )
    if errorless.intercept is not None and errorless.intercept.established is None:
        said.append(
            tr("{At} the course back in is not joined before the station even without error.", At=_at(wind))
        )
    final = errorless.final
    low_ft = procedure.minimum_ft(circled=errorless.circling is not None)
    if final is not None and low_ft is not None and final.altitude_at_missed_approach_point_ft is not None:
        high_ft = final.altitude_at_missed_approach_point_ft - low_ft
        if high_ft > HIGH_AT_THE_POINT_FT:
            said.append(
                tr(
                    "{At} a descent of {rate:.0f} ft/min still passes "
                    "the missed approach point {high_ft:.0f} ft above the minimum.",
                    At=_at(wind),
                    rate=final.max_descent_rate_ft_min or 0.0,
                    high_ft=high_ft,
                )
            )
    return said


def _at(wind: Wind | None) -> str:
    return tr("At these speeds, in still air,") if wind is None else tr("At these speeds in this wind")


def _method(speeds: Speeds, wind: Wind | None, start: Start, *, straight_in: bool) -> str:
    """The speeds and the wind in words."""
    flown = tr(
        "{inbound:.0f} kt at the station, {final:.0f} kt on final"
        if straight_in
        else "{inbound:.0f} kt at the station, {approach:.0f} kt outbound and in the reversal, {final:.0f} kt on final",
        inbound=speeds.inbound,
        approach=speeds.approach,
        final=speeds.final,
    )
    if wind is None:
        text = tr(
            "Flown in still air at the pilot's ground speeds, for want of a measured wind: {flown}.",
            flown=flown,
        )
    else:
        text = tr(
            "Flown at the pilot's indicated speeds ({flown}) in the measured wind, from "
            "{direction:03.0f}° true {wind:.0f} kt.",
            flown=flown,
            direction=wind.from_true_deg,
            wind=wind.speed_kt,
        )
    return (
        text
        if start.observed
        else f"{text} {tr('The way in was not observed: it begins in line with the next course.')}"
    )
