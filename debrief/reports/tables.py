"""Everything that was measured, in tables: by phase, then event by event; and the standard's items.

Owns      which measure stands where, with its unit and its uncertainty.
Not here  how a table is set (``flow``), how a number was found (``method``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime

from debrief.reports.flow import Column, Flow, Group, Row, titled
from debrief.reports.style import SOFT, TABLE_PT
from debrief.reports.words import (
    NOTHING,
    bearing,
    clock,
    elapsed,
    number,
    phase_name,
    quantity,
    uncertain,
)
from debrief.result import (
    Attempt,
    Circuit,
    FinalMeasures,
    Intercept,
    LandingMeasures,
    LegMeasures,
    Measures,
    MissedMeasures,
    OutboundMeasures,
    Range,
    ReversalMeasures,
    Spread,
    StationTurn,
)

_LEGS = (
    "inbound",
    "station_passage",
    "outbound",
    "course_reversal",
    "intermediate",
    "final",
    "missed_approach",
    "landing",
)
_Cell = Callable[[LegMeasures], str]


def measures_part(flow: Flow, name: str, attempt: Attempt) -> None:
    """Set the tables of measures of an attempt."""
    flow.heading(titled(name, "measures by phase"), keep_pt=150.0)
    legs = [(leg, getattr(attempt.measures, leg)) for leg in _LEGS]
    flown = [(leg, found) for leg, found in legs if found is not None]
    if flown:
        _by_phase(flow, flown)
    for missing in attempt.not_seen:
        span = ""
        if missing.start is not None and missing.end is not None:
            span = f", {clock(missing.start)} to {clock(missing.end)} UTC"
        flow.paragraph(f"{phase_name(missing.phase)}: {missing.why}{span}.", size_pt=TABLE_PT, bullet="•")
    events = list(_events(attempt))
    if events:
        flow.subheading("Event by event", keep_pt=80.0)
        columns = [Column("Measure", 40), Column("Value", 27), Column("Beside it", 33)]
        flow.table(columns, events)
    _notes(flow, attempt)


def _by_phase(flow: Flow, flown: Sequence[tuple[str, LegMeasures]]) -> None:
    columns = [Column("Measure", 2.0)]
    columns += [Column(phase_name(leg), 1.0, "right") for leg, _ in flown]
    rows: list[Row | Group] = []
    for title, entries in _PHASE_ROWS:
        lines = [Row((name, *(cell(found) for _, found in flown))) for name, cell in entries]
        known = [line for line in lines if any(text != NOTHING for text in line.cells[1:])]
        if known:
            rows.append(Group(title))
            rows.extend(known)
    flow.table(columns, rows)


def _spread(
    pick: Callable[[LegMeasures], Spread | None], part: str, decimals: int, *, signed: bool = False
) -> _Cell:
    def cell(leg: LegMeasures) -> str:
        found = pick(leg)
        return NOTHING if found is None else number(getattr(found, part), decimals, signed=signed)

    return cell


def _range(pick: Callable[[LegMeasures], Range | None], part: str, *, signed: bool = False) -> _Cell:
    def cell(leg: LegMeasures) -> str:
        found = pick(leg)
        return NOTHING if found is None else number(getattr(found, part), signed=signed)

    return cell


def _of_range(
    pick: Callable[[LegMeasures], Range | None], *, signed: bool = False
) -> tuple[tuple[str, _Cell], ...]:
    names = (("least", "min"), ("mean", "mean"), ("greatest", "max"), ("± of one value", "uncertainty"))
    return tuple((name, _range(pick, part, signed=signed and part != "uncertainty")) for name, part in names)


def _of_spread(pick: Callable[[LegMeasures], Spread | None], decimals: int) -> tuple[tuple[str, _Cell], ...]:
    return (
        ("mean (right of course +)", _spread(pick, "mean", decimals, signed=True)),
        ("root mean square", _spread(pick, "rms", decimals)),
        ("greatest", _spread(pick, "max_abs", decimals)),
        ("± of one value", _spread(pick, "uncertainty", decimals)),
    )


_PHASE_ROWS: tuple[tuple[str, tuple[tuple[str, _Cell], ...]], ...] = (
    (
        "Time and distance",
        (
            ("duration, min:s", lambda leg: elapsed(leg.duration_s)),
            ("of that observed, min:s", lambda leg: elapsed(leg.observed_s)),
            ("flown over the ground, NM", lambda leg: number(leg.track_length_nm, 2)),
        ),
    ),
    ("Cross-track, NM", _of_spread(lambda leg: leg.cross_track_nm, 3)),
    (
        "Deviation at the station, °",
        (
            *_of_spread(lambda leg: leg.deviation_deg, 1),
            (
                "time within half scale, %",
                lambda leg: NOTHING if leg.within_half_scale is None else number(100 * leg.within_half_scale),
            ),
        ),
    ),
    ("Altitude, ft", _of_range(lambda leg: leg.altitude_ft)),
    ("Ground speed, kt", _of_range(lambda leg: leg.groundspeed_kt)),
    ("Indicated airspeed, kt", _of_range(lambda leg: leg.airspeed_kias)),
    ("Vertical speed, ft/min", _of_range(lambda leg: leg.vertical_speed_ft_min, signed=True)),
    ("Drift, °", (("mean (blown to the right +)", lambda leg: number(leg.drift_deg, 1, signed=True)),)),
)


def _row(name: str, value: str, beside: str = "") -> Iterator[Row]:
    if value != NOTHING:
        yield Row((name, value, beside))


def _events(attempt: Attempt) -> Iterator[Row | Group]:
    """Rows of what is measured once, grouped by phase; what is not known has no row."""
    measures = attempt.measures
    groups: list[tuple[str, list[Row]]] = [
        ("Wind", list(_wind(attempt))),
        ("Station passages", list(_passages(attempt))),
        ("Turn at the station", list(_turn(measures.turn))),
        *_circuits(measures),
        ("Outbound", list(_outbound(measures.outbound))),
        ("Course reversal", list(_reversal(measures.course_reversal))),
        ("Intercept of the inbound course", list(_intercept(measures.intercept))),
        ("Altitude limits passed", list(_breaks(measures))),
        ("Final", list(_final(measures.final))),
        ("Missed approach", list(_missed(measures.missed_approach))),
        ("Landing", list(_landing(measures.landing))),
        ("Turns", list(_turns(attempt))),
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
    yield Row(("wind", f"from {bearing(wind.from_true_deg)} true, {speed}", wind.method))
    yield from _row("true airspeed in the turns", quantity(wind.tas_kt, "kt"))


def _passages(attempt: Attempt) -> Iterator[Row]:
    for count, passage in enumerate(attempt.station_passages, start=1):
        sure = (
            "" if passage.time_uncertainty_s is None else f" ± {max(passage.time_uncertainty_s, 0.1):.1f} s"
        )
        stamp = f"{clock(passage.time)}.{passage.time.microsecond // 100_000}{sure}"
        what = "closest point (missed)" if passage.missed else "passage"
        yield Row((f"{what} {count}, UTC", stamp, f"{quantity(passage.distance_nm, 'NM')} from the station"))
        height = NOTHING if passage.altitude_ft is None else quantity(passage.altitude_ft, "ft")
        speed = quantity(passage.groundspeed_kt, "kt")
        yield Row(
            (
                "altitude and ground speed there",
                f"{height}, {speed}",
                f"track {bearing(passage.ground_track_true_deg)} true",
            )
        )


def _turn(turn: StationTurn | None) -> Iterator[Row]:
    if turn is None:
        return
    yield Row(("began, UTC", clock(turn.start), f"at {quantity(turn.groundspeed_kt, 'kt')} over the ground"))
    yield from _row("change of track", quantity(turn.change_deg, "deg", signed=True, decimals=0), "right +")
    lead = uncertain(turn.lead_nm, turn.lead_uncertainty_nm, "NM", signed=True)
    yield Row(("lead, before the station +", lead, f"DME distance there {quantity(turn.lead_dme_nm, 'NM')}"))
    yield from _row(
        "exact lead", quantity(turn.exact_lead_nm, "NM"), "tangent turn, standard rate or 25° of bank"
    )
    yield from _row(
        "rule of thumb", quantity(turn.rule_of_thumb_nm, "NM"), "a DME reading; a help to think, no limit"
    )


def _circuits(measures: Measures) -> Iterator[tuple[str, list[Row]]]:
    for count, circuit in enumerate(measures.earlier_circuits, start=1):
        yield f"Earlier circuit {count}", list(_circuit(circuit))


def _circuit(circuit: Circuit) -> Iterator[Row]:
    yield from _outbound(circuit.outbound)
    yield from _reversal(circuit.course_reversal)
    yield from _intercept(circuit.intercept)


def _outbound(leg: OutboundMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    timed = NOTHING if leg.time_from_passage_s is None else elapsed(leg.time_from_passage_s)
    yield from _row("time from the closest point to the turn off, min:s", timed)
    distance = quantity(leg.turn_off_distance_nm, "NM")
    yield from _row(
        "DME distance at the turn off", quantity(leg.turn_off_dme_nm, "NM"), f"{distance} over the ground"
    )
    yield from _row("mean heading, magnetic", bearing(leg.heading_mag_deg))


def _reversal(leg: ReversalMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    side = f"to the {leg.side}" if leg.side is not None else NOTHING
    yield Row(("pattern and side", f"{leg.pattern or 'not recognised'}, {side}", ""))
    yield from _row("farthest from the station", quantity(leg.max_distance_nm, "NM"))
    begins = quantity(leg.turn_start_distance_nm, "NM")
    yield from _row(
        "DME distance where it began", quantity(leg.turn_start_dme_nm, "NM"), f"{begins} over the ground"
    )
    yield from _row("width, to the side of the outbound course", quantity(leg.width_nm, "NM"))
    airspeed = quantity(leg.entry_airspeed_kias, "kt")
    yield from _row(
        "ground speed at the entry",
        quantity(leg.entry_groundspeed_kt, "kt"),
        _if_known("indicated airspeed", airspeed),
    )
    fastest = uncertain(leg.max_airspeed_kias, leg.max_airspeed_uncertainty_kt, "kt")
    yield from _row("fastest indicated airspeed", fastest, leg.airspeed_from or "")
    timed = NOTHING if leg.leg_seconds is None else elapsed(leg.leg_seconds)
    yield from _row("first turn to the turn back, min:s", timed)
    yield from _row(
        "rate of the turn back",
        quantity(leg.turn_rate_deg_s, "deg/s"),
        _if_known("bank that implies", quantity(leg.bank_deg, "deg", decimals=0)),
    )


def _if_known(name: str, value: str) -> str:
    return "" if value == NOTHING else f"{name} {value}"


def _intercept(intercept: Intercept | None) -> Iterator[Row]:
    if intercept is None:
        return
    yield from _row("needle off full scale, UTC", clock(intercept.time))
    yield from _row("angle", uncertain(intercept.angle_deg, intercept.angle_uncertainty_deg, "deg"))
    yield from _row("overshoot", uncertain(intercept.overshoot_nm, intercept.overshoot_uncertainty_nm, "NM"))
    after = NOTHING if intercept.seconds_to_established is None else elapsed(intercept.seconds_to_established)
    yield from _row(
        "established, UTC", clock(intercept.established), _if_known("min:s after the needle", after)
    )
    yield from _row("distance from the station then", quantity(intercept.established_distance_nm, "NM"))


_LIMIT_NAMES = {
    "altitude": "leg's limit",
    "minimum_descent_altitude": "minimum descent altitude",
    "step_down": "step-down",
}


def _breaks(measures: Measures) -> Iterator[Row]:
    for leg in _LEGS:
        found = getattr(measures, leg)
        for entry in found.altitude_breaks if found is not None else ():
            name = f"{phase_name(leg)}: {_LIMIT_NAMES[entry.what]} {quantity(entry.limit_ft, 'ft')}"
            span = f"{clock(entry.start)} to {clock(entry.end)} UTC"
            yield Row((name, f"{quantity(entry.depth_ft, 'ft')} {entry.side}", span))


def _final(leg: FinalMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    yield from _row("lowest altitude", quantity(leg.lowest_altitude_ft, "ft"), _at(leg.lowest_time))
    start = quantity(leg.descent_start_distance_nm, "NM", signed=True)
    yield from _row("descent began, past the station +", start, _at(leg.descent_start))
    required = _if_known("required", quantity(leg.required_angle_deg, "deg"))
    yield from _row("angle of the descent", quantity(leg.descent_angle_deg, "deg"), required)
    yield from _row(
        "greatest rate of descent, over 10 s",
        quantity(leg.max_descent_rate_ft_min, "ft/min"),
        _at(leg.max_descent_rate_time),
    )
    yield from _row("levelled off at", quantity(leg.level_off_altitude_ft, "ft"), _at(leg.level_off))
    passed = quantity(leg.altitude_at_missed_approach_point_ft, "ft")
    yield from _row("altitude passing the missed approach point", passed, _at(leg.missed_approach_point))
    for gate in leg.gates:
        words = {True: "stable", False: "not stable", None: "not known"}[gate.stable]
        reasons = ", ".join(gate.reasons)
        yield Row(
            (
                f"{quantity(gate.height_ft, 'ft')} above the runway, UTC",
                f"{clock(gate.time)}: {words}",
                reasons,
            )
        )


def _at(time: datetime | None) -> str:
    return "" if time is None else f"at {clock(time)} UTC"


def _missed(leg: MissedMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    start = quantity(leg.start_past_point_nm, "NM", signed=True)
    yield from _row("climb began, past the missed approach point +", start)
    yield from _row("mean rate of climb", quantity(leg.climb_rate_ft_min, "ft/min"))


def _landing(leg: LandingMeasures | None) -> Iterator[Row]:
    if leg is None:
        return
    yield from _row("touchdown, UTC", clock(leg.touchdown))
    yield from _row("past the threshold", quantity(leg.touchdown_past_threshold_nm, "NM"))
    offset = quantity(leg.logged_altitude_offset_ft, "ft", signed=True)
    yield from _row("logged altitude less runway elevation", offset, "not applied")


def _turns(attempt: Attempt) -> Iterator[Row]:
    for turn in attempt.turns:
        span = f"{clock(turn.start)} to {clock(turn.end)} UTC"
        rate = f"{quantity(turn.mean_rate_deg_s, 'deg/s')} at {quantity(turn.mean_groundspeed_kt, 'kt')}"
        yield Row((span, f"{quantity(turn.degrees, 'deg', decimals=0)} {turn.direction}", rate))


def _notes(flow: Flow, attempt: Attempt) -> None:
    """Why something could not be measured."""
    measures = attempt.measures
    said = list(attempt.warnings)
    for leg in _LEGS:
        found = getattr(measures, leg)
        if found is not None:
            said += [f"{phase_name(leg)}: {text}" for text in found.warnings]
    if measures.intercept is not None:
        said += [f"Intercept: {text}" for text in measures.intercept.warnings]
    if said:
        flow.subheading("What could not be measured, and why")
        for text in dict.fromkeys(said):
            flow.paragraph(text, size_pt=TABLE_PT, bullet="•", colour=SOFT)


def grade_part(flow: Flow, name: str, attempt: Attempt) -> None:
    """Set the standard's items, one a row."""
    grade = attempt.grade
    flow.heading(titled(name, "the standard, item by item"))
    reason = f": {grade.reason}" if grade.reason else "."
    flow.paragraph(f"{grade.result.capitalize()}{reason}", size_pt=TABLE_PT, bold=True)
    columns = [
        Column("Item", 30),
        Column("Result", 17),
        Column("Value", 13, "right"),
        Column("Limit", 13, "right"),
        Column("Margin", 13, "right"),
        Column("Source of the limit; remarks", 40),
    ]
    rows = [
        Row(
            (
                item.item,
                item.result.capitalize(),
                quantity(item.value, item.unit),
                quantity(item.limit, item.unit),
                quantity(item.margin, item.unit, signed=True),
                f"{item.source}. {item.reason}"
                if item.source and item.reason
                else item.source or item.reason,
            )
        )
        for item in grade.items
    ]
    if rows:
        flow.table(columns, rows)
    if attempt.went_well:
        flow.subheading("What went well", keep_pt=24.0)
        for text in attempt.went_well:
            flow.paragraph(text, size_pt=TABLE_PT, bullet="•")
