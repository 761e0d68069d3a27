"""Circling to another runway: its minimum up to the base turn, its side, and where it was lined up.

The truth is a plain scan of the simulated flight's exact samples, by the geodesics of another library; when the
pilot left the course and began the base turn is noted by the simulated pilot.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from debrief.grading import load_standard
from debrief.pipeline import debrief
from debrief.procedures import Procedure, load_procedure
from debrief.procedures.model import Circling
from debrief.reference import with_references
from debrief.reports.events import event_rows
from debrief.reports.findings import finding_words
from debrief.reports.flow import Row
from debrief.reports.readings import sentences
from debrief.result import Attempt as Flown
from debrief.result import CirclingMeasures
from debrief.simulation import Attempt, Faults, FlightPlan, SimulatedFlight, Wind, fly
from debrief.simulation.plan import Ending
from debrief.simulation.sensor import Sensor, record

METRES_PER_NM = 1852.0
MOMENT_S, ALTITUDE_FT, ASIDE_NM, LINED_UP_NM = (
    6.0,
    30.0,
    0.03,
    0.08,
)  # 30 ft: what the recorder's altitude wanders
Side = Literal["left", "right"]
PELLARIN = load_procedure("pellarin-vor-17")
WINDS = (Wind(), Wind(from_true_deg=320.0, speed_kt=18.0), Wind(from_true_deg=200.0, speed_kt=12.0))


@dataclass(frozen=True)
class Truth:
    """What was flown, from the exact samples."""

    left_course_s: float
    base_turn_s: float
    lowest_ft: float  # from leaving the course to the base turn
    lowest_on_final_ft: float  # up to the base turn
    aside_nm: float  # greatest distance on the side of the base turn
    side: Side
    lined_up_nm: float  # before the threshold


def truth_of(flight: SimulatedFlight, procedure: Procedure) -> Truth:
    circling = procedure.circling
    assert circling is not None
    when_s = {event.what: event.t_s for event in flight.events}
    left_s, base_s = when_s["circling"], when_s["base turn"]
    part = flight.cropped(when_s["final"], float(flight.t_s[-1]))
    runway = circling.runway
    found = [
        Geodesic.WGS84.Inverse(runway.latitude, runway.longitude, lat, lon)
        for lat, lon in zip(part.latitude_deg, part.longitude_deg, strict=True)
    ]
    angle = np.radians([f["azi1"] - runway.course_true_deg for f in found])
    away_nm = np.array([f["s12"] for f in found]) / METRES_PER_NM
    right_nm, past_nm = away_nm * np.sin(angle), away_nm * np.cos(angle)
    circled = (part.t_s >= left_s) & (part.t_s <= base_s)
    to_right = bool(right_nm[circled][-1] > 0.0)
    on_ground = np.flatnonzero(part.on_ground)
    last = int(on_ground[0]) if len(on_ground) else len(part)
    track_off = (part.ground_track_true_deg - runway.course_true_deg + 180.0) % 360.0 - 180.0
    astray = np.flatnonzero(((np.abs(right_nm) > 0.05) | (np.abs(track_off) > 10.0))[:last])
    return Truth(
        left_course_s=left_s,
        base_turn_s=base_s,
        lowest_ft=float(part.altitude_ft[circled].min()),
        lowest_on_final_ft=float(part.altitude_ft[part.t_s <= base_s].min()),
        aside_nm=float(right_nm[circled].max() if to_right else -right_nm[circled].min()),
        side="right" if to_right else "left",
        lined_up_nm=float(-past_nm[min(int(astray[-1]) + 1, last - 1)]),
    )


def flown(
    procedure: Procedure,
    side: Side | None,
    wind: Wind = WINDS[0],
    ending: Ending = "landing",
    faults: Faults | None = None,
) -> SimulatedFlight:
    attempt = Attempt(ending=ending, circle=side, faults=faults or Faults())
    return fly(procedure, FlightPlan(start_bearing_true_deg=330.0, attempts=(attempt,), wind=wind))


def held(flight: SimulatedFlight, procedure: Procedure, sensor: Sensor | None = None) -> Flown:
    (attempt,) = debrief(record(flight, sensor or Sensor(), 1), procedure).attempts
    return attempt


def agrees(measured: CirclingMeasures | None, truth: Truth, flight: SimulatedFlight) -> None:
    assert measured is not None
    assert (measured.start - flight.epoch).total_seconds() == pytest.approx(truth.left_course_s, abs=MOMENT_S)
    assert measured.base_turn is not None
    assert (measured.base_turn - flight.epoch).total_seconds() == pytest.approx(
        truth.base_turn_s, abs=MOMENT_S
    )
    assert measured.side == truth.side
    assert measured.farthest_aside_nm == pytest.approx(truth.aside_nm, abs=ASIDE_NM)
    assert measured.lowest_altitude_ft == pytest.approx(truth.lowest_ft, abs=ALTITUDE_FT)
    assert measured.lined_up_before_threshold_nm == pytest.approx(truth.lined_up_nm, abs=LINED_UP_NM)


def across(procedure: Procedure, course_true_deg: float) -> Procedure:
    """The runway circled to, turned to another direction; either side allowed."""
    circling = procedure.circling
    assert circling is not None
    runway = circling.runway.model_copy(update={"course_true_deg": course_true_deg, "ident": "08"})
    return procedure.model_copy(
        update={"circling": circling.model_copy(update={"runway": runway, "side": None})}
    )


@pytest.mark.parametrize("wind", WINDS)
@pytest.mark.parametrize("sensor", [Sensor(), Sensor(interval_s=5.0)], ids=["1 s", "5 s"])
def test_circling_as_published_is_measured_and_within(wind: Wind, sensor: Sensor) -> None:
    flight = flown(PELLARIN, "right", wind)
    attempt = held(flight, PELLARIN, sensor)

    agrees(attempt.measures.circling, truth_of(flight, PELLARIN), flight)
    assert [f.message for f in attempt.findings] == []
    assert [p.phase for p in attempt.phases][-2:] == ["final", "landing"]
    final = attempt.measures.final
    assert final is not None
    assert final.deviation_deg is not None
    assert final.deviation_deg.max_abs < 1.0  # up to where the course was left
    landing = attempt.measures.landing
    assert landing is not None
    assert landing.touchdown_past_threshold_nm is not None
    assert 0.0 < landing.touchdown_past_threshold_nm < 0.5  # of the runway circled to


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("course_true_deg", [74.0, 254.0])
def test_a_runway_across_the_final_course_is_circled_to(side: Side, course_true_deg: float) -> None:
    """The way to the far side of it leads over the near one, which is not where it was circled."""
    procedure = across(PELLARIN, course_true_deg)
    flight = flown(procedure, side)
    attempt = held(flight, procedure)

    measured, truth = attempt.measures.circling, truth_of(flight, procedure)
    assert measured is not None
    assert truth.side == side
    assert measured.side == side
    assert measured.lowest_altitude_ft == pytest.approx(truth.lowest_ft, abs=ALTITUDE_FT)
    assert [f.message for f in attempt.findings] == []


@pytest.mark.parametrize("name", ["sallow-vor-13", "kestrey-ndb-09", "frosthelm-vor-04", "marrow-vor-31"])
@pytest.mark.parametrize("ending", ["landing", "missed approach"])
def test_with_the_station_on_the_aerodrome_or_off_it(name: str, ending: Ending) -> None:
    procedure = load_procedure(name)
    runway, final = procedure.runway, procedure.final
    assert runway is not None
    assert final is not None
    assert final.altitude is not None
    assert final.altitude.low_ft is not None
    far = Geodesic.WGS84.Direct(
        runway.latitude, runway.longitude, runway.course_true_deg, 0.9 * METRES_PER_NM
    )
    other = runway.model_copy(
        update={
            "ident": "99",
            "latitude": far["lat2"],
            "longitude": far["lon2"],
            "course_true_deg": (runway.course_true_deg + 180.0) % 360.0,
        }
    )
    circling = Circling.model_validate(
        {"altitude": {"at_or_above_ft": final.altitude.low_ft + 250.0}, "runway": other.model_dump()}
    )
    procedure = procedure.model_copy(update={"circling": circling})
    flight = flown(procedure, "left", WINDS[2], ending)
    attempt = held(flight, procedure)

    measured = attempt.measures.circling
    assert measured is not None
    assert measured.runway == "99"
    assert measured.side == "left"
    assert [f.message for f in attempt.findings] == []
    assert [p.phase for p in attempt.phases][-1] == ("landing" if ending == "landing" else "missed_approach")


def test_a_landing_straight_in_is_no_circling() -> None:
    flight = flown(PELLARIN, None)
    attempt = held(flight, PELLARIN)

    assert attempt.measures.circling is None
    assert attempt.findings == ()


@pytest.mark.parametrize("ending", ["landing", "missed approach"])
@pytest.mark.parametrize("away_deg", [40.0, 60.0])
def test_wandering_off_the_final_course_and_back_is_no_circling(ending: Ending, away_deg: float) -> None:
    flight = flown(PELLARIN, None, ending=ending, faults=Faults(needle_reversed_deg=away_deg))
    attempt = held(flight, PELLARIN)

    assert attempt.measures.circling is None
    assert "minimum_descent_altitude" not in {f.rule for f in attempt.findings}


@pytest.mark.parametrize("low_ft", [120.0, 200.0])
def test_below_the_circling_minimum_before_the_base_turn_is_a_finding(low_ft: float) -> None:
    flight = flown(PELLARIN, "right", faults=Faults(circling_low_ft=low_ft))
    attempt, truth = held(flight, PELLARIN), truth_of(flight, PELLARIN)

    (found,) = attempt.findings
    assert (found.rule, found.phase) == ("minimum_descent_altitude", "final")
    assert found.value == pytest.approx(truth.lowest_on_final_ft, abs=ALTITUDE_FT)
    assert found.message.startswith("Before the base turn the altitude fell to ")
    assert "below the circling minimum of 820 ft" in found.message
    assert any("circled to" in p.exercise for p in attempt.practice)


def test_the_straight_in_minimum_is_none_for_circling() -> None:
    """Down to the final's 500 ft, legal straight in, and then circled from there."""
    low = Faults(circling_low_ft=300.0)
    straight = flown(PELLARIN, None, ending="missed approach")

    assert [f.rule for f in held(straight, PELLARIN).findings] == []
    assert "minimum_descent_altitude" in {
        f.rule for f in held(flown(PELLARIN, "right", faults=low), PELLARIN).findings
    }


