"""Everything that was measured, in tables, and the standard's items.

Owns      the measures of whole phases; what could not be measured and why; the items.
Not here  what is measured once (``events``), how a table is set (``flow``), how a number was found (``method``).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from debrief.language import mark, sentence, tr
from debrief.reports.events import LEGS, REPEATED, event_rows
from debrief.reports.flow import Column, Group, Row, Words, titled
from debrief.reports.style import SOFT, TABLE_PT
from debrief.reports.words import (
    NOTHING,
    clock,
    coarse,
    coarse_width,
    elapsed,
    grade_name,
    measured,
    number,
    phase_name,
    quantity,
    sided,
    sided_limit,
    why_not_seen,
)
from debrief.result import (
    Attempt,
    GradeItem,
    LegMeasures,
    Range,
    Spread,
)

_HEADS = mark(
    {
        "station_passage": "Station pas\u00adsage",
        "course_reversal": "Course rever\u00adsal",
        "intermediate": "Inter\u00admediate",
        "missed_approach": "Missed ap\u00adproach",
    }
)
_PRAISE_PT = 13.0  # of one sentence on what went well: they stand on one page
_HEAD_AND_ROWS_PT = 150.0  # the result, the head of the table and its first rows
_HEAD_AND_GROUP_PT = 190.0  # a word on circuits, the head of the table and its first group
_Cell = Callable[[LegMeasures], str]


def measures_part(flow: Words, name: str, attempt: Attempt, *, pointer: bool = False) -> None:
    """Set the tables of measures of an attempt; ``pointer`` where an NDB's leads back in."""
    flow.heading(titled(name, tr("measures by phase")), keep_pt=_HEAD_AND_GROUP_PT)
    legs = [(leg, getattr(attempt.measures, leg)) for leg in LEGS]
    flown = [(leg, found) for leg, found in legs if found is not None]
    circuits = attempt.measures.circuits
    if flown:
        _by_phase(flow, flown, circuits)
    for missing in attempt.not_seen:
        span = ""
        if missing.start is not None and missing.end is not None:
            span = tr(", {start} to {end} UTC", start=clock(missing.start), end=clock(missing.end))
        flow.paragraph(
            f"{phase_name(missing.phase)}: {why_not_seen(attempt, missing)}{span}.",
            size_pt=TABLE_PT,
            bullet="•",
        )
    events = list(event_rows(attempt, pointer=pointer))
    if events:
        columns = [Column(tr("Measure"), 40), Column(tr("Value"), 27), Column(tr("Beside it"), 33)]
        flow.titled_table(tr("Event by event"), columns, events, lesser=True)
    _notes(flow, attempt)


def _by_phase(flow: Words, flown: Sequence[tuple[str, LegMeasures]], circuits: int) -> None:
    if circuits > 1:
        flow.paragraph(
            tr(
                "Flown in {count} circuits. Outbound, course reversal and intermediate are those of the last one; the "
                "station passage is the one before the first. The circuits before the last stand under Event by event.",
                count=circuits,
            ),
            size_pt=TABLE_PT,
        )
    columns = [Column(tr("Measure"), 2.5)]
    columns += [
        Column(tr(_HEADS[leg]) if leg in _HEADS else phase_name(leg), 1.0, "right") for leg, _ in flown
    ]
    rows: list[Row | Group] = []
    for title, entries in _PHASE_ROWS:
        lines = [Row((tr(name), *(cell(found) for _, found in flown))) for name, cell in entries]
        known = [line for line in lines if any(text != NOTHING for text in line.cells[1:])]
        if known:
            rows.append(Group(tr(title)))
            rows.extend(known)
    if circuits > 1:
        rows.insert(
            0,
            Row((tr("circuit, of {count}", count=circuits), *(_circuit(leg, circuits) for leg, _ in flown))),
        )
    flow.table(columns, rows)


def _circuit(leg: str, circuits: int) -> str:
    """Which circuit a phase's column is of; none where no circuit belongs to it."""
    if leg in REPEATED:
        return number(circuits)
    return tr("before 1") if leg == "station_passage" else NOTHING


def _spread(
    pick: Callable[[LegMeasures], Spread | None], part: str, decimals: int, *, signed: bool = False
) -> _Cell:
    def cell(leg: LegMeasures) -> str:
        found = pick(leg)
        return NOTHING if found is None else number(getattr(found, part), decimals, signed=signed)

    return cell


def _range(
    pick: Callable[[LegMeasures], Range | None], part: str, unit: str, *, signed: bool = False
) -> _Cell:
    def cell(leg: LegMeasures) -> str:
        value = getattr(pick(leg), part, None)
        if value is None:
            return NOTHING
        told = coarse_width(value, unit) if part == "uncertainty" else coarse(value, unit)
        return number(told, signed=signed)

    return cell


def _of_range(
    pick: Callable[[LegMeasures], Range | None], unit: str, *, signed: bool = False
) -> tuple[tuple[str, _Cell], ...]:
    names = (
        (mark("least"), "min"),
        (mark("mean"), "mean"),
        (mark("greatest"), "max"),
        (mark("± of one value"), "uncertainty"),
    )
    return tuple(
        (name, _range(pick, part, unit, signed=signed and part != "uncertainty")) for name, part in names
    )


