"""The path that advice on a rate of descent goes by: that from the published altitude, wherever the pilot was."""

from __future__ import annotations

import math
import re

import pytest

from debrief import debrief
from debrief.navigation.geodesy import inverse
from debrief.procedures import load_procedure
from debrief.simulation import Attempt, Faults, FlightPlan, Wind, fly
from debrief.simulation.sensor import Sensor, record


@pytest.mark.parametrize("lower_ft", [500.0, 0.0, -700.0])
@pytest.mark.parametrize("name", ["quillow-ndb-18", "dateline-ndb-35"])
def test_who_came_to_the_fix_too_low_or_high_is_told_the_path_from_the_published_altitude(
    name: str, lower_ft: float
) -> None:
    """To 50 ft over the threshold: ICAO Doc 8168 Vol II, I-4-5, 5.5.1. Mark: seen. By the triangle, on its own."""
    procedure = load_procedure(name)
    runway, station, before = procedure.runway, procedure.station, procedure.leg_of("intermediate")
    assert procedure.outbound_course_deg is not None
    assert runway is not None
    assert before is not None
    assert before.altitude is not None
    assert before.altitude.low_ft is not None
    faults = Faults(lower_ft={"intermediate": lower_ft}, final_rate_ft_min=1400.0)
    plan = FlightPlan(
        start_bearing_true_deg=procedure.true_deg(procedure.outbound_course_deg) + 140.0,
        descent_ft_min=1400.0,
        attempts=(Attempt(faults=faults),),
    )

    result = debrief(record(fly(procedure, plan), Sensor()), procedure)

    told = [f for a in result.attempts for f in a.findings if f.rule == "descent_rate"]
    assert len(told) == 1
    far_nm, _ = inverse(station.latitude, station.longitude, runway.latitude, runway.longitude)
    down_ft = before.altitude.low_ft - runway.elevation_ft - 50.0
    path_deg = math.degrees(math.atan(down_ft * 0.3048 / (far_nm * 1852.0)))
    said = re.search(r"a path of ([0-9.]+) degrees from ([0-9,]+) ft takes ([0-9,]+) ft/min", told[0].advice)
    assert said is not None, told[0].advice
    assert float(said[1]) == pytest.approx(path_deg, abs=0.06)
    assert float(said[2].replace(",", "")) == before.altitude.low_ft
    final = result.attempts[0].measures.final
    assert final is not None
    assert final.groundspeed_kt is not None
    takes_ft_min = final.groundspeed_kt.mean / 60.0 * 1852.0 / 0.3048 * math.tan(math.radians(path_deg))
    assert float(said[3].replace(",", "")) == pytest.approx(takes_ft_min, abs=15.0)


def test_where_the_angle_is_published_it_is_that_one() -> None:
    procedure = load_procedure("lantern-vor-22")
    faults = Faults(lower_ft={"intermediate": 500.0}, final_rate_ft_min=1400.0)
    plan = FlightPlan(descent_ft_min=1400.0, attempts=(Attempt(faults=faults),))

    result = debrief(record(fly(procedure, plan), Sensor()), procedure)

    told = [f for a in result.attempts for f in a.findings if f.rule == "descent_rate"]
    assert any("a path of 3 degrees takes" in f.advice for f in told)


def test_who_joined_the_course_too_near_is_told_from_where_to_join_it() -> None:
    """400 ft/NM at the most (FAA Order 8260.3, TERPS; seen, 2nd hand): he was told to slow down to 70 kt for 6.5 degrees."""
    procedure = load_procedure("kestrey-ndb-09")
    runway, turned = procedure.runway, procedure.leg_of("course_reversal")
    assert procedure.outbound_course_deg is not None
    assert runway is not None
    assert turned is not None
    assert turned.altitude is not None
    assert turned.altitude.low_ft is not None
    faults = Faults(overshoot_nm=0.8, final_rate_ft_min=1300.0)
    plan = FlightPlan(
        start_bearing_true_deg=procedure.true_deg(procedure.outbound_course_deg) + 230.0,
        wind=Wind(from_true_deg=200.0, speed_kt=20.0),
        descent_ft_min=1300.0,
        attempts=(Attempt(ending="landing", faults=faults),),
    )

    (attempt,) = debrief(record(fly(procedure, plan), Sensor()), procedure).attempts

    (told,) = [finding for finding in attempt.findings if finding.rule == "descent_rate"]
    said = re.search(r"be on the course ([0-9.]+) NM or more before the runway, or go around", told.advice)
    assert said is not None, told.advice
    far_nm = (turned.altitude.low_ft - runway.elevation_ft - 50.0) / 400.0
    assert float(said[1]) == pytest.approx(far_nm, abs=0.06)
    assert "slow down" not in told.advice
    assert any(f"{float(said[1]):.1f} NM or more" in asked.exercise for asked in attempt.practice)
