"""What is measured once, event by event: the rows of the second table of measures.

Owns      which single measure stands where, with its unit and its uncertainty.
Not here  the measures of whole phases, how a table is set (``flow``), how a number was found (``method``).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from debrief.grading.words import pattern_name, side_name
from debrief.language import figure, mark, tr
from debrief.reports.flow import Group, Row
from debrief.reports.words import (
    NOTHING,
    bearing,
    clock,
    elapsed,
    measured,
    number,
    phase_name,
    quantity,
    uncertain,
    uncertain_bearing,
)
from debrief.result import (
    ArcMeasures,
    Arrival,
    Attempt,
    CirclingMeasures,
    Circuit,
    Gate,
    HoldMeasures,
    Intercept,
    LandingMeasures,
    LegMeasures,
    Measures,
    MissedMeasures,
    OutboundMeasures,
    ReversalMeasures,
    StationPassage,
    StationTurn,
    TurnInfo,
    VisualMeasures,
)

LEGS = (
    "inbound",
    "station_passage",
    "outbound",
    "course_reversal",
    "intermediate",
    "final",
    "missed_approach",
    "landing",
)

REPEATED = ("outbound", "course_reversal", "intermediate")  # flown once a circuit of a racetrack


def _row(name: str, value: str, beside: str = "") -> Iterator[Row]:
    if value != NOTHING:
        yield Row((name, value, beside))


_Block = (
    LegMeasures
    | StationTurn
    | Intercept
    | ArcMeasures
    | VisualMeasures
    | CirclingMeasures
    | HoldMeasures
    | TurnInfo
    | StationPassage
    | Gate
)


def _sure(block: _Block, name: str, unit: str, *, signed: bool = False) -> str:
    """A measure of a block with its half-width."""
    return uncertain(getattr(block, name), block.uncertainties.get(name), unit, signed=signed)


def _clocked(block: _Block, name: str) -> str:
    """A moment with its half-width in seconds."""
    sure_s = block.uncertainties.get(name)
    return clock(getattr(block, name)) + ("" if sure_s is None else f" ± {number(max(sure_s, 1.0))} s")


def _timed(block: _Block, name: str) -> str:
    """A time that was measured, minutes and seconds, with its half-width in seconds."""
    seconds, sure_s = getattr(block, name), block.uncertainties.get(name)
    if seconds is None:
        return NOTHING
    return elapsed(seconds) if sure_s is None else f"{elapsed(seconds)} ± {number(sure_s, 1)} s"


def event_rows(attempt: Attempt, *, pointer: bool = False) -> Iterator[Row | Group]:
    """Rows of what is measured once, grouped by phase; what is not known has no row.

    ``pointer`` where the course back in was flown by that of an NDB, which has no scale to come off.
    """
    measures = attempt.measures
    groups: list[tuple[str, list[Row]]] = [
        (tr("Wind"), list(_wind(attempt))),
        (tr("Station passages"), list(_passages(attempt))),
        (tr("Arc"), list(_arc(measures.arc, pointer=pointer))),
        (tr("Hold before the approach"), list(_hold(measures.hold_before))),
        (tr("Arrival"), list(_arrival(measures.arrival))),
        (tr("Turn at the station"), list(_turn(attempt))),
        *_circuits(measures, pointer=pointer),
        (last_of(tr("Outbound"), measures), list(_outbound(measures.outbound))),
        (last_of(tr("Course reversal"), measures), list(_reversal(measures.course_reversal))),
        (
            last_of(tr("Intercept of the inbound course"), measures),
            list(_intercept(measures.intercept, pointer=pointer)),
        ),
        (tr("Altitude limits passed (as published, no tolerance taken off)"), list(_breaks(measures))),
        (tr("Final"), list(_final(measures))),
        (tr("Visual segment"), list(_visual(measures.visual_segment))),
        (tr("Circling"), list(_circling(measures.circling))),
        (tr("Missed approach"), list(_missed(measures.missed_approach))),
        (tr("Hold after the missed approach"), list(_hold(measures.hold_after))),
        (tr("Landing"), list(_landing(measures.landing))),
        (tr("Turns"), list(_turns(attempt))),
    ]
    for title, rows in groups:
        if rows:
            yield Group(title)
            yield from rows


def _wind(attempt: Attempt) -> Iterator[Row]:
    wind = attempt.wind
    if wind is None:
        return
    speed = uncertain(wind.speed_kt, wind.speed_uncertainty_kt, "kt")
    direction = uncertain_bearing(wind.from_true_deg, wind.from_uncertainty_deg)
    yield Row(
        (
            tr("wind"),
            tr("from {from_true_deg} true, {speed}", from_true_deg=direction, speed=speed),
            wind.method,
        )
    )
    yield from _row(tr("true airspeed in the turns"), uncertain(wind.tas_kt, wind.tas_uncertainty_kt, "kt"))


def _passages(attempt: Attempt) -> Iterator[Row]:
    for count, passage in enumerate(attempt.station_passages, start=1):
        sure = (
            ""
            if passage.time_uncertainty_s is None
            else f" ± {figure(max(passage.time_uncertainty_s, 0.1), '.1f')} s"
        )
        tenths_s = passage.time.microsecond // 100_000 / 10.0
        stamp = f"{clock(passage.time)}{figure(tenths_s, '.1f')[1:]}{sure}"
        what = (
            tr("closest point (missed) {count}, UTC", count=count)
            if passage.missed
            else tr("passage {count}, UTC", count=count)
        )
        yield Row(
            (
                what,
                stamp,
                tr("{distance} from the station", distance=_sure(passage, "distance_nm", "NM")),
            )
        )
        height, speed = _sure(passage, "altitude_ft", "ft"), _sure(passage, "groundspeed_kt", "kt")
        yield Row(
            (
                tr("altitude and ground speed there"),
                f"{height}, {speed}",
                tr(
                    "track {ground_track} true",
                    ground_track=uncertain_bearing(
                        passage.ground_track_true_deg, passage.uncertainties.get("ground_track_true_deg")
                    ),
                ),
            )
        )


def _arrival(arrival: Arrival | None) -> Iterator[Row]:
    if arrival is None:
        return
    off = uncertain(arrival.off_inbound_course_deg, arrival.uncertainty_deg, "deg", signed=True)
    yield Row(
        (
            tr("track to the station, true"),
            uncertain_bearing(arrival.track_true_deg, arrival.uncertainty_deg),
            tr("off the inbound course {off}", off=off),
        )
    )
    if arrival.entry is not None:
        by_sector = (
            ""
            if arrival.entry_by_sector is None
            else tr("by its sectors: {entry}", entry=tr(_ENTRIES[arrival.entry_by_sector]))
        )
        yield Row((tr("entry into the racetrack"), tr(_ENTRIES[arrival.entry]), by_sector))


def _turn(attempt: Attempt) -> Iterator[Row]:
    turn = attempt.measures.turn
    if turn is None:
        return
    yield Row(
        (
            tr("began, UTC"),
            _clocked(turn, "start"),
            tr("at {groundspeed} over the ground", groundspeed=_sure(turn, "groundspeed_kt", "kt")),
        )
    )
    change = uncertain(abs(turn.change_deg), turn.uncertainties.get("change_deg"), "deg")
    yield Row(
        (tr("change of track"), f"{change} {side_name('right' if turn.change_deg > 0 else 'left')}", "")
    )
    lead = uncertain(turn.lead_nm, turn.lead_uncertainty_nm, "NM", signed=True)
    yield Row(
        (
            tr("lead, before the station +"),
            lead,
            tr("slant range there {lead}", lead=_sure(turn, "lead_dme_nm", "NM")),
        )
    )
    yield from _row(
        tr("exact lead"), _sure(turn, "exact_lead_nm", "NM"), tr("tangent turn, standard rate or 25° of bank")
    )
    yield from _row(
        tr("rule of thumb"),
        _sure(turn, "rule_of_thumb_nm", "NM"),
        tr("a slant range, as a DME shows it; a help to think, no limit"),
    )


def last_of(title: str, measures: Measures) -> str:
    """The title with the circuit it is of, the last, where a racetrack was flown round more than once."""
    count = measures.circuits
    return title if count == 1 else _of_circuit(title, count, count)


def _of_circuit(title: str, number: int, count: int) -> str:
    return tr("{title}, circuit {number} of {count}", title=title, number=number, count=count)


def _circuits(measures: Measures, *, pointer: bool) -> Iterator[tuple[str, list[Row]]]:
    count = measures.circuits
    for which, circuit in enumerate(measures.earlier_circuits, start=1):
        yield (
            tr("Circuit {number} of {count}", number=which, count=count),
            list(_circuit(circuit, pointer=pointer)),
        )


def _circuit(circuit: Circuit, *, pointer: bool) -> Iterator[Row]:
    yield from _outbound(circuit.outbound)
    yield from _reversal(circuit.course_reversal)
    yield from _intercept(circuit.intercept, pointer=pointer)


def _outbound(leg: OutboundMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    yield from _row(
        tr("time from the closest point to the turn off, min:s"), _timed(leg, "time_from_passage_s")
    )
    distance = _sure(leg, "turn_off_distance_nm", "NM")
    yield from _row(
        tr("slant range at the turn off"),
        _sure(leg, "turn_off_dme_nm", "NM"),
        tr("{distance} over the ground", distance=distance),
    )
    yield from _row(
        tr("beside the outbound course at the turn off"),
        _sure(leg, "turn_off_cross_track_nm", "NM", signed=True),
        tr("right +"),
    )
    yield from _row(
        tr("mean heading, magnetic"),
        uncertain_bearing(leg.heading_mag_deg, leg.uncertainties.get("heading_mag_deg")),
    )


def _reversal(leg: ReversalMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    side = tr("to the {side}", side=side_name(leg.side)) if leg.side is not None else NOTHING
    yield Row(
        (
            tr("pattern and side"),
            f"{pattern_name(leg.pattern) if leg.pattern else tr('not recognised')}, {side}",
            "",
        )
    )
    yield from _row(tr("farthest from the station"), _sure(leg, "max_distance_nm", "NM"))
    begins = _sure(leg, "turn_start_distance_nm", "NM")
    yield from _row(
        tr("slant range where it began"),
        _sure(leg, "turn_start_dme_nm", "NM"),
        tr("{begins} over the ground", begins=begins),
    )
    yield from _row(tr("width, to the side of the outbound course"), _sure(leg, "width_nm", "NM"))
    airspeed = _sure(leg, "entry_airspeed_kias", "kt")
    yield from _row(
        tr("ground speed at the entry"),
        _sure(leg, "entry_groundspeed_kt", "kt"),
        _if_known(tr("indicated airspeed"), airspeed),
    )
    fastest = uncertain(leg.max_airspeed_kias, leg.max_airspeed_uncertainty_kt, "kt")
    yield from _row(tr("fastest indicated airspeed"), fastest, leg.airspeed_from or "")
    yield from _row(tr("first turn to the turn back, min:s"), _timed(leg, "leg_seconds"))
    yield from _row(
        tr("rate of the turn back"),
        _sure(leg, "turn_rate_deg_s", "deg/s"),
        _if_known(tr("bank that implies"), _sure(leg, "bank_deg", "deg")),
    )


def _if_known(name: str, value: str) -> str:
    return "" if value == NOTHING else f"{name} {value}"


def _intercept(intercept: Intercept | None, *, pointer: bool) -> Iterator[Row]:
    if intercept is None:
        return
    alive = tr("bearing within 10° of the course, UTC") if pointer else tr("needle off full scale, UTC")
    yield from _row(alive, _clocked(intercept, "time"))
    yield from _row(tr("angle"), uncertain(intercept.angle_deg, intercept.angle_uncertainty_deg, "deg"))
    yield from _row(
        tr("overshoot"), uncertain(intercept.overshoot_nm, intercept.overshoot_uncertainty_nm, "NM")
    )
    after = _timed(intercept, "seconds_to_established")
    yield from _row(
        tr("established, UTC"),
        _clocked(intercept, "established"),
        _if_known(tr("min:s after that"), after),
    )
    distance = _sure(intercept, "established_distance_nm", "NM")
    yield from _row(tr("distance from the station then"), distance)


_LIMIT_NAMES = mark(
    {
        "altitude": "leg's limit",
        "minimum_descent_altitude": "minimum descent altitude",
        "step_down": "step-down",
    }
)
_WAYS = mark({"left": "to the left", "right": "to the right"})
_ENTRIES = mark({"direct": "direct", "offset": "offset", "parallel": "parallel"})


def _legs_of_all_circuits(measures: Measures) -> Iterator[tuple[str, LegMeasures]]:
    """Every leg that was flown, with its name, and its circuit where there are several; in the order of flight."""
    for leg in LEGS:
        if leg == REPEATED[0]:
            for which, circuit in enumerate(measures.earlier_circuits, start=1):
                for again in REPEATED:
                    found = getattr(circuit, again)
                    if found is not None:
                        yield _of_circuit(phase_name(again), which, measures.circuits), found
        found = getattr(measures, leg)
        if found is not None:
            yield last_of(phase_name(leg), measures) if leg in REPEATED else phase_name(leg), found


def _breaks(measures: Measures) -> Iterator[Row]:
    for title, found in _legs_of_all_circuits(measures):
        for entry in found.altitude_breaks:
            what = tr(_LIMIT_NAMES[entry.what])
            if entry.what == "minimum_descent_altitude" and measures.circling is not None:
                what = tr("circling minimum")
            name = f"{title}: {what} {quantity(entry.limit_ft, 'ft')}"
            span = tr("{start} to {end} UTC", start=clock(entry.start), end=clock(entry.end))
            depth = uncertain(entry.depth_ft, entry.depth_uncertainty_ft, "ft")
            yield Row(
                (
                    name,
                    (
                        tr("{depth} below", depth=depth)
                        if entry.side == "below"
                        else tr("{depth} above", depth=depth)
                    ),
                    span,
                )
            )


def _final(measures: Measures) -> Iterator[Row]:
    leg = measures.final
    if leg is None:
        return
    yield from _row(tr("lowest altitude"), _sure(leg, "lowest_altitude_ft", "ft"), _at(leg.lowest_time))
    start = _sure(leg, "descent_start_distance_nm", "NM", signed=True)
    yield from _row(tr("descent began, past the station +"), start, _at(leg.descent_start))
    from_log = "required_angle_deg" in leg.uncertainties  # a published angle has no uncertainty
    required = _if_known(
        tr("required") if from_log else tr("published"), _sure(leg, "required_angle_deg", "deg")
    )
    yield from _row(tr("angle of the descent"), _sure(leg, "descent_angle_deg", "deg"), required)
    yield from _row(
        tr("greatest rate of descent, over 10 s"),
        uncertain(leg.max_descent_rate_ft_min, leg.max_descent_rate_uncertainty_ft_min, "ft/min"),
        _at(leg.max_descent_rate_time),
    )
    since = _if_known(tr("from"), NOTHING if leg.level_off is None else f"{clock(leg.level_off)} UTC")
    yield from _row(tr("mean altitude once level"), _sure(leg, "level_off_altitude_ft", "ft"), since)
    passed = _sure(leg, "altitude_at_missed_approach_point_ft", "ft")
    if measures.circling is None:  # who circles to land has left the final course before it
        yield from _row(
            tr("altitude passing the missed approach point"), passed, _at(leg.missed_approach_point)
        )
    for gate in leg.gates:
        words = {True: tr("stable"), False: tr("not stable"), None: tr("not known")}[gate.stable]
        reasons = ", ".join(gate.reasons)
        yield Row(
            (
                tr("{height} above the runway, UTC", height=quantity(gate.height_ft, "ft")),
                f"{_clocked(gate, 'time')}: {words}",
                reasons,
            )
        )


def _at(time: datetime | None) -> str:
    return "" if time is None else tr("at {time} UTC", time=clock(time))


def _missed(leg: MissedMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    start = _sure(leg, "start_past_point_nm", "NM", signed=True)
    yield from _row(tr("climb began, past the missed approach point +"), start)
    yield from _row(tr("mean rate of climb"), _sure(leg, "climb_rate_ft_min", "ft/min"))
    if leg.course_off_deg is not None and leg.course_uncertainty_deg is not None:
        off = uncertain(leg.course_off_deg, leg.course_uncertainty_deg, "deg", signed=True)
        yield Row((tr("track off the published course"), off, tr("right +")))
    turned = "" if leg.turn is None else tr(_WAYS[leg.turn])
    yield from _row(tr("turn began at"), _sure(leg, "turn_altitude_ft", "ft"), turned)
    since = _if_known(tr("from"), NOTHING if leg.level_from is None else f"{clock(leg.level_from)} UTC")
    yield from _row(tr("levelled at"), _sure(leg, "level_altitude_ft", "ft"), since)


def _arc(arc: ArcMeasures | None, *, pointer: bool) -> Iterator[Row]:
    if arc is None:
        return
    first, last = bearing(arc.from_radial_deg), bearing(arc.to_radial_deg)
    between = (
        tr("bearing {first} to {last} from the station", first=first, last=last)
        if pointer
        else tr("radial {first} to {last}", first=first, last=last)
    )
    yield Row((tr("flown, UTC"), tr("{start} to {end}", start=clock(arc.start), end=clock(arc.end)), between))
    if arc.off_nm is not None:
        off = uncertain(arc.off_nm.max_abs, arc.off_nm.uncertainty, "NM")
        off_mean = uncertain(arc.off_nm.mean, arc.off_nm.mean_uncertainty, "NM", signed=True)
        mean = tr("mean {value}, outside +", value=off_mean)
        yield Row((tr("farthest off its distance"), off, mean))
    past = arc.turn_in_late_deg
    late = uncertain(None if past is None else abs(past), arc.uncertainties.get("turn_in_late_deg"), "deg")
    when = (
        NOTHING
        if late == NOTHING
        else tr("{value} late" if past is None or past >= 0 else "{value} early", value=late)
    )
    radial = uncertain_bearing(arc.turn_in_radial_deg, arc.uncertainties.get("turn_in_radial_deg"))
    on = tr("turn inbound began on the bearing") if pointer else tr("turn inbound began on radial")
    yield from _row(on, radial, when)


def _visual(visual: VisualMeasures | None) -> Iterator[Row]:
    if visual is None:
        return
    yield from _row(tr("from there on by eye, UTC"), clock(visual.start))
    to_go = _sure(visual, "to_threshold_nm", "NM")
    altitude = _sure(visual, "altitude_ft", "ft")
    yield from _row(tr("altitude there"), altitude, tr("{to_go} to the threshold", to_go=to_go))
    yield from _lined_up(visual)


def _circling(circled: CirclingMeasures | None) -> Iterator[Row]:
    if circled is None:
        return
    yield from _row(
        tr("final course left, UTC"),
        _clocked(circled, "start"),
        tr("to runway {ident}", ident=circled.runway),
    )
    aside = _sure(circled, "farthest_aside_nm", "NM")
    yield from _row(tr("farthest from its threshold"), _sure(circled, "farthest_nm", "NM"))
    yield from _row(tr("farthest from its centre line"), aside, tr(_WAYS[circled.side]))
    minimum = tr("minimum {published}", published=quantity(circled.minimum_ft, "ft"))
    yield from _row(tr("lowest up to the base turn"), _sure(circled, "lowest_altitude_ft", "ft"), minimum)
    base_ft = _sure(circled, "base_turn_altitude_ft", "ft")
    yield from _row(
        tr("base turn, UTC"), _clocked(circled, "base_turn"), tr("from {altitude}", altitude=base_ft)
    )
    yield from _lined_up(circled)


def _lined_up(flown: VisualMeasures | CirclingMeasures) -> Iterator[Row]:
    if flown.lined_up is None or flown.lined_up_before_threshold_nm is None:
        yield Row((tr("lined up with the runway"), NOTHING, flown.warnings[-1] if flown.warnings else ""))
        return
    before = _sure(flown, "lined_up_before_threshold_nm", "NM", signed=True)
    height = _sure(flown, "lined_up_height_ft", "ft")
    yield Row(
        (
            tr("lined up with the runway, before the threshold +"),
            before,
            tr("{height} above it", height=height),
        )
    )


def _hold(hold: HoldMeasures | None) -> Iterator[Row]:
    if hold is None:
        return
    yield Row((tr("circuits"), str(hold.circuits), tr(_WAYS[hold.side])))
    yield from _row(tr("inbound leg, mean, min:s"), _timed(hold, "inbound_s"))
    yield from _row(tr("farthest from the station"), _sure(hold, "farthest_nm", "NM"))
    if hold.altitude_ft is not None:
        lowest, highest = measured(hold.altitude_ft.min, "ft"), measured(hold.altitude_ft.max, "ft")
        yield Row((tr("altitude"), tr("{lowest} to {highest}", lowest=lowest, highest=highest), ""))


def _landing(leg: LandingMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    yield from _row(tr("touchdown, UTC"), _clocked(leg, "touchdown"))
    yield from _row(tr("past the threshold"), _sure(leg, "touchdown_past_threshold_nm", "NM"))
    offset = _sure(leg, "logged_altitude_offset_ft", "ft", signed=True)
    yield from _row(tr("logged altitude less runway elevation"), offset, tr("not applied"))


def _turns(attempt: Attempt) -> Iterator[Row]:
    for turn in attempt.turns:
        span = tr("{start} to {end} UTC", start=clock(turn.start), end=clock(turn.end))
        rate = tr(
            "{mean_rate_deg_s} at {mean_groundspeed_kt}",
            mean_rate_deg_s=_sure(turn, "mean_rate_deg_s", "deg/s"),
            mean_groundspeed_kt=_sure(turn, "mean_groundspeed_kt", "kt"),
        )
        yield Row((span, f"{_sure(turn, 'degrees', 'deg')} {side_name(turn.direction)}", rate))
