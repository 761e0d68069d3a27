"""The truth about measures, and which rules a flight really breaks.

Definitions: DEVELOPERS.md, Definitions. Limits are the defaults given there (common practice) and, for
altitude and speed, those of an instrument rating (100 ft, 10 kt; nothing below a minimum).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from debrief.procedures.model import AltitudeLimit, Pattern
from debrief.simulation.plan import Attempt
from tests.truth_view import FULL_SCALE_DEG, STEP_S, TURN_DEG_S, Floats, Passage, View, difference

Span = tuple[str, float, float]
Measures = dict[str, dict[str, float | str | None]]

#: Names of measures that are moments.
TIMES = frozenset({"time_s", "start_s", "established_s", "touchdown_s", "angle_time_s", "turn_off_s"})

THREE_QUARTER_SCALE_DEG = 7.5
TRACKING_HELD_S = 4.0
ALTITUDE_FT = 100.0
SPEED_KT = 10.0


def _last(phases: Sequence[Span], phase: str) -> Span | None:
    return next((span for span in reversed(phases) if span[0] == phase), None)


def _slice(view: View, span: Span) -> slice:
    """The samples within a phase."""
    first = int(np.searchsorted(view.t_s, span[1] - 1e-9))
    last = int(np.searchsorted(view.t_s, span[2] + 1e-9))
    return slice(first, max(last, first + 1))


def _spread(values: Floats) -> dict[str, float | str | None]:
    if not len(values):
        return {"mean": None, "rms": None, "max_abs": None}
    return {
        "mean": float(np.mean(values)),
        "rms": float(np.sqrt(np.mean(values**2))),
        "max_abs": float(np.max(np.abs(values))),
    }


def course_of(view: View, phase: str) -> tuple[float, bool] | None:
    """The course a phase is scored against, magnetic, and whether it is flown to the station."""
    procedure = view.procedure
    racetrack = procedure.reversal is not None and procedure.reversal.pattern is Pattern.RACETRACK
    if phase == "outbound":
        course_deg = procedure.outbound_course_deg
        return None if course_deg is None or racetrack else (course_deg, False)
    if phase == "intermediate":
        return procedure.inbound_course_deg, True
    return None


def deviation_on(view: View, span: Span) -> tuple[Floats, Floats] | None:
    """Cross-track, and deviation outside the cone (``nan`` inside), over a phase."""
    inside = slice(_slice(view, span).start, _slice(view, span).stop)
    if span[0] == "final":
        course_deg: float = view.procedure.inbound_course_deg
        along = -np.cos(
            np.radians(difference(view.bearing_true_deg, view.procedure.true_deg(course_deg) + 180.0))
        )
        to_station = along[inside] < 0  # on the near side of the station
        deviation = np.where(
            to_station, view.deviation_to_deg(course_deg)[inside], view.deviation_from_deg(course_deg)[inside]
        )
    else:
        course = course_of(view, span[0])
        if course is None:
            return None
        course_deg, inbound = course
        deviation = (view.deviation_to_deg(course_deg) if inbound else view.deviation_from_deg(course_deg))[
            inside
        ]
    across = view.across_nm(view.procedure.true_deg(course_deg))[inside]
    return across, np.where(view.inside_nm[inside] > 0, np.nan, deviation)


def measures_of(view: View, attempt: Attempt, phases: Sequence[Span], closest: Sequence[Passage]) -> Measures:
    """Measures of the last circuit's phases, by phase, and of the turn, the reversal and the intercept."""
    found: Measures = {}
    for phase in dict.fromkeys(name for name, _, _ in phases):
        span = _last(phases, phase)
        if span is not None:
            found[phase] = _leg(view, span)
    if not phases:
        return found
    found["turn"] = _turn(view, phases, closest)
    if _last(phases, "course_reversal") is not None:
        found["course_reversal"] |= _reversal(view, attempt, phases, closest)
        found["intercept"] = _intercept(view, phases)
    if _last(phases, "final") is not None:
        found["final"] |= _final(view, phases)
    if (landing := _last(phases, "landing")) is not None:
        found["landing"]["touchdown_s"] = landing[1]
    return found


