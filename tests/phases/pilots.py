"""Patterns flown by the second generator, and their truth.

The truth is what the pilot did and when, each moment refined by a plain scan of the exact path to what DEVELOPERS.md,
Definitions, says that it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from debrief.procedures import load_procedure
from debrief.procedures.model import Pattern, Procedure
from tests.phases.aeroplane import STEP_S, Aeroplane, Floats

#: The phases of an approach over a station before the aerodrome, with its reversal, down to the minimum and away.
WHOLE = [
    "inbound",
    "station_passage",
    "outbound",
    "course_reversal",
    "intermediate",
    "station_passage",
    "final",
    "missed_approach",
]

FT_PER_NM = 1852.0 / 0.3048

Span = tuple[str, float, float]


class Exact:
    """The exact path of a flown aeroplane, for plain scans."""

    def __init__(self, plane: Aeroplane, procedure: Procedure) -> None:
        station = procedure.station
        self.t_s, east, north, self.altitude_ft = np.array(plane.flown).T
        self.distance_nm = np.hypot(east, north)
        height_nm = (self.altitude_ft - station.elevation_ft) / FT_PER_NM
        cone_deg = 40.0 if station.kind.startswith("NDB") else 50.0
        self.in_cone = self.distance_nm < height_nm * math.tan(math.radians(cone_deg))
        track = np.unwrap(np.arctan2(np.gradient(east), np.gradient(north)))
        self.track_deg = np.degrees(track)
        self.rate_deg_s = np.gradient(self.track_deg, STEP_S)
        inbound_deg = procedure.inbound_course_deg + station.declination_deg
        bearing_deg = np.degrees(np.arctan2(east, north))
        off_deg = np.abs((bearing_deg + 180.0 - inbound_deg + 180.0) % 360.0 - 180.0)
        track_off_deg = np.abs((self.track_deg - inbound_deg + 180.0) % 360.0 - 180.0)
        self.settled = (off_deg <= 5.0) & (track_off_deg <= 20.0)

    def from_s(self, t_s: float, holds: Floats) -> float:
        """The first moment at or after ``t_s`` at which something holds."""
        return float(self.t_s[np.flatnonzero((self.t_s >= t_s - 1e-6) & holds)[0]])

    def passage(self, from_s: float, until_s: float) -> tuple[float, float, float]:
        """Closest point, and the cone entered and left about it."""
        near = (self.t_s >= from_s) & (self.t_s <= until_s)
        closest_s = float(self.t_s[near][np.argmin(self.distance_nm[near])])
        outside = self.t_s[~self.in_cone]
        return (
            closest_s,
            float(np.max(outside[outside < closest_s])),
            float(np.min(outside[outside > closest_s])),
        )

    def turn_s(self, from_s: float) -> float:
        return self.from_s(from_s, np.abs(self.rate_deg_s) > 1.0)

    def established_s(self, from_s: float) -> float:
        count = round(10.0 / STEP_S)
        kept = np.convolve(self.settled, np.ones(count + 1), "full")[count:] > count
        return self.from_s(from_s, kept)

    def climb_away(self, from_s: float) -> tuple[float, float]:
        """The last moment within 50 ft of the lowest altitude, and 1,000 ft above that."""
        lowest = int(np.argmin(np.where(self.t_s >= from_s, self.altitude_ft, np.inf)))
        low_ft = self.altitude_ft[lowest]
        away_s = self.from_s(float(self.t_s[lowest]), self.altitude_ft > low_ft + 50.0)
        return away_s, self.from_s(away_s, self.altitude_ft >= low_ft + 1000.0)


@dataclass(frozen=True)
class Flown:
    name: str
    plane: Aeroplane
    procedure: Procedure
    phases: tuple[Span, ...]
    passages_s: tuple[float, ...]


def true_deg(procedure: Procedure, course_deg: float) -> float:
    return course_deg + procedure.station.declination_deg


def out_deg(procedure: Procedure) -> float:
    return true_deg(procedure, procedure.outbound_course_deg or 0.0)


def inbound_at(
    nm: float, course_deg: float, *, beside_deg: float, cut_deg: float, altitude_ft: float
) -> Aeroplane:
    """So far out, seen from the station so much right of the way it comes from, and flying back at its course."""
    bearing = math.radians(course_deg + 180.0 + beside_deg)
    return Aeroplane(
        east_nm=nm * math.sin(bearing),
        north_nm=nm * math.cos(bearing),
        heading_deg=course_deg + cut_deg,
        altitude_ft=altitude_ft,
    )


def arriving(
    procedure: Procedure,
    *,
    from_deg: float,
    nm: float = 8.0,
    tas_kt: float,
    wind: tuple[float, float],
    up_to_nm: float = 0.05,
) -> Aeroplane:
    """On the way to the station from a true bearing, at the altitude to cross it."""
    inbound = procedure.leg_of("inbound")
    low_ft = inbound.altitude.low_ft if inbound is not None and inbound.altitude is not None else 3000.0
    bearing = math.radians(from_deg)
    plane = Aeroplane(
        east_nm=nm * math.sin(bearing),
        north_nm=nm * math.cos(bearing),
        heading_deg=from_deg + 180.0,
        altitude_ft=(low_ft or 3000.0) + 40.0,
        tas_kt=tas_kt,
        wind_from_deg=wind[0],
        wind_kt=wind[1],
    )
    plane.heading_deg = plane.heading_for(from_deg + 180.0)
    plane.follow(from_deg + 180.0, lambda: plane.along_nm(from_deg + 180.0) >= -up_to_nm)
    plane.mark("station")
    return plane


def home_to(plane: Aeroplane, nm: float) -> None:
    """Turned to the station, and once more to where it lies then, and straight on to within a distance of it."""
    for _ in range(2):
        plane.turn_to(math.degrees(math.atan2(-plane.east_nm, -plane.north_nm)))
    plane.hold_until(lambda: plane.distance_nm() <= nm)


def with_a_racetrack(procedure: Procedure) -> Procedure:
    """A base turn's procedure, with a racetrack in its place."""
    course_deg = (procedure.inbound_course_deg + 180.0) % 360.0
    changes = {
        "outbound": {"radial_deg": None, "course_deg": course_deg, "length": None},
        "course_reversal": {"pattern": Pattern.RACETRACK, "leg_seconds": 120.0},
    }
    legs = tuple(leg.model_copy(update=changes.get(leg.phase, {})) for leg in procedure.leg)
    return procedure.model_copy(update={"leg": legs})


