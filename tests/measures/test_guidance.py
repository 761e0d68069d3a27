"""A final by a localiser or a satellite course: needle, half scale, established and tracking by its own full scale.

The truth is a plain scan of the simulated flight's exact samples, by the geodesics of another library.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from debrief.grading import load_standard
from debrief.pipeline import debrief, look
from debrief.procedures import Procedure, load_procedure
from debrief.procedures.guidance import guidance_of, localiser_full_scale_deg
from debrief.procedures.model import FinalGuidance
from debrief.reports.readings import by_guidance, sentences
from debrief.reports.scene import Scene
from debrief.result import Attempt as Flown
from debrief.result import Result
from debrief.simulation import Attempt, Faults, FlightPlan, SimulatedFlight, Wind, fly
from debrief.simulation.plan import Ending
from debrief.simulation.sensor import Sensor, record

METRES_PER_NM = 1852.0
METRES_PER_FT = 0.3048
FEET_PER_NM = METRES_PER_NM / METRES_PER_FT
SHARE, NEEDLE_DEG, ACROSS_NM, ESTABLISHED_S = 0.03, 0.15, 0.01, 3.0
PAST_FT = 7200.0
HALF_WIDTH_FT = 350.0  # 700 ft from stop to stop at the threshold. Mark: memory
LOCALISER = load_procedure("dunmarrow-localiser-09")
SATELLITE = LOCALISER.model_copy(
    update={"final_guidance": FinalGuidance(kind="satellite", course_true_deg=78.0)}
)
BY_STATION = LOCALISER.model_copy(update={"final_guidance": None})
WIND = Wind(from_true_deg=200.0, speed_kt=12.0)


def on_the_aerodrome(**guidance: Any) -> Procedure:
    """Sallow, whose final begins on being established, with guidance of its own."""
    sallow = load_procedure("sallow-vor-13")
    return sallow.model_copy(update={"final_guidance": FinalGuidance.model_validate(guidance)})


@dataclass(frozen=True)
class Truth:
    """The final's exact samples: share of full scale, miles beside the course, both right positive."""

    t_s: np.ndarray
    share: np.ndarray
    across_nm: np.ndarray


def truth_of(flight: SimulatedFlight, procedure: Procedure, *, from_s: float, until_s: float) -> Truth:
    runway, given = procedure.runway, procedure.final_guidance
    assert runway is not None
    assert given is not None
    course = given.course_true_deg
    if course is None:
        assert procedure.final is not None
        assert procedure.final.course_deg is not None
        course = procedure.final.course_deg + procedure.station.declination_deg
    place = (runway.latitude, runway.longitude)
    if given.kind == "localiser":
        assert given.antenna is not None
        past_ft = given.antenna.past_threshold_ft
        assert past_ft is not None
        there = Geodesic.WGS84.Direct(*place, runway.course_true_deg, past_ft * METRES_PER_FT)
        place = (there["lat2"], there["lon2"])
    part = flight.cropped(from_s, until_s)
    found = [
        Geodesic.WGS84.Inverse(*place, lat, lon)
        for lat, lon in zip(part.latitude_deg, part.longitude_deg, strict=True)
    ]
    right_deg = np.array([(course + 180.0 - f["azi1"] + 180.0) % 360.0 - 180.0 for f in found])
    away_nm = np.array([f["s12"] for f in found]) / METRES_PER_NM
    across_nm = away_nm * np.sin(np.radians(right_deg))
    if given.kind == "satellite":
        return Truth(part.t_s, across_nm / 0.3, across_nm)
    full_scale_deg = min(3.0, np.degrees(np.arctan(HALF_WIDTH_FT / past_ft)))
    return Truth(part.t_s, right_deg / full_scale_deg, across_nm)


def flown(
    procedure: Procedure, faults: Faults | None = None, ending: Ending = "missed approach"
) -> SimulatedFlight:
    attempt = Attempt(ending=ending, faults=faults or Faults())
    return fly(procedure, FlightPlan(start_bearing_true_deg=300.0, attempts=(attempt,), wind=WIND))


def held(
    flight: SimulatedFlight, procedure: Procedure, standard: str = "instrument-rating"
) -> tuple[Result, Flown]:
    result = debrief(record(flight, Sensor(), 1), procedure, load_standard(standard))
    (attempt,) = result.attempts
    return result, attempt


def seconds(result: Result, flight: SimulatedFlight, phase: str) -> tuple[float, float]:
    span = [p for p in result.attempts[0].phases if p.phase == phase][-1]
    return (span.start - flight.epoch).total_seconds(), (span.end - flight.epoch).total_seconds()