def test_a_descent_begun_before_the_base_turn_is_a_finding_and_one_in_it_is_none() -> None:
    early = flown(PELLARIN, "right", faults=Faults(base_turn_late_s=25.0))
    (found,) = held(early, PELLARIN).findings
    truth = truth_of(early, PELLARIN)

    assert found.rule == "minimum_descent_altitude"
    assert found.value == pytest.approx(truth.lowest_on_final_ft, abs=ALTITUDE_FT)
    assert found.end is not None
    assert (found.end - early.epoch).total_seconds() <= truth.base_turn_s + MOMENT_S
    assert held(flown(PELLARIN, "right"), PELLARIN).findings == ()


def test_circling_on_the_forbidden_side_is_a_finding() -> None:
    attempt = held(flown(PELLARIN, "left"), PELLARIN)

    (found,) = attempt.findings
    assert (found.rule, found.verdict) == ("minimum_descent_altitude", "exceeded")
    assert found.message == (
        "Circling to runway 35 was flown on the left side of it, up to 1.1 NM from its centre line; only the right "
        "side is allowed, and the circling minimum holds there alone."
    )
    assert attempt.grade.result == "unsatisfactory"
    assert attempt.practice[0].aim == "Every circuit on the right side of runway 35."


def test_either_side_will_do_where_none_is_published() -> None:
    circling = PELLARIN.circling
    assert circling is not None
    either = PELLARIN.model_copy(update={"circling": circling.model_copy(update={"side": None})})

    assert held(flown(either, "left"), either).findings == ()