def level_of(procedure: Procedure, leg: str) -> float | None:
    flown = procedure.leg_of(leg)
    low_ft = flown.altitude.low_ft if flown is not None and flown.altitude is not None else None
    return None if low_ft is None else low_ft + 40.0


def outbound(plane: Aeroplane, procedure: Procedure, nm: float) -> None:
    """Turned onto the outbound radial and followed to a distance."""
    course_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane.turn_to(plane.heading_for(course_deg))
    plane.hold_until(lambda: plane.distance_nm() > 1.4)
    plane.to_ft = level_of(procedure, "outbound")
    plane.follow(course_deg, lambda: plane.distance_nm() >= nm)
    plane.mark("turn off")
    plane.to_ft = level_of(procedure, "course_reversal")


def inbound_and_down(plane: Aeroplane, procedure: Procedure) -> None:
    """From a heading towards the inbound course on: over the station, down to the minimum, and away."""
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane.mark("inbound")
    plane.join(course_deg)
    if procedure.has_intermediate:
        plane.to_ft = level_of(procedure, "intermediate")
        plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
        plane.mark("back at the station")
    down_to_the_minimum(plane, procedure)


def down_to_the_minimum(plane: Aeroplane, procedure: Procedure) -> None:
    """From the station (from established, where it lies on the aerodrome) down to the minimum, and away."""
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    if procedure.has_intermediate:
        plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 1.0)
    plane.to_ft = level_of(procedure, "final")
    plane.follow(course_deg, lambda: plane.altitude_ft == plane.to_ft)
    ends_nm = 4.0 if procedure.has_intermediate else -0.3
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= ends_nm)
    plane.to_ft = plane.altitude_ft + 1500.0
    plane.follow(course_deg, lambda: plane.altitude_ft == plane.to_ft)
    plane.hold(20.0)


