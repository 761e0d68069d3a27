"""The lines beside the legs on a procedure's picture, held against what they stand for."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.navigation.geodesy import StationPlane, inverse
from debrief.procedures import load_procedure
from debrief.procedures.model import Arc, Extent, Hold, MissedApproach
from debrief.reports.procedure_around import around
from debrief.reports.procedure_plan import procedure_page

ARC, ALL = load_procedure("gannetstone-vor-12"), load_procedure("tarnwick-vor-27")


def line(procedure, kind):
    return next(found for found in around(procedure) if found.kind == kind)


def bearings(found, declination_deg=0.0):
    return np.mod(np.degrees(np.arctan2(found.east_nm, found.north_nm)) - declination_deg, 360.0)


def headings(found):
    east, north = np.diff(found.east_nm), np.diff(found.north_nm)
    moved = np.hypot(east, north) > 1e-9
    return np.mod(np.degrees(np.arctan2(east, north))[moved], 360.0)


@pytest.mark.parametrize("direction", ["clockwise", "anticlockwise"])
def test_an_arc_keeps_its_slant_range_and_ends_at_the_lead_radial(direction):
    """The slant range at its height: a DME reads the straight line to the aircraft (6,076.115 ft to the mile)."""
    procedure = ARC.model_copy(update={"arc": ARC.arc.model_copy(update={"direction": direction})})
    found = line(procedure, "arc")
    height_nm = (2600.0 - procedure.station.elevation_ft) / 6076.115

    slant = np.sqrt(found.east_nm**2 + found.north_nm**2 + height_nm**2)
    assert slant == pytest.approx(10.0, abs=1e-3)
    radials = bearings(found, procedure.station.declination_deg)
    assert radials[-1] == pytest.approx(292.0, abs=0.6)
    turning = np.mod(np.diff(radials) + 180.0, 360.0) - 180.0
    assert (turning > 0).all() if direction == "clockwise" else (turning < 0).all()
    lead = line(procedure, "lead")
    assert bearings(lead, procedure.station.declination_deg) == pytest.approx(292.0, abs=1e-6)


def test_an_arc_without_a_lead_radial_ends_on_the_course():
    procedure = ARC.model_copy(update={"arc": Arc(dme_nm=12.0, direction="clockwise")})
    radials = bearings(line(procedure, "arc"), procedure.station.declination_deg)
    assert radials[-1] == pytest.approx((procedure.inbound_course_deg + 180.0) % 360.0, abs=0.6)
    assert not [found for found in around(procedure) if found.kind == "lead"]


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("course_deg", [0.0, 90.0, 213.0, 359.0])
@pytest.mark.parametrize("length", [None, Extent(minutes=1.5), Extent(dme_nm=5.0)])
def test_a_hold_is_a_closed_racetrack_on_its_side(side, course_deg, length):
    procedure = ALL.model_copy(
        update={"hold": Hold(course_deg=course_deg, side=side, length=length), "station": ARC.station}
    )
    found = line(procedure, "hold")

    assert (found.east_nm[0], found.north_nm[0]) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert (found.east_nm[-1], found.north_nm[-1]) == pytest.approx((0.0, 0.0), abs=1e-9)
    true_deg = procedure.true_deg(course_deg)
    assert abs((headings(found)[-1] - true_deg + 180.0) % 360.0 - 180.0) < 0.01  # inbound, over the station
    course = np.radians(true_deg)
    aside = found.east_nm * np.cos(course) - found.north_nm * np.sin(course)
    assert (aside >= -1e-9).all() if side == "right" else (aside <= 1e-9).all()
    turns = (np.diff(headings(found)) + 180.0) % 360.0 - 180.0
    assert sum(turns) == pytest.approx(354.0 if side == "right" else -354.0, abs=7.0)


def test_a_hold_by_the_clock_is_as_long_as_the_minute():
    """A minute at 120 knots is two miles: the outbound leg, abeam the station to the turn."""
    found = line(ALL, "hold")
    course = np.radians(ALL.true_deg(270.0))
    ahead = found.east_nm * np.sin(course) + found.north_nm * np.cos(course)
    steps = np.hypot(np.diff(found.east_nm), np.diff(found.north_nm))
    assert max(steps) == pytest.approx(2.0, abs=1e-6)
    assert min(ahead) < -2.0


@pytest.mark.parametrize("turn", ["left", "right"])
def test_a_missed_approach_climbs_on_its_course_and_turns_back_to_the_station(turn):
    missed = ALL.missed_approach.model_copy(update={"turn": turn})
    found = line(ALL.model_copy(update={"missed_approach": missed}), "missed_approach")

    course = ALL.true_deg(270.0)
    assert abs((headings(found)[0] - course + 180.0) % 360.0 - 180.0) < 0.01
    assert (found.east_nm[-1], found.north_nm[-1]) == pytest.approx((0.0, 0.0), abs=1e-9)
    turns = (np.diff(headings(found)[:-1]) + 180.0) % 360.0 - 180.0
    assert (turns >= -1e-6).all() if turn == "right" else (turns <= 1e-6).all()
    last = (np.diff(headings(found)[-2:])[0] + 180.0) % 360.0 - 180.0
    assert abs(last) < 8.0  # straight on to the station


def test_a_missed_approach_without_a_turn_goes_straight_on():
    missed = MissedApproach.model_validate({"altitude": {"at_or_above_ft": 3000}})
    found = line(ALL.model_copy(update={"missed_approach": missed}), "missed_approach")
    assert headings(found) == pytest.approx(ALL.true_deg(ALL.final.course_deg), abs=0.01)


def test_a_crossing_radial_runs_through_the_other_station():
    """Along the line the bearing from that station, on the ellipsoid, is the radial and its declination."""
    found = line(ALL, "crossing")
    other = ALL.other_station[0]
    plane = StationPlane(latitude_deg=ALL.station.latitude, longitude_deg=ALL.station.longitude)
    crossing = ALL.final.step_down[0].until_radial

    for latitude, longitude in zip(*plane.to_geographic(found.east_nm, found.north_nm), strict=True):
        bearing = inverse(other.latitude, other.longitude, latitude, longitude)[1]
        wanted = crossing.radial_deg + other.declination_deg
        assert abs((bearing - wanted + 180.0) % 360.0 - 180.0) < 0.5


def test_each_is_named_on_the_picture():
    texts = " ".join(text.text for text in procedure_page(ALL).texts)
    for label in (
        "Hold, inbound 270, 3,000 ft or above",
        "Missed approach, 3,000 ft or above",
        "MWX radial 196",
    ):
        assert label in texts
    assert "Arc at 10.0 DME, 2,600 ft or above" in " ".join(text.text for text in procedure_page(ARC).texts)


def test_a_procedure_without_any_of_them_has_no_such_line():
    assert around(load_procedure("lantern-vor-22")) == ()
