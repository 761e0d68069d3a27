"""Rules on the station and the outbound leg: the passage, the turn there, the length of the leg.

Owns      what a turn at the station and a timed leg in the wind are held against.
Not here  measuring them (measures.turns, measures.outbound), the tolerances (the standard's file).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from debrief.grading.assessment import Assessment, guarded
from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import (
    clock,
    degrees,
    dme,
    knots,
    minutes,
    nautical_miles,
    seconds,
    told_apart,
)
from debrief.language import figure, tr
from debrief.measures.moments import Moment, closest_point, read_at, turn_edge
from debrief.measures.station import TRACK_S, beside_station_nm, track_before_sd_deg
from debrief.measures.uncertainty import COVERAGE
from debrief.navigation.angles import unwrap_deg
from debrief.navigation.turns import LARGEST_WITH_LEAD_DEG, lead_distance_nm
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.navigation.wind import groundspeed_on_course_kt
from debrief.phases.model import Passage
from debrief.procedures.model import Pattern, Phase
from debrief.result import StationTurn

#: Farther apart than this no recorder draws straight lines without a word. [s] Mark: common practice.
_HIDDEN_S = 5.0
_CORNERS_SHOW_S = 5.0  # a standard turn of 60 degrees has four such samples
#: Of an interval, by simulated flights recorded every 1 to 5 s.
_EVEN_SHARE = 0.3
_OVERHEAD_NM = 0.05  # nearer nobody tells a distance
_WIND_TELLS_S = 3.0  # of a leg's time; less nobody corrects for


def station_missed(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Closest point of approach, where it lay outside the cone."""
    attempt = case.scene.attempt
    hidden = any(
        seen.phase == Phase.STATION_PASSAGE and seen.why == "not observed" for seen in attempt.not_seen
    )
    if not attempt.passages and hidden:
        yield Assessment(
            tolerance=tolerance,
            outcome="not assessable",
            phase=Phase.INBOUND,
            unit="NM",
            reason=tr("the station passage lies in a gap of the log"),
        )
    # With the station on the aerodrome it is crossed on the way out only; later it may be passed anywhere.
    due = attempt.passages
    if case.procedure.station_on_aerodrome:
        due = () if attempt.straight_in or case.procedure.reversal is None else attempt.passages[:1]
    for passage in due:
        yield _passage(case, tolerance, passage)


def _passage(case: Case, tolerance: Tolerance, passage: Passage) -> Assessment:
    limit_nm, sure_nm = tolerance.at_most or 0.0, case.position_uncertainty_nm()
    in_cone = passage.exit_s > passage.entry_s
    excess_nm = passage.distance_nm - limit_nm
    back = case.scene.attempt.last(Phase.COURSE_REVERSAL)
    second = back is not None and passage.t_s > back.start_s
    return Assessment(
        tolerance=tolerance,
        outcome="within" if in_cone else guarded(excess_nm, sure_nm),
        phase=Phase.INTERMEDIATE if second else Phase.INBOUND,
        variant="overhead" if in_cone and passage.distance_nm < _OVERHEAD_NM else "",
        value=passage.distance_nm,
        limit=limit_nm,
        unit="NM",
        excess=min(excess_nm, 0.0) if in_cone else excess_nm,
        uncertainty=sure_nm,
        start_s=passage.entry_s,
        end_s=passage.exit_s,
        at_s=passage.t_s,
        facts={
            "value": told_apart(passage.distance_nm, limit_nm, nautical_miles, _hundredth),
            "limit": nautical_miles(limit_nm, exact=True),
            "at": clock(case.scene.time(passage.t_s)),
            "sure": nautical_miles(sure_nm),
        },
    )


def _hundredth(distance_nm: float) -> str:
    return f"{figure(distance_nm, '.2f')} NM"