@pytest.mark.parametrize(
    ("antenna_ft", "full_scale_deg"), [(8000.0, 2.505), (10000.0, 2.005), (6000.0, 3.0), (13400.0, 1.496)]
)
def test_a_localiser_is_700_ft_wide_at_the_threshold_and_6_degrees_at_the_most(
    antenna_ft: float, full_scale_deg: float
) -> None:
    """atan(350 ft / distance), by hand. The result lies in the 3 to 6 degrees of nominal course width: FAA-H-8083-15.
    Mark: seen (2nd hand)."""
    found_deg = localiser_full_scale_deg(antenna_ft / FEET_PER_NM)

    assert found_deg == pytest.approx(full_scale_deg, abs=0.001)
    assert 3.0 <= round(2.0 * found_deg, 1) <= 6.0


def test_a_published_width_goes_before_the_computed_one() -> None:
    given = LOCALISER.final_guidance
    assert given is not None
    narrow = LOCALISER.model_copy(update={"final_guidance": given.model_copy(update={"full_scale_deg": 1.8})})
    wide = guidance_of(LOCALISER)
    assert wide is not None

    assert (guidance_of(narrow) or wide).full_scale == 1.8
    assert wide.full_scale == pytest.approx(np.degrees(np.arctan(HALF_WIDTH_FT / PAST_FT)), abs=0.001)


@pytest.mark.parametrize("procedure", [LOCALISER, SATELLITE], ids=["localiser", "satellite"])
@pytest.mark.parametrize("aside_nm", [0.0, 0.1, -0.2, 0.4])
def test_the_needle_follows_its_own_line_and_full_scale(procedure: Procedure, aside_nm: float) -> None:
    flight = flown(procedure, Faults(final_aside_nm=aside_nm))
    result, attempt = held(flight, procedure)
    start_s, end_s = seconds(result, flight, "final")
    truth = truth_of(flight, procedure, from_s=start_s, until_s=end_s)

    table = result.samples()
    final = table[table["phase"] == "final"]
    t_s = np.array([(time - flight.epoch).total_seconds() for time in final["time"]])
    shown = np.interp(t_s, truth.t_s, truth.share)
    calm = np.abs(np.gradient(shown, t_s)) < 0.05
    assert calm.sum() > 60
    assert final["deflection"].to_numpy()[calm] == pytest.approx(
        np.clip(shown, -1.0, 1.0)[calm], abs=3.0 * SHARE
    )
    across_nm = np.interp(t_s, truth.t_s, truth.across_nm)
    assert final["cross_track_nm"].to_numpy() == pytest.approx(across_nm, abs=2.0 * ACROSS_NM)
    measured = attempt.measures.final
    assert measured is not None
    assert measured.within_half_scale == pytest.approx(float(np.mean(np.abs(truth.share) <= 0.5)), abs=0.08)


@pytest.mark.parametrize("procedure", [LOCALISER, SATELLITE], ids=["localiser", "satellite"])
def test_up_to_the_final_the_needle_is_the_stations(procedure: Procedure) -> None:
    flight = flown(procedure)
    guided, plain = (held(flight, p)[0].samples() for p in (procedure, BY_STATION))
    before = guided["phase"].isin(
        ["inbound", "outbound", "course_reversal", "intermediate", "station_passage"]
    )

    assert before.sum() > 300
    for column in ("deviation_deg", "deflection", "cross_track_nm", "course_deg"):
        assert guided.loc[before, column].equals(plain.loc[before, column])
    final = guided["phase"] == "final"
    assert guided.loc[final, "deviation_deg"].equals(plain.loc[final, "deviation_deg"])  # stays the station's