def _leg(view: View, span: Span) -> dict[str, float | str | None]:
    inside, flight = _slice(view, span), view.flight
    values: dict[str, float | str | None] = {"start_s": span[1], "seconds": span[2] - span[1]}
    for name in ("altitude_ft", "groundspeed_kt", "airspeed_kias"):
        column = getattr(flight, name)[inside]
        values |= {
            f"{name}.min": float(column.min()),
            f"{name}.mean": float(column.mean()),
            f"{name}.max": float(column.max()),
        }
    scored = deviation_on(view, span)
    if scored is not None:
        across, deviation = scored
        seen = deviation[np.isfinite(deviation)]
        values |= {f"cross_track_nm.{name}": value for name, value in _spread(across).items()}
        values |= {f"deviation_deg.{name}": value for name, value in _spread(seen).items()}
        values["within_half_scale"] = float(np.mean(np.abs(seen) <= 5.0)) if len(seen) else None
    return values


def _turn(view: View, phases: Sequence[Span], closest: Sequence[Passage]) -> dict[str, float | str | None]:
    """The turn at the station, onto the outbound course."""
    nothing: dict[str, float | str | None] = {
        "start_s": None, "change_deg": None, "lead_nm": None, "exact_lead_nm": None, "direction": None,
    }  # fmt: skip
    outbound = next((span for span in phases if span[0] == "outbound"), None)
    course_deg = view.procedure.outbound_course_deg
    if outbound is None or course_deg is None or not closest:
        return nothing
    asked = [e.t_s for e in view.flight.events if e.what == "turn at the station" and e.t_s <= outbound[2]]
    turn = view.turn_from(asked[-1], outbound[2] - 1.0) if asked else None
    if turn is None:
        return nothing
    start_s = turn[0]
    ahead = -1.0 if start_s > closest[0].time_s else 1.0
    speed_m_s = view.at(view.flight.groundspeed_kt, start_s) * 1852.0 / 3600.0
    radius_m = max(speed_m_s / math.radians(3.0), speed_m_s**2 / 9.80665 / math.tan(math.radians(25.0)))
    before_deg = view.angle_at(view.track_deg, asked[-1])
    change_deg = abs(float(difference(view.procedure.true_deg(course_deg), before_deg)))
    return {
        "start_s": start_s,
        "change_deg": change_deg,
        "turned_deg": turn[2],
        "lead_nm": ahead * view.at(view.distance_nm, start_s),
        "exact_lead_nm": radius_m / 1852.0 * math.tan(math.radians(change_deg) / 2),
        "direction": "right" if turn[2] > 0 else "left",
    }


def _reversal(
    view: View, attempt: Attempt, phases: Sequence[Span], closest: Sequence[Passage]
) -> dict[str, float | str | None]:
    span = _last(phases, "course_reversal")
    out_deg = view.procedure.outbound_course_deg
    if span is None or out_deg is None:
        return {}
    inside = _slice(view, span)
    pattern = view.procedure.reversal.pattern if view.procedure.reversal is not None else None
    turns = [turn for turn in view.turns if span[1] - 0.2 <= turn[0] <= span[2]]
    if pattern is Pattern.RACETRACK:
        side = "right" if turns and turns[0][2] > 0 else "left"
    else:
        across = view.across_nm(view.procedure.true_deg(out_deg))[inside]
        side = "right" if across[int(np.argmax(np.abs(across)))] > 0 else "left"
    first = next(s for s in phases if s[0] == "outbound")
    whole = _slice(view, ("", first[1], span[2]))
    closest_before = [passage for passage in closest if passage.time_s <= span[1]]
    return {
        "side": side,
        "turns": "/".join(f"{turn[2]:.0f}" for turn in turns),
        "pattern": "turned straight back" if attempt.faults.no_reversal else str(pattern),
        "max_distance_nm": float(view.distance_nm[whole].max()),
        "max_airspeed_kias": float(view.flight.airspeed_kias[inside].max()),
        "turn_off_s": span[1],
        "turn_start_dme_nm": view.at(view.dme_nm, span[1]),
        "outbound_seconds": span[1] - closest_before[-1].time_s if closest_before else None,
    }


