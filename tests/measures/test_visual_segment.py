"""A final that does not run along the runway: where the needle stops counting, and where it was lined up.

The truth is a plain scan of the simulated flight's exact samples, by the geodesics of another library.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from debrief.pipeline import debrief
from debrief.procedures import Procedure, load_procedure
from debrief.procedures.model import Extent, VisualSegment
from debrief.reports.events import event_rows
from debrief.reports.flow import Row
from debrief.result import Attempt as Flown
from debrief.result import Result
from debrief.simulation import Attempt, Faults, FlightPlan, SimulatedFlight, Wind, fly
from debrief.simulation.plan import Ending
from debrief.simulation.sensor import Sensor, record

METRES_PER_NM = 1852.0
FEET_PER_NM = METRES_PER_NM / 0.3048
DME_NM, DEVIATION_DEG, CROSS_TRACK_NM, ALTITUDE_FT = 0.02, 0.3, 0.01, 15.0
ULVERING = load_procedure("ulvering-vor-24")
WITHOUT = ULVERING.model_copy(update={"visual_segment": None})
BEGINS_DME_NM = 3.4
WINDS = (Wind(), Wind(from_true_deg=320.0, speed_kt=25.0), Wind(from_true_deg=180.0, speed_kt=20.0))


@dataclass(frozen=True)
class Truth:
    """What was flown, from the exact samples."""

    begins_s: float  # the DME distance is first reached on the last way out from the station
    deviation_deg: float  # greatest before that, outside the cone
    lined_up_nm: float  # before the threshold


def far_nm(flight: SimulatedFlight, latitude: float, longitude: float) -> tuple[np.ndarray, np.ndarray]:
    """Distance and true bearing of each sample from a place."""
    found = [
        Geodesic.WGS84.Inverse(latitude, longitude, lat, lon)
        for lat, lon in zip(flight.latitude_deg, flight.longitude_deg, strict=True)
    ]
    return np.array([f["s12"] for f in found]) / METRES_PER_NM, np.array([f["azi1"] for f in found])


def off(a_deg, b_deg):
    return (np.asarray(a_deg) - b_deg + 180.0) % 360.0 - 180.0


def truth_of(flight: SimulatedFlight, procedure: Procedure) -> Truth:
    station, runway, final = procedure.station, procedure.runway, procedure.final
    assert runway is not None
    assert final is not None
    assert final.course_deg is not None
    began_s = [e.t_s for e in flight.events if e.what == "final"][-1]
    part = flight.cropped(began_s, float(flight.t_s[-1]))
    distance_nm, bearing_deg = far_nm(part, station.latitude, station.longitude)
    above_ft = part.altitude_ft - station.elevation_ft
    dme_nm = np.hypot(distance_nm, above_ft / FEET_PER_NM)
    begins_s = float(part.t_s[np.flatnonzero(dme_nm >= BEGINS_DME_NM)[0]])
    cone_nm = above_ft / FEET_PER_NM * np.tan(np.radians(50.0))
    scored = (part.t_s <= begins_s) & (distance_nm > cone_nm)
    deviation_deg = off(bearing_deg - station.declination_deg, final.course_deg)[scored]
    to_runway_nm, from_runway_deg = far_nm(part, runway.latitude, runway.longitude)
    angle = np.radians(off(from_runway_deg, runway.course_true_deg))
    across_nm, along_nm = to_runway_nm * np.sin(angle), to_runway_nm * np.cos(angle)
    touched = np.flatnonzero(part.on_ground)
    last = int(touched[0]) if len(touched) else len(part)
    astray = (np.abs(across_nm) > 0.05) | (
        np.abs(off(part.ground_track_true_deg, runway.course_true_deg)) > 10.0
    )
    lined = int(np.flatnonzero(astray[:last])[-1]) + 1
    return Truth(begins_s, float(np.abs(deviation_deg).max()), float(-along_nm[min(lined, last - 1)]))


def flown(procedure: Procedure, wind: Wind, ending: Ending = "landing", faults: Faults | None = None):
    attempt = Attempt(ending=ending, faults=faults or Faults())
    return fly(procedure, FlightPlan(start_bearing_true_deg=60.0, attempts=(attempt,), wind=wind))


def held(flight: SimulatedFlight, procedure: Procedure, sensor: Sensor | None = None) -> tuple[Result, Flown]:
    result = debrief(record(flight, sensor or Sensor(), 1), procedure)
    (attempt,) = result.attempts
    return result, attempt


@pytest.mark.parametrize("wind", WINDS)
@pytest.mark.parametrize("sensor", [Sensor(), Sensor(interval_s=5.0)])
def test_the_final_is_scored_up_to_where_it_is_flown_by_eye(wind: Wind, sensor: Sensor) -> None:
    flight = flown(ULVERING, wind)
    truth = truth_of(flight, ULVERING)
    attempt = held(flight, ULVERING, sensor)[1]

    final, visual = attempt.measures.final, attempt.measures.visual_segment
    assert final is not None
    assert final.deviation_deg is not None
    assert final.cross_track_nm is not None
    assert visual is not None
    begins = (visual.start - flight.epoch).total_seconds()
    assert begins == pytest.approx(truth.begins_s, abs=DME_NM / 95.0 * 3600.0)
    assert final.deviation_deg.max_abs == pytest.approx(truth.deviation_deg, abs=DEVIATION_DEG)
    assert final.cross_track_nm.max_abs == pytest.approx(0.0, abs=4.0 * CROSS_TRACK_NM)
    assert visual.lined_up_before_threshold_nm is not None
    sure_nm = visual.uncertainties["lined_up_before_threshold_nm"]
    assert sure_nm is not None
    assert visual.lined_up_before_threshold_nm == pytest.approx(truth.lined_up_nm, abs=sure_nm + 0.06)
    assert [f.rule for f in attempt.findings] == []


def test_without_the_segment_the_way_to_the_runway_counts_as_off_the_course() -> None:
    flight = flown(ULVERING, WINDS[0])

    final = held(flight, WITHOUT)[1].measures.final
    assert final is not None
    assert final.cross_track_nm is not None
    assert final.cross_track_nm.max_abs > 0.4  # at the threshold


def test_no_course_is_selected_any_more_once_by_eye() -> None:
    flight = flown(ULVERING, WINDS[0])
    result, attempt = held(flight, ULVERING)
    visual = attempt.measures.visual_segment
    assert visual is not None

    table = result.samples()
    final = table[table["phase"] == "final"]
    after = final["time"] >= visual.start
    assert after.sum() > 20
    assert (
        final.loc[after, ["course_deg", "cross_track_nm", "deviation_deg", "deflection"]].isna().all().all()
    )
    assert (final.loc[~after, "course_deg"] == 262.0).all()
    assert final.loc[after, "dme_nm"].notna().all()
    minimum = next(s for s in attempt.shown if s.moment == "minimum")
    assert minimum.time is not None
    assert (minimum.course_deg is None) == (minimum.time >= visual.start)


def test_off_the_course_before_the_segment_is_still_a_finding() -> None:
    flight = flown(ULVERING, WINDS[0], faults=Faults(final_offset_deg=9.0))

    assert "tracking" in {f.rule for f in held(flight, ULVERING)[1].findings}


def test_a_climb_away_from_the_segment_was_not_lined_up() -> None:
    flight = flown(ULVERING, WINDS[0], "missed approach")
    attempt = held(flight, ULVERING)[1]

    visual = attempt.measures.visual_segment
    assert visual is not None
    assert visual.lined_up is None
    assert visual.warnings == ("Lining up not measured: the approach did not end on the runway.",)
    assert [f.rule for f in attempt.findings] == []


def test_a_log_that_ends_before_the_segment_has_none() -> None:
    flight = flown(ULVERING, WINDS[0])
    early = flight.cropped(0.0, truth_of(flight, ULVERING).begins_s - 20.0)

    assert held(early, ULVERING)[1].measures.visual_segment is None


def test_a_runway_far_off_the_course_is_landed_on_without_a_finding() -> None:
    """The way to it stands 11 degrees off the radial, and the runway 45 degrees off the nose."""
    runway = ULVERING.runway
    final = ULVERING.final
    assert runway is not None
    assert final is not None
    crossing = Geodesic.WGS84.Direct(
        ULVERING.station.latitude, ULVERING.station.longitude, 250.0, 4.2 * METRES_PER_NM
    )
    place = Geodesic.WGS84.Direct(crossing["lat2"], crossing["lon2"], 205.0, 1.5 * METRES_PER_NM)
    aside = runway.model_copy(
        update={"latitude": place["lat2"], "longitude": place["lon2"], "course_true_deg": 205.0}
    )
    legs = tuple(
        leg.model_copy(update={"missed_approach_point": None}) if leg is final else leg
        for leg in ULVERING.leg
    )
    procedure = ULVERING.model_copy(update={"runway": aside, "leg": legs})
    flight = flown(procedure, WINDS[0])
    truth = truth_of(flight, procedure)

    by_eye, by_needle = (
        held(flight, p)[1] for p in (procedure, procedure.model_copy(update={"visual_segment": None}))
    )

    assert [f.rule for f in by_eye.findings] == []
    visual = by_eye.measures.visual_segment
    assert visual is not None
    assert visual.lined_up_before_threshold_nm == pytest.approx(truth.lined_up_nm, abs=0.08)
    assert "stabilised" in {f.rule for f in by_needle.findings}


@pytest.mark.parametrize(
    ("begins", "event"), [(None, 4.1), (Extent(minutes=1.8), None)], ids=["missed approach point", "time"]
)
def test_it_begins_at_the_point_or_by_the_clock(begins: Extent | None, event: float | None) -> None:
    procedure = ULVERING.model_copy(update={"visual_segment": VisualSegment(begins=begins)})
    flight = flown(procedure, WINDS[0], "missed approach")
    attempt = held(flight, procedure)[1]

    visual, final = attempt.measures.visual_segment, attempt.measures.final
    assert visual is not None
    assert final is not None
    if event is not None:
        assert visual.start == final.missed_approach_point
    else:
        fix = attempt.station_passages[-1].time
        assert (visual.start - fix).total_seconds() == pytest.approx(108.0, abs=0.5)


def test_the_report_says_where_it_was_lined_up() -> None:
    attempt = held(flown(ULVERING, WINDS[0]), ULVERING)[1]
    visual = attempt.measures.visual_segment
    assert visual is not None
    assert visual.lined_up_before_threshold_nm is not None

    rows = [row.cells for row in event_rows(attempt) if isinstance(row, Row)]
    name, value, beside = next(cells for cells in rows if cells[0].startswith("lined up"))
    assert name == "lined up with the runway, before the threshold +"
    assert value.startswith(f"+{visual.lined_up_before_threshold_nm:.2f} ± ")
    assert beside.startswith(f"{round(visual.lined_up_height_ft, -1):.0f} ± ")  # heights are told to tens
    assert beside.endswith(" ft above it")