@pytest.mark.parametrize(
    ("procedure", "aside_nm", "verdict"),
    [
        # at 4.6 DME, 1.48 NM before the antenna, three quarters of 2.78 degrees are 0.054 NM
        (LOCALISER, 0.02, "satisfactory"),
        (LOCALISER, 0.12, "unsatisfactory"),
        (SATELLITE, 0.12, "satisfactory"),  # three quarters of 0.3 NM are 0.225
        (SATELLITE, 0.19, "satisfactory"),
        (SATELLITE, -0.27, "unsatisfactory"),
        (BY_STATION, 0.12, "satisfactory"),  # 7.5 degrees at 0.92 NM and beyond
    ],
    ids=[
        "localiser 0.02",
        "localiser 0.12",
        "satellite 0.12",
        "satellite 0.19",
        "satellite 0.27",
        "station 0.12",
    ],
)
def test_the_same_share_of_full_scale_is_another_distance(
    procedure: Procedure, aside_nm: float, verdict: str
) -> None:
    flight = flown(procedure, Faults(final_aside_nm=aside_nm))
    result, attempt = held(flight, procedure)

    item = next(i for i in attempt.grade.items if i.rule == "tracking" and i.phase == "final")
    assert item.result == verdict
    guidance = guidance_of(procedure)
    assert item.unit == ("deg" if guidance is None else guidance.unit)
    assert item.limit == pytest.approx(7.5 if guidance is None else 0.75 * guidance.full_scale)
    if guidance is not None and verdict == "unsatisfactory":
        start_s, _ = seconds(result, flight, "final")
        found = next(f for f in attempt.findings if f.rule == "tracking")
        assert found.end is not None
        until_s = (found.end - flight.epoch).total_seconds()
        truth = truth_of(flight, procedure, from_s=start_s, until_s=until_s)
        assert found.value == pytest.approx(
            float(np.abs(truth.share[truth.t_s > start_s + 45.0]).max()) * guidance.full_scale,
            abs=NEEDLE_DEG if guidance.unit == "deg" else ACROSS_NM,
        )
        side = "right" if aside_nm > 0.0 else "left"
        said = "degrees" if guidance.unit == "deg" else "NM"
        assert f"{said} {side} of the 090 course" in found.message


def test_what_is_said_of_a_satellite_course_is_in_miles() -> None:
    found = next(
        f
        for f in held(flown(SATELLITE, Faults(final_aside_nm=0.4)), SATELLITE)[1].findings
        if f.rule == "tracking"
    )

    assert found.message.startswith(
        "On final the aircraft was 0.40 NM right of the 090 course (full scale is 0.30 NM), and beyond 0.225 NM"
    )


@pytest.mark.parametrize(
    "procedure", [LOCALISER, SATELLITE, BY_STATION], ids=["localiser", "satellite", "station"]
)
@pytest.mark.parametrize("weave_deg", [0.0, 18.0])
def test_weaving_is_found_whatever_gives_the_final_its_course(procedure: Procedure, weave_deg: float) -> None:
    """By a localiser or a satellite it was never looked for, and the item said satisfactory all the same."""
    attempt = held(flown(procedure, Faults(weave_deg=weave_deg)), procedure)[1]

    found = [f.phase for f in attempt.findings if f.rule == "weaving"]
    assert found == (["final"] if weave_deg > 0.0 else [])
    item = next(i for i in attempt.grade.items if i.rule == "weaving")
    assert item.result == ("unsatisfactory" if weave_deg > 0.0 else "satisfactory")


@pytest.mark.parametrize(
    ("standard", "share"),
    [("instrument-rating", 0.75), ("airline-transport", 0.25), ("european-instrument", 0.5)],
)
def test_every_standards_limit_is_its_share_of_full_scale(standard: str, share: float) -> None:
    """A quarter, a half (5 of 10 degrees) and three quarters: tests/vectors/tolerances.csv."""
    attempt = held(flown(LOCALISER), LOCALISER, standard)[1]
    guidance = guidance_of(LOCALISER)
    assert guidance is not None

    item = next(i for i in attempt.grade.items if i.rule == "tracking" and i.phase == "final")
    assert item.limit == pytest.approx(share * guidance.full_scale)


@pytest.mark.parametrize(
    "guidance",
    [
        {"kind": "localiser", "antenna": {"past_threshold_ft": 6500.0}},
        {"kind": "satellite", "full_scale_nm": 0.3},
    ],
    ids=["localiser", "satellite"],
)
@pytest.mark.parametrize("offset_deg", [0.0, 2.0])
def test_established_is_half_of_the_full_scale_in_force(guidance: dict[str, Any], offset_deg: float) -> None:
    procedure = on_the_aerodrome(**guidance)
    flight = flown(procedure, Faults(inbound_offset_deg=offset_deg))
    result, attempt = held(flight, procedure)

    assert attempt.measures.intercept is not None
    established = attempt.measures.intercept.established
    assert established is not None
    at_s = (established - flight.epoch).total_seconds()
    reversal_s, _ = seconds(result, flight, "course_reversal")
    truth = truth_of(flight, procedure, from_s=reversal_s, until_s=at_s + 60.0)
    course_deg = 132.0 - 8.0
    part = flight.cropped(reversal_s, at_s + 60.0)
    along = np.abs((part.ground_track_true_deg - course_deg + 180.0) % 360.0 - 180.0) <= 20.0
    inside = (np.abs(truth.share) <= 0.5) & along
    for_10_s = np.convolve(inside.astype(int), np.ones(100, dtype=int), "valid") == 100
    assert at_s == pytest.approx(float(truth.t_s[np.flatnonzero(for_10_s)[0]]), abs=ESTABLISHED_S)
    item = next(i for i in attempt.grade.items if i.rule == "not_established")
    full = guidance_of(procedure)
    assert full is not None
    assert (item.unit, item.limit) == (full.unit, pytest.approx(full.full_scale / 2.0))


