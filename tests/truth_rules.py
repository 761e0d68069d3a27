"""Which rules a simulated flight really breaks, and by how much.

Limits are the defaults of DEVELOPERS.md, Definitions (common practice) and, for altitude and speed, those of an
instrument rating (100 ft, 10 kt; nothing below a minimum).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from debrief.procedures.model import Pattern
from debrief.simulation.plan import Attempt
from tests.truth_measures import Measures, Span, deviation_on, slice_of
from tests.truth_view import STEP_S, Floats, View

THREE_QUARTER_SCALE_DEG = 7.5
TRACKING_HELD_S = 4.0
ALTITUDE_FT = 100.0
SPEED_KT = 10.0
STEERING_DEG = {"needle_chasing": 6.0, "reverse_sensing": 8.0, "weaving": 20.0}
CHASE_PERIOD_S = 20.0
WEAVE_PERIOD_S = 90.0
CLOSE = 0.85  # of a limit


class Reading(NamedTuple):
    """What a rule looks at: the size flown, the limit, and the size from which it is too close to call."""

    rule: str
    size: float
    limit: float
    close: float


Add = Callable[..., None]


def readings_of(view: View, attempt: Attempt, phases: Sequence[Span], measures: Measures) -> list[Reading]:
    """Every rule's readings; one without a limit counts as broken where its size is not 0."""
    found: list[Reading] = []

    def add(rule: str, size: float, limit: float = 0.0, close: float | None = None) -> None:
        found.append(Reading(rule, size, limit, CLOSE * limit if close is None else close))

    for span in phases:
        _add_altitude(view, span, phases, add)
        scored = deviation_on(view, span)
        if scored is not None:
            judged = _judged(view, span, scored[1])
            add("tracking", _held(np.abs(scored[1])[judged]), THREE_QUARTER_SCALE_DEG)
    _add_reversal(view, measures, add)
    for rule, size in _steering(view, phases).items():
        add(rule, size, STEERING_DEG[rule])
    turn, final = measures.get("turn", {}), measures.get("final", {})
    lead, exact = turn.get("lead_nm"), turn.get("exact_lead_nm")
    if isinstance(lead, float) and isinstance(exact, float):
        add("turn_lead", abs(lead - exact), 0.6)
    rate = final.get("descent_rate_10_s_ft_min")
    if isinstance(rate, float):
        add("descent_rate", rate, 1000.0, 970.0)
    if phases and "station_passage" not in {s[0] for s in phases[:2]} and _asked_to_pass(view, attempt):
        add("station_missed", float(view.distance_nm[view.index(phases[0][2])]), 1.5)
    leg = view.procedure.final
    point = leg.missed_approach_point if leg is not None else None
    begun = final.get("missed_approach_dme_nm")
    if point is not None and point.dme_nm is not None and isinstance(begun, float):
        beyond_nm = begun - point.dme_nm if view.procedure.has_intermediate else point.dme_nm - begun
        add("missed_approach", beyond_nm, 0.5)
    return found


def _asked_to_pass(view: View, attempt: Attempt) -> bool:
    """Whether the station was to be crossed first (not on a straight-in to a station on the aerodrome)."""
    return view.procedure.reversal is not None and not attempt.straight_in


def breaches_of(readings: Sequence[Reading]) -> dict[str, float]:
    """By how much each rule's limit was passed, where it was."""
    found: dict[str, float] = {}
    for reading in readings:
        beyond = reading.size - reading.limit
        if beyond > 0:
            found[reading.rule] = max(beyond, found.get(reading.rule, 0.0))
    return found


def close_calls_of(readings: Sequence[Reading]) -> frozenset[str]:
    """Rules that came near their limit, or passed it."""
    return frozenset(reading.rule for reading in readings if reading.size > reading.close)


