"""Phases from logs that a recorder or a converter spoilt. Flown by the second generator."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.phases.ending import find_ending
from debrief.pipeline import debrief, look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from debrief.tracks.model import Track
from tests.doctoring import drawn_out
from tests.phases.aeroplane import STEP_S, Aeroplane
from tests.phases.pilots import eighty_and_back, true_deg
from tests.phases.test_independent import MAKERS, PERCENTILE_95_S, RIGHT, Span, flown

RECEIVED_S = (1.0, 1.0, 1.0, 2.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 11.0)  # between two reports
NOISE_M = 6.0
ON_THE_EDGE = "45/180 in 30 kt"  # stands within 0.1 degree of half scale for 20 s: established or not


def received(track: Track, seed: int) -> Track:
    """What comes in of a log of five samples a second, at uneven intervals."""
    random = np.random.default_rng(seed)
    every_s = random.choice(RECEIVED_S, int(track.t_s[-1])) + random.uniform(-0.4, 0.4, int(track.t_s[-1]))
    at = np.searchsorted(track.t_s, np.cumsum(every_s))
    return _picked(track, at[at < len(track)])


def _picked(track: Track, at: np.ndarray) -> Track:
    names = ("t_s", "latitude_deg", "longitude_deg", "altitude_ft", "part", "line")
    return replace(track, **{name: getattr(track, name)[at] for name in names})


def _labels(spans: list[Span], t_s: np.ndarray) -> np.ndarray:
    label = np.full(len(t_s), "", dtype=object)
    for phase, start_s, end_s in spans:
        label[(t_s >= start_s) & (t_s < end_s)] = phase
    return label


@pytest.mark.parametrize("step_s", [1.0, 2.0])
def test_seconds_are_in_the_right_phase_where_uneven_reports_were_drawn_out(step_s):
    """A grid of straight lines turns at its corners only: a turn fell into pieces too small to be one."""
    wrong = total = 0
    for number, name in enumerate(MAKERS):
        case = flown(name)
        log = drawn_out(received(case.plane.log(case.procedure, STEP_S, NOISE_M), number), step_s)
        found = [
            (str(s.phase), s.start_s, s.end_s) for a in look(log, case.procedure).attempts for s in a.spans
        ]
        assert [span[0] for span in found] == [span[0] for span in case.phases], name
        if name == ON_THE_EDGE:
            continue
        t_s = np.arange(log.t_s[0], log.t_s[-1], 0.5)
        wrong += int(np.sum(_labels(found, t_s) != _labels(list(case.phases), t_s)))
        total += len(t_s)

    assert 1.0 - wrong / total >= RIGHT


BRANDEL = load_procedure("brandel-ndb-27")
LANDED_FT = 415.0  # its runway


def landed(*, braked_s: float = np.inf) -> tuple[Aeroplane, float]:
    """Straight over the beacon, down at 600 ft/min to a runway at 415 ft, and a landing run; when it touched down.

    After ``braked_s`` of braking it rolls on.
    """
    course_deg = true_deg(BRANDEL, BRANDEL.inbound_course_deg)
    plane = Aeroplane(
        east_nm=-9.0 * np.sin(np.radians(course_deg)),
        north_nm=-9.0 * np.cos(np.radians(course_deg)),
        heading_deg=course_deg,
        altitude_ft=2600.0,
    )
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
    plane.to_ft = LANDED_FT
    plane.follow(course_deg, lambda: plane.altitude_ft == plane.to_ft)
    touchdown_s = plane.t_s
    while plane.tas_kt > 12.0:
        plane.tas_kt -= (3.0 if plane.t_s - touchdown_s < braked_s else 0.7) * STEP_S
        plane.step()
    plane.hold(60.0)
    return plane, touchdown_s


@pytest.mark.parametrize("unheard_s", [(0.4, 0.4), (3.0, 2.0), (4.0, 12.0), (6.0, 40.0)])
def test_the_way_to_an_altitude_of_0_on_the_ground_is_neither_a_dive_nor_a_late_landing(unheard_s):
    """A grid of 5 s drew it from the last altitude received, so long before touchdown, to the first 0 after it."""
    plane, touchdown_s = landed()
    exact = plane.log(BRANDEL, STEP_S, 2.0)
    on_ground = exact.t_s >= touchdown_s
    heard = (exact.t_s < touchdown_s - unheard_s[0]) | (exact.t_s > touchdown_s + unheard_s[1])
    every_second = np.arange(len(exact)) % round(1.0 / STEP_S) == 0
    log = drawn_out(
        _picked(
            replace(exact, altitude_ft=np.where(on_ground, 0.0, np.round(exact.altitude_ft / 25.0) * 25.0)),
            np.flatnonzero(heard & every_second),
        ),
        5.0,
    )

    (attempt,) = debrief(log, BRANDEL).attempts

    exceeded = {finding.rule for finding in attempt.findings if finding.verdict == "exceeded"}
    assert not exceeded & {"descent_rate", "stabilised", "minimum_descent_altitude"}
    (found,) = look(log, BRANDEL).attempts
    landing = found.last(Phase.LANDING)
    assert landing is not None
    assert landing.start_s == pytest.approx(touchdown_s, abs=PERCENTILE_95_S)


@pytest.mark.parametrize("interval_s", [1.0, 5.0])
@pytest.mark.parametrize("seen_s", [60.0, 66.0, 72.0])
def test_a_turn_back_that_a_gap_cuts_off_shows_the_turn_off_before_it(interval_s, seen_s):
    """Where the gap began the track was near the outbound course again, and it passed for weaving along it."""
    case = eighty_and_back("quillow-ndb-18", from_deg=140.0)
    turn_off_s = next(span[2] for span in case.phases if span[0] == "outbound")
    log = case.plane.log(
        case.procedure, interval_s, 2.0, gap_s=(turn_off_s + seen_s, turn_off_s + seen_s + 80.0)
    )

    (attempt,) = look(log, case.procedure).attempts

    assert attempt.turn_off_s == pytest.approx(turn_off_s, abs=2.0 + interval_s)


def test_a_landing_without_an_altitude_on_the_ground_says_how_low_the_aircraft_came():
    """It was nan, and a circuit that led to the landing no approach."""
    plane, touchdown_s = landed()
    exact = plane.log(BRANDEL, 1.0, 2.0)
    log = replace(exact, altitude_ft=np.where(exact.t_s >= touchdown_s, 0.0, exact.altitude_ft))
    flight = look(log, BRANDEL)

    ending = find_ending(flight.view, flight.at, touchdown_s - 200.0, BRANDEL.inbound_course_deg, None, None)

    assert ending.how == "landing"
    assert ending.lowest_ft == pytest.approx(LANDED_FT, abs=25.0)


@pytest.mark.parametrize("interval_s", [1.0, 2.0])
def test_a_long_roll_without_an_altitude_began_where_it_was_braked_first(interval_s):
    """It was taken for a landing a minute later, where the aircraft had become slow."""
    plane, touchdown_s = landed(braked_s=12.0)
    exact = plane.log(BRANDEL, interval_s, 2.0)
    log = replace(exact, altitude_ft=np.where(exact.t_s >= touchdown_s - 1.0, np.nan, exact.altitude_ft))

    (attempt,) = look(log, BRANDEL).attempts

    landing = attempt.last(Phase.LANDING)
    assert landing is not None
    assert landing.start_s == pytest.approx(touchdown_s, abs=PERCENTILE_95_S)
