"""An approach that never gets established and passes no station on its way: where it ended is shown all the same."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.pipeline import debrief
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from tests.phases.aeroplane import STEP_S, Aeroplane
from tests.phases.pilots import arriving, level_of, outbound, true_deg

KESTREY = load_procedure("kestrey-ndb-09")
LANTERN = load_procedure("lantern-vor-22")
COURSE_DEG = true_deg(KESTREY, KESTREY.inbound_course_deg)
SIDE = 1.0 if KESTREY.reversal is not None and KESTREY.reversal.side == "right" else -1.0
BESIDE_NM = 0.9
TWO_SECONDS = 2.0
WAY_OUT = [Phase.INBOUND, Phase.STATION_PASSAGE, Phase.OUTBOUND, Phase.COURSE_REVERSAL]


def beside_the_course() -> Aeroplane:
    """The base turn, through the final course and along beside it, and down to the minimum a mile before the station."""
    plane = arriving(KESTREY, from_deg=110.0, tas_kt=95.0, wind=(0.0, 0.0))
    outbound(plane, KESTREY, 5.5)
    plane.turn_to(COURSE_DEG - SIDE * 35.0, "right" if SIDE > 0 else "left")
    plane.hold_until(lambda: -SIDE * plane.across_nm(COURSE_DEG) >= BESIDE_NM)
    plane.turn_to(COURSE_DEG)
    plane.to_ft = level_of(KESTREY, "final")
    plane.hold_until(lambda: plane.along_nm(COURSE_DEG) >= -1.0)
    return plane


def test_the_climb_away_ends_it():
    plane = beside_the_course()
    plane.hold_until(lambda: plane.along_nm(COURSE_DEG) >= 0.3)
    away_s, plane.to_ft = plane.t_s, plane.altitude_ft + 1500.0
    plane.hold(170.0)

    (attempt,) = debrief(plane.log(KESTREY), KESTREY).attempts

    assert [phase.phase for phase in attempt.phases] == [*WAY_OUT, Phase.MISSED_APPROACH]
    begins_s = (attempt.phases[-1].start - attempt.phases[0].start).total_seconds()
    # the climb of 600 ft/min is counted from 50 ft above the lowest altitude
    assert begins_s == pytest.approx(away_s + 5.0, abs=TWO_SECONDS)
    assert "not_established" in [finding.rule for finding in attempt.findings]


def test_a_climb_away_begun_far_above_the_minimum_ends_it_as_well():
    """At 1,400 ft, with 2,000 published for the reversal and 540 for the minimum: it was on its way down the final."""
    plane = beside_the_course()
    high = [(*state[:3], max(state[3], 1400.0)) for state in plane.flown]
    plane.flown, plane.altitude_ft, plane.to_ft = high, 1400.0, 2900.0
    away_s = plane.t_s
    plane.hold(170.0)

    (attempt,) = debrief(plane.log(KESTREY), KESTREY).attempts

    assert [phase.phase for phase in attempt.phases] == [*WAY_OUT, Phase.MISSED_APPROACH]
    begins_s = (attempt.phases[-1].start - attempt.phases[0].start).total_seconds()
    assert begins_s == pytest.approx(away_s + 5.0, abs=TWO_SECONDS)


def landed_s(plane, elevation_ft):
    """When the aircraft touches down, having come down at once and rolled out."""
    plane.to_ft, plane.tas_kt = elevation_ft, 70.0
    plane.hold_until(lambda: plane.altitude_ft == plane.to_ft)
    touchdown_s = plane.t_s
    while plane.tas_kt > 3.0:
        plane.tas_kt -= 4.0 * STEP_S
        plane.step()
    plane.hold(30.0)
    return touchdown_s


def test_the_landing_ends_it():
    """Across the field, on a runway that no procedure knows."""
    plane = beside_the_course()
    plane.turn_to(COURSE_DEG + SIDE * 45.0)
    touchdown_s = landed_s(plane, 50.0)

    (attempt,) = debrief(plane.log(KESTREY), KESTREY).attempts

    assert [phase.phase for phase in attempt.phases] == [*WAY_OUT, Phase.LANDING]
    begins_s = (attempt.phases[-1].start - attempt.phases[0].start).total_seconds()
    assert begins_s == pytest.approx(touchdown_s, abs=TWO_SECONDS)
    assert "not_established" in [finding.rule for finding in attempt.findings]


def test_the_landing_ends_it_that_never_came_near_the_station_again():
    """A 45/180 whose leg back never met the course: past the station 6 NM beside it, and down on the airfield.

    The reversal ran on through the landing to the end of the log, as if nobody had landed.
    """
    course_deg = true_deg(LANTERN, LANTERN.inbound_course_deg)
    assert LANTERN.reversal is not None
    side = 1.0 if LANTERN.reversal.side == "right" else -1.0
    plane = arriving(LANTERN, from_deg=course_deg, tas_kt=100.0, wind=(0.0, 0.0))
    outbound(plane, LANTERN, 5.0)
    plane.turn_to(course_deg + 180.0 + side * 45.0)
    plane.hold(300.0)
    plane.turn_to(course_deg, "left" if side > 0 else "right")
    plane.hold_until(lambda: plane.along_nm(course_deg) >= 1.0)
    assert abs(plane.across_nm(course_deg)) > 4.0
    runway = LANTERN.runway
    assert runway is not None
    touchdown_s = landed_s(plane, runway.elevation_ft)

    (attempt,) = debrief(plane.log(LANTERN), LANTERN).attempts

    assert [phase.phase for phase in attempt.phases] == [*WAY_OUT, Phase.LANDING]
    assert attempt.ending == "landing"
    begins_s = (attempt.phases[-1].start - attempt.phases[0].start).total_seconds()
    assert begins_s == pytest.approx(touchdown_s, abs=TWO_SECONDS)
    assert "not_established" in [finding.rule for finding in attempt.findings]


def test_a_log_that_begins_just_before_the_turn_back_and_ends_in_a_climb_away_is_an_approach():
    """No passage is in it, and hardly anything of the outbound leg, but it came down to the minimum."""
    plane = beside_the_course()
    plane.hold_until(lambda: plane.along_nm(COURSE_DEG) >= 0.3)
    plane.to_ft = plane.altitude_ft + 1500.0
    plane.hold(170.0)
    log = plane.log(KESTREY, from_s=plane.marks["turn off"] - 15.0)

    (attempt,) = debrief(replace(log, t_s=log.t_s - log.t_s[0]), KESTREY).attempts

    assert [phase.phase for phase in attempt.phases] == [*WAY_OUT[2:], Phase.MISSED_APPROACH]
