"""The truth about measures, from exact samples. Definitions: DEVELOPERS.md, Definitions."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from debrief.procedures.model import Pattern
from debrief.simulation.plan import Attempt
from tests.truth_view import FULL_SCALE_DEG, STEP_S, TURN_DEG_S, Floats, Passage, View, difference

Span = tuple[str, float, float]
Measures = dict[str, dict[str, float | str | None]]

ENTRY_S = 3.0  # the speed at the entry is the mean of so long before and after
#: Names of measures that are moments.
TIMES = frozenset({"time_s", "start_s", "established_s", "touchdown_s", "angle_time_s", "turn_off_s"})


def _last(phases: Sequence[Span], phase: str) -> Span | None:
    return next((span for span in reversed(phases) if span[0] == phase), None)


def slice_of(view: View, span: Span) -> slice:
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
    inside = slice(slice_of(view, span).start, slice_of(view, span).stop)
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
    inside, flight = slice_of(view, span), view.flight
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
    inside = slice_of(view, span)
    pattern = view.procedure.reversal.pattern if view.procedure.reversal is not None else None
    turns = [turn for turn in view.turns if span[1] - 0.2 <= turn[0] <= span[2]]
    if pattern is Pattern.RACETRACK:
        side = "right" if turns and turns[0][2] > 0 else "left"
    else:
        # Before it flies inbound: what follows may overshoot to the other side.
        inbound_deg = view.procedure.true_deg(view.procedure.inbound_course_deg)
        away = np.abs(difference(view.track_deg[inside], inbound_deg)) >= 90.0
        across = view.across_nm(view.procedure.true_deg(out_deg))[inside][np.cumprod(away) > 0]
        side = "right" if len(across) and across[int(np.argmax(np.abs(across)))] > 0 else "left"
    first = next(s for s in phases if s[0] == "outbound")
    whole = slice_of(view, ("", first[1], span[2]))
    entry = ("", span[1] - ENTRY_S, span[1] + ENTRY_S)
    closest_before = [passage for passage in closest if passage.time_s <= span[1]]
    return {
        "side": side,
        "turns": "/".join(f"{turn[2]:.0f}" for turn in turns),
        "pattern": "turned straight back" if attempt.faults.no_reversal else str(pattern),
        "max_distance_nm": float(view.distance_nm[whole].max()),
        "max_airspeed_kias": float(view.flight.airspeed_kias[inside].max()),
        "entry_airspeed_kias": float(np.mean(view.flight.airspeed_kias[slice_of(view, entry)])),
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
    until = last if established_s is None else view.index(established_s)
    for number in range(inbound, until):
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
    altitude = view.flight.altitude_ft[slice_of(view, span)]
    over = round(10.0 / STEP_S)
    rate = float(np.max(altitude[:-over] - altitude[over:]) * 6.0) if len(altitude) > over else None
    away = _last(phases, "missed_approach")
    return {
        "descent_rate_10_s_ft_min": rate,
        "lowest_ft": float(altitude.min()),
        "missed_approach_distance_nm": view.at(view.distance_nm, away[1]) if away is not None else None,
        "missed_approach_dme_nm": view.at(view.dme_nm, away[1]) if away is not None else None,
    }