def _of_spread(pick: Callable[[LegMeasures], Spread | None], decimals: int) -> tuple[tuple[str, _Cell], ...]:
    return (
        (mark("mean (right of course +)"), _spread(pick, "mean", decimals, signed=True)),
        (mark("root mean square"), _spread(pick, "rms", decimals)),
        (mark("greatest"), _spread(pick, "max_abs", decimals)),
        (mark("± of one value"), _spread(pick, "uncertainty", decimals)),
    )


_PHASE_ROWS: tuple[tuple[str, tuple[tuple[str, _Cell], ...]], ...] = mark(
    (
        (
            "Time and distance",
            (
                ("duration, min:s", lambda leg: elapsed(leg.duration_s)),
                ("± of the duration, s", lambda leg: number(leg.uncertainties.get("duration_s"), 1)),
                ("of that observed, min:s", lambda leg: elapsed(leg.observed_s)),
                ("flown over the ground, NM", lambda leg: number(leg.track_length_nm, 2)),
                ("± of that, NM", lambda leg: number(leg.uncertainties.get("track_length_nm"), 2)),
            ),
        ),
        ("Cross-track, NM", _of_spread(lambda leg: leg.cross_track_nm, 3)),
        (
            "Deviation at the station, °",
            (
                *_of_spread(lambda leg: leg.deviation_deg, 2),
                (
                    "time within half scale, %",
                    lambda leg: (
                        NOTHING if leg.within_half_scale is None else number(100 * leg.within_half_scale)
                    ),
                ),
                (
                    "± of that, %",
                    lambda leg: (
                        number(100 * leg.uncertainties["within_half_scale"])
                        if "within_half_scale" in leg.uncertainties
                        else NOTHING
                    ),
                ),
            ),
        ),
        ("Altitude, ft", _of_range(lambda leg: leg.altitude_ft, "ft")),
        ("Ground speed, kt", _of_range(lambda leg: leg.groundspeed_kt, "kt")),
        ("Indicated airspeed, kt", _of_range(lambda leg: leg.airspeed_kias, "kt")),
        ("Vertical speed, ft/min", _of_range(lambda leg: leg.vertical_speed_ft_min, "ft/min", signed=True)),
        (
            "Drift, °",
            (
                ("mean (blown to the right +)", lambda leg: number(leg.drift_deg, 1, signed=True)),
                ("± of the mean", lambda leg: number(leg.uncertainties.get("drift_deg"), 1)),
            ),
        ),
    )
)


def _notes(flow: Words, attempt: Attempt) -> None:
    """Why something could not be measured, once for all the phases of which it is said."""
    measures = attempt.measures
    phases_of: dict[str, list[str]] = {}
    for leg in LEGS:
        found = getattr(measures, leg)
        for text in dict.fromkeys(found.warnings if found is not None else ()):
            phases_of.setdefault(text, []).append(phase_name(leg))
    said = list(attempt.warnings)
    said += [f"{', '.join(phases)}: {text}" for text, phases in phases_of.items()]
    if measures.intercept is not None:
        said += [tr("Intercept: {text}", text=text) for text in measures.intercept.warnings]
    for block in (measures.arc, measures.hold_before, measures.hold_after):
        said += [] if block is None else block.warnings
    if said:
        flow.subheading(tr("What could not be measured, and why"))
        for text in dict.fromkeys(said):
            flow.paragraph(text, size_pt=TABLE_PT, bullet="•", colour=SOFT)


def _margin(item: GradeItem) -> str:
    """The margin of an item; of an altitude that between the figures beside it."""
    margin = item.margin
    if margin is not None and item.unit == "ft" and item.value is not None and item.limit is not None:
        margin = math.copysign(abs(coarse(item.value, item.unit, item.limit) - item.limit), margin)
    return (
        quantity(margin, item.unit, signed=True)
        if item.unit == "ft"
        else measured(margin, item.unit, signed=True)
    )


def _held_against(item: GradeItem) -> tuple[str, str]:
    """The value of an item, and its limit."""
    return (
        sided(item.rule, item.unit, item.value, lambda value: measured(value, item.unit, item.limit)),
        sided_limit(item.rule, item.unit, item.limit),
    )


def grade_part(flow: Words, name: str, attempt: Attempt) -> None:
    """Set the standard's items, one a row."""
    grade = attempt.grade
    flow.heading(titled(name, tr("the standard, item by item")), keep_pt=_HEAD_AND_ROWS_PT)
    reason = f": {grade.reason}" if grade.reason else "."
    flow.paragraph(f"{sentence(grade_name(grade.result))}{reason}", size_pt=TABLE_PT, bold=True)
    columns = [
        Column(tr("Item"), 28),
        Column(tr("Result"), 15.5),
        Column(tr("Value"), 11, "right"),
        Column(tr("Limit"), 12.7, "right"),
        Column(tr("Margin"), 12.7, "right"),
        Column(tr("Source of the limit; remarks"), 46.5),
    ]
    rows = [
        Row(
            (
                item.item,
                sentence(grade_name(item.result)),
                *_held_against(item),
                _margin(item),
                f"{item.source}. {sentence(item.reason)}"
                if item.source and item.reason
                else item.source or item.reason,
            )
        )
        for item in grade.items
    ]
    if rows:
        flow.table(columns, rows)
    if attempt.went_well:
        flow.subheading(tr("What went well"), keep_pt=_PRAISE_PT * len(attempt.went_well))
        for text in attempt.went_well:
            flow.paragraph(text, size_pt=TABLE_PT, bullet="•")
