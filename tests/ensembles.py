"""Varied simulated flights with their logs and their truth, drawn from a seed.

``clean_flights(n)``, ``faulty_flights(n)``, ``several_attempts(n)``, ``cropped_flights(n)``, ``long_flights(n)``,
``approachless_flights(n)``: the same arguments give the same cases; most are flown once a test run (``tests.once``).
``Case.truth`` is in the log's time (seconds since its first sample), so it compares directly with what a debrief finds. A clean flight breaks no rule by its own truth; a faulty one has one fault, and
``case.truth.attempts[-1].expected`` names the rules that must be found.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache

from debrief.procedures import Procedure, bundled_procedures
from debrief.procedures.model import Pattern
from debrief.simulation import Attempt, FlightPlan, SimulatedFlight, Wind, fly
from debrief.simulation.plan import Ending, Instead
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Track
from tests.fault_catalogue import BY_HEADING, FAULTS
from tests.once import once_a_run
from tests.truth import Truth, truth_of

GOOD = Sensor()
GOOD_WITH_HEADING = Sensor(columns=("heading_true_deg",))
PERFECT = Sensor(
    position_noise_m=0.0,
    position_wander_m=0.0,
    decimals=None,
    altitude_noise_ft=0.0,
    altitude_wander_ft=0.0,
    altitude_step_ft=None,
)
#: Honest recorders of other kinds; nothing in them hides a phase.
SENSORS: dict[str, Sensor] = {
    "good": GOOD,
    "0.2 s": Sensor(interval_s=0.2),
    "2 s": Sensor(interval_s=2.0),
    "5 s": Sensor(interval_s=5.0),
    "10 s": Sensor(interval_s=10.0),
    "15 s": Sensor(interval_s=15.0),
    "noisy": Sensor(
        position_noise_m=8.0, position_wander_m=6.0, altitude_noise_ft=15.0, altitude_wander_ft=20.0
    ),
    "4 decimals": Sensor(decimals=4, altitude_step_ft=10.0),
}
#: Recorders as bad as real ones.
BAD_SENSORS: dict[str, Sensor] = {
    "5 s grid of straight lines": Sensor(
        interval_s=7.0, interval_spread=0.6, grid_s=5.0, altitude_step_ft=25.0
    ),
    "jittering stamps": Sensor(stamp_jitter_s=0.5, altitude_step_ft=25.0, altitude_source="pressure"),
    "whole seconds of odd moments": Sensor(interval_s=1.7, interval_spread=0.4, whole_second_stamps=True),
    "a third repeated": Sensor(repeat_share=0.33),
    "spikes": Sensor(position_spikes=4, altitude_spikes=5),
    "zero on the ground": Sensor(zero_on_ground=True, altitude_step_ft=25.0, altitude_source="pressure"),
    "pressure altitude": Sensor(altitude_source="pressure", qnh_hpa=1002.0, altitude_step_ft=25.0),
    "doubled and swapped": Sensor(doubled_share=0.05, swapped_share=0.01),
}


Logged = tuple[float, float] | None
ENDINGS: tuple[Ending, ...] = ("missed approach", "landing", "missed approach", "log ends")
INSTEAD: tuple[Instead, ...] = ("transit", "airwork", "circuits")


@dataclass(frozen=True)
class Flown:
    """A flight with its truth, in the flight's own time."""

    procedure: Procedure
    flight: SimulatedFlight
    truth: Truth