def _judged(view: View, span: Span, deviation: Floats) -> slice:
    """The part of a leg on which a good pilot is on it.

    Outbound, from the radial (5 degrees) or 2 NM after the turn at the station; on final, until the turn to the
    runway that is in sight.
    """
    inside = slice_of(view, span)
    if span[0] == "outbound":
        on_radial = np.flatnonzero((np.abs(deviation) <= 5.0) | (view.distance_nm[inside] > 2.0))
        return slice(int(on_radial[0]) if len(on_radial) else None, None)
    sight = [e.t_s for e in view.flight.events if e.what == "runway in sight" and span[1] <= e.t_s <= span[2]]
    return slice(None, view.index(sight[0]) - inside.start if sight else None)


def _steering(view: View, phases: Sequence[Span]) -> dict[str, float]:
    """By the exact heading: swings in the cone or with a short period, and turns farther away from the course."""
    heading = np.degrees(np.unwrap(np.radians(view.flight.heading_true_deg)))
    track = np.degrees(np.unwrap(np.radians(view.flight.ground_track_true_deg)))
    found = {"needle_chasing": 0.0, "reverse_sensing": 0.0, "weaving": 0.0}
    names = [span[0] for span in phases]
    for number, span in enumerate(phases):
        inside = slice_of(view, span)
        scored = deviation_on(view, span)
        if scored is not None:
            judged = _judged(view, span, scored[1])
            part = heading[inside][judged]
            found["needle_chasing"] = max(found["needle_chasing"], _swings(part, 4, CHASE_PERIOD_S))
            woven = _swings(track[inside][judged], 4, WEAVE_PERIOD_S)
            found["weaving"] = max(found["weaving"], woven)
            away = _turned_away(view, span, scored[1], judged, heading)
            found["reverse_sensing"] = max(found["reverse_sensing"], away)
        if names[number - 1 : number + 2] == ["intermediate", "station_passage", "final"]:
            longer = slice(inside.start, inside.stop + round(12.0 / STEP_S))
            found["needle_chasing"] = max(found["needle_chasing"], _swings(heading[longer], 2, np.inf))
    return found


def _swings(heading: Floats, count: int, period_s: float) -> float:
    """The greatest whole degree by which a heading swung that often in a row, each two within the period."""
    if not len(heading):
        return 0.0
    values = heading.tolist()  # plain floats: the loops below take a third of the time
    for size in range(min(45, int(np.ptp(heading))), 2, -1):
        ends: list[int] = []
        low = high = 0
        way = 0
        for number, value in enumerate(values):
            low = number if value < values[low] else low
            high = number if value > values[high] else high
            if way <= 0 and value - values[low] >= size:
                ends.append(low)
                way, high = 1, number
            elif way >= 0 and values[high] - value >= size:
                ends.append(high)
                way, low = -1, number
        ends.append(high if way > 0 else low)
        apart = [(later - ends[at]) * STEP_S for at, later in enumerate(ends[2:])]
        runs = [all(gap < period_s for gap in apart[at : at + count - 1]) for at in range(len(ends) - count)]
        if any(runs):
            return float(size)
    return 0.0


def _turned_away(view: View, span: Span, deviation: Floats, judged: slice, heading: Floats) -> float:
    """How far the heading was turned on from one that held the deviation, while 2 degrees beside and going out."""
    inside = slice_of(view, span)
    parts = (deviation[judged], heading[inside][judged], view.distance_nm[inside][judged])
    size, headings, distance = np.nan_to_num(parts[0]), parts[1], parts[2]
    track = view.flight.ground_track_true_deg[inside][judged]
    course_deg = (
        view.procedure.inbound_course_deg if span[0] != "outbound" else view.procedure.outbound_course_deg
    )
    if course_deg is None or not len(size):
        return 0.0
    off = (track - view.procedure.true_deg(course_deg) + 180.0) % 360.0 - 180.0
    most = 0.0
    for side in (1.0, -1.0):
        beside = (side * size >= 2.0) & (distance >= 1.0)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], beside.astype(int), [0]])))
        for first, last in zip(edges[::2], edges[1::2], strict=True):
            out, turned, away = side * size[first:last], side * headings[first:last], side * off[first:last]
            if out.max() - out[0] >= 2.0 and away.max() <= 60.0:
                along = int(np.argmin(np.maximum(away, 0.0)[: int(np.argmax(out)) + 1]))
                most = max(most, float(turned[along : int(np.argmax(out)) + 1].max() - turned[along]))
    return most