def _intercept(view: View, phases: Sequence[Span]) -> dict[str, float | str | None]:
    reversal = _last(phases, "course_reversal")
    if reversal is None:
        return {}
    course_deg = view.procedure.inbound_course_deg
    later = [span for span in phases if span[0] in ("intermediate", "final") and span[1] >= reversal[2] - 0.2]
    ends_established = bool(later) and later[0][1] == reversal[2]
    established_s = reversal[2] if ends_established else None
    end_s = later[0][2] if ends_established else reversal[2]
    first, last = view.index(reversal[1]), view.index(end_s)
    off_track = np.abs(difference(view.track_deg, view.procedure.true_deg(course_deg)))
    inbound = first + int(np.argmax(off_track[first : last + 1] < 90.0))
    needle = np.abs(view.deviation_to_deg(course_deg))
    full = needle >= FULL_SCALE_DEG
    time_s: float | None = None
    for number in range(inbound, last):
        if full[number] and not full[number + 1]:
            time_s = view.crossing_s(needle - FULL_SCALE_DEG, number)
            break
    turning = np.abs(view.rate_deg_s) >= TURN_DEG_S
    angle_time_s = time_s
    if time_s is None or turning[view.index(time_s)]:
        start = inbound if time_s is None else view.index(time_s)
        angle_time_s, steady, need = None, 0, round(3.0 / STEP_S)
        for number in range(start, min(last + need, len(turning) - 1) + 1):
            steady = 0 if turning[number] else steady + 1
            if steady > need:
                angle_time_s = float(view.t_s[number - need])
                break
        if angle_time_s is not None and angle_time_s >= (end_s if established_s is None else established_s):
            angle_time_s = None
    across = view.across_nm(view.procedure.true_deg(course_deg))
    before = across[first : inbound + 1]
    near = 1.0 if before[int(np.argmax(np.abs(before)))] > 0 else -1.0
    overshoot_nm = 0.0
    for number in range(inbound, last + 1):  # from the crossing until it is crossed back
        if -near * across[number] > 0:
            overshoot_nm = max(overshoot_nm, float(-near * across[number]))
        elif overshoot_nm > 0:
            break
    return {
        "time_s": time_s,
        "angle_deg": float(np.interp(angle_time_s, view.t_s, off_track))
        if angle_time_s is not None
        else None,
        "angle_time_s": angle_time_s,
        "overshoot_nm": overshoot_nm,
        "established_s": established_s,
        "established_distance_nm": view.at(view.distance_nm, established_s)
        if established_s is not None
        else None,
    }


def _final(view: View, phases: Sequence[Span]) -> dict[str, float | str | None]:
    span = _last(phases, "final")
    if span is None:
        return {}
    altitude = view.flight.altitude_ft[_slice(view, span)]
    over = round(10.0 / STEP_S)
    rate = float(np.max(altitude[:-over] - altitude[over:]) * 6.0) if len(altitude) > over else None
    away = _last(phases, "missed_approach")
    return {
        "descent_rate_10_s_ft_min": rate,
        "lowest_ft": float(altitude.min()),
        "missed_approach_distance_nm": view.at(view.distance_nm, away[1]) if away is not None else None,
        "missed_approach_dme_nm": view.at(view.dme_nm, away[1]) if away is not None else None,
    }