def test_a_gap_over_the_circling_accuses_nobody() -> None:
    flight = flown(PELLARIN, "left")
    truth = truth_of(flight, PELLARIN)
    sensor = Sensor(gaps=((truth.left_course_s + 20.0, truth.base_turn_s - 5.0),))

    (attempt,) = debrief(record(flight, sensor, 1), PELLARIN).attempts
    assert [f.message for f in attempt.findings if "Circling to runway" in f.message] == []


def test_climbing_away_while_circling_has_no_place_published() -> None:
    flight = flown(PELLARIN, "right", ending="missed approach")
    attempt = held(flight, PELLARIN)

    missed = attempt.measures.missed_approach
    assert missed is not None
    assert missed.start_past_point_nm is None
    assert (
        "Start of the climb not measured: it began while circling, off the final course." in missed.warnings
    )
    assert [f.rule for f in attempt.findings] == []


def test_a_log_that_ends_while_circling_is_no_approach_broken_off() -> None:
    flight = flown(PELLARIN, "right")
    early = flight.cropped(0.0, truth_of(flight, PELLARIN).base_turn_s - 10.0)
    attempt = held(early, PELLARIN)

    circled = attempt.measures.circling
    assert circled is not None
    assert circled.base_turn is None
    assert circled.lined_up is None
    assert [p.phase for p in attempt.phases][-1] == "final"
    assert [f.rule for f in attempt.findings] == []


