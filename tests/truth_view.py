"""A simulated flight as seen from its station, sample by sample: the ground under the truth.

Shares no code with the program: pyproj's geodesic routines and numpy on exact samples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

from debrief.procedures.model import CrossingRadial, Procedure
from debrief.simulation.flight import SimulatedFlight

Floats = NDArray[np.float64]

STEP_S = 0.1
FT_PER_NM = 1852.0 / 0.3048
TURN_DEG_S = 1.0
TURN_LEAST_DEG = 30.0
FULL_SCALE_DEG = 10.0
HALF_SCALE_DEG = 5.0
MISSED_NM = 1.5
WITHIN_NM = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    time_s: float
    distance_nm: float
    begin_s: float  # into the cone; the closest point where it was never entered
    end_s: float
    in_cone: bool
    altitude_ft: float
    groundspeed_kt: float
    ground_track_true_deg: float

    @property
    def missed(self) -> bool:
        return not self.in_cone and self.distance_nm > MISSED_NM


def difference(a: Floats | float, b: Floats | float) -> Floats:
    return (np.asarray(a, dtype=np.float64) - b + 180.0) % 360.0 - 180.0


class View:
    """The flight as seen from the station, sample by sample."""

    def __init__(self, flight: SimulatedFlight, procedure: Procedure) -> None:
        station = procedure.station
        count = len(flight)
        bearing, back, metres = Geod(ellps="WGS84").inv(
            np.full(count, station.longitude),
            np.full(count, station.latitude),
            flight.longitude_deg.copy(),
            flight.latitude_deg.copy(),
        )
        self.flight, self.procedure = flight, procedure
        self.t_s = flight.t_s
        self.distance_nm = np.asarray(metres) / 1852.0
        self.bearing_true_deg = np.asarray(bearing) % 360.0
        self.radial_deg = (self.bearing_true_deg - station.declination_deg) % 360.0
        # The track as it would be read at the station: carried there along the radial, over which the
        # direction of north turns.
        turned = difference(np.asarray(back) + 180.0, self.bearing_true_deg)
        self.track_deg = (flight.ground_track_true_deg - turned) % 360.0
        self.rate_deg_s = np.gradient(np.degrees(np.unwrap(np.radians(self.track_deg))), STEP_S)
        self.height_ft = flight.altitude_ft - station.elevation_ft
        half_angle = math.radians(40.0 if station.kind.startswith("NDB") else 50.0)
        self.inside_nm = self.height_ft / FT_PER_NM * math.tan(half_angle) - self.distance_nm
        self.dme_nm = np.hypot(self.distance_nm, self.height_ft / FT_PER_NM)
        self.turns = self._turns()

    def index(self, t_s: float) -> int:
        return int(np.clip(np.searchsorted(self.t_s, t_s - 1e-6), 0, len(self.t_s) - 1))

    def at(self, values: Floats, t_s: float) -> float:
        return float(np.interp(t_s, self.t_s, values))

    def angle_at(self, angles_deg: Floats, t_s: float) -> float:
        return float(np.interp(t_s, self.t_s, np.degrees(np.unwrap(np.radians(angles_deg)))) % 360.0)

    def across_nm(self, course_true_deg: float) -> Floats:
        """Right of a course through the station."""
        result: Floats = self.distance_nm * np.sin(np.radians(self.bearing_true_deg - course_true_deg))
        return result

    def deviation_from_deg(self, course_deg: float) -> Floats:
        return difference(self.radial_deg, course_deg)

    def deviation_to_deg(self, course_deg: float) -> Floats:
        return difference(course_deg + 180.0, self.radial_deg)

    def past_radial(self, crossing: CrossingRadial) -> NDArray[np.bool_]:
        """Whether a radial of another station is behind, of a flight that has it ahead at first."""
        other = next(o for o in self.procedure.other_station if o.ident == crossing.station)
        count = len(self.flight)
        bearing, _, _ = Geod(ellps="WGS84").inv(
            np.full(count, other.longitude),
            np.full(count, other.latitude),
            self.flight.longitude_deg.copy(),
            self.flight.latitude_deg.copy(),
        )
        off = difference(np.asarray(bearing) - other.declination_deg, crossing.radial_deg)
        final = self.index([e.t_s for e in self.flight.events if e.what == "final"][-1])
        result: NDArray[np.bool_] = np.sign(off) != np.sign(off[final])
        return result

    def crossing_s(self, values: Floats, before: int) -> float:
        """When ``values`` passes zero between samples ``before`` and ``before + 1``."""
        a, b = values[before], values[before + 1]
        return float(self.t_s[before] + STEP_S * a / (a - b))

    def _turns(self) -> list[tuple[float, float, float]]:
        """Start, end and signed change of each turn: 1 deg/s and more one way, 30 deg and more in all."""
        found: list[tuple[float, float, float]] = []
        for way in (1.0, -1.0):
            over = way * self.rate_deg_s - TURN_DEG_S
            edges = np.flatnonzero(np.diff((over >= 0).astype(int)))
            runs: list[list[int]] = []
            for edge in edges:
                if over[edge + 1] >= 0:
                    runs.append([int(edge), len(over) - 2])
                elif runs:
                    runs[-1][1] = int(edge)
                else:
                    runs.append([0, int(edge)])
            joined: list[list[int]] = []
            for run in runs:  # a gust may hold the turn up for a moment
                if joined and run[0] - joined[-1][1] <= 3.0 / STEP_S:
                    joined[-1][1] = run[1]
                else:
                    joined.append(run)
            for first, last in joined:
                change = float(np.sum(self.rate_deg_s[first : last + 1]) * STEP_S)
                if abs(change) >= TURN_LEAST_DEG:
                    start_s = self.crossing_s(over, first) if over[first] < 0 else float(self.t_s[first])
                    end_s = self.crossing_s(over, last) if over[last + 1] < 0 else float(self.t_s[last])
                    found.append((start_s, end_s, change))
        return sorted(found)

    def turn_from(self, t_s: float, until_s: float) -> tuple[float, float, float] | None:
        """The first turn that begins in that span."""
        return next((turn for turn in self.turns if t_s - 0.3 <= turn[0] <= until_s), None)

    def turning_s(self, t_s: float) -> float:
        """The first moment from then on at which the rate is 1 deg/s and more.

        For a turn that comes out of another, or of which a crosswind leaves less than 30 degrees over the ground.
        """
        first = self.index(t_s)
        over = np.flatnonzero(np.abs(self.rate_deg_s[first:]) >= TURN_DEG_S)
        if not len(over):
            raise AssertionError("the flight does not turn any more")
        return float(self.t_s[first + over[0]])

    def passage(self, from_s: float, until_s: float) -> Passage | None:
        """The closest point in that span (``None`` where it lies at its edge), and the cone around it."""
        first, last = self.index(from_s), self.index(until_s)
        if last - first < 3:
            return None
        lowest = first + int(np.argmin(self.distance_nm[first : last + 1]))
        if lowest in (first, last):
            return None
        squares = self.distance_nm[lowest - 1 : lowest + 2] ** 2
        bend = squares[0] - 2 * squares[1] + squares[2]
        shift = 0.5 * (squares[0] - squares[2]) / bend if bend > 0 else 0.0
        time_s = float(self.t_s[lowest] + shift * STEP_S)
        least = squares[1] - 0.25 * (squares[0] - squares[2]) * shift
        begin_s = end_s = time_s
        inside = bool(self.inside_nm[lowest] > 0)
        if inside:
            before = lowest
            while before > 0 and self.inside_nm[before] > 0:
                before -= 1
            after = lowest
            while after < len(self.t_s) - 1 and self.inside_nm[after] > 0:
                after += 1
            begin_s = self.crossing_s(self.inside_nm, before) if self.inside_nm[before] <= 0 else self.t_s[0]
            end_s = self.crossing_s(self.inside_nm, after - 1) if self.inside_nm[after] <= 0 else self.t_s[-1]
        return Passage(
            time_s=time_s,
            distance_nm=math.sqrt(max(0.0, least)),
            begin_s=float(begin_s),
            end_s=float(end_s),
            in_cone=inside,
            altitude_ft=self.at(self.flight.altitude_ft, time_s),
            groundspeed_kt=self.at(self.flight.groundspeed_kt, time_s),
            ground_track_true_deg=self.angle_at(self.flight.ground_track_true_deg, time_s),
        )

    def established_s(self, from_s: float, until_s: float) -> float | None:
        """The first moment from which, for 10 s, half scale and 20 degrees of track are kept."""
        course_deg = self.procedure.inbound_course_deg
        good = (np.abs(self.deviation_to_deg(course_deg)) <= HALF_SCALE_DEG) & (
            np.abs(difference(self.track_deg, self.procedure.true_deg(course_deg))) <= 20.0
        )
        need = round(10.0 / STEP_S)
        first, last = self.index(from_s), self.index(until_s)
        kept = 0
        for number in range(first, last + 1):
            kept = kept + 1 if good[number] else 0
            if kept > need:
                return float(self.t_s[number - need])
        return None