def truth_of(name: str, plane: Aeroplane, procedure: Procedure) -> Flown:
    """One circuit, by the marks of the pilot."""
    exact, marks = Exact(plane, procedure), plane.marks
    first = exact.passage(marks["station"] - 60.0, marks["station"] + 60.0)
    off_s = exact.turn_s(marks["turn off"])
    established_s = exact.established_s(marks["inbound"])
    away_s, climbed_s = exact.climb_away(established_s)
    phases = [
        ("inbound", 0.0, first[1]),
        ("station_passage", first[1], first[2]),
        ("outbound", first[2], off_s),
        ("course_reversal", off_s, established_s),
    ]
    passages_s = [first[0]]
    final_s = established_s
    if procedure.has_intermediate:
        back_s = marks["back at the station"]
        second = exact.passage(back_s - 60.0, back_s + 60.0)
        phases += [("intermediate", established_s, second[1]), ("station_passage", second[1], second[2])]
        passages_s.append(second[0])
        final_s = second[2]
    phases += [("final", final_s, away_s), ("missed_approach", away_s, climbed_s)]
    return Flown(name, plane, procedure, tuple(phases), tuple(passages_s))


def procedure_turn(
    name: str,
    *,
    from_deg: float,
    tas_kt: float = 105.0,
    wind: tuple[float, float] = (0.0, 0.0),
    by_heading: bool = False,
    away_s: float = 60.0,
) -> Flown:
    """A 45/180: 45 degrees over the ground, or (as many a pilot flies it) of heading off the outbound course."""
    procedure = load_procedure(name)
    assert procedure.reversal is not None
    side = 1.0 if procedure.reversal.side == "right" else -1.0
    course_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=from_deg, tas_kt=tas_kt, wind=wind)
    outbound(plane, procedure, 4.8)
    away_deg = course_deg + side * 45.0
    plane.turn_to(away_deg if by_heading else plane.heading_for(away_deg))
    plane.hold(away_s)
    plane.turn(-side * 180.0)
    inbound_and_down(plane, procedure)
    return truth_of(f"45/180 {name}, wind {wind}", plane, procedure)


def eighty_and_back(
    name: str,
    *,
    from_deg: float,
    wind: tuple[float, float] = (0.0, 0.0),
    nm: float = 4.0,
    first_deg: float = 80.0,
) -> Flown:
    """An 80/260, or one whose first turn runs on."""
    procedure = load_procedure(name)
    assert procedure.reversal is not None
    side = 1.0 if procedure.reversal.side == "right" else -1.0
    plane = arriving(procedure, from_deg=from_deg, tas_kt=95.0, wind=wind)
    outbound(plane, procedure, nm)
    plane.turn(side * first_deg)
    plane.turn(-side * (first_deg + 150.0))
    inbound_and_down(plane, procedure)
    return truth_of(f"80/260 {name}, wind {wind}", plane, procedure)


def base_turn(name: str, *, from_deg: float, wind: tuple[float, float] = (0.0, 0.0)) -> Flown:
    """A base turn, rolled out 30 degrees short of the final course."""
    procedure = load_procedure(name)
    assert procedure.reversal is not None
    way = procedure.reversal.side or "left"
    side = 1.0 if way == "right" else -1.0
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=from_deg, tas_kt=100.0, wind=wind)
    outbound(plane, procedure, 6.0)
    plane.turn_to(plane.heading_for(course_deg - side * 30.0), way)
    inbound_and_down(plane, procedure)
    return truth_of(f"base turn {name}, wind {wind}", plane, procedure)


def racetrack(name: str, *, from_deg: float, wind: tuple[float, float] = (0.0, 0.0)) -> Flown:
    """A racetrack entered along its inbound course: round to the outbound track, out, and round again."""
    procedure = load_procedure(name)
    assert procedure.reversal is not None
    way = procedure.reversal.side or "right"
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=from_deg, tas_kt=110.0, wind=wind)
    plane.turn_to(plane.heading_for(course_deg + 180.0), way)
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold_until(lambda: plane.distance_nm() >= 5.0)
    plane.mark("turn off")
    side = 1.0 if way == "right" else -1.0
    plane.turn_to(plane.heading_for(course_deg - side * 25.0), way)
    inbound_and_down(plane, procedure)
    return truth_of(f"racetrack {name}, wind {wind}", plane, procedure)


#: One flight of each pattern, by its name.
MAKERS: dict[str, Callable[[], Flown]] = {
    "45/180": lambda: procedure_turn("lantern-vor-22", from_deg=250.0),
    "80/260": lambda: eighty_and_back("quillow-ndb-18", from_deg=140.0),
    "racetrack": lambda: racetrack("marrow-vor-31", from_deg=120.0),
    "base turn": lambda: base_turn("kestrey-ndb-09", from_deg=110.0),
}