def _held(sizes: Floats) -> float:
    """The greatest size kept for at least 4 s; nothing where the cone interrupts."""
    need = round(TRACKING_HELD_S / STEP_S)
    if len(sizes) <= need:
        return 0.0
    windows = np.lib.stride_tricks.sliding_window_view(sizes, need + 1)
    least = windows.min(axis=1)
    least = least[np.isfinite(least)]
    return float(least.max()) if len(least) else 0.0


def _add_altitude(view: View, span: Span, phases: Sequence[Span], add: Add) -> None:
    name = span[0]
    altitude = view.flight.altitude_ft[slice_of(view, span)]
    if name == "station_passage":
        return
    leg = view.procedure.leg_of(name)
    if leg is None or leg.altitude is None:
        return
    limit = leg.altitude
    if name != "final":
        if limit.low_ft is not None:
            add("altitude", limit.low_ft - float(altitude.min()), ALTITUDE_FT, 0.0)
            if name in ("inbound", "intermediate"):
                add("altitude_before_station", limit.low_ft - float(altitude[-1]), ALTITUDE_FT, 0.0)
        return
    dme = view.dme_nm[slice_of(view, span)]
    outward = view.procedure.has_intermediate or view.procedure.reversal is None
    for step in leg.step_down:
        if step.until_radial is not None:
            reached = view.past_radial(step.until_radial)[slice_of(view, span)]
        else:
            reached = dme >= step.until_dme_nm if outward else dme <= step.until_dme_nm
        holds = np.cumsum(reached) == 0
        if holds.any():
            add("step_down", step.at_or_above_ft - float(altitude[holds].min()), 0.0, -10.0)
    lands = any(s[0] == "landing" and s[1] >= span[2] - 0.2 for s in phases)
    if limit.low_ft is not None and not lands:
        add("minimum_descent_altitude", limit.low_ft - float(altitude.min()), 0.0, -10.0)


def _add_reversal(view: View, measures: Measures, add: Add) -> None:
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
        add("reversal_distance", distance, leg.within_nm, leg.within_nm - 0.2)
    if leg.max_speed_kias is not None and isinstance(speed, float):
        add("reversal_speed", speed - leg.max_speed_kias, SPEED_KT, 0.0)
    length = view.procedure.outbound.length if view.procedure.outbound is not None else None
    dme, seconds = flown.get("turn_start_dme_nm"), flown.get("outbound_seconds")
    if length is not None and length.dme_nm is not None and isinstance(dme, float):
        add("outbound_length", abs(dme - length.dme_nm), 0.7)
    if length is not None and length.minutes is not None and isinstance(seconds, float):
        add("outbound_length", abs(seconds - 60.0 * length.minutes), 20.0)
    angle, overshoot = intercept.get("angle_deg"), intercept.get("overshoot_nm")
    if isinstance(angle, float) and leg.pattern is not Pattern.BASE_TURN:
        add("intercept_angle", angle, 55.0, 53.0)
    if isinstance(overshoot, float):
        add("intercept_overshoot", overshoot, 0.4)
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
        "needle_chasing": faults.chase_needle_deg or faults.chase_in_cone_deg,
        "reverse_sensing": faults.needle_reversed_deg,
        "weaving": faults.weave_deg,
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
        "descent_rate": 100.0, "missed_approach": 0.1, "needle_chasing": 3.0, "reverse_sensing": 3.0, "weaving": 4.0,
    }  # fmt: skip
    return frozenset(
        rule for rule, size in asked.items() if size and breaches.get(rule, 0.0) > sure.get(rule, 0.0)
    )
