"""A sample club: five invented pilots, forty invented flights of one approach over half a year.

Owns      who they are, how each flies, and ``club_flights``; the same flights each time.
Not here  flying (``flight``), recording (``sensor``), putting them into a logbook (the command line).

Each pilot has a hand: how steady, how early at the station, how long outbound. One gets better; one is no worse than
the others but never twice the same; two flew so little that nothing can be said of one of them.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from debrief.procedures import Procedure
from debrief.simulation.flight import SimulatedFlight, fly
from debrief.simulation.plan import Attempt, Faults, FlightPlan, Wind
from debrief.simulation.sensor import Sensor

PROCEDURE = "lantern-vor-22"
_FIRST = datetime(2026, 1, 6, 17, 30, tzinfo=UTC)
_DAYS = 170
_WANDER_DEG, _WANDER_FT = 1.0, 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """How one pilot flies: a mean and a standard deviation of each habit."""

    name: str
    flights: int
    late_nm: tuple[float, float]  # turn at the station, after the exact lead
    longer_nm: tuple[float, float]  # outbound, beyond the published DME
    overshoot_nm: tuple[float, float]  # of the inbound course
    final_offset_deg: tuple[float, float]
    approach_kias: tuple[float, float]
    unsteady: float = 1.0
    better: float = 0.0  # of every habit is lost from the first flight to the last


HANDS: tuple[Hand, ...] = (
    Hand(
        name="Petrel",
        flights=12,
        late_nm=(0.05, 0.06),
        longer_nm=(0.0, 0.12),
        overshoot_nm=(0.08, 0.06),
        final_offset_deg=(0.0, 0.5),
        approach_kias=(110.0, 4.0),
    ),
    Hand(
        name="Sandpiper",
        flights=11,
        late_nm=(0.5, 0.15),
        longer_nm=(0.5, 0.3),
        overshoot_nm=(0.5, 0.15),
        final_offset_deg=(1.0, 1.2),
        approach_kias=(118.0, 5.0),
        unsteady=1.3,
        better=0.8,
    ),
    Hand(
        name="Curlew",
        flights=9,
        late_nm=(0.1, 0.5),
        longer_nm=(0.1, 0.7),
        overshoot_nm=(0.25, 0.25),
        final_offset_deg=(0.0, 2.2),
        approach_kias=(112.0, 9.0),
        unsteady=1.5,
    ),
    Hand(
        name="Turnstone",
        flights=6,
        late_nm=(0.15, 0.1),
        longer_nm=(0.9, 0.15),
        overshoot_nm=(0.15, 0.1),
        final_offset_deg=(0.5, 0.6),
        approach_kias=(125.0, 4.0),
    ),
    Hand(
        name="Dotterel",
        flights=2,
        late_nm=(0.3, 0.2),
        longer_nm=(0.3, 0.3),
        overshoot_nm=(0.3, 0.2),
        final_offset_deg=(0.0, 1.0),
        approach_kias=(108.0, 4.0),
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClubFlight:
    """One flight of the club: whose it is, and what was flown."""

    pilot: str
    file: str
    flight: SimulatedFlight
    sensor: Sensor
    seed: int


def club_flights(procedure: Procedure, *, seed: int = 40) -> Iterator[ClubFlight]:
    """Every flight of the club on the procedure that ``PROCEDURE`` names, pilot by pilot."""
    for number, hand in enumerate(HANDS):
        draw = random.Random(1000 * seed + number)
        days = sorted(draw.sample(range(_DAYS), hand.flights))
        for flown, day in enumerate(days):
            done = flown / max(hand.flights - 1, 1)
            plan = _plan(hand, 1.0 - hand.better * done, day, draw)
            yield ClubFlight(
                pilot=hand.name,
                file=f"{hand.name.lower()}-{flown + 1:02d}.gpx",
                flight=fly(procedure, plan),
                sensor=Sensor(interval_s=2.0),
                seed=plan.seed,
            )


def _plan(hand: Hand, share: float, day: int, draw: random.Random) -> FlightPlan:
    def habit(of: tuple[float, float]) -> float:
        return share * draw.gauss(*of)

    return FlightPlan(
        epoch=_FIRST + timedelta(days=day, minutes=draw.randrange(150)),
        start_bearing_true_deg=draw.uniform(270.0, 300.0),
        start_distance_nm=9.0,
        start_altitude_ft=4300.0,
        approach_kias=draw.gauss(*hand.approach_kias),
        final_kias=draw.gauss(95.0, 3.0),
        wind=Wind(from_true_deg=draw.gauss(245.0, 25.0), speed_kt=draw.uniform(4.0, 22.0), gust_kt=1.0),
        wander_deg=_WANDER_DEG * hand.unsteady,
        wander_ft=_WANDER_FT * hand.unsteady,
        attempts=(
            Attempt(
                faults=Faults(
                    turn_late_nm=habit(hand.late_nm),
                    outbound_longer_nm=habit(hand.longer_nm),
                    overshoot_nm=max(habit(hand.overshoot_nm), 0.0),
                    final_offset_deg=habit(hand.final_offset_deg),
                ),
            ),
        ),
        after_s=20.0,
        seed=draw.randrange(1_000_000),
    )
