"""Flights in closed form: straights and arcs over the ground, and the view of them by plain trigonometry.

Shares no formula with the program. The station lies at the plane's origin; latitudes and longitudes come from
pyproj's geodesic routines. The phases are those the test says they are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

from debrief.phases.model import (
    Flight,
    FoundAttempt,
    Noise,
    NotSeen,
    Passage,
    Span,
    StationView,
    Turn,
)
from debrief.procedures.model import Phase, Procedure
from debrief.tracks.model import AltitudeErrors, Conditioned, Gap, PositionErrors, Track
from tests.measures.plan import FT_PER_NM, STATION, STATION_FT, procedure

Floats = NDArray[np.float64]

EPOCH = datetime(2026, 3, 14, 18, 30, tzinfo=UTC)


@dataclass
class Path:
    """Straights and arcs at constant ground speed, climbing or sinking steadily; each part is exact.

    Directions from true north, turns to the right positive. The marks name moments.
    """

    east_nm: float
    north_nm: float
    track_deg: float
    groundspeed_kt: float
    altitude_ft: float
    now_s: float = 0.0
    marks: dict[str, float] = field(default_factory=dict)
    _parts: list[tuple[float, ...]] = field(default_factory=list)

    def mark(self, name: str, later_s: float = 0.0) -> Path:
        self.marks[name] = self.now_s + later_s
        return self

    def straight(
        self, nm: float | None = None, *, seconds: float | None = None, to_ft: float | None = None
    ) -> Path:
        """Fly on, ``nm`` or ``seconds``, to ``to_ft`` at its end."""
        if seconds is None:
            assert nm is not None
            seconds = nm / self.groundspeed_kt * 3600.0
        return self._add(seconds, 0.0, to_ft)

    def turn(self, degrees: float, rate_deg_s: float = 3.0, *, to_ft: float | None = None) -> Path:
        """Turn by so much, right positive."""
        return self._add(abs(degrees) / rate_deg_s, math.copysign(rate_deg_s, degrees), to_ft)

    def speed(self, groundspeed_kt: float) -> Path:
        """Another ground speed from here on, at once."""
        self.groundspeed_kt = groundspeed_kt
        return self

    def _add(self, seconds: float, rate_deg_s: float, to_ft: float | None) -> Path:
        climb_ft_s = 0.0 if to_ft is None or seconds == 0 else (to_ft - self.altitude_ft) / seconds
        self._parts.append(
            (
                self.now_s,
                self.east_nm,
                self.north_nm,
                self.track_deg,
                self.groundspeed_kt,
                rate_deg_s,
                self.altitude_ft,
                climb_ft_s,
            )
        )
        after = self.at(np.array([self.now_s + seconds]))
        self.east_nm, self.north_nm = float(after["east"][0]), float(after["north"][0])
        self.track_deg += rate_deg_s * seconds
        self.altitude_ft += climb_ft_s * seconds
        self.now_s += seconds
        return self

    def at(self, t_s: Floats) -> dict[str, Floats]:
        """Position, track, speed, rate, height and climb at any moments."""
        starts = np.array([part[0] for part in self._parts])
        which = np.clip(np.searchsorted(starts, t_s, side="right") - 1, 0, len(starts) - 1)
        start, east, north, track, speed, rate, altitude, climb = np.array(self._parts)[which].T
        passed = t_s - start
        nm_s = speed / 3600.0
        half = np.radians(rate * passed / 2.0)
        # the chord of an arc: along the mean track, shortened by sin(half) / half
        chord = nm_s * passed * np.sinc(half / np.pi)
        mean_track = np.radians(track) + half
        return {
            "east": east + chord * np.sin(mean_track),
            "north": north + chord * np.cos(mean_track),
            "track": track + rate * passed,
            "speed": speed,
            "rate": rate,
            "altitude": altitude + climb * passed,
            "climb": climb * 60.0,
        }

    def distance_nm(self, t_s: float) -> float:
        at = self.at(np.array([t_s]))
        return float(np.hypot(at["east"], at["north"])[0])


NOISE = Noise(
    position_nm=0.002,
    worse_in_turns=1.0,
    altitude_ft=10.0,
    smoothed_position_nm=0.0005,
    smoothed_altitude_ft=1.0,
    smoothed_groundspeed_kt=0.2,
    smoothed_vertical_speed_ft_min=15.0,
)


def flight(
    path: Path,
    plan: Procedure,
    attempt: FoundAttempt,
    *,
    gaps: Sequence[tuple[float, float]] = (),
    no_altitude: Sequence[tuple[float, float]] = (),
    columns: Mapping[str, Floats | float] | None = None,
    noise: Noise = NOISE,
    altitude_uncertainty_ft: float = 20.0,
) -> Flight:
    """The path logged once a second; nothing in ``gaps``, no altitude in ``no_altitude`` (start and end, s)."""

    def inside(t_s: Floats, spans: Sequence[tuple[float, float]]) -> NDArray[np.bool_]:
        found = np.zeros(len(t_s), dtype=np.bool_)
        for start_s, end_s in spans:
            found |= (t_s > start_s) & (t_s < end_s)
        return found

    def at(t_s: Floats) -> StationView:
        t_s = np.atleast_1d(np.asarray(t_s, dtype=np.float64))
        hidden = inside(t_s, gaps) | (t_s < 0) | (t_s > path.now_s)
        raw = path.at(t_s)
        seen = {name: np.where(hidden, np.nan, values) for name, values in raw.items()}
        lost = inside(t_s, no_altitude)
        altitude = np.where(lost, np.nan, seen["altitude"])
        ahead = np.array([np.sin(np.radians(seen["track"])), np.cos(np.radians(seen["track"]))])
        right = np.array([ahead[1], -ahead[0]])
        speed_m_s = seen["speed"] * 1852.0 / 3600.0
        place_m = np.array([seen["east"], seen["north"]]) * 1852.0
        climb_m_s = np.where(lost, np.nan, seen["climb"]) * 0.3048 / 60.0
        number = np.zeros(len(t_s), dtype=np.int64)
        for start_s, _ in gaps:
            number += t_s > start_s
        return StationView(
            t_s=t_s,
            segment=np.where(hidden, -1, number),
            motion_m=np.concatenate(
                [place_m, speed_m_s * ahead, speed_m_s * np.radians(seen["rate"]) * right]
            ),
            height_m=np.array([altitude * 0.3048, climb_m_s]),
            station=plan.station,
        )

    t_s = np.arange(0.0, path.now_s)
    t_s = t_s[~inside(t_s, gaps)]
    grid = at(t_s)
    bearing = np.degrees(np.arctan2(grid.east_nm, grid.north_nm))
    longitude, latitude, _ = Geod(ellps="WGS84").fwd(
        np.full(len(t_s), STATION[1]), np.full(len(t_s), STATION[0]), bearing, grid.distance_nm * 1852.0
    )
    track = Track(
        file="built.gpx",
        sha256="",
        format="gpx",
        epoch=EPOCH,
        t_s=t_s,
        latitude_deg=np.asarray(latitude),
        longitude_deg=np.asarray(longitude),
        altitude_ft=grid.altitude_ft,
        altitude_source="gps",
        part=np.zeros(len(t_s)),
        line=np.arange(1.0, len(t_s) + 1.0),
        columns={
            name: np.broadcast_to(np.asarray(values, dtype=np.float64), t_s.shape)
            for name, values in (columns or {}).items()
        },
    )
    log = Conditioned(
        track=track,
        order=np.arange(len(t_s)),
        segment=grid.segment,
        altitude_used=np.isfinite(grid.altitude_ft),
        altitude_ft=grid.altitude_ft,
        altitude_source="gps",
        altitude_errors=AltitudeErrors(constant_ft=altitude_uncertainty_ft / 2.0),
        position_errors=PositionErrors(constant_nm=0.0015),
        set_aside=("",) * len(t_s),
        gaps=tuple(Gap(start_s=a, end_s=b, reason="no samples") for a, b in gaps),
        median_interval_s=1.0,
        warnings=(),
    )
    return Flight(log=log, procedure=plan, view=grid, at=at, noise=noise, attempts=(attempt,))


Ending = Literal["landing", "missed approach", "end of log", "broken off", "gap"]


def attempt(
    spans: Sequence[tuple[str, float, float] | tuple[str, float, float, int]],
    *,
    passages: Sequence[Passage] = (),
    turns: Sequence[Turn] = (),
    not_seen: Sequence[NotSeen] = (),
    turn_off_s: float | None = None,
    established_s: float | None = None,
    ending: Ending = "missed approach",
) -> FoundAttempt:
    """An attempt of these phases (name, start, end and perhaps circuit)."""
    return FoundAttempt(
        spans=tuple(
            Span(phase=Phase(s[0]), start_s=s[1], end_s=s[2], circuit=s[3] if len(s) > 3 else 0)
            for s in spans
        ),
        passages=tuple(passages),
        turns=tuple(turns),
        not_seen=tuple(not_seen),
        turn_off_s=turn_off_s,
        established_s=established_s,
        ending=ending,
    )


def passage(
    t_s: float, distance_nm: float = 0.0, entry_s: float | None = None, exit_s: float | None = None
) -> Passage:
    return Passage(
        t_s=t_s,
        distance_nm=distance_nm,
        entry_s=t_s if entry_s is None else entry_s,
        exit_s=t_s if exit_s is None else exit_s,
        missed=distance_nm > 1.5,
    )


def cone_nm(altitude_ft: float) -> float:
    """Radius of a VOR's cone at an altitude."""
    return (altitude_ft - STATION_FT) / FT_PER_NM * math.tan(math.radians(50.0))