def breaches_of(view: View, attempt: Attempt, phases: Sequence[Span], measures: Measures) -> dict[str, float]:
    """By how much each rule's limit was passed, where it was."""
    found: dict[str, float] = {}

    def add(rule: str, beyond: float) -> None:
        if beyond > 0:
            found[rule] = max(beyond, found.get(rule, 0.0))

    for span in phases:
        _add_altitude(view, span, phases, add)
        scored = deviation_on(view, span)
        if scored is not None:
            judged = _judged(view, span, scored[1])
            add("tracking", _held(np.abs(scored[1])[judged]) - THREE_QUARTER_SCALE_DEG)
    _add_reversal(view, measures, add)
    turn, final = measures.get("turn", {}), measures.get("final", {})
    lead, exact = turn.get("lead_nm"), turn.get("exact_lead_nm")
    if isinstance(lead, float) and isinstance(exact, float):
        add("turn_lead", abs(lead - exact) - 0.6)
    rate = final.get("descent_rate_10_s_ft_min")
    if isinstance(rate, float):
        add("descent_rate", rate - 1000.0)
    if attempt.faults.station_missed_nm:
        first = next((e for e in view.flight.events if e.what == "turn at the station"), None)
        if first is not None and phases and "station_passage" not in {s[0] for s in phases[:2]}:
            at = view.index(phases[0][2])
            add("station_missed", float(view.distance_nm[at]) - 1.5)
    leg = view.procedure.final
    point = leg.missed_approach_point if leg is not None else None
    begun = final.get("missed_approach_dme_nm")
    if point is not None and point.dme_nm is not None and isinstance(begun, float):
        beyond = begun - point.dme_nm if view.procedure.has_intermediate else point.dme_nm - begun
        add("missed_approach", beyond - 0.5)
    return found


def _judged(view: View, span: Span, deviation: Floats) -> slice:
    """The part of a leg on which a good pilot is on it.

    Outbound, from the radial (5 degrees) or 2 NM after the turn at the station; on final, until the turn to the
    runway that is in sight.
    """
    inside = _slice(view, span)
    if span[0] == "outbound":
        on_radial = np.flatnonzero((np.abs(deviation) <= 5.0) | (view.distance_nm[inside] > 2.0))
        return slice(int(on_radial[0]) if len(on_radial) else None, None)
    sight = [e.t_s for e in view.flight.events if e.what == "runway in sight" and span[1] <= e.t_s <= span[2]]
    return slice(None, view.index(sight[0]) - inside.start if sight else None)


def _held(sizes: Floats) -> float:
    """The greatest size kept for at least 4 s; nothing where the cone interrupts."""
    need = round(TRACKING_HELD_S / STEP_S)
    if len(sizes) <= need:
        return 0.0
    windows = np.lib.stride_tricks.sliding_window_view(sizes, need + 1)
    least = windows.min(axis=1)
    least = least[np.isfinite(least)]
    return float(least.max()) if len(least) else 0.0


def _add_altitude(view: View, span: Span, phases: Sequence[Span], add: object) -> None:
    assert callable(add)
    name = span[0]
    altitude = view.flight.altitude_ft[_slice(view, span)]
    if name == "station_passage":
        return
    leg = view.procedure.leg_of(name)
    if leg is None or leg.altitude is None:
        return
    limit: AltitudeLimit = leg.altitude
    if name != "final":
        if limit.low_ft is not None:
            add("altitude", limit.low_ft - float(altitude.min()) - ALTITUDE_FT)
            if name in ("inbound", "intermediate"):
                add("altitude_before_station", limit.low_ft - float(altitude[-1]) - ALTITUDE_FT)
        return
    dme = view.dme_nm[_slice(view, span)]
    outward = view.procedure.has_intermediate or view.procedure.reversal is None
    for step in leg.step_down:
        holds = np.cumsum(dme >= step.until_dme_nm if outward else dme <= step.until_dme_nm) == 0
        if holds.any():
            add("step_down", step.at_or_above_ft - float(altitude[holds].min()))
    lands = any(s[0] == "landing" and s[1] >= span[2] - 0.2 for s in phases)
    if limit.low_ft is not None and not lands:
        add("minimum_descent_altitude", limit.low_ft - float(altitude.min()))


