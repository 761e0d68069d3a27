"""Procedures of a few lines for the plans to be worked out on, north of a station on the equator of nowhere."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from debrief.planning.air import Air
from debrief.planning.card import Card, plan_card
from debrief.planning.conditions import Conditions
from debrief.procedures import Procedure

WHEN = datetime(2026, 3, 1, tzinfo=UTC)


def air(true_airspeed_kt: float, from_true_deg: float = 0.0, speed_kt: float = 0.0) -> Air:
    return Air(true_airspeed_kt=true_airspeed_kt, wind_from_true_deg=from_true_deg, wind_speed_kt=speed_kt)


def procedure(
    *,
    pattern: str | None = "45/180",
    side: str = "right",
    outbound_deg: float = 20.0,
    inbound_deg: float = 200.0,
    length: dict[str, float] | None = None,
    reversal: dict[str, Any] | None = None,
    final: dict[str, Any] | None = None,
    station: dict[str, Any] | None = None,
    runway: dict[str, Any] | None = None,
    altitudes_ft: tuple[float, float, float, float] = (3000.0, 3000.0, 3000.0, 2000.0),
    on_aerodrome: bool = False,
) -> Procedure:
    """A checked procedure; ``altitudes_ft`` are those of inbound, outbound, reversal and intermediate."""
    inbound_ft, outbound_ft, reversal_ft, intermediate_ft = altitudes_ft
    legs: list[dict[str, Any]] = [{"phase": "inbound", "altitude": {"at_or_above_ft": inbound_ft}}]
    if pattern is not None:
        key = "course_deg" if pattern == "racetrack" else "radial_deg"
        legs += [
            {
                "phase": "outbound",
                key: outbound_deg,
                "length": length or {"minutes": 2.0},
                "altitude": {"at_or_above_ft": outbound_ft},
            },
            {
                "phase": "course_reversal",
                "pattern": pattern,
                "side": side,
                "altitude": {"at_or_above_ft": reversal_ft},
                **(reversal or {}),
            },
        ]
        if not on_aerodrome:
            legs.append(
                {
                    "phase": "intermediate",
                    "course_deg": inbound_deg,
                    "altitude": {"at_or_above_ft": intermediate_ft},
                }
            )
    legs.append(
        {"phase": "final", "course_deg": inbound_deg, "altitude": {"at_or_above_ft": 700.0}} | (final or {})
    )
    return Procedure.model_validate(
        {
            "format": 1,
            "name": "Practice",
            "station": {
                "ident": "PRX",
                "kind": "VOR/DME",
                "latitude": 47.0,
                "longitude": -31.0,
                "elevation_ft": 0.0,
                "declination_deg": 0.0,
            }
            | (station or {}),
            "leg": legs,
            **({"runway": runway} if runway is not None else {}),
        }
    )


def card(
    planned: Procedure,
    speed_kias: float = 120.0,
    wind: tuple[float, float] = (0.0, 0.0),
    *,
    final_kias: float | None = None,
    arrival_deg: float | None = None,
) -> Card:
    conditions = Conditions(
        speed_kias=speed_kias,
        final_speed_kias=final_kias if final_kias is not None else speed_kias,
        wind_from_true_deg=wind[0],
        wind_speed_kt=wind[1],
        when=WHEN,
        arrival_course_deg=arrival_deg,
    )
    return plan_card(planned, conditions)