@dataclass(frozen=True, kw_only=True)
class Case:
    """One flight, its log, and the truth in the log's time."""

    name: str
    flown: Flown = field(repr=False)
    sensor: Sensor = field(repr=False)
    track: Track = field(repr=False)
    truth: Truth = field(repr=False)
    fault: str = ""  # "" on a clean flight
    logged_s: Logged = None  # the part that was logged, in the flight's time; all of it where None

    @property
    def procedure(self) -> Procedure:
        return self.flown.procedure

    @property
    def flight(self) -> SimulatedFlight:
        return self.flown.flight

    @property
    def offset_s(self) -> float:
        """The log's time is the flight's less this."""
        return (self.track.epoch - self.flight.epoch).total_seconds()

    def with_sensor(self, name: str, sensor: Sensor, seed: int = 1) -> Case:
        """The same flight, recorded otherwise."""
        title = f"{self.name}, {name}"
        return _case(title, self.flown, sensor, seed, self.fault, self.logged_s)


def _case(
    name: str,
    flown: Flown,
    sensor: Sensor,
    seed: int,
    fault: str = "",
    logged_s: Logged = None,
) -> Case:
    flight, truth = flown.flight, flown.truth
    track = record(flight if logged_s is None else flight.cropped(*logged_s), sensor, seed)
    if logged_s is not None:
        truth = truth.cropped(*logged_s)
    return Case(
        name=name,
        flown=flown,
        sensor=sensor,
        track=track,
        truth=truth.shifted(-(track.epoch - flight.epoch).total_seconds()),
        fault=fault,
        logged_s=logged_s,
    )


@cache
def _procedures() -> tuple[Procedure, ...]:
    """The bundled ones with nothing beside their legs, so that a new one does not change what a seed draws."""
    beside = ("missed_approach", "arc", "visual_segment", "circling", "final_guidance")
    return tuple(p for p in bundled_procedures() if all(getattr(p, key) is None for key in beside))


def _straight_in_only(procedure: Procedure) -> bool:
    return procedure.reversal is None


def plan_for(procedure: Procedure, draw: random.Random, *, calm: bool = False) -> FlightPlan:
    """A plan that a good pilot could fly: wind, speeds, arrival and ending drawn."""
    reversal = procedure.reversal
    fastest = min(reversal.max_speed_kias or 180.0 if reversal is not None else 180.0, 190.0) - 8.0
    approach_kias = draw.uniform(85.0, min(fastest, 170.0))
    wind_kt = 0.0 if calm else draw.choice([0.0, 8.0, 15.0, 22.0, 30.0, 38.0, 45.0])
    wind_kt = min(wind_kt, 0.36 * approach_kias)
    first_course_deg = procedure.outbound_course_deg
    if _straight_in_only(procedure) or first_course_deg is None:
        arrival_deg = procedure.true_deg(procedure.inbound_course_deg) + draw.uniform(-25.0, 25.0)
    else:
        arrival_deg = procedure.true_deg(first_course_deg) + draw.uniform(-100.0, 100.0)
    distance_nm = draw.choice([6.0, 9.0, 12.0, 18.0, 27.0, 40.0])
    return FlightPlan(
        epoch=datetime(2026, 1, 5, tzinfo=UTC) + timedelta(seconds=draw.randrange(300 * 86400)),
        start_bearing_true_deg=(arrival_deg + 180.0) % 360.0,
        start_distance_nm=max(distance_nm, 14.0) if _straight_in_only(procedure) else distance_nm,
        cruise_kias=approach_kias + draw.choice([0.0, 0.0, 15.0]),
        approach_kias=approach_kias,
        final_kias=min(approach_kias, draw.uniform(80.0, 120.0)),
        descent_ft_min=draw.uniform(500.0, 750.0),
        climb_ft_min=draw.uniform(600.0, 1200.0),
        altitude_margin_ft=draw.uniform(15.0, 60.0),
        wind=Wind(
            from_true_deg=draw.uniform(0.0, 360.0),
            speed_kt=wind_kt,
            reference_ft=procedure.station.elevation_ft + 2000.0,
            veer_deg_per_1000_ft=draw.choice([0.0, 0.0, 4.0]),
            shear_kt_per_1000_ft=draw.choice([0.0, 0.0, 2.0]),
            gust_kt=draw.choice([0.0, 0.0, 1.5]),
        ),
        wander_deg=draw.choice([0.0, 1.0]),
        wander_ft=draw.choice([0.0, 8.0]),
        attempts=(_attempt_for(procedure, draw),),
        seed=draw.randrange(10**6),
    )