def _add_reversal(view: View, measures: Measures, add: object) -> None:
    assert callable(add)
    flown, intercept, leg = (
        measures.get("course_reversal"),
        measures.get("intercept", {}),
        view.procedure.reversal,
    )
    if flown is None or leg is None:
        return
    if flown.get("side") not in (None, leg.side):
        add("reversal_side", 1.0)
    if flown.get("pattern") == "turned straight back":
        add("reversal_missing", 1.0)
    distance, speed = flown.get("max_distance_nm"), flown.get("max_airspeed_kias")
    if leg.within_nm is not None and isinstance(distance, float):
        add("reversal_distance", distance - leg.within_nm)
    if leg.max_speed_kias is not None and isinstance(speed, float):
        add("reversal_speed", speed - leg.max_speed_kias - SPEED_KT)
    length = view.procedure.outbound.length if view.procedure.outbound is not None else None
    dme, seconds = flown.get("turn_start_dme_nm"), flown.get("outbound_seconds")
    if length is not None and length.dme_nm is not None and isinstance(dme, float):
        add("outbound_length", abs(dme - length.dme_nm) - 0.7)
    if length is not None and length.minutes is not None and isinstance(seconds, float):
        add("outbound_length", abs(seconds - 60.0 * length.minutes) - 20.0)
    angle, overshoot = intercept.get("angle_deg"), intercept.get("overshoot_nm")
    if isinstance(angle, float) and leg.pattern is not Pattern.BASE_TURN:
        add("intercept_angle", angle - 55.0)
    if isinstance(overshoot, float):
        add("intercept_overshoot", overshoot - 0.4)
    if intercept.get("established_s") is None:
        add("not_established", 1.0)


def expected_of(attempt: Attempt, breaches: Mapping[str, float]) -> frozenset[str]:
    """The rules that the faults asked for do break, by a margin that a good log must show."""
    faults = attempt.faults
    asked = {
        "turn_lead": faults.turn_late_nm,
        "tracking": faults.outbound_offset_deg or faults.final_offset_deg or faults.inbound_offset_deg,
        "outbound_length": faults.outbound_longer_nm or faults.outbound_longer_s,
        "reversal_side": faults.wrong_side,
        "reversal_missing": faults.no_reversal,
        "reversal_distance": faults.reversal_beyond_nm,
        "reversal_speed": faults.reversal_faster_kt,
        "intercept_overshoot": faults.overshoot_nm,
        "intercept_angle": faults.intercept_angle_deg,
        "not_established": faults.inbound_offset_deg,
        "station_missed": faults.station_missed_nm,
        "altitude": faults.lower_ft,
        "altitude_before_station": faults.down_before_station_nm,
        "minimum_descent_altitude": faults.below_minimum_ft,
        "step_down": faults.below_step_ft,
        "descent_rate": faults.final_rate_ft_min,
        "missed_approach": faults.missed_approach_late_nm,
    }
    sure = {
        "turn_lead": 0.1, "tracking": 1.0, "outbound_length": 0.1, "reversal_distance": 0.1,
        "reversal_speed": 6.0, "intercept_overshoot": 0.05, "intercept_angle": 3.0, "station_missed": 0.1,
        "altitude": 60.0, "altitude_before_station": 60.0, "minimum_descent_altitude": 60.0, "step_down": 60.0,
        "descent_rate": 100.0, "missed_approach": 0.1,
    }  # fmt: skip
    return frozenset(
        rule for rule, size in asked.items() if size and breaches.get(rule, 0.0) > sure.get(rule, 0.0)
    )