def test_beside_a_localiser_all_the_way_is_never_established() -> None:
    """2.5 degrees off at the station and beyond: established by a VOR's 5, not by half of a localiser's 3."""
    procedure = on_the_aerodrome(kind="localiser", antenna={"past_threshold_ft": 6000.0})
    station_only = procedure.model_copy(update={"final_guidance": None})
    flight = fly(
        station_only,
        FlightPlan(
            start_bearing_true_deg=300.0,
            attempts=(Attempt(faults=Faults(inbound_offset_deg=2.5, final_offset_deg=2.5)),),
            wind=WIND,
        ),
    )

    assert "not_established" not in {f.rule for f in held(flight, station_only)[1].findings}
    attempt = held(flight, procedure)[1]
    found = next(f for f in attempt.findings if f.rule in ("not_established", "tracking"))
    assert found.unit == "deg"


def test_what_the_pilot_saw_names_the_scale() -> None:
    for procedure, scale, words in ((LOCALISER, 2.78, "2.8°"), (SATELLITE, 0.3, "0.30 NM")):
        attempt = held(flown(procedure, Faults(final_aside_nm=0.04)), procedure)[1]
        minimum = next(s for s in attempt.shown if s.moment == "minimum")

        assert by_guidance(minimum, procedure)
        assert minimum.full_scale == pytest.approx(scale, abs=0.01)
        assert minimum.deflection is not None
        assert 0.0 < minimum.deflection < 1.0
        assert f"of {words} to its stop" in sentences(minimum, attempt, procedure)
        before = [s for s in attempt.shown if s.moment in ("turn off", "second passage")]
        assert all(s.full_scale == 10.0 and not by_guidance(s, procedure) for s in before)


def test_an_ndb_may_lead_to_a_localiser() -> None:
    """The station's pointer up to the final, then a needle."""
    station = LOCALISER.station.model_copy(update={"kind": "NDB/DME"})
    procedure = LOCALISER.model_copy(update={"station": station})
    flight = flown(procedure)
    attempt = held(flight, procedure)[1]

    assert [f.rule for f in attempt.findings] == []
    minimum = next(s for s in attempt.shown if s.moment == "minimum")
    assert minimum.full_scale == pytest.approx(2.78, abs=0.01)


def test_the_strips_needle_is_the_finals() -> None:
    flight = flown(SATELLITE, Faults(final_aside_nm=0.12))
    found = look(record(flight, Sensor(), 1), SATELLITE)
    result, attempt = held(flight, SATELLITE)
    scene = Scene(flight=found, attempt=attempt, found=found.attempts[0])
    span, path = next((s, p) for s, p in scene.paths if s.phase == "final")

    needle = scene.needle(span, path)
    assert float(np.nanmedian(needle[len(needle) // 2 :])) == pytest.approx(0.4, abs=SHARE)
    assert scene.full_scale("final") == 0.3
    assert scene.full_scale("outbound") == 10.0
    assert result.attempts[0].phases[-1].phase == "missed_approach"


def test_without_faults_nothing_is_found() -> None:
    for procedure in (LOCALISER, SATELLITE):
        for ending in ("landing", "missed approach"):
            assert held(flown(procedure, ending=ending), procedure)[1].findings == ()


def test_a_turn_in_the_cone_onto_a_course_that_can_be_read_there_is_no_chasing() -> None:
    flight = flown(LOCALISER, Faults(final_aside_nm=0.04))

    assert "needle_chasing" not in {f.rule for f in held(flight, LOCALISER)[1].findings}


def test_established_by_half_of_its_scale_is_said_so() -> None:
    procedure = on_the_aerodrome(kind="localiser", antenna={"past_threshold_ft": 6500.0})
    attempt = held(flown(procedure), procedure)[1]
    established = next(s for s in attempt.shown if s.moment == "established")

    assert established.full_scale == 3.0
    assert established.deflection is not None
    assert abs(established.deflection) <= 0.5 + SHARE
    assert "Within half of full scale of the course" in sentences(established, attempt, procedure)