def _attempt_for(procedure: Procedure, draw: random.Random) -> Attempt:
    ending: Ending = draw.choice(ENDINGS)
    circuits = 1
    if procedure.reversal is not None and procedure.reversal.pattern is Pattern.RACETRACK:
        circuits = draw.choice([1, 1, 2])
    return Attempt(ending=ending, circuits=circuits)


def _fly(procedure: Procedure, plan: FlightPlan) -> Flown:
    flight = fly(procedure, plan)
    return Flown(procedure, flight, truth_of(flight, procedure))


def is_clean(truth: Truth) -> bool:
    """Whether the flight breaks no rule, and comes near none."""
    return bool(truth.attempts) and all(a.phases and not a.close_calls for a in truth.attempts)


@once_a_run
def _clean(seed: int, number: int) -> Flown:
    draw = random.Random(f"clean {seed} {number}")
    procedure = _procedures()[number % len(_procedures())]
    for _ in range(40):
        plan = plan_for(procedure, draw)
        flown = _fly(procedure, plan)
        if is_clean(flown.truth):
            return flown
    raise AssertionError(f"no clean flight of {procedure.name} found")


def clean_flights(n: int, seed: int = 0, sensor: Sensor | None = None, first: int = 0) -> Iterator[Case]:
    """``n`` flights without a fault, procedure after procedure; recorders vary unless one is given.

    ``first``: how many of the seed's flights are passed over, without being flown.
    """
    names = list(SENSORS)
    for number in range(first, first + n):
        flown = _clean(seed, number)
        draw = random.Random(f"sensor {seed} {number}")
        name = draw.choice(names) if sensor is None else "given sensor"
        chosen = SENSORS[name] if sensor is None else sensor
        title = f"clean {seed}/{number}: {flown.procedure.name}, {name}"
        yield _case(title, flown, chosen, draw.randrange(10**6))


@once_a_run
def _faulty(seed: int, number: int, fault: str) -> Flown:
    draw = random.Random(f"faulty {seed} {number}")
    for _ in range(80):
        procedure = draw.choice(_procedures())
        faults = FAULTS[fault](procedure, draw)
        if faults is None:
            continue
        plan = plan_for(procedure, draw)
        ending = (
            "missed approach"
            if fault in ("below the minimum", "late climb away", *BY_HEADING)
            else plan.attempts[0].ending
        )
        if not is_clean(_fly(procedure, plan).truth):
            continue
        plan = replace(plan, attempts=(replace(plan.attempts[0], faults=faults, ending=ending),))
        flown = _fly(procedure, plan)
        if flown.truth.attempts and flown.truth.attempts[0].expected and not _spoilt(flown.truth, fault):
            return flown
    raise AssertionError(f"no flight found that shows the fault {fault!r}")


def _spoilt(truth: Truth, fault: str) -> bool:
    """Whether the fault led to another of the first order, so that it does not stand alone."""
    attempt = truth.attempts[0]
    others = set(attempt.breaches) - attempt.expected
    serious = {"reversal_side", "reversal_missing", "not_established", "minimum_descent_altitude"}
    if fault not in ("low on a leg", "down before the station"):
        serious |= {"altitude"}
    return bool(others & serious)


def faulty_flights(n: int, seed: int = 0, sensor: Sensor | None = None) -> Iterator[Case]:
    """``n`` flights with one fault each, fault after fault; recorded well unless a sensor is given."""
    return (faulty_flight(seed, number, sensor) for number in range(n))


