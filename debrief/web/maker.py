"""The procedure maker: a form's fields to the keys of a procedure file and back, each mistake at its field.

Owns      which field becomes which key; where the mistakes of ``procedures`` stand in the form.
Not here  what is a mistake (``procedures``), the file's text (``procedures.toml_writer``), how it looks (template).

A field is named after the leg it belongs to and its key: ``final.course_deg``. An empty field is a key left out.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from debrief.language import mark, tr
from debrief.procedures.mistakes import every_mistake
from debrief.procedures.model import AltitudeLimit, Extent, Procedure

MOST_STEPS, MOST_OTHERS = 4, 2
CARRIED = "carried"
_HAS_FIELDS = frozenset(
    {
        "format",
        "name",
        "note",
        "issued",
        "station",
        "runway",
        "leg",
        "other_station",
        "arc",
        "missed_approach",
        "hold",
    }
)
LAYOUTS = mark(
    {
        "before": "before the aerodrome: the final begins over it",
        "on": "on the aerodrome: the final leads to it",
        "straight": "straight in, without a reversal",
    }
)
ALTITUDES = mark(
    {
        "at_or_above_ft": "at or above",
        "at_or_below_ft": "at or below",
        "at_ft": "at",
        "between_ft": "between",
    }
)
_LEGS = {
    "before": ("inbound", "outbound", "course_reversal", "intermediate", "final"),
    "on": ("inbound", "outbound", "course_reversal", "final"),
    "straight": ("inbound", "final"),
}
_STATION = ("latitude", "longitude", "elevation_ft", "declination_deg")
_RUNWAY = ("latitude", "longitude", "elevation_ft", "course_true_deg")
_NOTE = mark("Made by hand for practice. Not for navigation.")
_IN_A_FILE = re.compile(r"[=\[{]|\bkeys?\b", re.IGNORECASE)
_WHOLE = re.compile(r"[-+]?\d+")


def procedure_data(fields: Mapping[str, str]) -> dict[str, Any]:
    """The keys and values of a procedure file that a form stands for, right or wrong."""
    data: dict[str, Any] = {
        "format": 1,
        "name": _text(fields, "name"),
        "note": _text(fields, "note") or tr(_NOTE),
    }
    issued = _text(fields, "issued")
    if issued:
        data["issued"] = _date(issued)
    data["station"] = {"ident": _text(fields, "station.ident"), "kind": _text(fields, "station.kind")}
    data["station"] |= _numbers(fields, "station", _STATION)
    runway = {"ident": _text(fields, "runway.ident"), **_numbers(fields, "runway", _RUNWAY)}
    if any(value != "" for value in runway.values()):
        data["runway"] = runway
    others = [row for number in range(MOST_OTHERS) if (row := _other(fields, number))]
    if others:
        data["other_station"] = others
    for table, read in (("arc", _arc), ("missed_approach", _missed_approach), ("hold", _hold)):
        found = read(fields)
        if found:
            data[table] = found
    legs = (_leg(phase, fields) for phase in _LEGS.get(fields.get("layout", ""), _LEGS["before"]))
    data["leg"] = [leg for leg in legs if leg["phase"] != "inbound" or len(leg) > 1]
    for key, value in _carried(fields).items():
        data.setdefault(key, value)
    return data


def _carried(fields: Mapping[str, str]) -> dict[str, Any]:
    """Whole tables that the form has no fields for, kept from the procedure it was begun from."""
    try:
        kept = json.loads(fields.get(CARRIED) or "{}")
    except (ValueError, RecursionError):
        return {}
    return kept if isinstance(kept, dict) else {}


def carried_names(fields: Mapping[str, str]) -> list[str]:
    """What is kept without a field of its own, for people."""
    return sorted(_carried(fields))


def _other(fields: Mapping[str, str], number: int) -> dict[str, Any]:
    name = f"other_station.{number}"
    ident = _text(fields, f"{name}.ident")
    row = _numbers(fields, name, ("latitude", "longitude", "declination_deg"))
    return {"ident": ident, **row} if ident or row else {}


def _missed_approach(fields: Mapping[str, str]) -> dict[str, Any]:
    found = _numbers(fields, "missed_approach", ("course_deg", "turn_at_ft"))
    if fields.get("missed_approach.turn"):
        found["turn"] = fields["missed_approach.turn"]
    return found | _altitude(fields, "missed_approach")


def _arc(fields: Mapping[str, str]) -> dict[str, Any]:
    found = _numbers(fields, "arc", ("dme_nm", "lead_radial_deg")) | _altitude(fields, "arc")
    if found:
        found["direction"] = fields.get("arc.direction", "")
    return found


def _hold(fields: Mapping[str, str]) -> dict[str, Any]:
    found = _numbers(fields, "hold", ("course_deg", "max_speed_kias"))
    found |= _extent(fields, "hold.length", "length") | _altitude(fields, "hold")
    if found:
        found["side"] = fields.get("hold.side", "")
    return found


def _text(fields: Mapping[str, str], name: str) -> str:
    return " ".join(fields.get(name, "").split())


def _date(text: str) -> date | str:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return text


def _number(text: str) -> float | int | str:
    """A number where the text is one; a whole one without a fraction. Else the text, which is then a mistake."""
    plain = text.strip().replace("−", "-").replace(",", ".")
    try:
        value = float(plain)
    except ValueError:
        return text.strip()
    return int(plain) if _WHOLE.fullmatch(plain) else value


def _numbers(fields: Mapping[str, str], prefix: str, names: tuple[str, ...]) -> dict[str, Any]:
    texts = ((name, fields.get(f"{prefix}.{name}", "").strip()) for name in names)
    return {name: _number(text) for name, text in texts if text}


def _leg(phase: str, fields: Mapping[str, str]) -> dict[str, Any]:
    leg: dict[str, Any] = {"phase": phase}
    match phase:
        case "outbound":
            racetrack = fields.get("course_reversal.pattern") == "racetrack"
            direction = _numbers(fields, phase, ("direction_deg",))
            if direction:
                leg["course_deg" if racetrack else "radial_deg"] = direction["direction_deg"]
            leg |= _extent(fields, "outbound.length", "length")
        case "course_reversal":
            leg["pattern"] = fields.get("course_reversal.pattern", "")
            if leg["pattern"] != "base turn":
                leg["side"] = fields.get("course_reversal.side", "")
            leg |= _numbers(
                fields, phase, ("within_nm", "leg_seconds", "max_speed_kias", "when_straight_in_deg")
            )
        case "intermediate":
            leg |= _numbers(fields, phase, ("course_deg",))
        case "final":
            return leg | _final(fields)
    return leg | _altitude(fields, phase)


def _final(fields: Mapping[str, str]) -> dict[str, Any]:
    leg = _numbers(fields, "final", ("course_deg", "descent_angle_deg"))
    minimum = _numbers(fields, "final", ("minimum_ft",))
    if minimum:
        leg["altitude"] = {"at_or_above_ft": minimum["minimum_ft"]}
    steps = [step for number in range(MOST_STEPS) if (step := _step(fields, f"final.step.{number}"))]
    if steps:
        leg["step_down"] = steps
    return leg | _extent(fields, "final.point", "missed_approach_point")


def _step(fields: Mapping[str, str], name: str) -> dict[str, Any]:
    step = _numbers(fields, name, ("until_dme_nm", "at_or_above_ft"))
    station, radial = _text(fields, f"{name}.station"), _numbers(fields, name, ("radial_deg",))
    return step | {"until_radial": {"station": station, **radial}} if station or radial else step


def _extent(fields: Mapping[str, str], name: str, key: str) -> dict[str, Any]:
    unit, value = fields.get(f"{name}.unit", "dme_nm"), fields.get(f"{name}.value", "").strip()
    return {key: {unit if unit in ("dme_nm", "minutes") else "dme_nm": _number(value)}} if value else {}


def _altitude(fields: Mapping[str, str], phase: str) -> dict[str, Any]:
    kind = fields.get(f"{phase}.altitude.kind", "at_or_above_ft")
    first = fields.get(f"{phase}.altitude.first", "").strip()
    second = fields.get(f"{phase}.altitude.second", "").strip()
    if not first or kind not in ALTITUDES:
        return {}
    if kind == "between_ft":
        return {"altitude": {kind: [_number(first), _number(second)]}}
    return {"altitude": {kind: _number(first)}}


def mistakes(data: dict[str, Any]) -> dict[str, str]:
    """What is wrong, by the field it stands at; what belongs to no field stands at ``""``."""
    found: dict[str, str] = {}
    for location, what, remedy in every_mistake(data):
        found.setdefault(_field(location, data), _plainly(what, remedy))
    return found


def _plainly(what: str, remedy: str) -> str:
    """A mistake for somebody who sees a form and no file."""
    if what in ("the key is missing", "the minimum descent altitude is missing") or what.startswith('"" '):
        return tr("Fill this in.")
    said = f"{what[:1].upper()}{what[1:].rstrip('.')}."
    if what.endswith("is not a number"):
        return f"{said} Give a number, without its unit."
    return said if _IN_A_FILE.search(remedy) else f"{said} {remedy}".strip()


def _field(location: tuple[str | int, ...], data: dict[str, Any]) -> str:
    match location:
        case ("leg", int(index), *rest) if index < len(data["leg"]):
            return _leg_field(data["leg"][index]["phase"], tuple(rest))
        case ("leg", *_):
            return "layout"
        case ("arc" | "missed_approach" | "hold" as table, "altitude", *_):
            return f"{table}.altitude.first"
        case ("hold", "length", *_):
            return "hold.length.value"
        case ("other_station", int(number), str(key), *_):
            return f"other_station.{number}.{key}"
        case ("other_station", *_):
            return "other_station.0.ident"
        case ("station" | "runway" | "arc" | "missed_approach" | "hold" as table, str(key), *_):
            return f"{table}.{key}"
        case ("missed_approach" | "hold" as table,):
            return f"{table}.course_deg"
        case ("arc",):
            return "arc.dme_nm"
        case ("runway",):
            return "runway.latitude"
        case ("name" | "note" | "issued" as key, *_):
            return key
    return ""


def _leg_field(phase: str, rest: tuple[str | int, ...]) -> str:
    match rest:
        case ("altitude", "between_ft", int(number)):
            return f"{phase}.altitude.{'second' if number else 'first'}"
        case ("altitude", *_):
            return "final.minimum_ft" if phase == "final" else f"{phase}.altitude.first"
        case ("radial_deg" | "course_deg",) if phase == "outbound":
            return "outbound.direction_deg"
        case ("length", *_):
            return "outbound.length.value"
        case ("missed_approach_point", *_):
            return "final.point.value"
        case ("step_down", int(number), "until_radial", str(key), *_):
            return f"final.step.{number}.{key}"
        case ("step_down", int(number), "until_radial"):
            return f"final.step.{number}.station"
        case ("step_down", int(number), str(key)):
            return f"final.step.{number}.{key}"
        case ("step_down", int(number)):
            return f"final.step.{number}.until_dme_nm"
        case ("step_down", *_):
            return "final.step.0.until_dme_nm"
        case ("phase",):
            return "layout"
        case (str(key), *_):
            return f"{phase}.{key}"
    return "layout"


def form_fields(procedure: Procedure) -> dict[str, str]:
    """The fields of the form that stand for a procedure."""
    station, runway = procedure.station, procedure.runway
    layout = "straight" if procedure.reversal is None else "before" if procedure.has_intermediate else "on"
    fields = {
        "name": procedure.name,
        "note": procedure.note,
        "issued": procedure.issued.isoformat() if procedure.issued is not None else "",
        "layout": layout,
        "station.ident": station.ident,
        "station.kind": station.kind,
        **{f"station.{name}": _shown(getattr(station, name)) for name in _STATION},
    }
    if runway is not None:
        fields["runway.ident"] = runway.ident
        fields |= {f"runway.{name}": _shown(getattr(runway, name)) for name in _RUNWAY}
    for leg in procedure.leg:
        fields |= _shown_altitude(leg.phase, leg.altitude)
    outbound, reversal, final = procedure.outbound, procedure.reversal, procedure.final
    if outbound is not None:
        fields["outbound.direction_deg"] = _shown(procedure.outbound_course_deg)
        fields |= _shown_extent("outbound.length", outbound.length)
    if reversal is not None:
        fields["course_reversal.pattern"] = str(reversal.pattern)
        fields["course_reversal.side"] = reversal.side or ""
        for name in ("within_nm", "leg_seconds", "max_speed_kias", "when_straight_in_deg"):
            fields[f"course_reversal.{name}"] = _shown(getattr(reversal, name))
    if procedure.has_intermediate:
        fields["intermediate.course_deg"] = _shown(procedure.inbound_course_deg)
    if final is not None:
        fields["final.course_deg"] = _shown(final.course_deg)
        fields["final.descent_angle_deg"] = _shown(final.descent_angle_deg)
        fields["final.minimum_ft"] = _shown(final.altitude.low_ft if final.altitude is not None else None)
        fields |= _shown_extent("final.point", final.missed_approach_point)
        for number, step in enumerate(final.step_down[:MOST_STEPS]):
            fields[f"final.step.{number}.until_dme_nm"] = _shown(step.until_dme_nm)
            fields[f"final.step.{number}.at_or_above_ft"] = _shown(step.at_or_above_ft)
            if step.until_radial is not None:
                fields[f"final.step.{number}.station"] = step.until_radial.station
                fields[f"final.step.{number}.radial_deg"] = _shown(step.until_radial.radial_deg)
    return fields | _shown_besides(procedure)


def _shown_besides(procedure: Procedure) -> dict[str, str]:
    """The fields of other stations, the missed approach and the hold; whatever else there is, kept whole."""
    told = procedure.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    besides = {key: value for key, value in told.items() if key not in _HAS_FIELDS}
    fields = {CARRIED: json.dumps(besides)} if besides else {}
    for number, other in enumerate(procedure.other_station[:MOST_OTHERS]):
        fields[f"other_station.{number}.ident"] = other.ident
        for name in ("latitude", "longitude", "declination_deg"):
            fields[f"other_station.{number}.{name}"] = _shown(getattr(other, name))
    arc, missed, hold = procedure.arc, procedure.missed_approach, procedure.hold
    if arc is not None:
        fields["arc.dme_nm"], fields["arc.direction"] = _shown(arc.dme_nm), arc.direction
        fields["arc.lead_radial_deg"] = _shown(arc.lead_radial_deg)
        fields |= _shown_altitude("arc", arc.altitude)
    if missed is not None:
        fields["missed_approach.course_deg"] = _shown(missed.course_deg)
        fields["missed_approach.turn"] = missed.turn or ""
        fields["missed_approach.turn_at_ft"] = _shown(missed.turn_at_ft)
        fields |= _shown_altitude("missed_approach", missed.altitude)
    if hold is not None:
        fields["hold.course_deg"], fields["hold.side"] = _shown(hold.course_deg), hold.side
        fields["hold.max_speed_kias"] = _shown(hold.max_speed_kias)
        fields |= _shown_extent("hold.length", hold.length) | _shown_altitude("hold", hold.altitude)
    return fields


def _shown(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"


def _shown_extent(name: str, extent: Extent | None) -> dict[str, str]:
    if extent is None:
        return {}
    unit = "dme_nm" if extent.dme_nm is not None else "minutes"
    return {f"{name}.unit": unit, f"{name}.value": _shown(getattr(extent, unit))}


def _shown_altitude(phase: str, altitude: AltitudeLimit | None) -> dict[str, str]:
    if altitude is None:
        return {}
    for kind in ALTITUDES:
        value = getattr(altitude, kind)
        if value is not None:
            first, second = value if isinstance(value, tuple) else (value, None)
            return {
                f"{phase}.altitude.kind": kind,
                f"{phase}.altitude.first": _shown(first),
                f"{phase}.altitude.second": _shown(second),
            }
    return {}
