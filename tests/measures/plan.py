"""The procedure that the built flights are held against, with its changes."""

from __future__ import annotations

from typing import Any

from pyproj import Geod

from debrief.procedures.model import Procedure

FT_PER_NM = 1852.0 / 0.3048
STATION = (47.0, -31.0)
DECLINATION_DEG = -11.0
STATION_FT = 300.0
OUTBOUND_TRUE_DEG = 37.0  # radial 048
INBOUND_TRUE_DEG = 217.0  # course 228
THRESHOLD_NM = 5.2  # along the final course
RUNWAY_FT = 214.0


def place(distance_nm: float, bearing_true_deg: float) -> tuple[float, float]:
    """Latitude and longitude of a point seen from the station."""
    longitude, latitude, _ = Geod(ellps="WGS84").fwd(
        STATION[1], STATION[0], bearing_true_deg, distance_nm * 1852.0
    )
    return float(latitude), float(longitude)


def procedure(**changes: Any) -> Procedure:
    """A 45/180 on the left, the station 5.2 NM before the runway; ``changes`` replace or (None) drop keys of legs.

    A change is named by the phase: ``final={"descent_angle_deg": None}``; ``runway=None`` leaves it out.
    """
    latitude, longitude = place(THRESHOLD_NM, INBOUND_TRUE_DEG)
    legs: dict[str, dict[str, Any]] = {
        "inbound": {"altitude": {"at_or_above_ft": 4000}},
        "outbound": {
            "radial_deg": 48,
            "length": {"dme_nm": 6.0},
            "altitude": {"at_or_above_ft": 3500},
        },
        "course_reversal": {
            "pattern": "45/180",
            "side": "left",
            "within_nm": 10,
            "leg_seconds": 60,
            "max_speed_kias": 200,
            "altitude": {"at_or_above_ft": 2800},
        },
        "intermediate": {"course_deg": 228, "altitude": {"at_or_above_ft": 2800}},
        "final": {
            "course_deg": 228,
            "altitude": {"at_or_above_ft": 980},
            "step_down": [{"until_dme_nm": 2.0, "at_or_above_ft": 1700}],
            "missed_approach_point": {"dme_nm": 4.6},
            "descent_angle_deg": 3.0,
        },
    }
    whole: dict[str, Any] = {
        "format": 1,
        "name": "Test VOR/DME runway 22",
        "station": {
            "ident": "XYZ",
            "kind": "VOR/DME",
            "latitude": STATION[0],
            "longitude": STATION[1],
            "elevation_ft": STATION_FT,
            "declination_deg": DECLINATION_DEG,
        },
        "runway": {
            "ident": "22",
            "latitude": latitude,
            "longitude": longitude,
            "elevation_ft": RUNWAY_FT,
            "course_true_deg": INBOUND_TRUE_DEG,
        },
    }
    for name, change in changes.items():
        if name in legs:
            if change is None:
                del legs[name]
            else:
                legs[name] = {k: v for k, v in (legs[name] | change).items() if v is not None}
        elif change is None:
            del whole[name]
        else:
            whole[name] = {**whole.get(name, {}), **change}
    whole["leg"] = [{"phase": name, **leg} for name, leg in legs.items()]
    return Procedure.model_validate(whole)