def faulty_flight(seed: int, number: int, sensor: Sensor | None = None, *, fault: str | None = None) -> Case:
    """One of them, with the fault whose turn it is unless one is given."""
    fault = fault or list(FAULTS)[number % len(FAULTS)]
    flown = _faulty(seed, number, fault)
    title = f"faulty {seed}/{number}: {fault}, {flown.procedure.name}"
    good = GOOD_WITH_HEADING if fault in BY_HEADING else GOOD
    return _case(title, flown, sensor if sensor is not None else good, number, fault)


def approachless_flights(n: int, seed: int = 0, sensor: Sensor | None = None) -> Iterator[Case]:
    """``n`` flights on which no approach was flown: overflights, airwork, circuits elsewhere than on the course."""
    for number in range(n):
        draw = random.Random(f"none {seed} {number}")
        procedures = [p for p in _procedures() if p.has_intermediate and p.runway is not None]
        procedure = draw.choice(procedures)
        instead: Instead = INSTEAD[number % 3]
        plan = replace(
            plan_for(procedure, draw),
            instead=instead,
            instead_minutes=draw.uniform(10.0, 25.0),
            start_distance_nm=draw.uniform(12.0, 20.0),
        )
        flown = _fly(procedure, plan)
        title = f"none {seed}/{number}: {instead}, {procedure.name}"
        yield _case(title, flown, sensor if sensor is not None else GOOD, number)


@once_a_run
def _several(seed: int, number: int) -> Flown:
    draw = random.Random(f"several {seed} {number}")
    procedures = [p for p in _procedures() if p.reversal is not None]
    for _ in range(40):
        procedure = draw.choice(procedures)
        plan = plan_for(procedure, draw)
        count = draw.choice([2, 2, 3])
        attempts = [
            replace(_attempt_for(procedure, draw), ending="missed approach") for _ in range(count - 1)
        ]
        plan = replace(plan, attempts=(*attempts, plan.attempts[0]))
        flown = _fly(procedure, plan)
        if len(flown.truth.attempts) == count and is_clean(flown.truth):
            return flown
    raise AssertionError("no clean flight of several attempts found")


def several_attempts(n: int, seed: int = 0, sensor: Sensor | None = None) -> Iterator[Case]:
    """``n`` clean flights of two or three attempts each."""
    for number in range(n):
        flown = _several(seed, number)
        title = f"several {seed}/{number}: {flown.procedure.name}"
        yield _case(title, flown, sensor if sensor is not None else GOOD, number)


def cropped_flights(n: int, seed: int = 0, sensor: Sensor | None = None) -> Iterator[Case]:
    """``n`` clean flights of which the log begins or ends somewhere on the way; the truth is cut likewise."""
    for number in range(n):
        flown = _clean(seed, number)
        flight = flown.flight
        draw = random.Random(f"cropped {seed} {number}")
        first_s, last_s = float(flight.t_s[0]), float(flight.t_s[-1])
        length_s = last_s - first_s
        if draw.random() < 0.5:
            logged_s = (first_s + round(draw.uniform(0.1, 0.8) * length_s, 1), last_s)
        else:
            logged_s = (first_s, last_s - round(draw.uniform(0.1, 0.8) * length_s, 1))
        title = f"cropped {seed}/{number}: {flown.procedure.name}"
        yield _case(title, flown, sensor if sensor is not None else GOOD, number, "", logged_s)


def long_flights(n: int, seed: int = 0, sensor: Sensor | None = None) -> Iterator[Case]:
    """``n`` flights with an hour or more of cruise before the approach."""
    for number in range(n):
        draw = random.Random(f"long {seed} {number}")
        procedure = draw.choice([p for p in _procedures() if p.reversal is not None])
        plan = replace(plan_for(procedure, draw), start_distance_nm=draw.uniform(120.0, 260.0))
        plan = replace(plan, start_altitude_ft=draw.choice([6500.0, 8500.0, 10500.0]))
        flown = _fly(procedure, plan)
        title = f"long {seed}/{number}: {procedure.name}"
        yield _case(title, flown, sensor if sensor is not None else GOOD, number)