RADIUS_NM = 120.0 / 3600.0 / math.radians(3.0)  # of a standard turn at 120 kt
LEAD_NM = RADIUS_NM * math.tan(math.radians(22.5))  # of a 45 degree turn


@dataclass
class Built:
    """A path, the attempt in it, and the flight of both."""

    path: Path
    attempt: FoundAttempt
    flight: Flight

    @property
    def marks(self) -> dict[str, float]:
        return self.path.marks


def whole_approach(plan: Procedure | None = None, *, inbound_ft: float = 4000.0, **log: Any) -> Built:
    """The 45/180 flown without error at 120 kt: in on 082 true, 45 degrees left at the station, out on its radial.

    4,000 ft inbound, 3,500 outbound, 2,800 from the reversal to the station; from the edge of its cone down to
    980, level for the last 0.8 NM, and from 4.4 NM 2,000 ft of climb.
    """
    start_deg = 82.0
    path = Path(
        -8.0 * math.sin(math.radians(start_deg)),
        -8.0 * math.cos(math.radians(start_deg)),
        start_deg,
        120.0,
        inbound_ft,
    )
    path.straight(8.0 - LEAD_NM).mark("turn")
    path.turn(-22.5).mark("closest").turn(-22.5).mark("on radial")
    cone = cone_nm(inbound_ft)
    path.straight(cone - LEAD_NM).mark("out of cone")
    path.straight(2.5, to_ft=3500.0)
    path.straight(6.0 - 2.5 - cone).mark("turn off")  # 6 NM over the ground
    path.turn(-45.0).straight(seconds=45.0, to_ft=2800.0).mark("turn back").turn(180.0)
    path.straight(seconds=6.80).mark("onto course").turn(45.0).mark("on course")
    path.mark("established", -20.0 / 3.0)
    back_nm = path.distance_nm(path.now_s)
    cone = cone_nm(2800.0)
    path.straight(back_nm - cone).mark("into cone").straight(cone).mark("station").straight(cone)
    path.mark("final")
    path.straight(4.4 - cone - 0.8, to_ft=980.0).mark("level").straight(0.8).mark("climb")
    path.straight(seconds=150.0, to_ft=2980.0).mark("end")
    m = path.marks
    up_s = m["climb"] + 150.0 * 1000.0 / 2000.0
    found = attempt(
        [
            ("inbound", 0.0, m["turn"] - (cone_nm(inbound_ft) - LEAD_NM) * 30.0),
            ("station_passage", m["turn"] - (cone_nm(inbound_ft) - LEAD_NM) * 30.0, m["out of cone"]),
            ("outbound", m["out of cone"], m["turn off"]),
            ("course_reversal", m["turn off"], m["established"]),
            ("intermediate", m["established"], m["into cone"]),
            ("station_passage", m["into cone"], m["final"]),
            ("final", m["final"], m["climb"]),
            ("missed_approach", m["climb"], up_s),
        ],
        passages=[
            passage(
                m["closest"],
                path.distance_nm(m["closest"]),
                m["turn"] - (cone_nm(inbound_ft) - LEAD_NM) * 30.0,
                m["out of cone"],
            ),
            passage(m["station"], 0.0, m["into cone"], m["final"]),
        ],
        turns=[
            Turn(start_s=m["turn"], end_s=m["on radial"], change_deg=-45.0),
            Turn(start_s=m["turn off"], end_s=m["turn off"] + 15.0, change_deg=-45.0),
            Turn(start_s=m["turn back"], end_s=m["turn back"] + 60.0, change_deg=180.0),
        ],
        turn_off_s=m["turn off"],
        established_s=m["established"],
    )
    return Built(path, found, flight(path, plan or procedure(), found, **log))