def test_the_report_tells_the_circling() -> None:
    attempt = held(flown(PELLARIN, "right"), PELLARIN)
    circled = attempt.measures.circling
    assert circled is not None

    rows = {row.cells[0]: row.cells for row in event_rows(attempt) if isinstance(row, Row)}
    assert rows["final course left, UTC"][2] == "to runway 35"
    assert rows["farthest from its centre line"][1:] == (
        f"{circled.farthest_aside_nm:.2f} ± 0.01 NM",
        "to the right",
    )
    lowest, below = rows["lowest up to the base turn"][1:]
    # measured heights are told to tens, their half-widths not narrower than they are
    assert lowest.startswith(f"{round(circled.lowest_altitude_ft, -1):,.0f} ± ")
    assert float(lowest.split(" ± ")[1].removesuffix(" ft")) >= circled.uncertainties["lowest_altitude_ft"]
    assert below == "minimum 820 ft"


@pytest.mark.parametrize(
    "standard", ["instrument-rating", "airline-transport", "european-instrument", "training"]
)
def test_every_standard_judges_the_circling_minimum(standard: str) -> None:
    flight = flown(PELLARIN, "right", faults=Faults(circling_low_ft=250.0))
    result = debrief(record(flight, Sensor(), 1), PELLARIN, load_standard(standard))

    assert "minimum_descent_altitude" in {f.rule for f in result.attempts[0].findings}


def test_the_wrong_side_and_too_low_are_two_findings() -> None:
    attempt = held(flown(PELLARIN, "left", faults=Faults(circling_low_ft=200.0)), PELLARIN)

    assert [f.rule for f in attempt.findings] == ["minimum_descent_altitude"] * 2
    assert {f.message.split()[0] for f in attempt.findings} == {"Before", "Circling"}
    items = {i.item: i.result for i in attempt.grade.items if i.rule == "minimum_descent_altitude"}
    assert items == {"Minimum descent altitude": "unsatisfactory", "Side of circling": "unsatisfactory"}
    headings = {finding_words(finding, None).rule for finding in attempt.findings}
    assert headings == {"Final: circling minimum", "Final: side of circling"}
    why = {finding.kind: finding.why for finding in attempt.findings}
    assert "allowed side" in why["Side of circling"]
    assert "allowed side" not in why["Circling minimum"]


def test_the_minimum_that_is_spoken_of_is_that_of_circling() -> None:
    """820 ft, not the 500 of a landing straight in: at the moment at the minimum, and of the flight without error."""
    flight = flown(PELLARIN, "right")
    result = with_references(debrief(record(flight, Sensor(), 1), PELLARIN))
    attempt = result.attempts[0]
    minimum = next(shown for shown in attempt.shown if shown.moment == "minimum")

    assert "the circling minimum of 820 ft" in sentences(minimum, attempt, PELLARIN)
    assert attempt.reference is not None
    assert attempt.reference.why == ""