def turn_lead(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Lead flown less exact lead, early positive.

    From a large change of course on, the exact lead lies so far out that turning overhead is as good: then
    anything between the two is right. Where the change is so large that no exact lead is given, that of the
    largest change with one stands for it. So it is for a racetrack, whose outbound leg lies on no radial to be
    joined: its entries begin over the station.
    """
    turn = case.measures.turn
    if turn is None:
        return
    if case.gap_between(case.t_s(turn.start), case.t_s(turn.start), case.standard.assessable.hides_turn_s):
        yield Assessment(
            tolerance=tolerance,
            outcome="not assessable",
            phase=Phase.INBOUND,
            unit="NM",
            reason=tr("its beginning lies in a gap of the log"),
        )
        return
    limit_nm, exact_nm = tolerance.limit("within"), turn.exact_lead_nm
    turned_overhead = exact_nm is None
    if exact_nm is None:
        exact_nm = float(lead_distance_nm(turn.groundspeed_kt, LARGEST_WITH_LEAD_DEG))
    lead_nm = _ahead_nm(case, turn)
    early_nm = lead_nm - exact_nm
    leg = case.procedure.outbound
    overhead = (
        turned_overhead
        or abs(turn.change_deg) >= tolerance.overhead_from_deg
        or (leg is not None and leg.radial_deg is None)
    )
    change_sure_deg = _change_sure_deg(case, turn)
    may_be_overhead = abs(turn.change_deg) + change_sure_deg >= tolerance.overhead_from_deg
    exact_sure_nm = 0.0 if turned_overhead else _exact_sure_nm(turn, change_sure_deg)
    if overhead and early_nm < 0:
        early_nm, exact_sure_nm = min(lead_nm, 0.0), 0.0
    excess_nm = abs(early_nm) - limit_nm
    sure_nm = float(
        np.hypot(
            np.hypot(turn.lead_uncertainty_nm, exact_sure_nm),
            _between_samples_nm(case, turn.groundspeed_kt),
        )
    )
    if may_be_overhead and early_nm < 0 and -min(lead_nm, 0.0) <= limit_nm:
        sure_nm = max(sure_nm, excess_nm)  # a few degrees more, and overhead was as good
    at_s = case.t_s(turn.start)
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(excess_nm, sure_nm),
        phase=Phase.INBOUND,
        variant="early" if early_nm > 0 else "late",
        value=early_nm,
        limit=limit_nm if early_nm > 0 else -limit_nm,
        unit="NM",
        excess=excess_nm,
        uncertainty=sure_nm,
        start_s=at_s,
        end_s=at_s,
        at_s=at_s,
        facts=_turn_facts(turn, lead_nm, early_nm, right_nm=0.0 if overhead and early_nm <= 0 else exact_nm)
        | {"limit": nautical_miles(limit_nm, exact=True), "sure": nautical_miles(sure_nm)},
    )


def _change_sure_deg(case: Case, turn: StationTurn) -> float:
    """How sure the change of course is: by the log, and by how unsteady the track was from which it is counted. [deg]"""
    start_s = case.t_s(turn.start)
    track_deg = unwrap_deg(case.scene.over(start_s - TRACK_S, start_s).ground_track_true_deg)
    unsteady_deg = track_deg.std() if len(track_deg) else 0.0
    return COVERAGE * float(
        np.hypot(track_before_sd_deg(case.scene.flight, turn.groundspeed_kt), unsteady_deg)
    )


def _exact_sure_nm(turn: StationTurn, change_sure_deg: float) -> float:
    """What that makes of the exact lead, by its slope. [NM]"""
    change_deg = abs(turn.change_deg)
    leads_nm = [
        float(lead_distance_nm(turn.groundspeed_kt, min(max(deg, 0.0), LARGEST_WITH_LEAD_DEG)))
        for deg in (change_deg - change_sure_deg, change_deg + change_sure_deg)
    ]
    return (leads_nm[1] - leads_nm[0]) / 2.0


def _between_samples_s(case: Case) -> float:
    """How much later than it shows a turn may have begun, in a log drawn with straight lines that cut its corner. [s]

    That a log cuts corners shows in the samples of its turns; the farther apart they are, the less it would. In any other
    the turn's beginning is little less sure than its samples and noise say (``measures.moments``).
    """
    interval_s = case.scene.flight.log.measured_interval_s
    would_not_show_s = 0.0 if _cuts_corners(case) else _CORNERS_SHOW_S
    return float(np.clip(interval_s - would_not_show_s, min(_EVEN_SHARE * interval_s, _HIDDEN_S), _HIDDEN_S))


def _cuts_corners(case: Case) -> bool:
    log = case.scene.flight.log
    drawn = log.drawn_out_s is not None or (log.on_lines is not None and bool(log.on_lines.any()))
    return drawn or case.scene.flight.noise.cuts_corners


def _between_samples_nm(case: Case, speed_kt: float) -> float:
    return speed_kt * _between_samples_s(case) / SECONDS_PER_HOUR


def _ahead_nm(case: Case, turn: StationTurn) -> float:
    """The lead along the track: whoever passes beside the station is not early for being far from it."""
    aside_nm = beside_station_nm(case.scene, case.t_s(turn.start))
    if not aside_nm < abs(turn.lead_nm):
        return turn.lead_nm if np.isnan(aside_nm) else 0.0
    return float(np.copysign(np.sqrt(turn.lead_nm**2 - aside_nm**2), turn.lead_nm))


def _turn_facts(turn: StationTurn, lead_nm: float, early_nm: float, right_nm: float) -> dict[str, str]:
    lead_s = right_nm / turn.groundspeed_kt * SECONDS_PER_HOUR if turn.groundspeed_kt > 0 else 0.0
    flown = nautical_miles(abs(lead_nm))
    here = tr("{distance} before it", distance=nautical_miles(right_nm)) if right_nm > 0 else tr("overhead")
    return {
        "at": clock(turn.start),
        "value": nautical_miles(abs(early_nm)),
        "flown": tr("{distance} before the station", distance=flown)
        if lead_nm > 0
        else tr("{distance} past the station", distance=flown),
        "right": here,
        "when": tr("{time} before the passage", time=seconds(lead_s))
        if right_nm > 0
        else tr("as the station is passed"),
        "change": degrees(abs(turn.change_deg), nearest=1.0),
        "speed": knots(turn.groundspeed_kt),
    }


def outbound_length(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    """Distance at the turn off, or time from the passage, less the published."""
    leg = case.procedure.outbound
    if leg is None:
        return
    length, by_time = leg.length, tolerance.unit == "s"
    racetrack_s = _racetrack_seconds(case)
    if by_time and (length.minutes is None if length is not None else racetrack_s is None):
        return
    if not by_time and (length is None or length.dme_nm is None):
        return
    standing = case.standing(Phase.OUTBOUND)
    if standing.state == "not seen":
        yield Assessment(
            tolerance=tolerance,
            outcome="not assessable",
            phase=Phase.OUTBOUND,
            unit=tolerance.unit,
            reason=standing.reason,
        )
    elif _turn_off_hidden(case):
        yield Assessment(
            tolerance=tolerance,
            outcome="not assessable",
            phase=Phase.OUTBOUND,
            unit=tolerance.unit,
            reason=tr("its end lies in a gap of the log"),
        )
    elif standing.state == "seen":
        yield from _by_time(case, tolerance) if by_time else _by_dme(case, tolerance)


def _by_dme(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    outbound, leg = case.measures.outbound, case.procedure.outbound
    if outbound is None or outbound.turn_off_dme_nm is None or leg is None or leg.length is None:
        return
    published_nm, flown_nm = leg.length.dme_nm or 0.0, outbound.turn_off_dme_nm
    off_nm, limit_nm = flown_nm - published_nm, tolerance.limit("within")
    speed_kt = _turn_off_speed_kt(case)
    sure_nm = float(
        np.hypot(outbound.uncertainties.get("turn_off_dme_nm", np.nan), _between_samples_nm(case, speed_kt))
    )
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(abs(off_nm) - limit_nm, sure_nm),
        phase=Phase.OUTBOUND,
        variant="far" if off_nm > 0 else "near",
        value=flown_nm,
        limit=published_nm + (limit_nm if off_nm > 0 else -limit_nm),
        unit="NM",
        excess=abs(off_nm) - limit_nm,
        uncertainty=sure_nm,
        start_s=_turn_off_s(case),
        end_s=_turn_off_s(case),
        at_s=_turn_off_s(case),
        facts={
            "value": dme(flown_nm),
            "off": nautical_miles(abs(off_nm)),
            "published": dme(published_nm),
            "limit": nautical_miles(limit_nm, exact=True),
            "sure": nautical_miles(sure_nm),
        }
        | _turn_off_place(case),
    )


def _by_time(case: Case, tolerance: Tolerance) -> Iterator[Assessment]:
    timed = _flown_and_published(case)
    if timed is None:
        return
    flown_s, published_s = timed
    limit_s, off_s = tolerance.limit("within"), flown_s - published_s
    excess_s = abs(off_s) - limit_s
    corrected_s = _corrected_for_wind_s(case, published_s)
    variant, otherwise = (
        "long" if off_s > 0 else "short",
        _timed_otherwise(case, tolerance, flown_s, corrected_s),
    )
    if excess_s > 0 and otherwise:
        # Not the published time, but plainly meant: said, and left out of the result.
        variant, tolerance = "otherwise", tolerance.model_copy(update={"required": False})
    if excess_s > 0 and not otherwise and corrected_s is not None:
        variant += ", in a wind" if abs(corrected_s - published_s) >= _WIND_TELLS_S else ""
    flight, speed_kt = case.scene.flight, _turn_off_speed_kt(case)
    turned_s, passed = _turn_off_s(case), closest_point(flight, 0.0, speed_kt)
    turned = Moment(0.0) if turned_s is None else turn_edge(flight, turned_s)
    sure_s = read_at(turned, 1.0, passed.sd_s) + _between_samples_s(case)
    yield Assessment(
        tolerance=tolerance,
        outcome=guarded(excess_s, sure_s),
        phase=Phase.OUTBOUND,
        variant=variant,
        value=flown_s,
        limit=published_s + (limit_s if off_s > 0 else -limit_s),
        unit="s",
        excess=excess_s,
        uncertainty=sure_s,
        start_s=_turn_off_s(case),
        end_s=_turn_off_s(case),
        at_s=_turn_off_s(case),
        facts={
            "value": minutes(flown_s),
            "off": told_apart(abs(off_s), limit_s, seconds, lambda s: f"{figure(s, '.1f')} s"),
            "published": minutes(published_s),
            "limit": seconds(limit_s, exact=True),
            "sure": seconds(sure_s),
            "than": tr("longer") if off_s > 0 else tr("shorter"),
            "otherwise": otherwise,
            "corrected": "" if corrected_s is None else minutes(corrected_s),
        }
        | _turn_off_place(case),
    )


def _flown_and_published(case: Case) -> tuple[float, float] | None:
    """Time flown and published: from the passage; of a racetrack without such a time, its own timing. [s]

    The time from the passage has the turn of a direct entry in it. Of an entry that goes straight out, whose chart
    gives both, the one counts that it was flown by: the nearer.
    """
    leg, outbound, reversal = case.procedure.outbound, case.measures.outbound, case.measures.course_reversal
    arrival, published_s = case.measures.arrival, _racetrack_seconds(case)
    by_leg = by_passage = None
    if published_s is not None and reversal is not None and reversal.leg_seconds is not None:
        by_leg = reversal.leg_seconds, published_s
    if leg is None or leg.length is None or leg.length.minutes is None:
        return by_leg
    if outbound is not None and outbound.time_from_passage_s is not None:
        by_passage = outbound.time_from_passage_s, leg.length.minutes * SECONDS_PER_MINUTE
    straight_out = arrival is not None and arrival.entry in ("parallel", "offset")
    if by_passage is None or by_leg is None or not straight_out or case.scene.last_circuit > 0:
        return by_passage
    return min(by_passage, by_leg, key=lambda timed: abs(timed[0] - timed[1]))


def _timed_otherwise(case: Case, tolerance: Tolerance, flown_s: float, corrected_s: float | None) -> str:
    """How the leg was plainly timed with care, if it was in another way that is right too; else empty.

    Corrected for the wind, or (a racetrack that publishes both) by the straight part without the turn.
    """
    if corrected_s is not None and abs(flown_s - corrected_s) <= tolerance.wind_within:
        return tr("corrected for the wind, {time}", time=minutes(corrected_s))
    reversal, racetrack_s = case.measures.course_reversal, _racetrack_seconds(case)
    straight_s = reversal.leg_seconds if reversal is not None else None
    if racetrack_s is None or straight_s is None or abs(straight_s - racetrack_s) > tolerance.wind_within:
        return ""
    return tr("of its straight part, {time}", time=minutes(racetrack_s))


def _racetrack_seconds(case: Case) -> float | None:
    """The published seconds of a racetrack's outbound leg; ``None`` where it has none."""
    reversal = case.procedure.reversal
    if reversal is None or reversal.pattern is not Pattern.RACETRACK:
        return None
    return reversal.leg_seconds or None


def _corrected_for_wind_s(case: Case, published_s: float) -> float | None:
    """The time in which the published one, flown in this wind, covers the still-air distance. [s]

    T x TAS / (ground speed outbound). ``None`` where wind or true airspeed is not known.
    """
    wind, course_deg = case.scene.wind, case.procedure.outbound_course_deg
    if wind is None or wind.tas_kt is None or course_deg is None:
        return None
    along_kt = float(
        groundspeed_on_course_kt(
            case.procedure.true_deg(course_deg), wind.tas_kt, wind.from_true_deg, wind.speed_kt
        )
    )
    return published_s * wind.tas_kt / along_kt if np.isfinite(along_kt) and along_kt > 0 else None


def _turn_off_s(case: Case) -> float | None:
    back = case.scene.span(Phase.COURSE_REVERSAL)
    return back.start_s if back is not None else case.scene.attempt.turn_off_s


def _turn_off_hidden(case: Case) -> bool:
    turn_off_s = _turn_off_s(case)
    hides_s = case.standard.assessable.hides_turn_s
    return turn_off_s is not None and case.gap_between(turn_off_s, turn_off_s, hides_s)


def _turn_off_speed_kt(case: Case) -> float:
    turn_off_s = _turn_off_s(case)
    return float(case.scene.at(turn_off_s).groundspeed_kt[0]) if turn_off_s is not None else float("nan")


def _turn_off_place(case: Case) -> dict[str, str]:
    turn_off_s = _turn_off_s(case)
    return (
        case.place(turn_off_s) if turn_off_s is not None else {"at": tr("the turn off"), "where": tr("there")}
    )
